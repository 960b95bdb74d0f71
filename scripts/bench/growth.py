"""How time grows with holes, features, states, pins and players, each beside plain code of the same run.

Usage: ``python scripts/bench/growth.py [--quick] [--picture FILE] [--scaling FILE]``

Processor time. Holes and features: the steps of plan geometry on copies of the sample's hole 1, beside
cutting the rays of each hole's back tee alone, one by one, with the geometry library. States, hole locations
and players: strokes on a level hole of 300 yd, beside one sweep over all actions in NumPy (every shot on 21
headings from every state, 128 samples; estimated from 200). ``--scaling`` adds what ``scaling.py --to``
wrote. The power of a growth is the slope of a line through the logarithms. It fails where a step of plan
geometry grows with features by more than the power 1.15.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

sys.path.insert(0, str(Path(__file__).parents[1]))
from generic_hole import ground, turf
from layout_study import STEPS, best, one_ray_at_a_time, synthetic
from strategy import numpy_value

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.value_function import ValueFunction
from gistools.compute.decision.value_iteration import solve
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M

SAMPLES, NUMPY_ACTIONS, AIMS = 128, 200, 21
MOST_POWER = 1.15
PLAYERS = ("scratch man", "bogey man", "scratch woman", "bogey woman")


@dataclass
class Growth:
    """Times of this toolkit and of plain code [s] over a size; ``by_step`` where several steps are timed."""

    name: str
    peer: str
    sizes: list[int] = field(default_factory=list)
    ours: list[float] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)
    by_step: dict[str, list[float]] = field(default_factory=dict)

    def add(self, size: int, ours: float, theirs: float) -> None:
        """Add the times at a size and print them."""
        for figures, value in ((self.sizes, size), (self.ours, ours), (self.theirs, theirs)):
            figures.append(value)
        print(f"| {self.name} | {size:,} | {ours:.3g} | {theirs:.3g} | {theirs / ours:.3g} |", flush=True)

    def power(self, times: Sequence[float]) -> float:
        """Slope of the logarithm of times over that of the sizes."""
        return float(np.polyfit(np.log(self.sizes), np.log(times), 1)[0])


def processor(work: Callable[[], object]) -> float:
    """Return the processor time of a piece of work [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def of_plan(name: str, sizes: Sequence[int], features: bool) -> Growth:
    """Time the steps of plan geometry by holes, or by features of three holes."""
    growth = Growth(name, "rays of one tee, cut singly")
    best(lambda: synthetic(1), repeats=1)
    for size in sizes:
        holes, copies = (3, size) if features else (size, 1)
        times = best(lambda h=holes, c=copies: synthetic(h, c), repeats=3)  # type: ignore[misc]
        for step in STEPS:
            growth.by_step.setdefault(step, []).append(times[step])
        _, one = one_ray_at_a_time(synthetic(1, copies))
        growth.add(size, sum(times.values()), holes * one)
    return growth


def solved(cell_m: float, pins: int, player: str) -> ValueFunction:
    """Solve the level hole; hole locations stand on a circle on its green."""
    surface, kinds = ground(300.0)
    angles = 2 * np.pi * np.arange(pins) / pins
    places = [(6.0 * float(np.sin(a)), 6.0 * float(np.cos(a))) for a in angles]
    golfer = built_in(player)
    return solve(
        surface, turf(surface, kinds), kinds == Kind.GREEN, shot_table_of(golfer, CALM),
        [f"pin {k}" for k in range(pins)], places, putter=putter_of(golfer), cell_m=cell_m, keep=False,
    )  # fmt: skip


def in_numpy(s: ValueFunction) -> float:
    """Return the time of a sweep over all actions in NumPy [s], estimated from some."""
    states = np.flatnonzero(~s.mesh.putts & (s.shot[:, :, 0] >= 0).all(axis=1))
    some = np.random.default_rng(1).choice(states, NUMPY_ACTIONS)
    actions = [int((s.tables(int(s.mesh.lie[state])).carry_m < UNAVAILABLE_M).sum()) * AIMS for state in some]

    def evaluate() -> None:
        for state in some:
            x, y, z = map(float, s.mesh.place[state])
            tables = s.tables(int(s.mesh.lie[state]))
            numpy_value(s, tables, int(s.shot[state, 0, 0]), int(s.heading[state, 0, 0]), SAMPLES, x, y, z)

    return processor(evaluate) / NUMPY_ACTIONS * len(states) * float(np.mean(actions))


def of_solving(quick: bool) -> list[Growth]:
    """Time strokes by states, hole locations and players."""
    peer = "NumPy, one sweep"
    states, pins, players = (Growth(n, peer) for n in ("states", "hole locations", "players"))
    solved(12.0, 1, PLAYERS[0])
    for cell_m in (12.0, 8.0) if quick else (12.0, 8.0, 6.0, 4.0):
        start = time.process_time()
        s = solved(cell_m, 1, PLAYERS[0])
        states.add(len(s.mesh.lie), time.process_time() - start, in_numpy(s))
    for count in (1, 4) if quick else (1, 2, 4, 8):
        start = time.process_time()
        s = solved(8.0, count, PLAYERS[0])
        pins.add(count, time.process_time() - start, in_numpy(s))
    ours = theirs = 0.0
    for number, player in enumerate(PLAYERS[: 2 if quick else 4], 1):
        start = time.process_time()
        s = solved(8.0, 1, player)
        ours, theirs = ours + time.process_time() - start, theirs + in_numpy(s)
        players.add(number, ours, theirs)
    return [states, pins, players]


def picture(growths: Sequence[Growth], scaling: list[dict[str, float]], path: Path) -> None:
    """Draw a panel a growth, and one of the processes."""
    figure = Figure(figsize=(11, 6.4), layout="constrained")
    panels = figure.subplots(2, 3).ravel()
    for panel, growth in zip(panels, growths, strict=False):
        panel.loglog(growth.sizes, growth.ours, "o-", color="#1b6e53", label="this toolkit")
        panel.loglog(growth.sizes, growth.theirs, "s--", color="#8a8a8a", label=growth.peer)
        panel.set_xticks(growth.sizes, [f"{size:,}" for size in growth.sizes])
        panel.minorticks_off()
        for size, seconds in zip(growth.sizes, growth.ours, strict=True):
            panel.annotate(
                f"{seconds:.2g} s", (size, seconds), (0, -12), textcoords="offset points", ha="center"
            )
        panel.margins(0.16, 0.34)
        panel.set_title(f"{growth.name}: power {growth.power(growth.ours):.2f}")
        panel.set_ylabel("processor time [s]")
        ours_below = growth.ours[0] < growth.theirs[0]
        panel.legend(frameon=False, loc="center right" if ours_below else "lower right")
    last = panels[len(growths)]
    if scaling:
        rows = np.arange(len(scaling))
        for off, key, color in ((-0.2, "clock", "#b9c9c3"), (0.2, "processor", "#1b6e53")):
            last.barh(rows + off, [row[f"{key}_s"] for row in scaling], 0.36, color=color, label=key)
        last.set_yticks(rows, [str(row["arm"]) for row in scaling])
        last.set_xlim(0, 1.8 * max(row["clock_s"] for row in scaling))
        last.invert_yaxis()
        last.set_title("workers: the same study")
        last.set_xlabel("time [s]")
        last.legend(frameon=False, loc="center right")
    else:
        last.set_visible(False)
    figure.savefig(path, dpi=110)


def main() -> int:
    """Measure, print a table, draw."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--quick", action="store_true", help="few sizes: two minutes")
    words.add_argument("--picture", type=Path, help="draw the growth into this PNG or SVG file")
    words.add_argument("--scaling", type=Path, help="figures of scaling.py for the picture")
    given = words.parse_args()
    print("| over | size | this toolkit [s] | plain [s] | plain over this |\n|---|---|---|---|---|")
    holes = of_plan("holes", (3, 9, 18) if given.quick else (3, 9, 18, 36), features=False)
    copies = of_plan("features of 3 holes, times", (1, 2, 4), features=True)
    growths = [holes, copies, *of_solving(given.quick)]
    steep = []
    print("\n| step | power of growth with features | with holes |\n|---|---|---|")
    for step in STEPS:
        powers = [growth.power(growth.by_step[step]) for growth in (copies, holes)]
        print(f"| {step} | {powers[0]:.2f} | {powers[1]:.2f} |")
        steep += [step] if powers[0] > MOST_POWER else []
    if given.picture:
        scaling = json.loads(given.scaling.read_text(encoding="utf-8")) if given.scaling else []
        picture(growths, scaling, given.picture)
    for step in steep:
        print(f"grows by more than features do: {step}")
    return int(bool(steep))


if __name__ == "__main__":
    raise SystemExit(main())
