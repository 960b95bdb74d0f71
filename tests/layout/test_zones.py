"""Landing zones: names, areas, and what they ask from a tee."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from gistools.compute.layout.zones import Choices, Zone, derive_zones, zone_carry, zone_row


def named(hole, **choices):
    return {z.zone: z for z in derive_zones(hole, Choices(**choices))}


def test_diagonal_parts_short_and_beyond_left_and_right(plan):
    zones = named(plan.hole({"burn": plan.burn(45.0)}))
    assert list(zones) == ["short left", "short right", "beyond left", "beyond right"]
    # half the fairway up to the burn's edge, moved back by the clearance of 3 m: trapezium, by hand
    edge = 200 - (2 + 3) * np.sqrt(2)
    assert zones["short left"].area.area == pytest.approx(20 * (edge - 10 - 100), rel=1e-6)
    assert zones["short right"].area.area == pytest.approx(20 * (edge + 10 - 100), rel=1e-6)
    far = 200 + (2 + 3) * np.sqrt(2)
    assert zones["beyond right"].area.area == pytest.approx(20 * (310 - far - 10), rel=1e-6)
    assert zones["short left"].parted_by == "burn; line of play"


def test_square_hazard_parts_short_and_beyond_only(plan):
    assert list(named(plan.hole({"burn": plan.burn(90.0)}))) == ["short", "beyond"]


def test_partial_diagonal_parts_along_its_axis(plan):
    stub = LineString([(40, 240), (-8, 192)]).buffer(2, cap_style="flat")
    zones = named(plan.hole({"burn": stub}))
    assert list(zones) == ["short left", "short right", "beyond left", "beyond right"]
    assert zones["short left"].area.touches(zones["beyond left"].area)


def test_hazard_in_the_middle_leaves_left_and_right_of_it(plan):
    zones = named(plan.hole({"Old Wall": box(-5, 200, 5, 212)}))
    assert list(zones) == ["short", "left of Old Wall", "right of Old Wall", "beyond"]
    left = zone_row(plan.hole({}), zones["left of Old Wall"])
    assert (left["from_chainage_m"], left["to_chainage_m"]) == (pytest.approx(176), pytest.approx(236))
    assert left["offset_m"] < 0


def test_plain_fairway_is_divided_by_distance_alone(plan):
    assert list(named(plan.hole({}))) == ["near fairway", "far fairway"]
    assert list(named(plan.hole({}), longest_m=80.0)) == ["near fairway", "middle fairway", "far fairway"]
    assert list(named(plan.hole({}), longest_m=300.0)) == ["fairway"]


def test_bite_at_the_edge_parts_nothing(plan):
    assert list(named(plan.hole({"bite": box(12, 200, 30, 208)}), longest_m=300.0)) == ["fairway"]


def test_ditch_along_play_at_the_side_parts_nothing(plan):
    ditch = LineString([(14, 120), (16, 300)]).buffer(1.5, cap_style="flat")
    assert list(named(plan.hole({"burn": ditch}), longest_m=300.0)) == ["fairway"]


def test_break_in_the_fairway_parts_it(plan):
    parts = shapely.union(box(-20, 100, 20, 180), box(-20, 230, 20, 310))
    zones = named(plan.hole({}, fairway=parts))
    assert list(zones) == ["short", "beyond"]
    assert zones["short"].parted_by == "rough between fairways"


def test_two_hazards_across(plan):
    hazards = {"burn": plan.burn(90.0, at=170.0), "ditch": plan.burn(60.0, at=250.0)}
    assert list(named(plan.hole(hazards))) == [
        "short", "between left", "between right", "beyond left", "beyond right",
    ]  # fmt: skip


def test_long_stretch_between_two_diagonals_keeps_names_apart(plan):
    hazards = {"burn": plan.burn(60.0, at=150.0), "ditch": plan.burn(50.0, at=330.0)}
    hole = plan.hole(hazards, fairway=box(-20, 100, 20, 450), line=((0, 0), (0, 480)))
    names = list(named(hole, longest_m=100.0))
    assert len(set(names)) == len(names)
    assert {"between left, near", "between right, far"} <= set(names)


def test_pieces_of_one_place_are_counted(plan):
    ponds = {"burn": plan.burn(90.0), "pond": box(-30, 245, 12, 256)}
    zones = named(plan.hole(ponds), longest_m=300.0)
    assert "short" in zones and len(set(zones)) == len(zones)


def test_slivers_are_dropped(plan):
    hazards = {"burn": plan.burn(90.0, at=107.0)}
    zones = named(plan.hole(hazards), longest_m=300.0)
    assert list(zones) == ["beyond"]  # 2 m of fairway short of the burn are no zone
    narrow = plan.hole({"pond": box(-15, 150, 40, 200)})
    assert all(z.area.bounds[2] > -10 for z in named(narrow).values())  # 2 m beside a pond are none


def test_no_fairway_and_short_holes_have_none(plan):
    assert derive_zones(plan.hole({}, fairway=shapely.Polygon()), Choices()) == []
    assert derive_zones(plan.hole({}, fairway=box(-9, 80, 9, 130), line=((0, 0), (0, 150))), Choices()) == []


@settings(max_examples=15, deadline=None)
@given(st.floats(25, 75), st.floats(0, 360), st.floats(-5e5, 5e5), st.floats(-5e5, 5e5), st.booleans())
def test_zones_go_with_the_ground(plan, angle, turn, east, north, mirror):
    hole = plan.hole({"burn": plan.burn(angle), "pot": Point(12, 290).buffer(4)})
    there = plan.moved(hole, turn_deg=turn, east=east, north=north, mirror=mirror)
    here, far = named(hole), named(there)

    def other(name):
        if not mirror:
            return name
        return name.replace("left", "?").replace("right", "left").replace("?", "right")

    assert {other(n) for n in here} == set(far)
    for name, zone in here.items():
        a, b = zone_row(hole, zone), zone_row(there, far[other(name)])
        for column in ("area_m2", "zone_length_m", "zone_width_m", "from_chainage_m", "to_chainage_m"):
            assert b[column] == pytest.approx(a[column], rel=1e-6, abs=1e-4)
        assert b["offset_m"] == pytest.approx(-a["offset_m"] if mirror else a["offset_m"], abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(st.floats(20, 160), st.floats(130, 280), st.floats(2, 12), st.floats(0, 6))
def test_zones_are_fairway_clear_of_hazards_and_do_not_overlap(plan, angle, at, width, clearance):
    hole = plan.hole({"burn": plan.burn(angle, at=at, width=width)})
    zones = list(named(hole, clearance_m=clearance, least_m2=1.0, least_width_m=0.0).values())
    free = hole.fairway.difference(hole.hazard.buffer(clearance))
    together = shapely.union_all([z.area for z in zones])
    assert sum(z.area.area for z in zones) == pytest.approx(together.area, rel=1e-9)
    assert together.difference(free).area < 1e-3
    assert free.difference(together).area < 2.0  # nothing but crumbs is dropped
    assert len({z.zone for z in zones}) == len(zones)


def test_what_a_zone_asks(plan):
    hole = plan.hole({"burn": plan.burn(90.0)})
    zone = Zone("target", box(-10, 220, 10, 260), "", "drawn", 7)
    row = zone_carry(hole, hole.tees[0], zone, 101)
    assert row["enter_least_m"] == pytest.approx(220, abs=1e-3)
    assert row["enter_greatest_m"] == pytest.approx(np.hypot(10, 220), abs=0.05)
    assert (row["centre_m"], row["through_m"]) == (pytest.approx(240), pytest.approx(260))
    assert (row["must_carry_m"], row["hazards_carried"]) == (pytest.approx(202), "burn")
    assert row["bearing_deg"] == pytest.approx(0, abs=1e-9)
    short = zone_carry(hole, hole.tees[0], Zone("s", box(-10, 120, 10, 160), ""), 21)
    assert np.isnan(short["must_carry_m"]) and short["hazards_carried"] == ""
