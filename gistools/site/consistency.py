"""Consistency checks between survey layers, and between them and the terrain."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS, Proj, Transformer
from pyproj.exceptions import ProjError

from gistools.base.errors import SiteError
from gistools.compute.ballistics.air import LEVELS_M
from gistools.site import _raster
from gistools.site.findings import Finding
from gistools.site.model import Site
from gistools.site.schema import SURVEY_LAYERS
from gistools.site.types import ArrayTerrain, TerrainSource

#: all of these are assumptions about what can only be a mistake, wide on purpose
PIN_OFF_M = 0.05
TEE_TO_LINE_M = 25.0
TEE_TO_GREEN_M = (30.0, 1000.0)
FAR_M = 5000.0
TEE_TO_GREEN_RISE_M = 200.0
OVERLAP_M2 = 1.0
LONG_NAME = 200
SCALE_WARNING, SCALE_ERROR = 0.002, 0.01

#: cells of terrain read at once to look for missing ones: 128 MB
AT_ONCE_CELLS = 16_000_000

_ON_TERRAIN = ("tees", "fairway", "greens", "pins", "bunkers", "zones", "play_points")
_IN_BOUNDS = ("tees", "fairway", "greens", "pins", "play_points")


def consistency_findings(site: Site) -> list[Finding]:
    """Return every finding about how the layers of a site fit together."""
    checks = (_numbers, _names, _pins, _tees, _overlaps, _bounds, _positions, _terrain, _levels)
    return [finding for check in checks for finding in check(site)]


def _numbers(site: Site) -> Iterator[Finding]:
    holes = set(site.holes)
    tees = site.layer("tees")
    for hole in site.holes:
        if not (tees["hole"] == hole).any():
            message = f"hole {hole} has a green and no tee"
            yield Finding("error", "tees", None, message, "draw its tees", hole)
        if len(site.layer("fairway", hole)) == 0:
            yield Finding("note", "fairway", None, f"hole {hole} has no fairway", "", hole)
        greens = site.layer("greens", hole)
        if len(greens) > 1:
            ids = " and ".join(str(f) for f in greens["fid"])
            message = f"hole {hole} has {len(greens)} greens ({ids}); it is not specified which one is in use"
            yield Finding("error", "greens", None, message, "keep one, or join its parts", hole)
    for name, table in site.tables.items():
        if name == "greens" or "hole" not in table or len(table) == 0 or not holes:
            continue
        must = SURVEY_LAYERS[name].hole == "must" if name in SURVEY_LAYERS else False
        for fid, hole in zip(table["fid"], table["hole"], strict=True):
            if not pd.isna(hole) and int(hole) not in holes:
                level: Any = "error" if must else "warning"
                message = f"it carries hole {int(hole)}, which has no green"
                yield Finding(level, name, int(fid), message, "correct the hole number, or draw the green")


def _names(site: Site) -> Iterator[Finding]:
    for layer, field in (("tees", "tee"), ("pins", "pin"), ("zones", "zone")):
        table = site.layer(layer)
        seen: dict[tuple[Any, str], int] = {}
        for fid, hole, name in zip(table["fid"], table["hole"], table[field], strict=True):
            if pd.isna(hole) or pd.isna(name):
                continue
            first = seen.setdefault((int(hole), str(name).casefold()), int(fid))
            if first != int(fid) or list(table["fid"]).count(fid) > 1:
                message = f"hole {int(hole)} has {name!r} more than once in {layer} (feature {first} too)"
                yield Finding("error", layer, int(fid), message, "give each its own name, or delete one")
    for layer, table in site.tables.items():
        odd = [
            int(fid)
            for fid, name in zip(table["fid"], table.get("name", []), strict=False)
            if isinstance(name, str) and any(ord(c) < 32 for c in name)
        ]
        for fid in odd:
            yield Finding("note", layer, fid, "its name holds a line break or another control character")
        for fid, name in zip(table["fid"], table.get("name", []), strict=False):
            if isinstance(name, str) and len(name) > LONG_NAME:
                message = f"its name has {len(name):,} characters"
                yield Finding(
                    "warning", layer, int(fid), message, "shorten it; it is shown on pages and maps"
                )


def _pins(site: Site) -> Iterator[Finding]:
    pins = site.layer("pins")
    for fid, hole, point in zip(pins["fid"], pins["hole"], pins.geometry, strict=True):
        greens = site.layer("greens").geometry[site.layer("greens")["hole"] == hole]
        if len(greens):
            off = float(greens.distance(point).min())
            if off > PIN_OFF_M:
                message = f"the pin is {off:.1f} m off the green of hole {int(hole)}"
                yield Finding(
                    "error", "pins", int(fid), message, "move it onto the green, or correct its hole"
                )


def _tees(site: Site) -> Iterator[Finding]:
    tees, lines = site.layer("tees"), site.layer("play_lines")
    nearest, farthest = TEE_TO_GREEN_M
    for fid, hole, tee, shape in zip(tees["fid"], tees["hole"], tees["tee"], tees.geometry, strict=True):
        greens = site.layer("greens").geometry[site.layer("greens")["hole"] == hole]
        if len(greens) == 0:
            continue
        away = float(greens.centroid.distance(shape.centroid).min())
        if away > farthest:
            message = f"the tee is {away:.0f} m from the green of hole {int(hole)}"
            yield Finding("error", "tees", int(fid), message, "correct its hole number or its place")
        elif away < nearest:
            message = f"the tee is only {away:.0f} m from the green of hole {int(hole)}"
            yield Finding("warning", "tees", int(fid), message, "correct its hole number or its place")
        mine = lines[(lines["hole"] == hole) & ((lines["tee"] == tee) | lines["tee"].isna())]
        if len(mine):
            off = float(mine.distance(shape).min())
            if off > TEE_TO_LINE_M:
                message = f"the tee is {off:.0f} m from the nearest line of play drawn for it"
                yield Finding("warning", "tees", int(fid), message, "draw a line of play from this tee")


def _overlaps(site: Site) -> Iterator[Finding]:
    greens = site.layer("greens")
    level: Any
    for layer, says, level in (
        ("fairway", "the green counts there", "note"),
        ("bunkers", "sand counts there", "warning"),
    ):
        table = site.layer(layer)
        for fid, shape in zip(table["fid"], table.geometry, strict=True):
            for other, green in zip(greens["fid"], greens.geometry, strict=True):
                common = shape.intersection(green).area if shape.intersects(green) else 0.0
                if common > OVERLAP_M2:
                    message = f"it overlaps green {int(other)} by {common:.1f} m²; {says}"
                    yield Finding(level, layer, int(fid), message, "" if level == "note" else "cut it off")


def _bounds(site: Site) -> Iterator[Finding]:
    outline = site.layer("boundary")
    areas = [g for g in outline.geometry if g.geom_type == "Polygon"]
    if not areas:
        return
    inside = shapely.union_all(areas)
    for layer in _IN_BOUNDS:
        table = site.layer(layer)
        for fid, shape in zip(table["fid"], table.geometry, strict=True):
            if not inside.buffer(PIN_OFF_M).covers(shape):
                message = "it reaches beyond the boundary; that part is out of bounds"
                yield Finding("warning", layer, int(fid), message, "correct the outline or the boundary")


def _positions(site: Site) -> Iterator[Finding]:
    centres = {
        name: _centre(table.total_bounds)
        for name, table in site.tables.items()
        if name in SURVEY_LAYERS and len(table)
    }
    if not centres:
        return
    middle = (
        float(np.median([c[0] for c in centres.values()])),
        float(np.median([c[1] for c in centres.values()])),
    )
    for name, centre in centres.items():
        away, turned = math.dist(centre, middle), math.dist(centre[::-1], middle)
        if away > FAR_M / 2 and turned < FAR_M / 2:
            message = "eastings and northings are swapped: turned round, the layer lies among the others"
            yield Finding("error", name, None, message, "swap its coordinates")
        elif away > FAR_M:
            message = f"it lies {away / 1000:.0f} km from the other layers"
            yield Finding("error", name, None, message, "check the CRS it was exported in")
    yield from _in_area(site, middle)
    yield from _scale(site.crs_metric, middle)


def _centre(bounds: Any) -> tuple[float, float]:
    return (float(bounds[0] + bounds[2]) / 2, float(bounds[1] + bounds[3]) / 2)


def _in_area(site: Site, middle: tuple[float, float]) -> Iterator[Finding]:
    inside, turned = _covered(site.crs, middle, site.unit_m), _covered(site.crs, middle[::-1], site.unit_m)
    on_ground = on_ground_turned = True
    if site.ground is not None:
        on_ground = _within(site.ground.bounds, middle)
        on_ground_turned = _within(site.ground.bounds, middle[::-1])
    if (not inside and turned) or (not on_ground and on_ground_turned):
        message = "eastings and northings are swapped in every layer"
        yield Finding("error", "", None, message, "swap the coordinates and export again")
    elif not inside:
        message = f"the site lies outside the area {site.crs.name} is made for"
        yield Finding("warning", "", None, message, "check the CRS of the layers")


def _covered(crs: CRS, place: tuple[float, float], unit_m: float) -> bool:
    area = crs.area_of_use
    if area is None or not crs.is_projected:
        return True
    to_degrees = Transformer.from_crs(crs, 4326, always_xy=True)
    lon, lat = to_degrees.transform(place[0] / unit_m, place[1] / unit_m)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        return False
    across = area.west - 1 <= lon <= area.east + 1 if area.west <= area.east else True
    return bool(across and area.south - 1 <= lat <= area.north + 1)


def _within(bounds: Any, place: tuple[float, float]) -> bool:
    return bool(bounds[0] <= place[0] <= bounds[2] and bounds[1] <= place[1] <= bounds[3])


def _scale(metric: CRS, middle: tuple[float, float]) -> Iterator[Finding]:
    if not metric.is_projected:
        yield Finding(
            "note", "", None, "the CRS is a local grid: grid distances are taken as ground distances"
        )
        return
    try:
        plane = Proj(metric)
        lon, lat = plane(*middle, inverse=True)
        scale = plane.get_factors(lon, lat).meridional_scale
    except ProjError:
        scale = math.nan
    if not abs(scale - 1) <= SCALE_WARNING:
        level: Any = "warning" if abs(scale - 1) <= SCALE_ERROR else "error"
        message = (
            f"a metre on the ground is {scale:.4f} m in {metric.name} here, so every distance is wrong by"
            f" that"
        )
        yield Finding(level, "", None, message, "use the national grid or UTM zone of the site")


def _terrain(site: Site) -> Iterator[Finding]:
    if site.ground is None:
        return
    greens = site.layer("greens")
    box = shapely.box(*site.ground.bounds)
    if len(greens) and not greens.intersects(box).any():
        message = "none of the greens lies on the terrain"
        yield Finding("error", "terrain", None, message, "check the CRS and the extent of the terrain")
        return
    tables = {layer: site.layer(layer) for layer in _ON_TERRAIN}
    ground = _at_once(site.ground, [g for table in tables.values() for g in table.geometry])
    for layer, table in tables.items():
        for fid, shape in zip(table["fid"], table.geometry, strict=True):
            yield from _ground_under(ground, box, layer, int(fid), shape)


def _levels(site: Site) -> Iterator[Finding]:
    """Heights that cannot be: ground where nobody plays golf, a green far above or below its tee."""
    if site.ground is None:
        return
    low, high = LEVELS_M
    greens = site.layer("greens")
    for fid, hole, tee, shape in site.layer("tees")[["fid", "hole", "tee", "geometry"]].itertuples(
        index=False
    ):
        ends = [shape.centroid, *(g.centroid for g in greens.geometry[greens["hole"] == hole])]
        levels = [_level(site.ground, p) for p in ends]
        away = max((abs(v - levels[0]) for v in levels[1:] if not math.isnan(v)), default=math.nan)
        where = f"tee {tee}" + ("" if pd.isna(hole) else f" of hole {int(hole)}")
        if levels[0] < low or levels[0] > high:
            message = f"the terrain is {levels[0]:.0f} m high at the {where}"
        elif away > TEE_TO_GREEN_RISE_M:
            message = f"the terrain rises or falls {away:.0f} m from the {where} to its green"
        else:
            continue
        yield Finding("error", "tees", int(fid), message, "correct unit and scale of the terrain's heights")


def _level(ground: TerrainSource, place: shapely.Point) -> float:
    """Return the height of the terrain at a place [m], nan where there is none."""
    reach = 1.5 * ground.cell
    try:
        around = ground.surface((place.x - reach, place.y - reach, place.x + reach, place.y + reach))
    except SiteError:
        return math.nan
    return float(around.height(place.x, place.y))


def _at_once(ground: TerrainSource, shapes: list[Any]) -> TerrainSource:
    """Read the terrain under all features at once, where that is not too much to hold."""
    if not shapes:
        return ground
    west, south, east, north = shapely.total_bounds(shapes)
    reach = 2 * ground.cell
    if not (east - west) * (north - south) <= AT_ONCE_CELLS * ground.cell**2:
        return ground
    try:
        return ArrayTerrain(ground.surface((west - reach, south - reach, east + reach, north + reach)))
    except SiteError:
        return ground


def _ground_under(ground: TerrainSource, box: Any, layer: str, fid: int, shape: Any) -> Iterator[Finding]:
    remedy = "extend the terrain, or expect no answer there"
    if not box.intersects(shape):
        yield Finding("warning", layer, fid, "it lies outside the terrain", remedy)
        return
    if not box.covers(shape):
        yield Finding("warning", layer, fid, "part of it lies outside the terrain", remedy)
    west, south, east, north = shape.bounds
    reach = 1.5 * ground.cell
    try:
        surface = ground.surface((west - reach, south - reach, east + reach, north + reach))
    except SiteError as fault:
        yield Finding("warning", layer, fid, str(fault), remedy)
        return
    missing = np.isnan(surface.z)
    if not missing.any():
        return
    if shape.geom_type == "Point":
        if np.isnan(surface.height(shape.x, shape.y)) and box.covers(shape):
            yield Finding("warning", layer, fid, "the terrain has no height there", "fill the terrain")
        return
    rows, cols = surface.z.shape
    under = _raster.rasterize([(shape, 1)], rows, cols, surface.x_west, surface.y_north, surface.cell)
    holes = int((missing & (under == 1)).sum())
    if holes:
        message = f"the terrain has no height under {holes} of its {int(under.sum())} cells"
        yield Finding(
            "warning", layer, fid, message, "fill the holes in the terrain, or expect no answer there"
        )
