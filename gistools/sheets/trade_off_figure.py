"""Picture of a search: what margin each variant has for the earth it moves, and those that none beats."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from gistools.base.units import YARD_M
from gistools.design.search_result import MOWABLE_PCT
from gistools.sheets.colours import BAD, INK

TRIED, BEST, LEVEL = "#b9a88f", "#2c6e8f", BAD
SIZE_IN = (7.5, 4.6)


def trade_off_figure(tried: pd.DataFrame, trade_offs: pd.DataFrame, title: str, units: str = "m") -> Figure:
    """Draw the variants of a search.

    Parameters
    ----------
    tried, trade_offs
        As :class:`gistools.design.search.SearchResult` has them.
    title
        Words above the picture.
    units
        Earth in cubic ``"m"`` or ``"yd"``.

    Returns
    -------
    Figure
        Earth moved across, margin up; the intention holds above the line. Numbers are those of the edit
        lists. Those with slopes that cannot be mown have a square; where a short player was named, colour
        says by how much more the variant costs them.
    """
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    axes = figure.add_subplot()
    cubic = YARD_M**3 if units == "yd" else 1.0
    tried, trade_offs = (t.assign(earth_m3=t["earth_m3"] / cubic) for t in (tried, trade_offs))
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
        earth, short = trade_offs["earth_m3"].fillna(0.0), trade_offs["short_player_strokes"]
        steep = (trade_offs["steepest_pct"] > MOWABLE_PCT).to_numpy()
        most = max(float(short.abs().max()), 0.01) if short.notna().any() else None
        for too_steep, marker in ((False, "o"), (True, "s")):
            here = np.flatnonzero(steep == too_steep)
            if not len(here):
                continue
            how: dict[str, Any] = {"color": BEST}
            if most is not None:
                how = {
                    "c": short.iloc[here],
                    "cmap": "RdBu_r",
                    "vmin": -most,
                    "vmax": most,
                    "edgecolors": INK,
                }
            words = f"beaten by none{', too steep to mow' if too_steep else ''}"
            margins_here = trade_offs["margin"].iloc[here]
            axes.scatter(earth.iloc[here], margins_here, s=46, marker=marker, label=words, **how)
        if most is not None:
            bar = figure.colorbar(ScalarMappable(Normalize(-most, most), "RdBu_r"), ax=axes, pad=0.01)
            bar.set_label("dearer for the short player than for the player [strokes]", fontsize=7)
            bar.ax.tick_params(labelsize=7)
        for number, (x, y) in enumerate(zip(earth, trade_offs["margin"], strict=True), 1):
            axes.annotate(
                str(number), (x, y), (4, 4), textcoords="offset points", fontsize=8, color=INK, weight="bold"
            )
    axes.set_xlabel(f"earth moved, cut and fill [{units}3]", fontsize=8)
    axes.set_ylabel("margin: the intention holds above the line", fontsize=8)
    axes.tick_params(labelsize=7)
    axes.margins(x=0.08, y=0.12)
    axes.legend(fontsize=7, frameon=False)
    axes.set_title(title, loc="left", fontsize=10, parse_math=False)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure
