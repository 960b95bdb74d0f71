"""Outcome tables in the cache: never stale, never in the way."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision import outcome_tables as tables
from gistools.compute.decision.club_set import putter_of
from gistools.compute.decision.value_iteration import solve

from .cases import book, field, paint

PIN = (0.0, 40.0)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "table_folder", lambda: tmp_path / "outcomes")
    return tmp_path / "outcomes"


def small():
    return field(width=40.0, length=80.0, green=7.0, pin=PIN)


def solved(surface, kinds, keep=True, player="scratch man", **turf):
    land = turf_grid(surface, kinds, **turf)
    return solve(
        surface,
        land,
        kinds == Kind.GREEN,
        book(player),
        ["a"],
        [PIN],
        putter=putter_of(built_in(player)),
        keep=keep,
    )


def key_of(surface, kinds, **turf):
    return tables.outcome_table_for(
        surface, turf_grid(surface, kinds, **turf), kinds == Kind.GREEN, keep=False
    )[0].key


@pytest.mark.slow
def test_a_second_solve_from_the_cache_is_the_same_exactly(folder):
    surface, kinds = small()
    without = solved(surface, kinds, keep=False)
    assert not folder.exists()
    first = solved(surface, kinds)
    assert len(list(folder.glob("*.npz"))) == 1
    inside = tables.outcome_table_for(surface, first.ground.land, kinds == Kind.GREEN)[0]
    assert np.count_nonzero(inside.entries) == np.count_nonzero(first.ground.outcome) > 0
    second = solved(surface, kinds)
    for s in (first, second):
        np.testing.assert_array_equal(s.value, without.value)
        np.testing.assert_array_equal(s.shot, without.shot)
        np.testing.assert_array_equal(s.heading, without.heading)


def test_what_a_run_depends_on_is_in_the_key():
    surface, kinds = small()
    keys = [key_of(surface, kinds), key_of(surface, kinds)]
    assert keys[0] == keys[1]
    keys.append(key_of(surface, paint(surface, kinds, (5, 10, 6, 11), Kind.SAND)))
    raised = surface.z.copy()
    raised[40, 20] += 0.05
    keys.append(key_of(type(surface)(raised, surface.x_west, surface.y_north, surface.cell), kinds))
    keys.append(key_of(surface, kinds, firmness="firm"))
    keys.append(key_of(surface, kinds, stimp_ft=12.0))
    keys.append(key_of(type(surface)(surface.z, surface.x_west + 0.5, surface.y_north, surface.cell), kinds))
    keys.append(
        tables.outcome_table_for(
            surface, turf_grid(surface, kinds), np.roll(kinds == Kind.GREEN, 9, 0), keep=False
        )[0].key
    )
    assert len(set(keys)) == len(keys) - 1


@pytest.mark.slow
def test_changed_ground_or_player_misses_the_cache(folder):
    """What is kept of one ground never answers for another.

    Another player uses the same file and is right all the same.
    """
    surface, kinds = small()
    solved(surface, kinds)
    changed = paint(surface, kinds, (-20, 24, 20, 30), Kind.WATER)
    stored, fresh = solved(surface, changed), solved(surface, changed, keep=False)
    np.testing.assert_array_equal(stored.value, fresh.value)
    assert len(list(folder.glob("*.npz"))) == 2
    assert stored.at(0, 0, 0) > solved(surface, kinds).at(0, 0, 0) + 0.01
    other = solved(surface, kinds, player="bogey man")
    np.testing.assert_array_equal(other.value, solved(surface, kinds, keep=False, player="bogey man").value)
    assert len(list(folder.glob("*.npz"))) == 2
    assert other.at(0, 0, 0) > solved(surface, kinds).at(0, 0, 0) + 0.05


def _cut(path):
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


def _noise(path):
    path.write_bytes(b"not a table at all")


def _empty(path):
    path.write_bytes(b"")


def _another(path):
    with path.open("wb") as out:
        np.savez(out, at=np.arange(3))


@pytest.mark.parametrize("damage", [_cut, _noise, _empty, _another])
def test_a_damaged_file_is_passed_over_and_written_anew(folder, damage):
    surface, kinds = small()
    land = turf_grid(surface, kinds)
    made = tables.outcome_table_for(surface, land, kinds == Kind.GREEN, keep=False)[0]
    made.classes_for(np.array([[13, 8, 2]]))
    made.entries[0, 3, 5] = 77
    path = tables.store(made)
    assert tables.outcome_table_for(surface, land, kinds == Kind.GREEN)[0].entries[0, 3, 5] == 77
    damage(path)
    result = tables.outcome_table_for(surface, land, kinds == Kind.GREEN)[0]
    assert result.entries.size == 0 and not result.class_of
    assert tables.store(made) == path
    assert tables.outcome_table_for(surface, land, kinds == Kind.GREEN)[0].entries[0, 3, 5] == 77


def test_a_folder_that_cannot_be_written_stops_nothing(folder):
    folder.parent.mkdir(exist_ok=True)
    folder.write_text("a file where the folder should be")
    surface, kinds = small()
    assert (
        tables.store(tables.outcome_table_for(surface, turf_grid(surface, kinds), kinds == Kind.GREEN)[0])
        is None
    )


def test_old_tables_go(folder):
    surface, kinds = small()
    made = tables.outcome_table_for(surface, turf_grid(surface, kinds), kinds == Kind.GREEN, keep=False)[0]
    for k in range(tables.MOST_STORED + 3):
        tables.store(tables.OutcomeTable(f"{k:032d}", made.class_of, made.entries))
    assert len(list(folder.glob("*.npz"))) == tables.MOST_STORED
    assert not list(folder.glob("*.part"))


@pytest.mark.slow
def test_releasing_memory_changes_no_outcome(folder):
    surface, kinds = small()
    s = solved(surface, kinds, keep=False)
    output = s.outcomes(0.0, 0.0, 20, 3, direct_below_m=0.0)
    entries, size = s.space.outcomes.filled(), s.space.outcomes.entries.nbytes
    s.space.release_memory()
    assert s.space.outcomes.entries.nbytes == 0 < size and s.space.base.outcome.nbytes == 0
    np.testing.assert_array_equal(s.outcomes(0.0, 0.0, 20, 3, direct_below_m=0.0), output)
    assert s.space.outcomes.filled() == entries
    s.space.release_memory()
    s.space.release_memory()
    assert s.space.outcomes.classes_for(np.array([[9, 9, 9]]))[0] == len(s.space.outcomes.class_of) - 1
    assert s.space.outcomes.filled() == entries
