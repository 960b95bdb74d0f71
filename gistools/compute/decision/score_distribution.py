"""Distribution of the score: chances of each number of strokes under the actions that were solved for.

The chance of every state and number of strokes is carried forward from the first shot, shot by shot, until
the ball is on the green: no play is drawn. On the green the number of putts is one, two or three: its mean is
the expected putts of that place, and the chance to hole is that of a level putt with the same expected putts
(assumption; three putts make up the rest).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gistools.compute.decision.putting import Putter, level_putts
from gistools.compute.decision.value_function import FINE, REPORTED, ValueFunction, Values

#: more strokes than this are counted as this many
MOST_STROKES = 20
#: states less likely than this are left out; the rest is scaled to one
LEAST_CHANCE = 1e-6

#: state -> states and penalties of the outcomes that are played on from, shares lost and not got away
Outcomes = dict[int, tuple[NDArray[np.int64], NDArray[np.int64], float, float]]


def putt_shares(putts: Values, putter: Putter) -> Values:
    """Return the chances of one to four putts ``(n, 4)`` whose mean is the expected putts ``(n,)``."""
    level = level_putts(putter)
    mean = np.clip(np.asarray(putts, float), 1.0, 4.0)
    order = np.argsort(level.putts)
    holed = np.interp(mean, level.putts[order], level.holed[order])
    holed = np.clip(holed, np.maximum(0.0, 2.0 - mean), np.maximum(0.0, (3.0 - mean) / 2.0))
    three = np.clip(mean - 2.0 + holed, 0.0, 1.0 - holed)
    four = np.clip(mean - 3.0, 0.0, 1.0)
    whole = np.stack([holed, 1.0 - holed - three, three * (1.0 - four), three * four], axis=1)
    return np.asarray(whole / whole.sum(axis=1, keepdims=True))


def score_shares(
    s: ValueFunction,
    pin: int,
    place: tuple[float, float],
    action: tuple[int, int],
    *,
    lie: int | None = None,
    outcomes: Outcomes | None = None,
) -> Values:
    """Return the chance of each score, the first shot included.

    Parameters
    ----------
    s
        A solved hole.
    pin
        Number of the hole location.
    place, action
        Where the first shot is played from [m], and its row in the shot table and heading.
    lie
        Number of the lie of the first shot; by default that of the place.
    outcomes
        Outcomes of states that are known; those worked out here are added. Give the same for all first shots
        at a hole location.

    Returns
    -------
    ndarray
        Chance of 0, 1, 2, ... MOST_STROKES strokes; sums to one.
    """
    count = len(s.mesh.lie)
    chance = np.zeros((MOST_STROKES + 1, count))
    score = np.zeros(MOST_STROKES + 1)
    first = s.outcomes(*place, *action, lie=lie, samples=REPORTED)
    # a shot that is lost or does not get away is played again from the place: geometric, as in Q
    again = np.zeros(MOST_STROKES + 1)
    again[0] = 1.0
    lost = float((first["state"] < 0).mean())
    stays = float(((first["state"] >= 0) & (first["replayed"] != 0)).mean())
    for k in range(1, MOST_STROKES + 1):
        again[k] = stays * again[k - 1] + (lost * again[k - 2] if k > 1 else 0.0)
    on = first[(first["state"] >= 0) & (first["replayed"] == 0)]
    for k in range(MOST_STROKES + 1):
        _spread(chance, k + 1, on, again[k] / len(first))
    outcomes = {} if outcomes is None else outcomes
    putting = s.mesh.putts | (s.rolled[:, pin] <= s.value[:, pin])
    shares = putt_shares(s.value[:, pin], s.putter)
    for k in range(1, MOST_STROKES):
        for n in range(1, 5):
            score[min(k + n, MOST_STROKES)] += float(chance[k, putting] @ shares[putting, n - 1])
        at: list[NDArray[np.int64]] = []
        shares_of: list[Values] = []
        for state in np.flatnonzero((chance[k] > LEAST_CHANCE) & ~putting):
            if int(state) not in outcomes:
                outcomes[int(state)] = _next(s, int(state), pin)
            states, penalties, lost, stays = outcomes[int(state)]
            here = chance[k, state]
            at.append(np.minimum(k + 1 + penalties, MOST_STROKES) * count + states)
            shares_of.append(np.full(len(states), here / FINE))
            chance[k + 1, state] += here * stays
            chance[min(k + 2, MOST_STROKES), state] += here * lost
        if at:
            added = np.bincount(np.concatenate(at), np.concatenate(shares_of), chance.size)
            chance += added.reshape(chance.shape)
    score[MOST_STROKES] += max(0.0, 1.0 - score.sum()) if score.sum() < 1.0 - 1e-3 else 0.0
    return np.asarray(score / score.sum())


def _next(
    s: ValueFunction, state: int, pin: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], float, float]:
    """Return what a state's best action leads to, as :data:`Outcomes` holds it."""
    x, y = s.mesh.place[state, :2]
    out = s.outcomes(
        float(x),
        float(y),
        int(s.shot[state, pin, 0]),
        int(s.heading[state, pin, 0]),
        lie=int(s.mesh.lie[state]),
        samples=FINE,
        direct_below_m=0.0,
    )
    lost = out["state"] < 0
    stays = ~lost & (out["replayed"] != 0)
    on = out[~lost & ~stays]
    states, penalties = on["state"].astype(np.int64), on["penalty"].astype(np.int64)
    return states, penalties, float(lost.mean()), float(stays.mean())


def _spread(chance: Values, strokes: int, out: NDArray[np.void], share: float) -> None:
    """Add a share of chance to the states that outcomes lead to, at the strokes they count."""
    if share <= 0.0 or not len(out):
        return
    at = np.minimum(strokes + out["penalty"].astype(int), MOST_STROKES)
    np.add.at(chance, (at, out["state"]), share)


def against_par(shares: Values, par: int) -> dict[str, float]:
    """Return chances of birdie or better, par, bogey, and double bogey or worse [%]."""
    return {
        "birdie_or_better_pct": 100.0 * float(shares[:par].sum()),
        "score_par_pct": 100.0 * float(shares[par]),
        "bogey_pct": 100.0 * float(shares[par + 1]),
        "double_or_worse_pct": 100.0 * float(shares[par + 2 :].sum()),
    }
