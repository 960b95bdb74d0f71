"""Set-back areas against closed forms, and conflicts at known distances."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from gistools.compute.layout.hole_plan import Feature
from gistools.compute.layout.setbacks import (
    CAUTION,
    Choices,
    Neighbour,
    area_of,
    area_rows,
    cone,
    conflict_rows,
    fairway_stretch,
)
from gistools.compute.layout.zones import Zone

OFF = dict.fromkeys(
    (
        "line_boundary_m",
        "line_road_m",
        "line_structure_m",
        "line_path_m",
        "line_line_m",
        "cone_deg",
        "green_tee_m",
        "green_edge_tee_m",
        "green_path_m",
        "green_boundary_m",
        "tee_boundary_m",
        "zone_m",
    ),
    0.0,
)


def only(**choices):
    return Choices(**{**OFF, **choices})


def neighbour(kind, geometry, hole=None, name="it", layer="x", fid=9):
    return Neighbour(kind, hole, Feature(name, layer, fid, geometry))


@given(st.floats(10, 500), st.floats(1, 120), st.floats(0, 90))
def test_areas_are_those_of_closed_forms(length, distance, turn):
    """Round a straight line: rectangle 2 a L; round a convex shape: A + P a + pi a^2 (Steiner's formula)."""
    line = LineString([(0, 0), (length * np.sin(turn), length * np.cos(turn))])
    assert area_of(line, distance, True).area == pytest.approx(2 * distance * length, rel=1e-9)
    shape = box(0, 0, length, 30)
    steiner = 30 * length + 2 * (30 + length) * distance + np.pi * distance**2
    # the round is inscribed: 0.5 n sin(2 pi / n) for pi, n = 128, is 0.4 per mille small
    n = 128
    inscribed = steiner - (np.pi - 0.5 * n * np.sin(2 * np.pi / n)) * distance**2
    assert area_of(shape, distance, False).area == pytest.approx(inscribed, rel=1e-9)
    assert area_of(Point(0, 0), distance, False).area == pytest.approx(np.pi * distance**2, rel=5e-4)


def test_bend_adds_its_sector():
    line = LineString([(0, 0), (0, 200), (200, 200)])
    # two rectangles, less the square they share inside the bend, and the quarter disc outside
    expected = 2 * 60 * 400 - 60**2 + np.pi * 60**2 / 4
    assert area_of(line, 60, True).area == pytest.approx(expected, rel=1e-4)


def test_line_is_measured_at_right_angles(plan):
    hole = plan.hole({})
    beside = neighbour("boundary", LineString([(-70, -50), (-70, 400)]), layer="boundary")
    behind = neighbour("boundary", LineString([(-90, -20), (90, -20)]), layer="boundary", fid=3)
    rows = conflict_rows(hole, [], [beside, behind], only(line_boundary_m=80.0))
    (row,) = rows  # 20 m behind the tee is no matter of the line of play
    assert row["separation_m"] == pytest.approx(70) and row["shortfall_m"] == pytest.approx(10)
    assert (row["layer"], row["feature_id"], row["other_layer"], row["other_feature_id"]) == (
        "tees",
        1,
        "boundary",
        9,
    )
    assert row["geometry"].length == pytest.approx(70)
    assert row["caution"] == CAUTION
    (row,) = conflict_rows(hole, [], [behind], only(tee_boundary_m=30.5))
    assert row["separation_m"] == pytest.approx(17, abs=0.05)  # from the tee's edge, 3 m from its centre


def test_clear_neighbours_are_no_conflict(plan):
    hole = plan.hole({})
    far = neighbour("boundary", LineString([(-80.01, -50), (-80.01, 400)]))
    assert conflict_rows(hole, [], [far], only(line_boundary_m=80.0)) == []


@pytest.mark.parametrize(
    ("kind", "choice", "geometry", "distance"),
    [
        ("road", "line_road_m", LineString([(90, 0), (90, 400)]), 90),
        ("structure", "line_structure_m", box(40, 200, 60, 220), 40),
        ("public path", "line_path_m", LineString([(25, 0), (25, 400)]), 25),
        ("tee", "green_tee_m", Point(50, 340).buffer(3), 47),
        ("tee", "green_edge_tee_m", Point(50, 340).buffer(3), 33),
        ("cart path", "green_path_m", LineString([(24, 300), (24, 400)]), 10),
        ("structure", "green_boundary_m", box(40, 330, 60, 350), 26),
        ("public path", "zone_m", LineString([(30, 150), (30, 250)]), 20),
        ("shelter", "zone_m", box(-40, 150, -30, 160), 20),
    ],
)
def test_each_rule_at_a_known_distance(plan, kind, choice, geometry, distance):
    hole = plan.hole({})
    landing = [Zone("target", box(-10, 140, 10, 240), "")]
    other = neighbour(kind, geometry, hole=2)
    expected = {choice: getattr(Choices(), choice)}
    (row,) = conflict_rows(hole, landing, [other], only(**expected))
    assert row["separation_m"] == pytest.approx(distance, abs=0.02)
    assert row["clear_distance_m"] == expected[choice] and row["other_hole"] == 2
    assert conflict_rows(hole, landing, [neighbour(kind, geometry, hole=1)], only(**expected)) == []


def test_lines_of_two_holes_are_compared_over_their_fairways(plan):
    hole = plan.hole({})
    (tee,) = hole.tees
    assert shapely.get_coordinates(fairway_stretch(hole, tee)).tolist() == [[0, 100], [0, 310]]
    alongside = neighbour("line of play", LineString([(45, 300), (45, 150)]), hole=2)
    (row,) = conflict_rows(hole, [], [alongside], only(line_line_m=60.0))
    assert row["separation_m"] == pytest.approx(45)
    ahead = neighbour("line of play", LineString([(20, 360), (20, 600)]), hole=2)
    assert conflict_rows(hole, [], [ahead], only(line_line_m=60.0)) == []


def test_neighbour_across_the_line(plan):
    path = neighbour("public path", LineString([(-50, 200), (50, 200)]))
    (row,) = conflict_rows(plan.hole({}), [], [path], only(line_path_m=30.0))
    assert row["separation_m"] == 0.0 and row["reading"] == "lies across or inside"
    assert row["geometry"].length > 0 and row["geometry"].intersects(path.feature.geometry)


class TestCone:
    def test_the_cone_has_its_closed_form_area(self, plan):
        (tee,) = plan.hole({}).tees
        area, axis = cone(tee, 15.0, 242.0)
        assert axis.length == pytest.approx(242)
        assert area.area == pytest.approx(242**2 * np.tan(np.radians(15)))
        assert cone(tee, 15.0, 1000.0)[1].length == pytest.approx(340)  # no longer than the hole

    def test_deepest_place_counts(self, plan):
        hole = plan.hole({})
        wall = neighbour("structure", LineString([(30, 60), (30, 200)]))
        (row,) = conflict_rows(hole, [], [wall], only(cone_deg=15.0))
        assert (row["separation_m"], row["clear_distance_m"]) == (
            pytest.approx(30),
            pytest.approx(200 * np.tan(np.radians(15))),
        )
        assert row["chainage_m"] == pytest.approx(200)

    def test_a_neighbour_on_the_axis_lacks_the_whole_cone(self, plan):
        path = neighbour("public path", LineString([(-100, 150), (100, 150)]))
        (row,) = conflict_rows(plan.hole({}), [], [path], only(cone_deg=15.0))
        assert row["separation_m"] == pytest.approx(0, abs=1e-9)
        assert row["clear_distance_m"] == pytest.approx(150 * np.tan(np.radians(15)))

    def test_a_neighbour_outside_the_cone_is_no_conflict(self, plan):
        beside = neighbour("structure", Polygon([(60, 200), (70, 200), (70, 190)]))
        assert conflict_rows(plan.hole({}), [], [beside], only(cone_deg=15.0)) == []


def test_setback_areas_need_a_neighbour_of_their_kind(plan):
    hole = plan.hole({})
    rows = area_rows(hole, [], [neighbour("boundary", box(-90, -50, 130, 410).boundary)], Choices())
    assert {r["rule"] for r in rows} == {
        "line of play to boundary",
        "green to boundary",
        "tee to boundary",
        "cone from the tee",
    }
    line = next(r for r in rows if r["rule"] == "line of play to boundary")
    assert line["area_m2"] == pytest.approx(2 * 80 * 340)
    assert all(r["caution"] == CAUTION and r["guidance"] for r in rows)


@settings(max_examples=20, deadline=None)
@given(st.floats(0, 360), st.floats(-5e5, 5e5), st.floats(-5e5, 5e5), st.booleans())
def test_conflicts_go_with_the_ground(plan, turn, east, north, mirror):
    hazards = {"a": box(40, 195, 60, 220), "b": LineString([(-70, 10), (-52, 330)])}
    kinds = {"a": "structure", "b": "boundary"}
    move = {"turn_deg": turn, "east": east, "north": north, "mirror": mirror}
    hole, there = plan.hole(hazards), plan.moved(plan.hole(hazards), **move)

    def distances(h):
        around = [Neighbour(kinds[f.feature], None, f) for f in h.hazards]
        return [
            (r["rule"], r["other"], r["separation_m"], r["clear_distance_m"])
            for r in conflict_rows(h, [], around, Choices())
        ]

    for a, b in zip(distances(hole), distances(there), strict=True):
        assert b == (a[0], a[1], pytest.approx(a[2], abs=1e-6), pytest.approx(a[3], abs=1e-6))
