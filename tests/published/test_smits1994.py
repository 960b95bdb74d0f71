"""Smits & Smith 1994, A new aerodynamic model of a golf ball in flight, Science and Golf II, 340-347.

CD = 0.24 + 0.18 S (+ a sine of Re, left out), CL = 0.54 S^0.4 [second-hand, two excerpts], for drivers: 0.08
< S < 0.2. Spin decay: lambda = 2.0e-5 [second-hand via Nathan 2008, studylib.net/doc/18725248]; time constant
at 44.7 m/s, r = 0.0213 m: 23.8 s +- 0.1 [second-hand]. A driver lands with about 75 % of its spin (Penner)
[second-hand].
"""

from __future__ import annotations

import pytest

from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.flight import Launch, fly


def test_coefficients() -> None:
    cd, cl = _kernels.coefficients(_kernels.MODEL_SS, 0.10, 1.1e5)
    assert cl == pytest.approx(0.2150, abs=2e-4) and cd == pytest.approx(0.2580, abs=2e-4)


def test_spin_decay() -> None:
    assert pytest.approx(23.8, abs=0.1) == 0.0213 / (_kernels.SPIN_DECAY * 44.7)


@pytest.mark.parametrize("model", ["D", "SS"])
def test_share_of_spin_left_at_landing(model) -> None:
    """75 % "about", from one author's ball: 70 to 82 % allowed."""
    flight = fly(Launch(74.7, 10.9, 2686), model=model)
    assert 0.70 < flight.spin_rpm / 2686 < 0.82


def test_a_ball_of_the_nineties_flies_higher_than_todays() -> None:
    """Apexes 14 to 34 % above today's averages."""
    for launch in (Launch(74.7, 10.9, 2686), Launch(53.6, 16.3, 7100)):
        assert 1.14 < fly(launch, model="SS").apex_m / fly(launch).apex_m < 1.40
