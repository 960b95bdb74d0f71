"""What the lead of one landing zone over another hangs on: one thing changed at a time, both ways.

A lead that turns with the firmness of the turf, or with an assumption, is no lead to build on. Every
change plays the hole out with the same samples, so that differences are not those of chance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.base.names import match_one
from gistools.base.progress import on_progress, tick
from gistools.design.one_at_a_time import Change, Pair, changes, in_words
from gistools.design.zone_totals import asked_of, on_coarse_mesh, zone_totals
from gistools.site.model import Site

COARSE_M = 5.0
COLUMNS = [
    "hole", "tee", "player", "wind", "pin", "zone", "other", "factor", "low", "high", "lead_strokes",
    "lead_low_strokes", "lead_high_strokes", "spread_strokes", "turns", "reading",
]  # fmt: skip


def sensitivity(
    site: Site,
    *,
    pin: str,
    zone: str = "",
    other: str = "",
    hole: int | None = None,
    tee: str = "",
    player: str = "scratch man",
    wind: str = "calm",
    coarse_m: float = COARSE_M,
    units: str = "m",
    progress: Callable[[float, str], None] | None = None,
) -> pd.DataFrame:
    """Find what the lead of a landing zone over another hangs on, for a hole location.

    Changed one at a time, both ways: :func:`gistools.design.one_at_a_time.changes`.

    Parameters
    ----------
    site
        An open site.
    pin
        The hole location.
    zone, other
        The two zones; by default the first and the second for that hole location.
    hole, tee, player, wind
        Of whom and from where; the longest tee by default.
    coarse_m
        Side of the cells on which the hole is played out; wider than those of the site saves time.
    units
        Lengths of the words in ``"m"`` or ``"yd"``.
    progress
        Called with ``(share, text)``; raising in it stops.

    Returns
    -------
    DataFrame
        A row for each thing changed, greatest effect first: the lead [strokes] as it is and with the thing
        low and high, nan where it cannot be made or a zone is out of reach, whether the order turns beyond
        the setting `level_band_strokes`, and a reading.

    Raises
    ------
    InputError
        If hole, tee, player, wind, hole location or zone is unknown, or fewer than two zones are in reach.
    """
    coarse = on_coarse_mesh(site, coarse_m)
    model, tee, player, wind = asked_of(coarse, hole, tee, player, wind)
    with on_progress(progress):
        tick(0.0, "as it is")
        by_pin = zone_totals(coarse, model.number, tee, player, wind)
        pin = match_one(pin, by_pin, "hole location")
        zone, other = _two_zones(by_pin[pin], zone, other)
        band = float(model.setting("level_band_strokes"))

        def lead(change: Change) -> float:
            try:
                totals = zone_totals(change.site, model.number, tee, change.player, change.wind)[pin]
            except (InputError, SiteError):  # that ground cannot be made or played
                return float("nan")
            return totals.get(other, np.nan) - totals.get(zone, np.nan)

        present = by_pin[pin][other] - by_pin[pin][zone]
        pairs = list(changes(coarse, model, player, wind, units))
        rows = []
        for number, (factor, low, high) in enumerate(pairs):
            tick((number + 0.5) / (len(pairs) + 1), factor)
            leads = [float("nan") if c is None else lead(c) for c in (low, high)]
            rows.append(_row(factor, (low, high), present, leads, band, other))
    key = {"hole": model.number, "tee": tee, "player": player, "wind": wind, "pin": pin}
    key |= {"zone": zone, "other": other, "lead_strokes": present}
    table = pd.DataFrame([key | row for row in rows], columns=COLUMNS)
    return table.sort_values("spread_strokes", ascending=False, ignore_index=True)


def lead_sentence(table: pd.DataFrame, band: float) -> str:
    """Return whose lead the table of :func:`sensitivity` is about, and whether it is one."""
    if not len(table):
        return "Nothing could be changed."
    row = table.iloc[0]
    who = f"{row['player']}, {row['tee']} tee, {row['wind']}, flag at {row['pin']}"
    level = ", which is level" if abs(row["lead_strokes"]) <= band else ""
    return f"{who}: {row['zone']} leads {row['other']} by {row['lead_strokes']:+.2f} strokes{level}. Changed:"


def _two_zones(totals: dict[str, float], zone: str, other: str) -> tuple[str, str]:
    """Return the zones that are meant: those named, else the best ones."""
    ranked = sorted(totals, key=lambda name: totals[name])
    if len(ranked) < 2:
        raise InputError("fewer than two landing zones are in reach: there is no order that could turn")
    zone = match_one(zone, ranked, "landing zone") if zone else ranked[0]
    other = match_one(other, ranked, "landing zone") if other else next(n for n in ranked if n != zone)
    if zone == other:
        raise InputError(f"zone and other are both {zone!r}; name two landing zones")
    return zone, other


def _row(
    factor: str,
    ends: Pair,
    present: float,
    leads: list[float],
    band: float,
    other: str,
) -> dict[str, object]:
    """Return the row of a thing that was changed."""
    known = [v for v in (present, *leads) if np.isfinite(v)]
    turned = [
        c for c, v in zip(ends, leads, strict=True) if c is not None and v * present < 0 and abs(v) > band
    ]
    said = in_words(ends, leads, "{:+.2f}".format)
    turns = bool(turned) and abs(present) > band
    end = f"; {other} is first then" if turns else ""
    return {
        "factor": factor,
        "low": said["low"],
        "high": said["high"],
        "lead_low_strokes": leads[0],
        "lead_high_strokes": leads[1],
        "spread_strokes": max(known) - min(known),
        "turns": turns,
        "reading": f"{factor}: {said['words']}{end}",
    }
