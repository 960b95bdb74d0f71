"""A new site: an empty GeoPackage with every survey layer, ready to be drawn in a desktop GIS."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import CRSError

from gistools.base.errors import InputError, WriteError
from gistools.base.files import atomic_replace, refuse_new_site
from gistools.site import _raster, _vector
from gistools.site._merge import describe_columns
from gistools.site.results import ColumnInfo
from gistools.site.schema import SURVEY_LAYERS, TABLES, TERRAIN, LayerSpec

#: type of a field -> type of an empty column
DTYPES = {"int": "Int64", "float": "float64", "text": "object", "bool": "boolean"}


def new_site(path: str | Path, crs: Any, *, terrain: str | Path | None = None, replace: bool = False) -> Path:
    """Write an empty site: every survey layer and table with its fields and the words they can hold.

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
    refuse_new_site(path, replace)
    ground = None if terrain is None else _ground(Path(terrain), crs)
    try:
        with atomic_replace(path) as (scratch,):
            for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
                _vector.write_layer(scratch, spec.name, _empty(spec, crs), geometry=_kind(spec))
            if ground is not None:
                _raster.write_coverage(scratch, TERRAIN, *ground, crs)
            _describe(scratch)
    except OSError as fault:
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


def _ground(path: Path, crs: CRS) -> tuple[Any, float, float, float]:
    """Return heights, western and northern edge, and cell of a GeoTIFF."""
    if not path.is_file():
        raise InputError(f"{path}: there is no such file")
    info = _raster.describe(path)
    if info.crs is not None and not info.crs.equals(crs, ignore_axis_order=True):
        raise InputError(
            f"{path} lies in {info.crs.name}, the site in {crs.name}; reproject the terrain first"
        )
    heights = _raster.read_window(path, 0, 0, info.rows, info.cols)
    return heights, info.x_west, info.y_north, info.cell


def _kind(spec: LayerSpec) -> str | None:
    return spec.geometry[0] if len(spec.geometry) == 1 else None


def _empty(spec: LayerSpec, crs: CRS) -> pd.DataFrame:
    columns = {f.name: pd.Series([], dtype=DTYPES[f.kind]) for f in spec.all_fields}
    if not spec.geometry:
        return pd.DataFrame(columns)
    table: pd.DataFrame = gpd.GeoDataFrame(columns, geometry=gpd.GeoSeries([], crs=crs))
    return table


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
