"""Outcome tables: where a ball finishes after landing in a cell.

After landing, what a ball does depends on the place, the direction and how it lands: not on the hole
location, the player or the wind. Landings are parted by speed, angle and spin. An entry is the run along
and across the direction and the kind of ground it ends on, from the middle of the landing cell.
:func:`gistools.compute.ballistics.shot_kernels.land_and_run` computes it on first use; every player in
every wind looks it up ever after. Within-class variation of the run is taken from the same landing on level
ground and added to the class value. A run is laid from the actual landing point in the actual direction, so
cells of 1 or 4.5 m do not show; water, sand, trees and boundary are looked up at the landing point itself
on the cells of the terrain.

Tables are stored in the user's cache folder under a hash of the ground.
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
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.flight_kernels import RADIUS
from gistools.compute.ballistics.players import LIES as PLAYED_AS
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.outcome_kernels import BINS, DispersionTables, Ground
from gistools.compute.decision.shot_table import LIES, ShotTable
from gistools.compute.decision.value_iteration_kernels import near_slopes
from gistools.compute.terrain.surface import Surface

#: lie a ball has on each kind of ground; -1: it is not played from there
LIE_OF_KIND = np.full(256, 2, np.int64)
for _kind, _name in PLAYED_AS.items():
    LIE_OF_KIND[_kind] = LIES.index(_name)
for _kind in (Kind.WATER, Kind.OUT, Kind.OFF_MAP):
    LIE_OF_KIND[_kind] = -1

# The constants below are assumptions (assumptions): how finely landings are tabulated.
#: classes of landings are this far apart in the logarithm of speed, angle [rad], and spin (rim speed over
#: speed)
CLASS_STEPS = (0.25, 0.08, 0.2)
SLOPE_REACHES_M = np.array([4.0, 15.0])  # the ground before a place is looked at so far
LEVEL_STEPS, ASIDE_STEP_RAD = (0.03, 0.02, 0.04), 0.04  # landings this close have one run on level ground
ALIGNED_CELLS = 1e-6  # grids this close to each other are one, in cells
SHORT_RUN_M, FACTOR_LIMITS = (
    0.5,
    (0.4, 2.5),
)  # longer runs are scaled from that of the class, within limits; the rest is added
MOST_STORED = 8  # tables in the cache folder
FIRST_CLASSES, FIRST_BYTES = 768, 1.0e9  # size of a table at first; what is not filled takes no memory
RUN_ROOM_M = 8.0  # a ball comes no farther than so much beyond its run, up a bank and back (assumption)
FLAT_M = 60  # level ground reaches this far round, and as far again [m]
FLAT_KINDS = (Kind.GREEN, Kind.FAIRWAY, Kind.ROUGH)
FAR_CELL_M, GREEN_CELL_M, GREEN_CELLS_WITHIN_M = (
    4.5,
    1.0,
    10.0,
)  # side of a landing cell; and on and about the green


@dataclass(eq=False)
class OutcomeTable:
    """Outcomes on one ground: ``entries[class, bin, landing cell]``, 0 where not yet computed.

    ``class_of`` is the class of a landing, in steps of CLASS_STEPS. ``packed`` holds the entries while memory
    is released.
    """

    key: str
    class_of: dict[tuple[int, int, int], int]
    entries: NDArray[np.int32]
    packed: tuple[tuple[int, ...], NDArray[np.int64], NDArray[np.int32]] | None = None

    def classes_for(self, landings: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the class of each landing ``(n, 3)``; new classes are added."""
        self.unpack()
        first, back = _unique_rows(landings)
        distinct = landings[first]
        number = np.empty(len(distinct), np.int64)
        for k, row in enumerate(distinct):
            number[k] = self.class_of.setdefault((int(row[0]), int(row[1]), int(row[2])), len(self.class_of))
        if len(self.class_of) > len(self.entries):
            most = int(FIRST_BYTES / (4 * BINS * self.entries.shape[2]))
            size = max(len(self.class_of), int(1.3 * len(self.entries)), min(most, FIRST_CLASSES))
            larger = np.zeros((size, *self.entries.shape[1:]), np.int32)
            for old, new in zip(self.entries, larger, strict=False):  # untouched pages take no memory
                for b in range(BINS):
                    if old[b].any():
                        new[b] = old[b]
            self.entries = larger
        return number[back]

    def landing_velocity(self) -> NDArray[np.float64]:
        """Speed forward, speed up [m/s] and spin [rad/s] of each class."""
        return _velocities(np.array(list(self.class_of), float).reshape(-1, 3) * CLASS_STEPS)

    def pack(self) -> None:
        """Hold only the entries that are computed, until :meth:`unpack`: a tenth of the memory."""
        if self.packed is None:
            at = np.flatnonzero(self.entries[: len(self.class_of)])
            self.packed = self.entries.shape, at, self.entries.reshape(-1)[at]
            self.entries = np.zeros((0, *self.entries.shape[1:]), np.int32)

    def unpack(self) -> None:
        """Lay the table out again."""
        if self.packed is not None:
            shape, at, entry = self.packed
            self.entries = np.zeros(shape, np.int32)
            self.entries.reshape(-1)[at] = entry
            self.packed = None

    def filled(self) -> int:
        """Number of entries computed so far."""
        self.unpack()
        return int(np.count_nonzero(self.entries[: len(self.class_of)]))


