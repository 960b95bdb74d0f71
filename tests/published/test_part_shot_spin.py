"""Spin of part shots with a wedge, and how far they run.

Measured strikes as printed on coaches' and makers' pages.

- 50 yd, 60 degree wedge, dry: fresh face 8,729 rpm, launch 30.6 degrees, top 25 ft; face worn for a year
  5,576 rpm, 33.1 degrees, 30 ft [published: chapmanschapters.blogspot.com 2013/03, New vs old wedges]
- 55 m, dry wedge: just under 9,500 rpm, launch 31.6 degrees, lands at a good 45 degrees [published:
  exactgolf.com, Dry vs. wet wedge]
- 50 to 60 yd, 56 degree wedge, dry: 5,349 rpm, launch 31.4 degrees [published: windmillleisure.co.uk, p=4090]
- 70 yd, 56 degree wedges of many makes, tight lie: mean 7,130 rpm, least 3,573, most 8,910 [published:
  short-game-secrets blog, All wedges]
- 15 yd, 58 degree wedge, low: ball speed 27.8 mph, launch 29.6 degrees, 2,230 rpm [published:
  andrewricegolf.com, tag wedges]

They differ among themselves by a factor of 1.8 at one distance: face, ball and strike. The check is that a
built-in player's part shot lies among them, which spin in proportion to ball speed does not (second test),
and that it runs as players expect on a green of 10 ft: 3 to 5 m for the tour player (common practice, no
source).
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.units import YARD_M
from gistools.compute.ballistics.flight import RPM, Flight, Launch, fly
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import run_out, turf_grid
from gistools.compute.terrain.surface import Surface

FRESH, WORN = 8729.0, 5576.0


def part(who: str, carry_m: float) -> Launch:
    club = built_in(who).clubs[-1]
    return club.launch.at(float(club.scale(carry_m)))


def run(flight: Flight) -> float:
    """Run on a level green of 10 ft, normal firmness [m]."""
    land = turf_grid(Surface(np.zeros((80, 40)), -20.0, 70.0, 1.0), int(Kind.GREEN))
    return run_out(land, flight.speed_ms, flight.descent_deg, flight.spin_rpm)[0]


@pytest.mark.parametrize("who", ["tour man", "scratch man", "bogey man", "scratch woman"])
def test_spin_at_50_yards_lies_between_worn_and_fresh(who: str) -> None:
    launch = part(who, 50 * YARD_M)
    assert WORN < launch.spin_rpm < FRESH
    assert 29.0 < launch.angle_deg < 34.0
    assert 25.0 < fly(launch).apex_m / 0.3048 < 33.0


def test_spin_at_other_distances() -> None:
    assert 5349 < part("tour man", 55.0).spin_rpm < 9500
    assert 43.0 < fly(part("bogey man", 55.0)).descent_deg < 47.0
    assert 3573 < part("tour man", 70 * YARD_M).spin_rpm < 9500
    chip = built_in("tour man").clubs[-1].launch
    low = chip.at(27.8 * 0.44704 / chip.speed_ms)
    assert 2230 < low.spin_rpm < 1.7 * 2230


def test_in_proportion_to_speed_the_tour_shot_would_run_too_far() -> None:
    """What was wrong: 6,300 rpm at 50 yd and 8.4 m of run."""
    club = built_in("tour man").clubs[-1]
    simple = Launch(club.launch.speed_ms, club.launch.angle_deg, club.launch.spin_rpm)
    scale = float(club.scale(50 * YARD_M))
    assert run(fly(simple.at(scale))) > 7.0
    assert 3.0 < run(fly(club.launch.at(scale))) < 5.0


def test_release_of_a_half_wedge() -> None:
    """3 to 5 m for the tour player, no more for the others, who pitch it higher (common practice, no
    source)."""
    far = [run(fly(part(who, 50 * YARD_M))) for who in ("tour man", "scratch man", "bogey man")]
    assert 3.0 < far[0] < 5.0
    assert far[0] > far[1] > far[2] > 0.0


def test_spin_rises_with_speed_and_levels_off() -> None:
    launch = built_in("tour man").clubs[-1].launch
    spin = launch.spin_at(np.linspace(0.02, 1.3, 200))
    assert (np.diff(spin) >= -1e-9).all() and spin[-1] == pytest.approx(launch.spin_rpm * RPM)
    simple = Launch(60.0, 12.0, 2700.0)
    np.testing.assert_allclose(simple.spin_at([0.5, 1.0]), [0.5 * 2700 * RPM, 2700 * RPM])
