"""Hazards across the fairway: a straight burn asks cot(angle) for each metre of width."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from gistools.compute.layout.diagonals import _moments, diagonals

MOVES = (st.floats(0, 360), st.floats(-5e5, 5e5), st.floats(-5e5, 5e5), st.booleans())


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([30.0, 45.0, 60.0]), st.floats(1.0, 8.0), *MOVES)
def test_gradient_is_cot_of_the_angle(plan, angle, width, turn, east, north, mirror):
    hole = plan.hole({"burn": plan.burn(angle, width=width)})
    there = plan.moved(hole, turn_deg=turn, east=east, north=north, mirror=mirror)
    (result,) = diagonals(there, there.tees[0])
    cot = 1 / np.tan(np.radians(angle))
    assert abs(result.gradient) == pytest.approx(cot, abs=1e-6)
    assert result.runs_away == ("left" if mirror else "right")
    assert result.angle == pytest.approx(angle, abs=1e-5)
    assert result.share == pytest.approx(1.0, abs=1e-9)
    assert (result.areas, result.crosses) == (2, True)
    on_ground = (turn + (-angle if mirror else angle)) % 180
    assert min((result.bearing - on_ground) % 180, (on_ground - result.bearing) % 180) < 1e-5


@pytest.mark.parametrize("angle", [0.0, 90.0, 120.0, 150.0])
def test_burns_at_other_angles(plan, angle):
    if angle == 0.0:
        along = LineString([(5, 150), (5, 250)]).buffer(2, cap_style="flat")
        (result,) = diagonals(*_with_tee(plan.hole({"burn": along})))
        assert result.angle == pytest.approx(0, abs=1e-6) and not result.crosses
        assert (result.offset_left, result.offset_right) == (pytest.approx(23), pytest.approx(13))
        return
    (result,) = diagonals(*_with_tee(plan.hole({"burn": plan.burn(angle)})))
    assert result.gradient == pytest.approx(1 / np.tan(np.radians(angle)), abs=1e-6)
    assert result.runs_away == ("square" if angle == 90.0 else "left")


def _with_tee(hole):
    return hole, hole.tees[0]


@pytest.mark.parametrize("angle", [35.0, 50.0])
def test_axis_of_a_burn_that_stops_in_the_fairway(plan, angle):
    """Cut off by the edge of the fairway the band is no parallelogram's principal axis."""
    a = np.radians(angle)
    band = LineString([(0, 200), (-120 * np.sin(a), 200 - 120 * np.cos(a))]).buffer(2, cap_style="flat")
    (result,) = diagonals(*_with_tee(plan.hole({"burn": band})))
    assert result.angle == pytest.approx(angle, abs=0.01)
    assert not result.crosses and result.areas == 1
    assert 0.5 < result.share < 0.56


def test_bunker_that_bites(plan):
    hole = plan.hole({"bite": box(10, 200, 30, 208)})
    (result,) = diagonals(*_with_tee(hole))
    assert result.share == pytest.approx(0.25)
    assert result.angle == pytest.approx(90, abs=1e-6)
    assert result.gradient == pytest.approx(0, abs=1e-9)
    assert (result.areas, result.crosses) == (1, False)
    assert diagonals(hole, hole.tees[0], least_share=0.3) == []


def test_round_bunker_has_no_axis(plan):
    (result,) = diagonals(*_with_tee(plan.hole({"pot": Point(0, 200).buffer(5)})))
    assert np.isnan(result.angle) and np.isnan(result.bearing)
    assert result.share == pytest.approx(0.25)


def test_hazard_cut_out_of_the_fairway_equals_one_across(plan):
    burn = plan.burn(45.0)
    fairway = box(-20, 100, 20, 310)
    (across,) = diagonals(*_with_tee(plan.hole({"burn": burn}, fairway=fairway)))
    (cut,) = diagonals(*_with_tee(plan.hole({"burn": burn}, fairway=fairway.difference(burn.buffer(1)))))
    assert cut.gradient == pytest.approx(across.gradient, abs=1e-6)
    assert cut.share == pytest.approx(across.share, abs=0.02)
    assert cut.areas == across.areas == 2


def test_hazard_beside_the_fairway_is_no_diagonal(plan):
    assert diagonals(*_with_tee(plan.hole({"near": box(22, 200, 30, 208)}))) == []


@pytest.mark.parametrize(
    ("shape", "bearing", "ratio", "off"),
    [
        # (computed): a 30 x 12 rectangle has moments 75 and 12 a unit of area, an ellipse 20 x 8 100 and 16
        (affinity.rotate(box(-15, -6, 15, 6), 33), 57.0, 75 / 12, 1e-9),
        (
            affinity.rotate(affinity.scale(Point(0, 0).buffer(1, quad_segs=64), 20, 8), 33),
            57.0,
            100 / 16,
            0.001,
        ),
        (box(0, 0, 10, 4).difference(box(4, 1.5, 6, 2.5)), 90.0, None, 1e-9),
    ],
)
def test_the_angle_is_that_of_second_moments_by_hand(shape, bearing, ratio, off):
    axis, result = _moments(affinity.translate(shape, 4e5, 6e5))
    assert np.degrees(np.arctan2(axis[0], axis[1])) % 180 == pytest.approx(bearing, abs=1e-5)
    if ratio is None:  # a rectangle with a hole: (bh^3 - b'h'^3) / 12 both ways
        ratio = (4 * 10**3 - 1 * 2**3) / (10 * 4**3 - 2 * 1**3)
    assert result == pytest.approx(ratio, rel=max(off, 1e-6))


def test_far_edge_decides_what_is_asked(plan):
    """A pond square in front and slanting behind asks for what its far edge asks."""
    pond = Polygon([(-40, 180), (40, 180), (40, 260), (-40, 180.001)])
    (result,) = diagonals(*_with_tee(plan.hole({"pond": pond})))
    assert result.gradient == pytest.approx(1.0, abs=1e-3)
    assert result.angle == pytest.approx(np.degrees(np.arctan2(1, 0.5)), abs=0.1)
