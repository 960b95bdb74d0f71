"""A player's bag as landing fans: where every shot lands, from every lie, on every heading, with its errors.

Every shot of a player (a club, full or part) is flown once over ball speed, angle to the wind and level of the
landing by direct integration. For each lie its errors (fixed Sobol points, the same for every shot compared, each with its
like to the other side) turn these into landing offsets forward and to the right, in wind for each of 24 turns; the offset
follows the level of the landing by the parabola through 12 m below, level, and a little above. The last sample of each fan
is the shot without error.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Weather, Wind, air_for
from gistools.compute.ballistics.flight import STEP_S, Launch
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.value_iteration_kernels import Fans

#: lies, in the order used everywhere here
LIES = ("tee", "fairway", "rough", "sand", "recovery")
#: samples of a shot: sets to look around, to choose, to weigh a value with, and to tell a shot's outcomes
SETS = (32, 64, 128, 256)
SAMPLES = sum(SETS) + 1
MANY = 2**13  # samples that the mean and deviation of a set are taken from
SCALES = np.linspace(0.02, 1.35, 134)  # to find the nominal speed
NODES = 20  # speeds tabulated about it
WIND_TURNS = 24
BELOW_M = 12.0  # flights are followed so far down, a low one less [m]
BAND, LEAST_BAND_M, MOST_BAND_M = (
    0.15,
    0.4,
    3.0,
)  # height of a band of landings, as a share of the apex, and limits
UNAVAILABLE = 1e9
LOW_DEG = 3.0  # allowance for shots that come out low (assumption)


@dataclass(frozen=True)
class Shot:
    """A shot of the bag: club, ``"full"``, ``"eased"``, ``"three-quarter"`` or ``"part"``, launch of the full swing, carry meant [m]."""

    club: str
    swing: str
    launch: Launch
    carry_m: float

    @property
    def label(self) -> str:
        """What people call it."""
        if self.swing == "full":
            return self.club
        return f"{self.swing} {self.club}" + (f" {self.carry_m:.0f} m" if self.swing == "part" else "")


@dataclass(frozen=True, eq=False)
class Book:
    """A player's shots in one wind, ready for the kernels.

    ``fans`` by lie, without the run, which the ground gives them (:func:`gistools.compute.decision.outcome_tables.run_out`). ``nodes (shots,
    turns, NODES, 3, 4)``: landings over ball speed at three levels, ``levels (shots, 3)`` [m]: forward, right, up [m/s], spin [rad/s].
    """

    player: str
    wind: str
    shots: tuple[Shot, ...]
    fans: tuple[Fans, ...]
    nodes: NDArray[np.float64]
    levels: NDArray[np.float64]


#: errors of one shot from one lie: (directions [rad], carries as a share of the carry meant), or None: not playable
Errors = Callable[[Shot, str, int], "tuple[NDArray[np.float64], NDArray[np.float64]] | None"]


@dataclass(frozen=True, eq=False)
class _Flights:
    """Flights of one shot over speed scales: ``table (turns, scales, levels, 7)``, calm carries, apex of the nominal shot."""

    table: NDArray[np.float64]
    scales: NDArray[np.float64]
    carries: NDArray[np.float64]
    levels: NDArray[np.float64]
    apex: float


def _flights(shot: Shot, air: Any, wind: Wind, turns: int) -> _Flights:
    angle, _, tilt = shot.launch.radians
    turn = math.radians(wind.from_deg)

    def fly(speed: float, scales: Any, levels: Any, out: Any) -> Any:
        _kernels.arrivals(
            air,
            speed,
            turn,
            STEP_S,
            shot.launch.speed_ms,
            angle,
            shot.launch.spin_at(scales),
            tilt,
            scales,
            levels,
            out,
        )
        return out

    level = np.zeros(1)
    calm = fly(0.0, SCALES, level, np.empty((1, SCALES.size, 1, 7)))
    near = float(np.interp(shot.carry_m, calm[0, :, 0, 0], SCALES))
    scales = np.linspace(0.25 * near, 1.35 * near, NODES)
    calm = fly(0.0, scales, level, np.empty((1, NODES, 1, 7)))
    carries = np.ascontiguousarray(calm[0, :, 0, 0])
    apex = float(np.interp(shot.carry_m, carries, calm[0, :, 0, 6]))
    levels = np.array([-min(max(1.5 * apex, 2.0), BELOW_M), 0.0, min(8.0, 0.4 * apex)])
    table = fly(float(wind.speed_ms), scales, levels, np.empty((turns, NODES, 3, 7)))
    return _Flights(table, scales, carries, levels, apex)


def book_from(
    player: str,
    shots: tuple[Shot, ...],
    errors: Errors,
    *,
    wind: Wind = CALM,
    weather: Weather = STANDARD_DAY,
) -> Book:
    """Fly every shot and lay out its samples for every lie and heading.

    Parameters
    ----------
    player
        Name shown to people.
    shots
        The bag.
    errors
        Function ``(shot, lie, samples)`` giving direction errors [rad] and carries as a share of the one meant.
    wind, weather
        The air.
    """
    if not shots:
        raise InputError(f"player {player!r} has no shots to play")
    air = air_for(weather, CALM)
    turns = 1 if wind.speed_ms == 0 else WIND_TURNS
    shape = (len(LIES), len(shots))
    parts = np.zeros((*shape, turns, _kernels.PARTS, SAMPLES), np.float32)
    carry = np.full(shape, UNAVAILABLE)
    tallest = np.empty(len(shots))
    nodes = np.empty((len(shots), turns, NODES, 3, 4))
    levels = np.empty((len(shots), 3))
    band = np.empty(len(shots))
    climb = np.array([_climb(shot) for shot in shots])

    def lay_out(s: int) -> None:
        """Fly one shot and lay out its samples for every lie."""
        shot = shots[s]
        f = _flights(shot, air, wind, turns)
        tallest[s] = 0.8 * f.apex
        nodes[s], levels[s] = f.table[..., 2:6], f.levels
        band[s] = 1.0 / min(max(BAND * f.apex, LEAST_BAND_M), MOST_BAND_M)
        for i, lie in enumerate(LIES):
            got = errors(shot, lie, SETS[-1])
            many = errors(shot, lie, MANY)
            if got is None or many is None:
                continue
            angle, factor = _drawn(got, many)
            carry[i, s] = shot.carry_m * float(np.median(factor[:-1]))
            sizes = np.interp(shot.carry_m * factor, f.carries, f.scales)
            _kernels.spread_fan(f.table, f.scales, f.levels, angle, sizes, parts[i, s])

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(lay_out, range(len(shots))))
    drift = parts[:, :, :, 1:6:2].mean(axis=4)
    none = np.zeros((0, 0, 0, 0), np.int16), np.zeros((0, 0, 0, 0, 0), np.float32)
    roll = np.zeros((0, 0, 0), np.float32)
    reach = 1.7 * levels[:, 0], tallest
    landings, ends = nodes.astype(np.float32), np.ascontiguousarray(levels[:, [0, 2]])
    fans = tuple(
        Fans(
            parts[i],
            drift[i],
            *none,
            band,
            climb,
            *reach,
            carry[i],
            _nearest(carry[i]),
            _beside(carry[i]),
            landings,
            ends,
            roll,
        )
        for i in range(len(LIES))
    )
    return Book(player, wind.name, shots, fans, nodes, levels)


def _climb(shot: Shot) -> tuple[float, float]:
    """Rise that a shot clears close by, and a little farther off, where a short one is on its way down again [m/m].

    Launch angle less an allowance for shots that come out low (assumption); how far a shot has sunk below its first direction after 8 m is
    taken from the parabola with its carry.
    """
    rise = math.tan(math.radians(max(shot.launch.angle_deg - LOW_DEG, 1.0)))
    return rise, rise * max(1.0 - 8.0 / shot.carry_m, 0.0) if shot.carry_m > 15.0 else math.inf


def _drawn(
    got: tuple[NDArray[np.float64], NDArray[np.float64]],
    many: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Errors of all sets of samples, one set after the other, and last those of a shot that comes off.

    The second half of each doubling of a Sobol sequence is evenly spread and has no point of the halves before: a shot is chosen
    on some samples and weighed on others. Each error to the right has its like to the left, so that a mirrored
    hole has mirrored answers. Few points miss the far ends of the law: each set is stretched and shifted so that it has the
    deviation and mean of ``many`` samples.
    """
    blocks = [slice(n // 2, n) for n in SETS]
    wide = float(np.sqrt(np.mean(many[0] ** 2)))
    angle, factor = [], []
    for k in blocks:
        a, f = got[0][k], got[1][k]
        a = a * wide / max(float(np.sqrt(np.mean(a**2))), 1e-9)
        f = many[1].mean() + (f - f.mean()) * float(many[1].std()) / max(float(f.std()), 1e-9)
        angle += [a, -a]
        factor += 2 * [np.maximum(f, 0.02)]
    return np.concatenate([*angle, [0.0]]), np.concatenate([*factor, [np.median(many[1])]])


def _nearest(carry: NDArray[np.float64]) -> NDArray[np.int64]:
    """Shot with the carry nearest to each whole number of metres, -1 for all if there is none."""
    held = np.flatnonzero(carry < UNAVAILABLE)
    if not len(held):
        return np.full(1, -1, np.int64)
    at = np.arange(int(carry[held].max()) + 2)
    return np.asarray(held[np.abs(carry[held][None, :] - at[:, None]).argmin(axis=1)], np.int64)


def _beside(carry: NDArray[np.float64]) -> NDArray[np.int64]:
    """Next longer and next shorter shot of each, -1 for none."""
    out = np.full((len(carry), 2), -1)
    order = np.argsort(-carry, kind="stable")
    order = order[carry[order] < UNAVAILABLE]
    out[order[1:], 0], out[order[:-1], 1] = order[:-1], order[1:]
    return out
