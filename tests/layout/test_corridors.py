"""Widths and clearances on shapes of known size."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.corridors import (
    LANDING_M,
    Surroundings,
    clearance,
    corridor_rows,
    landing_rows,
    stations,
)
from gistools.compute.layout.hole_plan import Feature

NOTHING = Surroundings([], [], [])


def rows_of(hole, around=NOTHING, spacing_m=10.0, search_distance_m=120.0, end_exclusion_m=20.0):
    return corridor_rows(
        hole,
        hole.tees[0],
        around,
        spacing_m=spacing_m,
        search_distance_m=search_distance_m,
        end_exclusion_m=end_exclusion_m,
    )


def at(rows, chainage):
    return next(r for r in rows if r["chainage_m"] == pytest.approx(chainage))


def test_stations_end_at_the_green():
    assert stations(35.0, 10.0).tolist() == [0, 10, 20, 30, 35]
    assert stations(40.0, 10.0).tolist() == [0, 10, 20, 30, 40]


def test_widths_of_a_straight_fairway_are_its_sides(plan):
    hole = plan.hole({"bite": box(10, 196, 30, 208), "burn": plan.burn(90.0, at=260.0)})
    rows = rows_of(hole)
    simple = at(rows, 150)
    assert (simple["fairway_left_m"], simple["fairway_right_m"]) == (pytest.approx(20), pytest.approx(20))
    assert simple["clear_width_m"] == simple["fairway_width_m"] == pytest.approx(40)
    assert at(rows, 200)["clear_width_m"] == pytest.approx(30)
    assert at(rows, 200)["fairway_width_m"] == pytest.approx(40)
    assert at(rows, 260)["clear_width_m"] == pytest.approx(0) and at(rows, 260)["line_surface"] == "burn"
    assert np.isnan(at(rows, 50)["fairway_width_m"]) and at(rows, 50)["line_surface"] == "rough"
    assert at(rows, 0)["line_surface"] == "tee" and at(rows, 340)["line_surface"] == "green"
    assert simple["geometry"].length == pytest.approx(40)


def test_line_nearer_to_one_edge(plan):
    hole = plan.hole({}, fairway=box(-8, 100, 32, 310))
    row = at(rows_of(hole), 200)
    assert (row["fairway_left_m"], row["fairway_right_m"]) == (pytest.approx(8), pytest.approx(32))


def test_narrowest_is_inside_and_by_clear_width(plan):
    neck = box(-20, 100, 20, 310).difference(box(5, 220, 25, 240)).difference(box(-2, 300, 25, 320))
    rows = rows_of(plan.hole({}, fairway=neck))
    (narrow,) = [r for r in rows if r["narrowest"]]
    assert narrow["chainage_m"] in (220, 230, 240)  # the tip beyond 300 is an end, not a narrows
    assert narrow["clear_width_m"] == pytest.approx(25)
    pinch = plan.hole({"a": box(-20, 176, -12, 184), "b": box(12, 176, 20, 184)})
    (narrow,) = [r for r in rows_of(pinch) if r["narrowest"]]
    assert (narrow["chainage_m"], narrow["clear_width_m"]) == (180, pytest.approx(24))
    assert not any(r["narrowest"] for r in rows_of(plan.hole({}, fairway=shapely.Polygon())))


def test_clearances_by_side_and_name(plan):
    around = Surroundings(
        trees=[Feature("oak", "trees", 1, Point(-50, 203).buffer(4, quad_segs=64))],
        boundary=[Feature("edge", "boundary", 1, box(-90, -50, 130, 410).boundary)],
        others=[
            Feature("fairway, hole 2", "fairway", 2, box(60, 0, 90, 150)),
            Feature("green, hole 3", "greens", 3, box(60, 200, 70, 300)),
        ],
    )
    rows = rows_of(plan.hole({}), around)
    row = at(rows, 200)
    assert row["tree_left_m"] == pytest.approx(46, abs=0.01)  # between two stations, and still seen
    assert np.isnan(row["tree_right_m"])
    assert row["boundary_left_m"] == pytest.approx(90) and np.isnan(row["boundary_right_m"])
    assert (row["other_right_m"], row["other_right"]) == (pytest.approx(60), "green, hole 3")
    assert at(rows, 100)["other_right"] == "fairway, hole 2"
    assert (at(rows, 180)["other_right"], at(rows, 180)["other_left"]) == ("", "")
    nearby = at(rows_of(plan.hole({}), around, search_distance_m=80.0), 200)
    assert np.isnan(nearby["boundary_left_m"])


def test_thing_across_the_line_leaves_no_clearance():
    line = Alignment(np.array([(0.0, 0.0), (0.0, 100.0)]))
    away, label = clearance(line, np.array([50.0]), [box(-5, 40, 5, 60)], 1.0, 5.0, 50.0)
    assert (away[0], label[0]) == (0.0, 0)


@settings(max_examples=20, deadline=None)
@given(st.floats(0, 360), st.floats(-5e5, 5e5), st.floats(-5e5, 5e5), st.booleans())
def test_corridors_go_with_the_ground(plan, turn, east, north, mirror):
    line = ((0.0, 0.0), (0.0, 220.0), (120.0, 330.0))
    fairway = LineString([(0, 100), (0, 220), (100, 312)]).buffer(18, cap_style="flat", join_style="mitre")
    hole = plan.hole({"bite": box(10, 150, 30, 166)}, fairway=fairway, line=line)
    around = Surroundings([], [], [Feature("x", "fairway", 2, box(60, 120, 80, 200))])
    there = plan.moved(hole, turn_deg=turn, east=east, north=north, mirror=mirror)
    moved = plan.moved(
        plan.hole({"x": around.others[0].geometry}), turn_deg=turn, east=east, north=north, mirror=mirror
    )
    others = Surroundings([], [], moved.hazards)
    # a step that sets no station on the edge of anything
    for a, b in zip(rows_of(hole, around, 7.3), rows_of(there, others, 7.3), strict=True):
        for name in ("fairway_width_m", "clear_width_m", "chainage_m"):
            assert b[name] == pytest.approx(a[name], abs=1e-6, nan_ok=True)
        sides = ("right", "left") if mirror else ("left", "right")
        for name in ("fairway", "other"):
            for mine, theirs in zip(("left", "right"), sides, strict=True):
                want = a[f"{name}_{mine}_m"]
                assert b[f"{name}_{theirs}_m"] == pytest.approx(want, abs=1e-6, nan_ok=True)
        assert b["line_surface"] == a["line_surface"]


def test_landing_widths_stop_at_the_green(plan):
    hole = plan.hole({"burn": plan.burn(90.0, at=182.9)})
    rows = landing_rows(hole, hole.tees[0], LANDING_M)
    assert [(r["player"], r["full_shot"]) for r in rows] == [
        ("scratch man", 1),
        ("bogey man", 1),
        ("bogey man", 2),
        ("scratch woman", 1),
        ("bogey woman", 1),
        ("bogey woman", 2),
    ]
    result = {(r["player"], r["full_shot"]): r for r in rows}
    assert result["scratch man", 1]["fairway_width_m"] == pytest.approx(40)
    assert result["bogey man", 1]["clear_width_m"] == pytest.approx(0)
    assert result["bogey man", 2]["line_surface"] == "green"
    assert (
        landing_rows(
            plan.hole({}, line=((0, 0), (0, 130))),
            hole.tees[0].__class__("f", 1, Point(0, 0), Alignment(np.array([(0.0, 0.0), (0.0, 130.0)]))),
            LANDING_M,
        )
        == []
    )
