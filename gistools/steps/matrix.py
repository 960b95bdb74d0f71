"""The matrix of positions by hole locations, in words that fit a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from gistools.base.units import show_length
from gistools.steps.card_sentences import club_words, sentence

#: columns of hole locations side by side
PINS_ACROSS = 4
ZONE_WIDTH, CELL_WIDTH = 19, 23
SHOTS = ("", "Tee shot", "Second shot", "Third shot")


def matrices(table: pd.DataFrame, hole: int, units: str = "m", *, whole: bool = False) -> list[str]:
    """Return the lines for a hole: its matrices, then who is first where by tee, player and wind.

    The matrices are those of the first player from the first tee in the first wind of the table, a wind
    called prevailing before others: of the tee shot, and of the shots after it from the zones that are first
    choice, or level with it, for a hole location.

    Parameters
    ----------
    table
        The layer of the step `where_to_play`.
    hole
        Number of the hole.
    units
        Lengths in ``"m"`` or ``"yd"``.
    whole
        The shots after the first from every zone.
    """
    rows = table[table["hole"] == hole]
    if not len(rows):
        return []
    one = first_case(rows)
    shown = rankings(one if whole else followed(one))
    lines = [line for ranking in shown for line in matrix(ranking, units)]
    return [*lines, *_who_is_asked_what(rows[rows["shot_number"] == 1])]


def first_case(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the tee, player and wind to show first."""
    keys = {"tee": rows["tee"].iloc[0], "player": rows["player"].iloc[0], "wind": first_wind(rows)}
    one: pd.DataFrame = rows[(rows[list(keys)] == pd.Series(keys)).all(axis=1)]
    return one


def first_wind(rows: pd.DataFrame) -> str:
    """Return the wind to show first: the prevailing one, else the first of the table."""
    winds = [str(wind) for wind in dict.fromkeys(rows["wind"])]
    return next((wind for wind in winds if "prevailing" in wind.lower()), winds[0])


