"""Flag views measured.

Speed, growth, memory, first call, and the same question put to a general-purpose viewshed.

Run: ``python scripts/bench/flag_views.py [--large]``. Prints figures with ratios of the same run; asserts
nothing about time. The question: what share of the flagstick is seen from every cell, for four pins. A
viewshed answers for one height of one place at a time; put from the flag, one run for each height on the
stick gives the share to that spacing. Both the whole program (start, reading and writing files) and its
computing alone (called in memory through the system's Python where that has the library) are given. It
answers cell by cell from its neighbours, ours follows each line: the first is quicker for one height, only
the second is exact. What hides the flag, where, and by how much it does not tell at all; ours does in the
same time.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

STICK, EYE = 2.13, 1.6


def links(rows: int, cols: int, seed: int = 1):
    """Dunes of a few metres with roughness of centimetres on 1 m cells."""
    from gistools.compute.terrain.surface import Surface

    rng = np.random.default_rng(seed)
    z = gaussian_filter(rng.normal(size=(rows, cols)), 12) * 60
    z += gaussian_filter(rng.normal(size=(rows, cols)), 2) * 0.3
    return Surface(z, 0.0, float(rows), 1.0)


def best(work, times: int = 3) -> tuple[float, float]:
    """Least wall time and least processor time (own and children's) of some runs [s].

    A busy machine spoils only the first.
    """
    runs = []
    for _ in range(times):
        start, busy = time.perf_counter(), processor()
        work()
        runs.append((time.perf_counter() - start, processor() - busy))
    return min(w for w, _ in runs), min(c for _, c in runs)


def processor() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def four_pins(rows: int, cols: int) -> np.ndarray:
    middle = np.array([np.floor(cols / 2) + 0.5, rows - 20.5])
    return middle + np.array([[0, 0], [8, 3], [-7, 8], [4, 12]])


def first_call() -> None:
    """Compile time of the kernels in a new cache, and their loading from it, each in a new process."""
    code = (
        "import time, numpy as np; from gistools.compute.terrain.surface import Surface; from"
        " gistools.compute.terrain.line_of_sight import Scene;"
        "t = time.perf_counter(); c = time.process_time(); Scene(Surface(np.ones((9, 9)), 0., 9.,"
        " 1.)).views([(2, 2)], [(5, 5)]);"
        "print(time.perf_counter() - t, time.process_time() - c)"
    )
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"XDG_CACHE_HOME": folder, "LOCALAPPDATA": folder}
        for word in ("compiled", "from cache"):
            out = subprocess.run(
                [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
            )
            wall, busy = (float(v) for v in out.stdout.split())
            print(f"  first call, {word:10}: {wall:6.2f} s, of processor time {busy:6.2f} s")


def whole_hole() -> float:
    """Four pins from every 1 m cell of a hole 500 m long; return seconds of processor time."""
    from gistools.compute.terrain.line_of_sight import Scene

    rows, cols = 520, 160
    s = links(rows, cols)
    x, y = s.centres()
    eyes = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
    pins = four_pins(rows, cols)
    took = 0.0
    for threads in (1, 2):
        scene = Scene(s, threads=threads)
        scene.views(eyes[:9], pins)
        wall, busy = best(lambda scene=scene: scene.views(eyes, pins, reach_m=500.0), 5)
        print(
            f"  {len(eyes)} viewpoints x 4 pins, lines to 500 m, {threads} thread(s): {wall:.3f} s,"
            f" processor time {busy:.3f} s ({busy / len(eyes) / 4 * 1e9:.0f} ns a line)"
        )
        took = busy if threads == 1 else took
    print(f"  prepared in {best(lambda: Scene(s))[1] * 1e3:.1f} ms")
    return took


def growth() -> None:
    """Time against cells: windows side by side along the hole, lines capped at 500 m."""
    from gistools.compute.terrain.line_of_sight import Scene

    last = None
    for cols in (250, 500, 1000, 2000):
        s = links(1000, cols)
        x, y = s.centres()
        scene, pin = Scene(s), (cols / 2, 500.0)
        row = []
        for reach in (300.0, np.inf):
            run = partial(scene.share_map, pin, x, y, reach_m=reach)
            row.append((best(run, 2)[1], int(np.isfinite(run()).sum())))
        for word, (busy, cells) in zip(("to 300 m", "any length"), row, strict=True):
            print(
                f"  {cells:8d} viewpoints, lines {word:10}: {busy:6.3f} s, {busy / cells * 1e9:5.0f}"
                f" ns a viewpoint"
            )
        last = row[1] if last is None else last
    print(f"  any length: time x {row[1][0] / last[0]:.1f} for viewpoints x {row[1][1] / last[1]:.1f}")
    for cell in (2.0, 1.0, 0.5):
        s = links(520, 160).resampled(cell)
        x, y = s.centres()
        scene = Scene(s)
        busy = best(lambda scene=scene, x=x, y=y: scene.share_map((80.0, 495.0), x, y), 2)[1]
        print(
            f"  the same hole on {cell} m cells: {s.z.size:7d} cells, {busy / s.z.size * 1e9:5.0f} ns a cell"
        )


def viewshed(ours_s: float) -> None:
    """The same question by the general-purpose program, where it is installed."""
    if shutil.which("gdal_viewshed") is None:
        print("  gdal_viewshed is not installed: not compared")
        return
    import rasterio
    from rasterio.transform import from_origin

    def save(path: Path, z: np.ndarray) -> None:
        where = from_origin(0, z.shape[0], 1, 1)
        profile = {
            "driver": "GTiff",
            "height": z.shape[0],
            "width": z.shape[1],
            "count": 1,
            "dtype": "float32",
        }
        with rasterio.open(path, "w", crs=27700, transform=where, **profile) as out:
            out.write(z.astype("float32"), 1)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rows, cols = 520, 160
        s = links(rows, cols)
        save(folder / "hole.tif", s.z)

        def run(x: float, y: float, height: float) -> None:
            options = f"-cc 0 -ox {x} -oy {y} -oz {height} -tz {EYE} -md 500".split()
            command = ["gdal_viewshed", "-q", *options, str(folder / "hole.tif"), str(folder / "out.tif")]
            subprocess.run(command, check=True)

        pins = four_pins(rows, cols)
        levels = np.linspace(0, STICK, 22)[1:]
        count = 4 * len(levels)
        whole = best(lambda: [run(x, y, h) for x, y in pins for h in levels], 1)[1] / count
        alone = in_memory(folder / "hole.tif", pins)
        for word, runs in (("top seen or not", 4), ("share to 10 cm", 84), ("share to 1 cm", 852)):
            print(
                f"  {word:15}, {runs:3d} runs: processor time {runs * whole:6.2f} s ="
                f" {runs * whole / ours_s:6.1f} x ours;"
                f" computing alone {runs * alone:6.3f} s = {runs * alone / ours_s:5.2f} x ours"
            )


def in_memory(path: Path, pins: np.ndarray) -> float:
    """Processor time of one viewshed from memory to memory [s], by the system's Python.

    Nan where it has no such library.
    """
    code = f"""
import time
from osgeo import gdal
held = gdal.GetDriverByName("MEM").CreateCopy("", gdal.Open({str(path)!r}))
def look(x, y, height):
    band = held.GetRasterBand(1)
    made = gdal.ViewshedGenerate(band, "MEM", "", [], x, y, height, {EYE}, 255, 0, 0, -1, 0.0, 2, 500.0)
    assert made.RasterXSize * made.RasterYSize > 1
least = 1e9
for _ in range(5):
    began = time.process_time()
    for x, y in {pins.tolist()}:
        for k in range(1, 22):
            look(x, y, {STICK} * k / 21)
    least = min(least, (time.process_time() - began) / 84)
print(least)
"""
    python = shutil.which("python3", path=os.defpath)
    run = subprocess.run([python or sys.executable, "-c", code], capture_output=True, text=True)
    return float(run.stdout) if run.returncode == 0 else float("nan")


def large() -> None:
    """Maps on 4,000 x 4,000 cells: time and peak memory of a process of its own."""
    code = """
import resource, sys, time
import numpy as np
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.line_of_sight import Scene
peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 if sys.platform == "darwin" else 1024)
n = 4000
x = np.arange(n) + 0.5
z = np.empty((n, n))
for i in range(n):
    z[i] = 3 * np.sin(x / 37) * np.cos(i / 29) + 0.05 * np.sin(x * 1.7 + i)
