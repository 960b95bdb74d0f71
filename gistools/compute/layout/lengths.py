"""Length of a hole: on the map grid, on the ground, along the ground, and the pars of that length.

A hole is measured in the horizontal plane, tee centre to green centre, leg by leg. A tape or an instrument
measures at the level of the ground: the *ground* distance is the grid distance of the map divided by the
combined factor

    CF = k R / (R + h)

with the scale factor ``k`` of the projection at the place and the height ``h`` above the ellipsoid.

Sources
-------
Council of National Golf Unions, measuring rules, appendix A (second-hand). World Handicap System, Rules of
Handicapping, appendix F: par by length (published).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike
from pyproj import CRS, Proj

from gistools.base.errors import InputError
from gistools.base.grid import Floats
from gistools.compute.layout.alignment import Alignment
from gistools.compute.terrain.surface import Surface

EARTH_RADIUS_M = 6_372_000.0  # mean radius for reducing heights
SPACING_M = 25.0  # stations at which the factor is averaged; it changes by parts per thousand million between
CARD_ROUND_UP = 0.5  # a half rounds up: Deutscher Golf Verband, measuring rules (second-hand)

#: Par by length, Rules of Handicapping appendix F, below 610 m altitude, as printed in each unit (published):
#: par -> (from, to); the bands overlap on purpose
PAR_BANDS: dict[tuple[str, str], dict[int, tuple[float, float]]] = {
    ("men", "m"): {3: (0, 240), 4: (220, 450), 5: (410, 650), 6: (610, np.inf)},
    ("women", "m"): {3: (0, 200), 4: (180, 380), 5: (340, 550), 6: (520, np.inf)},
    ("men", "yd"): {3: (0, 260), 4: (240, 490), 5: (450, 710), 6: (670, np.inf)},
    ("women", "yd"): {3: (0, 220), 4: (200, 420), 5: (370, 600), 6: (570, np.inf)},
}


def scale_factor(crs: Any, x: ArrayLike, y: ArrayLike) -> Floats:
    """Scale factor ``k`` of the projection at points (grid distance = ellipsoidal distance times k).

    Parameters
    ----------
    crs
        Projected CRS (anything pyproj understands), or a local engineering grid, for which k is 1.
    x, y
        Easting and northing in the units of ``crs``.

    Raises
    ------
    InputError
        If the CRS is geographic, or the points have no place in it.

    Notes
    -----
    The mean of the scale along the meridian and along the parallel; on the conformal projections that surveys
    use the two are equal. True azimuth = grid bearing + meridian convergence.

    Sources
    -------
    PROJ, ``proj_factors``: scale along meridian and parallel (computed).
    """
    east, north = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    grid_crs = CRS.from_user_input(crs)
    if grid_crs.is_engineering:
        return np.ones(east.shape)
    if not grid_crs.is_projected:
        raise InputError(f"{grid_crs.name} is not a projected CRS; project the site first")
    proj = _projection(grid_crs.to_wkt())
    lon, lat = proj(east, north, inverse=True)
    if not np.isfinite(lon).all():
        raise InputError(f"these coordinates lie outside what {grid_crs.name} can hold")
    factors = proj.get_factors(lon, lat)
    k: Floats = 0.5 * (np.asarray(factors.meridional_scale) + np.asarray(factors.parallel_scale))
    return k


@lru_cache(maxsize=16)
def _projection(wkt: str) -> Proj:
    return Proj(CRS.from_wkt(wkt))


def combined_factor(crs: Any, x: ArrayLike, y: ArrayLike, height: ArrayLike = 0.0) -> Floats:
    """Combined factor CF = k R / (R + h): grid distance = ground distance times CF.

    Parameters
    ----------
    crs, x, y
        As in :func:`scale_factor`.
    height
        Height above the ellipsoid [m]. A level above the sea is good enough: 50 m of geoid are 8 ppm, 3 mm on
        400 m.
    """
    factor: Floats = scale_factor(crs, x, y) * EARTH_RADIUS_M / (EARTH_RADIUS_M + np.asarray(height, float))
    return factor


@dataclass(frozen=True)
class Length:
    """Lengths of one line of play; ``nan`` where the terrain does not answer, and then ``note`` says why."""

    grid_m: float
    ground_m: float
    surface_m: float
    scale_factor: float
    combined_factor: float
    tee_level_m: float
    green_level_m: float
    drop_m: float
    note: str


def measure(line: Alignment, crs: Any, surface: Surface | None = None, *, geoid_m: float = 0.0) -> Length:
    """Measure a line of play.

    Parameters
    ----------
    line
        Corners in metres of ``crs``.
    crs
        Projected CRS with metre axes, or a local grid.
    surface
        Terrain; without it heights are taken as 0 and the length along the ground is not given.
    geoid_m
        Height of the geoid above the ellipsoid, added to levels for the combined factor [m].

    Returns
    -------
    Length
        ``ground_m`` is the sum of grid pieces divided by their combined factor; ``surface_m`` sums
        sqrt(ground piece² + level difference²) over pieces of about one cell.
    """
    count = max(int(np.ceil(line.length / SPACING_M)), 1)
    at = np.unique(np.concatenate([line.corners, np.linspace(0.0, line.length, count + 1)]))
    middle = 0.5 * (at[1:] + at[:-1])
    points = line.at(middle)
    notes = []
    heights = np.zeros(len(middle))
    if surface is None:
        notes.append("no terrain: height not removed, no length along the ground")
    else:
        levels = np.asarray(surface.height(points[:, 0], points[:, 1]))
        if np.isnan(levels).all():
            notes.append("the terrain does not reach this line: height not removed")
        else:
            heights = np.where(np.isnan(levels), np.nanmean(levels), levels) + geoid_m
    k = scale_factor(crs, points[:, 0], points[:, 1])
    factor = k * EARTH_RADIUS_M / (EARTH_RADIUS_M + heights)
    piece = np.diff(at)
    ground = float((piece / factor).sum())
    tee, green, along = np.nan, np.nan, np.nan
    if surface is not None:
        tee, green, along = _along_ground(line, surface, line.length / ground)
        if np.isnan(along) and not notes:
            notes.append("the terrain has gaps under this line: no length along the ground")
    return Length(
        grid_m=line.length,
        ground_m=ground,
        surface_m=along,
        scale_factor=float(line.length / (piece / k).sum()),
        combined_factor=line.length / ground,
        tee_level_m=tee,
        green_level_m=green,
        drop_m=tee - green,
        note="; ".join(notes),
    )


def _along_ground(line: Alignment, surface: Surface, factor: float) -> tuple[float, float, float]:
    count = max(int(np.ceil(line.length / surface.cell)), 1)
    at = np.unique(np.concatenate([line.corners, np.linspace(0.0, line.length, count + 1)]))
    points = line.at(at)
    level = np.asarray(surface.height(points[:, 0], points[:, 1]))
    return (
        float(level[0]),
        float(level[-1]),
        float(np.hypot(np.diff(at) / factor, np.diff(level)).sum()),
    )


def par_by_length(length: float, *, unit: str = "m", who: str = "men") -> list[int]:
    """Pars whose published band holds a length; two where bands overlap.

    Parameters
    ----------
    length
        Length of the hole in ``unit``.
    unit
        ``"m"`` or ``"yd"``: the table is printed in both, rounded, and is to be used in the club's unit.
    who
        ``"men"`` or ``"women"``.

    Raises
    ------
    InputError
        If the length is not positive.

    Sources
    -------
    Rules of Handicapping, appendix F (published).
    """
    if not length > 0:
        raise InputError(f"a hole has a positive length, not {length}")
    return [par for par, (low, high) in PAR_BANDS[who, unit].items() if low <= length <= high]


def par_text(pars: list[int]) -> str:
    """Write pars for people: ``4``, or ``3 or 4`` where bands overlap."""
    return " or ".join(map(str, pars))


def card_length(length: float) -> int:
    """Whole metres or yards for the card; a half rounds up."""
    return int(np.floor(length + CARD_ROUND_UP))


def edge_distances(line: Alignment, green: Any) -> tuple[float, float]:
    """Distance along play to front and back of the green on the last leg, run on [m]; ``nan`` if missed."""
    beyond = Alignment(np.vstack([line.points[:-1], line.at(np.array([line.length + 200.0]))]))
    last = beyond.part(beyond.corners[-2], beyond.length)
    inside = last.geometry.intersection(green)
    if inside.is_empty or inside.length == 0.0:
        return np.nan, np.nan
    ends = shapely.points(shapely.get_coordinates(inside))
    along = beyond.corners[-2] + shapely.line_locate_point(last.geometry, ends)
    return float(along.min()), float(along.max())
