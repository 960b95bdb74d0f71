"""Where a result came from: the record kept beside each result layer in the file.

A record is a row of ``gpkg_metadata`` (scope ``dataset``, JSON) that a row of ``gpkg_metadata_reference``
ties to the layer. Records of others, and what a GIS writes there itself, are left alone: ours are known by
their URI.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from gistools.base import jit as _jit
from gistools.base.values import is_missing, json_value
from gistools.base.version import __version__
from gistools.site._file import look_inside, reading
from gistools.site.results import ColumnInfo, LayerInfo
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
from gistools.site.terrain import RasterTerrain
from gistools.site.types import SiteData

RECORD_URI = "urn:golf-gistools:run-record:1"
COPY_URI = "urn:golf-gistools:copy:1"
_MOST_ASSUMPTIONS = 50


def record(site: SiteData, info: LayerInfo, keys: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is stored beside a result: who made it, from what, with which choices, and cautions.

    Parameters
    ----------
    site
        The site the result is of.
    info
        What the result says about itself.
    keys
        What a map is of; empty for tables.
    """
    assumed = [
        str(f) for f in site.findings if f.level == "warning" and (f.layer in info.reads or not f.layer)
    ]
    return {
        "step": info.step,
        "written": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "options": json_value(info.options),
        "keys": json_value(keys),
        "reads": list(info.reads),
        "cautions": list(info.cautions),
        "sources": list(info.sources),
        "assumed": assumed[:_MOST_ASSUMPTIONS],
        **_inputs(site),
    }


def _inputs(site: SiteData) -> dict[str, Any]:
    """Return what decides whether a stored result still holds."""
    return {
        "toolkit": f"golf-gistools {__version__}",
        "settings": json_value(site.settings_used),
        "inputs_sha256": dict(fingerprint(site)),
        "kernels": _jit.kernel_stamp() + ("" if _jit.ENABLED else " (not compiled)"),
    }


def still_holds(site: SiteData, stored: Mapping[str, Any]) -> bool:
    """Tell whether a stored record is of the same survey, terrain, settings and toolkit as now."""
    return all(stored.get(key) == value for key, value in _inputs(site).items())


def records(path: str | Path) -> dict[str, list[dict[str, Any]]]:
    """Return the records kept in a file: result table -> records, the newest last.

    Raises
    ------
    SiteError
        If the file is not a GeoPackage or damaged.
    """
    look_inside(Path(path))
    with reading(Path(path)) as link:
        return records_in(link)


def records_in(link: sqlite3.Connection) -> dict[str, list[dict[str, Any]]]:
    """Return the records kept in an open file."""
    by_table: dict[str, list[dict[str, Any]]] = {}
    for table, text in _rows(link, RECORD_URI):
        if table is not None:
            by_table.setdefault(table, []).append(_parsed(text))
    return by_table


def column_infos(link: sqlite3.Connection, table: str) -> tuple[ColumnInfo, ...]:
    """Return the titles and meanings stored for the columns of a table."""
    rows = _select(
        link,
        "SELECT column_name, coalesce(title, ''), coalesce(description, '') FROM gpkg_data_columns"
        " WHERE lower(table_name) = lower(?) ORDER BY rowid",
        table,
    )
    return tuple(ColumnInfo(*row) for row in rows)


def copy_record(link: sqlite3.Connection) -> dict[str, Any] | None:
    """Return the mark of a file written with ``out=``, or None."""
    rows = _rows(link, COPY_URI)
    return _parsed(rows[-1][1]) if rows else None


def _rows(link: sqlite3.Connection, uri: str) -> list[tuple[str | None, str]]:
    return _select(
        link,
        "SELECT r.table_name, m.metadata FROM gpkg_metadata m"
        " JOIN gpkg_metadata_reference r ON r.md_file_id = m.id"
        " WHERE m.md_standard_uri = ? ORDER BY m.id",
        uri,
    )


def _select(link: sqlite3.Connection, sql: str, value: str) -> list[Any]:
    """Run a query; nothing where the file has no such table."""
    try:
        return link.execute(sql, (value,)).fetchall()
    except sqlite3.OperationalError as fault:
        if "no such table" in str(fault):
            return []
        raise


