"""What the result layers of strategy hold: columns with units and meanings, declared once."""

from __future__ import annotations

from gistools.base.columns import FEATURE, HOLE, PIN, PLAYER, TEE, WIND, ZONE, Column
from gistools.steps.catalogue import Writes

CLUB = Column("club", "", "club, and whether full, three-quarter or part")
BEARING = Column("bearing_deg", "deg", "grid bearing of the aim")
READING = Column("reading", "", "the same in words")
ORDER = Column("order_changes", "", "true where the pin ranks the zones in another order than most pins do")

STROKES = Writes("strokes", "raster", (), "expected strokes to hole out, by player, wind and pin")
BEST_SHOTS = Writes(
    "best_shots",
    "Point",
    (
        HOLE,
        PLAYER,
        WIND,
        PIN,
        Column("lie", "", "lie of the ball there"),
        Column("left_m", "m", "plan distance to the pin"),
        Column("expected_strokes", "strokes", "mean number of strokes to hole out"),
        CLUB,
        BEARING,
        Column("second_club", "", "next best club"),
        Column("second_costs_strokes", "strokes", "what the next best club costs more"),
    ),
    "best club and aim on a coarse mesh",
)

POSITIONS = Writes(
    "positions",
    "Point",
    (
        HOLE,
        TEE,
        PLAYER,
        WIND,
        PIN,
        ZONE,
        Column("rank", "", "rank by total, 1 is best"),
        Column("reward_rank", "", "rank by what the zone leaves, 1 is best"),
        Column(
            "total_strokes", "strokes", "mean strokes for the hole with the best tee shot aimed at the zone"
        ),
        Column(
            "reward_strokes",
            "strokes",
            "mean strokes left from where shots level with the best finish in the zone",
        ),
        Column("gain_strokes", "strokes", "gain over the best other zone (negative: what it costs)"),
        CLUB,
        BEARING,
        Column("in_zone_pct", "pct", "tee shots that finish in the zone"),
        Column("through_pct", "pct", "tee shots that land in the zone and run out of it"),
        Column("hazard_pct", "pct", "tee shots that finish in sand, water or trees"),
        Column("sand_pct", "pct", "tee shots that finish in sand"),
        Column("water_pct", "pct", "tee shots that finish in water"),
        Column("out_pct", "pct", "tee shots that finish out of bounds or off the map"),
        Column("dangers", "", "hazards found, with the share of tee shots"),
        ORDER,
        READING,
    ),
    "landing zones ranked for each pin; the point is the middle of the finishes",
)
CHOICES = Writes(
    "choices",
    "",
    (
        HOLE,
        TEE,
        PLAYER,
        WIND,
        Column(
            "best_strokes",
            "strokes",
            "mean strokes for the hole from the tee, easiest pin, whatever the zone",
        ),
        Column("real_choices_count", "count", "zones within 0.10 strokes of the best, at the pin with most"),
        Column("zones_in_reach_count", "count", "zones that a tee shot can be aimed at"),
        Column("pin_spread_strokes", "strokes", "hardest pin less easiest"),
        Column("heroic_zone", "", "zone that leaves the least but is not first choice"),
        Column("heroic_price_strokes", "strokes", "what the bold line to it costs in all"),
        Column("heroic_buys_strokes", "strokes", "what it buys from where it finishes"),
        Column("order_changes", "", "true if the order of the zones depends on the pin"),
        READING,
    ),
    "what each tee asks: real choices, spread between pins, price of the bold line",
)

APPROACHES = Writes(
    "approaches",
    "LineString",
    (
        HOLE,
        TEE,
        PLAYER,
        WIND,
        PIN,
        ZONE,
        Column(
            "place", "", "zone centre, tee, finish of tee shots or their mean, or name of the drawn point"
        ),
        Column("plays_count", "count", "tee shots a finish stands for, of the 256 worked out"),
        Column("share_pct", "pct", "the same, of those that come to rest in the zone"),
        Column("lie", "", "lie played from"),
        Column("plan_m", "m", "plan distance to the pin"),
        Column("rise_m", "m", "level of the pin above the ball (negative: below)"),
        Column("played_m", "m", "flat calm distance that asks for the same shot"),
        CLUB,
        BEARING,
        Column("angle_deg", "deg", "angle between the line in and the long axis of the green, 0 to 90"),
        Column("depth_m", "m", "green along the line to the pin"),
        Column("width_m", "m", "mean width"),
        Column("front_m", "m", "ground distance to the front edge of the green"),
        Column("must_carry_m", "m", "far edge of the last hazard before its centre"),
        Column("over", "", "hazards on the way to its centre"),
        Column("window_from_m", "m", "shortest carry on the line that stays on the green"),
        Column("window_to_m", "m", "longest carry on the line that stays on the green"),
        Column("run_along_m", "m", "mean run after landing on the green, along the line (negative: back)"),
        Column("run_across_m", "m", "mean run after landing on the green, to the right of the line"),
        Column("camber_pct", "pct", "fall to the right across the line where the ball should land"),
        Column("fall_pct", "pct", "fall along the line where the ball should land (negative: rises)"),
        Column("feeds", "", "towards the pin, away from it, or neither"),
        Column("backstop_m", "m", "rise of the ground behind the pin within the set distance"),
        Column("flag_seen_pct", "pct", "share of the flag and stick seen"),
        Column("hidden_by", "", "what hides it"),
        Column("wider_pct", "pct", "how much blindness widens the aim, as chosen"),
        Column("hold_pct", "pct", "shots that finish on the green"),
        Column("within_3_pct", "pct", "shots that finish within 3 m of the pin"),
        Column("within_6_pct", "pct", "shots that finish within 6 m of the pin"),
        Column("within_10_pct", "pct", "shots that finish within 10 m of the pin"),
        Column("leave_m", "m", "mean distance left, shots lost to water or boundary apart"),
        Column("expected_strokes", "strokes", "mean number of strokes to hole out"),
        READING,
    ),
    "what each position leaves at each hole location; drawn from the position to the pin",
)

BRIEF = Writes(
    "brief",
    "",
    (
        HOLE,
        Column("measure", "", "step.column or layer.column"),
        TEE,
        PLAYER,
        WIND,
        ZONE,
        PIN,
        FEATURE,
        Column("asked", "", "what is asked, in words"),
        Column("figure", "", "the figure farthest from what is asked"),
        Column("margin", "", "how far inside what is asked (negative: outside)"),
        Column("result", "", "holds, fails or no answer"),
        Column("must", "", "whether a failing row fails the study"),
        Column("rows_count", "count", "result rows that were looked at"),
        Column("why", "", "the intention in words"),
    ),
    "the designer's intentions, checked",
)
