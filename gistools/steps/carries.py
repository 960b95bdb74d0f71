"""The step of carries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.layout_inputs import HAZARDS, PLAN, PLANE

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "carries",
    reads=[*PLAN, *HAZARDS, Reads("terrain")],
    writes=[
        Writes(
            "carries",
            "LineString",
            columns(
                "hole tee feature layer feature_id crossing line side reach_m carry_m layup_m "
                "layup_room_m next_reach_m rise_m bearing_deg offset_m chainage_m"
            ),
            "reach and carry of each hazard from each tee: least, greatest and on the line of play",
        ),
        Writes(
            "carry_fan",
            "LineString",
            columns(
                "hole tee feature layer feature_id crossing ray side reach_m carry_m layup_m "
                "layup_room_m next_reach_m rise_m bearing_deg offset_m chainage_m"
            ),
            "the same along every direction of the fan; drawn from front to far edge",
        ),
    ],
    group="Plan",
    sources=[PLANE],
)
def carries(
    site: Site,
    *,
    hole: int | None = None,
    rays_count: Annotated[int, Option("count", "directions in each fan", 3, 361)] = 21,
    margin_m: Annotated[float, Option("m", "kept between a lay-up and the front edge", 0, 100)] = 10.0,
    land_m: Annotated[
        float, Option("m", "dry ground shorter than this between two crossings is no place to land", 0, 200)
    ] = 15.0,
    beside_m: Annotated[
        float, Option("m", "hazards this far beside fairway, green and line of play count", 0, 300)
    ] = 40.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Reach and carry of every hazard from every tee, in plan, along a fan of straight directions.

    The fan spans the hazard as it lies in the fairway, edge to edge; `carries` keeps its least and greatest
    carry and the one on the line of play, `carry_fan` all directions. Rough before the fairway and between its
    parts counts as a hazard. Burns that bend and islands: see :mod:`gistools.compute.layout.carries`.
    """
    from gistools.compute.layout.carries import Choices as CarryChoices
    from gistools.compute.layout.carries import carry_rows
    from gistools.hole.layout_holes import hole_of, surface_of

    choices = CarryChoices(int(rays_count), margin_m, land_m, beside_m)
    rows: list[dict[str, Any]] = []
    fan: list[dict[str, Any]] = []
    numbers = site.selected_holes(hole)
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        for tee in hole_of(site, number).tees:
            some, rays = carry_rows(hole_of(site, number), tee, choices, surface_of(site, number))
            rows.extend(some)
            fan.extend(rays)
    return {
        "carries": rows,
        "carry_fan": fan,
    }
