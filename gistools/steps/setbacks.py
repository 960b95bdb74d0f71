"""The step of set-backs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.base.columns import columns
from gistools.compute.layout.defaults import SETBACK_CAUTIONS
from gistools.steps.catalogue import Reads, step
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "setbacks",
    summary="Clear distances to neighbours, paths, boundary and other holes",
    reads=[*PLAN, *HAZARDS, Reads("zones"), Reads("boundary"), Reads("paths"), Reads("structures")],
    writes=[
        Writes(
            "setbacks",
            "Polygon",
            columns("hole rule clear_distance_m area_m2 guidance caution"),
            "set-back areas round lines of play, landing zones, tees and greens",
            style=Style("#7a5c00", 0.4, 0.10, dashed=True),
            themes=("Safety",),
            drawn=True,
        ),
        Writes(
            "setback_conflicts",
            "LineString",
            columns(
                "hole rule feature layer feature_id other other_layer other_feature_id other_hole "
                "chainage_m separation_m separation_band_m clear_distance_m shortfall_m reading "
                "guidance caution"
            ),
            "neighbours inside a set-back area, where they come nearest",
            visible=True,
            style=Style("#a3262a", 0.35, dashed=True, label="other"),
            page=PageTable(
                "Neighbours nearer than asked",
                "rule feature other separation_m clear_distance_m reading guidance",
                headings={
                    "other": "Neighbour",
                    "separation_m": "Least distance",
                    "clear_distance_m": "Asked",
                },
            ),
            themes=("Safety",),
        ),
    ],
    group="Plan",
    sources=[
        "line to boundary 60, now 80, beside road or rail 100 m: Gaunt, EIGCA 2015 [published]",
        "line to structure 60 m: half of the 120 m between houses of Hiseman [published]",
        "cone of 15 degrees, 49.0 m at 183 m: Hurdzan via Brauer [second-hand]",
        (
            "green centre to next tee 61 m, path beside green 15 m: Brauer [second-hand]; green edge to"
            " tee 40 m:"
            " Kains [published]"
        ),
        "green 53.5 m and tee 30.5 m: half of the corridor of 350 and 200 ft, Muirhead 1994 [second-hand]",
        "line to line 60 m: common practice, no source",
        "line to public path 30 m, landing zone 30 m: assumptions, no source",
    ],
    cautions=SETBACK_CAUTIONS,
)
def setbacks(
    site: Site,
    *,
    hole: int | None = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Set-back areas round play, and the neighbours inside them: guidance that defers to local codes.

    The distances are the settings `setback_...`; 0 switches a rule off. Lines of play are measured at right
    angles; the cone asks for d tan(angle) at the distance d. A conflict of two holes is listed with each of
    them. See :mod:`gistools.compute.layout.setbacks`.
    """
    from gistools.compute.layout import setbacks as setback
    from gistools.compute.layout.survey_bands import distance_band_m
    from gistools.hole import HoleModel

    areas: list[dict[str, Any]] = []
    conflicts: list[dict[str, Any]] = []
    plan_error_m = site.setting("plan_error_m")
    band = distance_band_m(plan_error_m) if plan_error_m > 0 else None
    for number in site.selected_holes(hole):
        model = HoleModel(site, number)
        case = (model.plan, model.zones, model.neighbours, model.setback_choices)
        areas += setback.area_rows(*case)
        conflicts += [row | {"separation_band_m": band} for row in setback.conflict_rows(*case)]
    return {
        "setbacks": areas,
        "setback_conflicts": conflicts,
    }
