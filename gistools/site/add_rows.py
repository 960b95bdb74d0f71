"""New rows into the survey layers of a site file: all of them or none, and no row that is there altered.

Like results (:mod:`gistools.site.write`) the rows are built in a scratch GeoPackage and come into the file in
one transaction. Rows that were there are compared before the commit: were one altered, by a trigger that
somebody put into the file, nothing is written.
"""

from __future__ import annotations

import dataclasses
import hashlib
import sqlite3
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gistools.base.errors import InputError, WriteError
from gistools.site import _merge, _vector
from gistools.site._file import look_inside
from gistools.site.model import Site
from gistools.site.new import kind_of, survey_table
from gistools.site.results import ColumnInfo
from gistools.site.schema import SURVEY_LAYERS, TABLES, LayerSpec
from gistools.site.write import WAIT_S, commit, explained, refuse_unwritable

SQL_TYPES = {"int": "INTEGER", "float": "REAL", "text": "TEXT", "bool": "BOOLEAN"}
#: bytes of the envelope in a geometry blob by its code (OGC 12-128r18, clause 2.1.3)
ENVELOPE_BYTES = (0, 32, 48, 48, 64)
Level = Callable[[Any, Any], Any]


def add_rows(site: Site, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> Path:
    """Add rows to the survey layers and tables of a site's file; a layer that is missing is made.

    Parameters
    ----------
    site
        The site, opened from a file.
    rows
        Rows by layer: values by field, ``geometry`` in metres as in the site. Where the layer holds levels,
        corners take those of the terrain.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        If the site has no file.
    WriteError
        If the rows cannot be written; the file is then as it was.
    """
    path = site.path
    if path is None:
        raise InputError("the site was made in memory and has no file to add rows to")
    contents = look_inside(path)
    refuse_unwritable(path)
    specs = [SURVEY_LAYERS.get(name) or TABLES[name] for name in rows]
    with tempfile.TemporaryDirectory(prefix="gistools-") as folder:
        scratch = Path(folder) / "scratch.gpkg"
        for spec in specs:
            table = site.to_output_crs(survey_table(spec, site.crs_metric, rows[spec.name]))
            _vector.write_layer(
                scratch, spec.name, table, geometry=kind_of(spec, rows[spec.name]), version=contents.version
            )
        try:
            _merge_in(path, scratch, specs, _levels(site))
        except sqlite3.Error as fault:
            raise WriteError(explained(fault, path)) from fault
    return path


def _levels(site: Site) -> Level:
    """Return a function that gives levels of the ground at places in the file's coordinates."""

    def level(x: Any, y: Any) -> Any:
        surface = site.surface()
        return np.nan_to_num(surface.height(np.asarray(x) * site.unit_m, np.asarray(y) * site.unit_m))

    return level


def _merge_in(path: Path, scratch: Path, specs: Sequence[LayerSpec], level: Level) -> None:
    target = path.resolve().as_uri() + "?mode=rw"
    with closing(sqlite3.connect(target, timeout=WAIT_S, isolation_level=None, uri=True)) as link:
        link.create_function("renumbered", 2, _merge.renumbered, deterministic=True)
        link.create_function("fitted", 4, partial(_fitted, level))
        _add_spatial_functions(link)
        link.execute("PRAGMA synchronous=FULL")
        link.execute("PRAGMA cache_spill=OFF")
        link.execute("ATTACH ? AS src", (scratch.resolve().as_uri() + "?mode=ro&immutable=1",))
        link.execute("BEGIN IMMEDIATE")
        try:
            before = _digest(link, last=None)
            last = {table: rowid for table, (rowid, _) in before.items()}
            for spec in specs:
                _add_layer(link, spec)
            after = _digest(link, last=last)
            if any(after[table] != digest for table, digest in before.items()):
                raise WriteError(
                    f"{path}: survey rows that were there would have changed; nothing was written"
                )
            commit(link)
        except BaseException:
            if link.in_transaction:
                link.execute("ROLLBACK")
            raise


def _digest(link: sqlite3.Connection, last: Mapping[str, int] | None) -> dict[str, tuple[int, str]]:
    """Return the last row of each survey layer, and a hash of the values in the rows up to it."""
    out = {}
    for name in (*SURVEY_LAYERS, *TABLES):
        table = _merge.stored_name(link, name)
        if table is None or (last is not None and table not in last):
            continue
        key = _merge.quoted(table)
        (end,) = link.execute(f"SELECT coalesce(max(rowid), 0) FROM main.{key}").fetchone()
        end = end if last is None else last[table]
        sums = hashlib.sha256()
        for row in link.execute(f"SELECT * FROM main.{key} WHERE rowid <= ? ORDER BY rowid", (end,)):
            sums.update(repr([value for value in row if value is not None]).encode())
        out[table] = (int(end), sums.hexdigest())
    return out


def _add_layer(link: sqlite3.Connection, spec: LayerSpec) -> None:
    """Add the rows of one layer of the scratch file."""
    table = _merge.stored_name(link, spec.name)
    if table is None:
        _merge.copy(link, spec.name, _srs_id(link))
        _merge.describe_columns(
            link, spec.name, [ColumnInfo(f.name, f.name, f.text) for f in spec.all_fields]
        )
        return
    present = {row[1].lower() for row in link.execute(f"PRAGMA main.table_info({_merge.quoted(table)})")}
    columns = []
    for f in spec.all_fields:
        if f.name.lower() not in present:
            field = _merge.quoted(f.name)
            given_values = f"{field} IS NOT NULL AND {field} IS NOT ?"
            sql = f"SELECT 1 FROM src.{spec.name} WHERE {given_values}"
            if not link.execute(sql, (f.default,)).fetchone():
                continue
            link.execute(f"ALTER TABLE main.{_merge.quoted(table)} ADD COLUMN {field} {SQL_TYPES[f.kind]}")
        columns.append(_merge.quoted(f.name))
    names, picked = ", ".join(columns), ", ".join(columns)
    given: tuple[Any, ...] = ()
    if spec.geometry:
        column, kind, srs_id, z = link.execute(
            "SELECT column_name, geometry_type_name, srs_id, z FROM main.gpkg_geometry_columns"
            " WHERE lower(table_name) = lower(?)",
            (table,),
        ).fetchone()
        names += f", {_merge.quoted(column)}"
        picked += ", fitted(geom, ?1, ?2, ?3)"
        given = (srs_id, kind, z)
        _allow_kind(link, spec, table, kind)
    link.execute(
        f"INSERT INTO main.{_merge.quoted(table)} ({names}) SELECT {picked} FROM src.{spec.name}", given
    )
    _tell_contents(link, spec, table)


def _allow_kind(link: sqlite3.Connection, spec: LayerSpec, table: str, kind: str) -> None:
    """Let a layer of one kind of geometry take several, where the new rows are of another."""
    (new,) = link.execute(
        "SELECT geometry_type_name FROM src.gpkg_geometry_columns WHERE table_name = ?", (spec.name,)
    ).fetchone()
    if kind.upper().removeprefix("MULTI") not in (new.upper(), "GEOMETRY", "GEOMETRYCOLLECTION"):
        link.execute(
            "UPDATE main.gpkg_geometry_columns SET geometry_type_name = 'GEOMETRY'"
            " WHERE lower(table_name) = lower(?)",
            (table,),
        )


def _srs_id(link: sqlite3.Connection) -> int:
    """Return the CRS id of the layers that are there; tees and greens of a site lie in one."""
    (number,) = link.execute(
        "SELECT srs_id FROM main.gpkg_geometry_columns WHERE lower(table_name) IN ('greens', 'tees')"
    ).fetchone()
    return int(number)


def _tell_contents(link: sqlite3.Connection, spec: LayerSpec, table: str) -> None:
    """Bring count, extent and time of change of a layer up to date."""
    link.execute(
        "UPDATE main.gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')"
        " WHERE lower(table_name) = lower(?)",
        (table,),
    )
    if spec.geometry:
        blobs = [b for (b,) in link.execute(f"SELECT geom FROM src.{spec.name}") if b is not None]
        west, south, east, north = shapely.total_bounds([shape_of_blob(b) for b in blobs])
        for column, function, value in (
            ("min_x", "min", west),
            ("min_y", "min", south),
            ("max_x", "max", east),
            ("max_y", "max", north),
        ):
            link.execute(
                f"UPDATE main.gpkg_contents SET {column} = coalesce({function}({column}, ?1), ?1)"
                " WHERE lower(table_name) = lower(?2)",
                (float(value), table),
            )
    if _merge.has_table(link, "gpkg_ogr_contents"):
        link.execute(
            "UPDATE main.gpkg_ogr_contents SET feature_count ="
            f" (SELECT count(*) FROM main.{_merge.quoted(table)}) WHERE lower(table_name) = lower(?)",
            (table,),
        )


def shape_of_blob(blob: bytes) -> Any:
    """Return the geometry of a blob (OGC 12-128r18, clause 2.1.3)."""
    return shapely.from_wkb(blob[8 + ENVELOPE_BYTES[(blob[3] >> 1) & 7] :])


def _fitted(level: Level, blob: bytes, srs_id: int, kind: str, z: int) -> bytes:
    """Return a blob as a layer wants it: single or multi, with levels where it holds them, its CRS id."""
    shape = shape_of_blob(blob)
    if kind.upper().startswith("MULTI") and not shape.geom_type.startswith("Multi"):
        shape = {"Point": shapely.multipoints, "LineString": shapely.multilinestrings}.get(
            shape.geom_type, shapely.multipolygons
        )([shape])
    if z == 1:
        xy = shapely.get_coordinates(shape)
        shape = shapely.set_coordinates(shapely.force_3d(shape), np.column_stack([xy, level(*xy.T)]))
    box = shapely.bounds(shape)
    head = b"GP\x00\x03" + int(srs_id).to_bytes(4, "little", signed=True)
    wkb = shapely.to_wkb(shape, byte_order=1, flavor="iso", output_dimension=3 if z == 1 else 2)
    return head + np.array([box[0], box[2], box[1], box[3]], "<f8").tobytes() + bytes(wkb)


def _add_spatial_functions(link: sqlite3.Connection) -> None:
    """Give a connection the functions that the triggers of a spatial index call."""
    for name, place in (("MinX", 0), ("MinY", 1), ("MaxX", 2), ("MaxY", 3)):
        link.create_function(f"ST_{name}", 1, partial(_edge, place), deterministic=True)
    link.create_function(
        "ST_IsEmpty", 1, lambda b: None if b is None else int(shape_of_blob(b).is_empty), deterministic=True
    )


def _edge(place: int, blob: bytes | None) -> float | None:
    return None if blob is None else float(shape_of_blob(blob).bounds[place])


def with_rows(site: Site, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> Site:
    """Return the site with rows added in memory, nothing computed and no finding yet; feature ids go on."""
    tables: dict[str, Any] = {}
    for name, new in rows.items():
        spec = SURVEY_LAYERS.get(name) or TABLES[name]
        table = survey_table(spec, site.crs_metric, new)
        before = site.layer(name)
        start = int(before["fid"].max()) + 1 if len(before) else 1
        table.insert(0, "fid", range(start, start + len(table)))
        if not len(before):
            tables[name] = table
            continue
        if spec.geometry and before.geometry.name != table.geometry.name:
            table = gpd.GeoDataFrame(table).rename_geometry(before.geometry.name)
        whole = pd.concat([before.astype(object), table.astype(object)], ignore_index=True).infer_objects()
        if spec.geometry:
            whole = gpd.GeoDataFrame(whole, geometry=before.geometry.name, crs=site.crs_metric)
        tables[name] = whole
    return dataclasses.replace(site.replace(**tables), findings=())
