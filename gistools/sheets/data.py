"""The figures of a sheet as plain values: taken from the result layers as they are, rounded only in length of text."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd
from shapely.ops import substring

from gistools.base.units import UNITS
from gistools.sheets import charts
from gistools.sheets.frame import Frame, svg_path
from gistools.sheets.gather import SHOWN, Found
from gistools.sheets.plain import plain
from gistools.sheets.plan_svg import Plan
from gistools.sheets.rasters import coloured, span, stops
from gistools.sheets.shown import DRAWN, with_shown
from gistools.sheets.shown import SHOWN as SHOWN_TABLES
from gistools.site.model import Site, names
from gistools.site.results import Map

KEYS = ("tee", "player", "wind", "pin")
#: columns that say where a row came from, of no use to a reader
BOOKKEEPING = {"hole", "fid", "geometry", "other_fid", "tee_fid", "caution"}
#: layers that tell whom and what winds were studied
STUDIED = ("positions", "approaches", "played_carries", "tee_shots", "best_shots")
#: layers of which a table shows some rows: those with a value in a column, or with this one
ONLY: dict[str, tuple[str, str | None]] = {"sightlines": ("tee", None)}
#: hazards whose carry hardly changes across them: one line each
SMALL_HAZARDS = {"bunkers"}
SIMPLE_M = 0.2


def payload(site: Site, found: Found, plan: Plan) -> dict[str, Any]:
    """Return everything the page of a hole shows, ready for :func:`embedded`."""
    frame, known = plan.frame, choices(site, found)
    return {
        "hole": found.hole,
        "view": [round(v, 1) for v in plan.view],
        "choices": known,
        "tees": _spots(site.layer("tees", found.hole), "tee", frame),
        "pins": _spots(site.layer("pins", found.hole), "pin", frame),
        "lines": shapes(found.table("lines_of_play"), frame),
        "zones": shapes(found.table("zones"), frame),
        "zone_names": names(found.table("zones").get("zone", [])),
        "carries": carries(found, frame),
        "shots": shapes(found.table("shot_ellipses"), frame),
        "shot_paths": shapes(found.table("shot_paths"), frame),
        "setbacks": within(shapes(found.table("setbacks"), frame, simple_m=1.0), plan),
        "conflicts": shapes(found.table("setback_conflicts"), frame),
        "maps": maps(found, frame, known),
        "tables": with_shown(
            {layer: table(found, layer) for layer in (*SHOWN_TABLES, *DRAWN) if layer in found.tables}
        ),
        "profiles": charts.profiles(found, site),
        "widths": charts.widths(found),
        "facts": charts.facts(found),
        "reasons": {name: found.why_empty(name) for name in SHOWN},
    }


def choices(site: Site, found: Found) -> dict[str, list[str]]:
    """Return what can be chosen on the page, in the order of the survey and of the results.

    Tees and pins are those of the survey and of the results; players and winds those that were studied: the
    ones in the results of shots and strategy, or, without these, in any.
    """
    studied = [found.tables[n] for n in STUDIED if n in found.tables]
    out: dict[str, list[str]] = {}
    for key in KEYS:
        seen: dict[str, None] = {}
        if key in ("tee", "pin"):
            layer = site.layer(key + "s", found.hole)
            seen.update(dict.fromkeys(names(layer[key])) if len(layer) else {})
        for tables in (studied, list(found.tables.values())):
            if key in ("player", "wind") and any(seen):
                break
            for result in tables:
                if key in result:
                    seen.update(dict.fromkeys(names(result[key])))
        out[key] = [v for v in seen if v]
    return out


def table(found: Found, layer: str) -> dict[str, Any]:
    """Return a result layer without its geometry: declared columns with titles and units, and rows."""
    result = found.table(layer)
    if layer in ONLY:
        column, words = ONLY[layer]
        result = result[result[column].fillna("") != ""] if words is None else result[result[column] == words]
    declared = found.columns(layer)
    columns = [c for c in declared if c in result and c not in BOOKKEEPING]
    told: dict[str, list[Any]] = {
        "columns": [
            {
                "name": c,
                "title": _title(c, declared[c].unit),
                "unit": declared[c].unit,
                "shown": UNITS[declared[c].unit][1],
                "text": declared[c].text,
            }
            for c in columns
        ],
        "rows": [[plain(v) for v in row] for row in result[columns].itertuples(index=False)],
    }
    joined = [c for c in SHOWN_TABLES[layer].joined if c in columns] if layer in SHOWN_TABLES else []
    if joined:
        text = "tee, player, wind, zone, hole location and hazard it is about"
        told["columns"].append({"name": "about", "title": "About", "unit": "", "shown": "", "text": text})
        for row in told["rows"]:
            row.append(", ".join(str(v) for c, v in zip(columns, row, strict=False) if c in joined and v))
    return told


def _title(name: str, unit: str) -> str:
    suffix = UNITS[unit][0]
    return (name.removesuffix(suffix) if suffix else name).replace("_", " ").capitalize()


def within(drawn: list[dict[str, Any]], plan: Plan) -> list[dict[str, Any]]:
    """Put the label of each shape where the view shows it; shapes whose middle lies outside go without."""
    west, north, east, south = plan.view
    return [
        d if west < d["at"][0] < east and north < d["at"][1] < south else {**d, "at": None} for d in drawn
    ]


def shapes(result: pd.DataFrame, frame: Frame, simple_m: float = SIMPLE_M) -> list[dict[str, Any]]:
    """Return a layer's geometry in page coordinates: path data, a spot for its label, and its row's number."""
    if "geometry" not in result:
        return []
    out = []
    for number, geometry in enumerate(result["geometry"]):
        if geometry is None or geometry.is_empty:
            continue
        turned = frame.turn(geometry)
        spot = turned.representative_point() if turned.area else turned.interpolate(0.5, normalized=True)
        out.append(
            {
                "row": number,
                "d": svg_path(turned.simplify(simple_m)),
                "at": [round(spot.x, 1), round(spot.y, 1)],
            }
        )
    return out


def carries(found: Found, frame: Frame) -> list[dict[str, Any]]:
    """Return the carry lines worth drawing: one per hazard, two where its far edge runs away by some metres.

    ``over`` is the part between the edges, ``tip`` the far edge on the page; rough that is carried is listed in the table only.
    """
    result = found.table("carries")
    if not len(result):
        return []
    drawn = []
    for item in shapes(result, frame):
        row = result.iloc[item["row"]]
        if row["layer"] in SMALL_HAZARDS and row["line"] != "least":
            continue
        if row["layer"] == "fairway" or (row["layer"] not in SMALL_HAZARDS and row["line"] == "on line"):
            continue
        over = substring(row["geometry"], float(row["reach_m"]), float(row["carry_m"]))
        x, y = frame.page(*row["geometry"].coords[-1][:2])
        drawn.append(
            {
                **item,
                "over": svg_path(frame.turn(over)),
                "tip": [round(float(x), 1), round(float(y), 1)],
            }
        )
    return drawn


def _spots(layer: pd.DataFrame, key: str, frame: Frame) -> list[dict[str, Any]]:
    out = []
    for name, geometry in zip(names(layer[key]), layer["geometry"], strict=True):
        x, y = frame.page(geometry.centroid.x, geometry.centroid.y)
        out.append({key: name, "at": [round(float(x), 1), round(float(y), 1)]})
    return out


def maps(found: Found, frame: Frame, known: dict[str, list[str]]) -> dict[str, Any]:
    """Return the maps of a hole by kind, each coloured on the scale its kind shares."""
    out = {}
    for kind, words, reverse in (
        ("flag_views", "share of the flagstick seen", False),
        ("strokes", "expected strokes to hole out", True),
    ):
        chosen = [m for m in found.maps if kind_of(m, found) == kind]
        if not chosen:
            continue
        low, high = (0.0, 100.0) if chosen[0].unit == "pct" else span(chosen)
        out[kind] = {
            "text": words,
            "unit": UNITS[chosen[0].unit][1],
            "low": round(low, 2),
            "high": round(high, 2),
            "stops": stops(reverse=reverse),
            "items": [
                told(m, known) | coloured(m, frame, low, high, reverse=reverse).as_dict() for m in chosen
            ],
        }
    return out


def kind_of(raster: Map, found: Found) -> str:
    """Return the step a map belongs to."""
    for step in found.steps.values():
        if any(w.geometry == "raster" and raster.name.startswith(w.layer) for w in step.writes):
            return step.name
    return ""


def told(raster: Map, known: dict[str, list[str]]) -> dict[str, str]:
    """Return the tee, player, wind and pin a map is of: those whose plain form is part of its name.

    Where one name holds another (pins `front` and `front left`), the longer one counts.
    """
    out = {}
    for key, values in known.items():
        fitting = [v for v in values if f"_{plain_name(v)}_" in f"_{plain_name(raster.name)}_"]
        if fitting:
            out[key] = max(fitting, key=len)
    return out


def plain_name(text: str) -> str:
    """Return a name as it is written in the name of a table: small letters, digits and underscores."""
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
