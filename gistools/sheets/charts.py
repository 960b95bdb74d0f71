"""Sections, widths and headline figures of a sheet, taken from the result layers in the form the page draws."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from gistools.sheets.gather import Found
from gistools.sheets.plain import plain
from gistools.units import show_length

#: a line of play that strays further than this from its chord is not drawn to the plan's scale
BENT_M = 8.0


def widths(found: Found) -> list[dict[str, Any]]:
    """Return, per tee, the fairway's edges to the left and right of the line of play at its stations [m]."""
    table = found.table("corridors")
    if not len(table):
        return []
    out = []
    for tee, rows in table.groupby("tee", sort=False):
        rows = rows.sort_values("chainage_m")
        landing = found.table("landing_widths")
        marks = landing[landing["tee"] == tee] if len(landing) else landing
        out.append(
            {
                "tee": str(tee),
                "s": _numbers(rows["chainage_m"], 1),
                "left": _numbers(rows["fairway_left_m"], 2),
                "right": _numbers(rows["fairway_right_m"], 2),
                "bent": tee in bent(found),
                "said": _narrowest(rows),
                "marks": [
                    {
                        "s": plain(r["chainage_m"]),
                        "player": str(r["player"]),
                        "text": f"{r['player']}, shot {r['shot']}",
                    }
                    for r in marks.to_dict("records")
                ],
            }
        )
    return out


def _narrowest(rows: pd.DataFrame) -> str:
    wide = rows["fairway_width_m"].astype(float)
    if not wide.notna().any():
        return "The line of play does not meet fairway."
    at = wide.idxmin()
    clear = rows["clear_width_m"].astype(float)
    words = (
        f"Fairway to the left (above the line) and right of play. Narrowest {show_length(wide[at], digits=1)}"
        f" at {show_length(rows['chainage_m'][at])}; widest {show_length(wide.max(), digits=1)}"
    )
    if clear.notna().any() and clear.min() < wide.min() - 0.05:
        low = clear.idxmin()
        words += (
            f"; least width clear of hazards {show_length(clear[low], digits=1)}"
            f" at {show_length(rows['chainage_m'][low])}"
        )
    return words + "."


def bent(found: Found) -> set[str]:
    """Return the tees whose line of play turns, so that its chainage is not the plan's distance."""
    table = found.table("lines_of_play")
    out = set()
    for row in table.to_dict("records"):
        xy = np.asarray(row["geometry"].coords)[:, :2]
        chord = xy[-1] - xy[0]
        along = np.hypot(*chord)
        if along == 0 or np.abs((xy - xy[0]) @ (np.array([-chord[1], chord[0]]) / along)).max() > BENT_M:
            out.add(str(row["tee"]))
    return out


def facts(found: Found) -> list[dict[str, Any]]:
    """Return the figures at the head of the page: length from each tee, par by length."""
    rows = found.table("lengths").to_dict("records")
    out: list[dict[str, Any]] = [{"word": f"{row['tee']} tee", "m": plain(row["ground_m"])} for row in rows]
    for row in rows:
        for who in ("men", "women"):
            if row[f"par_{who}"]:
                out.append(
                    {"word": f"par by length, {who}", "text": str(row[f"par_{who}"]), "tee": str(row["tee"])}
                )
    return out


def _numbers(values: Any, digits: int) -> list[float | None]:
    return [round(float(v), digits) if np.isfinite(v) else None for v in np.asarray(values, float)]


def profiles(found: Found) -> list[dict[str, Any]]:
    """Return the ground along lines of play and approaches, with sightlines."""
    return []
