"""Value function of a hole: strokes remaining and the best actions, from states and from any place."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
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
from gistools.compute.decision.outcome_tables import SLOPE_REACHES_M
from gistools.compute.decision.putting import Putter
from gistools.compute.decision.shot_table import MANY, SETS, ShotTable
from gistools.compute.decision.state_space import Mesh, StateSpace
from gistools.compute.decision.value_iteration_kernels import TOP_K, Iterate, Problem
from gistools.compute.terrain.surface import Surface

COARSE, FINE, CHOICE, REPORTED = SETS

# assumptions (assumptions)
UPPER_STROKES = 30.0  # above any value, and where a hole is not finished from
DIRECT_BELOW_M = (
    40.0  # runs of shorter shots are simulated directly at last: they run over the steep ground about greens
)

Values = NDArray[np.float64]
#: dispersion tables that are not by shot
_NOT_BY_SHOT = ("shot_for_m", "neighbour")


@dataclass(frozen=True, eq=False)
class ValueFunction:
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
        Best actions ``(states, pins, TOP_K)``, best first, -1 for none: the putter, where it comes first.
    putter
        Putting errors.
    rolled
        Strokes with the putter from off the green ``(states, pins)``, inf where it is not used.
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
    rolled: Values
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
            Runs of shots that carry less are simulated directly (all, by default), others looked up in the
            table.

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

    def many_outcomes(
        self, x: float, y: float, shot: int, heading: int, *, lie: int, dispersion_scale: float = 0.0
    ) -> NDArray[np.void]:
        """Return outcomes of a shot on many samples that are drawn for it, every run simulated directly.

        As :meth:`outcomes`, for shots whose worth is told beside that of another: 256 samples leave some 0.02
        strokes on it.
        """
        sample = self.shot_table.many(shot, lie)
        tables = self.tables(lie)
        one = slice(shot, shot + 1)
        alone = DispersionTables(
            *(t if name in _NOT_BY_SHOT else t[one] for name, t in zip(tables._fields, tables, strict=True))
        )._replace(sample=sample[None])
        out = np.zeros(MANY, OUTCOME)
        sampling = Sampling(MANY, np.inf, float(dispersion_scale))
        _outcomes(self.ground, alone, self.place(x, y), Action(0, int(heading) % HEADINGS), sampling, out)
        return out

    def action_value(self, out: NDArray[np.void]) -> Values:
        """Mean strokes, this one included, of drawn outcomes ``(pins,)``.

        Nan if the shot is nearly always lost.
        """
        lost, replayed = float((out["state"] < 0).mean()), float(out["replayed"].mean())
        if lost >= _kernels.MOST_LOST or replayed >= _kernels.MOST_REPLAYED:
            return np.full(len(self.pins), np.nan)
        played_on = out[out["replayed"] == 0]
        after = (self.value[played_on["state"]] + played_on["penalty"][:, None]).sum(axis=0) / len(out)
        return np.asarray((1.0 + after + lost) / (1.0 - replayed))

    def value_at(self, x: float, y: float, pin: str | int, **how: Any) -> PlaceValue:
        """Strokes remaining from the very place for a pin, and the best action there.

        See :meth:`values_at`.
        """
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
        """Strokes remaining from the very places, with the best actions from there.

        The one value that all steps report.

        Searched in full from each place, starting also from the best actions of the states about it (steps 3
        and 6 of the algorithm); the best two are weighed on many samples, and the better one's aim is turned
        while that gains.

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
            Value, shot (-1 for the putter, whose value is mean putts) and heading, each ``(n, pins)``.

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
                value[some], shot[some], heading[some] = self._weighed(problem, int(number), chosen, v, k, h)
        if lie is None:
            rolled = self.rolled[np.ix_(states, chosen)]
            by_putter = rolled <= value
            value, shot[by_putter], heading[by_putter] = np.minimum(value, rolled), -1, 0
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
        sampling = Sampling(CHOICE, 0.0, 0.0)
        _kernels.policy_evaluation_sweep(problem, iterate, every, sampling, 2, False, active)
        return new, shot, iterate.heading

    def _weighed(
        self,
        problem: Problem,
        lie: int,
        pins: NDArray[np.int64],
        value: Values,
        shot: NDArray[np.int64],
        heading: NDArray[np.int64],
    ) -> tuple[Values, NDArray[np.int64], NDArray[np.int64]]:
        """Weigh the best actions of places on many samples, and turn the aim of the best while it gains.

        Few samples leave actions level that are not: which of them is reported would hang on where the mesh
        lies. Choosing on the samples that are reported flatters the best by some 0.003 strokes. Values stay
        as they are where no action is possible.
        """
        value, shot, heading = value.copy(), shot.copy(), heading.copy()
        for n, p in zip(*np.nonzero(shot[:, :, 0] >= 0), strict=True):
            place, scale = problem.place[n], float(problem.dispersion_scale[n, p])
            pairs = zip(shot[n, p], heading[n, p], strict=True)
            actions = [Action(int(k), int(h) % HEADINGS) for k, h in pairs if k >= 0]
            strokes, best = self._best_of(place, lie, int(pins[p]), scale, actions)
            if np.isfinite(strokes):
                value[n, p], shot[n, p, 0], heading[n, p, 0] = strokes, *best
        return value, shot, heading

    def _best_of(
        self, place: Values, lie: int, pin: int, dispersion_scale: float, actions: Sequence[Action]
    ) -> tuple[float, Action]:
        """Return the best of some actions from a place on many samples, its aim turned, and its strokes."""

        @functools.cache
        def strokes(action: Action) -> float:
            out = self.many_outcomes(
                float(place[0]), float(place[1]), *action, lie=lie, dispersion_scale=dispersion_scale
            )
            return float(np.nan_to_num(self.action_value(out)[pin], nan=np.inf))

        best = min(actions, key=strokes)
        for turn in (1, -1):
            while strokes(aside := Action(best.shot, (best.heading + turn) % HEADINGS)) < strokes(best):
                best = aside
        return strokes(best), best

    def _seeds(self, states: NDArray[np.int64], pins: NDArray[np.int64]) -> Values:
        """Actions of each state and of those about it with the same lie.

        Shot, heading, place ``(n, pins, seeds, 4)``.
        """
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
                    rank = (self.shot[other, pins, 0] < 0).astype(int)  # passed over: the putter
                    out[n, :, k, 0] = self.shot[other, pins, rank]
                    out[n, :, k, 1] = self.heading[other, pins, rank]
                    out[n, :, k, 2:] = mesh.place[other, :2]
        return out

    def best(self, x: float, y: float, pin: str | int) -> tuple[int, int]:
        """Best shot (row in the shot table) and heading of the state of a place for a pin.

        (-1, 0) for the putter.
        """
        s, p = self.state(x, y), self.pin(pin)
        shot = int(self.shot[s, p, 0])
        return shot, self.aim(x, y, s, p, 0) if shot >= 0 else 0

    def aim(self, x: float, y: float, state: int, pin: int, rank: int) -> int:
        """Heading of an action of a state from a place in it.

        Its angle to the pin is that from the state's middle.
        """
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
    """Strokes remaining from a place for a pin, and the best action there.

    Shot (-1 for the putter) and heading.
    """

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