def _parsed(text: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except json.JSONDecodeError:
        return {}
    return value if isinstance(value, dict) else {}


def fingerprint(site: SiteData) -> Mapping[str, str]:
    """Return the SHA-256 of everything a study reads: each survey table and the terrain, as they were read.

    Remembered on the site. Two sites with the same fingerprints give the same results.
    """
    if "fingerprint" not in site.memo:
        hashes = {name: _table_hash(table) for name, table in sorted(site.tables.items())}
        for name, ground in (("terrain", site.ground), ("terrain, existing", site.existing)):
            if ground is not None:
                hashes[name] = _hash_of(ground).hexdigest()
        site.memo["fingerprint"] = hashes
    stored: Mapping[str, str] = site.memo["fingerprint"]
    return stored


def _table_hash(table: Any) -> str:
    digest = hashlib.sha256()
    shapes = table.geometry.name if isinstance(table, gpd.GeoDataFrame) else None
    for column in table.columns:
        digest.update(f"\n{column}:".encode())
        if column == shapes:
            for blob in shapely.to_wkb(np.asarray(table.geometry.array), include_srid=False):
                digest.update(blob or b"-")
        else:
            cells = [None if is_missing(v) else json_value(v) for v in table[column].tolist()]
            digest.update(json.dumps(cells, ensure_ascii=False).encode())
    return digest.hexdigest()


def _hash_of(part: Any) -> Any:
    """Hash terrain, whatever it is made of: rasters by their stored content, surfaces by their heights."""
    digest = hashlib.sha256()
    if isinstance(part, RasterTerrain):
        _add_raster(digest, part)
    elif isinstance(part, np.ndarray):
        digest.update(repr((part.dtype.str, part.shape)).encode() + np.ascontiguousarray(part).tobytes())
    elif dataclasses.is_dataclass(part):
        for field in dataclasses.fields(part):
            digest.update(field.name.encode() + _hash_of(getattr(part, field.name)).digest())
    elif isinstance(part, tuple | list):
        for item in part:
            digest.update(_hash_of(item).digest())
    else:
        digest.update(repr(part).encode())
    return digest


def _add_raster(digest: Any, ground: RasterTerrain) -> None:
    digest.update(repr((ground.height_m, ground.unit_m)).encode())
    if not ground.table:
        with ground.path.open("rb") as file:
            while block := file.read(2**20):
                digest.update(block)
        return
    quoted = ground.table.replace('"', '""')
    with reading(ground.path) as link:
        for row in link.execute(
            f'SELECT zoom_level, tile_column, tile_row, tile_data FROM "{quoted}" ORDER BY 1, 2, 3'
        ):
            digest.update(repr(row[:3]).encode() + row[3])


def survey_hash(link: sqlite3.Connection, *, rasters: bool = True) -> str:
    """Return the SHA-256 of all rows of a file's survey tables, to see whether they changed."""
    digest = hashlib.sha256()
    for name in survey_tables(link, rasters=rasters):
        digest.update(f"\n{name}:".encode())
        quoted = name.replace('"', '""')
        for row in link.execute(f'SELECT * FROM main."{quoted}" ORDER BY rowid'):
            digest.update(repr(row).encode())
    return digest.hexdigest()


def survey_tables(link: sqlite3.Connection, *, rasters: bool = True) -> list[str]:
    """Return the tables of an open file that are neither results nor bookkeeping."""
    listed: Iterable[tuple[str, str]] = link.execute(
        "SELECT c.table_name, c.data_type FROM main.gpkg_contents c JOIN main.sqlite_master s"
        " ON lower(s.name) = lower(c.table_name) WHERE s.type = 'table' ORDER BY 1"
    )
    return [
        name
        for name, kind in listed
        if not name.lower().startswith(RESULT_PREFIX)
        and name.lower() not in ("layer_styles", TERRAIN_PROPOSED)
        and (rasters or kind in ("features", "attributes"))
    ]
