"""Picture of a check: expected strokes by distance beside published figures, and what is between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from gistools.base.units import YARD_M
from gistools.sheets.colours import INK, SHOT

#: one colour and mark for each line of a panel; told apart by mark and, on grey paper, by lightness too
LOOKS = (("#00467f", "o"), ("#3c6e2f", "s"), ("#b8683f", "^"), (SHOT, "D"), ("#a3262a", "v"))
LEAST_ERROR = (
    0.25  # half the height of the panel of errors [strokes]: small errors are not made to look great
)


@dataclass(frozen=True)
class Line:
    """Expected strokes of one player from one lie over distance [yd], ours.

    And published ones at some distances.

    ``published`` is empty where nothing is published.
    """

    name: str
    yards: tuple[float, ...]
    ours: tuple[float, ...]
    published_yards: tuple[float, ...] = ()
    published: tuple[float, ...] = ()

    @property
    def error(self) -> tuple[float, ...]:
        """Ours less published [strokes], at the published distances."""
        return tuple(np.interp(self.published_yards, self.yards, self.ours) - np.asarray(self.published))


@dataclass(frozen=True)
class Panel:
    """Lines drawn together: whose and from where, and the source of the published figures."""

    title: str
    source: str
    lines: tuple[Line, ...]


def strokes_by_distance(panels: Sequence[Panel]) -> Figure:
    """Draw expected strokes by distance: ours as lines, published ones as marks, the error of each below.

    Distances are in yards, as published, with metres above.
    """
    figure = Figure(figsize=(6.4 * len(panels), 8.0), layout="constrained")
    grid = figure.add_gridspec(2, len(panels), height_ratios=(3, 1))
    errors = [abs(e) for p in panels for line in p.lines for e in line.error]
    most = max((e for e in errors if np.isfinite(e)), default=0.0)
    for k, panel in enumerate(panels):
        above = figure.add_subplot(grid[0, k])
        below = figure.add_subplot(grid[1, k], sharex=above)
        _strokes(above, panel)
        _errors(below, panel, 1.15 * max(most, LEAST_ERROR))
        above.tick_params(labelbottom=False)
    return figure


def _strokes(axes: Axes, panel: Panel) -> None:
    for line, (colour, mark) in zip(panel.lines, LOOKS, strict=False):
        axes.plot(line.yards, line.ours, color=colour, lw=1.8)
        axes.plot(line.published_yards, line.published, mark, color=colour, ms=6, mfc="white", mew=1.5)
        axes.plot([], [], mark, color=colour, ls="-", lw=1.8, ms=6, mfc="white", mew=1.5, label=line.name)
    head = f"lines: this toolkit\nmarks: {panel.source}"
    axes.legend(loc="best", frameon=False, fontsize=9, title=head, title_fontsize=9, alignment="left")
    axes.set_title(panel.title, loc="left", fontsize=11)
    axes.set_ylabel("strokes to hole out, on average")
    metres = axes.secondary_xaxis("top", functions=(_metres, _yards))
    metres.set_xlabel("distance to the hole [m]")
    _plain(axes)


def _errors(axes: Axes, panel: Panel, most: float) -> None:
    axes.axhline(0.0, color=INK, lw=0.8)
    every: list[float] = []
    for line, (colour, mark) in zip(panel.lines, LOOKS, strict=False):
        axes.plot(line.published_yards, line.error, mark, color=colour, ms=5, mfc="white", mew=1.3)
        axes.vlines(line.published_yards, 0.0, line.error, color=colour, lw=0.8)
        every += line.error
    axes.set_ylim(-most, most)
    axes.set_xlabel("distance to the hole [yd]")
    axes.set_ylabel("toolkit less\npublished")
    mean, rms = float(np.nanmean(every)), float(np.sqrt(np.nanmean(np.square(every))))
    axes.set_title(f"error: mean {mean:+.2f}, rms {rms:.2f} strokes", loc="left", fontsize=9)
    _plain(axes)


def _metres(yards: ArrayLike) -> ArrayLike:
    return np.asarray(yards, float) * YARD_M


def _yards(metres: ArrayLike) -> ArrayLike:
    return np.asarray(metres, float) / YARD_M


def _plain(axes: Axes) -> None:
    axes.grid(True, lw=0.4, color="#c9cfca")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
