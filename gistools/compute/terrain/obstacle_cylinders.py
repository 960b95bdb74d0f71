"""What stands in the way of a ball: trees and structures as upright cylinders."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

SPACING_M = 3.0  # cylinders that fill an outline stand on a square mesh this wide; they overlap
POST_M = 1.0  # diameter of a structure drawn as a point (assumption)
WALL_M = 0.5  # diameter of the cylinders along a wall (assumption)


def cylinders(
    geometry: Any,
    surface: Surface,
    *,
    height_m: float,
    clear_m: float = 0.0,
    width_m: float | None = None,
) -> Floats:
    """Return cylinders that fill a tree, thicket, house or wall, each standing on its own ground.

    A point gives one cylinder of diameter ``width_m``; an outline is filled from a mesh of overlapping cylinders, so
    its edge is true within about a metre; a line is followed by cylinders.

    Parameters
    ----------
    geometry
        Point, line or polygon, coordinates in metres.
    surface
        Ground it stands on; parts on missing ground are left out.
    height_m, clear_m
        Top and underside above the ground [m].
    width_m
        Diameter of a point or line [m].

    Returns
    -------
    ndarray
        Shape ``(n, 5)``: x, y, radius, level of underside, level of top [m].

    Raises
    ------
    InputError
        If the underside is not below the top.
    """
    if not 0.0 <= clear_m < height_m:
        raise InputError(f"something that stands {height_m} m high cannot begin {clear_m} m above the ground")
    if geometry.geom_type == "Point":
        points, radius = np.array([[geometry.x, geometry.y]]), (width_m or POST_M) / 2.0
    elif "LineString" in geometry.geom_type:
        radius = (width_m or WALL_M) / 2.0
        stations = np.arange(0.0, geometry.length + radius, max(radius, 0.25))
        points = shapely.get_coordinates(shapely.line_interpolate_point(geometry, stations))
    else:
        points, radius = _filled(geometry)
    level = np.asarray(surface.height(points[:, 0], points[:, 1]))
    known = np.isfinite(level)
    points, level = points[known], level[known]
    return np.column_stack([points, np.full(len(points), radius), level + clear_m, level + height_m])


def _filled(area: Any) -> tuple[Floats, float]:
    """Centres and radius of cylinders that cover an outline."""
    west, south, east, north = area.bounds
    spacing = min(SPACING_M, max(math.sqrt(area.area) / 3.0, 0.5))
    x = np.arange(west + spacing / 2.0, east + spacing, spacing)
    y = np.arange(south + spacing / 2.0, north + spacing, spacing)
    mesh = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inside = mesh[shapely.contains_xy(area, mesh[:, 0], mesh[:, 1])]
    if len(inside) == 0:
        inside = np.array(area.representative_point().coords)
    return inside, spacing / math.sqrt(2.0)
