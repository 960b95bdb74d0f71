"""The page that links the holes of a site, with one line of figures for each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from gistools.base.units import show_length
from gistools.sheets.gather import Found

#: where only a full study of the hole would tell
NOT_COMPUTED = "not computed"
Cell = Callable[[Found, str], str]


def summary_table(found: Mapping[int, Found], units: str) -> str:
    """Return the figures of the holes at hand as an HTML table; columns without any figure are left out."""
    columns: dict[str, Cell] = {
        "Length": _lengths,
        "Par by length": _par,
        "Landing zones": lambda f, _: str(len(f.table("zones"))) if len(f.table("zones")) else "",
        "Real choices": _choices,
        "Brief": _brief,
        "Neighbours nearer than asked": _conflicts,
    }
    cells = {word: [make(f, units) for f in found.values()] for word, make in columns.items()}
    shown = [word for word in columns if any(cells[word])]
    head = "".join(f'<th scope="col" class="words">{escape(w)}</th>' for w in ("Hole", *shown))
    rows = "".join(
        f'<tr><th scope="row"><a href="hole_{hole}.html">{hole}</a></th>'
        + "".join(f'<td class="words">{escape(cells[w][k]) or "–"}</td>' for w in shown)
        + "</tr>"
        for k, hole in enumerate(found)
    )
    return f"<table><caption>The holes in figures</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _lengths(found: Found, units: str) -> str:
    table = found.table("lengths")
    if not len(table):
        return ""
    return ", ".join(f"{r['tee']} {show_length(r['ground_m'], units)}" for r in table.to_dict("records"))


def _par(found: Found, _units: str) -> str:
    table = found.table("lengths")
    if not len(table):
        return ""
    first: dict[Any, Any] = table.iloc[0].to_dict()
    return f"{first['par_men']} (men), {first['par_women']} (women), {first['tee']} tee"


def _choices(found: Found, _units: str) -> str:
    if "positions" in found.reasons:
        return NOT_COMPUTED if len(found.table("zones")) else ""
    table = found.table("choices")
    if not len(table) or "real_choices_count" not in table:
        return ""
    counts = table["real_choices_count"].dropna().astype(int)
    if not len(counts):
        return ""
    low, high = counts.min(), counts.max()
    return f"{low}" if low == high else f"{low} to {high}"


def _brief(found: Found, _units: str) -> str:
    if "brief" in found.reasons:
        return NOT_COMPUTED
    table = found.table("brief")
    if not len(table):
        return ""
    return f"{int((table['result'] == 'holds').sum())} of {len(table)} hold"


def _conflicts(found: Found, _units: str) -> str:
    return str(len(found.table("setback_conflicts"))) if "setback_conflicts" in found.tables else ""
