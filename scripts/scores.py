"""Scores per round by handicap beside published ones.

python scripts/scores.py        print the table of docs/players.md

A round is 4 holes of par 3, 10 of par 4 and 4 of par 5, of the generic hole's form
(scripts/generic_hole.py), at lengths of an ordinary men's course (assumption). Published: a press survey by
handicap, 2022 [second-hand].
"""

from __future__ import annotations

import numpy as np
from generic_hole import PINS
from tables import PLAYERS, generic_hole

from gistools.base.units import YARD_M
from gistools.compute.decision.score_distribution import Outcomes, against_par, score_shares

#: par -> holes of a round and their length [yd] (assumption)
ROUND = {3: (4, 165.0), 4: (10, 390.0), 5: (4, 500.0)}
KINDS = ("birdie_or_better_pct", "score_par_pct", "bogey_pct", "double_or_worse_pct")
#: handicap -> birdies, bogeys, doubles or worse in a round
PUBLISHED = {"0": (2.2, 4.6, 0.7), "10": (0.7, 7.7, 2.9), "20": (0.3, 9.0, 6.6)}


def per_round(handicap: str) -> dict[str, float]:
    """Return birdies, pars, bogeys and doubles or worse in a round, and the mean score over par."""
    s = generic_hole(PLAYERS[f"handicap {handicap}"])
    counts = dict.fromkeys((*KINDS, "over_par"), 0.0)
    known: list[Outcomes] = [{} for _ in PINS]
    for par, (holes, yards) in ROUND.items():
        place = (0.0, -yards * YARD_M)
        _, shots, headings = s.values_at([place], lie=0)
        for p in range(len(PINS)):
            action = int(shots[0, p]), int(headings[0, p])
            shares = score_shares(s, p, place, action, lie=0, outcomes=known[p])
            weight = holes / len(PINS)
            for kind, share in against_par(shares, par).items():
                counts[kind] += weight * share / 100
            counts["over_par"] += weight * (float(shares @ np.arange(len(shares))) - par)
    return counts


def main() -> None:
    """Print the table."""
    print("| handicap | birdies | published | bogeys | published | doubles or worse | published | over par |")
    print("|---|---|---|---|---|---|---|---|")
    for handicap, (birdies, bogeys, doubles) in PUBLISHED.items():
        ours = per_round(handicap)
        print(
            f"| {handicap} | {ours[KINDS[0]]:.1f} | {birdies} | {ours[KINDS[2]]:.1f} | {bogeys}"
            f" | {ours[KINDS[3]]:.1f} | {doubles} | {ours['over_par']:+.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
