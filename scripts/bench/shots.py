"""How fast balls fly and land: against SciPy, against plain Python, and a million complete shots.

    python scripts/bench/shots.py            a few minutes
    python scripts/bench/shots.py --most 7   throughput up to 10^7 shots

Every figure is a ratio against a named alternative of the same run, and every timed answer is compared with it first.
One thread: processor time, best of many. Several threads: by the clock on the wall, so only right on an idle machine.
"""

from __future__ import annotations

import argparse
import itertools
import math
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from scipy.integrate import solve_ivp
from scipy.ndimage import gaussian_filter

from gistools.ground.surface import Surface
from gistools.kinds import Kind
from gistools.shots import _kernels
from gistools.shots.air import STANDARD_DAY, Wind, air_for
from gistools.shots.flight import NO_OBSTACLES, STEP_S
from gistools.shots.players import built_in
from gistools.shots.simulate import records, struck
from gistools.shots.turf import land_for

WIND = Wind("west", 5.0, 250.0)
CORES = os.cpu_count() or 1


def clock(work: Callable[[], object], least_s: float = 1.0, *, wall: bool = False) -> float:
    """Best time of one call [s], of as many as fit: processor time of this thread, or by the clock on the wall."""
    now = time.perf_counter if wall else time.thread_time
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
    """The same, a flight at a time, plain numbers: the kernel as plain Python runs it when compilation is off."""
    v, a, w, _ = (x.tolist() for x in launches(n))
    air = air_for(STANDARD_DAY, WIND)
    return np.array(
        [
            _kernels.fly_to_level(
                air, step, 0.0, v[k] * math.cos(a[k]), v[k] * math.sin(a[k]), 1.0, 0.0, 0.0, w[k], 0.0
            )
            for k in range(n)
        ]
    )


def with_scipy(n: int, rtol: float, method: str) -> np.ndarray:
    """Carries by solve_ivp: the equations of motion as one writes them, with plain numbers."""
    v, a, w, _ = (x.tolist() for x in launches(n))
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

    def ground(t: float, s: list[float]) -> float:
        return s[2] if t > 0.2 else 1.0

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    out = []
    for k in range(n):
        start = [0, 0, 0, 0, v[k] * math.cos(a[k]), v[k] * math.sin(a[k]), w[k]]
        got = solve_ivp(rates, (0, 20), start, method=method, rtol=rtol, atol=rtol, events=ground)
        out.append(got.y_events[0][0][:2])
    return np.array(out)


def plain_python(which: str, n: int) -> float:
    """Seconds a flight takes with compilation off, in another process."""
    code = (
        "import sys, time; sys.path.insert(0, 'scripts/bench'); import shots;"
        f"print(min(shots.clock(lambda: shots.{which}({n})) for _ in range(2)) / {n})"
    )
    told = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "GISTOOLS_JIT": "0"},
    )
    return float(told.stdout)


def flights() -> None:
    n = 20_000
    direct(64), direct(64, threads=CORES), one_by_one(2)
    exact = with_scipy(40, 1e-10, "DOP853")
    error = np.abs(direct(40)[:, :2] - exact).max()
    assert error < 0.01, f"{error} m from DOP853"
    print(
        f"\ndirect integration, step {STEP_S} s, wind with height; largest error against DOP853 at 1e-10: {1000 * error:.1f} mm"
    )
    ours, both = clock(lambda: direct(n)) / n, clock(lambda: direct(n, threads=CORES), 3.0, wall=True) / n
    single = clock(lambda: one_by_one(2_000)) / 2_000
    print(f"  ours, one thread          {1e6 * ours:8.2f} us a flight")
    print(f"  ours, {CORES} threads           {1e6 * both:8.2f} us a flight")
    print(f"  ours, called one by one   {1e6 * single:8.2f} us a flight")
    for method, rtol in (("DOP853", 1e-6), ("RK45", 1e-6)):
        off = np.abs(with_scipy(40, rtol, method) - exact).max()
        took = clock(lambda m=method, r=rtol: with_scipy(40, r, m)) / 40  # type: ignore[misc]
        print(
            f"  solve_ivp {method:7s} {rtol:g}    {1e6 * took:8.0f} us a flight, error {1000 * off:5.1f} mm:"
            f" {took / ours:6.0f} x one thread, {took / both:6.0f} x {CORES} threads"
        )
    for which, text in (("one_by_one", "one flight at a time"), ("direct", "flights side by side, as ours")):
        took = plain_python(which, 64)
        print(
            f"  plain Python, {text:29s} {1e6 * took:8.0f} us a flight:"
            f" {took / ours:6.0f} x one thread, {took / both:6.0f} x {CORES} threads"
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
    land = land_for(surface, kinds)
    player = built_in("scratch man")
    club = player.clubs[0]
    table = club.table(STANDARD_DAY, WIND)
    start = (0.0, 0.0, float(surface.height(0.0, 0.0)))
    headings, scales = struck(player, club, "tee", 0.0, 2**16)
    first = np.concatenate(list(records(land, NO_OBSTACLES, table, start, headings[:512], scales[:512])))
    told = np.empty_like(first)
    angle, spin, tilt = club.launch.radians
    _kernels.play_directly(
        land, NO_OBSTACLES, air_for(STANDARD_DAY, WIND), 0.02, *start, club.launch.speed_ms, angle, spin, tilt,
        headings[:512], scales[:512], told,
    )  # fmt: skip
    off = np.hypot(first[:, 0] - told[:, 0], first[:, 1] - told[:, 1])
    assert np.median(off) < 0.05 and np.isfinite(first).all()
    took = clock(
        lambda: _kernels.play_directly(
            land, NO_OBSTACLES, air_for(STANDARD_DAY, WIND), STEP_S, *start, club.launch.speed_ms, angle, spin, tilt,
            headings[:512], scales[:512], told,
        )
    ) / 512  # fmt: skip
    print(
        f"\ncomplete driver shots on 0.5 m ground ({surface.z.shape[0]} x {surface.z.shape[1]} cells), tabulated flight"
    )
    print(
        f"  landing against direct integration: median {1000 * np.median(off):.0f} mm, largest {1000 * off.max():.0f} mm"
    )
    ours = clock(
        lambda: list(records(land, NO_OBSTACLES, table, start, headings[:4000], scales[:4000], threads=1))
    )
    print(
        f"  one thread: {1e6 * ours / 4000:.1f} us a shot from the table, {1e6 * took:.1f} us with direct flight"
    )
    for power in range(4, most + 1):
        n = 10**power
        begun = time.perf_counter()
        done = 0
        while done < n:
            part = min(n - done, len(headings))
            for out in records(land, NO_OBSTACLES, table, start, headings[:part], scales[:part]):
                assert np.isfinite(out[:, 4]).all()
                done += len(out)
        spent = time.perf_counter() - begun
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"  10^{power} shots: {spent:7.2f} s, {n / spent / 1e3:7.0f} thousand a second, peak memory {memory:.0f} MB"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--most", type=int, default=6, help="power of ten of the largest run")
    chosen = parser.parse_args()
    print(
        f"{platform.processor() or platform.machine()}, {CORES} processors, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"
    )
    flights()
    shots(chosen.most)
