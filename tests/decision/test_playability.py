"""Shares that clear, reach and hold: counts of shots drawn one by one with random errors, laws, a par 3."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import Point, box

import gistools as gt
from gistools.base.cover_classes import Kind
from gistools.compute.ballistics import shot_kernels as ball
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.hole import HoleModel
from gistools.site.model import Site
from tests.conftest import plane, straight_tables

from .plain import club_of, errors

PLAYS = 20_000
WHO = {"players": ("scratch man",), "winds": ("calm",)}


@pytest.fixture(scope="module")
def site() -> Site:
    return Site.from_tables(straight_tables(), 27700, plane()).with_settings(mesh_cell_m=10.0)


@pytest.fixture(scope="module")
def shares(site: Site):
    return gt.playability(site, **WHO)


def drawn(model: HoleModel, place, lie: str, shot, aim_deg: float, seed: int) -> np.ndarray:
    """Play a shot PLAYS times with errors drawn at random, each flown, bounced and rolled on its own."""
    player, ground = built_in("scratch man"), model.tee_ground
    rng = np.random.default_rng(seed)
    angle, scale = errors(player, shot, np.full(PLAYS, shot.carry_m), lie, PLAYS, rng)
    start = np.array([*place, ground.surface.height(*place)])
    out = np.empty(PLAYS, ball.SHOT)
    ball.play_many(
        ground.land,
        ground.obstacles,
        club_of(player, shot).table(ground.weather, CALM),
        np.tile(start, (PLAYS, 1)),
        np.radians(aim_deg) + angle,
        scale,
        out,
    )
    return out


def shot_named(model: HoleModel, label: str):
    table = model.strokes(built_in("scratch man"), CALM).shot_table
    return next(shot for shot in table.shots if shot.label == label)


def test_shares_that_clear_agree_with_drives_drawn_one_by_one(site, shares) -> None:
    """Each drive has to land beyond the far edge of the burn in its own direction, or pass its end by."""
    model = HoleModel(site, 1)
    carries = gt.carries(site)["carries"].set_index(["feature", "line"])
    for line in ("least", "greatest", "on line"):
        bearing = carries.loc[("Test Burn", line), "bearing_deg"]
        out = drawn(model, (0.0, 0.0), "tee", shot_named(model, "driver"), bearing, 3)
        beyond = out["land_y"] - out["land_x"] > 200.0 + 2.0 * np.sqrt(2.0)  # 45 degrees, 4 m wide
        beyond |= np.arctan2(out["land_x"], out["land_y"]) > np.arctan2(60.0, 260.0)  # past its end
        row = shares[(shares["feature"] == "Test Burn") & (shares["line"] == line)].iloc[0]
        assert row["share_pct"] == pytest.approx(100.0 * beyond.mean(), abs=2.5), line


def test_shares_that_reach_agree_with_tee_shots_drawn_one_by_one(site, shares) -> None:
    model = HoleModel(site, 1)
    shots = gt.tee_shots(site, **WHO)["tee_shots"].set_index("zone")
    for zone in model.zones:
        row = shares[(shares["demand"] == "reach") & (shares["zone"] == zone.zone)].iloc[0]
        shot = shot_named(model, row["club"])
        out = drawn(model, (0.0, 0.0), "tee", shot, shots.loc[zone.zone, "aim_deg"], 5)
        inside = shapely.contains_xy(zone.area, out["x"], out["y"])
        assert row["share_pct"] == pytest.approx(100.0 * inside.mean(), abs=2.5), zone.zone


def test_shares_that_hold_agree_with_approaches_drawn_one_by_one(site, shares) -> None:
    """The shot at the green is the best from the middle of the finishes of the first choice."""
    model = HoleModel(site, 1)
    solved = model.strokes(built_in("scratch man"), CALM)
    cards = gt.where_to_play(site, **WHO)
    for pin, name in enumerate(solved.pins):
        card = cards[(cards["rank"] == 1) & (cards["pin"] == name) & (cards["shot_number"] == 1)].iloc[0]
        x, y = card.geometry.x, card.geometry.y
        best = solved.value_at(x, y, pin)
        shot = solved.shot_table.shots[best.shot]
        row = shares[(shares["demand"] == "hold") & (shares["pin"] == name)].iloc[0]
        assert (row["zone"], row["club"]) == (card["zone"], shot.label)
        out = drawn(model, (x, y), "fairway", shot, best.heading * 1.5, 7 + pin)
        assert row["share_pct"] == pytest.approx(100.0 * (out["kind"] == Kind.GREEN).mean(), abs=4.0), name


def test_rows_are_those_of_the_steps_they_come_from(site, shares) -> None:
    assert list(shares["demand"].unique()) == ["carry", "reach", "hold"]
    assert set(shares["feature"]) == {
        "rough to fairway",
        "Test Burn",
        "",
    }  # the bunker beside has a way round
    assert shares["share_pct"].between(0.0, 100.0).all()
    burn = shares[shares["feature"] == "Test Burn"].set_index("line")["share_pct"]
    assert burn["least"] > burn["on line"] > burn["greatest"]
    assert all("of 100" in reading for reading in shares["reading"])


def test_weaker_player_carries_and_reaches_less(site) -> None:
    both = gt.playability(site, players=("scratch man", "bogey man"), winds=("calm",))
    table = both[both["feature"] == "Test Burn"].pivot(index="line", columns="player", values="share_pct")
    assert (table["bogey man"] < table["scratch man"] - 15.0).all()
    ask = {"hole": 1, "measure": "playability.share_pct", "feature": "Test Burn", "player": "bogey man",
           "wind": "calm", "at_least": 50.0}  # fmt: skip
    checked = gt.brief(site.replace(brief=pd.DataFrame([ask])))
    assert checked["result"].tolist() == ["fails"] and checked["rows_count"].tolist() == [3]


def test_par_3_has_a_carry_and_a_share_that_holds() -> None:
    tables = {
        "tees": gpd.GeoDataFrame({"hole": [1], "tee": ["back"]}, geometry=[box(-4, -3, 4, 3)]),
        "greens": gpd.GeoDataFrame({"hole": [1]}, geometry=[Point(0, 140).buffer(14, quad_segs=32)]),
        "pins": gpd.GeoDataFrame({"hole": [1], "pin": ["middle"]}, geometry=[Point(0, 140)]),
        "water": gpd.GeoDataFrame({"hole": [1], "name": ["pond"]}, geometry=[box(-60, 60, 60, 100)]),
        "boundary": gpd.GeoDataFrame(geometry=[box(-90, -50, 130, 230)]),
    }
    ground = plane(length=300.0)
    site = Site.from_tables(tables, 27700, ground).with_settings(mesh_cell_m=10.0)
    shares = gt.playability(site, **WHO)
    assert set(shares["demand"]) == {"carry", "hold"}
    assert set(shares["feature"]) == {"pond", ""}
    green = shares[shares["demand"] == "hold"].iloc[0]
    assert green["zone"] == "" and "from the tee with the" in green["reading"] and green["share_pct"] > 40.0
