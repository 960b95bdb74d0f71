"""Putting on the green's surface: against putts simulated one by one, laws, and what may be asked."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from gistools.base.errors import InputError
from gistools.compute.ballistics.turf import resistance_of
from gistools.compute.decision import putting_kernels as kernels
from gistools.compute.decision.green_values import putts_of_cells
from gistools.compute.decision.putting import (
    BOGEY,
    SCRATCH,
    TOUR,
    GreenPutts,
    Putter,
    built_in_putter,
    mean_putts,
    putter_for,
    putting_turf,
    solve_green,
)
from gistools.compute.terrain.surface import Surface

from . import plain_putting as plain

CELL, HALF = 0.5, 12.0
TIER_M, TIER_WIDE = 0.5, 4.0


def level(x, y):
    return 0.0 * x * y


def plane_2(x, y):
    return 0.02 * y + 0.0 * x


def plane_4(x, y):
    return 0.04 * y + 0.0 * x


def tier(x, y):
    return 0.5 * TIER_M * (1 + np.tanh((y - 4.0) / (0.5 * TIER_WIDE))) + 0.0 * x


SLOPES = {
    level: lambda x, _: (0 * x, 0 * x),
    plane_2: lambda x, _: (0 * x, 0 * x + 0.02),
    plane_4: lambda x, _: (0 * x, 0 * x + 0.04),
    tier: lambda x, y: (0 * x, TIER_M / TIER_WIDE / np.cosh((y - 4.0) / (0.5 * TIER_WIDE)) ** 2),
}


def ground(shape) -> tuple[Surface, np.ndarray]:
    n = round(2 * (HALF + 6) / CELL)
    edge = CELL * n / 2
    x, y = -edge + (np.arange(n) + 0.5) * CELL, edge - (np.arange(n) + 0.5) * CELL
    surface = Surface(shape(x[None, :], y[:, None]), -edge, edge, CELL)
    return surface, np.hypot(x[None, :], y[:, None]) < HALF


@functools.cache
def solved(shape, putter: Putter, stimp: float) -> GreenPutts:
    surface, target = ground(shape)
    return solve_green(surface, target, [(0.0, 0.0)], putter, resistance=resistance_of(stimp), threads=1)[0]


@pytest.mark.parametrize(
    ("shape", "putter", "stimp", "place"),
    [
        (level, TOUR, 10.0, (0.0, 2.5)),
        (level, BOGEY, 9.0, (7.0, 0.0)),
        (plane_2, TOUR, 10.0, (0.0, 2.5)),
        (plane_2, TOUR, 10.0, (0.0, -2.5)),
        (plane_2, SCRATCH, 10.0, (2.5, 0.0)),
        (plane_2, SCRATCH, 10.0, (6.0, 2.0)),
        (plane_2, BOGEY, 10.0, (0.0, 9.0)),
        (plane_4, SCRATCH, 10.0, (0.0, 4.0)),
        (plane_4, SCRATCH, 10.0, (0.0, -4.0)),
        (tier, SCRATCH, 10.0, (0.0, 8.0)),
        (tier, SCRATCH, 10.0, (5.0, 7.0)),
    ],
)
def test_simulated_one_by_one(shape, putter, stimp, place) -> None:
    """Whole putting out by the chosen lines.

    Mean within 0.02 and three standard errors, holed within 2 points and three.

    From over a tier that no ball stops on the few speeds rolled tell less well where balls rest: within 0.1.
    """
    green = solved(shape, putter, stimp)
    plan = green.plan([place[0]], [place[1]])
    mean, error, holed = plain.play(green, SLOPES[shape], resistance_of(stimp), *place, 3000, 7)
    assert plan.putts[0] == pytest.approx(mean, abs=(0.1 if shape is tier else 0.02) + 3 * error)
    assert plan.holed[0] == pytest.approx(holed, abs=0.02 + 3 * np.sqrt(holed * (1 - holed) / 3000))
    assert green.at(*place) == pytest.approx(
        plan.putts[0], abs=0.05 if shape is tier else 0.02
    )  # the grid between its nodes


@pytest.mark.parametrize(("shape", "x", "y", "angle"), [(plane_2, 5.0, 1.0, 3.0), (tier, -3.0, 8.0, -1.2)])
def test_roll_in_small_steps(shape, x, y, angle) -> None:
    """Rest of a rolled ball: within 3 cm of plain steps of 2 ms on the formula's slope."""
    surface, _ = ground(shape)
    turf = putting_turf(surface, resistance_of(10.0))
    out = np.empty((1, 4))
    kernels.roll_many(turf, *(np.array([v]) for v in (x, y, angle, 2.0**2)), 50.0, 50.0, out)
    rx, ry, _ = plain.roll(
        SLOPES[shape], resistance_of(10.0), np.array([x]), y, angle, 2.0, (50.0, 50.0), 0.002
    )
    assert np.hypot(out[0, 0] - rx[0], out[0, 1] - ry[0]) < 0.03


