"""Small holes on level ground for the tests of strategy, solved once per run."""

from __future__ import annotations

import functools
from typing import Any

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.flight import obstacles_for
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.outcome_kernels import Action, Sampling, make_sample_buffer
from gistools.compute.decision.value_iteration import ValueFunction, solve
from gistools.compute.terrain.surface import Surface

PINS = ((0.0, 150.0), (4.0, 156.0))


@functools.cache
def book(player: str = "scratch man", wind: Wind = CALM) -> Any:
    return shot_table_of(built_in(player), wind)


def field(
    *,
    width: float = 120.0,
    length: float = 240.0,
    cell: float = 1.0,
    kind: int = Kind.FAIRWAY,
    green: float = 12.0,
    pin: tuple[float, float] = (0.0, 150.0),
    east_slope: float = 0.0,
) -> tuple[Surface, np.ndarray]:
    """A plain of one kind with a round green about (0, 150)."""
    cols, rows = round(width / cell), round(length / cell)
    x = -width / 2 + (np.arange(cols) + 0.5) * cell
    z = np.broadcast_to(10.0 + east_slope * x, (rows, cols))
    surface = Surface(z, -width / 2, -20.0 + length, cell)
    x, y = surface.centres()
    kinds = np.full(surface.z.shape, kind, np.uint8)
    kinds[np.hypot(x[None, :] - pin[0], y[:, None] - pin[1]) <= green] = Kind.GREEN
    return surface, kinds


def paint(
    surface: Surface, kinds: np.ndarray, box: tuple[float, float, float, float], kind: int
) -> np.ndarray:
    x, y = surface.centres()
    out = kinds.copy()
    west, south, east, north = box
    out[((y >= south) & (y <= north))[:, None] & ((x >= west) & (x <= east))[None, :]] = kind
    return out


def play(
    surface: Surface,
    kinds: np.ndarray,
    *,
    player: str = "scratch man",
    wind: Wind = CALM,
    pins: Any = PINS,
    shots: Any = None,
    obstacles: Any = None,
    **choices: Any,
) -> ValueFunction:
    names = [f"pin {k}" for k in range(len(pins))]
    choices.setdefault("putter", putter_of(built_in(player)))
    land = turf_grid(surface, kinds)
    shots = shots or book(player, wind)
    choices["obstacles"] = obstacles_for(obstacles, surface)
    return solve(surface, land, kinds == Kind.GREEN, shots, names, pins, keep=False, **choices)


def kernel_value(
    s: ValueFunction,
    place: tuple[float, float],
    shot: int,
    heading: int,
    *,
    samples: int = 128,
    direct_below_m: float = 0.0,
    dispersion_scale: float = 0.0,
    lie: int | None = None,
) -> np.ndarray:
    """Action value for every pin, by the inner loop of the search."""
    q = np.empty(len(s.pins))
    lie = int(s.mesh.lie[s.state(*place)]) if lie is None else lie
    _kernels.action_value(
        s.ground,
        s.tables(lie),
        s.place(*place),
        Action(int(shot), int(heading) % 240),
        Sampling(samples, direct_below_m, dispersion_scale),
        s.value,
        make_sample_buffer(),
        q,
    )
    return q
