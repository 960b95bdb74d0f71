"""The frame of a sheet's plan: play runs from left to right, so that plan, section and widths line up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
DIGITS = 1


@dataclass(frozen=True)
class Frame:
    """Page coordinates [m]: ``x`` along the bearing from the origin, ``y`` to its right (down the page)."""

    east: float
    north: float
    bearing_deg: float

    @property
    def sin_cos(self) -> tuple[float, float]:
        """Sine and cosine of the bearing."""
        a = np.radians(self.bearing_deg)
        return float(np.sin(a)), float(np.cos(a))

    def page(self, x: Floats | float, y: Floats | float) -> tuple[Floats, Floats]:
        """Page coordinates of map coordinates."""
        sin, cos = self.sin_cos
        dx, dy = np.asarray(x, float) - self.east, np.asarray(y, float) - self.north
        return dx * sin + dy * cos, dx * cos - dy * sin

    def turn(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry in page coordinates, heights dropped."""
        return shapely.transform(
            shapely.force_2d(geometry), lambda xy: np.column_stack(self.page(xy[:, 0], xy[:, 1]))
        )

    def matrix(self, x_west: float, y_north: float) -> str:
        """Return the SVG transform that lays an image, in metres from its north-west corner, on the page."""
        sin, cos = self.sin_cos
        e, f = self.page(x_west, y_north)
        return f"matrix({sin:.6f} {cos:.6f} {-cos:.6f} {sin:.6f} {float(e):.3f} {float(f):.3f})"

    @property
    def north_on_page(self) -> tuple[float, float]:
        """Unit vector on the page that points to grid north."""
        sin, cos = self.sin_cos
        return cos, -sin

    @property
    def north_angle_deg(self) -> float:
        """Angle from straight up the page to grid north, clockwise."""
        dx, dy = self.north_on_page
        return float(np.degrees(np.arctan2(dx, -dy)))


def along(line: BaseGeometry) -> Frame:
    """Return the frame whose x axis runs from a line's first vertex to its last."""
    (x0, y0), (x1, y1) = line.coords[0][:2], line.coords[-1][:2]
    return Frame(float(x0), float(y0), float(np.degrees(np.arctan2(x1 - x0, y1 - y0)) % 360))


def svg_path(geometry: Any, digits: int = DIGITS) -> str:
    """Write a geometry in page coordinates as SVG path data; empty for no geometry or points."""
    if geometry is None or geometry.is_empty:
        return ""
    if hasattr(geometry, "geoms"):
        return "".join(svg_path(part, digits) for part in geometry.geoms)
    if geometry.geom_type == "Polygon":
        return "".join(
            _run(ring.coords, digits, closed=True) for ring in (geometry.exterior, *geometry.interiors)
        )
    return _run(geometry.coords, digits, closed=False) if geometry.geom_type == "LineString" else ""


def _run(coords: object, digits: int, *, closed: bool) -> str:
    xy = np.round(np.asarray(coords, float)[:, :2], digits)
    keep = np.ones(len(xy), bool)
    keep[1:] = (np.diff(xy, axis=0) != 0).any(axis=1)
    xy = xy[keep]
    if closed and len(xy) > 1 and (xy[0] == xy[-1]).all():
        xy = xy[:-1]
    points = " ".join(f"{x:g},{y:g}" for x, y in xy + 0.0)
    return f"M{points}" + ("Z" if closed else "")
