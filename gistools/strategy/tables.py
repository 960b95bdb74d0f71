"""The bag as landing fans, and outcome tables: where a ball finishes after landing in a cell.

Landing fans
------------
Every shot of a player (a club, full or part) is flown once over ball speed, angle to the wind and level of the
landing by direct integration. For each lie its errors (fixed Sobol points, the same for every shot compared) turn
these into landing offsets for each of 240 headings; the offset follows the level of the landing by the parabola through
12 m below, level, and a little above.

Outcome tables
--------------
After landing, what a ball does depends on the place, the heading and the shot, not on the hole location. An entry is the
run along and across the heading, and the kind of ground it ends on, computed by
:func:`gistools.shots._kernels.land_and_run` on first use from the nominal landing velocity of the shot in the wind, and
looked up ever after. A run is laid from the actual landing point and turned to the actual heading, so cells of
2 or 3 m do not show; water, sand, trees and boundary are looked up at the landing point itself on the
cells of the terrain.

Tables are kept in the user's cache folder under a hash of everything they depend on.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from gistools._jit import kernel_stamp
from gistools.errors import InputError
from gistools.ground.surface import Surface
from gistools.kinds import Kind
from gistools.shots._kernels import Land
from gistools.shots.air import CALM, STANDARD_DAY, Weather, Wind, air_for
from gistools.shots.flight import STEP_S, Launch
from gistools.shots.players import LIES as PLAYED_AS
from gistools.strategy import _kernels
from gistools.strategy._kernels import BINS, HEADINGS, Fans, Ground

#: lies, in the order used everywhere here
LIES = ("tee", "fairway", "rough", "sand", "recovery")
#: lie a ball has on each kind of ground; -1: it is not played from there
LIE_OF_KIND = np.full(256, 2, np.int64)
for _kind, _name in PLAYED_AS.items():
    LIE_OF_KIND[_kind] = LIES.index(_name)
for _kind in (Kind.WATER, Kind.OUT, Kind.OFF_MAP):
    LIE_OF_KIND[_kind] = -1

SETS = (
    32,
    64,
    128,
)  # samples of a shot: a small set to look around, a middle one to choose, a large one to weigh
SCALES = np.linspace(0.30, 1.35, 22)
WIND_TURNS = 24
BELOW_M = -12.0
UNAVAILABLE = 1e9
KEEP_TABLES = 24


@dataclass(frozen=True)
class Shot:
    """A shot of the bag: club, ``"full"``, ``"three-quarter"`` or ``"part"``, launch of the full swing, carry meant [m]."""

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
    """A player's shots in one wind, ready for the kernels: ``fans`` by lie, nominal landings for the tables."""

    player: str
    wind: str
    shots: tuple[Shot, ...]
    fans: tuple[Fans, ...]
    arrive: NDArray[np.float64]
    stamp: str


#: errors of one shot from one lie: (directions [rad], carries as a share of the carry meant), or None: not playable
Errors = Callable[[Shot, str, int], "tuple[NDArray[np.float64], NDArray[np.float64]] | None"]


