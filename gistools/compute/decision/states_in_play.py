"""States that matter for tee shots at landing zones: where they finish, and what is played from there."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.compute.decision.hole_ground import HoleGround
from gistools.compute.decision.ranking import shots_from, zone_cells
from gistools.compute.decision.value_function import FINE, ValueFunction

# assumptions
CLOSE_STROKES = (
    0.1  # tee shots so close to the best at their zone may become the best when the ground changes
)
BESIDE_M = 6.0  # and so does play from ground so far beside that which balls finish on


def states_in_play(
    s: ValueFunction, ground: HoleGround, tee: tuple[float, float], areas: list[Any]
) -> NDArray[np.bool_]:
    """Mark the states that tee shots at landing zones lead to, shot after shot, and those beside them.

    Parameters
    ----------
    s
        A solved hole.
    ground
        Its ground.
    tee
        Where the tee shots are played from [m].
    areas
        The landing zones, or the green of a hole without.
    """
    fan = shots_from(s, ground, *tee, zone_cells(ground, areas), areas)
    marked = np.zeros(len(s.mesh.lie), bool)
    for zone in np.unique(fan.zone[fan.zone >= 0]):
        rows = np.flatnonzero(fan.zone == zone)
        close = (fan.total[rows] - np.nanmin(fan.total[rows], axis=0) < CLOSE_STROKES).any(axis=1)
        for k in rows[close]:
            out = s.outcomes(*tee, int(fan.shot[k]), int(fan.heading[k]), lie=0, direct_below_m=0.0)
            marked[out["state"][out["state"] >= 0]] = True
    waiting = list(np.flatnonzero(marked))
    while waiting:
        state = int(waiting.pop())
        for p in range(0 if s.mesh.putts[state] else len(s.pins)):
            if s.shot[state, p, 0] < 0:
                continue
            x, y = s.mesh.place[state, :2]
            action, lie = (int(s.shot[state, p, 0]), int(s.heading[state, p, 0])), int(s.mesh.lie[state])
            out = s.outcomes(float(x), float(y), *action, lie=lie, samples=FINE, direct_below_m=0.0)
            after = np.unique(out["state"][out["state"] >= 0])
            waiting += list(after[~marked[after]])
            marked[after] = True
    return _with_beside(s, marked)


def _with_beside(s: ValueFunction, marked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the states beside marked ones as well, and those whose shots theirs start from."""
    place, of_cell, base = s.mesh.place[marked], s.mesh.of_cell, s.space.base
    out = marked.copy()
    for east in (-BESIDE_M, 0.0, BESIDE_M):
        for north in (-BESIDE_M, 0.0, BESIDE_M):
            i = np.floor((base.y_north - place[:, 1] - north) / base.cell).astype(int)
            j = np.floor((place[:, 0] + east - base.x_west) / base.cell).astype(int)
            state = of_cell[i.clip(0, of_cell.shape[0] - 1), j.clip(0, of_cell.shape[1] - 1)]
            out[state[state >= 0]] = True
    out[s.mesh.representative[out]] = True
    return out
