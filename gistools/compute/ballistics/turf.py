"""Turf: how kinds of ground take a ball, and the ground a shot is played over.

Bounce
------
Rigid-sphere impulse in three dimensions (Daish 1972, The Physics of Ball Games; Penner 2002, The run of a
golf ball, Can. J. Phys. 80:931-940, doi 10.1139/p02-035 [second-hand]). With the unit normal n, slip ``s =
v_t - r (w x n)``, normal speed ``v_n`` into the ground and friction mu:

``J = -min(mu (1 + e) v_n, 2/7 |s|) s/|s|``, ``v' = v_t + J + e v_n n``, ``w' = w - 5/(2 r) n x J``.

Restitution: ``e = k_e (0.510 - 0.0375 v_n + 0.000903 v_n^2)`` up to 20 m/s, ``0.120 k_e`` above (Penner 2002,
p. 933 [second-hand]), never above 1. The ground gives way: the impulse acts in a plane tilted back towards
the ball by ``k_t 15.4 deg (v / 18.6) sin(2 theta)``, at most 30 deg, theta from the surface. Penner's law (p.
934 [second-hand]) is ``15.4 deg (v / 18.6)(theta / 44.4 deg)``. The sine is an assumption: it is the same at
the one measured impact, and zero at grazing and at vertical incidence. On normal and soft greens the tilt is
multiplied by ``1 + k_v (v / 18.6 - 1)``, see below. Hops faster than 10 m/s fly through calm air by flight
model D, slower ones without air. Wind does not move a ball that has landed (assumption), so where it finishes
depends on the ground alone.

Roll
----
``a = 5/7 g_tangential - 5/7 rho_g g cos(slope) v/|v|`` (Penner 2002, The physics of putting, Can. J. Phys.
80:83-96, doi 10.1139/p01-137, eq. 5 [second-hand]), on the slope of the terrain smoothed at about 1.5 m. A
green's resistance follows from its Stimpmeter reading: ``rho_g = 7 1.83^2 / (10 g d)``.

How far to trust the run
------------------------
A firm green has the numbers that Penner fitted to Haake's impacts on what he calls a firm green (k_e = k_t =
1, k_v = 0). Normal and soft greens take k_e and k_t from the fairway of that firmness. One number, k_v = 0.5,
is fitted to both by ``scripts/fit_turf.py`` [fit]: 6 to 10 m of a good player's 5-iron, 1 to 5 m of his
7-iron, a full wedge within two paces, 3 to 5 m of a half wedge (common practice, no source), irons 1 to 2 yd
on a soft tour course (dailyduffer.com [second-hand]). It leaves the tilt at Penner's one measured impact
(18.6 m/s) as it is. Runs in metres of the built-in scratch man on a level green of 10 ft, soft / normal /
firm: 5-iron 5 / 9 / 20, 7-iron 0 / 1 / 6, 9-iron -1 / 0 / 2, sand wedge -3 / -2 / 0. Flatter shots of weaker
players run farther: a bogey man's 5-iron 18 m on the normal green.

The tilt dominates: a quarter more halves the run of a 5-iron, so runs of shots that land flatter than about
45 deg are good to a factor of two at best. Restitution and friction move them by about 1 m (Penner 2002, p.
936 [second-hand]). Part of the excess is in the flight: model D lands a tour 5-iron at 44.6 deg, its average
is 49 [from memory]. Drag and lift refitted to the coefficients measured at high spin ratios (Bearman & Harvey
1976 via Kensrud 2010 [second-hand]) add only 0.6 deg [computed], so the flight is left as it is.

Of two published first-bounce heights of drives (1.17 m and 2.82 m, Penner 2002 p. 936 [second-hand]; their
landings were not obtained) the model gives the first at 24 m/s and 40 deg; the second is above all it gives
up to 30 m/s (2.5 m).

Haake 1989 found two kinds of green [published: shura.shu.ac.uk/id/eprint/13442]: a ball leaves the first with
topspin, the second with backspin if it arrives with more than about 350 rad/s. With friction 0.40 all greens
here are of the first kind; the second kind asks for about 0.16. Spin-back on firm greens falls short: his
9-iron of 148 rev/s came 7 m back [second-hand], here less than 1 m.

Fairway and rough: no published table was found; their numbers are assumptions, chosen so that a normal drive
runs 17 m on the level (17 to 22 m, two professionals on 16 mm turf [published: sgccturf.blogspot.com 2011]),
a firm one 35 m. The numbers by kind of ground are in ``data/turf.csv``.
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
from gistools.base.settings import SETTINGS
from gistools.base.units import FOOT_M
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import STANDARD_DAY, Weather, number
from gistools.compute.ballistics.flight_kernels import G, Vector
from gistools.compute.terrain.surface import Surface

FIRMNESS = SETTINGS["firmness"].choices
STIMP_SPEED = 1.83  # speed at which a ball leaves the Stimpmeter [m/s], 6.00 ft/s [published]
SMOOTH_M = 1.5
_ENDS = {"runs": _kernels.RUNS, "plugs": _kernels.PLUGS, "stops": _kernels.STOPS}


def resistance_of(stimp_ft: float) -> float:
    """Rolling resistance of a green from its Stimpmeter reading: ``rho_g = 7 1.83^2 / (10 g d)``.

    Sources: Penner 2002, The physics of putting [second-hand]: 6 ft 0.131, 8 ft 0.0985, 10 ft 0.0785, 12 ft
    0.0655.
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
        ``"soft"``, ``"normal"`` or ``"firm"`` (links turf): of fairway and green, see the module.
    stimp_ft
        Green speed, Stimpmeter reading [ft].

    Returns
    -------
    ndarray
        Shape ``(256, 6)``, row = :class:`gistools.base.cover_classes.Kind`: factor on restitution, factor on
        tilt, rolling resistance, friction at impact, what contact does (0 goes on, 1 a ball that lands stays,
        2 any contact ends it), growth of tilt with speed. Kinds without numbers of their own take those of
        rough.

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
                float(row["k_v"]),
            ]
    table = np.tile(by_name["rough"], (256, 1))
    for kind in KIND_NAMES:
        name = Kind(kind).name.lower()
        if name in by_name:
            table[kind] = by_name[name]
    return table


def smoothed(surface: Surface, smooth_m: float = SMOOTH_M) -> NDArray[np.float64]:
    """Heights smoothed by a Gaussian of standard deviation ``smooth_m / 2``, missing cells left out and kept.

    Bounces off the facets of a raw grid are noisy; a ball feels the ground at a scale of a metre or two.
    Planes stay exact except within a few metres of missing ground.
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
        If the kinds are not on the surface's grid or not kinds of ground, or the surface has no ground at
        all.
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
            f"there is no kind of ground {strange[0]}; the kinds are those of"
            " gistools.base.cover_classes.Kind"
        )
    if np.isnan(surface.z).all():
        raise InputError("the surface holds no ground at all, only missing cells")
    table = turf_table(firmness, stimp_ft) if turf is None else np.asarray(turf, float)
    if table.shape != (256, _kernels.TURF_COLUMNS) or not np.isfinite(table).all():
        raise InputError("a turf table has 256 rows of 6 finite numbers")
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

    Sources: Brede, USGA Green Section Record 28(6), 1990 [published, printed also in the course rating
    manual].
    """
    number("up_ft", up_ft, 0.1, 100, "ft")
    number("down_ft", down_ft, 0.1, 100, "ft")
    return 2.0 * up_ft * down_ft / (up_ft + down_ft)
