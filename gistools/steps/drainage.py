"""The step of surface drainage."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, step
from gistools.steps.earthworks_inputs import CAUTION
from gistools.steps.styles import Style
from gistools.steps.terrain_inputs import PARTED, PLAN
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "drainage",
    summary="Where surface water stands and runs, and what is too flat to shed it",
    reads=[*PLAN, *PARTED],
    writes=[
        Writes(
            "hollows",
            "MultiPolygon",
            columns(
                "hole feature layer area_m2 depth_m volume_m3 level_m spill_level_m drainage_status reading"
            ),
            "where water stands on the ground until it spills",
            style=Style("#2c6e8f", 0.4, 0.35, label="depth_m"),
            themes=("Construction",),
        ),
        Writes(
            "flow_paths",
            "LineString",
            columns("hole length_m path_fall_pct catchment_m2 path_end crosses drainage_status reading"),
            "where gathered surface water runs",
            style=Style("#2c6e8f", 0.5),
            themes=("Construction",),
        ),
        Writes(
            "surface_falls",
            "Polygon",
            columns(
                "hole feature layer feature_id area_m2 slope_mean_pct least_fall_pct too_flat_pct "
                "shed_front_pct shed_left_pct shed_back_pct shed_right_pct ways_count drainage_status reading"
            ),
            "falls of greens, tees and fairway against the least that drains, and the ways each sheds water",
            style=Style("#7a5c00", 0.4, 0.08),
        ),
    ],
    group="Ground and sight",
    loops="ground",
    on_page=False,
    sources=[
        "green: 1.5 % least, two surface ways, Brauer, golfcourseindustry.com [published]",
        "tee: 1 % least, Kains, column on tees [published]",
        "fairway: 2 % least [common practice, no source]",
        "hollows: priority flood, Barnes, Lehman and Mulla 2014 [from memory]",
        "paths: D8, O'Callaghan and Mark 1984 [from memory]",
    ],
    cautions=(
        CAUTION,
        "Surface water alone: soil, pipes, rain and what flows in from beyond the ground looked at are not"
        " computed. A licensed drainage engineer designs drains; local codes and consents decide where water"
        " may be led.",
    ),
)
def drainage(
    site: Site,
    *,
    hole: int | None = None,
    hollow_depth_m: Annotated[
        float, Option("m", "shallower hollows are noise of the survey (assumption)", 0.005, 2)
    ] = 0.05,
    hollow_area_m2: Annotated[
        float, Option("m2", "smaller hollows are left out (assumption)", 0.1, 1000)
    ] = 2.0,
    catchment_m2: Annotated[
        float, Option("m2", "water of a larger catchment is gathered (assumption)", 10, 1e6)
    ] = 1000.0,
    radius_m: Annotated[float, Option("m", "radius that falls are measured within", 0.3, 25)] = 1.5,
) -> dict[str, Any]:
    """Say where surface water stands and runs, and which greens, tees and fairways are too flat to shed it.

    On the proposed ground where something is shaped. Hollows are filled to their spill, water runs down the
    steepest way on the filled ground, rain falls evenly and nothing soaks in. A hollow on a green, tee or
    fairway is flagged, and so is a path of gathered water onto a green or tee; bunkers, burns and ponds hold
    water by nature and are told apart. A green should shed its water by two ways at least, each a tenth of it
    (assumption), on falls of 1.5 %; ground a tenth flatter than its limit passes (assumption).
    """
    from gistools.hole import HoleModel
    from gistools.site.proposed import proposed_site
    from gistools.steps.drainage_rows import drainage_rows

    layers: dict[str, list[dict[str, Any]]] = {"hollows": [], "flow_paths": [], "surface_falls": []}
    numbers = site.selected_holes(hole)
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"drainage, hole {number}")
        model = HoleModel(proposed_site(site, hole=number), number)
        rows = drainage_rows(model, hollow_depth_m, hollow_area_m2, catchment_m2, radius_m)
        for layer, part in rows.items():
            layers[layer] += [{"hole": number} | row for row in part]
    return layers
