"""The rows of a GeoPackage that make a layer a layer: taken out, and copied in from a scratch file.

Plain SQL on an open connection, inside the one transaction of :mod:`gistools.site.write`. The scratch file
is attached as ``src``. Names are always quoted. No spatial function is needed: the spatial index is copied
row by row, and triggers are made last.

Sources: OGC 12-128r18 (GeoPackage) requirements 10 to 16, 94 to 99, annexes F.3, F.8, F.9; OGC 17-066r1
(tiled gridded coverage).
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Iterable

from gistools.site.results import ColumnInfo

_METADATA = """
CREATE TABLE gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY AUTOINCREMENT NOT NULL,
 md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL,
 mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '')
"""
_METADATA_REFERENCE = """
CREATE TABLE gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT,
 row_id_value INTEGER, timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
 md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
 CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
 CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))
"""
_DATA_COLUMNS = """
CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT,
 description TEXT, mime_type TEXT, constraint_name TEXT,
 CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name))
"""
_CONSTRAINTS = """
CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL,
 value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
 CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))
"""
_EXTENSIONS = """
CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL,
 definition TEXT NOT NULL, scope TEXT NOT NULL,
 CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))
"""
_STYLES = """
CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256),
 f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30),
 styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
 update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))
"""
#: application id of version 1.0, "GP10", which spelt two columns otherwise
GEOPACKAGE_1_0 = 0x47503130
_SPEC = "http://www.geopackage.org/spec120/#extension_"
#: bookkeeping table -> the column that names the layer
_KEPT_BY = {
    "gpkg_2d_gridded_tile_ancillary": "tpudt_name",
    "gpkg_2d_gridded_coverage_ancillary": "tile_matrix_set_name",
    "gpkg_tile_matrix": "table_name",
    "gpkg_tile_matrix_set": "table_name",
    "gpkg_geometry_columns": "table_name",
    "gpkg_ogr_contents": "table_name",
    "gpkg_extensions": "table_name",
    "gpkg_data_columns": "table_name",
    "gpkg_contents": "table_name",
}
#: these are copied after the rows of the layer itself, in this order; their own ids are given anew
_COPIED = (
    "gpkg_geometry_columns",
    "gpkg_ogr_contents",
    "gpkg_tile_matrix_set",
    "gpkg_tile_matrix",
    "gpkg_2d_gridded_coverage_ancillary",
    "gpkg_2d_gridded_tile_ancillary",
    "gpkg_extensions",
)
_OWN_ID = ("gpkg_2d_gridded_coverage_ancillary", "gpkg_2d_gridded_tile_ancillary")


def quoted(name: str) -> str:
    """Return a name as SQL takes it, whatever is in it."""
    return '"' + name.replace('"', '""') + '"'


def has_table(link: sqlite3.Connection, name: str, schema: str = "main") -> bool:
    """Tell whether a table exists."""
    sql = f"SELECT 1 FROM {schema}.sqlite_master WHERE type = 'table' AND lower(name) = lower(?)"
    return link.execute(sql, (name,)).fetchone() is not None


def stored_name(link: sqlite3.Connection, name: str) -> str | None:
    """Return a table's name as it is stored, or None if there is no such table."""
    row = link.execute(
        "SELECT name FROM main.sqlite_master WHERE type = 'table' AND lower(name) = lower(?)", (name,)
    ).fetchone()
    return None if row is None else str(row[0])


def drop(link: sqlite3.Connection, name: str) -> None:
    """Take a layer out of the file with all that is kept about it."""
    table = stored_name(link, name)
    if table is None:
        return
    if has_table(link, "gpkg_geometry_columns"):
        for (column,) in link.execute(
            "SELECT column_name FROM gpkg_geometry_columns WHERE lower(table_name) = lower(?)", (table,)
        ).fetchall():
            index = stored_name(link, f"rtree_{table}_{column}")
            if index is not None:
                link.execute(f"DROP TABLE {quoted(index)}")
    link.execute(f"DROP TABLE {quoted(table)}")
    forget(link, table)
    for bookkeeping, column in _KEPT_BY.items():
        if has_table(link, bookkeeping):
            link.execute(f"DELETE FROM {bookkeeping} WHERE lower({column}) = lower(?)", (table,))
    _drop_styles(link, table)


