"""A card of where to play in one sentence: rank and why, risk, what is left."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from gistools.base.units import show_length

FEEDS = {"towards": "the ground feeds the ball in", "away": "the ground takes the ball away"}


def sentence(card: Mapping[str, Any], units: str = "m") -> str:
    """Return a card of the step `where_to_play` in words, lengths in metres or yards."""
    parts = [
        *(
            _rank(card)
            if card["zone"]
            else [f"the tee shot is {_with_article(club_words(card['club'], units))}"]
        )
    ]
    if card["hazards"]:
        parts.append(f"shots find {card['hazards'].split(';')[0]}")
    if math.isfinite(card["pin_distance_m"]):
        parts += _left(card, units)
    text = "; ".join(parts)
    return text[0].upper() + text[1:] + "."


def club_words(label: str, units: str = "m") -> str:
    """Return the label of a shot, the length of a part shot (``"63 m pitch"``) in metres or yards."""
    length, _, swing = label.partition(" m ")
    return f"{show_length(float(length), units)} {swing}" if swing and length.isdigit() else label


def _rank(card: Mapping[str, Any]) -> list[str]:
    zone = _named(card["zone"])
    if card["level_with_first"]:
        why = f", {card['decided_by']}" if card["decided_by"] else ""
        return [f"{zone} is level with the best{why}"]
    if card["rank"] == 1:
        return [f"{zone} is first"]
    return [f"{zone} is {card['behind_strokes']:.2f} strokes behind"]


def _with_article(club: str) -> str:
    return f"{'an' if club[0] in 'aeiou8' else 'a'} {club}"


def _either(quarters: str) -> str:
    """Write quarters as words: ``"short, long"`` as ``"short or long"``."""
    *others, last = quarters.split(", ")
    return f"{', '.join(others)} or {last}" if others else last


def _named(zone: str) -> str:
    return "the green" if zone == "green" else zone


def _left(card: Mapping[str, Any], units: str) -> list[str]:
    """Say what the shot leaves; on a hole without landing zones, what it is."""
    following = club_words(card["next_club"], units)
    left = show_length(card["pin_distance_m"], units)
    if math.isfinite(card["effective_distance_m"]):
        left += f", playing {show_length(card['effective_distance_m'], units)}"
    if card["next_zone"]:
        club = f"; then {following} to {_named(card['next_zone'])}"
    else:
        club = f", {following}" if card["zone"] else ""
    parts = [f"{'leaves ' if card['zone'] else ''}{left}{club}"]
    hidden = (
        f" behind {card['hidden_by']}" if card["hidden_by"] and card["flag_visibility"] != "visible" else ""
    )
    if card["flag_visibility"] and card["next_zone"] in ("", "green"):
        parts.append(f"flag {card['flag_visibility']}{hidden}")
    if card["feeds"] in FEEDS:
        parts.append(FEEDS[card["feeds"]])
    if math.isfinite(card["hold_pct"]):
        parts.append(f"{card['hold_pct']:.0f} % hold the green")
    if card["playable_misses"]:
        dead = f", dead {_either(card['dead_misses'])}" if card["dead_misses"] else ""
        parts.append(f"a miss is playable {_either(card['playable_misses'])}{dead}")
    return parts
