"""The steps of the ground: slopes, flag views, screening levels and sections."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.errors import InputError, SiteError
from gistools.base.progress import tick
from gistools.compute.terrain.defaults import (
    AIMS,
    CRESTS,
    CRITICAL_M,
    EDGE_PACES,
    EYE_M,
    PACE_M,
    RADIUS_M,
    STICK_M,
    TREES,
)
from gistools.steps import terrain_columns as columns
from gistools.steps.catalogue import Option, Reads, step

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.compute.terrain.line_of_sight import Scene
    from gistools.compute.terrain.screening import Crest
    from gistools.compute.terrain.sections import Section
    from gistools.compute.terrain.surface import Floats
    from gistools.hole.ground_gather import Hole
    from gistools.site.model import Map, Site
    from gistools.steps.slope_rows import Row


_TEES, _GREENS = Reads("tees", required=True), Reads("greens", required=True)
_TERRAIN = Reads("terrain", required=True)
_PLAN = [_TEES, _GREENS, _TERRAIN, Reads("fairway"), Reads("pins"), Reads("play_lines"), Reads("zones")]
_PARTED = [Reads("bunkers"), Reads("burns"), Reads("water")]
_ABOVE = [Reads("mounds"), Reads("trees"), Reads("structures")]
_READ = {reads.layer for reads in (*_PLAN, *_ABOVE)}
_EYE = Option("m", "height of the eyes above ground", 0.3, 10)
_STICK = Option("m", "height of the flagstick", 0.3, 10)
_AIM = Option("", "point on the stick that the clearance is told for", choices=tuple(AIMS))
_SEEN_THROUGH = Option(
    "", "trees that hide: as drawn (those not seen through), all (full leaf), or none (bare)", choices=TREES
)
_SIGHT = (
    "line of sight over bilinear ground, exact per cell [derived]",
    "flagstick 2.13 m: least height recommended, Rules of Golf [seen, second hand]",
    "eye 1.6 m: model choice",
)


@step(
    "slopes",
    reads=[*_PLAN, *_PARTED],
    writes=[
        columns.ZONE_SLOPES,
        columns.GREEN_SLOPES,
        columns.FAIR,
        columns.PIN_SLOPES,
        columns.GREEN_PARTS,
        columns.GREEN_MAP,
    ],
    sources=[
        "slope of the least-squares plane within a radius; plane geometry, no published constant",
        "slope limits by green speed: Lemons, USGA Green Section Record, July 2008 [seen]",
        "edge distance and level ground round the hole: Guidance on Running a Competition [seen]",
        "fairway falls: common practice, no source",
    ],
    cautions=("Slopes are as good as the survey: a level wrong by 10 mm over 1 m is a slope wrong by 1 %.",),
)
def slopes(
    site: Site,
    *,
    hole: int | None = None,
    zone_radius_m: Annotated[
        float, Option("m", "radius that slopes of zones are measured within", 0.25, 25)
    ] = 2.5,
    drain_pct: Annotated[float, Option("pct", "a fairway flatter than this drains poorly", 0, 10)] = 2.0,
    comfort_pct: Annotated[
        float, Option("pct", "a landing zone is comfortable below this slope", 1, 30)
    ] = 8.0,
    pin_radius_m: Annotated[
        float, Option("m", "radius that slope round a hole is measured within", 0.3, 5)
    ] = RADIUS_M,
    edge_m: Annotated[float, Option("m", "least distance of a hole from the edge", 0, 10)] = EDGE_PACES
    * PACE_M,
    stimp_ft: Annotated[float | None, Option("ft", "green speed; without it each green's own", 4, 16)] = None,
    limit_pct: Annotated[
        float | None, Option("pct", "greatest slope for a hole location; without it by speed", 0.5, 15)
    ] = None,
    surround_m: Annotated[float, Option("m", "width of the green's surround looked at", 0, 30)] = 5.0,
) -> dict[str, Any]:
    """Camber and fall of zones, slopes of greens, where a hole location is fair, parts of greens.

    Slopes are those of the plane that fits the ground within a radius best: 2.5 m for zones (about a stance and the
    first metres of run; assumption), 0.9 m for greens (the ground round a hole that is to be level). With the bearing b
    of the leg of the longest line of play next to a place, p and q the rise per metre east and north: fall =
    -(p sin b + q cos b), camber = -(p cos b - q sin b). A hole location is fair where it is far enough from the edge, not
    steeper than the limit for the green's speed, and more than 3 m from slopes at which a putt cannot be stopped. Parts:
    see :func:`gistools.compute.terrain.green_slopes.green_parts`.
    """
    import numpy as np
    import shapely

    from gistools.compute.terrain.green_slopes import green_slopes, outline
    from gistools.hole.ground_holes import hole_of, table_of
    from gistools.site.model import Map
    from gistools.steps.slope_rows import cut, green_row, many, part_rows, pin_slope, zone_slopes

    zones: list[Row] = []
    greens: list[Row] = []
    fair: list[Row] = []
    pins: list[Row] = []
    parts: list[Row] = []
    maps: dict[str, Map] = {}
    numbers = site.pick(hole)
    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"slopes, hole {n}")
        h = hole_of(site, n)
        for zone, area in h.zones:
            row = zone_slopes(h.surface, area, h.tees[0].line, zone_radius_m, drain_pct, comfort_pct)
            zones.append({"hole": n, "zone": zone, "area_m2": area.area, "geometry": area} | row)
        speed = h.stimp_ft if stimp_ft is None else stimp_ft
        ground = cut(h.surface, h.green.bounds, surround_m + pin_radius_m + 3 * h.surface.cell)
        g = green_slopes(
            ground, h.green, stimp_ft=speed, edge_m=edge_m, limit_pct=limit_pct, radius_m=pin_radius_m
        )
        found = part_rows(g, h.green, h.line_in_deg, surround_m, shapely.union(h.sand, h.water))
        parts.extend({"hole": n} | row for row in found)
        key = {"hole": n, "fid": h.green_fid, "geometry": h.green, "stimp_ft": speed}
        tiers = sum(row["kind"] == "tier" for row in found)
        greens.append(key | green_row(g, h.green, h.line_in_deg, edge_m, tiers))
        room = many(outline(g.surface, g.fair))
        fair.append(key | {"area_m2": room.area, "geometry": room})
        for pin in h.pins:
            row = pin_slope(h.surface, g, h.green, pin.place, pin_radius_m, edge_m, CRITICAL_M)
            pins.append({"hole": n, "pin": pin.name, "fid": pin.fid} | row)
        shown = np.where(g.edge_m >= -surround_m, g.slope_pct, np.nan).astype(np.float32)
        name, text = f"green_slope_map_h{n}", f"slope of the green of hole {n} and its surround"
        maps[name] = Map(name, shown, g.surface.x_west, g.surface.y_north, g.surface.cell, "pct", text)
    return {
        "slopes": table_of(site, columns.ZONE_SLOPES, zones),
        "green_slopes": table_of(site, columns.GREEN_SLOPES, greens),
        "fair_areas": table_of(site, columns.FAIR, fair),
        "pin_slopes": table_of(site, columns.PIN_SLOPES, pins),
        "green_parts": table_of(site, columns.GREEN_PARTS, parts),
        **maps,
    }


@step(
    "flag_views",
    reads=[*_PLAN, *_PARTED, *_ABOVE, Reads("boundary")],
    writes=[
        columns.FLAG_VIEWS,
        columns.SIGHTLINES,
        columns.ZONE_VIEWS,
        columns.TEE_VIEWS,
        columns.VIEW_MAP,
    ],
    sources=[*_SIGHT, "seen, part seen, blind: model choice"],
)
def flag_views(
    site: Site,
    *,
    hole: int | None = None,
    eye_m: Annotated[float, _EYE] = EYE_M,
    stick_m: Annotated[float, _STICK] = STICK_M,
    aim: Annotated[str, _AIM] = "top",
    trees: Annotated[str, _SEEN_THROUGH] = "as_drawn",
    mesh_m: Annotated[float, Option("m", "spacing of the mesh looked from", 2, 100)] = 10.0,
    beside_m: Annotated[
        float, Option("m", "the mesh reaches this far beside fairway and line of play", 0, 150)
    ] = 40.0,
    cell_m: Annotated[float, Option("m", "cells of the maps; at least the terrain's", 0.25, 20)] = 1.0,
    reach_m: Annotated[float, Option("m", "longest line of sight on the maps", 50, 2000)] = 600.0,
) -> dict[str, Any]:
    """How much of each flag is seen from tees, zones and a mesh over the hole, what hides it, and by how much.

    The lowest level seen at the flag is eye + D * max((z(s) - eye) / s) over the ground z between eye and flag at
    distance D, exact for ground that is bilinear between its cells; crowns with clear air below hide an interval of
    the stick. `hidden_by` is what hides most of the stick; nothing is named where no more than a ball at the foot is
    hidden. `green_seen_pct` is the share of the green where a ball would be seen. Viewers stand on the ground; within a
    crown or a house they see nothing. A map per pin shows the share of the stick seen from every cell. `tee_views`
    tells how much of each zone is seen from each tee. Earth curvature (17 mm at 500 m) is left out.
    """
    from gistools.hole.ground_holes import hole_of, table_of
    from gistools.steps.view_rows import eyes_of, seen_from, tee_rows, zone_rows

    points: list[Row] = []
    lines: list[Row] = []
    zones: list[Row] = []
    tees: list[Row] = []
    maps: dict[str, Map] = {}
    numbers = site.pick(hole)
    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"flag views, hole {n}")
        h = hole_of(site, n)
        scene, look = h.scene(trees), {"eye_m": eye_m, "stick_m": stick_m, "aim": aim}
        eyes, keys = eyes_of(h, mesh_m, beside_m)
        for key, seen in zip(keys, seen_from(h, scene, eyes, look), strict=True):
            for row in seen:
                points.append({"hole": n} | key | row)
                if (key["tee"] or key["zone"]) and row["line"] is not None:
                    lines.append({"hole": n} | key | row | {"geometry": row["line"]})
        zones.extend(zone_rows(h, scene, look))
        tees.extend(tee_rows(h, scene, eye_m))
        maps |= _view_maps(h, scene, eye_m, stick_m, max(cell_m, h.surface.cell), reach_m)
    return {
        "flag_views": table_of(site, columns.FLAG_VIEWS, points),
        "sightlines": table_of(site, columns.SIGHTLINES, lines),
        "zone_views": table_of(site, columns.ZONE_VIEWS, zones),
        "tee_views": table_of(site, columns.TEE_VIEWS, tees),
        **maps,
    }


def _view_maps(
    hole: Hole, scene: Scene, eye_m: float, stick_m: float, cell: float, reach_m: float
) -> dict[str, Map]:
    import numpy as np

    from gistools.hole.ground_gather import plain
    from gistools.site.model import Map
    from gistools.steps.view_rows import feet

    west, south, east, north = scene.surface.bounds
    cols, rows = int((east - west) / cell), int((north - south) / cell)
    x, y = west + (np.arange(cols) + 0.5) * cell, north - (np.arange(rows) + 0.5) * cell
    maps: dict[str, Map] = {}
    for k, (pin, foot) in enumerate(zip(hole.pins, feet(hole.pins), strict=True)):
        tick(k / len(hole.pins), f"flag view map, hole {hole.number}, {pin.name}")
        share = scene.share_map(foot, x, y, eye_m=eye_m, stick_m=stick_m, reach_m=reach_m)
        share *= 100
        name = f"flag_view_h{hole.number}_{plain(pin.name)}"
        while name in maps:
            name += "_2"
        text = f"share of the flagstick of hole {hole.number} seen, hole location {pin.name}"
        maps[name] = Map(name, share, west, north, cell, "pct", text)
    return maps


@step(
    "screening",
    reads=[*_PLAN, *_ABOVE, *(Reads(name) for name in CRESTS if name not in _READ)],
    writes=[columns.SCREENING],
    sources=[
        "the line of sight turned round; no published constant",
        *_SIGHT,
        "side slope of a drawn crest 25 %: common practice, no source",
    ],
    cautions=("Levels are for lines of sight alone: drainage, mowing and balls run off a mound too.",),
)
def screening(
    site: Site,
    *,
    hole: int | None = None,
    share_pct: Annotated[
        float, Option("pct", "share of the zone's lines over the crest that it has to hold for", 1, 100)
    ] = 100.0,
    eye_m: Annotated[float, _EYE] = EYE_M,
    stick_m: Annotated[float, _STICK] = STICK_M,
    trees: Annotated[str, _SEEN_THROUGH] = "as_drawn",
    crest_layer: Annotated[
        str, Option("", "survey layer the crests are drawn in", choices=CRESTS)
    ] = "mounds",
    crest_fid: Annotated[int | None, Option("", "id of the one feature to be raised or lowered", 0)] = None,
    mesh_m: Annotated[float, Option("m", "spacing of the places looked from in a zone", 1, 50)] = 5.0,
    crest_width_m: Annotated[float, Option("m", "width of the top of a drawn crest line", 0.2, 20)] = 2.0,
    side_slope_pct: Annotated[float, Option("pct", "side slope of a drawn crest line", 5, 200)] = 25.0,
) -> gpd.GeoDataFrame:
    """Crest level of each mound or drawn line that just hides, or just shows, each flag from each landing zone.

    Mounds are those of the layer `mounds`; with `crest_layer` the lines of another layer are taken, with `crest_fid` one
    feature alone. An outline is raised or lowered by its own shape over its toe, a crest line to one level with sides at
    a set slope. `show foot` is the highest level that leaves a ball at the foot of the stick seen
    from the whole zone, `show top` the flag; `hide foot`, `hide half`, `hide all` are the least levels that hide so much
    from all of it. Each is run again forward on the ground changed that way: `met_pct` says for what share of the lines
    it then holds. Zones from which no line crosses the mound have no row; see :mod:`gistools.compute.terrain.screening`.
    """
    from shapely.geometry import Point

    from gistools.compute.terrain.screening import mound, ridge, screens
    from gistools.hole.ground_gather import mesh
    from gistools.hole.ground_holes import crests_of, hole_of, table_of

    rows: list[Row] = []
    numbers = site.pick(hole)
    if crest_fid is not None and crest_fid not in set(site.layer(crest_layer)["fid"]):
        raise SiteError(f"{crest_layer} has no feature {crest_fid} to take as a crest")
    for n in numbers:
        h = hole_of(site, n)
        scene = h.scene(trees)
        crests = crests_of(site, h, crest_layer, crest_fid)
        for m, (shape, named) in enumerate(crests):
            tick(m / len(crests), f"screening, hole {n}, {named.feature}")
            try:
                crest: Crest = (
                    mound(h.surface, shape)
                    if shape.geom_type == "Polygon"
                    else ridge(h.surface, shape, width_m=crest_width_m, side_slope_pct=side_slope_pct)
                )
            except InputError as problem:
                raise SiteError(
                    f"{crest_layer}, feature {named.fid} ({named.feature}): {problem}"
                ) from problem
            key = {"hole": n, "feature": named.feature, "layer": crest_layer, "fid": named.fid}
            for zone, area in h.zones:
                for pin in h.pins:
                    if crest.area.intersects(pin.place):
                        continue
                    found = screens(
                        scene,
                        crest,
                        mesh(area, mesh_m),
                        (pin.place.x, pin.place.y),
                        share=share_pct / 100,
                        eye_m=eye_m,
                        stick_m=stick_m,
                    )
                    rows.extend(
                        key
                        | {"zone": zone, "pin": pin.name, "want": f.want, "crest_now_m": crest.crest_m}
                        | {"crest_level_m": f.crest_m, "change_m": f.change_m, "lines_count": f.lines}
                        | {"crossing_pct": 100 * f.crossing, "met_pct": 100 * f.met, "note": f.reason}
                        | {"geometry": Point(*crest.top)}
                        for f in found
                        if f.lines
                    )
    return table_of(site, columns.SCREENING, rows)


@step(
    "sections",
    reads=[*_PLAN, Reads("trees"), Reads("structures")],
    writes=[columns.SECTIONS, columns.SECTION_POINTS],
    sources=["plane geometry; no published constant", *_SIGHT[1:]],
)
def sections(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[float, Option("m", "distance between stations", 0.1, 50)] = 2.0,
    eye_m: Annotated[float, _EYE] = EYE_M,
    stick_m: Annotated[float, _STICK] = STICK_M,
    aim: Annotated[str, _AIM] = "top",
    trees: Annotated[str, _SEEN_THROUGH] = "as_drawn",
) -> dict[str, Any]:
    """Profiles along the lines of play and along the approaches, with the line of sight to the flag.

    One section per line of play, and one from the centre of each landing zone to each hole location; on a hole without
    zones from each tee instead. Slope is the rise along the line between the stations before and behind. Any other line:
    :func:`gistools.compute.terrain.sections.section`.
    """
    import numpy as np
    from shapely.geometry import LineString, Point

    from gistools.compute.terrain.line_of_sight import BALL_M
    from gistools.compute.terrain.sections import section
    from gistools.hole.ground_gather import centre
    from gistools.hole.ground_holes import hole_of, table_of

    lines: list[Row] = []
    points: list[Row] = []

    def add(key: Row, found: Section, way: Floats) -> None:
        lines.append(key | found.summary() | {"geometry": LineString(way)})
        points.extend(key | row | {"geometry": Point(x, y)} for row, x, y in found.stations())

    numbers = site.pick(hole)
    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"sections, hole {n}")
        h = hole_of(site, n)
        things = h.scene(trees).things
        for tee in h.tees:
            found = section(h.surface, tee.line, spacing_m=spacing_m, things=things)
            key = {"kind": "line of play", "tee": tee.name, "section": f"line of play, {tee.name} tee"}
            add({"hole": n} | key, found, tee.line)
        starts = [({"zone": zone}, centre(area), zone) for zone, area in h.zones]
        starts = starts or [({"tee": t.name}, t.place, f"{t.name} tee") for t in h.tees]
        for where, place, name in starts:
            for pin in h.pins:
                way = np.array([place, (pin.place.x, pin.place.y)])
                up = max(AIMS[aim] * stick_m, BALL_M)
                found = section(h.surface, way, spacing_m=spacing_m, things=things, eye_m=eye_m, target_m=up)
                key = {"kind": "approach", "pin": pin.name, "section": f"{name} to {pin.name}"}
                add({"hole": n} | where | key, found, way)
    return {
        "sections": table_of(site, columns.SECTIONS, lines),
        "section_points": table_of(site, columns.SECTION_POINTS, points),
    }
