"""What a card says of its shot, on a straight hole where the burn is known: carry, clearance and run-out."""

from __future__ import annotations

import math

import numpy as np
import pytest

import gistools as gt
from gistools.base.cover_classes import Kind
from gistools.base.units import one_in
from gistools.compute.ballistics.effective_distance import effective_distance
from gistools.compute.decision.outcome_kernels import OUTCOME
from gistools.compute.decision.shot_figures import shot_figures
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import players_of, winds_of
from tests.conftest import plane, straight_tables

WHO = {"players": ("scratch man",), "winds": ("calm",)}


@pytest.fixture(scope="module")
def site() -> Site:
    return Site.from_tables(straight_tables(), 27700, plane()).with_settings(mesh_cell_m=10.0)


@pytest.fixture(scope="module")
def cards(site):
    table = gt.where_to_play(site, **WHO)
    return table[table["shot_number"] == 1]


def outcomes(site, card):
    model = HoleModel(site, 1)
    (player,), (wind,) = players_of(site, WHO["players"]), winds_of(site, WHO["winds"])
    solved = model.strokes(player, wind)
    shot = next(k for k, one in enumerate(solved.shot_table.shots) if one.label == card["club"])
    return solved.many_outcomes(0.0, 0.0, shot, round(card["aim_deg"] / 1.5) % 240, lie=0), player, wind


def test_carry_run_and_clearance_are_those_of_the_shots(site, cards) -> None:
    """The burn, 4 m wide at 45 degrees through (0, 200), ends at x = 60 to the right and -60 to the left."""
    over = cards[cards["shot_hazards_carried"] == "Test Burn"]
    assert len(over) >= 4 and set(over["zone"].str.split().str[0]) == {"beyond"}
    for card in over.to_dict("records"):
        out, player, wind = outcomes(site, card)
        x, y = out["land_x"], out["land_y"]
        assert card["carry_mean_m"] == pytest.approx(np.hypot(x, y).mean(), abs=0.01)
        bearing = math.atan2(np.median(x), np.median(y))
        # the far edge lies where y - x = 200 + 2 * sqrt(2)
        far = (200 + 2 * math.sqrt(2)) / (math.cos(bearing) - math.sin(bearing))
        assert card["shot_must_carry_m"] == pytest.approx(far, abs=1.2)
        beyond = (y - x > 200 + 2 * math.sqrt(2)) | (np.abs(x / y) > 60 / 260) & (x > 0)
        assert card["shot_carried_pct"] == pytest.approx(100 * beyond.mean(), abs=1.5)
        carry = math.hypot(np.median(x), np.median(y))
        played = effective_distance(carry, wind=wind, bearing_deg=math.degrees(bearing), player=player)
        assert card["effective_carry_m"] == pytest.approx(float(played), abs=0.5)
        dry = out["penalty"] == 0
        run = (out["x"] - x) * math.sin(bearing) + (out["y"] - y) * math.cos(bearing)
        assert card["shot_run_along_m"] == pytest.approx(run[dry].mean(), abs=0.01)


def test_shot_short_of_the_burn_carries_nothing(cards) -> None:
    short = cards[cards["zone"].str.startswith("short")]
    assert len(short) and (short["shot_hazards_carried"] == "").all()
    assert short["shot_must_carry_m"].isna().all() and short["shot_carried_pct"].isna().all()
    for card in short.to_dict("records"):
        if card["shot_runs_into"]:
            name, _, share = card["shot_runs_into"].removesuffix(" %").rpartition(" ")
            assert name == "Test Burn" and float(share) <= card["trouble_pct"] + 0.5


def test_the_lead_is_the_difference_to_the_second(cards) -> None:
    for _, rows in cards.groupby("pin"):
        first = rows[rows["rank"] == 1].iloc[0]
        others = rows.loc[rows["rank"] > 1, "total_strokes"].min()
        assert first["lead_strokes"] == pytest.approx(others - first["total_strokes"])
        assert rows.loc[rows["rank"] > 1, "lead_strokes"].isna().all()
        if not first["level_with_first"]:
            assert f" is first, {first['lead_strokes']:.2f} ahead" in first["reading"]


@pytest.mark.parametrize(
    ("share", "words"), [(0.09, "1 in 11"), (0.39, "1 in 3"), (0.4, "40 %"), (0.46, "46 %"), (0.0, "0 %")]
)
def test_shares_in_words(share, words) -> None:
    assert one_in(share) == words


@pytest.fixture(scope="module")
def slope() -> HoleModel:
    """The straight hole on ground that rises 3 in 100 to the north."""
    return HoleModel(Site.from_tables(straight_tables(), 27700, plane(north_slope=0.03)), 1)


def balls(land, rest, kind=Kind.FAIRWAY) -> np.ndarray:
    """Four outcomes alike, from a landing to a rest; the last of them is lost in water."""
    out = np.zeros(4, OUTCOME)
    out["land_x"], out["land_y"] = land
    out["x"], out["y"] = rest
    out["land_kind"], out["kind"] = Kind.FAIRWAY, kind
    out["penalty"][3] = 1
    out["x"][3] += 500.0
    return out


def figures(model: HoleModel, out, start=(0.0, 0.0)) -> dict:
    (player,), (wind,) = players_of(model.site, WHO["players"]), winds_of(model.site, WHO["winds"])
    return shot_figures(model.ground, player, wind, start, out)


def test_run_out_is_positive_on_and_to_the_right_of_the_line(slope) -> None:
    """To the north, east is right; to the east, north is left. The ball in the water is left out."""
    row = figures(slope, balls((0.0, 120.0), (2.0, 127.0)))
    assert [row["shot_run_along_m"], row["shot_run_across_m"]] == pytest.approx([7.0, 2.0])
    row = figures(slope, balls((30.0, 100.0), (35.0, 103.0)), (-30.0, 100.0))
    assert [row["shot_run_along_m"], row["shot_run_across_m"]] == pytest.approx([5.0, -3.0])


def test_a_shot_up_the_slope_plays_longer_and_down_it_shorter(slope) -> None:
    for start, land, rise in (((0.0, 0.0), (0.0, 120.0), 3.6), ((0.0, 150.0), (0.0, 30.0), -3.6)):
        row = figures(slope, balls(land, land), start)
        assert row["carry_mean_m"] == pytest.approx(120.0)
        assert row["effective_carry_m"] == pytest.approx(120.0 + rise, abs=1.0)
        assert (row["effective_carry_m"] - 120.0) * rise > 0.0


def test_hazard_most_balls_run_into_is_named_with_its_share(slope) -> None:
    into = balls((0.0, 180.0), (0.0, 199.5), Kind.WATER)
    dry = balls((0.0, 180.0), (0.0, 185.0))
    assert figures(slope, np.concatenate([into, dry, dry, dry]))["shot_runs_into"] == "Test Burn 25 %"
    assert figures(slope, dry)["shot_runs_into"] == ""
    flown = into.copy()
    flown["land_kind"] = Kind.WATER
    assert figures(slope, flown)["shot_runs_into"] == ""
