"""Runs on level turf beside those of a second program that was written apart from this one [computed]."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.turf import run_out, turf_grid, turf_table
from gistools.compute.terrain.surface import Surface

GREEN_RHO = 0.131  # Penner's green [second-hand]


def run(rev_s: float, speed: float = 22.7, angle: float = 50.6) -> float:
    table = turf_table()
    table[Kind.GREEN, :3], table[Kind.GREEN, _kernels.TILT_GROWTH] = (1.0, 1.0, GREEN_RHO), 0.0
    land = turf_grid(Surface(np.zeros((200, 40)), -10.0, 60.0, 0.5), Kind.GREEN, turf=table)
    return run_out(land, speed, angle, rev_s * 60.0)[0]


@pytest.mark.parametrize(("rev_s", "metres"), [(60, 6.8), (90, 3.0), (129, 0.1), (159, -1.1), (191, -3.6)])
def test_runs_of_a_second_program(rev_s, metres) -> None:
    """Computed with a second program; it has no skid phase, hence 0.25 m."""
    assert run(rev_s) == pytest.approx(metres, abs=0.25)


ROWS = {  # surface: (k_e, k_t, rho_g) -> runs of the six landings computed with a second program
    "fairway soft": ((0.70, 1.30, 0.40), (9.9, 16.8, 2.4, 0.0, -0.6, -1.2)),
    "fairway normal": ((0.85, 1.15, 0.30), (17.0, 25.8, 4.8, 0.8, -0.3, -1.0)),
    "fairway firm": ((1.00, 0.90, 0.20), (35.9, 48.4, 11.9, 4.0, 1.0, 0.0)),
    "rough": ((0.60, 1.30, 0.60), (8.7, 14.4, 2.0, 0.1, -0.5, -0.8)),
    "green of 8 ft": ((0.80, 1.25, 0.0980), (21.6, 35.6, 5.3, 0.3, -0.9, -2.4)),
    "green of 10 ft": ((1.00, 1.00, 0.0784), (47.5, 67.6, 15.1, 3.8, 0.4, -0.5)),
    "green of 12 ft": ((1.10, 0.85, 0.0653), (75.7, 101.4, 26.0, 8.7, 2.4, 0.4)),
}
LANDINGS = [
    (27.8, 38.8, 2115),
    (27.2, 34.7, 2193),
    (23.7, 44.6, 4485),
    (23.1, 48.8, 6055),
    (22.7, 50.6, 7504),
    (22.5, 52.4, 8155),
]


@pytest.mark.parametrize("name", ROWS)
def test_runs_are_those_tabulated_by_a_second_program(name) -> None:
    """The second program flies hops without air, as here for once, and has no skid phase: 0.25 m or 3 %."""
    numbers, runs = ROWS[name]
    table = turf_table()
    table[Kind.GREEN, :3], table[Kind.GREEN, _kernels.TILT_GROWTH] = numbers, 0.0
    land = turf_grid(Surface(np.zeros((300, 40)), -10.0, 130.0, 0.5), Kind.GREEN, turf=table)
    land = land._replace(density=0.0)
    for (speed, angle, rpm), want in zip(LANDINGS, runs, strict=True):
        got = run_out(land, speed, angle, rpm)[0]
        assert got == pytest.approx(want, abs=max(0.25, 0.03 * abs(want)))
