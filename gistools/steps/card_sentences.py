"""A card of where to play in words: rank and why, risk, what is left."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from gistools.base.units import one_in, show_area, show_length

FEEDS = {"towards": "the ground feeds the ball in", "away": "the ground takes the ball away"}


def sentence(card: Mapping[str, Any], units: str = "m") -> str:
    """Return a card of the step `where_to_play` in words, lengths in metres or yards.

    One sentence on its rank and risk, one on the shot, one on what it leaves.
    """
    who = [f"the tee shot is {_with_article(club_words(card['club'], units))}"]
    first = [*(_rank(card) if card["zone"] else who), *_risk(card)]
    left = _left(card, units) if math.isfinite(card["pin_distance_m"]) else []
    said = [first, _shot(card, units), left] if card["zone"] else [first + left]
    parts = ["; ".join(part) for part in said if part]
    return " ".join(f"{part[0].upper()}{part[1:]}." for part in parts)


def fed(units: str = "m") -> str:
    """Write the distance within which a ball is fed to a hole location (`feed_area_m2`)."""
    return show_length(6.0, units, int(units != "m"))


def _risk(card: Mapping[str, Any]) -> list[str]:
    if not card["hazards"]:
        return []
    hazard, share = _name_and_share(card["hazards"].split(";")[0])
    words = one_in(share / 100.0)
    return [f"{words} {'find' if words.endswith('%') else 'finds'} {hazard}"]


def _name_and_share(text: str) -> tuple[str, float]:
    """Return name and share [%] of a figure such as ``Sea Burn 12 %``."""
    name, _, share = text.removesuffix(" %").rpartition(" ")
    return name, float(share)


def _shot(card: Mapping[str, Any], units: str) -> list[str]:
    """Say how far the shot at a zone carries, over what, and where it runs."""
    carry = card.get("carry_mean_m", math.nan)
    if not (card["zone"] and math.isfinite(carry)):
        return []
    words = f"the {club_words(card['club'], units)} carries {show_length(carry, units)}"
    if math.isfinite(card["effective_carry_m"]):
        words += f", playing {show_length(card['effective_carry_m'], units)}"
    if card["shot_hazards_carried"]:
        far, share = show_length(card["shot_must_carry_m"], units), card["shot_carried_pct"]
        words += f", over {card['shot_hazards_carried']} ({far}; {share:.0f} % carry it)"
    parts = [words]
    along, across = card["shot_run_along_m"], card["shot_run_across_m"]
    if math.isfinite(along):
        aside = show_length(abs(across), units)
        side = "" if aside.startswith("0 ") else f" and {aside} {'right' if across > 0 else 'left'}"
        way = show_length(abs(along), units)
        still = way.startswith("0 ")
        runs = (
            "it stops where it lands"
            if still and not side
            else f"it runs {way} {'on' if along >= 0 else 'back'}"
        )
        parts.append(runs + side)
    if card["shot_runs_into"]:
        name, share = _name_and_share(card["shot_runs_into"])
        parts.append(f"{share:.0f} % run into {name}")
    return parts


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
        ahead = card.get("lead_strokes", math.nan)
        return [f"{zone} is first" + (f", {ahead:.2f} ahead" if math.isfinite(ahead) else "")]
    return [f"{zone} is {card['behind_strokes']:.2f} strokes behind"]


def _with_article(club: str) -> str:
    return f"{'an' if club[0] in 'aeiou8' else 'a'} {club}"


def _either(quarters: str) -> str:
    """Write quarters as words: ``"short, long"`` as ``"short or long"``."""
    *others, last = quarters.split(", ")
    return f"{', '.join(others)} or {last}" if others else last


def _named(zone: str) -> str:
    return "the green" if zone == "green" else zone


def _over(card: Mapping[str, Any]) -> str:
    """Say what the next shot comes over; a mound that hides the flag is named with that."""
    met = [*card.get("hazards_carried", "").split(", "), *card.get("mounds_crossed", "").split(", ")]
    named = [
        name for name in met if name and (name != card["hidden_by"] or card["flag_visibility"] == "visible")
    ]
    return f" over {', '.join(named)}" if named else ""


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
        club += _over(card)
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
    if card.get("feed_area_m2", 0.0) > 0:
        area = show_area(card["feed_area_m2"], units)
        parts.append(f"a landing on {area} of ground comes to rest within {fed(units)}")
    if card["playable_misses"]:
        dead = f", dead {_either(card['dead_misses'])}" if card["dead_misses"] else ""
        parts.append(f"a miss is playable {_either(card['playable_misses'])}{dead}")
    return parts
