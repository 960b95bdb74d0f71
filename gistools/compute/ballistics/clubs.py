"""Clubs: how the ball leaves each of them, and how hard it has to be struck for a carry.

A club is stated by its carry: flat, calm, on the standard day
(:data:`gistools.compute.ballistics.air.STANDARD_DAY`). The launch that gives this carry is found as follows
(*fit*; ``data/launches.csv`` has the numbers and their sources):

- launch angle and spin follow ball speed v from the tour average of the club (v0, a0, w0):
  ``angle = a0 + k (v0 - v)``, ``spin = w0 (v / v0)^p``. A slower player launches higher. k comes from the two
  clubs of which men's and women's tour averages are known (driver 0.19, 7-iron 0.38 deg per m/s), p of the
  7-iron too (0.41). p of driver and 3-wood (-0.45, -0.25: amateurs spin them more) is fitted so that the
  drives of the four course-rating players run about the 20 yd that course rating takes for granted on a level
  fairway [published] on our normal fairway. Clubs between lie between;
- v is solved so that the flight model's carry equals the stated one.

A shot that is not full keeps its launch angle; its spin falls in proportion to ball speed, with wedges as
:meth:`gistools.compute.ballistics.flight.Launch.spin_at` says: more slowly at first, as measured (*project
fit*: f(1) = 1 and level there, about 0.8 of the full spin at 50 yd, about a third at 15 yd, where measured
shots have 8,700 rpm with a fresh wedge and 5,600 with a worn one [published: chapmanschapters.blogspot.com,
New vs old wedges], 9,500 rpm at 55 m [published: exactgolf.com, Dry vs. wet wedge], 5,300 at 50 to 60 yd
[published: windmillleisure.co.uk], and 2,200 rpm at 15 yd [published: andrewricegolf.com]). Its carry goes
continuously down to nothing, so pitches and chips are the shortest club struck less hard.
"""

from __future__ import annotations

import csv
import functools
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import CALM, STANDARD_DAY, Model, Weather, Wind, air_for, number
from gistools.compute.ballistics.flight import STEP_S, Launch, fly, table_for
from gistools.compute.ballistics.shot_kernels import Table

Floats = NDArray[np.float64]

FAMILIES = ("driver", "wood", "hybrid", "iron")
SLOWEST, FASTEST = 4.0, 100.0  # ball speeds a calibration looks between [m/s]
HIGHEST_LAUNCH = 50.0  # [degrees], keeps the rule for slow balls within what a wedge does (assumption)


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of one of the package's data files."""
    with (
        resources.files("gistools.compute.ballistics")
        .joinpath(f"data/{name}.csv")
        .open(encoding="utf-8") as lines
    ):
        return list(csv.DictReader(lines))


@functools.cache
def _launches() -> dict[str, dict[str, Any]]:
    return {
        row["club"]: {k: v if k in ("club", "family", "source") else float(v) for k, v in row.items()}
        for row in rows_of("launches")
    }


def loft_of(club: str) -> float:
    """Loft of a club by its name [degrees]; that of a 7-iron for a name that is not known."""
    row = _launches().get(club)
    return float(row["loft_deg"]) if row else 33.0


def club_names() -> tuple[str, ...]:
    """Names of the clubs of a bag, longest first."""
    return tuple(_launches())


@dataclass(frozen=True)
class Club:
    """A club in a player's hands.

    Parameters
    ----------
    name
        What it is called.
    carry_m
        Full carry, flat, calm, on the standard day [m].
    launch
        Launch of the full shot.
    family
        ``"driver"``, ``"wood"``, ``"hybrid"`` or ``"iron"``: which lies it can be played from.
    """

    name: str
    carry_m: float
    launch: Launch
    family: str = "iron"

    def __post_init__(self) -> None:
        number(f"carry_m of {self.name!r}", self.carry_m, 1, 350, "m")
        if self.family not in FAMILIES:
            raise InputError(f"family of {self.name!r} is {self.family!r}; it can be {', '.join(FAMILIES)}")

    def scale(self, carry_m: ArrayLike) -> Any:
        """Ball speed, as a share of the full shot's, for flat calm carries [m].

        Held at the ends of what it can do.
        """
        carries, inverse = _scales(self.launch)
        carry = np.clip(np.asarray(carry_m, float), 0.0, carries[-1])
        return inverse(np.sqrt(carry))

    def table(self, weather: Weather = STANDARD_DAY, wind: Wind = CALM, model: Model = "D") -> Table:
        """Tabulated flights of the club, see :func:`gistools.compute.ballistics.flight.table_for`."""
        return table_for(self.launch, weather=weather, wind=wind, model=model)


@functools.lru_cache(maxsize=512)
def _scales(launch: Launch) -> tuple[Floats, Any]:
    """Carries over ball speed scales, and the scale as a smooth function of the root of the carry."""
    scales = np.concatenate([np.linspace(0.02, 0.3, 29), np.linspace(0.32, 1.3, 50)])
    out = np.empty((scales.size, 8))
    _kernels.fly_many_to_level(
        air_for(STANDARD_DAY),
        STEP_S,
        launch.speed_ms * scales,
        np.full(scales.size, launch.radians[0]),
        launch.spin_at(scales),
        np.zeros(scales.size),
        0.0,
        out,
    )
    carries = np.concatenate([[0.0], out[:, 1]])
    return carries, PchipInterpolator(np.sqrt(carries), np.concatenate([[0.0], scales]))


def launch_at(club: str, speed_ms: float) -> Launch:
    """Launch of a club's full shot at a ball speed [m/s], by the rule in the module.

    Raises
    ------
    InputError
        If there is no such club.
    """
    if club not in _launches():
        raise InputError(f"there is no club {club!r}; the clubs are: {', '.join(_launches())}")
    row = _launches()[club]
    angle = row["angle_deg"] + row["angle_slope"] * (row["speed_ms"] - speed_ms)
    spin = row["spin_rpm"] * (speed_ms / row["speed_ms"]) ** row["spin_power"]
    return Launch(speed_ms, min(max(angle, 1.0), HIGHEST_LAUNCH), spin, grip_ms=row["grip_ms"])


@functools.lru_cache(maxsize=2048)
def club_for(name: str, carry_m: float) -> Club:
    """Return a club with the launch that gives a carry, flat, calm, on the standard day.

    Raises
    ------
    InputError
        If there is no such club, or no ball speed up to 100 m/s gives the carry.
    """
    number(f"carry of the {name}", carry_m, 1, 350, "m")

    def short_by(speed: float) -> float:
        return fly(launch_at(name, speed)).carry_m - carry_m

    if short_by(SLOWEST) > 0 or short_by(FASTEST) < 0:
        raise InputError(f"no ball speed from {SLOWEST} to {FASTEST} m/s carries a {name} {carry_m:.0f} m")
    speed = brentq(short_by, SLOWEST, FASTEST, xtol=1e-7)
    return Club(name, carry_m, launch_at(name, speed), _launches()[name]["family"])


def tour_club(name: str) -> Club:
    """Return a club with the launch of the tour table, and the carry that the flight model gives it."""
    row = _launches()[name]
    launch = launch_at(name, row["speed_ms"])
    return Club(name, fly(launch).carry_m, launch, row["family"])
