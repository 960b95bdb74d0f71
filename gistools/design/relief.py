"""The relief of a feature: taken out of the ground, and added to it at another place."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import laplace
from gistools.compute.terrain.surface import Floats, Surface
from gistools.design.places import Move


def remove_relief(ground: Surface, area: BaseGeometry) -> tuple[Surface, Surface]:
    """Take what rises or is sunk within an area out of the ground.

    Returns
    -------
    bare, relief
        The ground without it, on the same cells; and its height over that, on the cells round the area, 0
        outside it.

    Raises
    ------
    InputError
        If the area reaches past the terrain or over missing heights.
    """
    i, j, xx, yy = window_of(ground, area)
    inside = np.asarray(shapely.contains_xy(area, xx, yy), bool)
    old = ground.z[i, j]
    rim = np.concatenate([inside[0], inside[-1], inside[:, 0], inside[:, -1]])
    if rim.any() or not np.isfinite(old).all():
        raise InputError("its ground reaches past the terrain or over missing heights")
    z = ground.z.copy()
    if inside.any():
        z[i, j][inside] = laplace(old, inside)
    relief = ground.part(i, j).with_heights(old - z[i, j])
    return ground.with_heights(z), relief


def add_relief(bare: Surface, relief: Surface, move: Move) -> Surface:
    """Add a relief to the ground at its new place.

    Raises
    ------
    InputError
        If that lies past the terrain or on missing heights.
    """
    goal = move.shape(shapely.box(*relief.bounds))
    i, j, xx, yy = window_of(bare, goal)
    add = np.nan_to_num(np.asarray(relief.height(*move.back(xx, yy))))
    west, south, east, north = bare.bounds
    moved = move.shape(_relief_box(relief)).bounds
    if moved[0] < west or moved[1] < south or moved[2] > east or moved[3] > north:
        raise InputError("its ground would be moved off the terrain")
    z = bare.z.copy()
    if np.isnan(z[i, j][add != 0]).any():
        raise InputError("its ground would be moved onto missing heights")
    z[i, j] += add
    return bare.with_heights(z)


def _relief_box(relief: Surface) -> BaseGeometry:
    """Return the box round the cells where a relief is not zero."""
    x, y = relief.centres()
    i, j = np.nonzero(relief.z)
    half = relief.cell / 2
    return shapely.box(x[j.min()] - half, y[i.max()] - half, x[j.max()] + half, y[i.min()] + half)


def window_of(ground: Surface, area: BaseGeometry) -> tuple[slice, slice, Floats, Floats]:
    """Return rows and columns of the cells round an area, two beyond it, and their centres [m]."""
    i, j = ground.grid.window(area.bounds, 2 * ground.cell)
    part = ground.grid.part(i, j)
    if min(part.shape) < 2:
        raise InputError("it lies off the terrain")
    return i, j, *part.mesh()


def bell(outline: BaseGeometry, x: Floats, y: Floats) -> Floats:
    """Return 1 at the innermost place of an outline, 0 at its edge and outside.

    Smoothstep of the edge distance.
    """
    points = shapely.points(x, y)
    inside = shapely.contains(outline, points)
    depth = np.where(inside, shapely.distance(outline.boundary, points), 0.0)
    t = depth / depth.max() if depth.max() > 0 else depth
    return np.asarray(t * t * (3.0 - 2.0 * t))
