"""Outcome tables: where a ball finishes after landing in a cell.

After landing, what a ball does depends on the place, the direction and how it lands: not on the hole location, the player or
the wind. Landings are parted by speed, angle and spin; an entry is the run along and across the direction and the kind of
ground it ends on, from the middle of the landing cell, computed by :func:`gistools.compute.ballistics.shot_kernels.land_and_run` on first
use and looked up ever after, by every player in every wind. What a sample runs more or less than the middle of its
class is added from level ground. A run is laid from the actual landing point in the actual direction, so cells
of 1 or 4.5 m do not show; water, sand, trees and boundary are looked up at the landing point itself on the cells of
the terrain.

Tables are kept in the user's cache folder under a hash of the ground.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
import platformdirs
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.cover_classes import Kind
from gistools.base.jit import kernel_stamp
from gistools.compute.ballistics.players import LIES as PLAYED_AS
from gistools.compute.ballistics.shot_kernels import RADIUS, Land
from gistools.compute.decision import value_iteration_kernels as _kernels
from gistools.compute.decision.shot_table import LIES, Book
from gistools.compute.decision.value_iteration_kernels import BINS, Fans, Ground
from gistools.compute.terrain.surface import Surface

#: lie a ball has on each kind of ground; -1: it is not played from there
LIE_OF_KIND = np.full(256, 2, np.int64)
for _kind, _name in PLAYED_AS.items():
    LIE_OF_KIND[_kind] = LIES.index(_name)
for _kind in (Kind.WATER, Kind.OUT, Kind.OFF_MAP):
    LIE_OF_KIND[_kind] = -1

#: classes of landings are this far apart in the logarithm of speed, angle [rad], and spin (rim speed over speed)
STEPS = (0.25, 0.08, 0.2)
LIP_REACHES = np.array([4.0, 15.0])  # ground before a place is looked at so far [m]
FINE_STEPS, ASIDE_STEP = (0.03, 0.02, 0.04), 0.04
SHORT_RUN_M, GROW = (
    0.5,
    (0.4, 2.5),
)  # longer runs are scaled from that of the class, within limits; the rest is added
KEEP_TABLES = 8
ROOM_CLASSES, ROOM_BYTES = 768, 1.0e9  # room made at first; what is not filled takes no memory
FLAT_M = 60  # level ground reaches this far round, and as far again [m]
FLAT_KINDS = (Kind.GREEN, Kind.FAIRWAY, Kind.ROUGH)
FAR_CELL_M, NEAR_CELL_M, NEAR_GREEN_M = 4.5, 1.0, 10.0


@dataclass(eq=False)
class Outcomes:
    """Outcomes on one ground: ``table[class, bin, landing cell]``, 0 where not yet computed; ``rows`` the class of a landing."""

    key: str
    rows: dict[tuple[int, int, int], int]
    table: NDArray[np.int32]
    packed: tuple[tuple[int, ...], NDArray[np.int64], NDArray[np.int32]] | None = None

    def make_room(self, landings: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the class of each landing ``(n, 3)``, with rows added for new ones."""
        self.unpack()
        first, back = _alike(landings)
        found = landings[first]
        number = np.empty(len(found), np.int64)
        for k, row in enumerate(found):
            number[k] = self.rows.setdefault((int(row[0]), int(row[1]), int(row[2])), len(self.rows))
        if len(self.rows) > len(self.table):
            most = int(ROOM_BYTES / (4 * BINS * self.table.shape[2]))
            room = max(len(self.rows), int(1.3 * len(self.table)), min(most, ROOM_CLASSES))
            larger = np.zeros((room, *self.table.shape[1:]), np.int32)
            for old, new in zip(self.table, larger, strict=False):  # what holds nothing yet takes no memory
                for b in range(BINS):
                    if old[b].any():
                        new[b] = old[b]
            self.table = larger
        return number[back]

    def arrive(self) -> NDArray[np.float64]:
        """Speed forward, speed up [m/s] and spin [rad/s] of each class."""
        return _velocities(np.array(list(self.rows), float).reshape(-1, 3) * STEPS)

    def pack(self) -> None:
        """Keep only the entries that are computed, until :meth:`unpack`: a tenth of the room."""
        if self.packed is None:
            at = np.flatnonzero(self.table[: len(self.rows)])
            self.packed = self.table.shape, at, self.table.reshape(-1)[at]
            self.table = np.zeros((0, *self.table.shape[1:]), np.int32)

    def unpack(self) -> None:
        """Lay the table out again."""
        if self.packed is not None:
            shape, at, entry = self.packed
            self.table = np.zeros(shape, np.int32)
            self.table.reshape(-1)[at] = entry
            self.packed = None

    def filled(self) -> int:
        """Number of entries computed so far."""
        self.unpack()
        return int(np.count_nonzero(self.table[: len(self.rows)]))


