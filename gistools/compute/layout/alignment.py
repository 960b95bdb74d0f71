"""Places along a line: chainage, offset, direction, and lines square to it.

Chainage is the plan distance along the line from its start; offset is the distance to the right of it (left
is negative), looking along increasing chainage. These are the surveyor's conventions (E = E0 + S sin b + O
sin(b + 90), N = N0 + S cos b + O cos(b + 90)).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString

from gistools.base.errors import InputError
from gistools.base.grid import Floats

ON, AT_VERTEX, BEFORE, AFTER = "on", "vertex", "before", "after"
_SAME_PLACE_M = 1e-9


@dataclass(frozen=True, eq=False)
class Alignment:
    """A line of straight legs with stations along it.

    Parameters
    ----------
    points
        Corners in order, shape ``(n, 2)`` [m], at least two of them different.

    Raises
    ------
    InputError
        If the points do not make a line with a length.
    """

    points: Floats

    def __post_init__(self) -> None:
        points = np.asarray(self.points, float)
        if points.ndim != 2 or points.shape[1] < 2 or not np.isfinite(points).all():
            raise InputError("a line needs points with finite coordinates")
        points = points[:, :2]
        keep = np.r_[True, np.hypot(*np.diff(points, axis=0).T) > _SAME_PLACE_M]
        if keep.sum() < 2:
            raise InputError("a line needs at least two different points")
        object.__setattr__(self, "points", np.ascontiguousarray(points[keep]))

    @cached_property
    def corners(self) -> Floats:
        """Chainage of each corner [m]."""
        chainages: Floats = np.r_[0.0, np.cumsum(np.hypot(*np.diff(self.points, axis=0).T))]
        return chainages

    @cached_property
    def legs(self) -> Floats:
        """Unit direction of each leg, shape ``(n - 1, 2)``."""
        steps = np.diff(self.points, axis=0)
        directions: Floats = steps / np.hypot(*steps.T)[:, None]
        return directions

    @property
    def length(self) -> float:
        """Plan length [m]."""
        return float(self.corners[-1])

    @cached_property
    def geometry(self) -> LineString:
        """The line as a geometry."""
        return LineString(self.points)

    def _leg(self, chainage: Floats) -> NDArray[np.intp]:
        return np.clip(np.searchsorted(self.corners, chainage, side="right") - 1, 0, len(self.legs) - 1)

    def at(self, chainage: ArrayLike) -> Floats:
        """Points at chainages ``(m,)``, shape ``(m, 2)``; the first and last leg run on beyond the ends."""
        s = np.asarray(chainage, float)
        leg = self._leg(s)
        points: Floats = self.points[leg] + (s - self.corners[leg])[..., None] * self.legs[leg]
        return points

    def direction(self, chainage: ArrayLike) -> Floats:
        """Unit direction of play at chainages, shape ``(m, 2)``; at a corner the bisector of its two legs."""
        s = np.asarray(chainage, float)
        leg = self._leg(s)
        out = self.legs[leg]
        at_corner = (np.abs(s - self.corners[leg]) < 1e-6) & (leg > 0)
        both = out + self.legs[np.maximum(leg - 1, 0)]
        size = np.hypot(both[..., 0], both[..., 1])[..., None]
        blended = np.where(size > 1e-9, both / np.where(size > 1e-9, size, 1.0), out)
        return np.where(at_corner[..., None], blended, out)

    def right(self, chainage: ArrayLike) -> Floats:
        """Unit vector to the right of play at chainages, shape ``(m, 2)``."""
        d = self.direction(chainage)
        return np.stack([d[..., 1], -d[..., 0]], axis=-1)

    def bearing(self, chainage: float) -> float:
        """Grid bearing of play [degrees clockwise from north] at a chainage."""
        return bearing(self.direction(np.array([chainage]))[0])

    def across(self, chainage: ArrayLike, left: float, right: float) -> Any:
        """Lines square to play from ``left`` to ``right`` (offsets [m]) at chainages; array of LineString."""
        s = np.atleast_1d(np.asarray(chainage, float))
        middle, side = self.at(s), self.right(s)
        return shapely.linestrings(np.stack([middle + left * side, middle + right * side], axis=1))

    def locate(self, points: ArrayLike) -> tuple[Floats, Floats, NDArray[np.str_]]:
        """Chainage, offset and how each point ``(m, 2)`` meets the line.

        The nearest leg counts, of equally near ones the first. The third answer says how: ``on`` (square to a
        leg), ``vertex`` (outside of a corner: chainage of the corner, offset the distance to it), ``before``
        or ``after`` (beyond an end: measured on the first or last leg run on, so the chainage is negative or
        more than the length).
        """
        p = np.atleast_2d(np.asarray(points, float))
        start = self.points[:-1]
        span = np.diff(self.corners)
        relative = p[:, None, :] - start[None, :, :]
        along = np.einsum("mkc,kc->mk", relative, self.legs)
        on_leg = np.clip(along, 0.0, span)
        miss = relative - on_leg[..., None] * self.legs
        leg = np.argmin(np.round(np.hypot(miss[..., 0], miss[..., 1]), 9), axis=1)
        rows = np.arange(len(p))
        s, d, r = along[rows, leg], self.legs[leg], relative[rows, leg]
        square = d[:, 1] * r[:, 0] - d[:, 0] * r[:, 1]
        before = (leg == 0) & (s < -_SAME_PLACE_M)
        after = (leg == len(span) - 1) & (s > span[-1] + _SAME_PLACE_M)
        corner = ~before & ~after & ((s < -_SAME_PLACE_M) | (s > span[leg] + _SAME_PLACE_M))
        distance = np.hypot(*miss[rows, leg].T)
        offset = np.where(corner, np.copysign(distance, square), square)
        chainage = self.corners[leg] + np.where(corner, on_leg[rows, leg], s)
        how = np.where(before, BEFORE, np.where(after, AFTER, np.where(corner, AT_VERTEX, ON)))
        return chainage, offset, how

    def part(self, start: float, end: float) -> Alignment:
        """The line between two chainages."""
        inner = (self.corners > start) & (self.corners < end)
        ends = self.at(np.array([start, end]))
        return Alignment(np.vstack([ends[:1], self.points[inner], ends[1:]]))


def bearing(vector: ArrayLike) -> float:
    """Grid bearing [degrees clockwise from north, 0 to 360] of a vector (east, north)."""
    east, north = np.asarray(vector, float)
    degrees = float(np.degrees(np.arctan2(east, north)) % 360.0)
    return 0.0 if 360.0 - degrees < 1e-9 else degrees


def cross_sections(
    line: Alignment, chainage: Floats, area: Any, reach: float = 150.0
) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Cut an area square to play: offsets of both ends of every piece, and the station each belongs to.

    Parameters
    ----------
    line, chainage
        The line and the stations ``(m,)`` [m].
    area
        Polygon or multipolygon.
    reach
        Half-length of the cutting lines [m].

    Returns
    -------
    left, right : (k,) offsets [m], right positive, ``left < right``
    station : (k,) index into ``chainage``
    """
    cut = shapely.intersection(line.across(chainage, -reach, reach), area)
    parts, station = shapely.get_parts(cut, return_index=True)
    lines = (shapely.get_type_id(parts) == 1) & ~shapely.is_empty(parts)
    parts, station = parts[lines], station[lines]
    ends = _ends(parts)
    relative = ends - line.at(chainage)[station][:, None, :]
    offset = np.einsum("kec,kc->ke", relative, line.right(chainage)[station])
    return offset.min(axis=1), offset.max(axis=1), station


