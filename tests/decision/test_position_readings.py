"""What the ranking says in words: totals nearer than a hundredth are level, and no figure of 0.00 is told."""

from __future__ import annotations

import pytest

from gistools.compute.decision.ranking import Choice
from gistools.compute.decision.ranking_rows import _reading

NAMES = ["left", "right"]


def sentences(left: tuple[float, float], right: tuple[float, float]) -> list[str]:
    """Readings of both zones, from (total, remaining), the first choice first."""
    both = [
        Choice(z, 0, 0, 0, r, t, 0.6, 0.0, 0.0, 0.0, 0.0, 0.0, (), 0.0, 0.0)
        for z, (t, r) in enumerate((left, right))
    ]
    here, by_remaining = sorted(both, key=lambda c: c.total), sorted(both, key=lambda c: c.remaining)
    return [
        _reading("back", NAMES, c, here, by_remaining, rank, by_remaining.index(c) + 1, 0.02)
        for rank, c in enumerate(here, 1)
    ]


@pytest.mark.parametrize(
    ("left", "right", "first", "second"),
    [
        (
            (4.20, 3.00),
            (4.25, 3.03),
            "it leaves the least and wins by 0.05 strokes.",
            ("leaves 0.03 strokes more than left and costs 0.05 in all."),
        ),
        (
            (4.200, 3.00),
            (4.204, 3.03),
            "it leaves the least and is in all level with right.",
            ("leaves 0.03 strokes more than left and is in all level with it."),
        ),
        (
            (4.20, 3.10),
            (4.25, 3.03),
            "is first choice by 0.05 strokes, though right leaves 0.07 less.",
            (
                "is worth 0.07 strokes from where it finishes,"
                " but it is held less"
                " often; in all it costs 0.05."
            ),
        ),
        (
            (4.200, 3.003),
            (4.204, 3.000),
            "is first choice, in all level with right, though right leaves as little.",
            ("leaves as much as left and is in all level with it."),
        ),
    ],
)
def test_a_reading_names_pin_and_zone_and_no_figure_of_zero(left, right, first, second):
    one, two = sentences(left, right)
    assert one.startswith("For the back pin the left zone") and one.endswith(first)
    assert two.startswith("For the back pin the right zone") and two.endswith(second)
    assert "0.00" not in one + two
