"""Plain shot-by-shot play without outcome tables: every shot flown, bounced and rolled on its own.

Follows the policy of a solved hole, with random errors instead of the samples the policy was found with.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gistools.kinds import Kind
from gistools.shots import _kernels as ball
from gistools.shots.flight import obstacles_for
from gistools.shots.players import Player, lie_rules
from gistools.strategy import _kernels
from gistools.strategy.book import LIES
from gistools.strategy.putting import mean_putts
from gistools.strategy.strokes import Strokes

NONE = obstacles_for(None)


def errors(
    player: Player, shot: Any, carries: Any, lie: str, n: int, rng: Any
) -> tuple[np.ndarray, np.ndarray]:
    club = player.club(shot.club)
    most = 1.0 if shot.swing == "part" else lie_rules(lie)["distance_factor"]
    spread = player.spread(club, lie, shot.carry_m * most)
    unit = rng.standard_t(5, (n, 2)) / np.sqrt(5 / 3)
    angle = np.radians(spread.direction_sd_deg) * unit[:, 0]
    factor = 1 + spread.distance_sd_pct / 100 * np.minimum(unit[:, 1], 2.5)
    assert spread.mishit_pct == 0 and spread.short_pct == 0
    return angle, club.scale(carries * most * np.maximum(factor, 0.02))


def play_out(
    s: Strokes,
    player: Player,
    start: tuple[float, float],
    shot: int,
    heading: int,
    pin: int,
    *,
    plays: int,
    seed: Any,
) -> tuple[float, float]:
    """Mean strokes and its standard error, first shot given, then by the policy of the nearest state."""
    rng = np.random.default_rng(seed)
    land = s.ground.land
    x, y = np.full(plays, float(start[0])), np.full(plays, float(start[1]))
    score = np.zeros(plays)
    going = np.arange(plays)
    first = True
    for _ in range(40):
        if not len(going):
            break
        state = np.array([s.state(a, b) for a, b in zip(x[going], y[going], strict=True)])
        putts = s.mesh.putts[state]
        on = going[putts]
        score[on] += mean_putts(np.hypot(x[on] - s.pin_xy[pin, 0], y[on] - s.pin_xy[pin, 1]), s.putter)
        going, state = going[~putts], state[~putts]
        lies = s.mesh.lie[state]
        clubs = np.full(len(going), shot) if first else s.shot[state, pin, 0]
        aims = np.full(len(going), float(heading)) if first else _aims(s, state, pin, x[going], y[going])
        carries = np.array([s.book.shots[int(c)].carry_m for c in clubs])
        if not first:
            carries = _as_far(s, state, clubs, carries, pin, x[going], y[going])
        for key in {(int(a), int(b)) for a, b in zip(lies, clubs, strict=True)}:
            group = np.flatnonzero((lies == key[0]) & (clubs == key[1]))
            _one(
                s,
                player,
                land,
                x,
                y,
                score,
                going[group],
                aims[group],
                carries[group],
                key,
                first,
                (start, shot, heading),
                rng,
            )
        first = False
    assert not len(going)
    return float(score.mean()), float(score.std() / np.sqrt(plays))


def _aims(s, state, pin, x, y):
    """The policy's aim, kept at its angle to the pin when the ball lies beside the middle of its state."""
    px, py = s.pin_xy[pin]
    here = np.arctan2(px - x, py - y)
    middle = np.arctan2(px - s.mesh.place[state, 0], py - s.mesh.place[state, 1])
    return s.heading[state, pin, 0] + (here - middle) * _kernels.HEADINGS / (2 * np.pi)


def _as_far(s, state, clubs, carries, pin, x, y):
    """Part shots are made as much longer as the pin is farther than from the middle of the state, as a player would."""
    part = np.array([s.book.shots[int(c)].swing == "part" for c in clubs], bool)
    px, py = s.pin_xy[pin]
    middle = np.hypot(px - s.mesh.place[state, 0], py - s.mesh.place[state, 1])
    return np.where(part, carries * np.clip(np.hypot(px - x, py - y) / middle, 0.7, 1.4), carries)


def _one(s, player, land, x, y, score, who, aims, carries, key, first, again, rng):
    lie, club = LIES[key[0]], s.book.shots[key[1]]
    angle, scale = errors(player, club, carries, lie, len(who), rng)
    z = np.array([s.surface.height(a, b) for a, b in zip(x[who], y[who], strict=True)])
    out = np.empty((len(who), ball.RECORD_SIZE))
    table = player.club(club.club).table()
    headings = aims * 2 * np.pi / _kernels.HEADINGS + angle
    ball.play_many(land, NONE, table, x[who], y[who], z, headings, scale, out)
    score[who] += 1
    kinds = out[:, 7].astype(int)
    for k, w in enumerate(who):
        if kinds[k] in (Kind.OUT, Kind.OFF_MAP):
            score[w] += 1  # played again from the same place
            continue
        a, b = out[k, 4], out[k, 5]
        if kinds[k] == Kind.WATER:
            score[w] += 1
            aim = aims[k] * 2 * np.pi / _kernels.HEADINGS
            while ball.kind_at(land, a, b) == Kind.WATER:
                a, b = a - np.sin(aim), b - np.cos(aim)
            a, b = a - 2 * np.sin(aim), b - 2 * np.cos(aim)
        x[w], y[w] = a, b
