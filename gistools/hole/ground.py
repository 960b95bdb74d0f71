"""What the ground of a hole is made of: turf by firmness and green speed, and what stands in the way."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import Weather
from gistools.compute.ballistics.shot_kernels import TurfGrid
from gistools.compute.ballistics.turf import turf_grid, turf_table
from gistools.compute.terrain.obstacles import Obstacle, cylinders
from gistools.compute.terrain.surface import Surface
from gistools.site.land_cover import Cover
from gistools.site.model import Site


def land_of(
    surface: Surface, cover: Cover, weather: Weather, stimp_ft: float, fairway: str, green: str
) -> TurfGrid:
    """Return the ground for kernels; ``fairway`` and ``green`` are their firmness."""
    turf = turf_table(fairway, stimp_ft)
    turf[Kind.GREEN] = turf_table(green, stimp_ft)[Kind.GREEN]
    return turf_grid(surface, cover.kind, turf=turf, weather=weather)


def standing(site: Site, surface: Surface) -> NDArray[np.float64]:
    """Return cylinders of the trees and structures that stand in a window, ``(n, 5)``."""
    window = shapely.box(*surface.bounds)
    parts = [np.empty((0, 5))]
    for layer in ("trees", "structures"):
        table = site.layer(layer)
        for row in table[table.intersects(window)].to_dict("records") if len(table) else []:
            parts.append(
                cylinders(
                    Obstacle(
                        row["geometry"],
                        float(row["height_m"]),
                        float(row.get("clear_m") or 0.0),
                        float(row["crown_m"]) if layer == "trees" else None,
                    ),
                    surface,
                )
            )
    return np.concatenate(parts)
