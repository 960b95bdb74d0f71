"""Turning points on totals whose crossings are known, and on a level hole where sight changes nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import gistools as gt
from gistools.base.errors import InputError
from gistools.design import turning_points as module
from gistools.design.turning_points import turns_between
from gistools.site.model import Site
from tests.conftest import plane, straight_tables

SETTING = "blind_dispersion_increase_pct"


@pytest.fixture(scope="module")
def site() -> Site:
    return Site.from_tables(straight_tables(), 27700, plane()).with_settings(mesh_cell_m=10.0)


@given(st.floats(0.5, 49.5), st.floats(0.001, 0.02))
def test_a_straight_lead_is_crossed_where_it_should(turn: float, slope: float) -> None:
    """``left`` leads ``right`` by slope * (turn - v): the order turns at ``turn``."""
    values = [0.0, 10.0, 25.0, 50.0]
    totals = [{"back": {"left": 4.0, "right": 4.0 + slope * (turn - v)}} for v in values]
    (row,) = turns_between(values, totals, 10.0, SETTING)
    first = "left" if turn >= 10.0 else "right"
    assert row["zone"] == first and row["turns_at"] == pytest.approx(turn, abs=1e-6)
    assert row["lead_strokes"] == pytest.approx(abs(slope * (turn - 10.0)))
    assert ("more than" if turn > 10.0 else "less than") in row["reading"]


def test_unchanged_order_is_reported() -> None:
    totals = [{"back": {"left": 4.0, "right": 4.1}}] * 2
    (row,) = turns_between([0.0, 50.0], totals, 0.0, SETTING)
    assert np.isnan(row["turns_at"]) and f"no {SETTING} from 0 to 50 turns that" in row["reading"]


def test_the_value_in_force_is_tried_and_settings_reach_the_play(site, monkeypatch) -> None:
    tried = []

    def totals(variant, hole, tee, player, wind):
        tried.append(float(variant.setting(SETTING)))
        return {"front": {"left": 4.0, "right": 4.3 - 0.01 * tried[-1]}}

    monkeypatch.setattr(module, "zone_totals", totals)
    table = gt.turning_points(site, SETTING, 0.0, 40.0, count=3)
    assert tried == [0.0, 10.0, 20.0, 40.0]
    assert table.loc[0, "turns_at"] == pytest.approx(30.0)
    assert table.loc[0, "lead_strokes"] == pytest.approx(0.2)


def test_blindness_turns_nothing_where_everything_is_seen(site) -> None:
    """On a plane no flag is blind: the leads are those of positions, and no value turns them."""
    table = gt.turning_points(site, SETTING, 0.0, 50.0, hole=1, count=2)
    assert len(table) == 6 and table["turns_at"].isna().all()
    ranked = gt.positions(site, players=("scratch man",), winds=("calm",))["positions"]
    for row in table.itertuples():
        here = ranked[ranked["pin"] == row.pin].set_index("zone")["total_strokes"]
        assert row.zone == here.idxmin()
        assert row.lead_strokes == pytest.approx(here[row.other] - here.min(), abs=1e-9)


@pytest.mark.parametrize(
    ("setting", "low", "high", "message"),
    [
        ("firmness", 0.0, 1.0, "'firmness' is no setting that is a number; there are"),
        ("height", 0.0, 1.0, "'height' is no setting"),
        (SETTING, 50.0, 0.0, "the range 50 to 0 in 5 values is empty"),
    ],
)
def test_what_cannot_be_varied_is_told(site, setting, low, high, message) -> None:
    with pytest.raises(InputError, match=message):
        gt.turning_points(site, setting, low, high, hole=1)


def test_a_hole_has_to_be_named_where_there_are_several() -> None:
    from gistools.site.sample import sample_site

    with pytest.raises(InputError, match="say of which hole"):
        gt.turning_points(sample_site(), SETTING, 0.0, 50.0)
