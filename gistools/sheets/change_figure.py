"""Picture of a change: a flag's view before, after, and what differs, with the ground that moved."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.base.grid import Grid
from gistools.design.compare import both_surfaces, compare, ground_rows
from gistools.sheets.colours import INK
from gistools.sheets.figures import draw_furniture, draw_label, draw_pins, draw_relief, draw_survey
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import need

SEEN = "cividis"  # even steps of lightness (Nunez et al. 2018, PLOS ONE 13(7))
DIFFERS = "PuOr"  # two hues that colour-blind readers tell apart
LEAST_RANGE_PCT = 20.0  # a change is not made to look greater than it is
MARGIN_M = 15.0
VEIL = 0.6


def change(before: Site, after: Site, hole: int, *, pin: str | None = None) -> Figure:
    """Draw what a change does to the view of a flag.

    Before, after, and the difference with the ground that moved.

    Parameters
    ----------
    before, after
        Two sites on one grid, see :func:`gistools.design.vary.compare`.
    hole
        Number of the hole.
    pin
        Hole location to draw; by default the one whose view changes most from the landing zones.

    Raises
    ------
    InputError
        If the hole has no such pin.
    """
    views = [need(s, "flag_views", hole=hole) for s in (before, after)]
    pin = _pin(before, after, hole, pin)
    maps = [_map_of(v, pin) for v in views]
    shares = [maps[0].values, _on_cells_of(maps[1], maps[0])]
    west, south, east, north = before.hole_bounds(hole, MARGIN_M)
    tall = (north - south) / (east - west)
    figure = Figure(figsize=(13, min(max(13 / 3 * tall + 1.4, 4), 15)), layout="constrained")
    panels = figure.subplots(1, 3)
    for axes, site, title in zip(
        panels, (before, after, after), ("before", "after", "difference"), strict=True
    ):
        draw_relief(axes, site.surface((west, south, east, north)))
        draw_survey(axes, site, (west, south, east, north))
        axes.set_title(title, loc="left", fontsize=10)
    images = [
        _lay(axes, maps[0], share, SEEN, 0.0, 100.0) for axes, share in zip(panels, shares, strict=False)
    ]
    # pale ground below the difference: the green of a fairway would mix with its colours
    panels[2].axhspan(south, north, color="white", alpha=VEIL, lw=0, zorder=2)
    differs = np.where(np.abs(shares[1] - shares[0]) < 0.5, np.nan, shares[1] - shares[0])
    most = max(float(np.nanmax(np.abs(differs), initial=0.0)), LEAST_RANGE_PCT)
    images.append(_lay(panels[2], maps[0], differs, DIFFERS, -most, most))
    _bar(figure, images[1], list(panels[:2]), "share of the flagstick seen [%]")
    _bar(figure, images[2], [panels[2]], "change of that share [percentage points]")
    _moved(panels[2], before, after, hole)
    _zones(panels, before, after, hole, pin)
    for axes, site in zip(panels, (before, after, after), strict=True):
        draw_pins(axes, site, hole)
        draw_furniture(axes, (west, south, east, north))
    figure.suptitle(
        f"Hole {hole}, flag at {pin}: {_told(before, after, hole)}", fontsize=12, x=0.01, ha="left"
    )
    return figure


def _pin(before: Site, after: Site, hole: int, pin: str | None) -> str:
    known = [str(p) for p in need(before, "flag_views", hole=hole)["flag_views"]["pin"].unique()]
    if pin is None:
        changed = compare(before, after, ["zone_views.flag_seen_mean_pct"], hole=hole)
        if not len(changed):
            return known[0]
        return str(changed.groupby("pin")["change"].apply(lambda c: c.abs().mean()).idxmax())
    if pin not in known:
        raise InputError(f"hole {hole} has no pin {pin!r}; it has {', '.join(known)}")
    return pin


def _map_of(views: Any, pin: str) -> Map:
    return next(m for m in views.values() if isinstance(m, Map) and m.text.endswith(f"hole location {pin}"))


def _on_cells_of(other: Map, like: Map) -> NDArray[np.float32]:
    """Values of a map at the middle of the cells of another; nan outside."""
    grid, cells = (Grid(m.x_west, m.y_north, m.cell, m.values.shape) for m in (other, like))
    return grid.sample(other.values, *cells.mesh(), outside=np.float32(np.nan))


def _lay(axes: Axes, grid: Map, values: NDArray[Any], colours: str, low: float, high: float) -> Any:
    rows, cols = grid.values.shape
    box = (grid.x_west, grid.x_west + cols * grid.cell, grid.y_north - rows * grid.cell, grid.y_north)
    return axes.imshow(values, extent=box, cmap=colours, vmin=low, vmax=high, alpha=0.75, zorder=3)


def _bar(figure: Figure, image: Any, panels: list[Axes], label: str) -> None:
    bar = figure.colorbar(image, ax=panels, orientation="horizontal", shrink=0.6, pad=0.01, aspect=30)
    bar.set_label(label, fontsize=8)
    bar.ax.tick_params(labelsize=7)


def _moved(axes: Axes, before: Site, after: Site, hole: int) -> None:
    """Contours of the change of height, with the greatest written."""
    if before.ground is None or after.ground is None:
        return
    first, second = both_surfaces(before, after, hole)
    rise = second.z - first.z
    most = float(np.nanmax(np.abs(rise), initial=0.0))
    if most <= 0.0:
        return
    x, y = first.centres()
    steps = most * np.array([-0.75, -0.5, -0.25, -0.02, 0.02, 0.25, 0.5, 0.75])
    axes.contour(x, y, rise, levels=steps, colors=INK, linewidths=0.6, zorder=5)
    i, j = np.unravel_index(int(np.nanargmax(np.abs(rise))), rise.shape)
    axes.annotate(
        f"{rise[i, j]:+.1f} m",
        (x[j], y[i]),
        (18, 14),
        textcoords="offset points",
        fontsize=7,
        color=INK,
        zorder=8,
        arrowprops={"arrowstyle": "-", "color": INK, "lw": 0.6},
        bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.85},
    )


def _zones(panels: Any, before: Site, after: Site, hole: int, pin: str) -> None:
    """Outlines of the zones with the mean share seen from each; in the last panel before and after."""
    seen = []
    for site in (before, after):
        rows = need(site, "flag_views", hole=hole)["zone_views"]
        rows = rows[rows["pin"] == pin]
        seen.append(dict(zip(rows["zone"], rows["flag_seen_mean_pct"], strict=True)))
    for axes, site, number in zip(panels, (before, after, after), range(3), strict=True):
        for row in need(site, "zones", hole=hole)["zones"].itertuples():
            axes.plot(*row.geometry.exterior.xy, color=INK, lw=0.8, ls=(0, (4, 2)), zorder=5)
            spot = row.geometry.representative_point()
            figures = [f"{s[row.zone]:.0f}" if row.zone in s else "-" for s in seen]
            label = f"{figures[number]} %" if number < 2 else f"{figures[0]} to {figures[1]} %"
            draw_label(axes, spot.x, spot.y, f"{row.zone}\n{label}")


def _told(before: Site, after: Site, hole: int) -> str:
    if before.ground is None or after.ground is None:
        return "ground not compared"
    rows = ground_rows(before, after, hole)
    if not len(rows):
        return "the ground stays as it is"
    figures = rows.set_index("measure")["after"]
    parts = [
        f"{name} {figures[f'ground.{name}_m3']:.0f} m³"
        for name in ("fill", "cut")
        if f"ground.{name}_m3" in figures
    ]
    if "ground.steepest_pct" in figures:
        parts.append(f"slopes up to {figures['ground.steepest_pct']:.0f} %")
    return ", ".join(parts)
