"""How fast balls fly and land: against SciPy, against plain Python, and a million complete shots.

    python scripts/bench/shots.py            a few minutes
    python scripts/bench/shots.py --most 7   throughput up to 10^7 shots

Every figure is a ratio against a named alternative of the same run, and every timed answer is compared with
it first. One thread: processor time, best of many. Several threads: by the clock on the wall, which is only
right on an idle machine, and by the processor time of all of them over their number, which neighbours disturb
less and an idle machine's clock confirms.
"""

from __future__ import annotations

import argparse
import itertools
import math
import os
import platform
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.ndimage import gaussian_filter

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import STANDARD_DAY, Wind, air_for
from gistools.compute.ballistics.flight import NO_OBSTACLES, STEP_S
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.simulate import records, sample_launches
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.terrain.surface import Surface

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "ballistics"))
from direct_flight import play_directly

WIND = Wind("west", 5.0, 250.0)
CORES = os.cpu_count() or 1


def clock(
    work: Callable[[], object], least_s: float = 1.0, now: Callable[[], float] = time.thread_time
) -> float:
    """Best time of one call [s], of as many as fit: processor time of this thread, or by another clock."""
    best, spent = math.inf, 0.0
    while spent < least_s:
        begun = now()
        work()
        took = now() - begun
        best, spent = min(best, took), spent + took
    return best


