"""Channels of burns: taken out of the ground, and dug along a line so that the bed falls all the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import laplace
from gistools.compute.terrain.surface import Floats, Surface
from gistools.design.places import Move

LEAST_FALL = 0.0005  # of a bed that is dug [m/m]: water moves (assumption)
LEAST_DEPTH_M = 0.05  # a shallower line is no channel (assumption)
REACH_M = 8.0  # a channel is looked for so far beside the water (assumption)
BANKS = (0.1, 1.5)  # slopes that banks are taken to have at least and at most [m/m] (assumption)
USUAL_BANK = 1.0 / 3.0  # 3:1 for ride-on mowers (common practice, no source)


@dataclass(frozen=True, eq=False)
class Channel:
    """A channel as it lies in the ground.

    Attributes
    ----------
    line
        Its middle, drawn downstream.
    width_m
        Width of the bed.
    chainage, depth
        Places along the line and the depth of the bed below the ground without it [m].
    bank_slope
        Slope of its sides, from the volume of its relief [m/m].
    filled
        The ground without it.
    """

    line: LineString
    width_m: float
    chainage: Floats
    depth: Floats
    bank_slope: float
    filled: Surface

    @property
    def mean_depth_m(self) -> float:
        """Mean depth of the bed [m]."""
        return float(self.depth.mean())


def surveyed_channel(ground: Surface, line: LineString, width_m: float) -> Channel:
    """Return the channel that the ground holds along a line.

    The ground without it is the smooth surface that meets the terrain :data:`REACH_M` beside the water
    (Laplace's equation).

    Raises
    ------
    InputError
        If less than two cells of the line lie on the terrain.
    """
    west, south, east, north = ground.bounds
    pad = 1.6 * ground.cell
    inner = shapely.box(west + pad, south + pad, east - pad, north - pad)
    area = line.buffer(width_m / 2 + REACH_M).intersection(inner)
    i, j = ground.grid.window(area.bounds, 2 * ground.cell) if not area.is_empty else (slice(0, 0),) * 2
    if area.is_empty or min(ground.grid.part(i, j).shape) < 4:
        raise InputError("it lies off the terrain")
    z = ground.z.copy()
    window = ground.grid.part(i, j)
    inside = np.asarray(shapely.contains_xy(area, *window.mesh())) & np.isfinite(z[i, j])
    z[i, j][inside] = laplace(ground.z[i, j], inside)
    filled = ground.with_heights(z)
    chainage, xy = _stations(line, ground.cell)
    bed, bare = (np.asarray(s.height(*xy.T)) for s in (ground, filled))
    known = np.isfinite(bed) & np.isfinite(bare)
    if known.sum() < 2:
        raise InputError("it lies off the terrain")
    if bed[known][0] < bed[known][-1]:
        return surveyed_channel(ground, line.reverse(), width_m)
    depth = np.interp(chainage, chainage[known], np.maximum(bare - bed, 0.0)[known])
    volume = float(np.nansum(filled.z[i, j] - ground.z[i, j])) * ground.cell**2
    section = volume / max(float(chainage[known][-1] - chainage[known][0]), ground.cell)
    rest = section - width_m * float(depth.mean())
    slope = float((depth**2).mean()) / rest if rest > 0 else BANKS[1]
    return Channel(line, width_m, chainage, depth, float(np.clip(slope, *BANKS)), filled)


def _stations(line: LineString, cell: float) -> tuple[Floats, Floats]:
    """Chainages [m] and places of the vertices of a line and of points a cell apart between them."""
    xy = shapely.get_coordinates(shapely.segmentize(line, cell))
    steps = np.hypot(*np.diff(xy, axis=0).T)
    return np.r_[0.0, np.cumsum(steps)], xy


def falling(levels: Floats, chainage: Floats, least_fall: float = LEAST_FALL) -> Floats:
    """Return levels lowered where needed, so that they fall by at least a slope along the chainage."""
    return np.asarray(np.minimum.accumulate(levels + least_fall * chainage) - least_fall * chainage)


def dig(ground: Surface, channel: Channel, move: Move, lower_m: float = 0.0) -> Surface:
    """Dig a channel at its new place, as deep as it was, and deeper where its bed would not fall.

    Raises
    ------
    InputError
        If the line leaves the terrain.
    """
    line = move.shape(channel.line)
    chainage, xy = _stations(line, ground.cell)
    share = channel.chainage[-1] / chainage[-1]
    depth = np.interp(chainage * share, channel.chainage, channel.depth) + lower_m
    return _dug(ground, line, chainage, xy, depth, channel.width_m * move.factor, channel.bank_slope)


def dig_through(ground: Surface, line: LineString, width_m: float, depth_m: float) -> Surface:
    """Dig a new channel along a line, at least so deep, falling to its lower end with banks of 3:1.

    Raises
    ------
    InputError
        If the line leaves the terrain.
    """
    chainage, xy = _stations(line, ground.cell)
    levels = np.asarray(ground.height(*xy.T))
    known = levels[np.isfinite(levels)]
    if known.size and known[0] < known[-1]:
        line = line.reverse()
        chainage, xy = _stations(line, ground.cell)
    return _dug(ground, line, chainage, xy, np.full(chainage.size, depth_m), width_m, USUAL_BANK)


def _dug(
    ground: Surface, line: LineString, chainage: Floats, xy: Floats, depth: Floats, width: float, slope: float
) -> Surface:
    bare = np.asarray(ground.height(*xy.T))
    known = np.isfinite(bare)
    if known.sum() < 2 or known.mean() < 0.5:
        raise InputError("its channel would lie off the terrain")
    levels = np.interp(chainage, chainage[known], (bare - depth)[known])
    bed = falling(levels, chainage)
    deepest = float(np.max((bare - bed)[known]))
    reach = width / 2 + max(deepest, 0.0) / slope + REACH_M
    i, j = ground.grid.window(line.bounds, reach)
    x, y = ground.grid.part(i, j).mesh()
    points = shapely.points(x, y)
    beyond = np.asarray(shapely.distance(points, line)) - width / 2
    level = np.interp(np.asarray(shapely.line_locate_point(line, points)), chainage, bed)
    z = ground.z.copy()
    z[i, j] = np.where(beyond < reach, np.minimum(z[i, j], level + slope * np.maximum(beyond, 0.0)), z[i, j])
    return ground.with_heights(z)


def highest_rise_m(ground: Surface, line: LineString) -> float:
    """Return how far a bed rises against its fall at the most [m], a cell apart."""
    _, xy = _stations(line, ground.cell)
    bed = np.asarray(ground.height(*xy.T))
    bed = bed[np.isfinite(bed)]
    if bed.size < 2:
        return 0.0
    bed = bed if bed[-1] <= bed[0] else bed[::-1]
    return float((bed - np.minimum.accumulate(bed)).max())
