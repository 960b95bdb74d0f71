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
ROLLED_OVER = (Kind.GREEN, Kind.FAIRWAY, Kind.ROUGH)


def putts_off_green(space: StateSpace, solved: list[GreenPutts], threads: int | None = None) -> Floats:
    """Return strokes of a putter from the states off the green; inf where it is not used.

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
    mesh, grid = space.mesh, space.surface.grid
    out = np.full((len(mesh.lie), len(solved)), np.inf)
    green = mesh.putts[mesh.of_cell] & (mesh.of_cell >= 0)
    off_m = distance_transform_edt(~green) * grid.cell
    x, y = mesh.place[:, 0], mesh.place[:, 1]
    rolls = np.isin(_kinds(space, x, y), ROLLED_OVER)
    close = np.flatnonzero(~mesh.putts & (grid.sample(off_m, x, y, np.inf) <= FAR_M) & rolls)

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


def _kinds(space: StateSpace, x: Floats, y: Floats) -> NDArray[np.uint8]:
    """Kind of ground at places."""
    return space.surface.grid.sample(space.land.kind, x, y, Kind.OFF_MAP)


def _clear(space: StateSpace, places: Floats, hole: Floats) -> NDArray[np.bool_]:
    """Mark places with nothing but green, fairway and little rough on the straight line to the hole."""
    apart = np.hypot(*(hole - places).T)
    count = max(int(np.ceil(apart.max(initial=0.0) / STEP_M)), 1)
    share = (np.arange(count) + 0.5) / count
    way = places[:, None, :] + share[:, None] * (hole - places)[:, None, :]
    kinds = _kinds(space, way[..., 0], way[..., 1])
    rough_m = (kinds == Kind.ROUGH).sum(axis=1) * apart / count
    rolls = np.isin(kinds, ROLLED_OVER).all(axis=1)
    return np.asarray(rolls & (rough_m <= MOST_ROUGH_M))
