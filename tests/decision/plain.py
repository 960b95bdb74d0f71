"""Plain shot-by-shot play without outcome tables: every shot flown, bounced and rolled on its own.

Follows the policy of a solved hole, with random errors instead of the samples the policy was found with.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics import shot_kernels as ball
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.flight import Launch
from gistools.compute.ballistics.players import Player, lie_rules
from gistools.compute.ballistics.short_game import short_swings
from gistools.compute.decision.outcome_kernels import HEADINGS, cell_of
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import ValueFunction
from gistools.compute.decision.value_iteration_kernels import TOP_K

FULL_SWINGS = ("full", "eased", "three-quarter")


def club_of(player: Player, shot: Any) -> Club:
    """The club of a shot, with the launch of its swing."""
    swing = next((s for s in short_swings() if s.name == shot.swing), None)
    if swing is not None:  # at twice the ball speed: a table of flights ends at 1.3 times that of its launch
        fast = swing.launch.speed_ms * 2.0, swing.launch.angle_deg, swing.launch.spin_rpm * 2.0
        return Club(swing.club, 60.0, Launch(*fast))
    return player.club(shot.club)


def errors(
    player: Player, shot: Any, carries: Any, lie: str, n: int, rng: Any
) -> tuple[np.ndarray, np.ndarray]:
    """Draw directions [rad] and ball speeds, written again from the words of the dispersion module."""
    swing = next((s for s in short_swings() if s.name == shot.swing), None)
    if swing is not None:
        most, spread = 1.0, player.short_dispersion(swing, lie, shot.carry_m)
    else:
        most = 1.0 if shot.swing == "pitch" else lie_rules(lie)["distance_factor"]
        spread = player.dispersion(player.club(shot.club), lie, shot.carry_m * most)
    unit = rng.standard_t(5, (n, 2)) / np.sqrt(5 / 3)
    angle = np.radians(np.clip(spread.direction_sd_deg * unit[:, 0], -75, 75))
    factor = 1 + spread.carry_sd_pct / 100 * np.minimum(unit[:, 1], 2.5)
    missed = spread.mishit_pct / 100
    short, far = spread.mishit_from, spread.mishit_to
    factor = np.where(rng.random(n) < missed, rng.uniform(short, far, n), factor)
    if spread.short_pct:  # the mean of all shots, mishits included, falls so far short
        factor *= (1 - spread.short_pct / 100) / (1 - missed + missed * 0.5 * (short + far))
    return angle, club_of(player, shot).scale(carries * most * np.maximum(factor, 0.02))


def states(s: ValueFunction, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """State of each ball."""
    g = s.ground
    rows, cols = g.kind.shape
    i = np.floor((g.y_north - y) / g.cell).astype(int).clip(0, rows - 1)  # at rest on the very edge
    j = np.floor((x - g.x_west) / g.cell).astype(int).clip(0, cols - 1)
    result = s.mesh.of_cell[i, j]
    assert (result >= 0).all(), "a ball is where it cannot be played from"
    return result


def play_out(
    s: ValueFunction,
    player: Player,
    start: tuple[float, float],
    shot: int,
    heading: int,
    pin: int,
    *,
    plays: int,
    seed: Any,
    wind: Wind = CALM,
) -> tuple[float, float]:
    """Return mean strokes and standard error: first shot given, then the nearest state's policy."""
    rng = np.random.default_rng(seed)
    land = s.ground.land
    x, y = np.full(plays, float(start[0])), np.full(plays, float(start[1]))
    score = np.zeros(plays)
    going = np.arange(plays)
    given, stuck = np.ones(plays, bool), np.zeros(plays, int)
    wider = 1.0 + s.scale_at(s.mesh.place[:, :2])[:, pin]
    for _ in range(1000):
        if not len(going):
            break
        state = states(s, x[going], y[going])
        putts = s.mesh.putts[state] | ((s.shot[state, pin, 0] < 0) & ~given[going])
        on = going[putts]
        score[on] += s.value[state[putts], pin]  # putting has simulations of its own: test_putting.py
        going, state = going[~putts], state[~putts]
        lies, same = s.mesh.lie[state], given[going]
        # a shot that does not get away three times is given up for the next best from there
        rank = np.minimum(stuck[going] // 3, TOP_K - 1)
        rank = np.where(s.shot[state, pin, rank] >= 0, rank, 0)
        clubs = np.where(same, shot, s.shot[state, pin, rank])
        aims = np.where(same, float(heading), _aims(s, state, pin, rank, x[going], y[going]))
        before = x[going], y[going]
        carries = np.array([shot.carry_m for shot in s.shot_table.shots])[clubs]
        carries = np.where(same, carries, _as_far(s, state, clubs, carries, pin, x[going], y[going]))
        for key in {(int(a), int(b)) for a, b in zip(lies, clubs, strict=True)}:
            group = np.flatnonzero((lies == key[0]) & (clubs == key[1]))
            who = going[group]
            swings = aims[group], carries[group], wider[state[group]]
            lost = _one(s, player, land, x, y, score, who, swings, key, wind, rng)
            given[who[~lost]] = False
        nearby = np.hypot(x[going] - before[0], y[going] - before[1]) < 1.0
        stuck[going] = np.where(nearby, stuck[going] + 1, 0)
    assert not len(going)
    return float(score.mean()), float(score.std() / np.sqrt(plays))


def _aims(s, state, pin, rank, x, y):
    """The policy's aim, kept at its angle to the pin when the ball lies beside the middle of its state."""
    px, py = s.pin_xy[pin]
    here = np.arctan2(px - x, py - y)
    middle = np.arctan2(px - s.mesh.place[state, 0], py - s.mesh.place[state, 1])
    return s.heading[state, pin, rank] + (here - middle) * HEADINGS / (2 * np.pi)


def _as_far(s, state, clubs, carries, pin, x, y):
    """Lengthen part shots by how much farther the pin is than from the middle of the state."""
    part = np.array([shot.swing not in FULL_SWINGS for shot in s.shot_table.shots])[clubs]
    px, py = s.pin_xy[pin]
    middle = np.hypot(px - s.mesh.place[state, 0], py - s.mesh.place[state, 1])
    return np.where(part, carries * np.clip(np.hypot(px - x, py - y) / middle, 0.7, 1.4), carries)


def _one(s, player, land, x, y, score, who, swings, key, wind, rng):
    lie, club = LIES[key[0]], s.shot_table.shots[key[1]]
    aims, carries, wider = swings
    angle, scale = errors(player, club, carries, lie, len(who), rng)
    angle = angle * wider
    z = s.surface.height(x[who], y[who])
    out = np.empty(len(who), ball.SHOT)
    table = club_of(player, club).table(wind=wind)
    headings = aims * 2 * np.pi / HEADINGS + angle
    starts = np.column_stack([x[who], y[who], z])
    ball.play_many(land, s.ground.obstacles, table, starts, headings, scale, out)
    score[who] += 1
    kinds = out["kind"].astype(int)
    lost = (kinds == Kind.OUT) | (kinds == Kind.OFF_MAP)
    score[who[lost]] += 1  # played again from the same place
    stored, x0, y0 = who[~lost], x[who], y[who]
    x[stored], y[stored] = out["x"][~lost], out["y"][~lost]
    for k in np.flatnonzero(kinds == Kind.WATER):
        score[who[k]] += 1
        aim = aims[k] * 2 * np.pi / HEADINGS
        start = x0[k], y0[k]
        x[who[k]], y[who[k]] = _drop(s, land, out["x"][k], out["y"][k], aim, start)
    return lost


def _drop(s, land, x, y, aim, start):
    """Drop back along the shot to dry, playable ground, else where the ball was hit from."""
    far = (x - start[0]) * np.sin(aim) + (y - start[1]) * np.cos(aim)
    while ball.kind_at(land, x, y) in (Kind.WATER, Kind.OFF_MAP):
        x, y, far = x - np.sin(aim), y - np.cos(aim), far - 1.0
        if far < 0:
            return start
    back = x - 2 * np.sin(aim), y - 2 * np.cos(aim)
    i, j = cell_of(s.ground, *back)
    x, y = back if i >= 0 and s.mesh.of_cell[i, j] >= 0 else (x, y)
    west, south, east, north = s.surface.bounds
    rim = 0.5 * s.surface.cell  # the terrain has levels between the centres of its cells
    return float(np.clip(x, west + rim, east - rim)), float(np.clip(y, south + rim, north - rim))
