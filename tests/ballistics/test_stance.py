"""Slopes under the feet: directions as published, sizes as stated, symmetric."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.base.errors import InputError
from gistools.compute.ballistics.stance import stance

FIVE = math.tan(math.radians(5.0))


def test_level_ground_changes_nothing() -> None:
    assert stance(0.0, 0.0) == (0.0, 0.0, 1.0)


def test_uphill_goes_higher_and_left_downhill_lower_and_right() -> None:
    """Hiley 2019 [second-hand], right-handed players, 5 degrees."""
    up, down = stance(FIVE, 0.0), stance(-FIVE, 0.0)
    assert up.launch_deg == pytest.approx(5.0) and up.direction_deg == pytest.approx(-2.0)
    assert down.launch_deg == pytest.approx(-5.0) and down.direction_deg == pytest.approx(2.0)
    assert up.dispersion_factor == down.dispersion_factor == pytest.approx(1.15)


def test_ball_above_the_feet_goes_left_and_more_so_with_loft() -> None:
    """By the geometry of the face.

    A plane of loft L about an axis tilted by 5 degrees, turned with matrices.
    """
    turns = []
    for launch in (10.0, 20.0, 30.0):
        loft, d = math.radians(1.4 * launch), math.radians(-5.0)
        face = np.array([0.0, math.cos(loft), math.sin(loft)])  # normal of the face: forward and up
        about_shot = np.array([[math.cos(d), 0, math.sin(d)], [0, 1, 0], [-math.sin(d), 0, math.cos(d)]])
        x, y, _ = about_shot @ face
        turns.append(float(stance(0.0, FIVE, launch_deg=launch).direction_deg))
        assert turns[-1] == pytest.approx(math.degrees(math.atan2(x, y)), abs=1e-9)
    assert 0 > turns[0] > turns[1] > turns[2]
    assert stance(0.0, -FIVE).direction_deg == pytest.approx(-stance(0.0, FIVE).direction_deg)


def test_a_left_handed_player_is_the_mirror() -> None:
    along, across = np.array([0.1, -0.05, 0.0]), np.array([0.02, 0.08, -0.1])
    right, left = stance(along, across), stance(along, -across, left_handed=True)
    assert left.direction_deg == pytest.approx(-right.direction_deg)
    assert left.launch_deg == pytest.approx(right.launch_deg)
    assert left.dispersion_factor == pytest.approx(right.dispersion_factor)


def test_arrays_broadcast_and_steep_ground_has_a_limit() -> None:
    s = stance(np.zeros((3, 1)), np.linspace(-3, 3, 5))
    assert s.direction_deg.shape == (3, 5) and np.isfinite(s.direction_deg).all()
    assert stance(5.0, 0.0).launch_deg == 20.0
    with pytest.raises(InputError, match="finite"):
        stance(math.nan, 0.0)
