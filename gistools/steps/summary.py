"""The findings of a study in words: what a designer reads in one minute."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from gistools.base.units import show_length
from gistools.steps.catalogue import find

if TYPE_CHECKING:
    from gistools.steps.study import Study

CONFLICTS_SHOWN = 4
READINGS_SHOWN = 6


def summary(study: Study, units: str = "m") -> str:
    """Return the summary of a study, lengths in metres or yards.

    Every figure in it stands in a result layer; parts whose step did not run are left out.
    """
    lines: list[str] = []
    for hole in study.site.pick(study.hole):
        lines += ["", f"Hole {hole}", *_lengths(study, hole, units), *_diagonals(study, hole, units)]
        lines += [*_clears(study, hole), *_zones(study, hole, units), *_flags(study, hole)]
        lines += [*_ranks(study, hole), *_conflicts(study, hole, units)]
    lines += ["", *_brief(study), *_skipped(study)]
    cautions = dict.fromkeys(c for name in study.results for c in find(name).cautions)
    lines += [f"Caution: {c}" for c in cautions]
    lines += [f"Computed in {sum(study.seconds.values()):.1f} s."]
    if study.path is not None:
        lines += [f"Written to {study.path}."]
    return "\n".join(lines).strip("\n")


def _length(metres: Any, units: str) -> str:
    return show_length(float(metres), units)


def _rows(study: Study, layer: str, hole: int) -> pd.DataFrame | None:
    table = study.table(layer)
    if table is None:
        return None
    rows: pd.DataFrame = table[table["hole"] == hole]
    return rows if len(rows) else None


def _lengths(study: Study, hole: int, units: str) -> list[str]:
    rows = _rows(study, "lengths", hole)
    if rows is None:
        return []
    parts = [f"{r.tee} {_length(r.card_m, units)}" for r in rows.itertuples()]
    first = rows.iloc[0]
    drop = "" if pd.isna(first["drop_m"]) else f"; falls {first['drop_m']:.1f} m from the {first['tee']} tee"
    return [
        f"  Length: {', '.join(parts)}. Par by length {first['par_men']} (women {first['par_women']}){drop}."
    ]


def _diagonals(study: Study, hole: int, units: str) -> list[str]:
    diagonals, carries = _rows(study, "diagonals", hole), _rows(study, "carries", hole)
    if diagonals is None or carries is None:
        return []
    lines = []
    tee = diagonals["tee"].iloc[0]
    crossing = diagonals[(diagonals["tee"] == tee) & (diagonals["areas_count"] >= 2)]
    for r in crossing.itertuples():
        here = carries[carries["feature"] == r.feature]
        asked = []
        for name, fan in here.groupby("tee", sort=False):
            least, greatest = fan["carry_m"].min(), fan["carry_m"].max()
            asked.append(f"{name} {_length(least, units)} to {_length(greatest, units)}")
        away = "square to play" if r.runs_away == "square" else f"running away to the {r.runs_away}"
        lines += [
            f"  {r.feature}: {r.angle_deg:.0f}° to the line of play, {away}, {r.extra_carry_m_per_m:.2f} m more carry"
            f" per metre of width. Carry from {'; '.join(asked)}."
        ]
    return lines


def _clears(study: Study, hole: int) -> list[str]:
    played = _rows(study, "played_carries", hole)
    diagonals = _rows(study, "diagonals", hole)
    if played is None or diagonals is None:
        return []
    crossing = set(diagonals.loc[diagonals["areas_count"] >= 2, "feature"])
    lines = []
    rows = played[played["feature"].isin(crossing) & (played["wind"] == played["wind"].iloc[0])]
    for (feature, player), group in rows.groupby(["feature", "player"], sort=False):
        told = []
        for tee, at in group.groupby("tee", sort=False):
            told.append(f"{tee} {at['clears_pct'].min():.0f} to {at['clears_pct'].max():.0f} %")
        lines.append(
            f"  {player} clears {feature} ({group['wind'].iloc[0]}) from {'; '.join(told)} of the time."
        )
    return lines


def _zones(study: Study, hole: int, units: str) -> list[str]:
    rows = _rows(study, "zones", hole)
    if rows is None:
        return []
    parts = [
        f"{r.zone} ({_length(r.length_m, units)} x {_length(r.width_m, units)})" for r in rows.itertuples()
    ]
    return [f"  Landing zones: {', '.join(parts)}."]


def _flags(study: Study, hole: int) -> list[str]:
    rows = _rows(study, "zone_views", hole)
    if rows is None:
        return []
    lines = []
    for pin, own in rows.groupby("pin", sort=False):
        parts = [f"{r.zone} {r.seen_mean_pct:.0f} %" for r in own.itertuples()]
        lines.append(f"  Flag {pin}, share of the stick seen, mean over the zone: {', '.join(parts)}.")
    return lines


def _ranks(study: Study, hole: int) -> list[str]:
    rows = _rows(study, "positions", hole)
    if rows is None:
        return []
    lines = []
    keys = rows.iloc[0]
    for player, own in rows[(rows["tee"] == keys["tee"]) & (rows["wind"] == keys["wind"])].groupby(
        "player", sort=False
    ):
        lines.append(
            f"  Zones ranked for {player}, {keys['tee']} tee, {keys['wind']} (strokes from the tee):"
        )
        for pin, group in own.groupby("pin", sort=False):
            best = group.sort_values("rank").dropna(subset=["total_strokes"])
            order = ", ".join(f"{r.zone} {r.total_strokes:.2f}" for r in best.head(4).itertuples())
            mark = "  (reward and total disagree)" if bool(group["order_changes"].any()) else ""
            lines.append(f"    {pin}: {order}{mark}")
    choices = _rows(study, "choices", hole)
    if choices is not None and "reading" in choices:
        same = choices[(choices["tee"] == keys["tee"]) & (choices["wind"] == keys["wind"])]
        shown = same.head(READINGS_SHOWN)
        lines += [f"  For {who}: {r}" for who, r in zip(shown["player"], shown["reading"], strict=True)]
    return lines


def _conflicts(study: Study, hole: int, units: str) -> list[str]:
    rows = _rows(study, "setback_conflicts", hole)
    if rows is None:
        return []
    worst = rows.sort_values("short_m", ascending=False)
    lines = [f"  Set-backs: {len(rows)} places closer than the guidance asks. The worst:"]
    for r in worst.head(CONFLICTS_SHOWN).itertuples():
        lines.append(
            f"    {r.feature} to {r.other}: {_length(r.distance_m, units)}, asked"
            f" {_length(r.asked_m, units)} ({r.rule})"
        )
    return lines


def _brief(study: Study) -> list[str]:
    brief: Any = study.table("brief")
    if brief is None or not len(brief):
        return []
    lines = [f"Brief: {(brief['result'] == 'holds').sum()} of {len(brief)} hold."]
    for r in brief[brief["result"] != "holds"].itertuples():
        why = f" ({r.why})" if isinstance(r.why, str) and r.why else ""
        lines.append(f"  {r.result}: hole {r.hole} {r.measure}, asked {r.asked}, found {r.figure}{why}")
    return lines


def _skipped(study: Study) -> list[str]:
    return (
        [f"Not run: {', '.join(f'{n} ({why})' for n, why in study.skipped.items())}."]
        if study.skipped
        else []
    )
