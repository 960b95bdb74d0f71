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
    """What a GeoPackage says it holds."""

    version: str
    tables: tuple[Table, ...]

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
    shapes = {}
    if "gpkg_geometry_columns" in names:
        for table, z, m in link.execute("SELECT table_name, z, m FROM gpkg_geometry_columns"):
            shapes[table.lower()] = (bool(z), bool(m))
    tables = []
    sql = "SELECT table_name, data_type, srs_id, coalesce(description, '') FROM gpkg_contents"
    for name, kind, srs_id, text in link.execute(sql):
        if name.lower() in names:
            z, m = shapes.get(name.lower(), (False, False))
            tables.append(Table(name, kind, -1 if srs_id is None else int(srs_id), z, m, text))
    return Contents(version, tuple(tables))
