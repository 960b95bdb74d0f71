"""Guard against code that has become slow, by ratios that do not hang on the machine: a minute, for CI.

Usage: ``python scripts/bench/guard.py``

Each piece of work is timed beside plain code for the same or a like amount in the same process (processor
time, the best of several), and fails where it is less than 0.4 times as much faster as it was when the figure
was written down. Three runs beside other work on both processors differed by a tenth (volumes by a fourth).
"""

from __future__ import annotations

import functools
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.ndimage import map_coordinates

sys.path.insert(0, str(Path(__file__).parents[1]))
from generic_hole import PINS, ground, turf
from layout_study import one_ray_at_a_time
from shots import by_hand, direct
from strategy import SAMPLES, evaluate_often, numpy_value
from volumes import plain_python

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision import outcome_kernels
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.value_function import ValueFunction
from gistools.compute.decision.value_iteration import solve
from gistools.compute.terrain.line_of_sight import Scene
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.volumes import cut_and_fill
from gistools.site.sample import sample_site

#: piece of work -> how many times faster than the plain code it was
USUAL = {
    "outcomes of a shot, against NumPy": 54.0,
    "a hole solved, against 20 million outcomes in NumPy": 6.7,
    "flights, against plain Python": 370.0,
    "flag views, against NumPy": 80.0,
    "carries of a tee with all they say, against cutting its rays one by one": 1.45,
    "cut and fill, against plain Python": 17.0,
}
FAILS_BELOW = 0.4
NUMPY_OUTCOMES = 20_000_000


def least(work: Callable[[], object], times: int = 3) -> float:
    """Return the least processor time of a piece of work [s]."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def solved() -> ValueFunction:
    """Solve a level hole of 200 yd with fairway, rough, trees, two bunkers and four hole locations."""
    surface, kinds = ground(200.0, cell_m=2.0)
    player = built_in("scratch man")
    names = [f"pin {k}" for k in range(len(PINS))]
    return solve(
        surface, turf(surface, kinds), kinds == Kind.GREEN, shot_table_of(player, CALM), names, PINS,
        putter=putter_of(player), cell_m=8.0, keep=False,
    )  # fmt: skip


@functools.cache
def outcomes_s() -> tuple[float, float]:
    """Return the time of an outcome in the solver and in NumPy [s]."""
    s = solved()
    x, y = 0.0, -150.0
    z, tables = float(s.surface.height(x, y)), s.tables(int(s.mesh.lie[s.state(x, y)]))
    _, centre = s.best(x, y, 0)
    shots = np.flatnonzero(tables.carry_m < 1000)[:12]
    pairs = np.array(
        [(int(k), (centre + h) % outcome_kernels.HEADINGS) for k in shots for h in range(-10, 10)]
    )
    q, buffer = np.empty(len(s.pins)), outcome_kernels.make_sample_buffer()

    def ours(times: int) -> None:
        evaluate_often(s.ground, tables, pairs, times, s.place(x, y), s.value, buffer, q)

    def theirs() -> None:
        for shot, heading in pairs:
            numpy_value(s, tables, shot, heading, SAMPLES, x, y, z)

    ours(1)
    count = len(pairs) * SAMPLES
    return least(lambda: ours(40)) / (40 * count), least(theirs) / count


def of_outcomes() -> float:
    ours, theirs = outcomes_s()
    return theirs / ours


def of_solving() -> float:
    """A hole solved, beside so many outcomes in NumPy."""
    return outcomes_s()[1] * NUMPY_OUTCOMES / least(solved)


def of_flights() -> float:
    direct(64)
    assert np.abs(by_hand(20) - direct(20)[:, :2]).max() < 0.05
    return least(lambda: by_hand(200)) / 200 / (least(lambda: direct(20_000)) / 20_000)


def of_views() -> float:
    """Lines of 300 m over rolling ground, beside the heights alone in NumPy, four to a cell."""
    x = np.arange(400.0)
    z = 3.0 * np.sin(x / 31)[None, :] * np.cos(x / 23)[:, None]
    surface = Surface(z, 0.0, 400.0, 1.0)
    eyes = np.column_stack([np.linspace(20, 380, 2000), np.full(2000, 20.5)])
    pin = (200.0, 320.0)
    scene = Scene(surface, threads=1)
    scene.views(eyes[:10], [pin])

    def sampled() -> None:
        for ex, ey in eyes[::10]:
            count = int(4 * math.hypot(pin[0] - ex, pin[1] - ey))
            share = np.linspace(0.0, 1.0, count)[1:]
            rows, cols = 399.5 - (ey + share * (pin[1] - ey)), ex + share * (pin[0] - ex) - 0.5
            heights = map_coordinates(z, [rows, cols], order=1)
            ((heights - heights[0]) / share).max()

    return 10 * least(sampled) / least(lambda: scene.views(eyes, [pin]))


def of_carries() -> float:
    ours, theirs = (min(t) for t in zip(*(one_ray_at_a_time(sample_site()) for _ in range(3)), strict=True))
    return theirs / ours


def of_volumes() -> float:
    rng = np.random.default_rng(1)
    before = Surface(rng.normal(0, 0.01, (500, 500)), 0, 250.0, 0.5)
    after = Surface(before.z + rng.normal(0, 0.2, (500, 500)), 0, 250.0, 0.5)
    return least(lambda: plain_python(before, after)) / least(lambda: cut_and_fill(before, after))


def main() -> int:
    """Measure and print a table."""
    work = (of_outcomes, of_solving, of_flights, of_views, of_carries, of_volumes)
    slow = []
    print("| work | times faster | it was |\n|---|---|---|")
    for (name, usual), measure in zip(USUAL.items(), work, strict=True):
        ratio = measure()
        print(f"| {name} | {ratio:.3g} | {usual:.3g} |", flush=True)
        slow += [name] if ratio < FAILS_BELOW * usual else []
    for name in slow:
        print(f"slower than it should be: {name}")
    return int(bool(slow))


if __name__ == "__main__":
    raise SystemExit(main())
