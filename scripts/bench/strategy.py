"""How fast a hole is solved.

Expected strokes on the sample's hole 1, and outcomes per second against plain code.

Prints processor seconds next to the clock, since other work on the machine only shows in the latter.
"""

from __future__ import annotations

import math
import os
import resource
import tempfile
import time
from pathlib import Path

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision import outcome_tables
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.outcome_kernels import Action, Sampling
from gistools.compute.decision.value_iteration import solve
from gistools.compute.decision.value_iteration_kernels import action_value
from gistools.hole import HoleModel
from gistools.site.sample import sample_site

CORES = os.cpu_count() or 1
SAMPLES = 128


def numpy_value(s, tables, shot, heading, samples, x, y, z) -> np.ndarray:
    """The same question in NumPy, in calm air and with the table filled: all samples at once."""
    g, k = s.ground, slice(samples - _kernels.SMALLEST_SET, 2 * samples - _kernels.SMALLEST_SET)
    part = tables.sample[shot, 0][:, k].astype(float)
    angle = 2 * np.pi * heading / _kernels.HEADINGS
    sh, ch = np.sin(angle), np.cos(angle)
    east = part[0:8:2] * sh + part[1:8:2] * ch
    north = part[0:8:2] * ch - part[1:8:2] * sh

    def cells(px, py):  # outside the ground the cell at its edge: such shots are timed and not compared
        i, j = ((g.y_north - py) / g.cell).astype(int), ((px - g.x_west) / g.cell).astype(int)
        return i.clip(0, g.kind.shape[0] - 1), j.clip(0, g.kind.shape[1] - 1)

    lx, ly, h = x + east[0], y + north[0], 0.0
    for _ in range(2):
        h = np.clip(g.level[cells(lx, ly)] - z, tables.lowest_m[shot], tables.highest_m[shot])
        lx = x + east[0] + h * (east[1] + h * east[2])
        ly = y + north[0] + h * (north[1] + h * north[2])
    i, j = cells(lx, ly)
    band = np.clip((h * tables.bands_per_m[shot] + _kernels.LEVEL + 0.5).astype(int), 0, _kernels.BANDS - 1)
    node = (part[9] + 0.5).astype(int)
    b = (heading * _kernels.BINS / _kernels.HEADINGS + part[8] + 0.5 + _kernels.BINS).astype(
        int
    ) % _kernels.BINS
    cell_id = g.landing_cell_id[i * g.kind.shape[1] + j] >> _kernels.KIND_BITS
    e = g.outcome[tables.landing_class[shot, 0, node, band], b, cell_id]
    along, across = ((e >> 16) - 2048) * _kernels.RUN_UNIT_M, (((e >> 5) & 2047) - 1024) * _kernels.RUN_UNIT_M
    turf = np.where(g.kind[i, j] == 2, 0, np.where(g.kind[i, j] == 1, 1, 2))
    more = tables.run_change[shot, 0, node, band]
    row = np.arange(samples)
    grow = more[row, turf] * (1 + (part[9] - node) * more[:, 6])
    along, across = along * grow + more[row, 3 + turf], across * grow + more[row, 7 + turf]
    ends = g.ends[g.kind[i, j]] == _kernels.RUNS
    fx = np.where(ends, lx + along * east[3] + across * north[3], lx)
    fy = np.where(ends, ly + along * north[3] - across * east[3], ly)
    i, j = cells(fx, fy)
    state = g.state_id[i * g.kind.shape[1] + j] >> _kernels.KIND_BITS
    return 1.0 + s.value[state].mean(axis=0)


