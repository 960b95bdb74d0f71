"""The matrix of positions by hole locations, in words that fit a terminal."""

from __future__ import annotations

from typing import Any

import pandas as pd

#: columns of hole locations side by side
PINS_ACROSS = 4
ZONE_WIDTH, CELL_WIDTH = 19, 19


def matrices(table: pd.DataFrame, hole: int) -> list[str]:
    """Return the lines for a hole: one matrix, then who is first where by tee, player and wind.

    The matrix is that of the first player from the first tee in the first wind of the table, a wind called
    prevailing before others.

    Parameters
    ----------
    table
        The layer of the step `where_to_play`.
    hole
        Number of the hole.
    """
    rows = table[table["hole"] == hole]
    if not len(rows):
        return []
    keys = {"tee": rows["tee"].iloc[0], "player": rows["player"].iloc[0], "wind": first_wind(rows)}
    one = rows[(rows[list(keys)] == pd.Series(keys)).all(axis=1)]
    return [*matrix(one), *_who_is_asked_what(rows)]


def first_wind(rows: pd.DataFrame) -> str:
    """Return the wind to show first: the prevailing one, else the first of the table."""
    winds = [str(wind) for wind in dict.fromkeys(rows["wind"])]
    return next((wind for wind in winds if "prevailing" in wind.lower()), winds[0])


def matrix(rows: pd.DataFrame) -> list[str]:
    """Return the matrix of one tee, player and wind: a line a zone, a column a hole location."""
    first = rows.iloc[0]
    pins = list(dict.fromkeys(rows["pin"]))
    head = f"  Where to play: {first['player']}, {first['tee']} tee, {first['wind']}."
    if not (rows["zone"] != "").any():
        return [head, *(f"    {r.pin}: {r.total_strokes:.2f}, {r.reading}" for r in rows.itertuples())]
    lines = [f"{head} Rank and expected score; = level with the best, * turns the order."]
    zones = rows.drop_duplicates("zone").sort_values("zone_number")
    for start in range(0, len(pins), PINS_ACROSS):
        shown = pins[start : start + PINS_ACROSS]
        marks = {pin: "*" if rows.loc[rows["pin"] == pin, "order_changes"].any() else "" for pin in shown}
        lines.append(
            "    " + " " * ZONE_WIDTH + "".join(f"{pin + marks[pin]:<{CELL_WIDTH}}" for pin in shown)
        )
        for zone in zones.itertuples():
            cells = (_cell(rows[(rows["zone"] == zone.zone) & (rows["pin"] == pin)]) for pin in shown)
            name = f"{zone.zone_number} {zone.zone}"[: ZONE_WIDTH - 1]
            lines.append(
                ("    " + f"{name:<{ZONE_WIDTH}}" + "".join(f"{c:<{CELL_WIDTH}}" for c in cells)).rstrip()
            )
    return lines


def _cell(rows: pd.DataFrame) -> str:
    if not len(rows):
        return "out of reach"
    r = rows.iloc[0]
    rank = "=" if r["level_with_first"] else str(r["rank"])
    return f"{rank} {r['total_strokes']:.2f} {_text(r['flag_visibility'])}".rstrip()


def _who_is_asked_what(rows: pd.DataFrame) -> list[str]:
    """Return a line for each tee, player and wind: the first choices by hole location."""
    groups = list(rows.groupby(["player", "tee", "wind"], sort=False))
    if len(groups) < 2 or not (rows["zone"] != "").any():
        return []
    lines = ["  First choices by player, tee and wind (expected score):"]
    for (player, tee, wind), group in groups:
        lines.append(f"    {player}, {tee}, {wind}: {first_choices(group)}")
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


def cards(rows: pd.DataFrame) -> list[str]:
    """Return a card in words for each zone and hole location, in the order of their rank."""
    lines = []
    for pin, here in rows.groupby("pin", sort=False):
        lines.append(f"  {pin}")
        for r in here.sort_values("rank").itertuples():
            lines.append(f"    {_text(r.reading)}")
    return lines


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
