"""What the best shot from a place is, and what the alternatives cost, in numbers and words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gistools.base.cover_classes import KIND_NAMES, Kind
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import Strokes, bearing_of
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M, useful

BEYOND_M = 15.0  # shots that carry so much more than is left are told too (assumption)


@dataclass(frozen=True)
class Option:
    """One shot from a place: strokes to hole out, what it costs over the best, and where it finishes (share by kind of ground)."""

    club: str
    bearing_deg: float
    expected_strokes: float
    costs_strokes: float
    finishes_pct: dict[str, float]


@dataclass(frozen=True)
class Explanation:
    """The best shot from a place for a pin and its alternatives, best first; ``reading`` in words.

    ``expected_strokes`` is that of the state the place lies in, as mapped by the step `strokes`, with what a hidden flag costs; ``options``
    are weighed from the very place, without that, and can be some hundredths lower.
    """

    lie: str
    left_m: float
    expected_strokes: float
    options: tuple[Option, ...]
    reading: str

    def __str__(self) -> str:
        return self.reading


def explain(s: Strokes, x: float, y: float, pin: str | int, *, most: int = 5) -> Explanation:
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
    value = float(s.value[state, p])
    if s.mesh.putts[state]:
        return Explanation(
            lie, left, value, (), f"On the green, {left:.1f} m from the hole: {value:.2f} putts on average."
        )
    _, centre = s.best(x, y, p)
    found: list[Option] = []
    tables = s.tables(int(s.mesh.lie[state]))
    longest = float(tables.carry_m[tables.carry_m < UNAVAILABLE_M].max(initial=0.0))
    for shot in np.flatnonzero(tables.carry_m < UNAVAILABLE_M):
        if not useful(tables.carry_m[shot], left, left, longest, BEYOND_M):
            continue
        best = (np.inf, 0)
        for off in range(-12, 13, 2):
            heading = (centre + off) % _kernels.HEADINGS
            mean = s.action_value(s.outcomes(x, y, int(shot), heading))[p]
            if mean < best[0]:
                best = (float(mean), heading)
        if np.isfinite(best[0]):
            kinds = s.outcomes(x, y, int(shot), best[1])["kind"]
            shares = {KIND_NAMES[k]: 100.0 * float((kinds == k).mean()) for k in np.unique(kinds)}
            found.append(Option(s.shot_table.shots[shot].label, bearing_of(best[1]), best[0], 0.0, shares))
    found.sort(key=lambda o: o.expected_strokes)
    top = found[0].expected_strokes if found else value
    options = tuple(
        Option(o.club, o.bearing_deg, o.expected_strokes, o.expected_strokes - top, o.finishes_pct)
        for o in found[:most]
    )
    return Explanation(lie, left, value, options, _words(s.pins[p], lie, left, options))


def _words(pin: str, lie: str, left: float, options: tuple[Option, ...]) -> str:
    if not options:
        return f"From {lie}, {left:.0f} m from the {pin} pin: no shot of the bag is of use here."
    first = options[0]
    text = [
        f"From {lie}, {left:.0f} m from the {pin} pin: {first.club} on bearing {first.bearing_deg:.0f}°,"
        f" {first.expected_strokes:.2f} strokes to hole out."
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
