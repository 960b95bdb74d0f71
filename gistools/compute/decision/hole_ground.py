"""The ground of a hole as shots are played over it: terrain, cover, turf, air and green, in one window."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.cover_classes import KIND_NAMES, Kind
from gistools.compute.ballistics.air import Weather
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.ballistics.stance import STEEPEST_DEG
from gistools.compute.terrain.surface import Surface

#: what a shot has to carry, and the spacing of places on a line and the widest hazard on it [m] (assumptions)
CARRIED = (Kind.WATER, Kind.SAND)
STEP_M, WIDEST_M = 0.5, 60.0
#: the slope of a stance is taken over so far each side of the ball [m], and steeper ones act as the steepest
#: (assumptions); tees are built level, and on the green nobody swings
STANCE_ARM_M, LEVEL_KINDS = 1.0, (Kind.TEE, Kind.GREEN)


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

    def cells(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Row and column of the cells that hold points [m]; off the window the cells at its edge."""
        i, j = self.surface.grid.index(x, y)
        rows, columns = self.kind.shape
        return np.clip(i, 0, rows - 1), np.clip(j, 0, columns - 1)

    def stance_slope_deg(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Slope of the ground under a stance at points [degrees]; 0 on tees and greens."""
        x, y, arm = np.asarray(x, float), np.asarray(y, float), STANCE_ARM_M
        height = self.surface.height
        east = (height(x + arm, y) - height(x - arm, y)) / (2.0 * arm)
        north = (height(x, y + arm) - height(x, y - arm)) / (2.0 * arm)
        slope = np.minimum(np.degrees(np.arctan(np.nan_to_num(np.hypot(east, north)))), STEEPEST_DEG)
        return np.where(np.isin(self.kind[self.cells(x, y)], LEVEL_KINDS), 0.0, slope)

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


@dataclass(frozen=True)
class HazardsOnLine:
    """Water and sand on a line of a shot, in the order they are met.

    Attributes
    ----------
    features
        Positions in the names of the ground, -1 for ground that has none.
    names
        Names, of ground without one its kind.
    carry_m
        Plan distance over the last of it [m], nan where there is none.
    """

    features: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    carry_m: float = math.nan


def hazards_on_line(
    ground: HoleGround,
    start: tuple[float, float],
    direction: tuple[float, float],
    far_m: float,
    *,
    to_far_edge: bool = False,
) -> HazardsOnLine:
    """Return the water and sand on a line before a distance.

    Parameters
    ----------
    ground
        The ground of the hole.
    start, direction
        Where the line starts [m], and its unit vector to east and north.
    far_m
        Distance up to which it is looked at [m].
    to_far_edge
        Of a hazard that lies at that distance, count the far edge.
    """
    at = np.arange(STEP_M, far_m + (WIDEST_M if to_far_edge else 0.0), STEP_M)
    i, j = ground.cells(start[0] + direction[0] * at, start[1] + direction[1] * at)
    bad = np.isin(ground.kind[i, j], CARRIED)
    beyond = np.flatnonzero(~bad & (at >= far_m))
    bad[beyond[0] if len(beyond) else len(at) :] = False
    if not bad.any():
        return HazardsOnLine()
    met = list(zip(ground.feature[i, j][bad].tolist(), ground.kind[i, j][bad].tolist(), strict=True))
    return HazardsOnLine(
        tuple(dict.fromkeys(f for f, _ in met)),
        tuple(dict.fromkeys(ground.names[f] if f >= 0 else KIND_NAMES[kind] for f, kind in met)),
        float(at[bad].max()) + STEP_M,
    )


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
