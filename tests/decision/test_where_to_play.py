"""The step where_to_play on a small hole: its cards beside positions and beside the shot explained."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest

import gistools as gt
from gistools.compute.decision.levels import CRITERIA
from gistools.design.search import _first_margin
from gistools.site.model import Site
from gistools.steps.where_to_play import visibility_of
from tests.conftest import plane, straight_tables

PLAYED = {"players": ("scratch man",), "winds": ("calm",)}
BAND = 0.06  # wide enough that some zones are level on this hole


@pytest.fixture(scope="module")
def site() -> Site:
    """The straight hole with a burn on the diagonal, on a coarse mesh."""
    fine = Site.from_tables(straight_tables(), 27700, plane())
    return fine.with_settings(mesh_cell_m=10.0, level_band_strokes=BAND)


@pytest.fixture(scope="module")
def cards(site) -> pd.DataFrame:
    return gt.where_to_play(site, **PLAYED)


def test_the_shot_and_the_total_are_those_of_positions(site, cards) -> None:
    ranked = gt.positions(site, **PLAYED)["positions"]
    both = cards.merge(ranked, on=["pin", "zone"], suffixes=("", "_ranked"))
    assert len(both) == len(cards) == len(ranked) == 8
    for column in ("total_strokes", "remaining_strokes", "aim_deg", "in_zone_pct", "remaining_rank"):
        assert np.allclose(both[column], both[f"{column}_ranked"])
    assert (both["club"] == both["club_ranked"]).all()


def test_ranks_and_levels_follow_from_totals(cards) -> None:
    some_level = False
    for _, here in cards.groupby("pin"):
        least = here["total_strokes"].min()
        behind = here["total_strokes"] - least
        assert np.allclose(here["behind_strokes"], behind)
        within = behind < BAND
        some_level |= within.sum() > 1
        assert (here["level_with_first"] == (within & (within.sum() > 1))).all()
        assert sorted(here["rank"]) == [1, 2, 3, 4]
        assert here.loc[within, "rank"].max() == within.sum()
        beyond = here[~within].sort_values("rank")
        assert beyond["total_strokes"].is_monotonic_increasing
    assert some_level


def test_what_decides_between_level_zones_is_true_of_their_figures(cards) -> None:
    for _, here in cards.groupby("pin"):
        level = here[here["level_with_first"]].sort_values("rank").to_dict("records")
        for one, following in itertools.pairwise(level):
            for column, more, least, words in CRITERIA:
                gain = (one[column] - following[column]) * (1 if more else -1)
                if abs(gain) > least:
                    assert gain > 0 and one["decided_by"] == words
                    break


def test_the_next_shot_is_the_one_explained_at_that_place(site, cards) -> None:
    for card in cards.itertuples():
        explained = gt.explain(site, card.geometry.x, card.geometry.y, hole=1, pin=card.pin)
        assert explained.options[0].club == card.next_club


def test_distances_and_sight_on_level_ground(cards) -> None:
    """On a plane at 10 m in still air: nothing rises, everything is seen, the distance is that of the map."""
    pins = {"front": (0.0, 332.0), "back": (3.0, 347.0)}
    for card in cards.itertuples():
        x, y = pins[card.pin]
        assert card.pin_distance_m == pytest.approx(
            np.hypot(x - card.geometry.x, y - card.geometry.y), abs=0.01
        )
        assert card.rise_m == pytest.approx(0.0, abs=1e-6)
        assert card.flag_visibility == "visible" and card.hidden_by == ""
        assert f"leaves {card.pin_distance_m:.0f} m" in card.reading


@pytest.mark.parametrize(
    ("seen_pct", "word"),
    [(100.0, "visible"), (99.0, "visible"), (50.0, "semi-blind"), (1.0, "blind"), (0.0, "blind")],
)
def test_words_of_sight(seen_pct, word) -> None:
    assert visibility_of(seen_pct) == word
    assert visibility_of(float("nan")) == ""


def test_the_margin_of_a_search_is_the_lead_in_the_cards_less_the_band(site, cards) -> None:
    totals = cards[cards["pin"] == "back"].set_index("zone")["total_strokes"]
    for zone, total in totals.items():
        margin = _first_margin(site, zone, "back", 1, "", "scratch man", "calm")
        assert margin == pytest.approx(totals.drop(zone).min() - total - BAND)
