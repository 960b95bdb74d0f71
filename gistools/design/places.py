"""Places and moves in plan: along and across the line of play, turned, to another size."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from gistools.compute.layout.alignment import Alignment
from gistools.compute.terrain.surface import Floats


@dataclass(frozen=True)
class Move:
    """A turn clockwise about a place and a change of size in plan, then a shift [m]."""

    east: float = 0.0
    north: float = 0.0
    turn_deg: float = 0.0
    about: tuple[float, float] = (0.0, 0.0)
    factor: float = 1.0

    @property
    def _matrix(self) -> tuple[float, float, float, float, float, float]:
        c, s = (self.factor * f(math.radians(self.turn_deg)) for f in (math.cos, math.sin))
        x, y = self.about
        return c, s, -s, c, x - c * x - s * y + self.east, y + s * x - c * y + self.north

    def shape(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry at its new place."""
        return affinity.affine_transform(geometry, self._matrix)

    def back(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return where points of the new place came from."""
        a, b, d, e, east, north = self._matrix
        dx, dy = x - east, y - north
        square = self.factor**2
        return (a * dx + d * dy) / square, (b * dx + e * dy) / square  # the transpose of a turn undoes it


def place_at(line: Alignment, chainage: float, offset: float) -> tuple[float, float, float]:
    """Return easting, northing [m] and bearing [degrees] of a place beside a line or its extension."""
    on = float(np.clip(chainage, 0.0, line.length))
    at, ahead, right = (np.ravel(v) for v in (line.at(on), line.direction(on), line.right(on)))
    x, y = at + (chainage - on) * ahead + offset * right
    return float(x), float(y), math.degrees(math.atan2(float(ahead[0]), float(ahead[1]))) % 360.0


def oval(x: float, y: float, length: float, width: float, bearing_deg: float) -> Polygon:
    """Return an ellipse [m], its long side along a bearing."""
    circle = affinity.scale(Point(0.0, 0.0).buffer(0.5, quad_segs=16), width, length, origin=(0.0, 0.0))
    turned = affinity.rotate(circle, -bearing_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, x, y)
