"""Contours of a surface as lines."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface

#: more levels than this on one surface is a slip of the interval, not a plan (assumption)
MOST_LEVELS = 2000


def levels_between(low: float, high: float, interval_m: float) -> NDArray[np.float64]:
    """Return the whole multiples of an interval from ``low`` to ``high`` [m].

    Raises
    ------
    InputError
        If the interval is not above 0 or gives too many levels.
    """
    if not interval_m > 0:
        raise InputError("the contour interval has to be above 0")
    first, last = int(np.ceil(low / interval_m - 1e-9)), int(np.floor(high / interval_m + 1e-9))
    if last - first > MOST_LEVELS:
        raise InputError(f"an interval of {interval_m} m gives {last - first} contours; take a wider one")
    return np.round(np.arange(first, last + 1) * interval_m, 6)


def contour_lines(
    surface: Surface, *, interval_m: float, tolerance_m: float = 0.0
) -> list[tuple[float, LineString]]:
    """Trace the contours of a surface.

    Lines run through the points where the ground passes the level on the lines between cell centres, and are
    thinned so that they stray no more than ``tolerance_m`` in plan. Higher ground is on their right. They
    stop where there is no ground.

    Parameters
    ----------
    surface
        Terrain window.
    interval_m
        Height between contours; levels are its whole multiples [m].
    tolerance_m
        Thinning in plan [m].

    Returns
    -------
    list of (level [m], line)
        By rising level.
    """
    known = surface.z[np.isfinite(surface.z)]
    if known.size == 0:
        return []
    x, y = surface.centres()
    trace = contour_generator(x, y, np.ma.masked_invalid(surface.z), line_type=LineType.Separate)
    contours = []
    for level in levels_between(float(known.min()), float(known.max()), interval_m):
        traced: Any = trace.lines(level)
        for xy in traced:
            line = LineString(xy) if len(xy) > 1 else LineString()
            if line.length > 1e-6:
                thin = shapely.simplify(line, tolerance_m) if tolerance_m > 0 else line
                contours.append((float(level), LineString(thin)))
    return contours


def area_above(surface: Surface, level: float) -> BaseGeometry:
    """Return the area in which a surface is above a level, as polygons; empty where none is."""
    x, y = surface.centres()
    z = np.ma.masked_invalid(surface.z)
    trace = contour_generator(x, y, z, fill_type=FillType.OuterOffset)
    polygons = []
    for points, offsets in zip(*trace.filled(level, np.inf), strict=True):
        rings = [points[a:b] for a, b in pairwise(offsets)]
        polygons.append(shapely.Polygon(rings[0], rings[1:]))
    return shapely.union_all([p if p.is_valid else p.buffer(0) for p in polygons])
