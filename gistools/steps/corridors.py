"""The step of corridors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.layout_inputs import HAZARDS, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "corridors",
    summary="Width of the fairway and clearances along the line of play",
    reads=[*PLAN, *HAZARDS, Reads("trees"), Reads("boundary"), Reads("players")],
    writes=[
        Writes(
            "corridors",
            "LineString",
            columns(
                "hole tee chainage_m line_surface fairway_left_m fairway_right_m fairway_width_m "
                "clear_width_m tree_left_m tree_right_m boundary_left_m boundary_right_m other_left_m "
                "other_right_m other_left other_right narrowest"
            ),
            "fairway width and clearances at stations along the line of play",
            style=Style("#2c6e8f", 0.3),
        ),
        Writes(
            "landing_widths",
            "LineString",
            columns(
                "hole tee player full_shot chainage_m line_surface fairway_left_m fairway_right_m "
                "fairway_width_m clear_width_m"
            ),
            "fairway width where each model player's full shots finish",
            style=Style("#54378a", 0.8, label="player"),
            compared="clear_width_m",
        ),
    ],
    group="Plan",
    sources=[
        "plane geometry",
        "landing distances of scratch and bogey players: WHS Course Rating [published]",
    ],
)
def corridors(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[float, Option("m", "distance between stations", 1, 100)] = 10.0,
    search_distance_m: Annotated[
        float, Option("m", "how far aside trees and neighbours are looked for", 5, 500)
    ] = 120.0,
    end_exclusion_m: Annotated[
        float, Option("m", "fairway nearer than this to its ends is not called narrowest", 0, 200)
    ] = 20.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Width of the fairway and clearances at stations along each line of play, and at landing distances.

    Square to play; at a turning point along the bisector. See :mod:`gistools.compute.layout.corridors`.
    Players of the site's own table land at their driver's carry and 18.3 m of roll.
    """
    import pandas as pd

    from gistools.compute.layout.corridors import LANDING_M, ROLL_M, corridor_rows, landing_rows
    from gistools.hole import HoleModel

    players = dict(LANDING_M)
    site_players = site.layer("players")
    for name, carry in zip(site_players["player"], site_players["driver_carry_m"], strict=True):
        if pd.notna(carry):
            players[str(name)] = (float(carry) + ROLL_M,)
    rows: list[dict[str, Any]] = []
    landing: list[dict[str, Any]] = []
    numbers = site.selected_holes(hole)
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        model = HoleModel(site, number)
        plan, around = model.plan, model.surroundings
        for tee in plan.tees:
            rows += corridor_rows(
                plan,
                tee,
                around,
                spacing_m=spacing_m,
                search_distance_m=search_distance_m,
                end_exclusion_m=end_exclusion_m,
            )
            landing += landing_rows(plan, tee, players)
    return {
        "corridors": rows,
        "landing_widths": landing,
    }
