"""Variants that methods of search play, and the earth of their answers, on margins in closed form.

Usage: ``python scripts/bench/search_methods.py``

*Halving* is what `gistools.design.search` was before: the ends of the ranges alone and together, then the way
back from the best of them halved four times, then each figure left out alone. *Evolution* is scipy's
differential evolution from a Sobol start. *Search* is the package's own, with margins put in place of play.
Beside each answer stands the least earth among 200,000 points drawn at random; where none holds, the best
margin.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import differential_evolution

from gistools.design import search, search_variants

#: name -> ranges, margin, earth moved
Wish = tuple[list[tuple[float, float]], Callable[[Any], float], Callable[[Any], float]]


def _rough(v: Any) -> float:
    return 0.01 * (v[0] + 3 * v[1] - 5) + 0.008 * np.sin(
        37 * (v[0] + 2 * v[1]) + 5 * (v[0] + 1.3) * (v[1] + 1.3)
    )


def _two(v: Any) -> float:
    return 30 * abs(v[0]) + 200 * abs(v[1])


def _three(v: Any) -> float:
    return 30 * abs(v[0]) + 30 * abs(v[1]) + 300 * v[2]


WISHES: dict[str, Wish] = {
    "one range": ([(-12, 12)], lambda v: 0.02 * (v[0] - 4), lambda v: 60 * abs(v[0])),
    "two, additive": ([(-10, 10), (-2, 2)], lambda v: 0.01 * (v[0] + 3 * v[1] - 5), _two),
    "two, one needless": ([(-10, 10), (-2, 2)], lambda v: 0.01 * (v[0] - 5), _two),
    "greatest inside": (
        [(-10, 10), (-2, 2)],
        lambda v: 0.05 * (1 - ((v[0] - 4) / 3) ** 2 - ((v[1] - 0.5) / 0.8) ** 2),
        _two,
    ),
    "three, joint": ([(-10, 10), (-6, 6), (0, 2)], lambda v: 0.01 * (v[0] / 2 + v[1] * v[2] - 4), _three),
    "out of reach": (
        [(-10, 10), (-6, 6)],
        lambda v: -0.02 - 0.001 * ((v[0] - 5) ** 2 + (v[1] + 2) ** 2),
        lambda v: 30 * abs(v[0]) + 30 * abs(v[1]),
    ),
    "rough": ([(-10, 10), (-2, 2)], _rough, _two),
    "four": (
        [(-10, 10), (-6, 6), (-1, 2), (-15, 15)],
        lambda v: 0.01 * (0.5 * v[0] - 0.4 * v[1] + 2 * v[2] + 0.1 * v[3] - 4),
        lambda v: 30 * abs(v[0]) + 30 * abs(v[1]) + 300 * abs(v[2]) + 20 * abs(v[3]),
    ),
}


def halving(ranges: list[tuple[float, float]], margin: Callable[[Any], float]) -> None:
    """Run the method before this one."""
    nothing = np.zeros(len(ranges))
    alone = [
        np.where(np.arange(len(ranges)) == n, end, 0.0) for n, r in enumerate(ranges) for end in r if end
    ]
    together = itertools.product(*ranges) if len(ranges) <= 3 else zip(*ranges, strict=True)
    corners = alone + [np.array(c, float) for c in together if len(ranges) > 1]
    best = max(corners, key=margin)
    if margin(best) < 0:
        return
    low, high = 0.0, 1.0
    for _ in range(4):
        share = 0.5 * (low + high)
        low, high = (low, share) if margin(share * best) >= 0 else (share, high)
    search._without_the_needless(list(high * best), list(nothing), lambda f: margin(f) >= 0)


def evolution(
    ranges: list[tuple[float, float]], margin: Callable[[Any], float], earth: Callable[[Any], float]
) -> None:
    """Run differential evolution: the least earth among variants that hold, else the best margin."""
    most = max(map(earth, itertools.product(*ranges)))

    def cost(v: Any) -> float:
        m = margin(v)
        return earth(v) / most if m >= 0 else 1.0 - 20.0 * m

    differential_evolution(cost, ranges, init="sobol", popsize=6, maxiter=6, polish=False, rng=1)


class Margins:
    """What the package's search asks of its variants, with a margin and earth in closed form."""

    def __init__(self, wish: Wish, log: list[Any]) -> None:
        templates = [{"along_m": r} for r in wish[0]]
        fields = [(k, "along_m") for k in range(len(wish[0]))]
        self.question = search_variants.Question(
            None,
            templates,
            fields,
            "",
            "",
            None,
            "",
            "",
            "",
            None,
            0.0,
            "",
            5.0,
            "",  # type: ignore[arg-type]
        )
        self.wish, self.log, self.measures = wish, log, {}  # type: ignore[var-annotated]

    def play(self, points: Any) -> None:
        """Measure variants that are new."""
        for key in (tuple(map(float, p)) for p in points):
            if (key, False) not in self.measures:
                self.measures[key, False] = self.wish[1](key), self.wish[2](key), np.nan, np.nan
                self.log.append(key)

    def margin(self, figures: Any) -> float:
        """Return the margin of a variant."""
        self.play([figures])
        return self.measures[tuple(map(float, figures)), False][0]

    effort, best = search_variants.Tries.effort, search_variants.Tries.best


def least_effort(wish: Wish, log: list[Any]) -> None:
    """Run the package's own search on the coarse mesh."""
    tries: Any = Margins(wish, log)
    tries.play(tries.question.starts())
    search._least_effort(tries, 0.0, search_variants.MOST_STEPS)
    best = tries.best(0.0)
    if tries.margin(best) >= 0:
        search._without_the_needless(best, [0.0] * len(best), lambda f: tries.margin(f) >= 0)


def main() -> int:
    """Measure and print a table."""
    draw = np.random.default_rng(0)
    print("| wish | least known | halving | search | evolution |\n|---|---|---|---|---|")
    for name, wish in WISHES.items():
        ranges, margin, earth = wish
        low, high = np.array(ranges, float).T
        points = low + (high - low) * draw.random((200_000, len(ranges)))
        points[::2] *= draw.random((100_000, len(ranges))) < 0.5
        margins, earths = np.apply_along_axis(margin, 1, points), np.apply_along_axis(earth, 1, points)
        some = bool((margins >= 0).any())
        cells = [f"{earths[margins >= 0].min():.0f} m3" if some else f"{margins.max():+.3f}"]
        for method in ("halving", "search", "evolution"):
            log: list[Any] = []

            def logged(v: Any, log: list[Any] = log, margin: Callable[[Any], float] = margin) -> float:
                log.append(tuple(v))
                return margin(v)

            if method == "halving":
                halving(ranges, logged)
            elif method == "search":
                least_effort(wish, log)
            else:
                evolution(ranges, logged, earth)
            distinct = list(dict.fromkeys(log))
            holding = [earth(v) for v in distinct if margin(v) >= 0]
            best = f"{min(holding):.0f} m3" if holding else f"{max(map(margin, distinct)):+.3f}"
            cells.append(f"{len(distinct)} variants, {best}")
        print(f"| {name} | {' | '.join(cells)} |")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
