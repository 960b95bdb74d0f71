"""State space of a hole: its states, outcome table and obstacles, once for all players and winds.

A state is a place with one lie: the cells of a mesh (3 m by default, half that about the green), parted by
the lies in them, and each cell of the terrain on the green.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.errors import InputError
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.decision.outcome_kernels import Ground
from gistools.compute.decision.outcome_tables import (
    ALIGNED_CELLS,
    LIE_OF_KIND,
    OutcomeTable,
    ground_for,
    outcome_table_for,
    with_earlier,
)
from gistools.compute.terrain.surface import Surface

# assumptions (assumptions)
FINE_WITHIN_M = 20.0  # the mesh is twice as fine so close to the green
SHARED_SIDE_M, SHARED_BEYOND_M = (
    9.0,
    60.0,
)  # squares that share a full search have this side so far from the green
# ground that differs by less is the same: levels [m], the rise before a place [m/m] (assumptions)
SAME_LEVEL_M, SAME_RISE = 0.002, 0.05

# changed ground so close to the way to a pin is played past; so many of its states stand for it (assumptions)
PAST_M, MOST_CHANGED = 12.0, 60


@dataclass(frozen=True, eq=False)
class Mesh:
    """States of a hole.

    ``place (n, 3)`` x, y, level; ``lie (n,)``; ``of_cell`` on the terrain's cells, -1 for none.

    ``putts`` marks the states of the green. ``order`` leads outward from the green. ``representative (n,)``
    is the state close by, with the same lie, whose best shots a state starts from: itself where it is
    searched in full.
    """

    place: NDArray[np.float64]
    lie: NDArray[np.int64]
    of_cell: NDArray[np.int32]
    putts: NDArray[np.bool_]
    order: NDArray[np.int64]
    representative: NDArray[np.int64]


def mesh_for(
    surface: Surface, kinds: NDArray[np.uint8], target: NDArray[np.bool_], cell_m: float = 3.0
) -> Mesh:
    """Part the ground into states: on squares of ``cell_m``, and half that on and about the green.

    Parameters
    ----------
    surface, kinds
        Terrain and kind of ground of its cells.
    target
        The cells of the green that is played to; other greens are played from like fairway.
    cell_m
        Side of a cell of the mesh [m].

    Raises
    ------
    InputError
        If no cell of the green is left.
    """
    if not target.any():
        raise InputError("no cell of the terrain lies on the green; is the terrain too coarse or elsewhere?")
    rows, cols = kinds.shape
    lie = LIE_OF_KIND[kinds]
    lie[np.isnan(surface.z)] = -1
    i, j = np.mgrid[0:rows, 0:cols]
    fine = distance_transform_edt(~target) * surface.cell <= FINE_WITHIN_M
    n = np.where(fine, max(1, round(0.5 * cell_m / surface.cell)), max(1, round(cell_m / surface.cell)))
    key = np.where(lie >= 0, (((i // n) * cols + j // n) * 2 + fine) * 8 + lie, -1)
    key[target] = -1
    keys, index = np.unique(key, return_inverse=True)
    index = index.reshape(key.shape)
    shift = 1 if keys[0] == -1 else 0
    state = np.where(key >= 0, index - shift, -1).astype(np.int32)
    count = len(keys) - shift
    state[target] = count + np.arange(int(target.sum()))
    total = count + int(target.sum())
    x, y = surface.centres()
    playable = state >= 0
    at = state[playable]
    share = np.bincount(at, minlength=total)
    px = np.bincount(at, np.broadcast_to(x, kinds.shape)[playable], total) / share
    py = np.bincount(at, np.broadcast_to(y[:, None], kinds.shape)[playable], total) / share
    pz = np.bincount(at, surface.z[playable], total) / share
    level = np.asarray(surface.height(px, py))
    pz = np.where(np.isnan(level), pz, level)
    lies = np.zeros(total, np.int64)
    lies[at] = lie[playable]
    putts = np.zeros(total, bool)
    putts[count:] = True
    away = np.hypot(px - px[count:].mean(), py - py[count:].mean())
    representative = np.arange(total)
    side = np.where(away > SHARED_BEYOND_M, SHARED_SIDE_M, cell_m)
    bx, by = np.floor(px / side), np.floor(py / side)
    beside = np.hypot(px - side * (bx + 0.5), py - side * (by + 0.5))
    far = np.flatnonzero(np.arange(total) < count)
    far = far[np.argsort(beside[far], kind="stable")]
    squares = np.column_stack([bx, by, side, lies])[far]
    _, first, back = np.unique(squares, axis=0, return_index=True, return_inverse=True)
    back = back.ravel()
    representative[far] = far[first[back]]
    order = np.argsort(away[representative[:count]], kind="stable")
    return Mesh(np.column_stack([px, py, pz]), lies, state, putts, order, representative)


@dataclass(eq=False)
class StateSpace:
    """States of a hole and the ground they lie on, once for all players and winds.

    Its outcome table fills as it is used.

    ``keep``: the outcome table is stored; ``stored_entries`` is how many entries the stored one holds.
    """

    surface: Surface
    land: TurfGrid
    mesh: Mesh
    outcomes: OutcomeTable
    base: Ground
    keep: bool
    stored_entries: int

    @property
    def ground(self) -> Ground:
        """The ground as the kernels take it, with all classes of landing known so far."""
        self.outcomes.unpack()
        entries, velocity = self.outcomes.entries, self.base.landing_velocity
        if self.base.outcome is not entries or len(velocity) != len(self.outcomes.class_of):
            self.base = self.base._replace(outcome=entries, landing_velocity=self.outcomes.landing_velocity())
        return self.base

    def release_memory(self) -> None:
        """Release memory that is not needed while other holes are played; what was computed is not lost."""
        self.outcomes.pack()
        self.base = self.base._replace(outcome=self.outcomes.entries)


def state_space_for(
    surface: Surface,
    land: TurfGrid,
    target: NDArray[np.bool_],
    *,
    obstacles: Obstacles = NO_OBSTACLES,
    cell_m: float = 3.0,
    keep: bool = True,
    before: StateSpace | None = None,
) -> StateSpace:
    """Make the state space of a hole.

    Parameters
    ----------
    surface, land
        Terrain; the same with kinds of ground and turf.
    target
        Cells of the green that is played to.
    obstacles
        Trees and structures (:func:`gistools.compute.ballistics.flight.obstacles_for`).
    cell_m
        Side of a cell of the mesh [m].
    keep
        Use and update the outcome tables in the user's cache folder.
    before
        The state space of the ground before a change: its outcomes are taken over where the change is far.
    """
    mesh = mesh_for(surface, land.kind, target, cell_m)
    table = outcome_table_for(surface, land, target, keep=keep)
    base = ground_for(surface, land, mesh.of_cell, table, mesh.place[~mesh.putts], obstacles)
    if before is not None:
        base = with_earlier(base, table[0], before.base, before.outcomes)
    return StateSpace(surface, land, mesh, table[0], base, keep, table[0].filled())


def unchanged_states(before: StateSpace, after: StateSpace) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Match the states of a changed ground with those of the ground before.

    Returns
    -------
    old, changed
        For each state of ``after`` the state of ``before`` that most of its cells were in, -1 for none; and
        whether its ground, its lie or the rise before it is another.
    """
    a, b = before.base, after.base
    count = len(after.mesh.lie)
    old, changed = np.full(count, -1), np.ones(count, bool)
    rows, columns = (a.y_north - b.y_north) / b.cell, (b.x_west - a.x_west) / b.cell
    if a.cell != b.cell or max(abs(rows - round(rows)), abs(columns - round(columns))) > ALIGNED_CELLS:
        return old, changed
    i, j = np.nonzero(after.mesh.of_cell >= 0)
    new, oi, oj = after.mesh.of_cell[i, j].astype(np.int64), i + round(rows), j + round(columns)
    both = (oi >= 0) & (oi < a.kind.shape[0]) & (oj >= 0) & (oj < a.kind.shape[1])
    other = np.full(len(new), -1)
    other[both] = before.mesh.of_cell[oi[both], oj[both]]
    same = other >= 0
    at, of = (i[same], j[same]), (oi[same], oj[same])
    same[same] = (a.kind[of] == b.kind[at]) & (np.abs(a.level[of] - b.level[at]) <= SAME_LEVEL_M)
    changed[:] = np.bincount(new[~same], minlength=count) > 0
    pairs, times = np.unique(new[same] * len(before.mesh.lie) + other[same], return_counts=True)
    pairs = pairs[np.argsort(times, kind="stable")]  # the most frequent is written last
    old[pairs // len(before.mesh.lie)] = pairs % len(before.mesh.lie)
    known = np.flatnonzero(old >= 0)
    changed[known] |= before.mesh.lie[old[known]] != after.mesh.lie[known]
    off = known[~after.mesh.putts[known] & ~before.mesh.putts[old[known]]]
    rise = np.abs(b.near_slope[off] - a.near_slope[old[off]]).max(axis=(1, 2))
    changed[off] |= rise > SAME_RISE
    if a.obstacles.rows or b.obstacles.rows:
        if a.obstacle_m.shape[1] != b.obstacle_m.shape[1]:
            return old, np.ones(count, bool)
        changed[off] |= np.abs(b.obstacle_m[off] - a.obstacle_m[old[off]]).max(axis=1) > before.base.cell
    return old, changed | (old < 0)


def played_past(mesh: Mesh, pin_xy: NDArray[np.float64], changed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the states from which the way to a pin leads over changed ground, or close by it."""
    place = mesh.place[:, :2]
    ground = place[np.flatnonzero(changed)[:: max(1, int(changed.sum()) // MOST_CHANGED)]]
    past = np.zeros(len(place), bool)
    for pin in pin_xy:
        way = pin - place
        length = np.maximum(np.hypot(*way.T), 1e-9)
        east, north = (way / length[:, None]).T
        for x, y in ground:
            dx, dy = x - place[:, 0], y - place[:, 1]
            along = dx * east + dy * north
            past |= (np.abs(dx * north - dy * east) < PAST_M) & (along > -PAST_M) & (along < length + PAST_M)
    return past
