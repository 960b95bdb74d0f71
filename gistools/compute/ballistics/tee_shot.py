"""Which club and aim put a tee shot into a landing zone, and what that risks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from gistools.base.cover_classes import Kind
from gistools.base.grid import Grid
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import STANDARD_DAY, Weather, Wind
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.flight import fly
from gistools.compute.ballistics.players import Player
from gistools.compute.ballistics.simulate import Records, Shots, cells_of, records, sample_launches, shots_of
from gistools.compute.terrain.surface_kernels import height

Floats = NDArray[np.float64]

FIRST, SECOND, FINAL = 32, 256, 2048  # shots per candidate in the three rounds
AIMS = 7
KEPT = 4  # candidates of the first round that go on
RUN_M = 45.0  # clubs whose good strike carries this far short of a zone, or less, are tried (assumption)
LEAST = 0.01  # a zone that fewer shots than this finish in counts as out of reach (assumption)
EQUAL = 0.02  # candidates this close in the chance of the zone are equal; the safer one is taken
TROUBLE = (Kind.SAND, Kind.WATER, Kind.TREES, Kind.OUT, Kind.OFF_MAP)


@dataclass(frozen=True, eq=False)
class Teeing:
    """Where and in what a tee shot is played: ground, obstacles, start (x, y, level), player, wind, air."""

    land: _kernels.TurfGrid
    obstacles: _kernels.Obstacles
    start: tuple[float, float, float]
    player: Player
    wind: Wind
    weather: Weather = STANDARD_DAY
    lie: str = "tee"

    def records(self, club: Club, bearing_deg: float, n: int) -> Records:
        """Records of ``n`` shots with a club along a bearing."""
        records: Records = self.fan(club, [bearing_deg], n)[0]
        return records

    def fan(self, club: Club, bearings_deg: Sequence[float], n: int) -> Records:
        """Records of ``n`` shots with a club along each of several bearings, ``(bearings, n)``."""
        launches = [sample_launches(self.player, club, self.lie, bearing, n) for bearing in bearings_deg]
        headings, scales = (np.concatenate(parts) for parts in zip(*launches, strict=True))
        table = club.table(self.weather, self.wind)
        out = list(records(self.land, self.obstacles, table, self.start, headings, scales, threads=1))
        return np.concatenate(out).reshape(len(bearings_deg), n)

    def one(self, club: Club, heading: float) -> Records:
        """Record of the full shot with a club along a heading [rad], without dispersion."""
        table = club.table(self.weather, self.wind)
        one = np.array([heading]), np.ones(1)
        return next(records(self.land, self.obstacles, table, self.start, *one, threads=1))

    def shots(self, out: Records, features: Any = None) -> Shots:
        """Records as :class:`gistools.compute.ballistics.simulate.Shots`."""
        return shots_of(out, self.land, self.start[:2], features)


@dataclass(frozen=True, eq=False)
class Target:
    """A landing zone seen from a tee.

    Its area, the cells in it, least and greatest distance, range of bearings, level.

    The level is that of the ground at a point inside [m], nan where the terrain has none there.
    """

    area: BaseGeometry
    cells: NDArray[np.bool_]
    near_m: float
    far_m: float
    bearings: tuple[float, float]
    level: float


@dataclass(frozen=True, eq=False)
class TeeShot:
    """The tee shot chosen for a zone.

    Club, bearing [degrees], shots, and the share that finishes in the zone.
    """

    club: Club
    bearing_deg: float
    out: Records
    in_zone: NDArray[np.bool_]


def cells_in(area: BaseGeometry, land: _kernels.TurfGrid) -> NDArray[np.bool_]:
    """Mark the cells of the ground whose centre lies in an area."""
    rows, cols = land.kind.shape
    return Grid(land.x_west, land.y_north, land.cell, (rows, cols)).mask(area)


def target_for(area: BaseGeometry, start: Sequence[float], land: _kernels.TurfGrid) -> Target:
    """Return a zone as seen from a tee."""
    corners = shapely.get_coordinates(area) - np.asarray(start[:2])
    inner = area.representative_point()
    centre = np.array(inner.coords[0][:2]) - np.asarray(start[:2])
    level = float(height(land.z, land.x_west, land.y_north, land.cell, inner.x, inner.y))
    middle = math.atan2(centre[0], centre[1])
    off = np.arctan2(corners[:, 0], corners[:, 1]) - middle
    off = np.arctan2(np.sin(off), np.cos(off))
    nearest_m = float(area.distance(shapely.Point(start[:2])))
    bearings = (math.degrees(middle + float(off.min())), math.degrees(middle + float(off.max())))
    return Target(area, cells_in(area, land), nearest_m, float(np.hypot(*corners.T).max()), bearings, level)


def inside(out: Records, cells: NDArray[np.bool_], land: _kernels.TurfGrid) -> NDArray[np.bool_]:
    """Whether each ball rests in a marked cell, and not in trouble."""
    in_cells: NDArray[np.bool_] = cells_of(cells, land, out["x"], out["y"], False)
    return in_cells & ~np.isin(out["kind"], TROUBLE)


def best_shot(teeing: Teeing, target: Target) -> TeeShot | None:
    """Find the club and aim with the best chance of finishing in a zone, the safer of equals.

    Full shots with every club that can reach the zone, over aims across it; three rounds with more shots
    each. None where no club finishes in it.
    """
    low, high = target.bearings
    aims = np.linspace(low, high, AIMS + 2)[1:-1]
    step = (high - low) / (AIMS + 1)
    tried = [
        (club, float(aim), worth)
        for club, drift in _in_range(teeing, target)
        for aim, worth in zip(aims - drift, _worth(teeing, target, club, aims - drift, FIRST), strict=True)
    ]
    tried = sorted((t for t in tried if t[2][0] > 0.0), key=lambda t: (-t[2][0], t[2][1]))[:KEPT]
    if not tried:
        return None
    places = dict.fromkeys((c, a + d * step / 3.0) for c, a, _ in tried for d in (-1, 0, 1))
    worth_of: dict[tuple[Club, float], tuple[float, float]] = {}
    for club in dict.fromkeys(c for c, _ in places):
        bearings = [a for c, a in places if c == club]
        worths = _worth(teeing, target, club, bearings, SECOND)
        worth_of |= {(club, a): worth for a, worth in zip(bearings, worths, strict=True)}
    finer = [(c, a, worth_of[c, a]) for c, a in places]
    top = max(worth[0] for _, _, worth in finer)
    club, aim, _ = min((f for f in finer if f[2][0] >= top - EQUAL), key=lambda f: (f[2][1], -f[2][0]))
    out = teeing.records(club, aim, FINAL)
    in_zone = inside(out, target.cells, teeing.land)
    return TeeShot(club, aim % 360.0, out, in_zone) if in_zone.mean() >= LEAST else None


def _in_range(teeing: Teeing, target: Target) -> list[tuple[Club, float]]:
    """Clubs whose carry reaches a zone in this wind, and how far the wind moves them right [degrees]."""
    middle = sum(target.bearings) / 2.0
    drop = teeing.start[2] - target.level if math.isfinite(target.level) else 0.0
    drop = min(max(drop, -500.0), 500.0)
    chosen = []
    for club in teeing.player.bag(teeing.lie):
        flight = fly(
            club.launch, weather=teeing.weather, wind=teeing.wind, bearing_deg=middle % 360.0, drop_m=drop
        )
        if flight.apex_m < -drop:
            continue
        if target.near_m - RUN_M <= flight.carry_m <= target.far_m:
            chosen.append((club, math.degrees(math.atan2(flight.offset_m, flight.carry_m))))
    return chosen


def _worth(
    teeing: Teeing, target: Target, club: Club, aims: Sequence[float] | Floats, n: int
) -> list[tuple[float, float]]:
    """For each aim the share of shots that finish in the zone, and the share that finish in trouble."""
    out = teeing.fan(club, [float(a) for a in aims], n)
    in_zone = inside(out, target.cells, teeing.land).mean(axis=1)
    trouble = np.isin(out["kind"], TROUBLE).mean(axis=1)
    return [(float(a), float(b)) for a, b in zip(in_zone, trouble, strict=True)]


def ellipse(
    x: Floats, y: Floats, share: float, centre: tuple[float, float] | None = None
) -> tuple[Polygon, float, float, float]:
    """Ellipse round the mean of points, shaped by their covariance, that holds a share of them.

    With ``centre`` it is laid about that place instead.

    Returns
    -------
    polygon, long, wide, bearing
        Outline, full lengths of its long and short axis [m], and grid bearing of the long one [degrees, 0 to
        180].
    """
    middle = np.array([x.mean(), y.mean()] if centre is None else centre)
    away = np.column_stack([x, y]) - middle
    cover = away.T @ away / len(x) + 1e-6 * np.eye(2)
    values, axes = np.linalg.eigh(cover)
    across = away @ axes / np.sqrt(values)
    reach = float(np.quantile(np.hypot(*across.T), share))
    half = np.maximum(reach * np.sqrt(values), 0.05)
    turn = np.linspace(0.0, 2.0 * math.pi, 49)
    ring = middle + (np.column_stack([np.cos(turn) * half[0], np.sin(turn) * half[1]])) @ axes.T
    bearing = math.degrees(math.atan2(axes[0, 1], axes[1, 1])) % 180.0
    return Polygon(ring), float(2.0 * half[1]), float(2.0 * half[0]), bearing
