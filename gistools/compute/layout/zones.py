"""Landing zones: the parts of the fairway that hazards and the line of play separate.

The fairway less its hazards, each widened by a clearance, is parted

- across, along the axis of a hazard that takes up at least half of the fairway's width, or in a break of the
  fairway (a *gate*): what lies before it is ``short``, after it ``beyond``, between two gates ``between``;
- down the line of play into ``left`` and ``right`` beside a gate whose carry grows to one side: there the two
  sides have different carries;
- round a hazard in the middle, with fairway on both sides, into ``left of ...`` and ``right of ...``;
- square to play where a part is longer than a full shot's worth of choice, into ``near`` and ``far``.

Pieces too small or too narrow to aim at are dropped. A hole too short for a par 4 has none. All numbers that
decide this are assumptions, each an option of the step; zones drawn by the designer win.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from gistools.base.grid import Floats
from gistools.base.settings import default
from gistools.compute.layout.alignment import Alignment, bearing, ray_intervals, rays_from
from gistools.compute.layout.carries import BETWEEN
from gistools.compute.layout.diagonals import Diagonal, diagonals
from gistools.compute.layout.fairways import merged, polygons
from gistools.compute.layout.hole_plan import Hole, TeePlan
from gistools.compute.layout.lines_of_play import TURNS_FROM_M

LEAST_ANGLE_DEG = (
    20.0  # assumption: a hazard that lies nearer along play narrows the fairway, it does not part it
)
LEAST_SIDE_M = 8.0  # assumption: fairway beside a central hazard narrower than this is not a way round
BESIDE_M = 60.0  # assumption: the choice of side round a central hazard is made over at least this length
LANDING_FROM_M = TURNS_FROM_M  # on shorter holes the tee shot is played at the green
MOST_GATES = 2  # assumption: more would part a fairway into crumbs; the widest hazards count, breaks besides
OVER_M = 2.0  # cutting lines run this far beyond the fairway's edge


@dataclass(frozen=True)
class Choices:
    """Options of the step ``zones``: clearance of hazards, width of a gate, sizes of a zone."""

    clearance_m: float = default("zone_clearance_m")
    gate_share: float = default("zone_gate_pct") / 100.0
    longest_m: float = default("zone_longest_m")
    least_m2: float = default("zone_least_m2")
    least_width_m: float = default("zone_least_width_m")


@dataclass(frozen=True, eq=False)
class Zone:
    """A landing zone: name by place, outline, the hazards that part it from others, its fid if drawn."""

    zone: str
    area: Polygon
    parted_by: str
    source: str = "derived"
    fid: Any = None


@dataclass(frozen=True, eq=False)
class _Gate:
    chainage: float
    name: str
    diagonal: bool
    start: LineString
    end: LineString | None = None
    middle: LineString | None = None


@dataclass(frozen=True, eq=False)
class _Cell:
    name: str
    area: BaseGeometry
    parted_by: str


def derive_zones(hole: Hole, choices: Choices) -> list[Zone]:
    """Landing zones of a hole, in order along the line of play of its longest tee, left before right."""
    fairway = hole.filled
    line = hole.main.line
    if fairway.is_empty or line.length < LANDING_FROM_M:
        return []
    widened = [
        h.geometry.buffer(choices.clearance_m) for h in hole.hazards if h.geometry.distance(fairway) < 20
    ]
    free = hole.fairway.difference(merged(widened))
    gates = _gates(hole, choices)
    cells = [c for level in _levels(fairway, line, gates) for c in _finished(level, free, line, choices)]
    zones: list[Zone] = []
    for cell in cells:
        pieces = [
            p
            for p in polygons(free.intersection(cell.area), choices.least_m2)
            if not p.buffer(-0.5 * choices.least_width_m).is_empty
        ]
        pieces.sort(key=lambda p: -p.area)
        for number, piece in enumerate(pieces, 1):
            name = cell.name if number == 1 else f"{cell.name} ({number})"
            zones.append(Zone(name, piece, cell.parted_by))
    return zones


def _gates(hole: Hole, choices: Choices) -> list[_Gate]:
    line = hole.main.line
    hazards = diagonals(hole, hole.main, least_share=0.05)
    across = [
        d for d in hazards if d.share >= choices.gate_share and (d.crosses or not d.angle < LEAST_ANGLE_DEG)
    ]
    across = sorted(across, key=lambda d: -d.share)[:MOST_GATES]
    gates = [_across(d, hole.filled) for d in across]
    middle = [d for d in hazards if d not in across and min(d.offset_left, d.offset_right) >= LEAST_SIDE_M]
    for group in _side_by_side(middle):
        gate = _around(group, hole.filled, line)
        if gate is not None and all(not _overlap(gate, g, line) for g in gates):
            gates.append(gate)
    return sorted(gates[:MOST_GATES] + _breaks(hole.filled, line), key=lambda g: g.chainage)


def _overlap(a: _Gate, b: _Gate, line: Alignment) -> bool:
    def extent(gate: _Gate) -> tuple[float, float]:
        lines = [gate.start] if gate.end is None else [gate.start, gate.end]
        at = line.locate(np.vstack([shapely.get_coordinates(g) for g in lines]))[0]
        return float(at.min()), float(at.max())

    (a0, a1), (b0, b1) = extent(a), extent(b)
    return a0 < b1 and b0 < a1


def _across(d: Diagonal, fairway: BaseGeometry) -> _Gate:
    """Gate along the axis of a hazard, from edge to edge of the fairway."""
    ends = shapely.get_coordinates(d.axis)
    middle = ends.mean(axis=0)
    direction = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    return _Gate(
        d.chainage,
        d.hazard.feature,
        d.runs_away != "square",
        _edge_to_edge(middle, direction, fairway),
    )


def _breaks(fairway: BaseGeometry, line: Alignment) -> list[_Gate]:
    """Gates in the breaks between parts of the fairway that follow each other along play."""
    extents = []
    for part in polygons(fairway):
        at = line.locate(shapely.get_coordinates(part))[0]
        extents.append((float(at.min()), float(at.max())))
    extents.sort()
    gates = []
    reached = -np.inf
    for start, end in extents:
        if np.isfinite(reached) and start > reached:
            middle = np.array([0.5 * (reached + start)])
            cut = line.across(middle, -OVER_M, OVER_M)[0]
            gates.append(_Gate(float(middle[0]), BETWEEN, False, cut))
        reached = max(reached, end)
    return gates


def _edge_to_edge(middle: Floats, direction: Floats, fairway: BaseGeometry) -> LineString:
    """Line through a place, over the piece of fairway that holds it (or is nearest) and a little beyond."""
    long = LineString([middle - 400.0 * direction, middle + 400.0 * direction])
    pieces = [p for p in shapely.get_parts(long.intersection(fairway)) if p.length > 0]
    if not pieces:
        return LineString([middle - 30.0 * direction, middle + 30.0 * direction])
    piece = min(pieces, key=Point(middle).distance)
    at = (shapely.get_coordinates(piece) - middle) @ direction
    return LineString([middle + (at.min() - OVER_M) * direction, middle + (at.max() + OVER_M) * direction])


def _side_by_side(hazards: list[Diagonal]) -> list[list[Diagonal]]:
    """Group central hazards that lie within one length of choice of each other."""
    groups: list[list[Diagonal]] = []
    for d in sorted(hazards, key=lambda d: d.chainage):
        if groups and d.chainage - groups[-1][-1].chainage < BESIDE_M:
            groups[-1].append(d)
        else:
            groups.append([d])
    return groups


def _around(group: list[Diagonal], fairway: BaseGeometry, line: Alignment) -> _Gate | None:
    """Gate round a central hazard: a stretch of fairway, parted along play through the hazard."""
    at, _, _ = line.locate(np.vstack([shapely.get_coordinates(d.part) for d in group]))
    start, end = float(at.min()), float(at.max())
    short = max(0.5 * (BESIDE_M - (end - start)), 0.0)
    start, end = max(start - short, 1.0), min(end + short, line.length - 1.0)
    if end - start < 1.0:
        return None
    largest = max(group, key=lambda d: d.part.area)
    centre = np.asarray(merged([d.part for d in group]).centroid.coords[0])
    chainage = float(line.locate(centre)[0][0])
    along = line.direction(np.array([chainage]))[0]
    half = end - start + 20.0
    ends = [
        _edge_to_edge(line.at(np.array([s]))[0], line.right(np.array([s]))[0], fairway) for s in (start, end)
    ]
    middle = LineString([centre - half * along, centre + half * along])
    return _Gate(chainage, largest.hazard.feature, False, ends[0], ends[1], middle)


def _halves(area: BaseGeometry, cut: LineString, line: Alignment) -> tuple[BaseGeometry, BaseGeometry]:
    """Part an area by a line across play into what lies before and after it."""
    chainage = float(line.locate(shapely.get_coordinates(cut.interpolate(0.5, normalized=True)))[0][0])
    before, after = [], []
    for part in polygons(area):
        pieces = list(split(part, cut).geoms)
        at = [float(line.locate(shapely.get_coordinates(p.centroid))[0][0]) for p in pieces]
        if len(pieces) > 1:
            # of the pieces of a part that is cut, the one that reaches farthest back lies before the cut
            crossed = sorted(zip(at, pieces, strict=True), key=lambda t: t[0])
            before.append(crossed[0][1])
            after.append(crossed[-1][1])
            for where, piece in crossed[1:-1]:
                (before if where < chainage else after).append(piece)
        else:
            (before if at[0] < chainage else after).append(pieces[0])
    return merged(before), merged(after)


def _sides(area: BaseGeometry, cut: LineString) -> tuple[BaseGeometry, BaseGeometry]:
    """Part an area down a line along play into left and right."""
    along = Alignment(shapely.get_coordinates(cut))
    left: list[BaseGeometry] = []
    right: list[BaseGeometry] = []
    for part in polygons(area):
        for piece in split(part, cut).geoms:
            offset = along.locate(shapely.get_coordinates(piece.representative_point()))[1][0]
            (left if offset < 0 else right).append(piece)
    return merged(left), merged(right)


@dataclass(frozen=True, eq=False)
class _Level:
    """A stretch of fairway between gates; ``split_start``, ``split_end``: whether a diagonal bounds it."""

    cell: _Cell
    split_start: bool = False
    split_end: bool = False
    whole: bool = False


def _levels(fairway: BaseGeometry, line: Alignment, gates: list[_Gate]) -> list[_Level]:
    """Part the fairway by its gates in order along play."""
    rest = fairway
    levels: list[_Level] = []
    for number, gate in enumerate(gates):
        before, rest = _halves(rest, gate.start, line)
        previous = gates[number - 1] if number else None
        by = "; ".join(dict.fromkeys(g.name for g in (previous, gate) if g))
        cell = _Cell(_level_name(number, len(gates)), before, by)
        levels.append(_Level(cell, bool(previous and previous.diagonal), gate.diagonal))
        if gate.end is not None and gate.middle is not None:
            band, rest = _halves(rest, gate.end, line)
            for side, area in zip(("left", "right"), _sides(band, gate.middle), strict=True):
                levels.append(_Level(_Cell(f"{side} of {gate.name}", area, gate.name), whole=True))
    last = gates[-1] if gates else None
    cell = _Cell(_level_name(len(gates), len(gates)), rest, last.name if last else "")
    levels.append(_Level(cell, bool(last and last.diagonal), False))
    return levels


def _level_name(number: int, gates: int) -> str:
    if gates == 0:
        return "fairway"
    if number == 0:
        return "short"
    if number == gates:
        return "beyond"
    return "between" if gates == 2 else f"between {number}"


def _finished(level: _Level, free: BaseGeometry, line: Alignment, choices: Choices) -> list[_Cell]:
    """Part a level by length, and beside a diagonal by the line of play."""
    cell = level.cell
    inside = free.intersection(cell.area)
    if inside.is_empty or not polygons(inside):
        return []
    if level.whole:
        return [cell]
    at = line.locate(shapely.get_coordinates(inside))[0]
    start, end = float(at.min()), float(at.max())
    count = max(int(np.ceil((end - start) / choices.longest_m - 1e-9)), 1)
    pieces = []
    rest = cell.area
    for k in range(1, count):
        s = np.array([start + k * (end - start) / count])
        before, rest = _halves(rest, _edge_to_edge(line.at(s)[0], line.right(s)[0], cell.area), line)
        pieces.append(before)
    pieces.append(rest)
    points = np.vstack([line.at([-200.0]), line.points[1:-1], line.at([line.length + 200.0])])
    cells = []
    for k, piece in enumerate(pieces):
        if (level.split_start and k == 0) or (level.split_end and k == count - 1):
            for side, area in zip(("left", "right"), _sides(piece, LineString(points)), strict=True):
                name = f"{cell.name} {side}"
                if level.split_start and level.split_end:
                    name = _place_name(name, k, count)
                cells.append(_Cell(name, area, f"{cell.parted_by}; line of play"))
        else:
            cells.append(_Cell(_place_name(cell.name, k, count), piece, cell.parted_by))
    return cells


def _place_name(name: str, k: int, count: int) -> str:
    if count == 1:
        return name
    places = ("near", "far") if count == 2 else ("near", "middle", "far")
    place = places[k] if count <= 3 else str(k + 1)
    return f"{place} {name}" if name == "fairway" else f"{name}, {place}"


def zone_row(hole: Hole, zone: Zone) -> dict[str, Any]:
    """Row of the layer ``zones``: extent along the line of play of the longest tee, area and mean width."""
    line = hole.main.line
    chainage, _, _ = line.locate(shapely.get_coordinates(shapely.segmentize(zone.area, 5.0)))
    offset = float(line.locate(shapely.get_coordinates(zone.area.centroid))[1][0])
    start, end = float(chainage.min()), float(chainage.max())
    return {
        "hole": hole.number,
        "zone": zone.zone,
        "feature_id": zone.fid,
        "source": zone.source,
        "parted_by": zone.parted_by,
        "area_m2": float(zone.area.area),
        "zone_length_m": end - start,
        "zone_width_m": float(zone.area.area / (end - start)) if end > start else np.nan,
        "from_chainage_m": start,
        "to_chainage_m": end,
        "offset_m": offset,
        "geometry": zone.area,
    }


def zone_centre(area: Polygon) -> Floats:
    """Middle of a zone: its centroid, or a point well inside where that lies outside a bent zone."""
    middle = area.centroid
    if not area.covers(middle):
        middle = area.representative_point()
    return np.asarray(middle.coords[0])


def zone_carry(hole: Hole, tee: TeePlan, zone: Zone, rays: int, surface: Any = None) -> dict[str, Any]:
    """Carries of a zone from a tee: row of the layer ``zone_carries``.

    ``enter_least_m`` and ``enter_greatest_m`` are the least and greatest distance at which a straight ball
    comes over the zone, over ``rays`` directions across it; the direction of its centre gives how far the
    zone goes on (``through_m``) and which hazards lie before it (``over``, the last far edge
    ``must_carry_m``).
    """
    centre = zone_centre(zone.area)
    aim = centre - tee.centre
    away = float(np.hypot(*aim))
    axis = aim / away
    side = np.array([axis[1], -axis[0]])
    corners = shapely.get_coordinates(zone.area) - tee.centre
    angle = np.arctan2(corners @ side, corners @ axis)
    step = (angle.max() - angle.min()) / rays
    angles = np.append(angle.min() + step * (np.arange(rays) + 0.5), 0.0)
    directions = np.cos(angles)[:, None] * axis + np.sin(angles)[:, None] * side
    far = float(np.hypot(*corners.T).max()) + 1.0
    lines = rays_from(tee.centre, directions, far)
    hits = ray_intervals(tee.centre, lines, zone.area)
    enter = np.array([h[0, 0] for h in hits if len(h)])
    last = hits[-1]
    through = float(last[-1, 1]) if len(last) else np.nan
    met = [
        (h.feature, stretch)
        for h in hole.hazards
        for stretch in ray_intervals(tee.centre, lines[-1:], h.geometry)[0]
        if stretch[0] < away and stretch[1] <= away + 1e-6
    ]
    met.sort(key=lambda m: m[1][1])
    rise = np.nan
    if surface is not None:
        rise = float(surface.height(*centre) - surface.height(*tee.centre))
    return {
        "hole": hole.number,
        "tee": tee.tee,
        "zone": zone.zone,
        "enter_least_m": float(enter.min()) if len(enter) else np.nan,
        "enter_greatest_m": float(enter.max()) if len(enter) else np.nan,
        "centre_m": away,
        "through_m": through,
        "bearing_deg": bearing(aim),
        "rise_m": rise,
        "must_carry_m": float(met[-1][1][1]) if met else np.nan,
        "hazards_carried": "; ".join(dict.fromkeys(m[0] for m in met)),
        "geometry": LineString([tee.centre, centre]),
    }
