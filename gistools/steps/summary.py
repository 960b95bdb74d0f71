"""The findings of a study in words: what a designer reads in one minute."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from gistools.base.units import FOOT_M, show_length
from gistools.steps.brief_rows import asked_in_units, figure_of
from gistools.steps.matrix import matrices

CONFLICTS_SHOWN = 4
READINGS_SHOWN = 6

Tables = Mapping[str, Any]


def hole_summary(tables: Tables, hole: int, units: str = "m") -> list[str]:
    """Return the lines about one hole, lengths in metres or yards.

    Every figure stands in one of the result layers ``tables`` (name without prefix to table). A part
    without its layer is left out.
    """
    return [
        f"Hole {hole}",
        *_lengths(tables, hole, units),
        *_diagonals(tables, hole, units),
        *_carries(tables, hole),
        *_zones(tables, hole, units),
        *_flags(tables, hole),
        *_ranks(tables, hole, units),
        *_playability(tables, hole),
        *_conflicts(tables, hole, units),
    ]


#: results of the brief as people read them
VERDICTS = {"holds": "met", "fails": "not met"}


def brief_summary(brief: pd.DataFrame | None, units: str = "m") -> list[str]:
    """Return the lines about the designer's brief: how many rows are met, and those that are not."""
    if brief is None or not len(brief):
        return []
    lines = [f"Brief: {(brief['result'] == 'holds').sum()} of {len(brief)} are met."]
    for r in brief[brief["result"] != "holds"].to_dict("records"):
        why = f" ({r['why']})" if isinstance(r["why"], str) and r["why"] else ""
        limits = asked_in_units(r["requirement"], r["measure"], units)
        words = f"asked {limits}, measured {figure_of(r, units)}{why}"
        lines.append(f"  {VERDICTS.get(r['result'], r['result'])}: hole {r['hole']} {r['measure']}, {words}")
    return lines


def _length(metres: Any, units: str) -> str:
    return show_length(float(metres), units)


def _rows(tables: Tables, layer: str, hole: int) -> pd.DataFrame | None:
    table = tables.get(layer)
    if table is None:
        return None
    rows: pd.DataFrame = table[table["hole"] == hole]
    return rows if len(rows) else None


def _lengths(tables: Tables, hole: int, units: str) -> list[str]:
    rows = _rows(tables, "lengths", hole)
    if rows is None:
        return []
    parts = [f"{r.tee} {_length(r.card_m, units)}" for r in rows.itertuples()]
    first = rows.iloc[0]
    fall = f"{first['drop_m'] / FOOT_M:.0f} ft" if units == "yd" else f"{first['drop_m']:.1f} m"
    drop = "" if pd.isna(first["drop_m"]) else f"; falls {fall} from the {first['tee']} tee"
    return [
        f"  Length: {', '.join(parts)}. Par by length {first['par_men']} (women {first['par_women']}){drop}."
    ]


def _diagonals(tables: Tables, hole: int, units: str) -> list[str]:
    diagonals, carries = _rows(tables, "diagonals", hole), _rows(tables, "carries", hole)
    if diagonals is None or carries is None:
        return []
    lines = []
    tee = diagonals["tee"].iloc[0]
    crossing = diagonals[(diagonals["tee"] == tee) & (diagonals["areas_count"] >= 2)]
    for r in crossing.itertuples():
        here = carries[carries["feature"] == r.feature]
        spans = []
        for name, fan in here.groupby("tee", sort=False):
            least, greatest = fan["carry_m"].min(), fan["carry_m"].max()
            spans.append(f"{name} {_length(least, units)} to {_length(greatest, units)}")
        direction = "square to play" if r.runs_away == "square" else f"running away to the {r.runs_away}"
        lines += [
            f"  {r.feature}: {r.axis_angle_deg:.0f}° to the line of play, {direction},"
            f" {r.extra_carry_m_per_m:.2f} {units} more"
            f" carry per {'yard' if units == 'yd' else 'metre'} of width. Carry from {'; '.join(spans)}."
        ]
    return lines


