"""The one door to rasterio: raster tables of a GeoPackage and GeoTIFFs, in and out, and rasterising.

A raster is named by the path of its file, and its table where the file is a GeoPackage. Files are opened
for each read and closed again, so nothing holds a lock on a site between two calls. Only single-band,
north-up rasters with square cells are terrain; anything else is refused with a reason.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from gistools.base.errors import SiteError, WriteError
from gistools.site._gdal import own_proj_data

with own_proj_data():
    import rasterio
    import rasterio.features
    import rasterio.warp
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

NODATA = -9999.0
#: what to do about a raster that cannot be read
DAMAGED = "perhaps it is no raster, cut short or damaged; copy or export it again"
#: what rasterio, and GDAL below it, raise
_FAULTS = (RasterioError, rasterio._err.CPLE_BaseError, ValueError, RuntimeError, OSError)
#: formats that are read, by how their files start or end: none names files elsewhere, as virtual rasters
#: and web services do
_STARTS = {
    b"II*\0": "GTiff",
    b"MM\0*": "GTiff",
    b"II+\0": "GTiff",
    b"MM\0+": "GTiff",
    b"SQLite format 3\0": "GPKG",
    b"EHFA_HEADER_TAG": "HFA",
    b"ncols": "AAIGrid",
    b"NCOLS": "AAIGrid",
    b"UHL1": "DTED",
}
_ENDS = {".hgt": "SRTMHGT", ".dem": "USGSDEM"}


@dataclass(frozen=True)
class RasterInfo:
    """What a raster says about itself; edges and cell in its own units."""

    crs: CRS | None
    rows: int
    cols: int
    x_west: float
    y_north: float
    cell: float
    unit: str
    bands: int


@own_proj_data()
def describe(path: str | Path, table: str = "", *, any_cells: bool = False) -> RasterInfo:
    """Return size, position, CRS and unit of a raster.

    With ``any_cells``, for a raster that is warped, it may be turned and its cells need not be square; the
    longer side of a cell is told then.

    Raises
    ------
    SiteError
        If it cannot be opened, or, without ``any_cells``, is turned or south-up or has cells that are not
        square.
    """
    try:
        with _open(path, table) as raster:
            t = raster.transform
            crs = _crs(raster.crs)
            unit = raster.units[0] or ""
            side = max(float(np.hypot(t.a, t.d)), float(np.hypot(t.b, t.e))) if any_cells else t.a
            info = RasterInfo(crs, raster.height, raster.width, t.c, t.f, side, unit, raster.count)
    except _FAULTS as fault:
        raise SiteError(f"the raster {table or path} cannot be opened: {DAMAGED} ({fault})") from fault
    if any_cells:
        return info
    if t.b or t.d or t.a <= 0 or t.e >= 0:
        raise SiteError(
            f"the raster {table or path} is turned or not north-up; warp it to a plain north-up grid first"
        )
    if abs(t.a + t.e) > 1e-6 * t.a:
        raise SiteError(
            f"the raster {table or path} has cells of {t.a:g} x {-t.e:g}; warp it to square cells first"
        )
    return info


def _crs(crs: Any) -> CRS | None:
    if not crs:
        return None
    try:
        return CRS.from_wkt(crs.to_wkt())
    except CRSError:
        return None


def _open(path: str | Path, table: str) -> Any:
    """Open a file that holds its own cells; one of a format that points to other places is refused."""
    file = Path(path)
    if not file.is_file():
        raise OSError(f"{path} is no file on this computer")
    with file.open("rb") as stream:
        start = stream.read(16)
    driver = next(
        (d for mark, d in _STARTS.items() if start.startswith(mark)), _ENDS.get(file.suffix.lower())
    )
    if driver is None:
        raise OSError(
            "it is no GeoTIFF or other raster that holds its own cells; virtual rasters are not read"
        )
    options = {"TABLE": table} if table else {}
    return rasterio.open(str(path), driver=driver, **options)


@own_proj_data()
def read_window(
    path: str | Path, row: int, col: int, rows: int, cols: int, table: str = ""
) -> NDArray[np.float64]:
    """Read a window of the first band as floats, ``nan`` where there is no data.

    Raises
    ------
    SiteError
        If it cannot be read.
    """
    try:
        with _open(path, table) as raster:
            band = raster.read(1, window=Window(col, row, cols, rows), masked=True)
            scale, offset = raster.scales[0], raster.offsets[0]
    except _FAULTS as fault:
        raise SiteError(f"the raster {table or path} cannot be read: {DAMAGED} ({fault})") from fault
    values: NDArray[np.float64] = band.astype(np.float64).filled(np.nan)
    values[~np.isfinite(values)] = np.nan
    return values if (scale, offset) == (1.0, 0.0) else values * scale + offset


@own_proj_data()
def warped(
    path: str | Path,
    crs: CRS,
    to: CRS,
    x_west: float,
    y_north: float,
    cell: float,
    shape: tuple[int, int],
) -> NDArray[np.float64]:
    """Read a raster onto the cells of another grid and CRS, bilinear, ``nan`` where there is no data.

    ``crs`` is that of the raster (its plan part counts), ``to`` that of the grid; edges and cell are in
    units of
    ``to``.

    Raises
    ------
    SiteError
        If it cannot be read.
    """
    out = np.full(shape, np.nan)
    plan = [c.sub_crs_list[0] if c.is_compound else c for c in (crs, to)]
    try:
        with _open(path, "") as raster:
            band = raster.read(1, masked=True)
            scale, offset = raster.scales[0], raster.offsets[0]
            values = band.astype(np.float64).filled(np.nan) * scale + offset
            rasterio.warp.reproject(
                values,
                out,
                src_transform=raster.transform,
                src_crs=plan[0].to_wkt(),
                src_nodata=np.nan,
                dst_transform=_grid(x_west, y_north, cell),
                dst_crs=plan[1].to_wkt(),
                dst_nodata=np.nan,
                resampling=rasterio.warp.Resampling.bilinear,
            )
    except (*_FAULTS, MemoryError) as fault:
        raise SiteError(f"the raster {path} cannot be read: {DAMAGED} ({fault})") from fault
    return out


def write_coverage(
    path: str | Path,
    table: str,
    values: ArrayLike,
    x_west: float,
    y_north: float,
    cell: float,
    crs: CRS | str | int,
    unit: str = "m",
) -> None:
    """Add a raster table (OGC 2D gridded coverage, 32-bit) to a scratch GeoPackage, made if not there.

    ``values`` is ``(rows, cols)`` with row 0 in the north and ``nan`` for no data, stored as ``data_null``
    (a tile may hold neither NaN nor infinity: OGC 17-066r1, requirement 21). Edges and cell are in units of
    the CRS, ``unit`` is that of the values.

    Raises
    ------
    WriteError
        If the values are not finite or nan, or the table cannot be written.
    """
    band, nodata = _band(table, values)
    # without APPEND_SUBDATASET every layer already in the file would be lost
    options = {"RASTER_TABLE": table, "APPEND_SUBDATASET": "YES", "UOM": unit}
    _create(str(path), "GPKG", band, x_west, y_north, cell, crs, options)
    # the driver takes no nodata value; it has to lie in the file before cells and their statistics are
    # written
    with closing(sqlite3.connect(path)) as book, book:
        book.execute(
            (
                "UPDATE gpkg_2d_gridded_coverage_ancillary SET data_null = ?, uom = ? WHERE"
                " tile_matrix_set_name = ?"
            ),
            (nodata, unit, table),
        )
    _fill(str(path), table, band)


def write_geotiff(
    path: str | Path,
    values: ArrayLike,
    x_west: float,
    y_north: float,
    cell: float,
    crs: CRS | str | int,
    unit: str = "m",
    *,
    text: str = "",
    tags: Mapping[str, str] | None = None,
) -> None:
    """Write a tiled, compressed GeoTIFF of 32-bit values, ``nan`` as its nodata value.

    ``unit`` and ``text`` are those of the band; ``tags`` go with the file.

    Raises
    ------
    WriteError
        If the values are not finite or nan, or the file cannot be written.
    """
    band, nodata = _band(Path(path).name, values)
    options = {"tiled": True, "compress": "deflate", "predictor": 3, "nodata": nodata, "sparse_ok": True}
    _create(str(path), "GTiff", band, x_west, y_north, cell, crs, options)
    _fill(str(path), "", band, unit, text, tags or {})


def _band(name: str, values: ArrayLike) -> tuple[NDArray[np.float32], float]:
    band = np.array(values, dtype=np.float32)
    if band.ndim != 2 or not band.size:
        raise WriteError(f"the raster `{name}` needs rows and columns; it has the shape {band.shape}")
    if np.isinf(band).any():
        raise WriteError(f"the raster `{name}` holds infinite values; mark 'no answer' as nan")
    nodata = NODATA if not (band == NODATA).any() else float(np.float32(-3.0e38))
    band[np.isnan(band)] = nodata
    return band, nodata


@own_proj_data()
def _create(
    path: str,
    driver: str,
    band: NDArray[np.float32],
    x_west: float,
    y_north: float,
    cell: float,
    crs: CRS | str | int,
    options: Mapping[str, Any],
) -> None:
    """Make a raster without cells."""
    profile = {
        "driver": driver,
        "width": band.shape[1],
        "height": band.shape[0],
        "count": 1,
        "dtype": "float32",
        "crs": CRS.from_user_input(crs).to_wkt(),
        "transform": _grid(x_west, y_north, cell),
    }
    try:
        # a scratch file: whoever puts it in its place flushes it to the disk once
        with rasterio.Env(OGR_SQLITE_SYNCHRONOUS="OFF"), rasterio.open(path, "w", **profile, **options):
            pass
    except _FAULTS as fault:
        raise WriteError(f"the raster {path} cannot be written ({fault})") from fault


@own_proj_data()
def _fill(
    path: str,
    table: str,
    band: NDArray[np.float32],
    unit: str = "",
    text: str = "",
    tags: Mapping[str, str] = MappingProxyType({}),
) -> None:
    options = {"TABLE": table} if table else {}
    try:
        with (
            rasterio.Env(OGR_SQLITE_SYNCHRONOUS="OFF"),
            rasterio.open(path, "r+", **options) as target,
        ):
            target.write(band, 1)
            if unit:
                target.units = (unit,)
            if text:
                target.descriptions = (text,)
            if tags:
                target.update_tags(**tags)
    except _FAULTS as fault:
        raise WriteError(f"the raster {path} cannot be written ({fault})") from fault


def _grid(x_west: float, y_north: float, cell: float) -> Any:
    return rasterio.Affine(cell, 0.0, x_west, 0.0, -cell, y_north)


@own_proj_data()
def rasterize(
    shapes: Iterable[tuple[Any, int]],
    rows: int,
    cols: int,
    x_west: float,
    y_north: float,
    cell: float,
    dtype: str = "uint8",
    fill: int = 0,
) -> NDArray[Any]:
    """Paint polygons on a grid, the later over the earlier; a cell takes the value at its centre."""
    drawn = [(shape, value) for shape, value in shapes if shape is not None and not shape.is_empty]
    if not drawn:
        return np.full((rows, cols), fill, dtype=dtype)
    out: NDArray[Any] = rasterio.features.rasterize(
        drawn,
        out_shape=(rows, cols),
        fill=fill,
        transform=_grid(x_west, y_north, cell),
        dtype=dtype,
    )
    return out
