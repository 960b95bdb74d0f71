"""Putts on slopes.

Penner 2002, The physics of putting, and Sheppard, Hurrion & Collinson 2016 [both second-hand].

- Penner eq. 30: on 5 degrees the hole takes 1.71 m/s uphill and 1.56 downhill; a just-missed 10 ft putt
  runs 2.9 ft on uphill and 13.1 ft downhill (rho_g 0.131).
- Sheppard: on 3 degrees, Stimpmeter 10 to 10.5, to finish 1 ft past the ball enters at 0.66 m/s uphill and
  0.29 m/s downhill.
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.units import FOOT_M
from gistools.compute.ballistics.turf import resistance_of
from gistools.compute.decision import putting_kernels as kernels
from gistools.compute.decision.putting import TOUR, level_putts, putting_turf, solve_green
from gistools.compute.terrain.surface import Surface


def slope(degrees: float) -> Surface:
    y = 30 - (np.arange(120) + 0.5) * 0.5
    return Surface(np.tan(np.radians(degrees)) * y[:, None] + np.zeros((120, 120)), -30.0, 30.0, 0.5)


def run(degrees: float, rho: float, up: bool, speed: float) -> float:
    """Feet that a ball runs on from the hole."""
    out = np.empty((1, 4))
    angle = np.array([np.pi / 2 if up else -np.pi / 2])
    kernels.roll_many(
        putting_turf(slope(degrees), rho),
        np.zeros(1),
        np.zeros(1),
        angle,
        np.array([speed**2]),
        90.0,
        0.0,
        out,
    )
    return abs(float(out[0, 1])) / FOOT_M


@pytest.mark.parametrize(("y", "speed"), [(-5.0, 1.71), (5.0, 1.56)])
def test_capture_on_five_degrees(y, speed) -> None:
    surface = slope(5.0)
    target = np.ones(surface.z.shape, bool)
    target[:, 4:] = False
    green = solve_green(surface, target, [(0.0, 0.0)], TOUR, resistance=0.131, threads=1)[0]
    facts = np.zeros((1, kernels.FACTS))
    fans = np.zeros((1, kernels.SPEEDS, kernels.FIELDS))
    kernels.roll_all(green.turf, TOUR.errors(), np.zeros(1), np.array([y]), 0.0, 0.0, facts, fans)
    assert facts[0, kernels.CAP] == pytest.approx(speed, abs=0.006)


@pytest.mark.parametrize(("up", "speed", "feet"), [(True, 1.71, 2.9), (False, 1.56, 13.1)])
def test_run_out_of_a_just_missed_putt(up, speed, feet) -> None:
    assert run(5.0, 0.131, up, speed) == pytest.approx(feet, abs=0.3)


@pytest.mark.parametrize(("up", "speed"), [(True, 0.66), (False, 0.29)])
def test_entry_speed_to_finish_a_foot_past(up, speed) -> None:
    """Within 15 %: what Sheppard takes for the rolling resistance is not known."""
    speeds = np.linspace(0.1, 1.2, 221)
    runs = np.array([run(3.0, resistance_of(10.25), up, v) for v in speeds])
    assert float(np.interp(1.0, runs, speeds)) == pytest.approx(speed, rel=0.15)


def test_pace_of_twelve_feet() -> None:
    """Broadie & Shin 2014 [second-hand]: the best target is 1 to 2 ft past for 12 ft."""
    curve = level_putts(TOUR, 11.0)
    assert 1.0 <= float(np.interp(12 * FOOT_M, curve.distance, curve.past)) / FOOT_M <= 2.0
