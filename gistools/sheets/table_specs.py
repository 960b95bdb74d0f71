"""Tables of the page: headings of their columns, and what the page's script needs to know of each."""

from __future__ import annotations

from typing import Any

from gistools.steps.catalogue import STEPS, find, step_of_layer
from gistools.steps.decision_inputs import QUARTERS
from gistools.steps.writes import PageTable

#: headings where the name of the column alone would not tell a reader enough
HEADINGS = {
    "line": "Which line",
    "layup_room_m": "Lay-up room",
    "carries.rise_m": "Rise from tee",
    "zone_carries.rise_m": "Its centre above the tee",
    "where_to_play.rise_m": "Pin above the ball",
    "axis_angle_deg": "Angle to play",
    "green_angle_deg": "Line in to the green's axis",
    "width_share_pct": "Of the fairway's width",
    "extra_carry_m_per_m": "Carry per metre across",
    "areas_count": "Areas left",
    "enter_least_m": "Comes over it, least",
    "enter_greatest_m": "Comes over it, greatest",
    "centre_m": "To its centre",
    "through_m": "Ends at",
    "zone_carries.must_carry_m": "Must carry to its centre",
    "zone_carries.hazards_carried": "Hazards on the way to it",
    "where_to_play.must_carry_m": "Next shot must carry",
    "where_to_play.hazards_carried": "Hazards it carries",
    "mounds_crossed": "Mounds it comes over",
    "total_strokes": "Expected score",
    "remaining_strokes": "Strokes left from there",
    "rank": "Rank",
    "from_zone": "Played from",
    "level_with_first": "Level with the best",
    "behind_strokes": "Behind the best",
    "lead_strokes": "Ahead of the second",
    "where_to_play.carry_mean_m": "Shot carries",
    "where_to_play.effective_carry_m": "Its carry as it plays",
    "shot_must_carry_m": "Shot must carry",
    "shot_hazards_carried": "Carries over",
    "shot_carried_pct": "Carries them",
    "shot_run_along_m": "Shot runs on",
    "shot_run_across_m": "Shot runs right",
    "shot_runs_into": "Runs into",
    "next_club": "Next shot",
    "next_zone": "Played to",
    "next_from": "Next shot from",
    "flag_visibility": "Flag",
    "decided_by": "Before level ones because",
    "bearing_deg": "Bearing",
    "where_to_play.in_zone_pct": "Finishes in it",
    "where_to_play.aim_deg": "Aim",
    "where_to_play.trouble_pct": "In sand, water or trees",
    "where_to_play.hazards": "Hazards it finds",
    "out_of_bounds_pct": "Out of bounds",
    "run_through_pct": "Runs through",
    "tee_shots.aim_deg": "Aim of that club",
    "tee_shots.in_zone_pct": "That club finishes in it",
    "tee_shots.hazard_pct": "That club in sand or water",
    "carry_mean_m": "Mean carry",
    "total_mean_m": "Mean total",
    "effective_carries.carry_m": "Carry in plan",
    "effective_carry_m": "Carry as it plays",
    "longest_carry_m": "Longest carry",
    "carried_pct": "Carries it",
    "demand": "Asked",
    "playability.zone": "Zone, or played from",
    "playability.pin": "Hole location",
    "zone_seen_pct": "Zone seen",
    "flag_seen_mean_pct": "Flag seen, mean",
    "flag_seen_least_pct": "Flag seen, worst place",
    "foot_share_pct": "Sees the foot from",
    "top_share_pct": "Sees the flag from",
    "pin_slope_limit_pct": "Limit",
    "edge_distance_m": "From the edge",
    "critical_distance_m": "From critical slope",
    "steepest_pct": "Steepest",
    "comfortable_pct": "Comfortable",
    "too_flat_pct": "Too flat to drain",
    "where_to_play.pin_distance_m": "Then to the pin",
    "effective_distance_m": "As it plays",
    "hold_pct": "Holds the green",
    "within_6_pct": "Within 6 m",
    "leave_m": "Mean left",
    "where_to_play.flag_seen_pct": "Flag seen from there",
    "where_to_play.hidden_by": "Hidden there by",
    "sightlines.pin_distance_m": "Tee to pin",
    "sightlines.flag_seen_pct": "Flag seen from the tee",
    "sightlines.hidden_by": "Hidden from the tee by",
    "tee_views.hidden_by": "Zone hidden by",
    "zone_views.hidden_by": "Mostly hidden by",
    "foot_seen": "Foot seen",
    "green_seen_pct": "Green seen",
    "hidden_at_m": "Hidden at",
    "green_depth_m": "Green along the line",
    "green_width_m": "Green across",
    "window_from_m": "Carry from",
    "window_to_m": "Carry to",
    "hold_area_m2": "Lands and holds on",
    "feed_area_m2": "Lands and feeds on",
    "feeds": "Ground feeds",
    "run_along_m": "Runs on",
    "run_across_m": "Runs right",
    "landing_fall_pct": "Landing falls along",
    "landing_camber_pct": "Landing falls right",
    "backstop_m": "Backstop rise",
    "held_strokes": "Left on the green",
    **{f"miss_{q}_pct": f"Misses {q}" for q in QUARTERS},
    **{f"miss_{q}_strokes": f"Left from {q}" for q in QUARTERS},
    "playable_misses": "Playable",
    "dead_misses": "Dead",
    "other": "Neighbour",
    "separation_m": "Least distance",
    "clear_distance_m": "Asked",
}


#: layers whose rows the plan and the charts need, without a table of their own
DRAWN = ("lines_of_play", "zones", "choices", "setbacks")


def page_table(layer: str) -> PageTable | None:
    """Return how a result layer is shown on the page, None for one that has no table there."""
    declared = step_of_layer(layer)
    return declared[1].page if declared else None


def page_layers() -> list[str]:
    """Return the layers with a table on the page, in the order of the steps."""
    return [w.layer for name in STEPS for w in find(name).writes if w.page]


def with_specs(tables: dict[str, Any]) -> dict[str, Any]:
    """Add to each table how it is shown; what names a column the layer does not have is left out."""
    for name, table in tables.items():
        spec = page_table(name) or PageTable(name.replace("_", " ").capitalize())
        have = {c["name"] for c in table["columns"]}
        for column in table["columns"]:
            word = HEADINGS.get(column["name"], column["title"])
            column["title"] = HEADINGS.get(f"{name}.{column['name']}", word)
        table["caption"] = spec.caption
        table["show"] = [c for c in spec.columns.split() if c in have] or None
        if spec.spread:
            table["show"] = [c["name"] for c in table["columns"] if c["name"] not in spec.aside.split()]
        table["parts"] = {
            part: {"caption": caption, "show": [c for c in columns.split() if c in have]}
            for part, (caption, columns) in spec.parts.items()
        }
        table["whole"] = spec.whole
        table["aside"] = [c for c in spec.aside.split() if c in have]
        for key in ("order", "verdict", "reading", "total"):
            column = getattr(spec, key)
            table[key] = column if column in have else None
    return tables
