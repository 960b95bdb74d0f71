"""The step of lines of play."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gistools.base.columns import columns
from gistools.steps.catalogue import step
from gistools.steps.layout_inputs import MEASURING, PLAN
from gistools.steps.styles import Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "lines_of_play",
    summary="The line of play from each tee to the centre of the green",
    reads=PLAN,
    writes=[
        Writes(
            "lines_of_play",
            "LineString",
            columns(
                "hole tee tee_feature_id source turns_count length_m first_bearing_deg last_bearing_deg note"
            ),
            "line of play from each tee to the centre of the green",
            visible=True,
            style=Style("#1f2a2e", 0.35),
            themes=("Client", "Strategy", "Safety"),
            drawn=True,
        ),
    ],
    group="Plan",
    sources=[MEASURING],
)
def lines_of_play(
    site: Site,
    *,
    hole: int | None = None,
) -> gpd.GeoDataFrame:
    """The line of play from each tee: straight legs through the turning points to the centre of the green.

    A line drawn in `play_lines` wins: one for the tee, else one for all tees of the hole; it is turned to run
    from tee to green and tied to their centres. Otherwise the line is derived from the fairway: see
    :mod:`gistools.compute.layout.lines_of_play` for the rule and its assumptions. A straight hole has no
    turning point.
    """
    from gistools.compute.layout.alignment import Alignment, bearing
    from gistools.hole import HoleModel

    rows = []
    for number in site.selected_holes(hole):
        for tee in HoleModel(site, number).lines:
            line, way = tee.line, Alignment(tee.line.points)
            rows.append(
                {
                    "hole": number,
                    "tee": tee.tee,
                    "tee_feature_id": tee.fid,
                    "source": line.source,
                    "turns_count": line.turns,
                    "length_m": way.length,
                    "first_bearing_deg": bearing(way.legs[0]),
                    "last_bearing_deg": bearing(way.legs[-1]),
                    "note": line.note,
                    "geometry": way.geometry,
                }
            )
    return rows