def python_value(s, tables, shot, samples):
    """The same in plain Python, a sample at a time, from lists made once.

    Returns a function of heading and place.
    """
    g = s.ground
    first, cols = samples - _kernels.SMALLEST_SET, g.kind.shape[1]
    parts = tables.sample[shot, 0][:, first : first + samples].astype(float).T.tolist()
    level, under, rest = g.level.ravel().tolist(), g.landing_cell_id.tolist(), g.state_id.tolist()
    value, ends, table = s.value.tolist(), g.ends.tolist(), g.outcome
    classes, longer = tables.landing_class[shot, 0].tolist(), tables.run_change[shot, 0].tolist()
    floor, ceiling = float(tables.lowest_m[shot]), float(tables.highest_m[shot])
    per_band = float(tables.bands_per_m[shot])
    west, y_north, cell = g.x_west, g.y_north, g.cell
    mask, bits = _kernels.KIND_MASK, _kernels.KIND_BITS

    def evaluate(heading, x, y, z):
        angle = 2 * math.pi * heading / _kernels.HEADINGS
        sh, ch = math.sin(angle), math.cos(angle)
        q = [0.0] * len(s.pins)
        for f0, r0, f1, r1, f2, r2, way_f, way_r, bins, speed in parts:
            e0, n0, e1, n1 = f0 * sh + r0 * ch, f0 * ch - r0 * sh, f1 * sh + r1 * ch, f1 * ch - r1 * sh
            e2, n2, we, wn = (
                f2 * sh + r2 * ch,
                f2 * ch - r2 * sh,
                way_f * sh + way_r * ch,
                way_f * ch - way_r * sh,
            )
            lx, ly, h = x + e0, y + n0, 0.0
            for _ in range(2):
                h = level[int((y_north - ly) / cell) * cols + int((lx - west) / cell)] - z
                h = min(max(h, floor), ceiling)
                lx, ly = x + e0 + h * (e1 + h * e2), y + n0 + h * (n1 + h * n2)
            w = under[int((y_north - ly) / cell) * cols + int((lx - west) / cell)]
            kind = w & mask
            if ends[kind] == _kernels.RUNS:
                node = int(speed + 0.5)
                band = min(max(int(h * per_band + _kernels.LEVEL + 0.5), 0), _kernels.BANDS - 1)
                b = (
                    int(heading * _kernels.BINS / _kernels.HEADINGS + bins + 0.5 + _kernels.BINS)
                    % _kernels.BINS
                )
                e = int(table[classes[node][band], b, w >> bits])
                more, turf = longer[node][band], 0 if kind == 2 else 1 if kind == 1 else 2
                grow = more[turf] * (1 + (speed - node) * more[6])
                along = ((e >> 16) - 2048) * _kernels.RUN_UNIT_M * grow + more[3 + turf]
                across = (((e >> 5) & 2047) - 1024) * _kernels.RUN_UNIT_M * grow + more[7 + turf]
                lx, ly = lx + along * we + across * wn, ly + along * wn - across * we
            state = rest[int((y_north - ly) / cell) * cols + int((lx - west) / cell)] >> bits
            for p, v in enumerate(value[state]):
                q[p] += v
        return [1.0 + v / samples for v in q]

    return evaluate


@kernel
def evaluate_often(g, tables, pairs, times, place, value, buffer, q):
    """Evaluate shots on headings again and again, as the search does, without calls from Python."""
    sampling = Sampling(SAMPLES, 0.0, 0.0)
    for _ in range(times):
        for n in range(pairs.shape[0]):
            action_value(g, tables, place, Action(pairs[n, 0], pairs[n, 1]), sampling, value, buffer, q)


def processor(work) -> float:
    """Processor seconds a piece of work takes."""
    before = time.process_time()
    work()
    return time.process_time() - before


