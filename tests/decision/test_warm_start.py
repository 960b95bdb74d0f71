"""A changed hole solved from the solution before the change is solved as well as from nothing."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.outcome_tables import with_runs
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


def test_values_out_of_play_stay_and_those_in_play_are_computed(unchanged):
    """Half of the states marked: the others keep the value of before, those marked that of a whole solve."""
    ground = space(*bunker(*field()))
    in_play = unchanged.mesh.putts | (unchanged.mesh.place[:, 0] > -3.0)
    part = solve_on(ground, book(), NAMES, PINS, putter=unchanged.putter, before=unchanged, in_play=in_play)
    whole = solved(ground, unchanged)
    old, changed = unchanged_states(unchanged.space, ground)
    new = (old < 0) | in_play[old]
    new[ground.mesh.representative[new]] = True
    stays = ~new & ~changed & ~ground.mesh.putts
    assert stays.sum() > 100
    assert np.array_equal(part.value[stays], unchanged.value[old[stays]])
    right = ground.mesh.place[:, 0] > 6.0
    off = np.abs(part.value - whole.value)[right & ~ground.mesh.putts]
    assert off.mean() < 0.01 and np.quantile(off, 0.99) < 0.1


def test_states_in_play_hold_every_finish_of_the_tee_shots(unchanged):
    """Marked: where the best tee shots at a zone finish, and what is played from there, with those beside."""
    from types import SimpleNamespace

    from gistools.compute.decision.hole_ground import cells_in
    from gistools.compute.decision.states_in_play import states_in_play

    s = unchanged
    zone = shapely.box(-15.0, 60.0, 15.0, 110.0)
    ground = SimpleNamespace(inside=lambda area: cells_in(s.surface, area), surface=s.surface, names=())
    marked = states_in_play(s, ground, (0.0, -10.0), [zone])
    assert 0.02 < marked[~s.mesh.putts].mean() < 0.9
    assert marked[s.state(0.0, 85.0)]
    for state in np.flatnonzero(marked & ~s.mesh.putts)[::40]:
        x, y = s.mesh.place[state, :2]
        if s.shot[state, 0, 0] >= 0 and zone.contains(shapely.Point(x, y).buffer(12)):
            out = s.outcomes(
                x, y, *(int(v[state, 0, 0]) for v in (s.shot, s.heading)), samples=64, direct_below_m=0.0
            )
            assert marked[out["state"][out["state"] >= 0]].mean() > 0.95


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


@pytest.mark.parametrize("change", ["green speed", "putter", "shots", "hole location"])
def test_other_changes_than_ground_reuse_nothing(unchanged, change):
    """The answer is that of solving from nothing, to the last bit."""
    surface, kinds = field()
    stimp = 13.0 if change == "green speed" else 10.0
    land = turf_grid(surface, kinds, stimp_ft=stimp)
    ground = state_space_for(surface, land, kinds == Kind.GREEN, keep=False)
    putter = putter_of(built_in("bogey man" if change == "putter" else "scratch man"))
    shots = shot_table_of(built_in("bogey man"), CALM) if change == "shots" else book()
    pins = ((1.0, 151.0), PINS[1]) if change == "hole location" else PINS
    cold = solve_on(ground, shots, NAMES, pins, putter=putter)
    warm = solve_on(ground, shots, NAMES, pins, putter=putter, before=unchanged)
    assert np.array_equal(cold.value, warm.value)
    assert np.abs(cold.value - unchanged.value).max() > 0.05


@pytest.mark.parametrize("wind", [CALM, Wind("cross", 6.0, 250.0)], ids=lambda w: w.name)
@pytest.mark.parametrize("heading", [0, 37, 171])
def test_many_samples_are_of_the_same_shot(unchanged, wind, heading):
    """Means and deviations of where it finishes agree with those of the 256 samples that are reported."""
    shots = book("scratch man", wind)
    s = dataclasses.replace(
        unchanged,
        shot_table=shots,
        dispersion=with_runs(unchanged.space.land, shots, unchanged.space.outcomes),
    )
    carry = s.tables(0).carry_m
    shot = int(np.argmin(np.abs(carry - 60.0)))
    few = s.outcomes(0.0, 90.0, shot, heading, lie=0)
    many = s.many_outcomes(0.0, 90.0, shot, heading, lie=0)
    assert len(many) == 8 * len(few)
    for axis in ("land_x", "land_y"):
        spread = float(np.std(few[axis]))
        assert np.mean(many[axis]) == pytest.approx(np.mean(few[axis]), abs=0.1 * spread + 0.1)
        assert np.std(many[axis]) == pytest.approx(spread, rel=0.1)


@pytest.mark.parametrize("change", [bunker, pond_where_it_is_played_to, mound], ids=lambda f: f.__name__)
def test_outcomes_taken_over_are_those_computed_anew(unchanged, change):
    """Entry by entry, of all that both tables hold; a tenth of them at least is not near the change."""
    surface, kinds = change(*field())
    anew = space(surface, kinds)
    taken = state_space_for(
        surface, turf_grid(surface, kinds), kinds == Kind.GREEN, keep=False, before=unchanged.space
    )
    assert taken.base.earlier.outcome.shape[0] and not taken.outcomes.filled()
    far = float(((taken.base.earlier.cell >= 0) & (taken.base.earlier.clear_m > 20.0)).mean())
    assert far > 0.1
    for ground in (anew, taken):
        solved(ground, unchanged)
    order = [taken.outcomes.class_of[landing] for landing in anew.outcomes.class_of]
    first, second = anew.outcomes.entries[: len(order)], taken.outcomes.entries[order]
    both = (first != 0) & (second != 0)
    assert both.sum() > 10_000
    assert (first != second)[both].mean() < 1e-4


def test_nothing_is_taken_over_from_other_turf_or_another_grid(unchanged):
    surface, kinds = field()
    fast = state_space_for(
        surface,
        turf_grid(surface, kinds, stimp_ft=13.0),
        kinds == Kind.GREEN,
        keep=False,
        before=unchanged.space,
    )
    half = Surface(surface.z, surface.x_west + 0.5 * surface.cell, surface.y_north, surface.cell)
    moved = state_space_for(
        half, turf_grid(half, kinds), kinds == Kind.GREEN, keep=False, before=unchanged.space
    )
    for other in (fast, moved):
        assert other.base.earlier.outcome.shape[0] == 0 and not other.outcomes.class_of
