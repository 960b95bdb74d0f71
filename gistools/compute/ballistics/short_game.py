"""Short game: the swings beside the part shots of a wedge, each with its launch, its lies and its dispersion.

A swing keeps its launch angle; spin goes with ball speed. ``data/short_game.csv`` holds the numbers and their
sources.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gistools.compute.ballistics.clubs import rows_of
from gistools.compute.ballistics.flight import Launch

NOMINAL_SPEED_MS = 16.0  # ball speed at which a swing's launch is stated; all others are scaled from it


@dataclass(frozen=True)
class ShortSwing:
    """A swing of the short game.

    Parameters
    ----------
    name
        What people call it.
    club
        Club it is played with.
    launch
        Launch at the nominal ball speed.
    shortest_m, longest_m
        Carries it is played for [m].
    lies
        Lies it is played from.
    dispersion_factor
        Its dispersion over that of a part shot of the same carry.
    """

    name: str
    club: str
    launch: Launch
    shortest_m: float
    longest_m: float
    lies: tuple[str, ...]
    dispersion_factor: float

    def carries(self, step: float) -> NDArray[np.float64]:
        """Carries from the shortest to the longest, each longer than the one before by a factor [m]."""
        count = int(np.log(self.longest_m / self.shortest_m) / np.log(step))
        return np.asarray(self.shortest_m * step ** np.arange(count + 1))


@functools.cache
def short_swings() -> tuple[ShortSwing, ...]:
    """Return the swings of the short game."""
    return tuple(
        ShortSwing(
            row["swing"],
            row["club"],
            Launch(
                NOMINAL_SPEED_MS, float(row["angle_deg"]), NOMINAL_SPEED_MS * float(row["spin_rpm_per_ms"])
            ),
            float(row["shortest_m"]),
            float(row["longest_m"]),
            tuple(row["lies"].split()),
            float(row["dispersion_factor"]),
        )
        for row in rows_of("short_game")
    )
