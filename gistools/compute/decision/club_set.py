"""The action set: full shots, eased ones between clubs, part shots, swings of the short game."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from gistools.compute.ballistics.air import STANDARD_DAY, Weather, Wind
from gistools.compute.ballistics.players import CLEAN_FROM_SAND_M, Player, lie_rules
from gistools.compute.ballistics.short_game import short_swings
from gistools.compute.decision.putting import Putter, putter_for
from gistools.compute.decision.shot_table import Shot, ShotTable, make_shot_table

__all__ = ["Player", "Wind", "putter_of", "shot_table_of", "shots_of"]

THREE_QUARTER = 0.87  # of the full carry (assumption)
EASED = (0.75, 0.5, 0.25)  # places between a club and the next shorter one (assumption)
SHORTEST_PART_M, LONGEST_PART, PART_STEP = (
    2.5,
    0.8,
    1.08,
)  # part shots: shortest carry, longest as a share of the full, and the
# factor from each to the next longer one (assumption)
SHORT_STEP = 1.12  # the same factor for the swings of the short game (assumption)


def shots_of(player: Player) -> tuple[Shot, ...]:
    """Return the shots of a player, longest first."""
    clubs = player.clubs
    shots = [Shot(c.name, "full", c.launch, float(c.carry_m)) for c in clubs]
    for c, shorter in itertools.pairwise(clubs):
        if c.family != "driver":
            shots += [
                Shot(c.name, "eased", c.launch, shorter.carry_m + share * (c.carry_m - shorter.carry_m))
                for share in EASED
            ]
    last = clubs[-1]
    shots.append(Shot(last.name, "eased", last.launch, 0.5 * (1.0 + THREE_QUARTER) * last.carry_m))
    shots.append(Shot(last.name, "three-quarter", last.launch, THREE_QUARTER * last.carry_m))
    steps = int(np.log(LONGEST_PART * last.carry_m / SHORTEST_PART_M) / np.log(PART_STEP))
    shots += [
        Shot(last.name, "pitch", last.launch, SHORTEST_PART_M * PART_STEP**k) for k in range(steps, -1, -1)
    ]
    for swing in short_swings():
        shots += [Shot(swing.club, swing.name, swing.launch, c) for c in swing.carries(SHORT_STEP)[::-1]]
    return tuple(shots)


def putter_of(player: Player) -> Putter:
    """Return the putting errors at a player's handicap."""
    return putter_for(player.skill.handicap)


def shot_table_of(player: Player, wind: Wind, *, weather: Weather = STANDARD_DAY) -> ShotTable:
    """Return a player's shots in a wind and air, with samples for every lie and heading."""
    clubs = {c.name: c for c in player.clubs}
    swings = {s.name: s for s in short_swings()}

    def errors(shot: Shot, lie: str, n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
        club = clubs.get(shot.club, player.clubs[-1])
        swing = swings.get(shot.swing)
        if swing is not None:
            if lie not in swing.lies:
                return None
            return player.short_dispersion(swing, lie, shot.carry_m).errors(n)
        if club not in player.bag(lie):
            return None
        most = lie_rules(lie)["distance_factor"]
        if shot.swing == "pitch":
            if shot.carry_m > most * club.carry_m or (lie == "sand" and shot.carry_m < CLEAN_FROM_SAND_M):
                return None
            most = 1.0
        angle, factor = player.dispersion(club, lie, shot.carry_m * most).errors(n)
        return angle, factor * most

    return make_shot_table(player.name, shots_of(player), errors, wind=wind, weather=weather)
