"""What stands above the ground, for sight and for flight: trees, thickets, walls, houses.

One :class:`Obstacle` serves both. For a line of sight a point is an upright cylinder (the crown, from
``clear_m`` to ``height_m`` above the ground at the stem; the trunk below hides nothing that matters) and an
outline is a prism whose top, and underside where it has one, follow the ground below it. For a ball in flight
an outline or line is filled with upright cylinders, each on its own ground. What can be seen through is left
out by the caller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Floats, Surface

WALL_M = 0.3  # width of an obstacle drawn as a line without one (assumption)
POST_M = 1.0  # diameter of an obstacle drawn as a point without one (assumption)
CYLINDER_SPACING_M = (
    3.0  # widest mesh of the cylinders that fill an outline for flight; they overlap (assumption)
)
WALL_STEP_M = 0.25  # least distance of the cylinders along a line for flight (assumption)


@dataclass(frozen=True)
class Obstacle:
    """One obstacle above the ground.

    Parameters
    ----------
    geometry
        Point, line or polygon, coordinates in metres.
    height_m
        Height of the top above the ground [m].
    clear_m
        Height of the underside above the ground [m]; 0 means solid down to the ground.
    width_m
        Diameter round a point, width of a line [m]; :data:`POST_M` and :data:`WALL_M` where it is not known.
    name, layer, fid
        Name for people, survey layer and feature id there.

    Raises
    ------
    InputError
        If the underside is not at or above ground and below the top.
    """

    geometry: BaseGeometry
    height_m: float
    clear_m: float = 0.0
    width_m: float | None = None
    name: str = "obstacle"
    layer: str = ""
    fid: int | None = None

    def __post_init__(self) -> None:
        if not (np.isfinite(self.height_m) and 0 <= self.clear_m < self.height_m):
            raise InputError(
                f"{self.name} ({self.layer} {self.fid}): the underside ({self.clear_m} m) has to be at or"
                f" above ground and below the top ({self.height_m} m)"
            )

    @property
    def is_point(self) -> bool:
        """Whether it is drawn as a point."""
        return self.geometry.geom_type in ("Point", "MultiPoint")

    @property
    def width(self) -> float:
        """Diameter round a point or width of a line, given or assumed [m]."""
        return self.width_m or (POST_M if self.is_point else WALL_M)


@dataclass(frozen=True, eq=False)
class ObstacleSet:
    """Obstacles prepared for lines of sight; made by :func:`obstacle_set`.

    Row ``k`` of every array is a part of ``obstacles[k]``. ``arrays`` is what kernels take: middle ``x, y``
    and radius of a circle round each part, ``low`` and ``high`` (levels for cylinders, heights above ground
    for prisms), ``start`` and ``edges`` of the outlines.
    """

    obstacles: tuple[Obstacle, ...]
    arrays: tuple[NDArray[Any], ...]

    def __len__(self) -> int:
        return len(self.obstacles)

    def tops(self, surface: Surface, x: ArrayLike, y: ArrayLike) -> Floats:
        """Level of the highest obstacle over each point [m]; ``nan`` where nothing stands."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        top = np.full(xs.shape, np.nan)
        cx, cy, r, _, high, start, edges = self.arrays
        for k in range(len(self)):
            circle = np.hypot(xs - cx[k], ys - cy[k]) <= r[k]
            if not circle.any():
                continue
            if start[k] == start[k + 1]:
                top[circle] = np.fmax(top[circle], high[k])
                continue
            inside = _inside(edges[start[k] : start[k + 1]], xs[circle], ys[circle])
            level = np.where(inside, surface.height(xs[circle], ys[circle]) + high[k], np.nan)
            top[circle] = np.fmax(top[circle], level)
        return top


