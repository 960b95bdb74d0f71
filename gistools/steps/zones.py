"""The step of landing zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.landing_zones import zones_of
from gistools.steps.layout_inputs import HAZARDS, PLAN

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "zones",
    reads=[*PLAN, *HAZARDS, Reads("zones"), Reads("terrain")],
    writes=[
        Writes(
            "zones",
            "Polygon",
            columns(
                "hole zone feature_id source parted_by area_m2 zone_length_m zone_width_m "
                "from_chainage_m to_chainage_m offset_m"
            ),
            "landing zones of the fairway",
            visible=True,
        ),
        Writes(
            "zone_carries",
            "LineString",
            columns(
                "hole tee zone enter_least_m enter_greatest_m centre_m through_m bearing_deg rise_m "
                "must_carry_m hazards_carried"
            ),
            "what each landing zone asks from each tee",
        ),
    ],
    group="Plan",
    sources=["plane geometry; the limits that part zones are assumptions, each an option"],
)
def zones(
    site: Site,
    *,
    hole: int | None = None,
    clearance_m: Annotated[float, Option("m", "kept clear round hazards", 0, 30)] = 3.0,
    gate_pct: Annotated[
        float, Option("pct", "a hazard over this share of the fairway's width parts it across", 5, 100)
    ] = 50.0,
    longest_m: Annotated[float, Option("m", "longer parts are divided square to play", 20, 2000)] = 160.0,
    least_m2: Annotated[float, Option("m2", "smaller pieces are dropped", 1, 10000)] = 200.0,
    least_width_m: Annotated[float, Option("m", "narrower pieces are dropped", 0, 50)] = 6.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Landing zones: the parts of the fairway that hazards and the line of play separate, named by place.

    Zones drawn in the layer `zones` win. Derived ones: see :mod:`gistools.compute.layout.zones`. A hole without fairway has
    none. `zone_carries` tells what each zone asks from each tee, straight and in plan.
    """
    from gistools.compute.layout.carries import Choices as CarryChoices
    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.compute.layout.zones import zone_carry, zone_row
    from gistools.hole.layout_holes import hole_of, surface_of

    choices = ZoneChoices(clearance_m, gate_pct / 100.0, longest_m, least_m2, least_width_m)
    rows: list[dict[str, Any]] = []
    asked: list[dict[str, Any]] = []
    for number in site.selected_holes(hole):
        plan = hole_of(site, number)
        found = zones_of(site, number, choices)
        rows += [zone_row(plan, zone) for zone in found]
        asked += [
            zone_carry(plan, tee, zone, CarryChoices.rays, surface_of(site, number))
            for tee in plan.tees
            for zone in found
        ]
    return {
        "zones": rows,
        "zone_carries": asked,
    }