s = Surface(z, 0.0, float(n), 1.0)
scene = Scene(s)
print(f"  terrain prepared: peak {peak():.0f} MB")
east, north = s.centres()
kept = []
t = time.perf_counter()
for k in range(4):
    px = 2000.5 + 8 * k
    near = [np.abs(east - px) <= 500, np.abs(north - 2000.5) <= 500]
    kept.append(scene.share_map((px, 2000.5), east[near[0]], north[near[1]], reach_m=500.0))
print(f"  four maps of what lies within 500 m: {time.perf_counter() - t:.1f} s, peak {peak():.0f} MB")
t = time.perf_counter()
share = scene.share_map((2000.5, 2000.5), east, north)
took = time.perf_counter() - t
print(f"  one map from all 16 million cells, lines to 2,800 m: {took:.1f} s, peak {peak():.0f} MB")
kept = [share] + [scene.share_map((2000.5 + 8 * k, 2000.5), east, north, reach_m=500.0) for k in (1, 2, 3)]
size = sum(m.nbytes for m in kept) / 2**20
print(f"  four maps held at once ({size:.0f} MB of {kept[0].dtype}): peak {peak():.0f} MB")
"""
    subprocess.run([sys.executable, "-c", code], check=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--large", action="store_true", help="also the 4,000 x 4,000 window")
    choices = parser.parse_args()
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, NumPy"
        f" {np.__version__}"
    )
    print("First call")
    first_call()
    print("A whole hole")
    ours = whole_hole()
    print("Growth")
    growth()
    print("A general-purpose viewshed")
    viewshed(ours)
    if choices.large:
        print("4,000 x 4,000 cells")
        large()
    print(f"Peak memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
