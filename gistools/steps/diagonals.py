"""The step of diagonals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from gistools.steps import layout_columns as columns
from gistools.steps.catalogue import Option, step
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.layout_table import layout_table

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "diagonals",
    reads=[*PLAN, *HAZARDS],
    writes=[columns.DIAGONALS],
    sources=["plane geometry; second moments of area [tried]"],
)
def diagonals(
    site: Site,
    *,
    hole: int | None = None,
    least_share_pct: Annotated[
        float, Option("pct", "hazards that take up less of the fairway's width are left out", 0, 100)
    ] = 5.0,
) -> gpd.GeoDataFrame:
    """Hazards that cross the fairway or bite into it: angle to the line of play and what they ask.

    `extra_carry_m_per_m` is the rise of the far edge along play for each metre across: for a straight burn at
    the angle a to the line of play cot(a). It runs away to the side where the carry grows.
    """
    from gistools.compute.layout.diagonals import diagonal_rows
    from gistools.hole.layout_holes import hole_of

    rows = []
    for number in site.selected_holes(hole):
        plan = hole_of(site, number)
        for tee in plan.tees:
            rows += diagonal_rows(plan, tee, least_share=least_share_pct / 100.0)
    return layout_table(site, columns.DIAGONALS, rows)
