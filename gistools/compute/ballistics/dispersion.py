"""Dispersion: how far shots stray in direction and carry, as evenly placed samples that repeat exactly.

The direction of a landing is the sum of an aim error and of curve. That sum, and carry, follow Student's t
with 5 degrees of freedom, scaled so that the stated standard deviations are those of the law that is drawn
from. Shots have longer tails than the normal law (Broadie & Ko 2009, Ko 2012, published); 5 degrees of
freedom is an assumption. Carry is a factor on the intended carry; no shot goes more than 2.5 standard
deviations long, since ball speed has a ceiling (assumption). A share of mishits flies 50 to 85 % of the
distance (assumption).

Samples are the first points of a Sobol sequence, unscrambled, moved to the middle of their cells: common
random numbers for every action that is compared, so that differences are not noise. There is no seed.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gistools.compute.ballistics.air import number

Floats = NDArray[np.float64]

DEGREES_OF_FREEDOM = 5  # of Student's t (assumption)
LONGEST_SD = 2.5  # cap on the long side (assumption)
MISHIT_FROM, MISHIT_TO = 0.50, 0.85  # carry of a mishit as a share of the intended one (assumption)
WIDEST_DEG = 75.0
MOST_SAMPLES = 2**22


@dataclass(frozen=True)
class Dispersion:
    """How shots of one club from one lie stray.

    Parameters
    ----------
    aim_sd_deg
        Standard deviation of the direction the ball starts in [degrees].
    carry_sd_pct
        Standard deviation of carry, in per cent of the intended carry, mishits apart [%].
    curve_sd_deg
        Standard deviation of what curve adds to the direction of the landing [degrees].
    short_pct
        How far the mean of all shots falls short of the intended carry [%].
    mishit_pct
        Share of mishits [%].
    mishit_from, mishit_to
        Carry of a mishit as a share of the intended one.
    """

    aim_sd_deg: float
    carry_sd_pct: float
    curve_sd_deg: float = 0.0
    short_pct: float = 0.0
    mishit_pct: float = 0.0
    mishit_from: float = MISHIT_FROM
    mishit_to: float = MISHIT_TO

    def __post_init__(self) -> None:
        number("aim_sd_deg", self.aim_sd_deg, 0, 40, "degrees")
        number("curve_sd_deg", self.curve_sd_deg, 0, 40, "degrees")
        number("carry_sd_pct", self.carry_sd_pct, 0, 60, "%")
        number("short_pct", self.short_pct, -20, 60, "%")
        number("mishit_pct", self.mishit_pct, 0, 90, "%")

    @property
    def direction_sd_deg(self) -> float:
        """Standard deviation of the direction of the landing, aim and curve together [degrees]."""
        return math.hypot(self.aim_sd_deg, self.curve_sd_deg)

    def times(self, factor: float) -> Dispersion:
        """Return a dispersion with the errors of direction and carry times a factor."""
        return dataclasses.replace(
            self,
            aim_sd_deg=min(self.aim_sd_deg * factor, 40.0),
            curve_sd_deg=min(self.curve_sd_deg * factor, 40.0),
            carry_sd_pct=min(self.carry_sd_pct * factor, 60.0),
        )

    def errors(self, n: int) -> tuple[Floats, Floats]:
        """Return ``n`` pairs of errors: angle right of the aim [rad], and factor on the intended carry."""
        u, unit = draws(n), _student(n)
        widest = math.radians(WIDEST_DEG)
        angle = np.clip(math.radians(self.direction_sd_deg) * unit[:, 0], -widest, widest)
        factor = 1.0 + self.carry_sd_pct / 100.0 * np.minimum(unit[:, 1], LONGEST_SD)
        mishits = self.mishit_pct / 100.0
        if mishits > 1e-9:
            share = u[:, 2] / mishits
            factor = np.where(
                share < 1.0, self.mishit_from + (self.mishit_to - self.mishit_from) * share, factor
            )
        if self.short_pct:
            intended_mean = 1.0 - self.short_pct / 100.0
            mishit_mean = 0.5 * (self.mishit_from + self.mishit_to)
            factor = factor * intended_mean / (1.0 - mishits + mishits * mishit_mean)
        return angle, np.maximum(factor, 0.02)


@functools.lru_cache(maxsize=16)
def draws(n: int) -> Floats:
    """Return ``n`` evenly placed points of the unit cube, shape ``(n, 3)``; the same every time.

    Raises
    ------
    InputError
        If ``n`` is not from 1 to 4,194,304.
    """
    from scipy.stats import qmc  # half a second, which opening a site does not need

    number("n", n, 1, MOST_SAMPLES)
    power = max(0, math.ceil(math.log2(n)))
    points: Floats = qmc.Sobol(d=3, scramble=False).random_base2(power)[: int(n)] + 0.5 / 2**power
    points.setflags(write=False)
    return points


@functools.lru_cache(maxsize=16)
def _student(n: int) -> Floats:
    """Errors of Student's t with unit standard deviation: direction, carry, shape ``(n, 2)``."""
    from scipy.stats import t

    nu = DEGREES_OF_FREEDOM
    unit: Floats = t.ppf(draws(n)[:, :2], nu) / math.sqrt(nu / (nu - 2))
    unit.setflags(write=False)
    return unit
