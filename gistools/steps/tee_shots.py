"""The step of tee shots into landing zones."""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.shot_inputs import CAUTIONS, PLAYERS, READS, SOURCES, WINDS, Names
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.compute.ballistics.air import Wind
    from gistools.compute.ballistics.players import Player
    from gistools.hole import HoleModel
    from gistools.site.model import Site

NOBODY = "no full shot of this player finishes in it in this wind"
NO_GROUND = "no terrain in the zone"


@step(
    "tee_shots",
    summary="Surest club and aim into each landing zone, and what it risks",
    reads=[*READS, Reads("trees"), Reads("structures"), Reads("boundary"), Reads("terrain", required=True)],
    writes=[
        Writes(
            "tee_shots",
            "LineString",
            columns(
                "hole tee player wind zone surest_club aim_deg in_zone_pct fairway_pct hazard_pct "
                "out_of_bounds_pct trees_pct run_through_pct run_through_m carry_mean_m "
                "run_out_mean_m total_mean_m apex_mean_m descent_mean_deg note"
            ),
            "the surest club and aim from each tee into each landing zone; drawn from tee to mean finish",
            style=Style("#54378a", 0.4, label="surest_club"),
            page=PageTable(
                "The surest club into each zone, whatever it leaves",
                "zone surest_club aim_deg in_zone_pct hazard_pct carry_mean_m total_mean_m",
                aside="tee player wind",
                headings={
                    "aim_deg": "Aim of that club",
                    "in_zone_pct": "That club finishes in it",
                    "hazard_pct": "That club in sand or water",
                    "carry_mean_m": "Mean carry",
                    "total_mean_m": "Mean total",
                },
            ),
        ),
        Writes(
            "tee_shot_risks",
            "",
            columns("hole tee player wind zone feature cover_class chance_pct"),
            "chance of finishing in each hazard, by name, with the tee shot chosen for a zone",
        ),
        Writes(
            "shot_ellipses",
            "Polygon",
            columns(
                "hole tee player wind zone surest_club event enclosed_pct ellipse_length_m ellipse_width_m "
                "axis_bearing_deg"
            ),
            "ellipses round where tee shots land and finish",
            style=Style("#54378a", 0.4, 0.06),
        ),
        Writes(
            "finish_points",
            "Point",
            columns("hole tee player wind zone surest_club cover_class feature in_zone total_m"),
            "where some of the tee shots finish: the first points of the even sample",
            style=Style("#54378a", 0.8),
        ),
        Writes(
            "shot_paths",
            "LineString",
            columns(
                "hole tee player wind zone surest_club path shot_carry_m apex_m descent_deg run_out_m air_s"
            ),
            "flights as lines with levels, from tee to landing, then to rest",
            style=Style("#54378a", 0.2, dashed=True),
        ),
    ],
    group="Shots",
    loops="shots",
    sources=SOURCES,
    cautions=CAUTIONS,
)
def tee_shots(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[Names, PLAYERS] = None,
    winds: Annotated[Names, WINDS] = None,
    points_count: Annotated[int, Option("count", "finishing points kept of each tee shot", 0, 2048)] = 48,
) -> dict[str, Any]:
    """Surest club and aim from each tee into each landing zone, and what it risks.

    Every full club that can reach the zone is tried along aims across it, over the real ground, with the
    player's spread; the one most likely to finish in the zone is kept, of equals (within 2 points) the one
    that finishes less often in sand, water, trees or out of bounds. It is then played 2,048 times: chances by
    feature, run, ellipses that hold 50 and 90 % of the landings and finishes, a few finishing points and
    flights. A zone that no full shot reaches has a row that says so. A hole without landing zones is played
    at its green.
    """
    from gistools.hole import HoleModel
    from gistools.site.players import players_of, winds_of

    whom, blows = players_of(site, players), winds_of(site, winds)
    rows: dict[str, list[dict[str, Any]]] = {layer: [] for layer in LAYERS}
    for number in site.selected_holes(hole):
        model = HoleModel(site, number)
        model.tee_ground, model.targets  # noqa: B018 (made before the threads begin)
        jobs = [
            (tee.name, tee.start, player, wind) for tee in model.tees for player in whom for wind in blows
        ]

        def rows_of(job: tuple[str, tuple[float, float], Player, Wind], model: HoleModel = model) -> Any:
            return _from_tee(model, *job, points_count)

        with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
            for k, (job, parts) in enumerate(zip(jobs, pool.map(rows_of, jobs), strict=True)):
                tick(k / len(jobs), f"hole {number}: {job[0]} tee, {job[2].name}, {job[3].name}")
                for layer, some in parts.items():
                    rows[layer] += [{"hole": number, **row} for row in some]
    return rows


LAYERS = ("tee_shots", "tee_shot_risks", "shot_ellipses", "finish_points", "shot_paths")


def _from_tee(
    model: HoleModel, tee: str, place: tuple[float, float], player: Player, wind: Wind, points: int
) -> dict[str, list[dict[str, Any]]]:
    """Rows of all layers for one tee, player and wind."""
    from gistools.compute.ballistics.tee_shot import Teeing, best_shot, target_for
    from gistools.steps.shot_rows import ellipse_rows, nothing, path_rows, point_rows, risk_rows, shot_row

    ground = model.tee_ground
    level = ground.surface.height(*place)
    out: dict[str, list[dict[str, Any]]] = {layer: [] for layer in LAYERS}
    who = {"tee": tee, "player": player.name, "wind": wind.name}
    for zone, area in model.targets:
        common = {**who, "zone": zone}
        if not math.isfinite(level):
            out["tee_shots"].append(nothing(common, place, area, "no terrain under the tee"))
            continue
        teeing = Teeing(ground.land, ground.obstacles, (*place, level), player, wind, ground.weather)
        target = target_for(area, place, ground.land)
        shot = best_shot(teeing, target)
        if shot is None:
            why = NOBODY if math.isfinite(target.level) else NO_GROUND
            out["tee_shots"].append(nothing(common, place, area, why))
            continue
        shots = teeing.shots(shot.out, ground.feature)
        common["surest_club"] = shot.club.name
        out["tee_shots"].append(shot_row(common, place, area, shot, shots))
        out["tee_shot_risks"] += risk_rows(common, ground.names, shots)
        out["shot_ellipses"] += ellipse_rows(common, shots)
        out["finish_points"] += point_rows(common, ground.names, shots, shot, place, points)
        out["shot_paths"] += path_rows(common, teeing, shot)
    return out
