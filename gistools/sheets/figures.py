"""Pictures for reports: the plan of a hole on shaded ground, and a section, as matplotlib figures."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from gistools.base.errors import GistoolsError
from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import need

#: colours of the ground, dark to light by how closely it is mown; told apart by lightness as well as by hue
FILLS = {
    "fairway": ("#a9c987", 0.8),
    "tees": ("#7fa562", 0.9),
    "greens": ("#d8e8b0", 0.95),
    "water": ("#4f7ea8", 0.9),
    "bunkers": ("#e8c985", 1.0),
    "mounds": ("#00000000", 0.0),
    "structures": ("#6b5b53", 1.0),
}
INK = "#22302a"
#: rough ground from its shaded to its lit side
LAND = ("#57533f", "#a89f7d", "#efe9d6")
SUN_FROM_DEG, SUN_HEIGHT_DEG = 315.0, 40.0


def hillshade(surface: Surface, exaggerate: float = 3.0) -> np.ndarray[Any, Any]:
    """Return the share of light each cell gets from the north-west, 0 to 1 (Lambert's cosine law)."""
    gy, gx = np.gradient(surface.z, surface.cell)
    gx, gy = exaggerate * gx, -exaggerate * gy
    azimuth, height = np.radians(SUN_FROM_DEG), np.radians(SUN_HEIGHT_DEG)
    sun = (np.sin(azimuth) * np.cos(height), np.cos(azimuth) * np.cos(height), np.sin(height))
    light = (-gx * sun[0] - gy * sun[1] + sun[2]) / np.sqrt(1 + gx**2 + gy**2)
    return np.clip(light, 0, 1)


def plan(
    site: Site, hole: int, *, map_of: Map | None = None, zones: bool = True, margin_m: float = 25.0
) -> Figure:
    """Draw the plan of a hole: relief, survey layers, line of play, landing zones, pins, north and scale.

    Parameters
    ----------
    site, hole
        The site and the number of the hole.
    map_of
        A raster result to lay over the ground, for example a flag view.
    zones
        Draw the landing zones with their names.
    margin_m
        Ground shown round the hole [m].
    """
    west, south, east, north = site.hole_bounds(hole, margin_m)
    tall = (north - south) / (east - west)
    figure = Figure(figsize=(7, min(max(7 * tall, 4), 16)), layout="constrained")
    axes = figure.add_subplot()
    if site.ground is not None:
        _relief(axes, site.surface((west, south, east, north)))
    _survey(axes, site, site.hole_bounds(hole, 60.0))
    if map_of is not None:
        _overlay(figure, axes, map_of)
    if zones:
        for row in need(site, "zones", hole=hole)["zones"].itertuples():
            x, y = row.geometry.exterior.xy
            axes.plot(x, y, color=INK, lw=0.8, ls=(0, (4, 2)))
            spot = row.geometry.representative_point()
            _label(axes, spot.x, spot.y, row.zone)
    for row in need(site, "lines_of_play", hole=hole).itertuples():
        x, y = row.geometry.xy
        axes.plot(x, y, color=INK, lw=1.0)
    _pins(axes, site, hole)
    _tees(axes, site, hole)
    _furniture(axes, (west, south, east, north))
    axes.set_title(f"Hole {hole}", loc="left", fontsize=11)
    return figure


def _relief(axes: Axes, surface: Surface) -> None:
    west, south, east, north = surface.bounds
    axes.imshow(
        0.4 + 0.6 * hillshade(surface, 2.2),
        extent=(west, east, south, north),
        cmap=LinearSegmentedColormap.from_list("land", LAND),
        vmin=0,
        vmax=1,
        zorder=0,
    )


def ground(axes: Axes, site: Site, bounds: tuple[float, ...], margin_m: float = 20.0) -> None:
    """Draw relief and survey layers in a window [m] and keep the axes on it."""
    west, south, east, north = (
        v + (-margin_m if k < 2 else margin_m) for k, v in enumerate(float(b) for b in bounds)
    )
    if site.ground is not None:
        with suppress(GistoolsError):  # no terrain here: the survey alone
            _relief(axes, site.surface((west, south, east, north)))
    _survey(axes, site, (west, south, east, north))
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)


