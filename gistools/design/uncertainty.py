"""How sure expected scores and leads are, given what nobody knows of a player, of turf and of sight.

Each unknown is set low and high while all else stays; the hole is played out each time with the same samples,
so that differences are not those of chance. The band of a total, or of a lead, is the root of the sum of the
squares of the greatest change by each unknown and of the error of computing: unknowns are taken to be
independent of one another, and each to lie anywhere between its bounds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.base.progress import on_progress, tick
from gistools.design.trial_player import TRIAL, with_trial_player
from gistools.design.vary import vary
from gistools.design.zone_totals import asked_of, on_coarse_mesh, zone_totals
from gistools.site.model import Site
from gistools.site.players import one_player

#: bounds of what is not known (assumptions): handicap, spread of a player's shots as a share, green speed
#: [ft], and the effects of a blind flag [%] and of a degree of slope under the feet [%]
HANDICAP, SPREAD_SHARE, STIMP_FT = 2.0, 0.10, 0.5
BEST = -6.0  # handicap of the best player there is a skill for
BLIND_PCT, SLOPE_PCT = (0.0, 20.0), (0.0, 6.0)
#: firmness is known to half a class (assumption): so much of the change by a whole one counts
FIRMNESS_SHARE = 0.5
#: error of computing: greatest difference of eight leads on the sample's hole 1 from those of 40,000 plays
#: (computed)
COMPUTING_STROKES = 0.025
COARSE_M = 5.0
GROUPS = ("player", "turf", "sight")
COLUMNS = [
    "hole", "tee", "player", "wind", "pin", "zone", "other", "total_strokes", "total_band_strokes",
    "lead_strokes", "band_strokes", "player_band_strokes", "turf_band_strokes", "sight_band_strokes", "level",
    "reading",
]  # fmt: skip


@dataclass(frozen=True)
class Unknown:
    """Something not known: group, the sites and players with it low and high, and how much of it counts."""

    words: str
    group: str
    ends: tuple[tuple[Site, str], ...]
    share: float = 1.0


def uncertainty(
    site: Site,
    *,
    hole: int | None = None,
    tee: str = "",
    player: str = "scratch man",
    wind: str = "calm",
    coarse_m: float = COARSE_M,
    progress: Callable[[float, str], None] | None = None,
) -> pd.DataFrame:
    """Find the bands of expected scores and of the leads of landing zones, for every hole location of a hole.

    Unknowns: the player's handicap and spread of direction and of carry, firmness, green speed, and what a
    blind flag and a slope under the feet cost.

    Parameters
    ----------
    site
        An open site.
    hole, tee, player, wind
        Of whom and from where; the longest tee by default.
    coarse_m
        Side of the cells on which the hole is played out; wider than those of the site saves time.
    progress
        Called with ``(share, text)``; raising in it stops.

    Returns
    -------
    DataFrame
        A row for each hole location and zone: its expected score with its band, its lead over the best of the
        others (negative: it is behind) with its band and what players, turf and sight have in that, whether
        the lead is within its band (level), and a reading. All in strokes.

    Raises
    ------
    InputError
        If hole, tee, player or wind is unknown, or fewer than two zones are in reach.
    """
    coarse = on_coarse_mesh(site, coarse_m)
    model, tee, player, wind = asked_of(coarse, hole, tee, player, wind)
    with on_progress(progress):
        tick(0.0, "as it is")
        present = zone_totals(coarse, model.number, tee, player, wind)
        if min(len(by_zone) for by_zone in present.values()) < 2:
            raise InputError("fewer than two landing zones are in reach: there is no lead to be sure of")
        unknowns = list(_unknowns(coarse, float(model.stimp_ft), player))
        changed = []
        for number, unknown in enumerate(unknowns):
            tick((number + 0.5) / (len(unknowns) + 1), unknown.words)
            played = [_totals(end, model.number, tee, who, wind) for end, who in unknown.ends]
            changed.append((unknown, [totals for totals in played if totals is not None]))
    key = {"hole": model.number, "tee": tee, "player": player, "wind": wind}
    rows = [
        key | {"pin": pin} | _row(pin, zone, present, changed)
        for pin, by_zone in present.items()
        for zone in sorted(by_zone, key=lambda name: by_zone[name])
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def largest_band(table: pd.DataFrame) -> float:
    """Return the greatest band of the leads of the first zones: within it no order on the hole is sure."""
    first = table.groupby("pin")["total_strokes"].idxmin()
    return float(table.loc[first, "band_strokes"].max())


Totals = dict[str, dict[str, float]]


def _totals(site: Site, hole: int, tee: str, player: str, wind: str) -> Totals | None:
    """Return what zones cost, None where that cannot be played."""
    try:
        return zone_totals(site, hole, tee, player, wind)
    except (InputError, SiteError):
        return None


def _unknowns(site: Site, stimp_ft: float, player: str) -> Iterator[Unknown]:
    """Yield what is not known."""

    def pair(words: str, group: str, low: Site, high: Site, who: str = player, share: float = 1.0) -> Unknown:
        return Unknown(words, group, ((low, who), (high, who)), share)

    for words, better, worse in _players(site, player):
        yield pair(words, "player", better, worse, TRIAL)
    yield pair("firmness", "turf", vary(site, firmness="soft"), vary(site, firmness="firm"),
               share=FIRMNESS_SHARE)  # fmt: skip
    slow, fast = (float(np.clip(stimp_ft + off, 4.0, 16.0)) for off in (-STIMP_FT, STIMP_FT))
    yield pair("green speed", "turf", vary(site, stimp_ft=slow), vary(site, stimp_ft=fast))
    for words, name, bounds in (
        ("aim at a blind flag", "blind_dispersion_increase_pct", BLIND_PCT),
        ("aim from a slope", "slope_dispersion_increase_pct", SLOPE_PCT),
    ):
        low, high = (site.with_settings({name: value}) for value in bounds)
        yield pair(words, "sight", low, high)


def _players(site: Site, player: str) -> Iterator[tuple[str, Site, Site]]:
    """Yield the site with a player who is a little better, and a little worse."""
    who = one_player(site, player)
    driver = who.dispersion(who.clubs[0], "tee")

    def pair(field: str, values: Iterable[float]) -> tuple[Site, Site]:
        better, worse = (with_trial_player(site, player, **{field: value}) for value in values)
        return better, worse

    shares = 1.0 - SPREAD_SHARE, 1.0 + SPREAD_SHARE
    yield (
        "spread of direction",
        *pair("direction_sd_deg", (share * driver.direction_sd_deg for share in shares)),
    )
    yield "spread of carry", *pair("distance_sd_pct", (share * driver.carry_sd_pct for share in shares))
    handicap = who.skill.handicap
    yield "handicap", *pair("handicap", (max(handicap + off, BEST) for off in (-HANDICAP, HANDICAP)))


def _row(
    pin: str, zone: str, present: Totals, changed: list[tuple[Unknown, list[Totals]]]
) -> dict[str, object]:
    """Return the row of a zone for a hole location."""
    others = {name: total for name, total in present[pin].items() if name != zone}
    other = min(others, key=lambda name: others[name])
    total = present[pin][zone]
    lead = others[other] - total
    total_parts, parts = [COMPUTING_STROKES], dict.fromkeys(GROUPS, 0.0)
    for unknown, played in changed:
        known = [t[pin] for t in played if zone in t.get(pin, {}) and other in t[pin]]
        total_parts.append(unknown.share * max((abs(t[zone] - total) for t in known), default=0.0))
        moved = unknown.share * max((abs(t[other] - t[zone] - lead) for t in known), default=0.0)
        parts[unknown.group] = float(np.hypot(parts[unknown.group], moved))
    band = float(np.sqrt(COMPUTING_STROKES**2 + sum(part**2 for part in parts.values())))
    level = abs(lead) <= band
    ahead = f"level with {other}" if level else f"{'ahead of' if lead > 0 else 'behind'} {other}"
    return {
        "zone": zone,
        "other": other,
        "total_strokes": total,
        "total_band_strokes": float(np.sqrt(sum(part**2 for part in total_parts))),
        "lead_strokes": lead,
        "band_strokes": band,
        **{f"{group}_band_strokes": parts[group] for group in GROUPS},
        "level": level,
        "reading": f"flag at {pin}: {zone} {ahead}, {lead:+.2f} +- {band:.2f} strokes (player"
        f" {parts['player']:.2f}, turf {parts['turf']:.2f}, sight {parts['sight']:.2f})",
    }
