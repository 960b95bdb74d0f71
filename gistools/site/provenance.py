"""Where a result came from: the record kept beside each result layer in the file.

A record is a row of ``gpkg_metadata`` (scope ``dataset``, JSON) that a row of ``gpkg_metadata_reference`` ties to
the layer. Records of others, and what a GIS writes there itself, are left alone: ours are known by their URI.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gistools.base import jit as _jit
from gistools.base.version import __version__
from gistools.site._file import look_inside, reading
from gistools.site.model import Site
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
from gistools.site.terrain import RasterGround
from gistools.steps.catalogue import STEPS, Step, checked, find

RECORD_URI = "urn:golf-gistools:run-record:1"
COPY_URI = "urn:golf-gistools:copy:1"
_MOST_ASSUMPTIONS = 50


def record(site: Site, step: str, options: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is kept beside a result of a step: who made it, from what, with which choices, and cautions."""
    spec: Step | None = find(step) if step in STEPS else None
    read = {r.layer for r in spec.reads} if spec else set()
    if spec:
        options = checked(spec, dict(options))
    assumed = [str(f) for f in site.findings if f.level == "warning" and (f.layer in read or not f.layer)]
    return {
        "step": step,
        "toolkit": f"golf-gistools {__version__}",
        "written": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "options": plain(options),
        "settings": plain(site.settings),
        "inputs_sha256": dict(fingerprint(site)),
        "kernels": _jit.kernel_stamp() + ("" if _jit.ENABLED else " (not compiled)"),
        "cautions": list(spec.cautions) if spec else [],
        "sources": list(spec.sources) if spec else [],
        "assumed": assumed[:_MOST_ASSUMPTIONS],
    }


def as_json(told: Mapping[str, Any]) -> str:
    """Return a record as text that any JSON reader takes."""
    return json.dumps(plain(told), ensure_ascii=False, sort_keys=True, allow_nan=False)


def plain(value: Any) -> Any:
    """Return a value made of what JSON can hold; ``nan`` and infinity become None, the rest text."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | np.ndarray):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if value is None or isinstance(value, bool | int | str) else str(value)


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
    found: dict[str, list[dict[str, Any]]] = {}
    for table, text in _rows(link, RECORD_URI):
        if table is not None:
            found.setdefault(table, []).append(_parsed(text))
    return found


def copy_record(link: sqlite3.Connection) -> dict[str, Any] | None:
    """Return the mark of a file written with ``out=``, or None."""
    rows = _rows(link, COPY_URI)
    return _parsed(rows[-1][1]) if rows else None


def _rows(link: sqlite3.Connection, uri: str) -> list[tuple[str | None, str]]:
    try:
        return link.execute(
            "SELECT r.table_name, m.metadata FROM gpkg_metadata m"
            " JOIN gpkg_metadata_reference r ON r.md_file_id = m.id"
            " WHERE m.md_standard_uri = ? ORDER BY m.id",
            (uri,),
        ).fetchall()
    except sqlite3.OperationalError as fault:
        if "no such table" in str(fault):
            return []
        raise


def _parsed(text: str) -> dict[str, Any]:
    try:
        told = json.loads(text)
    except json.JSONDecodeError:
        return {}
    return told if isinstance(told, dict) else {}


def fingerprint(site: Site) -> Mapping[str, str]:
    """Return the SHA-256 of everything a study reads: each survey table and the terrain, as they were read.

    Remembered on the site. Two sites with the same fingerprints give the same results.
    """
    if "fingerprint" not in site.memo:
        told = {name: _table_hash(table) for name, table in sorted(site.tables.items())}
        for name, ground in (("terrain", site.ground), ("terrain, existing", site.existing)):
            if ground is not None:
                told[name] = _hash_of(ground).hexdigest()
        site.memo["fingerprint"] = told
    found: Mapping[str, str] = site.memo["fingerprint"]
    return found


def _table_hash(table: Any) -> str:
    digest = hashlib.sha256()
    shapes = table.geometry.name if isinstance(table, gpd.GeoDataFrame) else None
    for column in table.columns:
        digest.update(f"\n{column}:".encode())
        if column == shapes:
            for blob in shapely.to_wkb(np.asarray(table.geometry.array), include_srid=False):
                digest.update(blob or b"-")
        else:
            cells = [None if pd.isna(v) else plain(v) for v in table[column].tolist()]
            digest.update(json.dumps(cells, ensure_ascii=False, default=str).encode())
    return digest.hexdigest()


def _hash_of(thing: Any) -> Any:
    """Hash a ground, whatever it is made of: rasters by their stored content, surfaces by their heights."""
    digest = hashlib.sha256()
    if isinstance(thing, RasterGround):
        _add_raster(digest, thing)
    elif isinstance(thing, np.ndarray):
        digest.update(repr((thing.dtype.str, thing.shape)).encode() + np.ascontiguousarray(thing).tobytes())
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            digest.update(field.name.encode() + _hash_of(getattr(thing, field.name)).digest())
    elif isinstance(thing, tuple | list):
        for part in thing:
            digest.update(_hash_of(part).digest())
    else:
        digest.update(repr(thing).encode())
    return digest


def _add_raster(digest: Any, ground: RasterGround) -> None:
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


def survey_hash(link: sqlite3.Connection) -> str:
    """Return the SHA-256 of all rows of a file's tables but results and bookkeeping, to see if they changed."""
    digest = hashlib.sha256()
    for name in survey_tables(link):
        digest.update(f"\n{name}:".encode())
        quoted = name.replace('"', '""')
        for row in link.execute(f'SELECT * FROM "{quoted}" ORDER BY rowid'):
            digest.update(repr(row).encode())
    return digest.hexdigest()


def survey_tables(link: sqlite3.Connection) -> list[str]:
    """Return the tables of an open file that are neither results nor bookkeeping."""
    listed: Iterable[tuple[str]] = link.execute(
        "SELECT c.table_name FROM gpkg_contents c JOIN sqlite_master s"
        " ON lower(s.name) = lower(c.table_name) WHERE s.type = 'table' ORDER BY 1"
    )
    return [
        name
        for (name,) in listed
        if not name.lower().startswith(RESULT_PREFIX)
        and name.lower() not in ("layer_styles", TERRAIN_PROPOSED)
    ]
