"""Expected putts of the cells of a green, on the ground that balls run on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.shot_kernels import ROLLING_RESISTANCE
from gistools.compute.decision.putting import GreenPutts, Putter, solve_green
from gistools.compute.decision.state_space import StateSpace
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

# assumptions (assumptions)
# of the rolling resistance of a fairway a slow roll meets so much, since the run of a drive loses more in its
# hops: a normal fairway then reads 4.4 ft on the Stimpmeter (4 to 5: common practice, no source)
SLOW_ROLL = 0.6
PUTT_ROOM_M = 25.0  # putts that run off the green are followed so far beyond it
#: what a putt that runs into this ground costs beside the putts from there
LOST_PUTTS = {Kind.SAND: 0.5, Kind.TREES: 0.7, Kind.WATER: 1.3, Kind.OUT: 2.0, Kind.OFF_MAP: 2.0}


def green_values(
    space: StateSpace, pin_xy: Floats, putter: Putter, threads: int | None = None
) -> tuple[list[GreenPutts], Floats]:
    """Solve putting on the ground that balls run on.

    Returns
    -------
    tuple
        Putting to each hole location, and expected putts of the green's cells, averaged over nine points of
        each ``(states of the green, pins)``, in the order of ``mesh.putts``.
    """
    land, surface = space.land, space.surface
    target = space.mesh.putts[space.mesh.of_cell] & (space.mesh.of_cell >= 0)
    i, j = np.nonzero(target)
    at_pins = surface.grid.index(pin_xy[:, 0], pin_xy[:, 1])
    i, j = np.append(i, at_pins[0]), np.append(j, at_pins[1])
    room = round(PUTT_ROOM_M / surface.cell)
    i0, j0 = max(int(i.min()) - room, 0), max(int(j.min()) - room, 0)
    part = np.s_[i0 : int(i.max()) + room + 1, j0 : int(j.max()) + room + 1]
    kind = land.kind[part]
    ground = Surface(
        land.smooth[part],
        surface.x_west + j0 * surface.cell,
        surface.y_north - i0 * surface.cell,
        surface.cell,
    )
    resistance = land.turf[:, ROLLING_RESISTANCE].copy()
    resistance[Kind.FAIRWAY] *= SLOW_ROLL
    lost = np.zeros(256)
    for cover, strokes in LOST_PUTTS.items():
        lost[cover] = strokes
    solved = solve_green(
        ground,
        target[part],
        pin_xy,
        putter,
        resistance=resistance[kind],
        lost=lost[kind],
        threads=threads,
    )
    return solved, putts_of_cells(solved, ground, target[part])


def putts_of_cells(solved: list[GreenPutts], surface: Surface, target: NDArray[np.bool_]) -> Floats:
    """Return expected putts from cells of a surface, averaged over nine points of each ``(cells, pins)``.

    The cells are in the order of ``target``'s true values, row by row.
    """
    i, j = np.nonzero(target)
    xs, ys = surface.centres()
    side = surface.cell / 3.0 * np.array([-1.0, 0.0, 1.0])
    x = (xs[j][:, None, None] + side[:, None]) + np.zeros((1, 1, 3))
    y = (ys[i][:, None, None] + side[None, :]) + np.zeros((1, 3, 1))
    return np.column_stack([green.at(x, y).mean(axis=(1, 2)) for green in solved])
