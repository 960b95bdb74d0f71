"""Chances of scores: their mean is the value, they agree with play shot by shot, and the parts add up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import gistools as gt
from gistools.compute.decision.putting import SCRATCH, built_in_putter
from gistools.compute.decision.score_distribution import MOST_STROKES, against_par, putt_shares, score_shares
from gistools.site.model import Site
from tests.conftest import plane, straight_tables

from .test_small_hole import small_hole

STROKES = np.arange(MOST_STROKES + 1)


@given(st.lists(st.floats(1.0, 3.9), min_size=1, max_size=20), st.sampled_from(["tour", "scratch", "20"]))
def test_putts_have_the_mean_they_come_from(means: list[float], name: str) -> None:
    shares = putt_shares(np.array(means), built_in_putter(name))
    assert (shares >= -1e-12).all() and shares.sum(axis=1) == pytest.approx(np.ones(len(means)))
    assert shares @ np.arange(1, 5) == pytest.approx(means, abs=0.02)


def test_a_tap_in_is_holed_and_a_long_putt_sometimes_takes_three() -> None:
    shares = putt_shares(np.array([1.0, 2.2]), SCRATCH)
    assert shares[0, 0] == pytest.approx(1.0) and shares[1, 2] > 0.1


@pytest.mark.parametrize("place", [(0.0, 0.0), (10.0, 20.0), (0.0, 60.0)])
def test_the_mean_is_the_value_of_the_place(place) -> None:
    s = small_hole()
    value = s.value_at(*place, 0)
    shares = score_shares(s, 0, place, (value.shot, value.heading))
    assert shares.sum() == pytest.approx(1.0)
    assert shares @ STROKES == pytest.approx(value.strokes, abs=0.04)


def test_shares_agree_with_scores_drawn_one_by_one() -> None:
    """Outcomes of the policy are drawn state by state, 20,000 scores: within 1.5 points."""
    s, place, n = small_hole(), (0.0, 0.0), 20_000
    value = s.value_at(*place, 0)
    rng = np.random.default_rng(7)
    first = s.outcomes(*place, value.shot, value.heading)
    score, state = np.zeros(n, int), np.full(n, -1)
    cache: dict[int, np.ndarray] = {}
    going = np.ones(n, bool)
    while going.any():
        for at in np.unique(state[going]):
            who = np.flatnonzero(going & (state == at))
            if at < 0:
                out = first
            else:
                if at not in cache:
                    x, y = s.mesh.place[at, :2]
                    cache[at] = s.outcomes(
                        x,
                        y,
                        s.shot[at, 0, 0],
                        s.heading[at, 0, 0],
                        lie=int(s.mesh.lie[at]),
                        samples=64,
                        direct_below_m=0.0,
                    )
                out = cache[at]
            drawn = out[rng.integers(len(out), size=len(who))]
            penalty = np.where(drawn["replayed"] != 0, 0, drawn["penalty"])
            score[who] += 1 + np.where(drawn["state"] < 0, 1, penalty)
            moves = (drawn["state"] >= 0) & (drawn["replayed"] == 0)
            state[who[moves]] = drawn["state"][moves]
        done = going & (state >= 0)
        done[done] = (s.mesh.putts | (s.rolled[:, 0] <= s.value[:, 0]))[state[done]]
        chances = putt_shares(s.value[state[done], 0], s.putter)
        score[done] += 1 + (rng.random(done.sum())[:, None] > np.cumsum(chances, axis=1)[:, :3]).sum(axis=1)
        going &= ~done
    drawn = np.bincount(np.minimum(score, MOST_STROKES), minlength=MOST_STROKES + 1) / n
    assert score_shares(s, 0, place, (value.shot, value.heading)) == pytest.approx(drawn, abs=0.015)


def test_chances_against_par_add_up() -> None:
    shares = np.zeros(MOST_STROKES + 1)
    shares[3:8] = 0.1, 0.4, 0.3, 0.15, 0.05
    assert against_par(shares, 4) == pytest.approx(
        {"birdie_or_better_pct": 10, "score_par_pct": 40, "bogey_pct": 30, "double_or_worse_pct": 20}
    )


def test_the_step_has_rows_for_the_best_shot_and_each_zone() -> None:
    site = Site.from_tables(straight_tables(), 27700, plane()).with_settings(mesh_cell_m=10.0)
    who = {"players": ("scratch man",), "winds": ("calm",)}
    table = gt.scores(site, **who)
    assert len(table) == 2 * (1 + 4) and (table["par"] == 4).all()
    parts = [c for c in table.columns if c.endswith("_pct")]
    assert table[parts].sum(axis=1).to_numpy() == pytest.approx(np.full(10, 100.0), abs=0.05)
    ranked = gt.positions(site, **who)["positions"].set_index(["pin", "zone"])["total_strokes"]
    for row in table[table["zone"] != ""].itertuples():
        assert row.mean_strokes == pytest.approx(ranked[row.pin, row.zone], abs=0.06)
