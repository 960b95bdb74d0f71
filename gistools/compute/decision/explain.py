"""What the best shot from a place is, and what the alternatives cost, in numbers and words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import KIND_NAMES, Kind
from gistools.compute.decision.outcome_kernels import HEADINGS
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import (
    DIRECT_BELOW_M,
    FINE,
    REPORTED,
    ValueFunction,
    bearing_of,
    heading_of,
)
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M, useful

FAN = 12  # headings each side of the best that other shots are tried on (assumption)
BEYOND_M = 15.0  # shots that carry so much more than is left are told too (assumption)


@dataclass(frozen=True)
class Option:
    """One shot from a place.

    Strokes to hole out, what it costs over the best, and where it finishes (share by kind of ground).
    """

    club: str
    bearing_deg: float
    remaining_strokes: float
    costs_strokes: float
    finishes_pct: dict[str, float]


@dataclass(frozen=True)
class Explanation:
    """The best shot from a place for a pin and its alternatives, best first; ``reading`` in words.

    ``remaining_strokes`` is that of :meth:`ValueFunction.value_at`, as in the other steps; the first option
    is the shot it stands for.
    """

    lie: str
    left_m: float
    remaining_strokes: float
    options: tuple[Option, ...]
    reading: str

    def __str__(self) -> str:
        return self.reading


def explain(s: ValueFunction, x: float, y: float, pin: str | int, *, most: int = 5) -> Explanation:
    """Explain the best shot from a place.

    Parameters
    ----------
    s
        A solved hole.
    x, y
        The place, in metres on the site's grid.
    pin
        Name of the hole location.
    most
        Number of shots told.

    Raises
    ------
    InputError
        If the ball is not played from there, or there is no such pin.
    """
    p = s.pin(pin)
    state = s.state(x, y)
    left = float(np.hypot(*(s.pin_xy[p] - (x, y))))
    lie = "green" if s.mesh.putts[state] else LIES[int(s.mesh.lie[state])]
    here = s.value_at(x, y, p)
    if s.mesh.putts[state]:
        reading = f"On the green, {left:.1f} m from the hole: {here.strokes:.2f} putts on average."
        return Explanation(lie, left, here.strokes, (), reading)
    if here.shot < 0 and here.strokes < s.rolled[state, p]:
        return Explanation(lie, left, here.strokes, (), _words(s.pins[p], lie, left, ()))
    scale = s.scale_at([(x, y)])[0, p]
    tables = s.tables(int(s.mesh.lie[state]))
    longest = float(tables.carry_m[tables.carry_m < UNAVAILABLE_M].max(initial=0.0))

    def outcomes(shot: int, heading: int, samples: int) -> NDArray[np.void]:
        return s.outcomes(
            x, y, shot, heading, samples=samples, dispersion_scale=scale, direct_below_m=DIRECT_BELOW_M
        )

    def option(shot: int, heading: int, strokes: float) -> Option:
        kinds = outcomes(shot, heading, REPORTED)["kind"]
        shares = {KIND_NAMES[k]: 100.0 * float((kinds == k).mean()) for k in np.unique(kinds)}
        costs = max(strokes - here.strokes, 0.0)
        return Option(s.shot_table.shots[shot].label, bearing_of(heading), strokes, costs, shares)

    bearing = float(np.degrees(np.arctan2(s.pin_xy[p, 0] - x, s.pin_xy[p, 1] - y))) % 360.0
    middle = here.heading if here.shot >= 0 else heading_of(bearing)
    others: list[Option] = []
    for shot in np.flatnonzero(tables.carry_m < UNAVAILABLE_M):
        if shot == here.shot or not useful(tables.carry_m[shot], left, left, longest, BEYOND_M):
            continue
        headings = [(middle + off) % HEADINGS for off in range(-FAN, FAN + 1, 2)]
        q = [s.action_value(outcomes(int(shot), h, FINE))[p] for h in headings]
        if np.isfinite(q).any():
            heading = headings[int(np.nanargmin(q))]  # chosen on one set of samples, evaluated on another
            many = s.many_outcomes(
                x, y, int(shot), heading, lie=int(s.mesh.lie[state]), dispersion_scale=float(scale)
            )
            strokes = float(s.action_value(many)[p])
            if np.isfinite(strokes):
                others.append(option(int(shot), heading, strokes))
    others.sort(key=lambda o: o.remaining_strokes)
    if here.shot >= 0:
        first = option(here.shot, here.heading, here.strokes)
    else:  # rolled all the way: no landing whose shares could be counted
        first = Option("putter", bearing, here.strokes, 0.0, {})
    options = (first, *others[: most - 1])
    return Explanation(lie, left, here.strokes, options, _words(s.pins[p], lie, left, options))


def _words(pin: str, lie: str, left: float, options: tuple[Option, ...]) -> str:
    if not options:
        return f"From {lie}, {left:.0f} m from the {pin} pin: no shot of the bag is of use here."
    first = options[0]
    text = [
        f"From {lie}, {left:.0f} m from the {pin} pin: {first.club} on bearing {first.bearing_deg:.0f}°,"
        f" {first.remaining_strokes:.2f} strokes to hole out."
    ]
    risks = [(n, v) for n, v in first.finishes_pct.items() if n in _RISKS and v >= 1.0]
    if risks:
        text.append("It finds " + ", ".join(f"{n} {v:.0f} %" for n, v in risks) + ".")
    if len(options) > 1:
        text.append(
            "Instead: " + "; ".join(f"{o.club} costs {o.costs_strokes:.2f}" for o in options[1:]) + "."
        )
    return " ".join(text)


_RISKS = {KIND_NAMES[k] for k in (Kind.SAND, Kind.WATER, Kind.TREES, Kind.OUT, Kind.OFF_MAP)}
