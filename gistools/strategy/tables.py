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
looked up ever after. What a sample that is struck harder or softer runs more or less is added from level ground. A run is laid from the actual landing point and turned to the actual heading, so cells of
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
from scipy.ndimage import distance_transform_edt

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
SCALES = np.linspace(0.02, 1.35, 134)  # to find the nominal speed
NODES = 20  # speeds tabulated about it
WIND_TURNS = 24
BELOW_M = -12.0
UNAVAILABLE = 1e9
KEEP_TABLES = 24
FLAT_M = 60  # level ground reaches this far round, and as far again [m]
FLAT_KINDS = (Kind.GREEN, Kind.FAIRWAY, Kind.ROUGH)
FAR_CELL_M, NEAR_CELL_M, NEAR_GREEN_M = 3.0, 1.0, 10.0


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

    ``fans`` by lie; ``arrive`` nominal landings for the tables; ``nodes (shots, NODES, 4)`` landings over ball speed,
    ``steps`` the node of the nominal shot, ``strides (lies, shots, samples)`` that of each sample.
    """

    player: str
    wind: str
    shots: tuple[Shot, ...]
    fans: tuple[Fans, ...]
    arrive: NDArray[np.float64]
    nodes: NDArray[np.float64]
    steps: NDArray[np.float64]
    strides: NDArray[np.float64]
    stamp: str


#: errors of one shot from one lie: (directions [rad], carries as a share of the carry meant), or None: not playable
Errors = Callable[[Shot, str, int], "tuple[NDArray[np.float64], NDArray[np.float64]] | None"]


@dataclass(frozen=True, eq=False)
class _Flights:
    """Flights of one shot over speed scales: ``table (turns, scales, levels, 7)``, calm carries, and the nominal shot."""

    table: NDArray[np.float64]
    scales: NDArray[np.float64]
    carries: NDArray[np.float64]
    levels: NDArray[np.float64]
    scale: float
    apex: float


def _flights(shot: Shot, air: Any, wind: Wind, turns: int) -> _Flights:
    angle, spin, tilt = shot.launch.radians
    turn = math.radians(wind.from_deg)

    def fly(speed: float, scales: Any, levels: Any, out: Any) -> Any:
        _kernels.arrivals(
            air, speed, turn, STEP_S, shot.launch.speed_ms, angle, spin, tilt, scales, levels, out
        )
        return out

    level = np.zeros(1)
    calm = fly(0.0, SCALES, level, np.empty((1, SCALES.size, 1, 7)))
    near = float(np.interp(shot.carry_m, calm[0, :, 0, 0], SCALES))
    scales = np.linspace(0.25 * near, 1.35 * near, NODES)
    calm = fly(0.0, scales, level, np.empty((1, NODES, 1, 7)))
    carries = np.ascontiguousarray(calm[0, :, 0, 0])
    scale = float(np.interp(shot.carry_m, carries, scales))
    apex = float(np.interp(scale, scales, calm[0, :, 0, 6]))
    levels = np.array([BELOW_M, 0.0, min(8.0, 0.4 * apex)])
    table = fly(float(wind.speed_ms), scales, levels, np.empty((turns, NODES, 3, 7)))
    return _Flights(table, scales, carries, levels, scale, apex)


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
    nodes = np.empty((len(shots), NODES, 4))
    steps = np.empty(len(shots))
    strides = np.zeros((len(LIES), len(shots), sum(SETS)))
    digest = hashlib.sha256(f"{stamp}|{weather}|{wind.speed_ms}|{wind.from_deg}|{SETS}".encode())
    for s, shot in enumerate(shots):
        f = _flights(shot, air, wind, turns)
        tallest[s] = 0.8 * f.apex
        step = float(np.interp(f.scale, f.scales, np.arange(NODES)))
        n = int(min(step, NODES - 2))
        nodes[s], steps[s] = f.table[:, :, 1, 2:6].mean(axis=0), step
        for b in range(BINS):
            a = round(b / BINS * turns) % turns
            mix = (1 - step + n) * f.table[a, n, 1] + (step - n) * f.table[a, n + 1, 1]
            arrive[s, b] = mix[[2, 3, 4, 5]]
        digest.update(f"{shot}".encode())
        for i, lie in enumerate(LIES):
            sets = [errors(shot, lie, n) for n in SETS]
            if sets[0] is None:
                continue
            drawn = [np.concatenate([d[part] for d in sets if d is not None]) for part in (0, 1)]
            carry[i, s] = shot.carry_m * float(np.median(drawn[1]))
            sizes = np.interp(shot.carry_m * drawn[1], f.carries, f.scales)
            _kernels.spread_fan(f.table, f.scales, f.levels, drawn[0], sizes, offset[i][s])
            strides[i, s] = np.interp(sizes, f.scales, np.arange(NODES))
    digest.update(arrive.tobytes())
    group = np.arange(len(shots))
    fans = tuple(Fans(offset[i], tallest, group, carry[i], i) for i in range(len(LIES)))
    return Book(player, wind.name, shots, fans, arrive, nodes, steps, strides, digest.hexdigest()[:24])


def ground_for(
    surface: Surface,
    land: Land,
    state: NDArray[np.int32],
    book: Book,
    target: NDArray[np.bool_],
    *,
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
    target
        Cells of the green that is played to: landing cells are finer on and beside it.
    keep
        Look in the cache folder first.
    """
    slot, spot = landing_cells(land.kind, target, surface.cell)
    shape = (len(book.shots), BINS, len(spot))
    table = _stored(_key(land, book, slot), shape) if keep else np.zeros(shape, np.int64)
    return Ground(
        np.ascontiguousarray(surface.z, np.float32),
        land.kind,
        np.ascontiguousarray(state, np.int32),
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
        np.ascontiguousarray(land.turf[:, 4]),
        table,
        slot,
        spot,
        book.arrive,
        longer_runs(land, book),
        land,
    )


