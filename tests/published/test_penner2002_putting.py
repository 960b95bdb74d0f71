"""Rolling resistance of greens: Penner 2002, The physics of putting, Can.

J. Phys. 80:83-96, and the Stimpmeter.

rho_g = 7 v^2 / (10 g d), v = 1.83 m/s = 6.00 ft/s [published: pinerygcm.blogspot.com 2009]. List: 6 ft 0.131,
8 0.0985, 10 0.0785, 12 0.0655 [second-hand]: last printed digit plus 0.0005, since 1.83 m/s is rounded. A
ball sliding without spin rolls at 5/7 of its speed [published: 3jack.blogspot.com 2009].
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.units import FOOT_M
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.flight_kernels import Vector
from gistools.compute.ballistics.turf import STIMP_SPEED, resistance_of, roll, turf_grid
from gistools.compute.terrain.surface import Surface


@pytest.mark.parametrize(("stimp", "rho"), [(6, 0.131), (8, 0.0985), (10, 0.0785), (12, 0.0655)])
def test_resistance(stimp, rho) -> None:
    assert resistance_of(stimp) == pytest.approx(rho, abs=6e-4)


@pytest.mark.parametrize("stimp", [4.0, 6.5, 8.5, 10.0, 12.0, 14.0])
def test_a_ball_off_the_stimpmeter_rolls_its_reading(stimp) -> None:
    """On level ground; within 0.01 ft."""
    land = turf_grid(Surface(np.zeros((60, 40)), -10.0, 20.0, 0.5), Kind.GREEN, stimp_ft=stimp)
    _, y, kind, _ = roll(land, 0.0, 0.0, 0.0, STIMP_SPEED)
    assert y / FOOT_M == pytest.approx(stimp, abs=0.01) and kind == Kind.GREEN


@pytest.mark.parametrize(("stimp", "steepest"), [(10, 0.0787), (14, 0.0561)])
def test_slope_at_which_it_never_stops(stimp, steepest) -> None:
    """tan = rho_g (computed with a second program).

    A shade flatter holds a ball, a shade steeper does not.
    """
    y = 80 - (np.arange(180) + 0.5) * 0.5
    for share, holds in ((0.97, True), (1.03, False)):
        z = (share * steepest * y)[:, None] * np.ones((180, 20))
        land = turf_grid(Surface(z, -5.0, 80.0, 0.5), Kind.GREEN, stimp_ft=stimp)
        end = roll(land, 0.0, 60.0, 0.0, -0.3)
        assert (end[2] == Kind.GREEN) == holds


def test_five_sevenths() -> None:
    land = turf_grid(Surface(np.zeros((60, 40)), -10.0, 20.0, 0.5), Kind.GREEN)
    assert _kernels.skid(land, 0.0, 0.0, Vector(0.0, 2.0, 0.0), Vector(0.0, 0.0, 0.0), 0.4)[
        3
    ] == pytest.approx(5 / 7 * 2.0)