def _drop_styles(link: sqlite3.Connection, table: str) -> None:
    """Delete the styles given to a layer here; one that somebody has changed since is theirs and stays."""
    if has_table(link, "layer_styles"):
        for number, document, mark in link.execute(
            "SELECT id, styleQML, description FROM layer_styles WHERE lower(f_table_name) = lower(?)",
            (table,),
        ).fetchall():
            if mark == _style_mark(document):
                link.execute("DELETE FROM layer_styles WHERE id = ?", (number,))


def _style_mark(document: str | None) -> str:
    return "golf-gistools " + hashlib.sha256((document or "").encode()).hexdigest()[:12]


def forget(link: sqlite3.Connection, table: str | None, uri: str | None = None) -> None:
    """Delete the metadata of a layer (or, without one, of the file) that nothing else refers to.

    With ``uri`` only metadata of that kind.
    """
    if not has_table(link, "gpkg_metadata_reference"):
        return
    whose = "table_name IS NULL" if table is None else "lower(table_name) = lower(?)"
    kind = (
        "" if uri is None else " AND md_file_id IN (SELECT id FROM gpkg_metadata WHERE md_standard_uri = ?)"
    )
    given = [v for v in (table, uri) if v is not None]
    ids = link.execute(
        f"SELECT DISTINCT md_file_id FROM gpkg_metadata_reference WHERE {whose}{kind}", given
    ).fetchall()
    link.execute(f"DELETE FROM gpkg_metadata_reference WHERE {whose}{kind}", given)
    for (number,) in ids:
        drop_record(link, number)


def drop_record(link: sqlite3.Connection, number: int) -> None:
    """Delete one metadata text if nothing refers to it any more."""
    link.execute(
        "DELETE FROM gpkg_metadata WHERE id = ? AND NOT EXISTS"
        " (SELECT 1 FROM gpkg_metadata_reference WHERE md_file_id = ? OR md_parent_id = ?)",
        (number, number, number),
    )


def copy(link: sqlite3.Connection, table: str, srs_id: int) -> None:
    """Copy a layer and its records from the attached scratch file, under a CRS of the target."""
    (shape_srs, sql) = link.execute(
        "SELECT c.srs_id, s.sql FROM src.gpkg_contents c JOIN src.sqlite_master s ON s.name = c.table_name"
        " WHERE c.table_name = ? AND s.type = 'table'",
        (table,),
    ).fetchone()
    _copy_rows(link, "gpkg_contents", "table_name", table)
    link.execute(sql)
    geometry = _geometry_column(link, table)
    columns = _columns(link, table, "src")
    picked = [
        f"renumbered({quoted(c)}, ?1)" if c == geometry and shape_srs != srs_id else quoted(c)
        for c in columns
    ]
    given = (srs_id,) if any(p.startswith("renumbered") for p in picked) else ()
    link.execute(
        f"INSERT INTO main.{quoted(table)} ({', '.join(map(quoted, columns))})"
        f" SELECT {', '.join(picked)} FROM src.{quoted(table)}",
        given,
    )
    for bookkeeping in _COPIED:
        if has_table(link, bookkeeping, "src"):
            rows = f"SELECT 1 FROM src.{bookkeeping} WHERE {_KEPT_BY[bookkeeping]} = ?"
            if link.execute(rows, (table,)).fetchone():
                _copy_rows(link, bookkeeping, _KEPT_BY[bookkeeping], table)
    _place_in(link, table, geometry, srs_id)
    if geometry is not None:
        _copy_index(link, table, geometry)
    _coverage_extras(link)
    _copy_triggers(link, table)


def renumbered(blob: bytes | None, srs_id: int) -> bytes | None:
    """Return a geometry blob with another CRS id in its header (OGC 12-128r18, clause 2.1.3)."""
    if blob is None:
        return None
    little = bool(blob[3] & 1)
    return blob[:4] + srs_id.to_bytes(4, "little" if little else "big", signed=True) + blob[8:]


