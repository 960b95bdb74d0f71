"""The ground of one hole as shots need it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gistools.compute.ballistics import shot_kernels as _kernels
    from gistools.compute.ballistics.air import Weather
    from gistools.compute.terrain.surface import Surface
    from gistools.site.land_cover import Cover
    from gistools.site.model import Site

MARGIN_M = 100.0
DEFAULT_STIMP_FT = 10.0
TEMPERATURE_C = 20.0  # of the study, as on the standard day (assumption)


@dataclass(frozen=True, eq=False)
class Scene:
    """The ground of one hole as shots need it: terrain, cover, land and obstacles for kernels, air."""

    surface: Surface
    cover: Cover
    land: _kernels.TurfGrid
    obstacles: _kernels.Obstacles
    weather: Weather


def scene_of(site: Site, hole: int) -> Scene:
    """Return the ground of a hole, made once per site.

    Green speed is that of the hole's green (its setting ``stimp_ft``, else the surveyed one), firmness the site's setting
    ``firmness`` (``"soft"``, ``"normal"``, ``"firm"``).
    """
    import numpy as np
    import pandas as pd

    from gistools.compute.ballistics.air import Weather
    from gistools.compute.ballistics.flight import obstacles_for
    from gistools.compute.ballistics.turf import turf_grid
    from gistools.site.land_cover import cover

    key = ("shots scene", hole)
    if key not in site.memo:
        surface = site.surface(site.hole_bounds(hole, MARGIN_M))
        found = cover(site, surface)
        stimp = site.settings.get("stimp_ft")
        if stimp is None:
            told = pd.to_numeric(site.layer("greens", hole)["stimp_ft"], errors="coerce").dropna()
            stimp = float(told.iloc[0]) if len(told) else DEFAULT_STIMP_FT
        firmness = site.settings.get("firmness", "normal")
        weather = Weather(elevation_m=round(float(np.nanmean(surface.z)), -1), temperature_c=TEMPERATURE_C)
        site.memo[key] = Scene(
            surface,
            found,
            turf_grid(surface, found.kind, firmness=firmness, stimp_ft=stimp, weather=weather),
            obstacles_for(_standing(site, surface), surface),
            weather,
        )
    held: Scene = site.memo[key]
    return held


def _standing(site: Site, surface: Surface) -> Any:
    """Cylinders of the trees and structures that stand in a window."""
    import numpy as np
    import shapely

    from gistools.compute.terrain.obstacles import Obstacle, cylinders

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
