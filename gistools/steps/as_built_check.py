"""The step that checks what was built."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.earthworks_inputs import CAUTION
from gistools.steps.styles import BUILT, Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "as_built_check",
    summary="Levels and places measured after construction against the design",
    reads=[
        Reads("as_built"),
        Reads("terrain", required=True),
        *(
            Reads(n)
            for n in ("greens", "tees", "bunkers", "fairway", "shapes", "pins", "burns", "water", "mounds")
        ),
    ],
    writes=[
        Writes(
            "as_built_check",
            "Point",
            columns(
                "hole point feature_id feature layer measured_level_m design_level_m difference_m "
                "tolerance_m level_status stake delta_easting_m delta_northing_m delta_plan_m "
                "plan_tolerance_m plan_status"
            ),
            "Measured levels and places against the design",
            style=Style("#94310c", 1.8, label="level_status", by="level_status", kinds=BUILT),
        ),
        Writes(
            "as_built_summary",
            "",
            columns(
                "hole feature layer points_count outside_count unknown_count mean_difference_m "
                "rms_difference_m worst_difference_m tolerance_m staked_count plan_outside_count "
                "mean_easting_m mean_northing_m worst_plan_m plan_tolerance_m feature_status"
            ),
            "The same, feature by feature",
        ),
    ],
    group="For the crew",
    needs="as_built",
    on_page=False,
    sources=[
        "green surface +-13 mm [from memory: USGA recommendations 2004/2018]",
        "finished fairway +-25 to 50 mm, rough grade +-75 to 100 mm [common practice, no source]",
        "tees, bunkers and shapes as the fairway (assumption)",
        "place of a staked point +-0.1 m [common practice, no source]",
    ],
    cautions=(CAUTION,),
)
def as_built_check(
    site: Site,
    *,
    hole: int | None = None,
    points: Annotated[
        str,
        Option("", "measured points (CSV, LandXML, GeoPackage); without them the layer as_built", file=True),
    ] = "",
    order: Annotated[str, Option("", "columns of a CSV file", choices=("PNEZD", "PENZD"))] = "PNEZD",
    green_m: Annotated[float, Option("m", "tolerance on greens", 0.001, 1)] = 0.013,
    tee_m: Annotated[float, Option("m", "tolerance on tees", 0.001, 1)] = 0.025,
    fairway_m: Annotated[float, Option("m", "tolerance on fairways", 0.001, 1)] = 0.05,
    shape_m: Annotated[float, Option("m", "tolerance on shapes and bunkers", 0.001, 1)] = 0.05,
    rough_m: Annotated[float, Option("m", "tolerance elsewhere", 0.001, 1)] = 0.1,
    plan_m: Annotated[
        float, Option("m", "distance in plan a point may lie from the stake it names", 0.001, 10)
    ] = 0.1,
    stakes: Annotated[
        str,
        Option(
            "",
            "points handed out (CSV, LandXML); needed where they were made with other spacings than the"
            " default",
            file=True,
        ),
    ] = "",
) -> dict[str, Any]:
    """Compare levels and places measured after construction with the design.

    difference = measured level less level of the proposed ground there, so positive is too high. A point
    belongs to the feature its number or description names (the point names of ``setting_out`` are
    understood), else to the one it lies on. A point that carries number or name of a setting-out point is
    compared with its place as well: east, north and distance off.

    Returns
    -------
    dict
        ``as_built_check``: every point; ``as_built_summary``: a row for each feature.
    """
    from gistools.site.measured_points import read_points
    from gistools.steps.as_built_rows import Tolerances, compare_points, summarise

    if points:
        site = site.replace(as_built=read_points(points, site, order=order))  # type: ignore[arg-type]
    site.selected_holes(hole)
    levels = {
        "greens": green_m,
        "tees": tee_m,
        "fairway": fairway_m,
        "bunkers": shape_m,
        "shapes": shape_m,
        "rough": rough_m,
    }
    rows = compare_points(site, hole, Tolerances(levels, plan_m), stakes)
    return {
        "as_built_check": rows,
        "as_built_summary": summarise(rows),
    }
