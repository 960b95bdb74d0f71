"""Reach and carry of hazards from a tee, along a fan of straight directions.

For one tee and one hazard the fan spans the hazard as it lies in the strip meant to be played over (see
:meth:`gistools.compute.layout.hole_plan.Hole.strip`): from fairway edge to fairway edge for a burn that
crosses, over its whole width for a bunker in or beside the fairway. Along each direction

- *reach* is the distance from the tee's centre to the front edge, *carry* to the far edge;
- a hazard met again on the same direction counts as one with the first crossing where the dry ground between
  is shorter than ``minimum_landing_m`` (an island or the inside of a bend is no place to land); otherwise the
  carry ends at the first and *again* is where the hazard is met next;
- a hazard that crosses the strip in several places (a burn that bends back) gives several crossings, numbered
  from the tee, each with its own fan;
- *lay-up* is the reach less a margin, *lay-up room* the length of the last stretch of fairway, free of
  hazards, short of that;
- offset and chainage are those of the far edge, from the line of play.

Rough between tee and fairway, and between parts of the fairway, is treated as a hazard to be carried. All
distances are straight and in plan: nothing here knows about flight or run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats
from gistools.base.settings import default
from gistools.compute.layout.alignment import bearing, ray_intervals, rays_from
from gistools.compute.layout.fairways import polygons
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan
from gistools.compute.terrain.surface import Surface

LEAST_PART_M2 = 4.0  # assumption: smaller scraps of a hazard inside the strip are not a crossing
LEAST_GAP_M2 = 30.0  # assumption: smaller scraps of rough on the line are not something to carry
ON_LINE_M = 0.5  # assumption: a crossing this near to the line of play is on it
OPENING_M = 0.05  # assumption: rough narrower than twice this is no gap in the fairway
TOUCH_M = 0.01  # assumption: outlines this close touch
PAST_M = 150.0  # rays look this far behind a hazard for its next crossing
TO_FAIRWAY = "rough to fairway"
BETWEEN = "rough between fairways"


@dataclass(frozen=True, eq=False)
class Crossing:
    """One crossing of a hazard.

    ``number`` counts from the tee, ``area`` is the whole hazard, ``part`` what of it is in play here,
    ``span`` what the fan spans; ``edge_to_edge`` is true where the fan reaches the edges of the fairway.
    Rough ends where a ray comes over the fairway behind it, ``landing``; a hazard where the ray leaves it.
    """

    hazard: Feature
    number: int
    area: BaseGeometry
    part: BaseGeometry
    span: BaseGeometry
    edge_to_edge: bool
    landing: BaseGeometry | None = None


@dataclass(frozen=True)
class Choices:
    """Options of the step ``carries``: rays of a fan, lay-up margin, least landing, search beside play."""

    rays: int = default("carry_rays_count")
    margin_m: float = default("layup_margin_m")
    minimum_landing_m: float = default("carry_minimum_landing_m")
    lateral_search_m: float = default("carry_lateral_search_m")


def crossings(hole: Hole, tee: TeePlan, lateral_search_m: float) -> list[Crossing]:
    """Everything to be carried from a tee, in order of distance from it."""
    strip = hole.strip(tee)
    around = strip.buffer(lateral_search_m)
    out: list[Crossing] = list(_gaps(hole, tee, strip))
    for hazard in hole.hazards:
        area = hazard.geometry
        if not around.intersects(area):
            continue
        inside = polygons(area.intersection(strip), LEAST_PART_M2)
        crosses = False
        if inside and len(polygons(strip.difference(area), LEAST_GAP_M2)) > len(polygons(strip)):
            parts, crosses = inside, True
        elif around.covers(area):
            parts = polygons(area)
        else:
            parts = inside or polygons(area.intersection(around), LEAST_PART_M2)
        start = Point(tee.centre)
        parts = sorted(parts, key=start.distance)
        out.extend(Crossing(hazard, n, area, part, part, crosses) for n, part in enumerate(parts, 1))
    return sorted(out, key=lambda c: Point(tee.centre).distance(c.span))


def _gaps(hole: Hole, tee: TeePlan, strip: BaseGeometry) -> list[Crossing]:
    """Rough on the line of play before the fairway and between its parts."""
    if hole.fairway.is_empty:
        return []
    out = []
    fairway = hole.filled
    parts = polygons(fairway)
    rough = strip.difference(shapely.union_all([fairway, tee.outline, hole.green]))
    start = Point(tee.centre)
    for gap in polygons(rough, LEAST_GAP_M2):
        if not gap.intersects(tee.line.geometry):
            continue
        at_tee = gap.distance(tee.outline) < 1.0
        joined = [p for p in parts if p.distance(gap) < TOUCH_M]
        if len(joined) < (1 if at_tee else 2):
            continue
        beyond = max(joined, key=start.distance)
        # opened: where the gap runs out between strip and fairway, rounding alone would say how far it goes
        body = gap.buffer(-OPENING_M).buffer(OPENING_M, join_style="mitre")
        span = beyond.boundary.intersection(body.buffer(TOUCH_M))
        if span.is_empty:
            continue
        named = min(hole.fairways, key=lambda f: f.geometry.distance(beyond.representative_point()))
        hazard = Feature(TO_FAIRWAY if at_tee else BETWEEN, "fairway", named.fid, gap)
        out.append(Crossing(hazard, 1, gap, gap, span, True, beyond))
    out.sort(key=lambda c: Point(tee.centre).distance(c.span))
    seen: dict[str, int] = {}
    numbered = []
    for c in out:
        seen[c.hazard.feature] = seen.get(c.hazard.feature, 0) + 1
        numbered.append(replace(c, number=seen[c.hazard.feature]))
    return numbered


def carry_rows(
    hole: Hole, tee: TeePlan, choices: Choices, surface: Surface | None = None
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Carries of one tee: rows of least, greatest and on-line carry, and the whole fan.

    Returns
    -------
    rows, fan
        Dicts with the columns of the layers ``carries`` and ``carry_fan``; distances [m], bearings [degrees].
    """
    rows: list[dict[str, Any]] = []
    fan: list[dict[str, Any]] = []
    tee_level = surface.height(*tee.centre) if surface is not None else np.nan
    for crossing in crossings(hole, tee, choices.lateral_search_m):
        directions = _fan(tee, crossing, choices.rays)
        hits = _hits(hole, tee, crossing, directions, choices)
        if not hits:
            continue
        far = tee.centre + np.array([h["carry_m"] * h["direction"] for h in hits])
        chainage, offset, _ = tee.line.locate(far)
        level = surface.height(far[:, 0], far[:, 1]) if surface is not None else np.full(len(far), np.nan)
        common = {
            "hole": hole.number,
            "tee": tee.tee,
            "feature": crossing.hazard.feature,
            "layer": crossing.hazard.layer,
            "feature_id": crossing.hazard.fid,
            "crossing": crossing.number,
        }
        fan_rows = []
        for k, hit in enumerate(hits):
            fan_rows.append(
                common
                | {n: v for n, v in hit.items() if n not in ("direction", "on_line")}
                | {
                    "side": _side(offset[k]),
                    "rise_m": float(level[k] - tee_level),
                    "offset_m": float(offset[k]),
                    "chainage_m": float(chainage[k]),
                    "on_line": hit["on_line"],
                }
            )
        rows.extend(_chosen(fan_rows, tee.centre, hits))
        for k, (row, hit) in enumerate(zip(fan_rows, hits, strict=True)):
            if not row["on_line"]:
                ends = np.array([[row["reach_m"]], [row["carry_m"]]]) * hit["direction"]
                fan.append(row | {"ray": k + 1, "geometry": LineString(tee.centre + ends)})
    return rows, fan


