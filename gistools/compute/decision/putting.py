"""Putting: the chance to hole out by distance, and the mean number of putts.

Angle and distance model (Broadie 2018, as published by Gelman): a putt of x feet meant to finish one foot past is holed
if its direction is within ``asin((R - r) / x)`` and its length within x to x + 3 ft:

``P(x) = (2 Phi(asin((R - r)/x) / sigma) - 1) (Phi(2 / ((x + 1) s)) - Phi(-1 / ((x + 1) s)))``

A missed putt leaves ``|x - length|`` along and ``x sin(angle)`` across; mean putts follow from the chain over leaves.
Slope is not felt (assumption: it is in the mean of the published data).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from gistools.base.errors import InputError
from gistools.base.units import FOOT_M

ROOM_FT = (2.125 - 0.84) / 12.0  # radius of the hole less that of the ball
PAST_FT, WINDOW_FT = 1.0, 3.0
LONGEST_FT = 160.0


@dataclass(frozen=True)
class Putter:
    """Errors of a player's putts: direction [degrees], and length as a share of the length meant."""

    angle_deg: float
    length_share: float

    def __post_init__(self) -> None:
        if not (0.0 < self.angle_deg <= 20.0 and 0.0 < self.length_share <= 1.0):
            raise InputError(
                f"putting errors are {self.angle_deg} degrees and {self.length_share};"
                " they should be above 0, at most 20 degrees and 1"
            )


#: tour: least squares on the published 31 bins (rounded fit published: 1.0 deg, 0.08); others: model choice
TOUR = Putter(1.02, 0.080)
SCRATCH = Putter(1.25, 0.10)
BOGEY = Putter(1.9, 0.15)


def angle_chance(distance_ft: ArrayLike, angle_deg: float) -> NDArray[np.float64]:
    """Chance that the direction of a putt is good enough: ``2 Phi(asin((R - r)/x)/sigma) - 1``.

    Sources: Gelman & Nolan 2002, Teaching Statistics 24(3) 93-95 [issue and pages from memory].
    """
    x = np.maximum(np.asarray(distance_ft, float), ROOM_FT)
    return np.asarray(2.0 * ndtr(np.arcsin(ROOM_FT / x) / np.radians(angle_deg)) - 1.0)


def holed(distance_m: ArrayLike, putter: Putter = TOUR) -> NDArray[np.float64]:
    """Chance to hole a putt of a length [m].

    Sources: Broadie 2018 model with its fit, Gelman's case study (golf.Rmd) [seen].
    """
    x = np.asarray(distance_m, float) / FOOT_M
    s = (x + PAST_FT) * putter.length_share
    good = ndtr((WINDOW_FT - PAST_FT) / s) - ndtr(-PAST_FT / s)
    return np.asarray(angle_chance(x, putter.angle_deg) * good)


@functools.lru_cache(maxsize=64)
def _curve(putter: Putter) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean putts on a ladder of distances [m]: least solution of ``E(x) = 1 + mean over missed of E(leave)``."""
    feet = np.concatenate(
        [np.arange(0.25, 12.0, 0.25), np.arange(12.0, 40.0, 1.0), np.arange(40.0, LONGEST_FT + 1, 4.0)]
    )
    normal = ndtri(qmc.Sobol(2, scramble=False).random(1024)[1:])
    chance = holed(feet * FOOT_M, putter)
    angle = np.radians(putter.angle_deg) * normal[:, 0]
    leave = np.empty((feet.size, len(normal)))
    missed = np.empty_like(leave, bool)
    for i, x in enumerate(feet):
        length = (x + PAST_FT) * (1.0 + putter.length_share * normal[:, 1])
        in_line = np.abs(angle) < np.arcsin(min(ROOM_FT / x, 1.0))
        missed[i] = ~(in_line & (length >= x) & (length <= x + WINDOW_FT))
        leave[i] = np.hypot(x - length * np.cos(angle), length * np.sin(angle))
    putts = 1.0 + 0.01 * feet
    for _ in range(200):
        next_putts = np.interp(leave, feet, putts)
        mean = (next_putts * missed).sum(axis=1) / np.maximum(missed.sum(axis=1), 1)
        new = 1.0 + (1.0 - chance) * mean
        done = np.abs(new - putts).max() < 1e-9
        putts = new
        if done:
            break
    return np.concatenate([[0.0], feet]) * FOOT_M, np.concatenate([[1.0], putts])


def mean_putts(distance_m: ArrayLike, putter: Putter = TOUR) -> Any:
    """Mean number of putts to hole out from a distance [m]; 1 beside the hole. A float for a single distance.

    Beyond 49 m the last value is held.
    """
    d = np.asarray(distance_m, float)
    out = np.interp(d, *_curve(putter))
    return float(out) if d.ndim == 0 else out
