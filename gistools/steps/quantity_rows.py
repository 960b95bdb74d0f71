"""Quantities of the proposed shaping.

Cut, fill, topsoil and what the soil does, shape by shape and in total.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from gistools.base.errors import SiteError
from gistools.compute.layout.lengths import combined_factor
from gistools.compute.terrain.contours import area_above
from gistools.compute.terrain.haul import Haul, least_haul
from gistools.compute.terrain.shaping import TOUCHED_M, ShapeReport
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.volumes import Convention, Volumes, cut_and_fill, mass_balance, survey_error
from gistools.site.model import Site
from gistools.site.proposed import holes_of, is_stored, proposed_site, reports_of, shaped
from gistools.site.types import Bounds, TerrainSource

#: columns that only single shapes have
_OF_SHAPES = (
    "requested_rise_m",
    "reached_rise_m",
    "existing_slope_max_pct",
    "proposed_slope_max_pct",
    "shape_slope_limit_pct",
    "steep_area_m2",
    "nodata_area_m2",
)


@dataclass(frozen=True)
class Soil:
    """What is assumed about the soil and the survey.

    Attributes
    ----------
    strip_m, respread_m
        Topsoil taken off and put back on touched ground [m].
    swell_pct, shrink_pct, convention
        See :func:`gistools.compute.terrain.volumes.mass_balance`.
    level_sd_m, spacing_m
        See :func:`gistools.compute.terrain.volumes.survey_error`.
    """

    strip_m: float
    respread_m: float
    swell_pct: float
    shrink_pct: float
    convention: Convention
    level_sd_m: float
    spacing_m: float


def both_grounds(site: Site, bounds: Bounds | None, hole: int | None = None) -> tuple[Surface, Surface]:
    """Return the existing and the proposed ground of a window on the cells of the existing one."""
    proposed = proposed_site(site, hole=hole)
    ground = proposed.existing
    if ground is None:
        ground = proposed.ground
    assert ground is not None
    before = ground.surface(bounds)
    if ground is proposed.ground:
        return before, before
    wide = None
    if bounds is not None:
        west, south, east, north = before.bounds
        pad = 2 * before.cell
        wide = (west - pad, south - pad, east + pad, north + pad)
    after = proposed.surface(wide)
    return before, on_cells_of(after, before)


def on_cells_of(surface: Surface, cells: Surface) -> Surface:
    """Return a surface on the cells of another: the same heights where the cells agree, else sampled."""
    rows, cols = cells.z.shape
    offset = surface.grid.offset_of(cells.grid)
    if offset is not None and min(offset) >= 0:
        z = surface.z[offset[0] : offset[0] + rows, offset[1] : offset[1] + cols]
        if z.shape == cells.z.shape:
            return cells.with_heights(z)
    return cells.with_heights(surface.height(*cells.grid.mesh()))


def level_at(ground: TerrainSource | None, x: Any, y: Any) -> NDArray[np.float64]:
    """Level of the ground at points [m]; ``nan`` where there is none."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    if ground is None or x.size == 0:
        return np.full(x.shape, np.nan)
    pad = 2 * ground.cell
    try:
        surface = ground.surface((x.min() - pad, y.min() - pad, x.max() + pad, y.max() + pad))
    except SiteError:
        return np.full(x.shape, np.nan)
    return np.asarray(surface.height(x, y))


def footprint(before: Surface, after: Surface) -> Any:
    """Area in which the height changes by more than the least that counts.

    A sharp toe is found to within a cell.
    """
    change = np.abs(after.z - before.z)
    return area_above(before.with_heights(change), TOUCHED_M)


def quantity_rows(site: Site, holes: list[int], whole: bool, soil: Soil) -> list[dict[str, Any]]:
    """Rows of the quantities: shapes in the order laid, a total for each hole, and one for the site.

    Volumes and areas are on the ground: those of the grid divided by the square of the combined factor.
    """
    rows: list[dict[str, Any]] = []
    if is_stored(site) or site.existing is not None:
        for hole in holes:
            rows += _total_of_window(site, hole, soil)
        return rows
    totals = 0
    for hole in holes:
        reports = reports_of(site, hole)
        if not reports:
            continue
        rows += [_shape_row(site, hole, report, soil) for report in reports]
        rows.append(
            _total_row(
                site, hole, [(_existing(site, g.surface), g.surface) for g in shaped(site, hole)], soil
            )
        )
        totals += 1
    if whole and totals > 1:
        rows.append(
            _total_row(site, None, [(_existing(site, g.surface), g.surface) for g in shaped(site)], soil)
        )
    return rows


def hauls_of(site: Site, rows: list[dict[str, Any]]) -> dict[int, Haul]:
    """Return the least haul of each hole with a total, and tell it in that row."""
    hauls: dict[int, Haul] = {}
    for row in rows:
        row |= {"haul_volume_m3": float("nan"), "haul_mean_m": float("nan")}
        if row["shape_kind"] == "total" and row["hole"] is not None:
            before, after = both_grounds(site, site.hole_bounds(row["hole"]), row["hole"])
            bank_share = row["fill_bank_m3"] / row["fill_m3"] if row["fill_m3"] > 0 else 1.0
            haul = hauls[row["hole"]] = least_haul(before, after, bank_share=bank_share)
            row |= {"haul_volume_m3": haul.volume_m3, "haul_mean_m": haul.mean_m}
    return hauls


