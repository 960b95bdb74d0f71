"""The one door to fiona: vector layers and plain tables of a GeoPackage, in and out.

Reading hands back what is in the file, unjudged: geometry as it is, values as they are, the feature id in a
column of its own. Writing only ever adds a layer to a scratch file; how a result gets into a site is the
business of :mod:`gistools.site.write`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError

from gistools.base.errors import SiteError, WriteError
from gistools.base.values import is_missing
from gistools.site._file import MAGIC
from gistools.site._gdal import own_proj_data

with own_proj_data():
    import fiona
    import fiona.errors
    from fiona.drvsupport import supported_drivers
    from fiona.model import to_dict

#: what fiona, and GDAL below it, raise
_FAULTS = (fiona.errors.FionaError, fiona._err.CPLE_BaseError, ValueError, RuntimeError, OSError)
#: formats that GDAL reads and fiona does not list
supported_drivers.update({"KML": "r", "LIBKML": "r"})
#: formats that hold their own features: none names data elsewhere, as virtual layers and web services do
_FORMATS = tuple(driver for driver, modes in supported_drivers.items() if "r" in modes)


@dataclass(frozen=True)
class RawLayer:
    """A layer as it is in the file.

    ``table`` holds the fields under their own names, ``ids`` the feature ids, ``geometry`` the geometries
    (None for a plain table, an array with None for missing ones), ``broken`` why the geometry of a feature
    id cannot be read, ``types`` the type of each field (``int``, ``float``, ``str``, ``bool``...),
    ``declared`` the geometry type the layer says it holds.
    """

    name: str
    table: pd.DataFrame
    ids: list[int]
    geometry: Any
    crs: CRS | None
    types: dict[str, str]
    declared: str
    broken: dict[int, str] = field(default_factory=dict)


@own_proj_data()
def layer_names(path: Path) -> list[str]:
    """Return the names of the vector layers and plain tables in a file.

    Raises
    ------
    SiteError
        If the file cannot be opened, or holds no features of its own.
    """
    _refuse_elsewhere(path)
    try:
        return [str(name) for name in fiona.listlayers(str(path))]
    except _FAULTS as fault:
        raise SiteError(f"{path}: its layers cannot be listed ({fault})") from fault


def _refuse_elsewhere(path: Path) -> None:
    """Stop before a list of layers is asked for: GDAL fetches what a virtual layer names for that."""
    if path.is_file():
        with path.open("rb") as file:
            if file.read(len(MAGIC)) == MAGIC:
                return
    try:
        _opened(path, "").close()
    except fiona.errors.DriverError as fault:
        raise SiteError(
            f"{path} cannot be read: it is empty, cut short, or of no format that holds its own features"
            " (virtual layers and web services are not read); export it to a GeoPackage, shapefile or GeoJSON"
        ) from fault
    except _FAULTS:
        return  # of a format that is read, and without a layer of that name


def _opened(path: Path, layer: str) -> Any:
    """Open a layer with the formats that hold their own features; schemas are not fetched either."""
    with fiona.Env(GML_DOWNLOAD_SCHEMA="NO"):
        return fiona.open(str(path), layer=layer, enabled_drivers=_FORMATS)


@own_proj_data()
def read_layer(path: Path, name: str) -> RawLayer:
    """Read one layer or table, whatever is in it.

    Raises
    ------
    SiteError
        If the layer cannot be read.
    """
    try:
        with _opened(path, name) as source:
            types = {column: kind.split(":")[0] for column, kind in source.schema["properties"].items()}
            declared = str(source.schema["geometry"])
            crs = _crs(source.crs_wkt)
            features = list(source)
    except _FAULTS as fault:
        raise SiteError(f"{path}: layer `{name}` cannot be read ({fault})") from fault
    rows = {column: [f.properties[column] for f in features] for column in types}
    table = pd.DataFrame({column: pd.Series(values, dtype=object) for column, values in rows.items()})
    table.index = pd.RangeIndex(len(features))
    geometry = None
    broken: dict[int, str] = {}
    if declared != "None":
        geometry = np.empty(len(features), dtype=object)
        for k, feature in enumerate(features):
            try:
                geometry[k] = _shape(feature.geometry)
            except (ValueError, TypeError, shapely.errors.ShapelyError) as fault:
                broken[int(feature.id)] = str(fault)
    return RawLayer(name, table, [int(f.id) for f in features], geometry, crs, types, declared, broken)


def _crs(wkt: str) -> CRS | None:
    if not wkt:
        return None
    try:
        return CRS.from_wkt(wkt)
    except CRSError:
        return None


def _shape(geometry: Any) -> Any:
    if geometry is None:
        return None
    return shapely.geometry.shape(to_dict(geometry))


@own_proj_data()
def write_layer(
    path: str | Path,
    name: str,
    table: pd.DataFrame,
    *,
    crs: CRS | str | int | None = None,
    geometry: str | None = None,
    key: str = "fid",
    version: str | None = None,
) -> None:
    """Add a layer (or plain table) to a scratch GeoPackage, made if it is not there.

    Parameters
    ----------
    path
        The scratch file. Other layers in it stay, one of the same name is replaced.
    name
        Name of the layer.
    table
        A GeoDataFrame, or a DataFrame for a plain table. Whole numbers with gaps, truth values with gaps and
        text with gaps keep their gaps as NULL; ``nan`` is written as NULL.
    crs
        CRS of the layer; by default that of the GeoDataFrame.
    geometry
        Geometry type to declare; by default what the geometries have in common. Single and multi geometries
        of one kind are all written as multi.
    key
        Name of the feature id's column. A column of the table with this name gives the ids; it has to hold
        unique whole numbers.
    version
        GeoPackage version of a new file, for example ``"1.4"``.

    Raises
    ------
    WriteError
        If the layer cannot be written; the scratch file is then of no use.
    """
    shapes = np.asarray(table.geometry.array) if isinstance(table, gpd.GeoDataFrame) else None
    fields = table.drop(columns=table.geometry.name) if isinstance(table, gpd.GeoDataFrame) else table
    _refuse_twins(name, [str(c) for c in fields.columns])
    columns = {str(c): _column(fields[c]) for c in fields.columns}
    kind = "None"
    if isinstance(table, gpd.GeoDataFrame):
        kind, shapes = _common_kind(shapes, geometry)
        crs = crs or table.geometry.crs
    options: dict[str, Any] = {"FID": free_name(key, [c for c in columns if c != key])}
    if kind != "None":
        options["GEOMETRY_NAME"] = free_name("geom", [*columns, options["FID"]])
    if crs is not None and kind != "None":
        options["crs_wkt"] = CRS.from_user_input(crs).to_wkt()
    if version is not None and not Path(path).exists():
        options["VERSION"] = version
    schema = {"geometry": kind, "properties": [(c, kind_) for c, (kind_, _) in columns.items()]}
    try:
        # a scratch file: whoever puts it in its place flushes it to the disk once
        with (
            fiona.Env(OGR_SQLITE_SYNCHRONOUS="OFF"),
            fiona.open(str(path), "w", driver="GPKG", layer=name, schema=schema, **options) as target,
        ):
            target.writerecords(_records(columns, shapes, len(table)))
    except _FAULTS as fault:
        raise WriteError(f"layer `{name}` cannot be written: {fault}") from fault


@own_proj_data()
def write_geojson(path: str | Path, table: gpd.GeoDataFrame, *, decimals: int = 9) -> None:
    """Write a layer as GeoJSON of RFC 7946.

    WGS 84 longitude and latitude, no ``crs`` member, rings turned right.

    Parameters
    ----------
    path
        File to write; it must not be there.
    table
        Layer in any CRS.
    decimals
        Decimals of a degree; nine are a tenth of a millimetre.

    Raises
    ------
    WriteError
        If it cannot be written.
    """
    world = table.to_crs(4326)
    kind, shapes = _common_kind(np.asarray(world.geometry.array), None)
    fields = world.drop(columns=world.geometry.name)
    columns = {str(c): _column(fields[c]) for c in fields.columns}
    schema = {"geometry": kind, "properties": [(c, kind_) for c, (kind_, _) in columns.items()]}
    options = {
        "crs": "EPSG:4326",
        "RFC7946": "YES",
        "COORDINATE_PRECISION": str(decimals),
        "WRITE_NAME": "NO",
    }
    try:
        with fiona.open(str(path), "w", driver="GeoJSON", schema=schema, **options) as target:
            target.writerecords(_records(columns, shapes, len(world)))
    except _FAULTS as fault:
        raise WriteError(f"{Path(path).name} cannot be written: {fault}") from fault


@own_proj_data()
def remove_layer(path: str | Path, name: str) -> None:
    """Take a layer out of a scratch file."""
    fiona.remove(str(path), driver="GPKG", layer=name)


def _records(columns: dict[str, tuple[str, list[Any]]], shapes: Any, count: int) -> Iterator[dict[str, Any]]:
    for i in range(count):
        shape = None if shapes is None else shapes[i]
        yield {
            "geometry": None if shape is None else shapely.geometry.mapping(shape),
            "properties": {name: values[i] for name, (_, values) in columns.items()},
        }


def _refuse_twins(layer: str, columns: list[str]) -> None:
    seen: dict[str, str] = {}
    for column in columns:
        twin = seen.setdefault(column.lower(), column)
        if twin is not column:
            raise WriteError(
                f"layer `{layer}` has the columns {twin!r} and {column!r}; a GeoPackage takes no notice"
                " of case: rename one"
            )


def free_name(name: str, taken: list[str]) -> str:
    """Return the name, with as many underscores behind it as make it new."""
    lowered = {t.lower() for t in taken}
    return name if name.lower() not in lowered else free_name(name + "_", taken)


def _column(values: pd.Series) -> tuple[str, list[Any]]:
    """Return the type of a column in the file and its values, gaps as None."""
    cells = [None if is_missing(v) else v for v in values.tolist()]
    filled = [v for v in cells if v is not None]
    if pd.api.types.is_bool_dtype(values.dtype) or (
        filled and all(isinstance(v, bool | np.bool_) for v in filled)
    ):
        return "bool", [None if v is None else bool(v) for v in cells]
    if pd.api.types.is_integer_dtype(values.dtype) or (filled and all(_whole(v) for v in filled)):
        return "int64", [None if v is None else int(v) for v in cells]
    if pd.api.types.is_float_dtype(values.dtype) or (filled and all(_number(v) for v in filled)):
        # SQLite stores whole reals as integers, so that -0.0 would come back as 0.0
        # (sqlite.org/datatype3.html, 2)
        return "float", [None if v is None else float(v) + 0.0 for v in cells]
    return "str", [None if v is None else _text(v) for v in cells]


def _whole(value: Any) -> bool:
    return isinstance(value, int | np.integer) and not isinstance(value, bool)


def _number(value: Any) -> bool:
    return _whole(value) or isinstance(value, float | np.floating)


def _text(value: Any) -> str:
    if isinstance(value, list | dict | tuple):
        value = json.dumps(value, ensure_ascii=False, default=str)
    # a NUL would end the text early, half a surrogate pair cannot be stored
    return str(value).replace("\0", "�").encode("utf-8", "replace").decode("utf-8")


def _common_kind(shapes: Any, declared: str | None) -> tuple[str, Any]:
    """Return the geometry type to declare and the geometries fitted to it."""
    present = [s for s in shapes if s is not None]
    kinds = {s.geom_type for s in present}
    if not kinds:
        return declared or "Unknown", shapes
    bases = {k.removeprefix("Multi") for k in kinds}
    if len(bases) > 1 or bases & {"GeometryCollection", "LinearRing"}:
        return "Unknown", shapes
    base = bases.pop()
    if any(k.startswith("Multi") for k in kinds) or declared == f"Multi{base}":
        kind = f"Multi{base}"
        shapes = np.array([_as_multi(s, kind) for s in shapes] + [None], dtype=object)[:-1]
    else:
        kind = base
    if any(s.has_z for s in present):
        kind = f"3D {kind}"
    return kind, shapes


def _as_multi(shape: Any, kind: str) -> Any:
    if shape is None or shape.geom_type == kind:
        return shape
    return getattr(shapely.geometry, kind)([] if shape.is_empty else [shape])
