"""Results that lie in the site file already and still hold, so that a sheet need not compute them again."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from gistools.base.errors import GistoolsError
from gistools.site._file import Contents, look_inside
from gistools.site.model import Site
from gistools.site.provenance import records, still_holds
from gistools.site.result_layers import read_result
from gistools.site.results import Map
from gistools.steps.catalogue import Step

NOT_YET = "this site has not been studied that far"
OUTDATED = "the survey, the terrain or the toolkit changed since it was studied"


def stored_result(site: Site, step: Step, hole: int) -> dict[str, Any] | str:
    """Return what the file holds of a step for a hole, in metres, or why that cannot be used.

    A result holds if it was computed from the same survey, terrain and settings, by the same toolkit.

    Returns
    -------
    dict
        Layer without prefix -> table or map, as the step itself returns them.
    str
        The reason, for people, where there is none.
    """
    if site.path is None or not site.path.is_file():
        return NOT_YET
    try:
        file_results = _file_results(site, site.path)
    except GistoolsError as fault:
        return str(fault)
    contents, by_table = file_results.contents, file_results.records
    tables_needed = [w.table for w in step.writes if w.geometry != "raster"]
    maps = [w.table for w in step.writes if w.geometry == "raster"]
    tables = [t.name for t in contents.tables if t.name.lower() in tables_needed]
    tables += [
        t.name
        for t in contents.tables
        if t.name.lower().startswith(tuple(maps)) and _of_map(by_table, t.name) == hole and maps
    ]
    if {t.lower() for t in tables if t.lower() in tables_needed} != set(tables_needed):
        return NOT_YET
    out: dict[str, Any] = {}
    for name in tables:
        record = _of_hole(by_table.get(name.lower(), []), step, hole)
        if record is None:
            return NOT_YET
        if not still_holds(site, record):
            return OUTDATED
        out[name.lower().removeprefix("study_")] = _from_output_crs(site, file_results.read(site, name), hole)
    return out


def _of_map(by_table: dict[str, list[dict[str, Any]]], table: str) -> int | None:
    """Return the hole a stored map is of."""
    records_of_map = by_table.get(table.lower())
    return records_of_map[-1].get("keys", {}).get("hole") if records_of_map else None


@dataclass
class _FileResults:
    """What was read of a file in one state, so that each layer is read once for all holes."""

    stamp: tuple[Any, ...]
    contents: Contents
    records: dict[str, list[dict[str, Any]]]
    results: dict[str, Any] = field(default_factory=dict)

    def read(self, site: Site, name: str) -> Any:
        if name not in self.results:
            self.results[name] = read_result(site, name)
        return self.results[name]


def _file_results(site: Site, path: Path) -> _FileResults:
    beside = path.with_name(path.name + "-wal")
    stamp = tuple((f.stat().st_mtime_ns, f.stat().st_size) for f in (path, beside) if f.exists())
    known: _FileResults | None = site.memo.get("file results")
    if known is None or known.stamp != stamp:
        by_table = {name.lower(): rows for name, rows in records(path).items()}
        known = site.memo["file results"] = _FileResults(stamp, look_inside(path), by_table)
    return known


def _of_hole(runs: list[dict[str, Any]], step: Step, hole: int) -> dict[str, Any] | None:
    fitting = [
        r for r in runs if r.get("step") == step.name and r.get("options", {}).get("hole") in (None, hole)
    ]
    return fitting[-1] if fitting else None


def _from_output_crs(site: Site, result: Any, hole: int) -> Any:
    """Return a result as steps hand it to each other.

    Of one hole, coordinates in metres, words never missing.
    """
    if isinstance(result, Map):
        return result
    table = result
    if "hole" in table:
        table = table[table["hole"].isna() | (table["hole"] == hole)]
    table = table.reset_index(drop=True)
    table = site.from_output_crs(table)
    for column in table.columns:
        if pd.api.types.is_string_dtype(table[column]) or table[column].dtype == object:
            table[column] = table[column].fillna("")
    return table
