"""Write rolling, invented ground as a GeoTIFF: what the page about a new hole starts from.

Python scripts/bare_ground.py [FOLDER].
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

WEST, NORTH, CELL = 400000.0, 600500.0, 1.0
ROWS, COLUMNS = 520, 300


def heights() -> np.ndarray:
    """Return the levels [m]: a plane that rises to the north and east, with swells some 150 m apart."""
    x = np.arange(COLUMNS) + 0.5
    y = (ROWS - np.arange(ROWS) - 0.5)[:, None]
    swell = 1.2 * np.sin(x / 45.0) * np.cos(y / 60.0) + 0.5 * np.sin((x + y) / 25.0)
    return (20.0 + 0.010 * y + 0.006 * x + swell).astype("float32")


def main(arguments: list[str]) -> int:
    """Write ``links_ground.tif`` into a folder, the current one by default."""
    path = Path(arguments[0] if arguments else ".") / "links_ground.tif"
    shape = {"height": ROWS, "width": COLUMNS, "count": 1, "dtype": "float32"}
    place = {"crs": "EPSG:27700", "transform": from_origin(WEST, NORTH, CELL, CELL)}
    with rasterio.open(path, "w", driver="GTiff", **shape, **place) as raster:
        raster.write(heights(), 1)
    print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