def outcome_table_for(
    surface: Surface, land: TurfGrid, target: NDArray[np.bool_], *, keep: bool = True
) -> tuple[OutcomeTable, NDArray[np.int32], NDArray[np.float64]]:
    """Return the outcomes of a ground, from the cache or empty, and its landing cells.

    Parameters
    ----------
    surface, land
        Terrain, and the same with kinds of ground and turf
        (:func:`gistools.compute.ballistics.turf.turf_grid`).
    target
        Cells of the green that is played to: landing cells are finer on and beside it.
    keep
        Look in the cache folder first.
    """
    cell_id, centre = landing_cells(land.kind, target, surface.cell)
    key = _key(land, cell_id, centre)
    if keep:
        return _stored(key, len(centre)), cell_id, centre
    return OutcomeTable(key, {}, np.zeros((0, BINS, len(centre)), np.int32)), cell_id, centre


def ground_for(
    surface: Surface,
    land: TurfGrid,
    state: NDArray[np.int32],
    table: tuple[OutcomeTable, NDArray[np.int32], NDArray[np.float64]],
    place: NDArray[np.float64],
    obstacles: Obstacles = NO_OBSTACLES,
) -> Ground:
    """Return the ground as the kernels take it, with no class of landing yet.

    Parameters
    ----------
    surface, land
        Terrain, and the same with kinds of ground and turf.
    state
        State of each cell, -1 where the ball is not played from.
    table
        As from :func:`outcome_table_for`.
    place
        ``x, y, level`` of each state off the green.
    obstacles
        Trees and structures (:func:`gistools.compute.ballistics.flight.obstacles_for`).
    """
    outcomes, cell_id, centre = table
    ends = np.ascontiguousarray(land.turf[:, 4])
    ends[_kernels.LAST_KIND] = ends[Kind.OFF_MAP]
    ground = Ground(
        np.ascontiguousarray(surface.z, np.float32),
        land.kind,
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
        ends,
        outcomes.entries,
        _packed(cell_id, land.kind),
        _packed(state, land.kind),
        centre,
        outcomes.landing_velocity(),
        land,
        np.empty((len(place), BINS, len(SLOPE_REACHES_M)), np.float32),
        obstacles,
        np.empty((len(place), _kernels.HEADINGS if obstacles.rows else 0), np.float32),
        _kernels.Earlier(np.zeros((0, BINS, 0), np.int32), np.zeros(0, np.int64), np.zeros(0)),
    )
    parts = np.array_split(np.arange(len(place)), os.cpu_count() or 1)

    def look(part: NDArray[np.int64]) -> None:
        """Fill in the slopes and obstacles about some states."""
        span = slice(part[0], part[-1] + 1) if len(part) else slice(0, 0)
        near_slopes(ground, place[span], SLOPE_REACHES_M, ground.near_slope[span])
        if obstacles.rows:
            _kernels.obstacle_distances(obstacles, place[span], ground.obstacle_m[span])

    with ThreadPoolExecutor(len(parts)) as pool:
        list(pool.map(look, parts))
    return ground


