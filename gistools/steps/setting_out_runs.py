"""What of a site is staked: every outline, line and point as runs of points, with codes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import SiteError
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.setting_out import Run, banks, stake
from gistools.compute.terrain.shaping import ShapeReport
from gistools.site.model import Site
from gistools.site.proposed import is_stored, reports_of
from gistools.steps.quantity_rows import belongs_to, footprint

Floats = NDArray[np.float64]
Stake = Callable[[Any], tuple[Floats, bool]]

#: layers staked by their outline (areas) or place (points): layer -> code
_OUTLINES = {
    "tees": "TEE",
    "greens": "GRN",
    "fairway": "FWY",
    "bunkers": "BKR",
    "water": "WTR",
    "burns": "BNE",
    "mounds": "MDT",
}
_POINTS = {"tees": ("TEM", "tee"), "pins": ("PIN", "pin")}


def runs_of(
    site: Site, hole: int, line: Alignment, *, spacing_m: float, chord_m: float, station_m: float
) -> list[Run]:
    """Return all runs of a hole, in a fixed order.

    Parameters
    ----------
    site, hole
        Where.
    line
        The line of play that is stationed.
    spacing_m, chord_m
        See :func:`gistools.compute.layout.setting_out.stake`.
    station_m
        Distance between stations on the line of play [m].
    """

    def chosen(xy: Any) -> tuple[Floats, bool]:
        return stake(xy, spacing_m=spacing_m, chord_m=chord_m)

    runs = [Run("LOP", hole, f"line of play {hole}", hole, 0, stations(line, station_m), False)]
    for layer in ("tees", "fairway", "greens", "pins", "bunkers", "burns", "water", "mounds"):
        for row in belongs_to(site, site.layer(layer), hole).to_dict("records"):
            runs += _survey_runs(layer, row, hole, chosen)
    if not is_stored(site):
        for report in reports_of(site, hole):
            runs += _shape_runs(report, hole, chosen)
    return runs


def stations(line: Alignment, station_m: float) -> Floats:
    """Return points at multiples of a distance along a line, at corners and end, each once ``(n, 2)``."""
    even = np.arange(0.0, line.length, station_m)
    far = np.abs(even[:, None] - line.corners[None, :]).min(axis=1) > 0.01
    return line.at(np.sort(np.concatenate([even[far], line.corners])))


def label(layer: str, row: dict[str, Any]) -> str:
    """Name of a feature for people."""
    for name in ("name", "tee", "pin"):
        value = row.get(name)
        if isinstance(value, str) and value.strip():
            return value.strip()
    return f"{layer.removesuffix('s')} {row['fid']}"


def _survey_runs(layer: str, row: dict[str, Any], hole: int, chosen: Stake) -> list[Run]:
    geometry: BaseGeometry = row["geometry"]
    name, fid = label(layer, row), row["fid"]
    if geometry.geom_type in ("Point", "MultiPoint"):
        if layer not in _POINTS:
            return []
        return [Run(_POINTS[layer][0], fid, name, hole, 0, shapely.get_coordinates(geometry), False)]
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return _rings(_OUTLINES[layer], fid, name, hole, geometry, chosen) if layer in _OUTLINES else []
    if layer == "burns":
        return _strip("BN", fid, name, hole, geometry, float(row["width_m"]), chosen)
    if layer == "mounds":
        return _lines("MDC", fid, name, hole, geometry, chosen)
    return []


def _rings(code: str, fid: Any, name: str, hole: int, geometry: BaseGeometry, chosen: Stake) -> list[Run]:
    rings = [ring for part in shapely.get_parts(geometry) for ring in (part.exterior, *part.interiors)]
    return [
        Run(code, fid, name, hole, k, *chosen(shapely.get_coordinates(ring))) for k, ring in enumerate(rings)
    ]


def _lines(code: str, fid: Any, name: str, hole: int, geometry: BaseGeometry, chosen: Stake) -> list[Run]:
    return [
        Run(code, fid, name, hole, k, *chosen(shapely.get_coordinates(part)))
        for k, part in enumerate(shapely.get_parts(geometry))
    ]


def _strip(
    stem: str, fid: Any, name: str, hole: int, geometry: BaseGeometry, width_m: float, chosen: Stake
) -> list[Run]:
    """Centre and both edges of a line with a width."""
    runs = []
    for k, part in enumerate(shapely.get_parts(geometry)):
        left, right = banks(part, width_m)
        for side, xy in (("C", shapely.get_coordinates(part)), ("L", left), ("R", right)):
            runs.append(Run(stem + side, fid, name, hole, k, *chosen(xy)))
    return runs


def _shape_runs(report: ShapeReport, hole: int, chosen: Stake) -> list[Run]:
    shape = report.shape
    if shape.fid is None:
        raise SiteError(f"layer `shapes`: {shape.label} has no feature id, its points could not be named")
    about = (shape.fid, shape.label, hole)
    areas = "Polygon" in shape.geometry.geom_type

    def toe(code: str) -> list[Run]:
        return _rings(code, *about, _whole_parts(footprint(report.before, report.after)), chosen)

    if shape.kind == "mound":
        crest = (
            [Run("PMC", *about, 0, _extreme(report), False)]
            if areas
            else _lines("PMC", *about, shape.geometry, chosen)
        )
        return crest + (_rings("PMT", *about, shape.geometry, chosen) if areas else toe("PMT"))
    if shape.kind == "hollow":
        low = Run("PHL", *about, 0, _extreme(report), False)
        return [*_rings("PHE", *about, shape.geometry, chosen), low]
    if shape.kind == "channel":
        return _strip("PC", *about, shape.geometry, shape.width_m, chosen) + toe("PCT")
    if shape.kind == "platform":
        return _rings("PPE", *about, shape.geometry, chosen) + toe("PPT")
    code = "PTE" if shape.kind == "tier" else "PGE"
    return _rings(code, *about, shape.geometry, chosen)


def _extreme(report: ShapeReport) -> Floats:
    """Place of the greatest change of height, ``(1, 2)``; the middle of those within a millimetre of it."""
    change = np.nan_to_num(np.abs(report.change))
    i, j = np.nonzero(change >= change.max() - 0.001)
    x, y = report.after.centres()
    return np.array([[float(x[j].mean()), float(y[i].mean())]])


def _whole_parts(area: BaseGeometry, least_m2: float = 1.0) -> BaseGeometry:
    """Leave out specks of an area that nobody stakes (assumption: under 1 m2)."""
    return shapely.MultiPolygon([p for p in shapely.get_parts(area) if p.area >= least_m2])
