"""Level totals, the criteria that order them, and where the order turns."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.settings import LEVEL_CRITERIA
from gistools.compute.decision import levels
from gistools.compute.decision.levels import CRITERIA, any_turn, turns

BAND = 0.02
LEVEL = {
    "flag_seen_pct": 50.0,
    "shot_must_carry_m": 150.0,
    "mounds_crossed": "Knowe",
    "next_swing": "three-quarter",
    "green_depth_m": 25.0,
    "feeds": "neither",
    "trouble_pct": 20.0,
    "out_of_bounds_pct": 0.0,
    "hold_pct": 50.0,
    "remaining_strokes": 3.0,
}


def figures(**changed: object) -> dict[str, object]:
    return LEVEL | changed


def order(totals, cards, band, criteria=LEVEL_CRITERIA):
    return levels.order(totals, cards, band, criteria)


def test_the_setting_lists_the_criteria() -> None:
    assert tuple(CRITERIA) == LEVEL_CRITERIA


@pytest.mark.parametrize(
    ("word", "better"),
    [
        ("flag_seen", {"flag_seen_pct": 60.5}),
        ("forced_carry", {"shot_must_carry_m": 139.5}),
        ("forced_carry", {"shot_must_carry_m": math.nan}),
        ("over_mound", {"mounds_crossed": ""}),
        ("full_club", {"next_swing": "full"}),
        ("green_depth", {"green_depth_m": 28.5}),
        ("feeds", {"feeds": "towards"}),
        ("room_to_miss", {"trouble_pct": 16.5}),
        ("green_holds", {"hold_pct": 55.5}),
        ("strokes_left", {"remaining_strokes": 2.99}),
    ],
)
def test_each_criterion_decides_where_those_before_it_are_equal(word, better) -> None:
    """The better zone is first from either place, is told why, and is level without that criterion."""
    for cards, first in (([figures(**better), figures()], 0), ([figures(), figures(**better)], 1)):
        ordered, _, reasons = order([4.2, 4.2], cards, BAND)
        assert ordered[0] == first and reasons[first] == CRITERIA[word].words
        others = tuple(name for name in LEVEL_CRITERIA if name != word)
        ordered, _, reasons = order([4.2, 4.2], cards, BAND, others)
        assert ordered == [0, 1] and reasons == ["", ""]


def test_the_criterion_named_first_decides() -> None:
    """One zone sees the flag, the other has a shorter forced carry: the order asked for turns them."""
    cards = [figures(flag_seen_pct=100.0), figures(shot_must_carry_m=math.nan)]
    assert order([4.2, 4.2], cards, BAND)[0] == [0, 1]
    ordered, _, reasons = order([4.2, 4.2], cards, BAND, ("forced_carry", "flag_seen"))
    assert ordered == [1, 0] and reasons[1] == "its forced carry is shorter"


def test_feeding_away_ranks_below_not_feeding() -> None:
    cards = [figures(feeds="away"), figures(feeds="neither"), figures(feeds="towards")]
    assert order([4.2] * 3, cards, BAND)[0] == [2, 1, 0]


def test_a_figure_that_is_missing_decides_nothing() -> None:
    """A zone whose shot after is no approach has no depth of the green and nothing that feeds."""
    cards = [figures(green_depth_m=math.nan, feeds="", hold_pct=math.nan), figures()]
    assert order([4.2, 4.2], cards, BAND) == ([0, 1], [True, True], ["", ""])


def test_out_of_bounds_counts_as_no_room_to_miss() -> None:
    cards = [figures(out_of_bounds_pct=9.0), figures()]
    ordered, _, reasons = order([4.2, 4.2], cards, BAND)
    assert ordered == [1, 0] and reasons[1] == CRITERIA["room_to_miss"].words


def test_a_clear_total_decides() -> None:
    ordered, level, reasons = order([4.30, 4.20, 4.25], [figures()] * 3, BAND)
    assert ordered == [1, 2, 0] and level == [False, True, False] and not any(reasons)


def test_level_zones_stand_in_the_order_of_the_criteria() -> None:
    seen, unseen = figures(flag_seen_pct=90.0), figures(flag_seen_pct=10.0)
    ordered, level, reasons = order([4.200, 4.215, 4.5], [unseen, seen, seen], BAND)
    assert ordered == [1, 0, 2] and level == [True, True, False]
    assert reasons[1] == "more of the flag is seen" and reasons[0] == ""


def test_a_criterion_counts_only_beyond_its_least_difference() -> None:
    ordered, _, reasons = order(
        [4.2, 4.2], [figures(flag_seen_pct=52.0, trouble_pct=20.0), figures(trouble_pct=10.0)], BAND
    )
    assert ordered == [1, 0] and reasons[1] == CRITERIA["room_to_miss"].words


def test_reason_is_the_criterion_that_decided() -> None:
    """The first leads the second by what is held, though it leads the third by trouble."""
    zones = [
        figures(trouble_pct=10.0, hold_pct=60.0),
        figures(trouble_pct=10.0, hold_pct=50.0),
        figures(trouble_pct=30.0, hold_pct=70.0),
    ]
    ordered, _, reasons = order([4.2, 4.2, 4.2], [zones[2], zones[1], zones[0]], BAND)
    assert ordered == [2, 1, 0]
    assert reasons[2] == "the green holds more of the next shots"
    assert reasons[1] == CRITERIA["room_to_miss"].words and reasons[0] == ""


def test_earlier_criteria_decide_first() -> None:
    worse_seen = figures(flag_seen_pct=10.0, hold_pct=90.0)
    ordered, _, reasons = order([4.2, 4.2], [worse_seen, figures()], BAND)
    assert ordered == [1, 0] and reasons == ["", "more of the flag is seen"]


def test_order_turns_beyond_the_band_alone() -> None:
    totals = {
        "left": {"a": 4.10, "b": 4.20},
        "middle": {"a": 4.10, "b": 4.20},
        "right": {"a": 4.25, "b": 4.20},
    }
    assert turns(totals, BAND) == {"left": False, "middle": False, "right": True}
    assert any_turn(totals, BAND)
    totals["right"]["a"] = 4.215
    assert not any(turns(totals, BAND).values()) and not any_turn(totals, BAND)


@given(st.lists(st.floats(3.0, 6.0), min_size=1, max_size=6), st.floats(0.0, 0.3))
def test_zones_within_the_band_rank_first(totals: list[float], band: float) -> None:
    ordered, level, _ = order(totals, [figures()] * len(totals), band)
    assert sorted(ordered) == list(range(len(totals)))
    within = [level[k] for k in ordered]
    assert within == sorted(within, reverse=True)
    rest = [totals[k] for k in ordered if not level[k]]
    assert rest == sorted(rest)


def test_band_of_nothing_leaves_the_least_alone_in_front() -> None:
    ordered, level, _ = order([4.2, 4.1], [figures()] * 2, 1e-9)
    assert ordered[0] == 1 and level == [False, True]
