"""Whole shots: any player's, from anywhere on the ground, as arrays of where they land and finish."""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.grid import Grid
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Model, Weather, Wind, number
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.dispersion import MOST_SAMPLES
from gistools.compute.ballistics.flight import NO_OBSTACLES
from gistools.compute.ballistics.players import LIES, Player, built_in, lie_rules
from gistools.compute.terrain.surface_kernels import height

Floats = NDArray[np.float64]
Records = NDArray[Any]

CHUNK = 65_536  # shots in flight at once: bounds the memory beside the results
THREADED_FROM = 4_096  # fewer are not worth starting threads for


@dataclass(frozen=True, eq=False)
class Shots:
    """Where shots landed and finished; every field is an array with one entry per shot, none ever NaN.

    Attributes
    ----------
    land_x, land_y, land_z
        First contact with the ground or an obstacle [m].
    land_kind
        Kind of ground there, code of :class:`gistools.base.cover_classes.Kind`.
    x, y, z
        Where the ball rests [m].
    kind
        Kind of ground it rests on; ``Kind.TREES`` where a tree or structure stopped it, ``Kind.OFF_MAP``
        where it left the terrain (the place is then where it comes down through the last ground level seen,
        or its last point with ground).
    feature
        Position of the feature it rests in, in the caller's list of names; -1 for none.
    carry_m, run_m
        Plan distances from the start to the landing, and from there to rest [m].
    run_along_m, run_across_m
        Parts of the run along the line from the start to the landing, and to the right of it [m].
    apex_m
        Highest point above the start [m].
    descent_deg
        Angle at landing below the horizontal [degrees].
    speed_ms
        Speed at landing [m/s].
    air_s, run_s
        Times in the air, and from landing to rest [s].
    stopped
        True where a tree or structure stopped the ball.
    """

    land_x: Floats
    land_y: Floats
    land_z: Floats
    land_kind: NDArray[np.uint8]
    x: Floats
    y: Floats
    z: Floats
    kind: NDArray[np.uint8]
    feature: NDArray[np.int32]
    carry_m: Floats
    run_m: Floats
    run_along_m: Floats
    run_across_m: Floats
    apex_m: Floats
    descent_deg: Floats
    speed_ms: Floats
    air_s: Floats
    run_s: Floats
    stopped: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.x)


def simulate_shots(
    ground: _kernels.TurfGrid,
    start: tuple[float, float],
    club: Club | str,
    aim: float | tuple[float, float],
    wind: Wind = CALM,
    *,
    n: int = 1024,
    player: Player | str = "scratch man",
    lie: str | None = None,
    carry_m: float | None = None,
    weather: Weather = STANDARD_DAY,
    model: Model = "D",
    obstacles: _kernels.Obstacles = NO_OBSTACLES,
    features: ArrayLike | None = None,
) -> Shots:
    """Play ``n`` shots and return where each lands and finishes.

    Parameters
    ----------
    ground
        Terrain, kinds of ground and turf, see :func:`gistools.compute.ballistics.turf.turf_grid`.
    start
        Where the ball lies, x and y [m].
    club
        A club, or the name of one in the player's bag.
    aim
        Grid bearing [degrees], or a point to aim at, x and y [m].
    wind
        Wind.
    n
        Number of shots, evenly placed in the player's dispersion (no seed, repeatable).
    player
        A player, or the name of a built-in one.
    lie
        ``"tee"``, ``"fairway"``, ``"rough"``, ``"sand"`` or ``"recovery"``; without it the ground at the
        start.
    carry_m
        Intended carry, flat and calm [m]; without it the full one. The lie shortens it.
    weather, model
        Air and flight model.
    obstacles
        Trees and structures, see :func:`gistools.compute.ballistics.flight.obstacles_for`.
    features
        Whole numbers on the same grid: which feature covers a cell, -1 for none.

    Raises
    ------
    InputError
        If the start is off the terrain, the club is not in the bag or cannot be played from the lie, or a
        value is out of range; named.
    """
    number("n", n, 1, MOST_SAMPLES)
    golfer = player if isinstance(player, Player) else built_in(player)
    club = golfer.club(club) if isinstance(club, str) else club
    x, y, z = start_point(ground, start)
    bearing = bearing_to((x, y), aim)
    if lie is None:
        lie = LIES[int(_kernels.kind_at(ground, x, y))]
    headings, scales = sample_launches(golfer, club, lie, bearing, int(n), carry_m)
    table = club.table(weather, wind, model)
    out = np.concatenate(list(records(ground, obstacles, table, (x, y, z), headings, scales)))
    return shots_of(out, ground, (x, y), features)


def start_point(ground: _kernels.TurfGrid, start: tuple[float, float]) -> tuple[float, float, float]:
    """Return the start with its level.

    Raises
    ------
    InputError
        If it is not a point with ground under it.
    """
    x, y = (float(v) for v in start)
    z = float(height(ground.z, ground.x_west, ground.y_north, ground.cell, x, y))
    if not math.isfinite(z):
        raise InputError(f"the shot starts at ({x:.1f}, {y:.1f}), where the terrain has no ground")
    return x, y, z


