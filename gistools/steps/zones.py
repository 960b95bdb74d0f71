"""The step of landing zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import Reads, step
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "zones",
    summary="Landing zones: the parts of the fairway that hazards separate",
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
            style=Style("#0b5563", 0.4, 0.06, label="zone"),
            compared="area_m2",
            themes=("Client", "Strategy"),
            drawn=True,
        ),
        Writes(
            "zone_carries",
            "LineString",
            columns(
                "hole tee zone enter_least_m enter_greatest_m centre_m through_m bearing_deg rise_m "
                "must_carry_m hazards_carried"
            ),
            "what each landing zone asks from each tee",
            style=Style("#0b5563", 0.25, dashed=True),
            page=PageTable(
                "What each zone asks",
                (
                    "zone enter_least_m enter_greatest_m centre_m through_m must_carry_m "
                    "hazards_carried rise_m"
                ),
                aside="tee",
                headings={
                    "enter_least_m": "Comes over it, least",
                    "enter_greatest_m": "Comes over it, greatest",
                    "centre_m": "To its centre",
                    "through_m": "Ends at",
                    "rise_m": "Its centre above the tee",
                    "must_carry_m": "Must carry to its centre",
                    "hazards_carried": "Hazards on the way to it",
                },
            ),
        ),
    ],
    group="Plan",
    sources=["plane geometry; the limits that part zones are assumptions, each a setting"],
)
def zones(
    site: Site,
    *,
    hole: int | None = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Landing zones: the parts of the fairway that hazards and the line of play separate, named by place.

    Zones drawn in the layer `zones` win. Derived ones: see :mod:`gistools.compute.layout.zones`. A hole
    without fairway has none. Their limits are the settings `zone_...`. `zone_carries` tells what each zone
    asks from each tee, straight and in plan.
    """
    from gistools.compute.layout.zones import zone_carry, zone_row
    from gistools.hole import HoleModel

    rows: list[dict[str, Any]] = []
    carries: list[dict[str, Any]] = []
    for number in site.selected_holes(hole):
        model = HoleModel(site, number)
        rays = model.setting("carry_rays_count")
        rows += [zone_row(model.plan, zone) for zone in model.zones]
        carries += [
            zone_carry(model.plan, tee, zone, rays, model.surface_or_none)
            for tee in model.plan.tees
            for zone in model.zones
        ]
    return {
        "zones": rows,
        "zone_carries": carries,
    }
