"""Terrain on disk: opened with its units settled, read by windows, however large it is."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

from gistools.base.errors import InputError, SiteError
from gistools.base.grid import Bounds, Grid
from gistools.base.units import FOOT_M, US_SURVEY_FOOT_M
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site.findings import Finding

#: heights outside this range [m] are no ground on this planet but a nodata value nobody declared
BELIEVABLE_M = (-1000.0, 9000.0)
#: the most cells of a window read at once: 800 MB of heights
MOST_CELLS = 100_000_000
#: a raster of at most so many cells is kept: 16 MB
HELD_CELLS = 2_000_000

_UNIT_NAMES = {
    1.0: ("m", "metre", "metres", "meter", "meters", "mtr"),
    FOOT_M: ("ft", "foot", "feet", "international foot", "[ft_i]", "ft_i", "ift"),
    US_SURVEY_FOOT_M: (
        "us-ft",
        "us survey foot",
        "us survey feet",
        "us_survey_foot",
        "foot_us",
        "ftus",
        "us_ft",
        "[ft_us]",
        "sft",
    ),
}
_FACTORS = {name: factor for factor, names in _UNIT_NAMES.items() for name in names}
_SHOWN = {1.0: "metres", FOOT_M: "international feet", US_SURVEY_FOOT_M: "US survey feet"}


@dataclass(frozen=True)
class RasterTerrain:
    """Terrain of a raster file or raster table, read by windows; positions and heights in metres.

    Attributes
    ----------
    path, table
        The file, and the raster table where it is a GeoPackage.
    info
        What the raster says about itself, in its own units.
    unit_m, height_m
        Metres in one unit of its plan coordinates and of its heights.
    """

    path: Path
    table: str
    info: _raster.RasterInfo
    unit_m: float
    height_m: float

    @property
    def grid(self) -> Grid:
        """The cells [m]."""
        i, u = self.info, self.unit_m
        return Grid(i.x_west * u, i.y_north * u, self.cell, (i.rows, i.cols))

    @property
    def bounds(self) -> Bounds:
        """Outer edges [m]."""
        return self.grid.bounds

    @property
    def cell(self) -> float:
        """Side of a cell [m]."""
        return self.info.cell * self.unit_m

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the cells that touch ``bounds`` [m], cut to what exists, or all of them.

        Raises
        ------
        SiteError
            If there are fewer than 2 x 2 cells there, or more than can be held at once.
        """
        want = bounds or self.bounds
        rows, cols = self.grid.window(want)
        part = self.grid.part(rows, cols)
        if min(part.shape) < 2:
            west, south, east, north = self.bounds
            raise SiteError(
                "the terrain does not cover this part of the site: it reaches from"
                f" {west:.0f}, {south:.0f} to {east:.0f}, {north:.0f} m,"
                f" asked for was {want[0]:.0f}, {want[1]:.0f} to {want[2]:.0f}, {want[3]:.0f} m"
            )
        if part.shape[0] * part.shape[1] > MOST_CELLS:
            raise SiteError(
                f"the terrain window has {part.shape[0] * part.shape[1] / 1e6:.0f} million cells,"
                f" more than the {MOST_CELLS / 1e6:.0f} million that are read at once;"
                " work hole by hole, or resample the terrain to larger cells"
            )
        if self.info.rows * self.info.cols <= HELD_CELLS:  # a small one is read once, not for every window
            whole = _whole(self.path, self.table, self.info.rows, self.info.cols, _state(self.path))
            z = whole[rows, cols] * self.height_m
        else:
            z = (
                _raster.read_window(self.path, rows.start, cols.start, *part.shape, self.table)
                * self.height_m
            )
        z[(z < BELIEVABLE_M[0]) | (z > BELIEVABLE_M[1])] = np.nan
        return Surface(z, part.x_west, part.y_north, part.cell)


@functools.lru_cache(maxsize=2)
def _whole(path: Path, table: str, rows: int, cols: int, _file: tuple[int, int]) -> NDArray[np.float64]:
    """All heights of a raster in its own unit, kept while the file stays as it is."""
    return _raster.read_window(path, 0, 0, rows, cols, table)


def _state(path: Path) -> tuple[int, int]:
    try:
        status = path.stat()
    except OSError as fault:
        raise SiteError(f"the terrain {path} cannot be read ({fault})") from fault
    return status.st_mtime_ns, status.st_size


class UnknownHeightUnit(SiteError):
    """The unit of the heights is stated nowhere and must not be guessed."""


