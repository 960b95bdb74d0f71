"""The ground of the sample site: one recipe of smooth fields and carved shapes, the same every time.

Broad land comes first, on a coarse grid: levels listed along each hole and the burn, spread between them by
inverse distance; dunes where nobody plays; hummocks on the fairways; the shallow valley of the burn. It is
then carried to the fine grid by cubic splines, and what a surveyor would have picked up is worked into it:
mounds, greens, tees, pads, the pool, the burn's channel, bunkers. Heights are rounded to the millimetre.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np
import shapely
from scipy.interpolate import RectBivariateSpline
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from gistools.compute.terrain.surface import Surface
from sample_course import around, plan
from sample_course.shapes import Blob, Curve, Floats, Frame, ease, noise, table

#: steps of the coarse grids [m]: broad levels, then dunes and hummocks
BROAD, MIDDLE = 6.0, 2.0


def terrain() -> Surface:
    """Make the terrain of the sample site, in map coordinates."""
    west, south, east, north = plan.EXTENT
    x = np.arange(west + plan.CELL / 2, east, plan.CELL)
    y = np.arange(south + plan.CELL / 2, north, plan.CELL)
    ground = _Canvas(x, y, _land(x, y))
    for mound in plan.MOUNDS:
        ground.work(mound.blob, 0.5, partial(_raise_mound, mound))
    for g in plan.GREENS:
        ground.work(g.blob, g.blend + 1, partial(_set_green, g))
    for tee in plan.TEES:
        ground.pad(tee.frame, tee.length, tee.width, tee.level, fall=0.01, blend=tee.blend)
    for _, frame, length, width, _, level in (around.HOUSE, around.SHELTER):
        ground.pad(frame, length + 4, width + 4, level, fall=0.0, blend=8.0)
    ground.work(around.POOL[1], 9.0, _dig_pool)
    _cut_burn(ground)
    for b in plan.BUNKERS:
        ground.work(b.blob, 5.0, partial(_dig_bunker, b))
    # a raster table holds 32-bit numbers: the same ones in memory
    heights = np.round(ground.z[::-1], 3).astype(np.float32).astype(np.float64)
    return Surface(heights, plan.ORIGIN[0] + west, plan.ORIGIN[1] + north, plan.CELL)


class _Canvas:
    """Heights on rising ``x`` and ``y``, worked on in windows."""

    def __init__(self, x: Floats, y: Floats, z: Floats) -> None:
        self.x, self.y, self.z = x, y, z

    def window(self, west: float, south: float, east: float, north: float) -> tuple[slice, slice]:
        return (
            slice(*np.searchsorted(self.y, (south, north))),
            slice(*np.searchsorted(self.x, (west, east))),
        )

    def work(self, blob: Blob, margin: float, change: Callable[[Floats, Floats, Floats], Floats]) -> None:
        """Replace the heights in the box round a rounded outline."""
        ring = blob.ring(beyond=margin)
        rows, cols = self.window(*ring.min(axis=0), *ring.max(axis=0))
        px, py = np.meshgrid(self.x[cols], self.y[rows])
        self.z[rows, cols] = change(self.z[rows, cols], px, py)

    def pad(
        self, frame: Frame, length: float, width: float, level: float, *, fall: float, blend: float
    ) -> None:
        """Level a rectangle, falling to its rear, and tie it in over ``blend`` metres."""
        half = np.hypot(length, width) / 2 + blend
        rows, cols = self.window(frame.x - half, frame.y - half, frame.x + half, frame.y + half)
        s, t = frame.along(*np.meshgrid(self.x[cols], self.y[rows]))
        away = np.hypot(np.maximum(abs(s) - length / 2, 0), np.maximum(abs(t) - width / 2, 0))
        share = ease(away, 0.8, blend)
        z = self.z[rows, cols]
        self.z[rows, cols] = z * share + (level + fall * s) * (1 - share)


def _raise_mound(m: plan.Mound, z: Floats, x: Floats, y: Floats) -> Floats:
    """Add a mound: all of its rise in the middle, no slope at the crest or the toe, (1 - r^2)^2 between."""
    share = m.blob.reach(x, y)[0]
    return z + m.rise * np.maximum(1 - share**2, 0.0) ** 2


def green_level(g: plan.Green, x: Floats, y: Floats) -> Floats:
    """Finished level of a green's shaped surface, carried on beyond its edge."""
    u, v = g.blob.frame.along(x, y)
    fan = (g.right_pct - g.left_pct) / 2 * v + (g.right_pct + g.left_pct) / 2 * np.sqrt(v**2 + 9.0)
    up = ease(u + g.step_skew * v, g.step_from, g.step_from + g.step_over)
    level: Floats = (
        g.level
        + g.tilt_pct / 100 * u
        + (1 - up) * fan / 100
        + up * (g.step + g.top_pct / 100 * v)
        - g.front * ease(-u, -g.front_from, g.front_over - g.front_from)
    )
    return level


