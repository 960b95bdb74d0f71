"""The matrix of positions by hole locations, in words that fit a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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

    The matrices are those of the first player from the first tee in the first wind of the table: of the tee
    shot, and of the shots after it from the zones that are first choice, or level with it, for a hole
    location.

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
    heading, table_lines = by_player(rows, units)
    if len(table_lines) > 2:
        lines += [f"  {heading}:", *_aligned(table_lines)]
    return lines


def first_case(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the tee, player and wind to show first."""
    keys = {key: rows[key].iloc[0] for key in ("tee", "player", "wind")}
    one: pd.DataFrame = rows[(rows[list(keys)] == pd.Series(keys)).all(axis=1)]
    return one


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
    return _aligned(cells)


def _aligned(cells: Sequence[Sequence[str]]) -> list[str]:
    """Return the lines of a table, its columns below each other."""
    widths = [max(len(row[k]) for row in cells) for k in range(len(cells[0]))]
    return [
        "    " + "  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in cells
    ]


def by_player(rows: pd.DataFrame, units: str = "m") -> tuple[str, list[list[str]]]:
    """Return a heading and a table of who is asked what: a line for each player, tee and wind.

    A column for each hole location: numbers of the first zones, level ones joined by an equals sign, and the
    expected score; on a hole without landing zones club, share that holds the green, and expected score. The
    first line heads the columns.
    """
    tee_shots = rows[rows["shot_number"] == 1]
    pins = [str(pin) for pin in dict.fromkeys(tee_shots["pin"])]
    lines = [["player, tee, wind", *pins]]
    for who, group in tee_shots.groupby(["player", "tee", "wind"], sort=False):
        at_pin = dict(iter(group.groupby("pin", sort=False)))
        lines.append(
            [", ".join(map(str, who)), *(_best(at_pin[p], units) if p in at_pin else "-" for p in pins)]
        )
    zones = bool((tee_shots["zone"] != "").any())
    heading = "First zones" if zones else "Club, shots that hold the green"
    return f"{heading} and expected score for every player, tee and wind", lines


def _best(here: pd.DataFrame, units: str) -> str:
    """Return what is first at a hole location, in a few letters."""
    best = here[here["level_with_first"].astype(bool) | (here["rank"] == 1)]
    first = best.iloc[0]
    words = "=".join(f"{n:.0f}" for n in sorted(best["zone_number"])) if first["zone"] else ""
    if not first["zone"]:
        words = f"{club_words(first['club'], units)} {first['hold_pct']:.0f} %"
    return f"{words}: {here['total_strokes'].min():.2f}"


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
