"""The step of carries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Reads, step
from gistools.steps.layout_inputs import HAZARDS, PLAN, PLANE
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "carries",
    summary="Reach and carry of every hazard from every tee",
    reads=[*PLAN, *HAZARDS, Reads("terrain")],
    writes=[
        Writes(
            "carries",
            "LineString",
            columns(
                "hole tee feature layer feature_id crossing line side reach_m carry_m carry_band_m layup_m "
                "layup_room_m next_reach_m rise_m bearing_deg offset_m chainage_m"
            ),
            "reach and carry of each hazard from each tee: least, greatest and on the line of play",
            style=Style("#8a3b12", 0.35, label="feature", once=True),
            page=PageTable(
                "Hazards from the tee: least and greatest carry, and on the line of play",
                "feature line side reach_m carry_m layup_room_m rise_m bearing_deg",
                aside="tee",
                headings={
                    "line": "Which line",
                    "layup_room_m": "Lay-up room",
                    "rise_m": "Rise from tee",
                    "bearing_deg": "Bearing",
                },
            ),
            compared="reach_m carry_m",
            themes=("Strategy",),
        ),
        Writes(
            "carry_fan",
            "LineString",
            columns(
                "hole tee feature layer feature_id crossing ray side reach_m carry_m layup_m "
                "layup_room_m next_reach_m rise_m bearing_deg offset_m chainage_m"
            ),
            "the same along every direction of the fan; drawn from front to far edge",
            style=Style("#b8683f", 0.2),
        ),
    ],
    group="Plan",
    sources=[PLANE],
)
def carries(
    site: Site,
    *,
    hole: int | None = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Reach and carry of every hazard from every tee, in plan, along a fan of straight directions.

    The fan spans the hazard as it lies in the fairway, edge to edge; `carries` keeps its least and greatest
    carry and the one on the line of play, `carry_fan` all directions. Rough before the fairway and between
    its parts counts as a hazard. Burns that bend and islands: see :mod:`gistools.compute.layout.carries`.
    """
    from gistools.compute.layout.carries import carry_rows
    from gistools.compute.layout.survey_bands import carry_bands
    from gistools.hole import HoleModel

    rows: list[dict[str, Any]] = []
    fan: list[dict[str, Any]] = []
    numbers = site.selected_holes(hole)
    plan_error_m = site.setting("plan_error_m")
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        model = HoleModel(site, number)
        for tee in model.plan.tees:
            some, rays = carry_rows(model.plan, tee, model.carry_choices, model.surface_or_none)
            if plan_error_m > 0:
                bands = carry_bands(model.plan, tee, model.carry_choices, some, plan_error_m)
                some = [row | {"carry_band_m": band} for row, band in zip(some, bands, strict=True)]
            rows.extend(some)
            fan.extend(rays)
    return {
        "carries": rows,
        "carry_fan": fan,
    }
