"""Expected strokes on a level generic hole beside published ones.

- Tour by distance and lie: Broadie 2012, Interfaces 42(2) 146-165, appendix table 9 of the working paper
  [from memory; tee 400 yd, fairway 160 yd, rough 80 and 180 yd seen].
- Scratch and bogey players by length of the hole: course rating by length only [from memory; 220 and 180 yd a
  stroke seen].

Where it misses, and why. The tour player is about 0.2 better than published (tee shots at short holes up to
0.5): the generic hole has no bunkers, slopes or wind, pins in the middle and good lies all over the rough.
The bogey man is about 0.2 better and the bogey woman 0.4 to 0.5: their misses cost nothing here beyond rough
and distance, and their mishits are of one kind only. On the sample's holes, which have burns, bunkers and
dunes, scratch and bogey men score 0.1 to 0.4 more a hole than length alone makes it: what obstacles add is
not in that formula. The rating stands for the better half of scores, so that plain means would be further
away still. The scratch players agree.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "tables.py"


@pytest.fixture(scope="module")
def tables():
    spec = importlib.util.spec_from_file_location("tables_of_strokes", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_tour_player_by_distance_and_lie(tables):
    rows = tables.tour_rows()
    error = np.array([r.error for r in rows])
    assert -0.30 < error.mean() < 0.05
    assert np.abs(error).max() < 0.55
    # the order of the lies, and farther is never easier, as in the table
    at = {(r.lie, r.yards): r.ours for r in rows}
    for yards in (20, 40, 60, 100, 140):
        assert at["fairway", yards] < at["rough", yards] + 0.02
    assert np.corrcoef([r.ours for r in rows], [r.published for r in rows])[0, 1] > 0.93


@pytest.mark.parametrize(
    ("player", "low", "high", "worst"),
    [
        ("scratch man", -0.15, 0.15, 0.25),
        ("scratch woman", -0.15, 0.15, 0.25),
        ("bogey man", -0.35, 0.0, 0.4),
        ("bogey woman", -0.6, 0.0, 0.7),
    ],
)
def test_model_players_by_length(tables, player, low, high, worst):
    """Limit: within 0.25 of a stroke; scratch players are, bogey players are not."""
    error = np.array([r.error for r in tables.rating_rows(player)])
    assert low < error.mean() < high
    assert np.abs(error).max() < worst
    # what a yard costs is the published slope, whatever the level
    assert np.ptp(error) < 0.3


def test_mean_scores_on_the_sample(tables):
    """A scratch man scores about par on a par 4, a bogey man one more.

    Rating by length, and something for its obstacles.
    """
    rows = tables.sample_rows()
    error = np.array([r.error for r in rows])
    assert 0.0 < error.mean() < 0.45
    assert (error > -0.15).all() and (error < 0.65).all()
    scratch = {r.lie: r.ours for r in rows if r.player == "scratch man"}
    bogey = {r.lie: r.ours for r in rows if r.player == "bogey man"}
    gap = np.array([bogey[k] - scratch[k] for k in scratch])
    # a bogey man is 20 strokes a round behind: 1.1 a hole (course rating definitions, handicap index about 20
    # [published])
    assert gap.mean() == pytest.approx(20 / 18, abs=0.3)
