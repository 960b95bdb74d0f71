"""The generic hole on which strokes are compared with published ones.

Level, with the features of an ordinary hole.

Fairway 29 m wide (median of 614 real holes at 229 m from the tee, computed from open map data), rough beside
it, trees from 33 m off the line (assumption), a round green of 557 m2 (mean of tour greens, GCSAA,
second-hand) with an apron, two bunkers of the median size of 58 m2 beside it (computed from open map data;
places an assumption), holes a little inside the edge on four sides (assumption).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.base.units import YARD_M
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.terrain.surface import Surface

GREEN_RADIUS_M = math.sqrt(557.0 / math.pi)
APRON_M = 1.2
FAIRWAY_M, TREES_FROM_M = 29.0, 33.0
BUNKERS = ((-18.5, -5.0), (18.5, -3.0))
BUNKER_RADIUS_M = math.sqrt(58.0 / math.pi)
PINS = ((0.0, -6.5), (6.5, 0.0), (0.0, 6.5), (-6.5, 0.0))


def ground(
    length_yd: float, cell_m: float = 1.0, width_m: float = 140.0
) -> tuple[Surface, NDArray[np.uint8]]:
    """Return the level terrain and its cover; the centre of the green is at (0, 0), the tee south of it.

    Parameters
    ----------
    length_yd
        Length of the hole [yd].
    cell_m, width_m
        Side of a cell and width of the ground [m].
    """
    rows, cols = int((length_yd * YARD_M + 90.0) / cell_m), int(width_m / cell_m)
    surface = Surface(np.full((rows, cols), 10.0), -0.5 * cols * cell_m, 60.0, cell_m)
    x, y = surface.centres()
    east, north = np.meshgrid(x, y)
    away = np.hypot(east, north)
    kinds = np.full(surface.z.shape, Kind.ROUGH, np.uint8)
    kinds[(np.abs(east) <= 0.5 * FAIRWAY_M) & (north < -GREEN_RADIUS_M)] = Kind.FAIRWAY
    kinds[away <= GREEN_RADIUS_M + APRON_M] = Kind.FAIRWAY
    kinds[away <= GREEN_RADIUS_M] = Kind.GREEN
    for bunker in BUNKERS:
        kinds[np.hypot(east - bunker[0], north - bunker[1]) <= BUNKER_RADIUS_M] = Kind.SAND
    kinds[np.abs(east) > TREES_FROM_M] = Kind.TREES
    return surface, kinds


def turf(surface: Surface, kinds: NDArray[np.uint8], firmness: str = "normal"):
    """Return the turf of the generic hole."""
    return turf_grid(surface, kinds, firmness=firmness)
