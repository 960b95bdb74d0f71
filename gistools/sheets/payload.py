"""The figures of a sheet as plain values.

Taken from the result layers as they are, rounded only in length of text.
"""

from __future__ import annotations

import json
from typing import Any

import pandas as pd
from markupsafe import Markup
from shapely.ops import substring

from gistools.base.columns import Column
from gistools.base.errors import GistoolsError
from gistools.base.units import UNITS
from gistools.base.values import json_value
from gistools.design.tee_proposals import propose_tees
from gistools.sheets import profiles
from gistools.sheets.frame import Frame, svg_path
from gistools.sheets.plan import Plan
from gistools.sheets.rasters import coloured, span, stops
from gistools.sheets.results import HoleResults, shown_steps
from gistools.sheets.table_specs import drawn_layers, page_layers, page_table, with_specs
from gistools.site.model import Site, names
from gistools.site.players import one_player
from gistools.site.results import Map
from gistools.steps.card_sentences import sentence
from gistools.steps.landing_areas import CARD_KEYS
from gistools.steps.writes import PageTable

KEYS = ("tee", "player", "wind", "pin")
#: columns that say where a row came from, of no use to a reader
BOOKKEEPING = {
    "hole",
    "feature_id",
    "hidden_by_layer",
    "hidden_by_feature_id",
    "geometry",
    "other_feature_id",
    "tee_feature_id",
    "caution",
}
#: layers that tell whom and what winds were studied
STUDIED = ("where_to_play", "positions", "effective_carries", "tee_shots", "best_shots")
#: layers of which a table shows some rows: those with a value in a column, or with this one
ONLY: dict[str, tuple[str, str | None]] = {"sightlines": ("tee", None)}
#: hazards whose carry hardly changes across them: one line each
SMALL_HAZARDS = {"bunkers"}
SIMPLE_M = 0.2
GREEN_PARTS = ("tier", "tier face", "false front")  # parts of a green that are drawn
PARTS_SIMPLE_M = 0.8  # outlines of tiers follow cells
#: ranks whose landing areas are drawn, and how their outlines are thinned [m]
LANDINGS_DRAWN, LANDING_SIMPLE_M = 2, {"holds": 1.0, "feeds": 0.4}
DIGITS = 4  # decimals of figures on the page


def payload(site: Site, results: HoleResults, plan: Plan) -> dict[str, Any]:
    """Return everything the page of a hole shows, ready for :func:`embedded`."""
    frame, known = plan.frame, choices(site, results)
    return {
        "hole": results.hole,
        "view": [round(v, 1) for v in plan.view],
        "choices": known,
        "band": site.setting("level_band_strokes", results.hole),
        "tees": _spots(site.layer("tees", results.hole), "tee", frame),
        "pins": _spots(site.layer("pins", results.hole), "pin", frame),
        "lines": shapes(results.table("lines_of_play"), frame),
        "zones": shapes(results.table("zones"), frame),
        "zone_names": names(results.table("zones").get("zone", [])),
        "carries": carries(results, frame),
        "cards": finishes(results, frame),
        "landings": landings(results, frame),
        "inset": [round(v, 1) for v in plan.inset.view],
        "green_parts": named_shapes(results, "green_parts", "green_part", frame, GREEN_PARTS),
        "fair_areas": shapes(results.table("fair_areas"), frame, PARTS_SIMPLE_M),
        "setbacks": within(shapes(results.table("setbacks"), frame, simple_m=1.0), plan),
        "conflicts": shapes(results.table("setback_conflicts"), frame),
        "maps": maps(results, frame),
        "tables": with_specs(
            {
                layer: table(results, layer)
                for layer in (*page_layers(), *drawn_layers())
                if layer in results.tables
            }
        ),
        "profiles": profiles.profiles(results, site),
        "widths": profiles.widths(results),
        "facts": profiles.facts(results),
        "reasons": {name: results.why_empty(name) for name in shown_steps()},
    }


