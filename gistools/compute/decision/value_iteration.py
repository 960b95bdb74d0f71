"""Strokes remaining: the least mean number of strokes to hole out from everywhere on a hole, by value iteration.

A state is a place with one lie (:mod:`gistools.compute.decision.state_space`), an action a shot and a heading. The equation is
that of a stochastic shortest path (Bertsekas & Tsitsiklis 1991, Mathematics of Operations Research 16(3) 580-595 [from memory];
golf as such: Stauffer & Guillot 2023, arXiv 2309.00485 [published, abstract]):

``V(s) = min over actions a of Q(s, a)``, ``Q(s, a) = 1 + mean over outcomes of [penalty + V(s')]``, ``V`` on the green = mean putts.

- Water: one stroke, the ball dropped on the line of the shot behind the water, two club-lengths back; where that leads
  back to the start, played again from there (a stated simple model of relief).
- Out of bounds, or off the map: stroke and distance.
- Trees and structures: a ball that meets one in flight drops there (as in the step `tee_shots`).

Algorithm. All hole locations are computed at once, since outcomes do not depend on them; the answer for one does not depend on
the others.

1. Start from an upper bound of 30 strokes everywhere, so that values only fall (monotone value iteration, Puterman 1994, Markov
   Decision Processes, section 6.3 [from memory]).
2. Order the states in rings outward from the green; each ring uses the values computed so far, so that one pass nearly settles
   (Gauss-Seidel value iteration in the order of a label-setting method; Bertsekas, Dynamic Programming and Optimal Control,
   volume 2 [from memory]).
3. Greedy improvement: search all useful actions of one representative state of each square, coarse first, then fine.
4. Warm start: the other states of the square start from the best actions of their representative, with a local search.
5. Modified policy iteration (Puterman & Shin 1978, Management Science 24(11) 1127-1137 [from memory]): evaluate the best
   action of each state again until no value changes by more than 1e-3.
6. Search locally once more beside the best actions of each state, with the values as they are by then; repeat 5.
7. Choose among the best two actions on a larger set of samples, and evaluate the choice on a set that had no part in choosing, so
   that a lucky action wins nothing. Runs of short shots are simulated directly at last, without the table.

Shots that do not clear the ground close before a state are left out. Threads share a ring and write only their own states, so
results repeat exactly.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.progress import tick
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.outcome_kernels import (
    HEADINGS,
    OUTCOME,
    Action,
    DispersionTables,
    Ground,
    Place,
    Sampling,
    cell_of,
    obstacle_distances,
)
from gistools.compute.decision.outcome_kernels import outcomes as _outcomes
from gistools.compute.decision.outcome_tables import SLOPE_REACHES_M, store, with_runs
from gistools.compute.decision.putting import SCRATCH, Putter, mean_putts
from gistools.compute.decision.shot_table import LIES, SETS, ShotTable
from gistools.compute.decision.state_space import Mesh, StateSpace, state_space_for
from gistools.compute.decision.value_iteration_kernels import TOP_K, Iterate, Problem
from gistools.compute.terrain.surface import Surface

COARSE, FINE, CHOICE, REPORTED = SETS

# assumptions (engineering choices)
UPPER_STROKES = 30.0  # above any value, and where a hole is not finished from
SETTLED_STROKES = 1e-3  # values that change by less are settled
RING = 100  # representative states of a ring
MOST_PASSES = 12
DIRECT_BELOW_M = (
    40.0  # runs of shorter shots are simulated directly at last: they run over the steep ground about greens
)
STORED_AGAIN = 1.1  # outcome tables are stored again when they hold so many times more
PIECES = 2  # pieces of work for each thread

Values = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Strokes:
    """Strokes remaining on one hole for one player and wind, for all its hole locations.

    Attributes
    ----------
    space
        State space of the hole.
    shot_table
        The player's shots.
    dispersion
        Dispersion tables by lie.
    pins, pin_xy
        Names and places ``(pins, 2)`` [m] of the hole locations.
    value
        Strokes remaining ``(states, pins)``.
    shot, heading
        Best actions ``(states, pins, TOP_K)``, best first, -1 for none.
    putter
        Putting errors.
    dispersion_scale
        Relative increase of direction errors from places to each pin, as for :func:`solve_on`.
    passes
        Greatest change of a value in each evaluation pass.
    """

    space: StateSpace
    shot_table: ShotTable
    dispersion: tuple[DispersionTables, ...]
    pins: tuple[str, ...]
    pin_xy: Values
    value: Values
    shot: NDArray[np.int64]
    heading: NDArray[np.int64]
    putter: Putter
    dispersion_scale: Callable[[Values], Values] | None = None
    passes: tuple[float, ...] = ()

    @property
    def surface(self) -> Surface:
        """Terrain."""
        return self.space.surface

    @property
    def mesh(self) -> Mesh:
        """States."""
        return self.space.mesh

    @property
    def ground(self) -> Ground:
        """The ground as the kernels take it."""
        return self.space.ground

    def state(self, x: float, y: float) -> int:
        """Return the state of the ball at a place.

        Raises
        ------
        InputError
            If the ball is not played from there (water, out of bounds, off the map).
        """
        i, j = cell_of(self.space.base, float(x), float(y))
        s = int(self.mesh.of_cell[i, j]) if i >= 0 else -1
        if s < 0:
            raise InputError(
                f"the ball is not played from ({x:.1f}, {y:.1f}): water, out of bounds or off the map"
            )
        return s

    def pin(self, name: str | int) -> int:
        """Return the number of a pin in the list, by name."""
        if isinstance(name, int):
            return name
        if name not in self.pins:
            raise InputError(f"there is no pin {name!r} on this hole; it has {', '.join(self.pins)}")
        return self.pins.index(name)

    def at(self, x: float, y: float, pin: str | int) -> float:
        """Strokes remaining from the state of a place for a pin; mean putts on the green."""
        return float(self.value[self.state(x, y), self.pin(pin)])

    def tables(self, lie: int) -> DispersionTables:
        """Dispersion tables of a lie."""
        return self.dispersion[lie]

    def place(self, x: float, y: float) -> Place:
        """Return a place as the kernels take it."""
        z = float(self.surface.height(x, y))
        obstacles = self.ground.obstacles
        clear = np.empty((1, HEADINGS if obstacles.rows else 0), np.float32)
        if obstacles.rows:
            obstacle_distances(obstacles, np.array([[x, y, z]], float), clear)
        return Place(float(x), float(y), z, clear[0])

    def outcomes(
        self,
        x: float,
        y: float,
        shot: int,
        heading: int,
        *,
        lie: int | None = None,
        samples: int = REPORTED,
        dispersion_scale: float = 0.0,
        direct_below_m: float = np.inf,
    ) -> NDArray[np.void]:
        """Return the outcomes of a shot.

        Parameters
        ----------
        x, y
            Where it is played from [m].
        shot, heading
            Row in the shot table, and heading (see :func:`heading_of`).
        lie
            Number in :data:`gistools.compute.decision.shot_table.LIES`; by default that of the place.
        samples
            One of the sets of samples.
        dispersion_scale
            Relative increase of the direction errors.
        direct_below_m
            Runs of shots that carry less are simulated directly (all, by default), others looked up in the table.

        Returns
        -------
        ndarray
            Records (dtype ``OUTCOME``), one a sample; state -1 is stroke and distance.
        """
        if lie is None:
            lie = int(self.mesh.lie[self.state(x, y)])
        out = np.zeros(samples, OUTCOME)
        action = Action(int(shot), int(heading) % HEADINGS)
        sampling = Sampling(samples, float(direct_below_m), float(dispersion_scale))
        _outcomes(self.ground, self.tables(lie), self.place(x, y), action, sampling, out)
        return out

    def action_value(self, out: NDArray[np.void]) -> Values:
        """Mean strokes, this one included, of drawn outcomes ``(pins,)``; nan if the shot is nearly always lost."""
        lost, replayed = float((out["state"] < 0).mean()), float(out["replayed"].mean())
        if lost >= _kernels.MOST_LOST or replayed >= _kernels.MOST_REPLAYED:
            return np.full(len(self.pins), np.nan)
        played_on = out[out["replayed"] == 0]
        after = (self.value[played_on["state"]] + played_on["penalty"][:, None]).sum(axis=0) / len(out)
        return np.asarray((1.0 + after + lost) / (1.0 - replayed))

    def value_at(self, x: float, y: float, pin: str | int, **how: Any) -> PlaceValue:
        """Strokes remaining from the very place for a pin, and the best action there; see :meth:`values_at`."""
        p = self.pin(pin)
        value, shot, heading = self.values_at([(x, y)], pins=(p,), **how)
        return PlaceValue(float(value[0, 0]), int(shot[0, 0]), int(heading[0, 0]))

    def values_at(
        self,
        xy: ArrayLike,
        *,
        pins: Sequence[int] | None = None,
        lie: int | None = None,
        dispersion_scale: ArrayLike | None = None,
    ) -> tuple[Values, NDArray[np.int64], NDArray[np.int64]]:
        """Strokes remaining from the very places, with the best actions from there: the one value that all steps report.

        Searched in full from each place, starting also from the best actions of the states about it, and evaluated as the states
        are (steps 3, 6 and 7 of the algorithm).

        Parameters
        ----------
        xy
            Places ``(n, 2)`` [m].
        pins
            Numbers of the pins; by default all.
        lie
            Number of the lie, by default that of each place.
        dispersion_scale
            Relative increase of direction errors ``(n, pins)``; by default that of the solve.

        Returns
        -------
        tuple
            Value, shot (-1 on the green, where the value is mean putts) and heading, each ``(n, pins)``.

        Raises
        ------
        InputError
            If the ball is not played from a place.
        """
        places = np.asarray(xy, float).reshape(-1, 2)
        chosen = np.arange(len(self.pins)) if pins is None else np.asarray(pins, np.int64)
        states = np.array([self.state(x, y) for x, y in places], np.int64)
        value = self.value[np.ix_(states, chosen)]
        shot = np.full((len(places), len(chosen), TOP_K), -1, np.int64)
        heading = np.zeros_like(shot)
        at = np.column_stack([places, np.asarray(self.surface.height(places[:, 0], places[:, 1]))])
        if dispersion_scale is None:
            scale = self.scale_at(places)[:, chosen]
        else:
            scale = np.broadcast_to(np.asarray(dispersion_scale, float), value.shape)
        lies = self.mesh.lie[states] if lie is None else np.full(len(states), lie)
        for number in np.unique(lies):
            some = np.flatnonzero((lies == number) & ~self.mesh.putts[states])
            if len(some):
                problem = self._problem_at(at[some], int(number), chosen, scale[some])
                v, k, h = self._search(problem, states[some], chosen)
                value[some], shot[some], heading[some] = v, k, h
        return value, shot[..., 0], heading[..., 0]

    def scale_at(self, xy: ArrayLike) -> Values:
        """Relative increase of direction errors from places ``(n, 2)`` to each pin ``(n, pins)``."""
        places = np.asarray(xy, float).reshape(-1, 2)
        if self.dispersion_scale is None or not len(places):
            return np.zeros((len(places), len(self.pins)))
        level = np.asarray(self.surface.height(places[:, 0], places[:, 1]))
        return np.asarray(self.dispersion_scale(np.column_stack([places, level])))

    def _problem_at(self, places: Values, lie: int, pins: NDArray[np.int64], scale: Values) -> Problem:
        """Return the problem of places that need not be states."""
        g = self.ground
        obstacle_m = np.empty((len(places), HEADINGS if g.obstacles.rows else 0), np.float32)
        near_slope = np.empty((len(places), *g.near_slope.shape[1:]), np.float32)
        _kernels.near_slopes(g, places, SLOPE_REACHES_M, near_slope)
        if g.obstacles.rows:
            obstacle_distances(g.obstacles, places, obstacle_m)
        g = g._replace(near_slope=near_slope, obstacle_m=obstacle_m)
        xy = np.ascontiguousarray(self.pin_xy[pins])
        return Problem(
            g,
            self.tables(lie),
            np.ascontiguousarray(places),
            xy,
            middle_of_green(self.mesh),
            np.ascontiguousarray(scale),
        )

    def _search(
        self, problem: Problem, states: NDArray[np.int64], pins: NDArray[np.int64]
    ) -> tuple[Values, NDArray[np.int64], NDArray[np.int64]]:
        """Best actions of places, and their value: searched, chosen and evaluated as those of states."""
        n = len(states)
        shot = np.full((n, len(pins), TOP_K), -1, np.int64)
        new = np.full((n, len(pins)), np.nan)
        iterate = Iterate(np.ascontiguousarray(self.value[:, pins]), new, shot, np.zeros_like(shot))
        _kernels.search_places(problem, iterate, self._seeds(states, pins), COARSE, FINE)
        active, every = np.ones(len(pins), bool), np.arange(n)
        for samples, candidates, direct in ((CHOICE, 2, 0.0), (REPORTED, 1, DIRECT_BELOW_M)):
            sampling = Sampling(samples, direct, 0.0)
            _kernels.policy_evaluation_sweep(problem, iterate, every, sampling, candidates, False, active)
        return new, shot, iterate.heading

    def _seeds(self, states: NDArray[np.int64], pins: NDArray[np.int64]) -> Values:
        """Actions of each state and of those about it with the same lie: shot, heading, place ``(n, pins, seeds, 4)``."""
        g, mesh = self.ground, self.mesh
        reach = 2.0 * np.sqrt(2.0) * g.cell
        steps = [(0.0, 0.0)] + [(a, b) for a in (-reach, 0.0, reach) for b in (-reach, 0.0, reach) if a or b]
        out = np.full((len(states), len(pins), len(steps), 4), -1.0)
        for n, state in enumerate(states):
            x, y = mesh.place[state, :2]
            for k, (dx, dy) in enumerate(steps):
                i, j = cell_of(self.space.base, float(x + dx), float(y + dy))
                other = int(mesh.of_cell[i, j]) if i >= 0 else -1
                if other >= 0 and not mesh.putts[other] and mesh.lie[other] == mesh.lie[state]:
                    out[n, :, k, 0] = self.shot[other, pins, 0]
                    out[n, :, k, 1] = self.heading[other, pins, 0]
                    out[n, :, k, 2:] = mesh.place[other, :2]
        return out

    def best(self, x: float, y: float, pin: str | int) -> tuple[int, int]:
        """Best shot (row in the shot table) and heading of the state of a place for a pin; (-1, 0) on the green."""
        s, p = self.state(x, y), self.pin(pin)
        return int(self.shot[s, p, 0]), self.aim(x, y, s, p, 0)

    def aim(self, x: float, y: float, state: int, pin: int, rank: int) -> int:
        """Heading of an action of a state from a place in it: its angle to the pin is that from the state's middle."""
        px, py = self.pin_xy[pin]
        mx, my = self.mesh.place[state, :2]
        turn = np.arctan2(px - x, py - y) - np.arctan2(px - mx, py - my)
        heading = int(self.heading[state, pin, rank]) + round(float(turn) * HEADINGS / (2 * np.pi))
        return heading % HEADINGS

    def map(self, pin: str | int) -> NDArray[np.float32]:
        """Strokes remaining on the cells of the terrain, nan where the ball is not played from."""
        v = np.append(self.value[:, self.pin(pin)], np.nan).astype(np.float32)
        v[v >= UPPER_STROKES - 1] = np.nan
        return np.asarray(v[self.mesh.of_cell])


