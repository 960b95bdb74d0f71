"""Lyu, Kensrud, Smith & Tosaya 2018, Proceedings 2(6):238, doi 10.3390/proceedings2060238.

13 production balls.

Lift read off a figure [second-hand], spread between balls +-0.02 to 0.03; non-spinning drag 0.18 to 0.20 at
Re 1.46e5 to 1.68e5 [second-hand]; simulated carry differs by 18 m between balls [published:
mdpi.com/2504-3900/2/6/238].
"""

from __future__ import annotations

import pytest

from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.flight import Launch, fly

LIFT = [(0.045, 0.10), (0.075, 0.13), (0.105, 0.17), (0.185, 0.25), (0.32, 0.315)]


@pytest.mark.parametrize(("s", "cl"), LIFT)
def test_lift_of_the_default_model(s, cl) -> None:
    """Within the spread between balls, 0.02."""
    assert _kernels.coefficients(_kernels.MODEL_D, s, 1.5e5)[1] == pytest.approx(cl, abs=0.02)


def test_drag_without_spin() -> None:
    """0.187 and 0.196 read.

    Balls differ by less than 0.05 at Re > 1e5 [published]: half of it, 0.025, either side of what is read.
    The default has 0.210 there, at the upper edge.
    """
    for re, cd in ((1.46e5, 0.187), (1.68e5, 0.196)):
        assert _kernels.coefficients(_kernels.MODEL_D, 0.0, re)[0] == pytest.approx(cd, abs=0.025)


def test_published_models_differ_less_than_balls_do() -> None:
    """Driver carries of the three models within the 18 m that production balls span."""
    carries = [fly(Launch(74.7, 10.9, 2686), model=m).carry_m for m in ("D", "Q", "SS")]
    assert max(carries) - min(carries) < 18.0
