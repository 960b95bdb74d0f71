"""What the result layers of this part hold: columns with units and meanings, declared once."""

from __future__ import annotations

from gistools.base.columns import FEATURE, FID, HOLE, LAYER, NOTE, PLAYER, TEE, WIND, ZONE, Column
from gistools.steps.catalogue import Writes

_WHO = (
    HOLE,
    TEE,
    PLAYER,
    WIND,
)
_FEATURE = (
    FEATURE,
    LAYER,
    FID,
)
_CLUB = Column("club", "", "club")
_BEARING = Column("bearing_deg", "deg", "grid bearing from the tee, clockwise from north")
_CLEARS = (
    Column(
        "longest_carry_m", "m", "carry of the longest club along this bearing, in this wind, to that level"
    ),
    Column("margin_m", "m", "that carry less what has to be carried; negative falls short"),
    Column("can_clear", "", "yes if a good strike with the longest club carries it"),
    Column(
        "clears_pct",
        "pct",
        "share of shots with the longest club that carry it, each where it flies, mishits included",
    ),
)

PLAYED_CARRIES = Writes(
    "played_carries",
    "LineString",
    (
        *_WHO,
        *_FEATURE,
        Column("crossing", "", "which crossing of this hazard, counted from the tee"),
        Column("line", "", "least, greatest or on line"),
        Column("carry_m", "m", "plan distance from the tee to the far edge"),
        Column("rise_m", "m", "level there above the tee (negative: below)"),
        _BEARING,
        Column("played_carry_m", "m", "flat, calm, sea-level distance that asks for the same carry"),
        *_CLEARS,
        Column("club", "", "shortest club whose good strike carries it from the tee"),
        NOTE,
    ),
    "each carry as it plays: for each player and wind, can it be carried, by how much, how often",
)

PLAYED_ZONES = Writes(
    "played_zones",
    "LineString",
    (
        *_WHO,
        ZONE,
        Column("centre_m", "m", "distance to its centre"),
        Column(
            "played_centre_m", "m", "flat, calm, sea-level carry that asks for the same shot to its centre"
        ),
        Column("must_carry_m", "m", "far edge of the last hazard before its centre"),
        Column("played_must_carry_m", "m", "the same as it plays"),
        *_CLEARS,
        Column("over", "", "hazards on the way to its centre"),
        _BEARING,
        NOTE,
    ),
    "what each landing zone asks from each tee as it plays",
)

TEE_SHOTS = Writes(
    "tee_shots",
    "LineString",
    (
        *_WHO,
        ZONE,
        _CLUB,
        Column("aim_deg", "deg", "grid bearing aimed along"),
        Column("in_zone_pct", "pct", "chance of finishing in the zone"),
        Column("fairway_pct", "pct", "chance of finishing on fairway, any"),
        Column("hazard_pct", "pct", "chance of finishing in sand or water"),
        Column("lost_pct", "pct", "chance of finishing out of bounds or beyond the map"),
        Column("trees_pct", "pct", "chance of being stopped by trees or structures, or lying among trees"),
        Column("run_through_pct", "pct", "chance of landing in the zone and running out of it"),
        Column("run_out_m", "m", "how far beyond the zone's edge those finish, on average"),
        Column("carry_mean_m", "m", "mean plan distance to the landing"),
        Column("run_mean_m", "m", "mean distance from landing to rest"),
        Column("total_mean_m", "m", "mean plan distance from the tee to rest"),
        Column("apex_m", "m", "mean highest point above the tee"),
        Column("descent_deg", "deg", "mean angle at landing"),
        NOTE,
    ),
    "the best club and aim from each tee into each landing zone; drawn from tee to mean finish",
)

TEE_SHOT_RISKS = Writes(
    "tee_shot_risks",
    "",
    (
        *_WHO,
        ZONE,
        FEATURE,
        Column("ground", "", "what kind of ground it is"),
        Column("chance_pct", "pct", "chance of finishing in it"),
    ),
    "chance of finishing in each hazard, by name, with the tee shot chosen for a zone",
)

SHOT_ELLIPSES = Writes(
    "shot_ellipses",
    "Polygon",
    (
        *_WHO,
        ZONE,
        _CLUB,
        Column("what", "", "landing or finish"),
        Column("share_pct", "pct", "share of the shots it holds"),
        Column("long_m", "m", "its length"),
        Column("wide_m", "m", "its width"),
        Column("axis_bearing_deg", "deg", "grid bearing of its long axis, 0 to 180; none for a round hazard"),
    ),
    "ellipses round where tee shots land and finish",
)

FINISH_POINTS = Writes(
    "finish_points",
    "Point",
    (
        *_WHO,
        ZONE,
        _CLUB,
        Column("ground", "", "what kind of ground it is"),
        FEATURE,
        Column("in_zone", "", "true where the ball finishes in the zone"),
        Column("total_m", "m", "plan distance from the tee"),
    ),
    "where some of the tee shots finish: the first points of the even sample",
)

SHOT_PATHS = Writes(
    "shot_paths",
    "LineString",
    (
        *_WHO,
        ZONE,
        _CLUB,
        Column("shot", "", "middle, left or right: the aimed shot and those one standard deviation off line"),
        Column("carry_m", "m", "plan distance from the tee to the landing"),
        Column("apex_m", "m", "highest point above the tee"),
        Column("descent_deg", "deg", "angle at landing"),
        Column("run_m", "m", "distance from landing to rest"),
        Column("air_s", "s", "time in the air"),
    ),
    "flights as lines with levels, from tee to landing, then to rest",
)