@dataclass(frozen=True)
class PlaceValue:
    """Strokes remaining from a place for a pin, and the best action there: shot (-1 on the green) and heading."""

    strokes: float
    shot: int
    heading: int


def middle_of_green(mesh: Mesh) -> Values:
    """Mean place of the states of the green ``(2,)`` [m]."""
    return np.asarray(mesh.place[mesh.putts, :2].mean(axis=0))


def bearing_of(heading: int) -> float:
    """Bearing of a whole-number heading [degrees]."""
    return heading * 360.0 / HEADINGS


def heading_of(bearing_deg: float) -> int:
    """Whole-number heading nearest to a bearing [degrees]."""
    return round(bearing_deg * HEADINGS / 360.0) % HEADINGS


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
) -> Strokes:
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
) -> Strokes:
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
        Relative increase of direction errors from places ``(n, 3)`` to each pin: ``(n, pins)``. Shots are searched without it, and
        chosen among the best and evaluated with it.
    """
    xy = np.ascontiguousarray(pin_xy, float).reshape(-1, 2)
    if len(xy) == 0 or len(xy) != len(pins) or not np.isfinite(xy).all():
        raise InputError("strokes remaining need at least one hole location, each with a name and a place")
    mesh = space.mesh
    value = np.full((len(mesh.lie), len(xy)), UPPER_STROKES)
    value[mesh.putts] = green_values(mesh, xy, putter, space.surface.cell)
    shot = np.full((len(mesh.lie), len(xy), TOP_K), -1, np.int64)
    s = Strokes(
        space,
        shots,
        with_runs(space.land, shots, space.outcomes),
        tuple(pins),
        xy,
        value,
        shot,
        np.zeros_like(shot),
        putter,
        dispersion_scale,
    )
    scale = np.zeros_like(value) if dispersion_scale is None else dispersion_scale(mesh.place)
    passes = _iterate(s, threads or os.cpu_count() or 1, np.ascontiguousarray(scale, float))
    if space.keep and (filled := space.outcomes.filled()) > STORED_AGAIN * space.stored_entries:
        store(space.outcomes)
        space.stored_entries = filled
    return replace(s, passes=tuple(passes))


def green_values(mesh: Mesh, pin_xy: Values, putter: Putter, cell: float) -> Values:
    """Mean putts of the green's cells, averaged over nine points of each cell.

    Returns
    -------
    ndarray
        Shape ``(states of the green, pins)``, in the order of ``mesh.putts``.
    """
    place = mesh.place[mesh.putts, :2]
    total = np.zeros((len(place), len(pin_xy)))
    for dx in (-cell / 3, 0.0, cell / 3):
        for dy in (-cell / 3, 0.0, cell / 3):
            d = np.hypot(place[:, None, 0] + dx - pin_xy[:, 0], place[:, None, 1] + dy - pin_xy[:, 1])
            total += mean_putts(d, putter)
    return total / 9.0


#: states of a ring, by lie
Ring = list[tuple[int, NDArray[np.int64]]]


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


def _iterate(s: Strokes, threads: int, dispersion_scale: Values) -> list[float]:
    """Run steps 2 to 7 of the algorithm; values and actions of ``s`` are changed in place."""
    searched, followers = _rings(s.mesh)
    both = [a + b for a, b in zip(searched, followers, strict=True)]
    iterate = Iterate(s.value, s.value.copy(), s.shot, s.heading)
    ground, itself = s.ground, np.arange(len(s.mesh.lie))
    problems = [
        Problem(ground, tables, s.mesh.place, s.pin_xy, middle_of_green(s.mesh), dispersion_scale)
        for tables in s.dispersion
    ]
    changes: list[float] = []

    with ThreadPoolExecutor(threads) as pool:

        def sweep(ring: Ring, work: Any, *arguments: Any) -> Values:
            """Share the states of a ring between the threads; return the greatest change of a value for each pin."""
            jobs = []
            for lie, states in ring:
                for part in np.array_split(states, min(PIECES * threads, len(states))):
                    jobs.append(pool.submit(work, problems[lie], iterate, part, *arguments))
            for job in jobs:
                job.result()
            most = np.zeros(len(s.pins))
            for _, states in ring:
                change = np.abs(iterate.new_value[states] - s.value[states])
                most = np.maximum(most, change.max(axis=0))
                s.value[states] = iterate.new_value[states]
            return most

        def evaluate(samples: int, n_candidates: int, active: NDArray[np.bool_], **how: Any) -> Values:
            monotone = how.get("monotone", False)
            sampling = Sampling(samples, how.get("direct_below_m", 0.0), 0.0)
            arguments = sampling, n_candidates, monotone, active
            passes = [sweep(ring, _kernels.policy_evaluation_sweep, *arguments) for ring in both]
            return np.asarray(np.max(passes, axis=0))

        def settle() -> None:
            """Evaluate until no value changes; each pin by itself, so that none depends on the others."""
            active = np.ones(len(s.pins), bool)
            for _ in range(MOST_PASSES):
                change = evaluate(FINE, 1, active, monotone=True)
                changes.append(float(change.max()))
                active &= change >= SETTLED_STROKES
                if not active.any():
                    break

        for number, (ring, rest) in enumerate(zip(searched, followers, strict=True)):
            sweep(ring, _kernels.greedy_improvement, COARSE, FINE)
            sweep(rest, _kernels.warm_start, s.mesh.representative, FINE)
            without = [(lie, states[(s.shot[states, :, 0] < 0).any(axis=1)]) for lie, states in rest]
            sweep([part for part in without if len(part[1])], _kernels.greedy_improvement, COARSE, FINE)
            tick(0.6 * number / len(searched), "looking for shots")
        tick(0.6, "settling")
        settle()
        for ring in both:  # values that a search used have fallen since
            sweep(ring, _kernels.warm_start, itself, FINE)
        tick(0.8, "settling")
        settle()
        tick(0.85, "weighing on all samples")
        every = np.ones(len(s.pins), bool)
        evaluate(CHOICE, 2, every)
        evaluate(REPORTED, 1, every, direct_below_m=DIRECT_BELOW_M)
    return changes