def haul_lines(hauls: dict[int, Haul]) -> list[dict[str, Any]]:
    """Return a row for each move of earth, as a line from cut to fill."""
    return [
        {
            "hole": hole,
            "haul_volume_m3": move.volume_m3,
            "haul_m": move.distance_m,
            "geometry": shapely.LineString([move.start, move.end]),
        }
        for hole, haul in hauls.items()
        for move in haul.moves
    ]


def _existing(site: Site, like: Surface) -> Surface:
    ground = site.existing or site.ground
    assert ground is not None
    half = like.cell / 2
    west, south, east, north = like.bounds
    return on_cells_of(ground.surface((west + half, south + half, east - half, north - half)), like)


def _total_of_window(site: Site, hole: int, soil: Soil) -> list[dict[str, Any]]:
    before, after = both_grounds(site, site.hole_bounds(hole), hole)
    touched = np.nanmax(np.abs(after.z - before.z), initial=0.0) > TOUCHED_M
    return [_total_row(site, hole, [(before, after)], soil)] if touched else []


def _shape_row(site: Site, hole: int, report: ShapeReport, soil: Soil) -> dict[str, Any]:
    shape = report.shape
    row = _row(site, [(report.before, report.after)], soil)
    return {
        "hole": hole,
        "feature": shape.label,
        "layer": "shapes",
        "feature_id": shape.fid,
        "shape_kind": shape.kind,
        **row,
        "requested_rise_m": report.target_m,
        "reached_rise_m": report.reached_m,
        "existing_slope_max_pct": report.slope_before_pct,
        "proposed_slope_max_pct": report.slope_max_pct,
        "shape_slope_limit_pct": report.limit_pct,
        "steep_area_m2": report.steep_area_m2,
        "nodata_area_m2": report.nodata_area_m2,
        "note": "; ".join(report.remarks),
    }


def _total_row(
    site: Site, hole: int | None, pairs: list[tuple[Surface, Surface]], soil: Soil
) -> dict[str, Any]:
    row = _row(site, pairs, soil)
    spare = abs(row["surplus_m3"]) / row["cut_m3"] if row["cut_m3"] > 0 else float("nan")
    said = f"{100 * spare:.0f} % of the cut is out of balance" if spare > 0.05 else ""
    return {
        "hole": hole,
        "feature": "whole site" if hole is None else f"hole {hole}",
        "layer": "",
        "feature_id": None,
        "shape_kind": "total",
        **row,
        **dict.fromkeys(_OF_SHAPES, float("nan")),
        "note": said,
    }


def _row(site: Site, pairs: list[tuple[Surface, Surface]], soil: Soil) -> dict[str, Any]:
    parts = [cut_and_fill(a, b, soil_m=soil.strip_m - soil.respread_m, touched_m=TOUCHED_M) for a, b in pairs]
    area = shapely.union_all([footprint(a, b) for a, b in pairs])
    factor = _factor(site, pairs[0][0], area) ** 2
    v = {
        name: sum(getattr(p, name) for p in parts) / factor
        for name in ("cut_m3", "fill_m3", "cut_area_m2", "fill_area_m2")
    }
    touched = v["cut_area_m2"] + v["fill_area_m2"]
    balance = mass_balance(
        v["cut_m3"],
        v["fill_m3"],
        swell_pct=soil.swell_pct,
        shrink_pct=soil.shrink_pct,
        convention=soil.convention,
    )
    return {
        "changed_area_m2": touched,
        **v,
        "net_m3": v["fill_m3"] - v["cut_m3"],
        "topsoil_m3": touched * soil.strip_m,
        "topsoil_spare_m3": touched * (soil.strip_m - soil.respread_m),
        "cut_loose_m3": balance.cut_loose_m3,
        "fill_bank_m3": balance.fill_bank_m3,
        "surplus_m3": balance.surplus_m3,
        "surplus_loose_m3": balance.surplus_loose_m3,
        "grid_error_m3": _together(parts),
        "survey_error_m3": survey_error(touched, level_sd_m=soil.level_sd_m, spacing_m=soil.spacing_m),
        "geometry": area,
    }


def _together(parts: list[Volumes]) -> float:
    return float(np.sqrt(sum(p.grid_error_m3**2 for p in parts)))


def _factor(site: Site, surface: Surface, area: Any) -> float:
    """Combined factor in the middle of an area at the mean level of the window."""
    if area.is_empty:
        west, south, east, north = surface.bounds
        x, y = (west + east) / 2, (south + north) / 2
    else:
        x, y = area.centroid.x, area.centroid.y
    return float(combined_factor(site.crs_metric, x, y, float(np.nanmean(surface.z))))


def belongs_to(site: Site, table: Any, hole: int | None) -> Any:
    """Return the features of a hole (all without one), with whole hole numbers."""
    if not len(table):
        return table.assign(hole=pd.Series(dtype=int))
    out = table.assign(hole=holes_of(site, table))
    return out if hole is None else out[out["hole"] == hole]
