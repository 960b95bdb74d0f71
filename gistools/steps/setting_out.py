"""The step of setting-out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.earthworks_inputs import CAUTION
from gistools.steps.styles import Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "setting_out",
    summary="The points a crew stakes, with chainage, offset and levels",
    reads=[
        Reads("tees", required=True),
        Reads("greens", required=True),
        *(Reads(n) for n in ("fairway", "play_lines", "pins", "bunkers", "burns", "water", "mounds")),
        *(Reads(n) for n in ("shapes", "control")),
        Reads("terrain"),
    ],
    writes=[
        Writes(
            "setting_out",
            "Point",
            columns(
                "hole point number code meaning feature layer feature_id polyline_id point_no closed "
                "tee chainage_m offset_m alignment_relation existing_level_m proposed_level_m "
                "cut_fill_m ground_east_m ground_north_m combined_factor"
            ),
            "Points to stake",
            style=Style("#a3262a", 1.6, label="point"),
            themes=("Construction",),
        ),
        Writes(
            "control_check",
            "Point",
            columns(
                "point feature_id published_level_m delta_easting_m delta_northing_m delta_height_m "
                "delta_plan_m control_status"
            ),
            "Control points, published against checked",
            style=Style("#1c272b", 2.4, label="point"),
            themes=("Construction",),
        ),
    ],
    group="For the crew",
    on_page=False,
    sources=[
        "chainage and offset, right positive [published: hqcalculator.com/stakeout]",
        "chord error c^2 / (8 r) [computed]",
        "combined factor k R / (R + h)",
        "station and stake intervals [from memory]",
    ],
    cautions=(
        CAUTION,
        "Coordinates are grid coordinates and chainages grid distances: divide a distance by the"
        " combined factor"
        " before taping it. Check on control points before the first stake.",
    ),
)
def setting_out(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[
        float, Option("m", "greatest distance between points of an outline", 0.5, 100)
    ] = 5.0,
    chord_m: Annotated[
        float, Option("m", "how far the outline may stray from the string between two points", 0.005, 5)
    ] = 0.1,
    station_m: Annotated[float, Option("m", "distance of stations on the line of play", 1, 200)] = 20.0,
    control_m: Annotated[
        float, Option("m", "residual a control point may have (assumption)", 0.001, 1)
    ] = 0.02,
) -> dict[str, Any]:
    """List the points a crew stakes, with chainage, offset, levels and what is cut or filled there.

    Outlines are staked at most ``spacing_m`` apart and wherever the string would leave the outline by
    ``chord_m``. Chainage and offset are from the hole's longest line of play; levels from the existing and
    the proposed ground. Point names stay as they are when other features change.

    Returns
    -------
    dict
        ``setting_out``: the points; ``control_check``: residuals of the layer ``control``.
    """
    from gistools.steps.setting_out_points import control_rows, stake_rows

    rows: list[dict[str, Any]] = []
    for k, number in enumerate(site.selected_holes(hole)):
        tick(k / len(site.selected_holes(hole)), f"setting-out of hole {number}")
        rows += stake_rows(site, number, spacing_m=spacing_m, chord_m=chord_m, station_m=station_m)
    return {
        "setting_out": rows,
        "control_check": control_rows(site, control_m),
    }