def outcomes_for(
    surface: Surface, land: Land, target: NDArray[np.bool_], *, keep: bool = True
) -> tuple[Outcomes, NDArray[np.int32], NDArray[np.float64]]:
    """Return the outcomes of a ground, from the cache or empty, and its landing cells.

    Parameters
    ----------
    surface, land
        Terrain, and the same with kinds of ground and turf (:func:`gistools.compute.ballistics.turf.land_for`).
    target
        Cells of the green that is played to: landing cells are finer on and beside it.
    keep
        Look in the cache folder first.
    """
    slot, spot = landing_cells(land.kind, target, surface.cell)
    key = _key(land, slot, spot)
    if keep:
        return _stored(key, len(spot)), slot, spot
    return Outcomes(key, {}, np.zeros((0, BINS, len(spot)), np.int32)), slot, spot


def ground_for(
    surface: Surface,
    land: Land,
    state: NDArray[np.int32],
    outcomes: Outcomes,
    slot: NDArray[np.int32],
    spot: NDArray[np.float64],
    place: NDArray[np.float64],
) -> Ground:
    """Return the ground as the kernels take it, with no class of landing yet.

    Parameters
    ----------
    surface, land
        Terrain, and the same with kinds of ground and turf.
    state
        State of each cell, -1 where the ball is not played from.
    outcomes, slot, spot
        As from :func:`outcomes_for`.
    place
        ``x, y, level`` of each state off the green.
    """
    ends = np.ascontiguousarray(land.turf[:, 4])
    ends[_kernels.LAST_KIND] = ends[Kind.OFF_MAP]
    ground = Ground(
        np.ascontiguousarray(surface.z, np.float32),
        land.kind,
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
        ends,
        outcomes.table,
        _packed(slot, land.kind),
        _packed(state, land.kind),
        spot,
        outcomes.arrive(),
        land,
        np.empty((len(place), BINS, len(LIP_REACHES)), np.float32),
    )
    parts = np.array_split(np.arange(len(place)), os.cpu_count() or 1)
    with ThreadPoolExecutor(len(parts)) as pool:
        jobs = []
        for part in parts:
            span = slice(part[0], part[-1] + 1) if len(part) else slice(0, 0)
            jobs.append(pool.submit(_kernels.rises, ground, place[span], LIP_REACHES, ground.lips[span]))
        for job in jobs:
            job.result()
    return ground


def _packed(numbers: NDArray[np.int32], kinds: NDArray[np.uint8]) -> NDArray[np.int32]:
    """Numbers of cells with their kinds in the low bits, row by row in one line."""
    kind = np.minimum(kinds, _kernels.LAST_KIND).astype(np.int32)
    return np.ascontiguousarray((numbers.astype(np.int32) << _kernels.KIND_BITS) | kind).ravel()