def _geometry_column(link: sqlite3.Connection, table: str) -> str | None:
    if not has_table(link, "gpkg_geometry_columns", "src"):
        return None
    row = link.execute(
        "SELECT column_name FROM src.gpkg_geometry_columns WHERE table_name = ?", (table,)
    ).fetchone()
    return None if row is None else str(row[0])


def _columns(link: sqlite3.Connection, table: str, schema: str) -> list[str]:
    return [row[1] for row in link.execute(f"PRAGMA {schema}.table_info({quoted(table)})")]


def _copy_rows(link: sqlite3.Connection, bookkeeping: str, column: str, table: str) -> None:
    """Copy the rows about a layer, by the columns both files have; the table is made if it is missing."""
    if not has_table(link, bookkeeping):
        (sql,) = link.execute("SELECT sql FROM src.sqlite_master WHERE name = ?", (bookkeeping,)).fetchone()
        link.execute(sql)
        for (trigger,) in link.execute(
            "SELECT sql FROM src.sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (bookkeeping,)
        ).fetchall():
            link.execute(trigger)
    both = [
        c
        for c in _columns(link, bookkeeping, "src")
        if c in _columns(link, bookkeeping, "main") and not (c == "id" and bookkeeping in _OWN_ID)
    ]
    names = ", ".join(map(quoted, both))
    link.execute(
        f"INSERT INTO main.{bookkeeping} ({names}) SELECT {names} FROM src.{bookkeeping} WHERE {column} = ?",
        (table,),
    )


def _place_in(link: sqlite3.Connection, table: str, geometry: str | None, srs_id: int) -> None:
    """Put the layer under the target's own id of its CRS."""
    raster = (
        has_table(link, "gpkg_tile_matrix_set")
        and link.execute("SELECT 1 FROM gpkg_tile_matrix_set WHERE table_name = ?", (table,)).fetchone()
    )
    if geometry is None and not raster:
        return
    link.execute("UPDATE gpkg_contents SET srs_id = ? WHERE table_name = ?", (srs_id, table))
    if geometry is not None:
        link.execute("UPDATE gpkg_geometry_columns SET srs_id = ? WHERE table_name = ?", (srs_id, table))
    if raster:
        link.execute("UPDATE gpkg_tile_matrix_set SET srs_id = ? WHERE table_name = ?", (srs_id, table))


def _copy_index(link: sqlite3.Connection, table: str, geometry: str) -> None:
    index = f"rtree_{table}_{geometry}"
    row = link.execute("SELECT sql FROM src.sqlite_master WHERE name = ?", (index,)).fetchone()
    if row is not None:
        link.execute(row[0])
        link.execute(f"INSERT INTO main.{quoted(index)} SELECT * FROM src.{quoted(index)}")


def _coverage_extras(link: sqlite3.Connection) -> None:
    """A file with coverages lists EPSG:4979 and registers the two ancillary tables (OGC 17-066r1)."""
    if not has_table(link, "gpkg_2d_gridded_coverage_ancillary"):
        return
    both = [
        c
        for c in _columns(link, "gpkg_spatial_ref_sys", "src")
        if c in _columns(link, "gpkg_spatial_ref_sys", "main")
    ]
    names = ", ".join(map(quoted, both))
    link.execute(
        f"INSERT INTO main.gpkg_spatial_ref_sys ({names}) SELECT {names} FROM src.gpkg_spatial_ref_sys"
        " WHERE srs_id = 4979 AND NOT EXISTS (SELECT 1 FROM main.gpkg_spatial_ref_sys WHERE srs_id = 4979)"
    )
    if has_table(link, "gpkg_extensions", "src"):
        rows = link.execute(
            "SELECT table_name, column_name, extension_name, definition, scope FROM src.gpkg_extensions"
            " WHERE table_name LIKE 'gpkg\\_2d\\_gridded\\_%' ESCAPE '\\'"
        ).fetchall()
        for row in rows:
            register(link, *row)


