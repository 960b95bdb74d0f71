"""Expected strokes: the least mean number of strokes to hole out from everywhere on a hole.

A state is a place with one lie: the cells of a mesh (3 m unless told), parted by the lies found in them, and each cell of
the terrain on the green. The equation is that of a stochastic shortest path (Stauffer & Guillot 2023, 2025):

``V(s) = min over shots and aims of { 1 + mean over outcomes of [penalty + V(s')] }``, ``V`` on the green = mean putts.

- Water: one stroke, the ball dropped on the line of the shot behind the water, two club-lengths back; where that leads
  back to the start, played again from there (a stated simple model of relief).
- Out of bounds, or off the map: stroke and distance.
- Start: 30 strokes everywhere, an upper bound, so values only fall.

States are worked through in rings outward from the green, each ring from the values so far, so that one pass nearly
settles. One state of each square is searched in full; its neighbours start from its best shots. Passes over the best few shots
of each state follow until no value changes by more than a thousandth; then each state looks once more beside its best shots, with
the values as they are by then, and passes follow again. Shots are chosen on one set of samples and weighed on another, so that a lucky
one wins nothing; short ones are then run out one by one, without the table. Shots that do not clear the ground close before
them are left out.
All hole locations are carried at once: outcomes do not depend on them. The work of a ring is shared between threads that
write only their own states, so results repeat exactly.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.progress import tick
from gistools.compute.ballistics.shot_kernels import Land
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.outcome_tables import run_out, store
from gistools.compute.decision.putting import SCRATCH, Putter, mean_putts
from gistools.compute.decision.shot_table import LIES, SETS, Book
from gistools.compute.decision.state_space import Field, Mesh, field_for
from gistools.compute.decision.value_iteration_kernels import HEADINGS, KEEP, Fans, Ground
from gistools.compute.terrain.surface import Surface

UPPER = 30.0  # strokes: above any value, and where a hole is not finished from
SETTLED = 1e-3
RING = 100
COARSE, FINE, ALL, TOLD = SETS
MOST_PASSES = 12
OWN_M = 40.0  # shorter shots are weighed at last without the outcome table: they run over the steep ground about greens (engineering choice)
WORTH_KEEPING = 1.1  # outcome tables are stored anew when they hold so much more
SHARES = 2  # pieces of work for each thread


@dataclass(frozen=True, eq=False)
class Strokes:
    """Expected strokes on one hole for one player and wind, for all its hole locations.

    ``value (states, pins)``; ``shot`` and ``heading (states, pins, KEEP)`` the best shots found, best first, -1 for none.
    """

    field: Field
    book: Book
    fan: tuple[Fans, ...]
    pins: tuple[str, ...]
    pin_xy: NDArray[np.float64]
    value: NDArray[np.float64]
    shot: NDArray[np.int64]
    heading: NDArray[np.int64]
    putter: Putter
    passes: tuple[float, ...] = ()

    @property
    def surface(self) -> Surface:
        """Terrain."""
        return self.field.surface

    @property
    def mesh(self) -> Mesh:
        """States."""
        return self.field.mesh

    @property
    def ground(self) -> Ground:
        """The ground as the kernels take it."""
        return self.field.ground

    def state(self, x: float, y: float) -> int:
        """Return the state of the ball at a place.

        Raises
        ------
        InputError
            If the ball is not played from there (water, out of bounds, off the map).
        """
        i, j = _kernels.cell_of(self.field.base, float(x), float(y))
        s = int(self.mesh.of_cell[i, j]) if i >= 0 else -1
        if s < 0:
            raise InputError(
                f"the ball is not played from ({x:.1f}, {y:.1f}): water, out of bounds or off the map"
            )
        return s

    def pin(self, name: str | int) -> int:
        """Return the place of a pin in the list, by name."""
        if isinstance(name, int):
            return name
        if name not in self.pins:
            raise InputError(f"there is no pin {name!r} on this hole; it has {', '.join(self.pins)}")
        return self.pins.index(name)

    def at(self, x: float, y: float, pin: str | int) -> float:
        """Expected strokes from a place for a pin; mean putts on the green."""
        return float(self.value[self.state(x, y), self.pin(pin)])

    def fans(self, lie: int) -> Fans:
        """Landing fans of a lie."""
        return self.fan[lie]

    def outcomes(
        self,
        x: float,
        y: float,
        shot: int,
        heading: int,
        *,
        lie: int | None = None,
        samples: int = TOLD,
        wider: float = 0.0,
        own_m: float = np.inf,
    ) -> NDArray[np.float64]:
        """Outcomes of a shot: rows ``x, y, kind, state, penalty, land x, land y, land kind, again``; state -1 is stroke and distance.

        ``wider`` is how much more the directions stray, as a share. Shots that carry less than ``own_m`` are run out one by one (all,
        unless told), others by table.
        """
        if lie is None:
            lie = int(self.mesh.lie[self.state(x, y)])
        fans = self.fans(lie)
        out = np.empty((samples, _kernels.RECORD))
        z = float(self.surface.height(x, y))
        _kernels.outcomes(
            self.ground,
            fans,
            int(shot),
            int(heading) % HEADINGS,
            samples,
            float(own_m),
            float(wider),
            float(x),
            float(y),
            z,
            out,
        )
        return out

    def after(self, out: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mean strokes, this one included, of drawn outcomes: one number a pin; nan if the shot is always lost."""
        lost, again = float((out[:, 3] < 0).mean()), float(out[:, 8].mean())
        if lost >= _kernels.MOST_OUT or again >= _kernels.MOST_AGAIN:
            return np.full(len(self.pins), np.nan)
        kept = out[:, 8] == 0
        gain = (self.value[out[kept, 3].astype(int)] + out[kept, 4][:, None]).sum(axis=0) / len(out)
        return np.asarray((1.0 + gain + lost) / (1.0 - again))

    def best(self, x: float, y: float, pin: str | int) -> tuple[int, int]:
        """Best shot (place in the bag) and heading from a place for a pin; (-1, 0) on the green."""
        s, p = self.state(x, y), self.pin(pin)
        return int(self.shot[s, p, 0]), self.aim(x, y, s, p, 0)

    def aim(self, x: float, y: float, state: int, pin: int, rank: int) -> int:
        """Heading of a kept shot from a place in a state: its angle to the pin is that of the state's middle."""
        px, py = self.pin_xy[pin]
        mx, my = self.mesh.place[state, :2]
        turn = np.arctan2(px - x, py - y) - np.arctan2(px - mx, py - my)
        heading = int(self.heading[state, pin, rank]) + round(float(turn) * HEADINGS / (2 * np.pi))
        return heading % HEADINGS

    def map(self, pin: str | int) -> NDArray[np.float32]:
        """Expected strokes on the cells of the terrain, nan where the ball is not played from."""
        v = np.append(self.value[:, self.pin(pin)], np.nan).astype(np.float32)
        v[v >= UPPER - 1] = np.nan
        return np.asarray(v[self.mesh.of_cell])


