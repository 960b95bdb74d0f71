"""What a change does, in a few sentences: ranking, sight, carries, ground; small changes are left out."""

from __future__ import annotations

from typing import Any

import pandas as pd

from gistools.base.settings import default
from gistools.base.units import show_length, show_volume
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT
from gistools.steps.as_built_rows import as_built_sentences

#: sight that changes by less is left out [points of a per cent] (assumption)
LEAST_SEEN_PCT = 5.0
#: carries that change by less are left out [m] (assumption)
LEAST_CARRY_M = 1.0
#: sentences of one kind
MOST = 4
#: columns that say where and for whom a total holds
PLACE = ("pin", "tee", "player", "wind")
MOWABLE_PCT = SLOPE_LIMITS_PCT["mound"][0]


def sentences(changes: pd.DataFrame, band: float | None = None, units: str = "m") -> list[str]:
    """Return what a comparison says, most telling first.

    Parameters
    ----------
    changes
        What :func:`gistools.design.compare.compare` returned, or the layer ``as_built_check`` of the step of
        that name.
    band
        Strokes within which totals are level; by default that of the setting `level_band_strokes`.
    units
        Lengths and volumes in ``"m"`` or ``"yd"``.

    Returns
    -------
    list of str
        One sentence each; "nothing changes that shows" where there is none.
    """
    if changes.attrs.get("layer") == "as_built_check":
        return as_built_sentences(changes)
    band = float(default("level_band_strokes")) if band is None else band
    if not len(changes):
        return ["Nothing changes that shows."]
    lines = [*_ranking(changes, band), *_seen(changes), *_carries(changes, units), *_ground(changes, units)]
    return lines or ["Nothing changes that shows."]


def _of(changes: pd.DataFrame, measure: str) -> pd.DataFrame:
    return changes[changes["measure"] == measure].dropna(subset=["change"])


def _where(row: Any, keys: tuple[str, ...]) -> str:
    return ", ".join(str(row[k]) for k in keys if k in row and pd.notna(row[k]) and row[k] != "")


def _ranking(changes: pd.DataFrame, band: float) -> list[str]:
    totals = _of(changes, "positions.total_strokes")
    if not (changes["measure"].str.startswith("positions.")).any():
        return []
    large = totals[totals["change"].abs() >= band]
    lines = []
    ranks = changes[changes["measure"] == "positions.rank"]
    turned = ranks[(ranks["after"] == 1) & (ranks["before"] != 1)] if len(ranks) else ranks
    gains = _of(changes, "positions.gain_strokes")
    for _, row in turned.head(MOST).iterrows():
        same = [k for k in ("hole", *PLACE, "zone") if k in gains]
        gain = gains[(gains[same] == row[same]).all(axis=1)]["after"].max()  # nan: no change that shows
        verb = "becomes first" if gain >= band else "is now level with the first"
        lines.append(f"{row['zone']} {verb} for {_where(row, PLACE)}.")
    if not len(turned):
        lines.append("The first choices stay." if len(ranks) else "The order stays.")
    for _, row in (
        large.reindex(large["change"].abs().sort_values(ascending=False).index).head(MOST).iterrows()
    ):
        word = "dearer" if row["change"] > 0 else "cheaper"
        where = _where(row, PLACE)
        lines.append(f"{row['zone']} {abs(row['change']):.2f} {word} for {where}.")
    if len(large) > MOST:
        lines.append(f"{len(large) - MOST} more totals change by {band:.2f} strokes or more.")
    if not len(large):
        lines.append(f"No total changes by {band:.2f} strokes or more.")
    return lines


def _seen(changes: pd.DataFrame) -> list[str]:
    rows = _of(changes, "zone_views.flag_seen_mean_pct")
    rows = rows[rows["change"].abs() >= LEAST_SEEN_PCT]
    lines = []
    for _, row in rows.reindex(rows["change"].abs().sort_values(ascending=False).index).head(MOST).iterrows():
        word = "less" if row["change"] < 0 else "more"
        lines.append(f"{row['pin']} seen {abs(row['change']):.0f} points {word} from {row['zone']}.")
    if len(rows) > MOST:
        lines.append(f"{len(rows) - MOST} more views change by {LEAST_SEEN_PCT:.0f} points or more.")
    return lines


def _carries(changes: pd.DataFrame, units: str) -> list[str]:
    rows = _of(changes, "carries.carry_m")
    rows = rows[rows["change"].abs() >= LEAST_CARRY_M]
    largest = rows.reindex(rows["change"].abs().sort_values(ascending=False).index).head(MOST)
    return [
        f"{row['feature']} {'+' if row['change'] > 0 else ''}{show_length(row['change'], units)} to carry"
        f" from {_where(row, ('tee', 'line'))}."
        for _, row in largest.iterrows()
    ]


def _ground(changes: pd.DataFrame, units: str) -> list[str]:
    ground = changes[changes["measure"].str.startswith("ground.")]
    figures = {
        str(row["measure"]).removeprefix("ground."): (row["before"], row["after"])
        for row in ground.to_dict("records")
    }
    parts = [
        f"{show_volume(figures[key][1], units)} {word}"
        for key, word in (("cut_m3", "cut"), ("fill_m3", "fill"))
        if key in figures and figures[key][1] >= 1.0
    ]
    if "steepest_pct" in figures:
        steepest = figures["steepest_pct"][1]
        parts.append(
            f"slopes to {steepest:.0f} %"
            + (" (too steep for ride-on mowers)" if steepest > MOWABLE_PCT else "")
        )
    return [", ".join(parts).capitalize() + "."] if parts else []
