"""The crest level that just hides or just shows a flag: lines of sight solved for the ground.

A *mound* is raised or lowered by its rise above the ground that would be there without it: the level at each
place is ``base + k * rise``, so the toe stays where it is. The base is the smooth surface that meets the
ground along the outline (Laplace's equation with the outline as boundary). A *ridge*, drawn as a crest line,
is brought to one level along the line, its sides running down (or up, in a cut) at a given slope until they
meet the ground.

Both rise everywhere or nowhere with the crest level, so the level that touches a line of sight follows
directly: the least, over the line, of the level that lifts the ground there to the line. No search is needed,
and the forward computation on the changed ground is an independent check.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import ArrayLike
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.defaults import EYE_M, STICK_M
from gistools.compute.terrain.line_of_sight import BALL_M, Scene
from gistools.compute.terrain.surface import Floats, Mask, Surface

#: goal -> (height on the flagstick as a share of it, whether it is to be hidden); the foot is a ball lying
#: there
GOALS: dict[str, tuple[float, bool]] = {
    "show foot": (0.0, False),
    "show top": (1.0, False),
    "hide foot": (0.0, True),
    "hide half": (0.5, True),
    "hide all": (1.0, True),
}
#: added to the safe side until the changed ground meets the goal: its cells round corners off (assumption)
MARGINS_M = (0.005, 0.05, 0.15)
SIDES_M = 25.0  # assumption: the sides of a ridge are looked at this far from its crest line
BODY = 1 / 3  # assumption: lines to be hidden pass where the mound has this share of its rise
TOE = 0.01  # assumption: lines to be shown pass where it has any of it
HIGHEST_M = 10.0  # assumption: nobody raises a crest by more
LEAST_RISE_M = 0.05  # assumption: lower than this a mound is not one
SAMPLES = 8  # samples to a cell along a line of sight (assumption)


@dataclass(frozen=True, eq=False)
class Mound:
    """A mound in the terrain: see :func:`mound`."""

    base: Surface
    rise: Surface
    area: BaseGeometry
    crest_m: float
    top: tuple[float, float]
    reach_m: float

    def level_for(self, x: Floats, y: Floats, line_m: Floats) -> Floats:
        """Crest level that lifts the ground at each point to ``line_m``; inf where the mound has no rise."""
        rise, base = self.rise.height(x, y), self.base.height(x, y)
        with np.errstate(divide="ignore", invalid="ignore"):
            k = np.where(rise > 1e-6, (line_m - base) / rise, np.inf)
        foot, full = self.base.height(*self.top), self.rise.height(*self.top)
        return np.asarray(foot + k * full)

    def share_of_rise(self, x: Floats, y: Floats) -> Floats:
        """How high the mound is at each point, as a share of its rise at the crest."""
        return np.asarray(self.rise.height(x, y)) / float(self.rise.height(*self.top))

    def at(self, crest_m: float) -> Surface:
        """The ground with the crest at a level; under the base the ground is lowered as far below it."""
        foot, full = self.base.height(*self.top), self.rise.height(*self.top)
        k = (crest_m - foot) / full
        return self.base.with_heights(self.base.z + k * self.rise.z)


@dataclass(frozen=True, eq=False)
class Ridge:
    """A crest line on the terrain: see :func:`ridge`."""

    surface: Surface
    line: BaseGeometry
    half_m: float
    side: float
    area: BaseGeometry
    crest_m: float
    top: tuple[float, float]
    reach_m: float = SIDES_M

    def _drop(self, x: Floats, y: Floats) -> Floats:
        distance = np.asarray(shapely.distance(shapely.points(x, y), self.line))
        return np.maximum(distance - self.half_m, 0.0) * self.side

    def level_for(self, x: Floats, y: Floats, line_m: Floats) -> Floats:
        """Crest level that lifts the ground at each point to ``line_m``."""
        drop = self._drop(x, y)
        return np.asarray(np.where(self.surface.height(x, y) >= line_m, line_m - drop, line_m + drop))

    def share_of_rise(self, x: Floats, y: Floats) -> Floats:
        """1 on the flat top of the crest line, 0 beside it."""
        return np.asarray(self._drop(x, y) == 0, float)

    def at(self, crest_m: float) -> Surface:
        """The ground with the crest at a level."""
        s = self.surface
        drop = self._drop(*s.grid.mesh())
        return s.with_heights(np.clip(s.z, crest_m - drop, crest_m + drop))


#: something whose crest level can be changed
Crest = Mound | Ridge


def mound(surface: Surface, outline: BaseGeometry) -> Mound:
    """Take a mound out of the terrain, so that its crest can be moved.

    Raises
    ------
    InputError
        If the outline reaches past the terrain or over missing ground, or nothing rises in it.
    """
    inside = surface.grid.mask(outline)
    if not inside.any():
        raise InputError("the outline of the mound holds no cell of the terrain")
    if (
        inside[[0, -1]].any()
        or inside[:, [0, -1]].any()
        or not np.isfinite(surface.z[ndimage.binary_dilation(inside)]).all()
    ):
        raise InputError("the outline of the mound reaches past the terrain or over missing heights")
    z = surface.z.copy()
    z[inside] = laplace(surface.z, inside)
    rise = np.where(inside, np.maximum(surface.z - z, 0.0), 0.0)
    if rise.max() < LEAST_RISE_M:
        raise InputError(f"nothing rises more than {LEAST_RISE_M} m within the outline of the mound")
    i, j = np.unravel_index(int(rise.argmax()), rise.shape)
    base = surface.with_heights(surface.z - rise)
    lift = surface.with_heights(np.where(np.isfinite(z), rise, np.nan))
    x, y = surface.centres()
    top = (float(x[j]), float(y[i]))
    return Mound(base, lift, outline, float(surface.z[i, j]), top, 2 * surface.cell)


def ridge(
    surface: Surface, line: BaseGeometry, *, width_m: float = 2.0, side_slope_pct: float = 25.0
) -> Ridge:
    """Prepare a crest line: one level along it, ``width_m`` flat on top, sides at ``side_slope_pct``.

    Its level today is the highest along the line. A side slope of 25 % is the steepest preferred for mown
    banks (common practice, no source).

    Raises
    ------
    InputError
        If no part of the line is on the terrain.
    """
    corners = shapely.get_coordinates(shapely.segmentize(line, surface.cell / 2))
    x, y = corners[:, 0], corners[:, 1]
    levels = np.asarray(surface.height(x, y))
    if not np.isfinite(levels).any():
        raise InputError("the crest line lies outside the terrain or over missing heights")
    k = int(np.nanargmax(levels))
    half = max(width_m / 2, surface.cell)
    return Ridge(
        surface,
        line,
        half,
        side_slope_pct / 100.0,
        line.buffer(half),
        float(levels[k]),
        (float(x[k]), float(y[k])),
    )


@dataclass(frozen=True)
class Screen:
    """The crest level for one goal, how many lines it is for, and the check on changed ground.

    ``crest_m`` is ``nan`` with a ``reason`` where no level meets the goal. ``met`` is the share of the
    crossing lines for which the goal holds when the lines run again over the ground with the crest at that
    level, 5 mm to the safe side. Where the cells of the changed ground round its corners off and that is not
    enough, a few centimetres are added.
    """

    goal: str
    crest_m: float
    change_m: float
    lines: int
    crossing: float
    met: float
    reason: str


def screens(
    scene: Scene,
    crest: Crest,
    observers: ArrayLike,
    flag: ArrayLike,
    *,
    goals: tuple[str, ...] = tuple(GOALS),
    share: float = 1.0,
    eye_m: float = EYE_M,
    target_m: float = STICK_M,
) -> list[Screen]:
    """Find the crest levels that just show or just hide a flagstick from an area.

    Parameters
    ----------
    scene
        Ground of today, with what stands on it.
    crest
        From :func:`mound` or :func:`ridge`, on the same ground.
    observers
        Places of the area to play from, ``(n, 2)`` [m]. Those on the mound itself are left out.
    flag
        Foot of the flagstick [m].
    goals
        Any of :data:`GOALS`.
    share
        Share of the lines that cross the crest for which the goal has to hold, 0 to 1. To hide, lines count
        that pass where the mound has at least a third of its rise: raising a mound cannot hide what is seen
        past its side. To show, all count that touch it.
    eye_m, target_m
        Heights of the eyes and of the flagstick [m].

    Raises
    ------
    InputError
        If the flagstick stands on the mound or off the terrain.
    """
    surface = scene.surface
    px, py = (float(v) for v in np.asarray(flag, float).ravel())
    pz = float(surface.height(px, py))
    if not np.isfinite(pz) or crest.area.intersects(shapely.Point(px, py)):
        raise InputError("the flagstick stands on the mound itself, or off the terrain: nothing to screen")
    e = np.asarray(observers, float).reshape(-1, 2)
    ez = np.asarray(surface.height(e[:, 0], e[:, 1])) + eye_m
    free = np.isfinite(ez) & ~np.asarray(shapely.intersects_xy(crest.area, e[:, 0], e[:, 1]), bool)
    e, ez = e[free], ez[free]
    heights = np.array([max(GOALS[goal][0] * target_m, BALL_M) for goal in goals])
    lines = [_touching(crest, p, z, (px, py), pz + heights, surface.cell) for p, z in zip(e, ez, strict=True)]
    levels = np.array([level for level, _ in lines]).reshape(len(e), len(goals))
    crossed = np.array([share_crossed for _, share_crossed in lines])
    answers = []
    for k, goal in enumerate(goals):
        over = crossed >= (BODY if GOALS[goal][1] else TOE)
        again = partial(_lowest_seen, scene, e[over], (px, py), eye_m=eye_m, target_m=target_m)
        rate = float(over.mean()) if len(over) else 0.0
        answers.append(_screen(goal, float(heights[k]), levels[over, k], rate, share, crest, again))
    return answers


def _lowest_seen(
    scene: Scene,
    observers: Floats,
    flag: tuple[float, float],
    ground: Surface,
    *,
    eye_m: float,
    target_m: float,
) -> Floats:
    """Lowest height seen of a flagstick by each observer, ``(n,)`` [m], over other ground."""
    changed = Scene(ground, scene.obstacles, threads=scene.threads)
    return changed.views(observers, flag, eye_m=eye_m, target_m=target_m).low_m[:, 0]


def _screen(
    goal: str,
    height: float,
    levels: Floats,
    rate: float,
    share: float,
    crest: Crest,
    views_over: Callable[[Surface], Floats],
) -> Screen:
    nan, count, hide = float("nan"), len(levels), GOALS[goal][1]
    if not count:
        return Screen(goal, nan, nan, 0, rate, nan, "no line to the flag crosses it")
    level = float(np.quantile(levels, share if hide else 1 - share, method="higher" if hide else "lower"))
    if isinstance(crest, Mound) and level < float(crest.base.height(*crest.top)):
        reason = "hidden without the mound" if hide else "the ground below the mound hides it already"
        return Screen(goal, nan, nan, count, rate, nan, reason)
    if not level - crest.crest_m <= HIGHEST_M:
        reason = f"the crest would have to rise by more than {HIGHEST_M:.0f} m"
        return Screen(goal, nan, nan, count, rate, nan, reason)
    met, best = -1.0, level
    for margin in MARGINS_M:
        trial = level + (margin if hide else -margin)
        low = views_over(crest.at(trial))
        rate_met = float(np.mean(low >= height if hide else low <= height))
        if rate_met > met + 1e-9:
            met, best = rate_met, level if margin == MARGINS_M[0] else trial
        if met >= share - 1e-9:
            break
    reason = (
        "" if met >= share - 1e-9 else "other ground or obstacles hide it" if not hide else "see the check"
    )
    return Screen(goal, best, best - crest.crest_m, count, rate, met, reason)


def _touching(
    crest: Crest, observer: Floats, ze: float, flag: tuple[float, float], targets: Floats, cell: float
) -> tuple[Floats, float]:
    """Crest levels that touch the lines to levels of a flagstick, and the share of the crest passed."""
    px, py = flag
    d = float(np.hypot(px - observer[0], py - observer[1]))
    s = np.linspace(0.0, d, max(int(d / cell * SAMPLES), 2) + 1)[1:-1]
    x, y = observer[0] + (px - observer[0]) * s / d, observer[1] + (py - observer[1]) * s / d
    west, south, east, north = crest.area.bounds
    pad = crest.reach_m
    passing = (x >= west - pad) & (x <= east + pad) & (y >= south - pad) & (y <= north + pad)
    if not passing.any():
        return np.full(len(targets), np.inf), 0.0
    x, y, s = x[passing], y[passing], s[passing]
    level = crest.level_for(x, y, ze + (targets[:, None] - ze) * s / d)
    return np.nanmin(np.where(np.isnan(level), np.inf, level), axis=1), float(
        np.nanmax(crest.share_of_rise(x, y))
    )


def laplace(z: Floats, inside: Mask) -> Floats:
    """Heights inside a mask that join smoothly with those round it: each the mean of its four neighbours."""
    rows, cols = np.nonzero(inside)
    number = np.full(z.shape, -1)
    number[rows, cols] = np.arange(len(rows))
    matrix = sparse.lil_matrix((len(rows), len(rows)))
    known = np.zeros(len(rows))
    unknown = np.arange(len(rows))
    matrix[unknown, unknown] = 4.0
    for di, dj in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        other = number[rows + di, cols + dj]
        free = other >= 0
        matrix[unknown[free], other[free]] = -1.0
        known[~free] += z[rows + di, cols + dj][~free]
    return np.asarray(spsolve(matrix.tocsr(), known))
