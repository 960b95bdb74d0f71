"""Players: a bag of clubs and how their shots stray, by handicap.

Built-in players are the model players of the course rating system (a scratch man's tee shot is 250 yd, a
bogey man's 200 yd, women 210 and 150 yd, of which 20 yd roll), a tour player, and handicaps 5 to 25 between
and beyond them. ``data/players.csv``, ``data/bags.csv``, ``data/skills.csv`` and ``data/lies.csv`` hold the
numbers with their sources; ``docs/players.md`` shows the fit.

Dispersion of a shot with intended carry ``c``:

- direction: aim error and curve, the curve times ``sqrt(33 / loft)`` of the club, as little loft tilts the
  spin axis more (assumption);
- carry: ``full + (part - full) (c / L) exp(1 - c / L)`` per cent with ``L = 30 m``: part swings of such a
  carry stray most in per cent (fit); the full one times ``sqrt(33 / loft)`` as well (assumption);
- both widened by an error of judging landing spot and turf, ``error_m (1 - exp(-c / 6 m))`` along and half of
  it across (fit);
- by the lie: rough and sand by skill, recovery by a factor; of shots from among trees a share is stopped on
  the way (fit): nearly half of the short ones, few of the long ones, which are tried through an opening
  alone.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.base.units import YARD_M
from gistools.compute.ballistics.air import number
from gistools.compute.ballistics.clubs import Club, club_for, loft_of, rows_of, tour_club
from gistools.compute.ballistics.dispersion import Dispersion
from gistools.compute.ballistics.short_game import ShortSwing

MID_LOFT_DEG = 33.0  # loft at which curve and carry errors are stated: a 7-iron (common practice)
PART_SWING_M = 30.0  # carry at which the excess error of part swings is greatest (fit)
CLEAN_FROM_SAND_M = 25.0  # shorter shots from sand are bunker shots (common practice)
OFF_TURF = (
    0.6  # what a club of little loft strays more from turf than from a tee, by ``sqrt(33 / loft) - 1`` (fit)
)
JUDGED_M = 6.0  # carry over which the error of judging grows to most of its size (fit)
ACROSS_SHARE = 0.5  # of the error of judging, sideways (assumption)
FULL_FROM_M = 60.0  # shots of such a carry fall short of the aim as full ones do (assumption)
STOPPED_PCT, STOPPED_UP_TO_M = (
    62.0,
    170.0,
)  # of shots from among trees: ``62 (1 - (c / 170)^2)`` per cent (fit to Broadie 2012, table 9)
STOPPED_FROM, STOPPED_TO = (
    0.05,
    0.6,
)  # carry of a stopped shot as a share of the intended one: mean 0.33 (tree tests: 0.35 to 0.47)
DEFAULT_PLAYERS = ("scratch man", "bogey man")

LIES: dict[int, str] = {
    Kind.TEE: "tee",
    Kind.FAIRWAY: "fairway",
    Kind.GREEN: "fairway",
    Kind.ROUGH: "rough",
    Kind.PATH: "rough",
    Kind.OUT: "rough",
    Kind.WATER: "rough",
    Kind.SAND: "sand",
    Kind.TREES: "recovery",
    Kind.OFF_MAP: "rough",
}


@functools.cache
def lies() -> dict[str, dict[str, Any]]:
    """What each lie does.

    Factor on distance, factor on dispersion (None: by skill), families of clubs it allows.
    """
    return {
        row["lie"]: {
            "distance_factor": float(row["distance_factor"]),
            "dispersion_factor": float(row["dispersion_factor"]) if row["dispersion_factor"] else None,
            "families": tuple(row["families"].split()),
        }
        for row in rows_of("lies")
    }


def lie_rules(lie: str) -> dict[str, Any]:
    """Return what a lie does.

    Raises
    ------
    InputError
        If there is no such lie.
    """
    if lie not in lies():
        raise InputError(f"there is no lie {lie!r}; the lies are: {', '.join(lies())}")
    return lies()[lie]


@dataclass(frozen=True)
class Skill:
    """How a player's shots stray.

    Parameters
    ----------
    handicap
        Handicap index the figures stand for; -6 for a tour player.
    aim_sd_deg, curve_sd_deg
        Standard deviations of the starting direction and of curve with a 7-iron [degrees].
    carry_sd_pct, part_carry_sd_pct
        Standard deviation of carry with a full 7-iron, and of part swings of 30 m [%].
    error_m
        Error of judging along the line, of all but the shortest shots [m].
    rough_add_pct
        What rough adds to dispersion [%].
    sand_factor, bunker_factor
        Dispersion from sand over that from the fairway: of clean strikes, and of bunker shots.
    short_of_aim_pct
        How far the mean of full shots that are not from a tee falls short of the intended carry [%].
    mishit_pct
        Share of mishits [%].
    """

    handicap: float
    aim_sd_deg: float
    curve_sd_deg: float
    carry_sd_pct: float
    part_carry_sd_pct: float
    error_m: float
    rough_add_pct: float = 50.0
    sand_factor: float = 2.0
    bunker_factor: float = 1.4
    short_of_aim_pct: float = 0.0
    mishit_pct: float = 0.0

    def __post_init__(self) -> None:
        for part in dataclasses.fields(self)[1:]:
            high = {"error_m": 10.0, "sand_factor": 6.0, "bunker_factor": 6.0}.get(
                part.name, 40.0 if part.name.endswith("_deg") else 150.0
            )
            number(part.name, getattr(self, part.name), 0, high)

    def scaled(self, direction: float = 1.0, carry: float = 1.0) -> Skill:
        """Return a skill with its errors of direction and of carry times a factor each."""
        return dataclasses.replace(
            self,
            aim_sd_deg=self.aim_sd_deg * direction,
            curve_sd_deg=self.curve_sd_deg * direction,
            carry_sd_pct=self.carry_sd_pct * carry,
            part_carry_sd_pct=self.part_carry_sd_pct * carry,
            error_m=self.error_m * carry,
        )


def skill_for(handicap: float) -> Skill:
    """Return the skill at a handicap: ``data/skills.csv`` interpolated, its ends kept beyond."""
    rows = sorted(rows_of("skills"), key=lambda row: float(row["handicap"]))
    at = [float(row["handicap"]) for row in rows]
    return Skill(
        float(handicap),
        *(
            float(np.interp(handicap, at, [float(row[part.name]) for row in rows]))
            for part in dataclasses.fields(Skill)[1:]
        ),
    )


@dataclass(frozen=True)
class Player:
    """A player: a bag, longest club first, and a skill.

    Parameters
    ----------
    name
        What the player is called.
    clubs
        The bag, longest carry first.
    skill
        How the shots stray.
    eye_m
        Height of the eyes [m].
    """

    name: str
    clubs: tuple[Club, ...]
    skill: Skill = field(default_factory=lambda: skill_for(0.0))
    eye_m: float = 1.6

    def __post_init__(self) -> None:
        if not self.clubs:
            raise InputError(f"player {self.name!r} has no clubs")
        carries = [club.carry_m for club in self.clubs]
        if sorted(carries, reverse=True) != carries or len(set(carries)) < len(carries):
            raise InputError(f"the clubs of player {self.name!r} are not in order of carry, longest first")
        number(f"eye_m of player {self.name!r}", self.eye_m, 0, 3, "m")

    def club(self, name: str) -> Club:
        """Return a club by name.

        Raises
        ------
        InputError
            If it is not in the bag.
        """
        for club in self.clubs:
            if club.name == name:
                return club
        bag = ", ".join(c.name for c in self.clubs)
        raise InputError(f"player {self.name!r} has no club {name!r}; the bag: {bag}")

    def bag(self, lie: str = "fairway") -> tuple[Club, ...]:
        """Clubs that can be played from a lie, longest first; the shortest of the bag always can."""
        families = lie_rules(lie)["families"]
        return tuple(c for c in self.clubs if c.family in families or c is self.clubs[-1])

    def club_for(self, carry_m: float, lie: str = "fairway") -> Club | None:
        """Return the shortest club whose full carry from a lie is at least ``carry_m``; None beyond reach."""
        factor = lie_rules(lie)["distance_factor"]
        enough = [c for c in self.bag(lie) if c.carry_m * factor >= carry_m - 1e-9]
        return enough[-1] if enough else None

    def dispersion(self, club: Club, lie: str = "fairway", carry_m: float | None = None) -> Dispersion:
        """How shots with a club stray from a lie, for an intended carry (default: the full one)."""
        carry = club.carry_m if carry_m is None else max(carry_m, 0.5)
        skill, little_loft = self.skill, math.sqrt(MID_LOFT_DEG / loft_of(club.name))
        full = skill.carry_sd_pct * little_loft
        excess = max(skill.part_carry_sd_pct - full, 0.0)
        part = excess * (carry / PART_SWING_M) * math.exp(1.0 - carry / PART_SWING_M)
        rule = lie_rules(lie)["dispersion_factor"]
        by_skill = skill.sand_factor if lie == "sand" else 1.0 + skill.rough_add_pct / 100.0
        wider = by_skill if rule is None else rule
        if lie != "tee":
            wider *= 1.0 + OFF_TURF * max(little_loft - 1.0, 0.0)
        short_of_aim = 0.0 if lie == "tee" else skill.short_of_aim_pct * min(carry / FULL_FROM_M, 1.0)
        mishits: dict[str, float] = {"mishit_pct": skill.mishit_pct}
        if lie == "recovery":
            stopped = STOPPED_PCT * max(1.0 - (carry / STOPPED_UP_TO_M) ** 2, 0.0)
            mishits = {
                "mishit_pct": max(stopped, skill.mishit_pct),
                "mishit_from": STOPPED_FROM,
                "mishit_to": STOPPED_TO,
            }
        error = skill.error_m * (1.0 - math.exp(-carry / JUDGED_M))
        across_deg = math.degrees(math.atan(ACROSS_SHARE * error / carry))
        return Dispersion(
            aim_sd_deg=min(math.hypot(skill.aim_sd_deg, across_deg) * wider, 40.0),
            carry_sd_pct=min(math.hypot(full + part, 100.0 * error / carry) * wider, 60.0),
            curve_sd_deg=min(skill.curve_sd_deg * little_loft * wider, 40.0),
            short_pct=short_of_aim,
            **mishits,
        )

    def short_dispersion(self, swing: ShortSwing, lie: str, carry_m: float) -> Dispersion:
        """How a swing of the short game strays from a lie, for an intended carry [m]."""
        club = next((c for c in self.clubs if c.name == swing.club), self.clubs[-1])
        by_lie = self.skill.bunker_factor / self.skill.sand_factor if lie == "sand" else 1.0
        return self.dispersion(club, lie, carry_m).times(swing.dispersion_factor * by_lie)

    def scaled(self, name: str, factor: float) -> Player:
        """Return a player whose carries are those of this one times a factor."""
        clubs = tuple(club_for(c.name, c.carry_m * factor) for c in self.clubs)
        return dataclasses.replace(self, name=name, clubs=clubs)


@functools.cache
def _carries(bag: str) -> dict[str, float]:
    """Carry of each club of a bag in ``data/bags.csv`` [m]; the tour bag's by the flight model."""
    return {
        row["club"]: float(row["carry_yd"]) * YARD_M if row["carry_yd"] else tour_club(row["club"]).carry_m
        for row in rows_of("bags")
        if row["player"] == bag
    }


@functools.cache
def built_in(name: str) -> Player:
    """Return a built-in player.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    rows = {row["player"]: row for row in rows_of("players")}
    if name not in rows:
        raise InputError(f"there is no built-in player {name!r}; there are: {', '.join(rows)}")
    row = rows[name]
    first, last = _carries(row["bag_from"]), _carries(row["bag_to"])
    share, factor = float(row["bag_share"]), float(row["bag_factor"])
    if row["bag_from"] == row["bag_to"] == "tour man" and factor == 1.0:
        clubs = tuple(tour_club(club) for club in first)
    else:
        clubs = tuple(club_for(c, factor * (first[c] + share * (last[c] - first[c]))) for c in first)
    return Player(name, clubs, skill_for(float(row["handicap"])), float(row["eye_m"]))


def built_in_names() -> tuple[str, ...]:
    """Names of the built-in players."""
    return tuple(row["player"] for row in rows_of("players"))