def _side(offset: float) -> str:
    return "on line" if abs(offset) <= ON_LINE_M else ("right" if offset > 0 else "left")


def _chosen(fan_rows: list[dict[str, Any]], tee: Floats, hits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows of least and greatest carry in the fan, and on the line of play."""
    fan = [k for k, row in enumerate(fan_rows) if not row["on_line"]]
    picked = []
    if fan:
        carry = np.array([fan_rows[k]["carry_m"] for k in fan])
        least, greatest = (
            # of directions with one carry, the one nearest to the line of play, from the left
            min(
                np.flatnonzero(np.abs(carry - end) < 1e-4),
                key=lambda n: round(abs(fan_rows[fan[n]]["offset_m"]), 3),
            )
            for end in (carry.min(), carry.max())
        )
        picked += [("least", fan[least]), ("greatest", fan[greatest])]
    picked += [("on line", k) for k, row in enumerate(fan_rows) if row["on_line"]]
    return [
        fan_rows[k]
        | {"line": name, "geometry": LineString([tee, tee + fan_rows[k]["carry_m"] * hits[k]["direction"]])}
        for name, k in picked
    ]


def _fan(tee: TeePlan, crossing: Crossing, rays: int) -> Floats:
    """Unit directions from the tee, left to right across the crossing, then the one on the line of play."""
    coordinates = shapely.get_coordinates(crossing.span) - tee.centre
    coordinates = coordinates[np.hypot(*coordinates.T) > 1e-6]
    axis = coordinates.mean(axis=0)
    axis = axis / np.hypot(*axis)
    side = np.array([axis[1], -axis[0]])
    angle = np.arctan2(coordinates @ side, coordinates @ axis)
    width = angle.max() - angle.min()
    # beside a compact hazard the outermost rays would only graze it: there they go half a step inside
    inset = 1e-9 * width if crossing.edge_to_edge else 0.5 * width / rays
    angles = np.linspace(angle.min() + inset, angle.max() - inset, rays)
    aim = _on_line(tee, crossing) - tee.centre
    angles = np.append(angles, np.arctan2(aim @ side, aim @ axis))
    directions: Floats = np.cos(angles)[:, None] * axis + np.sin(angles)[:, None] * side
    return directions


def _on_line(tee: TeePlan, crossing: Crossing) -> Floats:
    """Place on the line of play to aim at: where it enters the crossing, else where it passes it."""
    meets = shapely.get_coordinates(tee.line.geometry.intersection(crossing.part))
    if len(meets):
        chainage = tee.line.locate(meets)[0].min()
    else:
        chainage = tee.line.locate(shapely.get_coordinates(crossing.part.centroid))[0][0]
    place: Floats = tee.line.at(np.array([chainage]))[0]
    if np.hypot(*(place - tee.centre)) < 1e-3:
        place = tee.line.at(np.array([1.0]))[0]
    return place


def _together(intervals: Floats, gap: float) -> list[tuple[float, float]]:
    """Join intervals with less than ``gap`` between them."""
    out: list[tuple[float, float]] = []
    for start, end in intervals:
        if out and start - out[-1][1] < gap:
            out[-1] = (out[-1][0], max(out[-1][1], float(end)))
        else:
            out.append((float(start), float(end)))
    return out


def _hits(
    hole: Hole, tee: TeePlan, crossing: Crossing, directions: Floats, choices: Choices
) -> list[dict[str, Any]]:
    """What each direction meets; directions that miss the crossing are left out."""
    extent = np.hypot(*(shapely.get_coordinates(crossing.part) - tee.centre).T).max() + PAST_M
    rays = rays_from(tee.centre, directions, extent)
    turf = ray_intervals(tee.centre, rays, hole.turf)
    if crossing.landing is None:
        met = _over_hazard(tee, crossing, rays, choices.minimum_landing_m)
    else:
        met = _over_rough(hole, tee, crossing.landing, rays)
    hits = []
    for k, (reach, carry, again) in met.items():
        layup = reach - choices.margin_m
        hits.append(
            {
                "direction": directions[k],
                "on_line": k == len(directions) - 1,
                "bearing_deg": bearing(directions[k]),
                "reach_m": reach,
                "carry_m": carry,
                "layup_m": layup if layup > 0 else np.nan,
                "layup_room_m": _room(turf[k], layup),
                "next_reach_m": again,
            }
        )
    return hits


def _over_hazard(
    tee: TeePlan, crossing: Crossing, rays: Any, minimum_landing_m: float
) -> dict[int, tuple[float, float, float]]:
    """Reach, carry and next meeting of each ray that meets the crossing."""
    whole = ray_intervals(tee.centre, rays, crossing.area)
    part = whole if crossing.part is crossing.area else ray_intervals(tee.centre, rays, crossing.part)
    met = {}
    for k, contacts in enumerate(part):
        if len(contacts) == 0 or len(whole[k]) == 0:
            continue
        contact = contacts[0, 0]
        groups = _together(whole[k], minimum_landing_m)
        g = min(range(len(groups)), key=lambda g: max(groups[g][0] - contact, contact - groups[g][1], 0.0))
        met[k] = (*groups[g], groups[g + 1][0] if g + 1 < len(groups) else np.nan)
    return met


def _over_rough(
    hole: Hole, tee: TeePlan, landing: BaseGeometry, rays: Any
) -> dict[int, tuple[float, float, float]]:
    """Where each ray last left tee or fairway, and where it comes over the fairway beyond the rough."""
    before = ray_intervals(tee.centre, rays, shapely.union(tee.outline, hole.filled))
    met = {}
    for k, over in enumerate(ray_intervals(tee.centre, rays, landing)):
        if len(over):
            carry = float(over[0, 0])
            left = before[k][:, 1][before[k][:, 1] < carry]
            met[k] = (float(left.max()) if len(left) else 0.0, carry, np.nan)
    return met


def _room(turf: Floats, layup: float) -> float:
    """Length of the last stretch of fairway short of a distance; 0 where there is none."""
    short = turf[turf[:, 0] < layup] if len(turf) else turf
    return float(min(short[-1, 1], layup) - short[-1, 0]) if len(short) else 0.0
