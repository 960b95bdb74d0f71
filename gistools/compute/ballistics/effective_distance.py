"""Effective distance: the flat, calm, sea-level distance that asks for the same shot.

A shot that has to carry ``plan_m`` over a rise and through a wind is looked for among the player's shots.
They are ordered by their carry on level ground, in calm air, on the standard day: part shots below the
shortest club, full shots, shots between two clubs (launch blended by carry), and above the longest the driver
as stronger players strike it. The effective distance is the level calm carry of the shot whose flight, under
the given conditions, comes down through the level of the target at the plan distance. No rule of thumb is
added; the rules of thumb are tests.

More tail wind does not always mean a shorter shot. Lift grows with the square of the speed through the air,
and a tail wind takes from it: the ball flies lower and shorter in time while it is carried along. Low
launches (long irons, woods) gain most at about 9 m/s and less beyond, wedges gain all the way. For 150 m the
scratch man needs 143.6, 141.6, 143.0 m at 4.5, 9.0, 13.4 m/s. This is the physics of lift, not the fit:
constant coefficients show it too (tested).
"""

from __future__ import annotations

import functools
import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Model, Weather, Wind, air_for, number
from gistools.compute.ballistics.clubs import Club, club_names, launch_at
from gistools.compute.ballistics.flight import RPM, STEP_S, Launch, fly
from gistools.compute.ballistics.players import Player, built_in, lie_rules

Floats = NDArray[np.float64]

SHORTEST_M = 3.0
STRIDE = 8
FASTEST_MS = 105.0
WIDEST_DEG, DIRECTION_STEP_DEG = (
    30.0,
    0.5,
)  # directions in which the far edge of a hazard is looked up (assumption)
FARTHEST_M = 600.0  # nobody carries as far, whatever the fall (assumption)
HIGHEST_M = 300.0  # no shot is played as far up or down (assumption)


@functools.lru_cache(maxsize=64)
def _ladder(clubs: tuple[Club, ...]) -> Floats:
    """Shots of a bag by flat calm carry: rows of carry, ball speed, launch angle, spin."""
    shortest, longest = clubs[-1], clubs[0]
    low = np.unique(np.concatenate([np.linspace(SHORTEST_M, shortest.carry_m, 24)]))[:-1]
    rows = [
        (c, shortest.launch.speed_ms * s, shortest.launch.angle_deg, float(shortest.launch.spin_at(s)) / RPM)
        for c, s in zip(low, shortest.scale(low), strict=True)
    ]
    rows += [(c.carry_m, c.launch.speed_ms, c.launch.angle_deg, c.launch.spin_rpm) for c in reversed(clubs)]
    for speed in np.linspace(longest.launch.speed_ms, FASTEST_MS, 24)[1:]:
        launch = _harder(longest, float(speed))
        rows.append((fly(launch).carry_m, launch.speed_ms, launch.angle_deg, launch.spin_rpm))
    # between two clubs the blended launch carries close to the blended carry; a finer ladder states it
    # exactly
    coarse = np.array(rows)
    carry = np.unique(np.concatenate([coarse[:, 0], np.arange(SHORTEST_M, coarse[-1, 0], 3.0)]))
    fine = np.column_stack([carry] + [np.interp(carry, coarse[:, 0], coarse[:, k]) for k in (1, 2, 3)])
    fine[:, 0] = _carries(fine, STANDARD_DAY, CALM, "D", 0.0)
    rising = np.concatenate([[True], np.diff(np.maximum.accumulate(fine[:, 0])) > 1e-6])
    return np.asarray(fine[rising])


def _harder(club: Club, speed_ms: float) -> Launch:
    """Launch of a club struck by a stronger player.

    By the rule of :mod:`gistools.compute.ballistics.clubs` where it has one.
    """
    if club.name in club_names():
        return launch_at(club.name, speed_ms)
    return Launch(speed_ms, club.launch.angle_deg, club.launch.spin_rpm)


