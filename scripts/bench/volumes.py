"""How exact and how fast volumes, triangles and shaping are, beside plain NumPy, plain Python and sections.

    python scripts/bench/volumes.py

Prints errors against solids with a formula for two cell sizes, then times on a surface of 2,000 x 2,000
cells. Every timed answer is checked.
"""

from __future__ import annotations

import platform
import time
from collections.abc import Callable

import numpy as np
from shapely.geometry import Point

from gistools.compute.terrain.shapes import Shape
from gistools.compute.terrain.shaping import shape_ground
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.tin import build_tin
from gistools.compute.terrain.volumes import cut_and_fill

SOLIDS: dict[str, tuple[Callable, float]] = {
    "cone frustum": (lambda r: np.clip((20 - r) / 2, 0, 5), 3665.1914),
    "spherical cap": (lambda r: np.maximum(np.sqrt(np.maximum(2500 - r**2, 0)) - 47, 0), 1385.4424),
    "Gaussian": (lambda r: 2 * np.exp(-(r**2) / 72), 452.3893),
    "cone": (lambda r: 3 * np.maximum(1 - r / 10, 0), 314.1593),
}


def solid(height: Callable, cell: float, off: float) -> tuple[Surface, Surface]:
    n = round(70 / cell)
    x = -35 + off + (np.arange(n) + 0.5) * cell
    z = height(np.hypot(x[None, :], x[::-1][:, None] + 0.13))
    return Surface(np.zeros_like(z), -35, 35, cell), Surface(z, -35, 35, cell)


def timed(work: Callable[[], float], repeat: int = 3) -> tuple[float, float]:
    best, answer = float("inf"), float("nan")
    for _ in range(repeat):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return best, answer


def plain_python(before: Surface, after: Surface) -> float:
    fill = 0.0
    for a, b in zip(before.z.tolist(), after.z.tolist(), strict=True):
        for p, q in zip(a, b, strict=True):
            if q > p:
                fill += q - p
    return fill * before.cell**2


def accuracy() -> None:
    print("worst error of the volume over eight places of the grid, and the least error it states itself")
    for name, (height, exact) in SOLIDS.items():
        for cell, allowed in ((1.0, 1.0), (0.25, 0.1)):
            volumes = [cut_and_fill(*solid(height, cell, o)) for o in np.linspace(0, cell, 9)[:-1]]
            worst = max(abs(v.fill_m3 / exact - 1) for v in volumes) * 100
            stated = np.mean([v.grid_error_m3 for v in volumes]) / exact * 100
            print(
                f"  {name:14s} {cell:4.2f} m  {worst:8.5f} %  (stated {stated:8.5f} %, allowed {allowed} %)"
            )
            assert worst < allowed


def speed() -> None:
    rng = np.random.default_rng(1)
    n, cell = 2000, 0.5
    ramp = np.add.outer(np.arange(n), np.arange(n)) * 0.001
    before = Surface(ramp + rng.normal(0, 0.01, (n, n)), 0, n * cell, cell)
    after = Surface(before.z + rng.normal(0, 0.2, (n, n)), 0, n * cell, cell)
    print(f"\ncut and fill, {n} x {n} cells")
    ours, got = timed(lambda: cut_and_fill(before, after).fill_m3)
    area = Point(500, 500).buffer(450)
    within, _ = timed(lambda: cut_and_fill(before, after, within=area).fill_m3)

    def by_numpy() -> float:
        return float(np.clip(after.z - before.z, 0, None).sum()) * cell**2

    numpy, same = timed(by_numpy)
    python, also = timed(lambda: plain_python(before, after), repeat=1)
    assert abs(got / same - 1) < 1e-9 and abs(got / also - 1) < 1e-9

    def by_sections() -> float:
        return float(np.trapezoid(np.trapezoid(after.z - before.z, dx=cell), dx=cell))

    sections, net = timed(by_sections)
    print(
        f"  here                         {ours:7.3f} s  (errors, areas, missing ground included; limit 3 s)"
    )
    print(f"  here, inside an outline      {within:7.3f} s")
    print(f"  one line of NumPy            {numpy:7.3f} s  {numpy / ours:6.2f} x")
    print(
        f"  by {n} sections            {sections:7.3f} s  {sections / ours:6.2f} x  (net {net:.0f} m3,"
        f" no cut and fill apart)"
    )
    print(f"  plain Python                 {python:7.3f} s  {python / ours:6.2f} x")


def shapes_and_triangles() -> None:
    n, cell = 800, 0.5
    x = np.arange(n) * cell
    z = 1.5 * np.sin(x / 31)[None, :] * np.cos(x / 23)[:, None]
    ground = Surface(z, 0, n * cell, cell)
    shapes = [
        Shape("mound", Point(150, 150).buffer(25), rise_m=2.0),
        Shape("hollow", Point(220, 180).buffer(10), rise_m=-1.2, side_slope_pct=40),
        Shape("platform", Point(300, 300).buffer(15), level_m=3.0),
    ]
    laying, _ = timed(lambda: float(shape_ground(ground, shapes).surface.z.max()))
    print(f"\nthree shapes on {n} x {n} cells           {laying:7.3f} s")
    for tolerance in (0.05, 0.02):
        seconds, worst = timed(lambda t=tolerance: build_tin(ground, tolerance_m=t).worst_m, repeat=1)  # type: ignore[misc]
        tin = build_tin(ground, tolerance_m=tolerance)
        assert worst <= tolerance
        print(
            f"triangles within {tolerance} m of {n} x {n} cells {seconds:7.3f} s  {len(tin.points)} points"
            f" for {n * n} cells ({n * n / len(tin.points):.0f} x fewer)"
        )


if __name__ == "__main__":
    print(f"{platform.machine()}, Python {platform.python_version()}, NumPy {np.__version__}\n")
    accuracy()
    speed()
    shapes_and_triangles()
