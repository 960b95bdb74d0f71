"""The step of setting-out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import Column
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, Writes, step
from gistools.steps.earthworks_table import CAUTION, earthworks_table

if TYPE_CHECKING:
    from gistools.site.model import Site

_SETTING_OUT = (
    Column("hole", "", "hole"),
    Column("point", "", "name of the point: code, feature id, count"),
    Column("number", "", "number of the point: hole, code, feature, count"),
    Column("code", "", "what it is, a code of the table in the documentation"),
    Column("meaning", "", "the code in words"),
    Column("feature", "", "feature it belongs to"),
    Column("layer", "", "layer of the feature"),
    Column("fid", "", "feature id"),
    Column("run", "", "points of one run are joined in the order of seq"),
    Column("seq", "", "count of the point within its feature and code"),
    Column("closed", "", "the last point of the run joins the first"),
    Column("tee", "", "tee whose line of play is stationed"),
    Column("chainage_m", "m", "distance along the line of play, on the grid"),
    Column("offset_m", "m", "distance beside the line of play, right positive, on the grid"),
    Column("meets", "", "on: square to a leg; vertex: outside a bend; before, after: beyond an end"),
    Column("existing_m", "m", "existing level"),
    Column("proposed_m", "m", "proposed level"),
    Column("lift_m", "m", "proposed less existing level: fill positive, cut negative"),
    Column("ground_east_m", "m", "ground distance east of the start of the line of play"),
    Column("ground_north_m", "m", "ground distance north of the start of the line of play"),
    Column("combined_factor", "", "grid distance over ground distance at the point"),
)
_CONTROL = (
    Column("point", "", "control point"),
    Column("fid", "", "feature id"),
    Column("level_m", "m", "published level"),
    Column("de_m", "m", "easting as checked less published"),
    Column("dn_m", "m", "northing as checked less published"),
    Column("dh_m", "m", "level as checked less published"),
    Column("plan_m", "m", "distance in plan between checked and published"),
    Column("verdict", "", "within, outside or not checked"),
)


@step(
    "setting_out",
    reads=[
        Reads("tees", required=True),
        Reads("greens", required=True),
        *(Reads(n) for n in ("fairway", "pins", "bunkers", "burns", "water", "mounds", "shapes", "control")),
        Reads("terrain"),
    ],
    writes=[
        Writes("setting_out", "Point", _SETTING_OUT, "Points to stake"),
        Writes("control_check", "Point", _CONTROL, "Control points, published against checked"),
    ],
    sources=[
        "chainage and offset, right positive [seen: hqcalculator.com/stakeout]",
        "chord error c^2 / (8 r) [derived]",
        "combined factor k R / (R + h)",
        "station and stake intervals [from memory]",
    ],
    cautions=(
        CAUTION,
        "Coordinates are grid coordinates and chainages grid distances: divide a distance by the combined factor"
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
    ``chord_m``. Chainage and offset are from the hole's longest line of play; levels from the existing and the
    proposed ground. Point names stay as they are when other features change.

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
        "setting_out": earthworks_table(_SETTING_OUT, rows, site.crs_metric),
        "control_check": earthworks_table(_CONTROL, control_rows(site, control_m), site.crs_metric),
    }
