"""Terrain of an imported site from rasters, laser points, triangles, contours, levels, breaklines.

Sources are taken in the order given: a later one fills what an earlier one leaves open. Gaps stay open and
are told;
the error is estimated from levels that are left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer

from gistools.base.errors import InputError, SiteError
from gistools.base.grid import Floats, Grid
from gistools.compute.terrain.gridding import (
    CellMeans,
    Residuals,
    conforming,
    smoothed,
    tin_heights,
    tin_residuals,
    triangle_heights,
)
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site.importing.features import Draft
from gistools.site.importing.landxml_ground import read_landxml
from gistools.site.importing.level_files import cloud_info, cloud_points, text_levels
from gistools.site.importing.mapping import TERRAIN_TARGETS
from gistools.site.importing.reference import CORE
from gistools.site.terrain import BELIEVABLE_M, UnknownHeightUnit, height_factor, parse_unit

RASTERS = (".tif", ".tiff", ".asc", ".img", ".dem", ".hgt", ".dt2")
CLOUDS = (".las", ".laz")
TEXTS = (".xyz", ".txt", ".csv", ".pts")
XML = (".xml", ".landxml")
#: ground round play that is kept [m]; cells to choose from [m]; points a cell should have on average
MARGIN_M, CELLS_M, POINTS_A_CELL = 100.0, (0.5, 1.0, 2.0, 5.0), 2.0
MOST_CELLS = 40_000_000
#: a triangle of single levels or contours with a longer side is no ground; gaps in laser points of as many
#: cells are
LONGEST_M, REACH_CELLS = 60.0, 10.0
#: pieces of breaklines are not halved any more below this [m]
LEAST_PIECE_M = 0.1


def is_terrain(path: Path) -> bool:
    """Tell whether a source is read as terrain, by the end of its name."""
    return path.suffix.lower() in (*RASTERS, *CLOUDS, *TEXTS, *XML)


@dataclass(frozen=True)
class Options:
    """What shapes the terrain: cell, longest gap, smoothing width [m], unit of heights; None is found."""

    cell_m: float | None = None
    gap_m: float | None = None
    smooth_m: float = 0.0
    height_unit: str | None = None


@dataclass(frozen=True)
class Place:
    """Where the site lies: its CRS, metres in its unit, and the box of its terrain [m]."""

    crs: CRS
    unit_m: float
    box: tuple[float, float, float, float]

    def moved(self, points: Floats, crs: CRS | None, own_unit_m: float = 1.0) -> Floats:
        """Return points ``(n, 3)`` of a CRS in metres of the site's CRS; levels stay."""
        if crs is None:
            return points
        plan = crs.sub_crs_list[0] if crs.is_compound else crs
        change = Transformer.from_crs(plan, self.crs, always_xy=True)
        x, y = change.transform(points[:, 0] / own_unit_m, points[:, 1] / own_unit_m)
        return np.column_stack([np.asarray(x) * self.unit_m, np.asarray(y) * self.unit_m, points[:, 2]])


def build_terrain(
    paths: list[Path], draft: Draft, crs: CRS, unit_m: float, options: Options
) -> Surface | None:
    """Return the terrain of a site from its sources, None without any, and say how good it is.

    Raises
    ------
    InputError
        If a choice makes no sense, or a reader is not installed.
    SiteError
        If a source cannot be read, or none covers the site.
    """
    drawn = [f for f in draft.features if f.layer in TERRAIN_TARGETS]
    draft.drop(drawn)
    if not paths and not drawn:
        return None
    core = [f.shape for f in draft.features if f.layer in CORE]
    if not core:
        raise SiteError(
            "terrain without tees, greens, fairways or hole lines: nothing says where the site is"
        )
    west, south, east, north = (float(v) for v in shapely.total_bounds(core))
    place = Place(crs, unit_m, (west - MARGIN_M, south - MARGIN_M, east + MARGIN_M, north + MARGIN_M))
    makers: list[tuple[str, float, Callable[[Grid, Options], tuple[Floats, Residuals | None]]]] = []
    for path in paths:
        makers.append((path.name, *_maker(path, place, options, draft)))
    if drawn:
        makers.append(("drawn levels", *_drawn(drawn, draft)))
    cell = options.cell_m or min(c for _, c, _ in makers)
    grid = _grid(place.box, cell)
    heights = np.full(grid.shape, np.nan)
    for name, _, make in makers:
        part, residuals = make(grid, options)
        part[(part < BELIEVABLE_M[0]) | (part > BELIEVABLE_M[1])] = np.nan
        new = np.isnan(heights) & np.isfinite(part)
        if not new.any():
            draft.say("warning", "terrain", f"{name} adds no ground to the site", "check its CRS and extent")
        heights[new] = part[new]
        _say_error(draft, name, residuals)
    if not np.isfinite(heights).any():
        raise SiteError("none of the terrain sources covers the site; check their CRS and extent")
    if options.smooth_m > 0:
        heights = smoothed(heights, options.smooth_m / cell)
        draft.say("note", "terrain", f"heights are smoothed over {options.smooth_m:g} m, as asked")
    _say_gaps(draft, heights, grid)
    return _trimmed(heights, grid)