def _flights(shot: Shot, air: Any, wind: Wind, turns: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    angle, spin, tilt = shot.launch.radians
    out = np.empty((turns, SCALES.size, 3, 7))
    levels = np.array([BELOW_M, 0.0, 0.0])
    turn = math.radians(wind.from_deg)

    def fly(speed: float, scales: Any, levels: Any, out: Any) -> None:
        _kernels.arrivals(
            air, speed, turn, STEP_S, shot.launch.speed_ms, angle, spin, tilt, scales, levels, out
        )

    calm = np.empty((1, SCALES.size, 1, 7))
    fly(0.0, SCALES, np.zeros(1), calm)
    carries = calm[0, :, 0, 0]
    scale = float(np.interp(shot.carry_m, carries, SCALES))
    apex = float(np.interp(scale, SCALES, calm[0, :, 0, 6]))
    levels[2] = min(8.0, 0.4 * apex)
    fly(float(wind.speed_ms), SCALES, levels, out)
    return out, np.concatenate([carries, [scale, levels[2], apex]])


def book_from(
    player: str,
    shots: tuple[Shot, ...],
    errors: Errors,
    *,
    wind: Wind = CALM,
    weather: Weather = STANDARD_DAY,
    stamp: str = "",
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
    stamp
        Text that changes whenever ``shots`` or ``errors`` do.
    """
    if not shots:
        raise InputError(f"player {player!r} has no shots to play")
    air = air_for(weather, CALM)
    turns = 1 if wind.speed_ms == 0 else WIND_TURNS
    offset = [np.zeros((len(shots), HEADINGS, sum(SETS), 6), np.float32) for _ in LIES]
    carry = np.full((len(LIES), len(shots)), UNAVAILABLE)
    tallest = np.empty(len(shots))
    arrive = np.empty((len(shots), BINS, 4))
    digest = hashlib.sha256(f"{stamp}|{weather}|{wind.speed_ms}|{wind.from_deg}|{SETS}".encode())
    for s, shot in enumerate(shots):
        flights, tail = _flights(shot, air, wind, turns)
        carries, scale, up, apex = tail[: SCALES.size], tail[-3], tail[-2], tail[-1]
        tallest[s] = 0.8 * apex
        step = np.interp(scale, SCALES, np.arange(SCALES.size))
        n, w = int(min(step, SCALES.size - 2)), step - int(min(step, SCALES.size - 2))
        for b in range(BINS):
            a = round(b / BINS * turns) % turns
            mix = (1 - w) * flights[a, n, 1] + w * flights[a, n + 1, 1]
            arrive[s, b] = mix[[2, 3, 4, 5]]
        digest.update(f"{shot}".encode())
        for i, lie in enumerate(LIES):
            sets = [errors(shot, lie, n) for n in SETS]
            if sets[0] is None:
                continue
            drawn = [np.concatenate([d[part] for d in sets if d is not None]) for part in (0, 1)]
            carry[i, s] = shot.carry_m * float(np.median(drawn[1]))
            sizes = np.interp(shot.carry_m * drawn[1], carries, SCALES)
            levels = np.array([BELOW_M, 0.0, up])
            _kernels.spread_fan(flights, SCALES, levels, drawn[0], sizes, offset[i][s])
    digest.update(arrive.tobytes())
    group = np.arange(len(shots))
    fans = tuple(Fans(offset[i], tallest, group, carry[i]) for i in range(len(LIES)))
    return Book(player, wind.name, shots, fans, arrive, digest.hexdigest()[:24])


def ground_for(
    surface: Surface,
    land: Land,
    state: NDArray[np.int32],
    book: Book,
    *,
    stride_m: float = 3.0,
    keep: bool = True,
) -> Ground:
    """Return the ground as the kernels take it, with an outcome table from the cache or an empty one.

    Parameters
    ----------
    surface, land
        Terrain, and the same with kinds of ground and turf (:func:`gistools.shots.turf.land_for`).
    state
        State of each cell, -1 where the ball is not played from.
    book
        Whose landings fill the table.
    stride_m
        Side of a landing cell [m].
    keep
        Look in the cache folder first.
    """
    stride = max(1, round(stride_m / surface.cell))
    rows, cols = surface.z.shape
    shape = (len(book.shots), BINS, -(-rows // stride), -(-cols // stride))
    table = _stored(_key(land, book, stride), shape) if keep else np.zeros(shape, np.int64)
    return Ground(
        np.ascontiguousarray(surface.z, np.float32),
        land.kind,
        np.ascontiguousarray(state, np.int32),
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
        np.ascontiguousarray(land.turf[:, 4]),
        table,
        stride,
        book.arrive,
        land,
    )


def _key(land: Land, book: Book, stride: int) -> str:
    digest = hashlib.sha256(kernel_stamp().encode())
    for part in (land.z, land.smooth, land.kind, land.turf):
        digest.update(str(part.shape).encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    digest.update(f"{land.x_west!r}|{land.y_north!r}|{land.cell!r}|{stride}|{book.stamp}".encode())
    return digest.hexdigest()[:32]


def table_folder() -> Path:
    """Return the folder of stored outcome tables (it may not exist yet)."""
    return Path(platformdirs.user_cache_dir("gistools", appauthor=False)) / "outcomes"


def _stored(key: str, shape: tuple[int, ...]) -> NDArray[np.int64]:
    path = table_folder() / f"{key}.npz"
    with (
        contextlib.suppress(OSError, ValueError, KeyError, EOFError),
        np.load(path, allow_pickle=False) as held,
    ):
        if tuple(held["shape"]) == shape:
            table = np.zeros(int(np.prod(shape)), np.int64)
            table[held["at"]] = held["entry"]
            return table.reshape(shape)
    return np.zeros(shape, np.int64)


def store(ground: Ground, book: Book) -> Path | None:
    """Keep what the table holds so far for the next study of the same ground; None where it cannot be written."""
    path = table_folder() / f"{_key(ground.land, book, ground.stride)}.npz"
    at = np.flatnonzero(ground.table)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        with part.open("wb") as out:
            np.savez(
                out,
                shape=np.array(ground.table.shape),
                at=at.astype(np.int64),
                entry=ground.table.reshape(-1)[at],
            )
        part.replace(path)
        others = sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in others[KEEP_TABLES:]:
            old.unlink(missing_ok=True)
    except OSError:
        return None
    return path
