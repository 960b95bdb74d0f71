"""The ground of a hole as shots are played over it: terrain, cover, turf, air and green, in one window."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.compute.ballistics.air import Weather
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.terrain.surface import Surface


@dataclass(frozen=True, eq=False)
class HoleGround:
    """Terrain, cover, turf and air in the window of a hole.

    Attributes
    ----------
    hole
        Number of the hole.
    surface
        Terrain.
    kind, feature
        What covers each cell, ``(rows, cols)``: a code of :class:`gistools.base.cover_classes.Kind`, and the
        position in ``names`` of the feature there, -1 where there is none.
    names
        Names of features.
    land
        The ground as kernels need it.
    weather
        The air.
    target
        Marks the cells of the green that is played to.
    green
        Its outline.
    pins, pin_xy
        Names and places ``(n, 2)`` of the hole locations [m].
    obstacles
        Trees and structures in the window.
    """

    hole: int
    surface: Surface
    kind: NDArray[np.uint8]
    feature: NDArray[np.int16]
    names: tuple[str, ...]
    land: TurfGrid
    weather: Weather
    target: NDArray[np.bool_]
    green: Any
    pins: tuple[str, ...]
    pin_xy: NDArray[np.float64]
    obstacles: Obstacles = NO_OBSTACLES
    memo: dict[int, NDArray[np.int16]] = field(default_factory=dict)

    def inside(self, area: Any) -> NDArray[np.bool_]:
        """Mark the cells whose centre lies in an area."""
        return cells_in(self.surface, area)

    def nearest(self, kind: int) -> NDArray[np.int16]:
        """Feature of the nearest cell of a kind, for every cell; -1 where the window has none."""
        if kind not in self.memo:
            here = self.kind == kind
            if here.any():
                i, j = distance_transform_edt(~here, return_distances=False, return_indices=True)
                self.memo[kind] = self.feature[i, j]
            else:
                self.memo[kind] = np.full(here.shape, -1, np.int16)
        return self.memo[kind]


def cells_in(surface: Surface, area: Any) -> NDArray[np.bool_]:
    """Mark the cells of a surface whose centre lies in an area, ``(rows, cols)``."""
    x, y = surface.centres()
    marked = np.zeros(surface.z.shape, bool)
    west, south, east, north = area.bounds
    j = np.flatnonzero((x >= west) & (x <= east))
    i = np.flatnonzero((y >= south) & (y <= north))
    if len(i) and len(j):
        shapely.prepare(area)
        marked[i[0] : i[-1] + 1, j[0] : j[-1] + 1] = shapely.contains_xy(area, *np.meshgrid(x[j], y[i]))
    return marked
