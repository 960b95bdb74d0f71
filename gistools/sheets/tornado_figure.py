"""Picture of what a lead hangs on: a bar for each thing changed, the greatest effect on top."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from gistools.sheets.colours import INK

COLOURS, BAND = {"low": "#8a6d4b", "high": "#2c6e8f"}, "#e4e0d2"
PER_BAR_IN, AROUND_IN, WIDE_IN = 0.34, 1.5, 8.5


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
    figure = Figure(figsize=(WIDE_IN, AROUND_IN + PER_BAR_IN * max(len(table), 1)), layout="constrained")
    axes = figure.add_subplot()
    if not len(table):
        axes.set_axis_off()
        axes.text(0.02, 0.5, "nothing could be changed", fontsize=9)
        return figure
    first = table.iloc[0]
    present = float(first["lead_strokes"])
    axes.axvspan(-band, band, color=BAND, lw=0)
    axes.axvline(0.0, color=INK, lw=0.8)
    axes.axvline(present, color=INK, lw=0.8, ls=(0, (4, 2)))
    for row, y in zip(table.to_dict("records"), np.arange(len(table))[::-1], strict=True):
        ends = [(float(row[f"lead_{end}_strokes"]), row[end], colour) for end, colour in COLOURS.items()]
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
    axes.set_xlabel(f"lead of {first['zone']} over {first['other']} [strokes]; shaded: level", fontsize=8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    who = f"{first['player']}, {first['tee']} tee, {first['wind']}"
    axes.set_title(f"Hole {first['hole']}, flag at {first['pin']}: {who}", loc="left", fontsize=10)
    return figure
