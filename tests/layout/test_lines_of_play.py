"""Lines of play, derived and drawn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from gistools.compute.layout.fairways import filled, middle_line
from gistools.compute.layout.lines_of_play import (
    UNCLEAR_PIVOT_M,
    derived_line,
    drawn_line,
    green_centre,
    middle_tee,
    turning_points,
)


def corridor(points, half=18.0):
    return LineString(points).buffer(half, cap_style="flat")


def test_middle_of_a_rectangle():
    # 100 x 30 m: the middle part runs exactly on the axis (computed)
    points, half = middle_line(box(0, 0, 100, 30))
    assert np.allclose(points[:, 1], 15.0, atol=1e-6)
    assert np.allclose(half, 15.0, atol=1e-6)
    assert points[:, 0].min() < 25 and points[:, 0].max() > 75


def test_straight_hole_has_no_turning_point():
    tees = np.array([(0, 0), (4, 30), (-8, 60)], float)
    fairway = corridor([(0, 100), (0, 310)])
    assert len(turning_points(tees, np.array([0, 340.0]), fairway)[0]) == 0


def test_approach_neck_beside_the_line_is_no_bend():
    fairway = corridor([(0, 100), (0, 300)]).union(box(3, 295, 13, 330))
    assert len(turning_points(np.array([(0.0, 0.0)]), np.array([0, 345.0]), fairway)[0]) == 0


def test_dogleg_turns_at_its_corner():
    corner = np.array([0.0, 230.0])
    fairway = corridor([(0, 120), corner, (150, 340)])
    points, note = turning_points(np.array([(0.0, 0.0)]), np.array([180.0, 362.0]), fairway)
    assert len(points) == 1 and note == ""
    assert np.hypot(*(points[0] - corner)) < 5.0  # the middle line cuts the corner a little


def test_two_turning_points_on_a_long_hole_only():
    legs = [(0, 120), (0, 230), (150, 330), (150, 480)]
    points, note = turning_points(np.array([(0.0, 0.0)]), np.array([150.0, 520.0]), corridor(legs))
    assert len(points) == 2 and note == ""
    assert np.hypot(*(points[0] - legs[1])) < 5 and np.hypot(*(points[1] - legs[2])) < 5


def test_unclear_bend_turns_at_250_yards_from_the_middle_tee():
    angles = np.linspace(0.2, 1.4, 40)
    arc = np.column_stack([200 - 200 * np.cos(angles), 80 + 200 * np.sin(angles)])
    points, note = turning_points(np.array([(0.0, 0.0)]), np.array([200.0, 280.0]), corridor(arc, 14.0))
    assert len(points) == 1 and "not clear" in note
    assert np.hypot(*points[0]) == pytest.approx(UNCLEAR_PIVOT_M, abs=4.0)


def test_short_hole_is_straight_whatever_its_apron():
    assert len(turning_points(np.array([(0.0, 0.0)]), np.array([0.0, 150.0]), box(15, 60, 30, 140))[0]) == 0


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 360), st.floats(-3e5, 3e5), st.floats(-3e5, 3e5), st.booleans())
def test_turning_points_go_with_the_ground(turn, east, north, mirror):
    fairway = corridor([(0, 120), (0, 230), (150, 340)])
    tees, green = np.array([(0.0, 0.0), (0.0, 30.0)]), np.array([180.0, 362.0])
    expected, _ = turning_points(tees, green, fairway)

    def go(points):
        a = np.radians(turn)
        p = np.asarray(points) * [-1.0 if mirror else 1.0, 1.0]
        return p @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + [east, north]

    result, _ = turning_points(go(tees), go(green), Polygon(go(fairway.exterior.coords)))
    # the middle line rests on a Voronoi diagram, true to centimetres far from the origin of the grid
    assert np.allclose(result, go(expected), atol=0.05)


def test_line_of_a_forward_tee_leaves_out_turns_behind_it():
    turns, green = np.array([(0.0, 100.0), (100.0, 200.0)]), np.array([100.0, 400.0])
    assert derived_line(np.array([0.0, 0.0]), turns, green).turns == 2
    assert derived_line(np.array([40.0, 160.0]), turns, green).turns == 1


def test_middle_tee_is_the_middle_by_distance():
    assert middle_tee(np.array([(0, 0), (0, 60), (0, 25)], float), np.array([0, 340.0])) == 2


GREEN = Point(0, 340).buffer(14)
CENTRE = np.array([0.0, 340.0])


def test_drawn_line_is_turned_round_and_tied():
    drawn = np.array([(2, 338), (30, 200), (3, 4)], float)
    line, doubts = drawn_line(drawn, np.zeros(2), CENTRE, GREEN, snap_m=15, for_one_tee=True)
    assert np.allclose(line.points, [(0, 0), (30, 200), (0, 340)])
    assert doubts == [] and "turned round" in line.note and line.source == "drawn"


def test_drawn_line_far_from_its_tee_is_kept_and_doubted():
    drawn = np.array([(60, 4), (30, 200), (0, 338)], float)
    line, doubts = drawn_line(drawn, np.zeros(2), CENTRE, GREEN, snap_m=15, for_one_tee=True)
    assert np.allclose(line.points[0], (60, 4))
    assert "60 m from the centre of the tee" in doubts[0]


def test_drawn_line_short_of_the_green_goes_on_to_it():
    drawn = np.array([(0, 0), (30, 200)], float)
    line, doubts = drawn_line(drawn, np.zeros(2), CENTRE, GREEN, snap_m=15, for_one_tee=True)
    assert np.allclose(line.points, [(0, 0), (30, 200), (0, 340)])
    assert "from the centre of the green" in doubts[0]


def test_line_of_all_tees_serves_a_forward_tee():
    drawn = np.array([(0, 0), (0, 40), (30, 200), (0, 338)], float)
    tee = np.array([5.0, 60.0])
    line, doubts = drawn_line(drawn, tee, CENTRE, GREEN, snap_m=15, for_one_tee=False)
    assert np.allclose(line.points, [tee, (30, 200), (0, 340)]) and doubts == []
    _, doubts = drawn_line(drawn, np.array([40.0, 60.0]), CENTRE, GREEN, snap_m=15, for_one_tee=False)
    assert "beside the tee" in doubts[0]


def test_centre_of_a_bent_green_is_on_it():
    bent = Point(0, 0).buffer(20).difference(Point(8, 0).buffer(14))
    assert bent.distance(Point(green_centre(bent))) < 1e-9


class TestFilledFairway:
    fairway = box(-20, 100, 20, 310)

    def test_cut_out_or_drawn_across_is_the_same(self, plan):
        water = plan.burn()
        parts = self.fairway.difference(water.buffer(3))
        assert filled(parts, [water]).symmetric_difference(self.fairway).area < 3.0
        assert filled(self.fairway, [water]).equals(self.fairway)

    def test_island_of_rough_stays_open(self):
        with_island = self.fairway.difference(box(-3, 200, 3, 206))
        assert filled(with_island, [box(-8, 280, -4, 284)]).equals(with_island)
        assert filled(with_island, [box(-1, 202, 1, 204)]).symmetric_difference(self.fairway).area < 0.01

    def test_wide_break_stays_a_break(self, plan):
        parts = MultiPolygon([box(-20, 100, 20, 180), box(-20, 240, 20, 310)])
        assert filled(parts, [plan.burn()]).equals(parts)


def test_moved_fairway_keeps_its_outline():
    fairway = affinity.rotate(box(-20, 100, 20, 310), 31, origin=(0, 0))
    assert filled(fairway, []).equals(fairway)
