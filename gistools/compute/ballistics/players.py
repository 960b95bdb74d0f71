"""Players and winds: who is playing, in what.

Built-in players follow the governing bodies' model players (course rating: a scratch man's tee shot is 250 yd, a
bogey man's 200 yd, women 210 and 150 yd, of which 20 yd roll) with a full bag each; numbers and sources in
``data/players.csv``, ``data/bags.csv``, ``data/spread.csv`` and ``data/lies.csv``. A site's own tables ``players``
and ``winds`` add to them or replace them by name.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError, SiteError
from gistools.base.units import YARD_M
from gistools.compute.ballistics.air import CALM, Wind, number
from gistools.compute.ballistics.clubs import Club, club_for, rows_of, tour_club
from gistools.compute.ballistics.dispersion import Spread

SHORT_M = 50 * YARD_M  # shots below this carry have the spread of short ones, reference sheet 3
BLEND_M = 30 * YARD_M  # above it the spread goes over to that of full shots (assumption)
DEFAULT_PLAYERS = ("scratch man", "bogey man")

LIES: dict[int, str] = {
    Kind.TEE: "tee",
    Kind.FAIRWAY: "fairway",
    Kind.GREEN: "fairway",
    Kind.ROUGH: "rough",
    Kind.PATH: "rough",
    Kind.OUT: "rough",
    Kind.WATER: "rough",
    Kind.SAND: "sand",
    Kind.TREES: "recovery",
    Kind.OFF_MAP: "rough",
}


@functools.cache
def lies() -> dict[str, dict[str, Any]]:
    """What each lie does: factor on distance, factor on spread (None: by player), families of clubs it allows."""
    return {
        row["lie"]: {
            "distance_factor": float(row["distance_factor"]),
            "spread_factor": float(row["spread_factor"]) if row["spread_factor"] else None,
            "families": tuple(row["families"].split()),
        }
        for row in rows_of("lies")
    }


def lie_rules(lie: str) -> dict[str, Any]:
    """Return what a lie does.

    Raises
    ------
    InputError
        If there is no such lie.
    """
    if lie not in lies():
        raise InputError(f"there is no lie {lie!r}; the lies are: {', '.join(lies())}")
    return lies()[lie]


@dataclass(frozen=True)
class Player:
    """A player: a bag, longest club first, and how the shots stray.

    Parameters
    ----------
    name
        What the player is called.
    clubs
        The bag, longest carry first.
    driver_direction_sd_deg, driver_distance_sd_pct
        Standard deviations with the driver.
    full_direction_sd_deg, full_distance_sd_pct
        Same for full shots with irons; clubs between lie between.
    short_direction_sd_deg, short_distance_sd_pct
        Same below 50 yd.
    rough_add_pct
        What rough adds to both [%].
    short_of_aim_pct
        How far the mean of full shots that are not from a tee falls short of the intended carry [%].
    mishit_pct
        Share of mishits [%].
    eye_m
        Height of the eyes [m].
    """

    name: str
    clubs: tuple[Club, ...]
    driver_direction_sd_deg: float
    driver_distance_sd_pct: float
    full_direction_sd_deg: float
    full_distance_sd_pct: float
    short_direction_sd_deg: float
    short_distance_sd_pct: float
    rough_add_pct: float = 50.0
    short_of_aim_pct: float = 0.0
    mishit_pct: float = 0.0
    eye_m: float = 1.6

    def __post_init__(self) -> None:
        if not self.clubs:
            raise InputError(f"player {self.name!r} has no clubs")
        carries = [club.carry_m for club in self.clubs]
        if sorted(carries, reverse=True) != carries or len(set(carries)) < len(carries):
            raise InputError(f"the clubs of player {self.name!r} are not in order of carry, longest first")
        for field in dataclasses.fields(self)[2:]:
            high = 100 if field.name.endswith("_pct") else 40 if field.name.endswith("_deg") else 3
            number(f"{field.name} of player {self.name!r}", getattr(self, field.name), 0, high)

    def club(self, name: str) -> Club:
        """Return a club by name.

        Raises
        ------
        InputError
            If it is not in the bag.
        """
        for club in self.clubs:
            if club.name == name:
                return club
        bag = ", ".join(c.name for c in self.clubs)
        raise InputError(f"player {self.name!r} has no club {name!r}; the bag: {bag}")

    def bag(self, lie: str = "fairway") -> tuple[Club, ...]:
        """Clubs that can be played from a lie, longest first; the shortest of the bag always can."""
        families = lie_rules(lie)["families"]
        return tuple(c for c in self.clubs if c.family in families or c is self.clubs[-1])

    def club_for(self, carry_m: float, lie: str = "fairway") -> Club | None:
        """Return the shortest club whose full carry from a lie is at least ``carry_m``; None beyond reach."""
        factor = lie_rules(lie)["distance_factor"]
        enough = [c for c in self.bag(lie) if c.carry_m * factor >= carry_m - 1e-9]
        return enough[-1] if enough else None

    def spread(self, club: Club, lie: str = "fairway", carry_m: float | None = None) -> Spread:
        """How shots with a club stray from a lie, for an intended carry (default: the full one)."""
        rules = lie_rules(lie)
        carry = club.carry_m if carry_m is None else carry_m
        direction, distance = self._full(club)
        part = min(max((carry - SHORT_M) / BLEND_M, 0.0), 1.0)
        direction = self.short_direction_sd_deg + part * (direction - self.short_direction_sd_deg)
        distance = self.short_distance_sd_pct + part * (distance - self.short_distance_sd_pct)
        wider = rules["spread_factor"] or 1.0 + self.rough_add_pct / 100.0
        short = 0.0 if lie == "tee" else self.short_of_aim_pct * part
        return Spread(
            min(direction * wider, 40.0), min(distance * wider, 60.0), short, self.mishit_pct * max(part, 0.0)
        )

    def _full(self, club: Club) -> tuple[float, float]:
        """Standard deviations of a full shot: driver, irons, and between them by carry."""
        longest = self.clubs[0].carry_m
        irons = [c.carry_m for c in self.clubs if c.family == "iron"]
        longest_iron = max(irons, default=0.0)
        if club.family == "iron" or longest <= longest_iron:
            return self.full_direction_sd_deg, self.full_distance_sd_pct
        part = min(max((club.carry_m - longest_iron) / (longest - longest_iron), 0.0), 1.0)
        return (
            self.full_direction_sd_deg + part * (self.driver_direction_sd_deg - self.full_direction_sd_deg),
            self.full_distance_sd_pct + part * (self.driver_distance_sd_pct - self.full_distance_sd_pct),
        )

    def scaled(self, name: str, factor: float) -> Player:
        """Return a player whose carries are those of this one times a factor."""
        clubs = tuple(club_for(c.name, c.carry_m * factor) for c in self.clubs)
        return dataclasses.replace(self, name=name, clubs=clubs)


@functools.cache
def built_in(name: str) -> Player:
    """Return a built-in player.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    rows = {row["player"]: row for row in rows_of("players")}
    if name not in rows:
        raise InputError(f"there is no built-in player {name!r}; there are: {', '.join(rows)}")
    row = rows[name]
    skill = next(r for r in rows_of("spread") if r["skill"] == row["skill"])
    clubs = tuple(
        club_for(r["club"], float(r["carry_yd"]) * YARD_M * float(row["bag_factor"]))
        if r["carry_yd"]
        else tour_club(r["club"])
        for r in rows_of("bags")
        if r["player"] == row["bag"]
    )
    numbers = {k: float(v) for k, v in skill.items() if k not in ("skill", "source")}
    return Player(name, clubs, **numbers, eye_m=float(row["eye_m"]))


