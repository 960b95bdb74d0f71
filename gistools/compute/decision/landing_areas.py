"""Where a shot can land and stay on the green, or finish near the hole location.

The ground round the green is tried place by place: a ball lands there as the shot without error does, on the
line to the hole location and level with its start, bounces and rolls. The place *holds* where it comes to
rest on the green, and *feeds* where it comes to rest within FEED_REACH_M of the hole location, on ground
it is played from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.cover_classes import Kind
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.value_function import ValueFunction, heading_of
from gistools.compute.terrain.contours import area_above
from gistools.compute.terrain.surface import Surface

#: distance from the hole location within which a ball is fed to it, as `within_6_pct` has it [m]
FEED_REACH_M = 6.0
#: landings are tried so far round the green, and so far apart [m] (assumptions)
REACH_M, STEP_M = 25.0, 1.0
#: smaller patches of ground are chance, and left out [m2] (assumption)
LEAST_M2 = 5.0
LOST = (Kind.WATER, Kind.OUT, Kind.OFF_MAP)


@dataclass(frozen=True)
class LandingAreas:
    """The places of landing from which a ball holds the green, and from which it feeds to the hole."""

    holds: BaseGeometry
    feeds: BaseGeometry


def landing_areas(
    s: ValueFunction, green: BaseGeometry, pin: int, bearing_deg: float, shot: int, lie: int
) -> LandingAreas:
    """Return where a shot can land to hold the green and to feed to a hole location.

    Parameters
    ----------
    s
        The solved hole.
    green
        Outline of the green.
    pin
        Number of the hole location.
    bearing_deg
        Grid bearing of the line to it.
    shot, lie
        Numbers of the shot and of the lie it is played from.
    """
    px, py = (float(v) for v in s.pin_xy[pin])
    west, south, east, north = green.bounds
    columns = int(np.ceil((east - west + 2 * REACH_M) / STEP_M))
    rows = int(np.ceil((north - south + 2 * REACH_M) / STEP_M))
    tried = Surface(np.zeros((rows, columns)), west - REACH_M, north + REACH_M, STEP_M)
    x, y = (np.ascontiguousarray(v.ravel()) for v in tried.grid.mesh())
    out = np.zeros(x.size, _kernels.OUTCOME)
    action = _kernels.Action(int(shot), heading_of(bearing_deg))
    _kernels.straight(s.ground, s.tables(lie), action, x, y, out)
    holds = np.where(out["kind"] == Kind.GREEN, 1.0, -1.0)
    feeds = FEED_REACH_M - np.hypot(out["x"] - px, out["y"] - py)
    feeds[np.isin(out["kind"], LOST)] = -FEED_REACH_M
    return LandingAreas(*(_area(tried, field) for field in (holds, feeds)))


def _area(tried: Surface, field: NDArray[np.float64]) -> BaseGeometry:
    area = area_above(tried.with_heights(field.reshape(tried.z.shape)), 0.0)
    return shapely.union_all([part for part in shapely.get_parts(area) if part.area >= LEAST_M2])
