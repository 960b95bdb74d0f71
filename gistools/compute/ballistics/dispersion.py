"""Spread: how far shots stray in direction and distance, as evenly placed samples that repeat exactly.

Direction and distance errors are independent Student t with 5 degrees of freedom, scaled to the stated standard
deviations (real shots have longer tails than the normal law: Ko 2012, Broadie & Ko 2009 [seen, abstract]; 5 degrees
of freedom is a *model choice*). Distance is a factor on the intended carry; no shot goes more than 2.5
standard deviations long, since ball speed has a ceiling (*model choice*). A share of mishits flies
50 to 85 % of the distance (*model choice*, bogey players).

Samples are the first points of a Sobol sequence, unscrambled, moved to the middle of their cells: the same for every option that
is compared, so that differences are not noise. There is no seed.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc, t

from gistools.compute.ballistics.air import number

Floats = NDArray[np.float64]

FREEDOM = 5  # degrees of freedom [model choice]
LONGEST_SD = 2.5
MISHIT_FROM, MISHIT_TO = 0.50, 0.85
WIDEST_DEG = 75.0
MOST_SAMPLES = 2**22


@dataclass(frozen=True)
class Spread:
    """How shots stray.

    Parameters
    ----------
    direction_sd_deg
        Standard deviation of direction [degrees].
    distance_sd_pct
        Standard deviation of carry, in per cent of the intended carry, mishits apart [%].
    short_pct
        How far the mean of all shots falls short of the intended carry [%].
    mishit_pct
        Share of mishits [%].
    """

    direction_sd_deg: float
    distance_sd_pct: float
    short_pct: float = 0.0
    mishit_pct: float = 0.0

    def __post_init__(self) -> None:
        number("direction_sd_deg", self.direction_sd_deg, 0, 40, "degrees")
        number("distance_sd_pct", self.distance_sd_pct, 0, 60, "%")
        number("short_pct", self.short_pct, -20, 60, "%")
        number("mishit_pct", self.mishit_pct, 0, 90, "%")

    def errors(self, n: int) -> tuple[Floats, Floats]:
        """Return ``n`` pairs of errors: angle right of the aim [rad], and factor on the intended carry."""
        u = draws(n)
        unit = _student(n)
        angle = np.clip(
            np.radians(self.direction_sd_deg) * unit[:, 0], *np.radians([-WIDEST_DEG, WIDEST_DEG])
        )
        sd = self.distance_sd_pct / 100.0
        factor = 1.0 + sd * np.minimum(unit[:, 1], LONGEST_SD)
        missed = self.mishit_pct / 100.0
        if missed > 1e-9:
            share = u[:, 2] / missed
            factor = np.where(share < 1.0, MISHIT_FROM + (MISHIT_TO - MISHIT_FROM) * share, factor)
        if self.short_pct:
            wanted = 1.0 - self.short_pct / 100.0
            mean_mishit = 0.5 * (MISHIT_FROM + MISHIT_TO)
            factor = factor * wanted / (1.0 - missed + missed * mean_mishit)
        return angle, np.maximum(factor, 0.02)


@functools.lru_cache(maxsize=16)
def draws(n: int) -> Floats:
    """Return ``n`` evenly placed points of the unit cube, shape ``(n, 3)``; the same every time.

    Raises
    ------
    InputError
        If ``n`` is not from 1 to 4,194,304.
    """
    number("n", n, 1, MOST_SAMPLES)
    power = max(0, math.ceil(math.log2(n)))
    points: Floats = qmc.Sobol(d=3, scramble=False).random_base2(power)[: int(n)] + 0.5 / 2**power
    points.setflags(write=False)
    return points


@functools.lru_cache(maxsize=16)
def _student(n: int) -> Floats:
    """Standard t errors of unit standard deviation for the first two coordinates, shape ``(n, 2)``."""
    unit: Floats = t.ppf(draws(n)[:, :2], FREEDOM) / math.sqrt(FREEDOM / (FREEDOM - 2))
    unit.setflags(write=False)
    return unit
