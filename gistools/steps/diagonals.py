"""The step of diagonals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from gistools.base.columns import columns
from gistools.steps.catalogue import Option, step
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "diagonals",
    summary="Hazards on the diagonal: angle, and carry asked per metre of width",
    reads=[*PLAN, *HAZARDS],
    writes=[
        Writes(
            "diagonals",
            "LineString",
            columns(
                "hole tee feature layer feature_id chainage_m axis_bearing_deg axis_angle_deg "
                "width_share_pct extra_carry_m_per_m runs_away free_left_m free_right_m areas_count"
            ),
            "hazards that cross the fairway or bite into it",
            visible=True,
            style=Style("#8a3b12", 0.5, dashed=True, label="feature", once=True),
            page=PageTable(
                "Hazards that bite into the fairway",
                "feature axis_angle_deg width_share_pct extra_carry_m_per_m runs_away areas_count",
                aside="tee",
                headings={
                    "axis_angle_deg": "Angle to play",
                    "width_share_pct": "Of the fairway's width",
                    "extra_carry_m_per_m": "Carry per metre across",
                    "areas_count": "Areas left",
                },
            ),
        ),
    ],
    group="Plan",
    sources=["plane geometry; second moments of area [computed]"],
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
    from gistools.hole import HoleModel

    rows = []
    for number in site.selected_holes(hole):
        plan = HoleModel(site, number).plan
        for tee in plan.tees:
            rows += diagonal_rows(plan, tee, least_share=least_share_pct / 100.0)
    return rows
