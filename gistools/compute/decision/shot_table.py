"""Dispersion tables of a player's shots.

Where every shot lands, from every lie, on every heading, with its errors.

Every shot of a player (a club, full or part) is flown once over ball speed, angle to the wind and level of
the landing by direct integration. For each lie its errors (fixed Sobol points with antithetic pairs in
direction, common random numbers for all shots) turn these into landing offsets forward and to the right, in
wind for each of 24 turns. The offset follows the level of the landing by the parabola through 12 m below,
level, and a little above. The last sample of each shot is the shot without error.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Weather, Wind, air_for
from gistools.compute.ballistics.flight import STEP_S, Launch
from gistools.compute.ballistics.flight_kernels import trace
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.outcome_kernels import DispersionTables
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M

#: lies, in the order used everywhere here
LIES = ("tee", "fairway", "rough", "sand", "recovery")
#: samples of a shot: sets for the coarse search, the fine search, the choice, and the outcomes that are
#: reported
SETS = (32, 64, 128, 256)
SAMPLES = sum(SETS) + 1
#: samples of a shot whose worth is told beside another's, drawn for that shot alone, and shots whose samples
#: are held at a time (assumptions)
MANY, MOST_DRAWN = 2048, 16

# The constants below are assumptions (assumptions): how finely, and how far, flights are tabulated.
REFERENCE_SAMPLES = 2**13  # samples that the mean and deviation of a set are taken from
SPEED_SCALES = np.linspace(0.02, 1.35, 134)  # to find the nominal speed
# speeds tabulated about it, as shares of it: to 2.5 times the carry meant, as far as a short shot of a poor
# player flies
NODES, LOWEST_SPEED, HIGHEST_SPEED = 24, 0.25, 1.60
WIND_TURNS = 24
BELOW_M, LEAST_BELOW_M, BELOW_APEXES = (
    12.0,
    2.0,
    1.5,
)  # flights are followed so far below the start; a low one less [m]
ABOVE_M, ABOVE_APEXES = 8.0, 0.4  # and so far above it [m]
BELOW_FOLLOWED, APEX_FOLLOWED = (
    1.7,
    0.8,
)  # landings are looked up so far beyond these levels, and up to this share of the apex
BAND_APEXES, LEAST_BAND_M, MOST_BAND_M = (
    0.15,
    0.4,
    3.0,
)  # height of a band of landings, as a share of the apex, and limits
PATH_STEPS = 240  # steps of a flight that its height is taken from: 12 s
LEAST_CARRY = 0.02  # least carry, as a share of the one meant


@dataclass(frozen=True)
class Shot:
    """A shot: club, swing (``"full"``, ``"eased"``, ``"part"`` ...), launch, intended carry [m]."""

    club: str
    swing: str
    launch: Launch
    carry_m: float

    @property
    def label(self) -> str:
        """What people call it."""
        if self.swing == "full":
            return self.club
        if self.swing in ("eased", "three-quarter"):
            return f"{self.swing} {self.club}"
        return f"{self.carry_m:.0f} m {self.swing}"


@dataclass(frozen=True, eq=False)
class ShotTable:
    """A player's shots in one wind, ready for the kernels.

    Attributes
    ----------
    player, wind
        Names.
    shots
        The shots, longest first.
    dispersion
        Tables by lie, without the run, which the ground gives them
        (:func:`gistools.compute.decision.outcome_tables.with_runs`).
    node_velocity
        Landings over ball speed at three levels ``(shots, turns, NODES, 3, 4)``: forward, right, up [m/s],
        spin [rad/s].
    levels
        Those levels ``(shots, 3)`` [m].
    many
        Function of a shot's number and a lie's, giving :data:`MANY` samples of it ``(turns, TABLE_ROWS, n)``,
        in the place of the set of so many.
    """

    player: str
    wind: str
    shots: tuple[Shot, ...]
    dispersion: tuple[DispersionTables, ...]
    node_velocity: NDArray[np.float64]
    levels: NDArray[np.float64]
    many: Callable[[int, int], NDArray[np.float32]]


#: errors of one shot from one lie: (directions [rad], carries as a share of the carry meant), or None: not
#: playable
Errors = Callable[[Shot, str, int], "tuple[NDArray[np.float64], NDArray[np.float64]] | None"]


@dataclass(frozen=True, eq=False)
class _Flights:
    """Flights of one shot over speed scales.

    ``table (turns, scales, levels, 7)``, calm carries, apex of the nominal shot.

    ``profile (scales, PROFILE_NODES)`` is the height as a share of the apex over the plan distance, in calm
    air.
    """

    table: NDArray[np.float64]
    scales: NDArray[np.float64]
    carries: NDArray[np.float64]
    levels: NDArray[np.float64]
    apex: float
    profile: NDArray[np.float64]


def _flights(shot: Shot, air: Any, wind: Wind, turns: int) -> _Flights:
    angle, _, tilt = shot.launch.radians
    turn = math.radians(wind.from_deg)

    def fly(speed: float, scales: Any, levels: Any, out: Any) -> Any:
        swing = _kernels.Swing(shot.launch.speed_ms, angle, tilt, shot.launch.spin_at(scales))
        _kernels.arrivals(air, (speed, turn), STEP_S, swing, scales, levels, out)
        return out

    level = np.zeros(1)
    calm = fly(0.0, SPEED_SCALES, level, np.empty((1, SPEED_SCALES.size, 1, 7)))
    nominal = float(np.interp(shot.carry_m, calm[0, :, 0, 0], SPEED_SCALES))
    scales = np.linspace(LOWEST_SPEED * nominal, HIGHEST_SPEED * nominal, NODES)
    calm = fly(0.0, scales, level, np.empty((1, NODES, 1, 7)))
    carries = np.ascontiguousarray(calm[0, :, 0, 0])
    apex = float(np.interp(shot.carry_m, carries, calm[0, :, 0, 6]))
    levels = np.array(
        [-min(max(BELOW_APEXES * apex, LEAST_BELOW_M), BELOW_M), 0.0, min(ABOVE_M, ABOVE_APEXES * apex)]
    )
    table = fly(float(wind.speed_ms), scales, levels, np.empty((turns, NODES, 3, 7)))
    return _Flights(table, scales, carries, levels, apex, _profiles(shot, air, scales))


def _profiles(shot: Shot, air: Any, scales: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return heights of flights in calm air as shares of their apex, at even shares of the distance.

    Returns
    -------
    ndarray
        Shape ``(scales, PROFILE_NODES)``, from 0 at the start to 0 at the landing.
    """
    angle, _, tilt = shot.launch.radians
    out = np.zeros((scales.size, _kernels.PROFILE_NODES))
    shares = np.linspace(0.0, 1.0, _kernels.PROFILE_NODES)
    for k, spin in enumerate(np.atleast_1d(shot.launch.spin_at(scales))):
        path = np.empty((PATH_STEPS, 7))
        trace(air, STEP_S, 1, shot.launch.speed_ms * float(scales[k]), angle, float(spin), tilt, path)
        down = np.flatnonzero(path[1:, 2] <= 0.0)
        last = int(down[0]) + 1 if len(down) else PATH_STEPS - 1
        along, up = path[: last + 1, 1], np.maximum(path[: last + 1, 2], 0.0)
        if up.max() > 0.0 and along[-1] > 0.0:
            out[k] = np.interp(shares * along[-1], along, up) / up.max()
    return out


