"""The step of landing zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.steps import layout_columns as columns
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.landing_zones import zones_of
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.layout_table import layout_table

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "zones",
    reads=[*PLAN, *HAZARDS, Reads("zones"), Reads("terrain")],
    writes=[columns.ZONES, columns.ZONE_CARRIES],
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
        "zones": layout_table(site, columns.ZONES, rows),
        "zone_carries": layout_table(site, columns.ZONE_CARRIES, asked),
    }
