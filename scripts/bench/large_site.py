"""Time and memory of check and of a quick study on 18 holes of a site of 4 km2 with terrain cells of 0.5 m.

python scripts/bench/large_site.py [--cell 0.5]
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import LineString, Point, box

import gistools as gt
from gistools.site import _raster, _vector
from gistools.site.check import check

EAST, NORTH, SIDE_M = 400_000.0, 300_000.0, 2000.0


def write_large(path: Path, cell: float) -> Path:
    """Write 18 straight holes in two rows, each with bunkers and a burn, on rolling ground."""
    rows: dict[str, list[dict[str, Any]]] = {
        n: [] for n in ("tees", "fairway", "greens", "pins", "bunkers", "burns")
    }
    for k in range(18):
        x, y = EAST + 100 + 200 * (k % 9), NORTH + 200 + 900 * (k // 9)
        for name, back in (("back", 0), ("middle", 25), ("front", 50)):
            rows["tees"].append(
                {"hole": k + 1, "tee": name, "geometry": box(x - 4, y + back - 3, x + 4, y + back + 3)}
            )
        rows["fairway"].append({"hole": k + 1, "geometry": box(x - 17, y + 110, x + 18, y + 350)})
        rows["greens"].append({"hole": k + 1, "geometry": Point(x, y + 385).buffer(12)})
        for name, dx in (("left", -5), ("right", 5)):
            rows["pins"].append({"hole": k + 1, "pin": name, "geometry": Point(x + dx, y + 385)})
        for dx, dy in ((-18, 370), (15, 378), (-24, 210), (22, 240)):
            rows["bunkers"].append({"hole": k + 1, "geometry": Point(x + dx, y + dy).buffer(5)})
        burn = LineString([(x - 80, y + 150), (x + 80, y + 260)])
        rows["burns"].append({"hole": k + 1, "width_m": 4.0, "geometry": burn})
    for name, records in rows.items():
        _vector.write_layer(path, name, gpd.GeoDataFrame(records, crs=27700))
    count = round(SIDE_M / cell)
    x = (np.arange(count) + 0.5) * cell
    z = 30 + 3 * np.sin(x / 70)[None, :] * np.cos(x / 90)[:, None] + 0.005 * x[None, :]
    _raster.write_coverage(path, "terrain", z, EAST, NORTH + SIDE_M, cell, 27700)
    return path


def main() -> None:
    """Build the site, check and study it, and print seconds and the peak of memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cell", type=float, default=0.5)
    cell = parser.parse_args().cell
    with tempfile.TemporaryDirectory(prefix="gistools-") as folder:
        path = write_large(Path(folder) / "large.gpkg", cell)
        print(f"{path.stat().st_size / 2**20:.0f} MB, {(SIDE_M / cell) ** 2 / 1e6:.0f} million cells")
        for name, work in (
            ("check", lambda: check(path)),
            ("quick study", lambda: gt.study(gt.open_site(path), quick=True)),
        ):
            start = time.perf_counter()
            done = work()
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(f"{name}: {time.perf_counter() - start:.1f} s, peak {peak:.0f} MB", flush=True)
            if name != "check":
                print(f"missing: {len(done.missing)}; slowest:", end=" ")
                print(sorted(done.seconds.items(), key=lambda item: -item[1])[:5])


if __name__ == "__main__":
    main()
