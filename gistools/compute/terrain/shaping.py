"""Shaping: mounds, hollows, channels, platforms, tiers and graded planes laid on a surface.

Arrays and shapely geometry only. Shapes are applied one after the other, each on the ground that the ones
before it have left; every one reports what it changed, how steep the ground became and what was cut back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain import shapes as shape_kinds
from gistools.compute.terrain.shapes import Window
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

#: kinds in the order in which shapes of equal `order` are applied
KINDS = ("mound", "hollow", "channel", "platform", "tier", "grade")

#: least change of height that counts as touched ground [m] (assumption: what a finishing rake can set)
TOUCHED_M = 0.005

#: kind -> (slope the finished ground should not pass [pct], where the figure comes from)
SLOPE_LIMITS_PCT: dict[str, tuple[float, str]] = {
    "mound": (100.0 / 3.0, "3:1 for ride-on mowers [common practice, no source]; 4:1 (25 %) is preferred"),
    "hollow": (34.0, "bunker face for a mid-iron escape from 150 yd, Brauer [seen: golfclubatlas.com]"),
    "channel": (100.0 / 3.0, "3:1 for ride-on mowers [common practice, no source]"),
    "platform": (100.0 / 3.0, "3:1 for ride-on mowers [common practice, no source]; 4:1 (25 %) is preferred"),
    "tier": (17.5, "tier faces and tie-ins, Brauer [seen: golfcourseindustry.com gci0512]"),
    "grade": (10.0, "comfortable landing ground, 8-10 % [common practice, no source]"),
}


@dataclass(frozen=True)
class Shape:
    """One piece of shaping as drawn.

    Parameters
    ----------
    kind
        One of :data:`KINDS`.
    geometry
        Outline (polygon), or crest or bed line of a mound or channel [m]. The outline is the toe of a mound,
        the lip of a hollow, the edge of the top of a platform, the middle of the face of a tier, the edge of a
        graded plane.
    rise_m, level_m
        Rise above the ground there (negative: depth), or the finished level instead [m].
    side_slope_pct
        Steepest side slope of the shape against the ground it stands on [%].
    blend_m
        Length of the rounding at foot and shoulder [m].
    width_m
        Width of the crest or bed of a line [m].
    fall_pct, fall_to_deg
        Fall of a platform or graded plane [%] and the grid bearing it runs to; for a line the fall along it as
        drawn.
    name, fid, order, hole
        Name for people, feature id, place in the order of application, hole.

    Raises
    ------
    InputError
        If the kind is unknown, the geometry does not suit it, or a number cannot be.
    """

    kind: str
    geometry: BaseGeometry
    rise_m: float | None = None
    level_m: float | None = None
    side_slope_pct: float = 25.0
    blend_m: float = 3.0
    width_m: float = 2.0
    fall_pct: float = 0.0
    fall_to_deg: float = 0.0
    name: str = ""
    fid: int | str | None = None
    order: int = 0
    hole: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(
                f"shape {self.label}: kind {self.kind!r} is unknown; it can be {', '.join(KINDS)}"
            )
        lines = self.geometry.geom_type in ("LineString", "MultiLineString")
        areas = self.geometry.geom_type in ("Polygon", "MultiPolygon")
        if self.kind == "channel" and not lines:
            raise InputError(f"shape {self.label}: a channel is drawn as its bed line, not as an area")
        if self.kind not in ("channel", "mound") and not areas:
            raise InputError(f"shape {self.label}: a {self.kind} is drawn as an area, not as a line")
        if self.kind == "mound" and not (lines or areas):
            raise InputError(f"shape {self.label}: a mound is drawn as its toe (area) or its crest (line)")
        if not self.side_slope_pct > 0 or not self.blend_m >= 0 or not self.width_m > 0:
            raise InputError(
                f"shape {self.label}: side slope and width have to be above 0, the blend 0 or more"
            )

    @property
    def label(self) -> str:
        """The name for people, or kind and feature id."""
        return self.name or f"{self.kind} {'' if self.fid is None else self.fid}".strip()

    @property
    def slope(self) -> float:
        """Side slope [m/m]; a tier's face is never steeper than its published limit."""
        cap = SLOPE_LIMITS_PCT["tier"][0] if self.kind == "tier" else np.inf
        return min(self.side_slope_pct, cap) / 100.0


