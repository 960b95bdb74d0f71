"""Rows of the ranking of landing zones, and what they say in words.

Two zones are a *real choice* if their totals are within 0.10 strokes (assumption). The *go-for line* is the
zone with the fewest strokes remaining, if the total ranks another first that leaves at least 0.01 more.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.units import one_in
from gistools.compute.decision import levels
from gistools.compute.decision.ranking import Choice, risk_row, totals_by_pin
from gistools.compute.decision.value_iteration import ValueFunction, bearing_of

NEAR_STROKES = 0.10  # zones whose totals are no farther apart are a real choice (assumption)


def tee_shots(share: float) -> str:
    """Write a share (0 to 1) for people: ``"1 in 6 tee shots"``, ``"46 % of tee shots"``."""
    if share <= 0.0:
        return "no tee shot"
    words = one_in(share)
    return f"{words} of tee shots" if words.endswith("%") else f"{words} tee shots"


def position_rows(
    s: ValueFunction,
    choices: list[Choice],
    zone_names: list[str],
    band: float,
    order: Mapping[tuple[str, str], tuple[int, str]],
) -> list[dict[str, Any]]:
    """Return the ranked zones for each pin and read the ranks: one row a zone and pin.

    Totals nearer to each other than ``band`` [strokes] are read as level. ``order`` gives each pin and zone
    its rank, and what puts it before the next of those it is level with.
    """
    rows: list[dict[str, Any]] = []
    turned = levels.turns(totals_by_pin(choices), band)
    for p in range(len(s.pins)):
        placed = {c.zone: order[s.pins[p], zone_names[c.zone]] for c in choices if c.pin == p}
        here = sorted((c for c in choices if c.pin == p), key=lambda c: placed[c.zone][0])
        by_remaining = sorted(here, key=lambda c: c.remaining)
        for c in here:
            rank, decided_by = placed[c.zone]
            remaining_rank = by_remaining.index(c) + 1
            others = [o.total for o in here if o is not c]
            gain = min(others) - c.total if others else float("nan")
            shot = s.shot_table.shots[c.shot]
            rows.append(
                {
                    "zone": zone_names[c.zone],
                    "pin": s.pins[p],
                    "rank": rank,
                    "remaining_rank": remaining_rank,
                    "total_strokes": c.total,
                    "remaining_strokes": c.remaining,
                    "gain_strokes": gain,
                    "club": shot.label,
                    "aim_deg": bearing_of(c.heading),
                    "in_zone_pct": 100 * c.in_zone,
                    "run_through_pct": 100 * c.through,
                    **risk_row(c),
                    "order_changes": turned[p],
                    "reading": _reading(
                        s.pins[p], zone_names, c, here, by_remaining, rank, remaining_rank, band, decided_by
                    ),
                    "x": c.x,
                    "y": c.y,
                }
            )
    return rows


def _reading(
    pin: str,
    names: list[str],
    c: Choice,
    here: list[Choice],
    by_remaining: list[Choice],
    rank: int,
    remaining_rank: int,
    band: float,
    decided_by: str = "",
) -> str:
    words = f"For the {pin} pin the {names[c.zone]} zone"
    danger = (
        f"{tee_shots(c.hazards[0][1])} finds {c.hazards[0][0]}"
        if c.hazards and c.hazards[0][1] >= 0.01
        else ""
    )
    if c.out >= 0.01 and (not c.hazards or c.out > c.hazards[0][1]):
        danger = f"{tee_shots(c.out)} goes out of bounds"
    if len(here) == 1:
        return f"{words} is the only one in reach." + (
            f" From there {c.remaining:.2f} strokes are left; {danger}." if danger else ""
        )
    end = f"; {danger}." if danger else "."
    gain, best = here[1].total - c.total, by_remaining[0]
    level = gain < band
    other = names[here[1].zone] + (f" ({decided_by})" if decided_by else "")
    if rank == 1 and remaining_rank == 1:
        wins = f"is in all level with {other}" if level else f"wins by {gain:.2f} strokes"
        return f"{words} is first choice: it leaves the least and {wins}{end}"
    if rank == 1:
        less = c.remaining - best.remaining
        though = f"leaves {less:.2f} less" if less >= band else "leaves as little"
        by = f", in all level with {other}" if level else f" by {gain:.2f} strokes"
        return f"{words} is first choice{by}, though {names[best.zone]} {though}{end}"
    cost, first = c.total - min(o.total for o in here), names[here[0].zone]
    buys = here[0].remaining - c.remaining
    if buys >= band:
        costs = "in all it is level" if cost < band else f"in all it costs {cost:.2f}"
        return (
            f"{words} is worth {buys:.2f} strokes from where it finishes, but"
            f" {danger or 'it is held less often'}; {costs}."
        )
    more = f"leaves {-buys:.2f} strokes more than {first}" if buys <= -band else f"leaves as much as {first}"
    return f"{words} {more} and " + (
        "is in all level with it." if cost < band else f"costs {cost:.2f} in all."
    )


def hole_row(
    s: ValueFunction, choices: list[Choice], zone_names: list[str], from_tee: NDArray[np.float64], band: float
) -> dict[str, Any]:
    """Read what a tee asks of a player in a wind.

    Real choices, spread between pins, price of the go-for line.

    ``from_tee (pins,)`` are the strokes remaining from the tee by :meth:`ValueFunction.values_at`, whatever
    the zone: the hole's best. Totals nearer to each other than ``band`` [strokes] are level.
    """
    best: dict[int, Choice] = {}
    real, bold_lines = [], []
    for p in range(len(s.pins)):
        here = sorted((c for c in choices if c.pin == p), key=lambda c: c.total)
        if not here:
            continue
        best[p] = here[0]
        real.append(sum(c.total - here[0].total <= NEAR_STROKES for c in here))
        bold = min(here, key=lambda c: c.remaining)
        if here[0].remaining - bold.remaining >= band:
            bold_lines.append((bold.total - here[0].total, here[0].remaining - bold.remaining, bold, p))
    if not best:
        return {"reading": "no landing zone is in reach of this tee", "order_depends_on_pin": False}
    totals = [c.total for c in best.values()]
    totals_of = totals_by_pin(choices)
    firsts = {
        s.pins[p]: " = ".join(zone_names[z] for z in sorted(t) if t[z] - min(t.values()) < band)
        for p, t in totals_of.items()
    }
    price = min(bold_lines, key=lambda h: h[0]) if bold_lines else None
    reached = len({c.zone for c in choices})
    choice = (
        f"{max(real)} of {reached} landing zones in reach are within {NEAR_STROKES:.2f} strokes of the best"
    )
    parts = [choice if reached > 1 else "one landing zone is in reach"]
    if len(set(firsts.values())) > 1:
        parts.append("first choice by pin: " + ", ".join(f"{p} {z}" for p, z in firsts.items()))
    else:
        only = next(iter(firsts.values()))
        parts.append(f"{only} {'are level' if ' = ' in only else 'is first choice'} for every pin")
    parts.append(f"pins differ by {max(totals) - min(totals):.2f} strokes")
    if price:
        cost, buys, bold, p = price
        risk = f", and {tee_shots(bold.hazards[0][1])} finds {bold.hazards[0][0]}" if bold.hazards else ""
        parts.append(
            f"the go-for line to {zone_names[bold.zone]} buys {buys:.2f} strokes for the {s.pins[p]} pin"
            f" and costs {cost:.2f}{risk}"
        )
    return {
        "real_choices_count": max(real),
        "zones_in_reach_count": len({c.zone for c in choices}),
        "pin_spread_strokes": max(totals) - min(totals),
        "best_strokes": float(np.nanmin(from_tee)),
        "high_risk_zone": zone_names[price[2].zone] if price else "",
        "risk_cost_strokes": price[0] if price else float("nan"),
        "risk_gain_strokes": price[1] if price else float("nan"),
        "order_depends_on_pin": levels.any_turn(totals_of, band),
        "reading": "; ".join(parts) + ".",
    }
