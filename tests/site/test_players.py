"""Players and winds of a site's own tables: added, replaced, refused by field."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gistools.base.errors import InputError, SiteError
from gistools.compute.ballistics.players import built_in
from gistools.site.players import player_from, players_of, wind_from, winds_of


class Tables:
    def __init__(self, **tables):
        self.tables = {name: pd.DataFrame(rows) for name, rows in tables.items()}

    def layer(self, name):
        return self.tables.get(name, pd.DataFrame())


def test_the_prevailing_wind_comes_first() -> None:
    rows = [
        {"wind": "sea breeze", "speed_ms": 7.0, "from_deg": 120.0, "prevailing": False},
        {"wind": "west", "speed_ms": 6.0, "from_deg": 270.0, "prevailing": True},
    ]
    assert [w.name for w in winds_of(Tables(winds=rows))] == ["west", "calm", "sea breeze"]


def test_scratch_and_bogey_man_in_calm_are_the_defaults() -> None:
    assert [p.name for p in players_of(Tables())] == ["scratch man", "bogey man"]
    assert [w.name for w in winds_of(Tables())] == ["calm"]


def test_a_row_adds_or_replaces() -> None:
    site = Tables(
        players=[
            {
                "player": "Ann",
                "based_on": "scratch woman",
                "driver_carry_m": 160.0,
                "direction_sd_deg": 6.0,
                "distance_sd_pct": np.nan,
                "eye_m": 1.55,
            },
            {
                "player": "bogey man",
                "based_on": None,
                "driver_carry_m": 150.0,
                "direction_sd_deg": None,
                "distance_sd_pct": 10.0,
                "eye_m": None,
            },
        ],
        winds=[{"wind": "sea breeze", "speed_ms": 7.0, "from_deg": 120.0}],
    )
    scratch, bogey, ann = players_of(site)
    assert (scratch.name, bogey.name, ann.name) == ("scratch man", "bogey man", "Ann")
    assert ann.clubs[0].carry_m == pytest.approx(160.0) and ann.eye_m == 1.55
    base = built_in("scratch woman")
    assert ann.club("7-iron").carry_m == pytest.approx(
        base.club("7-iron").carry_m * 160.0 / base.clubs[0].carry_m
    )
    assert ann.dispersion(ann.clubs[0], "tee").direction_sd_deg == pytest.approx(6.0, rel=0.02)
    factor = ann.skill.aim_sd_deg / base.skill.aim_sd_deg
    assert ann.skill.curve_sd_deg == pytest.approx(base.skill.curve_sd_deg * factor)
    assert ann.skill.carry_sd_pct == pytest.approx(base.skill.carry_sd_pct)
    assert bogey.clubs[0].carry_m == pytest.approx(150.0)
    assert bogey.dispersion(bogey.clubs[0], "tee").carry_sd_pct == pytest.approx(10.0, rel=0.02)
    assert bogey.skill.handicap == 0.0  # based on scratch man, the default
    assert [w.name for w in winds_of(site)] == ["calm", "sea breeze"]
    assert [p.name for p in players_of(site, ["Ann", "junior"])] == ["Ann", "junior"]
    assert [w.name for w in winds_of(site, "sea breeze")] == ["sea breeze"]


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ({"player": "A", "driver_carry_m": -10.0}, "driver_carry_m"),
        ({"player": "A", "driver_carry_m": "far"}, "driver_carry_m"),
        ({"player": "A", "direction_sd_deg": 90.0}, "direction_sd_deg"),
        ({"player": "A", "distance_sd_pct": -1.0}, "distance_sd_pct"),
        ({"player": "A", "eye_m": 17.0}, "eye_m"),
        ({"player": "A", "handicap": 99.0}, "handicap"),
        ({"player": "A", "based_on": "giant"}, "based_on"),
        ({"player": None}, "player"),
    ],
)
def test_silly_players_are_refused_by_field(row, field) -> None:
    with pytest.raises(SiteError, match=field):
        player_from(row)


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ({"wind": "x", "speed_ms": -1.0, "from_deg": 0.0}, "speed_ms"),
        ({"wind": "x", "speed_ms": 5.0, "from_deg": 400.0}, "from_deg"),
        ({"wind": "x", "speed_ms": None, "from_deg": 0.0}, "speed_ms is missing"),
        ({"wind": "x", "speed_ms": 5.0, "from_deg": float("nan")}, "from_deg is missing"),
        ({"wind": "", "speed_ms": 5.0, "from_deg": 0.0}, "no name"),
    ],
)
def test_silly_winds_are_refused_by_field(row, field) -> None:
    with pytest.raises(SiteError, match=field):
        wind_from(row)


def test_unknown_names_are_refused_with_what_there_is() -> None:
    with pytest.raises(InputError, match="scratch man"):
        players_of(Tables(), ["nobody"])
    with pytest.raises(InputError, match="calm"):
        winds_of(Tables(), ["mistral"])


def test_a_handicap_sets_the_skill() -> None:
    player = player_from({"player": "Bea", "based_on": "scratch woman", "handicap": 12.0})
    assert player.skill.handicap == 12.0
    assert player.skill.aim_sd_deg > built_in("scratch woman").skill.aim_sd_deg
