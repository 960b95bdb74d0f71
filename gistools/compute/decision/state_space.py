"""The ground of a hole made ready to be played out: its states, outcome table and faces, once for all players and winds.

A state is a place with one lie: the cells of a mesh (3 m unless told, half that about the green), parted by the lies found in
them, and each cell of the terrain on the green.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.errors import InputError
from gistools.compute.ballistics.shot_kernels import Land
from gistools.compute.decision.outcome_tables import LIE_OF_KIND, Outcomes, ground_for, outcomes_for
from gistools.compute.decision.value_iteration_kernels import Ground
from gistools.compute.terrain.surface import Surface

NEAR_GREEN_M = 20.0  # the mesh is twice as fine so near the green
LEADER_M, LEADER_BEYOND_M = 9.0, 60.0  # squares that share a full search have this side so far from the green


@dataclass(frozen=True, eq=False)
class Mesh:
    """States of a hole: ``place (n, 3)`` x, y, level; ``lie (n,)``; ``of_cell`` on the terrain's cells, -1 for none.

    ``putts`` marks the states of the green. ``order`` leads outward from the green. ``leader (n,)`` is the state near by, with the
    same lie, whose best shots a state starts from: itself where it is searched in full.
    """

    place: NDArray[np.float64]
    lie: NDArray[np.int64]
    of_cell: NDArray[np.int32]
    putts: NDArray[np.bool_]
    order: NDArray[np.int64]
    leader: NDArray[np.int64]


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
    near = distance_transform_edt(~target) * surface.cell <= NEAR_GREEN_M
    n = np.where(near, max(1, round(0.5 * cell_m / surface.cell)), max(1, round(cell_m / surface.cell)))
    key = np.where(lie >= 0, (((i // n) * cols + j // n) * 2 + near) * 8 + lie, -1)
    key[target] = -1
    found, index = np.unique(key, return_inverse=True)
    index = index.reshape(key.shape)
    shift = 1 if found[0] == -1 else 0
    state = np.where(key >= 0, index - shift, -1).astype(np.int32)
    count = len(found) - shift
    state[target] = count + np.arange(int(target.sum()))
    total = count + int(target.sum())
    x, y = surface.centres()
    held = state >= 0
    at = state[held]
    share = np.bincount(at, minlength=total)
    px = np.bincount(at, np.broadcast_to(x, kinds.shape)[held], total) / share
    py = np.bincount(at, np.broadcast_to(y[:, None], kinds.shape)[held], total) / share
    pz = np.bincount(at, surface.z[held], total) / share
    there = np.asarray(surface.height(px, py))
    pz = np.where(np.isnan(there), pz, there)
    lies = np.zeros(total, np.int64)
    lies[at] = lie[held]
    putts = np.zeros(total, bool)
    putts[count:] = True
    away = np.hypot(px - px[count:].mean(), py - py[count:].mean())
    leader = np.arange(total)
    side = np.where(away > LEADER_BEYOND_M, LEADER_M, cell_m)
    bx, by = np.floor(px / side), np.floor(py / side)
    beside = np.hypot(px - side * (bx + 0.5), py - side * (by + 0.5))
    far = np.flatnonzero(np.arange(total) < count)
    far = far[np.argsort(beside[far], kind="stable")]
    squares = np.column_stack([bx, by, side, lies])[far]
    _, first, back = np.unique(squares, axis=0, return_index=True, return_inverse=True)
    back = back.ravel()
    leader[far] = far[first[back]]
    order = np.argsort(away[leader[:count]], kind="stable")
    return Mesh(np.column_stack([px, py, pz]), lies, state, putts, order, leader)


@dataclass(eq=False)
class Field:
    """The ground of a hole made ready to be played out, once for all players and winds; outcomes gather in it."""

    surface: Surface
    land: Land
    mesh: Mesh
    outcomes: Outcomes
    base: Ground
    keep: bool
    kept: int

    @property
    def ground(self) -> Ground:
        """The ground as the kernels take it, with all classes of landing known so far."""
        self.outcomes.unpack()
        if self.base.table is not self.outcomes.table or len(self.base.arrive) != len(self.outcomes.rows):
            self.base = self.base._replace(table=self.outcomes.table, arrive=self.outcomes.arrive())
        return self.base

    def rest(self) -> None:
        """Give up room that is not needed while other holes are played; what was computed is kept."""
        self.outcomes.pack()
        self.base = self.base._replace(table=self.outcomes.table)


def field_for(
    surface: Surface, land: Land, target: NDArray[np.bool_], *, cell_m: float = 3.0, keep: bool = True
) -> Field:
    """Make the ground of a hole ready.

    Parameters
    ----------
    surface, land
        Terrain; the same with kinds of ground and turf.
    target
        Cells of the green that is played to.
    cell_m
        Side of a cell of the mesh [m].
    keep
        Use and update the outcome tables in the user's cache folder.
    """
    mesh = mesh_for(surface, land.kind, target, cell_m)
    outcomes, slot, spot = outcomes_for(surface, land, target, keep=keep)
    base = ground_for(surface, land, mesh.of_cell, outcomes, slot, spot, mesh.place[~mesh.putts])
    return Field(surface, land, mesh, outcomes, base, keep, outcomes.filled())
