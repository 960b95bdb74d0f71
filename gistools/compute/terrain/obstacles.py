"""Things that stand above the ground and hide what is behind them: trees, thickets, walls, houses.

A tree drawn as a point is an upright cylinder: its crown, from ``clear_m`` to ``height_m`` above the ground at the
stem (the trunk below is left out, it hides nothing that matters; with ``clear_m`` 0 the crown reaches the ground).
Everything drawn as an outline is a prism whose top, and underside where it has one, follow the ground below it.
What can be seen through is left out by the caller.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Floats, Surface

#: width given to a wall drawn as a line, and radius to a structure drawn as a point [m]: assumption
WALL_WIDTH_M = 0.3
POST_RADIUS_M = 0.5


@dataclass(frozen=True)
class Thing:
    """One thing above the ground.

    Parameters
    ----------
    geometry
        Point, line or polygon, coordinates in metres.
    height_m
        Height of the top above the ground [m].
    clear_m
        Height of the underside above the ground [m]; 0 means solid down to the ground.
    width_m
        Diameter round a point, width of a line [m].
    name, layer, fid
        What to call it, the survey layer it is in and its feature id there.
    """

    geometry: BaseGeometry
    height_m: float
    clear_m: float = 0.0
    width_m: float | None = None
    name: str = "thing"
    layer: str = ""
    fid: int | None = None


@dataclass(frozen=True, eq=False)
class Obstacles:
    """Things prepared for lines of sight; made by :func:`obstacles`. Row ``k`` of every array is ``parts[k]``.

    ``arrays`` is what kernels take: middle ``x, y`` and radius ``r`` of a circle round each part, ``low`` and
    ``high`` (levels for cylinders, heights above ground for prisms), ``start`` and ``edges`` of the outlines.
    """

    parts: tuple[Thing, ...]
    arrays: tuple[NDArray[Any], ...]

    def __len__(self) -> int:
        return len(self.parts)

    def tops(self, surface: Surface, x: ArrayLike, y: ArrayLike) -> Floats:
        """Level of the highest thing over each point [m]; ``nan`` where nothing stands."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        best = np.full(xs.shape, np.nan)
        cx, cy, r, _, high, start, edges = self.arrays
        for k in range(len(self)):
            near = np.hypot(xs - cx[k], ys - cy[k]) <= r[k]
            if not near.any():
                continue
            if start[k] == start[k + 1]:
                best[near] = np.fmax(best[near], high[k])
                continue
            inside = _inside(edges[start[k] : start[k + 1]], xs[near], ys[near])
            level = np.where(inside, surface.height(xs[near], ys[near]) + high[k], np.nan)
            best[near] = np.fmax(best[near], level)
        return best


def _inside(edges: Floats, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Even-odd rule over the edges of an outline and its holes."""
    odd = np.zeros(x.shape, bool)
    for x0, y0, x1, y1 in edges:
        if y0 != y1:
            cross = (y0 > y) != (y1 > y)
            odd ^= cross & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
    return odd


def obstacles(things: Iterable[Thing], surface: Surface) -> Obstacles:
    """Prepare things for lines of sight over a surface.

    A point that stands outside the surface, or on missing ground, is left out: no line over known ground reaches it
    but by its rim. Outlines are kept; a line of sight that crosses one on missing ground has no answer.

    Parameters
    ----------
    things
        What stands on the ground.
    surface
        The ground they stand on.

    Raises
    ------
    InputError
        If a thing has no height, or an underside above its top; names the thing.
    """
    parts: list[Thing] = []
    rows: list[tuple[float, ...]] = []
    start, edges = [0], [np.empty((0, 4))]
    for thing in things:
        if not (np.isfinite(thing.height_m) and 0 <= thing.clear_m < thing.height_m):
            raise InputError(
                f"{thing.name} ({thing.layer} {thing.fid}): the underside ({thing.clear_m} m) has to be at or above"
                f" ground and below the top ({thing.height_m} m)"
            )
        for piece in getattr(thing.geometry, "geoms", [thing.geometry]):
            row, outline = _piece(thing, piece, surface)
            if row is not None:
                parts.append(thing)
                rows.append(row)
                edges.append(outline)
                start.append(start[-1] + len(outline))
    table = np.array(rows, float).reshape(-1, 5)
    columns = tuple(np.ascontiguousarray(table[:, c]) for c in range(5))
    return Obstacles(
        tuple(parts), (*columns, np.array(start, np.int64), np.ascontiguousarray(np.vstack(edges)))
    )


def _piece(thing: Thing, piece: Any, surface: Surface) -> tuple[tuple[float, ...] | None, Floats]:
    """Circle and heights of one part of a thing, and its outline as edges."""
    none = np.empty((0, 4))
    solid = thing.clear_m == 0
    if piece.is_empty:
        return None, none
    if piece.geom_type == "Point":
        ground = surface.height(piece.x, piece.y)
        if not np.isfinite(ground):
            return None, none
        low = -np.inf if solid else ground + thing.clear_m
        radius = (thing.width_m or 2 * POST_RADIUS_M) / 2
        return (piece.x, piece.y, radius, low, ground + thing.height_m), none
    if piece.geom_type == "LineString":
        piece = piece.buffer((thing.width_m or WALL_WIDTH_M) / 2, cap_style="flat", join_style="mitre")
    rings = [np.asarray(ring.coords)[:, :2] for ring in (piece.exterior, *piece.interiors)]
    outline = np.vstack([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
    west, south, east, north = piece.bounds
    x, y = (west + east) / 2, (south + north) / 2
    r = float(np.hypot(outline[:, 0] - x, outline[:, 1] - y).max()) + 1e-6
    return (x, y, r, -np.inf if solid else thing.clear_m, thing.height_m), outline
