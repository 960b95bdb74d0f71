"""Which zone a tee shot counts for, and what a zone leaves: of the zone, not of the winner of a tie."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.decision.ranking import TIE_BAND, ShotFan, choices_of, zone_of


def tee_shots(total, remaining, in_zone) -> ShotFan:
    """Shots with clubs of their own at one zone and pin."""
    n = len(total)
    return ShotFan(
        shot=np.arange(n),
        heading=np.zeros(n, np.int64),
        total=np.array(total, float)[:, None],
        zone=np.zeros(n, np.int64),
        in_zone=np.array(in_zone, float)[:, None],
        through=np.zeros((n, 1)),
        remaining=np.array(remaining, float)[:, None, None],
        kind=np.zeros((n, 256)),
        feature=np.zeros((n, 0)),
        middle=np.zeros((n, 2)),
    )


@pytest.mark.parametrize(
    ("in_zone", "zone"),
    [
        ([0.086, 0.34], 1),  # few finish in the zone aimed over, a third run through into the next one
        ([0.34, 0.227], 0),
        ([0.3, 0.3], -1),  # as often in one as in the other
        ([0.04, 0.0], -1),
        ([], -1),
    ],
)
def test_a_shot_counts_for_the_zone_it_finishes_in_most_often(in_zone, zone):
    assert zone_of(np.array(in_zone)) == zone


def test_what_a_zone_leaves_does_not_hang_on_a_tie():
    """Two clubs level in total within 0.002 leave 3.197 and 3.069.

    The zone's figure hardly moves when the tie turns.
    """
    left = [
        choices_of(tee_shots([4.236, 4.236 + d], [3.197, 3.069], [0.6, 0.6]), ())[0].remaining
        for d in (-0.002, -0.001, 0.001, 0.002)
    ]
    assert max(left) - min(left) < 0.128 * 0.004 / TIE_BAND
    assert np.mean(left) == pytest.approx((3.197 + 3.069) / 2, abs=0.001)


def test_zone_leaves_what_its_only_best_shot_leaves():
    choice = choices_of(tee_shots([4.20, 4.20 + TIE_BAND], [3.1, 2.9], [0.6, 0.6]), ())[0]
    assert choice.remaining == pytest.approx(3.1) and choice.shot == 0


def test_shots_that_find_the_zone_more_often_count_more():
    choice = choices_of(tee_shots([4.2, 4.2], [3.1, 2.9], [0.6, 0.3]), ())[0]
    assert choice.remaining == pytest.approx((0.6 * 3.1 + 0.3 * 2.9) / 0.9)
