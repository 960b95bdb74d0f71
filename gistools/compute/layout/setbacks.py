"""Set-back areas round play, and where a neighbour lies inside one.

Guidance, never a certificate: no standard fixes these distances for golf (Bird 2020, thesis, University of
Arkansas; published). Each default below is one designer's or office's published figure, named with it, or an
assumption; each can be changed.

- A *line of play* is kept clear at right angles: the area ends square at the tee and at the green, which have
  rules of their own. Two lines of play are compared over the stretches that have fairway (a par 3: all of
  it).
- The *cone* opens from the tee by an angle each side of the first leg: at the distance d it is d tan(angle)
  wide to each side.
- A conflict is the place where a neighbour comes nearest (in the cone: where it lies deepest inside).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from gistools.base.settings import default
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.fairways import FINE
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan
from gistools.compute.layout.zones import Zone

OLDER_BOUNDARY_M = 60.0  # long accepted figure: Gaunt 2015, EIGCA (published)
TOUCH_M = 0.5  # half-length of the mark drawn where a neighbour overlaps a set-back area

CAUTION = "guidance only; local codes and licensed practice decide"

GAUNT = "Gaunt, EIGCA 2015"
ASSUMED = "assumption, no source"


@dataclass(frozen=True)
class Choices:
    """Clear distances [m] and the cone: options of the step ``setbacks``, which names their sources."""

    line_boundary_m: float = default("setback_line_boundary_m")
    line_road_m: float = default("setback_line_road_m")
    line_structure_m: float = default("setback_line_structure_m")
    line_path_m: float = default("setback_line_path_m")
    line_line_m: float = default("setback_line_line_m")
    cone_deg: float = default("setback_cone_deg")
    cone_m: float = default("setback_cone_m")
    green_tee_m: float = default("setback_green_tee_m")
    green_edge_tee_m: float = default("setback_green_edge_tee_m")
    green_path_m: float = default("setback_green_path_m")
    green_boundary_m: float = default("setback_green_boundary_m")
    tee_boundary_m: float = default("setback_tee_boundary_m")
    zone_m: float = default("setback_zone_m")


@dataclass(frozen=True, eq=False)
class Neighbour:
    """Something to keep clear of: its kind, the hole it belongs to if any, and the feature.

    Kinds: ``boundary``, ``road``, ``structure``, ``shelter``, ``public path``, ``cart path``, ``tee``,
    ``green``, ``line of play``.
    """

    kind: str
    hole: int | None
    feature: Feature


@dataclass(frozen=True, eq=False)
class Rule:
    """One distance: what it protects, from which kinds of neighbour, how far and by whose figure.

    ``square`` measures at right angles to a line only.
    """

    name: str
    mine: Sequence[tuple[Feature, BaseGeometry]]
    kinds: tuple[str, ...]
    distance_m: float
    source: str
    square: bool = False


def rules(hole: Hole, zones: list[Zone], choices: Choices) -> list[Rule]:
    """Clear distances round a hole, the cone apart."""
    tees = sorted(hole.tees, key=lambda t: -t.line.length)
    lines = [(_line_feature(t), t.line.geometry) for t in tees]
    stretches = [(_line_feature(t), fairway_stretch(hole, t)) for t in tees]
    green = Feature(f"green of hole {hole.number}", "greens", hole.number, hole.green)
    centre = [(green, Point(hole.main.line.points[-1]))]
    edge = [(green, hole.green)]
    teeing = [(Feature(f"tee {t.tee}", "tees", t.fid, t.outline), t.outline) for t in tees]
    landing = [(Feature(z.zone, "zones", z.fid, z.area), z.area) for z in zones]
    c, b, s, p, r = choices, "boundary", "structure", "public path", "road"
    muirhead = "half of the corridor in Muirhead 1994"
    return [
        Rule("line of play to boundary", lines, (b,), c.line_boundary_m, GAUNT, True),
        Rule("line of play to road", lines, (r,), c.line_road_m, GAUNT, True),
        Rule("line of play to structure", lines, (s,), c.line_structure_m, "half of Hiseman's 120 m", True),
        Rule("line of play to public path", lines, (p,), c.line_path_m, ASSUMED, True),
        Rule(
            "line of play to line of play",
            stretches,
            ("line of play",),
            c.line_line_m,
            "common practice, no source",
            True,
        ),
        Rule("green centre to next tee", centre, ("tee",), c.green_tee_m, "Brauer"),
        Rule("green edge to next tee", edge, ("tee",), c.green_edge_tee_m, "Kains"),
        Rule("green to path", edge, (p, "cart path", r), c.green_path_m, "Brauer"),
        Rule("green to boundary", edge, (b, s), c.green_boundary_m, muirhead),
        Rule("tee to boundary", teeing, (b, s), c.tee_boundary_m, muirhead),
        Rule(
            "landing zone to neighbour", landing, (b, s, p, r, "shelter", "tee", "green"), c.zone_m, ASSUMED
        ),
    ]


def _line_feature(tee: TeePlan) -> Feature:
    return Feature(f"line of play, {tee.tee}", "tees", tee.fid, tee.line.geometry)


def fairway_stretch(hole: Hole, tee: TeePlan) -> LineString:
    """The part of a line of play that has fairway beside it; on a hole without fairway all of it."""
    if hole.fairway.is_empty:
        return tee.line.geometry
    at = tee.line.locate(shapely.get_coordinates(hole.fairway))[0]
    start, end = max(float(at.min()), 0.0), min(float(at.max()), tee.line.length)
    return tee.line.part(start, end).geometry if end - start > 1.0 else tee.line.geometry


def area_of(shape: BaseGeometry, distance_m: float, square: bool) -> BaseGeometry:
    """Set-back area: everything within a distance; square at the ends of a line. True to 0.2 per mille."""
    return shape.buffer(distance_m, quad_segs=FINE, cap_style="flat" if square else "round")


def area_rows(
    hole: Hole, zones: list[Zone], around: list[Neighbour], choices: Choices
) -> list[dict[str, Any]]:
    """Rows of the layer ``setbacks``; rules without a neighbour of their kind on the site are left out."""
    there = {n.kind for n in around if n.hole != hole.number}
    rows = []
    for rule in rules(hole, zones, choices):
        if rule.distance_m <= 0 or not there & set(rule.kinds) or not rule.mine:
            continue
        areas = [area_of(shape, rule.distance_m, rule.square) for _, shape in rule.mine]
        rows.append(_area_row(hole, rule.name, rule.distance_m, rule.source, shapely.union_all(areas)))
    if choices.cone_deg > 0:
        cones = [cone(t, choices.cone_deg, choices.cone_m)[0] for t in hole.tees]
        rows.append(
            _area_row(hole, "cone from the tee", np.nan, _cone_source(choices), shapely.union_all(cones))
        )
    return rows


def _area_row(hole: Hole, rule: str, distance_m: float, source: str, area: BaseGeometry) -> dict[str, Any]:
    return {
        "hole": hole.number,
        "rule": rule,
        "clear_distance_m": distance_m,
        "area_m2": float(area.area),
        "guidance": source,
        "caution": CAUTION,
        "geometry": area,
    }


def _cone_source(choices: Choices) -> str:
    return f"{choices.cone_deg:g} degrees to {choices.cone_m:.0f} m, Hurdzan via Brauer"


def cone(tee: TeePlan, angle_deg: float, length_m: float) -> tuple[Polygon, Alignment]:
    """Cone from a tee along its first leg, and its axis: half-width d tan(angle) at the distance d."""
    start = tee.centre
    direction = tee.line.direction(np.array([0.0]))[0]
    reach = min(length_m, tee.line.length)
    side = np.array([direction[1], -direction[0]]) * reach * np.tan(np.radians(angle_deg))
    end = start + reach * direction
    return Polygon([start, end - side, end + side]), Alignment(np.array([start, end]))


def conflict_rows(
    hole: Hole, zones: list[Zone], around: list[Neighbour], choices: Choices
) -> list[dict[str, Any]]:
    """Rows of the layer ``setback_conflicts``: each neighbour inside a set-back area, where it is nearest.

    Of several tees, lines or zones that a neighbour comes too near to, the nearest is named.
    """
    others = [n for n in around if n.hole != hole.number]
    rows = [
        r
        for rule in rules(hole, zones, choices)
        if rule.distance_m > 0
        for r in _too_near(hole, rule, others)
    ]
    if choices.cone_deg > 0:
        rows.extend(_in_cone(hole, others, choices))
    return rows


def _too_near(hole: Hole, rule: Rule, others: list[Neighbour]) -> Iterator[dict[str, Any]]:
    targets = [n for n in others if n.kind in rule.kinds]
    if not targets or not rule.mine:
        return
    shapes = np.array([n.feature.geometry for n in targets], dtype=object)
    best: dict[int, tuple[float, int, BaseGeometry]] = {}
    for index, (_, shape) in enumerate(rule.mine):
        area = area_of(shape, rule.distance_m, rule.square)
        for k in np.flatnonzero(shapely.intersects(shapes, area)).tolist():
            inside = shapes[k].intersection(area) if rule.square else shapes[k]
            distance = float(shape.distance(inside))
            if distance < rule.distance_m and (k not in best or distance < best[k][0] - 1e-6):
                best[k] = (distance, index, inside)
    for k, (distance, index, inside) in sorted(best.items()):
        feature, shape = rule.mine[index]
        link = shapely.shortest_line(shape, inside)
        if distance == 0.0:  # the middle of what overlaps: any place of it is as close
            place = shape.intersection(inside).centroid
            link = LineString([place, place])
        yield _conflict(hole, rule.name, feature, targets[k], distance, rule.distance_m, rule.source, link)


def _in_cone(hole: Hole, others: list[Neighbour], choices: Choices) -> list[dict[str, Any]]:
    kinds = ("boundary", "structure", "shelter", "public path", "road", "tee", "green")
    spread = np.tan(np.radians(choices.cone_deg))
    best: dict[int, tuple[float, dict[str, Any]]] = {}
    for tee in sorted(hole.tees, key=lambda t: -t.line.length):
        area, axis = cone(tee, choices.cone_deg, choices.cone_m)
        for k, other in enumerate(others):
            if other.kind not in kinds or not other.feature.geometry.intersects(area):
                continue
            inside = [other.feature.geometry.intersection(g) for g in (area, axis.geometry)]
            points = np.vstack([shapely.get_coordinates(g) for g in inside])
            distance, offset, _ = axis.locate(points)
            depth = distance * spread - np.abs(offset)
            worst = int(np.argmax(np.round(depth, 6)))
            if depth[worst] <= 1e-6 or (k in best and depth[worst] <= best[k][0] + 1e-6):
                continue
            link = LineString([axis.at(distance[[worst]])[0], points[worst]])
            feature = Feature(f"tee {tee.tee}", "tees", tee.fid, tee.outline)
            row = _conflict(
                hole,
                "cone from the tee",
                feature,
                other,
                float(abs(offset[worst])),
                float(distance[worst] * spread),
                _cone_source(choices),
                link,
            )
            best[k] = (float(depth[worst]), row)
    return [row for _, row in best.values()]


def _conflict(
    hole: Hole,
    rule: str,
    mine: Feature,
    other: Neighbour,
    distance: float,
    required: float,
    source: str,
    link: LineString,
) -> dict[str, Any]:
    chainage = hole.main.line.locate(shapely.get_coordinates(link)[0])[0][0]
    return {
        "hole": hole.number,
        "rule": rule,
        "feature": mine.feature,
        "layer": mine.layer,
        "feature_id": mine.fid,
        "other": other.feature.feature,
        "other_layer": other.feature.layer,
        "other_feature_id": other.feature.fid,
        "other_hole": other.hole,
        "chainage_m": float(chainage),
        "separation_m": distance,
        "clear_distance_m": required,
        "shortfall_m": required - distance,
        "reading": _reading(rule, distance, required),
        "guidance": source,
        "caution": CAUTION,
        "geometry": _seen(link),
    }


def _reading(rule: str, distance: float, required: float) -> str:
    if rule == "line of play to boundary" and required > OLDER_BOUNDARY_M:
        if distance >= OLDER_BOUNDARY_M:
            return (
                f"between the older figure ({OLDER_BOUNDARY_M:.0f} m) and that asked for ({required:.0f} m)"
            )
        return f"below the older figure ({OLDER_BOUNDARY_M:.0f} m) as well"
    if distance == 0.0:
        return "lies across or inside"
    return f"{required - distance:.0f} m nearer than asked for"


def _seen(link: LineString) -> LineString:
    """The line of least distance; where there is none, as things overlap, a short mark at the place."""
    if link.length > 1e-6:
        return link
    x, y = shapely.get_coordinates(link)[0]
    return LineString([(x - TOUCH_M, y - TOUCH_M), (x + TOUCH_M, y + TOUCH_M)])
