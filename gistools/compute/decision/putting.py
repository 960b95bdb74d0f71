"""Putting on the green's surface.

Chance to hole out and expected putts from everywhere to each hole location.

Ball
----
A rolling ball feels ``a = -(5/7) g (rho_g cos(slope) v/|v| + slope)`` (Penner 2002,
Can. J. Phys. 80:83-96, doi 10.1139/p01-137, eq. 5 and 36 [second-hand]); ``rho_g`` follows from the
Stimpmeter reading. A ball that
  passes the hole's centre
at the distance ``b`` is holed if it is slower than ``1.63 (1 - (b/R)^2) (1 - sin(rise along the
line))^(-1/2)`` m/s (eq. 23 and 30 [second-hand]; Holmes 1991, Am. J. Phys. 59:129-136). One that is not
holed rolls on as if there were no hole (assumption: a lip-out is not deflected).

Player
------
Three normal errors (form: Bansal & Broadie 2008, Proc. Winter Simulation Conference 2826-2834 [second-hand]):

- length: share of ``v^2``, so of the length on level ground; more where part of the way is longer grass
  (assumption);
- stroke: direction;
- reading: direction, ``sqrt(near^2 - stroke^2 + (per_m L)^2)`` on an ordinary green, which stands for the
  breaks of the greens that the published rates come from, or a share of the break at hand where that is more.
  So level ground gives the published rates, and ground that breaks more than usual is harder.

Choice
------
Line and pace make the expected putts least: ``E = min 1 + mean over misses of E(rest)``, solved on a grid and
on rays about the hole. Misses are weighed by fixed bins of both errors, the hole's share of each bin in
closed form, so that ``E`` is smooth and repeats exactly. A player never plays away from the hole on purpose
beyond the paces and lines tried.
"""

from __future__ import annotations

import functools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import astuple, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import binary_dilation, distance_transform_edt

from gistools.base.errors import InputError
from gistools.compute.ballistics.clubs import rows_of
from gistools.compute.ballistics.turf import resistance_of
from gistools.compute.decision import putting_kernels as _kernels
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

TOUR_HANDICAP = -6.0  # marks the tour player's row, as in data/skills.csv
STIMP_FT = 10.0  # green speed where none is given (common practice)
LONGEST_M = 60.0  # longest putt of the level curve; the last value holds beyond
GRID_M = 1.0  # grid of the expected putts
RADII = np.array([0.0, 0.3, 0.6, 0.9, 1.25, 1.65, 2.1, 2.6, 3.2])  # rays about the hole [m]
RAYS = 16
SWEEPS = (
    0.2,
    0.1,
    0.05,
)  # steps of pace [m] by which the choice is improved, sweep by sweep; then values alone settle
LEVEL_SWEEPS = (0.2, 0.1, 0.1, 0.05, 0.05, 0.02, 0.02, 0.01, 0.01, 0.0)
SETTLED = 5e-4
MOST_SWEEPS = 12


@dataclass(frozen=True)
class Putter:
    """Errors of a player's putts.

    Parameters
    ----------
    near_deg
        Direction on short putts, reading of an ordinary green included [degrees].
    per_m_deg
        What reading adds with the distance [degrees/m].
    length_share
        Share of the length.
    stroke_deg
        Part of ``near_deg`` that is no reading [degrees]; at most ``near_deg``.
    reading_share
        Share of the break misread, where that is more than an ordinary green's.
    turf_share
        Share of the resistance of longer grass that is misjudged (assumption).
    """

    near_deg: float
    per_m_deg: float
    length_share: float
    stroke_deg: float = 1.0
    reading_share: float = 0.15
    turf_share: float = 0.15

    def __post_init__(self) -> None:
        fine = 0.0 < self.near_deg <= 20.0 and 0.0 <= self.per_m_deg <= 5.0 and 0.0 < self.length_share <= 0.5
        if not fine or not (0.0 <= self.reading_share <= 1.0 and 0.0 <= self.turf_share <= 1.0):
            raise InputError(
                f"putting errors are {self}; direction should be above 0 and at most 20 degrees, its"
                f" growth at most 5 degrees"
                " a metre, the length share above 0 and at most 0.5, the other shares from 0 to 1"
            )
        if not 0.0 < self.stroke_deg <= self.near_deg:
            object.__setattr__(self, "stroke_deg", self.near_deg)

    def errors(self) -> _kernels.Errors:
        """Errors as the kernels take them [rad, shares]."""
        short, per_m, stroke = np.radians([self.near_deg, self.per_m_deg, self.stroke_deg])
        return _kernels.Errors(
            float(stroke), float(short), float(per_m), self.length_share, self.reading_share, self.turf_share
        )