@dataclass(frozen=True, eq=False)
class ShapeReport:
    """What one shape did.

    Attributes
    ----------
    shape
        The shape.
    before, after
        The ground in the window it touched, without and with it.
    asked_m, reached_m
        Greatest rise (depth negative) asked for and reached [m].
    slope_before_pct, slope_max_pct
        Steepest ground where the shape touched it, before and after [%]; the shape and the ground under it
        together.
    limit_pct, limit_text
        Slope it should not pass, and where the figure comes from.
    steeper_m2
        Area touched that is steeper than that [m2].
    no_ground_m2
        Area inside the shape without terrain; nothing is built there [m2].
    remarks
        What was cut back or needs a look, in words.
    """

    shape: Shape
    before: Surface
    after: Surface
    asked_m: float
    reached_m: float
    slope_before_pct: float
    slope_max_pct: float
    limit_pct: float
    limit_text: str
    steeper_m2: float
    no_ground_m2: float
    remarks: tuple[str, ...]

    @property
    def change(self) -> Floats:
        """Change of height on the cells of the window [m], ``nan`` where there is no ground."""
        return self.after.z - self.before.z


@dataclass(frozen=True, eq=False)
class Shaped:
    """A shaped surface and a report for each shape, in the order applied."""

    surface: Surface
    reports: tuple[ShapeReport, ...]
    reaches_edge: bool

    def __iter__(self):  # type: ignore[no-untyped-def]
        """Unpack as ``surface, reports``."""
        return iter((self.surface, self.reports))


def in_order(shapes: Sequence[Shape]) -> list[Shape]:
    """Return shapes in the order of application: by ``order``, then by kind, then as given."""
    return sorted(shapes, key=lambda s: (s.order, KINDS.index(s.kind)))


def shape_ground(surface: Surface, shapes: Sequence[Shape]) -> Shaped:
    """Lay shapes on a surface, one after the other.

    Parameters
    ----------
    surface
        Existing ground. It is not changed.
    shapes
        Shapes, applied by ``order``, then in the order of :data:`KINDS`.

    Returns
    -------
    Shaped
        The proposed surface on the same cells, and what each shape did. Cells without ground stay without.
        ``reaches_edge`` tells that a shape still changes the ground at the edge of the array.

    Raises
    ------
    InputError
        If a shape lacks a rise or level, lies off the surface, or is too small for the cells.

    Notes
    -----
    A mound or hollow inside an outline is cut back where it would be steeper than its side slope; banks of
    lines and platforms run out at the side slope until they meet the ground. The slope limits of
    :data:`SLOPE_LIMITS_PCT` are reported, not enforced, except for the face of a tier.
    """
    z = surface.z.copy()
    reports = []
    reaches_edge = False
    for shape in in_order(shapes):
        report, rows, cols, at_edge = _lay(replace_z(surface, z), shape)
        z[rows, cols] = report.after.z
        reports.append(report)
        reaches_edge |= at_edge
    return Shaped(replace_z(surface, z), tuple(reports), reaches_edge)


def replace_z(surface: Surface, z: Floats) -> Surface:
    """Return a surface with other heights on the same cells."""
    return Surface(z, surface.x_west, surface.y_north, surface.cell)


