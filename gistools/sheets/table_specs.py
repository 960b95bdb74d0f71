"""Which columns of which result layer a sheet shows, in what order and under what caption."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from gistools.steps.decision_inputs import QUARTERS


@dataclass(frozen=True)
class TableSpec:
    """How a result layer becomes a table on the page.

    Attributes
    ----------
    caption
        Words above the table.
    columns
        Columns in the order shown; the others stay in the layer.
    aside
        Columns that are chosen above the table and not repeated in it.
    order
        Rows are sorted by this column; the first row is marked.
    verdict
        Column coloured by what it says.
    reading
        Column written out as sentences below.
    total
        Figure named in the line at the head of the page.
    whole
        True for a table that does not follow the reader's choices.
    parts
        Further tables of the same rows: name to caption and columns.
    joined
        Columns shown together in one, `about`.
    """

    caption: str
    columns: tuple[str, ...] = ()
    aside: tuple[str, ...] = ()
    order: str = ""
    verdict: str = ""
    reading: str = ""
    total: str = ""
    whole: bool = False
    parts: dict[str, tuple[str, tuple[str, ...]]] = field(default_factory=dict)
    joined: tuple[str, ...] = ()


TABLES: dict[str, TableSpec] = {
    "carries": TableSpec(
        "Hazards from the tee: least and greatest carry, and on the line of play",
        (
            "feature",
            "line",
            "side",
            "reach_m",
            "carry_m",
            "layup_room_m",
            "rise_m",
            "bearing_deg",
        ),
        ("tee",),
    ),
    "diagonals": TableSpec(
        "Hazards that bite into the fairway",
        ("feature", "axis_angle_deg", "width_share_pct", "extra_carry_m_per_m", "runs_away", "areas_count"),
        ("tee",),
    ),
    "zone_carries": TableSpec(
        "What each zone asks",
        (
            "zone",
            "enter_least_m",
            "enter_greatest_m",
            "centre_m",
            "through_m",
            "must_carry_m",
            "hazards_carried",
            "rise_m",
        ),
        ("tee",),
    ),
    "effective_carries": TableSpec(
        "Carries as they play",
        (
            "feature",
            "line",
            "carry_m",
            "effective_carry_m",
            "longest_carry_m",
            "carry_margin_m",
            "can_carry",
            "carried_pct",
            "shortest_club",
        ),
        ("tee", "player", "wind"),
    ),
    "tee_shots": TableSpec(
        "The surest club into each zone, whatever it leaves",
        ("zone", "surest_club", "aim_deg", "in_zone_pct", "hazard_pct", "carry_mean_m", "total_mean_m"),
        ("tee", "player", "wind"),
    ),
    "tee_views": TableSpec(
        "Landing zones seen from the tee", ("zone", "zone_seen_pct", "visibility", "hidden_by"), ("tee",)
    ),
    "sightlines": TableSpec(
        "The flag seen from the tee",
        ("pin", "pin_distance_m", "flag_seen_pct", "foot_seen", "green_seen_pct", "hidden_by", "hidden_at_m"),
        ("tee",),
    ),
    "zone_views": TableSpec(
        "The flag seen from each zone",
        (
            "zone",
            "flag_seen_mean_pct",
            "flag_seen_least_pct",
            "foot_share_pct",
            "top_share_pct",
            "hidden_by",
        ),
        ("pin",),
    ),
    "pin_slopes": TableSpec(
        "Ground round each hole location",
        (
            "pin",
            "fair",
            "slope_pct",
            "pin_slope_limit_pct",
            "edge_distance_m",
            "critical_distance_m",
            "level_m",
        ),
        whole=True,
    ),
    "slopes": TableSpec(
        "Landing zones by slope",
        ("zone", "camber_pct", "fall_pct", "steepest_pct", "comfortable_pct", "too_flat_pct"),
    ),
    "where_to_play": TableSpec(
        "The shot at each zone, and its risk",
        (
            "zone",
            "from_zone",
            "rank",
            "level_with_first",
            "total_strokes",
            "lead_strokes",
            "behind_strokes",
            "club",
            "aim_deg",
            "carry_mean_m",
            "effective_carry_m",
            "shot_must_carry_m",
            "shot_hazards_carried",
            "shot_cleared_pct",
            "shot_run_along_m",
            "shot_run_across_m",
            "shot_runs_into",
            "in_zone_pct",
            "run_through_pct",
            "trouble_pct",
            "out_of_bounds_pct",
            "hazards",
            "decided_by",
        ),
        ("tee", "player", "wind", "pin", "reading", "zone_number", "order_changes"),
        order="rank",
        total="total_strokes",
        parts={
            "left": (
                "The next shot, from there",
                (
                    "zone",
                    "from_zone",
                    "remaining_strokes",
                    "next_from",
                    "pin_distance_m",
                    "rise_m",
                    "effective_distance_m",
                    "next_club",
                    "next_zone",
                    "must_carry_m",
                    "hazards_carried",
                    "mounds_crossed",
                    "flag_visibility",
                    "flag_seen_pct",
                    "hidden_by",
                ),
            ),
            "green": (
                "How the green takes that shot",
                (
                    "zone",
                    "from_zone",
                    "hold_pct",
                    "within_6_pct",
                    "leave_m",
                    "green_angle_deg",
                    "green_depth_m",
                    "green_width_m",
                    "window_from_m",
                    "window_to_m",
                    "hold_area_m2",
                    "feed_area_m2",
                    "feeds",
                    "run_along_m",
                    "run_across_m",
                    "landing_fall_pct",
                    "landing_camber_pct",
                    "backstop_m",
                ),
            ),
            "misses": (
                "Where it misses, and the strokes remaining from there",
                (
                    "zone",
                    "from_zone",
                    "held_strokes",
                    *(f"miss_{q}_{figure}" for q in QUARTERS for figure in ("pct", "strokes")),
                    "playable_misses",
                    "dead_misses",
                ),
            ),
        },
    ),
    "brief": TableSpec(
        "Intentions and what was measured",
        (
            "measure",
            "about",
            "requirement",
            "figure",
            "result",
            "why",
        ),
        verdict="result",
        whole=True,
        joined=("tee", "player", "wind", "zone", "pin", "feature"),
    ),
    "setback_conflicts": TableSpec(
        "Neighbours nearer than asked",
        ("rule", "feature", "other", "separation_m", "clear_distance_m", "reading", "guidance"),
    ),
}

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
    "shot_cleared_pct": "Clears them",
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
    "carried_pct": "Clears it",
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


def with_specs(tables: dict[str, Any]) -> dict[str, Any]:
    """Add to each table how it is shown; what names a column the layer does not have is left out."""
    for name, table in tables.items():
        spec = TABLES.get(name, TableSpec(name.replace("_", " ").capitalize()))
        have = {c["name"] for c in table["columns"]}
        for column in table["columns"]:
            word = HEADINGS.get(column["name"], column["title"])
            column["title"] = HEADINGS.get(f"{name}.{column['name']}", word)
        table["caption"] = spec.caption
        table["show"] = [c for c in spec.columns if c in have] or None
        table["parts"] = {
            part: {"caption": caption, "show": [c for c in columns if c in have]}
            for part, (caption, columns) in spec.parts.items()
        }
        table["whole"] = spec.whole
        table["aside"] = [c for c in spec.aside if c in have]
        for key in ("order", "verdict", "reading", "total"):
            column = getattr(spec, key)
            table[key] = column if column in have else None
    return tables
