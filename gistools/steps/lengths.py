"""The step of lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from gistools.base.columns import columns
from gistools.base.units import YARD_M
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.layout_inputs import MEASURING, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "lengths",
    summary="Length of each hole from each tee, and its par by length",
    reads=[*PLAN, Reads("terrain")],
    writes=[
        Writes(
            "lengths",
            "LineString",
            columns(
                "hole tee card_m ground_m grid_m surface_m scale_factor combined_factor front_m "
                "back_m tee_level_m green_level_m drop_m par_men par_women note"
            ),
            "length of each hole from each tee",
            style=Style("#1f2a2e", 0.4, label="tee"),
            compared="ground_m",
        ),
    ],
    group="Plan",
    sources=[
        MEASURING,
        "Rules of Handicapping, appendix F: par by length [published]",
        "combined factor k R / (R + h)",
    ],
)
def lengths(
    site: Site,
    *,
    hole: int | None = None,
    par_unit: Annotated[
        str, Option("", "unit of the par table to use; it is printed in both, rounded", choices=("m", "yd"))
    ] = "m",
    geoid_m: Annotated[
        float, Option("m", "height of the geoid above the ellipsoid, added to levels", -110, 90)
    ] = 0.0,
) -> gpd.GeoDataFrame:
    """Length of each hole from each tee.

    On the ground, on the grid, along the terrain; and its par by length.

    ground = sum of grid pieces / (k R / (R + h)), R = 6 372 000 m; along the terrain = sum of
    sqrt(ground piece² + level difference²). Without terrain the height is not removed and `note` says so.
    Where the published par bands overlap both pars are given: playing difficulty and the design's intention
    decide.
    """
    from gistools.compute.layout.lengths import card_length, edge_distances, measure, par_by_length, par_text
    from gistools.hole import HoleModel

    rows = []
    for number in site.selected_holes(hole):
        model = HoleModel(site, number)
        for tee in model.plan.tees:
            measured = measure(tee.line, site.crs_metric, model.surface_or_none, geoid_m=geoid_m)
            front, back = edge_distances(tee.line, model.green)
            in_unit = measured.ground_m / (YARD_M if par_unit == "yd" else 1.0)
            rows.append(
                vars(measured)
                | {
                    "hole": number,
                    "tee": tee.tee,
                    "card_m": card_length(measured.ground_m),
                    "front_m": front / measured.combined_factor,
                    "back_m": back / measured.combined_factor,
                    "par_men": par_text(par_by_length(in_unit, unit=par_unit, who="men")),
                    "par_women": par_text(par_by_length(in_unit, unit=par_unit, who="women")),
                    "geometry": tee.line.geometry,
                }
            )
    return rows