def _carries(shots: Floats, weather: Weather, wind: Wind, model: Model, rise_m: float) -> Floats:
    """Carry along the aim (north) of rows of shots to a level; nan where a shot never gets up to it."""
    out = np.empty((len(shots), 8))
    speed, angle, spin = shots[:, 1].copy(), np.radians(shots[:, 2]), shots[:, 3] * RPM
    _kernels.fly_many_to_level(
        air_for(weather, wind, model), STEP_S, speed, angle, spin, np.zeros(len(shots)), float(rise_m), out
    )
    return np.where(out[:, 7] >= rise_m, out[:, 1], np.nan)


def shot_for(carry_m: float, player: Player | str = "scratch man") -> Launch:
    """Return the launch of the player's shot with a flat calm carry [m], blended between clubs."""
    ladder = _ladder(_player(player).clubs)
    carry = min(max(carry_m, ladder[0, 0]), ladder[-1, 0])
    speed, angle, spin = (float(np.interp(carry, ladder[:, 0], ladder[:, k])) for k in (1, 2, 3))
    return Launch(speed, angle, spin)


def effective_distance(
    plan_m: float,
    *,
    rise_m: float = 0.0,
    wind: Wind = CALM,
    bearing_deg: float = 0.0,
    player: Player | str = "scratch man",
    weather: Weather = STANDARD_DAY,
    model: Model = "D",
) -> float:
    """Flat, calm, sea-level distance that asks for the same shot [m].

    Parameters
    ----------
    plan_m
        Distance to be carried, in plan [m].
    rise_m
        Height of the target above the start [m]; negative for a fall.
    wind
        Wind, and
    bearing_deg
        the bearing played along [degrees].
    player
        Whose shots: a :class:`Player` or the name of a built-in one.
    weather
        The air of the site; the answer is for the standard day.
    model
        Flight model.

    Returns
    -------
    float
        Effective distance [m]; ``nan`` where no shot, even far beyond the player's longest, gets there.

    Notes
    -----
    See the module for the method. Common practice says about one for one in height, a head wind costs more
    than a tail wind gives; both come out of the flight.
    """
    number("plan_m", plan_m, 0.1, FARTHEST_M, "m")
    number("rise_m", rise_m, -HIGHEST_M, HIGHEST_M, "m")
    ladder = _ladder(_player(player).clubs)
    relative = Wind(wind.name, wind.speed_ms, (wind.from_deg - bearing_deg) % 360.0)
    part = ladder
    for look in (0, 1, 2):  # on the ladder by strides, between two strides, between two rungs
        if look == 0:
            rows = ladder[np.unique(np.append(np.arange(0, len(ladder), STRIDE), len(ladder) - 1))]
        elif look == 1:
            rows = ladder[(ladder[:, 0] >= part[0, 0]) & (ladder[:, 0] <= part[-1, 0])]
        else:
            rows = part[0] + np.linspace(0.0, 1.0, _kernels.LANES)[:, None] * (part[1] - part[0])
        carried = _carries(rows, weather, relative, model, rise_m)
        enough = np.flatnonzero(carried >= plan_m)  # nan compares false
        if enough.size == 0:
            return math.nan if look == 0 else float(part[-1, 0])
        k = int(enough[0])
        if k == 0:
            return float(rows[0, 0])
        part = rows[k - 1 : k + 1]
    low, high = _carries(part, STANDARD_DAY, CALM, model, 0.0)
    if math.isnan(carried[k - 1]):  # the softer shot does not get up there
        return float(high)
    return float(low + (plan_m - carried[k - 1]) / (carried[k] - carried[k - 1]) * (high - low))