def with_earlier(ground: Ground, table: OutcomeTable, before: Ground, earlier: OutcomeTable) -> Ground:
    """Return a ground whose empty table looks outcomes up in that of the ground ``before`` a change.

    Those are taken that are as they would be computed anew: the landing cell is the same, and so is all
    ground within RUN_ROOM_M more than the length of the run.
    """
    land, old = ground.land, before.land
    rows, columns = (old.y_north - land.y_north) / land.cell, (land.x_west - old.x_west) / land.cell
    offset = np.rint([rows, columns]).astype(int)
    same_grid = old.cell == land.cell and np.abs(offset - (rows, columns)).max() < ALIGNED_CELLS
    same_air = (old.density, old.viscosity) == (land.density, land.viscosity)
    first = np.maximum(-offset, 0)
    end = np.minimum(land.kind.shape, np.array(old.kind.shape) - offset)
    same_turf = same_grid and same_air and np.array_equal(old.turf, land.turf)
    if table.class_of or not same_turf or (end <= first).any():
        return ground
    here = tuple(slice(a, b) for a, b in zip(first, end, strict=True))
    there = tuple(slice(a, b) for a, b in zip(first + offset, end + offset, strict=True))
    same = np.zeros(land.kind.shape, bool)
    same[here] = old.kind[there] == land.kind[here]
    for a, b in ((old.z, land.z), (old.smooth, land.smooth)):
        same[here] &= (a[there] == b[here]) | np.isnan(a[there]) & np.isnan(b[here])
    away_m = np.full(same.shape, np.inf) if same.all() else distance_transform_edt(same) * land.cell
    i, j = np.floor(ground.cell_centre + 0.5).astype(int).T
    known = np.flatnonzero(same[i, j])
    number = (before.landing_cell_id >> _kernels.KIND_BITS).reshape(old.kind.shape)
    cell = np.full(len(i), -1)
    cell[known] = number[i[known] + offset[0], j[known] + offset[1]]
    off = np.abs(before.cell_centre[cell[known]] - ground.cell_centre[known] - offset).max(axis=1)
    cell[known[off > ALIGNED_CELLS]] = -1
    earlier.unpack()
    table.class_of = dict(earlier.class_of)
    table.entries = np.zeros((len(earlier.entries), BINS, len(cell)), np.int32)
    entries = earlier.entries[: len(earlier.class_of)]
    return ground._replace(
        outcome=table.entries, earlier=_kernels.Earlier(entries, cell, away_m[i, j] - RUN_ROOM_M)
    )


def _packed(numbers: NDArray[np.int32], kinds: NDArray[np.uint8]) -> NDArray[np.int32]:
    """Pack numbers of cells with their kinds in the low bits, row-major.

    See ``packed_index`` and ``packed_kind``.
    """
    kind = np.minimum(kinds, _kernels.LAST_KIND).astype(np.int32)
    return np.ascontiguousarray((numbers.astype(np.int32) << _kernels.KIND_BITS) | kind).ravel()


