"""Sections of a hole for reports: along the line of play, and from each zone to each hole location."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gistools.base.units import FOOT_M, YARD_M
from gistools.sheets.colours import BAD, EARTH, EDGE, INK, MARK, SOFT, TREE
from gistools.sheets.profiles import profiles
from gistools.sheets.results import HoleResults
from gistools.sheets.styles import SURVEY_STYLES
from gistools.site.model import Site

#: colours along the ground of what a section crosses: the plan's, darker where they would not show on earth
OVER = {layer: SURVEY_STYLES[layer].colour for layer in ("burns", "water", "tees", "paths")} | {
    "bunkers": "#e0c878",
    "greens": "#87a83f",
    "mounds": EDGE,
}
UNNAMED = ("tees", "paths")
#: level ground is drawn as if it rose by so much [m] (assumption)
LEAST_RISE_M = 1.0


def sections(site: Site, results: HoleResults, units: str = "m") -> Figure:
    """Draw the section along the longest line of play and, below, every approach with its line of sight.

    Approaches stand in rows of landing zones and columns of hole locations. All share one scale of distance
    and one of height, so that slopes can be compared by eye; how much too steep they are drawn is told.

    Parameters
    ----------
    site, results
        The site, and what its steps found on the hole.
    units
        Distances and levels in ``"m"``, or in yards and feet with ``"yd"``.

    Returns
    -------
    Figure
        A page 11 inches wide; a single line of words where the sections were not computed.
    """
    drawn = [in_units(p, units) for p in profiles(results, site)]
    lines = [p for p in drawn if p["kind"] == "line"]
    approaches = [p for p in drawn if p["kind"] == "approach"]
    zones = list(dict.fromkeys(_start(p) for p in approaches))
    pins = list(dict.fromkeys(p["pin"] for p in approaches))
    figure = Figure(figsize=(11, 2.9 + 1.25 * len(zones)), layout="constrained")
    if not lines:
        figure.text(
            0.02, 0.5, f"Hole {results.hole}: no sections ({results.why_empty('sections')})", fontsize=9
        )
        return figure
    grid = figure.add_gridspec(1 + len(zones), max(len(pins), 1), height_ratios=[2.0] + [1.0] * len(zones))
    longest = max(lines, key=lambda p: p["s"][-1])
    top = figure.add_subplot(grid[0, :])
    draw_profile(top, longest)
    top.set_xlim(0, longest["s"][-1])
    top.set_ylabel(f"level [{length_units(units)[3]}]", fontsize=8)
    if approaches:
        _approaches(figure, grid, approaches, zones, pins, units)
    figure.canvas.draw()
    title = f"Hole {results.hole}, along the line of play from the {longest['tee']} tee"
    top.set_title(
        f"{title}. Vertical exaggeration x{vertical_exaggeration(top, units):.0f}.", loc="left", fontsize=10
    )
    return figure


def _approaches(
    figure: Figure, grid: Any, approaches: list[dict[str, Any]], zones: list[str], pins: list[str], units: str
) -> None:
    far = max(p["s"][-1] for p in approaches)
    levels = [v for p in approaches for v in (*p["z"], *p["sight"], *p["top"]) if v is not None]
    low, high = min(levels), max(levels)
    room = 0.12 * (high - low)
    unit = length_units(units)[3]
    for p in approaches:
        row, column = zones.index(_start(p)), pins.index(p["pin"])
        axes = figure.add_subplot(grid[1 + row, column])
        draw_profile(axes, p, named=False)
        axes.set_xlim(0, far)
        axes.set_ylim(low - room, high + 3 * room)
        if row == 0:
            axes.set_title(f"to {p['pin']}", fontsize=8.5, loc="left")
        if column == 0:
            axes.set_ylabel(f"from\n{_start(p)}", fontsize=8, rotation=0, ha="right", va="center")
        else:
            axes.set_yticklabels([])
        if row < len(zones) - 1:
            axes.set_xticklabels([])
        blocked = p["room"] is not None and p["room"] < 0
        words = (
            ""
            if p["room"] is None
            else f"{'blocked by' if blocked else 'clear by'} {abs(p['room']):.1f} {unit}"
        )
        axes.text(
            0.98,
            0.93,
            words,
            transform=axes.transAxes,
            ha="right",
            va="top",
            fontsize=7.5,
            color=BAD if blocked else MARK,
        )


def _start(p: dict[str, Any]) -> str:
    """Where an approach starts: its zone, or the tee of a hole that has none."""
    return p["zone_at"] or f"{p['tee']} tee"


def draw_profile(axes: Axes, p: dict[str, Any], *, named: bool = True) -> None:
    """Draw ground, what stands on it, what the line crosses, and line of sight, of :func:`in_units`."""
    s, z, stands, sight = (
        np.array([np.nan if v is None else v for v in p[k]], float) for k in ("s", "z", "top", "sight")
    )
    low = float(np.nanmin(z))
    high = float(np.nanmax(np.concatenate([z, stands, sight])))
    rise = max(high - low, p["least_rise"])
    base = low - 0.25 * rise
    axes.fill_between(s, z, base - 1000.0, color=EARTH, lw=0)  # down to whatever the axes show
    axes.plot(s, z, color=EDGE, lw=0.9)
    axes.vlines(s, z, stands, color=TREE, lw=1.2)
    labels: list[float] = []
    for c in p["crossed"]:
        inside = (s > c["a"]) & (s < c["b"])
        x = np.concatenate([[c["a"]], s[inside], [c["b"]]])
        y = np.interp(x, s, z)
        axes.plot(x, y, color=OVER[c["layer"]], lw=3.0, solid_capstyle="butt")
        middle = (c["a"] + c["b"]) / 2
        if named and c["layer"] not in UNNAMED and all(abs(middle - v) > 0.06 * s[-1] for v in labels):
            labels.append(middle)
            neighbours = z[np.abs(s - middle) < 0.035 * s[-1]]
            axes.annotate(
                c["text"],
                (middle, float(np.nanmax(np.concatenate([y, neighbours])))),
                (0, 7),
                textcoords="offset points",
                parse_math=False,
                ha="center",
                fontsize=7.5,
                color=INK,
            )
    if np.isfinite(sight).any():
        blocked = p["room"] is not None and p["room"] < 0
        axes.plot(s, sight, color=BAD if blocked else MARK, lw=1.1, ls=(0, (5, 3)) if blocked else "-")
    axes.set_ylim(base, high + 0.25 * rise)
    axes.tick_params(labelsize=7, colors=SOFT, length=2)
    axes.grid(alpha=0.25, lw=0.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color("#c9c5b8")


def length_units(units: str) -> tuple[float, str, float, str]:
    """Return metres and name of the unit of distances, and of levels: metres, or yards and feet."""
    return (YARD_M, "yd", FOOT_M, "ft") if units == "yd" else (1.0, "m", 1.0, "m")


def in_units(p: dict[str, Any], units: str) -> dict[str, Any]:
    """Return a profile with its distances and levels in metres, or in yards and feet."""
    along_m, _, up_m, _ = length_units(units)
    levels = {k: [None if v is None else v / up_m for v in p[k]] for k in ("z", "top", "sight")}
    over = [c | {"a": c["a"] / along_m, "b": c["b"] / along_m} for c in p["crossed"]]
    room = None if p["room"] is None else p["room"] / up_m
    s = [v / along_m for v in p["s"]]
    return p | levels | {"s": s, "room": room, "crossed": over, "least_rise": LEAST_RISE_M / up_m}


def vertical_exaggeration(axes: Axes, units: str = "m") -> float:
    """Return how many times larger heights are drawn than distances on axes in their units."""
    along_m, _, up_m, _ = length_units(units)
    box = axes.get_window_extent()
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    return float((box.height / (y1 - y0) / up_m) / (box.width / (x1 - x0) / along_m))
