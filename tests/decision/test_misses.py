"""Misses by quarter: the quarters by hand, the shares against the green, water dead on its side."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import box

import gistools as gt
from gistools.compute.decision.misses import QUARTERS, judge, quarter_of
from gistools.site.model import Site
from tests.conftest import plane, straight_tables

WHO = {"players": ("scratch man", "bogey man"), "winds": ("calm",)}


def test_quarters_about_a_hole_location_seen_along_the_line() -> None:
    x, y = np.array([0.0, 0.0, -5.0, 5.0, 4.0]), np.array([-9.0, 9.0, 1.0, -1.0, 5.0])
    assert list(quarter_of(x, y, (0.0, 0.0), 0.0)) == ["short", "long", "left", "right", "long"]
    # seen to the east, what lies north is left
    assert list(quarter_of(x, y, (0.0, 0.0), 90.0)) == ["right", "left", "short", "long", "left"]


@pytest.mark.parametrize(
    ("strokes", "playable", "dead"),
    [
        ({"short": 2.5, "left": 2.55, "right": 2.9}, "short, left", "right"),
        ({"short": 2.5, "left": 2.7}, "short", ""),
        ({"short": 4.0, "left": 4.0}, "", "short, left"),  # two strokes gone on every side
        ({}, "", ""),
    ],
)
def test_what_is_playable_and_what_is_dead(strokes, playable, dead) -> None:
    assert judge(strokes, 1.9) == {"playable_misses": playable, "dead_misses": dead}


@pytest.fixture(scope="module")
def guarded() -> Site:
    """The straight hole with a pond along the left edge of the green."""
    tables = straight_tables()
    pond = box(-60, 310, -10, 370).difference(tables["greens"].geometry[0])
    tables["water"] = gpd.GeoDataFrame({"name": ["Pond"]}, geometry=[pond])
    tables["bunkers"] = tables["bunkers"].iloc[:0]
    return Site.from_tables(tables, 27700, plane()).with_settings(mesh_cell_m=5.0)


def test_the_side_of_the_water_is_dead(guarded) -> None:
    rows = gt.approaches(guarded, **WHO)
    shares = rows[[f"miss_{q}_pct" for q in QUARTERS]].sum(axis=1)
    assert np.allclose(shares + rows["hold_pct"], 100.0)
    judged = rows[(rows["miss_left_pct"] >= 2.0) & (rows["hold_pct"] >= 10.0)]
    assert len(judged) >= 2
    for row in judged.itertuples():
        others = [getattr(row, f"miss_{q}_strokes") for q in ("short", "long", "right")]
        assert row.miss_left_strokes > np.nanmax(others)
        assert row.dead_misses.endswith("left") and "left" not in row.playable_misses
        assert row.held_strokes < np.nanmin(others)


def test_the_card_names_the_misses_of_its_next_shot(guarded) -> None:
    cards = gt.where_to_play(guarded, **WHO)
    judged = cards[cards["playable_misses"] != ""]
    assert len(judged) and judged["reading"].str.contains("a miss is playable ").all()
    dead = judged[judged["dead_misses"] != ""]
    assert all(f", dead {r.dead_misses}" in r.reading for r in dead.itertuples())
    ahead = ~cards["next_zone"].isin(["", "green"])
    assert (cards.loc[ahead, "playable_misses"] == "").all() and cards.loc[ahead, "hold_pct"].isna().all()
    assert (cards["hold_pct"].isna() == cards["held_strokes"].isna()).all()
