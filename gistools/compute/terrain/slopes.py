"""Slopes of a surface: at a scale, along and across a direction.

``p`` is the rise per metre going east and ``q`` going north, in every function here. The slope is that of the
plane that fits a disk best, since a ball and a golfer stand on more than one cell; its radius is stated with
it. A disk of one cell holds the four next cells alone: the slope of Zevenbergen and Thorne 1987, Earth Surf.
Process. Landforms 12, 47-56, doi:10.1002/esp.3290120107 (second-hand).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Floats, Mask, Surface


def fitted(surface: Surface, radius_m: float) -> tuple[Floats, Floats]:
    """Rise per metre east and north of the plane that fits the cells within ``radius_m`` best.

    ``p = sum(x z) / sum(x x)`` over the centres in the disk, ``x`` counted from its middle (least squares;
    the disk is symmetric, so the terms part). Exact on planes. At least the four next cells are used. ``nan``
    where the disk reaches over missing ground or past the edge: the border that is lost is ``radius_m`` wide.

    Raises
    ------
    InputError
        If the radius is not a positive number.
    """
    if not (np.isfinite(radius_m) and radius_m > 0):
        raise InputError(
            f"the radius of a fitted slope has to be a positive number of metres, not {radius_m}"
        )
    reach = max(radius_m / surface.cell, 1.0) + 1e-9
    n = int(reach)
    step = np.arange(-n, n + 1)
    inside = np.hypot(step[None, :], step[:, None]) <= reach
    x = np.where(inside, step[None, :], 0).astype(float)
    x /= (x**2).sum() * surface.cell
    # weights of zero would hide missing ground, so its mask is filtered by itself
    missing = (
        ndimage.correlate((~np.isfinite(surface.z)).astype(np.uint8), inside, mode="constant", cval=1) > 0
    )
    z = np.where(np.isfinite(surface.z), surface.z, 0.0)
    middle = z[np.isfinite(surface.z)].mean() if np.isfinite(surface.z).any() else 0.0
    p, q = (ndimage.correlate(z - middle, w, mode="nearest") for w in (x, x.T[::-1]))
    p[missing], q[missing] = np.nan, np.nan
    return p, q


def fitted_at(surface: Surface, x: float, y: float, radius_m: float) -> tuple[float, float, float]:
    """Rise per metre east and north of the best plane within a radius of a point, and greatest departure [m].

    Heights are sampled bilinearly on a mesh of an eighth of the radius. ``nan`` where any of the disk has no
    ground.
    """
    step = np.arange(-8, 9) / 8.0
    dx, dy = np.meshgrid(step * radius_m, step * radius_m)
    inside = np.hypot(dx, dy) <= radius_m * (1 + 1e-9)
    dx, dy = dx[inside], dy[inside]
    z = np.asarray(surface.height(x + dx, y + dy))
    p, q = float((dx * z).sum() / (dx**2).sum()), float((dy * z).sum() / (dy**2).sum())
    rest = z - z.mean() - p * dx - q * dy
    return p, q, float(np.abs(rest).max())


def slope_pct(p: ArrayLike, q: ArrayLike) -> Floats:
    """Steepest slope [%]: ``100 * hypot(p, q)``."""
    return np.asarray(100.0 * np.hypot(p, q))


def falls_to_deg(p: ArrayLike, q: ArrayLike) -> Floats:
    """Bearing that the ground falls to, clockwise from grid north [degrees]; ``nan`` where it is level."""
    p, q = np.asarray(p, float), np.asarray(q, float)
    bearing = np.degrees(np.arctan2(-p, -q)) % 360.0
    return np.where((p == 0) & (q == 0), np.nan, bearing)


def fall_and_camber(p: ArrayLike, q: ArrayLike, bearing_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Slope along and across a direction of play [%].

    Fall is positive where the ground drops away from the player, camber positive where it drops to the right.
    """
    p, q, b = np.asarray(p, float), np.asarray(q, float), np.radians(np.asarray(bearing_deg, float))
    fall = -100.0 * (p * np.sin(b) + q * np.cos(b))
    camber = -100.0 * (p * np.cos(b) - q * np.sin(b))
    return fall, camber


def line_bearings(line: ArrayLike, x: ArrayLike, y: ArrayLike) -> Floats:
    """Bearing of the nearest leg of a line ``(n, 2)`` at each point [degrees clockwise from grid north]."""
    corners = np.asarray(line, float)
    xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    best = np.full(xs.shape, np.inf)
    bearing = np.full(xs.shape, np.nan)
    for (x0, y0), (x1, y1) in pairwise(corners):
        dx, dy = x1 - x0, y1 - y0
        length2 = dx * dx + dy * dy
        if length2 == 0:
            continue
        t = np.clip(((xs - x0) * dx + (ys - y0) * dy) / length2, 0, 1)
        distance = np.hypot(xs - x0 - t * dx, ys - y0 - t * dy)
        nearer = distance < best
        best = np.where(nearer, distance, best)
        bearing = np.where(nearer, np.degrees(np.arctan2(dx, dy)) % 360.0, bearing)
    return bearing


def downhill_ends(
    surface: Surface,
    p: Floats,
    q: Floats,
    start: Mask,
    limit_pct: float,
    *,
    reach_m: float = 25.0,
) -> tuple[Floats, Floats]:
    """Follow the steepest way down from every cell of ``start`` until the slope is under a limit.

    Steps of half a cell with the slope of the cell stood on, up to ``reach_m``. Returns eastings and
    northings of the ends [m], each of shape ``start.sum()``.
    """
    x, y = surface.centres()
    rows, cols = np.nonzero(start)
    east: Floats = x[cols].astype(float)
    north: Floats = y[rows].astype(float)
    step = 0.5 * surface.cell
    going = np.ones(len(east), bool)
    for _ in range(int(np.ceil(reach_m / step))):
        i, j = surface.grid.index(east, north)
        going &= surface.grid.contains(i, j)
        i, j = np.where(going, i, 0), np.where(going, j, 0)
        steep = np.hypot(p[i, j], q[i, j])
        going &= steep > max(limit_pct / 100.0, 1e-9)  # false on nan too
        if not going.any():
            break
        east[going] -= step * (p[i, j] / np.where(going, steep, 1.0))[going]
        north[going] -= step * (q[i, j] / np.where(going, steep, 1.0))[going]
    return east, north
