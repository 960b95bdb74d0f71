"""The step of quantities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import Column
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.earthworks_table import CAUTION, earthworks_table

if TYPE_CHECKING:
    from gistools.site.model import Site

ERRORS = (
    "The error figures are least errors: ground between the surveyed points and a wrong bench mark (area times"
    " the amount it is off) come on top."
)

_QUANTITIES = (
    Column("hole", "", "hole"),
    Column("feature", "", "shape, hole or whole site"),
    Column("layer", "", "layer of the shape"),
    Column("fid", "", "feature id of the shape"),
    Column("kind", "", "kind of shape, or total"),
    Column("area_m2", "m2", "ground whose height changes by more than 5 mm"),
    Column("cut_m3", "m3", "soil to dig, in place"),
    Column("fill_m3", "m3", "soil to place, compacted"),
    Column("cut_m2", "m2", "area of cut"),
    Column("fill_m2", "m2", "area of fill"),
    Column("net_m3", "m3", "fill less cut; positive asks for more soil than it gives"),
    Column("topsoil_m3", "m3", "topsoil to strip, in place"),
    Column("topsoil_spare_m3", "m3", "topsoil stripped and not put back, in place"),
    Column("loose_m3", "m3", "the cut as it is carried: cut (1 + swell)"),
    Column("needs_m3", "m3", "soil in place that the fill takes, shrinkage included"),
    Column("surplus_m3", "m3", "cut less what the fill takes; positive leaves the site, negative is brought"),
    Column("surplus_loose_m3", "m3", "the surplus as it is carried"),
    Column("grid_error_m3", "m3", "least error of the net volume from the cell size"),
    Column("survey_error_m3", "m3", "error of the net volume from the surveyed levels, 95 %"),
    Column("asked_m", "m", "rise (depth negative) asked for"),
    Column("reached_m", "m", "rise reached within the side slope"),
    Column("slope_before_pct", "pct", "steepest existing ground where it is shaped"),
    Column("slope_max_pct", "pct", "steepest finished ground there"),
    Column("limit_pct", "pct", "slope it should not pass"),
    Column("steeper_m2", "m2", "finished ground steeper than that"),
    Column("no_ground_m2", "m2", "part of the shape without terrain, left out"),
    Column("note", "", "what was cut back or needs a look"),
)


@step(
    "quantities",
    reads=[Reads("shapes"), Reads("terrain", required=True), Reads("greens", required=True)],
    writes=[
        Writes("quantities", "Polygon", _QUANTITIES, "Cut, fill and topsoil, shape by shape and in total"),
        Writes("cut_fill", "raster", (), "Change of height from existing to proposed ground [m]"),
        Writes("terrain_proposed", "raster", (), "Proposed ground [m]"),
    ],
    sources=[
        "grid volumes against cone frustum, cap, Gaussian and plane [derived]",
        "average end area and prismoidal rules, thesurveyschool.com fs-5-h-volume [seen]",
        "shrinkage in two forms: contractors' and FLH PDDM chapter 9 [seen]",
        "slope limits: Brauer [seen], 3:1 for ride-on mowers [common practice, no source]",
    ],
    cautions=(CAUTION, ERRORS),
)
def quantities(
    site: Site,
    *,
    hole: int | None = None,
    strip_m: Annotated[
        float, Option("m", "topsoil stripped from touched ground (common practice)", 0, 1)
    ] = 0.15,
    respread_m: Annotated[float, Option("m", "topsoil put back", 0, 1)] = 0.15,
    swell_pct: Annotated[
        float, Option("pct", "bulking when dug; 0 means not known: sand 10-15, clay 20-40", 0, 100)
    ] = 0.0,
    shrink_pct: Annotated[
        float, Option("pct", "shrinkage when compacted; 0 means not known: sand 5, earth 10-20", -60, 60)
    ] = 0.0,
    convention: Annotated[
        str,
        Option(
            "",
            "shrinkage s as a share of_bank (compacted = bank (1 - s)) or of_fill (compacted = bank / (1 + s))",
            choices=("of_bank", "of_fill"),
        ),
    ] = "of_bank",
    level_sd_m: Annotated[
        float, Option("m", "standard deviation of a surveyed level (half of a 50 mm band)", 0, 1)
    ] = 0.025,
    survey_spacing_m: Annotated[float, Option("m", "distance between surveyed points", 0.1, 50)] = 5.0,
) -> dict[str, Any]:
    """Measure the earth the proposed shaping moves, and what becomes of it.

    The shapes of the layer ``shapes`` are laid on the terrain one after the other; each row is what one of them
    adds to the ground the others have left, so the nets of the rows add up to the net of the total. A raster
    ``terrain_proposed`` in the file counts instead, and then there are totals only.

    V = sum(dz) A over the cells, cut and fill apart, on the ground: divided by the square of the combined
    factor. Topsoil is kept out of the balance: cut and fill are those between the ground stripped of it and the
    formation under it, which differ from the finished surfaces only where not the same depth is put back.

    Returns
    -------
    dict
        ``quantities``: rows by shape, a total for each hole and (without ``hole``) for the site; geometry is the
        ground touched. Maps ``cut_fill...`` and ``terrain_proposed...``, one for each hole with shaping.

    Notes
    -----
    The survey error reads a +-50 mm band [common practice, no source] as two standard deviations and lets each
    surveyed point stand for a square of its own (assumption).
    """
    import numpy as np

    from gistools.site.proposed import proposed_map
    from gistools.site.results import Map
    from gistools.steps.quantity_rows import Soil, both_grounds, quantity_rows

    holes = site.selected_holes(hole)
    soil = Soil(strip_m, respread_m, swell_pct, shrink_pct, convention, level_sd_m, survey_spacing_m)  # type: ignore[arg-type]
    rows = quantity_rows(site, holes, hole is None, soil)
    out: dict[str, Any] = {"quantities": earthworks_table(_QUANTITIES, rows, site.crs_metric)}
    for number in sorted({row["hole"] for row in rows if row["hole"] is not None}):
        before, after = both_grounds(site, site.hole_bounds(number), number)
        change = Map(
            f"cut_fill_h{number}",
            (after.z - before.z).astype(np.float32),
            before.x_west,
            before.y_north,
            before.cell,
            "m",
            "proposed less existing ground: fill positive, cut negative",
        )
        proposed = proposed_map(site, hole=number, name=f"terrain_proposed_h{number}")
        out |= {change.name: change, proposed.name: proposed}
    return out
