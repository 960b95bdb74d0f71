"""The line of play: from a tee, through the turning points of the hole, to the centre of the green.

The rule followed (Council of National Golf Unions, measuring rules, appendix A; second-hand): a hole
is measured along the designed line of play, a dogleg in straight legs through its pivots, each at the centre
of the fairway; where the bend is not clear the pivot is taken about 229 m (250 yd) from the most used tee.

What the rule leaves open is settled here and can be changed by drawing the line:

- A hole turns where the straight line strays from the fairway's middle line by more than a share (half) of
  the fairway's half-width (its median along the hole; assumption). Fairway nearer than
  :data:`BEFORE_LANDING_M` to the tee does not count, and a hole shorter than :data:`TURNS_FROM_M` has no
  turning point.
- A turning point is the place on the middle line for which the straight legs fit the middle line best (least
  sum of squares). A second one is looked for only on holes of at least :data:`TWO_TURNS_FROM_M`.
- The most used tee is taken to be the middle one by distance (assumption).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.fairways import hole_middle

UNCLEAR_PIVOT_M = 228.6  # 250 yd, CONGU, measuring rules, appendix A (second-hand)
TURNS_FROM_M = 220.0  # par 4 for men begins here, Rules of Handicapping, appendix F (published)
TWO_TURNS_FROM_M = 410.0  # par 5 for men begins here, Rules of Handicapping, appendix F (published)
BEFORE_LANDING_M = 100.0  # assumption: nobody's tee shot is meant to finish nearer


@dataclass(frozen=True)
class PlayLine:
    """A line of play: its corners ``(n, 2)``, ``drawn`` or ``derived``, and what was assumed."""

    points: Floats
    source: str
    note: str = ""

    @property
    def turns(self) -> int:
        """Number of turning points."""
        return len(self.points) - 2


def green_centre(green: BaseGeometry) -> Floats:
    """Centre of a green: its centroid, or the place inside closest to it where a bent green misses it."""
    middle = green.centroid
    if not green.covers(middle):
        middle = shapely.get_point(shapely.shortest_line(green, middle), 0)
    return np.asarray(middle.coords[0][:2])


def tee_centre(tee: BaseGeometry) -> Floats:
    """Where a tee is measured from: the point, or the centroid of the teeing area."""
    return np.asarray(tee.centroid.coords[0][:2])


def middle_tee(tees: Floats, green: Floats) -> int:
    """Index of the tee taken as the most used one: the middle one by distance from the green."""
    order = np.argsort(np.hypot(*(tees - green).T), kind="stable")
    return int(order[len(order) // 2])


def turning_points(
    tees: Floats, green: Floats, fairway: BaseGeometry, *, share: float = 0.5
) -> tuple[Floats, str]:
    """Turning points of a hole.

    Parameters
    ----------
    tees : (k, 2)
        Centres of its tees [m].
    green : (2,)
        Centre of its green [m].
    fairway
        Its fairway, any number of parts.
    share
        How far the fairway's middle may stray from a straight leg, as a share of its median half-width.

    Returns
    -------
    points : (0 to 2, 2) [m]
    note
        What was assumed, or empty.
    """
    none: Floats = np.empty((0, 2))
    tee = tees[middle_tee(tees, green)]
    if _length([tee, green]) < TURNS_FROM_M:
        return none, ""
    middle, half = hole_middle(fairway, tee)
    counts = np.hypot(*(middle - tee).T) > BEFORE_LANDING_M if len(middle) else np.zeros(0, bool)
    middle, half = middle[counts], half[counts]
    if len(middle) < 3:
        return none, ""
    if _strays(_away(middle, tee, green), half) <= share:
        return none, ""
    fits: list[tuple[float, Floats]] = [_one_turn(middle, half, tee, green)]
    if fits[0][0] > share and _length([tee, *fits[0][1], green]) >= TWO_TURNS_FROM_M:
        fits.append(_two_turns(middle, half, tee, green))
    for stray, points in fits:
        if stray <= share:
            return points, ""
    if len(fits) == 2:
        return fits[1][1], "the bends are not clear; the turning points are those that fit the fairway best"
    nearest = int(np.argmin(np.abs(np.hypot(*(middle - tee).T) - UNCLEAR_PIVOT_M)))
    return middle[[nearest]], "the bend is not clear; the turning point is about 229 m from the middle tee"


def derived_line(tee: Floats, turns: Floats, green: Floats, note: str = "") -> PlayLine:
    """Line of play from one tee through the turning points that lie ahead of it."""
    ahead = [*turns, green]
    while len(ahead) > 1 and np.hypot(*(tee - ahead[1])) <= np.hypot(*(ahead[0] - ahead[1])):
        ahead.pop(0)
    return PlayLine(np.array([tee, *ahead]), "derived", note)


def drawn_line(
    points: Floats, tee: Floats, green: Floats, green_area: BaseGeometry, *, snap_m: float, for_one_tee: bool
) -> tuple[PlayLine, list[str]]:
    """Line of play as drawn, put the right way round and tied to the tee's and the green's centre.

    Parameters
    ----------
    points : (n, 2)
        Corners as drawn [m].
    tee, green : (2,)
        Centres [m].
    green_area
        Outline of the green.
    snap_m
        How far from the tee the line may begin (or, for a line of all tees, pass by it), and from the green
        end, before it is doubted [m].
    for_one_tee
        True for a line of this tee alone: its first corner moves to the tee's centre. False for a line drawn
        for all tees: from this tee on to the corners ahead of it.

    Returns
    -------
    line
        The line of play.
    doubts
        What does not fit in the drawing, for warnings.
    """
    doubts = []
    points = Alignment(points).points
    forward = np.hypot(*(points[0] - tee)) + np.hypot(*(points[-1] - green))
    backward = np.hypot(*(points[-1] - tee)) + np.hypot(*(points[0] - green))
    note = ""
    if backward < forward:
        points = points[::-1]
        note = "drawn from green to tee, turned round"
    if shapely.distance(green_area, shapely.Point(points[-1])) <= snap_m:
        points = np.vstack([points[:-1], green])
    else:
        doubts.append(f"ends {np.hypot(*(points[-1] - green)):.0f} m from the centre of the green")
        points = np.vstack([points, green])
    if for_one_tee:
        away = float(np.hypot(*(points[0] - tee)))
        if away <= snap_m:
            points = np.vstack([tee, points[1:]])
        else:
            doubts.append(f"begins {away:.0f} m from the centre of the tee")
    else:
        line = Alignment(points)
        chainage, offset, _ = (v[0] for v in line.locate(tee))
        if abs(offset) > snap_m:
            doubts.append(f"passes {abs(offset):.0f} m beside the tee")
        ahead = line.corners[1:] > chainage + 1.0
        ahead[-1] = True
        points = np.vstack([tee, line.points[1:][ahead]])
    return PlayLine(points, "drawn", "; ".join(filter(None, [note, *doubts]))), doubts


def _away(points: Floats, start: Floats, end: Floats) -> Floats:
    """Distance of points ``(m, 2)`` from segments; ``start`` and ``end`` broadcast."""
    span = end - start
    size = np.maximum((span * span).sum(-1), 1e-12)
    share = np.clip(((points - start) * span).sum(-1) / size, 0.0, 1.0)
    miss = points - start - share[..., None] * span
    distance: Floats = np.hypot(miss[..., 0], miss[..., 1])
    return distance


def _strays(away: Floats, half: Floats) -> float:
    return float(away.max() / np.median(half))


def _length(points: list[Floats]) -> float:
    return float(np.hypot(*np.diff(np.array(points), axis=0).T).sum())


def _one_turn(middle: Floats, half: Floats, tee: Floats, green: Floats) -> tuple[float, Floats]:
    pivots, samples = middle[:, None, :], middle[None, :, :]
    away = np.minimum(_away(samples, tee, pivots), _away(samples, pivots, green))
    best = int(np.argmin((away**2).sum(axis=1)))
    return _strays(away[best], half), middle[[best]]


def _two_turns(middle: Floats, half: Floats, tee: Floats, green: Floats) -> tuple[float, Floats]:
    pivots, samples = middle[:, None, :], middle[None, :, :]
    start, end = _away(samples, tee, pivots), _away(samples, pivots, green)
    best, least = (0, 1), np.inf
    for first in range(len(middle) - 1):
        later = np.arange(first + 1, len(middle))
        between = _away(samples, middle[first], middle[later][:, None, :])
        away = np.minimum(np.minimum(start[first], between), end[later])
        sums = (away**2).sum(axis=1)
        k = int(np.argmin(sums))
        if sums[k] < least:
            best, least = (first, int(later[k])), float(sums[k])
    i, j = best
    away = np.minimum(np.minimum(start[i], _away(middle, middle[i], middle[j])), end[j])
    return _strays(away, half), middle[[i, j]]
