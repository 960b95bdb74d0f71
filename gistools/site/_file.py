"""A site file as a database: is it a GeoPackage, is it whole, which tables does it say it has.

Read only, through SQLite. The connection is closed before any other library touches the file: two copies of
SQLite in one process would undo each other's locks.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from gistools.base.errors import SiteError

MAGIC = b"SQLite format 3\x00"
#: "GPKG" (1.2 and later), "GP10", "GP11": OGC 12-128r18, requirement 2, and its earlier editions
APPLICATION_IDS = (0x47504B47, 0x47503130, 0x47503131)
QUICK_CHECK_BYTES = 64 * 2**20
WAIT_S = 10.0


@dataclass(frozen=True)
class Table:
    """A row of ``gpkg_contents``: what a table is, what it shows, and its geometry where it has one."""

    name: str
    kind: str
    srs_id: int
    has_z: bool = False
    has_m: bool = False
    text: str = ""


@dataclass(frozen=True)
class Contents:
    """What a GeoPackage says it holds; ``faults`` are tables that cannot be read, and why."""

    version: str
    tables: tuple[Table, ...]
    faults: tuple[tuple[str, str], ...] = ()

    def find(self, name: str) -> Table | None:
        """Return a table by name, without regard to case."""
        return next((t for t in self.tables if t.name.lower() == name.lower()), None)


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a file to read its tables, and close it for certain.

    The connection is one that could write: a file whose last writer was killed while committing can only be
    read again after SQLite has rolled that back, which a read-only connection may not do.
    """
    link = sqlite3.connect(path.resolve().as_uri() + "?mode=rw", uri=True, timeout=WAIT_S)
    try:
        yield link
    finally:
        link.close()


def views_in(path: Path) -> set[str]:
    """Return the names of the views of a file, in lower case; none where it is no SQLite database."""
    with path.open("rb") as file:
        if file.read(len(MAGIC)) != MAGIC:
            return set()
    with reading(path) as link:
        return {row[0].lower() for row in link.execute("SELECT name FROM sqlite_master WHERE type = 'view'")}


def look_inside(path: Path, *, pages: Literal["none", "some", "all"] = "none") -> Contents:
    """Return what a GeoPackage holds, after making sure that it is one and whole.

    The first thing done to a file: an unfinished transaction of a killed program is rolled back.

    Parameters
    ----------
    path
        The file.
    pages
        Which pages to look at for damage: ``"some"`` looks at all of them in files under 64 MB.

    Raises
    ------
    SiteError
        If the file is missing, not a GeoPackage, damaged or locked.
    """
    _refuse_strangers(path)
    try:
        with reading(path) as link:
            link.execute("SELECT count(*) FROM sqlite_master").fetchone()
            _refuse_cut_short(path, link)
            _refuse_damage(path, link, pages)
            return _contents(path, link)
    except sqlite3.OperationalError as fault:
        if "locked" in str(fault):
            raise SiteError(
                f"{path} is being written by another program; wait until it has finished or close it there"
            ) from fault
        raise SiteError(f"{path} cannot be opened ({fault}); is its folder writable?") from fault
    except sqlite3.DatabaseError as fault:
        raise SiteError(
            f"{path} is damaged ({fault}); take the last good copy, or repair it by"
            " exporting its layers to a new GeoPackage"
        ) from fault


def _refuse_strangers(path: Path) -> None:
    if not path.exists():
        raise SiteError(f"{path} does not exist; check the name and the folder")
    if not path.is_file():
        raise SiteError(f"{path} is not a file; name the GeoPackage itself")
    try:
        with path.open("rb") as file:
            start = file.read(16)
    except OSError as fault:
        raise SiteError(f"{path} cannot be read ({fault.strerror}); check its permissions") from fault
    if start != MAGIC:
        raise SiteError(
            f"{path} is not a GeoPackage; export the survey layers to one (.gpkg) in your GIS and open that"
        )


