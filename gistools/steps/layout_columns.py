"""What the result layers of this part hold: columns with units and meanings, declared once."""

from __future__ import annotations

from gistools.base.columns import FEATURE, FID, HOLE, LAYER, NOTE, PLAYER, TEE, ZONE, Column
from gistools.steps.catalogue import Writes

BEARING = Column("bearing_deg", "deg", "grid bearing from the tee, clockwise from north")
RISE = Column("rise_m", "m", "level there above the tee (negative: below)")

_FEATURE = (
    FEATURE,
    LAYER,
    FID,
)

LINES = Writes(
    "lines_of_play",
    "LineString",
    (
        HOLE,
        TEE,
        Column("tee_fid", "", "id of the tee in the layer tees"),
        Column("source", "", "drawn or derived"),
        Column("turns_count", "count", "number of turning points"),
        Column("length_m", "m", "plan length on the grid of the map; `lengths` gives the ground distance"),
        Column("bearing_deg", "deg", "grid bearing of the first leg"),
        Column("last_bearing_deg", "deg", "grid bearing of the last leg, into the green"),
        NOTE,
    ),
    "line of play from each tee to the centre of the green",
)

LENGTHS = Writes(
    "lengths",
    "LineString",
    (
        HOLE,
        TEE,
        Column("card_m", "m", "length for the card: ground distance to whole metres, a half rounded up"),
        Column("ground_m", "m", "horizontal distance on the ground along the line of play"),
        Column("grid_m", "m", "the same line on the grid of the map"),
        Column("surface_m", "m", "length along the terrain"),
        Column("scale_factor", "", "grid distance over ellipsoidal distance"),
        Column("combined_factor", "", "grid distance over ground distance (scale factor and height)"),
        Column("front_m", "m", "ground distance to the front edge of the green"),
        Column("back_m", "m", "ground distance to the back edge of the green"),
        Column("tee_level_m", "m", "level at the tee's centre"),
        Column("green_level_m", "m", "level at the green's centre"),
        Column("drop_m", "m", "tee level less green level (negative: uphill)"),
        Column("par_men", "", "par by length for men; two where the published bands overlap"),
        Column("par_women", "", "par by length for women; two where the published bands overlap"),
        NOTE,
    ),
    "length of each hole from each tee",
)

_CROSSING = (
    HOLE,
    TEE,
    *_FEATURE,
    Column("crossing", "", "which crossing of this hazard, counted from the tee"),
)
_CARRY = (
    Column("side", "", "side of the line of play the far edge is on: left, right or on line"),
    Column("reach_m", "m", "plan distance from the tee to the front edge"),
    Column("carry_m", "m", "plan distance from the tee to the far edge"),
    Column("layup_m", "m", "reach less the margin"),
    Column("layup_room_m", "m", "last stretch of fairway, free of hazards, short of the lay-up"),
    Column("again_m", "m", "distance at which the same hazard is met next"),
    RISE,
    BEARING,
    Column("offset_m", "m", "far edge right of the line of play (negative: left)"),
    Column("chainage_m", "m", "plan distance along the line of play"),
)

CARRIES = Writes(
    "carries",
    "LineString",
    (*_CROSSING, Column("line", "", "least, greatest or on line"), *_CARRY),
    "reach and carry of each hazard from each tee: least, greatest and on the line of play",
)
CARRY_FAN = Writes(
    "carry_fan",
    "LineString",
    (*_CROSSING, Column("ray", "", "number of the direction, from the left"), *_CARRY),
    "the same along every direction of the fan; drawn from front to far edge",
)

_WIDTHS = (
    Column("chainage_m", "m", "plan distance along the line of play"),
    Column("ground", "", "what is under the line of play"),
    Column("fairway_left_m", "m", "fairway left of the line of play"),
    Column("fairway_right_m", "m", "fairway right of the line of play"),
    Column("fairway_width_m", "m", "fairway square to play, hazards in it counted in"),
    Column("clear_width_m", "m", "the same less bunkers, burns and water"),
)
CORRIDORS = Writes(
    "corridors",
    "LineString",
    (
        HOLE,
        TEE,
        *_WIDTHS,
        Column("tree_left_m", "m", "clear of trees to the left"),
        Column("tree_right_m", "m", "clear of trees to the right"),
        Column("boundary_left_m", "m", "clear of the boundary to the left"),
        Column("boundary_right_m", "m", "clear of the boundary to the right"),
        Column("other_left_m", "m", "clear of other holes to the left"),
        Column("other_right_m", "m", "clear of other holes to the right"),
        Column("other_left", "", "what of another hole is nearest to the left"),
        Column("other_right", "", "what of another hole is nearest to the right"),
        Column("narrowest", "", "true at the narrowest place of the fairway"),
    ),
    "fairway width and clearances at stations along the line of play",
)
LANDING_WIDTHS = Writes(
    "landing_widths",
    "LineString",
    (
        HOLE,
        TEE,
        PLAYER,
        Column("shot", "", "first, second or third full shot"),
        *_WIDTHS,
    ),
    "fairway width where each model player's full shots finish",
)

