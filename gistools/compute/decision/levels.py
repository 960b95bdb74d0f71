"""Which totals are level, in what order level zones stand, and where the order turns with the hole location.

Totals nearer to each other than a band are *level*: the computing and the model player are no surer than
that. Zones level with the first are ordered by criteria that a designer reads off the ground, one after the
other; the first that tells two zones apart decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

#: criteria of level zones in their order: column, whether more is better, least difference that counts, words
CRITERIA = (
    ("flag_seen_pct", True, 10.0, "more of the flag is seen"),
    ("trouble_pct", False, 3.0, "fewer shots find a hazard"),
    ("hold_pct", True, 5.0, "the green holds more of the next shots"),
    ("green_depth_m", True, 3.0, "the green is deeper on the line in"),
    ("remaining_strokes", False, 0.0, "it leaves less"),
)


def order(
    totals: Sequence[float], figures: Sequence[Mapping[str, float]], band: float
) -> tuple[list[int], list[bool], list[str]]:
    """Order zones by total, those level with the first by the criteria.

    Parameters
    ----------
    totals
        Expected score of each zone.
    figures
        For each zone its figures by the columns of :data:`CRITERIA`.
    band
        Totals nearer to the least than this are level [strokes].

    Returns
    -------
    tuple
        Indices in order, whether each zone (in the order given) is level with the least total, and what
        puts the first before the next, empty where the total does.
    """
    least = min(totals)
    level = [total - least < band for total in totals]
    first = [k for k in range(len(totals)) if level[k]]
    rest = sorted((k for k in range(len(totals)) if not level[k]), key=lambda k: totals[k])
    ordered: list[int] = []
    reasons = [""] * len(totals)
    while first:
        best = first[0]
        for k in first[1:]:
            if _before(figures[k], figures[best]):
                best = k
        reasons[best] = next((_reason(figures[best], figures[k]) for k in first if k != best), "")
        ordered.append(best)
        first.remove(best)
    return ordered + rest, level, reasons


def _before(a: Mapping[str, float], b: Mapping[str, float]) -> bool:
    """Tell whether the criteria put one zone before another."""
    for column, more, least, _ in CRITERIA:
        gain = (a[column] - b[column]) * (1.0 if more else -1.0)
        if abs(gain) > least:
            return gain > 0.0
    return False


def _reason(a: Mapping[str, float], b: Mapping[str, float]) -> str:
    for column, more, least, words in CRITERIA:
        if (a[column] - b[column]) * (1.0 if more else -1.0) > least:
            return words
    return ""


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
