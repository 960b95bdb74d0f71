"""What a strategic form is made of: its declaration, and the measures of the hole that it is laid on.

Loads nothing heavy, so that a list of the forms and the dialog of a desktop are there at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

#: fall of a green to the front [%]: 1.65 to 2 in a plan, 1.5 at least (Brauer, green slopes, published)
GREEN_FALL_PCT = 1.8
TEE_FALL_PCT = 1.5  # one laser-levelled tee (second-hand)
TEE_STEP_M = 45.0  # forward tee: two steps of 18 to 27 m on a par 4 (Brauer, published)
FAIRWAY_M = 36.0  # width (assumption)
GREEN_M = (34.0, 24.0)  # length and width of the green (assumption)
GREEN_RISE_M = 0.3  # of the green above the ground there (assumption)
SHORTEST_M = 180.0  # a shorter hole has no landing zones to part (assumption)
HOLLOW_M = 150.0  # hollows of the ground are looked for so far round the green (assumption)
MOST_LIFT_M = 1.5  # a green is raised by so much at most to let its water out (assumption)
LEAST_LEG_M = 80.0  # from the last turning point to the green (assumption)


@dataclass(frozen=True)
class Parameter:
    """A figure of a form: default and range (all assumptions, common practice at best), unit, meaning.

    One that goes both ways from 0 is at least ``least`` either way; one with ``choices`` is one of them.
    """

    default: float
    low: float
    high: float
    unit: str
    text: str
    least: float = 0.0
    choices: tuple[float, ...] = ()

    @property
    def range(self) -> str:
        """The range in words, with its unit."""
        if self.choices:
            words = " or ".join(f"{c:g}" for c in self.choices)
        elif not self.least:
            words = f"{self.low:g} to {self.high:g}"
        else:
            words = f"{self.low:g} to {-self.least:g} or {self.least:g} to {self.high:g}"
        return f"{words} {self.unit}".strip()

    def holds(self, value: float) -> bool:
        """Tell whether a value lies in the range."""
        if self.choices:
            return value in self.choices
        return self.low <= value <= self.high and abs(value) >= self.least


@dataclass(frozen=True)
class Form:
    """A strategic form: what it is, its parameters, and the functions that lay it.

    ``prepare`` sets the line of play or the green before the base hole is laid, ``lay`` places the rest on
    it; both take the draft and the figures. Of forms with one ``part`` a hole has one.
    """

    text: str
    parameters: Mapping[str, Parameter]
    lay: Callable[..., None] | None = None
    prepare: Callable[..., None] | None = None
    part: str = ""
