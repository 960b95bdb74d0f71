"""Sections, widths and headline figures of a sheet, from result layers to what the page draws."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import LineString

from gistools.base.values import json_value
from gistools.sheets.plan import GROUND, on_ground
from gistools.sheets.results import HoleResults
from gistools.site.model import Site, names

#: what is named on a section, where the line goes over it
CROSSED = ("tees", "mounds", "water", "burns", "bunkers", "greens", "paths")
#: a line of play that strays further than this from its chord is not drawn to the plan's scale
BENT_M = 8.0


def widths(results: HoleResults) -> list[dict[str, Any]]:
    """Return, per tee, the fairway's edges to the left and right of the line of play at its stations [m]."""
    table = results.table("corridors")
    if not len(table):
        return []
    out = []
    for tee, rows in table.groupby("tee", sort=False):
        rows = rows.sort_values("chainage_m")
        landing = results.table("landing_widths")
        marks = landing[landing["tee"] == tee] if len(landing) else landing
        out.append(
            {
                "tee": str(tee),
                "s": _numbers(rows["chainage_m"], 1),
                "left": _numbers(rows["fairway_left_m"], 2),
                "right": _numbers(rows["fairway_right_m"], 2),
                "bent": tee in bent(results),
                "told": _extremes(rows),
                "marks": [
                    {
                        "s": _figure(r["chainage_m"]),
                        "player": str(r["player"]),
                        "text": f"{r['player']}, shot {r['full_shot']}",
                    }
                    for r in marks.to_dict("records")
                ],
            }
        )
    return out


def _extremes(rows: pd.DataFrame) -> dict[str, float]:
    """Widths worth a sentence [m].

    The narrowest as the layer marks it, the widest, the least clear of hazards.
    """
    chainage, wide, clear = (
        rows[c].to_numpy(float) for c in ("chainage_m", "fairway_width_m", "clear_width_m")
    )
    out: dict[str, float] = {}
    marked = np.flatnonzero(rows["narrowest"].fillna(False).to_numpy(bool))
    if len(marked) and np.isfinite(wide[marked[0]]):
        out |= {"narrow": _figure(wide[marked[0]]), "narrow_at": _figure(chainage[marked[0]])}
    if np.isfinite(wide).any():
        out["widest"] = _figure(np.nanmax(wide))
    lost = wide - clear
    if np.isfinite(lost).any() and np.nanmax(lost) > 0.5:
        most = int(np.nanargmax(lost))
        out |= {
            "lost": _figure(lost[most]),
            "lost_at": _figure(chainage[most]),
            "left_over": _figure(clear[most]),
        }
    return out


def bent(results: HoleResults) -> set[str]:
    """Return the tees whose line of play turns, so that its chainage is not the plan's distance."""
    table = results.table("lines_of_play")
    out = set()
    for row in table.to_dict("records"):
        xy = np.asarray(row["geometry"].coords)[:, :2]
        chord = xy[-1] - xy[0]
        along = np.hypot(*chord)
        if along == 0 or np.abs((xy - xy[0]) @ (np.array([-chord[1], chord[0]]) / along)).max() > BENT_M:
            out.add(str(row["tee"]))
    return out


def facts(results: HoleResults) -> list[dict[str, Any]]:
    """Return the figures at the head of the page: length from each tee, par by length."""
    rows = results.table("lengths").to_dict("records")
    out: list[dict[str, Any]] = [{"word": f"{row['tee']} tee", "m": _figure(row["ground_m"])} for row in rows]
    for row in rows:
        for who in ("men", "women"):
            if row[f"par_{who}"]:
                out.append(
                    {"word": f"par by length, {who}", "text": str(row[f"par_{who}"]), "tee": str(row["tee"])}
                )
    return out


def _figure(value: Any) -> Any:
    return json_value(value, 4)


def _numbers(values: Any, digits: int) -> list[float | None]:
    return [round(float(v), digits) if np.isfinite(v) else None for v in np.asarray(values, float)]


def crossed(site: Site, line: LineString) -> list[dict[str, Any]]:
    """Return what a line crosses on the plan.

    From and to, as distances along it [m], layer and name, in order.
    """
    out = []
    called = dict(GROUND)
    for layer in CROSSED:
        table = site.layer(layer)
        for row in table[table.intersects(line.buffer(10.0))].to_dict("records") if len(table) else ():
            shape = on_ground(layer, row)
            if shape is None or shape.area == 0:
                continue
            inside = shapely.intersection(line, shapely.make_valid(shape))
            for part in shapely.get_parts(inside):
                if part.geom_type != "LineString" or part.length < 0.3:
                    continue
                ends = sorted(line.project(shapely.Point(part.coords[k])) for k in (0, -1))
                name = names([row.get("name")])[0] or called[layer]
                text = called[layer] if layer in ("greens", "tees") else name
                out.append({"a": round(ends[0], 1), "b": round(ends[1], 1), "layer": layer, "text": text})
    return sorted(out, key=lambda c: (c["a"], c["b"]))


def profiles(results: HoleResults, site: Site | None = None) -> list[dict[str, Any]]:
    """Return ground [m] along lines of play and approaches, obstacles, and the line of sight."""
    points = results.table("section_points")
    if not len(points):
        return []
    turned = bent(results)
    drawn = results.table("sections")
    lines = dict(zip(drawn["section"], drawn["geometry"], strict=True)) if "geometry" in drawn else {}
    out = []
    for (section, kind), rows in points.groupby(["section", "section_kind"], sort=False):
        first = rows.iloc[0]
        tee, zone, pin = (str(v) if isinstance(v, str) else "" for v in first[["tee", "zone", "pin"]])
        room = rows["clearance_m"].to_numpy(float)[1:-1]
        least = float(np.nanmin(room)) if np.isfinite(room).any() else None
        out.append(
            {
                "kind": "line" if kind == "line of play" else "approach",
                "tee": tee,
                "zone_at": zone,
                "pin": pin,
                "s": _numbers(rows["station_m"], 1),
                "z": _numbers(rows["level_m"], 2),
                "top": _numbers(rows["obstacle_top_m"], 2),
                "sight": _numbers(rows["sight_level_m"], 2),
                "room": _figure(least),
                "crossed": crossed(site, lines[section]) if site is not None and section in lines else [],
                "bent": tee in turned,
            }
        )
    return out
