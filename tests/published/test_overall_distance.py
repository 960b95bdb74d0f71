"""Drives stated by the governing bodies: Overall Distance Standard, and the tour's average drive.

ODS: 176 mph ball (78.68 m/s), 10 deg, 2520 rpm, limit 317 yd + 3 [published: Virginia Golfer 2024;
franklygolf.com]; from 2028 183 mph (81.81 m/s), 11 deg, 2200 rpm, same limit, which most balls of today
exceed [published: inkl.com]. Average drive of 2015: 167.7 mph, 10.8 deg, 2599 rpm [published:
scottishgolfview.com 2016]; about 290 yd in all [from memory]; 286 yd in 2003 [published: new.usga.org]. Air
at 75 F. Bands [assumption]: 295 to 325, 305 to 335, 280 to 305 yd (about 5 %, what balls differ by).
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.units import YARD_M
from gistools.compute.ballistics.air import Weather
from gistools.compute.ballistics.flight import Launch, fly
from gistools.compute.ballistics.turf import run_out, turf_grid
from gistools.compute.terrain.surface import Surface

CASES = [
    (Launch(78.68, 10.0, 2520), 282, 295, 325),
    (Launch(81.81, 11.0, 2200), 294, 305, 335),
    (Launch(74.97, 10.8, 2599), 270, 280, 305),
]


@pytest.mark.parametrize(("launch", "carry_yd", "low_yd", "high_yd"), CASES)
def test_carry_and_run_on_a_normal_fairway(launch, carry_yd, low_yd, high_yd) -> None:
    land = turf_grid(Surface(np.zeros((200, 40)), -10.0, 90.0, 0.5), Kind.FAIRWAY)
    flight = fly(launch, weather=Weather(temperature_c=23.9))
    run = run_out(land, flight.speed_ms, flight.descent_deg, flight.spin_rpm)[0]
    assert flight.carry_m / YARD_M == pytest.approx(carry_yd, abs=2.0)
    assert low_yd <= (flight.carry_m + run) / YARD_M <= high_yd
