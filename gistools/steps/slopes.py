"""The step of slopes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.compute.terrain.defaults import (
    CRITICAL_M,
    EDGE_PACES,
    PACE_M,
    RADIUS_M,
)
from gistools.steps.catalogue import Option, step
from gistools.steps.styles import SCALE, MapColours, Style
from gistools.steps.terrain_inputs import PARTED, PLAN
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.site.model import Site
    from gistools.site.results import Map
    from gistools.steps.slope_rows import Row


@step(
    "slopes",
    summary="Camber and fall of the zones and greens, fair hole locations",
    reads=[*PLAN, *PARTED],
    writes=[
        Writes(
            "slopes",
            "Polygon",
            columns(
                "hole zone area_m2 slope_mean_pct steepest_pct slope_band_pct camber_pct camber_low_pct "
                "camber_high_pct fall_pct fall_low_pct fall_high_pct too_flat_pct comfortable_pct "
                "falls_to_deg note"
            ),
            "camber and fall of the landing zones along and across the line of play",
            style=Style("#7a5c00", 0.4, 0.1, label="zone"),
            page=PageTable(
                "Landing zones by slope",
                "zone camber_pct fall_pct steepest_pct comfortable_pct too_flat_pct",
                headings={
                    "steepest_pct": "Steepest",
                    "too_flat_pct": "Too flat to drain",
                    "comfortable_pct": "Comfortable",
                },
            ),
            compared="slope_mean_pct steepest_pct fall_pct camber_pct",
        ),
        Writes(
            "green_slopes",
            "Polygon",
            columns(
                "hole feature_id area_m2 stimp_ft pin_slope_limit_pct critical_slope_pct least_edge_m "
                "fair_area_m2 fair_pct slope_mean_pct steepest_pct fall_pct camber_pct tiers_count "
                "note"
            ),
            "slopes of each green and the room it has for fair hole locations",
            style=Style("#3c6e2f", 0.4, 0.1),
        ),
        Writes(
            "fair_areas",
            "MultiPolygon",
            columns("hole feature_id area_m2"),
            "where a hole location is fair: slope, edge and critical ground kept clear of",
            style=Style("#1d5e3a", 0.4, 0.25),
        ),
        Writes(
            "pin_slopes",
            "Point",
            columns(
                "hole pin feature_id level_m slope_pct slope_band_pct falls_to_deg uneven_m "
                "pin_slope_limit_pct "
                "edge_distance_m critical_distance_m fair note"
            ),
            "slope round each hole location, pass or fail with the figure",
            visible=True,
            style=Style("#94310c", 2.2, label="pin"),
            page=PageTable(
                "Ground round each hole location",
                "pin fair slope_pct pin_slope_limit_pct edge_distance_m critical_distance_m level_m",
                whole=True,
                headings={
                    "pin_slope_limit_pct": "Limit",
                    "edge_distance_m": "From the edge",
                    "critical_distance_m": "From critical slope",
                },
            ),
            compared="slope_pct",
            themes=("Strategy",),
        ),
        Writes(
            "green_parts",
            "MultiPolygon",
            columns(
                "hole feature green_part part_location area_m2 slope_mean_pct slope_max_pct "
                "level_mean_m falls_to_deg"
            ),
            "parts of the greens and their surrounds by slope",
            style=Style("#55606a", 0.3, 0.12, label="part_location"),
        ),
        Writes(
            "green_slope_map",
            "raster",
            (),
            "slope of the green and its surround",
            style=MapColours(0.0, 8.0, SCALE[::-1]),
        ),
    ],
    group="Ground and sight",
    loops="ground",
    sources=[
        "slope of the least-squares plane within a radius; plane geometry, no published constant",
        "slope limits by green speed: Lemons, USGA Green Section Record, July 2008 [published]",
        "edge distance and level ground round the hole: Guidance on Running a Competition [published]",
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
    limit_pct: Annotated[
        float | None, Option("pct", "greatest slope for a hole location; without it by speed", 0.5, 15)
    ] = None,
    surround_m: Annotated[float, Option("m", "width of the green's surround looked at", 0, 30)] = 5.0,
) -> dict[str, Any]:
    """Camber and fall of zones, slopes of greens, where a hole location is fair, parts of greens.

    Slopes are those of the plane that fits the ground within a radius best: 2.5 m for zones (about a stance
    and the first metres of run; assumption), 0.9 m for greens (the ground round a hole that is to be
    level). With the bearing b of the leg of the longest line of play next to a place, p and q the rise per
    metre east and north: fall = -(p sin b + q cos b), camber = -(p cos b - q sin b). A hole location is
    fair where it is far enough from
      the edge, not
    steeper than the limit for the green's speed, and more than 3 m from slopes at which a putt cannot be
    stopped. Parts: see :func:`gistools.compute.terrain.green_slopes.green_parts`.
    """
    import numpy as np
    import shapely

    from gistools.compute.layout.survey_bands import slope_band_pct
    from gistools.compute.terrain.green_slopes import green_slopes, outline
    from gistools.hole import HoleModel
    from gistools.site.results import Map
    from gistools.steps.slope_rows import green_row, many, part_rows, pin_slope, zone_slopes

    zones: list[Row] = []
    greens: list[Row] = []
    fair: list[Row] = []
    pins: list[Row] = []
    parts: list[Row] = []
    maps: dict[str, Map] = {}
    numbers = site.selected_holes(hole)
    level_error_m = site.setting("level_error_m")

    def band(radius_m: float, cell_m: float) -> float | None:
        return slope_band_pct(level_error_m, radius_m, cell_m) if level_error_m > 0 else None

    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"slopes, hole {n}")
        h = HoleModel(site, n)
        for zone in h.zones:
            area = zone.area
            row = zone_slopes(
                h.surface, area, h.tees_by_length[0].line, zone_radius_m, drain_pct, comfort_pct
            )
            key = {"hole": n, "zone": zone.zone, "area_m2": area.area, "geometry": area}
            zones.append(key | row | {"slope_band_pct": band(zone_radius_m, h.surface.cell)})
        speed = h.stimp_ft
        ground = h.surface.window(h.green.bounds, surround_m + pin_radius_m + 3 * h.surface.cell)
        g = green_slopes(
            ground, h.green, stimp_ft=speed, edge_m=edge_m, limit_pct=limit_pct, radius_m=pin_radius_m
        )
        green_parts = part_rows(g, h.green, h.line_in_deg, surround_m, shapely.union(h.sand, h.water))
        parts.extend({"hole": n} | row for row in green_parts)
        key = {"hole": n, "feature_id": h.green_fid, "geometry": h.green, "stimp_ft": speed}
        tiers = sum(row["green_part"] == "tier" for row in green_parts)
        greens.append(key | green_row(g, h.green, h.line_in_deg, edge_m, tiers))
        room = many(outline(g.surface, g.fair))
        fair.append(key | {"area_m2": room.area, "geometry": room})
        for pin in h.flags:
            row = pin_slope(h.surface, g, h.green, pin.place, pin_radius_m, edge_m, CRITICAL_M)
            row |= {"slope_band_pct": band(pin_radius_m, h.surface.cell)}
            pins.append({"hole": n, "pin": pin.name, "feature_id": pin.fid} | row)
        shown = np.where(g.edge_m >= -surround_m, g.slope_pct, np.nan).astype(np.float32)
        name, text = f"green_slope_map_h{n}", f"slope of the green of hole {n} and its surround"
        maps[name] = Map(
            name, shown, g.surface.x_west, g.surface.y_north, g.surface.cell, "pct", text, {"hole": n}
        )
    return {
        "slopes": zones,
        "green_slopes": greens,
        "fair_areas": fair,
        "pin_slopes": pins,
        "green_parts": parts,
        **maps,
    }
