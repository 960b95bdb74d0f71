"""Things of a site that are changed one at a time, both ways, to see what a figure hangs on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gistools.base.errors import InputError, SiteError
from gistools.base.units import show_length, show_rise
from gistools.design.edit_list import Edit
from gistools.design.edits import apply_edits
from gistools.design.trial_player import TRIAL, with_trial_player
from gistools.design.vary import vary
from gistools.hole import HoleModel
from gistools.site.land_cover import feature_names
from gistools.site.model import Site
from gistools.site.players import one_player

#: how far each thing is changed (assumptions): green speed [ft], wind [m/s], carry, height of a mound [m],
#: place of a burn or pond [m]
STIMP_FT, WIND_MS, CARRY_SHARE, RISE_M, MOVED_M = 1.5, 5.0, 0.1, 1.0, 5.0
#: a flag not seen at all widens the aim by so much at most [%] (assumption)
BLIND_PCT = 30.0
#: green speeds no slower and no faster than these are tried [ft] (assumption)
STIMP_LIMITS_FT = 4.0, 16.0


@dataclass(frozen=True)
class Change:
    """One way to change a site: words for it, the site, and player and wind to play with."""

    words: str
    site: Site
    player: str
    wind: str


#: a thing changed: low, high; None for ground that cannot be made
Pair = tuple[Change | None, Change | None]


def in_words(pair: Pair, figures: list[float], written: Callable[[float], str]) -> dict[str, str]:
    """Return what a figure is with a thing low and high: ``low``, ``high`` and ``words`` for both.

    Parameters
    ----------
    pair
        The two changes.
    figures
        The figure with each of them, nan where it cannot be said.
    written
        Writes a figure for people.
    """
    words = "; ".join(
        f"{change.words} {written(figure) if np.isfinite(figure) else 'cannot be said'}"
        for change, figure in zip(pair, figures, strict=True)
        if change is not None
    )
    low, high = ("" if change is None else change.words for change in pair)
    return {"low": low, "high": high, "words": words}


def changes(
    site: Site, model: HoleModel, player: str, wind: str, units: str = "m"
) -> Iterator[tuple[str, Change | None, Change | None]]:
    """Yield each thing with the site in which it is low and the one in which it is high.

    Firmness, green speed, what a blind flag costs, wind along and across play, the player's length, the
    height of each mound of the hole, each bunker of the hole left out, and each burn and pond of the hole
    moved along play. None stands for ground that cannot be made.

    Parameters
    ----------
    site, model
        The site and its hole.
    player, wind
        Who plays, and in which wind; empty leaves out what is theirs.
    units
        Lengths in the words in ``"m"`` or ``"yd"``.
    """
    hole = model.number

    def on(words: str, changed: Site, who: str = player, air: str = wind) -> Change:
        return Change(words, changed, who, air)

    yield "firmness", on("soft", vary(site, firmness="soft")), on("firm", vary(site, firmness="firm"))
    slow, fast = np.clip([model.stimp_ft - STIMP_FT, model.stimp_ft + STIMP_FT], *STIMP_LIMITS_FT).tolist()
    speeds = [on(f"{v:g} ft", vary(site, stimp_ft=v)) for v in (slow, fast)]
    yield "green speed", speeds[0], speeds[1]
    blind = "blind_dispersion_increase_pct"
    costs = [on(f"{v:g} %", site.with_settings({blind: v})) for v in (0.0, BLIND_PCT)]
    yield "aim widened by a blind flag", costs[0], costs[1]
    along = model.tees_by_length[0].line
    (x0, y0), (x1, y1) = along[0][:2], along[-1][:2]
    bearing = float(np.degrees(np.arctan2(x1 - x0, y1 - y0)) % 360)
    along_and_across = (("wind along play", (0.0, 180.0)), ("wind across play", (270.0, 90.0)))
    for factor, turns in along_and_across if wind else ():
        words = ("against", "behind") if turns[0] == 0.0 else ("from the left", "from the right")
        winds = []
        for word, turn in zip(words, turns, strict=True):
            blowing = vary(site, wind=("trial wind", WIND_MS, (bearing + turn) % 360))
            winds.append(on(f"{WIND_MS:g} m/s {word}", blowing, air="trial wind"))
        yield factor, winds[0], winds[1]
    if player:
        carry = one_player(site, player).clubs[0].carry_m
        shares = (1 - CARRY_SHARE, 1 + CARRY_SHARE)
        players = [with_trial_player(site, player, driver_carry_m=share * carry) for share in shares]
        lengths = [
            on(f"{100 * (share - 1):+.0f} %", other, TRIAL)
            for share, other in zip(shares, players, strict=True)
        ]
        yield "length of the player", lengths[0], lengths[1]
    for name in _names_on(site, "mounds", hole):
        low, high = (_made(site, raise_m={name: rise}) for rise in (-RISE_M, RISE_M))
        yield (
            f"height of {name}",
            None if low is None else on(show_rise(-RISE_M, units), low),
            None if high is None else on(show_rise(RISE_M, units), high),
        )
    for name in _names_on(site, "bunkers", hole):
        without = _made(site, remove=[name])
        yield f"bunker {name}", None if without is None else on("left out", without), None
    for name in _crossed(site, model):
        ends = []
        for metres, way in ((-MOVED_M, "towards the tee"), (MOVED_M, "towards the green")):
            moved = _edited(site, name, hole, metres)
            ends.append(
                None
                if moved is None
                else on(f"{show_length(MOVED_M, units, int(units != 'm'))} {way}", moved)
            )
        yield f"place of {name}", ends[0], ends[1]


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


def _crossed(site: Site, model: HoleModel) -> list[str]:
    """Return the names of burns and ponds within the ground of a hole."""
    names = []
    box = shapely.box(*site.hole_bounds(model.number))
    for layer in ("burns", "water"):
        table = site.layer(layer)
        names += [
            n for n, g in zip(feature_names(site)[layer], table.geometry, strict=True) if g.intersects(box)
        ]
    return names


def _edited(site: Site, name: str, hole: int, along_m: float) -> Site | None:
    """Return the site with a feature moved along play, None where that ground cannot be made."""
    try:
        return apply_edits(site, [Edit("move", name, hole=hole, along_m=along_m)])
    except (InputError, SiteError):
        return None
