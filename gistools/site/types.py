"""What every module of the site floor shares.

Boxes, where terrain comes from, metre axes, what a site knows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from pyproj import CRS

from gistools.base.errors import SiteError
from gistools.base.grid import Bounds
from gistools.compute.terrain.surface import Surface
from gistools.site.findings import Finding

__all__ = ["ArrayTerrain", "Bounds", "SiteData", "TerrainSource", "metre_crs_of"]


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
    def settings_used(self) -> Mapping[str, Any]: ...  # noqa: D102
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
        rows, cols = self.whole.grid.window(bounds)
        if min(self.whole.grid.part(rows, cols).shape) < 2:
            raise SiteError("the terrain does not cover this part of the site")
        return self.whole.part(rows, cols)


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
