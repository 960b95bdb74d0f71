"""The step that checks what was built."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import Column
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.earthworks_table import CAUTION, earthworks_table

if TYPE_CHECKING:
    from gistools.site.model import Site

_AS_BUILT = (
    Column("hole", "", "hole"),
    Column("point", "", "number or name of the measured point"),
    Column("fid", "", "feature id of the measured point"),
    Column("feature", "", "feature it lies on or was measured for"),
    Column("layer", "", "layer of that feature; decides the tolerance"),
    Column("level_m", "m", "measured level"),
    Column("design_m", "m", "level of the proposed ground there"),
    Column("difference_m", "m", "measured less design: positive is too high"),
    Column("tolerance_m", "m", "difference allowed"),
    Column("verdict", "", "within, high, low or no design level"),
)
_SUMMARY = (
    Column("hole", "", "hole"),
    Column("feature", "", "feature"),
    Column("layer", "", "layer of the feature"),
    Column("point_count", "count", "points measured"),
    Column("outside_count", "count", "points outside the tolerance"),
    Column("unknown_count", "count", "points without a design level"),
    Column("mean_m", "m", "mean difference"),
    Column("rms_m", "m", "root mean square of the differences"),
    Column("worst_m", "m", "greatest difference, with its sign"),
    Column("tolerance_m", "m", "difference allowed"),
    Column("verdict", "", "within, outside or no design level"),
)


@step(
    "as_built_check",
    reads=[
        Reads("as_built"),
        Reads("terrain", required=True),
        *(Reads(n) for n in ("greens", "tees", "bunkers", "fairway", "shapes")),
    ],
    writes=[
        Writes("as_built_check", "Point", _AS_BUILT, "Measured levels against the design"),
        Writes("as_built_summary", "", _SUMMARY, "The same, feature by feature"),
    ],
    sources=[
        "green surface +-13 mm [from memory: USGA recommendations 2004/2018]",
        "finished fairway +-25 to 50 mm, rough grade +-75 to 100 mm [common practice, no source]",
        "tees, bunkers and shapes as the fairway (assumption)",
    ],
    cautions=(CAUTION,),
)
def as_built_check(
    site: Site,
    *,
    hole: int | None = None,
    points: Annotated[str, Option("", "CSV file of measured points, instead of the layer as_built")] = "",
    order: Annotated[str, Option("", "columns of that file", choices=("PNEZD", "PENZD"))] = "PNEZD",
    green_m: Annotated[float, Option("m", "tolerance on greens", 0.001, 1)] = 0.013,
    tee_m: Annotated[float, Option("m", "tolerance on tees", 0.001, 1)] = 0.025,
    fairway_m: Annotated[float, Option("m", "tolerance on fairways", 0.001, 1)] = 0.05,
    shape_m: Annotated[float, Option("m", "tolerance on shapes and bunkers", 0.001, 1)] = 0.05,
    rough_m: Annotated[float, Option("m", "tolerance elsewhere", 0.001, 1)] = 0.1,
) -> dict[str, Any]:
    """Compare levels measured after construction with the proposed ground.

    difference = measured level less design level, so positive is too high. A point belongs to the feature its
    number or description names (the point names of ``setting_out`` are understood), else to the one it lies on.

    Returns
    -------
    dict
        ``as_built_check``: every point; ``as_built_summary``: a row for each feature.
    """
    from gistools.handoff.csvfile import read_points_csv
    from gistools.steps.as_built_rows import compare_points, summarise

    if points:
        site = site.replace(as_built=read_points_csv(points, site, order=order))  # type: ignore[arg-type]
    site.selected_holes(hole)
    allowed = {
        "greens": green_m,
        "tees": tee_m,
        "fairway": fairway_m,
        "bunkers": shape_m,
        "shapes": shape_m,
        "rough": rough_m,
    }
    rows = compare_points(site, hole, allowed)
    return {
        "as_built_check": earthworks_table(_AS_BUILT, rows, site.crs_metric),
        "as_built_summary": earthworks_table(_SUMMARY, summarise(rows)),
    }
