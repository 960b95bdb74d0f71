"""Which totals are level, in what order level zones stand, and where the order turns with the hole location.

Totals nearer to each other than a band are *level*: the computing and the model player are no surer than
that. Zones level with the first are ordered by criteria that a designer reads off the ground, one after the
other; the first that tells two zones apart decides.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any

#: criteria of level zones in their order: column, whether more is better, least difference that counts, words
#: (their order and the least differences are assumptions)
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
            if _deciding(figures[k], figures[best]):
                best = k
        ordered.append(best)
        first.remove(best)
    reasons = [""] * len(totals)
    for k, following in itertools.pairwise(ordered):
        reasons[k] = _deciding(figures[k], figures[following])
    return ordered + rest, level, reasons


def _deciding(a: Mapping[str, float], b: Mapping[str, float]) -> str:
    """Return the words of the first criterion that tells two zones apart, if it puts ``a`` before ``b``."""
    for column, more, least, words in CRITERIA:
        gain = (a[column] - b[column]) * (1.0 if more else -1.0)
        if abs(gain) > least:
            return words if gain > 0.0 else ""
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