def longer_runs(land: Land, book: Book) -> NDArray[np.float32]:
    """How much farther than the nominal shot each sample runs on level green, fairway and rough [m].

    Returns
    -------
    ndarray
        Shape ``(lies, shots, samples, 3)``.
    """
    side = 4 * FLAT_M
    level = np.zeros((side, side))
    out = np.zeros((*book.strides.shape, len(FLAT_KINDS)), np.float32)
    for c, kind in enumerate(FLAT_KINDS):
        kinds = np.full(level.shape, kind, np.uint8)
        flat = Land(level, -2.0 * FLAT_M, 2.0 * FLAT_M, 1.0, level, kinds, land.turf, 0.0)
        runs = np.empty(book.nodes.shape[:2])
        _kernels.level_runs(flat, book.nodes, runs)
        for s in range(len(book.shots)):
            nominal = np.interp(book.steps[s], np.arange(NODES), runs[s])
            out[:, s, :, c] = np.interp(book.strides[:, s], np.arange(NODES), runs[s]) - nominal
    return out


def landing_cells(
    kinds: NDArray[np.uint8], target: NDArray[np.bool_], cell: float
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Part the ground into landing cells of one kind each: 3 m, and 1 m within 10 m of the green.

    Returns
    -------
    tuple
        Number of the landing cell of each cell, and row and column in the middle of each.
    """
    rows, cols = kinds.shape
    i, j = np.mgrid[0:rows, 0:cols]
    key = np.empty(kinds.shape, np.int64)
    near = distance_transform_edt(~target) * cell <= NEAR_GREEN_M
    for mask, side, base in ((~near, FAR_CELL_M, 0), (near, NEAR_CELL_M, 1)):
        n = max(1, round(side / cell))
        block = (i // n) * (cols // n + 1) + j // n
        key[mask] = ((block * 2 + base) * 256 + kinds)[mask]
    _, slot = np.unique(key, return_inverse=True)
    slot = slot.reshape(kinds.shape)
    count = np.bincount(slot.ravel())
    mean_i, mean_j = (np.bincount(slot.ravel(), v.ravel()) / count for v in (i, j))
    away = (i - mean_i[slot]) ** 2 + (j - mean_j[slot]) ** 2
    order = np.lexsort((away.ravel(), slot.ravel()))
    first = order[np.concatenate([[0], np.cumsum(count)[:-1]])]
    return slot.astype(np.int32), np.column_stack(np.unravel_index(first, kinds.shape)).astype(np.int64)


def _key(land: Land, book: Book, slot: NDArray[np.int32]) -> str:
    digest = hashlib.sha256(kernel_stamp().encode())
    for part in (land.z, land.smooth, land.kind, land.turf):
        digest.update(str(part.shape).encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    digest.update(f"{land.x_west!r}|{land.y_north!r}|{land.cell!r}|{book.stamp}".encode())
    digest.update(slot.tobytes())
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
    path = table_folder() / f"{_key(ground.land, book, ground.slot)}.npz"
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