def outcomes_a_second(s) -> None:
    """Print evaluated outcomes a second: ours, NumPy, plain Python."""
    x, y = (float(v) for v in s.mesh.place[np.argsort(-s.value[:, 0] * (s.value[:, 0] < 4.5))[0], :2])
    z, pins = float(s.surface.height(x, y)), len(s.pins)
    tables = s.tables(int(s.mesh.lie[s.state(x, y)]))
    shots = np.flatnonzero(tables.carry_m < 1000)
    _, centre = s.best(x, y, 0)
    pairs = [(int(k), (centre + h) % _kernels.HEADINGS) for k in shots[:12] for h in range(-10, 10)]
    q, buffer = np.empty(pins), _kernels.make_sample_buffer()
    place, sampling = s.place(x, y), Sampling(SAMPLES, 0.0, 0.0)

    def loop(times):
        evaluate_often(s.ground, tables, np.array(pairs), times, place, s.value, buffer, q)

    loop(1)
    fast = 40 * len(pairs) * SAMPLES / processor(lambda: loop(40))
    array = (
        len(pairs)
        * SAMPLES
        / processor(
            lambda: [numpy_value(s, tables, shot, heading, SAMPLES, x, y, z) for shot, heading in pairs]
        )
    )
    off = []
    for shot, heading in pairs:
        out = s.outcomes(x, y, shot, heading, samples=SAMPLES, direct_below_m=0.0)
        if (out["state"] >= 0).all() and (out["penalty"] == 0).all():
            action_value(s.ground, tables, place, Action(shot, heading), sampling, s.value, buffer, q)
            off.append(np.abs(numpy_value(s, tables, shot, heading, SAMPLES, x, y, z) - q).max())
    few = pairs[:20]  # all with one club
    in_python = python_value(s, tables, few[0][0], SAMPLES)
    same = max(
        float(np.abs(in_python(h, x, y, z) - numpy_value(s, tables, k, h, SAMPLES, x, y, z)).max())
        for k, h in few
    )
    python = len(few) * SAMPLES / processor(lambda: [in_python(h, x, y, z) for _, h in few])
    print(f"outcomes a second and processor, {pins} pins: {fast / 1e6:.1f} million")
    print(
        f"  NumPy {array / 1e6:.2f} million ({fast / array:.0f} times slower; on {len(off)} shots that"
        f" lose nothing"
        f" it differs by at most {max(off, default=np.nan):.4f} strokes)"
    )
    print(
        f"  plain Python {python / 1e6:.4f} million ({fast / python:.0f} times slower; it differs from"
        f" NumPy by at most {same:.1e})"
    )


def one_player(g) -> None:
    """Print the time to solve a hole for 1, 2 and 4 pins, and of one more pin."""
    player = built_in("scratch man")
    shots, putter = shot_table_of(player, CALM), putter_of(player)
    solve(g.surface, g.land, g.target, shots, g.pins[:1], g.pin_xy[:1], putter=putter, keep=False)  # compile
    spent = {}
    for pins in (1, 2, 4):
        clock, cpu = time.perf_counter(), time.process_time()
        s = solve(
            g.surface, g.land, g.target, shots, g.pins[:pins], g.pin_xy[:pins], putter=putter, keep=False
        )
        spent[pins] = (time.perf_counter() - clock, time.process_time() - cpu)
        print(
            f"{len(s.mesh.order):,} states, {pins} pins: {spent[pins][0]:.2f} s by the clock,"
            f" {spent[pins][1]:.2f} s of processor"
        )
    extra = (spent[4][1] - spent[2][1]) / 2
    print(f"one more pin: {extra:.2f} s of processor, {extra / CORES:.2f} s on all processors")
    outcomes_a_second(s)


def many(g) -> None:
    """Print the time of a hole for four players in three winds, and what 18 holes would take."""
    players = ("scratch man", "bogey man", "scratch woman", "bogey woman")
    winds = (CALM, Wind("west", 6.0, 270.0), Wind("north", 6.0, 0.0))
    clock, total = time.perf_counter(), 0.0
    with tempfile.TemporaryDirectory() as folder:
        outcome_tables.table_folder = lambda: Path(folder)
        for name in players:
            for wind in winds:
                player = built_in(name)
                cpu = processor(
                    lambda p=player, w=wind: solve(
                        g.surface,
                        g.land,
                        g.target,
                        shot_table_of(p, w),
                        g.pins,
                        g.pin_xy,
                        putter=putter_of(p),
                    )
                )
                total += cpu
                print(f"  {name}, {wind.name}: {cpu:.1f} s of processor", flush=True)
    clock = time.perf_counter() - clock
    print(
        f"one hole, 4 players x 3 winds x {len(g.pins)} pins: {total:.0f} s of processor, {clock:.0f}"
        f" s by the clock"
    )
    print(
        f"18 holes like it (estimate): {18 * total / CORES / 60:.0f} minutes on {CORES} free processors,"
        f" {18 * clock / 60:.0f} minutes at the load of this run"
    )


def main() -> None:
    """Run and print."""
    print("load of the machine (1 min):", os.getloadavg()[0])
    g = HoleModel(sample_site(), 1).ground
    one_player(g)
    many(g)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"most memory: {peak:.2f} GB")


if __name__ == "__main__":
    main()