def _carries(tables: Tables, hole: int) -> list[str]:
    played = _rows(tables, "effective_carries", hole)
    diagonals = _rows(tables, "diagonals", hole)
    if played is None or diagonals is None:
        return []
    crossing = set(diagonals.loc[diagonals["areas_count"] >= 2, "feature"])
    lines = []
    rows = played[played["feature"].isin(crossing) & (played["wind"] == played["wind"].iloc[0])]
    for (feature, player), group in rows.groupby(["feature", "player"], sort=False):
        shares = []
        for tee, at in group.groupby("tee", sort=False):
            shares.append(f"{tee} {at['carried_pct'].min():.0f} to {at['carried_pct'].max():.0f} %")
        lines.append(
            f"  {player} carries {feature} ({group['wind'].iloc[0]}) from {'; '.join(shares)} of the time."
        )
    return lines


def _zones(tables: Tables, hole: int, units: str) -> list[str]:
    rows = _rows(tables, "zones", hole)
    if rows is None:
        return []
    parts = [
        f"{r.zone} ({_length(r.zone_length_m, units)} x {_length(r.zone_width_m, units)})"
        for r in rows.itertuples()
    ]
    return [f"  Landing zones: {', '.join(parts)}."]


def _flags(tables: Tables, hole: int) -> list[str]:
    rows = _rows(tables, "zone_views", hole)
    if rows is None:
        return []
    lines = []
    for pin, views in rows.groupby("pin", sort=False):
        parts = [f"{r.zone} {r.flag_seen_mean_pct:.0f} %" for r in views.itertuples()]
        lines.append(f"  Flag {pin}, share of the stick seen, mean over the zone: {', '.join(parts)}.")
    return lines


def _ranks(tables: Tables, hole: int, units: str) -> list[str]:
    rows = _rows(tables, "where_to_play", hole)
    if rows is None:
        return []
    lines = matrices(rows, hole, units)
    choices = _rows(tables, "choices", hole)
    if choices is not None and "reading" in choices:
        first = rows.iloc[0]
        same = choices[(choices["tee"] == first["tee"]) & (choices["wind"] == first["wind"])]
        shown = same.head(READINGS_SHOWN)
        lines += [f"  For {who}: {r}" for who, r in zip(shown["player"], shown["reading"], strict=True)]
    return lines


def _playability(tables: Tables, hole: int) -> list[str]:
    """Return one line for each player and tee in the first wind: shares that carry, reach and hold."""
    rows = _rows(tables, "playability", hole)
    if rows is None:
        return []
    rows = rows[rows["wind"] == rows["wind"].iloc[0]]
    lines = [
        f"  Of 100 shots, {rows['wind'].iloc[0]}: how many carry what crosses, finish in a zone,"
        " hold the green:"
    ]
    for (player, tee), group in rows.groupby(["player", "tee"], sort=False):
        parts = []
        for demand in ("carry", "hold"):
            shares = group.loc[group["demand"] == demand, "share_pct"].dropna()
            if len(shares):
                ends = dict.fromkeys(f"{share:.0f}" for share in (shares.min(), shares.max()))
                parts.append(f"{demand} {' to '.join(ends)}")
        reached = group[group["demand"] == "reach"].dropna(subset="share_pct")
        zones = [f"{r['zone']} {r['share_pct']:.0f}" for r in reached.to_dict("records")]
        parts[1:1] = zones
        lines.append(f"    {player}, {tee}: {', '.join(parts)}")
    return lines


def _conflicts(tables: Tables, hole: int, units: str) -> list[str]:
    rows = _rows(tables, "setback_conflicts", hole)
    if rows is None:
        return []
    worst = rows.sort_values("shortfall_m", ascending=False)
    lines = [f"  Set-backs: {len(rows)} places closer than the guidance asks. The worst:"]
    for r in worst.head(CONFLICTS_SHOWN).itertuples():
        lines.append(
            f"    {r.feature} to {r.other}: {_length(r.separation_m, units)}, asked"
            f" {_length(r.clear_distance_m, units)} ({r.rule})"
        )
    return lines
