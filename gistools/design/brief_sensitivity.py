"""What a figure of the brief hangs on: one thing changed at a time, both ways.

The figure is that of the brief itself (:func:`gistools.steps.brief_rows.check_row`): of all result rows that
the row is about, the one farthest from what is asked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError
from gistools.base.progress import on_progress, tick
from gistools.base.units import figure_in_words
from gistools.design.one_at_a_time import Change, Pair, changes, in_words
from gistools.design.sensitivity import COARSE_M
from gistools.design.zone_totals import hole_of, on_coarse_mesh
from gistools.site.model import Site
from gistools.steps.brief_rows import FILTERS, asked_in_units, check_row, figure_of, read_brief

COLUMNS = [
    "brief_row", "hole", "measure", "about", "requirement", "factor", "low", "high", "figure", "figure_low",
    "figure_high", "at_least", "at_most", "spread", "result", "turns", "reading",
]  # fmt: skip


def brief_sensitivity(
    site: Site,
    brief_row: int,
    *,
    hole: int | None = None,
    brief_file: str | None = None,
    coarse_m: float = COARSE_M,
    units: str = "m",
    progress: Callable[[float, str], None] | None = None,
) -> pd.DataFrame:
    """Find what a figure of the brief hangs on: a carry, what is seen, a total, a width.

    Changed one at a time, both ways: :func:`gistools.design.one_at_a_time.changes`; wind and length of the
    player where the row names them.

    Parameters
    ----------
    site
        An open site.
    brief_row
        Number of the row of the brief, from 1.
    hole
        Number of the hole where the row names none.
    brief_file
        A TOML file of brief rows instead of the table ``brief``.
    coarse_m
        Side of the cells on which a hole is played out, where the figure needs that.
    units
        Lengths of the words in ``"m"`` or ``"yd"``.
    progress
        Called with ``(share, text)``; raising in it stops.

    Returns
    -------
    DataFrame
        A row for each thing changed, greatest effect first: the figure as it is and with the thing low and
        high in the unit of the measure, nan where that cannot be made or measured; whether the row of the
        brief turns from holding to failing or back, and a reading.

    Raises
    ------
    InputError
        If there is no such row, it cannot be answered, or its figure is not a number.
    """
    row = _row_of(site, brief_row, brief_file)
    if pd.isna(row.get("hole")):
        row["hole"] = hole_of(site, hole).number
    coarse = on_coarse_mesh(site, coarse_m)
    model = hole_of(coarse, int(row["hole"]))
    names = {k: row[k] for k in FILTERS if isinstance(row.get(k), str) and row[k]}
    with on_progress(progress):
        tick(0.0, "as it is")
        present = check_row(coarse, row)
        if present["result"] == "no answer":
            raise InputError(f"row {brief_row} of the brief has no answer: {present['requirement']}")
        figure = _number(present)
        if np.isnan(figure):
            raise InputError(
                f"row {brief_row} of the brief is about {present['figure']!r}, which is no number: what it"
                " hangs on cannot be said"
            )
        pairs = list(changes(coarse, model, names.get("player", ""), names.get("wind", ""), units))
        rows = []
        for number, (factor, low, high) in enumerate(pairs):
            tick((number + 0.5) / (len(pairs) + 1), factor)
            ends = [None if change is None else _measured(change, row, names) for change in (low, high)]
            rows.append(_row(factor, (low, high), ends, figure, present, units))
    about = ", ".join(str(v) for v in names.values())
    key = {"brief_row": brief_row, "hole": model.number, "measure": present["measure"], "about": about}
    key |= {"requirement": present["requirement"], "figure": figure, "result": present["result"]}
    key |= {k: float(row[k]) if pd.notna(row.get(k)) else np.nan for k in ("at_least", "at_most")}
    table = pd.DataFrame([key | r for r in rows], columns=COLUMNS)
    return table.sort_values("spread", ascending=False, ignore_index=True, kind="stable")


def brief_lines(table: pd.DataFrame, units: str = "m") -> list[str]:
    """Return the table of :func:`brief_sensitivity` in words: what moves the figure, and what does not."""
    if not len(table):
        return ["Nothing could be changed."]
    first = table.iloc[0]
    about = f" ({first['about']})" if first["about"] else ""
    verdict = {"holds": "met", "fails": "not met"}[first["result"]]
    limits = asked_in_units(first["requirement"], first["measure"], units)
    lines = [
        f"Row {first['brief_row']} of the brief, hole {first['hole']}: {first['measure']}{about},"
        f" {figure_of(first.to_dict(), units)}, asked {limits}: {verdict}. Changed:"
    ]
    moved = moves(table, units)
    lines += [f"  {reading}" for reading in table.loc[moved, "reading"]]
    if not moved.all():
        lines.append(f"  Not moved by: {', '.join(table.loc[~moved, 'factor'])}")
    return lines


def moves(table: pd.DataFrame, units: str = "m") -> pd.Series:
    """Tell of which rows of the table a reader sees the figure move."""

    def shown(value: float, measure: str) -> str:
        return figure_in_words(value, measure.rpartition(".")[2], units) if np.isfinite(value) else ""

    ends = [
        {shown(v, row["measure"]) for v in (row["figure"], row["figure_low"], row["figure_high"])} - {""}
        for row in table.to_dict("records")
    ]
    return pd.Series([len(end) > 1 for end in ends], table.index, dtype=bool)


def _row_of(site: Site, brief_row: int, brief_file: str | None) -> dict[str, Any]:
    """Return a row of the brief by its number."""
    table = site.layer("brief") if brief_file is None else read_brief(brief_file)
    if not 1 <= brief_row <= len(table):
        rows = "; ".join(f"{k} {m}" for k, m in enumerate(table["measure"], 1)) or "none"
        raise InputError(f"the brief has no row {brief_row}; there are: {rows}")
    row: dict[Any, Any] = table.iloc[brief_row - 1].to_dict()
    return {str(k): v for k, v in row.items()}


def _number(checked: dict[str, Any]) -> float:
    try:
        return float(checked["figure"])
    except ValueError:
        return float("nan")


def _measured(change: Change, row: dict[str, Any], names: dict[str, str]) -> dict[str, Any] | None:
    """Return the row checked on a changed site, for the player and in the wind of the change."""
    meant = {"player": change.player, "wind": change.wind}
    checked = check_row(change.site, row | {k: v for k, v in meant.items() if k in names})
    return None if checked["result"] == "no answer" else checked


def _row(
    factor: str,
    pair: Pair,
    ends: list[dict[str, Any] | None],
    figure: float,
    present: dict[str, Any],
    units: str,
) -> dict[str, Any]:
    """Return the row of a thing that was changed."""
    values = [np.nan if end is None else _number(end) for end in ends]
    known = [v for v in (figure, *values) if np.isfinite(v)]
    column = str(present["measure"]).rpartition(".")[2]
    turns = any(end is not None and end["result"] != present["result"] for end in ends)
    said = in_words(pair, values, lambda v: figure_in_words(v, column, units))
    then = "met" if present["result"] == "fails" else "not met"
    return {
        "factor": factor,
        "low": said["low"],
        "high": said["high"],
        "figure_low": values[0],
        "figure_high": values[1],
        "spread": max(known) - min(known),
        "turns": turns,
        "reading": f"{factor}: {said['words']}{f'; {then} then' if turns else ''}",
    }