def bearing_of(heading: int) -> float:
    """Bearing of a whole-number heading [degrees]."""
    return heading * 360.0 / HEADINGS


def heading_of(bearing_deg: float) -> int:
    """Whole-number heading nearest to a bearing [degrees]."""
    return round(bearing_deg * HEADINGS / 360.0) % HEADINGS


def solve(
    surface: Surface,
    land: Land,
    target: NDArray[np.bool_],
    book: Book,
    pins: Sequence[str],
    pin_xy: ArrayLike,
    *,
    putter: Putter = SCRATCH,
    cell_m: float = 3.0,
    threads: int | None = None,
    keep: bool = True,
    wider: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None,
) -> Strokes:
    """Solve a hole for one player and wind and all its pins.

    Parameters
    ----------
    surface, land
        Terrain; the same with kinds of ground and turf.
    target
        Cells of the green that is played to.
    book
        The player's shots in the wind.
    pins, pin_xy
        Names and places ``(n, 2)`` of the hole locations.
    putter
        Putting errors.
    cell_m
        Side of a cell of the mesh [m].
    threads
        Number of threads; by default the processors there are.
    keep
        Use and update the outcome tables in the user's cache folder.
    wider
        How much more directions stray, as a share, from places ``(n, 3)`` to each pin: ``(n, pins)``. The shots are looked
        for without it, and chosen among the best and weighed with it.
    """
    ready = field_for(surface, land, target, cell_m=cell_m, keep=keep)
    return solve_on(ready, book, pins, pin_xy, putter=putter, threads=threads, wider=wider)


def solve_on(
    ready: Field,
    book: Book,
    pins: Sequence[str],
    pin_xy: ArrayLike,
    *,
    putter: Putter = SCRATCH,
    threads: int | None = None,
    wider: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None,
) -> Strokes:
    """Solve a hole whose ground is ready; what is not explained here is as for :func:`solve`."""
    xy = np.ascontiguousarray(pin_xy, float).reshape(-1, 2)
    if len(xy) == 0 or len(xy) != len(pins) or not np.isfinite(xy).all():
        raise InputError("expected strokes need at least one hole location, each with a name and a place")
    mesh = ready.mesh
    fan = run_out(ready.land, book, ready.outcomes)
    value = np.full((len(mesh.lie), len(xy)), UPPER)
    value[mesh.putts] = green_values(mesh, xy, putter, ready.surface.cell)
    shot = np.full((len(mesh.lie), len(xy), KEEP), -1, np.int64)
    heading = np.zeros_like(shot)
    done = Strokes(ready, book, fan, tuple(pins), xy, value, shot, heading, putter)
    more = np.zeros_like(value) if wider is None else np.ascontiguousarray(wider(mesh.place), float)
    passes = _iterate(done, threads or os.cpu_count() or 1, more)
    if ready.keep and (filled := ready.outcomes.filled()) > WORTH_KEEPING * ready.kept:
        store(ready.outcomes)
        ready.kept = filled
    return replace(done, passes=tuple(passes))


