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
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Model, Weather, Wind, number
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.dispersion import MOST_SAMPLES
from gistools.compute.ballistics.flight import obstacles_for
from gistools.compute.ballistics.players import LIES, Player, built_in, lie_rules
from gistools.compute.ballistics.turf import SMOOTH_M, land_for
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

CHUNK = 65_536  # shots in flight at once: bounds the memory beside the results
THREADED_FROM = 4_096  # fewer are not worth starting threads for
_COLUMN = {name: k for k, name in enumerate(_kernels.RECORD)}


@dataclass(frozen=True, eq=False)
class Shots:
    """Where shots landed and finished; every field is an array with one entry per shot, none ever ``nan``.

    Attributes
    ----------
    land_x, land_y, land_z
        First contact with the ground or an obstacle [m].
    land_kind
        Kind of ground there, code of :class:`gistools.base.cover_classes.Kind`.
    x, y, z
        Where the ball rests [m].
    kind
        Kind of ground it rests on; ``Kind.TREES`` where a tree or structure stopped it, ``Kind.OFF_MAP`` where it
        left the terrain (the place is then where it comes down through the last ground level seen, or its last
        point with ground).
    feature
        Position of the feature it rests in, in the caller's list of names; -1 for none.
    carry_m, run_m
        Plan distances from the start to the landing, and from there to rest [m].
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
    apex_m: Floats
    descent_deg: Floats
    speed_ms: Floats
    air_s: Floats
    run_s: Floats
    stopped: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.x)


def simulate(
    surface: Surface,
    ground_kinds: ArrayLike | int,
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
    obstacles: ArrayLike | None = None,
    features: ArrayLike | None = None,
    firmness: str = "normal",
    stimp_ft: float = 10.0,
    smooth_m: float = SMOOTH_M,
) -> Shots:
    """Play ``n`` shots and return where each lands and finishes.

    Parameters
    ----------
    surface
        Terrain.
    ground_kinds
        Kind of ground of each cell, ``uint8`` on the same grid, or one kind for all.
    start
        Where the ball lies, x and y [m].
    club
        A club, or the name of one in the player's bag.
    aim
        Grid bearing [degrees], or a point to aim at, x and y [m].
    wind
        Wind.
    n
        Number of shots, evenly placed in the player's spread (no seed, repeatable).
    player
        A player, or the name of a built-in one.
    lie
        ``"tee"``, ``"fairway"``, ``"rough"``, ``"sand"`` or ``"recovery"``; without it what the ground is at the start.
    carry_m
        Intended carry, flat and calm [m]; without it the full one. The lie shortens it.
    weather, model
        Air and flight model.
    obstacles
        Trees and structures as upright cylinders ``(n, 5)``, see :func:`gistools.compute.ballistics.flight.obstacles_for`.
    features
        Whole numbers on the same grid: which feature covers a cell, -1 for none.
    firmness, stimp_ft, smooth_m
        Of the ground, see :func:`gistools.compute.ballistics.turf.land_for`; ``firmness="soft"`` for greens that receive.

    Raises
    ------
    InputError
        If the start is off the terrain, the club is not in the bag or cannot be played from the lie, or a value is
        outside what it can be; named.
    """
    land = land_for(
        surface, ground_kinds, firmness=firmness, stimp_ft=stimp_ft, smooth_m=smooth_m, weather=weather
    )
    return play_shots(
        land,
        obstacles_for(obstacles, surface),
        start,
        club,
        aim,
        wind,
        n=n,
        player=player,
        lie=lie,
        carry_m=carry_m,
        weather=weather,
        model=model,
        features=features,
    )


def play_shots(
    land: _kernels.Land,
    obstacles: _kernels.Obstacles,
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
    features: ArrayLike | None = None,
) -> Shots:
    """Play shots over ground prepared once, see :func:`simulate` for the choices."""
    number("n", n, 1, MOST_SAMPLES)
    who = player if isinstance(player, Player) else built_in(player)
    club = who.club(club) if isinstance(club, str) else club
    x, y, z = start_point(land, start)
    bearing = bearing_to((x, y), aim)
    if lie is None:
        lie = LIES[int(_kernels.kind_at(land, x, y))]
    headings, scales = struck(who, club, lie, bearing, int(n), carry_m)
    table = club.table(weather, wind, model)
    out = np.concatenate(list(records(land, obstacles, table, (x, y, z), headings, scales)))
    return as_shots(out, land, (x, y), features)


def start_point(land: _kernels.Land, start: tuple[float, float]) -> tuple[float, float, float]:
    """Return the start with its level.

    Raises
    ------
    InputError
        If it is not a point with ground under it.
    """
    x, y = (float(v) for v in start)
    z = float(_kernels.height(land.z, land.x_west, land.y_north, land.cell, x, y))
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


def struck(
    player: Player, club: Club, lie: str, bearing_deg: float, n: int, carry_m: float | None = None
) -> tuple[Floats, Floats]:
    """Headings [rad] and ball speed scales of ``n`` shots: the spread of a player, club and lie.

    Raises
    ------
    InputError
        If the club cannot be played from the lie, or cannot carry as far.
    """
    rules = lie_rules(lie)
    if club.family not in rules["families"] and club.carry_m != player.clubs[-1].carry_m:
        raise InputError(f"a {club.name} cannot be played from the lie {lie!r}")
    full = club.carry_m
    wanted = full if carry_m is None else number("carry_m", carry_m, 0.5, full * 1.001, "m")
    angle, factor = player.spread(club, lie, wanted).errors(n)
    return math.radians(bearing_deg) + angle, club.scale(wanted * rules["distance_factor"] * factor)


def records(
    land: _kernels.Land,
    obstacles: _kernels.Obstacles,
    table: _kernels.Table,
    start: tuple[float, float, float],
    headings: Floats,
    scales: Floats,
    *,
    chunk: int = CHUNK,
    threads: int | None = None,
) -> Iterator[Floats]:
    """Play shots from one place in chunks, on several threads; yields records, columns as in `_kernels.RECORD`.

    Parameters
    ----------
    land, obstacles, table
        Ground, obstacles, tabulated flights.
    start
        x, y and level of the start [m].
    headings, scales
        Heading [rad] and ball speed scale of each shot.
    chunk
        Shots per record array.
    threads
        Threads; without it as many as there are processors.
    """
    workers = (os.cpu_count() or 1) if threads is None else threads

    def part(first: int, last: int, out: Floats) -> None:
        k = last - first
        x, y, z = (np.full(k, v) for v in start)
        _kernels.play_many(land, obstacles, table, x, y, z, headings[first:last], scales[first:last], out)

    with ThreadPoolExecutor(max(workers, 1)) as pool:
        for first in range(0, len(headings), chunk):
            last = min(first + chunk, len(headings))
            out = np.empty((last - first, _kernels.RECORD_SIZE))
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


def as_shots(out: Floats, land: _kernels.Land, start: tuple[float, float], features: Any = None) -> Shots:
    """Return records of shots from one start as :class:`Shots`."""
    c = {name: np.ascontiguousarray(out[:, k]) for name, k in _COLUMN.items()}
    feature = np.full(len(out), -1, np.int32)
    if features is not None:
        grid = np.asarray(features)
        if grid.shape != land.kind.shape:
            raise InputError(
                f"features have shape {grid.shape}, the ground {land.kind.shape}; they share a grid"
            )
        j = np.floor((c["x"] - land.x_west) / land.cell).astype(int)
        i = np.floor((land.y_north - c["y"]) / land.cell).astype(int)
        inside = (i >= 0) & (j >= 0) & (i < grid.shape[0]) & (j < grid.shape[1])
        feature[inside] = grid[i[inside], j[inside]]
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
        carry_m=np.hypot(c["land_x"] - start[0], c["land_y"] - start[1]),
        run_m=np.hypot(c["x"] - c["land_x"], c["y"] - c["land_y"]),
        apex_m=c["apex"],
        descent_deg=c["descent"],
        speed_ms=c["speed"],
        air_s=c["air_s"],
        run_s=c["run_s"],
        stopped=c["hit"] == _kernels.IN_TREE,
    )
