"""Turf: how kinds of ground take a ball, and the ground a shot is played over.

Bounce
------
Rigid-sphere impulse (Daish 1972; Penner 2002, 2003 [secondary]) in three dimensions. With the unit normal n, slip
``s = v_t - r (w x n)``, normal speed ``v_n`` into the ground and friction mu:

``J = -min(mu (1 + e) v_n, 2/7 |s|) s/|s|``, ``v' = v_t + J + e v_n n``, ``w' = w - 5/(2 r) n x J``.

Restitution ``e = k_e (0.510 - 0.0375 v_n + 0.000903 v_n^2)`` up to 20 m/s, ``0.120 k_e`` above (Penner 2002
[secondary]), never above 1. The ground gives way, so the impulse acts in a plane tilted back towards the ball by
``k_t 15.4 deg (v / 18.6) sin(2 theta)``, at most 30 deg, theta from the surface. Penner's law is ``15.4 deg (v /
18.6)(theta / 44.4 deg)``; the sine is this project's choice: the same at his single fitting point, zero at
grazing and at vertical incidence. Hops faster than 10 m/s fly through calm air by flight model D, slower ones without
air; the wind does not move a ball that has landed, so where it finishes depends on the ground alone.

Roll
----
``a = 5/7 g_tangential - 5/7 rho_g g cos(slope) v/|v|`` (Penner 2002), on the slope of the terrain smoothed at
about 1.5 m. A green's resistance follows from its Stimpmeter reading: ``rho_g = 7 1.83^2 / (10 g d)``.

How far to trust the run on a green
-----------------------------------
No measured run of an approach with a long iron was found. What holds the bounce is Penner's fit to Haake's impacts (restitution;
the tilt at one impact) and the turn of his 9-iron, on what he calls a firm green [secondary]. ``"normal"`` takes those
numbers as they are and so plays like a *firm links green*; ``"soft"``, an engineering choice, like a receptive one. Runs in
metres of the built-in scratch man, level, 10 ft, soft / normal / firm: 5-iron 10 / 20 / 28, 7-iron 2 / 6 / 11, 9-iron 0 / 2 / 4,
sand wedge -2 / -1 / 0. Players expect 6 to 10 m of a 5-iron (common practice, no source): choose ``"soft"``
where greens receive. A quarter more tilt halves the run of a 5-iron (20 to 9 m), so runs of
shots that land flatter than about 45 deg are good to a factor of two at best; friction hardly moves them.

Haake found two kinds of green [seen]: a ball leaves the first with topspin, the second with backspin if it arrives with more than
about 350 rad/s. With friction 0.40 all greens here are of the first kind (backspin is kept from 860 rad/s at 18.6 m/s
and 44.4 deg); the second kind asks for about 0.16. Spin-back falls short too: his 9-iron of 148 rev/s came 7 m back on the
firmest green [secondary], here less than 1 m.

The numbers by kind of ground are in ``data/turf.csv`` with their sources; those of fairway and rough are engineering
choices (no published table was found), chosen so that a normal drive runs 12 to 30 m.
"""

from __future__ import annotations

import csv
import math
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import gaussian_filter

from gistools.base.cover_classes import KIND_NAMES, Kind
from gistools.base.errors import InputError
from gistools.base.units import FOOT_M
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import STANDARD_DAY, Weather, number
from gistools.compute.ballistics.flight_kernels import G, Vector
from gistools.compute.terrain.surface import Surface

FIRMNESS = ("soft", "normal", "firm")
STIMP_SPEED = 1.83  # speed at which a ball leaves the Stimpmeter [m/s], 6.00 ft/s [seen]
SMOOTH_M = 1.5
_ENDS = {"runs": _kernels.RUNS, "plugs": _kernels.PLUGS, "stops": _kernels.STOPS}


