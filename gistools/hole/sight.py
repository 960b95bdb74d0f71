"""What hides a flag: trees and structures that stand on the ground, and names for places on it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from gistools.compute.terrain.line_of_sight import GROUND, UNKNOWN, Scene
from gistools.compute.terrain.obstacles import Obstacle
from gistools.compute.terrain.surface import Floats

LIP_M = 2.5  # assumption: ground that hides and lies this near a bunker is its lip
CREST_M = 5.0  # assumption: ground that hides and lies this near a crest line is that mound
TOE_M = 1.0  # assumption: outlines of mounds are drawn to about this
EDGE_M = 1e-4  # a point of a mesh so close to an edge lies on it, however coordinates are rounded
CLASSES = ((80.0, "seen"), (20.0, "part seen"), (-1.0, "blind"))  # assumption


@dataclass(frozen=True)
class Named:
    """What hides something: name for people, survey layer, feature id there."""

    feature: str = ""
    layer: str = ""
    fid: int | None = None


def things_that_hide(
    tables: Mapping[str, Any], names: Mapping[str, Sequence[str]], trees: str
) -> list[Obstacle]:
    """Return trees and structures as things that hide; ``trees`` is the setting ``trees_hide``."""
    obstacles = []
    for row, name in zip(tables["trees"].itertuples(), names["trees"], strict=True):
        if trees == "none" or (trees == "as_drawn" and bool(row.see_through)):
            continue
        height, clear, crown = float(row.height_m), float(row.clear_m), float(row.crown_m)
        obstacles.append(Obstacle(row.geometry, height, clear, crown, name, "trees", row.fid))
    for row, name in zip(tables["structures"].itertuples(), names["structures"], strict=True):
        obstacles.append(Obstacle(row.geometry, float(row.height_m), 0.0, None, name, "structures", row.fid))
    return obstacles


class Places:
    """Names for places on the ground.

    Of outlines that overlap a mound, surveyed or shaped, wins over a bunker's lip, that over green, tee and
    fairway.

    Parameters
    ----------
    tables
        Survey layers ``mounds``, ``bunkers``, ``greens``, ``tees`` and ``fairway`` near a hole, and
        ``shapes`` that are mounds where the ground is the proposed one.
    names
        Names of their features.
    """

    def __init__(self, tables: Mapping[str, Any], names: Mapping[str, Sequence[str]]) -> None:
        outlines: list[BaseGeometry] = []
        self._named: list[Named] = []
        prefixes = {"mounds": "", "shapes": "", "bunkers": "lip of ", "greens": "", "tees": ""}
        for layer in (name for name in prefixes if name in tables):
            for row, name in zip(tables[layer].itertuples(), names[layer], strict=True):
                shape = row.geometry
                if layer in ("mounds", "shapes"):
                    shape = shape.buffer(CREST_M if shape.geom_type == "LineString" else TOE_M)
                elif layer == "bunkers":
                    shape = shape.buffer(LIP_M)
                outlines.append(shape)
                self._named.append(Named(prefixes[layer] + name, layer, int(row.fid)))
        for row in tables["fairway"].itertuples():
            outlines.append(row.geometry)
            self._named.append(Named("ground, fairway", "fairway", int(row.fid)))
        self._tree = shapely.STRtree(outlines)

    def mounds_on(self, start: Sequence[float], end: Sequence[float]) -> list[str]:
        """Name the mounds that a straight line crosses, nearest to its start first."""
        line = shapely.LineString([start, end])
        crossed = [
            k for k in self._tree.query(line, "intersects") if self._named[k].layer in ("mounds", "shapes")
        ]
        outlines = self._tree.geometries
        crossed.sort(key=lambda k: outlines[k].distance(shapely.Point(start)))
        return list(dict.fromkeys(self._named[k].feature for k in crossed))

    def at(self, x: Floats, y: Floats) -> list[Named]:
        """Name the ground at each point; ground without a feature is ``ground, rough``."""
        names = [Named("ground, rough")] * len(x)
        best = np.full(len(x), len(self._named))
        point, outline = self._tree.query(shapely.points(x, y), predicate="intersects")
        np.minimum.at(best, point, outline)
        for k in np.flatnonzero(best < len(self._named)):
            names[k] = self._named[best[k]]
        return names


def what_hides(
    scene: Scene, places: Places, by: NDArray[np.int32], x: Floats, y: Floats
) -> tuple[list[Named], list[str]]:
    """Name what hides, and say why where there is no answer; ``x, y`` is the place that hides."""
    named = [Named()] * len(by)
    ground = np.flatnonzero(by == GROUND)
    for k, name in zip(ground, places.at(x[ground], y[ground]), strict=True):
        named[k] = name
    for k in np.flatnonzero(by >= 0):
        obstacle = scene.obstacles.obstacles[by[k]]
        named[k] = Named(obstacle.name, obstacle.layer, None if obstacle.fid is None else int(obstacle.fid))
    notes = np.where(by == UNKNOWN, "no terrain here or on the way, or too far", "")
    return named, list(notes)


def most_common(named: list[Named]) -> Named:
    """Return what hides most often; nothing when nothing does."""
    counted = Counter(n for n in named if n.feature)
    return counted.most_common(1)[0][0] if counted else Named()


def mesh(
    area: BaseGeometry, spacing_m: float, origin: tuple[float, float] = (0.0, 0.0), bearing_deg: float = 0.0
) -> Floats:
    """Return points of a regular mesh that lie in an area or on its edge, ``(n, 2)``.

    One of its points is ``origin``, one of its axes has the bearing given: with those of a hole
    (:meth:`gistools.hole.model.HoleModel.mesh`) the points move and turn with it. A small area that holds
    none gives one point well inside it.
    """
    if area.is_empty:
        return np.empty((0, 2))
    turn = np.radians(bearing_deg)
    right, ahead = np.array([np.cos(turn), -np.sin(turn)]), np.array([np.sin(turn), np.cos(turn)])
    corners = shapely.get_coordinates(area) - origin
    low, high = (
        np.array([edge(corners @ axis) for axis in (right, ahead)]) / spacing_m for edge in (np.min, np.max)
    )
    across, along = (
        np.arange(np.floor(a + EDGE_M), np.ceil(b - EDGE_M) + 1) * spacing_m
        for a, b in zip(low, high, strict=True)
    )
    steps = np.stack(np.meshgrid(across, along), -1).reshape(-1, 2)
    points: Floats = np.asarray(origin) + steps[:, :1] * right + steps[:, 1:] * ahead
    shapely.prepare(area)
    points = points[shapely.dwithin(area, shapely.points(points), EDGE_M)]
    if len(points) == 0:
        inside = area.representative_point()
        points = np.array([[inside.x, inside.y]])
    return points


def centre(area: BaseGeometry) -> tuple[float, float]:
    """Return the centroid of an area, or a point well inside where that lies outside a bent one."""
    middle = area.centroid
    if not area.covers(middle):
        middle = area.representative_point()
    return float(middle.x), float(middle.y)


def view_class(seen_pct: float) -> str:
    """Return seen, part seen or blind, by the share of the ground seen."""
    return next((word for least, word in CLASSES if seen_pct >= least), "")
