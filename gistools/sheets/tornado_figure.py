"""Pictures of what a lead or a figure hangs on: a bar for each thing changed, the greatest effect on top."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gistools.base.units import heading, unit_of
from gistools.design.brief_sensitivity import moves
from gistools.sheets.colours import INK

COLOURS, BAND = {"low": "#8a6d4b", "high": "#2c6e8f"}, "#e4e0d2"
PER_BAR_IN, AROUND_IN, WIDE_IN = 0.34, 1.5, 8.5
ROOM_SHARE = 0.06  # beside what is drawn


def tornado(table: pd.DataFrame, band: float) -> Figure:
    """Draw the table of :func:`gistools.design.sensitivity.sensitivity` as bars about the lead as it is.

    Parameters
    ----------
    table
        A row for each thing changed, greatest effect first.
    band
        Leads smaller than this are level [strokes].

    Returns
    -------
    Figure
        The lead in strokes across, things down; the shaded strip is level.
    """
    figure, axes = _sheet(table)
    if not len(table):
        return figure
    first = table.iloc[0]
    axes.axvspan(-band, band, color=BAND, lw=0)
    axes.axvline(0.0, color=INK, lw=0.8)
    ends = table.rename(columns={"lead_low_strokes": "at_low", "lead_high_strokes": "at_high"})
    _bars(axes, ends, float(first["lead_strokes"]))
    axes.set_xlabel(f"lead of {first['zone']} over {first['other']} [strokes]; shaded: level", fontsize=8)
    who = f"{first['player']}, {first['tee']} tee, {first['wind']}"
    axes.set_title(f"Hole {first['hole']}, flag at {first['pin']}: {who}", loc="left", fontsize=10)
    return figure


def brief_tornado(table: pd.DataFrame, units: str = "m") -> Figure:
    """Draw the table of :func:`gistools.design.brief_sensitivity.brief_sensitivity` as bars.

    Parameters
    ----------
    table
        A row for each thing changed, greatest effect first; those that move nothing are left out.
    units
        Lengths in ``"m"`` or ``"yd"``.

    Returns
    -------
    Figure
        The figure across, things down; where what is asked is met, it is shaded.
    """
    moved = table[moves(table, units)]
    figure, axes = _sheet(moved)
    if not len(moved):
        return figure
    first = moved.iloc[0]
    column = str(first["measure"]).rpartition(".")[2]
    words, factor, _ = heading(column, unit_of(column), units)
    ends = moved.assign(at_low=factor * moved["figure_low"], at_high=factor * moved["figure_high"])
    _bars(axes, ends, factor * float(first["figure"]))
    limits = np.array([factor * float(first[name]) for name in ("at_least", "at_most")])
    low, high = np.nanmin([*axes.get_xlim(), *limits]), np.nanmax([*axes.get_xlim(), *limits])
    room = ROOM_SHARE * (high - low)
    axes.set_xlim(low - room, high + room)
    if np.isfinite(limits).any():
        axes.axvspan(*np.where(np.isnan(limits), axes.get_xlim(), limits), color=BAND, lw=0, zorder=0)
    axes.set_xlabel(f"{words}; shaded: as asked", fontsize=8)
    about = f": {first['about']}" if first["about"] else ""
    axes.set_title(
        f"Hole {first['hole']}, row {first['brief_row']} of the brief{about}", loc="left", fontsize=10
    )
    return figure


def _sheet(table: pd.DataFrame) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDE_IN, AROUND_IN + PER_BAR_IN * max(len(table), 1)), layout="constrained")
    axes = figure.add_subplot()
    if not len(table):
        axes.set_axis_off()
        axes.text(0.02, 0.5, "nothing that was changed moves it", fontsize=9)
    return figure, axes


def _bars(axes: Axes, table: pd.DataFrame, present: float) -> None:
    """Draw a bar from the figure as it is to ``at_low`` and ``at_high`` of each row, with their words."""
    axes.axvline(present, color=INK, lw=0.8, ls=(0, (4, 2)))
    for row, y in zip(table.to_dict("records"), np.arange(len(table))[::-1], strict=True):
        ends = [(float(row[f"at_{end}"]), row[end], colour) for end, colour in COLOURS.items()]
        ends = [end for end in ends if np.isfinite(end[0])]
        for value, words, colour in sorted(ends, key=lambda end: -abs(end[0] - present)):
            axes.barh(y, value - present, left=present, height=0.6, color=colour)
            right = value >= present
            axes.annotate(
                words,
                (value, y),
                (3 if right else -3, 0),
                textcoords="offset points",
                parse_math=False,
                ha="left" if right else "right",
                va="center",
                fontsize=7,
                color=INK,
                bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.75},
            )
    axes.set_yticks(np.arange(len(table))[::-1], table["factor"], fontsize=8)
    axes.margins(x=0.22)
    axes.tick_params(axis="x", labelsize=7)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