def putter_of_row(row: dict[str, str]) -> Putter:
    """Return the putter of a row of ``data/putters.csv``."""
    return Putter(
        *(
            float(row[k])
            for k in ("near_deg", "per_m_deg", "length_share", "stroke_deg", "reading_share", "turf_share")
        )
    )


@functools.cache
def built_in_putter(name: str) -> Putter:
    """Return a calibrated putter.

    ``"tour"``, ``"90-golfer"``, ``"scratch"`` or a handicap from 0 to 36 as text.

    Between the handicaps of the table the errors are interpolated, beyond its last they are carried on.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    rows = {row["putter"]: putter_of_row(row) for row in rows_of("putters")}
    name = "0" if name == "scratch" else name
    if name in rows:
        return rows[name]
    try:
        at = float(name)
    except ValueError:
        at = np.nan
    if not 0.0 <= at <= 36.0:
        raise InputError(
            f"there is no putter {name!r}; there are: {', '.join(rows)}, and handicaps from 0 to 36"
        )
    return putter_for(at)


def putter_for(handicap: float) -> Putter:
    """Return the putter of a handicap, -6 for a tour player.

    Interpolated in the table and carried on beyond it.
    """
    rows = {row["putter"]: putter_of_row(row) for row in rows_of("putters")}
    rows[str(TOUR_HANDICAP)] = rows.pop("tour")
    known = sorted((float(name), putter) for name, putter in rows.items() if name != "90-golfer")
    at = np.array([h for h, _ in known])
    k = int(np.clip(np.searchsorted(at, handicap) - 1, 0, len(at) - 2))
    f = (handicap - at[k]) / (at[k + 1] - at[k])
    a, b = known[k][1], known[k + 1][1]
    return Putter(*(float(x + f * (y - x)) for x, y in zip(astuple(a), astuple(b), strict=True)))


@dataclass(frozen=True, eq=False)
class LevelPutts:
    """Putting on level ground by distance [m].

    Expected putts, chance to hole, chance of three or more, pace chosen [m past].
    """

    distance: Floats
    putts: Floats
    holed: Floats
    three: Floats
    past: Floats


def _even(distance: Floats, values: Floats, at_hole: float) -> Floats:
    """Values on the even spacing of the kernels."""
    x = np.arange(0.0, LONGEST_M + _kernels.LEVEL_STEP / 2, _kernels.LEVEL_STEP)
    return np.asarray(PchipInterpolator(np.append(0.0, distance), np.append(at_hole, values))(x))


@functools.lru_cache(maxsize=128)
def level_putts(putter: Putter, stimp_ft: float = STIMP_FT) -> LevelPutts:
    """Solve putting on level ground of a green speed."""
    d = np.concatenate(
        [
            np.arange(0.1, 1.5, 0.1), np.arange(1.5, 4.0, 0.25), np.arange(4.0, 10.0, 0.5),
            np.arange(10.0, 20.0, 1.0), np.arange(20.0, LONGEST_M + 1, 4.0),
        ]
    )  # fmt: skip
    flat = np.zeros((8, 8))
    turf = _kernels.Turf(flat, flat, flat + resistance_of(stimp_ft), flat, -160.0, 160.0, 40.0)
    facts, fans = np.zeros((len(d), _kernels.FACTS)), np.zeros((len(d), _kernels.SPEEDS, _kernels.FIELDS))
    e = putter.errors()
    _kernels.roll_all(turf, e, -d, np.zeros_like(d), 0.0, 0.0, facts, fans)
    choice = np.zeros((len(d), 2))
    putts, holed, three = (np.empty_like(d) for _ in range(3))
    nothing = np.zeros((2, 2))
    rolled, chosen = _kernels.Rolled(facts, fans), _kernels.Chosen(choice, putts, holed)

    def curve(values: Floats, at_hole: float) -> _kernels.Values:
        level = _even(d, values, at_hole)
        return _kernels.Values(level, nothing, 0.0, 0.0, 1.0, nothing, np.zeros(2))

    value = 2.2 - 1.2 * np.exp(-d / 3.0)
    for sweep in range(3 * MOST_SWEEPS):
        step = LEVEL_SWEEPS[min(sweep - 1, len(LEVEL_SWEEPS) - 1)]
        _kernels.choose_all(turf, e, curve(value, 1.0), (0.0, 0.0), rolled, sweep == 0, step, chosen)
        change = float(np.abs(putts - value).max())
        value = putts.copy()
        if change < SETTLED / 100 and sweep > len(LEVEL_SWEEPS):
            break
    missed = _kernels.Chosen(choice, three, holed)
    _kernels.means_of(turf, e, curve(1.0 - holed, 0.0), (0.0, 0.0), rolled, missed)
    return LevelPutts(d, value, holed, three - 1.0, choice[:, 0])


def mean_putts(distance_m: ArrayLike, putter: Putter, stimp_ft: float = STIMP_FT) -> Any:
    """Expected putts on level ground from a distance [m]; 1 beside the hole. A float for a single distance.

    Beyond 60 m the last value holds.
    """
    return _level(distance_m, putter, stimp_ft, "putts", 1.0)


def holed(distance_m: ArrayLike, putter: Putter, stimp_ft: float = STIMP_FT) -> Any:
    """Chance to hole a putt on level ground from a distance [m]. A float for a single distance."""
    return _level(distance_m, putter, stimp_ft, "holed", 1.0)


def three_putts(distance_m: ArrayLike, putter: Putter, stimp_ft: float = STIMP_FT) -> Any:
    """Chance of three putts or more on level ground from a distance [m]. A float for a single distance."""
    return _level(distance_m, putter, stimp_ft, "three", 0.0)


def _level(distance_m: ArrayLike, putter: Putter, stimp_ft: float, which: str, at_hole: float) -> Any:
    level = level_putts(putter, float(stimp_ft))
    d = np.clip(np.asarray(distance_m, float), 0.0, LONGEST_M)
    out = PchipInterpolator(np.append(0.0, level.distance), np.append(at_hole, getattr(level, which)))(d)
    return float(out) if d.ndim == 0 else out


def stimp_of(resistance: float) -> float:
    """Stimpmeter reading of a rolling resistance [ft], between 2 and 20; inverse of ``resistance_of``."""
    return float(np.clip(resistance_of(10.0) * 10.0 / resistance, 2.0, 20.0))


@dataclass(frozen=True, eq=False)
class GreenPutts:
    """Expected putts on one green to one hole location, with the line and pace chosen at the nodes.

    ``node (n, 2)`` places; ``putts``, ``holed (n,)``; ``choice (n, 2)`` pace [m past if level] and shift of
    the line [hole radii].
    """

    turf: _kernels.Turf
    values: _kernels.Values
    hole: tuple[float, float]
    putter: Putter
    node: Floats
    putts: Floats
    holed: Floats
    choice: Floats

    def at(self, x: ArrayLike, y: ArrayLike) -> Any:
        """Expected putts from places of any shape."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        out = np.empty(xs.size)
        _kernels.values_at(self.turf, self.values, *self.hole, xs.ravel().copy(), ys.ravel().copy(), out)
        return float(out[0]) if xs.ndim == 0 else out.reshape(xs.shape)

    def level(self, distance_m: Floats) -> Floats:
        """Expected putts on level ground of this green's speed from distances [m]."""
        level = self.values.level
        return np.asarray(np.interp(distance_m, np.arange(level.size) * _kernels.LEVEL_STEP, level))

    def plan(self, x: ArrayLike, y: ArrayLike, errors: _kernels.Errors | None = None) -> PuttPlans:
        """Line and pace from places ``(n,)``, chosen against the expected putts of this green.

        ``errors`` of these putts alone, by default the player's on the green.
        """
        xs, ys = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
        e, n = errors or self.putter.errors(), len(xs)
        facts, fans = np.zeros((n, _kernels.FACTS)), np.zeros((n, _kernels.SPEEDS, _kernels.FIELDS))
        _kernels.roll_all(self.turf, e, xs, ys, *self.hole, facts, fans)
        choice, putts, made, out = np.zeros((n, 2)), np.empty(n), np.empty(n), np.empty((n, 4))
        rolled, chosen = _kernels.Rolled(facts, fans), _kernels.Chosen(choice, putts, made)
        for sweep, step in enumerate((0.0, *SWEEPS)):
            _kernels.choose_all(self.turf, e, self.values, self.hole, rolled, sweep == 0, step, chosen)
        _kernels.launches_of(self.turf, e, *self.hole, facts, fans, choice, out)
        return PuttPlans(
            out[:, 0], np.sqrt(out[:, 1]), out[:, 2], out[:, 3] / out[:, 1], choice[:, 0], putts, made
        )