def _lay(ground: Surface, shape: Shape) -> tuple[ShapeReport, slice, slice, bool]:
    """Lay one shape, in a window that grows until the ground at its edge is untouched."""
    margin = 4 * ground.cell + 2 * shape.blend_m + shape.width_m + 2 * abs(shape.rise_m or 0.0) / shape.slope
    while True:
        rows, cols, whole = _window(ground, shape, margin)
        x, y = ground.centres()
        xs, ys = np.meshgrid(x[cols], y[rows])
        window = Window(xs, ys, ground.z[rows, cols].copy(), ground.cell)
        change = _change(ground, window, shape)
        at_edge = _touches_edge(change)
        if whole or not at_edge:
            break
        margin *= 2
    report = _report(window, change, shape, at_edge)
    return report, rows, cols, at_edge


def _window(ground: Surface, shape: Shape, margin: float) -> tuple[slice, slice, bool]:
    """Rows and columns of the window round a shape, and whether it reaches every edge it could grow to."""
    west, south, east, north = shape.geometry.bounds
    rows, cols = ground.z.shape
    j0 = int(np.floor((west - margin - ground.x_west) / ground.cell))
    j1 = int(np.ceil((east + margin - ground.x_west) / ground.cell))
    i0 = int(np.floor((ground.y_north - north - margin) / ground.cell))
    i1 = int(np.ceil((ground.y_north - south + margin) / ground.cell))
    if j1 <= 0 or i1 <= 0 or j0 >= cols or i0 >= rows:
        raise InputError(f"shape {shape.label} lies off the terrain")
    whole = j0 <= 0 and i0 <= 0 and j1 >= cols and i1 >= rows
    return slice(max(i0, 0), min(i1, rows)), slice(max(j0, 0), min(j1, cols)), whole


def _touches_edge(change: Floats) -> bool:
    rim = np.concatenate([change[0], change[-1], change[:, 0], change[:, -1]])
    return bool((np.abs(rim[np.isfinite(rim)]) > TOUCHED_M / 5).any())


def _change(ground: Surface, window: Window, shape: Shape) -> Floats:
    """Change of height over a window; parts of a multi-part geometry are laid together."""
    total = np.where(np.isfinite(window.z), 0.0, np.nan)
    for part in shapely.get_parts(shape.geometry):
        now = replace(window, z=window.z + total)
        if part.geom_type == "LineString":
            at = np.asarray(ground.height(*shapely.get_coordinates(part).T))
            if shape.level_m is None and not np.isfinite(at).all():
                raise InputError(f"shape {shape.label}: a vertex of its line has no terrain; give it a level")
            total = total + shape_kinds.along_line(now, shape, part, at)
        elif shape.kind in ("mound", "hollow"):
            total = total + shape_kinds.bowl_or_dome(now, shape, part)
        elif shape.kind == "platform":
            total = total + shape_kinds.platform(now, shape, part)
        elif shape.kind == "tier":
            total = total + shape_kinds.tier(now, shape, part)
        else:
            total = total + shape_kinds.grade(now, shape, part)
    return total


def _report(window: Window, change: Floats, shape: Shape, at_edge: bool) -> ShapeReport:
    after = window.z + change
    touched = np.abs(change) > TOUCHED_M
    west, north = window.x[0, 0] - window.cell / 2, window.y[0, 0] + window.cell / 2
    slope_before, slope = (100.0 * np.hypot(*np.gradient(z, window.cell)) for z in (window.z, after))
    limit, text = SLOPE_LIMITS_PCT[shape.kind]
    reached = _furthest(change)
    asked = _asked(window, shape, change)
    cell_m2 = window.cell**2
    missing = shapely.contains_xy(_area(shape), window.x, window.y) & ~np.isfinite(window.z)
    steeper = float((touched & (slope > limit)).sum() * cell_m2)
    report = ShapeReport(
        shape,
        Surface(window.z, west, north, window.cell),
        Surface(after, west, north, window.cell),
        asked,
        reached,
        _greatest(slope_before[touched]),
        _greatest(slope[touched]),
        limit,
        text,
        steeper,
        float(missing.sum() * cell_m2),
        (),
    )
    return replace(report, remarks=tuple(_remarks(report, at_edge)))


