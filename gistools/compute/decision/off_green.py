"""Putter from off the green: strokes from apron, fairway and the first of the rough, rolled all the way.

The ball rolls by the law of putting (:mod:`gistools.compute.decision.putting`) on the resistance of the
ground it crosses. Longer grass adds to the error of pace: a share of its extra resistance is misjudged, more
than on a green where grass is seldom crossed, since a ball sits in it differently from stroke to stroke
(assumption). What is left after a miss is what is left on the green.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.cover_classes import Kind
from gistools.compute.decision.putting import GreenPutts
from gistools.compute.decision.putting_kernels import MOST_ADDED
from gistools.compute.decision.state_space import StateSpace

Floats = NDArray[np.float64]

# assumptions (assumptions)
FAR_M = 10.0  # places up to so far off the green are putted from
MOST_ROUGH_M = 1.5  # with at most so much rough on the line
GRASS_SHARE = 0.35  # share of the extra resistance of longer grass that is misjudged
STEP_M = 0.5  # the ground on the line is looked at in such steps
SMOOTH_KINDS = (Kind.GREEN, Kind.FAIRWAY)


def putts_off_green(space: StateSpace, solved: list[GreenPutts], threads: int | None = None) -> Floats:
    """Strokes of a putter from the states off the green; inf where there is no line for it.

    Parameters
    ----------
    space
        State space of the hole.
    solved
        Putting on the green, one for each hole location.

    Returns
    -------
    ndarray
        Shape ``(states, pins)``; inf on the green as well.
    """
    mesh, surface = space.mesh, space.surface
    out = np.full((len(mesh.lie), len(solved)), np.inf)
    green = mesh.putts[mesh.of_cell] & (mesh.of_cell >= 0)
    off_m = distance_transform_edt(~green) * surface.cell
    i, j = _cells(space, mesh.place[:, 0], mesh.place[:, 1])
    close = np.flatnonzero(~mesh.putts & (off_m[i, j] <= FAR_M) & _rolls(space, i, j))

    def fill(pin: int) -> None:
        """Fill in the strokes to one hole location."""
        hole = np.array(solved[pin].hole)
        states = close[_clear(space, mesh.place[close, :2], hole)]
        if not len(states):
            return
        x, y = mesh.place[states, :2].T
        errors = solved[pin].putter.errors()._replace(turf=GRASS_SHARE)
        putts = solved[pin].plan(x, y, errors).putts
        level = solved[pin].level(np.hypot(x - hole[0], y - hole[1]))
        out[states, pin] = np.where(putts < level + 0.99 * MOST_ADDED, putts, np.inf)  # at the limit: chipped

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        list(pool.map(fill, range(len(solved))))
    return out


def _cells(space: StateSpace, x: Floats, y: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row and column of places, held inside the terrain."""
    surface, (rows, cols) = space.surface, space.land.kind.shape
    i = np.floor((surface.y_north - y) / surface.cell).astype(np.int64).clip(0, rows - 1)
    j = np.floor((x - surface.x_west) / surface.cell).astype(np.int64).clip(0, cols - 1)
    return i, j


def _rolls(space: StateSpace, i: NDArray[np.int64], j: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark cells that a putter may be used on."""
    return np.isin(space.land.kind[i, j], (*SMOOTH_KINDS, Kind.ROUGH))


def _clear(space: StateSpace, places: Floats, hole: Floats) -> NDArray[np.bool_]:
    """Mark places with nothing but green, fairway and little rough on the straight line to the hole."""
    apart = np.hypot(*(hole - places).T)
    count = max(int(np.ceil(apart.max(initial=0.0) / STEP_M)), 1)
    share = (np.arange(count) + 0.5) / count
    way = places[:, None, :] + share[:, None] * (hole - places)[:, None, :]
    i, j = _cells(space, way[..., 0], way[..., 1])
    rough_m = (space.land.kind[i, j] == Kind.ROUGH).sum(axis=1) * apart / count
    return np.asarray(_rolls(space, i, j).all(axis=1) & (rough_m <= MOST_ROUGH_M))