def _survey(axes: Axes, site: Site, bounds: tuple[float, float, float, float]) -> None:
    import geopandas as gpd
    from shapely.geometry import box

    view = box(*bounds)
    for name, (colour, alpha) in FILLS.items():
        table = site.layer(name)
        table = table[table.intersects(view)] if len(table) else table
        areas = table[table.geom_type == "Polygon"] if len(table) else table
        if len(areas):
            edge = "#5a4a3a" if name == "mounds" else INK
            areas.plot(
                ax=axes, facecolor=(*matplotlib.colors.to_rgb(colour[:7]), alpha), edgecolor=edge, lw=0.5
            )
    burns = site.layer("burns")
    if len(burns):
        lines = burns[burns.geom_type == "LineString"]
        water = [g.buffer(w / 2) for g, w in zip(lines.geometry, lines["width_m"], strict=True)]
        water += list(burns[burns.geom_type == "Polygon"].geometry)
        gpd.GeoSeries(water).plot(ax=axes, color=FILLS["water"][0], alpha=0.9)
    for name, dashes in (("paths", (0, (2, 1))), ("boundary", (0, (6, 2, 1, 2)))):
        for shape in site.layer(name).geometry:
            x, y = (shape.exterior if shape.geom_type == "Polygon" else shape).xy
            axes.plot(x, y, color="#4a3f35", lw=0.9, ls=dashes)
    trees = site.layer("trees")
    points = trees[trees.geom_type == "Point"] if len(trees) else trees
    if len(points):
        crowns = points.geometry.buffer(points["crown_m"].astype(float) / 2)
        crowns.plot(ax=axes, color="#3f5c43", alpha=0.8)


def _overlay(figure: Figure, axes: Axes, raster: Map) -> None:
    rows, cols = raster.values.shape
    box = (
        raster.x_west,
        raster.x_west + cols * raster.cell,
        raster.y_north - rows * raster.cell,
        raster.y_north,
    )
    image = axes.imshow(raster.values, extent=box, cmap="cividis", alpha=0.75, zorder=3)
    bar = figure.colorbar(image, ax=axes, shrink=0.5)
    bar.set_label(f"{raster.text} [{raster.unit}]" if raster.unit else raster.text, fontsize=7)


def _pins(axes: Axes, site: Site, hole: int) -> None:
    pins = site.layer("pins", hole)
    middle = pins.geometry.x.mean()
    for row in pins.itertuples():
        x, y = row.geometry.x, row.geometry.y
        axes.plot(x, y, marker="^", color="#b0413e", ms=6, mec="white", mew=0.6, zorder=7)
        left = x < middle
        axes.annotate(
            row.pin,
            (x, y),
            (-6 if left else 6, -2),
            textcoords="offset points",
            ha="right" if left else "left",
            fontsize=6.5,
            color=INK,
            zorder=7,
        )


def _tees(axes: Axes, site: Site, hole: int) -> None:
    for row in site.layer("tees", hole).itertuples():
        spot = row.geometry.centroid
        axes.annotate(
            f"{row.tee} tee",
            (row.geometry.bounds[2], spot.y),
            (4, -2),
            textcoords="offset points",
            fontsize=6.5,
            color=INK,
            zorder=7,
        )


def _label(axes: Axes, x: float, y: float, text: str) -> None:
    axes.annotate(
        text,
        (x, y),
        ha="center",
        va="center",
        fontsize=6.5,
        color=INK,
        bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.75},
        zorder=6,
    )


def _furniture(axes: Axes, bounds: tuple[float, float, float, float]) -> None:
    west, south, east, north = bounds
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal")
    axes.set(xlabel="", ylabel="")
    axes.set_xticks([])
    axes.set_yticks([])
    x, y = west + 0.05 * (east - west), south + 0.03 * (north - south)
    axes.plot([x, x + 50], [y, y], color=INK, lw=2.5, zorder=7)
    axes.annotate("50 m", (x + 25, y), (0, 4), textcoords="offset points", ha="center", fontsize=7, zorder=7)
    axes.annotate(
        "N",
        (x, y + 0.09 * (north - south)),
        (x, y + 0.04 * (north - south)),
        ha="center",
        fontsize=8,
        arrowprops={"arrowstyle": "->", "color": INK},
        zorder=7,
    )


def save(figure: Figure, path: str | Path, *, dpi: float = 150.0) -> Path:
    """Write a figure as PNG, PDF or SVG by the ending of its name; the same bytes for the same figure."""
    path = Path(path)
    metadata = (
        {"CreationDate": None} if path.suffix == ".pdf" else {"Date": None} if path.suffix == ".svg" else {}
    )
    figure.savefig(path, dpi=dpi, metadata=metadata)
    return path