def built_in_names() -> tuple[str, ...]:
    """Names of the built-in players."""
    return tuple(row["player"] for row in rows_of("players"))


def _given(value: Any) -> bool:
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
    if not _given(name):
        raise SiteError("table players: a row has no name in the field `player`; give it one")
    where = f"table players, player {name!r}"
    base_name = row.get("based_on")
    base_name = str(base_name) if _given(base_name) else "scratch man"
    if base_name not in built_in_names():
        raise SiteError(
            f"{where}: based_on is {base_name!r}; it can be one of the built-in players: {', '.join(built_in_names())}"
        )
    base = built_in(base_name)
    values = {}
    bounds = {
        "driver_carry_m": (50, 320, "m"),
        "direction_sd_deg": (0, 20, "degrees"),
        "distance_sd_pct": (0, 40, "%"),
        "eye_m": (0.9, 2.2, "m"),
    }
    for field, (low, high, unit) in bounds.items():
        if _given(row.get(field)):
            try:
                values[field] = number(f"{where}: {field}", row[field], low, high, unit)
            except InputError as wrong:
                raise SiteError(str(wrong)) from None
    player = dataclasses.replace(base, name=str(name))
    if "driver_carry_m" in values:
        player = base.scaled(str(name), values["driver_carry_m"] / base.clubs[0].carry_m)
    changes: dict[str, Any] = {"eye_m": values["eye_m"]} if "eye_m" in values else {}
    for what, field in (("direction", "direction_sd_deg"), ("distance", "distance_sd_pct")):
        if field in values:
            factor = values[field] / getattr(base, f"driver_{field}")
            for part in ("driver", "full", "short"):
                changes[f"{part}_{field}"] = getattr(base, f"{part}_{what}_sd_{field[-3:]}") * factor
    return dataclasses.replace(player, **changes)