@dataclass(frozen=True, eq=False)
class PuttPlans:
    """Chosen putts, all ``(n,)``.

    Launch angle (counter-clockwise from east) and its standard deviation [rad], speed of the rolling
    ball [m/s], standard deviation of its square [share], pace [m past if level], expected putts, chance to
    hole.
    """

    angle: Floats
    speed: Floats
    angle_sd: Floats
    length_sd: Floats
    past: Floats
    putts: Floats
    holed: Floats


def putting_turf(surface: Surface, resistance: ArrayLike, lost: ArrayLike = 0.0) -> _kernels.Turf:
    """Return the ground of a green as the kernels need it.

    Parameters
    ----------
    surface
        Heights that the ball feels; a survey's noise is best smoothed (``turf.smoothed``). Slopes are
        central differences of its cells, interpolated.
    resistance
        Rolling resistance of each cell, or one for all.
    lost
        Strokes that a ball at rest costs beside its putts where it cannot be putted from, of each cell.
    """
    z = surface.z
    missing = np.isnan(z)
    if missing.all():
        raise InputError("the surface holds no ground at all, only missing cells")
    if missing.any():
        nearest_cell = distance_transform_edt(missing, return_distances=False, return_indices=True)
        z = z[tuple(nearest_cell)]
    south, east = np.gradient(z, surface.cell)
    rho, cost = (
        np.ascontiguousarray(np.broadcast_to(np.asarray(a, float), z.shape)) for a in (resistance, lost)
    )
    if not (np.isfinite(rho).all() and (rho > 0).all()):
        raise InputError("rolling resistances should be finite and above 0")
    return _kernels.Turf(
        np.ascontiguousarray(east),
        np.ascontiguousarray(-south),
        rho,
        cost,
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
    )


