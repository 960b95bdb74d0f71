"""Drag and lift of one's own.

Flown like the built-in ones where they are the same, refused where they make no sense.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.compute.ballistics.aerodynamics import own_model
from gistools.compute.ballistics.air import STANDARD_DAY, Wind
from gistools.compute.ballistics.effective_distance import effective_distance
from gistools.compute.ballistics.flight import Launch, fly, table_for
from gistools.compute.ballistics.simulate import simulate_shots
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.terrain.surface import Surface

from .flights import model_d, model_ss, reference

WINDY = Wind("", 6.0, 30.0)


def drag_d(s: float, re: float) -> float:
    return model_d(s, re)[0]


def lift_d(s: float, re: float) -> float:
    return model_d(s, re)[1]


@pytest.mark.parametrize("launch", [Launch(70, 11, 2600), Launch(46, 24, 9300, 6.0), Launch(20, 30, 5000)])
def test_model_d_given_as_functions_flies_like_model_d(launch: Launch) -> None:
    custom = own_model(drag_d, lift_d)
    assert custom.misfit < 1e-6
    output, expected = fly(launch, wind=WINDY, model=custom), fly(launch, wind=WINDY)
    assert output.carry_m == pytest.approx(expected.carry_m, abs=0.002)
    assert output.offset_m == pytest.approx(expected.offset_m, abs=0.002)
    assert output.spin_rpm == pytest.approx(expected.spin_rpm, abs=0.5)


def test_another_law_against_an_independent_integration() -> None:
    """A form of none of the built-in ones, by SciPy's DOP853 from the functions themselves."""

    def law(s: float, re: float) -> tuple[float, float]:
        return 0.19 + 0.35 * s + 0.05 * re / 2e5, 0.5 * math.sqrt(s) - 0.12 * s

    custom = own_model(lambda s, re: law(s, re)[0], lambda s, re: law(s, re)[1])
    launch = Launch(62, 13, 3000)
    output = fly(launch, model=custom, step_s=0.01)
    air = {"density": STANDARD_DAY.density, "viscosity": STANDARD_DAY.viscosity}
    expected = reference(62, 13, 3000, model=law, **air)
    assert output.carry_m == pytest.approx(expected["carry"], abs=0.02)
    assert output.apex_m == pytest.approx(expected["apex"], abs=0.02)


def test_a_published_law_is_followed_within_its_misfit() -> None:
    custom = own_model(lambda s, re: model_ss(s, re)[0], lambda s, re: model_ss(s, re)[1])
    assert 0.0 < custom.misfit < 0.02
    launch = Launch(67, 11, 2700)
    assert fly(launch, model=custom).carry_m == pytest.approx(fly(launch, model="SS").carry_m, rel=0.02)


def test_everything_that_flies_takes_them() -> None:
    draggy = own_model(lambda s, re: drag_d(s, re) + 0.06, lift_d, name="draggy")
    launch = Launch(67, 11, 2700)
    assert fly(launch, model=draggy).carry_m < fly(launch).carry_m - 10
    assert (
        table_for(launch, model=draggy).nodes[:, 0, -1, 0].max() < table_for(launch).nodes[:, 0, -1, 0].max()
    )
    assert effective_distance(150.0, model=draggy) == pytest.approx(150.0, abs=0.1)
    against = Wind("", 6.0, 0.0)
    assert (
        effective_distance(150.0, wind=against, model=draggy) > effective_distance(150.0, wind=against) + 1.0
    )

    level = Surface(np.zeros((300, 60)), -30.0, 280.0, 1.0)
    simple, slow = (
        simulate_shots(turf_grid(level, int(Kind.FAIRWAY)), (0.0, 0.0), "7-iron", 0.0, n=64, model=m)
        for m in ("D", draggy)
    )
    assert np.median(slow.carry_m) < np.median(simple.carry_m) - 5


def test_no_lift_without_spin_and_held_beyond_the_range() -> None:
    custom = own_model(drag_d, lift_d)
    assert custom.at(0.0, 1e5)[1] == 0.0
    assert fly(Launch(60, 12, 0.0, 20.0), model=custom).offset_m == 0.0
    assert custom.at(5.0, 1e5) == custom.at(1.2, 1e5)
    assert custom.at(0.1, 1e6) == custom.at(0.1, 2.5e5)


@pytest.mark.parametrize(
    ("drag", "lift", "message"),
    [
        (lambda s, re: 0.0, lift_d, "drag of 'x' is 0 at S"),
        (lambda s, re: float("nan"), lift_d, "drag of 'x' is nan"),
        (lambda s, re: "much", lift_d, "drag of 'x' gives no number at S = 0.020, Re = 40000"),
        (lambda s, re: 1 / 0, lift_d, "gives no number"),
        (lambda s: 0.2, lift_d, "gives no number"),
        (drag_d, lambda s, re: 0.083 + 0.885 * s, "lift of 'x' is .* should be from -0.4 to 1"),
        (drag_d, lambda s, re: 0.3 if s > 0.2 else 0.0, "lift of 'x' has a corner or step"),
    ],
)
def test_nonsense_is_refused(drag, lift, message) -> None:
    with pytest.raises(InputError, match=message):
        own_model(drag, lift, name="x")


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(InputError, match="no flight model 'E'"):
        fly(Launch(60, 12, 2000), model="E")
