"""The designer's intentions for the sample site, as rows of its `brief` table."""

from __future__ import annotations

from typing import Any

_BURN = "Teasel Burn"

#: one row fails on purpose (the third): see the page of the sample
BRIEF: tuple[dict[str, Any], ...] = (
    {
        "hole": 1,
        "measure": "lengths.card_m",
        "tee": "back",
        "at_least": 340.0,
        "at_most": 360.0,
        "why": "a short par 4: the tee shot is a choice, not a duty",
    },
    {
        "hole": 1,
        "measure": "diagonals.axis_angle_deg",
        "tee": "back",
        "feature": _BURN,
        "at_least": 40.0,
        "at_most": 60.0,
        "why": "on the diagonal, so that every yard to the right asks for more carry",
    },
    {
        "hole": 1,
        "measure": "carries.carry_m",
        "tee": "forward",
        "feature": _BURN,
        "at_most": 119.0,
        "must": False,
        "why": "a bogey woman (119 m) carries the burn on every line from the forward tee",
    },
    {
        "hole": 1,
        "measure": "flag_views.flag_seen_pct",
        "zone": "beyond right",
        "pin": "front left",
        "at_least": 50.0,
        "why": "the longer carry buys a sight of the flag behind the mound",
    },
    {
        "hole": 1,
        "measure": "flag_views.flag_seen_pct",
        "zone": "beyond left",
        "pin": "front left",
        "at_most": 40.0,
        "why": "the safe side plays blind over Haar Knowe",
    },
    {
        "hole": 1,
        "measure": "where_to_play.rank",
        "tee": "back",
        "player": "scratch man",
        "wind": "calm",
        "zone": "beyond right",
        "pin": "front left",
        "is_value": "1",
        "why": "for the pin behind the mound the bold side is first",
    },
    {
        "hole": 1,
        "measure": "where_to_play.rank",
        "tee": "back",
        "player": "scratch man",
        "wind": "calm",
        "zone": "beyond left",
        "pin": "front right",
        "is_value": "1",
        "why": "for the open pin the order turns round",
    },
    {
        "hole": 2,
        "measure": "lengths.card_m",
        "tee": "back",
        "at_least": 140.0,
        "at_most": 160.0,
        "why": "a mid-length par 3, down from the dune",
    },
    {
        "hole": 3,
        "measure": "lengths.card_m",
        "tee": "back",
        "at_least": 465.0,
        "at_most": 500.0,
        "why": "a par 5 that two good shots nearly reach",
    },
    {
        "hole": 3,
        "measure": "corridors.fairway_width_m",
        "tee": "back",
        "at_least": 18.0,
        "why": "room everywhere for the shot of a bogey player",
    },
)
