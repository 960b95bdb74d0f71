"""Clubs, players and spread: calibration, part shots, lies, a site's own tables, what is refused."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.errors import InputError, SiteError
from gistools.compute.ballistics.clubs import Club, club_for, club_names, launch_at, rows_of
from gistools.compute.ballistics.dispersion import Spread, draws
from gistools.compute.ballistics.flight import Launch, fly
from gistools.compute.ballistics.players import (
    LIES,
    Player,
    built_in,
    built_in_names,
    lies,
    player_from,
    players_of,
    wind_from,
    winds_of,
)


class Tables:
    def __init__(self, **tables):
        self.tables = {name: pd.DataFrame(rows) for name, rows in tables.items()}

    def layer(self, name):
        return self.tables.get(name, pd.DataFrame())


@pytest.mark.parametrize("name", built_in_names())
def test_carries_are_met(name) -> None:
    """Flat, calm, standard day: the flight of every club carries what is stated, within a centimetre."""
    for club in built_in(name).clubs:
        assert fly(club.launch).carry_m == pytest.approx(club.carry_m, abs=0.01)


@pytest.mark.parametrize("name", built_in_names())
def test_bags_make_sense(name) -> None:
    clubs = built_in(name).clubs
    assert [c.name for c in clubs] == list(club_names())
    flights = [fly(c.launch) for c in clubs]
    assert (np.diff([c.carry_m for c in clubs]) < 0).all()
    assert (np.diff([c.launch.speed_ms for c in clubs]) < 0).all()
    assert (np.diff([c.launch.spin_rpm for c in clubs]) > 0).all()
    assert (
        np.diff([f.descent_deg for f in flights[1:]]) > 0
    ).all()  # driver and 3-wood come down about alike
    assert 25 < flights[0].descent_deg < 45 < flights[-1].descent_deg < 56


def test_the_longer_the_player_the_longer_every_club() -> None:
    order = ["tour man", "scratch man", "scratch woman", "bogey man", "bogey woman"]
    for club in club_names():
        carries = [built_in(p).club(club).carry_m for p in order]
        if club == "driver":
            assert (np.diff(carries) < 0).all()
        assert carries[0] == max(carries) and carries[-1] == min(carries)


@settings(max_examples=30, deadline=None)
@given(st.floats(2.0, 85.0))
def test_part_shots_carry_what_is_asked(carry) -> None:
    club = built_in("tour man").clubs[-1]
    scale = float(club.scale(carry))
    part = club.launch.at(scale)
    assert fly(part).carry_m == pytest.approx(carry, abs=0.02)


def test_part_shots_are_continuous_down_to_nothing() -> None:
    club = built_in("bogey woman").clubs[-1]
    scale = club.scale(np.linspace(0.0, club.carry_m, 500))
    assert scale[0] == 0.0 and (np.diff(scale) > 0).all() and scale[-1] == pytest.approx(1.0, abs=1e-5)


def test_club_beyond_what_it_can_do_is_refused() -> None:
    with pytest.raises(InputError, match="no ball speed"):
        club_for("sand wedge", 340.0)
    with pytest.raises(InputError, match="carry of the driver"):
        club_for("driver", -5.0)
    with pytest.raises(InputError, match="no club 'brassie'"):
        launch_at("brassie", 50.0)
    with pytest.raises(InputError, match="family"):
        Club("driver", 200.0, Launch(60, 12, 2500), "putter")


def test_every_row_of_data_has_a_source() -> None:
    for name in ("launches", "bags", "players", "spread", "lies", "turf"):
        for row in rows_of(name):
            assert row["source"].strip(), f"{name}: {row}"


# ---------------------------------------------------------------- spread


def test_draws_are_even_repeatable_and_never_at_the_ends() -> None:
    u = draws(256)
    assert u is draws(256) and not u.flags.writeable
    assert (u > 0).all() and (u < 1).all()
    for k in range(3):  # one point in each of 256 equal parts: a Sobol net
        assert sorted(np.floor(u[:, k] * 256).astype(int)) == list(range(256))
    assert len(draws(1000)) == 1000


def test_errors_have_the_stated_spread() -> None:
    angle, factor = Spread(4.5, 6.0).errors(8192)
    assert np.degrees(angle.std()) == pytest.approx(4.5, rel=0.02)
    assert factor.std() == pytest.approx(0.06, rel=0.05)  # the long side is capped
    assert angle.mean() == pytest.approx(0.0, abs=1e-9) and factor.mean() == pytest.approx(1.0, abs=0.002)
    assert factor.max() <= 1.15
    share = (np.abs(np.degrees(angle)) > 2 * 4.5).mean()
    assert share == pytest.approx(
        0.0496, abs=0.003
    )  # Student t, 5 degrees of freedom, beyond 2 sd (normal: 0.0455)
    assert (np.abs(np.degrees(angle)) > 4 * 4.5).mean() > 10 * 6.3e-5  # its tails are long


def test_mishits_and_falling_short() -> None:
    _, factor = Spread(4.0, 0.0, mishit_pct=8.0).errors(4096)
    bad = factor < 0.999
    assert bad.mean() == pytest.approx(0.08, abs=0.002)
    assert factor[bad].min() == pytest.approx(0.50, abs=0.01) and factor[bad].max() == pytest.approx(
        0.85, abs=0.01
    )
    _, factor = Spread(4.0, 10.0, short_pct=8.0, mishit_pct=7.5).errors(4096)
    assert factor.mean() == pytest.approx(0.92, abs=0.003)


def test_no_spread_no_error() -> None:
    angle, factor = Spread(0.0, 0.0).errors(64)
    assert (angle == 0).all() and (factor == 1).all()


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 40), st.floats(0, 60), st.floats(0, 30), st.floats(0, 60), st.integers(1, 700))
def test_errors_are_always_usable(direction, distance, short, mishit, n) -> None:
    angle, factor = Spread(direction, distance, short, mishit).errors(n)
    assert np.isfinite(angle).all() and (np.abs(angle) < math.radians(76)).all()
    assert (factor > 0).all() and (factor < 4).all()


def test_spread_by_club_and_lie() -> None:
    player = built_in("bogey man")
    driver, wood, iron, wedge = (player.club(c) for c in ("driver", "3-wood", "7-iron", "sand wedge"))
    assert player.spread(driver, "tee").direction_sd_deg == 7.0
    assert player.spread(iron, "tee").direction_sd_deg == 4.2
    assert 4.2 < player.spread(wood, "tee").direction_sd_deg < 7.0
    assert player.spread(iron, "rough").direction_sd_deg == pytest.approx(4.2 * 1.4)
    assert player.spread(iron, "sand").distance_sd_pct == pytest.approx(20.0)
    assert player.spread(iron, "tee").short_pct == 0.0 and player.spread(iron, "fairway").short_pct == 8.0
    assert player.spread(wedge, "fairway", 20.0).distance_sd_pct == 17.0
    assert player.spread(wedge, "fairway", 20.0).mishit_pct == 0.0


def test_what_can_be_played_from_where() -> None:
    player = built_in("scratch man")
    assert player.bag("tee")[0].name == "driver"
    assert player.bag("fairway")[0].name == "3-wood"
    assert player.bag("rough")[0].name == "hybrid"
    assert player.bag("sand")[0].family == "iron"
    assert player.club_for(137.0).name == "7-iron"
    assert player.club_for(137.0, "rough").carry_m * 0.92 >= 137.0
    assert player.club_for(230.0) is None
    with pytest.raises(InputError, match="no lie 'swamp'"):
        player.bag("swamp")
    assert set(LIES.values()) == set(lies())


# ---------------------------------------------------------------- tables of a site


def test_defaults() -> None:
    assert [p.name for p in players_of(Tables())] == ["scratch man", "bogey man"]
    assert [w.name for w in winds_of(Tables())] == ["calm"]


def test_a_row_adds_or_replaces() -> None:
    site = Tables(
        players=[
            {"player": "Ann", "based_on": "scratch woman", "driver_carry_m": 160.0, "direction_sd_deg": 6.0, "distance_sd_pct": np.nan, "eye_m": 1.55},
            {"player": "bogey man", "based_on": None, "driver_carry_m": 150.0, "direction_sd_deg": None, "distance_sd_pct": 10.0, "eye_m": None},
        ],
        winds=[{"wind": "sea breeze", "speed_ms": 7.0, "from_deg": 120.0}],
    )  # fmt: skip
    scratch, bogey, ann = players_of(site)
    assert (scratch.name, bogey.name, ann.name) == ("scratch man", "bogey man", "Ann")
    assert ann.clubs[0].carry_m == pytest.approx(160.0) and ann.eye_m == 1.55
    base = built_in("scratch woman")
    assert ann.club("7-iron").carry_m == pytest.approx(
        base.club("7-iron").carry_m * 160.0 / base.clubs[0].carry_m
    )
    assert ann.driver_direction_sd_deg == pytest.approx(6.0)
    assert ann.full_direction_sd_deg == pytest.approx(2.8 * 6.0 / 4.5) and ann.full_distance_sd_pct == 5.6
    assert bogey.clubs[0].carry_m == pytest.approx(150.0) and bogey.driver_distance_sd_pct == pytest.approx(
        10.0
    )
    assert bogey.mishit_pct == 0.0  # based on scratch man, the default
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
    with pytest.raises(InputError, match="the bag"):
        built_in("scratch man").club("putter")


def test_a_player_needs_an_ordered_bag_and_sane_spread() -> None:
    base = built_in("scratch man")
    with pytest.raises(InputError, match="order"):
        dataclasses.replace(base, clubs=base.clubs[::-1])
    with pytest.raises(InputError, match="no clubs"):
        dataclasses.replace(base, clubs=())
    with pytest.raises(InputError, match="full_direction_sd_deg"):
        dataclasses.replace(base, full_direction_sd_deg=-1.0)
    assert isinstance(hash(base), int) and isinstance(base, Player)