def bearing_to(start: tuple[float, float], aim: float | tuple[float, float]) -> float:
    """Return the grid bearing of an aim [degrees]: a bearing as it is, a point as seen from the start.

    Raises
    ------
    InputError
        If the aim is the start itself, or not finite.
    """
    if isinstance(aim, (int, float, np.integer, np.floating)):
        return number("aim", aim, -360, 720, "degrees") % 360.0
    east, north = float(aim[0]) - start[0], float(aim[1]) - start[1]
    if not math.hypot(east, north) > 1e-6 or not math.isfinite(math.hypot(east, north)):
        raise InputError("the aim has to be a point away from the start")
    return math.degrees(math.atan2(east, north)) % 360.0


def sample_launches(
    player: Player, club: Club, lie: str, bearing_deg: float, n: int, carry_m: float | None = None
) -> tuple[Floats, Floats]:
    """Headings [rad] and ball speed scales of ``n`` shots: the dispersion of a player, club and lie.

    Raises
    ------
    InputError
        If the club cannot be played from the lie, or cannot carry as far.
    """
    rules = lie_rules(lie)
    if club.family not in rules["families"] and club.carry_m != player.clubs[-1].carry_m:
        raise InputError(f"a {club.name} cannot be played from the lie {lie!r}")
    full = club.carry_m
    intended = full if carry_m is None else number("carry_m", carry_m, 0.5, full * 1.001, "m")
    angle, factor = player.dispersion(club, lie, intended).errors(n)
    return math.radians(bearing_deg) + angle, club.scale(intended * rules["distance_factor"] * factor)


def records(
    ground: _kernels.TurfGrid,
    obstacles: _kernels.Obstacles,
    table: _kernels.Table,
    start: tuple[float, float, float],
    headings: Floats,
    scales: Floats,
    *,
    chunk: int = CHUNK,
    threads: int | None = None,
) -> Iterator[Records]:
    """Play shots from one place in chunks, on several threads; yields arrays of dtype ``shot_kernels.SHOT``.

    Parameters
    ----------
    ground, obstacles, table
        Ground, obstacles, tabulated flights.
    start
        x, y and level of the start [m].
    headings, scales
        Heading [rad] and ball speed scale of each shot.
    chunk
        Shots per array.
    threads
        Threads; without it as many as there are processors.
    """
    workers = (os.cpu_count() or 1) if threads is None else threads

    def part(first: int, last: int, out: Records) -> None:
        starts = np.tile(np.array(start, float), (last - first, 1))
        _kernels.play_many(ground, obstacles, table, starts, headings[first:last], scales[first:last], out)

    with ThreadPoolExecutor(max(workers, 1)) as pool:
        for first in range(0, len(headings), chunk):
            last = min(first + chunk, len(headings))
            out = np.empty(last - first, _kernels.SHOT)
            if workers == 1 or last - first < THREADED_FROM:
                part(first, last, out)
            else:
                cuts = np.linspace(first, last, workers * 4 + 1).astype(int)
                jobs = [
                    pool.submit(part, a, b, out[a - first : b - first]) for a, b in itertools.pairwise(cuts)
                ]
                for job in jobs:
                    job.result()
            yield out


def cells_of(
    values: NDArray[Any], ground: _kernels.TurfGrid, x: Floats, y: Floats, outside: Any
) -> NDArray[Any]:
    """Values of a grid at points; ``outside`` beyond it."""
    rows, cols = values.shape
    grid = Grid(ground.x_west, ground.y_north, ground.cell, (rows, cols))
    return grid.sample(values, x, y, outside).astype(values.dtype)


def shots_of(
    out: Records, ground: _kernels.TurfGrid, start: tuple[float, float], features: ArrayLike | None = None
) -> Shots:
    """Return records of shots from one start as :class:`Shots`.

    Raises
    ------
    InputError
        If the features are on another grid than the ground.
    """
    c = {name: np.ascontiguousarray(out[name]) for name in _kernels.SHOT.names or ()}
    feature = np.full(len(out), -1, np.int32)
    if features is not None:
        grid = np.asarray(features)
        if grid.shape != ground.kind.shape:
            raise InputError(
                f"features have shape {grid.shape}, the ground {ground.kind.shape}; they share a grid"
            )
        feature = cells_of(grid, ground, c["x"], c["y"], -1).astype(np.int32)
    east, north = c["land_x"] - start[0], c["land_y"] - start[1]
    run_east, run_north = c["x"] - c["land_x"], c["y"] - c["land_y"]
    carry = np.hypot(east, north)
    unit = np.maximum(carry, 1e-9)
    return Shots(
        land_x=c["land_x"],
        land_y=c["land_y"],
        land_z=c["land_z"],
        land_kind=c["land_kind"].astype(np.uint8),
        x=c["x"],
        y=c["y"],
        z=c["z"],
        kind=c["kind"].astype(np.uint8),
        feature=feature,
        carry_m=carry,
        run_m=np.hypot(run_east, run_north),
        run_along_m=(run_east * east + run_north * north) / unit,
        run_across_m=(run_east * north - run_north * east) / unit,
        apex_m=c["apex"],
        descent_deg=c["descent"],
        speed_ms=c["speed"],
        air_s=c["air_s"],
        run_s=c["run_s"],
        stopped=c["end"] == _kernels.IN_TREE,
    )