def wind_from(row: Mapping[str, Any]) -> Wind:
    """Return the wind of a row of the table ``winds``.

    Raises
    ------
    SiteError
        Naming the wind and the field that is missing or cannot be.
    """
    name = row.get("wind")
    if not _given(name):
        raise SiteError("table winds: a row has no name in the field `wind`; give it one")
    for field in ("speed_ms", "from_deg"):
        if not _given(row.get(field)):
            raise SiteError(f"table winds, wind {name!r}: {field} is missing")
    try:
        return Wind(str(name), row["speed_ms"], row["from_deg"])
    except InputError as wrong:
        raise SiteError(f"table winds: {wrong}") from None


def players_of(site: Any, names: Sequence[str] | str | None = None) -> tuple[Player, ...]:
    """Return the players a site is studied for.

    Parameters
    ----------
    site
        Anything with ``layer("players")``, a table.
    names
        Which ones; without it scratch man, bogey man and those of the site's table.

    Raises
    ------
    SiteError
        If a row of the table cannot be used.
    InputError
        If a name is neither built in nor in the table.
    """
    own = {p.name: p for p in map(player_from, _records(site, "players"))}
    wanted = [*DEFAULT_PLAYERS, *own] if names is None else [names] if isinstance(names, str) else names
    found = {}
    for name in wanted:
        if name not in own and name not in built_in_names():
            known = ", ".join([*built_in_names(), *own])
            raise InputError(f"there is no player {name!r}; there are: {known}")
        found[name] = own[name] if name in own else built_in(name)
    return tuple(found.values())


def winds_of(site: Any, names: Sequence[str] | str | None = None) -> tuple[Wind, ...]:
    """Return the winds a site is studied in: calm and those of its table, or the ones named.

    Raises
    ------
    SiteError
        If a row of the table cannot be used.
    InputError
        If a name is neither ``"calm"`` nor in the table.
    """
    own = {CALM.name: CALM} | {w.name: w for w in map(wind_from, _records(site, "winds"))}
    wanted: Iterable[str] = own if names is None else [names] if isinstance(names, str) else names
    for name in wanted:
        if name not in own:
            raise InputError(
                f"there is no wind {name!r}; there are: {', '.join(own)} (table `winds` of the site)"
            )
    return tuple(own[name] for name in dict.fromkeys(wanted))


def _records(site: Any, table: str) -> list[dict[str, Any]]:
    return [] if site is None else site.layer(table).to_dict("records")