def test_level_ground_is_the_level_curve() -> None:
    """On a level green the grid gives the curve of the distance."""
    green = solved(level, SCRATCH, 10.0)
    for place in ((0.4, 0.0), (0.0, 1.3), (-2.0, 2.0), (5.0, -4.0), (9.0, 3.0)):
        assert green.at(*place) == pytest.approx(mean_putts(float(np.hypot(*place)), SCRATCH), abs=0.005)


def test_smooth_in_distance() -> None:
    """Steps of 5 cm: never down, second differences below 0.004 beyond the first half metre."""
    putts = mean_putts(np.arange(0.1, 30.0, 0.05), TOUR)
    assert (np.diff(putts) > -1e-4).all()
    assert np.abs(np.diff(putts, 2)[10:]).max() < 0.004


def test_downhill_runs_out_and_is_harder_than_uphill() -> None:
    green = solved(plane_4, SCRATCH, 11.0)
    for far in (3.0, 6.0, 9.0):
        assert green.at(0.0, far) > green.at(0.0, -far) + 0.02
    across = green.plan([6.0], [0.0])
    assert (
        np.pi - 0.6 < across.angle[0] < np.pi - 0.05
    )  # aimed up the slope: seen towards the west, to its right


def test_a_mirrored_green_has_mirrored_putts() -> None:
    green = solved(plane_2, SCRATCH, 10.0)
    for x, y in ((2.0, 1.0), (5.0, -3.0), (1.0, 6.0)):
        assert green.at(x, y) == pytest.approx(green.at(-x, y), abs=0.01)


def test_longer_grass_costs() -> None:
    """From apron of four times the resistance a putt is harder, and is hit harder."""
    surface, target = ground(level)
    x, y = surface.centres()
    rho = np.where(np.hypot(x[None, :], y[:, None]) > 6.0, 4.0, 1.0) * resistance_of(10.0)
    apron = solve_green(surface, target, [(0.0, 0.0)], SCRATCH, resistance=rho, threads=1)[0]
    on = solved(level, SCRATCH, 10.0)
    assert apron.at(9.0, 0.0) > on.at(9.0, 0.0) + 0.03
    assert apron.at(3.0, 0.0) == pytest.approx(on.at(3.0, 0.0), abs=0.01)
    assert apron.plan([9.0], [0.0]).speed[0] > on.plan([9.0], [0.0]).speed[0]


def test_one_more_pin_moves_nothing() -> None:
    surface, target = ground(plane_2)
    rho = resistance_of(10.0)
    one, two = (
        putts_of_cells(
            solve_green(surface, target, pins, SCRATCH, resistance=rho, threads=len(pins)), surface, target
        )
        for pins in ([(1.0, 2.0)], [(-3.0, 0.0), (1.0, 2.0)])
    )
    np.testing.assert_array_equal(one[:, 0], two[:, 1])
    assert one.shape == (int(target.sum()), 1)


def test_handicaps_are_in_order_and_interpolated() -> None:
    putts = [mean_putts(6.0, putter_for(h)) for h in (0, 3, 5, 12, 18, 25, 30)]
    assert (np.diff(putts) > 0).all() and mean_putts(6.0, TOUR) < putts[0]
    assert built_in_putter("scratch") == SCRATCH and built_in_putter("7.5").near_deg == pytest.approx(
        0.5 * (built_in_putter("5").near_deg + built_in_putter("10").near_deg)
    )


def test_greens_and_turf_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="no putter 'pro'"):
        built_in_putter("pro")
    with pytest.raises(InputError, match="putting errors"):
        Putter(-1.0, 0.1, 0.08)
    surface, target = ground(level)
    with pytest.raises(InputError, match="hole locations"):
        solve_green(surface, target, [(500.0, 0.0)], TOUR, resistance=0.08)
    with pytest.raises(InputError, match="resistances"):
        putting_turf(surface, -1.0)
