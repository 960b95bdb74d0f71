"""Which totals are level, in what order level zones stand, and where the order turns with the hole location.

Totals nearer to each other than a band are *level*: the computing and the model player are no surer than
that. Zones level with the first are ordered by criteria that a designer reads off the ground, one after the
other; the first that tells two zones apart decides. Which criteria, and in which order, is the setting
``level_order``.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

FEEDS = {"towards": 1.0, "neither": 0.0, "away": -1.0}


@dataclass(frozen=True)
class Criterion:
    """What puts one level zone before another.

    ``figure`` of its card, less is better; ``least`` is the smallest difference that counts (assumption);
    ``words`` why.
    """

    figure: Callable[[Mapping[str, Any]], float]
    least: float
    words: str


#: criteria of level zones by the words of the setting ``level_order``
CRITERIA = {
    "flag_seen": Criterion(lambda c: -c["flag_seen_pct"], 10.0, "more of the flag is seen"),
    "forced_carry": Criterion(
        lambda c: _or_nought(c["shot_must_carry_m"]), 10.0, "its forced carry is shorter"
    ),
    "over_mound": Criterion(lambda c: bool(c["mounds_crossed"]), 0.0, "the next shot comes over no mound"),
    "full_club": Criterion(lambda c: c["next_swing"] != "full", 0.0, "the next shot is a full club"),
    "green_depth": Criterion(lambda c: -c["green_depth_m"], 3.0, "the green is deeper on the line in"),
    "feeds": Criterion(
        lambda c: -FEEDS.get(c["feeds"], math.nan), 0.0, "the ground feeds the next shot better"
    ),
    "room_to_miss": Criterion(
        lambda c: c["trouble_pct"] + c["out_of_bounds_pct"],
        3.0,
        "fewer shots find a hazard or leave the course",
    ),
    "green_holds": Criterion(lambda c: -c["hold_pct"], 5.0, "the green holds more of the next shots"),
    "strokes_left": Criterion(lambda c: c["remaining_strokes"], 0.0, "it leaves less"),
}


def order(
    totals: Sequence[float], cards: Sequence[Mapping[str, Any]], band: float, criteria: Sequence[str]
) -> tuple[list[int], list[bool], list[str]]:
    """Order zones by total, those level with the first by the criteria.

    Parameters
    ----------
    totals
        Expected score of each zone.
    cards
        For each zone the figures that the criteria compare.
    band
        Totals nearer to the least than this are level [strokes].
    criteria
        Words of :data:`CRITERIA`, in the order in which they are asked.

    Returns
    -------
    tuple
        Indices in order, whether each zone (in the order given) is level with the least total, and for each
        zone the words of the criterion that puts it before the next in order; empty where none does.
    """
    least = min(totals)
    level = [total - least < band for total in totals]
    first = [k for k in range(len(totals)) if level[k]]
    rest = sorted((k for k in range(len(totals)) if not level[k]), key=lambda k: totals[k])
    ordered: list[int] = []
    while first:
        best = first[0]
        for k in first[1:]:
            if _deciding(cards[k], cards[best], criteria):
                best = k
        ordered.append(best)
        first.remove(best)
    reasons = [""] * len(totals)
    for k, following in itertools.pairwise(ordered):
        reasons[k] = _deciding(cards[k], cards[following], criteria)
    return ordered + rest, level, reasons


def _deciding(a: Mapping[str, Any], b: Mapping[str, Any], criteria: Sequence[str]) -> str:
    """Return the words of the first criterion that tells two zones apart, if it puts ``a`` before ``b``."""
    for criterion in (CRITERIA[word] for word in criteria):
        gain = criterion.figure(b) - criterion.figure(a)
        if abs(gain) > criterion.least:
            return criterion.words if gain > 0.0 else ""
    return ""


def _or_nought(length_m: float) -> float:
    """Return a forced carry, nought where nothing is to be carried (nan)."""
    return length_m if math.isfinite(length_m) else 0.0


def turns(totals: Mapping[Any, Mapping[Any, float]], band: float) -> dict[Any, bool]:
    """Tell for each hole location whether it turns two zones round against the mean of all, beyond the band.

    Parameters
    ----------
    totals
        Hole location to zone to expected score.
    band
        Differences within it turn nothing [strokes].
    """
    zones = sorted(set.intersection(*(set(by_zone) for by_zone in totals.values()))) if totals else []
    mean = {z: sum(by_zone[z] for by_zone in totals.values()) / len(totals) for z in zones}
    out = {}
    for pin, by_zone in totals.items():
        out[pin] = any(
            (by_zone[a] - by_zone[b]) > band and (mean[a] - mean[b]) < -band
            for a in zones
            for b in zones
            if a != b
        )
    return out


def any_turn(totals: Mapping[Any, Mapping[Any, float]], band: float) -> bool:
    """Tell whether two hole locations put two zones in opposite orders, both beyond the band."""
    pins = list(totals)
    for one in pins:
        for other in pins:
            zones = set(totals[one]) & set(totals[other])
            for a in zones:
                for b in zones:
                    here, there = totals[one][a] - totals[one][b], totals[other][a] - totals[other][b]
                    if here > band and there < -band:
                        return True
    return False