def carry_and_share(
    player: Player,
    club: Club,
    plan_m: float,
    *,
    lie: str = "tee",
    rise_m: float = 0.0,
    wind: Wind = CALM,
    bearing_deg: float = 0.0,
    weather: Weather = STANDARD_DAY,
    model: Model = "D",
    edge: tuple[Floats, Floats] | None = None,
    n: int = 2048,
) -> tuple[float, float]:
    """Carry of a player's good strike under conditions, and the share of shots that carry a distance.

    Parameters
    ----------
    player, club, lie
        Who plays what from where.
    plan_m, rise_m
        What has to be carried: plan distance, and height of its far edge above the start [m].
    wind, bearing_deg, weather, model
        Conditions, as in :func:`effective_distance`.
    edge
        What has to be carried in other directions (:func:`far_edges`); by default the same as along the
        bearing.
    n
        Number of shots.

    Returns
    -------
    carry, share
        Carry along the bearing to the level of the far edge [m], ``nan`` where the ball never gets up to it;
        and the share, 0 to 1, of all shots, mishits included, that carry it.

    Notes
    -----
    Each shot flies in its own direction, over ground that is clear up to the edge there; wind is that along
    the bearing.
    """
    factor = lie_rules(lie)["distance_factor"]
    shares = np.linspace(0.25, 1.35, _kernels.LANES)
    scales = club.scale(shares * factor * club.carry_m)
    relative = Wind(wind.name, wind.speed_ms, (wind.from_deg - bearing_deg) % 360.0)
    shots = np.column_stack(
        [
            shares,
            club.launch.speed_ms * scales,
            np.full(scales.size, club.launch.angle_deg),
            club.launch.spin_at(scales) / RPM,
        ]
    )
    carried = _carries(shots, weather, relative, model, rise_m)
    full = float(np.interp(1.0, shares, carried))
    angle, errors = player.dispersion(club, lie).errors(n)
    needed = np.full(n, float(plan_m)) if edge is None else np.interp(np.degrees(angle), *edge)
    up = np.isfinite(carried)
    if not up.any():
        return full, 0.0
    least = np.interp(needed, carried[up], shares[up], right=math.inf)
    return full, float(np.mean(errors >= least))


def far_edges(
    area: BaseGeometry, start: tuple[float, float], bearing_deg: float, plan_m: float
) -> tuple[Floats, Floats]:
    """Distance to the far edge of a hazard in each direction about a bearing.

    Parameters
    ----------
    area
        Outline of the hazard [m].
    start
        Where the shot is played from [m].
    bearing_deg, plan_m
        Direction of the shot, and distance to the far edge in it: of several crossings the one at it is
        followed to both sides.

    Returns
    -------
    offset_deg, carry_m
        Directions right of the bearing [degrees], and distances [m]; 0 where a shot passes the hazard by.
    """
    offsets = np.arange(-WIDEST_DEG, WIDEST_DEG + 0.5 * DIRECTION_STEP_DEG, DIRECTION_STEP_DEG)
    carry = np.zeros_like(offsets)
    middle = len(offsets) // 2
    for side in (range(middle, len(offsets)), range(middle - 1, -1, -1)):
        last = plan_m
        for k in side:
            turn = math.radians(bearing_deg + offsets[k])
            far = 2.0 * plan_m + 200.0
            ray = LineString([start, (start[0] + far * math.sin(turn), start[1] + far * math.cos(turn))])
            crossings = shapely.get_parts(ray.intersection(area))
            ends = [
                float(np.hypot(*(shapely.get_coordinates(c) - np.asarray(start)).T).max())
                for c in crossings
                if not c.is_empty
            ]
            if not ends:
                break
            carry[k] = last = min(ends, key=lambda end: abs(end - last))
    return offsets, carry


def carry_of(
    club: Club,
    *,
    rise_m: float = 0.0,
    wind: Wind = CALM,
    bearing_deg: float = 0.0,
    weather: Weather = STANDARD_DAY,
    model: Model = "D",
) -> float:
    """Carry of a club's full shot under conditions, along its aim [m].

    ``nan`` where it never gets up to the level.
    """
    flight = fly(
        club.launch, weather=weather, wind=wind, bearing_deg=bearing_deg, drop_m=-float(rise_m), model=model
    )
    return flight.carry_m if flight.apex_m >= rise_m else math.nan


def _player(player: Player | str | Any) -> Player:
    return player if isinstance(player, Player) else built_in(player)
