"""A changed hole solved from the solution before the change is solved as well as from nothing."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision.club_set import putter_of
from gistools.compute.decision.state_space import state_space_for, unchanged_states
from gistools.compute.decision.value_iteration import solve_on
from gistools.compute.terrain.surface import Surface

from .cases import PINS, book, field, paint

NAMES = ["one", "two"]


def space(surface, kinds):
    return state_space_for(surface, turf_grid(surface, kinds), kinds == Kind.GREEN, keep=False)


def solved(ground, before=None):
    return solve_on(ground, book(), NAMES, PINS, putter=putter_of(built_in("scratch man")), before=before)


def bunker(surface, kinds):
    return surface, paint(surface, kinds, (-14.0, 128.0, 14.0, 136.0), Kind.SAND)


def pond_where_it_is_played_to(surface, kinds):
    """All ground short of the green is water: shots of before that stop there are lost."""
    return surface, paint(surface, kinds, (-60.0, 60.0, 60.0, 134.0), Kind.WATER)


def mound(surface, kinds):
    x, y = surface.centres()
    share = np.maximum(1 - np.hypot(x[None, :] - 12.0, y[:, None] - 120.0) / 14.0, 0.0)
    return Surface(surface.z + 4.0 * share, surface.x_west, surface.y_north, surface.cell), kinds


@pytest.fixture(scope="module")
def unchanged():
    return solved(space(*field()))


@pytest.mark.parametrize("change", [bunker, pond_where_it_is_played_to, mound], ids=lambda f: f.__name__)
def test_a_warm_start_ends_where_solving_from_nothing_ends(unchanged, change):
    """Limits: 0.01 in the mean, 0.1 at 99 of 100 places, 0.02 on the tee."""
    ground = space(*change(*field()))
    cold, warm = solved(ground), solved(ground, unchanged)
    off = warm.value - cold.value
    assert abs(off.mean()) < 0.01 and np.quantile(np.abs(off), 0.99) < 0.1
    for pin in NAMES:
        assert warm.at(0.0, -10.0, pin) == pytest.approx(cold.at(0.0, -10.0, pin), abs=0.02)
    # and the change mattered: the solution of before is another
    old, changed = unchanged_states(unchanged.space, ground)
    assert np.abs(unchanged.value[old[~changed]] - cold.value[~changed]).max() > 0.1


def test_ground_that_is_the_same_has_no_changed_state(unchanged):
    """The answer is that of before, but for one more pass on all samples."""
    ground = space(*field())
    old, changed = unchanged_states(unchanged.space, ground)
    assert not changed.any() and np.array_equal(old, np.arange(len(old)))
    again = solved(ground, unchanged)
    off = np.abs(again.value - unchanged.value)
    assert off.mean() < 0.001 and np.quantile(off, 0.999) < 0.01
    putts = ground.mesh.putts
    assert np.array_equal(again.value[putts], unchanged.value[putts])


def test_changed_states_are_where_the_ground_is_changed(unchanged):
    surface, kinds = bunker(*field())
    ground = space(surface, kinds)
    old, changed = unchanged_states(unchanged.space, ground)
    sand = np.unique(ground.mesh.of_cell[kinds == Kind.SAND])
    assert changed[sand].all() and (old[~changed] >= 0).all()
    beyond = np.hypot(ground.mesh.place[:, 0], ground.mesh.place[:, 1] - 132.0) > 40.0
    assert not changed[beyond].any()


def test_a_window_that_lies_elsewhere_is_matched_by_place(unchanged):
    """The same ground in a window 9 m longer: states are matched, not numbers."""
    surface, kinds = field(length=249.0)
    ground = space(surface, kinds)
    old, changed = unchanged_states(unchanged.space, ground)
    off = unchanged.space.mesh.place[old[~changed], :2] - ground.mesh.place[~changed, :2]
    assert np.abs(off).max() < 3.0 and changed.mean() < 0.2
