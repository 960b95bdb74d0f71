"""Picture of a search: what margin each variant has for the earth it moves, and those that none beats."""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure

from gistools.sheets.colours import BAD, INK

TRIED, BEST, LEVEL = "#b9a88f", "#2c6e8f", BAD
SIZE_IN = (7.5, 4.6)


def trade_off_figure(tried: pd.DataFrame, trade_offs: pd.DataFrame, title: str) -> Figure:
    """Draw the variants of a search.

    Parameters
    ----------
    tried, trade_offs
        As :class:`gistools.design.search.SearchResult` has them.
    title
        Words above the picture.

    Returns
    -------
    Figure
        Earth moved [m3] across, margin up; the intention holds above the line. Numbers are those of the edit
        lists.
    """
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    axes = figure.add_subplot()
    margins = tried["margin"]
    lowest = float(trade_offs["margin"].min()) - 2.0 if len(trade_offs) else float(margins.min()) - 1.0
    shown = tried.loc[margins > lowest]
    axes.axhline(0.0, color=LEVEL, lw=0.9)
    for full, marker, words in ((False, "o", "tried, coarse mesh"), (True, "D", "played in full")):
        rows = shown[shown["full"].astype(bool) == full]
        if len(rows):
            axes.scatter(
                rows["earth_m3"].fillna(0.0), rows["margin"], s=22, color=TRIED, marker=marker, label=words
            )
    if len(trade_offs):
        earth = trade_offs["earth_m3"].fillna(0.0)
        axes.step(
            earth, trade_offs["margin"], color=BEST, where="post", lw=1.2, label="none better for its earth"
        )
        for number, (x, y) in enumerate(zip(earth, trade_offs["margin"], strict=True), 1):
            axes.annotate(
                str(number), (x, y), (4, 4), textcoords="offset points", fontsize=8, color=INK, weight="bold"
            )
    axes.set_xlabel("earth moved, cut and fill [m3]", fontsize=8)
    axes.set_ylabel("margin: the intention holds above the line", fontsize=8)
    axes.tick_params(labelsize=7)
    axes.margins(x=0.08, y=0.12)
    axes.legend(fontsize=7, frameon=False)
    axes.set_title(title, loc="left", fontsize=10, parse_math=False)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure
