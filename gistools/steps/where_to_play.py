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
    summary="Where to play for each hole location, and because of what",
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
                headings={
                    "from_zone": "Played from",
                    "rank": "Rank",
                    "level_with_first": "Level with the best",
                    "decided_by": "Before level ones because",
                    "total_strokes": "Expected score",
                    "lead_strokes": "Ahead of the second",
                    "behind_strokes": "Behind the best",
                    "remaining_strokes": "Strokes left from there",
                    "aim_deg": "Aim",
                    "in_zone_pct": "Finishes in it",
                    "run_through_pct": "Runs through",
                    "carry_mean_m": "Shot carries",
                    "effective_carry_m": "Its carry as it plays",
                    "shot_must_carry_m": "Shot must carry",
                    "shot_hazards_carried": "Carries over",
                    "shot_carried_pct": "Carries them",
                    "shot_run_along_m": "Shot runs on",
                    "shot_run_across_m": "Shot runs right",
                    "shot_runs_into": "Runs into",
                    "trouble_pct": "In sand, water or trees",
                    "out_of_bounds_pct": "Out of bounds",
                    "hazards": "Hazards it finds",
                    "pin_distance_m": "Then to the pin",
                    "rise_m": "Pin above the ball",
                    "effective_distance_m": "As it plays",
                    "next_club": "Next shot",
                    "next_zone": "Played to",
                    "next_from": "Next shot from",
                    "green_angle_deg": "Line in to the green's axis",
                    "green_depth_m": "Green along the line",
                    "green_width_m": "Green across",
                    "must_carry_m": "Next shot must carry",
                    "hazards_carried": "Hazards it carries",
                    "mounds_crossed": "Mounds it comes over",
                    "window_from_m": "Carry from",
                    "window_to_m": "Carry to",
                    "hold_area_m2": "Lands and holds on",
                    "feed_area_m2": "Lands and feeds on",
                    "landing_fall_pct": "Landing falls along",
                    "landing_camber_pct": "Landing falls right",
                    "flag_visibility": "Flag",
                    "flag_seen_pct": "Flag seen from there",
                    "hidden_by": "Hidden there by",
                    "feeds": "Ground feeds",
                    "backstop_m": "Backstop rise",
                    "run_along_m": "Runs on",
                    "run_across_m": "Runs right",
                    "hold_pct": "Holds the green",
                    "within_6_pct": "Within 6 m",
                    "leave_m": "Mean left",
                    "held_strokes": "Left on the green",
                    "miss_short_pct": "Misses short",
                    "miss_short_strokes": "Left from short",
                    "miss_long_pct": "Misses long",
                    "miss_long_strokes": "Left from long",
                    "miss_left_pct": "Misses left",
                    "miss_left_strokes": "Left from left",
                    "miss_right_pct": "Misses right",
                    "miss_right_strokes": "Left from right",
                    "playable_misses": "Playable",
                    "dead_misses": "Dead",
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
