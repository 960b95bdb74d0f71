"""Level totals, the criteria that order them, and where the order turns."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from gistools.compute.decision.levels import CRITERIA, any_turn, order, turns

BAND = 0.02


def figures(**changed: float) -> dict[str, float]:
    return {column: 50.0 for column, *_ in CRITERIA} | changed


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
    assert ordered == [1, 0] and reasons[1] == "fewer shots find a hazard"


def test_the_reason_is_the_criterion_that_decided_against_the_next_zone() -> None:
    """The first leads the second by what is held, though it leads the third by trouble."""
    zones = [
        figures(trouble_pct=10.0, hold_pct=60.0),
        figures(trouble_pct=10.0, hold_pct=50.0),
        figures(trouble_pct=30.0, hold_pct=70.0),
    ]
    ordered, _, reasons = order([4.2, 4.2, 4.2], [zones[2], zones[1], zones[0]], BAND)
    assert ordered == [2, 1, 0]
    assert reasons[2] == "the green holds more of the next shots"
    assert reasons[1] == "fewer shots find a hazard" and reasons[0] == ""


def test_a_worse_figure_in_an_earlier_criterion_is_never_passed_over() -> None:
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
def test_nobody_beyond_the_band_stands_before_one_within(totals: list[float], band: float) -> None:
    ordered, level, _ = order(totals, [figures()] * len(totals), band)
    assert sorted(ordered) == list(range(len(totals)))
    within = [level[k] for k in ordered]
    assert within == sorted(within, reverse=True)
    rest = [totals[k] for k in ordered if not level[k]]
    assert rest == sorted(rest)


def test_band_of_nothing_leaves_the_least_alone_in_front() -> None:
    ordered, level, _ = order([4.2, 4.1], [figures()] * 2, 1e-9)
    assert ordered[0] == 1 and level == [False, True]