def solve_green(
    surface: Surface,
    target: NDArray[np.bool_],
    pin_xy: ArrayLike,
    putter: Putter,
    *,
    resistance: ArrayLike,
    lost: ArrayLike = 0.0,
    threads: int | None = None,
) -> list[GreenPutts]:
    """Solve putting to each hole location from a set of cells.

    Parameters
    ----------
    surface, resistance, lost
        As for :func:`putting_turf`.
    target
        Cells that are putted from: the green, with as much apron and fairway as is wanted.
    pin_xy
        Hole locations ``(n, 2)``.
    putter
        Errors of the player.
    threads
        Number of threads, hole locations are shared between them; by default the processors there are.

    Raises
    ------
    InputError
        If no cell is asked for, or a hole location lies outside the surface.
    """
    turf = putting_turf(surface, resistance, lost)
    pins = np.asarray(pin_xy, float).reshape(-1, 2)
    west, south, east, north = surface.bounds
    inside = (pins[:, 0] > west) & (pins[:, 0] < east) & (pins[:, 1] > south) & (pins[:, 1] < north)
    if not target.any() or not inside.all():
        raise InputError(
            "putting needs cells to putt from, and hole locations on the surface; check greens and pins"
        )
    grid = _grid(surface, target)
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        return list(pool.map(lambda pin: _solve_pin(turf, grid, pin, putter), pins))


@dataclass(frozen=True, eq=False)
class _Grid:
    """Grid over the cells asked for.

    ``x``, ``y`` of its nodes, those that are solved, and for each node the nearest solved.
    """

    x: Floats
    y: Floats
    solved: NDArray[np.bool_]
    nearest: Any