def with_runs(land: TurfGrid, shots: ShotTable, outcomes: OutcomeTable) -> tuple[DispersionTables, ...]:
    """Return the dispersion tables with the class of each landing and the change of its run."""
    landings = _landings_in_use(shots, tabulated_landings(shots))
    shape = landings.shape[:-1]
    flat, aside = landings[..., :3].reshape(-1, 3), landings[..., 3].ravel()
    classes = outcomes.classes_for(np.rint(flat / CLASS_STEPS).astype(np.int64))
    # runs of landings that are all but alike are computed once
    fine = np.column_stack([flat / LEVEL_STEPS, aside / ASIDE_STEP_RAD])
    first, back = _unique_rows(np.rint(fine).astype(np.int64))
    both = level_runs(land, _velocities(flat[first]), aside[first])[back]
    run, right = both[..., 0], both[..., 1]
    class_runs = level_runs(land, outcomes.landing_velocity(), np.zeros(len(outcomes.class_of)))
    of_class = class_runs[classes, :, 0]
    factor = np.where(of_class > SHORT_RUN_M, run / np.maximum(of_class, SHORT_RUN_M), 1.0)
    factor = factor.clip(*FACTOR_LIMITS)
    ladder = run[:, 1].reshape(shape)
    rise = np.gradient(ladder, axis=2) / np.maximum(ladder, 1.0)
    change = np.concatenate([factor, run - factor * of_class, rise.reshape(-1, 1), right], axis=1)
    landing_class = np.ascontiguousarray(classes.reshape(shape).astype(np.int16))
    run_change = np.ascontiguousarray(change.reshape(*shape, _kernels.RUN_CHANGE_FIELDS).astype(np.float32))
    usual = run.reshape(*shape, 3)[:, :, shape[2] // 2, _kernels.LEVEL] / land.cell
    level_run = np.ascontiguousarray(usual.astype(np.float32))
    return tuple(
        lie._replace(landing_class=landing_class, run_change=run_change, level_run=level_run)
        for lie in shots.dispersion
    )


def _unique_rows(rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first of each distinct row, in order, and the distinct row of each row."""
    from_least = rows - rows.min(axis=0)
    one = np.ravel_multi_index(tuple(from_least.T), tuple(from_least.max(axis=0) + 1))
    _, first, back = np.unique(one, return_index=True, return_inverse=True)
    return first, back


def tabulated_landings(shots: ShotTable) -> NDArray[np.float64]:
    """Return landings by shot, turn, node and band of height.

    Between the three levels flown, and beyond, speed forward and spin change evenly with height, speed up
    with its square.

    Returns
    -------
    ndarray
        Shape ``(shots, turns, nodes, BANDS, 4)``: logarithm of speed, angle [rad], rim speed over speed, and
        the angle to the right of the aim that the wind has turned the ball by, while it spins as it was hit
        [rad].
    """
    above = (np.arange(_kernels.BANDS) - _kernels.LEVEL) / shots.dispersion[0].bands_per_m[:, None]
    down, up = shots.levels[:, :1], shots.levels[:, 2:]
    part = np.where(above < 0, above / down, above / up)[:, None, None, :, None]
    part = np.minimum(part, _kernels.MOST_EXTRAPOLATION)
    nodes = shots.node_velocity
    v = np.concatenate(
        [
            np.hypot(nodes[..., 0], nodes[..., 1])[..., None],
            nodes[..., 2:3] ** 2,
            nodes[..., 3:4],
            np.arctan2(nodes[..., 1], nodes[..., 0])[..., None],
        ],
        axis=-1,
    )
    other = np.where((above < 0)[:, None, None, :, None], v[..., 0:1, :], v[..., 2:3, :])
    at = (1 - part) * v[..., 1:2, :] + part * other
    pace = np.maximum(at[..., 0], _kernels.LEAST_PACE_MS)
    down_speed = np.sqrt(np.maximum(at[..., 1], (_kernels.LEAST_DESCENT * pace) ** 2))
    speed = np.hypot(pace, down_speed)
    rim = RADIUS * at[..., 2] / speed
    return np.stack([np.log(speed), np.arctan2(down_speed, pace), rim, at[..., 3]], axis=-1)


def _landings_in_use(shots: ShotTable, landings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Replace landings at unused ball-speed nodes by the nearest used node."""
    node = np.stack(
        [lie.sample[:, 0, _kernels.SPEED_NODE] for lie in shots.dispersion]
    )  # lies, shots, samples
    out = landings.copy()
    for s in range(landings.shape[0]):
        used = np.rint(node[:, s][(node[:, s] > 0).any(axis=1)]).astype(int)
        if used.size:
            out[s] = landings[s][:, np.arange(landings.shape[2]).clip(used.min(), used.max())]
    return out


def _velocities(landings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return speed forward, speed up [m/s] and spin [rad/s] of tabulated landings ``(n, 3)``."""
    speed, angle = np.exp(landings[:, 0]), landings[:, 1]
    return np.column_stack([speed * np.cos(angle), -speed * np.sin(angle), landings[:, 2] * speed / RADIUS])


def level_runs(
    land: TurfGrid, landings: NDArray[np.float64], aside: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the run on level green, fairway and rough [m] from landing speeds [m/s] and spin [rad/s].

    ``aside`` is how far to the right of the axis they spin about balls fly at landing [rad]: side wind does
    that.

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
        Number of the landing cell of each cell, and the row and column in the middle of each: the mean of its
        cells, or the cell nearest to it where that is on other ground.
    """
    rows, cols = kinds.shape
    i, j = np.mgrid[0:rows, 0:cols]
    key = np.empty(kinds.shape, np.int64)
    close = distance_transform_edt(~target) * cell <= GREEN_CELLS_WITHIN_M
    for mask, side, base in ((~close, FAR_CELL_M, 0), (close, GREEN_CELL_M, 1)):
        n = max(1, round(side / cell))
        block = (i // n) * (cols // n + 1) + j // n
        key[mask] = ((block * 2 + base) * 256 + kinds)[mask]
    _, cell_id = np.unique(key, return_inverse=True)
    cell_id = cell_id.reshape(kinds.shape)
    count = np.bincount(cell_id.ravel())
    mean_i, mean_j = (np.bincount(cell_id.ravel(), v.ravel()) / count for v in (i, j))
    away = (i - mean_i[cell_id]) ** 2 + (j - mean_j[cell_id]) ** 2
    order = np.lexsort((away.ravel(), cell_id.ravel()))
    first = order[np.concatenate([[0], np.cumsum(count)[:-1]])]
    nearest = np.column_stack(np.unravel_index(first, kinds.shape)).astype(float)
    middle = np.column_stack([mean_i, mean_j])
    inside = cell_id[tuple(np.floor(middle + 0.5).astype(int).T)] == np.arange(len(count))
    return cell_id.astype(np.int32), np.where(inside[:, None], middle, nearest)


def _key(land: TurfGrid, cell_id: NDArray[np.int32], centre: NDArray[np.float64]) -> str:
    digest = hashlib.sha256(kernel_stamp().encode())
    for part in (land.z, land.smooth, land.kind, land.turf, cell_id, centre):
        digest.update(f"{part.shape}|{part.dtype}".encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    digest.update(f"{land[1:4]!r}|{land.density!r}|{land.viscosity!r}|{CLASS_STEPS}|{_kernels.BINS}".encode())
    return digest.hexdigest()[:32]


def table_folder() -> Path:
    """Return the folder of stored outcome tables (it may not exist yet)."""
    return Path(platformdirs.user_cache_dir("gistools", appauthor=False)) / "outcomes"


def _stored(key: str, cells: int) -> OutcomeTable:
    with (
        contextlib.suppress(OSError, ValueError, KeyError, EOFError, BadZipFile),
        np.load(table_folder() / f"{key}.npz", allow_pickle=False) as file,
    ):
        landings = file["landings"]
        entries = np.zeros((len(landings), BINS, cells), np.int32)
        entries.reshape(-1)[file["at"]] = file["entry"]
        class_of = {(int(a), int(b), int(c)): n for n, (a, b, c) in enumerate(landings)}
        if len(class_of) == len(entries):
            return OutcomeTable(key, class_of, entries)
    return OutcomeTable(key, {}, np.zeros((0, BINS, cells), np.int32))


def store(outcomes: OutcomeTable) -> Path | None:
    """Store what the table holds so far for the next study of the same ground.

    None where it cannot be written.
    """
    path = table_folder() / f"{outcomes.key}.npz"
    flat = outcomes.entries[: len(outcomes.class_of)].reshape(-1)
    at = np.flatnonzero(flat)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        with part.open("wb") as out:
            np.savez(out, landings=np.array(list(outcomes.class_of), np.int64), at=at, entry=flat[at])
        try:
            part.replace(path)
        finally:  # another process may read the old one just then (Windows)
            part.unlink(missing_ok=True)
        others = sorted(path.parent.glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in others[MOST_STORED:]:
            old.unlink(missing_ok=True)
    except OSError:
        return None
    return path
