"""Smooth shapes that the sample site is drawn with: frames, curves, ribbons, rounded outlines, noise.

Everything is a closed formula or a spline through listed points, and no random numbers are drawn, so that
the same recipe gives the same ground on every machine. Local metres: x east, y north.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator

Floats = NDArray[np.float64]


def ease(x: Floats, start: float, end: float) -> Floats:
    """Rise smoothly from 0 at ``start`` to 1 at ``end``.

    3 s^2 - 2 s^3, steepest in the middle (1.5 / width).
    """
    s: Floats = np.clip((x - start) / (end - start), 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


@dataclass(frozen=True)
class Frame:
    """A straight line to draw along: origin and bearing; ``s`` metres along it, ``t`` metres to its right."""

    x: float
    y: float
    bearing_deg: float

    @property
    def _sin_cos(self) -> tuple[float, float]:
        a = np.radians(self.bearing_deg)
        return float(np.sin(a)), float(np.cos(a))

    def at(self, s: Floats | float, t: Floats | float) -> tuple[Floats, Floats]:
        """Map coordinates of points given along and across."""
        sin, cos = self._sin_cos
        s, t = np.asarray(s, float), np.asarray(t, float)
        return self.x + s * sin + t * cos, self.y + s * cos - t * sin

    def along(self, x: Floats | float, y: Floats | float) -> tuple[Floats, Floats]:
        """Return ``s, t`` of map coordinates."""
        sin, cos = self._sin_cos
        dx, dy = np.asarray(x, float) - self.x, np.asarray(y, float) - self.y
        return dx * sin + dy * cos, dx * cos - dy * sin


@dataclass(frozen=True)
class Blob:
    """A rounded outline: an ellipse whose radius swells and shrinks with a few waves.

    ``length`` runs along the frame, ``width`` across it; ``waves`` are ``(count, share, phase in degrees)``.
    """

    frame: Frame
    length: float
    width: float
    waves: tuple[tuple[int, float, float], ...] = ()

    def radius(self, angle: Floats) -> Floats:
        """Distance from the middle to the outline at an angle from the frame's direction, clockwise."""
        a, b = self.length / 2, self.width / 2
        r: Floats = 1.0 / np.hypot(np.cos(angle) / a, np.sin(angle) / b)
        for count, share, phase in self.waves:
            r = r * (1.0 + share * np.cos(count * angle + np.radians(phase)))
        return r

    def reach(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return distance from the middle over the outline's radius there (1 on it), and metres beyond it."""
        s, t = self.frame.along(x, y)
        r = self.radius(np.arctan2(t, s))
        d = np.hypot(s, t)
        return d / r, d - r

    def arc(self, start_deg: float, end_deg: float, count: int, beyond: float = 0.0) -> Floats:
        """Points along the outline, or a distance beyond it, from one angle to another, ``(count, 2)``."""
        angle = np.radians(np.linspace(start_deg, end_deg, count))
        r = self.radius(angle) + beyond
        return np.column_stack(self.frame.at(r * np.cos(angle), r * np.sin(angle)))

    def ring(self, count: int = 72, beyond: float = 0.0) -> Floats:
        """Points of the whole outline, ``(count, 2)``, anticlockwise on the map."""
        return self.arc(360.0, 360.0 / count, count, beyond)


@dataclass(frozen=True)
class Curve:
    """A smooth line through listed points, cut into pieces of about ``step`` metres."""

    points: tuple[tuple[float, float], ...]
    step: float = 4.0

    @cached_property
    def _spline(self) -> tuple[CubicSpline, float]:
        knots = np.asarray(self.points, float)
        for _ in range(3):  # the parameter becomes the length along the curve
            chord = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
            spline = CubicSpline(chord, knots)
            knots = spline(np.linspace(0.0, chord[-1], 400))
        return spline, float(chord[-1])

    @property
    def length(self) -> float:
        """Length of the curve [m]."""
        return self._spline[1]

    def at(self, s: Floats | float, t: Floats | float = 0.0) -> tuple[Floats, Floats]:
        """Map coordinates ``s`` metres along the curve and ``t`` metres to its right."""
        spline, _ = self._spline
        s, t = np.broadcast_arrays(np.asarray(s, float), np.asarray(t, float))
        x, y = np.moveaxis(spline(s), -1, 0)
        ex, ey = np.moveaxis(spline(s, 1), -1, 0)
        size = np.hypot(ex, ey)
        return x + t * ey / size, y - t * ex / size

    def line(self, start: float = 0.0, end: float | None = None) -> shapely.LineString:
        """Return the curve as a line, or a part of it."""
        last = self.length if end is None else end
        s = np.linspace(start, last, max(2, round((last - start) / self.step) + 1))
        return shapely.LineString(np.column_stack(self.at(s)))


def table(rows: Sequence[tuple[float, ...]], at: Floats | float, column: int = 1) -> Floats:
    """Interpolate a column of a table by its first column without overshoot; ends are held."""
    values = np.asarray(rows, float)
    inside = np.clip(np.asarray(at, float), values[0, 0], values[-1, 0])
    out: Floats = PchipInterpolator(values[:, 0], values[:, column])(inside)
    return out


def ribbon(
    line: Frame | Curve,
    edges: Sequence[tuple[float, float, float]],
    end: Floats | None = None,
    step: float = 5.0,
) -> Floats:
    """Outline of a mown strip along a line, ``(n, 2)``: left and right offsets listed by station.

    ``edges`` are rows ``(s, left, right)``, offsets positive to the right; the mower's hand sways by about a
    metre. The start is rounded; the end runs along the points ``end``, left to right, or is rounded too.
    """
    first, last = edges[0][0], edges[-1][0]
    s = np.linspace(first, last, max(3, round((last - first) / step) + 1))
    sway = ease(s, first, first + 25) * (1 - ease(s, last - 25, last))
    left = table(edges, s, 1) + sway * np.sin(s / 9.0)
    right = table(edges, s, 2) + 1.2 * sway * np.sin(s / 11.0 + 2.0)
    turn = np.linspace(0.0, np.pi, 13)[1:-1]

    def cap(station: float, a: float, b: float, outward: float) -> Floats:
        middle, half = (a + b) / 2, (b - a) / 2
        bulge = outward * min(abs(half), 8.0) * np.sin(turn)
        return np.column_stack(line.at(station + bulge, middle - half * np.cos(turn)))

    return np.vstack(
        [
            np.column_stack(line.at(s, left)),
            cap(last, left[-1], right[-1], 1.0) if end is None else end,
            np.column_stack(line.at(s[::-1], right[::-1])),
            cap(first, right[0], left[0], -1.0),
        ]
    )


def noise(x: Floats, y: Floats, size: float, salt: int, turn_deg: float = 0.0) -> Floats:
    """Smooth bumps between about -1 and 1, one to a square of side ``size``, the same on every machine.

    Corner values come from a hash of whole numbers; between them a fifth-degree ease keeps slope and
    curvature continuous.
    """
    a = np.radians(turn_deg)
    u = (x * np.cos(a) + y * np.sin(a)) / size
    v = (y * np.cos(a) - x * np.sin(a)) / size
    i, j = np.floor(u), np.floor(v)
    fu, fv = u - i, v - j

    def corner(di: int, dj: int) -> Floats:
        mask = np.uint64(0xFFFFFFFF)
        h = (i.astype(np.int64) + di).astype(np.uint64) * np.uint64(374761393)
        h += (j.astype(np.int64) + dj).astype(np.uint64) * np.uint64(668265263)
        h = (h + np.uint64(salt * 144665)) & mask
        h = ((h ^ (h >> np.uint64(13))) * np.uint64(1274126177)) & mask
        h = h ^ (h >> np.uint64(16))
        value: Floats = h.astype(np.float64) / 2.0**31 - 1.0
        return value

    wu = fu**3 * (fu * (6 * fu - 15) + 10)
    wv = fv**3 * (fv * (6 * fv - 15) + 10)
    low = corner(0, 0) * (1 - wu) + corner(1, 0) * wu
    high = corner(0, 1) * (1 - wu) + corner(1, 1) * wu
    bumps: Floats = low * (1 - wv) + high * wv
    return bumps
