"""What a survey draws that can hardly be: lines that miss the green, greens in the pond, odd shapes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely

from gistools.base.errors import InputError, SiteError
from gistools.base.settings import SETTINGS
from gistools.compute.layout.lines_of_play import tee_centre
from gistools.compute.terrain.obstacles import Obstacle
from gistools.compute.terrain.shapes import Shape
from gistools.site.findings import Finding, Level
from gistools.site.model import Site
from gistools.site.players import player_from, wind_from

#: assumptions about what can only be a mistake, wide on purpose
GREEN_M2 = (40.0, 2500.0)  # a green outside these is doubted; 95 of 100 measured ones are under 674 m2
GREEN_MOST_M2 = 10_000.0  # no green
FAIRWAY_AWAY_M = 400.0  # a fairway farther from the line between tee and green belongs to another hole
SHAPE_STEP_M = 60.0  # a finished level farther from the ground is a slip
OVERLAP_M2 = 1.0
FLOODED_SHARE = 0.05  # share of a green in water from which on it is an error


def plausibility_findings(site: Site) -> list[Finding]:
    """Return every finding about features that cannot be as drawn."""
    checks = (_lines, _greens, _fairways, _wet, _zones, _trees, _shapes, _people)
    return [finding for check in checks for finding in check(site)]


def _lines(site: Site) -> Iterator[Finding]:
    lines, snap_m = site.layer("play_lines"), float(SETTINGS["line_snap_m"].default)
    for row in lines.itertuples():
        hole = None if pd.isna(row.hole) else int(row.hole)
        greens = site.layer("greens").geometry[site.layer("greens")["hole"] == row.hole]
        tees = site.layer("tees").geometry[site.layer("tees")["hole"] == row.hole]
        if hole is None or len(greens) == 0 or len(tees) == 0:
            continue
        start, end = (shapely.Point(row.geometry.coords[k]) for k in (0, -1))
        gaps = [
            (float(tees.distance(a).min()), float(greens.distance(b).min()))
            for a, b in ((start, end), (end, start))
        ]
        turned = sum(gaps[1]) < sum(gaps[0])
        if turned:
            message = f"the line of play of hole {hole} is drawn from green to tee; it is turned round"
            yield Finding("warning", "play_lines", int(row.fid), message, "draw it from tee to green", hole)
        away = gaps[1 if turned else 0][1]
        if away > snap_m:
            message = (
                f"the line of play of hole {hole} ends {away:.0f} m from the green;"
                " it is carried on straight to the centre of the green"
            )
            yield Finding("warning", "play_lines", int(row.fid), message, "draw it to the green", hole)


def _greens(site: Site) -> Iterator[Finding]:
    for row in site.layer("greens").itertuples():
        area, low, high = row.geometry.area, *GREEN_M2
        if low <= area <= high:
            continue
        level: Level = "error" if area > GREEN_MOST_M2 else "warning"
        message = f"the green has {area:,.0f} m²; greens have some 100 to 1,000"
        yield Finding(level, "greens", int(row.fid), message, "correct its outline, or its layer")


def _fairways(site: Site) -> Iterator[Finding]:
    for layer in ("fairway", "zones"):
        for row in site.layer(layer).itertuples():
            greens = site.layer("greens").geometry[site.layer("greens")["hole"] == row.hole]
            tees = site.layer("tees").geometry[site.layer("tees")["hole"] == row.hole]
            if len(greens) == 0 or len(tees) == 0:
                continue
            drawn = site.layer("play_lines").geometry[site.layer("play_lines")["hole"] == row.hole]
            reach = shapely.union_all([*drawn, shapely.convex_hull(shapely.union_all([*greens, *tees]))])
            away = float(reach.distance(row.geometry))
            if away > FAIRWAY_AWAY_M:
                message = f"it carries hole {int(row.hole)} and lies {away:.0f} m from the way of that hole"
                yield Finding("warning", layer, int(row.fid), message, "correct its hole number")


def _wet(site: Site) -> Iterator[Finding]:
    ponds = [(int(r.fid), r.geometry) for r in site.layer("water").itertuples()]
    burns = [
        (int(r.fid), _strip(r.geometry, r.width_m))
        for r in site.layer("burns").itertuples()
        if r.geometry.geom_type != "LineString" or r.width_m > 0
    ]
    for layer, areas in (("water", ponds), ("burns", burns)):
        if not areas:
            continue
        tree = shapely.STRtree([shape for _, shape in areas])
        for row in site.layer("greens").itertuples():
            for k in sorted(tree.query(row.geometry, predicate="intersects")):
                fid, water = areas[k]
                common = water.intersection(row.geometry).area
                if common <= OVERLAP_M2:
                    continue
                level: Level = "error" if common > FLOODED_SHARE * row.geometry.area else "warning"
                message = f"{common:.0f} m² of the green lie in {layer} {fid}; water counts there"
                remedy = "cut the green out of the water, or the water out of the green"
                yield Finding(level, "greens", int(row.fid), message, remedy)
        for name, remedy in (("tees", "move the tee, or cut it out of the water"), ("pins", "move the pin")):
            for row in site.layer(name).itertuples():
                place = shapely.Point(tee_centre(row.geometry))
                for k in sorted(tree.query(place, predicate="within")):
                    message = f"it lies in {layer} {areas[k][0]}"
                    yield Finding("error", name, int(row.fid), message, remedy)


def _strip(shape: Any, width_m: float) -> Any:
    return shape.buffer(width_m / 2, cap_style="flat") if shape.geom_type == "LineString" else shape


def _zones(site: Site) -> Iterator[Finding]:
    zones = list(site.layer("zones").itertuples())
    for k, zone in enumerate(zones):
        for other in zones[:k]:
            if zone.hole == other.hole and zone.geometry.intersects(other.geometry):
                common = zone.geometry.intersection(other.geometry).area
                if common > OVERLAP_M2:
                    message = (
                        f"it overlaps zone {int(other.fid)} by {common:.0f} m²; a shot there counts for both"
                    )
                    yield Finding("warning", "zones", int(zone.fid), message, "part the two zones")


def _trees(site: Site) -> Iterator[Finding]:
    for layer in ("trees", "structures"):
        for row in site.layer(layer).to_dict("records"):
            clear = float(row.get("clear_m") or 0.0)
            height = float(row["height_m"])
            if not (np.isfinite(height) and np.isfinite(clear)):
                continue
            try:
                Obstacle(row["geometry"], height, clear)
            except InputError:
                message = (
                    f"its underside ({clear:g} m, `clear_m`) is not below its top ({height:g} m, `height_m`)"
                )
                yield Finding("error", layer, int(row["fid"]), message, "correct the two heights")


def _shapes(site: Site) -> Iterator[Finding]:
    ground = site.existing or site.ground
    box = None if ground is None else shapely.box(*ground.bounds)
    for row in site.layer("shapes").to_dict("records"):
        fid, fields = int(row["fid"]), {k: v for k, v in row.items() if k != "geometry" and not pd.isna(v)}
        kind = str(fields.get("kind", "")).strip().lower()
        if not kind:
            continue  # said where the field is read
        rise, level = fields.get("rise_m"), fields.get("level_m")
        try:
            Shape(kind, row["geometry"], name=f"{kind} {fid}")
        except InputError as fault:
            yield Finding("error", "shapes", fid, str(fault), "correct its kind, or redraw it")
            continue
        if rise is not None and level is not None:
            message = f"it has a rise ({rise:g} m) and a level ({level:g} m); only one can hold"
            yield Finding("error", "shapes", fid, message, "empty `rise_m` or `level_m`")
        elif rise is None and level is None and kind not in ("platform", "grade"):
            message = f"a {kind} needs a rise or a level"
            yield Finding("error", "shapes", fid, message, "put in `rise_m` or `level_m`")
        if box is None or ground is None:
            continue
        if not box.covers(row["geometry"]):
            message = "the shape reaches beyond the terrain"
            yield Finding("error", "shapes", fid, message, "extend the terrain, or redraw the shape on it")
            continue
        if level is not None:
            try:
                middle = row["geometry"].representative_point()
                reach = 3 * ground.cell
                window = ground.surface(
                    (middle.x - reach, middle.y - reach, middle.x + reach, middle.y + reach)
                )
                here = float(window.height(middle.x, middle.y))
            except SiteError:
                continue
            if abs(level - here) > SHAPE_STEP_M:
                message = f"its level is {level:,.1f} m and the ground there {here:,.1f} m"
                yield Finding("error", "shapes", fid, message, "correct `level_m`")


def _people(site: Site) -> Iterator[Finding]:
    for layer, field, make in (("players", "player", player_from), ("winds", "wind", wind_from)):
        first: dict[str, int] = {}
        for row in site.layer(layer).to_dict("records"):
            fid, name = int(row["fid"]), row.get(field)
            if pd.isna(name) or not str(name).strip():
                continue
            earlier = first.setdefault(str(name).strip().casefold(), fid)
            if earlier != fid:
                message = f"the {field} {name!r} is there twice (row {earlier} too); only one can count"
                yield Finding("error", layer, fid, message, "give each its own name, or delete one")
            try:
                make(row)
            except SiteError as fault:
                yield Finding("error", layer, fid, str(fault), "correct the row")