def open_terrain(
    path: Path, table: str, crs: CRS, unit_m: float, height_unit: str | None = None
) -> tuple[RasterTerrain, list[Finding]]:
    """Open a raster as the terrain of a site.

    Parameters
    ----------
    path, table
        The file, and the raster table where it is a GeoPackage (else empty).
    crs, unit_m
        CRS of the site, and metres in one of its units.
    height_unit
        ``"m"``, ``"ft"`` or ``"us-ft"``; without it the unit the raster states, or that of the vertical part
        of a compound CRS, is used.

    Raises
    ------
    SiteError
        If it cannot be read, is turned, has cells that are not square, is in another CRS, or its heights'
        unit is unknown on a site in feet.
    """
    info = _raster.describe(path, table)
    name = table or path.name
    if info.crs is None:
        raise SiteError(f"the terrain {name} has no CRS; assign the one it was made in, then open it again")
    if not same_plan(info.crs, crs):
        raise SiteError(
            f"the terrain {name} is in {info.crs.name} and the site in {crs.name};"
            " warp the terrain to the CRS of the site"
        )
    if min(info.rows, info.cols) < 2:
        raise SiteError(f"the terrain {name} has {info.rows} x {info.cols} cells; at least 2 x 2 are needed")
    findings = []
    if info.bands > 1:
        findings.append(
            Finding("note", "terrain", None, f"{name} has {info.bands} bands; the first is taken as heights")
        )
    height_m, notes = height_factor(name, info, crs, unit_m, height_unit)
    return RasterTerrain(path, table, info, unit_m, height_m), findings + notes


def same_plan(a: CRS, b: CRS) -> bool:
    """Tell whether two CRS mean the same plan coordinates; vertical parts and axis order do not count."""
    return bool(_plan(a).equals(_plan(b), ignore_axis_order=True))


def _plan(crs: CRS) -> CRS:
    return crs.sub_crs_list[0] if crs.is_compound else crs


def height_factor(
    name: str, info: _raster.RasterInfo, crs: CRS, unit_m: float, height_unit: str | None
) -> tuple[float, list[Finding]]:
    """Return the metres in one unit of a raster's heights, and what had to be assumed.

    Raises
    ------
    UnknownHeightUnit
        If nothing tells it, or the statements differ.
    """
    if height_unit is not None:
        return parse_unit(height_unit), []
    stated = {
        "its unit": _FACTORS.get(info.unit.strip().lower()),
        "its CRS": _vertical_factor(info.crs),
        "the CRS of the site": _vertical_factor(crs),
    }
    known = {source: factor for source, factor in stated.items() if factor is not None}
    if len({round(f, 6) for f in known.values()}) > 1:
        said = ", ".join(f"{_shown(f)} by {source}" for source, f in known.items())
        raise UnknownHeightUnit(
            f"the heights of {name} are in {said}; say which with height_unit='m', 'ft' or 'us-ft'"
        )
    if known:
        source, factor = next(iter(known.items()))
        if factor == 1.0 and unit_m == 1.0:
            return factor, []
        message = f"heights of {name} are in {_shown(factor)} (stated by {source}), turned into metres"
        return factor, [Finding("note", "terrain", None, message)]
    if info.unit.strip():
        raise UnknownHeightUnit(
            f"the heights of {name} are in {info.unit!r}, which is not a unit known here;"
            " say which it is with height_unit='m', 'ft' or 'us-ft'"
        )
    if unit_m != 1.0:
        raise UnknownHeightUnit(
            f"the site is in feet and nothing tells whether the heights of {name} are in feet or metres;"
            " say which with height_unit='m', 'ft' or 'us-ft'"
        )
    return 1.0, [
        Finding(
            "warning",
            "terrain",
            None,
            f"the unit of the heights of {name} is not stated; metres were assumed",
            "state it in the raster, or give height_unit=",
        )
    ]


def parse_unit(name: str) -> float:
    """Return the metres in a unit of height.

    Raises
    ------
    InputError
        If it is not a unit known here.
    """
    factor = _FACTORS.get(str(name).strip().lower())
    if factor is None:
        raise InputError(f"height_unit is {name!r}; it can be 'm', 'ft' or 'us-ft'")
    return factor


def _vertical_factor(crs: CRS | None) -> float | None:
    axes = [] if crs is None else [a for a in crs.axis_info if a.direction == "up"]
    return float(axes[0].unit_conversion_factor) if axes else None


def _shown(factor: float) -> str:
    names = [shown for known, shown in _SHOWN.items() if abs(known - factor) < 1e-9]
    return names[0] if names else f"units of {factor:g} m"
