"""Profiles of the ground along a line: stations, levels, slopes, obstacles, a line of sight."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from gistools.base.errors import InputError
from gistools.compute.terrain.obstacles import ObstacleSet
from gistools.compute.terrain.surface import Floats, Surface


@dataclass(frozen=True, eq=False)
class Section:
    """A profile; every array is ``(stations,)``.

    Attributes
    ----------
    station_m
        Plan distance from the start of the line [m].
    x, y
        Easting and northing [m].
    level_m
        Ground [m]; ``nan`` where it is missing.
    gradient_pct
        Rise along the line, positive uphill [%]: between the stations before and behind, at the ends to the
        next one.
    obstacle_top_m
        Top of what stands over the station [m]; ``nan`` where nothing does.
    sight_level_m
        Level of the line of sight [m]; ``nan`` without one.
    """

    station_m: Floats
    x: Floats
    y: Floats
    level_m: Floats
    gradient_pct: Floats
    obstacle_top_m: Floats
    sight_level_m: Floats

    @property
    def clearance_m(self) -> Floats:
        """Clearance under the line of sight over ground and obstacles [m]; negative where it is blocked."""
        return self.sight_level_m - np.fmax(self.level_m, self.obstacle_top_m)

    def summary(self) -> dict[str, Any]:
        """Figures of the whole section, by the names of the layer ``sections``."""
        clearance, known = self.clearance_m, np.isfinite(self.clearance_m)
        least = int(np.nanargmin(clearance)) if known.any() else 0
        return {
            "length_m": float(self.station_m[-1]),
            "start_level_m": float(self.level_m[0]),
            "end_level_m": float(self.level_m[-1]),
            "climb_m": float(self.level_m[-1] - self.level_m[0]),
            "least_clearance_m": float(clearance[least]),
            "least_clearance_at_m": float(self.station_m[least]) if known.any() else np.nan,
            "note": "terrain missing along it" if np.isnan(self.level_m).any() else "",
        }

    def stations(self) -> Iterator[tuple[dict[str, float], float, float]]:
        """Figures of each station by the names of the layer ``section_points``, easting, northing."""
        names = ("station_m", "level_m", "gradient_pct", "obstacle_top_m", "sight_level_m", "clearance_m")
        columns: list[Floats] = [getattr(self, name) for name in names]
        for x, y, *values in zip(self.x, self.y, *columns, strict=True):
            yield dict(zip(names, map(float, values), strict=True)), float(x), float(y)


def section(
    surface: Surface,
    line: ArrayLike,
    *,
    spacing_m: float = 1.0,
    obstacles: ObstacleSet | None = None,
    eye_m: float | None = None,
    target_m: float = 0.0,
) -> Section:
    """Take a profile along a line.

    Stations stand every ``spacing_m`` from the start, at every corner and at the end.

    Parameters
    ----------
    surface
        The ground.
    line
        Corners of the line, shape ``(n, 2)`` [m].
    spacing_m
        Distance between stations [m].
    obstacles
        What stands on the ground.
    eye_m
        Height of an eye over the start [m]; with it the line of sight to ``target_m`` over the end is added.
    target_m
        Height above the ground at the end that the line of sight runs to [m].

    Raises
    ------
    InputError
        If the line has no length, the spacing is not positive, or a line of sight is asked for along a bent
        line.
    """
    corners = np.asarray(line, float)[:, :2]
    legs = np.hypot(*np.diff(corners, axis=0).T)
    if len(corners) < 2 or not legs.sum() > 0 or not np.isfinite(legs).all():
        raise InputError("a section needs a line with some length")
    if not (np.isfinite(spacing_m) and spacing_m > 0):
        raise InputError(f"the spacing of a section has to be a positive number of metres, not {spacing_m}")
    along = np.r_[0.0, np.cumsum(legs)]
    regular = np.arange(0.0, along[-1], spacing_m)
    station = np.unique(np.r_[regular, along])
    station = station[np.r_[True, np.diff(station) > 1e-6]]
    x, y = (np.interp(station, along, corners[:, c]) for c in (0, 1))
    level = np.asarray(surface.height(x, y), float)
    top = obstacles.tops(surface, x, y) if obstacles is not None else np.full(len(x), np.nan)
    sight = np.full(len(x), np.nan)
    if eye_m is not None:
        straight = float(np.hypot(*(corners[-1] - corners[0])))
        if straight < along[-1] - 0.01:
            raise InputError("a line of sight is straight; this line bends")
        sight = np.interp(station, along[[0, -1]], [level[0] + eye_m, level[-1] + target_m])
    return Section(station, x, y, level, _slopes(station, level), top, sight)


def _slopes(station: Floats, level: Floats) -> Floats:
    before = np.r_[0, np.arange(len(station) - 1)]
    after = np.r_[np.arange(1, len(station)), len(station) - 1]
    return np.asarray(100.0 * (level[after] - level[before]) / (station[after] - station[before]))
