"""explain() and approach(): figures on level ground against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.compute.ballistics.air import CALM, STANDARD_DAY
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision.approaches import View, _over, approach
from gistools.compute.decision.explain import explain
from gistools.compute.decision.hole_ground import HoleGround
from gistools.compute.terrain.surface import Surface

from .cases import field, paint, play

pytestmark = pytest.mark.slow

PIN = (0.0, 100.0)
GREEN = box(-10, 84, 10, 116)  # 20 m by 32 m, long axis north


@pytest.fixture(scope="module")
def hole():
    surface, kinds = field(width=110.0, length=160.0, kind=Kind.FAIRWAY, green=0.0)
    kinds = paint(surface, kinds, GREEN.bounds, Kind.GREEN)
    kinds = paint(surface, kinds, (-55, 60, 55, 66), Kind.WATER)
    _, y = surface.centres()
    rise = np.where(y > 104, np.minimum((y - 104) * 0.25, 1.0), 0.0)  # a bank of 1 m behind the pin
    banked = Surface(surface.z + rise[:, None], surface.x_west, surface.y_north, surface.cell)
    s = play(banked, kinds, pins=[PIN])
    feature = np.where(kinds == Kind.WATER, 0, -1).astype(np.int16)
    covered = (kinds, feature, ("Test Burn",))
    ground = HoleGround(
        1, banked, *covered, s.ground.land, STANDARD_DAY, kinds == Kind.GREEN, GREEN, s.pins, s.pin_xy
    )
    return s, ground


def met(hole, x, y, **more):
    s, ground = hole
    return approach(s, ground, built_in("scratch man"), CALM, x, y, 0, **more)


def test_lengths_and_angles_on_a_rectangle(hole):
    row = met(hole, 0.5, 20.5)
    assert row["pin_distance_m"] == pytest.approx(math.hypot(0.5, 79.5))
    assert row["green_angle_deg"] == pytest.approx(math.degrees(math.atan2(0.5, 79.5)), abs=1e-6)
    assert row["green_depth_m"] == pytest.approx(
        32.0 / math.cos(math.radians(row["green_angle_deg"])), rel=1e-9
    )
    assert row["green_width_m"] == pytest.approx(20.0 * 32.0 / row["green_depth_m"], rel=1e-9)
    assert row["front_m"] == pytest.approx(63.5, abs=0.02)
    side = met(hole, 50.0, 100.0)  # level with the pin, straight across the green
    assert side["green_angle_deg"] == pytest.approx(90.0)
    assert (side["green_depth_m"], side["green_width_m"]) == pytest.approx((20.0, 32.0))
    assert side["front_m"] == pytest.approx(40.0)
    slant = met(hole, -40.0, 60.0)
    assert slant["green_angle_deg"] == pytest.approx(45.0)
    assert slant["green_depth_m"] == pytest.approx(20.0 * math.sqrt(2))


def test_what_is_over_lies_on_the_line_to_the_pin():
    """A pond beside the line to the middle of the green lies on the line to the left pin."""
    surface, kinds = field(width=110.0, length=160.0, green=0.0)
    kinds = paint(surface, kinds, GREEN.bounds, Kind.GREEN)
    kinds = paint(surface, kinds, (-8, 60, -2, 66), Kind.WATER)
    left, right = over(surface, kinds, (-8.0, 96.0)), over(surface, kinds, (8.0, 96.0))
    length = math.hypot(8.5, 75.5)
    assert left["hazards_carried"] == "Test Burn"
    assert left["must_carry_m"] == pytest.approx((66.0 - 20.5) / 75.5 * length, abs=1.0)
    assert right["hazards_carried"] == "" and math.isnan(right["must_carry_m"])


def over(surface, kinds, pin):
    """What lies on the line from (0.5, 20.5) to a pin, before the front of the green."""
    feature = np.where(kinds == Kind.WATER, 0, -1).astype(np.int16)
    covered = (kinds, feature, ("Test Burn",))
    ground = HoleGround(
        1, surface, *covered, None, STANDARD_DAY, kinds == Kind.GREEN, GREEN, ("a",), np.array([pin])
    )
    return _over(ground, (0.5, 20.5), pin, 63.0)


def test_what_must_be_carried_and_what_stops(hole):
    row = met(hole, 0.5, 20.5)
    assert row["must_carry_m"] == pytest.approx(66.0 - 20.5, abs=1.0)
    assert row["hazards_carried"] == "Test Burn"
    assert math.isnan(met(hole, 0.5, 70.5)["must_carry_m"]) and met(hole, 0.5, 70.5)["hazards_carried"] == ""
    assert row["backstop_m"] == pytest.approx(1.0, abs=0.01)  # 4 to 8 m beyond the pin
    assert met(hole, 0.5, 20.5, backstop_m=6.0)["backstop_m"] == pytest.approx(0.5, abs=0.1)
    assert met(hole, 0.5, 20.5, backstop_m=3.0)["backstop_m"] == pytest.approx(0.0, abs=0.02)
    assert met(hole, 50.0, 100.0)["backstop_m"] == pytest.approx(
        0.0, abs=0.02
    )  # the bank is not on this line


def test_landing_window_is_the_green_less_the_run(hole):
    """Straight in and level.

    The ball must stay within the front and back edge, so the window is as deep, moved short by the run.
    """
    row = met(hole, 50.0, 100.0)
    assert row["window_to_m"] - row["window_from_m"] == pytest.approx(row["green_depth_m"], abs=4.0)
    run = row["run_along_m"]
    assert row["window_to_m"] == pytest.approx(row["front_m"] + row["green_depth_m"] - run, abs=3.0)
    assert row["window_from_m"] <= row["front_m"] + 1.0


def test_shares_and_blindness(hole):
    row = met(hole, 0.5, 20.5)
    assert 0 <= row["within_3_pct"] <= row["within_6_pct"] <= row["within_10_pct"] <= 100
    s, ground = hole
    strays = replace(s, dispersion_scale=lambda place: np.full((len(place), 1), 0.5))
    blind = met((strays, ground), 0.5, 20.5, view=View(0.0, "the mound"))
    assert (blind["dispersion_increase_pct"], row["dispersion_increase_pct"]) == (50.0, 0.0)
    assert blind["remaining_strokes"] > row["remaining_strokes"]
    assert blind["within_3_pct"] < row["within_3_pct"]
    assert "the mound hides it" in blind["reading"] and "Test Burn" in row["reading"]


def test_ball_on_the_green_is_putted(hole):
    row = met(hole, 2.5, 96.5)
    assert row["club"] == "putter" and row["remaining_strokes"] == hole[0].at(2.5, 96.5, 0)
    assert "On the green" in explain(hole[0], 2.5, 96.5, 0).reading


def test_a_huge_green_is_held():
    surface, kinds = field(width=120.0, length=180.0, kind=Kind.FAIRWAY, green=0.0)
    big = box(-55, 50, 55, 155)
    kinds = paint(surface, kinds, big.bounds, Kind.GREEN)
    s = play(surface, kinds, pins=[PIN])
    covered = (kinds, np.full(kinds.shape, -1, np.int16), ())
    ground = HoleGround(
        1, surface, *covered, s.ground.land, STANDARD_DAY, kinds == Kind.GREEN, big, s.pins, s.pin_xy
    )
    row = approach(s, ground, built_in("scratch man"), CALM, 0.5, 0.5, 0)
    assert row["hold_pct"] > 99 and math.isnan(row["must_carry_m"])
    assert abs(row["landing_fall_pct"]) < 1e-6 and abs(row["landing_camber_pct"]) < 1e-6
    assert abs(row["run_across_m"]) < 0.3  # level: the ground feeds to neither side


def test_explanation_adds_up(hole):
    s, _ = hole
    output = explain(s, 0.5, 20.5, 0, most=4)
    assert output.lie == "fairway" and output.left_m == pytest.approx(math.hypot(0.5, 79.5))
    assert output.remaining_strokes == pytest.approx(s.value_at(0.5, 20.5, 0).strokes)
    assert output.options[0].costs_strokes == 0.0 and len(output.options) == 4
    costs = [o.costs_strokes for o in output.options]
    assert costs == sorted(costs)
    for option in output.options:
        assert sum(option.finishes_pct.values()) == pytest.approx(100.0)
        assert option.remaining_strokes - option.costs_strokes == pytest.approx(
            output.options[0].remaining_strokes
        )
    assert output.options[0].remaining_strokes == pytest.approx(output.remaining_strokes, abs=0.05)
    assert abs((output.options[0].bearing_deg + 180) % 360 - 180) < 15  # northward, at the pin
    assert output.options[0].club in output.reading and "costs" in str(output)
    short = explain(s, 0.5, 56.5, 0)
    assert short.left_m == pytest.approx(43.5, abs=0.1)


def test_where_no_ball_is_played_from_is_told(hole):
    with pytest.raises(InputError, match="water, out of bounds or off the map"):
        explain(hole[0], 0.0, 63.0, 0)
    with pytest.raises(InputError, match="no pin"):
        explain(hole[0], 0.5, 20.5, "blue")
