"""Which rows of a result layer a desktop shows first: one tee, player, wind and hole location of a hole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from gistools.site._file import look_inside, reading
from gistools.site.schema import RESULT_PREFIX

#: columns of which one value is shown at a time
KEYS = ("tee", "player", "wind", "pin")
COLUMNS = ("hole", *KEYS, "shot_number")


def shown_first(path: str | Path) -> list[list[str]]:
    """Return the table, the filter and its words of each result layer of a file that has a choice.

    See :func:`filter_of`.
    """
    out = []
    tables = [t.name for t in look_inside(Path(path)).tables if t.name.lower().startswith(RESULT_PREFIX)]
    with reading(Path(path)) as link:
        for table in tables:
            names = [row[1] for row in link.execute(f"PRAGMA table_info({_quoted(table)})")]
            columns = [c for c in COLUMNS if c in names]
            if columns:
                rows = link.execute(f"SELECT {', '.join(columns)} FROM {_quoted(table)} ORDER BY rowid")
                condition, words = filter_of(dict(zip(columns, row, strict=True)) for row in rows)
                if condition:
                    out.append([table, condition, words])
    return out


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def filter_of(rows: Iterable[Mapping[str, Any]]) -> tuple[str, str]:
    """Return the filter of a layer as an SQL condition, and in words what it shows; both empty for no filter.

    Of each hole the first tee, player, wind and hole location in the order of the layer, and the tee shot. A
    key that tells the rows of the layer apart by itself, as the hole location does in `pin_slopes`, is not
    filtered by. Rows that are about no tee, player, wind or hole location stay.

    Parameters
    ----------
    rows
        Rows of the layer with those of :data:`COLUMNS` that it has.
    """
    table = [dict(row) for row in rows]
    keys = [key for key in KEYS if _is_choice(table, key)]
    chosen: dict[Any, dict[str, str]] = {}
    for hole in dict.fromkeys(row.get("hole") for row in table):
        rows_here = [row for row in table if row.get("hole") == hole]
        values = {key: _first(rows_here, table, key) for key in keys}
        chosen[hole] = {key: value for key, value in values.items() if value}
    later = any((row.get("shot_number") or 1) > 1 for row in table)
    if not keys and not later:
        return "", ""
    holes = [_condition(hole, values, later) for hole, values in chosen.items()]
    words = [value for key in keys if (value := _common(chosen, key))]
    return " OR ".join(holes), ", ".join(words)


def _is_choice(rows: list[dict[str, Any]], key: str) -> bool:
    """Tell whether a key has several values in a hole, each on more than one row."""
    pairs = {(row.get("hole"), row.get(key)) for row in rows if row.get(key)}
    filled = sum(bool(row.get(key)) for row in rows)
    return len(pairs) > len({hole for hole, _ in pairs}) and len(pairs) < filled


def _first(rows_here: list[dict[str, Any]], table: list[dict[str, Any]], key: str) -> str:
    """Return the value of a key to show on a hole: player and wind are one for all holes."""
    values = [row[key] for row in (rows_here if key in ("tee", "pin") else table) if row.get(key)]
    return str(next(iter(values), ""))


def _common(chosen: Mapping[Any, Mapping[str, str]], key: str) -> str:
    values = {of_hole[key] for of_hole in chosen.values() if key in of_hole}
    return (
        f"{values.pop()} tee"
        if len(values) == 1 and key == "tee"
        else values.pop()
        if len(values) == 1
        else ""
    )


def _condition(hole: Any, values: Mapping[str, str], later: bool) -> str:
    parts = ['"hole" IS NULL' if hole is None else f'"hole" = {int(hole)}']
    for key, value in values.items():
        quoted = value.replace("'", "''")
        parts.append(f"(\"{key}\" IS NULL OR \"{key}\" IN ('', '{quoted}'))")
    if later:
        parts.append('"shot_number" = 1')
    return f"({' AND '.join(parts)})"