def _set_green(g: plan.Green, z: Floats, x: Floats, y: Floats) -> Floats:
    share = ease(g.blob.reach(x, y)[1], 0.6, g.blend)
    out: Floats = z * share + green_level(g, x, y) * (1 - share)
    return out


def _dig_bunker(b: plan.Bunker, z: Floats, x: Floats, y: Floats) -> Floats:
    share, beyond = b.blob.reach(x, y)
    middle = np.unravel_index(np.argmin(share), share.shape)
    floor = z[middle] - b.depth
    z = z + b.lip * ease(beyond, -1.0, 0.4) * (1 - ease(beyond, 0.4, 3.5))
    # the face takes a third of a pot's radius, but no more than two metres of a long bunker
    face = np.minimum(0.32 * (np.hypot(*b.blob.frame.along(x, y)) - beyond), 2.0)
    up = ease(beyond / face, -1.0, 0.0)
    dug: Floats = floor + 0.12 * share**2 + (z - floor - 0.12 * share**2) * up
    return np.where(share < 1.0, dug, z)


def _dig_pool(z: Floats, x: Floats, y: Floats) -> Floats:
    _, blob, level = around.POOL
    beyond = blob.reach(x, y)[1]
    out: Floats = level + (z - level) * ease(beyond, 0.0, 9.0)
    return np.where(beyond < 0.0, level, out)


def _cut_burn(ground: _Canvas) -> None:
    """Cut the channel: a flat bed as wide as the water, and banks up to the land beside it."""
    line = _dense(plan.BURN.line(), 0.1)
    rows, cols = ground.window(*(line.min(axis=0) - 3), *(line.max(axis=0) + 3))
    px, py = np.meshgrid(ground.x[cols], ground.y[rows])
    lies = np.abs(py - np.interp(px, line[::-1, 0], line[::-1, 1])) < 6.0
    away, bed = _from_burn(px[lies], py[lies], 0.1)
    z = ground.z[rows, cols]
    z[lies] = bed + (z[lies] - bed) * ease(away, plan.BURN_WIDTH / 2, plan.BURN_WIDTH / 2 + 1.3)


def _from_burn(x: Floats, y: Floats, step: float) -> tuple[Floats, Floats]:
    """Distance to the middle of the burn, and the level of its bed beside each point."""
    line = _dense(plan.BURN.line(), step)
    away, nearest = cKDTree(line).query(np.column_stack([x, y]))
    return away, table(plan.BURN_BED, nearest * step)


def _dense(shape: Any, step: float) -> Floats:
    """Points along a line or outline, ``step`` metres apart."""
    s = np.arange(0.0, shape.length, step)
    return shapely.get_coordinates(shapely.line_interpolate_point(shape, s))


def _land(x: Floats, y: Floats) -> Floats:
    """Everything broader than about ten metres, on the fine grid."""
    gx = np.arange(x[0] - 2 * BROAD, x[-1] + 3 * BROAD, MIDDLE)
    gy = np.arange(y[0] - 2 * BROAD, y[-1] + 3 * BROAD, MIDDLE)
    px, py = np.meshgrid(gx, gy)
    level = _levels(gx, gy)
    play, quiet, path = (_distance(shapes, px, py) for shapes in _places())
    burn, bed = (a.reshape(px.shape) for a in _from_burn(px.ravel(), py.ravel(), 0.5))
    wild = ease(play, 3.0, 40.0) * ease(burn, 5.0, 38.0) * (0.35 + 0.65 * ease(path, 2.0, 22.0))
    level += wild * _dunes(px, py)
    level += _hummocks(px, py) * ease(quiet, 3.0, 18.0) * ease(burn, 3.0, 14.0)
    beside = bed + plan.BURN_BANK + 0.012 * burn
    level = beside + (level - beside) * ease(burn, 3.0, 24.0)
    return RectBivariateSpline(gy, gx, level)(y, x)


def _levels(gx: Floats, gy: Floats) -> Floats:
    """Spread the levels listed along holes and burn over the land: inverse fourth power of the distance."""
    known = []
    holes: tuple[tuple[Frame | Curve, plan.Levels], ...] = (
        (plan.ONE, plan.LEVELS_ONE),
        (plan.TWO, plan.LEVELS_TWO),
        (plan.THREE, plan.LEVELS_THREE),
    )
    for line, rows in holes:
        s = np.arange(rows[0][0], rows[-1][0] + 0.1, 8.0)
        level, camber = table(rows, s), table(rows, s, 2)
        for t in (-28.0, -14.0, 0.0, 14.0, 28.0):
            known.append(np.column_stack([*_extended(line, s, t), level + camber / 100 * t]))
    s = np.arange(0.0, plan.BURN.length, 10.0)
    known.append(np.column_stack([*plan.BURN.at(s), table(plan.BURN_BED, s) + plan.BURN_BANK + 0.1]))
    for _, frame, _, _, _, stands in (around.HOUSE, around.SHELTER):
        known.append(np.array([[frame.x, frame.y, stands]]))
    kx, ky, kz = np.vstack(known).T
    bx, by = np.arange(gx[0], gx[-1] + BROAD, BROAD), np.arange(gy[0], gy[-1] + BROAD, BROAD)
    top, bottom = np.zeros((len(by), len(bx))), np.zeros((len(by), len(bx)))
    for i in range(len(kz)):
        w = 1.0 / (((bx - kx[i]) ** 2)[None, :] + ((by - ky[i]) ** 2)[:, None] + 14.0**2) ** 2
        top += w * kz[i]
        bottom += w
    return RectBivariateSpline(by, bx, top / bottom)(gy, gx)