def launches(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    return rng.uniform(40, 75, n), np.radians(rng.uniform(9, 30, n)), rng.uniform(250, 900, n), np.zeros(n)


def direct(n: int, step: float = STEP_S, threads: int = 1) -> np.ndarray:
    """Carries of n flights by direct integration."""
    v, a, w, d = launches(n)
    out = np.empty((n, 8))
    air = air_for(STANDARD_DAY, WIND)
    if threads == 1:
        _kernels.fly_many_to_level(air, step, v, a, w, d, 0.0, out)
        return out
    cuts = np.linspace(0, n, threads * 4 + 1).astype(int)
    with ThreadPoolExecutor(threads) as pool:
        list(
            pool.map(
                lambda c: _kernels.fly_many_to_level(
                    air,
                    step,
                    v[c[0] : c[1]],
                    a[c[0] : c[1]],
                    w[c[0] : c[1]],
                    d[c[0] : c[1]],
                    0.0,
                    out[c[0] : c[1]],
                ),
                itertools.pairwise(cuts),
            )
        )
    return out


def one_by_one(n: int, step: float = STEP_S) -> np.ndarray:
    """The same, a flight at a time, by the kernel for single flights."""
    v, a, w, _ = (x.tolist() for x in launches(n))
    air = air_for(STANDARD_DAY, WIND)
    return np.array(
        [_kernels.fly_to_level(air, step, v[k], a[k], w[k], 0.0, 0.0).state[:2] for k in range(n)]
    )


def equations() -> Callable[[float, list[float]], list[float]]:
    """The equations of motion as one writes them, with plain numbers: for solve_ivp and for plain Python."""
    air = air_for(STANDARD_DAY, WIND)
    half = 0.5 * air.density * _kernels.AREA_PER_MASS

    def rates(_: float, s: list[float]) -> list[float]:
        share = 1.0 + air.shear * math.log(max(s[2], 2.0) / 10.0)
        ux, uy, uz = s[3] - air.wind_east * share, s[4] - air.wind_north * share, s[5]
        speed = math.sqrt(ux * ux + uy * uy + uz * uz)
        cl = 0.34 * (1 - math.exp(-_kernels.RADIUS * s[6] / speed / 0.145))
        re = 2 * _kernels.RADIUS * speed / air.viscosity
        cd = 0.21 + 1.05 * cl * cl + 0.30 / (1 + math.exp((re - 61000) / 7000))
        across = math.hypot(uy, uz)
        lift, drag = half * speed * speed * cl / across, half * speed * cd
        return [
            s[3], s[4], s[5],
            -drag * ux, -drag * uy - lift * uz, -drag * uz + lift * uy - _kernels.G,
            -_kernels.SPIN_DECAY * s[6] * speed / _kernels.RADIUS,
        ]  # fmt: skip

    return rates


def with_scipy(n: int, rtol: float, method: str) -> np.ndarray:
    """Landing places by solve_ivp."""
    v, a, w, _ = (x.tolist() for x in launches(n))
    rates = equations()

    def ground(t: float, s: list[float]) -> float:
        return s[2] if t > 0.2 else 1.0

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    out = []
    for k in range(n):
        start = [0, 0, 0, 0, v[k] * math.cos(a[k]), v[k] * math.sin(a[k]), w[k]]
        got = solve_ivp(rates, (0, 20), start, method=method, rtol=rtol, atol=rtol, events=ground)
        out.append(got.y_events[0][0][:2])
    return np.array(out)


def crossing(h: float, z: float, vz: float, z1: float, vz1: float) -> float:
    """Share of a step at which the cubic through both ends comes down through 0, by Newton's method."""
    u = z / (z - z1)
    for _ in range(4):
        f = z + u * (h * vz + u * (3 * (z1 - z) - h * (2 * vz + vz1) + u * (2 * (z - z1) + h * (vz + vz1))))
        slope = h * vz + u * (
            2 * (3 * (z1 - z) - h * (2 * vz + vz1)) + 3 * u * (2 * (z - z1) + h * (vz + vz1))
        )
        u -= f / slope
    return u


def cubic(u: float, h: float, p: float, v: float, p1: float, v1: float) -> float:
    return p + u * (h * v + u * (3 * (p1 - p) - h * (2 * v + v1) + u * (2 * (p - p1) + h * (v + v1))))


def textbook(n: int, step: float = STEP_S) -> np.ndarray:
    """Landing places by plain Python as a textbook has it: a Runge-Kutta step for any equations, on lists."""
    v, a, w, _ = (x.tolist() for x in launches(n))
    rates = equations()

    def advance(s: list[float], h: float) -> list[float]:
        k1 = rates(0.0, s)
        k2 = rates(0.0, [p + 0.5 * h * q for p, q in zip(s, k1, strict=True)])
        k3 = rates(0.0, [p + 0.5 * h * q for p, q in zip(s, k2, strict=True)])
        k4 = rates(0.0, [p + h * q for p, q in zip(s, k3, strict=True)])
        return [
            p + h / 6 * (q1 + 2 * q2 + 2 * q3 + q4)
            for p, q1, q2, q3, q4 in zip(s, k1, k2, k3, k4, strict=True)
        ]

    out = []
    for k in range(n):
        s = [0.0, 0.0, 0.0, 0.0, v[k] * math.cos(a[k]), v[k] * math.sin(a[k]), w[k]]
        while True:
            new = advance(s, step)
            if new[2] <= 0.0:
                break
            s = new
        u = crossing(step, s[2], s[5], new[2], new[5])
        out.append([cubic(u, step, s[c], s[c + 3], new[c], new[c + 3]) for c in (0, 1)])
    return np.array(out)


def by_hand(n: int, step: float = STEP_S) -> np.ndarray:
    """Landing places by plain Python written out by hand for speed: no lists, no loops over components."""
    v, a, w, _ = (x.tolist() for x in launches(n))
    air = air_for(STANDARD_DAY, WIND)
    half, radius, decay = 0.5 * air.density * _kernels.AREA_PER_MASS, _kernels.RADIUS, -_kernels.SPIN_DECAY
    east, north, shear, re, g = (
        air.wind_east,
        air.wind_north,
        air.shear,
        2 * radius / air.viscosity,
        _kernels.G,
    )
    sqrt, exp, log = math.sqrt, math.exp, math.log

    def push(z: float, vx: float, vy: float, vz: float, spin: float) -> tuple[float, float, float, float]:
        share = 1.0 + shear * log((z if z > 2.0 else 2.0) / 10.0)
        ux, uy = vx - east * share, vy - north * share
        speed = sqrt(ux * ux + uy * uy + vz * vz)
        cl = 0.34 * (1 - exp(-radius * spin / speed / 0.145))
        drag = half * speed * (0.21 + 1.05 * cl * cl + 0.30 / (1 + exp((re * speed - 61000) / 7000)))
        lift = half * speed * speed * cl / sqrt(uy * uy + vz * vz)
        return -drag * ux, -drag * uy - lift * vz, -drag * vz + lift * uy - g, decay * spin * speed / radius

    h, k6 = 0.5 * step, step / 6
    out = []
    for k in range(n):
        x = y = z = vx = 0.0
        vy, vz, spin = v[k] * math.cos(a[k]), v[k] * math.sin(a[k]), w[k]
        while True:
            a1, b1, c1, d1 = push(z, vx, vy, vz, spin)
            vx2, vy2, vz2 = vx + h * a1, vy + h * b1, vz + h * c1
            a2, b2, c2, d2 = push(z + h * vz, vx2, vy2, vz2, spin + h * d1)
            vx3, vy3, vz3 = vx + h * a2, vy + h * b2, vz + h * c2
            a3, b3, c3, d3 = push(z + h * vz2, vx3, vy3, vz3, spin + h * d2)
            vx4, vy4, vz4 = vx + step * a3, vy + step * b3, vz + step * c3
            a4, b4, c4, d4 = push(z + step * vz3, vx4, vy4, vz4, spin + step * d3)
            x1 = x + k6 * (vx + 2 * (vx2 + vx3) + vx4)
            y1 = y + k6 * (vy + 2 * (vy2 + vy3) + vy4)
            z1 = z + k6 * (vz + 2 * (vz2 + vz3) + vz4)
            wx, wy = vx + k6 * (a1 + 2 * (a2 + a3) + a4), vy + k6 * (b1 + 2 * (b2 + b3) + b4)
            wz = vz + k6 * (c1 + 2 * (c2 + c3) + c4)
            if z1 <= 0.0:
                break
            spin += k6 * (d1 + 2 * (d2 + d3) + d4)
            x, y, z, vx, vy, vz = x1, y1, z1, wx, wy, wz
        u = crossing(step, z, vz, z1, wz)
        out.append((cubic(u, step, x, vx, x1, wx), cubic(u, step, y, vy, y1, wy)))
    return np.array(out)


def flights() -> None:
    n = 50_000
    direct(64), direct(64, threads=CORES), one_by_one(2)
    exact = with_scipy(40, 1e-10, "DOP853")
    error = np.abs(direct(40)[:, :2] - exact).max()
    single = np.abs(direct(2000)[:, :2] - one_by_one(2000)[:, :2]).max()
    half = np.abs(direct(n)[:, :2] - direct(n, STEP_S / 2)[:, :2]).max()
    assert half < 0.01, f"halving the step moves a landing by {half} m"
    assert error < 0.01, f"{error} m from DOP853"
    print(
        f"\ndirect integration, step {STEP_S} s, wind with height; largest error against DOP853 at"
        f" 1e-10: {1000 * error:.1f} mm"
    )
    print(
        f"  single precision moves a landing by {1000 * single:.2f} mm at most, half the step by"
        f" {1000 * half:.1f} mm"
    )
    ours = clock(lambda: direct(n), 2.0) / n
    both = clock(lambda: direct(n, threads=CORES), 2.0, time.process_time) / CORES / n
    wall = clock(lambda: direct(n, threads=CORES), 2.0, time.perf_counter) / n
    alone = clock(lambda: one_by_one(2_000)) / 2_000
    print(f"  ours, one thread          {1e6 * ours:8.3f} us a flight")
    print(f"  ours, {CORES} threads           {1e6 * both:8.3f} us a flight, on the wall {1e6 * wall:.3f}")
    print(f"  ours, called one by one   {1e6 * alone:8.3f} us a flight")
    for method, rtol in (("DOP853", 1e-6), ("RK45", 1e-6)):
        off = np.abs(with_scipy(40, rtol, method) - exact).max()
        took = clock(lambda m=method, r=rtol: with_scipy(40, r, m)) / 40  # type: ignore[misc]
        print(
            f"  solve_ivp {method:7s} {rtol:g}    {1e6 * took:8.0f} us a flight, error {1000 * off:5.1f} mm:"
            f" {took / ours:6.0f} x one thread, {took / both:6.0f} x {CORES} threads"
            f" ({took / wall:.0f} on the wall)"
        )
    for program, text in ((textbook, "as a textbook has it"), (by_hand, "written out by hand")):
        off = np.abs(program(40) - exact).max()
        took = clock(lambda p=program: p(100)) / 100  # type: ignore[misc]
        print(
            f"  plain Python, {text:21s} {1e6 * took:8.0f} us a flight, error {1000 * off:5.1f} mm:"
            f" {took / ours:6.0f} x one thread, {took / both:6.0f} x {CORES} threads"
            f" ({took / wall:.0f} on the wall)"
        )


def ground() -> Surface:
    """Links-like ground, 400 m by 300 m on cells of 0.5 m."""
    rng = np.random.default_rng(2)
    z = gaussian_filter(rng.normal(size=(800, 600)), 16)
    return Surface(z / z.std() * 1.2, -150.0, 350.0, 0.5)


def shots(most: int) -> None:
    surface = ground()
    kinds = np.full(surface.z.shape, Kind.FAIRWAY, np.uint8)
    kinds[::40, :] = Kind.ROUGH
    land = turf_grid(surface, kinds)
    player = built_in("scratch man")
    club = player.clubs[0]
    table = club.table(STANDARD_DAY, WIND)
    start = (0.0, 0.0, float(surface.height(0.0, 0.0)))
    headings, scales = sample_launches(player, club, "tee", 0.0, 2**16)
    first = np.concatenate(list(records(land, NO_OBSTACLES, table, start, headings[:512], scales[:512])))
    shot = start, club.launch, headings[:512], scales[:512]
    exact = play_directly(land, NO_OBSTACLES, air_for(STANDARD_DAY, WIND), 0.02, *shot)
    off = np.hypot(first["land_x"] - exact["land_x"], first["land_y"] - exact["land_y"])
    assert np.median(off) < 0.05 and np.isfinite(first["x"]).all()
    took = clock(lambda: play_directly(land, NO_OBSTACLES, air_for(STANDARD_DAY, WIND), STEP_S, *shot)) / 512
    print(
        f"\ncomplete driver shots on 0.5 m ground ({surface.z.shape[0]} x {surface.z.shape[1]} cells),"
        f" tabulated flight"
    )
    print(
        f"  landing against direct integration: median {1000 * np.median(off):.0f} mm, largest"
        f" {1000 * off.max():.0f} mm"
    )
    ours = clock(
        lambda: list(records(land, NO_OBSTACLES, table, start, headings[:4000], scales[:4000], threads=1))
    )
    print(
        f"  one thread: {1e6 * ours / 4000:.1f} us a shot from the table, {1e6 * took:.1f} us with"
        f" direct flight"
    )

    def run(n: int) -> None:
        done = 0
        while done < n:
            part = min(n - done, len(headings))
            for out in records(land, NO_OBSTACLES, table, start, headings[:part], scales[:part]):
                assert np.isfinite(out["x"]).all()
                done += len(out)

    for power in range(4, most + 1):
        n = 10**power
        spent, busy = math.inf, math.inf
        begun = time.perf_counter()
        while (
            spent == math.inf or time.perf_counter() - begun < 2.0
        ):  # a short run alone measures the neighbours
            since, used = time.perf_counter(), time.process_time()
            run(n)
            spent = min(spent, time.perf_counter() - since)
            busy = min(busy, time.process_time() - used)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"  10^{power} shots: {spent:7.2f} s, {n / spent / 1e3:7.0f} thousand a second,"
            f" processor time {1e6 * busy / n:.2f} us a shot, peak memory {memory:.0f} MB"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--most", type=int, default=6, help="power of ten of the largest run")
    chosen = parser.parse_args()
    print(
        f"{platform.processor() or platform.machine()}, {CORES} processors, Python"
        f" {platform.python_version()}, load {os.getloadavg()[0]:.1f}"
    )
    flights()
    shots(chosen.most)
