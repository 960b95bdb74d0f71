"""Players and winds of a site: the built-in ones, and those of its tables ``players`` and ``winds``."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from gistools.base.errors import InputError, SiteError
from gistools.base.names import match_names, match_one
from gistools.compute.ballistics.air import CALM, Wind, number
from gistools.compute.ballistics.players import DEFAULT_PLAYERS, Player, built_in, built_in_names, skill_for

if TYPE_CHECKING:
    from gistools.site.model import Site


def _present(value: Any) -> bool:
    """Tell whether a cell of a table holds something."""
    return value is not None and value == value and value != ""


def player_from(row: Mapping[str, Any]) -> Player:
    """Return the player of a row of the table ``players``: a built-in one, scaled and renamed.

    Raises
    ------
    SiteError
        Naming the player and the field that is missing or cannot be.
    """
    name = row.get("player")
    if not _present(name):
        raise SiteError("table players: a row has no name in the field `player`; give it one")
    where = f"table players, player {name!r}"
    base_name = str(row["based_on"]) if _present(row.get("based_on")) else "scratch man"
    if base_name not in built_in_names():
        raise SiteError(
            f"{where}: based_on is {base_name!r}; it can be one of the built-in players:"
            f" {', '.join(built_in_names())}"
        )
    base = built_in(base_name)
    values = {}
    bounds = {
        "driver_carry_m": (50, 320, "m"),
        "handicap": (-6, 54, ""),
        "direction_sd_deg": (0, 20, "degrees"),
        "distance_sd_pct": (0, 40, "%"),
        "eye_m": (0.9, 2.2, "m"),
    }
    for field, (low, high, unit) in bounds.items():
        if _present(row.get(field)):
            try:
                values[field] = number(f"{where}: {field}", row[field], low, high, unit)
            except InputError as wrong:
                raise SiteError(str(wrong)) from None
    player = dataclasses.replace(base, name=str(name), eye_m=values.get("eye_m", base.eye_m))
    if "handicap" in values:
        player = dataclasses.replace(player, skill=skill_for(values["handicap"]))
    if "driver_carry_m" in values:
        player = player.scaled(str(name), values["driver_carry_m"] / base.clubs[0].carry_m)
    driver = player.dispersion(player.clubs[0], "tee")
    direction = values.get("direction_sd_deg", driver.direction_sd_deg) / driver.direction_sd_deg
    carry = values.get("distance_sd_pct", driver.carry_sd_pct) / driver.carry_sd_pct
    return dataclasses.replace(player, skill=player.skill.scaled(direction, carry))


def wind_from(row: Mapping[str, Any]) -> Wind:
    """Return the wind of a row of the table ``winds``.

    Raises
    ------
    SiteError
        Naming the wind and the field that is missing or cannot be.
    """
    name = row.get("wind")
    if not _present(name):
        raise SiteError("table winds: a row has no name in the field `wind`; give it one")
    for field in ("speed_ms", "from_deg"):
        if not _present(row.get(field)):
            raise SiteError(f"table winds, wind {name!r}: {field} is missing")
    try:
        return Wind(str(name), row["speed_ms"], row["from_deg"])
    except InputError as wrong:
        raise SiteError(f"table winds: {wrong}") from None


def players_of(site: Site | None, names: Sequence[str] | str | None = None) -> tuple[Player, ...]:
    """Return the players a site is studied for.

    Parameters
    ----------
    site
        The site, or None for the built-in players alone.
    names
        Which ones, in any case, a unique beginning will do; without it scratch man, bogey man and those
        of the site's table.

    Raises
    ------
    SiteError
        If a row of the table cannot be used.
    InputError
        If a name is neither built in nor in the table, or may be several.
    """
    of_site = {p.name: p for p in map(player_from, _records(site, "players"))}
    known = [*built_in_names(), *of_site]
    chosen = [*DEFAULT_PLAYERS, *of_site] if names is None else match_names(names, known, "player")
    return tuple(of_site[name] if name in of_site else built_in(name) for name in dict.fromkeys(chosen))


def winds_of(site: Site | None, names: Sequence[str] | str | None = None) -> tuple[Wind, ...]:
    """Return the winds a site is studied in: calm and those of its table, or the ones named.

    Those that the table calls prevailing come first, then calm, then the others.

    Raises
    ------
    SiteError
        If a row of the table cannot be used.
    InputError
        If a name is neither ``"calm"`` nor in the table, or may be several.
    """
    rows = _records(site, "winds")
    first = [row for row in rows if _present(row.get("prevailing")) and row["prevailing"]]
    of_site = {w.name: w for w in map(wind_from, first)}
    of_site |= {CALM.name: CALM} | {w.name: w for w in map(wind_from, rows)}
    chosen = of_site if names is None else match_names(names, of_site, "wind")
    return tuple(of_site[name] for name in chosen)


def one_player(site: Site | None, name: str) -> Player:
    """Return the one player that is named.

    Raises
    ------
    SiteError
        If a row of the table cannot be used.
    InputError
        If the name is unknown, may be several, or is several names.
    """
    players = players_of(site, name)
    return players[[p.name for p in players].index(match_one(name, [p.name for p in players], "player"))]


def one_wind(site: Site | None, name: str) -> Wind:
    """Return the one wind that is named; see :func:`one_player`."""
    winds = winds_of(site, name)
    return winds[[w.name for w in winds].index(match_one(name, [w.name for w in winds], "wind"))]


def _records(site: Site | None, table: str) -> list[dict[str, Any]]:
    return [] if site is None else site.layer(table).to_dict("records")