def _grid(box: tuple[float, float, float, float], cell: float) -> Grid:
    west, south = np.floor(box[0] / cell) * cell, np.floor(box[1] / cell) * cell
    cols, rows = int(np.ceil((box[2] - west) / cell)), int(np.ceil((box[3] - south) / cell))
    if rows * cols > MOST_CELLS:
        raise InputError(
            f"a terrain of {rows} x {cols} cells of {cell:g} m is more than {MOST_CELLS // 10**6} million;"
            " take larger cells (--cell)"
        )
    return Grid(float(west), float(south + rows * cell), cell, (rows, cols))


def _trimmed(heights: Floats, grid: Grid) -> Surface:
    known = np.isfinite(heights)
    rows, cols = np.flatnonzero(known.any(axis=1)), np.flatnonzero(known.any(axis=0))
    part = heights[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return Surface(part, grid.x_west + cols[0] * grid.cell, grid.y_north - rows[0] * grid.cell, grid.cell)


def _say_error(draft: Draft, name: str, residuals: Residuals | None) -> None:
    if residuals is None or residuals.count == 0:
        draft.say("note", "terrain", f"{name} says nothing of its own error; check it on levelled points")
        return
    draft.say(
        "note",
        "terrain",
        f"{name}: {residuals.count:,} levels left out are met with a mean of {residuals.mean_m:+.3f} m and"
        f" {residuals.rms_m:.3f} m RMS, 95 of 100 within {residuals.most_m:.3f} m",
    )


def _say_gaps(draft: Draft, heights: Floats, grid: Grid) -> None:
    for layer in ("greens", "tees", "fairway", "bunkers"):
        for feature in draft.of(layer):
            inside = grid.mask(feature.shape) if feature.shape.geom_type == "Polygon" else None
            if inside is None or not inside.any():
                continue
            missing = int((inside & np.isnan(heights)).sum())
            if missing:
                area = missing * grid.cell**2
                message = (
                    f"the terrain has a gap of {area:.0f} m² under {feature.origin} (hole {feature.hole})"
                )
                draft.say("warning", "terrain", message, "give levels there, or a wider --gap")
    share = float(np.isnan(heights).mean())
    draft.say("note", "terrain", f"cells of {grid.cell:g} m; {share:.1%} of the box round play has no ground")
    draft.say(
        "note",
        "terrain",
        "the vertical datum of the sources is taken as it is; compare it with control points",
    )


def _maker(path: Path, place: Place, options: Options, draft: Draft) -> tuple[float, Any]:
    """Return the cell that suits a source, and a function that puts it on a grid."""
    kind = path.suffix.lower()
    if not path.is_file():
        raise InputError(f"{path}: there is no such file; name a file on this computer")
    if kind in RASTERS:
        return _raster_maker(path, place, options, draft)
    if kind in CLOUDS:
        return _cloud_maker(path, place, options, draft)
    height_m = 1.0 if options.height_unit is None else parse_unit(options.height_unit)
    if kind in TEXTS:
        points = text_levels(path)
        points[:, :2] *= place.unit_m
        points[:, 2] *= height_m
        draft.say(
            "note", "terrain", f"{path.name} states no CRS or unit; those of the site and metres are taken"
        )
        groups = np.arange(len(points))
        return _spacing_cell(points), lambda grid, opts: _on_tin(points, groups, grid, opts)
    ground = read_landxml(path)
    if ground.crs is None:
        draft.say("note", "terrain", f"{path.name} states no CRS; that of the site is taken")
    corners, points = (place.moved(p, ground.crs, ground.unit_m) for p in (ground.corners, ground.points))
    lines = [place.moved(line, ground.crs, ground.unit_m) for line in ground.lines]
    if len(ground.faces):
        shown = ", ".join(n for n in ground.names if n)
        draft.say(
            "note",
            "terrain",
            f"{path.name}: the {len(ground.faces):,} triangles of {shown or 'its surface'} are taken",
        )
        faces = ground.faces
        return _spacing_cell(corners), lambda grid, _: (triangle_heights(corners, faces, *grid.mesh()), None)
    whole, groups = _with_lines(points, lines, 1.0, path.name, draft)
    return _spacing_cell(whole), lambda grid, opts: _on_tin(whole, groups, grid, opts)


def _raster_maker(path: Path, place: Place, options: Options, draft: Draft) -> tuple[float, Any]:
    info = _raster.describe(path, any_cells=True)  # warped onto the site's cells below
    if info.crs is None:
        draft.say(
            "warning", "terrain", f"{path.name} states no CRS; that of the site is taken", "assign its CRS"
        )
    try:
        factor, notes = height_factor(
            path.name, info, info.crs or place.crs, place.unit_m, options.height_unit
        )
    except UnknownHeightUnit as fault:
        raise InputError(str(fault)) from fault
    draft.findings.extend(notes)
    turn = info.crs is not None and info.crs.is_geographic
    cell = info.cell * (
        111_320.0 if turn else (info.crs.axis_info[0].unit_conversion_factor if info.crs else place.unit_m)
    )
    suited = min((c for c in CELLS_M if c >= 0.99 * cell), default=CELLS_M[-1])

    def make(grid: Grid, _options: Options) -> tuple[Floats, None]:
        u = place.unit_m
        crs = info.crs or place.crs
        values = _raster.warped(
            path, crs, place.crs, grid.x_west / u, grid.y_north / u, grid.cell / u, grid.shape
        )
        return values * factor, None

    return suited, make


def _cloud_maker(path: Path, place: Place, options: Options, draft: Draft) -> tuple[float, Any]:
    info = cloud_info(path)
    if info.crs is None:
        draft.say(
            "warning", "terrain", f"{path.name} states no CRS; that of the site is taken", "assign its CRS"
        )
    if not info.classified:
        draft.say(
            "warning",
            "terrain",
            f"{path.name} has no points of class ground; all are taken, so grass, trees and roofs are in it",
            "have the ground classified",
        )
    plan_m = 1.0 if info.crs is None else float(info.crs.axis_info[0].unit_conversion_factor)
    height_m = _cloud_height_unit(info.crs, plan_m, options.height_unit, path)
    area = max((info.bounds[2] - info.bounds[0]) * (info.bounds[3] - info.bounds[1]) * plan_m**2, 1.0)
    cell = float(np.sqrt(POINTS_A_CELL * area / max(info.count, 1)))
    suited = min((c for c in CELLS_M if c >= 0.99 * cell), default=CELLS_M[-1])

    def make(grid: Grid, opts: Options) -> tuple[Floats, Residuals]:
        means = CellMeans(grid)
        for points in cloud_points(path, info.classified):
            points[:, 2] *= height_m
            means.add(
                place.moved(points, info.crs)
                if info.crs is not None
                else points * [place.unit_m, place.unit_m, 1]
            )
        return means.finish(opts.gap_m or REACH_CELLS * grid.cell)

    return suited, make


def _cloud_height_unit(crs: CRS | None, plan_m: float, unit: str | None, path: Path) -> float:
    if unit is not None:
        return parse_unit(unit)
    up = [] if crs is None else [a for a in crs.axis_info if a.direction == "up"]
    if up:
        return float(up[0].unit_conversion_factor)
    if plan_m != 1.0:
        raise InputError(
            f"{path.name}: its plan is in feet and nothing tells the unit of its heights; give --height-unit"
        )
    return 1.0


def _spacing_cell(points: Floats) -> float:
    if len(points) < 3:
        return CELLS_M[1]
    area = float(np.prod(np.ptp(points[:, :2], axis=0)))
    spacing = np.sqrt(max(area, 1.0) / len(points))
    return min((c for c in CELLS_M[1:] if c >= spacing / 5), default=CELLS_M[-1])


def _drawn(features: list[Any], draft: Draft) -> tuple[float, Any]:
    """Contours, spot levels and breaklines drawn as features."""
    points: list[Floats] = []
    lines: list[Floats] = []
    for feature in features:
        xyz = shapely.get_coordinates(feature.shape, include_z=True)
        (points if feature.layer == "spot_levels" else lines).append(xyz[np.isfinite(xyz).all(axis=1)])
    loose = np.vstack(points) if points else np.empty((0, 3))
    whole, groups = _with_lines(loose, [line for line in lines if len(line) > 1], 2.0, "drawn levels", draft)
    return _spacing_cell(whole), lambda grid, opts: _on_tin(whole, groups, grid, opts)


def _with_lines(points: Floats, lines: list[Floats], step_m: float, name: str, draft: Draft) -> Any:
    """Return single levels and corners of breaklines as one list, each line a group of its own."""
    breaks = conforming(points, lines, step_m, LEAST_PIECE_M)
    if len(breaks.broken):
        x, y, _ = breaks.broken[0]
        draft.say(
            "note",
            "terrain",
            f"{name}: breaklines or contours cross or touch at {len(breaks.broken)} places, the first"
            f" at {x:.1f}, {y:.1f} [m]; within {LEAST_PIECE_M:g} m of them the ground is between both",
        )
    groups = np.concatenate([np.arange(len(points)), len(points) + breaks.line]).astype(np.int64)
    return np.vstack([points, breaks.corners]), groups


def _on_tin(points: Floats, groups: Any, grid: Grid, options: Options) -> tuple[Floats, Residuals]:
    longest = options.gap_m or LONGEST_M
    west, south, east, north = grid.bounds
    reach = longest
    close_by = (points[:, 0] > west - reach) & (points[:, 0] < east + reach)
    close_by &= (points[:, 1] > south - reach) & (points[:, 1] < north + reach)
    part, part_groups = points[close_by], groups[close_by]
    if len(part) < 3:
        return np.full(grid.shape, np.nan), Residuals(0, np.nan, np.nan, np.nan)
    x, y = grid.mesh()
    return tin_heights(part, x, y, longest), tin_residuals(part, part_groups, longest)
