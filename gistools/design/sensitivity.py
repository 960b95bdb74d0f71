"""What the lead of one landing zone over another hangs on: one thing changed at a time, both ways.

A lead that turns with the firmness of the turf, or with an assumption, is no lead to build on. Every
change plays the hole out with the same samples, so that differences are not those of chance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.base.names import match_one
from gistools.base.progress import on_progress, tick
from gistools.design.trial_player import TRIAL, with_trial_player
from gistools.design.vary import vary
from gistools.design.zone_totals import asked_of, on_coarse_mesh, zone_totals
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import one_player

#: how far each thing is changed (assumptions): green speed [ft], wind [m/s], carry, height of a mound [m]
STIMP_FT, WIND_MS, CARRY_SHARE, RISE_M = 1.5, 5.0, 0.1, 1.0
#: a flag not seen at all widens the aim by so much at most [%] (assumption)
BLIND_PCT = 30.0
COARSE_M = 5.0
COLUMNS = [
    "hole", "tee", "player", "wind", "pin", "zone", "other", "factor", "low", "high", "lead_strokes",
    "lead_low_strokes", "lead_high_strokes", "spread_strokes", "turns", "reading",
]  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One way to change a site: words for it, the site, and player and wind to play with."""

    words: str
    site: Site
    player: str
    wind: str


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
    progress: Callable[[float, str], None] | None = None,
) -> pd.DataFrame:
    """Find what the lead of a landing zone over another hangs on, for a hole location.

    Changed one at a time, both ways: firmness, green speed, what a blind flag costs, wind along and across
    play, the player's length, the height of each mound of the hole, and each bunker of the hole left out.

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
        pairs = list(_changes(coarse, model, player, wind))
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


def _changes(
    site: Site, model: HoleModel, player: str, wind: str
) -> Iterator[tuple[str, Change | None, Change | None]]:
    """Yield each thing with the site in which it is low and the one in which it is high."""
    hole = model.number

    def on(words: str, changed: Site, who: str = player, air: str = wind) -> Change:
        return Change(words, changed, who, air)

    yield "firmness", on("soft", vary(site, firmness="soft")), on("firm", vary(site, firmness="firm"))
    slow, fast = model.stimp_ft - STIMP_FT, model.stimp_ft + STIMP_FT
    speeds = [on(f"{v:g} ft", vary(site, stimp_ft=float(np.clip(v, 4.0, 16.0)))) for v in (slow, fast)]
    yield "green speed", speeds[0], speeds[1]
    blind = "blind_dispersion_increase_pct"
    costs = [on(f"{v:g} %", site.with_settings({blind: v})) for v in (0.0, BLIND_PCT)]
    yield "aim widened by a blind flag", costs[0], costs[1]
    along = model.tees_by_length[0].line
    (x0, y0), (x1, y1) = along[0][:2], along[-1][:2]
    bearing = float(np.degrees(np.arctan2(x1 - x0, y1 - y0)) % 360)
    for factor, turns in (("wind along play", (0.0, 180.0)), ("wind across play", (270.0, 90.0))):
        words = ("against", "behind") if turns[0] == 0.0 else ("from the left", "from the right")
        winds = []
        for word, turn in zip(words, turns, strict=True):
            blowing = vary(site, wind=("trial wind", WIND_MS, (bearing + turn) % 360))
            winds.append(on(f"{WIND_MS:g} m/s {word}", blowing, air="trial wind"))
        yield factor, winds[0], winds[1]
    carry = one_player(site, player).clubs[0].carry_m
    lengths = [
        on(
            f"{100 * share:+.0f} %",
            with_trial_player(site, player, driver_carry_m=(1 + share) * carry),
            TRIAL,
        )
        for share in (-CARRY_SHARE, CARRY_SHARE)
    ]
    yield "length of the player", lengths[0], lengths[1]
    for name in _names_on(site, "mounds", hole):
        low, high = (_made(site, raise_m={name: rise}) for rise in (-RISE_M, RISE_M))
        yield (
            f"height of {name}",
            None if low is None else on(f"{-RISE_M:+g} m", low),
            None if high is None else on(f"{RISE_M:+g} m", high),
        )
    for name in _names_on(site, "bunkers", hole):
        without = _made(site, remove=[name])
        yield f"bunker {name}", None if without is None else on("left out", without), None


def _made(site: Site, **change: Any) -> Site | None:
    """Return a changed site, None where that ground cannot be made."""
    try:
        return vary(site, **change)
    except (InputError, SiteError):
        return None


def _names_on(site: Site, layer: str, hole: int) -> list[str]:
    """Return the names of features of a hole, each once."""
    table = site.layer(layer, hole)
    names = [str(n) for n in table["name"] if isinstance(n, str) and n]
    return [n for n in dict.fromkeys(names) if names.count(n) == 1]


def _row(
    factor: str,
    changes: tuple[Change | None, Change | None],
    present: float,
    leads: list[float],
    band: float,
    other: str,
) -> dict[str, object]:
    """Return the row of a thing that was changed."""
    known = [v for v in (present, *leads) if np.isfinite(v)]
    turned = [
        c for c, v in zip(changes, leads, strict=True) if c is not None and v * present < 0 and abs(v) > band
    ]
    words = "; ".join(
        f"{c.words} {v:+.2f}" if np.isfinite(v) else f"{c.words} cannot be said"
        for c, v in zip(changes, leads, strict=True)
        if c is not None
    )
    turns = bool(turned) and abs(present) > band
    end = f"; {other} is first then" if turns else ""
    return {
        "factor": factor,
        "low": changes[0].words if changes[0] else "",
        "high": changes[1].words if changes[1] else "",
        "lead_low_strokes": leads[0],
        "lead_high_strokes": leads[1],
        "spread_strokes": max(known) - min(known),
        "turns": turns,
        "reading": f"{factor}: {words}{end}",
    }
