"""What an error of the survey does to results: half of the band that 95 of 100 fall in.

Errors are taken as normal and independent from place to place, with one standard deviation in each
direction: of plan
coordinates (tee, outlines) and of levels. A picture that lies aside as a whole moves nothing against itself:
then
these bands are too wide for distances within it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from shapely.affinity import translate

from gistools.base.grid import Floats
from gistools.compute.layout.carries import Choices, carry_rows
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan

#: 95 of 100 values of a normal distribution lie within so many standard deviations [computed]
NORMAL_95 = 1.959964


def distance_band_m(plan_error_m: float) -> float:
    """Half of the band of a distance between two places that are each in error."""
    return NORMAL_95 * math.sqrt(2.0) * plan_error_m


def slope_band_pct(level_error_m: float, radius_m: float, cell_m: float) -> float:
    """Half of the band of a slope that is the plane through all cells within a radius.

    The variance of a least-squares slope is that of a level over the sum of squared distances.

    Parameters
    ----------
    level_error_m
        Standard deviation of the level of a cell [m].
    radius_m, cell_m
        Radius of the plane, and side of a cell [m].
    """
    reach = np.arange(-int(radius_m / cell_m) - 1, int(radius_m / cell_m) + 2) * cell_m
    x, y = np.meshgrid(reach, reach)
    squares = float((x[x**2 + y**2 <= radius_m**2] ** 2).sum()) or 2 * cell_m**2
    return NORMAL_95 * 100.0 * level_error_m / math.sqrt(squares)


def seen_band_pct(level_error_m: float, share_of_way: ArrayLike, stick_m: float) -> Floats:
    """Half of the band of the share of a flagstick that is seen over a crest.

    The lowest level seen at the flag is ``eye + (crest - eye) / t`` with the crest at the share ``t`` of the
    way;
    eye, crest and foot of the flag are each in error.

    Parameters
    ----------
    level_error_m
        Standard deviation of a level [m].
    share_of_way
        Where the crest is between eye (0) and flag (1).
    stick_m
        Height of the flagstick [m].
    """
    t = np.asarray(share_of_way, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = level_error_m * np.sqrt(((1 - t) / t) ** 2 + 1 / t**2 + 1)
    return np.asarray(np.minimum(NORMAL_95 * 100.0 * error / stick_m, 100.0))


def carry_bands(
    plan: Hole, tee: TeePlan, choices: Choices, rows: list[dict[str, Any]], plan_error_m: float
) -> list[float]:
    """Half of the band of each carry [m]: the hazards are moved against the tee, east and north.

    So a burn on the diagonal has a wider band than one straight across. A carry that is not there any more
    after a
    move has none (``nan``).

    Parameters
    ----------
    plan, tee, choices
        As for :func:`gistools.compute.layout.carries.carry_rows`.
    rows
        What that gave.
    plan_error_m
        Standard deviation of tee and outlines in each direction [m].
    """
    step = math.sqrt(2.0) * plan_error_m
    change = []
    for dx, dy in ((step, 0.0), (0.0, step)):
        sides = [_carries(_moved(plan, s * dx, s * dy), tee, choices) for s in (1, -1)]
        change.append([(sides[0].get(_key(r), math.nan) - sides[1].get(_key(r), math.nan)) / 2 for r in rows])
    return [NORMAL_95 * math.hypot(a, b) for a, b in zip(*change, strict=True)]


def _carries(plan: Hole, tee: TeePlan, choices: Choices) -> dict[tuple[Any, ...], float]:
    return {_key(row): float(row["carry_m"]) for row in carry_rows(plan, tee, choices, None)[0]}


def _key(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[k] for k in ("layer", "feature_id", "feature", "crossing", "line"))


def _moved(plan: Hole, dx: float, dy: float) -> Hole:
    def move(features: list[Feature]) -> list[Feature]:
        return [replace(f, geometry=translate(f.geometry, dx, dy)) for f in features]

    return Hole(
        plan.number, move(plan.fairways), translate(plan.green, dx, dy), move(plan.hazards), plan.tees
    )