def pieces_under_line(
    left: Floats, right: Floats, station: NDArray[np.intp], count: int, tolerance: float = 1e-6
) -> tuple[Floats, Floats]:
    """Of the pieces of :func:`cross_sections` take at each station the one under the line; else ``nan``."""
    out_left, out_right = np.full(count, np.nan), np.full(count, np.nan)
    has = (left <= tolerance) & (right >= -tolerance)
    out_left[station[has]], out_right[station[has]] = left[has], right[has]
    return out_left, out_right


def rays_from(origin: Floats, directions: Floats, length: float) -> Any:
    """Straight lines of one length [m] from a place in unit directions ``(n, 2)``; array of LineString."""
    starts = np.broadcast_to(origin, directions.shape)
    return shapely.linestrings(np.stack([starts, origin + length * directions], axis=1))


def ray_intervals(origin: Floats, rays: Any, area: Any) -> list[Floats]:
    """Distances at which each ray enters and leaves an area, one sorted ``(k, 2)`` a ray [m]."""
    parts, owner = shapely.get_parts(shapely.intersection(rays, area), return_index=True)
    keep = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 1e-9)
    parts, owner = parts[keep], owner[keep]
    ends = _ends(parts)
    away = np.sort(np.hypot(ends[..., 0] - origin[0], ends[..., 1] - origin[1]), axis=1)
    order = np.lexsort((away[:, 0], owner))
    return np.split(away[order], np.searchsorted(owner[order], np.arange(1, len(rays))))


def _ends(lines: Any) -> Floats:
    """First and last point of lines, ``(n, 2, 2)``."""
    first = shapely.get_coordinates(shapely.get_point(lines, 0))
    last = shapely.get_coordinates(shapely.get_point(lines, -1))
    return np.stack([first, last], axis=1).reshape(-1, 2, 2)
