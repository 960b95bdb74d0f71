"""Slopes of a surface: by cell, at a scale, along and across a direction.

``p`` is the rise per metre going east and ``q`` going north, in every function here. A slope is told with the scale it
was measured at: the two three-by-three methods are those of published work; for play the plane that fits a disk best is
used, since a ball and a golfer stand on more than one cell, and its radius is said.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Floats, Surface


def horn(surface: Surface) -> tuple[Floats, Floats]:
    """Rise per metre east and north at cell centres from the eight neighbours, weighted 1-2-1.

    ``nan`` on the border and beside missing cells.

    Sources
    -------
    Horn 1981, Proc. IEEE 69(1), 14-47 (formula checked against worked examples and two other programs, paper not read).
    """
    z = surface.z
    p, q = np.full(z.shape, np.nan), np.full(z.shape, np.nan)
    if min(z.shape) < 3:
        return p, q
    a, b, c, d, e, f, g, h, i = _window(z)
    known = np.where(np.isfinite(e), 1.0, np.nan)
    p[1:-1, 1:-1] = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * surface.cell) * known
    q[1:-1, 1:-1] = ((a + 2 * b + c) - (g + 2 * h + i)) / (8 * surface.cell) * known
    return p, q


def zevenbergen_thorne(surface: Surface) -> tuple[Floats, Floats]:
    """Rise per metre east and north at cell centres from the four neighbours; exact on quadratic surfaces.

    ``nan`` on the border and beside missing cells.

    Sources
    -------
    Zevenbergen & Thorne 1987, Earth Surf. Process. Landforms 12, 47-56 (as for :func:`horn`).
    """
    z = surface.z
    p, q = np.full(z.shape, np.nan), np.full(z.shape, np.nan)
    if min(z.shape) < 3:
        return p, q
    _, b, _, d, e, f, _, h, _ = _window(z)
    known = np.where(np.isfinite(e), 1.0, np.nan)
    p[1:-1, 1:-1] = (f - d) / (2 * surface.cell) * known
    q[1:-1, 1:-1] = (b - h) / (2 * surface.cell) * known
    return p, q


def _window(z: Floats) -> list[Floats]:
    """The neighbours a b c / d e f / g h i of every inner cell, row a b c in the north."""
    rows, cols = z.shape
    return [z[i : rows - 2 + i, j : cols - 2 + j] for i in range(3) for j in range(3)]


def fitted(surface: Surface, radius_m: float) -> tuple[Floats, Floats]:
    """Rise per metre east and north of the plane that fits the cells within ``radius_m`` best.

    ``p = sum(x z) / sum(x x)`` over the centres in the disk, ``x`` counted from its middle (least squares; the disk is
    symmetric, so the terms part). Exact on planes. At least the four next cells are used. ``nan`` where the disk reaches
    over missing ground or past the edge: the border that is lost is ``radius_m`` wide.

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
    # a weight of zero would let missing ground through, so where it is, is carried along by itself
    gone = ndimage.correlate((~np.isfinite(surface.z)).astype(np.uint8), inside, mode="constant", cval=1) > 0
    z = np.where(np.isfinite(surface.z), surface.z, 0.0)
    middle = z[np.isfinite(surface.z)].mean() if np.isfinite(surface.z).any() else 0.0
    p, q = (ndimage.correlate(z - middle, w, mode="nearest") for w in (x, x.T[::-1]))
    p[gone], q[gone] = np.nan, np.nan
    return p, q


def fitted_at(surface: Surface, x: float, y: float, radius_m: float) -> tuple[float, float, float]:
    """Rise per metre east and north of the best plane within a radius of a point, and its greatest departure [m].

    Heights are sampled bilinearly on a mesh of an eighth of the radius. ``nan`` where any of the disk has no ground.
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
        away = np.hypot(xs - x0 - t * dx, ys - y0 - t * dy)
        nearer = away < best
        best = np.where(nearer, away, best)
        bearing = np.where(nearer, np.degrees(np.arctan2(dx, dy)) % 360.0, bearing)
    return bearing


def downhill_ends(
    surface: Surface,
    p: Floats,
    q: Floats,
    start: NDArray[np.bool_],
    limit_pct: float,
    *,
    reach_m: float = 25.0,
) -> tuple[Floats, Floats]:
    """Follow the steepest way down from every cell of ``start`` until the slope is under a limit; eastings, northings.

    Steps of half a cell with the slope of the cell stood on, up to ``reach_m``. Shape of ``start.sum()``.
    """
    x, y = surface.centres()
    rows, cols = np.nonzero(start)
    east: Floats = x[cols].astype(float)
    north: Floats = y[rows].astype(float)
    step = 0.5 * surface.cell
    going = np.ones(len(east), bool)
    for _ in range(int(np.ceil(reach_m / step))):
        j = np.floor((east - surface.x_west) / surface.cell).astype(int)
        i = np.floor((surface.y_north - north) / surface.cell).astype(int)
        going &= (i >= 0) & (i < p.shape[0]) & (j >= 0) & (j < p.shape[1])
        i, j = np.where(going, i, 0), np.where(going, j, 0)
        steep = np.hypot(p[i, j], q[i, j])
        going &= steep > max(limit_pct / 100.0, 1e-9)  # false on nan too
        if not going.any():
            break
        east[going] -= step * (p[i, j] / np.where(going, steep, 1.0))[going]
        north[going] -= step * (q[i, j] / np.where(going, steep, 1.0))[going]
    return east, north
