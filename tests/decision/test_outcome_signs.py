"""Signs of the tables behind the outcomes: errors of direction, what a wind does, the drop at water."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.compute.ballistics.air import Wind, air_for
from gistools.compute.ballistics.flight import Launch, fly
from gistools.compute.decision import outcome_kernels as kernels

LAUNCH = Launch(60.0, 14.0, 5000.0)


def test_error_of_direction_turns_the_landing_about_the_start() -> None:
    """Forward ``f cos e - r sin e``, right ``f sin e + r cos e``, at every level of landing."""
    levels = np.array([-10.0, 0.0, 10.0])
    flights = np.zeros((1, 3, 3, 7))
    flights[..., 0] = 200.0 - 0.5 * levels
    flights[..., 1] = 10.0 + 0.1 * levels
    flights[..., 2], flights[..., 3] = 30.0, 3.0
    errors, sizes = np.array([0.1, -0.2, 0.0]), np.full(3, 1.0)
    sample = np.zeros((1, kernels.TABLE_ROWS, 3))
    kernels.spread_samples(flights, np.array([0.9, 1.0, 1.1]), levels, errors, sizes, sample)
    sine, cosine = np.sin(errors), np.cos(errors)
    for row, (forward, right) in ((kernels.OFFSET, (200.0, 10.0)), (kernels.SHIFT, (-0.5, 0.1))):
        assert sample[0, row] == pytest.approx(forward * cosine - right * sine, abs=1e-9)
        assert sample[0, row + 1] == pytest.approx(forward * sine + right * cosine, abs=1e-9)
    way = errors + math.atan2(3.0, 30.0)
    assert sample[0, kernels.DIRECTION] == pytest.approx(np.cos(way))
    assert sample[0, kernels.DIRECTION + 1] == pytest.approx(np.sin(way))


@pytest.mark.parametrize("from_deg", [90.0, 200.0, 315.0])
def test_tabulated_flights_drift_with_the_wind_as_single_flights_do(from_deg: float) -> None:
    """Headings north, east, south and west, landing level, within 0.1 m of a flight of its own."""
    wind = Wind("", 8.0, from_deg)
    angle, _, tilt = LAUNCH.radians
    scales = np.array([1.0])
    out = np.empty((4, 1, 1, 7))
    swing = kernels.Swing(LAUNCH.speed_ms, angle, tilt, LAUNCH.spin_at(scales))
    blows = (wind.speed_ms, math.radians(from_deg))
    kernels.arrivals(air_for(), blows, 0.02, swing, scales, np.zeros(1), out)
    for k, bearing in enumerate((0.0, 90.0, 180.0, 270.0)):
        flight = fly(LAUNCH, wind=wind, bearing_deg=bearing)
        assert out[k, 0, 0, :2] == pytest.approx([flight.carry_m, flight.offset_m], abs=0.1)
