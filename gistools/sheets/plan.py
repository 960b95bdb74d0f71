"""The drawn ground of a hole as SVG: what the surveyor measured, under everything the page lays over it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import GistoolsError
from gistools.base.units import FOOT_M
from gistools.compute.terrain.contours import contour_lines
from gistools.compute.terrain.surface import Floats, Surface
from gistools.sheets.frame import Frame, along, svg_path
from gistools.sheets.rasters import Picture, relief
from gistools.sheets.results import HoleResults
from gistools.site.model import Site, names

MARGIN_M = 22.0
INSET_MARGIN_M = 14.0
#: heights between contours in metres or feet, and how many of them a view bears
INTERVALS = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0)
MOST_CONTOURS = 16
#: contours beyond a green and so much ground round it [m] are so many times as far apart as on it
NEAR_M, FARTHER = 2.0, 5
SIMPLE_M = 0.15
#: survey layers that stay clear of the relief and of maps laid over the ground
ABOVE = ("water", "burns", "bunkers", "paths", "structures", "trees")
#: survey layers from the bottom up, and what each is called in the key
GROUND = (
    ("boundary", "edge of the course"),
    ("fairway", "fairway"),
    ("mounds", "mound"),
    ("tees", "tee"),
    ("greens", "green"),
    ("water", "water"),
    ("burns", "burn"),
    ("bunkers", "bunker"),
    ("paths", "path"),
    ("structures", "structure"),
    ("trees", "tree"),
)


@dataclass(frozen=True)
class Shape:
    """A survey feature on the page: SVG path data, its name, and whether it belongs to another hole."""

    path: str
    title: str
    other_hole: bool


@dataclass(frozen=True)
class Contours:
    """Contours on the page: their interval [m], path data of the lines and of every fifth one.

    ``beyond_m`` is the interval away from a green.
    """

    interval_m: float
    lines: str
    index_lines: str
    beyond_m: float


@dataclass(frozen=True)
class Inset:
    """The green drawn large: its view as for the plan, and its own contours."""

    view: tuple[float, float, float, float]
    contours: Contours | None


@dataclass(frozen=True)
class Plan:
    """The ground of a hole on the page.

    ``view`` is west, north, east and south in page metres. ``below`` and ``above`` hold the survey layers
    under and over the relief; ``key`` pairs each layer with its words. ``relief_up`` is lit for a page on
    which play runs up.
    """

    frame: Frame
    view: tuple[float, float, float, float]
    below: list[tuple[str, list[Shape]]]
    above: list[tuple[str, list[Shape]]]
    relief: Picture | None
    relief_up: Picture | None
    contours: Contours | None
    inset: Inset
    key: list[tuple[str, str]]
    summary: str


def draw(site: Site, hole: int, results: HoleResults, units: str = "m") -> Plan:
    """Draw the survey layers of a hole and its neighbours inside the view.

    Contours are at round levels of metres, or of feet where ``units`` is ``"yd"``.
    """
    unit_m = FOOT_M if units == "yd" else 1.0
    frame = frame_of(site, hole, results)
    view = _view(site, hole, frame)
    every = survey_shapes(site, box(*view), lambda shape: frame.turn(shape).simplify(SIMPLE_M))
    drawn = {layer: shapes for layer, _, seen in every if (shapes := _shapes(layer, seen, hole))}
    ground = _ground(site, frame, view)
    return Plan(
        frame,
        view,
        [(layer, shapes) for layer, shapes in drawn.items() if layer not in ABOVE],
        [(layer, shapes) for layer, shapes in drawn.items() if layer in ABOVE],
        None if ground is None else relief(ground, frame),
        None if ground is None else relief(ground, frame, up=True),
        None if ground is None else _contours(ground, frame, view, unit_m),
        _inset(site, hole, frame, unit_m),
        [(layer, words) for layer, words in GROUND if layer in drawn],
        _summary(site, hole),
    )


def frame_of(site: Site, hole: int, results: HoleResults) -> Frame:
    """Return the frame of the longest line of play, or of tee to green where there is none."""
    lines = [g for g in results.table("lines_of_play").get("geometry", ()) if g is not None]
    longest = max(lines, key=lambda g: g.length, default=None)
    if longest is None or longest.geom_type != "LineString":
        green = shapely.union_all(list(site.layer("greens", hole).geometry)).centroid
        tees = [g.centroid for g in site.layer("tees", hole).geometry]
        start = max(tees, key=green.distance, default=green)
        longest = LineString([start, green])
    return along(longest)


def _view(site: Site, hole: int, frame: Frame) -> tuple[float, float, float, float]:
    shapes = [
        frame.turn(g)
        for name in ("tees", "fairway", "greens", "pins", "play_lines")
        for g in site.layer(name, hole).geometry
        if g is not None and not g.is_empty
    ]
    west, north, east, south = shapely.union_all(shapes).bounds
    return (
        float(west - MARGIN_M),
        float(north - MARGIN_M),
        float(east + MARGIN_M),
        float(south + MARGIN_M),
    )


def survey_shapes(
    site: Site, window: BaseGeometry, turn: Callable[[BaseGeometry], BaseGeometry] = shapely.force_2d
) -> Iterator[tuple[str, str, list[tuple[dict[str, Any], BaseGeometry]]]]:
    """Yield the survey layers seen in a window from the bottom up: name, words, and rows with their shapes.

    ``turn`` lays a shape on the page; the window is one of the page.
    """
    for layer, words in GROUND:
        seen = []
        for row in site.layer(layer).to_dict("records"):
            shape = on_ground(layer, row)
            if shape is None or shape.is_empty:
                continue
            turned = shapely.make_valid(turn(shape))
            if layer == "boundary" and turned.geom_type in ("Polygon", "MultiPolygon"):
                turned = turned.boundary
            inside = shapely.intersection(turned, window)
            if not inside.is_empty:
                seen.append((row, inside))
        if seen:
            yield layer, words, seen


def _shapes(layer: str, seen: list[tuple[dict[str, Any], BaseGeometry]], hole: int) -> list[Shape]:
    shapes = []
    for row, shape in seen:
        path = svg_path(shape)
        if path:
            other_hole = "hole" in row and row["hole"] == row["hole"] and int(row["hole"]) != hole
            shapes.append(Shape(path, _called(layer, row), other_hole))
    return shapes


def on_ground(layer: str, row: dict[str, Any]) -> BaseGeometry | None:
    """Return the area a survey feature covers, where it is drawn as a point or line with a width."""
    shape: BaseGeometry | None = row["geometry"]
    if shape is None:
        return None
    if layer == "trees" and shape.geom_type == "Point":
        return shape.buffer(float(row["crown_m"]) / 2, quad_segs=6)
    if layer in ("tees", "structures") and shape.geom_type == "Point":
        return shape.buffer(2.0, quad_segs=6)
    if layer in ("burns", "paths") and shape.geom_type.endswith("LineString"):
        return shape.buffer(float(row["width_m"]) / 2, cap_style="flat", quad_segs=4)
    return shape


def _called(layer: str, row: dict[str, Any]) -> str:
    words = dict(GROUND)[layer]
    name = names([row.get("name") or row.get("tee")])[0]
    if not name:
        return f"{words} {row['fid']}"
    return name if words in name.lower() else f"{name} ({words})"


def _ground(site: Site, frame: Frame, view: tuple[float, float, float, float]) -> Surface | None:
    """Return the terrain under a view, None where there is none."""
    if site.ground is None:
        return None
    corners = [(view[0], view[1]), (view[2], view[1]), (view[2], view[3]), (view[0], view[3])]
    sin, cos = frame.sin_cos
    world = Polygon([(frame.east + x * sin + y * cos, frame.north + x * cos - y * sin) for x, y in corners])
    try:
        return site.surface(world.bounds)
    except GistoolsError:
        return None


def interval_for(heights: Floats, most: int, unit_m: float = 1.0) -> float:
    """Return the interval of :data:`INTERVALS` that gives no more contours than ``most``, in the unit."""
    heights = heights[np.isfinite(heights)]
    low, high = np.percentile(heights, (2, 98)) if len(heights) else (0.0, 0.0)
    return next((i for i in INTERVALS if (high - low) / unit_m / i <= most), INTERVALS[-1])


def _contours(
    ground: Surface, frame: Frame, view: tuple[float, float, float, float], unit_m: float, on: Any = None
) -> Contours | None:
    """Return the contours inside a view, at the interval that gives some dozen of them.

    With ``on``, an area, of them on it; beyond NEAR_M round it they are FARTHER times as far apart.
    """
    heights = ground.z if on is None else ground.z[shapely.contains_xy(on, *ground.grid.mesh())]
    if not np.isfinite(heights).any():
        return None
    interval_m = unit_m * interval_for(heights, MOST_CONTOURS, unit_m)
    paths = {True: "", False: ""}
    window = box(*view)
    parts = [(window, interval_m)]
    if on is not None:
        around = frame.turn(shapely.buffer(on, NEAR_M))
        parts = [(window & around, interval_m), (window - around, FARTHER * interval_m)]
    for part, apart_m in parts:
        for level, line in contour_lines(ground, interval_m=apart_m, tolerance_m=SIMPLE_M):
            inside = shapely.intersection(frame.turn(line), part)
            paths[round(level / apart_m) % 5 == 0] += svg_path(inside)
    return Contours(interval_m, paths[False], paths[True], parts[-1][1])


def _inset(site: Site, hole: int, frame: Frame, unit_m: float) -> Inset:
    """Return the view of the green with a margin, and its contours."""
    green = shapely.union_all(list(site.layer("greens", hole).geometry))
    west, north, east, south = (float(v) for v in frame.turn(green).bounds)
    m = INSET_MARGIN_M
    view = (west - m, north - m, east + m, south + m)
    ground = _ground(site, frame, view)
    return Inset(view, None if ground is None else _contours(ground, frame, view, unit_m, green))


def _summary(site: Site, hole: int) -> str:
    counts = []
    for layer, one, many in (
        ("tees", "tee", "tees"),
        ("bunkers", "bunker", "bunkers"),
        ("burns", "burn", "burns"),
        ("pins", "hole location", "hole locations"),
    ):
        n = len(site.layer(layer, hole))
        if n:
            counts.append(f"{n} {one if n == 1 else many}")
    return f"Plan of hole {hole}: {', '.join(counts) or 'no features'}."