def _refuse_cut_short(path: Path, link: sqlite3.Connection) -> None:
    """Refuse a file that ends before the pages its header counts."""
    size, count = (link.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_size", "page_count"))
    with path.open("rb") as file:
        header = file.read(100)
    # bytes 28 to 31 count the pages where the two change counters agree (sqlite.org/fileformat2.html, 1.3.7)
    stated = int.from_bytes(header[28:32], "big") if header[24:28] == header[92:96] else 0
    missing = max(count, stated) * size - path.stat().st_size
    if missing > 0 and not path.with_name(path.name + "-wal").exists():
        raise sqlite3.DatabaseError(f"it is cut short: {missing:,} bytes are missing at its end")


def _refuse_damage(path: Path, link: sqlite3.Connection, pages: str) -> None:
    if pages == "all" or (pages == "some" and path.stat().st_size < QUICK_CHECK_BYTES):
        (result,) = link.execute("PRAGMA quick_check(1)").fetchone()
        if result != "ok":
            raise sqlite3.DatabaseError(result)


def _contents(path: Path, link: sqlite3.Connection) -> Contents:
    (app,) = link.execute("PRAGMA application_id").fetchone()
    names = {
        row[0].lower()
        for row in link.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'view')")
    }
    if "gpkg_contents" not in names or "gpkg_spatial_ref_sys" not in names:
        raise SiteError(
            f"{path} is a SQLite database but not a GeoPackage: it has no contents table;"
            " export the survey layers to a GeoPackage in your GIS"
        )
    (number,) = link.execute("PRAGMA user_version").fetchone()
    version = f"{number // 10000}.{number // 100 % 100}" if app == APPLICATION_IDS[0] and number else "1.0"
    _refuse_odd_books(path, link, names)
    views = {row[0].lower() for row in link.execute("SELECT name FROM sqlite_master WHERE type = 'view'")}
    shapes: dict[str, tuple[str, bool, bool]] = {}
    if "gpkg_geometry_columns" in names:
        for table, column, z, m in link.execute(
            "SELECT table_name, column_name, z, m FROM gpkg_geometry_columns"
        ):
            shapes[str(table).lower()] = (str(column), bool(z), bool(m))
    tables: list[Table] = []
    faults: list[tuple[str, str]] = []
    registered: set[str] = set()
    sql = "SELECT table_name, data_type, srs_id, coalesce(description, '') FROM gpkg_contents"
    for row in link.execute(sql).fetchall():
        name, kind, text = str(row[0]), str(row[1]), str(row[3])
        column, z, m = shapes.get(name.lower(), ("", False, False))
        fault = ""
        if name.lower() in registered:
            fault = "it is there twice in the file's list of contents"
        elif name.lower() not in names:
            fault = "the file's list of contents names it, and the table is not there"
        elif name.lower() in views:
            fault = "it is a view, a program that runs when it is read; it is not read"
        elif column and column.lower() not in _columns(link, name):
            fault = f"the file says its geometry is in a column `{column}`, which it has not"
        registered.add(name.lower())
        if fault:
            faults.append((name.lower(), fault))
        else:
            srs_id = row[2] if isinstance(row[2], int) else -1
            tables.append(Table(name, kind, srs_id, z, m, text))
    faults += [(n, "it is not in the file's list of contents") for n in sorted(names - registered)]
    return Contents(version, tuple(tables), tuple(faults))


#: bookkeeping tables and the columns that every reader needs (OGC 12-128r18, annex C)
_BOOKS = {
    "gpkg_contents": ("table_name", "data_type", "srs_id", "description"),
    "gpkg_spatial_ref_sys": ("srs_id", "definition"),
    "gpkg_geometry_columns": ("table_name", "column_name", "geometry_type_name", "srs_id", "z", "m"),
    "gpkg_extensions": ("table_name", "column_name", "extension_name", "definition", "scope"),
}


def _columns(link: sqlite3.Connection, table: str) -> set[str]:
    quoted = table.replace('"', '""')
    return {str(row[1]).lower() for row in link.execute(f'PRAGMA table_info("{quoted}")')}


def _refuse_odd_books(path: Path, link: sqlite3.Connection, names: set[str]) -> None:
    for book, columns in _BOOKS.items():
        missing = set(columns) - _columns(link, book) if book in names else set()
        if missing:
            raise SiteError(
                f"{path}: its table {book} has no column {', '.join(sorted(missing))}, so it is no GeoPackage"
                " that can be read; export the layers to a new GeoPackage in your GIS"
            )
