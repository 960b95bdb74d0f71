"""The step of where to play: for each zone and hole location one shot, and what it leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.card_sentences import sentence
from gistools.steps.catalogue import step
from gistools.steps.decision_inputs import CAUTION, MISSES, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.styles import Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "where_to_play",
    reads=READS,
    writes=[
        Writes(
            "where_to_play",
            "Point",
            columns(
                "hole tee player wind shot_number from_zone pin zone zone_number rank level_with_first "
                "decided_by total_strokes lead_strokes behind_strokes remaining_strokes remaining_rank "
                "order_changes club "
                "aim_deg in_zone_pct run_through_pct ellipse_length_m ellipse_width_m axis_bearing_deg "
                "carry_mean_m effective_carry_m shot_must_carry_m shot_hazards_carried shot_carried_pct "
                "shot_run_along_m shot_run_across_m shot_runs_into "
                "trouble_pct sand_pct water_pct out_of_bounds_pct hazards pin_distance_m rise_m "
                "effective_distance_m next_club next_zone next_from green_angle_deg green_depth_m "
                "green_width_m must_carry_m hazards_carried mounds_crossed window_from_m window_to_m "
                "hold_area_m2 feed_area_m2 landing_fall_pct landing_camber_pct flag_visibility flag_seen_pct "
                "hidden_by feeds backstop_m run_along_m run_across_m hold_pct within_6_pct leave_m "
                f"{MISSES} reading"
            ),
            "a card for each zone and hole location: rank, shot, risk, what is left",
            visible=True,
            style=Style("#0b5563", 2.6, label="zone_number"),
            page=PageTable(
                "The shot at each zone, and its risk",
                (
                    "zone from_zone rank level_with_first total_strokes lead_strokes behind_strokes "
                    "club aim_deg carry_mean_m effective_carry_m shot_must_carry_m "
                    "shot_hazards_carried shot_carried_pct shot_run_along_m shot_run_across_m "
                    "shot_runs_into in_zone_pct run_through_pct trouble_pct out_of_bounds_pct "
                    "hazards decided_by"
                ),
                aside="tee player wind pin reading zone_number order_changes",
                order="rank",
                total="total_strokes",
                parts={
                    "left": (
                        "The next shot, from there",
                        (
                            "zone from_zone remaining_strokes next_from pin_distance_m rise_m "
                            "effective_distance_m next_club next_zone must_carry_m hazards_carried "
                            "mounds_crossed flag_visibility flag_seen_pct hidden_by"
                        ),
                    ),
                    "green": (
                        "How the green takes that shot",
                        (
                            "zone from_zone hold_pct within_6_pct leave_m green_angle_deg green_depth_m "
                            "green_width_m window_from_m window_to_m hold_area_m2 feed_area_m2 feeds "
                            "run_along_m run_across_m landing_fall_pct landing_camber_pct backstop_m"
                        ),
                    ),
                    "misses": (
                        "Where it misses, and the strokes remaining from there",
                        f"zone from_zone {MISSES}",
                    ),
                },
            ),
            themes=("Client", "Strategy"),
        ),
    ],
    group="Strategy",
    loops="strategy",
    cost="minutes",
    sources=[*SOURCES, "band of level totals, criteria of level zones and their order: assumptions"],
    cautions=CAUTION,
)
def where_to_play(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> list[dict[str, Any]]:
    """Say where to play for each hole location: rank of each zone, its one shot, and what that leaves.

    The tee shot is that of `positions`; the shot after is played from the middle of its finishes. Zones whose
    totals differ from the least by less than the setting `level_band_strokes` are level, and ordered by the
    criteria of :mod:`gistools.compute.decision.levels` that the setting `level_order` names. Where the shot
    after is no approach the zones ahead and the green are ranked for it in the same way, and so on: see
    :func:`gistools.steps.zone_choices.rankings`. On a hole without landing zones a row is the shot from the
    tee.
    """
    from gistools.steps.zone_cards import cards_of

    rows = cards_of(site, hole, players, winds)
    return [row | {"reading": sentence(row)} for row in rows]
