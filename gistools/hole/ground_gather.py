"""What the ground steps take from the survey layers: things above ground, names of places, meshes to look from.

Tables and outlines in, plain lists and arrays out; nothing here reads a file or knows a step.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from gistools.compute.terrain.line_of_sight import GROUND, UNKNOWN, Scene
from gistools.compute.terrain.obstacles import Obstacle, obstacle_set
from gistools.compute.terrain.surface import Floats, Surface

LIP_M = 2.5  # assumption: ground that hides and lies this near a bunker is its lip
CREST_M = 5.0  # assumption: ground that hides and lies this near a crest line is that mound
TOE_M = 1.0  # assumption: outlines of mounds are drawn to about this
CLASSES = ((80.0, "seen"), (20.0, "part seen"), (-1.0, "blind"))  # model choice


@dataclass(frozen=True)
class Tee:
    """A tee: name, centre, line of play ``(n, 2)``."""

    name: str
    place: tuple[float, float]
    line: Floats


@dataclass(frozen=True)
class Pin:
    """A hole location: name, feature id, place."""

    name: str
    fid: int | None
    place: Point


@dataclass(frozen=True, eq=False)
class Hole:
    """One hole as the ground steps see it: terrain, what is drawn, what stands above ground.

    Tees come with the longest line of play first; ``sand`` and ``water`` are areas near the hole, ``in_bounds`` the area
    in bounds or None, ``things`` what stands above ground by how trees are taken (see :data:`gistools.compute.terrain.defaults.TREES`).
    """

    number: int
    surface: Surface
    green: BaseGeometry
    green_fid: int
    stimp_ft: float
    fairway: BaseGeometry
    sand: BaseGeometry
    water: BaseGeometry
    in_bounds: BaseGeometry | None
    tees: list[Tee]
    zones: list[tuple[str, BaseGeometry]]
    pins: list[Pin]
    places: Places
    things: dict[str, list[Obstacle]]
    _scenes: dict[str, Scene] = field(default_factory=dict)

    def scene(self, trees: str = "as_drawn") -> Scene:
        """The ground with what stands on it."""
        if trees not in self._scenes:
            self._scenes[trees] = Scene(self.surface, obstacle_set(self.things[trees], self.surface))
        return self._scenes[trees]

    @property
    def line_in_deg(self) -> float:
        """Bearing of the last leg of the longest line of play."""
        dx, dy = self.tees[0].line[-1] - self.tees[0].line[-2]
        return float(np.degrees(np.arctan2(dx, dy)) % 360)


@dataclass(frozen=True)
class Named:
    """What hides something: name for people, survey layer, feature id there."""

    feature: str = ""
    layer: str = ""
    fid: int | None = None


def things_of(
    trees: Any, structures: Any, tree_names: list[str], structure_names: list[str], which: str
) -> list[Obstacle]:
    """Trees and structures as things that hide.

    ``which``: trees that are seen through as drawn, ``all`` trees as solid (full leaf), or ``none`` (bare).
    """
    things = []
    for row, name in zip(trees.itertuples(), tree_names, strict=True):
        if which == "none" or (which == "as_drawn" and bool(row.see_through)):
            continue
        things.append(
            Obstacle(
                row.geometry,
                float(row.height_m),
                float(row.clear_m),
                float(row.crown_m),
                name,
                "trees",
                row.fid,
            )
        )
    for row, name in zip(structures.itertuples(), structure_names, strict=True):
        things.append(Obstacle(row.geometry, float(row.height_m), 0.0, None, name, "structures", row.fid))
    return things


class Places:
    """Names for places on the ground, for what hides a flag.

    ``outlines`` holds shapes and what they are, in order of precedence; see :meth:`of`.
    """

    def __init__(self, outlines: list[tuple[BaseGeometry, Named]]) -> None:
        self._named = [named for _, named in outlines]
        self._tree = shapely.STRtree([shape for shape, _ in outlines])

    @classmethod
    def of(cls, tables: dict[str, Any], names: dict[str, list[str]]) -> Places:
        """Make from survey tables: a mound wins over a bunker's lip, that over green, tee and fairway."""
        outlines: list[tuple[BaseGeometry, Named]] = []
        for layer, prefix in (("mounds", ""), ("bunkers", "lip of "), ("greens", ""), ("tees", "")):
            for row, name in zip(tables[layer].itertuples(), names[layer], strict=True):
                shape = row.geometry
                if layer == "mounds":
                    shape = shape.buffer(CREST_M if shape.geom_type == "LineString" else TOE_M)
                elif layer == "bunkers":
                    shape = shape.buffer(LIP_M)
                outlines.append((shape, Named(prefix + name, layer, int(row.fid))))
        for row in tables["fairway"].itertuples():
            outlines.append((row.geometry, Named("ground, fairway", "fairway", int(row.fid))))
        return cls(outlines)

    def at(self, x: Floats, y: Floats) -> list[Named]:
        """Name the ground at each point; ground without a feature is ``ground, rough``."""
        found = [Named("ground, rough")] * len(x)
        best = np.full(len(x), len(self._named))
        point, outline = self._tree.query(shapely.points(x, y), predicate="intersects")
        np.minimum.at(best, point, outline)
        for k in np.flatnonzero(best < len(self._named)):
            found[k] = self._named[best[k]]
        return found


def what_hides(
    scene: Scene, places: Places, by: NDArray[np.int32], x: Floats, y: Floats
) -> tuple[list[Named], list[str]]:
    """Name what hides, and say why where there is no answer; ``x, y`` is the place that hides."""
    named = [Named()] * len(by)
    ground = np.flatnonzero(by == GROUND)
    for k, name in zip(ground, places.at(x[ground], y[ground]), strict=True):
        named[k] = name
    for k in np.flatnonzero(by >= 0):
        thing = scene.obstacles.obstacles[by[k]]
        named[k] = Named(thing.name, thing.layer, None if thing.fid is None else int(thing.fid))
    notes = np.where(by == UNKNOWN, "no terrain here or on the way, or too far", "")
    return named, list(notes)


def most_common(named: list[Named]) -> Named:
    """What hides most often; nothing when nothing does."""
    counted = Counter(n for n in named if n.feature)
    return counted.most_common(1)[0][0] if counted else Named()


def mesh(area: BaseGeometry, spacing_m: float) -> Floats:
    """Points of a regular mesh that lie in an area, ``(n, 2)``: crossings at whole multiples of the spacing.

    A small area that holds none gives one point well inside it.
    """
    if area.is_empty:
        return np.empty((0, 2))
    west, south, east, north = area.bounds
    x = np.arange(np.ceil(west / spacing_m), np.floor(east / spacing_m) + 1) * spacing_m
    y = np.arange(np.ceil(south / spacing_m), np.floor(north / spacing_m) + 1) * spacing_m
    points = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
    points = points[shapely.contains_xy(area, points[:, 0], points[:, 1])]
    if len(points) == 0:
        inside = area.representative_point()
        points = np.array([[inside.x, inside.y]])
    return points


def centre(area: BaseGeometry) -> tuple[float, float]:
    """Centroid of an area, or a point well inside where that lies outside a bent one."""
    middle = area.centroid
    if not area.covers(middle):
        middle = area.representative_point()
    return float(middle.x), float(middle.y)


def view_class(seen_pct: float) -> str:
    """Seen, part seen or blind, by the share of the ground seen."""
    return next((word for least, word in CLASSES if seen_pct >= least), "")


def plain(text: str) -> str:
    """A name as part of the name of a raster: small letters, digits and underscores."""
    bare = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "_", bare.lower()).strip("_") or "x"
