"""The step of approaches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import BACKSTOP_M, CAUTION, MISSES, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.styles import Style
from gistools.steps.writes import Writes
from gistools.steps.zone_choices import best_at_zones

if TYPE_CHECKING:
    from gistools.compute.decision.approaches import View
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.hole import HoleModel
    from gistools.site.model import Site
    from gistools.steps.approach_starts import Start

STARTS = Option(
    "",
    (
        "where approaches start: centres of the zones, finishes of the best tee shots at them, or drawn"
        " points (`play_points`)"
    ),
    choices=("centres", "finishes", "points"),
)


@step(
    "approaches",
    summary="What each position leaves at each hole location",
    reads=[*READS, Reads("mounds"), Reads("structures"), Reads("play_points")],
    writes=[
        Writes(
            "approaches",
            "LineString",
            columns(
                "hole tee player wind pin zone start plays_count finish_share_pct lie pin_distance_m "
                "rise_m effective_distance_m club aim_deg green_angle_deg green_depth_m green_width_m "
                "front_m must_carry_m hazards_carried window_from_m window_to_m run_along_m "
                "run_across_m landing_camber_pct landing_fall_pct feeds backstop_m flag_seen_pct "
                "hidden_by dispersion_increase_pct hold_pct within_3_pct within_6_pct within_10_pct "
                f"leave_m {MISSES} trouble_pct out_of_bounds_pct hazards remaining_strokes reading"
            ),
            "what each position leaves at each hole location; drawn from the position to the pin",
            style=Style("#0b5563", 0.35, label="pin"),
        ),
    ],
    group="Strategy",
    loops="strategy",
    cost="minutes",
    on_page=False,
    sources=[*SOURCES, "blindness and aim: a stated assumption, no published figure"],
    cautions=CAUTION,
)
def approaches(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
    starts: Annotated[str, STARTS] = "centres",
    backstop_within_m: Annotated[
        float, Option("m", "how far behind the pin a backstop is looked for", 1, 60)
    ] = BACKSTOP_M,
) -> Any:
    """What each position leaves at each pin: the shot, the green as it meets it, and how it comes off.

    Positions are, as `starts` says: `centres`, a point in each landing zone (its centre, or the nearest place
    inside); `finishes`, places where the best tee shot at the zone for the pin comes to rest in it, a few for
    each tee with the number of tee shots each stands for, and a row of their means; `points`, those drawn in
    the layer `play_points`. A hole without landing zones is started from its tees. Sight is that of the very
    place, as in `flag_views`. See :mod:`gistools.compute.decision.approaches` for each figure and
    :mod:`gistools.steps.approach_starts` for the places.

    Returns
    -------
    GeoDataFrame
        One row a position, player, wind and pin, drawn from the position to the pin.
    """
    from gistools.hole import HoleModel
    from gistools.steps.approach_starts import views_from, with_means

    rows: list[dict[str, Any]] = []
    if starts == "points":
        _need_points(site, hole)
    for h, player, wind, _ in cases(site, hole, players, winds):
        if starts == "points" and not len(site.layer("play_points", h)):
            continue
        model = HoleModel(site, h)
        places = _starts(model, player, wind, starts)
        new_rows = [
            _approach_row(model, player, wind, start, view[p], p, backstop_within_m)
            for start, view in zip(places, views_from(model, places), strict=True)
            for p in (range(len(model.pins)) if start.pin is None else [start.pin])
        ]
        rows += with_means(new_rows) if any(start.plays for start in places) else new_rows
    return rows


def _need_points(site: Site, hole: int | None) -> None:
    from gistools.base.errors import SiteError

    if not any(len(site.layer("play_points", h)) for h in site.selected_holes(hole)):
        where = "the site" if hole is None else f"hole {hole}"
        raise SiteError(
            f"approaches from points needs some drawn in the layer `play_points`; {where} has none"
        )


def _starts(model: HoleModel, player: Player, wind: Wind, how: str) -> list[Start]:
    from gistools.compute.decision.ranking import zone_cells
    from gistools.steps.approach_starts import from_centres, from_finishes, from_points

    if how == "points":
        return from_points(model, model.strokes(player, wind))
    if how == "centres" or not model.zones:
        return from_centres(model)
    cells = zone_cells(model.ground, [zone.area for zone in model.zones])
    return [
        start
        for tee in model.tees
        for start in from_finishes(
            model.strokes(player, wind),
            tee,
            best_at_zones(model, tee, player, wind),
            [zone.zone for zone in model.zones],
            cells,
        )
    ]


def _approach_row(
    model: HoleModel, player: Player, wind: Wind, start: Start, view: View, pin: int, backstop_m: float
) -> dict[str, Any]:
    import shapely

    from gistools.compute.decision.approaches import approach

    s = model.strokes(player, wind)
    row = approach(
        s,
        model.ground,
        player,
        wind,
        start.x,
        start.y,
        pin,
        view=view,
        backstop_m=backstop_m,
    )
    key = {
        "hole": model.number,
        "tee": start.tee,
        "player": player.name,
        "wind": wind.name,
        "pin": s.pins[pin],
        "zone": start.zone,
        "start": start.place,
        "plays_count": start.plays,
        "finish_share_pct": 100.0 * start.share,
    }
    return key | row | {"geometry": shapely.LineString([(start.x, start.y), s.pin_xy[pin]])}