def _area(shape: Shape) -> BaseGeometry:
    if shape.geometry.geom_type in ("Polygon", "MultiPolygon"):
        return shape.geometry
    return shape.geometry.buffer(shape.width_m / 2)


def _greatest(values: Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.max()) if finite.size else float("nan")


def _furthest(change: Floats) -> float:
    finite = change[np.isfinite(change)]
    return float(finite[np.abs(finite).argmax()]) if finite.size else float("nan")


def _asked(window: Window, shape: Shape, change: Floats) -> float:
    """Rise asked for [m]; for a level, the step up to it where the ground changes most."""
    if shape.level_m is None:
        return float("nan") if shape.rise_m is None else shape.rise_m
    most = int(np.nan_to_num(np.abs(change)).argmax())
    return float(shape.level_m - window.z.ravel()[most])


def _remarks(report: ShapeReport, at_edge: bool) -> list[str]:
    shape = report.shape
    said = []
    in_outline = shape.kind in ("mound", "hollow") and "Polygon" in shape.geometry.geom_type
    if in_outline and abs(report.reached_m) < 0.98 * abs(report.asked_m):
        said.append(
            f"asked {report.asked_m:+.2f} m, reached {report.reached_m:+.2f} m: the outline is too narrow for a"
            f" side slope of {shape.side_slope_pct:.0f} %"
        )
    if shape.kind == "tier" and shape.side_slope_pct / 100 > shape.slope:
        said.append(f"face kept to {100 * shape.slope:.1f} % ({report.limit_text})")
    if report.steeper_m2 > 0:
        said.append(
            f"{report.steeper_m2:.0f} m2 steeper than {report.limit_pct:.3g} %,"
            f" up to {report.slope_max_pct:.0f} %, {report.slope_before_pct:.0f} % before ({report.limit_text})"
        )
    if report.no_ground_m2 > 0:
        said.append(f"{report.no_ground_m2:.0f} m2 of it has no terrain and was left out")
    if at_edge:
        said.append("its banks run to the edge of the terrain before they meet the ground")
    if shape.kind == "channel":
        said.extend(_uphill(report))
    return said


def _uphill(report: ShapeReport) -> list[str]:
    """Tell where a channel's bed rises along the way it falls overall."""
    said = []
    for part in shapely.get_parts(report.shape.geometry):
        at = shapely.get_coordinates(shapely.segmentize(part, report.before.cell))
        bed = np.asarray(report.after.height(at[:, 0], at[:, 1]))
        bed = bed[np.isfinite(bed)]
        if bed.size > 1:
            bed = bed if bed[-1] <= bed[0] else bed[::-1]
            rise = float((bed - np.minimum.accumulate(bed)).max())
            if rise > 0.02:
                said.append(f"its bed rises {rise:.2f} m against its fall: water would stand there")
    return said


def shape_from_crest(
    geometry: BaseGeometry,
    crest_level_m: float,
    *,
    side_slope_pct: float = 25.0,
    blend_m: float = 3.0,
    width_m: float = 2.0,
    name: str = "",
    hole: int | None = None,
) -> Shape:
    """Turn a crest level (as ``screening`` fits it) into a mound that can be laid.

    Parameters
    ----------
    geometry
        Toe outline (polygon) or crest line of the mound [m].
    crest_level_m
        Finished level of the crest [m].
    side_slope_pct, blend_m, width_m, name, hole
        See :class:`Shape`.
    """
    if not np.isfinite(crest_level_m):
        raise InputError(f"mound {name or 'without a name'}: there is no crest level to shape it to")
    return Shape(
        "mound",
        geometry,
        level_m=float(crest_level_m),
        side_slope_pct=side_slope_pct,
        blend_m=blend_m,
        width_m=width_m,
        name=name,
        hole=hole,
    )
