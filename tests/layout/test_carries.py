"""Reach and carry against plane trigonometry."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from gistools.compute.layout.carries import Choices, carry_rows, crossings
from gistools.compute.terrain.surface import Surface

MOVES = (st.floats(0, 360), st.floats(-5e5, 5e5), st.floats(-5e5, 5e5), st.booleans())
FIGURES = ("reach_m", "carry_m", "layup_m", "layup_room_m", "next_reach_m", "offset_m", "chainage_m")


def rows_of(hole, feature, line=None, **choices):
    rows, _ = carry_rows(hole, hole.tees[0], Choices(**choices))
    return [r for r in rows if r["feature"] == feature and (line is None or r["line"] == line)]


def edge(angle_deg, bearing_deg, at, half):
    """Return the distance along a bearing to a slanting line through (0, at)."""
    a, b = np.radians(angle_deg), np.radians(bearing_deg)
    normal = np.array([-np.cos(a), np.sin(a)])
    return (at * normal[1] + half) / (np.sin(b) * normal[0] + np.cos(b) * normal[1])


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 90.0])
def test_carries_of_a_straight_burn_are_plane_trigonometry(plan, angle):
    hole = plan.hole({"burn": plan.burn(angle)}, fairway=box(-20, 60, 20, 310))
    on_line = rows_of(hole, "burn", "on line")[0]
    half = 2 / np.sin(np.radians(angle))
    assert on_line["reach_m"] == pytest.approx(200 - half, abs=1e-9)
    assert on_line["carry_m"] == pytest.approx(200 + half, abs=1e-9)
    assert on_line["side"] == "on line" and on_line["offset_m"] == pytest.approx(0, abs=1e-9)
    _, fan = carry_rows(hole, hole.tees[0], Choices(rays=21))
    fan = [r for r in fan if r["feature"] == "burn"]
    assert [r["ray"] for r in fan] == list(range(1, 22))
    for row in fan:
        b = (row["bearing_deg"] + 180) % 360 - 180
        assert row["carry_m"] == pytest.approx(edge(angle, b, 200, 2.0), abs=1e-6)
        assert row["reach_m"] == pytest.approx(edge(angle, b, 200, -2.0), abs=1e-6)
        assert row["offset_m"] == pytest.approx(row["carry_m"] * np.sin(np.radians(b)), abs=1e-6)
        assert row["chainage_m"] == pytest.approx(row["carry_m"] * np.cos(np.radians(b)), abs=1e-6)
        drawn = shapely.get_coordinates(row["geometry"])
        assert np.allclose(np.hypot(*drawn.T), [row["reach_m"], row["carry_m"]])


def test_fan_goes_from_edge_to_edge_of_the_fairway(plan):
    hole = plan.hole({"burn": plan.burn(45.0)})
    _, fan = carry_rows(hole, hole.tees[0], Choices())
    fan = [r for r in fan if r["feature"] == "burn"]
    half = 2 * np.sqrt(2)
    widest = [np.degrees(np.arctan2(x, 200 + x - half)) for x in (-20, 20)]
    bearings = [(r["bearing_deg"] + 180) % 360 - 180 for r in fan]
    assert [bearings[0], bearings[-1]] == pytest.approx(widest, abs=1e-6)
    least, greatest = rows_of(hole, "burn", "least")[0], rows_of(hole, "burn", "greatest")[0]
    assert (least["side"], greatest["side"]) == ("left", "right")
    assert least["carry_m"] == min(r["carry_m"] for r in fan)
    assert greatest["carry_m"] == max(r["carry_m"] for r in fan)


@settings(max_examples=25, deadline=None)
@given(*MOVES)
def test_carries_go_with_the_ground(plan, turn, east, north, mirror):
    hazards = {"burn": plan.burn(40.0), "left": box(-28, 318, -15, 326), "pot": Point(6, 150).buffer(4)}
    hole = plan.hole(hazards)
    rows, fan = carry_rows(hole, hole.tees[0], Choices())
    there = plan.moved(hole, turn_deg=turn, east=east, north=north, mirror=mirror)
    rows2, fan2 = carry_rows(there, there.tees[0], Choices())
    assert [(r["feature"], r["line"]) for r in rows] == [(r["feature"], r["line"]) for r in rows2]
    swap = {"left": "right", "right": "left", "on line": "on line"}
    for a, b in zip(rows, rows2, strict=True):
        if a["feature"] == "rough to fairway" and a["line"] == "greatest":
            continue  # both edges ask the same, either may be named
        for name in FIGURES:
            sign = -1 if mirror and name == "offset_m" else 1
            assert b[name] == pytest.approx(sign * a[name], abs=1e-5, nan_ok=True), name
        assert b["side"] == (swap[a["side"]] if mirror else a["side"])
    carries = sorted(r["carry_m"] for r in fan)
    assert sorted(r["carry_m"] for r in fan2) == pytest.approx(carries, abs=1e-5)


def test_lay_up_keeps_its_margin_and_room_is_fairway(plan):
    hole = plan.hole({"burn": plan.burn(90.0), "pot": Point(0, 150).buffer(5)})
    row = rows_of(hole, "burn", "on line", margin_m=8.0)[0]
    assert row["layup_m"] == pytest.approx(198 - 8)
    assert row["layup_room_m"] == pytest.approx(190 - 155, abs=1e-6)  # the pot ends at 155
    nearby = plan.hole({"burn": plan.burn(90.0, at=9.0)}, fairway=box(-20, 5, 20, 310))
    assert np.isnan(rows_of(nearby, "burn", "on line", margin_m=8.0)[0]["layup_m"])


class TestMetAgain:
    """A ray that meets the same hazard twice."""

    def ring(self, inner):
        return Point(0, 200).buffer(30).difference(Point(0, 200).buffer(inner))

    def test_small_island_is_no_place_to_land(self, plan):
        row = rows_of(plan.hole({"pond": self.ring(6)}), "pond", "on line", minimum_landing_m=15.0)[0]
        assert (row["reach_m"], row["carry_m"]) == (pytest.approx(170), pytest.approx(230))
        assert np.isnan(row["next_reach_m"])

    def test_large_island_ends_the_carry(self, plan):
        row = rows_of(plan.hole({"pond": self.ring(10)}), "pond", "on line", minimum_landing_m=15.0)[0]
        assert (row["reach_m"], row["carry_m"]) == (pytest.approx(170), pytest.approx(190))
        assert row["next_reach_m"] == pytest.approx(210)

    def test_burn_that_bends_back_crosses_twice(self, plan):
        bent = LineString([(-60, 150), (40, 150), (40, 210), (-60, 210)]).buffer(2, join_style="mitre")
        first, second = rows_of(plan.hole({"burn": bent}), "burn", "on line")
        assert (first["crossing"], second["crossing"]) == (1, 2)
        assert (first["carry_m"], first["next_reach_m"]) == (pytest.approx(152), pytest.approx(208))
        assert (second["reach_m"], second["carry_m"]) == (pytest.approx(208), pytest.approx(212))


def test_rough_before_and_between_fairways(plan):
    parts = shapely.union(box(-20, 100, 20, 180), box(-20, 230, 20, 310))
    hole = plan.hole({}, fairway=parts)
    first = rows_of(hole, "rough to fairway", "on line")[0]
    assert (first["reach_m"], first["carry_m"]) == (pytest.approx(3, abs=0.02), pytest.approx(100))
    between = rows_of(hole, "rough between fairways", "on line")[0]
    assert (between["reach_m"], between["carry_m"]) == (pytest.approx(180), pytest.approx(230))
    assert {r["layer"] for r in (first, between)} == {"fairway"}
    assert rows_of(plan.hole({}), "rough between fairways") == []


def test_hazard_beside_the_line_is_spanned_and_far_ones_left_out(plan):
    hazards = {"near": box(30, 200, 40, 210), "far": box(200, 200, 210, 210)}
    hole = plan.hole(hazards)
    names = {c.hazard.feature for c in crossings(hole, hole.tees[0], 40.0)}
    assert names == {"near", "rough to fairway"}
    _, fan = carry_rows(hole, hole.tees[0], Choices(rays=11))
    bearings = [r["bearing_deg"] for r in fan if r["feature"] == "near"]
    low, high = np.degrees(np.arctan2(30, 210)), np.degrees(np.arctan2(40, 200))
    assert low < min(bearings) < low + 0.2 and high - 0.2 < max(bearings) < high
    assert rows_of(hole, "near", "on line") == []  # the line of play misses it


def test_rise_is_far_edge_against_tee(plan):
    y = 480 - (np.arange(300) + 0.5) * 2
    ground = Surface(np.repeat(0.02 * y[:, None], 100, axis=1), -100.0, 480.0, 2.0)
    hole = plan.hole({"burn": plan.burn(45.0)})
    rows, _ = carry_rows(hole, hole.tees[0], Choices(), ground)
    for row in (r for r in rows if r["feature"] == "burn"):
        assert row["rise_m"] == pytest.approx(0.02 * row["chainage_m"], abs=1e-6)


def test_hole_without_fairway(plan):
    hole = plan.hole({"burn": plan.burn(90.0, at=100.0)}, fairway=shapely.Polygon(), line=((0, 0), (0, 150)))
    row = rows_of(hole, "burn", "on line")[0]
    assert (row["reach_m"], row["carry_m"]) == (pytest.approx(98), pytest.approx(102))
    assert row["layup_room_m"] == 0.0


def test_beyond_the_bend_the_straight_way_counts(plan):
    line = ((0.0, 0.0), (0.0, 200.0), (200.0, 200.0))
    fairway = LineString([(0, 80), (0, 200), (170, 200)]).buffer(20, cap_style="flat", join_style="mitre")
    water = box(95, 170, 105, 230)
    row = rows_of(plan.hole({"pond": water}, fairway=fairway, line=line), "pond", "on line")[0]
    bearing = np.degrees(np.arctan2(95, 200))
    assert row["bearing_deg"] == pytest.approx(bearing, abs=1e-6)
    assert row["reach_m"] == pytest.approx(np.hypot(95, 200), abs=1e-6)
