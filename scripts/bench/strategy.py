"""How fast a hole is solved: expected strokes on the sample's hole 1, and outcomes per second against plain code.

Prints processor seconds next to the clock, since other work on the machine only shows in the latter.
"""

from __future__ import annotations

import os
import resource
import time

import numpy as np

from gistools.shots.air import CALM
from gistools.shots.players import built_in
from gistools.site.sample import sample_site
from gistools.strategy import _kernels
from gistools.strategy.bag import book_of, putter_of
from gistools.strategy.holes import ground_of
from gistools.strategy.strokes import solve


def numpy_worth(s, fans, shot, heading, samples, x, y, z) -> np.ndarray:
    """The same question in NumPy, on level ground and with the table filled: what one sample leaves, all at once."""
    g = s.ground
    first = samples - _kernels.SMALLEST
    d = fans.offset[shot, heading, first : first + samples].astype(float)
    lx, ly = x + d[:, 0], y + d[:, 1]
    for _ in range(2):
        i, j = ((g.y_north - ly) / g.cell).astype(int), ((lx - g.x_west) / g.cell).astype(int)
        h = g.level[i, j] - z
        lx = x + d[:, 0] + h * (d[:, 2] + h * d[:, 4])
        ly = y + d[:, 1] + h * (d[:, 3] + h * d[:, 5])
    i, j = ((g.y_north - ly) / g.cell).astype(int), ((lx - g.x_west) / g.cell).astype(int)
    b = ((heading + _kernels.PER_BIN // 2) // _kernels.PER_BIN) % _kernels.BINS
    e = g.table[fans.group[shot], b, g.slot[i, j]]
    along, across = ((e >> 32) - 32768) * _kernels.UNIT, (((e >> 16) & 65535) - 32768) * _kernels.UNIT
    angle = 2 * np.pi * heading / _kernels.HEADINGS
    fx = lx + along * np.sin(angle) + across * np.cos(angle)
    fy = ly + along * np.cos(angle) - across * np.sin(angle)
    i, j = ((g.y_north - fy) / g.cell).astype(int), ((fx - g.x_west) / g.cell).astype(int)
    return 1.0 + s.value[g.state[i, j]].mean(axis=0)


def main() -> None:
    """Run and print."""
    site = sample_site()
    player = built_in("scratch man")
    g = ground_of(site, 1)
    book = book_of(player, CALM)
    putter = putter_of(player)
    solve(g.surface, g.land, g.target, book, g.pins[:1], g.pin_xy[:1], putter=putter, keep=False)  # compile
    spent = {}
    for pins in (1, 2, 4):
        clock, cpu = time.perf_counter(), time.process_time()
        s = solve(
            g.surface, g.land, g.target, book, g.pins[:pins], g.pin_xy[:pins], putter=putter, keep=False
        )
        spent[pins] = (time.perf_counter() - clock, time.process_time() - cpu)
        print(
            f"{len(s.mesh.order):,} states, {pins} pins: {spent[pins][0]:.2f} s by the clock, {spent[pins][1]:.2f} s of processor"
        )
    extra = (spent[4][1] - spent[2][1]) / 2
    print(
        f"one more pin: {extra:.2f} s of processor, {extra / (os.cpu_count() or 1):.2f} s on all processors"
    )
    q = np.empty(4)
    x, y = 420150.0, 660270.0
    z = float(s.surface.height(x, y))
    lie = int(s.mesh.lie[s.state(x, y)])
    fans = s.fans(lie)
    shots = np.flatnonzero(fans.carry < 1000)
    pairs = [(int(k), h) for k in shots[:12] for h in range(0, 20)]
    cpu = time.process_time()
    for _ in range(20):
        for shot, heading in pairs:
            _kernels.worth(s.ground, fans, shot, heading, 128, x, y, z, s.value, 4, q)
    ours = 20 * len(pairs) * 128 / (time.process_time() - cpu)
    cpu = time.process_time()
    for shot, heading in pairs:
        numpy_worth(s, fans, shot, heading, 128, x, y, z)
    plain = len(pairs) * 128 / (time.process_time() - cpu)
    cpu = time.process_time()
    for shot, heading in pairs[:4]:
        _kernels.worth.py_func(s.ground, fans, shot, heading, 128, x, y, z, s.value, 4, q)
    python = 4 * 128 / (time.process_time() - cpu)
    print(f"outcomes a second and processor, 4 pins: {ours / 1e6:.1f} million")
    print(
        f"  NumPy {plain / 1e6:.2f} million ({ours / plain:.0f} times slower), plain Python {python / 1e6:.4f} million ({ours / python:.0f} times)"
    )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"most memory: {peak:.2f} GB")


if __name__ == "__main__":
    main()
