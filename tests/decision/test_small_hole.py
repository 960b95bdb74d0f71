"""A small hole solved against value iteration in NumPy and against shots played one by one.

60 x 120 m with 6 m cells, a burn across it, a bunker, rough at the sides and out of bounds on the left.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision import outcome_kernels as kernels
from gistools.compute.decision.outcome_kernels import Action, Sampling
from gistools.compute.decision.value_function import REPORTED
from gistools.compute.decision.value_iteration import UPPER_STROKES, ValueFunction
from gistools.compute.decision.value_iteration_kernels import action_value

from .cases import field, paint, play
from .plain import play_out

PIN = (0.0, 80.0)
PLAYER = "scratch man"


@functools.cache
def small_hole() -> ValueFunction:
    surface, kinds = field(width=60.0, length=120.0, cell=2.0, green=8.0, pin=PIN)
    kinds = paint(surface, kinds, (-30, -20, -24, 100), Kind.OUT)
    kinds = paint(surface, kinds, (16, -20, 30, 100), Kind.ROUGH)
    kinds = paint(surface, kinds, (-24, 44, 30, 50), Kind.WATER)
    kinds = paint(surface, kinds, (8, 72, 14, 84), Kind.SAND)
    return play(surface, kinds, pins=[PIN], player=PLAYER, cell_m=6.0)


def transitions(s: ValueFunction, state: int, samples: int = 256):
    """Next states, penalties and replays of many shots from a state: arrays ``(actions, samples)``."""
    x, y = (float(v) for v in s.mesh.place[state, :2])
    carry = s.tables(int(s.mesh.lie[state])).carry_m
    left = float(np.hypot(*(s.pin_xy[0] - (x, y))))
    at_pin = int(np.rint(np.arctan2(PIN[0] - x, PIN[1] - y) * 240 / (2 * np.pi)))
    shots = [k for k in np.flatnonzero(carry < 1e6) if 0.25 * left - 4.0 < carry[k] < left + 8.0]
    lie = int(s.mesh.lie[state])
    out = [
        s.outcomes(x, y, k, at_pin + off, lie=lie, samples=samples, direct_below_m=0.0)
        for k in shots[:: max(1, len(shots) // 45)]
        for off in range(-12, 13, 2)
    ]
    return [np.stack([o[name] for o in out]) for name in ("state", "penalty", "replayed")]


def numpy_values(s: ValueFunction) -> np.ndarray:
    """Value iteration written out again.

    ``V = min over actions of (1 + mean of penalty + V') / (1 - replays)``.
    """
    value = np.full(len(s.mesh.lie), UPPER_STROKES)
    value[s.mesh.putts] = s.value[s.mesh.putts, 0]
    searched = np.flatnonzero(~s.mesh.putts)
    table = [transitions(s, k) for k in searched]
    for _ in range(100):
        before = value.copy()
        for k, (state, penalty, replayed) in zip(searched, table, strict=True):
            again = replayed.mean(axis=1)
            gain = np.where(replayed == 1, np.where(state < 0, 1.0, 0.0), value[state] + penalty).mean(axis=1)
            q = np.where(again < 0.9, (1.0 + gain) / np.maximum(1.0 - again, 0.1), UPPER_STROKES)
            value[k] = min(value[k], float(q.min()), s.rolled[k, 0])
        if np.abs(value - before).max() < 1e-4:
            break
    return value


@functools.cache
def differences() -> np.ndarray:
    """Values less those of the second computation, at every state that is played from."""
    s = small_hole()
    playable = ~s.mesh.putts & (s.value[:, 0] < 12.0)
    assert playable.sum() > 0.95 * (~s.mesh.putts).sum()
    return s.value[playable, 0] - numpy_values(s)[playable]


def test_values_are_those_of_value_iteration_in_numpy():
    """Actions of the second computation are fewer and their best is not checked on other samples.

    A few hundredths.
    """
    off = differences()
    assert abs(off.mean()) < 0.03 and np.quantile(np.abs(off), 0.98) < 0.15, (
        off.mean(),
        off.min(),
        off.max(),
    )


def test_no_state_keeps_an_action_that_is_far_worse():
    """At most 0.25 at every state."""
    assert differences().max() < 0.25


@pytest.mark.parametrize("place", [(1.0, -9.0), (7.0, 31.0), (21.0, 25.0)])
def test_values_are_those_of_shots_played_one_by_one(place):
    s = small_hole()
    shot, heading = s.best(*place, 0)
    mean, error = play_out(s, built_in(PLAYER), place, shot, heading, 0, plays=3000, seed=3)
    value = float(s.action_value(s.outcomes(*place, shot, heading))[0])
    assert value == pytest.approx(mean, abs=0.05 + 2.5 * error)


def value_in_the_solver(s: ValueFunction, place: tuple[float, float], shot: int, heading: int) -> float:
    """Action value as the solver computes it, every run simulated directly."""
    q, buffer = np.empty(1), kernels.make_sample_buffer()
    tables, start = s.tables(int(s.mesh.lie[s.state(*place)])), s.place(*place)
    sampling = Sampling(REPORTED, np.inf, 0.0)
    action_value(s.ground, tables, start, Action(shot, heading), sampling, s.value, buffer, q)
    return float(q[0])


def test_a_lost_ball_costs_strokes_and_the_burn_a_penalty():
    """Out of bounds is stroke and distance.

    ``V = (1 + mean of what follows + share lost) / (1 - share lost)``; a ball in the burn costs one stroke
    and is dropped before it.
    """
    s = small_hole()
    pitches = [k for k, shot in enumerate(s.shot_table.shots) if shot.swing == "pitch"]
    shot = min(pitches, key=lambda k: abs(s.shot_table.shots[k].carry_m - 17.0))
    for heading in range(200, 240):
        out = s.outcomes(-20.0, 20.0, shot, heading)
        lost = out["state"] < 0
        if 0.2 < (share := lost.mean()) < 0.55:
            break
    assert 0.2 < share < 0.55 and np.isin(out["kind"][lost], (Kind.OUT, Kind.OFF_MAP)).all()
    after = (s.value[out["state"][~lost], 0] + out["penalty"][~lost]).sum() / len(out)
    by_hand = (1.0 + after + share) / (1.0 - share)
    assert s.action_value(out)[0] == pytest.approx(by_hand)
    assert value_in_the_solver(s, (-20.0, 20.0), shot, heading) == pytest.approx(by_hand)
    into = s.outcomes(1.0, 29.0, shot, 0)
    wet = into["kind"] == Kind.WATER
    assert wet.mean() > 0.5 and (into["penalty"][wet] == 1).all() and (into["penalty"][~wet] == 0).all()
    assert (s.mesh.place[into["state"][wet], 1] < 44.0).all()
    by_hand = 1.0 + (s.value[into["state"], 0] + wet).mean()
    assert value_in_the_solver(s, (1.0, 29.0), shot, 0) == pytest.approx(by_hand)


@pytest.mark.parametrize("heading_deg", [0.0, 30.0, 320.0])
def test_drop_is_two_club_lengths_behind_the_water(heading_deg):
    """Back along the shot by cells to dry ground, then ``DROP_M`` more."""
    s = small_hole()
    east, north = np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))
    for x, y in ((0.0, 45.0), (3.0, 47.5), (-9.0, 49.5)):
        dropped = kernels.relief(s.ground, x, y, east, north, 60.0)
        while s.ground.kind[kernels.cell_of(s.ground, x, y)] == Kind.WATER:
            x, y = x - s.ground.cell * east, y - s.ground.cell * north
        x, y = x - kernels.DROP_M * east, y - kernels.DROP_M * north
        assert dropped == s.mesh.of_cell[kernels.cell_of(s.ground, x, y)]
