"""A new site: an empty GeoPackage with every survey layer, ready to be drawn in a desktop GIS."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import CRSError

from gistools.base.errors import InputError, WriteError
from gistools.base.files import atomic_replace, refuse_new_site
from gistools.site import _raster, _vector
from gistools.site._merge import add_styles, describe_columns
from gistools.site.results import ColumnInfo, survey_style_of
from gistools.site.schema import SURVEY_LAYERS, TABLES, TERRAIN, LayerSpec

#: type of a field -> type of an empty column
DTYPES = {"int": "Int64", "float": "float64", "text": "object", "bool": "boolean"}

KINDS = {"POINT": "Point", "LINESTRING": "LineString", "POLYGON": "Polygon"}


def new_site(path: str | Path, crs: Any, *, terrain: str | Path | None = None, replace: bool = False) -> Path:
    """Write an empty site: every survey layer and table with its fields, the words they can hold, its style.

    Parameters
    ----------
    path
        The GeoPackage to make, ending in ``.gpkg``.
    crs
        A projected CRS in metres or feet, as pyproj reads it: ``"EPSG:27700"``.
    terrain
        A GeoTIFF of the ground in that CRS; it is copied into the file as the raster table ``terrain``.
    replace
        Replace a file that is already there.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        If the name does not end in ``.gpkg``, the file exists and is not to be replaced, the CRS is unknown
        or not projected, or the terrain lies in another CRS.
    WriteError
        If the file cannot be written.
    """
    path, crs = Path(path), _projected(crs)
    return write_site(
        path, crs, {}, terrain=None if terrain is None else terrain_of(terrain, crs), replace=replace
    )


@dataclass(frozen=True, eq=False)
class TerrainCopy:
    """Ground to copy into a site: heights ``(rows, cols)``, western and northern edge, cell, CRS."""

    heights: Any
    x_west: float
    y_north: float
    cell: float
    crs: CRS


def write_site(
    path: str | Path,
    crs: CRS,
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
    *,
    terrain: TerrainCopy | None,
    replace: bool = False,
) -> Path:
    """Write a new site with rows by layer, every other layer empty.

    Raises
    ------
    InputError
        If the name does not end in ``.gpkg``, or the file exists and is not to be replaced.
    WriteError
        If the file cannot be written.
    """
    path = Path(path)
    refuse_new_site(path, replace)
    try:
        with atomic_replace(path) as (scratch,):
            for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
                table = survey_table(spec, crs, rows.get(spec.name, ()))
                _vector.write_layer(
                    scratch, spec.name, table, geometry=kind_of(spec, rows.get(spec.name, ()))
                )
            if terrain is not None:
                place = (terrain.heights, terrain.x_west, terrain.y_north, terrain.cell)
                _raster.write_coverage(scratch, TERRAIN, *place, crs)
            _describe(scratch)
            draw_layers(scratch)
    except (OSError, sqlite3.OperationalError) as fault:
        raise WriteError(f"{path} cannot be written: {fault}") from fault
    return path


def _projected(crs: Any) -> CRS:
    try:
        known = CRS.from_user_input(crs)
    except CRSError as fault:
        raise InputError(f"the CRS {crs!r} is unknown; give one such as EPSG:27700") from fault
    if not known.is_projected:
        raise InputError(
            f"{known.name} is not projected; a site needs eastings and northings, such as EPSG:27700"
        )
    return known


def terrain_of(path: str | Path, crs: Any = None) -> TerrainCopy:
    """Read a GeoTIFF of the ground to copy into a site; ``crs`` is that of the site, by default its own.

    Raises
    ------
    InputError
        If there is no such file, it has no CRS and none is given, or lies in another one.
    """
    path = Path(path)
    if not path.is_file():
        raise InputError(f"{path}: there is no such file")
    info = _raster.describe(path)
    if crs is None and info.crs is None:
        raise InputError(f"{path} has no CRS; say which it was made in")
    site_crs = _projected(info.crs if crs is None else crs)
    if info.crs is not None and not info.crs.equals(site_crs, ignore_axis_order=True):
        raise InputError(
            f"{path} lies in {info.crs.name}, the site in {site_crs.name}; reproject the terrain first"
        )
    heights = _raster.read_window(path, 0, 0, info.rows, info.cols)
    return TerrainCopy(heights, info.x_west, info.y_north, info.cell, site_crs)


def kind_of(spec: LayerSpec, rows: Sequence[Mapping[str, Any]] = ()) -> str | None:
    """Return the geometry type that a layer declares: of its rows, the usual one without, None for several.

    A desktop draws into a layer of one type alone.
    """
    kinds = {row["geometry"].geom_type for row in rows if "geometry" in row} or set(spec.geometry[:1])
    return kinds.pop() if len(kinds) == 1 else None


def survey_table(spec: LayerSpec, crs: CRS, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return rows as a table with every field of a layer, fields that are not given at their default."""
    columns = {
        f.name: pd.Series([row.get(f.name, f.default) for row in rows], dtype=DTYPES[f.kind])
        for f in spec.all_fields
    }
    if not spec.geometry:
        return pd.DataFrame(columns)
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=crs)
    table: pd.DataFrame = gpd.GeoDataFrame(columns, geometry=shapes)
    return table


def draw_layers(path: Path) -> None:
    """Store in a new site how a desktop draws each survey layer.

    One that may have several kinds of geometry is drawn as the usual one.
    """
    with closing(sqlite3.connect(path)) as link, link:
        columns = link.execute(
            "SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns"
        ).fetchall()
        for table, column, kind in columns:
            usual = SURVEY_LAYERS[table].geometry[0] if table in SURVEY_LAYERS else ""
            style = survey_style_of(table, KINDS.get(kind.upper().removeprefix("MULTI"), usual))
            if style is not None:
                add_styles(link, [(table, column, *style)])


def _describe(path: Path) -> None:
    """Write what each layer and field means, and the words it can hold (extension `gpkg_schema`)."""
    with closing(sqlite3.connect(path)) as link, link:
        for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
            link.execute(
                "UPDATE gpkg_contents SET description = ? WHERE table_name = ?", (spec.text, spec.name)
            )
            describe_columns(link, spec.name, [ColumnInfo(f.name, f.name, f.text) for f in spec.all_fields])
            for f in spec.all_fields:
                words = f.choices or f.words
                if not words:
                    continue
                constraint = f"{spec.name}_{f.name}"
                link.execute(
                    "UPDATE gpkg_data_columns SET constraint_name = ?"
                    " WHERE table_name = ? AND column_name = ?",
                    (constraint, spec.name, f.name),
                )
                link.executemany(
                    "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value)"
                    " VALUES (?, 'enum', ?)",
                    [(constraint, word) for word in words],
                )
