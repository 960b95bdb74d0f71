"""Flight of the ball: drag, lift, spin decay and wind, by direct integration or from tables.

Model
-----
A point mass with ``m dv/dt = 1/2 rho A V^2 (-CD u/V + CL (w x u)/|w x u|) + m g``, where u is the velocity
relative to the air, ``S = r w / V`` the spin ratio and ``Re = 2 r V / nu``; spin falls as ``dw/dt = -2e-5 w V
/ r`` (Smits & Smith 1994 [second-hand via Nathan 2008]).

Three sets of coefficients can be chosen:

``"D"`` (default)
    ``CL = 0.34 (1 - exp(-S/0.145))``, ``CD = 0.21 + 1.05 CL^2 + 0.30 / (1 + exp((Re - 61000)/7000))``. Its
    form follows the published ones (lift that saturates, drag from lift, drag crisis as in Lyu et al. 2018,
    2020); its four constants are fitted to nine republished tour averages [fit; targets from
    memory], which it meets within 2.6 % in carry. It is the default because one closed form serves driver to
    wedge: spin ratio grows to 1 in the flight of a wedge, far outside the other two.
``"Q"``
    Quintavalla 2002 as restated by McPhee 2022: ``CD = 0.171 + 0.62 S``, ``CL = 0.083 + 0.885 S`` [CD
    second-hand, CL from memory]. Good for drivers (within 2 %), 12 to 25 % short for irons and wedges.
``"SS"``
    Smits & Smith 1994 without the sine term: ``CD = 0.24 + 0.18 S``, ``CL = 0.54 S^0.4`` [second-hand]. A
    ball of the 1990s: apexes 14 to 34 % high against today's.
``"none"``
    No air, for checks.

In place of a name, user-defined drag and lift can be given:
:func:`gistools.compute.ballistics.aerodynamics.own_model`.

Balls differ by about 18 m in carry (Lyu et al. 2018): do not expect better than 3 to 5 %.

Wind is taken at the height above the start, not below 2 m (so a ball that falls below its tee keeps flying in
the wind; assumption; a level driver carry in 10 m/s changes by 0.4 m).

Step: classical Runge-Kutta of fourth order, 0.05 s, crossing of the ground on the cubic through both ends.
Halving the step moves no landing of any club, from 0.3 to 1.15 of its full ball speed, in winds up to 20 m/s
by 1 cm (worst 5 mm; in calm air 0.4 mm for whatever launch). It can move launches that no club gives by up to
9 cm in 15 to 20 m/s: steeper than 38 degrees at more than 52 m/s (2 cm in 10 m/s), or where the wind blows a
nearly stopped ball along its own spin axis. Many flights side by side are computed in single precision:
within 1 mm of double.

A table of trajectories (:func:`table_for`) gives the same landing points within 3 cm in calm and 6 cm in a
wind of 10 m/s on level ground, tested against direct integration.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Model, Weather, Wind, air_for, number
from gistools.compute.ballistics.shot_kernels import Obstacles, Table
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

RPM = 2.0 * math.pi / 60.0
STEP_S = 0.05
NODE_STEPS = 5  # integration steps between two time nodes of a table
SCALE_STEP = 0.06
WIND_ANGLES = 24
DEEPEST_M = 80.0  # how far below the start a table follows the ball before it goes straight on [m]


@dataclass(frozen=True)
class Launch:
    """How a ball leaves the club.

    Parameters
    ----------
    speed_ms
        Ball speed [m/s].
    angle_deg
        Launch angle above the horizontal [degrees].
    spin_rpm
        Backspin [rev/min].
    tilt_deg
        Tilt of the spin axis [degrees]; positive curves to the right.
    grip_ms
        Ball speed from which a wedge grips the ball fully [m/s], see :meth:`spin_at`; 0 for other clubs.
    """

    speed_ms: float
    angle_deg: float
    spin_rpm: float
    tilt_deg: float = 0.0
    grip_ms: float = 0.0

    def __post_init__(self) -> None:
        number("speed_ms of a launch", self.speed_ms, 0.5, 110, "m/s")
        number("angle_deg of a launch", self.angle_deg, -10, 85, "degrees")
        number("spin_rpm of a launch", self.spin_rpm, 0, 15000, "rpm")
        number("tilt_deg of a launch", self.tilt_deg, -60, 60, "degrees")
        number("grip_ms of a launch", self.grip_ms, 0, 110, "m/s")

    def spin_at(self, scale: ArrayLike) -> Floats:
        """Spin of the same swing made slower or faster [rad/s], for ball speeds as a share of this one.

        In proportion to ball speed; of a wedge, ``f(x) = x^2 (5 - 6 x + 2 x^2)`` with x the ball speed as a
        share of ``grip_ms``, at most 1: nearly all the spin of a full shot down to two thirds of its speed,
        little in a chip ([fit] to measured part shots, see :mod:`gistools.compute.ballistics.clubs`).
        """
        scales = np.asarray(scale, float)
        if self.grip_ms == 0.0:
            return self.spin_rpm * RPM * scales

        def gripped(speed: Any) -> Any:
            x = np.minimum(speed / self.grip_ms, 1.0)
            return x * x * (5.0 - 6.0 * x + 2.0 * x * x)

        return np.asarray(self.spin_rpm * RPM * gripped(self.speed_ms * scales) / gripped(self.speed_ms))

    def at(self, scale: float) -> Launch:
        """Launch of the same swing made slower or faster.

        Ball speed times ``scale``, same angle, spin by :meth:`spin_at`.
        """
        spin = float(self.spin_at(scale)) / RPM
        return replace(self, speed_ms=self.speed_ms * scale, spin_rpm=spin)

    @property
    def radians(self) -> tuple[float, float, float]:
        """Launch angle [rad], spin [rad/s] and axis tilt [rad]."""
        return math.radians(self.angle_deg), self.spin_rpm * RPM, math.radians(self.tilt_deg)


@dataclass(frozen=True)
class Flight:
    """Outcome of one flight: carry along the aim, offset to the right, apex above the start, landing."""

    carry_m: float
    offset_m: float
    apex_m: float
    time_s: float
    descent_deg: float
    speed_ms: float
    spin_rpm: float


def fly(
    launch: Launch,
    *,
    weather: Weather = STANDARD_DAY,
    wind: Wind = CALM,
    bearing_deg: float = 0.0,
    drop_m: float = 0.0,
    model: Model = "D",
    step_s: float = STEP_S,
) -> Flight:
    """Fly one ball to level ground.

    Parameters
    ----------
    launch
        Speed, angle, spin.
    weather, wind
        The air.
    bearing_deg
        Aim, grid bearing [degrees].
    drop_m
        How far the landing ground lies below the start [m]; negative above. A ball that does not get up to it
        ends at its apex.
    model
        ``"D"``, ``"Q"``, ``"SS"``, ``"none"``, or coefficients of one's own, see the module.
    step_s
        Integration step [s].
    """
    number("drop_m", drop_m, -500, 500, "m")
    number("step_s", step_s, 1e-4, 0.2, "s")
    relative = Wind(wind.name, wind.speed_ms, (wind.from_deg - bearing_deg) % 360.0)
    end, time_s, apex = _kernels.fly_to_level(
        air_for(weather, relative, model),
        float(step_s),
        float(launch.speed_ms),
        *launch.radians,
        -float(drop_m),
    )
    pace = math.hypot(end.vx, end.vy)
    descent = math.degrees(math.atan2(-end.vz, pace))
    return Flight(end.y, end.x, apex, time_s, descent, math.hypot(pace, end.vz), end.spin / RPM)


def trajectory(
    launch: Launch,
    *,
    weather: Weather = STANDARD_DAY,
    wind: Wind = CALM,
    bearing_deg: float = 0.0,
    drop_m: float = 0.0,
    model: Model = "D",
    points: int = 41,
    time_s: float | None = None,
) -> Floats:
    """Points along a flight, evenly in time, for drawing.

    To level ground, or of the first ``time_s`` seconds.

    Returns
    -------
    ndarray
        Shape ``(points, 4)``: time [s], forward, right, up [m].
    """
    if time_s is None:
        time_s = fly(
            launch, weather=weather, wind=wind, bearing_deg=bearing_deg, drop_m=drop_m, model=model
        ).time_s
    relative = Wind(wind.name, wind.speed_ms, (wind.from_deg - bearing_deg) % 360.0)
    every = 2
    out = np.empty((points, 7))
    step_s = time_s / (points - 1) / every
    _kernels.trace(
        air_for(weather, relative, model), step_s, every, float(launch.speed_ms), *launch.radians, out
    )
    return np.column_stack([np.linspace(0.0, time_s, points), out[:, 1], out[:, 0], out[:, 2]])


@functools.lru_cache(maxsize=512)
def table_for(
    launch: Launch,
    *,
    weather: Weather = STANDARD_DAY,
    wind: Wind = CALM,
    model: Model = "D",
    scale_low: float = 0.04,
    scale_high: float = 1.30,
) -> Table:
    """Tabulate the flights of one club in one wind.

    Over ball speed, and over the angle of the wind to the aim.

    The launch angle stays, spin goes with ball speed as :meth:`Launch.spin_at` says. Kept in memory; asking
    again costs nothing.

    Parameters
    ----------
    launch
        The full shot.
    weather, wind, model
        As in :func:`fly`.
    scale_low, scale_high
        Range of ball speed as a share of the full shot's. Shots outside are held at its ends.
    """
    number("scale_low", scale_low, 0.02, 1.0)
    number("scale_high", scale_high, 1.0, 2.0)
    speeds = max(4, math.ceil((scale_high - scale_low) / SCALE_STEP) + 1)
    angles = 1 if wind.speed_ms == 0.0 else WIND_ANGLES
    time_step = STEP_S * NODE_STEPS
    longest = fly(
        Launch(min(launch.speed_ms * scale_high, 110.0), launch.angle_deg, launch.spin_rpm, 0.0),
        weather=weather,
        wind=Wind("", wind.speed_ms, 0.0),
        drop_m=DEEPEST_M,
        model=model,
    ).time_s
    nodes = np.empty((speeds, angles, math.ceil(longest / time_step) + 3, 7))
    scales = scale_low + SCALE_STEP * np.arange(speeds)
    angle, _, tilt = launch.radians
    _kernels.fill_nodes(
        air_for(weather, wind, model),
        STEP_S,
        NODE_STEPS,
        launch.speed_ms * scales,
        angle,
        launch.spin_at(scales),
        tilt,
        nodes,
    )
    nodes.setflags(write=False)
    return Table(nodes, float(scale_low), SCALE_STEP, time_step, tilt, math.radians(float(wind.from_deg)))


def obstacles_for(
    cylinders: ArrayLike | None, surface: Surface | None = None, *, square_m: float = 8.0
) -> Obstacles:
    """Arrange trees and structures so that a flight only looks at those it passes.

    Parameters
    ----------
    cylinders
        Upright cylinders, shape ``(n, 5)``: x, y, radius, level of the underside, level of the top [m].
        None or empty for none.
    surface
        Terrain whose cell size sets how long the pieces of a flight are.
    square_m
        Side of the squares of the index [m].

    Raises
    ------
    InputError
        If the array has another shape, holds nan, or a radius is negative.
    """
    c = np.empty((0, 5)) if cylinders is None else np.asarray(cylinders, float).reshape(-1, 5)
    if len(c) == 0:
        none = np.zeros(0, np.int64)
        return Obstacles(c, np.zeros(1, np.int64), none, 0.0, 0.0, 1.0, 0, 0, -1e9)
    if not np.isfinite(c).all() or (c[:, 2] < 0).any():
        raise InputError("obstacles need finite x, y, radius, underside and top, and no negative radius")
    reach = c[:, 2] + max(surface.cell if surface is not None else 1.0, 1.0)
    west, north = float((c[:, 0] - reach).min()) - 1.0, float((c[:, 1] + reach).max()) + 1.0
    cols = int(((c[:, 0] + reach).max() - west) // square_m) + 1
    rows = int((north - (c[:, 1] - reach).min()) // square_m) + 1
    lists: dict[int, list[int]] = {}
    for k, (x, y) in enumerate(c[:, :2]):
        r = reach[k]
        for i in range(int((north - y - r) // square_m), int((north - y + r) // square_m) + 1):
            for j in range(int((x - r - west) // square_m), int((x + r - west) // square_m) + 1):
                lists.setdefault(i * cols + j, []).append(k)
    counts = np.zeros(rows * cols + 1, np.int64)
    for square, indices in lists.items():
        counts[square + 1] = len(indices)
    members = np.array([k for square in sorted(lists) for k in lists[square]], np.int64)
    return Obstacles(
        np.ascontiguousarray(c),
        np.cumsum(counts),
        members,
        west,
        north,
        float(square_m),
        rows,
        cols,
        float(c[:, 4].max()),
    )


NO_OBSTACLES: Obstacles = obstacles_for(None)
