"""Strokes remaining.

The least mean number of strokes to hole out from everywhere on a hole, by value iteration.

A state is a place with one lie (:mod:`gistools.compute.decision.state_space`), an action a shot and a
heading. The equation is that of a stochastic shortest path (Bertsekas & Tsitsiklis 1991, Mathematics of
Operations Research 16(3) 580-595 [from memory]; golf as such: Stauffer & Guillot 2023, arXiv 2309.00485
[published, abstract]):

``V(s) = min over actions a of Q(s, a)``, ``Q(s, a) = 1 + mean over outcomes of [penalty + V(s')]``, ``V`` on
the green = expected putts on its own surface (:mod:`gistools.compute.decision.putting`); off it the putter is
one more action where its way is smooth (:mod:`gistools.compute.decision.off_green`).

- Water: one stroke, the ball dropped on the line of the shot behind the water, two club-lengths back; where
  that leads back to the start, played again from there (a stated simple model of relief).
- Out of bounds, or off the map: stroke and distance.
- Trees and structures: a ball that meets one in flight drops there (as in the step `tee_shots`).

Algorithm. All hole locations are computed at once, since outcomes do not depend on them; the answer for one
does not depend on the others.

1. Start from an upper bound of 30 strokes everywhere, so that values only fall (monotone value iteration,
   Puterman 1994, Markov Decision Processes, section 6.3 [from memory]).
2. Order the states in rings outward from the green; each ring uses the values computed so far, so that one
   pass nearly settles (Gauss-Seidel value iteration in the order of a label-setting method; Bertsekas,
   Dynamic Programming and Optimal Control, volume 2 [from memory]).
3. Greedy improvement: search all useful actions of one representative state of each square, coarse first,
  then fine.
4. Warm start: the other states of the square start from the best actions of their representative, with a
  local search.
5. Modified policy iteration (Puterman & Shin 1978, Management Science 24(11) 1127-1137 [from memory]):
   evaluate the best action of each state again until no value changes by more than 1e-3.
6. Search in full once more where a state costs far more than the best of its square. Then search locally
  beside the best actions of each state, and of a state beside it that costs much less, with the values as
  they are by then; repeat 5.
7. Choose among the best two actions on a larger set of samples, and evaluate the choice on a set that had
   no part in choosing, so that a lucky action wins nothing. Runs of short shots are simulated directly at
   last, without the table.

Threads share a ring and write only their own states, so results repeat exactly.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.progress import tick
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.green_values import PUTT_ROOM_M, green_values
from gistools.compute.decision.off_green import putts_off_green
from gistools.compute.decision.outcome_kernels import Sampling
from gistools.compute.decision.outcome_tables import store, with_runs
from gistools.compute.decision.putting import SCRATCH, Putter
from gistools.compute.decision.shot_table import LIES, ShotTable
from gistools.compute.decision.state_space import (
    Mesh,
    StateSpace,
    played_past,
    state_space_for,
    unchanged_states,
)
from gistools.compute.decision.value_function import (
    CHOICE,
    COARSE,
    DIRECT_BELOW_M,
    FINE,
    REPORTED,
    UPPER_STROKES,
    ValueFunction,
    Values,
    bearing_of,
    heading_of,
    middle_of_green,
)
from gistools.compute.decision.value_iteration_kernels import TOP_K, Iterate, Problem
from gistools.compute.terrain.surface import Surface

__all__ = [
    "DIRECT_BELOW_M",
    "FINE",
    "REPORTED",
    "UPPER_STROKES",
    "ValueFunction",
    "bearing_of",
    "heading_of",
    "middle_of_green",
    "solve",
    "solve_on",
]

# assumptions (assumptions)
SETTLED_STROKES = 1e-3  # values that change by less are settled
STUCK_STROKES = 1.0  # states that cost so much more than the best of their square are searched again
PLAYED_OUT = [
    LIES.index(lie) for lie in ("sand", "recovery")
]  # and all of these lies: the way out may lead back
BESIDE_STROKES, BESIDE_M = 0.1, (3.0, 9.0)  # states that cost so much more than one so far off try its shots
RING = 100  # representative states of a ring
MOST_PASSES = 12
# a warm start: states that become so much dearer are searched in full again, others that move beside the best
DEARER_STROKES, MOVED_STROKES = 0.1, 0.05
# and so are those of a square the first state of which gains so much, with changed ground close to its way
BETTER_STROKES = 0.03
STORED_AGAIN = 1.1  # outcome tables are stored again when they hold so many times more
PIECES = 2  # pieces of work for each thread


def solve(
    surface: Surface,
    land: TurfGrid,
    target: NDArray[np.bool_],
    shots: ShotTable,
    pins: Sequence[str],
    pin_xy: ArrayLike,
    *,
    obstacles: Obstacles = NO_OBSTACLES,
    cell_m: float = 3.0,
    keep: bool = True,
    **choices: Any,
) -> ValueFunction:
    """Solve a hole for one player and wind and all its pins.

    Parameters
    ----------
    surface, land
        Terrain; the same with kinds of ground and turf.
    target
        Cells of the green that is played to.
    shots
        The player's shots in the wind.
    pins, pin_xy
        Names and places ``(n, 2)`` of the hole locations.
    obstacles
        Trees and structures.
    cell_m
        Side of a cell of the mesh [m].
    keep
        Use and update the outcome tables in the user's cache folder.
    choices
        As for :func:`solve_on`.
    """
    space = state_space_for(surface, land, target, obstacles=obstacles, cell_m=cell_m, keep=keep)
    return solve_on(space, shots, pins, pin_xy, **choices)


def solve_on(
    space: StateSpace,
    shots: ShotTable,
    pins: Sequence[str],
    pin_xy: ArrayLike,
    *,
    putter: Putter = SCRATCH,
    threads: int | None = None,
    dispersion_scale: Callable[[Values], Values] | None = None,
    before: ValueFunction | None = None,
    in_play: NDArray[np.bool_] | None = None,
) -> ValueFunction:
    """Solve a hole on its state space.

    Parameters
    ----------
    space
        State space of the hole.
    shots, pins, pin_xy
        As for :func:`solve`.
    putter
        Putting errors.
    threads
        Number of threads; by default the processors there are.
    dispersion_scale
        Relative increase of direction errors from places ``(n, 3)`` to each pin: ``(n, pins)``. Shots are
        searched without it, and chosen among the best and evaluated with it.
    before
        The solution of the hole as it was before a change of its ground. The search then starts from its
        shots and looks anew only where the change matters (*warm start*): some 2.7 times faster. It is passed
        over where the shots, the hole locations, the putter or the turf were others.
    in_play
        States of ``before`` that matter alone (:mod:`gistools.compute.decision.states_in_play`): values of
        others stay as they were before the change.
    """
    xy = np.ascontiguousarray(pin_xy, float).reshape(-1, 2)
    if len(xy) == 0 or len(xy) != len(pins) or not np.isfinite(xy).all():
        raise InputError("strokes remaining need at least one hole location, each with a name and a place")
    mesh = space.mesh
    value = np.full((len(mesh.lie), len(xy)), UPPER_STROKES)
    rolled = np.full_like(value, np.inf)
    shot = np.full((len(mesh.lie), len(xy), TOP_K), -1, np.int64)
    heading, changed, needed = np.zeros_like(shot), None, ~mesh.putts
    if before is not None and _comparable(before, space, shots, pins, xy, putter):
        old, changed = unchanged_states(before.space, space)
        match = ~changed
        shot[match], heading[match] = before.shot[old[match]], before.heading[old[match]]
        value[match], rolled[match] = before.value[old[match]], before.rolled[old[match]]
        _putter(shot, heading, shot[..., 0] < 0, first=False)
        if in_play is not None:
            needed = needed & ((old < 0) | in_play[old])
            needed[mesh.representative[needed]] = True
    if changed is None or changed[_putted_over(mesh)].any():
        solved, value[mesh.putts] = green_values(space, xy, putter, threads)
        rolled = putts_off_green(space, solved, threads)
    s = ValueFunction(
        space,
        shots,
        with_runs(space.land, shots, space.outcomes),
        tuple(pins),
        xy,
        value,
        shot,
        heading,
        putter,
        rolled,
        dispersion_scale,
    )
    scale = np.zeros_like(value) if dispersion_scale is None else dispersion_scale(mesh.place)
    threads = threads or os.cpu_count() or 1
    with ThreadPoolExecutor(threads) as pool:
        sweeps = _Sweeps(s, np.ascontiguousarray(scale, float), pool, threads)
        if changed is None:
            _from_nothing(sweeps)
        else:
            _from_before(sweeps, changed, needed)
    np.minimum(value, rolled, out=value)
    _putter(shot, heading, rolled <= value, first=True)
    if space.keep and (filled := space.outcomes.filled()) > STORED_AGAIN * space.stored_entries:
        store(space.outcomes)
        space.stored_entries = filled
    return replace(s, passes=tuple(sweeps.changes))


#: states of a ring, by lie
Ring = list[tuple[int, NDArray[np.int64]]]


def _putter(
    shot: NDArray[np.int64], heading: NDArray[np.int64], marked: NDArray[np.bool_], *, first: bool
) -> None:
    """Put the putter before the actions of marked states and pins, or take it away again."""
    for actions, none in ((shot, -1), (heading, 0)):
        actions[marked] = np.roll(actions[marked], 1 if first else -1, axis=-1)
        actions[marked, 0 if first else -1] = none


def _comparable(
    before: ValueFunction,
    space: StateSpace,
    shots: ShotTable,
    pins: Sequence[str],
    pin_xy: Values,
    putter: Putter,
) -> bool:
    """Tell whether a solution differs from what is to be solved by the ground alone."""
    same_play = before.shot_table is shots and before.putter == putter
    same_pins = before.pins == tuple(pins) and np.array_equal(before.pin_xy, pin_xy)
    return same_play and same_pins and np.array_equal(before.space.land.turf, space.land.turf)


def _putted_over(mesh: Mesh) -> NDArray[np.bool_]:
    """Mark the states that a putt may run over."""
    away = np.hypot(*(mesh.place[:, :2] - middle_of_green(mesh)).T)
    marked: NDArray[np.bool_] = away <= away[mesh.putts].max() + PUTT_ROOM_M
    return marked


def _rings(mesh: Mesh) -> tuple[list[Ring], list[Ring]]:
    """States by ring outward, each ring by lie: representatives, and the states that start from them."""
    searched: list[Ring] = []
    followers: list[Ring] = []
    alone = mesh.representative[mesh.order] == mesh.order
    first, rest = mesh.order[alone], mesh.order[~alone]
    number = np.empty(len(mesh.lie), np.int64)
    number[first] = np.arange(len(first)) // RING
    for n in range(-(-len(first) // RING)):
        searched.append(_by_lie(mesh, first[n * RING : (n + 1) * RING]))
        followers.append(_by_lie(mesh, rest[number[mesh.representative[rest]] == n]))
    return searched, followers


def _by_lie(mesh: Mesh, states: NDArray[np.int64]) -> Ring:
    parts = [(lie, states[mesh.lie[states] == lie]) for lie in range(len(LIES))]
    return [part for part in parts if len(part[1])]


def better_beside(s: ValueFunction) -> NDArray[np.int64]:
    """Return for each state and pin the best of the states beside it, where that is much better; else itself.

    Where a rise stops long clubs, a square may share the shots of a state close under it.
    """
    mesh, base = s.mesh, s.space.base
    states = np.arange(len(mesh.lie))
    best, value = np.repeat(states[:, None], len(s.pins), axis=1), s.value - BESIDE_STROKES
    ways = [(east, north) for east in (-1, 0, 1) for north in (-1, 0, 1) if east or north]
    for (east, north), far in itertools.product(ways, BESIDE_M):
        x, y = mesh.place[:, 0] + east * far, mesh.place[:, 1] + north * far
        i = np.floor((base.y_north - y) / base.cell).astype(int).clip(0, base.kind.shape[0] - 1)
        j = np.floor((x - base.x_west) / base.cell).astype(int).clip(0, base.kind.shape[1] - 1)
        other = mesh.of_cell[i, j].astype(np.int64)
        alike = (other >= 0) & (mesh.lie[other] == mesh.lie) & ~mesh.putts[other]
        better = alike[:, None] & (s.value[other] < value)
        best = np.where(better, other[:, None], best)
        value = np.where(better, s.value[other], value)
    return best


class _Sweeps:
    """Sweeps over the states of a value function, shared between threads, which change it in place."""

    def __init__(
        self, s: ValueFunction, dispersion_scale: Values, pool: ThreadPoolExecutor, threads: int
    ) -> None:
        self.s, self.pool, self.threads = s, pool, threads
        self.searched, self.followers = _rings(s.mesh)
        self.rings = [a + b for a, b in zip(self.searched, self.followers, strict=True)]
        self.iterate = Iterate(s.value, s.value.copy(), s.shot, s.heading)
        ground = s.ground
        self.problems = [
            Problem(ground, tables, s.mesh.place, s.pin_xy, middle_of_green(s.mesh), dispersion_scale)
            for tables in s.dispersion
        ]
        self.changes: list[float] = []

    def sweep(self, ring: Ring, work: Any, *arguments: Any) -> Values:
        """Share the states of a ring between the threads.

        Return the greatest change of a value for each pin.
        """
        s, iterate = self.s, self.iterate
        jobs = []
        for lie, states in ring:
            for part in np.array_split(states, min(PIECES * self.threads, len(states))):
                jobs.append(self.pool.submit(work, self.problems[lie], iterate, part, *arguments))
        for job in jobs:
            job.result()
        most = np.zeros(len(s.pins))
        for _, states in ring:
            iterate.new_value[states] = np.minimum(iterate.new_value[states], s.rolled[states])
            change = np.abs(iterate.new_value[states] - s.value[states])
            most = np.maximum(most, change.max(axis=0))
            s.value[states] = iterate.new_value[states]
        return most

    def greedy(self, ring: Ring) -> None:
        """Look for the best actions of the states of a ring that have none."""
        self.sweep(ring, _kernels.greedy_improvement, COARSE, FINE)

    def evaluate(
        self,
        samples: int,
        n_candidates: int,
        active: NDArray[np.bool_],
        *,
        rings: list[Ring] | None = None,
        monotone: bool = False,
        direct_below_m: float = 0.0,
    ) -> Values:
        """Evaluate the best actions again, ring by ring outward; return the greatest change for each pin."""
        arguments = Sampling(samples, direct_below_m, 0.0), n_candidates, monotone, active
        rings = self.rings if rings is None else rings
        passes = [self.sweep(ring, _kernels.policy_evaluation_sweep, *arguments) for ring in rings]
        return np.asarray(np.max([np.zeros(len(self.s.pins)), *passes], axis=0))

    def settle(self) -> None:
        """Evaluate until no value changes; each pin by itself, so that none depends on the others."""
        active = np.ones(len(self.s.pins), bool)
        for _ in range(MOST_PASSES):
            change = self.evaluate(FINE, 1, active, monotone=True)
            self.changes.append(float(change.max()))
            active &= change >= SETTLED_STROKES
            if not active.any():
                break

    def search_stuck(self) -> None:
        """Search in full where a state costs far more than the best of its square, each pin by itself.

        Under a face the way out is aside or back, to ground that had no value yet when it was searched.
        """
        s = self.s
        best = np.full_like(s.value, np.inf)
        np.minimum.at(best, s.mesh.representative, s.value)
        stuck = (s.value - best[s.mesh.representative] > STUCK_STROKES) & ~s.mesh.putts[:, None]
        stuck |= np.isin(s.mesh.lie, PLAYED_OUT)[:, None]
        s.shot[stuck] = -1
        self.greedy(_by_lie(s.mesh, np.flatnonzero(stuck.any(axis=1))))

    def search_beside(self, rings: list[Ring]) -> None:
        """Search beside the best actions of the states of some rings, and of a much better state beside."""
        beside = better_beside(self.s)
        before = self.iterate._replace(shot=self.s.shot.copy(), heading=self.s.heading.copy())
        for ring in rings:
            self.sweep(ring, _kernels.warm_start, beside, before, FINE)

    def look_for_shots(self, states: NDArray[np.bool_] | None = None) -> None:
        """Search one state of each square in full, and beside its best actions for the others, ring by ring.

        Of all states, or of those marked.
        """
        s = self.s
        representative = np.repeat(s.mesh.representative[:, None], len(s.pins), axis=1)
        searched, followers = self.searched, self.followers
        if states is not None:
            searched, followers = self.of(searched, states), self.of(followers, states)
        for number, (ring, rest) in enumerate(zip(searched, followers, strict=True)):
            self.greedy(ring)
            self.sweep(rest, _kernels.warm_start, representative, self.iterate, FINE)
            without = [(lie, states[(s.shot[states, :, 0] < 0).any(axis=1)]) for lie, states in rest]
            self.greedy([part for part in without if len(part[1])])
            tick(0.6 * number / len(self.searched), "looking for shots")

    def of(self, rings: list[Ring], states: NDArray[np.bool_]) -> list[Ring]:
        """Return the marked states of some rings."""
        parts = [[(lie, row[states[row]]) for lie, row in ring] for ring in rings]
        return [[part for part in ring if len(part[1])] for ring in parts]


def _from_nothing(sweeps: _Sweeps) -> None:
    """Run steps 2 to 7 of the algorithm."""
    sweeps.look_for_shots()
    tick(0.6, "settling")
    sweeps.settle()
    sweeps.search_stuck()
    sweeps.search_beside(sweeps.rings)  # values that a search used have fallen since
    tick(0.8, "settling")
    sweeps.settle()
    tick(0.85, "weighing on all samples")
    every = np.ones(len(sweeps.s.pins), bool)
    sweeps.evaluate(CHOICE, 2, every)
    sweeps.evaluate(REPORTED, 1, every, direct_below_m=DIRECT_BELOW_M)


def _from_before(sweeps: _Sweeps, changed: NDArray[np.bool_], needed: NDArray[np.bool_]) -> None:
    """Mend a solution of other ground: search where the ground is ``changed``, or where values moved.

    One pass outward tells by how much values move with the shots of before. Where a shot has become
    impossible, or much dearer, all shots are searched; where values moved, beside the best. Values of states
    that are not ``needed`` stay.
    """
    s, mesh = sweeps.s, sweeps.s.mesh
    every = np.ones(len(s.pins), bool)

    def search(states: NDArray[np.bool_]) -> None:
        """Search marked states in full, from the values so far."""
        s.shot[states] = -1
        sweeps.look_for_shots(states)

    search(changed & needed)
    rings = sweeps.of(sweeps.rings, needed)
    tick(0.3, "settling")
    before = s.value.copy()
    sweeps.iterate.new_value[needed] = UPPER_STROKES  # stays where no action is possible
    sweeps.evaluate(CHOICE, 1, every, rings=rings)
    change = s.value - before
    change -= np.median(change[needed], axis=0)  # what is common to all says nothing for another shot
    search(np.any(change > DEARER_STROKES, axis=1) & needed)
    tick(0.6, "looking beside")
    alone = mesh.representative == np.arange(len(mesh.lie))
    value = s.value.copy()
    sweeps.search_beside(sweeps.of(sweeps.searched, alone & needed & played_past(mesh, s.pin_xy, changed)))
    better = np.any(value - s.value > BETTER_STROKES, axis=1)[mesh.representative]
    moved = np.any(np.abs(change) > MOVED_STROKES, axis=1) | changed | better
    moved_rings = sweeps.of(sweeps.rings, moved & needed)
    sweeps.search_beside(moved_rings)
    tick(0.8, "weighing on all samples")
    sweeps.evaluate(CHOICE, 2, every, rings=moved_rings)
    sweeps.evaluate(REPORTED, 1, every, rings=rings, direct_below_m=DIRECT_BELOW_M)