def _extended(line: Frame | Curve, s: Floats, t: float) -> tuple[Floats, Floats]:
    """Points along a line that may run a little before its start or past its end."""
    if isinstance(line, Frame):
        return line.at(s, t)
    inside = np.clip(s, 0.0, line.length)
    x, y = line.at(inside, t)
    ax, ay = line.at(inside + 0.5)
    bx, by = line.at(inside - 0.5)
    return x + (s - inside) * (ax - bx), y + (s - inside) * (ay - by)


def _places() -> tuple[Sequence[BaseGeometry], ...]:
    """Where play goes (no dunes), where the ground is smooth (no hummocks), where paths run (low dunes)."""
    fairways = [shapely.Polygon(outline) for outline in plan.fairway_outlines().values()]
    greens = [shapely.Polygon(g.blob.ring(beyond=3.0)) for g in plan.GREENS]
    tees = [shapely.Point(t.frame.x, t.frame.y).buffer(6.0) for t in plan.TEES]
    views = [
        shapely.LineString(np.column_stack(plan.ONE.at(np.array([-8.0, 330.0]), 0.0))).buffer(9.0),
        shapely.LineString(np.column_stack(plan.TWO.at(np.array([-8.0, 150.0]), 0.0))).buffer(9.0),
        plan.THREE.line(0.0, 160.0).buffer(9.0),
    ]
    mounds = [shapely.Polygon(m.blob.ring()) for m in plan.MOUNDS]
    house = [shapely.Point(around.HOUSE[1].x, around.HOUSE[1].y).buffer(9.0)]
    pool = [shapely.Polygon(around.POOL[1].ring())]
    hut = [shapely.Point(around.SHELTER[1].x, around.SHELTER[1].y).buffer(5.0)]
    paths = [shapely.LineString(Curve(points).line().coords) for *_, points in around.PATHS]
    return fairways + greens + tees + views + mounds + house + pool + hut, greens + tees + house + hut, paths


def _distance(shapes: Sequence[BaseGeometry], x: Floats, y: Floats) -> Floats:
    """Distance from each point to the nearest of some shapes, 0 inside one."""
    edges = np.vstack([_dense(s.boundary if s.area else s, 2.0) for s in shapes])
    away: Floats = cKDTree(edges).query(np.column_stack([x.ravel(), y.ravel()]))[0].reshape(x.shape)
    for shape in shapes:
        if shape.area:
            shapely.prepare(shape)
            away[shapely.contains_xy(shape, x, y)] = 0.0
    return away


def _dunes(x: Floats, y: Floats) -> Floats:
    """Height of the dunes: crests drawn out north and south, bent and broken, with hollows between."""
    bent_x = x + 15.0 * noise(x, y, 48.0, 11, 20.0) + 6.0 * noise(x, y, 21.0, 17, 65.0)
    bent_y = y + 15.0 * noise(x, y, 48.0, 12, 50.0) + 6.0 * noise(x, y, 21.0, 18, 5.0)
    long = noise(bent_x, 0.55 * bent_y, 30.0, 13, 14.0) + 0.7 * noise(bent_x, 0.55 * bent_y, 30.0, 19, -27.0)
    crest = 1.0 - np.sqrt(long**2 + 0.02)
    tall = 0.6 + 0.4 * noise(x, y, 80.0, 14, 33.0)
    low = noise(bent_x, bent_y, 17.0, 15, 40.0)
    return 0.2 + 5.6 * tall * np.maximum(crest, 0.0) ** 1.5 + 0.7 * low + 0.2 * noise(x, y, 9.0, 16, 25.0)


def _hummocks(x: Floats, y: Floats) -> Floats:
    """Hummocks of links fairways: 20 to 60 m from crest to crest, up to about half a metre either way."""
    return (
        0.38 * noise(x, y, 26.0, 21, 15.0)
        + 0.24 * noise(x, y, 15.0, 22, 55.0)
        + 0.06 * noise(x, y, 9.0, 23, 80.0)
    )
