"""Shares that carry a hazard with directions in them: landing points counted against its outline."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely.affinity
from shapely.geometry import Polygon, box

from gistools.compute.ballistics.effective_distance import carry_and_share, carry_of, far_edges
from gistools.compute.ballistics.players import built_in

TEE = (0.0, 0.0)
SQUARE = box(-300, 190, 300, 200)
#: a burn 10 m wide that runs away to the right at 45 degrees; its far edge is 200 m off due north
DIAGONAL = Polygon([(-600, -410), (-600, -400), (800, 1000), (800, 990)])


@pytest.mark.parametrize("area", [SQUARE, DIAGONAL])
def test_far_edges_are_those_of_the_outline(area):
    offsets, carry = far_edges(area, TEE, 0.0, 200.0)
    for off, far in zip(offsets[::9], carry[::9], strict=True):
        a = math.radians(off)
        x, y = far * math.sin(a), far * math.cos(a)
        # square: y = 200; diagonal: y = x + 200
        assert y == pytest.approx(200.0 if area is SQUARE else x + 200.0, abs=1e-6)


def test_a_shot_past_the_end_of_a_hazard_has_nothing_to_carry():
    offsets, carry = far_edges(box(-5, 190, 5, 200), TEE, 0.0, 200.0)
    assert (carry[np.abs(offsets) > 2.0] == 0.0).all() and carry[len(carry) // 2] == pytest.approx(200.0)


@pytest.mark.parametrize("name", ["scratch man", "bogey man"])
@pytest.mark.parametrize("area", [SQUARE, DIAGONAL])
def test_share_is_that_of_landing_points_beyond_the_outline(name, area):
    player = built_in(name)
    driver = player.clubs[0]
    plan = 0.95 * carry_of(driver)
    shift = plan - 200.0
    moved = shapely.affinity.translate(area, 0.0, shift)
    _, share = carry_and_share(player, driver, plan, edge=far_edges(moved, TEE, 0.0, plan))
    angle, error = player.dispersion(driver, "tee").errors(4096)
    length = error * carry_of(driver)  # carry is all but in proportion to the strike
    x, y = length * np.sin(angle), length * np.cos(angle)
    beyond = y > plan if area is SQUARE else y > x + plan
    assert share == pytest.approx(beyond.mean(), abs=0.015)


def test_over_a_diagonal_direction_is_part_of_the_risk():
    player = built_in("scratch man")
    plan = 0.95 * carry_of(player.clubs[0])
    _, along = carry_and_share(player, player.clubs[0], plan)
    moved = shapely.affinity.translate(DIAGONAL, 0.0, plan - 200.0)
    _, across = carry_and_share(player, player.clubs[0], plan, edge=far_edges(moved, TEE, 0.0, plan))
    assert across < along - 0.03