def make_shot_table(
    player: str,
    shots: tuple[Shot, ...],
    errors: Errors,
    *,
    wind: Wind = CALM,
    weather: Weather = STANDARD_DAY,
) -> ShotTable:
    """Fly every shot and lay out its samples for every lie and heading.

    Parameters
    ----------
    player
        Name shown to people.
    shots
        The shots to choose from.
    errors
        Function ``(shot, lie, samples)`` giving direction errors [rad] and carries as a share of the one
        meant.
    wind, weather
        The air.
    """
    if not shots:
        raise InputError(f"player {player!r} has no shots to play")
    air = air_for(weather, CALM)
    turns = 1 if wind.speed_ms == 0 else WIND_TURNS
    shape = (len(LIES), len(shots))
    sample = np.zeros((*shape, turns, _kernels.TABLE_ROWS, SAMPLES), np.float32)
    carry = np.full(shape, UNAVAILABLE_M)
    highest = np.empty(len(shots))
    nodes = np.empty((len(shots), turns, NODES, 3, 4))
    levels = np.empty((len(shots), 3))
    bands_per_m = np.empty(len(shots))
    profile = np.empty((len(shots), NODES, _kernels.PROFILE_NODES), np.float32)
    apex = np.empty((len(shots), turns, NODES), np.float32)

    def lay_out(s: int) -> None:
        """Fly one shot and lay out its samples for every lie."""
        shot = shots[s]
        f = _flights(shot, air, wind, turns)
        highest[s] = APEX_FOLLOWED * f.apex
        nodes[s], levels[s] = f.table[..., 2:6], f.levels
        profile[s], apex[s] = f.profile, f.table[:, :, 1, 6]
        bands_per_m[s] = 1.0 / min(max(BAND_APEXES * f.apex, LEAST_BAND_M), MOST_BAND_M)
        for i, lie in enumerate(LIES):
            few = errors(shot, lie, SETS[-1])
            many = errors(shot, lie, REFERENCE_SAMPLES)
            if few is None or many is None:
                continue
            angle, factor = _sample_sets(few, many)
            carry[i, s] = shot.carry_m * float(np.median(factor[:-1]))
            sizes = np.interp(shot.carry_m * factor, f.carries, f.scales)
            _kernels.spread_samples(f.table, f.scales, f.levels, angle, sizes, sample[i, s])

    @lru_cache(maxsize=MOST_DRAWN)
    def many(s: int, lie: int) -> NDArray[np.float32]:
        """Draw many samples of one shot; they serve all its headings."""
        shot, f = shots[s], _flights(shots[s], air, wind, turns)
        few, reference = errors(shot, LIES[lie], MANY), errors(shot, LIES[lie], REFERENCE_SAMPLES)
        if few is None or reference is None:
            raise InputError(f"{shot.label} is not played from {LIES[lie]}")
        angle, factor = _sample_sets(few, reference, (MANY,))
        first = _kernels.first_of(MANY)
        out = np.zeros((turns, _kernels.TABLE_ROWS, first + MANY), np.float32)
        sizes = np.interp(shot.carry_m * factor[:-1], f.carries, f.scales)
        part = np.zeros((turns, _kernels.TABLE_ROWS, MANY), np.float32)
        _kernels.spread_samples(f.table, f.scales, f.levels, angle[:-1], sizes, part)
        out[..., first:] = part
        return out

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(lay_out, range(len(shots))))
    mean_right = sample[:, :, :, 1:6:2].mean(axis=4)
    landings, limits = nodes.astype(np.float32), np.ascontiguousarray(levels[:, [0, 2]])
    dispersion = tuple(
        DispersionTables(
            sample=sample[i],
            mean_right=mean_right[i],
            landing_class=np.zeros((0, 0, 0, 0), np.int16),
            run_change=np.zeros((0, 0, 0, 0, 0), np.float32),
            bands_per_m=bands_per_m,
            lowest_m=BELOW_FOLLOWED * levels[:, 0],
            highest_m=highest,
            carry_m=carry[i],
            shot_for_m=_shot_for_m(carry[i]),
            neighbour=_neighbours(carry[i]),
            node_velocity=landings,
            level_limit_m=limits,
            level_run=np.zeros((0, 0, 0), np.float32),
            profile=profile,
            apex_m=apex,
        )
        for i in range(len(LIES))
    )
    return ShotTable(player, wind.name, shots, dispersion, nodes, levels, many)


