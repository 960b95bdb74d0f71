"""Haul: which cut goes to which fill so that the earth is carried the least.

Cut and fill are gathered into square blocks, and the volumes carried between blocks are those of the least
moment (volume times straight distance): the transportation problem, solved as a linear program (HiGHS in
SciPy). Straight distances: haul roads, crossings and slopes are for the contractor to add.

Source: Hitchcock 1941, "The distribution of a product from several sources to numerous localities", Journal
of Mathematics and Physics 20, 224-230, doi:10.1002/sapm1941201224 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from gistools.base.errors import InputError
from gistools.base.grid import Floats
from gistools.compute.terrain.surface import Surface

#: side of the blocks at first [m], and ways from cut to fill that are weighed at most (assumptions)
BLOCK_M, MOST_WAYS = 10.0, 100_000
#: smaller moves are left out [m3] (assumption)
LEAST_M3 = 0.05


@dataclass(frozen=True)
class Move:
    """Earth carried from one place to another: places [m], volume [m3], straight distance [m]."""

    start: tuple[float, float]
    end: tuple[float, float]
    volume_m3: float
    distance_m: float


@dataclass(frozen=True)
class Haul:
    """The moves of least moment, what has to be brought in and what is left over [m3]."""

    moves: tuple[Move, ...]
    borrow_m3: float
    spoil_m3: float

    @property
    def volume_m3(self) -> float:
        """Earth carried within the site [m3]."""
        return sum(move.volume_m3 for move in self.moves)

    @property
    def mean_m(self) -> float:
        """Mean distance of what is carried [m]; nan where nothing is."""
        volume = self.volume_m3
        moment = sum(move.volume_m3 * move.distance_m for move in self.moves)
        return moment / volume if volume > 0 else float("nan")


def least_haul(before: Surface, after: Surface, *, bank_share: float = 1.0, block_m: float = BLOCK_M) -> Haul:
    """Return the haul of least moment between two grounds on the same cells.

    Parameters
    ----------
    before, after
        Existing and proposed ground.
    bank_share
        Bank volume that a cubic metre of fill takes (1 / (1 - shrinkage)).
    block_m
        Side of the blocks; doubled until there are few enough ways [m].

    Raises
    ------
    InputError
        If the share or the side is not above 0.
    """
    if not (bank_share > 0 and block_m > 0):
        raise InputError("the bank share of fill and the side of a block have to be above 0")
    change = np.nan_to_num(after.z - before.z)
    while True:
        cut, fill = (_blocks(before, np.clip(sign * change, 0.0, None), block_m) for sign in (-1.0, 1.0))
        if len(cut[1]) * len(fill[1]) <= MOST_WAYS:
            break
        block_m *= 2
    given, needed = cut[1], fill[1] * bank_share
    if not len(given) or not len(needed):
        return Haul((), float(needed.sum()), float(given.sum()))
    distance = np.hypot(*(cut[0][:, None, :] - fill[0][None, :, :]).transpose(2, 0, 1))
    carried = _transport(distance, given, needed)
    ways = np.argwhere(carried > LEAST_M3)
    moves = tuple(
        Move(_place(cut[0][i]), _place(fill[0][j]), float(carried[i, j]), float(distance[i, j]))
        for i, j in ways
    )
    total = float(carried.sum())
    return Haul(moves, float(needed.sum()) - total, float(given.sum()) - total)


def _place(xy: Floats) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])


def _blocks(surface: Surface, depth: Floats, block_m: float) -> tuple[Floats, Floats]:
    """Return the centroids ``(n, 2)`` [m] and volumes ``(n,)`` [m3] of blocks that hold any."""
    rows, columns = np.nonzero(depth > 0)
    if not len(rows):
        return np.zeros((0, 2)), np.zeros(0)
    x, y = surface.centres()
    volume = depth[rows, columns] * surface.cell**2
    east, south = x[columns] - x[columns].min(), y[rows].max() - y[rows]  # blocks count from the earth itself
    keys = np.stack([np.floor(east / block_m + 1e-9), np.floor(south / block_m + 1e-9)], axis=1)
    _, label = np.unique(keys, axis=0, return_inverse=True)
    label = label.reshape(-1)  # NumPy 2.0.0 returns a column
    total: Floats = np.asarray(np.bincount(label, volume), float)
    middle = np.stack([np.bincount(label, volume * v) / total for v in (x[columns], y[rows])], axis=1)
    return middle, total


def _transport(distance: Floats, given: Floats, needed: Floats) -> Floats:
    """Return the volumes ``(sources, sinks)`` of least moment; all of the smaller side is carried."""
    sources, sinks = distance.shape
    ways = np.arange(sources * sinks)
    from_source = coo_array((np.ones(len(ways)), (ways // sinks, ways)), shape=(sources, len(ways)))
    to_sink = coo_array((np.ones(len(ways)), (ways % sinks, ways)), shape=(sinks, len(ways)))
    scarce_cut = given.sum() <= needed.sum()
    equal, most = (from_source, to_sink) if scarce_cut else (to_sink, from_source)
    equal_to, at_most = (given, needed) if scarce_cut else (needed, given)
    slack = 1e-9 * float(equal_to.sum())
    result = linprog(
        distance.ravel(), A_ub=most, b_ub=at_most + slack, A_eq=equal, b_eq=equal_to, method="highs"
    )
    if result.x is None:
        raise InputError(f"the haul could not be worked out: {result.message}")
    carried: Floats = np.asarray(result.x).reshape(distance.shape)
    return carried
