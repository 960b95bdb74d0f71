"""Shaping: mounds, hollows, channels, platforms, tiers and graded planes laid on a surface.

Arrays and shapely geometry only. Shapes are applied one after the other, each on the ground that the ones
before it have left; every one reports what it changed, how steep the ground became and what was cut back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.shapes import (
    SLOPE_LIMITS_PCT,
    Shape,
    along_line,
    bowl_or_dome,
    grade,
    in_order,
    platform,
    tier,
)
from gistools.compute.terrain.surface import Floats, Surface

#: least change of height that counts as touched ground [m] (assumption: what a finishing rake can set)
TOUCHED_M = 0.005


@dataclass(frozen=True, eq=False)
class ShapeReport:
    """What one shape did.

    Attributes
    ----------
    shape
        The shape.
    before, after
        The ground in the window it touched, without and with it.
    target_m, reached_m
        Greatest rise (depth negative) of the shape as drawn, and reached [m].
    slope_before_pct, slope_max_pct
        Steepest ground where the shape touched it, before and after [%]; the shape and the ground under it
        together.
    limit_pct, limit_text
        Slope it should not pass, and where the figure comes from.
    steep_area_m2
        Area touched that is steeper than that [m2].
    nodata_area_m2
        Area inside the shape without terrain; nothing is built there [m2].
    at_edge
        Whether it still changes the ground at the edge of the terrain.
    remarks
        What was cut back or needs a look, in words.
    """

    shape: Shape
    before: Surface
    after: Surface
    target_m: float
    reached_m: float
    slope_before_pct: float
    slope_max_pct: float
    limit_pct: float
    limit_text: str
    steep_area_m2: float
    nodata_area_m2: float
    at_edge: bool
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
    for shape in in_order(shapes):
        report, rows, cols = _lay(surface.with_heights(z.copy()), shape)
        z[rows, cols] = report.after.z
        reports.append(report)
    return Shaped(surface.with_heights(z), tuple(reports), any(r.at_edge for r in reports))


def _lay(ground: Surface, shape: Shape) -> tuple[ShapeReport, slice, slice]:
    """Lay one shape, in a window that grows until the ground at its edge is untouched."""
    margin = 4 * ground.cell + 2 * shape.blend_m + shape.width_m + 2 * abs(shape.rise_m or 0.0) / shape.slope
    while True:
        rows, cols = ground.grid.window(shape.geometry.bounds, margin)
        if rows.start == rows.stop or cols.start == cols.stop:
            raise InputError(f"shape {shape.label} lies off the terrain")
        window = ground.part(rows, cols)
        change = _change(ground, window, shape)
        at_edge = _touches_edge(change)
        if window.z.shape == ground.z.shape or not at_edge:
            break
        margin *= 2
    return _report(window, change, shape, at_edge), rows, cols


def _touches_edge(change: Floats) -> bool:
    rim = np.concatenate([change[0], change[-1], change[:, 0], change[:, -1]])
    return bool((np.abs(rim[np.isfinite(rim)]) > TOUCHED_M / 5).any())


def _change(ground: Surface, window: Surface, shape: Shape) -> Floats:
    """Change of height over a window; parts of a multi-part geometry are laid together."""
    outline_shapes = {
        "mound": bowl_or_dome,
        "hollow": bowl_or_dome,
        "platform": platform,
        "tier": tier,
        "grade": grade,
    }
    total = np.where(np.isfinite(window.z), 0.0, np.nan)
    for part in shapely.get_parts(shape.geometry):
        laid = window.with_heights(window.z + total)
        if part.geom_type == "LineString":
            levels = np.asarray(ground.height(*shapely.get_coordinates(part).T))
            if shape.level_m is None and not np.isfinite(levels).all():
                raise InputError(f"shape {shape.label}: a vertex of its line has no terrain; give it a level")
            total = total + along_line(laid, shape, part, levels)
        else:
            total = total + outline_shapes[shape.kind](laid, shape, part)
    return total


def _report(window: Surface, change: Floats, shape: Shape, at_edge: bool) -> ShapeReport:
    after = window.z + change
    touched = np.abs(change) > TOUCHED_M
    slope_before, slope = (100.0 * np.hypot(*np.gradient(z, window.cell)) for z in (window.z, after))
    limit, text = SLOPE_LIMITS_PCT[shape.kind]
    cell_m2 = window.cell**2
    missing = window.grid.mask(_area(shape)) & ~np.isfinite(window.z)
    report = ShapeReport(
        shape=shape,
        before=window,
        after=window.with_heights(after),
        target_m=_target(window, shape, change),
        reached_m=_furthest(change),
        slope_before_pct=_greatest(slope_before[touched]),
        slope_max_pct=_greatest(slope[touched]),
        limit_pct=limit,
        limit_text=text,
        steep_area_m2=float((touched & (slope > limit)).sum() * cell_m2),
        nodata_area_m2=float(missing.sum() * cell_m2),
        at_edge=at_edge,
        remarks=(),
    )
    return replace(report, remarks=tuple(_remarks(report)))


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


def _target(window: Surface, shape: Shape, change: Floats) -> float:
    """Rise of the shape [m]; for a level, the step up to it where the ground changes most."""
    if shape.level_m is None:
        return float("nan") if shape.rise_m is None else shape.rise_m
    most = int(np.nan_to_num(np.abs(change)).argmax())
    return float(shape.level_m - window.z.ravel()[most])


def _remarks(report: ShapeReport) -> list[str]:
    shape = report.shape
    remarks = []
    in_outline = shape.kind in ("mound", "hollow") and "Polygon" in shape.geometry.geom_type
    if in_outline and abs(report.reached_m) < 0.98 * abs(report.target_m):
        remarks.append(
            f"drawn {report.target_m:+.2f} m, reached {report.reached_m:+.2f} m: the outline is too narrow"
            f" for a side slope of {shape.side_slope_pct:.0f} %"
        )
    if shape.kind == "tier" and shape.side_slope_pct / 100 > shape.slope:
        remarks.append(f"face kept to {100 * shape.slope:.1f} % ({report.limit_text})")
    if report.steep_area_m2 > 0:
        remarks.append(
            f"{report.steep_area_m2:.0f} m2 steeper than {report.limit_pct:.3g} %,"
            f" up to {report.slope_max_pct:.0f} %, {report.slope_before_pct:.0f} % before"
            f" ({report.limit_text})"
        )
    if report.nodata_area_m2 > 0:
        remarks.append(f"{report.nodata_area_m2:.0f} m2 of it has no terrain and was left out")
    if report.at_edge:
        remarks.append("its banks run to the edge of the terrain before they meet the ground")
    if shape.kind == "channel":
        remarks.extend(_uphill(report))
    return remarks


def _uphill(report: ShapeReport) -> list[str]:
    """Say where a channel's bed rises along the way it falls overall."""
    remarks = []
    for part in shapely.get_parts(report.shape.geometry):
        at = shapely.get_coordinates(shapely.segmentize(part, report.before.cell))
        bed = np.asarray(report.after.height(at[:, 0], at[:, 1]))
        bed = bed[np.isfinite(bed)]
        if bed.size > 1:
            bed = bed if bed[-1] <= bed[0] else bed[::-1]
            rise = float((bed - np.minimum.accumulate(bed)).max())
            if rise > 0.02:
                remarks.append(f"its bed rises {rise:.2f} m against its fall: water would stand there")
    return remarks
