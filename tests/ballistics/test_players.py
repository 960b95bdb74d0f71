"""Clubs, players and dispersion: calibration, part shots, lies, skills, what is refused."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.errors import InputError
from gistools.compute.ballistics.clubs import Club, club_for, club_names, launch_at, rows_of
from gistools.compute.ballistics.dispersion import Dispersion, draws
from gistools.compute.ballistics.flight import Launch, fly
from gistools.compute.ballistics.players import LIES, Player, Skill, built_in, built_in_names, lies, skill_for
from gistools.compute.ballistics.short_game import short_swings


@pytest.mark.parametrize("name", built_in_names())
def test_carries_are_met(name) -> None:
    """Flat, calm, standard day: the flight of every club carries what is stated, within a centimetre."""
    for club in built_in(name).clubs:
        assert fly(club.launch).carry_m == pytest.approx(club.carry_m, abs=0.01)


@pytest.mark.parametrize("name", built_in_names())
def test_shorter_clubs_fly_shorter_and_land_steeper(name) -> None:
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
    for name in ("launches", "bags", "players", "skills", "lies", "short_game", "turf"):
        for row in rows_of(name):
            assert row["source"].strip(), f"{name}: {row}"


# ---------------------------------------------------------------- dispersion


def test_draws_are_even_repeatable_and_never_at_the_ends() -> None:
    u = draws(256)
    assert u is draws(256) and not u.flags.writeable
    assert (u > 0).all() and (u < 1).all()
    for k in range(3):  # one point in each of 256 equal parts: a Sobol net
        assert sorted(np.floor(u[:, k] * 256).astype(int)) == list(range(256))
    assert len(draws(1000)) == 1000


def test_errors_have_the_stated_deviation() -> None:
    angle, factor = Dispersion(4.5, 6.0).errors(8192)
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
    _, factor = Dispersion(4.0, 0.0, mishit_pct=8.0).errors(4096)
    bad = factor < 0.999
    assert bad.mean() == pytest.approx(0.08, abs=0.002)
    assert factor[bad].min() == pytest.approx(0.50, abs=0.01) and factor[bad].max() == pytest.approx(
        0.85, abs=0.01
    )
    _, factor = Dispersion(4.0, 10.0, short_pct=8.0, mishit_pct=7.5).errors(4096)
    assert factor.mean() == pytest.approx(0.92, abs=0.003)


def test_no_dispersion_no_error() -> None:
    angle, factor = Dispersion(0.0, 0.0).errors(64)
    assert (angle == 0).all() and (factor == 1).all()


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0, 40),
    st.floats(0, 60),
    st.floats(0, 40),
    st.floats(0, 30),
    st.floats(0, 60),
    st.integers(1, 700),
)
def test_errors_are_always_usable(direction, distance, curve, short, mishit, n) -> None:
    angle, factor = Dispersion(direction, distance, curve, short, mishit).errors(n)
    assert np.isfinite(angle).all() and (np.abs(angle) < math.radians(76)).all()
    assert (factor > 0).all() and (factor < 4).all()


def test_direction_is_aim_and_curve_of_one_law() -> None:
    both = Dispersion(3.0, 5.0, curve_sd_deg=4.0)
    assert both.direction_sd_deg == pytest.approx(5.0)
    assert np.degrees(both.errors(8192)[0].std()) == pytest.approx(5.0, rel=0.02)


def test_dispersion_by_club_and_lie() -> None:
    """Iron against the formula of the module by hand.

    Longer clubs stray more, rough and sand widen by the skill's figures.
    """
    player = built_in("bogey man")
    skill = player.skill
    driver, wood, iron, wedge = (player.club(c) for c in ("driver", "3-wood", "7-iron", "sand wedge"))
    across = math.degrees(math.atan(0.5 * skill.error_m / iron.carry_m))
    direction = math.sqrt(skill.aim_sd_deg**2 + across**2 + skill.curve_sd_deg**2)
    assert player.dispersion(iron, "tee").direction_sd_deg == pytest.approx(direction)
    excess = max(skill.part_carry_sd_pct - skill.carry_sd_pct, 0.0)
    excess *= iron.carry_m / 30.0 * math.exp(1.0 - iron.carry_m / 30.0)
    along = math.hypot(skill.carry_sd_pct + excess, 100 * skill.error_m / iron.carry_m)
    assert player.dispersion(iron, "tee").carry_sd_pct == pytest.approx(along)
    assert (
        direction
        < player.dispersion(wood, "tee").direction_sd_deg
        < player.dispersion(driver, "tee").direction_sd_deg
    )
    assert player.dispersion(iron, "rough").direction_sd_deg == pytest.approx(
        direction * (1 + skill.rough_add_pct / 100)
    )
    assert player.dispersion(iron, "sand").carry_sd_pct == pytest.approx(along * skill.sand_factor)
    assert player.dispersion(iron, "tee").short_pct == 0.0
    assert player.dispersion(iron, "fairway").short_pct == pytest.approx(skill.short_of_aim_pct)
    # a chip errs by less in metres
    chip, pitch = (player.dispersion(wedge, "fairway", c).carry_sd_pct for c in (10.0, 40.0))
    assert 10.0 * chip < 0.5 * 40.0 * pitch


def test_skill_is_even_between_handicaps_and_held_beyond() -> None:
    """At the rows of the file, half-way between them, and held beyond them."""
    rows = {float(r["handicap"]): r for r in rows_of("skills")}
    for handicap, row in rows.items():
        assert skill_for(handicap).aim_sd_deg == float(row["aim_sd_deg"])
    middle = skill_for(7.5).carry_sd_pct
    assert middle == pytest.approx(0.5 * (float(rows[5]["carry_sd_pct"]) + float(rows[10]["carry_sd_pct"])))
    assert skill_for(54).carry_sd_pct == skill_for(25).carry_sd_pct


@pytest.mark.parametrize("carry", [2.0, 6.0, 60.0])
def test_error_of_judging_grows_with_the_carry(carry) -> None:
    """Closed form: ``error_m (1 - exp(-c / 6 m))`` along the line, half of it across."""
    skill = dataclasses.replace(
        skill_for(0), aim_sd_deg=0.0, carry_sd_pct=0.0, part_carry_sd_pct=0.0, error_m=0.8
    )
    player = dataclasses.replace(built_in("scratch man"), skill=skill)
    spread = player.dispersion(player.clubs[-1], "tee", carry)
    error = 0.8 * (1.0 - np.exp(-carry / 6.0))
    assert spread.carry_sd_pct == pytest.approx(100.0 * error / carry)
    assert np.tan(np.radians(spread.aim_sd_deg)) == pytest.approx(0.5 * error / carry)


def test_no_figure_of_dispersion_falls_with_handicap() -> None:
    """But the error of judging, for which the fit takes that of part shots."""
    skills = [skill_for(h) for h in (-6, 0, 5, 10, 15, 20, 25)]
    for name in ("aim_sd_deg", "curve_sd_deg", "carry_sd_pct", "part_carry_sd_pct", "mishit_pct"):
        assert (np.diff([getattr(s, name) for s in skills]) >= 0).all(), name


def test_bags_by_handicap_lie_between_the_model_players() -> None:
    """Half-way in handicap is half-way in carry; beyond the bogey man it goes on."""
    scratch, bogey = built_in("scratch man"), built_in("bogey man")
    ten, last = built_in("10-handicap man"), built_in("25-handicap man")
    for club in club_names():
        assert ten.club(club).carry_m == pytest.approx(
            0.5 * (scratch.club(club).carry_m + bogey.club(club).carry_m)
        )
        assert last.club(club).carry_m < bogey.club(club).carry_m


def test_short_swings_launch_as_they_are_called() -> None:
    """A bump-and-run comes in lowest, a lob highest.

    The lob alone falls steeply; a bunker shot is for sand alone.
    """
    swings = {s.name: s for s in short_swings()}
    flights = {}
    for name, swing in swings.items():
        club = Club(swing.club, 40.0, swing.launch)
        flights[name] = fly(swing.launch.at(float(club.scale(12.0))))
        assert flights[name].carry_m == pytest.approx(12.0, abs=0.05)
    assert flights["bump-and-run"].apex_m < flights["chip"].apex_m < flights["lob"].apex_m
    assert flights["bump-and-run"].descent_deg < 25 < 45 < flights["lob"].descent_deg
    assert swings["bunker shot"].lies == ("sand",) and not any(
        "sand" in s.lies for n, s in swings.items() if n != "bunker shot"
    )


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


def test_club_not_in_the_bag_is_refused_listing_the_bag() -> None:
    with pytest.raises(InputError, match="the bag"):
        built_in("scratch man").club("putter")


def test_a_player_needs_an_ordered_bag_and_sane_skill() -> None:
    base = built_in("scratch man")
    with pytest.raises(InputError, match="order"):
        dataclasses.replace(base, clubs=base.clubs[::-1])
    with pytest.raises(InputError, match="no clubs"):
        dataclasses.replace(base, clubs=())
    with pytest.raises(InputError, match="aim_sd_deg"):
        dataclasses.replace(base.skill, aim_sd_deg=-1.0)
    assert isinstance(hash(base), int) and isinstance(base, Player) and isinstance(base.skill, Skill)