def _sample_sets(
    few: tuple[NDArray[np.float64], NDArray[np.float64]],
    many: tuple[NDArray[np.float64], NDArray[np.float64]],
    sets: tuple[int, ...] = SETS,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Errors of all sets of samples, one set after the other, and last those of a shot that comes off.

    The second half of each doubling of a Sobol sequence is evenly spread and has no point of the halves
    before: a shot is chosen on some samples and evaluated on others. Antithetic pairs (each error to the
    right also to the left) give a mirrored hole mirrored answers. Few points miss the tails of the law:
    each set is scaled and shifted to the deviation and mean of ``many`` samples.
    """
    blocks = [slice(n // 2, n) for n in sets]
    wide = float(np.sqrt(np.mean(many[0] ** 2)))
    angle, factor = [], []
    for k in blocks:
        a, f = few[0][k], few[1][k]
        a = a * wide / max(float(np.sqrt(np.mean(a**2))), 1e-9)
        f = many[1].mean() + (f - f.mean()) * float(many[1].std()) / max(float(f.std()), 1e-9)
        angle += [a, -a]
        factor += 2 * [np.maximum(f, LEAST_CARRY)]
    return np.concatenate([*angle, [0.0]]), np.concatenate([*factor, [np.median(many[1])]])


def _shot_for_m(carry: NDArray[np.float64]) -> NDArray[np.int64]:
    """Shot with the carry nearest to each whole number of metres, -1 for all if there is none."""
    playable = np.flatnonzero(carry < UNAVAILABLE_M)
    if not len(playable):
        return np.full(1, -1, np.int64)
    metres = np.arange(int(carry[playable].max()) + 2)
    closest = np.abs(carry[playable][None, :] - metres[:, None]).argmin(axis=1)
    return np.asarray(playable[closest], np.int64)


def _neighbours(carry: NDArray[np.float64]) -> NDArray[np.int64]:
    """Next longer and next shorter shot of each, -1 for none."""
    out = np.full((len(carry), 2), -1)
    order = np.argsort(-carry, kind="stable")
    order = order[carry[order] < UNAVAILABLE_M]
    out[order[1:], 0], out[order[:-1], 1] = order[:-1], order[1:]
    return out
