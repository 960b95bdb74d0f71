"""Proposed tees: put where they are proposed, they ask what was promised."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import affinity

import gistools as gt
from gistools.base.errors import InputError
from gistools.base.units import US_SURVEY_FOOT_M
from gistools.design.tee_proposals import WHOLE_HOLE, propose_tees
from gistools.site.model import Site
from gistools.site.players import one_player
from gistools.site.sample import sample_site
from tests.conftest import plane, straight_tables

SITE = sample_site()


@pytest.mark.parametrize("player", ["bogey man", "bogey woman", "scratch woman"])
def test_a_tee_moved_there_asks_the_same_share_of_the_drive(player):
    """Found a second way: the forward tee is put there and the carries are measured anew."""
    table = propose_tees(SITE, hole=1, players=(player,))
    row = table[table["basis"] == "Teasel Burn"].iloc[0]
    tees = SITE.layer("tees").copy()
    at = tees.index[(tees["hole"] == 1) & (tees["tee"] == "forward")][0]
    old = tees.geometry.loc[at].centroid
    moved = affinity.translate(tees.geometry.loc[at], row.geometry.x - old.x, row.geometry.y - old.y)
    tees.loc[[at], "geometry"] = [moved]
    carries = gt.carries(SITE.replace(tees=tees), hole=1)["carries"]
    here = carries[(carries["tee"] == "forward") & (carries["feature"] == "Teasel Burn")]
    carry = float(here.loc[here["line"] == "on line", "carry_m"].iloc[0])
    drive = one_player(SITE, player).clubs[0].carry_m
    assert carry == pytest.approx(row["carry_m"], abs=0.5)
    assert 100 * carry / drive == pytest.approx(row["share_pct"], abs=0.3)
    scratch = gt.carries(SITE, hole=1)["carries"]
    back = scratch[(scratch["tee"] == "back") & (scratch["feature"] == "Teasel Burn")]
    forced = float(back.loc[back["line"] == "on line", "carry_m"].iloc[0])
    share = forced / one_player(SITE, "scratch man").clubs[0].carry_m
    assert row["share_pct"] == pytest.approx(100 * share, abs=1e-6)


def test_proposed_tee_keeps_the_share_of_the_drive():
    table = propose_tees(SITE, hole=1, players=("bogey man",))
    row = table[table["basis"] == WHOLE_HOLE].iloc[0]
    drives = [one_player(SITE, n).clubs[0].carry_m for n in ("scratch man", "bogey man")]
    length = row["length_m"] + row["chainage_m"]
    assert row["length_m"] / drives[1] == pytest.approx(length / drives[0])
    same = propose_tees(SITE, hole=1, players=("scratch man", "club player"), like="club player")
    assert set(same["player"]) == {"scratch man"} and (same["chainage_m"] < 0).all()
    assert same["reading"].str.contains("behind the back tee").all()


def test_the_nearest_existing_tee_is_named():
    row = propose_tees(SITE, hole=1, players=("bogey woman",)).set_index("basis").loc["Teasel Burn"]
    assert row["nearest_tee"] == "forward" and row["nearest_share_pct"] > row["share_pct"]


def test_the_answer_is_the_same_in_feet():
    metres = propose_tees(SITE, hole=1)
    site = Site.from_tables({n: t.copy() for n, t in SITE.tables.items()}, 2225, SITE.surface())
    feet = propose_tees(site, hole=1)
    assert feet["chainage_m"].to_numpy() == pytest.approx(metres["chainage_m"].to_numpy(), abs=1e-6)
    assert feet.geometry.x.to_numpy() * US_SURVEY_FOOT_M == pytest.approx(
        metres.geometry.x.to_numpy(), abs=1e-3
    )
    assert list(feet["easting"]) == list(feet.geometry.x) and list(feet["northing"]) == list(feet.geometry.y)


def test_without_terrain_and_refusals():
    site = Site.from_tables(straight_tables(), 27700)
    assert np.isnan(propose_tees(site)["fall_pct"]).all()
    with pytest.raises(InputError, match="there is no tee 'moon'"):
        propose_tees(Site.from_tables(straight_tables(), 27700, plane()), from_tee="moon")
    with pytest.raises(InputError, match="one player is asked for"):
        propose_tees(SITE, hole=1, like="scratch man, bogey man")
