"""What every module of the site floor shares: boxes, where terrain comes from, metre axes, what a site knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from pyproj import CRS

from gistools.base.errors import SiteError
from gistools.compute.terrain.surface import Surface
from gistools.site.findings import Finding

#: west, south, east, north [m]
Bounds = tuple[float, float, float, float]


class TerrainSource(Protocol):
    """Where terrain comes from: a raster on disk, read by windows, or an array in memory."""

    @property
    def bounds(self) -> Bounds:
        """Outer edges in metres of the site's CRS with metre axes."""
        ...

    @property
    def cell(self) -> float:
        """Side of a cell [m]."""
        ...

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the terrain of a window (cut to what exists), or all of it."""
        ...


class SiteData(Protocol):
    """What writing results needs to know of a :class:`~gistools.site.model.Site`; attributes as there."""

    @property
    def path(self) -> Path | None: ...  # noqa: D102
    @property
    def terrain_path(self) -> Path | None: ...  # noqa: D102
    @property
    def crs(self) -> CRS: ...  # noqa: D102
    @property
    def unit_m(self) -> float: ...  # noqa: D102
    @property
    def tables(self) -> Mapping[str, Any]: ...  # noqa: D102
    @property
    def ground(self) -> TerrainSource | None: ...  # noqa: D102
    @property
    def existing(self) -> TerrainSource | None: ...  # noqa: D102
    @property
    def findings(self) -> tuple[Finding, ...]: ...  # noqa: D102
    @property
    def settings(self) -> Mapping[str, Any]: ...  # noqa: D102
    @property
    def memo(self) -> dict[Any, Any]: ...  # noqa: D102


@dataclass(frozen=True)
class ArrayTerrain:
    """Terrain held in memory: for shaped ground, what-ifs and tests."""

    whole: Surface

    @property
    def bounds(self) -> Bounds:
        """Outer edges [m]."""
        return self.whole.bounds

    @property
    def cell(self) -> float:
        """Side of a cell [m]."""
        return self.whole.cell

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the cells that touch ``bounds``, or all."""
        if bounds is None:
            return self.whole
        s = self.whole
        rows, cols = s.z.shape
        i0, i1, j0, j1 = window_of(bounds, s.x_west, s.y_north, s.cell, rows, cols)
        if j1 - j0 < 2 or i1 - i0 < 2:
            raise SiteError("the terrain does not cover this part of the site")
        return Surface(s.z[i0:i1, j0:j1], s.x_west + j0 * s.cell, s.y_north - i0 * s.cell, s.cell)


def window_of(
    bounds: Bounds, x_west: float, y_north: float, cell: float, rows: int, cols: int
) -> tuple[int, int, int, int]:
    """Return rows ``i0:i1`` and columns ``j0:j1`` of a grid's cells that touch a box, cut to the grid."""
    j0 = max(int(np.floor((bounds[0] - x_west) / cell)), 0)
    j1 = min(int(np.ceil((bounds[2] - x_west) / cell)), cols)
    i0 = max(int(np.floor((y_north - bounds[3]) / cell)), 0)
    i1 = min(int(np.ceil((y_north - bounds[1]) / cell)), rows)
    return i0, i1, j0, j1


def metre_crs_of(crs: CRS) -> tuple[CRS, float]:
    """Return the same projected CRS with metre axes, and the metres in one unit of the given CRS.

    A CRS in feet keeps its projection, origin and false easting; only the unit of its axes changes, so
    coordinates in the metre CRS are those of the file times the factor.
    """
    factor = float(crs.axis_info[0].unit_conversion_factor)
    if factor == 1.0:
        return crs, 1.0
    definition = crs.to_json_dict()

    def use_metres(node: dict[str, Any]) -> None:
        node.pop("id", None)
        node["name"] = f"{node['name']} (in metres)"
        for axis in node["coordinate_system"]["axis"]:
            axis["unit"] = "metre"

    if definition["type"] == "CompoundCRS":
        definition.pop("id", None)
        definition["name"] = f"{definition['name']} (in metres)"
        for part in definition["components"]:
            use_metres(part)
    else:
        use_metres(definition)
    return CRS.from_json_dict(definition), factor