def choices(site: Site, results: HoleResults) -> dict[str, list[str]]:
    """Return what can be chosen on the page, in the order of the survey and of the results.

    Tees and pins are those of the survey and of the results; players and winds those that were studied: the
    ones in the results of shots and strategy, or, without these, in any.
    """
    studied = [results.tables[n] for n in STUDIED if n in results.tables]
    out: dict[str, list[str]] = {}
    for key in KEYS:
        seen: dict[str, None] = {}
        if key in ("tee", "pin"):
            layer = site.layer(key + "s", results.hole)
            seen.update(dict.fromkeys(names(layer[key])) if len(layer) else {})
        for tables in (studied, list(results.tables.values())):
            if key in ("player", "wind") and any(seen):
                break
            for result in tables:
                if key in result:
                    seen.update(dict.fromkeys(names(result[key])))
        out[key] = [v for v in seen if v]
    return out


def proposals(site: Site, hole: int, players: list[str]) -> list[str]:
    """Return in words where tees should stand so that the others meet the shot of the longest player."""
    try:
        longest = max(players, key=lambda name: one_player(site, name).clubs[0].carry_m, default="")
        others = tuple(p for p in players if p != longest)
        readings = propose_tees(site, hole=hole, players=others, like=longest)["reading"] if others else ()
    except GistoolsError:  # no tee, or a player that the site has no more
        return []
    return list(readings)


def table(results: HoleResults, layer: str) -> dict[str, Any]:
    """Return a result layer without its geometry: declared columns with titles and units, and rows."""
    result = results.table(layer)
    if layer in ONLY:
        column, words = ONLY[layer]
        result = result[result[column].fillna("") != ""] if words is None else result[result[column] == words]
    declared = results.columns(layer)
    columns = [c for c in declared if c in result and c not in BOOKKEEPING]
    spec = page_table(layer)
    if spec is not None and spec.spread:
        result, columns, declared = _spread(result, spec, declared)
    out: dict[str, list[Any]] = {
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
        "rows": [[json_value(v, DIGITS) for v in row] for row in result[columns].itertuples(index=False)],
    }
    if layer == "where_to_play" and "reading" in columns:
        out["columns"].append({"name": "reading_yd", "title": "Reading", "unit": "", "shown": "", "text": ""})
        for row, card in zip(out["rows"], result.itertuples(index=False), strict=True):
            row.append(sentence(dict(zip(result.columns, card, strict=True)), "yd"))
    joined = [c for c in spec.joined.split() if c in columns] if spec else []
    if joined:
        text = "tee, player, wind, zone, hole location and hazard it is about"
        out["columns"].append({"name": "about", "title": "About", "unit": "", "shown": "", "text": text})
        for row in out["rows"]:
            row.append(", ".join(str(v) for c, v in zip(columns, row, strict=False) if c in joined and v))
    return out


def _spread(
    result: pd.DataFrame, spec: PageTable, declared: dict[str, Column]
) -> tuple[pd.DataFrame, list[str], dict[str, Column]]:
    """Lay the values of a key side by side: a row for each other key, with one figure in a column a value."""
    who, figure = spec.spread.split()
    keys = [c for c in (*spec.aside.split(), *spec.columns.split()) if c in result]
    heads = names(result[who])
    first = result.drop_duplicates([*keys, who])
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in first.to_dict("records"):
        key = tuple(None if pd.isna(row[k]) else row[k] for k in keys)
        rows.setdefault(key, dict(zip(keys, key, strict=True)))[row[who]] = row[figure]
    columns = [*keys, *dict.fromkeys(heads)]
    wide = pd.DataFrame(list(rows.values()), columns=columns)
    return wide, columns, declared | dict.fromkeys(heads, declared[figure])


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
    """Return a layer's geometry in page coordinates.

    Path data, a spot for its label, and its row's number.
    """
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


def named_shapes(
    results: HoleResults, layer: str, column: str, frame: Frame, words: tuple[str, ...]
) -> list[dict[str, Any]]:
    """Return the shapes of a layer that have one of some words in a column, each with its word."""
    table = results.table(layer)
    drawn = shapes(table, frame, PARTS_SIMPLE_M)
    named = [shape | {"text": str(table[column].iloc[shape["row"]])} for shape in drawn]
    return [shape for shape in named if shape["text"] in words]


