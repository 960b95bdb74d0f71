"""Scores per round by handicap: a press survey of 2022 by handicap, vcpgolf.com [second-hand].

No figure of it was used in the fit of the players. A round is that of scripts/scores.py: par 72 of 6,560 yd
on holes of the generic form (assumption), the same for all; a survey's players of handicap 20 may have played
shorter ones.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"
#: holes a round that a figure may be off (limit)
LIMIT = 1.0


@pytest.fixture(scope="module")
def scores():
    sys.path.insert(0, str(SCRIPTS))
    spec = importlib.util.spec_from_file_location("scores_by_handicap", SCRIPTS / "scores.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    "handicap",
    [
        "0",
        "10",
        pytest.param(
            "20",
            marks=pytest.mark.xfail(strict=True, reason="bogeys 7.4 for 9.0, doubles or worse 7.3 for 6.6"),
        ),
    ],
)
def test_birdies_bogeys_and_doubles(scores, handicap) -> None:
    ours = scores.per_round(handicap)
    birdies, bogeys, doubles = scores.PUBLISHED[handicap]
    measured = (ours["birdie_or_better_pct"], ours["bogey_pct"], ours["double_or_worse_pct"])
    assert measured == pytest.approx((birdies, bogeys, doubles), abs=LIMIT)


def test_handicap_20_as_measured(scores) -> None:
    ours = scores.per_round("20")
    assert ours["birdie_or_better_pct"] == pytest.approx(0.1, abs=0.1)
    assert ours["bogey_pct"] == pytest.approx(7.4, abs=0.4)
    assert ours["double_or_worse_pct"] == pytest.approx(7.3, abs=0.5)


def test_kinds_of_a_round_add_up_to_eighteen_holes(scores) -> None:
    ours = scores.per_round("0")
    assert sum(ours[kind] for kind in scores.KINDS) == pytest.approx(18.0)
