"""Drag and lift of one's own.

A ball measured in a wind tunnel, or another published model, in place of the built-in ones.

Both coefficients are given as functions of spin ratio ``S = r w / V`` and Reynolds number ``Re = 2 r V /
nu``, and flown as a weighted sum of ten terms: 1, S, S^2, sqrt S, x, x^2, y, x y, Re, Re S, with ``x = 1 -
exp(-S / 0.145)`` and ``y = 1 / (1 + exp((Re - 61000) / 7000))``. The terms are those the published models are
made of: linear and quadratic in S (Quintavalla 2002, Lyu et al. 2018), a root (Smits & Smith 1994), lift that
saturates and the drag crisis (model D). Functions that the terms cannot follow within 0.02 are refused, not
bent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels

Floats = NDArray[np.float64]
Function = Callable[[Any, Any], Any]

NEAREST = (
    0.02  # worst misfit of a function that is accepted (assumption: balls differ by more, Lyu et al. 2018)
)
#: what measured balls keep well inside of: 0.18 to 0.5 of drag, -0.15 to 0.4 of lift (Lyu et al. 2018, 2020;
#: US 6,186,002 [second-hand])
DRAG, LIFT = (0.05, 1.2), (-0.4, 1.0)


@dataclass(frozen=True)
class Coefficients:
    """User-defined drag and lift, taken as ``model`` by everything that flies; see :func:`own_model`.

    Clubs keep the launch that model D gave them, so their carry under these coefficients is another one.

    Attributes
    ----------
    name
        What it is called.
    weights
        Weights of the ten terms, drag first, then lift.
    misfit
        Largest difference from the functions given.
    """

    name: str
    weights: tuple[float, ...]
    misfit: float

    def at(self, spin_ratio: float, reynolds: float) -> tuple[float, float]:
        """Drag and lift coefficients as flown.

        Beyond S 0.02 to 1.2 and Re 40,000 to 250,000 they are held (lift falls to 0).
        """
        cd, cl = _kernels.weighted_coefficients(self.weights, float(spin_ratio), float(reynolds))
        return float(cd), float(cl)


def own_model(drag: Function, lift: Function, *, name: str = "own") -> Coefficients:
    """Return coefficients of one's own from functions of spin ratio and Reynolds number.

    Parameters
    ----------
    drag, lift
        Called with a spin ratio and a Reynolds number, both numbers; return the coefficient. They have to
        answer for S from 0.02 to 1.2 and Re from 40,000 to 250,000: a wedge reaches S of 1 near its apex.
    name
        What it is called.

    Raises
    ------
    InputError
        If a function fails, gives no number, a drag outside 0.05 to 1.2, a lift outside -0.4 to 1, or jumps
        and bends that the terms cannot follow; with the place and the value.

    Examples
    --------
    >>> smooth = own_model(lambda s, re: 0.20 + 0.3 * s, lambda s, re: 0.54 * s**0.4 - 0.1 * s)
    >>> fly(Launch(67.0, 11.0, 2700.0), model=smooth).carry_m  # doctest: +SKIP
    """
    s, re = (
        g.ravel()
        for g in np.meshgrid(np.geomspace(*_kernels.OWN_SPIN, 41), np.linspace(*_kernels.OWN_RE, 36))
    )
    terms = np.array([_kernels.own_terms(a, b) for a, b in zip(s, re, strict=True)])
    weights: list[float] = []
    worst = 0.0
    for name_of, function, (low, high) in (("drag", drag, DRAG), ("lift", lift, LIFT)):
        values = _values(f"{name_of} of {name!r}", function, s, re, low, high)
        w = np.linalg.lstsq(terms, values, rcond=None)[0]
        off = np.abs(terms @ w - values)
        k = int(off.argmax())
        if off[k] > NEAREST:
            raise InputError(
                f"the {name_of} of {name!r} has a corner or step that cannot be flown: near S = {s[k]:.2f},"
                f" Re = {re[k]:.0f} it is {values[k]:.3f}, the nearest smooth one"
                f" {float(terms[k] @ w):.3f}; give a smoother function"
            )
        worst = max(worst, float(off[k]))
        weights += w.tolist()
    return Coefficients(name, tuple(weights), worst)


def _values(name: str, function: Function, s: Floats, re: Floats, low: float, high: float) -> Floats:
    """Values of a function at places, every one a sensible coefficient."""
    values = np.empty(len(s))
    for k, (a, b) in enumerate(zip(s.tolist(), re.tolist(), strict=True)):
        try:
            values[k] = float(function(a, b))
        except Exception as error:
            raise InputError(f"the {name} gives no number at S = {a:.3f}, Re = {b:.0f}: {error}") from error
        if not low <= values[k] <= high:
            raise InputError(
                f"the {name} is {values[k]:g} at S = {a:.3f}, Re = {b:.0f};"
                f" it should be from {low:g} to {high:g}"
            )
    return values