def _copy_triggers(link: sqlite3.Connection, table: str) -> None:
    counts = has_table(link, "gpkg_ogr_contents")
    for name, sql in link.execute(
        "SELECT name, sql FROM src.sqlite_master WHERE tbl_name = ? AND type IN ('index', 'trigger')"
        " AND sql IS NOT NULL",
        (table,),
    ).fetchall():
        if counts or "feature_count" not in name:
            link.execute(sql)


def register(
    link: sqlite3.Connection, table: str | None, column: str | None, name: str, definition: str, scope: str
) -> None:
    """List an extension once. The table's own UNIQUE rule lets rows through whose column is NULL."""
    if not has_table(link, "gpkg_extensions"):
        link.execute(_EXTENSIONS)
    link.execute(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope)"
        " SELECT ?1, ?2, ?3, ?4, ?5 WHERE NOT EXISTS (SELECT 1 FROM gpkg_extensions"
        " WHERE lower(table_name) IS lower(?1) AND lower(column_name) IS lower(?2)"
        " AND lower(extension_name) = lower(?3))",
        (table, column, name, definition, scope),
    )


def describe_columns(link: sqlite3.Connection, table: str, columns: Iterable[ColumnInfo]) -> None:
    """Store a title (with the unit) and a meaning for the columns that the table has.

    The title goes into ``name`` too, which GDAL and desktops show as the alias of a field. There it is unique
    in a table, or NULL (OGC 12-128r18, clause F.9, table definition of ``gpkg_data_columns``).
    """
    present = set(_columns(link, table, "main"))
    columns = [c for c in columns if c.name in present]
    if not columns:
        return
    constraints = _CONSTRAINTS
    if link.execute("PRAGMA main.application_id").fetchone() == (GEOPACKAGE_1_0,):
        constraints = constraints.replace("_is_inclusive", "IsInclusive")
    for name, sql in (("gpkg_data_columns", _DATA_COLUMNS), ("gpkg_data_column_constraints", constraints)):
        if not has_table(link, name):
            link.execute(sql)
        register(link, name, None, "gpkg_schema", _SPEC + "schema", "read-write")
    uses = Counter(c.title for c in columns)
    link.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description)"
        " VALUES (?, ?, ?, ?, ?)",
        [(table, c.name, c.title if uses[c.title] == 1 else None, c.title, c.text) for c in columns],
    )


def add_record(link: sqlite3.Connection, table: str | None, uri: str, text: str) -> None:
    """Keep a JSON text beside a layer, or beside the file as a whole."""
    for name, sql in (("gpkg_metadata", _METADATA), ("gpkg_metadata_reference", _METADATA_REFERENCE)):
        if not has_table(link, name):
            link.execute(sql)
        register(link, name, None, "gpkg_metadata", _SPEC + "metadata", "read-write")
    number = link.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata)"
        " VALUES ('dataset', ?, 'application/json', ?)",
        (uri, text),
    ).lastrowid
    link.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, table_name, timestamp, md_file_id)"
        " VALUES (?, ?, strftime('%Y-%m-%dT%H:%M:%fZ','now'), ?)",
        ("geopackage" if table is None else "table", table, number),
    )


def add_styles(link: sqlite3.Connection, styles: Iterable[tuple[str, str, str, str]]) -> None:
    """Keep the style a desktop applies on opening: ``(table, geometry column, style document, SLD)``."""
    for table, column, document, sld in styles:
        if not has_table(link, "layer_styles"):
            link.execute(_STYLES)
            link.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, identifier, description,"
                " last_change, srs_id)"
                " VALUES ('layer_styles', 'attributes', 'layer_styles', '',"
                " strftime('%Y-%m-%dT%H:%M:%fZ','now'), 0)"
            )
        link.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column,"
            " styleName, styleQML, styleSLD, useAsDefault, description, owner)"
            " SELECT '', '', ?1, ?2, ?3, ?4, ?5, 1, ?6, ''"
            " WHERE NOT EXISTS (SELECT 1 FROM layer_styles WHERE lower(f_table_name) = lower(?1))",
            (table, column, table[:30], document, sld, _style_mark(document)),
        )
