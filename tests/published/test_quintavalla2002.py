"""Quintavalla 2002, A generally applicable model for the aerodynamic behavior of golf balls, Science and Golf
IV.

As restated by McPhee 2022, Sports Eng. 25:22: CD = 0.171 + 0.62 S [second-hand], CL = 0.083 + 0.885 S [from
memory]. Meant for drivers; 12 to 25 % short for irons and wedges (computed with a second program).
"""

from __future__ import annotations

import pytest

from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.flight import Launch, fly


@pytest.mark.parametrize(("s", "cd", "cl"), [(0.08, 0.2206, 0.1538), (0.20, 0.2950, 0.2600)])
def test_coefficients(s, cd, cl) -> None:
    assert _kernels.coefficients(_kernels.MODEL_Q, s, 1.5e5) == pytest.approx((cd, cl), abs=1e-4)


def test_agrees_with_the_default_for_drivers_and_not_for_wedges() -> None:
    for launch in (Launch(67.0, 11.0, 2700), Launch(74.7, 10.9, 2686)):
        assert fly(launch, model="Q").carry_m == pytest.approx(fly(launch).carry_m, rel=0.02)
    wedge = Launch(45.6, 24.2, 9300)
    assert 0.75 < fly(wedge, model="Q").carry_m / fly(wedge).carry_m < 0.88