def resistance_of(stimp_ft: float) -> float:
    """Rolling resistance of a green from its Stimpmeter reading: ``rho_g = 7 1.83^2 / (10 g d)``.

    Sources: Penner 2002, The physics of putting [secondary]: 6 ft 0.131, 8 ft 0.0985, 10 ft 0.0785, 12 ft 0.0655.
    """
    reading = number("stimp_ft", stimp_ft, 2, 20, "ft") * FOOT_M
    return 7.0 * STIMP_SPEED**2 / (10.0 * G * reading)


@cache
def _rows() -> tuple[dict[str, str], ...]:
    with (
        resources.files("gistools.compute.ballistics")
        .joinpath("data/turf.csv")
        .open(encoding="utf-8") as lines
    ):
        return tuple(csv.DictReader(lines))


def turf_table(firmness: str = "normal", stimp_ft: float = 10.0) -> NDArray[np.float64]:
    """Return how each kind of ground takes a ball.

    Parameters
    ----------
    firmness
        ``"soft"``, ``"normal"`` or ``"firm"``: of fairway and green. A normal green plays like a firm links green, a soft one
        like a receptive one, see the module.
    stimp_ft
        Green speed, Stimpmeter reading [ft].

    Returns
    -------
    ndarray
        Shape ``(256, 5)``, row = :class:`gistools.base.cover_classes.Kind`: factor on restitution, factor on tilt, rolling
        resistance, friction at impact, and what contact does (0 goes on, 1 a ball that lands stays, 2 any
        contact ends it). Kinds without numbers of their own take those of rough.

    Raises
    ------
    InputError
        For another firmness or a green speed outside 2 to 20 ft.
    """
    if firmness not in FIRMNESS:
        raise InputError(f"firmness is {firmness!r}; it can be {', '.join(FIRMNESS)}")
    rho = resistance_of(stimp_ft)
    by_name: dict[str, list[float]] = {}
    for row in _rows():
        if row["firmness"] in ("", firmness):
            by_name[row["kind"]] = [
                float(row["k_e"]),
                float(row["k_t"]),
                float(row["rho_g"] or rho),
                float(row["mu"]),
                _ENDS[row["ends"]],
            ]
    table = np.tile(by_name["rough"], (256, 1))
    for kind in KIND_NAMES:
        name = Kind(kind).name.lower()
        if name in by_name:
            table[kind] = by_name[name]
    return table


def smoothed(surface: Surface, smooth_m: float = SMOOTH_M) -> NDArray[np.float64]:
    """Heights smoothed by a Gaussian of standard deviation ``smooth_m / 2``, missing cells left out and kept.

    Bounces off the facets of a raw grid are noisy; a ball feels the ground at a scale of a metre or two. Planes
    stay exact except within a few metres of missing ground.
    """
    sigma = number("smooth_m", smooth_m, 0, 10, "m") / 2.0 / surface.cell
    if sigma < 0.25:
        return surface.z
    missing = np.isnan(surface.z)
    pad = math.ceil(4 * sigma)
    if not missing.any():
        z = np.pad(surface.z, pad, mode="reflect", reflect_type="odd") if min(surface.z.shape) > pad else None
        if z is not None:
            return np.ascontiguousarray(gaussian_filter(z, sigma)[pad:-pad, pad:-pad])
    weight = gaussian_filter((~missing).astype(float), sigma, mode="constant")
    level = float(np.nanmean(surface.z)) if not missing.all() else 0.0
    filled = gaussian_filter(np.where(missing, 0.0, surface.z - level), sigma, mode="constant")
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(missing, np.nan, level + filled / weight)