def run_out(land: Land, book: Book, outcomes: Outcomes) -> tuple[Fans, ...]:
    """Give each landing of a book its class, and how its run follows from that of the class, by the two on level ground."""
    landings = _played(book, _landings(book))
    shape = landings.shape[:-1]
    flat, aside = landings[..., :3].reshape(-1, 3), landings[..., 3].ravel()
    classes = outcomes.make_room(np.rint(flat / STEPS).astype(np.int64))
    # runs of landings that are all but alike are computed once
    first, back = _alike(np.rint(np.column_stack([flat / FINE_STEPS, aside / ASIDE_STEP])).astype(np.int64))
    both = level_runs(land, _velocities(flat[first]), aside[first])[back]
    run, right = both[..., 0], both[..., 1]
    stands = level_runs(land, outcomes.arrive(), np.zeros(len(outcomes.rows)))[classes, :, 0]
    grow = np.where(stands > SHORT_RUN_M, run / np.maximum(stands, SHORT_RUN_M), 1.0).clip(*GROW)
    ladder = run[:, 1].reshape(shape)
    rise = np.gradient(ladder, axis=2) / np.maximum(ladder, 1.0)
    more = np.concatenate([grow, run - grow * stands, rise.reshape(-1, 1), right], axis=1)
    landing = np.ascontiguousarray(classes.reshape(shape).astype(np.int16))
    longer = np.ascontiguousarray(more.reshape(*shape, 10).astype(np.float32))
    usual = run.reshape(*shape, 3)[:, :, shape[2] // 2, _kernels.LEVEL] / land.cell
    roll = np.ascontiguousarray(usual.astype(np.float32))
    return tuple(fan._replace(landing=landing, longer=longer, roll=roll) for fan in book.fans)


def _alike(rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first of each kind of row, in order of the rows' numbers, and the kind of each row."""
    from_least = rows - rows.min(axis=0)
    one = np.ravel_multi_index(tuple(from_least.T), tuple(from_least.max(axis=0) + 1))
    _, first, back = np.unique(one, return_index=True, return_inverse=True)
    return first, back


def _landings(book: Book) -> NDArray[np.float64]:
    """Landings by shot, turn, node and band of height: logarithm of speed, angle [rad], rim speed over speed, and the angle
    to the right of the aim that the wind has turned the ball by, while it spins as it was hit [rad].

    Between the three levels flown, and beyond, speed forward and spin change evenly with height, speed up with its square.
    """
    above = (np.arange(_kernels.BANDS) - _kernels.LEVEL) / book.fans[0].band[:, None]
    down, up = book.levels[:, :1], book.levels[:, 2:]
    part = np.where(above < 0, above / down, above / up)[:, None, None, :, None]
    part = np.minimum(part, 1.5)
    v = np.concatenate(
        [
            np.hypot(book.nodes[..., 0], book.nodes[..., 1])[..., None],
            book.nodes[..., 2:3] ** 2,
            book.nodes[..., 3:4],
            np.arctan2(book.nodes[..., 1], book.nodes[..., 0])[..., None],
        ],
        axis=-1,
    )
    other = np.where((above < 0)[:, None, None, :, None], v[..., 0:1, :], v[..., 2:3, :])
    at = (1 - part) * v[..., 1:2, :] + part * other
    pace = np.maximum(at[..., 0], 0.1)
    down_speed = np.sqrt(np.maximum(at[..., 1], (0.15 * pace) ** 2))
    speed = np.hypot(pace, down_speed)
    rim = RADIUS * at[..., 2] / speed
    return np.stack([np.log(speed), np.arctan2(down_speed, pace), rim, at[..., 3]], axis=-1)


def _played(book: Book, landings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Landings with those of ball speeds that no sample is hit with set to the nearest that is."""
    held = np.stack([fan.parts[:, 0, 9] for fan in book.fans])  # lies, shots, samples
    out = landings.copy()
    for s in range(landings.shape[0]):
        used = np.rint(held[:, s][(held[:, s] > 0).any(axis=1)]).astype(int)
        if used.size:
            out[s] = landings[s][:, np.arange(landings.shape[2]).clip(used.min(), used.max())]
    return out


def _velocities(landings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Speed forward, speed up [m/s] and spin [rad/s] of landings ``(n, 3)`` as from :func:`_landings`."""
    speed, angle = np.exp(landings[:, 0]), landings[:, 1]
    return np.column_stack([speed * np.cos(angle), -speed * np.sin(angle), landings[:, 2] * speed / RADIUS])


def level_runs(land: Land, landings: NDArray[np.float64], aside: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far balls run on level green, fairway and rough [m], from speeds forward and up [m/s] and spin [rad/s].

    ``aside`` is how far to the right of the axis they spin about balls fly at landing [rad]: side wind does that.

    Returns
    -------
    ndarray
        Along and to the right of the direction at landing, shape ``(landings, 3, 2)``.
    """
    level = np.zeros((4 * FLAT_M, 4 * FLAT_M))
    out = np.empty((len(landings), len(FLAT_KINDS), 2))
    for column, kind in enumerate(FLAT_KINDS):
        under = np.full(level.shape, kind, np.uint8)
        flat = land._replace(
            z=level, x_west=-2.0 * FLAT_M, y_north=2.0 * FLAT_M, cell=1.0, smooth=level, kind=under, top=0.0
        )
        _kernels.level_runs(flat, np.ascontiguousarray(landings), aside, out[:, column])
    return out


def landing_cells(
    kinds: NDArray[np.uint8], target: NDArray[np.bool_], cell: float
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Part the ground into landing cells of one kind each: 4.5 m, and 1 m within 10 m of the green.

    Returns
    -------
    tuple
        Number of the landing cell of each cell, and the row and column in the middle of each: the mean of its cells, or the
        cell nearest to it where that is on other ground.
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
    nearest = np.column_stack(np.unravel_index(first, kinds.shape)).astype(float)
    middle = np.column_stack([mean_i, mean_j])
    inside = slot[tuple(np.floor(middle + 0.5).astype(int).T)] == np.arange(len(count))
    return slot.astype(np.int32), np.where(inside[:, None], middle, nearest)


def _key(land: Land, slot: NDArray[np.int32], spot: NDArray[np.float64]) -> str:
    digest = hashlib.sha256(kernel_stamp().encode())
    for part in (land.z, land.smooth, land.kind, land.turf, slot, spot):
        digest.update(f"{part.shape}|{part.dtype}".encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    digest.update(f"{land[1:4]!r}|{land.density!r}|{land.viscosity!r}|{STEPS}|{_kernels.BINS}".encode())
    return digest.hexdigest()[:32]


def table_folder() -> Path:
    """Return the folder of stored outcome tables (it may not exist yet)."""
    return Path(platformdirs.user_cache_dir("gistools", appauthor=False)) / "outcomes"


def _stored(key: str, slots: int) -> Outcomes:
    with (
        contextlib.suppress(OSError, ValueError, KeyError, EOFError, BadZipFile),
        np.load(table_folder() / f"{key}.npz", allow_pickle=False) as held,
    ):
        landings = held["landings"]
        table = np.zeros((len(landings), BINS, slots), np.int32)
        table.reshape(-1)[held["at"]] = held["entry"]
        rows = {(int(a), int(b), int(c)): n for n, (a, b, c) in enumerate(landings)}
        if len(rows) == len(table):
            return Outcomes(key, rows, table)
    return Outcomes(key, {}, np.zeros((0, BINS, slots), np.int32))


def store(outcomes: Outcomes) -> Path | None:
    """Keep what the table holds so far for the next study of the same ground; None where it cannot be written."""
    path = table_folder() / f"{outcomes.key}.npz"
    flat = outcomes.table[: len(outcomes.rows)].reshape(-1)
    at = np.flatnonzero(flat)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        with part.open("wb") as out:
            np.savez(out, landings=np.array(list(outcomes.rows), np.int64), at=at, entry=flat[at])
        part.replace(path)
        others = sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in others[KEEP_TABLES:]:
            old.unlink(missing_ok=True)
    except OSError:
        return None
    return path
