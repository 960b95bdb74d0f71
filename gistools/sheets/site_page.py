"""Figures of each hole for the page that links the holes of a site."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from gistools.base.units import show_length
from gistools.sheets.results import HoleResults

#: shown where only a full study of the hole has the figure
NOT_COMPUTED = "not computed"
Cell = Callable[[HoleResults, str], str]


def hole_figures(results: Mapping[int, HoleResults], units: str) -> dict[str, list[str]]:
    """Return the figures of each hole by heading; headings without any figure are left out."""
    columns: dict[str, Cell] = {
        "Length": _lengths,
        "Par by length": _par,
        "Landing zones": lambda r, _: str(len(r.table("zones"))) if len(r.table("zones")) else "",
        "Real choices": _choices,
        "Brief": _brief,
        "Neighbours nearer than asked": _conflicts,
    }
    cells = {heading: [cell(r, units) for r in results.values()] for heading, cell in columns.items()}
    return {heading: figures for heading, figures in cells.items() if any(figures)}


def _lengths(results: HoleResults, units: str) -> str:
    table = results.table("lengths")
    if not len(table):
        return ""
    return ", ".join(f"{r['tee']} {show_length(r['ground_m'], units)}" for r in table.to_dict("records"))


def _par(results: HoleResults, _units: str) -> str:
    table = results.table("lengths")
    if not len(table):
        return ""
    first: dict[Any, Any] = table.iloc[0].to_dict()
    return f"{first['par_men']} (men), {first['par_women']} (women), {first['tee']} tee"


def _choices(results: HoleResults, _units: str) -> str:
    if "positions" in results.reasons:
        return NOT_COMPUTED if len(results.table("zones")) else ""
    table = results.table("choices")
    if not len(table) or "real_choices_count" not in table:
        return ""
    counts = table["real_choices_count"].dropna().astype(int)
    if not len(counts):
        return ""
    low, high = counts.min(), counts.max()
    return f"{low}" if low == high else f"{low} to {high}"


def _brief(results: HoleResults, _units: str) -> str:
    if "brief" in results.reasons:
        return NOT_COMPUTED
    table = results.table("brief")
    if not len(table):
        return ""
    return f"{int((table['result'] == 'holds').sum())} of {len(table)} hold"


def _conflicts(results: HoleResults, _units: str) -> str:
    return str(len(results.table("setback_conflicts"))) if "setback_conflicts" in results.tables else ""