def _grid(surface: Surface, target: NDArray[np.bool_]) -> _Grid:
    i, j = np.nonzero(target)
    xs, ys = surface.centres()
    x = np.arange(xs[j.min()] - GRID_M, xs[j.max()] + GRID_M, GRID_M)
    y = np.arange(ys[i.max()] - GRID_M, ys[i.min()] + GRID_M, GRID_M)
    reach = max(1, round(GRID_M / surface.cell))
    wide = binary_dilation(target, np.ones((2 * reach + 1, 2 * reach + 1), bool))
    rows, cols = surface.z.shape
    row = np.floor((surface.y_north - y) / surface.cell).astype(int)
    col = np.floor((x - surface.x_west) / surface.cell).astype(int)
    on = ((row >= 0) & (row < rows))[:, None] & ((col >= 0) & (col < cols))[None, :]
    solved = on & wide[np.clip(row, 0, rows - 1)[:, None], np.clip(col, 0, cols - 1)[None, :]]
    nearest = tuple(distance_transform_edt(~solved, return_distances=False, return_indices=True))
    return _Grid(x, y, solved, nearest)


def _solve_pin(turf: _kernels.Turf, grid: _Grid, pin: Floats, putter: Putter) -> GreenPutts:
    """Sweep over grid and rays until no expected putts change."""
    hx, hy = float(pin[0]), float(pin[1])
    row, col = int((turf.y_north - hy) / turf.cell), int((hx - turf.x_west) / turf.cell)
    stimp = round(stimp_of(turf.rho[row, col]), 3)
    ladder = level_putts(putter, stimp)
    level = _even(ladder.distance, ladder.putts, 1.0)
    turn = 2.0 * np.pi * np.arange(RAYS) / RAYS
    gx, gy = np.meshgrid(grid.x, grid.y)
    ray_x, ray_y = hx + RADII[1:, None] * np.cos(turn), hy + RADII[1:, None] * np.sin(turn)
    apart = np.hypot(gx - hx, gy - hy)
    by_rays = grid.solved & (apart < RADII[-1] - 1.5 * GRID_M)  # answered by the rays
    by_grid = grid.solved & ~by_rays
    xs = np.concatenate([gx[by_grid], ray_x.ravel()])
    ys = np.concatenate([gy[by_grid], ray_y.ravel()])
    far = np.hypot(xs - hx, ys - hy)
    base = np.interp(far, np.arange(level.size) * _kernels.LEVEL_STEP, level)
    e = putter.errors()
    facts, fans = np.zeros((len(xs), _kernels.FACTS)), np.zeros((len(xs), _kernels.SPEEDS, _kernels.FIELDS))
    _kernels.roll_all(turf, e, xs, ys, hx, hy, facts, fans)
    choice = np.zeros((len(xs), 2))
    putts, made = np.empty(len(xs)), np.empty(len(xs))
    rolled, chosen = _kernels.Rolled(facts, fans), _kernels.Chosen(choice, putts, made)
    count = int(by_grid.sum())
    adds = np.zeros(gx.shape)
    rays = np.zeros((RADII.size, RAYS))
    value = base.copy()

    def values() -> _kernels.Values:
        more = value - base
        adds[by_grid] = more[:count]
        rays[1:] = more[count:].reshape(-1, RAYS)
        return _kernels.Values(
            level, adds[grid.nearest], float(grid.x[0]), float(grid.y[0]), GRID_M, rays.copy(), RADII
        )

    for sweep in range(MOST_SWEEPS):
        step = (0.0, *SWEEPS)[sweep] if sweep <= len(SWEEPS) else 0.0
        _kernels.choose_all(turf, e, values(), (hx, hy), rolled, sweep == 0, step, chosen)
        change = float(np.abs(putts - value).max())
        value = putts.copy()
        if change < SETTLED and sweep > len(SWEEPS):
            break
    return GreenPutts(turf, values(), (hx, hy), putter, np.column_stack([xs, ys]), value, made, choice)


TOUR, SCRATCH, BOGEY = (built_in_putter(name) for name in ("tour", "scratch", "20"))