def _inside(edges: Floats, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Even-odd rule over the edges of an outline and its holes."""
    odd = np.zeros(x.shape, bool)
    for x0, y0, x1, y1 in edges:
        if y0 != y1:
            cross = (y0 > y) != (y1 > y)
            odd ^= cross & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
    return odd


def obstacle_set(obstacles: Iterable[Obstacle], surface: Surface) -> ObstacleSet:
    """Prepare obstacles for lines of sight over a surface.

    A point that stands outside the surface, or on missing ground, is left out: no line over known ground
    reaches it but by its rim. Outlines stay; a line of sight that crosses one on missing ground has no
    answer.

    Parameters
    ----------
    obstacles
        What stands on the ground.
    surface
        The ground it stands on.
    """
    parts: list[Obstacle] = []
    rows: list[tuple[float, ...]] = []
    start, edges = [0], [np.empty((0, 4))]
    for obstacle in obstacles:
        for piece in shapely.get_parts(obstacle.geometry):
            row, outline = _prism(obstacle, piece, surface)
            if row is not None:
                parts.append(obstacle)
                rows.append(row)
                edges.append(outline)
                start.append(start[-1] + len(outline))
    table = np.array(rows, float).reshape(-1, 5)
    columns = tuple(np.ascontiguousarray(table[:, c]) for c in range(5))
    return ObstacleSet(
        tuple(parts), (*columns, np.array(start, np.int64), np.ascontiguousarray(np.vstack(edges)))
    )


def _prism(obstacle: Obstacle, piece: Any, surface: Surface) -> tuple[tuple[float, ...] | None, Floats]:
    """Circle and heights of one part of an obstacle, and its outline as edges ``(n, 4)``."""
    no_outline = np.empty((0, 4))
    solid = obstacle.clear_m == 0
    if piece.is_empty:
        return None, no_outline
    if piece.geom_type == "Point":
        ground = surface.height(piece.x, piece.y)
        if not np.isfinite(ground):
            return None, no_outline
        low = -np.inf if solid else ground + obstacle.clear_m
        return (piece.x, piece.y, obstacle.width / 2, low, ground + obstacle.height_m), no_outline
    if piece.geom_type == "LineString":
        piece = piece.buffer(obstacle.width / 2, cap_style="flat", join_style="mitre")
    rings = [np.asarray(ring.coords)[:, :2] for ring in (piece.exterior, *piece.interiors)]
    outline = np.vstack([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
    west, south, east, north = piece.bounds
    x, y = (west + east) / 2, (south + north) / 2
    r = float(np.hypot(outline[:, 0] - x, outline[:, 1] - y).max()) + 1e-6
    return (x, y, r, -np.inf if solid else obstacle.clear_m, obstacle.height_m), outline


def cylinders(obstacle: Obstacle, surface: Surface) -> Floats:
    """Fill an obstacle with upright cylinders for flight, each on its own ground.

    Parts on missing ground are left out. A point gives one cylinder; an outline is filled from a mesh of
    overlapping ones, so its edge is true within about a metre; a line is followed by cylinders as wide as it.

    Returns
    -------
    ndarray
        Shape ``(n, 5)``: x, y, radius, level of underside, level of top [m].
    """
    geometry = obstacle.geometry
    radius = obstacle.width / 2.0
    if obstacle.is_point:
        points = shapely.get_coordinates(geometry)
    elif "LineString" in geometry.geom_type:
        stations = np.arange(0.0, geometry.length + radius, max(radius, WALL_STEP_M))
        points = shapely.get_coordinates(shapely.line_interpolate_point(geometry, stations))
    else:
        points, radius = _filling(geometry)
    level = np.asarray(surface.height(points[:, 0], points[:, 1]))
    known = np.isfinite(level)
    points, level = points[known], level[known]
    return np.column_stack(
        [points, np.full(len(points), radius), level + obstacle.clear_m, level + obstacle.height_m]
    )


def _filling(area: Any) -> tuple[Floats, float]:
    """Centres and radius of cylinders that cover an outline [m]."""
    west, south, east, north = area.bounds
    spacing = min(CYLINDER_SPACING_M, max(math.sqrt(area.area) / 3.0, 0.5))
    x = np.arange(west + spacing / 2.0, east + spacing, spacing)
    y = np.arange(south + spacing / 2.0, north + spacing, spacing)
    mesh = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inside = mesh[shapely.contains_xy(area, mesh[:, 0], mesh[:, 1])]
    if len(inside) == 0:
        inside = np.array(area.representative_point().coords)
    return inside, spacing / math.sqrt(2.0)
