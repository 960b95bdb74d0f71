"""Out of a bunker with a steep face: the way may lead aside or back."""

from __future__ import annotations

import functools

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision.outcome_kernels import cell_of
from gistools.compute.decision.value_function import ValueFunction
from gistools.compute.terrain.surface import Surface

from .cases import field, paint, play
from .plain import play_out

PLAYER, PIN = "bogey man", (0.0, 100.0)
DEEP_M = 2.2


@functools.cache
def behind_a_face() -> ValueFunction:
    """Level ground with a pit of sand before the green, its northern wall upright, the other ramped."""
    level, kinds = field(width=70.0, length=150.0, pin=PIN, green=12.0)
    x, y = level.centres()
    inside = ((y > 62.0) & (y < 78.0))[:, None] & (np.abs(x) < 10.0)[None, :]
    ramp = np.clip((y - 62.0) / 10.0, 0.0, 1.0)[:, None]
    z = level.z - np.where(inside, DEEP_M * ramp, 0.0)
    surface = Surface(z, level.x_west, level.y_north, level.cell)
    return play(surface, paint(surface, kinds, (-10, 62, 10, 78), Kind.SAND), player=PLAYER, pins=[PIN])


def test_no_action_beats_the_one_kept_in_sand_by_much() -> None:
    """At most 0.03 in the mean of the last four metres before the face, and 0.1 at any (limits)."""
    s = behind_a_face()
    sand = np.flatnonzero((s.mesh.lie == 3) & (s.mesh.place[:, 1] > 74.0))
    sand = [k for k in sand if s.mesh.of_cell[cell_of(s.ground, *s.mesh.place[k, :2])] == k]
    values, _, _ = s.values_at(s.mesh.place[sand, :2])
    loss = s.value[sand, 0] - values[:, 0]
    assert len(loss) > 8 and loss.mean() < 0.03 and loss.max() < 0.1


def test_values_under_the_face_are_those_of_plain_play() -> None:
    s = behind_a_face()
    for place in ((0.5, 76.5), (-5.5, 75.5)):
        shot, heading = s.best(*place, 0)
        mean, error = play_out(s, built_in(PLAYER), place, shot, heading, 0, plays=4000, seed=4)
        strokes = float(s.action_value(s.outcomes(*place, shot, heading))[0])
        assert abs(strokes - mean) < 0.06 + 3 * error