def green_values(mesh: Mesh, pin_xy: NDArray[np.float64], putter: Putter, cell: float) -> NDArray[np.float64]:
    """Mean putts of the green's cells, averaged over nine points of each cell."""
    place = mesh.place[mesh.putts, :2]
    total = np.zeros((len(place), len(pin_xy)))
    for dx in (-cell / 3, 0.0, cell / 3):
        for dy in (-cell / 3, 0.0, cell / 3):
            d = np.hypot(place[:, None, 0] + dx - pin_xy[:, 0], place[:, None, 1] + dy - pin_xy[:, 1])
            total += mean_putts(d, putter)
    return total / 9.0


def _rings(mesh: Mesh) -> tuple[list[Any], list[Any]]:
    """Pieces of the order with one lie each, ring by ring outward: those searched in full, and those that follow them."""
    full: list[Any] = []
    behind: list[Any] = []
    leads = mesh.order[mesh.leader[mesh.order] == mesh.order]
    follows = mesh.order[mesh.leader[mesh.order] != mesh.order]
    place = np.empty(len(mesh.lie), np.int64)
    place[leads] = np.arange(len(leads)) // RING
    for number in range(-(-len(leads) // RING)):
        for pieces, ring in (
            (full, leads[number * RING : (number + 1) * RING]),
            (behind, follows[place[mesh.leader[follows]] == number]),
        ):
            pieces.append(
                [
                    (lie, ring[mesh.lie[ring] == lie])
                    for lie in range(len(LIES))
                    if (mesh.lie[ring] == lie).any()
                ]
            )
    return full, behind


def _iterate(s: Strokes, threads: int, wider: NDArray[np.float64]) -> list[float]:
    """Search outward once, then improve over the kept shots until settled, then weigh them on all samples."""
    full, behind = _rings(s.mesh)
    both = [a + b for a, b in zip(full, behind, strict=True)]
    ground = s.ground
    new = s.value.copy()
    changes: list[float] = []
    itself = np.arange(len(s.mesh.leader))
    x, y = np.ascontiguousarray(s.pin_xy[:, 0]), np.ascontiguousarray(s.pin_xy[:, 1])

    def run(pool: ThreadPoolExecutor, work: Any, pieces: Any) -> float:
        """Work on the pieces of one ring, shared between the threads; return the greatest change."""
        jobs = []
        for lie, states in pieces:
            cuts = np.linspace(0, len(states), min(SHARES * threads, len(states)) + 1).astype(int)
            jobs += [pool.submit(work, lie, states, int(a), int(b)) for a, b in itertools.pairwise(cuts)]
        for job in jobs:
            job.result()
        most = 0.0
        for _, states in pieces:
            most = max(most, float(np.abs(new[states] - s.value[states]).max()))
            s.value[states] = new[states]
        return most

    def search(lie: int, states: Any, a: int, b: int) -> None:
        _kernels.search(
            ground, s.fans(lie), s.mesh.place, states, a, b, x, y, COARSE, FINE, s.value, new, s.shot, s.heading
        )  # fmt: skip

    def follow(leader: Any) -> Any:
        def work(lie: int, states: Any, a: int, b: int) -> None:
            _kernels.follow(
                ground, s.fans(lie), s.mesh.place, leader, states, a, b, x, y, FINE, s.value, new, s.shot, s.heading
            )  # fmt: skip

        return work

    def improve(samples: int, among: int, decrease: bool, own: float = 0.0) -> Any:
        def work(lie: int, states: Any, a: int, b: int) -> None:
            _kernels.improve(
                ground, s.fans(lie), s.mesh.place, states, a, b, samples, among, own, wider, s.value, new, s.shot, s.heading, decrease
            )  # fmt: skip

        return work

    with ThreadPoolExecutor(threads) as pool:
        for number, (ring, rest) in enumerate(zip(full, behind, strict=True)):
            run(pool, search, ring)
            run(pool, follow(s.mesh.leader), rest)
            alone = [(lie, states[(s.shot[states, :, 0] < 0).any(axis=1)]) for lie, states in rest]
            run(pool, search, [(lie, states) for lie, states in alone if len(states)])
            tick(0.6 * number / len(full), "looking for shots")
        for again in (False, True):
            if again:  # what was too high when a shot was looked for has fallen since
                for ring in both:
                    run(pool, follow(itself), ring)
            for _ in range(MOST_PASSES):
                changes.append(max(run(pool, improve(FINE, 1, True), ring) for ring in both))
                tick(0.8 if again else 0.7, "settling")
                if changes[-1] < SETTLED:
                    break
        # chosen among the kept on one set of samples, and weighed on another that had no part in choosing (short ones on the first)
        for samples, among, own in ((ALL, 2, 0.0), (TOLD, 1, OWN_M)):
            tick(0.85, "weighing on all samples")
            for ring in both:
                run(pool, improve(samples, among, False, own), ring)
    return changes