def finishes(results: HoleResults, frame: Frame) -> list[dict[str, Any]]:
    """Return where the shot of each card finishes on the page: middle, half axes and turn of its ellipse.

    The turn is clockwise from the x axis of the page [degrees].
    """
    table = results.table("where_to_play")
    out = []
    for number, row in enumerate(table.to_dict("records")):
        if not row["ellipse_length_m"] > 0:
            continue
        x, y = frame.page(row["geometry"].x, row["geometry"].y)
        out.append(
            {
                "row": number,
                "at": [round(float(x), 1), round(float(y), 1)],
                "axes": [round(row["ellipse_length_m"] / 2, 2), round(row["ellipse_width_m"] / 2, 2)],
                "turn": round(float(row["axis_bearing_deg"] - frame.bearing_deg), 1),
            }
        )
    return out


def landings(results: HoleResults, frame: Frame) -> list[dict[str, Any]]:
    """Return, for the cards of the first two zones, where the shot at the green can land, and its misses.

    Path data of the ground that holds and that feeds, and place, quarter, share [%] and verdict of each miss.
    """
    table, drawn = results.table("where_to_play"), results.table("landing_areas")
    if not len(table) or not len(drawn):
        return []
    keys = list(CARD_KEYS)
    areas_of = dict(iter(drawn.groupby(keys, sort=False)))
    missed = dict(iter(results.table("misses").groupby(keys, sort=False)))
    out = []
    for number, key in enumerate(table[keys].itertuples(index=False, name=None)):
        if key not in areas_of or table["rank"].iloc[number] > LANDINGS_DRAWN:
            continue
        one: dict[str, Any] = {"row": number, "misses": []}
        for row in areas_of[key].to_dict("records"):
            word = row["landing_result"].partition(" ")[0]
            one[word] = svg_path(frame.turn(row["geometry"]).simplify(LANDING_SIMPLE_M[word]))
        for row in missed[key].to_dict("records") if key in missed else ():
            x, y = (round(float(v), 1) for v in frame.page(row["geometry"].x, row["geometry"].y))
            miss = {"at": [x, y], "quarter": row["miss_quarter"], "verdict": row["miss_verdict"]}
            one["misses"].append(miss | {"pct": round(row["miss_pct"])})
        out.append(one)
    return out


def carries(results: HoleResults, frame: Frame) -> list[dict[str, Any]]:
    """Return the carry lines worth drawing: one per hazard, two where its far edge runs away by some metres.

    ``over`` is the part between the edges, ``tip`` the far edge on the page; rough that is carried is listed
    in the table only.
    """
    result = results.table("carries")
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


def maps(results: HoleResults, frame: Frame) -> dict[str, Any]:
    """Return the maps of a hole by kind, each coloured on the scale its kind shares."""
    out = {}
    for kind, words, reverse in (
        ("flag_views", "share of the flagstick seen", False),
        ("strokes", "expected strokes to hole out", True),
    ):
        chosen = [m for m in results.maps if kind_of(m, results) == kind]
        if not chosen:
            continue
        low, high = (0.0, 100.0) if chosen[0].unit == "pct" else span(chosen)
        out[kind] = {
            "text": words,
            "unit": UNITS[chosen[0].unit][1],
            "low": round(low, 2),
            "high": round(high, 2),
            "stops": stops(reverse=reverse),
            "items": [keys_of(m) | coloured(m, frame, low, high, reverse=reverse).as_dict() for m in chosen],
        }
    return out


def kind_of(raster: Map, results: HoleResults) -> str:
    """Return the step a map belongs to."""
    for step in results.steps.values():
        if any(w.geometry == "raster" and raster.name.startswith(w.layer) for w in step.writes):
            return step.name
    return ""


def keys_of(raster: Map) -> dict[str, str]:
    """Return the tee, player, wind and pin a map is of."""
    return {key: str(value) for key, value in raster.keys.items() if key != "hole"}


def embedded(value: Any) -> Markup:
    """Write values as JSON that is safe inside a script element, whatever names are in it."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "&<>\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)
