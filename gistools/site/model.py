"""A site in memory: survey layers in metres, the terrain, and what has been computed so far."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError, SiteError
from gistools.base.settings import SETTINGS, checked_settings, resolve
from gistools.compute.terrain.surface import Surface
from gistools.site.findings import Finding
from gistools.site.map_files import write_maps
from gistools.site.schema import SURVEY_LAYERS, TABLES
from gistools.site.types import ArrayTerrain, Bounds, TerrainSource, metre_crs_of
from gistools.site.write import write

T = TypeVar("T")

#: a feature in error that carries no hole stops the holes it lies this near to [m] (assumption)
CONCERNED_M = 150.0


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
    crs_metric
        The same CRS with metre axes: what everything is computed in.
    unit_m
        Metres in one unit of ``crs``.
    tables
        Survey layers and tables by name; coordinates in metres, a column ``fid`` with the feature id in the
        file. Fields are those of :mod:`gistools.site.schema`.
    ground
        The terrain to study, or None. ``existing`` is the surveyed terrain where ``ground`` is a proposed
        one.
    findings
        What ``check`` found, errors and warnings.
    settings
        Settings given for this run, ``name`` or ``name:hole`` -> value; see :mod:`gistools.base.settings`.
    memo
        What has been computed so far; filled by :meth:`remember`.
    variant_of
        The site this one is a variant of (:meth:`as_variant_of`), or None: strokes are then computed from its
        solution; and the tee, ``variant_tee``, if its shots alone are asked about.
    """

    crs: CRS
    crs_metric: CRS
    unit_m: float
    tables: Mapping[str, Any]
    ground: TerrainSource | None = None
    existing: TerrainSource | None = None
    path: Path | None = None
    terrain_path: Path | None = None
    findings: tuple[Finding, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)
    memo: dict[Any, Any] = field(default_factory=dict)
    variant_of: Site | None = None
    variant_tee: str | None = None

    def __repr__(self) -> str:
        counts = ", ".join(f"{name} {len(table)}" for name, table in self.tables.items() if len(table))
        source = self.path.name if self.path else "made in memory"
        terrain = "terrain" if self.ground is not None else "no terrain"
        return f"Site({source}, {self.crs.name}, {terrain}; {counts})"

    @classmethod
    def from_tables(
        cls,
        tables: Mapping[str, Any],
        crs: CRS | str | int,
        terrain: Surface | None = None,
        **settings: Any,
    ) -> Site:
        """Make a site in memory, coordinates in metres, for scripts and tests."""
        metric, unit_m = metre_crs_of(CRS.from_user_input(crs))
        ground = ArrayTerrain(terrain) if terrain is not None else None
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
        given = checked_settings(settings)
        return cls(CRS.from_user_input(crs), metric, unit_m, full, ground, settings=given)

    def with_settings(self, settings: Mapping[str, Any] | None = None, **more: Any) -> Site:
        """Return the site with more settings (:mod:`gistools.base.settings`), nothing computed yet.

        Raises
        ------
        InputError
            If a name is unknown or a value outside what it can be.
        """
        return self.replace(settings={**(settings or {}), **more})

    def replace(
        self, *, ground: TerrainSource | None = None, settings: Mapping[str, Any] | None = None, **tables: Any
    ) -> Site:
        """Return a site with other tables, terrain or settings, nothing computed yet.

        This one stays as it is.
        """
        return dataclasses.replace(
            self,
            tables={**self.tables, **tables},
            ground=ground or self.ground,
            existing=self.existing or (self.ground if ground is not None else None),
            settings={**self.settings, **checked_settings(settings or {})},
            memo={},
        )

    def as_variant_of(self, site: Site, tee: str | None = None) -> Site:
        """Return the same site, the strokes of which are computed from the solution of another (warm start).

        Parameters
        ----------
        site
            The site as it was before a change of its ground. Where more is changed (players, turf, hole
            locations) strokes are computed from nothing as usual.
        tee
            A tee, where only its shots at the landing zones are asked about: strokes are computed anew where
            those lead to, and stay elsewhere as before the change.

        Returns
        -------
        Site
            The same tables and terrain, nothing computed yet.

        Notes
        -----
        Some 2.7 times faster where little is changed, with ``tee`` 2.4 to 6.5 times; totals of landing zones
        differ from those computed from nothing by 0.006 in the mean and 0.029 at most, beyond a diagonal
        hazard 0.021 (`scripts/bench/warm_start.py`).
        """
        return dataclasses.replace(self, variant_of=site, variant_tee=tee, memo={})

    def remember(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what was made for a key, making it the first time."""
        if key not in self.memo:
            self.memo[key] = make()
        value: T = self.memo[key]
        return value

    def setting(self, name: str, hole: int | None = None, surveyed: Any = None) -> Any:
        """Return the value of a setting for the site or a hole.

        ``surveyed`` is that of a survey field, or None.

        See :func:`gistools.base.settings.resolve` for what wins.

        Raises
        ------
        InputError
            If there is no such setting.
        SiteError
            If a row of the table `settings` cannot be used.
        """
        return resolve(name, hole, self.settings, surveyed, self._table_settings())

    @property
    def settings_used(self) -> dict[str, Any]:
        """Every setting and its value, ``name`` or ``name:hole``, as it is stored with results."""
        rows = self._table_settings()
        defaults = {name: setting.default for name, setting in SETTINGS.items()}
        ruled_out = {key for key in rows if key.partition(":")[0] in self.settings}
        return {**defaults, **{k: v for k, v in rows.items() if k not in ruled_out}, **self.settings}

    def _table_settings(self) -> dict[str, Any]:
        rows, faults = self.remember("settings of the table", lambda: settings_of(self.layer("settings")))
        if faults:
            raise SiteError(f"table settings, row {faults[0][0]}: {faults[0][1]}")
        return rows

    def layer(self, name: str, hole: int | None = None) -> Any:
        """Return a survey layer or table in metres, of one hole or all; empty with its fields when absent."""
        table = self.tables.get(name)
        if table is None:
            table = empty_layer(name, self.crs_metric)
        if hole is not None and "hole" in table:
            table = table[table["hole"] == hole]
        return table

    @property
    def title_block(self) -> dict[str, str]:
        """``project``, ``client``, ``date`` and ``author`` of the table `site`; empty where it does not say.

        A project without a name there is called by the file's name.
        """
        rows = self.layer("site").to_dict("records")
        first = rows[0] if rows else {}
        block = {k: names([first.get(k)])[0].strip() for k in ("project", "client", "date", "author")}
        if not block["project"]:
            stem = "site in memory" if self.path is None else self.path.stem
            block["project"] = stem.replace("_", " ").replace("-", " ").title()
        return block

    @property
    def holes(self) -> list[int]:
        """Numbers of the holes, in order."""
        return sorted({int(h) for h in self.layer("greens")["hole"].dropna()})

    def selected_holes(self, hole: int | None) -> list[int]:
        """Return the holes to work on: the one asked for, or all.

        Raises
        ------
        InputError
            If the site has no such hole.
        """
        if hole is None:
            return self.holes
        if hole not in self.holes:
            have = ", ".join(map(str, self.holes)) or "none that is numbered; `gistools check` says why"
            raise InputError(f"the site has no hole {hole}; it has {have}")
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
                " put one in the GeoPackage as `terrain`, or name a GeoTIFF (--terrain, terrain= in Python)"
            )
        return self.ground.surface(bounds)

    def require(self, step: str, layers: Mapping[str, bool], hole: int | None = None) -> None:
        """Stop a step when a layer it reads is in error, or one it cannot do without is missing.

        An error of a feature stops the hole it carries or lies near; without ``hole`` it stops the step.

        Parameters
        ----------
        step
            Name of the step, for the message.
        layers
            Survey layers the step reads (``terrain`` among them) -> whether it cannot do without.
        hole
            The hole the step works on, or None for all.

        Raises
        ------
        SiteError
            Naming the layer and what to do.
        """
        read = {*layers, "", "settings"}
        errors = [
            f for f in self.findings if f.level == "error" and f.layer in read and self._concerns(f, hole)
        ]
        if errors:
            more = f"\n  and {len(errors) - 5} more; see check" if len(errors) > 5 else ""
            lines = "".join(f"\n  {f.where}: {f.message}; {f.remedy}".rstrip("; ") for f in errors[:5])
            raise SiteError(f"{step} cannot run, the survey has errors:{lines}{more}")
        for layer, required in layers.items():
            if required and layer != "terrain" and len(self.layer(layer)) == 0:
                raise SiteError(f"{step} needs the layer `{layer}` and the site has none in it")
        if layers.get("terrain"):
            self.surface(None if self.ground is None else _corner(self.ground))

    def _concerns(self, finding: Finding, hole: int | None) -> bool:
        """Tell whether a finding concerns a hole: it carries it, or carries none and lies near."""
        if hole is None or (finding.hole is None and finding.fid is None):
            return True
        if finding.hole is not None or hole not in self.holes:
            return finding.hole == hole
        table = self.layer(finding.layer)
        rows = table[table["fid"] == finding.fid]
        if (
            not isinstance(rows, gpd.GeoDataFrame) or len(rows) == 0
        ):  # left out: nobody knows where it would lie
            return True
        return bool(rows.intersects(box(*self.hole_bounds(hole, CONCERNED_M))).any())

    def to_output_crs(self, table: Any, coordinates: Iterable[str] = ()) -> Any:
        """Return a caller's copy of a result table, in the CRS and unit of the file.

        Parameters
        ----------
        table
            A GeoDataFrame in metres, or a plain table.
        coordinates
            Columns that hold coordinates [m].
        """
        out = table.copy()
        if isinstance(out, gpd.GeoDataFrame):
            out = scaled(out, 1 / self.unit_m, self.crs)
        if self.unit_m != 1.0:
            for column in coordinates:
                out[column] = out[column] / self.unit_m
        return out

    def from_output_crs(self, table: Any) -> Any:
        """Return a result table with its geometry in metres, as steps compute."""
        return scaled(table, self.unit_m, self.crs_metric) if isinstance(table, gpd.GeoDataFrame) else table

    def write(self, *results: Any, out: str | Path | None = None, replace: bool | None = None) -> Path:
        """Write results into the file of the site, or a copy of it; see :func:`gistools.site.write.write`."""
        return write(self, results, out=out, replace=replace)

    def write_maps(self, *results: Any, to: str | Path, replace: bool = False) -> list[Path]:
        """Write maps among results as GeoTIFF; see :func:`gistools.site.map_files.write_maps`."""
        return write_maps(self, results, to=to, replace=replace)


def scaled(table: gpd.GeoDataFrame, factor: float, crs: CRS) -> gpd.GeoDataFrame:
    """Return a layer with its coordinates times a factor, in the CRS that has the other unit."""
    shapes = table.geometry
    if factor != 1.0:
        shapes = shapes.affine_transform([factor, 0, 0, factor, 0, 0])
    return table.set_geometry(shapes.set_crs(crs, allow_override=True), crs=crs)


def _corner(ground: TerrainSource) -> Bounds:
    west, _, _, north = ground.bounds
    return (west, north - 3 * ground.cell, west + 3 * ground.cell, north)


def settings_of(table: Any) -> tuple[dict[str, Any], list[tuple[int, str]]]:
    """Return the settings of a table `settings`, and the faults of unusable rows by feature id."""
    settings: dict[str, Any] = {}
    faults: list[tuple[int, str]] = []
    cells = (table[c] for c in ("fid", "name", "value", "hole"))
    for fid, name, value, hole in zip(*cells, strict=True):
        if pd.isna(name) or pd.isna(value):
            continue  # a gap, found where the table is read
        try:
            row = checked_settings({str(name) if pd.isna(hole) else f"{name}:{int(hole)}": value})
        except InputError as fault:
            faults.append((int(fid), str(fault)))
            continue
        if settings.keys() & row.keys():
            faults.append((int(fid), f"the setting {name} is there twice; delete one"))
        settings |= row
    return settings, faults


def names(values: Iterable[Any]) -> list[str]:
    """Return names as clean text, empty for missing."""
    return ["" if pd.isna(v) else str(v) for v in values]
