"""Rows of the layers of slopes: from arrays to plain values with the declared names."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from gistools.compute.terrain.green_slopes import GreenSlopes, green_parts, outline
from gistools.compute.terrain.slopes import (
    fall_and_camber,
    falls_to_deg,
    fitted,
    fitted_at,
    line_bearings,
    slope_pct,
)
from gistools.compute.terrain.surface import Floats, Surface

Row = dict[str, Any]


def many(shape: BaseGeometry) -> BaseGeometry:
    """An area as a MultiPolygon."""
    return MultiPolygon([part for part in shapely.get_parts(shape) if not part.is_empty])


def zone_slopes(
    surface: Surface, area: BaseGeometry, line: Floats, radius_m: float, drain_pct: float, comfort_pct: float
) -> Row:
    """Camber and fall of a zone over its cells; see the step ``slopes``."""
    part = surface.window(area.bounds, radius_m + 2 * surface.cell)
    p, q = fitted(part, radius_m)
    x, y = part.grid.mesh()
    inside = part.grid.mask(area)
    known = inside & np.isfinite(p)
    if not known.any():
        return {"note": "no terrain under the zone"}
    p, q = p[known], q[known]
    fall, camber = fall_and_camber(p, q, line_bearings(line, x[known], y[known]))
    slope = slope_pct(p, q)
    missing = 1 - known.sum() / inside.sum()
    return {
        "slope_mean_pct": float(slope.mean()),
        "steepest_pct": float(np.quantile(slope, 0.95)),
        "camber_pct": float(camber.mean()),
        "camber_low_pct": float(np.quantile(camber, 0.05)),
        "camber_high_pct": float(np.quantile(camber, 0.95)),
        "fall_pct": float(fall.mean()),
        "fall_low_pct": float(np.quantile(fall, 0.05)),
        "fall_high_pct": float(np.quantile(fall, 0.95)),
        "too_flat_pct": 100.0 * float((slope < drain_pct).mean()),
        "comfortable_pct": 100.0 * float((slope < comfort_pct).mean()),
        "falls_to_deg": float(falls_to_deg(p.mean(), q.mean())),
        "note": f"terrain missing under {100 * missing:.0f} % of it" if missing > 0.005 else "",
    }


def green_row(g: GreenSlopes, green: BaseGeometry, bearing_deg: float, edge_m: float, tiers: int) -> Row:
    """Figures of a whole green."""
    known = g.inside & np.isfinite(g.slope_pct)
    if not known.any():
        return {"area_m2": float(green.area), "note": "no terrain under the green"}
    fall, camber = fall_and_camber(g.p[known], g.q[known], bearing_deg)
    fair = float(g.fair.sum()) * g.cell_m2
    missing = 1 - known.sum() / g.inside.sum()
    return {
        "area_m2": float(green.area),
        "pin_slope_limit_pct": g.limit_pct,
        "critical_slope_pct": g.critical_pct,
        "least_edge_m": edge_m,
        "fair_area_m2": fair,
        "fair_pct": 100.0 * fair / float(green.area),
        "slope_mean_pct": float(g.slope_pct[known].mean()),
        "steepest_pct": float(np.quantile(g.slope_pct[known], 0.95)),
        "fall_pct": float(fall.mean()),
        "camber_pct": float(camber.mean()),
        "tiers_count": tiers,
        "note": f"terrain missing under {100 * missing:.0f} % of it" if missing > 0.005 else "",
    }


def part_rows(
    g: GreenSlopes, green: BaseGeometry, bearing_deg: float, surround_m: float, hazards: BaseGeometry
) -> list[Row]:
    """Tiers, faces, false front, run-offs and banks, each name once."""
    rows: list[Row] = []
    taken: dict[str, int] = {}
    for part in green_parts(g, green, bearing_deg, surround_m=surround_m, hazards=hazards):
        taken[part.name] = taken.get(part.name, 0) + 1
        again = f" ({taken[part.name]})" if taken[part.name] > 1 else ""
        rows.append(
            {
                "feature": part.name + again,
                "green_part": part.kind,
                "part_location": part.place,
                "area_m2": part.area_m2,
                "slope_mean_pct": part.slope_pct,
                "slope_max_pct": part.steepest_pct,
                "level_mean_m": part.level_m,
                "falls_to_deg": part.falls_to_deg,
                "geometry": many(outline(g.surface, part.cells)),
            }
        )
    return rows


def pin_slope(
    surface: Surface,
    g: GreenSlopes,
    green: BaseGeometry,
    pin: Point,
    radius_m: float,
    edge_least_m: float,
    critical_least_m: float,
) -> Row:
    """Slope round a hole location, and whether it is fair, with the reasons where it is not."""
    p, q, uneven = fitted_at(surface, pin.x, pin.y, radius_m)
    slope = float(slope_pct(p, q))
    edge = float(green.boundary.distance(pin)) * (1 if green.covers(pin) else -1)
    steep = g.inside & (g.slope_pct > g.critical_pct)
    x, y = np.meshgrid(*g.surface.centres())
    critical = float(np.hypot(x[steep] - pin.x, y[steep] - pin.y).min()) if steep.any() else np.nan
    row: Row = {
        "level_m": surface.height(pin.x, pin.y),
        "slope_pct": slope,
        "falls_to_deg": float(falls_to_deg(p, q)),
        "uneven_m": uneven,
        "pin_slope_limit_pct": g.limit_pct,
        "edge_distance_m": edge,
        "critical_distance_m": critical,
        "geometry": pin,
    }
    if not np.isfinite(slope):
        return row | {"fair": None, "note": "no terrain round the hole location"}
    why = []
    if edge < edge_least_m:
        why.append(
            f"{edge:.1f} m from the edge, {edge_least_m:.1f} m asked" if edge >= 0 else "off the green"
        )
    if slope > g.limit_pct:
        why.append(f"slope {slope:.1f} %, at most {g.limit_pct:.1f} % asked")
    if critical <= critical_least_m:
        why.append(f"ground steeper than {g.critical_pct:.1f} % {critical:.1f} m away")
    return row | {"fair": not why, "note": "; ".join(why)}
