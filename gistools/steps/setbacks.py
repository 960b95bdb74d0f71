"""The step of set-backs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.compute.layout.defaults import SETBACK_CAUTIONS
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.landing_zones import zones_of
from gistools.steps.layout_inputs import HAZARDS, PLAN

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "setbacks",
    reads=[*PLAN, *HAZARDS, Reads("zones"), Reads("boundary"), Reads("paths"), Reads("structures")],
    writes=[
        Writes(
            "setbacks",
            "Polygon",
            columns("hole rule clear_distance_m area_m2 guidance caution"),
            "set-back areas round lines of play, landing zones, tees and greens",
        ),
        Writes(
            "setback_conflicts",
            "LineString",
            columns(
                "hole rule feature layer feature_id other other_layer other_feature_id other_hole "
                "chainage_m separation_m clear_distance_m shortfall_m reading guidance caution"
            ),
            "neighbours inside a set-back area, where they come nearest",
            visible=True,
        ),
    ],
    group="Plan",
    sources=[
        "line to boundary 60, now 80, beside road or rail 100 m: Gaunt, EIGCA 2015 [seen]",
        "line to structure 60 m: half of the 120 m between houses of Hiseman [seen]",
        "cone of 15 degrees, 49.0 m at 183 m: Hurdzan via Brauer [seen]",
        "green centre to next tee 61 m, path beside green 15 m: Brauer [seen]; green edge to tee 40 m: Kains [seen]",
        "green 53.5 m and tee 30.5 m: half of the corridor of 350 and 200 ft, Muirhead 1994 [seen, quoted]",
        "line to line 60 m: common practice, no source",
        "line to public path 30 m, landing zone 30 m: assumptions, no source",
    ],
    cautions=SETBACK_CAUTIONS,
)
def setbacks(
    site: Site,
    *,
    hole: int | None = None,
    line_boundary_m: Annotated[float, Option("m", "line of play to boundary", 0, 500)] = 80.0,
    line_road_m: Annotated[float, Option("m", "line of play to road or rail", 0, 500)] = 100.0,
    line_structure_m: Annotated[float, Option("m", "line of play to house", 0, 500)] = 60.0,
    line_path_m: Annotated[float, Option("m", "line of play to public path", 0, 500)] = 30.0,
    line_line_m: Annotated[float, Option("m", "line of play to that of another hole", 0, 500)] = 60.0,
    cone_deg: Annotated[float, Option("deg", "cone each side of the line from the tee", 0, 60)] = 15.0,
    cone_m: Annotated[float, Option("m", "length of the cone", 10, 400)] = 242.0,
    green_tee_m: Annotated[float, Option("m", "centre of the green to another hole's tee", 0, 500)] = 61.0,
    green_edge_tee_m: Annotated[float, Option("m", "edge of the green to another hole's tee", 0, 500)] = 40.0,
    green_path_m: Annotated[float, Option("m", "edge of the green to any path", 0, 500)] = 15.0,
    green_boundary_m: Annotated[
        float, Option("m", "edge of the green to boundary or structure", 0, 500)
    ] = 53.5,
    tee_boundary_m: Annotated[float, Option("m", "tee to boundary or structure", 0, 500)] = 30.5,
    zone_m: Annotated[float, Option("m", "landing zone to any neighbour", 0, 500)] = 30.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Set-back areas round play, and the neighbours inside them: guidance that defers to local codes.

    Distances of 0 switch a rule off. Lines of play are measured at right angles; the cone asks for
    d tan(angle) at the distance d. A conflict of two holes is listed with each of them. See
    :mod:`gistools.compute.layout.setbacks`.
    """
    from gistools.compute.layout import setbacks as setback
    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.hole.layout_holes import hole_of, neighbours

    choices = setback.Choices(
        line_boundary_m=line_boundary_m,
        line_road_m=line_road_m,
        line_structure_m=line_structure_m,
        line_path_m=line_path_m,
        line_line_m=line_line_m,
        cone_deg=cone_deg,
        cone_m=cone_m,
        green_tee_m=green_tee_m,
        green_edge_tee_m=green_edge_tee_m,
        green_path_m=green_path_m,
        green_boundary_m=green_boundary_m,
        tee_boundary_m=tee_boundary_m,
        zone_m=zone_m,
    )
    around = neighbours(site)
    areas: list[dict[str, Any]] = []
    conflicts: list[dict[str, Any]] = []
    for number in site.selected_holes(hole):
        plan = hole_of(site, number)
        landing = zones_of(site, number, ZoneChoices())
        areas += setback.area_rows(plan, landing, around, choices)
        conflicts += setback.conflict_rows(plan, landing, around, choices)
    return {
        "setbacks": areas,
        "setback_conflicts": conflicts,
    }