def turf_grid(
    surface: Surface,
    ground_kinds: ArrayLike | int,
    *,
    firmness: str = "normal",
    stimp_ft: float = 10.0,
    smooth_m: float = SMOOTH_M,
    turf: NDArray[np.float64] | None = None,
    weather: Weather = STANDARD_DAY,
) -> _kernels.TurfGrid:
    """Return the ground as flight and run kernels need it.

    Parameters
    ----------
    surface
        Terrain.
    ground_kinds
        Kind of ground of each cell, ``uint8`` on the grid of ``surface``, or one kind for all.
    firmness, stimp_ft
        Of fairway and green, see :func:`turf_table`.
    smooth_m
        Scale at which slopes are felt [m].
    turf
        A table as from :func:`turf_table`, instead of the two above.
    weather
        Air that fast hops fly through; its wind is left out.

    Raises
    ------
    InputError
        If the kinds are not on the surface's grid or not kinds of ground, or the surface has no ground at all.
    """
    kinds = np.asarray(ground_kinds)
    if kinds.ndim == 0:
        kinds = np.full(surface.z.shape, kinds)
    if kinds.shape != surface.z.shape:
        raise InputError(
            f"the kinds of ground have shape {kinds.shape}, the surface {surface.z.shape}; they share a grid"
        )
    strange = np.setdiff1d(kinds, list(KIND_NAMES))
    if strange.size:
        raise InputError(
            f"there is no kind of ground {strange[0]}; the kinds are those of gistools.base.cover_classes.Kind"
        )
    if np.isnan(surface.z).all():
        raise InputError("the surface holds no ground at all, only missing cells")
    table = turf_table(firmness, stimp_ft) if turf is None else np.asarray(turf, float)
    if table.shape != (256, 5) or not np.isfinite(table).all():
        raise InputError("a turf table has 256 rows of 5 finite numbers")
    return _kernels.TurfGrid(
        surface.z,
        float(surface.x_west),
        float(surface.y_north),
        float(surface.cell),
        smoothed(surface, smooth_m),
        np.ascontiguousarray(kinds, dtype=np.uint8),
        np.ascontiguousarray(table),
        float(np.nanmax(surface.z)),
        weather.density,
        weather.viscosity,
    )


def roll(ground: _kernels.TurfGrid, x: float, y: float, vx: float, vy: float) -> _kernels.Rest:
    """Roll a ball along the ground until it rests: ``x, y, kind, time`` [m, m, -, s].

    ``vx``, ``vy`` are the plan parts of its velocity [m/s]; it already rolls, without slipping.
    """
    rest = _kernels.roll(ground, float(x), float(y), float(vx), float(vy))
    return _kernels.Rest(rest.x, rest.y, int(rest.kind), rest.time)


def run_out(
    ground: _kernels.TurfGrid,
    speed_ms: float,
    descent_deg: float,
    spin_rpm: float,
    *,
    place: tuple[float, float] = (0.0, 0.0),
    bearing_deg: float = 0.0,
) -> tuple[float, float, int, float]:
    """Bounce and run of a ball from its landing.

    Parameters
    ----------
    ground
        Ground from :func:`turf_grid`.
    speed_ms, descent_deg, spin_rpm
        Speed, angle below the horizontal and backspin at landing [m/s, degrees, rev/min].
    place
        Where it lands [m].
    bearing_deg
        Bearing it flies along [degrees].

    Returns
    -------
    along, across, kind, time
        Run along the bearing and to the right of it [m], kind of ground the ball rests on, time [s].
    """
    a, b = math.radians(descent_deg), math.radians(bearing_deg)
    sine, cosine = math.sin(b), math.cos(b)
    pace, spin = speed_ms * math.cos(a), spin_rpm * math.pi / 30.0
    x, y = (float(v) for v in place)
    rest = _kernels.land_and_run(
        ground,
        x,
        y,
        Vector(pace * sine, pace * cosine, -speed_ms * math.sin(a)),
        Vector(spin * cosine, -spin * sine, 0.0),
    )
    dx, dy = rest.x - x, rest.y - y
    return dx * sine + dy * cosine, dx * cosine - dy * sine, int(rest.kind), rest.time


def brede_stimp_correction(up_ft: float, down_ft: float) -> float:
    """Green speed from readings up and down a slope: ``2 up down / (up + down)``.

    Sources: Brede, USGA Green Section Record 28(6), 1990 [seen, printed also in the course rating manual].
    """
    number("up_ft", up_ft, 0.1, 100, "ft")
    number("down_ft", down_ft, 0.1, 100, "ft")
    return 2.0 * up_ft * down_ft / (up_ft + down_ft)