def rankings(rows: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Yield the rows of each zone a shot is played from, shot after shot, hole locations in one order."""
    order = {pin: k for k, pin in enumerate(dict.fromkeys(rows["pin"]))}
    for _, ranking in rows.groupby(["shot_number", "from_zone"], sort=False):
        yield ranking.sort_values("pin", key=lambda pins: pins.map(order), kind="stable")


def followed(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the tee shot, and of shots from zones that are first or level for some pin."""
    shown = {""}
    for ranking in rankings(rows):
        if ranking["from_zone"].iloc[0] in shown:
            best = ranking["level_with_first"].astype(bool) | (ranking["rank"] == 1)
            shown |= set(ranking.loc[best, "zone"])
    followed: pd.DataFrame = rows[rows["from_zone"].isin(shown)]
    return followed


def matrix(rows: pd.DataFrame, units: str = "m") -> list[str]:
    """Return the matrix of one place: a line a zone, a column a hole location."""
    first = rows.iloc[0]
    who = f"{first['player']}, {first['tee']} tee, {first['wind']}"
    if not (rows["zone"] != "").any():
        return [f"  Where to play: {who}.", *_tee_shots_at_pins(rows, units)]
    number = int(first["shot_number"])
    shot = SHOTS[number] if number < len(SHOTS) else f"Shot {number}"
    if number == 1:
        head = f"  Where to play: {who}. Rank, score, (rank of the next shot), flag; = level, * order turns."
    else:
        head = f"  {shot} from {first['from_zone']}: rank and strokes from there."
    lines = [head]
    pins = list(dict.fromkeys(rows["pin"]))
    zones = _records(rows.drop_duplicates("zone").sort_values("zone_number"))
    for start in range(0, len(pins), PINS_ACROSS):
        shown = pins[start : start + PINS_ACROSS]
        marks = {pin: "*" if rows.loc[rows["pin"] == pin, "order_changes"].any() else "" for pin in shown}
        lines.append(
            "    " + " " * ZONE_WIDTH + "".join(f"{pin + marks[pin]:<{CELL_WIDTH}}" for pin in shown)
        )
        for zone in zones:
            cells = (_cell(rows[(rows["zone"] == zone["zone"]) & (rows["pin"] == pin)]) for pin in shown)
            numeral = "  " if pd.isna(zone["zone_number"]) else f"{zone['zone_number']} "
            name = f"{numeral}{zone['zone']}"[: ZONE_WIDTH - 1]
            lines.append(
                ("    " + f"{name:<{ZONE_WIDTH}}" + "".join(f"{c:<{CELL_WIDTH}}" for c in cells)).rstrip()
            )
    return lines


def _cell(rows: pd.DataFrame) -> str:
    if not len(rows):
        return "out of reach"
    r = rows.iloc[0]
    rank = "=" if r["level_with_first"] else str(r["rank"])
    return f"{rank} {r['total_strokes']:.2f} ({r['remaining_rank']}) {_text(r['flag_visibility'])}".rstrip()


def _tee_shots_at_pins(rows: pd.DataFrame, units: str) -> list[str]:
    """Return a line for each hole location of a hole without landing zones: what its tee shot is."""
    cells = [("hole location", "length", "plays", "club", "holds", "flag", "hazards", "score")]
    for r in _records(rows):
        cells.append(
            (
                r["pin"],
                show_length(r["pin_distance_m"], units),
                "out of reach"
                if pd.isna(r["effective_distance_m"])
                else show_length(r["effective_distance_m"], units),
                club_words(r["club"], units),
                f"{r['hold_pct']:.0f} %",
                _text(r["flag_visibility"]),
                f"{r['trouble_pct']:.0f} %",
                f"{r['total_strokes']:.2f}",
            )
        )
    widths = [max(len(row[k]) for row in cells) for k in range(len(cells[0]))]
    return [
        "    " + "  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in cells
    ]


def _who_is_asked_what(rows: pd.DataFrame) -> list[str]:
    """Return a line for each tee, player and wind: the first choices by hole location."""
    groups = list(rows.groupby(["player", "tee", "wind"], sort=False))
    if len(groups) < 2:
        return []
    zones = bool((rows["zone"] != "").any())
    figures = "First choices" if zones else "Clubs, shots that hold the green,"
    lines = [f"  {figures} by player, tee and wind (expected score):"]
    for (player, tee, wind), group in groups:
        lines.append(
            f"    {player}, {tee}, {wind}: {first_choices(group) if zones else clubs_at_pins(group)}"
        )
    return lines


def first_choices(group: pd.DataFrame) -> str:
    """Return who is first at which hole locations, level zones together."""
    by_zones: dict[str, list[str]] = {}
    for pin, here in group.groupby("pin", sort=False):
        level = here[here["level_with_first"].astype(bool)]
        best = level if len(level) else here[here["rank"] == 1]
        zones = " = ".join(best.sort_values("zone_number")["zone"])
        by_zones.setdefault(zones, []).append(f"{pin} {here['total_strokes'].min():.2f}")
    if len(by_zones) == 1:
        zones, pins = next(iter(by_zones.items()))
        return f"{zones} for all ({', '.join(pins)})"
    return "; ".join(f"{zones} for {', '.join(pins)}" for zones, pins in by_zones.items())


def first_zones(rows: pd.DataFrame) -> tuple[list[str], list[str], list[list[str]]]:
    """Return pins, winds, and a line for each player and tee: who, then the first zones by pin in each wind.

    Zones are written as their numbers, level ones joined by an equals sign, and separated by commas between
    hole locations.
    """
    tee_shots = rows[rows["shot_number"] == 1]
    pins, winds = ([str(v) for v in dict.fromkeys(tee_shots[key])] for key in ("pin", "wind"))
    lines = []
    for (player, tee), group in tee_shots.groupby(["player", "tee"], sort=False):
        cells = [f"{player}, {tee}"]
        for wind in winds:
            here = group[group["wind"] == wind]
            best = here[here["level_with_first"].astype(bool) | (here["rank"] == 1)].sort_values(
                "zone_number"
            )
            zones = {
                pin: "=".join(f"{n:.0f}" for n in part) for pin, part in best.groupby("pin")["zone_number"]
            }
            cells.append(", ".join(zones.get(pin, "-") for pin in pins))
        lines.append(cells)
    return pins, winds, lines


def clubs_at_pins(group: pd.DataFrame) -> str:
    """Return the club, the share that holds and the expected score at each hole location."""
    return "; ".join(
        f"{r.pin} {r.club}, {r.hold_pct:.0f} % ({r.total_strokes:.2f})" for r in group.itertuples()
    )


def cards(rows: pd.DataFrame, units: str = "m") -> list[str]:
    """Return a card in words for each zone and hole location, in the order of their rank."""
    lines = []
    for ranking in rankings(rows):
        start = _text(ranking["from_zone"].iloc[0])
        for pin, here in ranking.groupby("pin", sort=False):
            lines.append(f"  {pin}" + (f", from {start}" if start else ""))
            for card in _records(here.sort_values("rank")):
                lines.append(f"    {sentence(card, units)}")
    return lines


def _records(rows: pd.DataFrame) -> list[dict[str, Any]]:
    return [dict(zip(rows.columns, row, strict=True)) for row in rows.itertuples(index=False)]


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
