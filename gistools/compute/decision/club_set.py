"""The shots a player chooses from: every club full, all but the driver eased half-way to the next, part shots with the shortest."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from gistools.compute.ballistics.air import STANDARD_DAY, Weather, Wind
from gistools.compute.ballistics.players import Player, lie_rules
from gistools.compute.decision.putting import BOGEY, SCRATCH, TOUR, Putter
from gistools.compute.decision.shot_table import Shot, ShotTable, make_shot_table

__all__ = ["Player", "Wind", "putter_of", "shot_table_of", "shots_of"]

THREE_QUARTER = 0.87  # of the full carry (assumption)
SHORTEST_PART_M, LONGEST_PART, PART_STEP = (
    2.5,
    0.8,
    1.08,
)  # part shots: shortest carry, longest as a share of the full, and the
# factor from each to the next longer one (assumption)


def shots_of(player: Player) -> tuple[Shot, ...]:
    """Return the shots of a player, longest first."""
    clubs = player.clubs
    out = [Shot(c.name, "full", c.launch, float(c.carry_m)) for c in clubs]
    for c, shorter in itertools.pairwise(clubs):
        if c.family != "driver":
            out.append(Shot(c.name, "eased", c.launch, 0.5 * (c.carry_m + shorter.carry_m)))
    last = clubs[-1]
    out.append(Shot(last.name, "eased", last.launch, 0.5 * (1.0 + THREE_QUARTER) * last.carry_m))
    out.append(Shot(last.name, "three-quarter", last.launch, THREE_QUARTER * last.carry_m))
    steps = int(np.log(LONGEST_PART * last.carry_m / SHORTEST_PART_M) / np.log(PART_STEP))
    out += [
        Shot(last.name, "part", last.launch, SHORTEST_PART_M * PART_STEP**k) for k in range(steps, -1, -1)
    ]
    return tuple(out)


def putter_of(player: Player) -> Putter:
    """Return the putting errors that go with a player's long game.

    The published start values are for tour, scratch and bogey; between them the direction error with irons decides
    (project's choice).
    """
    ladder = (2.3, 2.8, 4.2)
    skills = (TOUR, SCRATCH, BOGEY)
    at = float(player.full_direction_sd_deg)
    angle = float(np.interp(at, ladder, [p.angle_deg for p in skills]))
    share = float(np.interp(at, ladder, [p.length_share for p in skills]))
    return Putter(angle, share)


def shot_table_of(player: Player, wind: Wind, *, weather: Weather = STANDARD_DAY) -> ShotTable:
    """Return a player's shots in a wind and air, with samples for every lie and heading."""
    families = {c.name: c for c in player.clubs}

    def errors(shot: Shot, lie: str, n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
        club = families[shot.club]
        if club not in player.bag(lie):
            return None
        most = lie_rules(lie)["distance_factor"]
        if shot.swing == "part":
            if shot.carry_m > most * club.carry_m:
                return None
            most = 1.0
        angle, factor = player.spread(club, lie, shot.carry_m * most).errors(n)
        return angle, factor * most

    return make_shot_table(player.name, shots_of(player), errors, wind=wind, weather=weather)
