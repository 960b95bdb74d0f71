"""Green speed on slopes.

Brede, USGA Green Section Record 28(6):10-12, 1990; printed in the course rating manual too.

S = 2 up down / (up + down) [published: issuu.com/golf-iceland, course rating manual 37]; (14, 9) 10.957, (20,
2) 3.636 [published: highlandsccgolfmaintenance.blogspot.com 2014]. The roll model run up and down a slope has
to give the level reading back through it: 10 ft green at 2 %: up 7.970, down 13.426, 10.002 [computed],
+-0.01 ft.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.units import FOOT_M
from gistools.compute.ballistics.turf import STIMP_SPEED, brede_stimp_correction, roll, turf_grid
from gistools.compute.terrain.surface import Surface


def test_printed_examples() -> None:
    assert brede_stimp_correction(14, 9) == pytest.approx(10.957, abs=5e-4)
    assert brede_stimp_correction(20, 2) == pytest.approx(3.636, abs=5e-4)


def reading(slope: float, stimp: float) -> float:
    """Feet rolled along the fall line, uphill where the slope is positive."""
    y = 30 - (np.arange(120) + 0.5) * 0.5
    land = turf_grid(
        Surface((slope * y)[:, None] * np.ones((120, 20)), -5.0, 30.0, 0.5), Kind.GREEN, stimp_ft=stimp
    )
    cosine = 1 / math.sqrt(1 + slope * slope)
    return roll(land, 0.0, 0.0, 0.0, STIMP_SPEED * cosine)[1] / cosine / FOOT_M


def test_up_and_down_two_per_cent() -> None:
    up, down = reading(0.02, 10.0), reading(-0.02, 10.0)
    assert up == pytest.approx(7.970, abs=0.01) and down == pytest.approx(13.426, abs=0.01)
    assert brede_stimp_correction(up, down) == pytest.approx(10.002, abs=0.01)


@pytest.mark.parametrize("stimp", [7.0, 9.0, 11.0])
@pytest.mark.parametrize("slope", [0.01, 0.03])
def test_gives_the_level_reading_back(stimp, slope) -> None:
    """To first order in slope; within 0.05 ft up to 3 %."""
    assert brede_stimp_correction(reading(slope, stimp), reading(-slope, stimp)) == pytest.approx(
        stimp, abs=0.05
    )
