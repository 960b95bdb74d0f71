"""What a writing transaction may change, held to by SQLite itself.

A site file can carry triggers and views that others put there. While results are written, the authorizer of
the connection refuses every change of a table that is not a result or bookkeeping, and every change that a
trigger makes. SQLite asks it when it compiles a statement, the programs of triggers included, before a row is
touched (https://www.sqlite.org/c3ref/set_authorizer.html).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gistools.base.errors import WriteError
from gistools.site.provenance import survey_hash
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED

_CHANGES = {
    sqlite3.SQLITE_INSERT: "insert into",
    sqlite3.SQLITE_UPDATE: "update",
    sqlite3.SQLITE_DELETE: "delete from",
    sqlite3.SQLITE_DROP_TABLE: "drop",
    sqlite3.SQLITE_DROP_VTABLE: "drop",
    sqlite3.SQLITE_ALTER_TABLE: "alter",
}
#: tables that hold results or say something about them
_OURS = (RESULT_PREFIX, "rtree_" + RESULT_PREFIX, "gpkg_", "sqlite_")
_OURS_EXACTLY = ("layer_styles", TERRAIN_PROPOSED)


class Guard:
    """Refuses changes of survey tables on one connection, and compares them before the commit."""

    def __init__(self, link: sqlite3.Connection) -> None:
        self._link = link
        self._refusal = ""

    @contextmanager
    def watching(self, path: Path) -> Iterator[None]:
        """Guard the statements of the block.

        Raises
        ------
        WriteError
            If a statement would change the survey, or the survey differs at the end.
        """
        survey = survey_hash(self._link, rasters=False)
        self._link.set_authorizer(self._allow)
        try:
            yield
        except sqlite3.DatabaseError as fault:
            if not self._refusal:
                raise
            raise WriteError(f"{path}: nothing was written, for {self._refusal}") from fault
        finally:
            self._link.set_authorizer(None)
        if survey_hash(self._link, rasters=False) != survey:
            raise WriteError(f"{path}: the survey layers would have changed; nothing was written")

    def _allow(
        self, action: int, first: str | None, second: str | None, _schema: str | None, trigger: str | None
    ) -> int:
        if action not in _CHANGES:
            return sqlite3.SQLITE_OK
        table = ((second if action == sqlite3.SQLITE_ALTER_TABLE else first) or "").lower()
        if trigger is None and (table.startswith(_OURS) or table in _OURS_EXACTLY):
            return sqlite3.SQLITE_OK
        who = "a statement" if trigger is None else f"its trigger `{trigger}`"
        self._refusal = f"{who} would {_CHANGES[action]} `{table}`; delete the trigger, or write with out="
        return sqlite3.SQLITE_DENY
