"""Pictures for reports: the plan of a hole on shaded ground, and a section, as matplotlib figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.colors import LinearSegmentedColormap, to_rgba
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import GistoolsError
from gistools.compute.terrain.surface import Surface
from gistools.sheets.colours import INK, PIN
from gistools.sheets.plan import survey_shapes
from gistools.sheets.rasters import hillshade
from gistools.sheets.styles import SURVEY_STYLES
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import need

#: rough ground from its shaded to its lit side
LAND = ("#57533f", "#a89f7d", "#efe9d6")


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
        draw_relief(axes, site.surface((west, south, east, north)))
    draw_survey(axes, site, site.hole_bounds(hole, 60.0))
    if map_of is not None:
        _overlay(figure, axes, map_of)
    if zones:
        for row in need(site, "zones", hole=hole)["zones"].itertuples():
            x, y = row.geometry.exterior.xy
            axes.plot(x, y, color=INK, lw=0.8, ls=(0, (4, 2)))
            spot = row.geometry.representative_point()
            draw_label(axes, spot.x, spot.y, row.zone)
    for row in need(site, "lines_of_play", hole=hole).itertuples():
        x, y = row.geometry.xy
        axes.plot(x, y, color=INK, lw=1.0)
    draw_pins(axes, site, hole)
    _tees(axes, site, hole)
    draw_furniture(axes, (west, south, east, north))
    axes.set_title(f"Hole {hole}", loc="left", fontsize=11)
    return figure


def draw_relief(axes: Axes, surface: Surface) -> None:
    """Draw shaded ground."""
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
            draw_relief(axes, site.surface((west, south, east, north)))
    draw_survey(axes, site, (west, south, east, north))
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)


def draw_survey(
    axes: Axes,
    site: Site,
    bounds: tuple[float, float, float, float],
    turn: Callable[[BaseGeometry], BaseGeometry] = shapely.force_2d,
    fill: float = 1.0,
) -> list[str]:
    """Draw the survey layers within bounds, as the page's plan has them, and return their names.

    ``turn`` lays a shape on the page, whose bounds are given; ``fill`` times the opacity of areas.
    """
    drawn = []
    for order, (layer, _, seen) in enumerate(survey_shapes(site, box(*bounds), turn)):
        _draw_shapes(axes, [shape for _, shape in seen], *survey_colours(layer, fill), 1 + 0.05 * order)
        drawn.append(layer)
    return drawn


def _draw_shapes(
    axes: Axes, shapes: Sequence[BaseGeometry], face: Any, edge: str, dashes: Any, above: float
) -> None:
    """Draw areas, holes in them left open, and lines."""
    polygons, lines = [], []
    for part in (part for shape in shapes for part in shapely.get_parts(shape)):
        if part.geom_type == "Polygon":
            rings = [np.asarray(r.coords)[:, :2] for r in (part.exterior, *part.interiors)]
            polygons.append(Outline.make_compound_path(*(Outline(ring, closed=True) for ring in rings)))
        elif part.geom_type == "LineString":
            lines.append(np.asarray(part.coords)[:, :2])
    style = {"linewidths": 0.6, "linestyles": dashes, "zorder": above}
    if polygons:
        areas = PathCollection(polygons, facecolors=[face], edgecolors=[edge], **style)
        areas.set_transform(axes.transData)
        axes.add_collection(areas, autolim=False)
    if lines:
        axes.add_collection(LineCollection(lines, colors=[edge], **style), autolim=False)


def survey_colours(layer: str, fill: float = 1.0) -> tuple[Any, Any, Any]:
    """Return fill, outline and dashes of a survey layer for matplotlib; ``fill`` times its opacity."""
    style = SURVEY_STYLES[layer]
    face = to_rgba(style.colour, style.fill_opacity * fill) if style.fill_opacity else "none"
    edge = style.edge or ("none" if style.fill_opacity else style.colour)
    return face, edge, "--" if style.dashed else "-"


def _overlay(figure: Figure, axes: Axes, raster: Map) -> None:
    rows, cols = raster.values.shape
    extent = (
        raster.x_west,
        raster.x_west + cols * raster.cell,
        raster.y_north - rows * raster.cell,
        raster.y_north,
    )
    image = axes.imshow(raster.values, extent=extent, cmap="cividis", alpha=0.75, zorder=3)
    bar = figure.colorbar(image, ax=axes, shrink=0.5)
    bar.set_label(f"{raster.text} [{raster.unit}]" if raster.unit else raster.text, fontsize=7)


def draw_pins(axes: Axes, site: Site, hole: int) -> None:
    """Draw the hole locations with their names."""
    pins = site.layer("pins", hole)
    middle = pins.geometry.x.mean()
    for row in pins.itertuples():
        x, y = row.geometry.x, row.geometry.y
        axes.plot(x, y, marker="^", color=PIN, ms=6, mec="white", mew=0.6, zorder=7)
        left = x < middle
        axes.annotate(
            row.pin,
            (x, y),
            (-6 if left else 6, -2),
            textcoords="offset points",
            parse_math=False,
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
            parse_math=False,
            fontsize=6.5,
            color=INK,
            zorder=7,
        )


def draw_label(axes: Axes, x: float, y: float, text: str) -> None:
    """Write a word in a white box."""
    axes.annotate(
        text,
        (x, y),
        parse_math=False,
        ha="center",
        va="center",
        fontsize=6.5,
        color=INK,
        bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.75},
        zorder=6,
    )


def draw_furniture(axes: Axes, bounds: tuple[float, float, float, float]) -> None:
    """Set the axes to bounds [m]; draw a bar of 50 m and a north arrow."""
    west, south, east, north = bounds
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal")
    axes.set(xlabel="", ylabel="")
    axes.set_xticks([])
    axes.set_yticks([])
    x, y = west + 0.05 * (east - west), south + 0.03 * (north - south)
    axes.plot([x, x + 50], [y, y], color=INK, lw=2.5, zorder=7)
    axes.annotate(
        "50 m",
        (x + 25, y),
        (0, 4),
        textcoords="offset points",
        parse_math=False,
        ha="center",
        fontsize=7,
        zorder=7,
    )
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
