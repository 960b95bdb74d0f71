"""Time of the plan-geometry steps: on the sample, on 18 synthetic holes, and as holes and features grow.

Run: python scripts/bench/layout_study.py

Every timing is processor time, the best of three on a fresh site (nothing remembered). The last part answers
one question, the carries of one tee, twice in the same run: by the toolkit and by a plain loop that cuts one
ray at a time; both have to agree before the ratio is printed.
"""

from __future__ import annotations

import platform
import time
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, box

from gistools.compute.layout.carries import Choices, carry_rows, crossings
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.steps.catalogue import function

STEPS = ("lines_of_play", "lengths", "carries", "corridors", "diagonals", "zones", "setbacks")
APART_M = 500.0
LIMIT_S = 8.0  # for 18 holes of real size, processor time
HOLE_LAYERS = ("tees", "fairway", "greens", "pins", "bunkers", "trees", "paths", "structures", "play_lines")


def best(make: Callable[[], Site], names: tuple[str, ...] = STEPS, repeats: int = 3) -> dict[str, float]:
    """Best time of each step [s], the steps run in order on a fresh site each time."""
    times: dict[str, list[float]] = {n: [] for n in names}
    for _ in range(repeats):
        site = make()
        for name in names:
            start = time.process_time()
            function(name)(site)
            times[name].append(time.process_time() - start)
    return {n: min(t) for n, t in times.items()}


def synthetic(holes: int, features: int = 1, apart_m: float = APART_M) -> Site:
    """A site of copies of the sample's hole 1, each turned by 37 degrees more, on a square raster.

    ``features`` multiplies the bunkers, trees and paths, each copy a few metres on.
    """
    sample = sample_site()
    one = {n: sample.layer(n, 1) for n in HOLE_LAYERS if len(sample.layer(n, 1))}
    middle = np.mean(shapely.get_coordinates(one["fairway"].geometry.iloc[0]), axis=0)
    burn = sample.layer("burns").geometry.iloc[0].intersection(Point(*middle).buffer(180))
    one["burns"] = gpd.GeoDataFrame(
        {"hole": [1], "name": ["burn"], "width_m": [2.2]}, geometry=[_line(burn)], crs=sample.crs_metric
    )
    tables: dict[str, list[gpd.GeoDataFrame]] = {n: [] for n in one}
    side = int(np.ceil(np.sqrt(holes)))
    for k in range(holes):
        shift = np.array([k % side, k // side]) * apart_m - middle
        for name, table in one.items():
            copies = features if name in ("bunkers", "trees", "paths") else 1
            for c in range(copies):
                moved = [
                    affinity.translate(affinity.rotate(g, 37.0 * k, origin=tuple(middle)), *(shift + 1.7 * c))
                    for g in table.geometry
                ]
                copy = table.drop(columns=[n for n in ("fid", "name") if n in table]).assign(hole=k + 1)
                tables[name].append(copy.set_geometry(gpd.GeoSeries(moved, index=copy.index)))
    full = {n: pd.concat(t, ignore_index=True) for n, t in tables.items()}
    edge = box(-apart_m, -apart_m, side * apart_m, side * apart_m)
    full["boundary"] = gpd.GeoDataFrame(geometry=[edge])
    cells = int((side + 1) * apart_m / 2)
    ground = Surface(np.zeros((cells, cells)), -apart_m, -apart_m + 2.0 * cells, 2.0)
    return Site.from_tables(full, 27700, ground)


def real_size() -> Site:
    """18 holes 150 m apart with a corner every metre of every outline: 36,000 corners and 90 bunkers."""
    site = synthetic(18, apart_m=150.0)
    shapes = {n: t for n, t in site.tables.items() if hasattr(t, "geometry") and n != "pins"}
    return site.replace(**{n: t.set_geometry(t.geometry.segmentize(1.0)) for n, t in shapes.items()})


def _line(shape: shapely.Geometry) -> LineString:
    parts = shapely.get_parts(shape)
    longest: LineString = max(parts, key=lambda p: p.length)
    return longest


def table(title: str, columns: dict[str, dict[str, float]]) -> None:
    print(f"\n{title}")
    print(f"{'step':16}" + "".join(f"{c:>14}" for c in columns))
    for name in STEPS:
        print(f"{name:16}" + "".join(f"{t[name] * 1000:11.1f} ms" for t in columns.values()))
    print(f"{'all':16}" + "".join(f"{sum(t.values()) * 1000:11.1f} ms" for t in columns.values()))


def growth(title: str, sizes: list[int], made: dict[int, dict[str, float]]) -> None:
    total = {n: sum(made[n].values()) for n in sizes}
    slope = np.polyfit(np.log(sizes), np.log([total[n] for n in sizes]), 1)[0]
    times = ", ".join(f"{n}: {total[n]:.3f} s" for n in sizes)
    print(f"{title}: {times}; time grows with the power {slope:.2f}")


def one_ray_at_a_time(site: Site) -> tuple[float, float]:
    """Time of the carries of one tee by the toolkit and by a loop of single cuts [s].

    The answers have to agree.
    """
    hole = HoleModel(site, 1).plan
    tee = hole.tees[0]
    carry_rows(hole, tee, Choices())  # strip and outlines are ready for both
    start = time.process_time()
    _, fan = carry_rows(hole, tee, Choices())
    ours = time.process_time() - start
    burns = [r for r in fan if r["layer"] == "burns"]
    start = time.process_time()
    area = next(c for c in crossings(hole, tee, Choices().lateral_search_m) if c.hazard.layer == "burns").area
    rays = []
    for row in fan:
        b = np.radians(row["bearing_deg"])
        ray = LineString([tee.centre, tee.centre + 600.0 * np.array([np.sin(b), np.cos(b)])])
        for shape in (area, hole.turf, hole.filled):
            cut = ray.intersection(shape)
            away = [Point(tee.centre).distance(Point(c)) for c in shapely.get_coordinates(cut)]
            if shape is area and row["layer"] == "burns":
                rays.append(max(away))
    theirs = time.process_time() - start
    assert np.allclose(rays, [r["carry_m"] for r in burns], atol=1e-6)
    return ours, theirs


def main() -> None:
    print(f"{platform.machine()}, Python {platform.python_version()}, shapely {shapely.__version__}")
    best(sample_site, repeats=1)
    eighteen = best(lambda: synthetic(18))
    dense = best(real_size)
    table("Per step", {"sample, 3": best(sample_site), "synthetic, 18": eighteen, "real size, 18": dense})
    sizes = [3, 9, 18, 36]
    made = {n: eighteen if n == 18 else best(lambda n=n: synthetic(n)) for n in sizes}
    growth("\nHoles", sizes, made)
    copies = [1, 4, 16]
    growth("Features of 3 holes, times", copies, {c: best(lambda c=c: synthetic(3, c)) for c in copies})
    ours, theirs = one_ray_at_a_time(sample_site())
    print(
        f"Carries of one tee: {ours * 1000:.1f} ms for everything;"
        f" the cuts alone, one ray at a time, {theirs * 1000:.1f} ms (same carries):"
        f" {theirs / ours:.1f} times"
    )
    assert sum(dense.values()) < LIMIT_S, "18 holes of real size"


if __name__ == "__main__":
    main()