DIAGONALS = Writes(
    "diagonals",
    "LineString",
    (
        HOLE,
        TEE,
        *_FEATURE,
        Column("chainage_m", "m", "plan distance along the line of play"),
        Column("axis_bearing_deg", "deg", "grid bearing of its long axis, 0 to 180; none for a round hazard"),
        Column("angle_deg", "deg", "angle between its axis and the line of play, 90 is square across"),
        Column("share_pct", "pct", "share of the fairway's width it takes up"),
        Column(
            "extra_carry_m_per_m", "m_per_m", "more carry for each metre towards the side it runs away to"
        ),
        Column("runs_away", "", "side to which the carry grows: left, right, or square"),
        Column("free_left_m", "m", "fairway left beside it"),
        Column("free_right_m", "m", "fairway right beside it"),
        Column("areas_count", "count", "number of areas it leaves of the fairway"),
    ),
    "hazards that cross the fairway or bite into it",
)

ZONES = Writes(
    "zones",
    "Polygon",
    (
        HOLE,
        ZONE,
        Column("fid", "", "id in the layer zones, if drawn"),
        Column("source", "", "drawn or derived"),
        Column("parted_by", "", "what parts it from the others"),
        Column("area_m2", "m2", "area"),
        Column("length_m", "m", "extent along the line of play"),
        Column("width_m", "m", "mean width"),
        Column("from_m", "m", "nearest chainage, from the longest tee"),
        Column("to_m", "m", "farthest chainage, from the longest tee"),
        Column("offset_m", "m", "centre right of the line of play (negative: left)"),
    ),
    "landing zones of the fairway",
)
ZONE_CARRIES = Writes(
    "zone_carries",
    "LineString",
    (
        HOLE,
        TEE,
        ZONE,
        Column(
            "enter_least_m", "m", "least distance from the tee at which a straight ball comes over the zone"
        ),
        Column("enter_greatest_m", "m", "greatest such distance, over directions across the zone"),
        Column("centre_m", "m", "distance to its centre"),
        Column("through_m", "m", "distance at which it ends, in the direction of its centre"),
        BEARING,
        RISE,
        Column("must_carry_m", "m", "far edge of the last hazard before its centre"),
        Column("over", "", "hazards on the way to its centre"),
    ),
    "what each landing zone asks from each tee",
)

_RULE = Column("rule", "", "what is kept clear of what")
_ASKED = Column("asked_m", "m", "clear distance asked for; in the cone at that distance from the tee")
_GUIDANCE = Column("guidance", "", "whose figure it is, or that it is an assumption")
_CAUTION = Column("caution", "", "guidance only")
SETBACKS = Writes(
    "setbacks",
    "Polygon",
    (HOLE, _RULE, _ASKED, Column("area_m2", "m2", "area"), _GUIDANCE, _CAUTION),
    "set-back areas round lines of play, landing zones, tees and greens",
)
CONFLICTS = Writes(
    "setback_conflicts",
    "LineString",
    (
        HOLE,
        _RULE,
        *_FEATURE,
        Column("other", "", "name of the neighbour"),
        Column("other_layer", "", "survey layer of the neighbour"),
        Column("other_fid", "", "id of the neighbour in that layer"),
        Column("other_hole", "", "hole the neighbour belongs to"),
        Column("chainage_m", "m", "plan distance along the line of play"),
        Column("distance_m", "m", "least distance; in the cone the offset from its axis"),
        _ASKED,
        Column("short_m", "m", "asked less least distance"),
        Column("reading", "", "the same in words"),
        _GUIDANCE,
        _CAUTION,
    ),
    "neighbours inside a set-back area, where they come nearest",
)
