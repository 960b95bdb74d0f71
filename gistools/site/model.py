"""A site in memory: survey layers in metres, the terrain, and what has been computed so far."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pyproj import CRS
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError, SiteError
from gistools.compute.terrain.surface import Surface
from gistools.site.schema import SURVEY_LAYERS, TABLES

if TYPE_CHECKING:
    from gistools.site.finding import Finding
    from gistools.steps.catalogue import Step

Bounds = tuple[float, float, float, float]


class Ground(Protocol):
    """Where terrain comes from: a raster on disk, read by windows, or an array in memory."""

    @property
    def bounds(self) -> Bounds:
        """Outer edges in metres of the site's metric CRS."""
        ...

    @property
    def cell(self) -> float:
        """Side of a cell [m]."""
        ...

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the terrain of a window (cut to what exists), or all of it."""
        ...


@dataclass(frozen=True)
class ArrayGround:
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
        j0 = max(int(np.floor((bounds[0] - s.x_west) / s.cell)), 0)
        j1 = min(int(np.ceil((bounds[2] - s.x_west) / s.cell)), cols)
        i0 = max(int(np.floor((s.y_north - bounds[3]) / s.cell)), 0)
        i1 = min(int(np.ceil((s.y_north - bounds[1]) / s.cell)), rows)
        if j1 - j0 < 2 or i1 - i0 < 2:
            raise SiteError("the terrain does not cover this part of the site")
        return Surface(s.z[i0:i1, j0:j1], s.x_west + j0 * s.cell, s.y_north - i0 * s.cell, s.cell)


@dataclass(frozen=True, eq=False)
class Map:
    """A raster result: values on the cells of a window, with unit and meaning.

    ``values`` is ``(rows, cols)`` ``float32`` with ``nan`` for no answer; ``name`` becomes the raster table
    ``study_<name>``. Edges are in metres of the site's metric CRS. ``attrs`` tells the step and its options, as
    it does on tables.
    """

    name: str
    values: NDArray[np.float32]
    x_west: float
    y_north: float
    cell: float
    unit: str
    text: str
    attrs: Mapping[str, Any] = field(default_factory=dict)


class Layers(dict[str, Any]):
    """Several result layers of one step: name without prefix -> GeoDataFrame, DataFrame or Map."""

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except KeyError:
            raise AttributeError(name) from None

    def __repr__(self) -> str:
        return "\n".join(
            f"{name}: {len(table)} rows"
            if not isinstance(table, Map)
            else f"{name}: map {table.values.shape}"
            for name, table in self.items()
        )


def metric_twin(crs: CRS) -> tuple[CRS, float]:
    """Return the same projected CRS with metre axes, and the metres in one unit of the given CRS.

    A feet-based CRS keeps its projection, origin and false easting; only the unit of its axes changes, so
    coordinates in the twin are those of the file times the factor.
    """
    factor = float(crs.axis_info[0].unit_conversion_factor)
    if factor == 1.0:
        return crs, 1.0
    told = crs.to_json_dict()

    def strip(node: dict[str, Any]) -> None:
        node.pop("id", None)
        node["name"] = f"{node['name']} (in metres)"
        for axis in node["coordinate_system"]["axis"]:
            axis["unit"] = "metre"

    if told["type"] == "CompoundCRS":
        told.pop("id", None)
        told["name"] = f"{told['name']} (in metres)"
        for part in told["components"]:
            strip(part)
    else:
        strip(told)
    return CRS.from_json_dict(told), factor


def empty_layer(name: str, crs: CRS | None) -> gpd.GeoDataFrame | pd.DataFrame:
    """Return a layer or table of the schema with all its fields and no rows."""
    spec = SURVEY_LAYERS.get(name) or TABLES[name]
    columns = ["fid", *(f.name for f in spec.all_fields)]
    if not spec.geometry:
        return pd.DataFrame({c: [] for c in columns})
    return gpd.GeoDataFrame({c: [] for c in columns}, geometry=gpd.GeoSeries([], crs=crs), crs=crs)


@dataclass(frozen=True, eq=False)
class Site:
    """A site, ready to be studied. Made by :func:`gistools.open_site`; never changed afterwards.

    Attributes
    ----------
    path
        The GeoPackage the survey layers came from, or None for a site made in memory.
    crs
        The CRS of the file: what the caller gets back.
    metric
        The same CRS with metre axes: what everything is computed in.
    unit_m
        Metres in one unit of ``crs``.
    tables
        Survey layers and tables by name; coordinates in metres, a column ``fid`` with the feature id in the
        file. Fields are those of :mod:`gistools.site.schema`.
    ground
        The terrain to study, or None. ``existing`` is the surveyed terrain where ``ground`` is a proposed one.
    findings
        What ``check`` found, errors and warnings.
    memo
        Results of steps computed so far.
    """

    crs: CRS
    metric: CRS
    unit_m: float
    tables: Mapping[str, Any]
    ground: Ground | None = None
    existing: Ground | None = None
    path: Path | None = None
    terrain_path: Path | None = None
    findings: tuple[Finding, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)
    memo: dict[Any, Any] = field(default_factory=dict)

    def __repr__(self) -> str:
        held = ", ".join(f"{name} {len(table)}" for name, table in self.tables.items() if len(table))
        source = self.path.name if self.path else "made in memory"
        terrain = "terrain" if self.ground is not None else "no terrain"
        return f"Site({source}, {self.crs.name}, {terrain}; {held})"

    @classmethod
    def from_tables(
        cls,
        tables: Mapping[str, Any],
        crs: CRS | str | int,
        terrain: Surface | None = None,
        **settings: Any,
    ) -> Site:
        """Make a site in memory, coordinates in metres, for scripts and tests."""
        metric, unit_m = metric_twin(CRS.from_user_input(crs))
        ground = ArrayGround(terrain) if terrain is not None else None
        full = {}
        for name, table in tables.items():
            spec = SURVEY_LAYERS.get(name) or TABLES[name]
            table = table.reset_index(drop=True).copy()
            if "fid" not in table:
                table.insert(0, "fid", np.arange(1, len(table) + 1))
            for f in spec.all_fields:
                if f.name not in table:
                    table[f.name] = f.default
                elif f.default is not None:
                    table[f.name] = [f.default if pd.isna(v) else v for v in table[f.name]]
            full[name] = table.set_crs(metric, allow_override=True) if spec.geometry else table
        return cls(CRS.from_user_input(crs), metric, unit_m, full, ground, settings=settings)

    def replace(
        self, *, ground: Ground | None = None, settings: Mapping[str, Any] | None = None, **tables: Any
    ) -> Site:
        """Return a site with other tables, terrain or settings, nothing computed yet; this one stays as it is."""
        return dataclasses.replace(
            self,
            tables={**self.tables, **tables},
            ground=ground or self.ground,
            existing=self.existing or (self.ground if ground is not None else None),
            settings={**self.settings, **(settings or {})},
            memo={},
        )

    def layer(self, name: str, hole: int | None = None) -> Any:
        """Return a survey layer or table in metres, of one hole or all; empty with its fields when absent."""
        table = self.tables.get(name)
        if table is None:
            table = empty_layer(name, self.metric)
        if hole is not None and "hole" in table:
            table = table[table["hole"] == hole]
        return table

    @property
    def holes(self) -> list[int]:
        """Numbers of the holes, in order."""
        return sorted({int(h) for h in self.layer("greens")["hole"].dropna()})

    def pick(self, hole: int | None) -> list[int]:
        """Return the holes to work on: the one asked for, or all.

        Raises
        ------
        InputError
            If the site has no such hole.
        """
        if hole is None:
            return self.holes
        if hole not in self.holes:
            raise InputError(f"the site has no hole {hole}; it has {', '.join(map(str, self.holes))}")
        return [hole]

    def hole_bounds(self, hole: int, margin_m: float = 60.0) -> Bounds:
        """Return the box round everything that carries the hole's number, widened by a margin [m]."""
        parts: list[BaseGeometry] = []
        for name in ("tees", "fairway", "greens", "pins", "play_lines"):
            parts.extend(self.layer(name, hole).geometry)
        west, south, east, north = (float(v) for v in gpd.GeoSeries(parts).total_bounds)
        return (west - margin_m, south - margin_m, east + margin_m, north + margin_m)

    def around(self, name: str, hole: int, margin_m: float = 60.0) -> Any:
        """Return the features of a layer that touch the box round a hole, whichever hole they carry."""
        table = self.layer(name)
        west, south, east, north = self.hole_bounds(hole, margin_m)
        return table[table.intersects(box(west, south, east, north))] if len(table) else table

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the terrain in a window.

        Raises
        ------
        SiteError
            If the site has no terrain, or none in the window.
        """
        if self.ground is None:
            raise SiteError(
                "this needs a terrain raster and the site has none:"
                " put one in the GeoPackage as `terrain`, or name a GeoTIFF with terrain="
            )
        return self.ground.surface(bounds)

    def require(self, spec: Step) -> None:
        """Stop a step when a layer it reads is in error, or one it cannot do without is missing.

        Raises
        ------
        SiteError
            Naming the layer and what to do.
        """
        layers = {r.layer for r in spec.reads} | {""}
        wrong = [f for f in self.findings if f.level == "error" and f.layer in layers]
        if wrong:
            more = f"\n  and {len(wrong) - 5} more; see check" if len(wrong) > 5 else ""
            told = "".join(f"\n  {f.where}: {f.what}; {f.do}".rstrip("; ") for f in wrong[:5])
            raise SiteError(f"{spec.name} cannot run, the survey has errors:{told}{more}")
        for reads in spec.reads:
            if reads.required and reads.layer != "terrain" and len(self.layer(reads.layer)) == 0:
                raise SiteError(f"{spec.name} needs the layer `{reads.layer}` and the site has none in it")
        if any(r.layer == "terrain" and r.required for r in spec.reads):
            self.surface(None if self.ground is None else _corner(self.ground))

    def hand_out(self, spec: Step, result: Any, options: Mapping[str, Any]) -> Any:
        """Return a caller's copy of a step's result, in the CRS of the file, with its record attached."""
        if isinstance(result, Mapping):
            return Layers({n: self._outward(spec, n, t, options) for n, t in result.items()})
        return self._outward(spec, spec.writes[0].layer, result, options)

    def _outward(self, spec: Step, layer: str, table: Any, options: Mapping[str, Any]) -> Any:
        attrs = {"layer": layer, "step": spec.name, "options": dict(options)}
        if isinstance(table, Map):
            return dataclasses.replace(table, attrs={**attrs, "layer": table.name})
        out = table.copy()
        if isinstance(out, gpd.GeoDataFrame):
            geometry = out.geometry
            if self.unit_m != 1.0:
                geometry = geometry.affine_transform([1 / self.unit_m, 0, 0, 1 / self.unit_m, 0, 0])
            out = out.set_geometry(geometry.set_crs(self.crs, allow_override=True), crs=self.crs)
        if self.unit_m != 1.0:  # columns that hold coordinates
            for writes in spec.writes:
                for c in writes.columns if writes.layer == layer else ():
                    if c.unit == "crs":
                        out[c.name] = out[c.name] / self.unit_m
        out.attrs = attrs
        return out

    def write(self, *results: Any, out: str | Path | None = None, replace: bool | None = None) -> Path:
        """Write results back, all or nothing. See :func:`gistools.site.write.write`."""
        from gistools.site.write import write

        return write(self, results, out=out, replace=replace)

    def write_maps(self, *results: Any, to: str | Path, replace: bool = False) -> list[Path]:
        """Write the maps among results as GeoTIFF files. See :func:`gistools.site.map_files.write_maps`."""
        from gistools.site.map_files import write_maps

        return write_maps(self, results, to=to, replace=replace)


def _corner(ground: Ground) -> Bounds:
    west, _, _, north = ground.bounds
    return (west, north - 3 * ground.cell, west + 3 * ground.cell, north)


def names(values: Iterable[Any]) -> list[str]:
    """Return names as clean text, empty for missing."""
    return ["" if pd.isna(v) else str(v) for v in values]
