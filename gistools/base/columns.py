"""The registry of result columns: each name has one type, one unit and one meaning, said here once.

A step lists the names its layers have (:func:`columns`); nothing else declares a column. One meaning has one
name: what is needed again is taken from here, not named anew. Names end in the suffix of their unit
(:mod:`gistools.base.units`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from gistools.base.units import UNITS, suffix_ok

#: unit -> decimals that a stored figure keeps
STORED_DECIMALS = {
    "m": 3, "m2": 2, "m3": 2, "ha": 4, "deg": 3, "pct": 2, "ms": 3, "s": 2, "rpm": 0, "ft": 2, "c": 1,
    "strokes": 4, "m_per_m": 4, "ppm": 2, "crs": 3,
}  # fmt: skip
TYPES = ("str", "int", "float", "bool")


@dataclass(frozen=True)
class Column:
    """A column of a result layer.

    Attributes
    ----------
    name
        Ends in the suffix of the unit.
    unit
        One of :data:`gistools.base.units.UNITS`; empty for words, numbers that count or name, and ratios.
    text
        The meaning, for people.
    dtype
        ``"str"``, ``"int"``, ``"float"`` or ``"bool"``.
    decimals
        Digits after the point that a stored figure keeps; None for all.
    """

    name: str
    unit: str
    text: str
    dtype: str = "str"
    decimals: int | None = None

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise ValueError(f"column {self.name}: unit {self.unit!r} is not on the list in units.py")
        if not suffix_ok(self.name, self.unit):
            raise ValueError(f"column {self.name}: the name should end in {UNITS[self.unit][0]}")
        if self.dtype not in TYPES:
            raise ValueError(f"column {self.name}: type {self.dtype!r} is none of {', '.join(TYPES)}")

    @property
    def title(self) -> str:
        """Column heading for people, with the unit in brackets."""
        suffix, shown = UNITS[self.unit]
        words = self.name.removesuffix(suffix).replace("_", " ").capitalize()
        return f"{words} [{shown}]" if shown else words


#: name, unit (or type where there is none), meaning
_REGISTRY = """
hole | int | number of the hole; empty for the site as a whole
tee | str | tee set; empty where the row is about no tee
player | str | player
wind | str | wind
zone | str | landing zone, named by where it lies; empty where the row is about no zone
pin | str | hole location; empty where the row is about none
feature | str | name of the feature
layer | str | survey layer of the feature
feature_id | int | id of the feature in its survey layer
note | str | what was assumed, or why there is no answer
reading | str | the row in words
source | str | drawn or derived

chainage_m | m | distance along the line of play, on the grid
offset_m | m | distance right of the line of play (negative: left), on the grid
bearing_deg | deg | grid bearing from the tee, clockwise from north
area_m2 | m2 | area
rise_m | m | level of the target above the ball (negative: below)
level_m | m | level of the ground there
combined_factor | float | grid distance over ground distance (scale factor and height)
front_m | m | ground distance to the front edge of the green
must_carry_m | m | plan distance to the far edge of the last hazard on the way to the target
hazards_carried | str | hazards on the way to the target
mounds_crossed | str | mounds on the straight line to the hole location, the nearest to the ball first

tee_feature_id | int | id of the tee in the layer tees
turns_count | count | number of turning points
length_m | m | plan length of the line, on the grid
first_bearing_deg | deg | grid bearing of the first leg
last_bearing_deg | deg | grid bearing of the last leg, into the green

card_m | m | length for the card: ground distance to whole metres, a half rounded up
ground_m | m | horizontal distance on the ground along the line of play
grid_m | m | length of the line of play on the grid of the map
surface_m | m | length along the terrain
scale_factor | float | grid distance over ellipsoidal distance
back_m | m | ground distance to the back edge of the green
tee_level_m | m | level at the tee's centre
green_level_m | m | level at the green's centre
drop_m | m | tee level less green level (negative: uphill)
par_men | str | par by length for men; two where the published bands overlap
par_women | str | par by length for women; two where the published bands overlap

crossing | int | which crossing of this hazard, counted from the tee
line | str | least, greatest or on line
ray | int | number of the direction, from the left
side | str | side of the line of play the far edge is on: left, right or on line
reach_m | m | plan distance from the tee to the front edge
carry_m | m | plan distance from the tee to the far edge
carry_band_m | m | half of the band (95 of 100) of the carry by the setting plan_error_m
layup_m | m | reach less the margin
layup_room_m | m | last stretch of fairway, free of hazards, short of the lay-up
next_reach_m | m | plan distance from the tee at which the same hazard is met next

line_surface | str | what the line of play crosses there: a hazard by name, green, tee, fairway or rough
fairway_left_m | m | fairway left of the line of play
fairway_right_m | m | fairway right of the line of play
fairway_width_m | m | width of the fairway square to play, hazards in it counted in
clear_width_m | m | width of the fairway square to play, less bunkers, burns and water
tree_left_m | m | clear of trees to the left
tree_right_m | m | clear of trees to the right
boundary_left_m | m | clear of the boundary to the left
boundary_right_m | m | clear of the boundary to the right
other_left_m | m | clear of other holes to the left
other_right_m | m | clear of other holes to the right
other_left | str | feature of another hole that is nearest to the left
other_right | str | feature of another hole that is nearest to the right
narrowest | bool | true at the narrowest place of the fairway
full_shot | int | which full shot of the player, counted from the tee

axis_bearing_deg | deg | grid bearing of the long axis, 0 to 180; empty where there is none
axis_angle_deg | deg | angle between the hazard's long axis and the line of play; 90 is square across
width_share_pct | pct | share of the fairway's width the hazard takes up
extra_carry_m_per_m | m_per_m | more carry for each metre towards the side the hazard runs away to
runs_away | str | side to which the carry grows: left, right, or square
free_left_m | m | fairway left beside the hazard
free_right_m | m | fairway right beside the hazard
areas_count | count | number of areas the hazard leaves of the fairway

parted_by | str | what parts the zone from the others
zone_length_m | m | extent of the zone along the line of play
zone_width_m | m | mean width of the zone
from_chainage_m | m | nearest chainage of the zone, from the longest tee
to_chainage_m | m | farthest chainage of the zone, from the longest tee
enter_least_m | m | least distance from the tee at which a straight ball comes over the zone
enter_greatest_m | m | greatest such distance, over directions across the zone
centre_m | m | distance from the tee to the centre of the zone
through_m | m | distance from the tee at which the zone ends, in the direction of its centre

rule | str | what is to be clear of what
clear_distance_m | m | clear distance of the rule; in the cone at that distance from the tee
guidance | str | whose figure it is, or that it is an assumption
caution | str | guidance only
other | str | name of the neighbour
other_layer | str | survey layer of the neighbour
other_feature_id | int | id of the neighbour in its survey layer
other_hole | int | hole the neighbour belongs to
separation_m | m | least distance to the neighbour; in the cone the offset from its axis
separation_band_m | m | half of the band (95 of 100) of the separation by the setting plan_error_m
shortfall_m | m | clear distance of the rule less the separation

slope_mean_pct | pct | mean of the steepest slope at each place of the area
steepest_pct | pct | steepest slope in the area, but for the steepest twentieth
slope_max_pct | pct | steepest slope in the area
camber_pct | pct | mean slope across the line of play, positive: drops to the right
camber_low_pct | pct | camber that a twentieth of the area is below (negative: drops to the left)
camber_high_pct | pct | camber that a twentieth of the area is above
fall_pct | pct | mean slope along the line of play, positive: drops away from the player
fall_low_pct | pct | fall that a twentieth of the area is below (negative: rises)
fall_high_pct | pct | fall that a twentieth of the area is above
too_flat_pct | pct | share of the area flatter than the drainage limit
comfortable_pct | pct | share of the area flatter than the comfort limit
falls_to_deg | deg | grid bearing the ground falls to
stimp_ft | ft | green speed the limits are for
pin_slope_limit_pct | pct | greatest slope for a hole location at this green speed
critical_slope_pct | pct | slope no hole is cut near
least_edge_m | m | least distance of a hole location from the edge of the green
fair_area_m2 | m2 | area of the green where a hole location is fair
fair_pct | pct | the fair area as a share of the green
tiers_count | count | number of tiers
slope_pct | pct | slope of the plane that fits the ground round the place best
slope_band_pct | pct | half of the band (95 of 100) of a slope at one place by the setting level_error_m
uneven_m | m | greatest departure of the ground from that plane
edge_distance_m | m | distance to the edge of the green (negative: outside)
critical_distance_m | m | distance to the nearest critical slope on the green
fair | bool | whether slope, edge distance and critical distance are all as required
green_part | str | tier, tier face, false front, run-off or bank
part_location | str | where on the green the part lies, as seen by the player
level_mean_m | m | mean level of the area

pin_distance_m | m | plan distance to the pin
viewpoint | str | tee, zone centre, or the ground a point of the mesh is on
flag_seen_pct | pct | share of the flagstick seen
flag_seen_band_pct | pct | half of the band (95 of 100) of the share seen by the setting level_error_m
foot_seen | bool | whether a ball at the foot of the flagstick would be seen
top_seen | bool | whether the top of the flagstick, the flag, is seen
green_seen_pct | pct | share of the green where a ball lying there would be seen
hidden_by | str | what hides most of what is not seen
hidden_by_layer | str | survey layer of what hides; shapes for a proposed mound
hidden_by_feature_id | int | id of what hides in its survey layer
hidden_at_m | m | plan distance from the eye to the place that hides
clearance_m | m | room under the line of sight over the highest thing there; negative: blocked
hidden_easting_crs | crs | easting of the place that hides, in the unit of the file's CRS
hidden_northing_crs | crs | northing of the place that hides, in the unit of the file's CRS
flag_seen_mean_pct | pct | share of the flagstick seen, mean over the zone
flag_seen_least_pct | pct | share of the flagstick seen at the worst place of the zone
foot_share_pct | pct | share of the zone from which the foot of the flagstick is seen
top_share_pct | pct | share of the zone from which the flag at the top is seen
zone_seen_pct | pct | share of the zone's ground seen from the tee
visibility | str | seen (80 % of the ground or more), part seen, or blind (under 20 %)

criterion | str | show or hide: the foot, half, the top or all of the flagstick
crest_existing_m | m | level of the crest today
crest_level_m | m | level of the crest that just meets the criterion
crest_change_m | m | height to raise the crest by (negative: to lower it by)
lines_count | count | lines of sight from the zone that cross the crest
crossing_pct | pct | share of the zone's lines that cross the crest
met_pct | pct | share of those for which the criterion holds when run again on the changed ground

section | str | name of the section
section_kind | str | line of play or approach
start_level_m | m | level at the start
end_level_m | m | level at the end
climb_m | m | end level less start level
least_clearance_m | m | least room under the line of sight; negative: blocked there
least_clearance_at_m | m | plan distance from the start to the place of least clearance
station_m | m | plan distance from the start of the section
gradient_pct | pct | rise along the line, positive: uphill
obstacle_top_m | m | level of the top of a tree or structure there
sight_level_m | m | level of the line from the eye to the point aimed at

effective_carry_m | m | flat, calm, sea-level distance that requires the same carry
effective_centre_m | m | flat, calm, sea-level carry that requires the same shot to the centre of the zone
effective_must_carry_m | m | flat, calm, sea-level distance that requires the same carry of the last hazard
effective_distance_m | m | flat, calm, sea-level distance that requires the same shot
longest_carry_m | m | carry of the longest club along this bearing, in this wind, to that level
carry_margin_m | m | longest carry less what has to be carried; negative falls short
can_carry | str | yes if a good strike with the longest club carries it, no, or nothing to carry
carried_pct | pct | share of shots with the longest club that carry it, each where it flies, mishits included
shortest_club | str | shortest club whose good strike carries it from the tee

club | str | club, and whether full, three-quarter or part
aim_deg | deg | grid bearing of the aim
in_zone_pct | pct | shots that finish in the zone
fairway_pct | pct | shots that finish on fairway, any
hazard_pct | pct | shots that finish in sand or water
sand_pct | pct | shots that finish in sand
water_pct | pct | shots that finish in water
trees_pct | pct | shots that are stopped by trees or structures, or finish among trees
trouble_pct | pct | shots that finish in sand, water or trees
out_of_bounds_pct | pct | shots that finish out of bounds or off the map
run_through_pct | pct | shots that land in the zone and run out of it
run_through_m | m | how far beyond the edge of the zone those finish, on average
carry_mean_m | m | mean plan distance to the landing
run_out_mean_m | m | mean distance from landing to rest
total_mean_m | m | mean plan distance from the tee to rest
apex_mean_m | m | mean highest point above the tee
descent_mean_deg | deg | mean angle at landing
cover_class | str | ground cover there
chance_pct | pct | chance of finishing in the feature
event | str | landing or finish
enclosed_pct | pct | share of the shots inside the ellipse
ellipse_length_m | m | length of the ellipse
ellipse_width_m | m | width of the ellipse
in_zone | bool | true where the ball finishes in the zone
total_m | m | plan distance from the tee to rest
path | str | middle, left or right: the aimed shot and those one standard deviation off line
shot_carry_m | m | plan distance from the tee to the landing
apex_m | m | highest point above the tee
descent_deg | deg | angle at landing
run_out_m | m | distance from landing to rest
air_s | s | time in the air

lie | str | lie of the ball there
remaining_strokes | strokes | strokes remaining: mean number of strokes to hole out from there
second_club | str | next best club
second_cost_strokes | strokes | strokes that the next best club costs more
rank | int | rank by total, 1 is best
zone_number | int | numeral of the zone on plan and matrix, in the order of the zones
level_with_first | bool | true where the total is within the band of the least one, and another zone's is too
decided_by | str | what puts a zone before those it is level with (setting level_order)
lead_strokes | strokes | of the first zone: least expected score of the others less its own
behind_strokes | strokes | expected score less that of the best zone
next_club | str | club of the next shot, and whether full, three-quarter or part
flag_visibility | str | visible, semi-blind or blind: all (90 % and more), part or none of the flagstick seen
remaining_rank | int | rank by the strokes remaining, 1 is best
total_strokes | strokes | mean strokes with the best shot aimed at the zone; from a tee the score
shot_number | int | number of the shot that is chosen, counted from the tee
from_zone | str | landing zone the shot is played from, at the middle of the finishes in it; empty for the tee
next_zone | str | zone, or green, that is first choice for the shot after; empty for an approach
next_from | str | where the shot after is played from: middle of finishes, or zone centre
gain_strokes | strokes | gain over the best other zone (negative: what it costs)
hazards | str | hazards that shots finish in, with the share of the shots
order_changes | bool | true where the pin ranks the zones in another order than most pins do
demand | str | what is asked: to carry a hazard that crosses, reach a landing zone or hold the green
share_pct | pct | share of the player's shots that do what is asked
par | int | par of the hole, by length
mean_strokes | strokes | mean of the chances of each score
birdie_or_better_pct | pct | chance of a score under par
score_par_pct | pct | chance of a par
bogey_pct | pct | chance of one over par
double_or_worse_pct | pct | chance of two over par or more
best_strokes | strokes | expected score of the hole from the tee, easiest pin, whatever the zone
real_choices_count | count | zones within 0.10 strokes of the best, at the pin with most
zones_in_reach_count | count | zones that a tee shot can be aimed at
pin_spread_strokes | strokes | expected score at the hardest pin less that at the easiest
high_risk_zone | str | zone that leaves the least but is not first choice
risk_cost_strokes | strokes | what aiming at the high-risk zone costs in all
risk_gain_strokes | strokes | what it gains from where the shot finishes in that zone
order_depends_on_pin | bool | true if the order of the zones depends on the pin
start | str | zone centre, tee, finish of tee shots or their mean, or name of the drawn point
plays_count | count | tee shots that the start stands for, of the 256 worked out
finish_share_pct | pct | tee shots that the start stands for, of those that come to rest in the zone
green_angle_deg | deg | angle between the line in and the long axis of the green, 0 to 90
green_depth_m | m | length of the green along the line to the pin
green_width_m | m | mean width of the green across the line to the pin
window_from_m | m | shortest carry on the line that stays on the green
window_to_m | m | longest carry on the line that stays on the green
hold_area_m2 | m2 | ground on which the shot can land and stay on the green
feed_area_m2 | m2 | ground on which the shot can land and come to rest within 6 m of the pin
shot_must_carry_m | m | plan distance over the last water or sand on the line of the shot
shot_hazards_carried | str | water and sand on the line of the shot before it lands
shot_carried_pct | pct | shots that land beyond those hazards, each in its own direction
shot_run_along_m | m | mean run-out after landing, along the line of the shot
shot_run_across_m | m | mean run-out after landing, to the right of that line
shot_runs_into | str | hazard that most balls run into after landing outside it, with their share
landing_result | str | what comes of a landing there: holds the green, or feeds to the pin
run_along_m | m | mean run after landing on the green, along the line (negative: back)
run_across_m | m | mean run after landing on the green, to the right of the line
landing_camber_pct | pct | fall to the right across the line where the ball should land
landing_fall_pct | pct | fall along the line where the ball should land (negative: rises)
feeds | str | where the ground feeds the ball: towards the pin, away from it, or neither
backstop_m | m | rise of the ground behind the pin within the set distance
dispersion_increase_pct | pct | how much a flag not seen and the slope under the feet widen the aim
hold_pct | pct | shots that finish on the green
within_3_pct | pct | shots that finish within 3 m of the pin
within_6_pct | pct | shots that finish within 6 m of the pin
within_10_pct | pct | shots that finish within 10 m of the pin
leave_m | m | mean distance left, shots lost to water or boundary apart
held_strokes | strokes | strokes remaining, mean, of the shots that finish on the green
miss_short_pct | pct | shots that miss the green short of the hole location
miss_short_strokes | strokes | mean strokes remaining after a miss short of the hole location, with penalties
miss_long_pct | pct | shots that miss the green beyond the hole location
miss_long_strokes | strokes | mean strokes remaining after a miss beyond the hole location, with penalties
miss_left_pct | pct | shots that miss the green left of the hole location
miss_left_strokes | strokes | mean strokes remaining after a miss left of the hole location, with penalties
miss_right_pct | pct | shots that miss the green right of the hole location
miss_right_strokes | strokes | mean strokes remaining after a miss right of the hole location, with penalties
playable_misses | str | quarters (short, long, left, right) in which a miss costs least
dead_misses | str | quarters in which a miss costs far more, or a stroke and more
miss_quarter | str | quarter about the pin, seen along the line: short, long, left or right
miss_pct | pct | shots that miss the green in that quarter
miss_strokes | strokes | mean strokes remaining after a miss in that quarter, with penalties
miss_verdict | str | playable, dead, or empty where it is neither or too few to judge
surest_club | str | full club that finishes in the zone most often

measure | str | step.column or layer.column
requirement | str | what is required, in words
figure | str | the figure farthest from the requirement
margin | float | how far inside the requirement (negative: outside)
result | str | holds, fails or no answer
must | bool | whether a failing row fails the study
rows_count | count | result rows that were looked at
why | str | the intention in words

shape_kind | str | kind of shape, or total
changed_area_m2 | m2 | ground whose height changes by more than 5 mm
cut_m3 | m3 | soil to dig, in place
fill_m3 | m3 | soil to place, compacted
cut_area_m2 | m2 | area of cut
fill_area_m2 | m2 | area of fill
net_m3 | m3 | fill less cut; positive takes more soil than it gives
topsoil_m3 | m3 | topsoil to strip, in place
topsoil_spare_m3 | m3 | topsoil stripped and not put back, in place
cut_loose_m3 | m3 | the cut as it is carried: cut (1 + swell)
fill_bank_m3 | m3 | soil in place that the fill takes, shrinkage included
surplus_m3 | m3 | cut less what the fill takes; positive leaves the site, negative is brought
surplus_loose_m3 | m3 | the surplus as it is carried
grid_error_m3 | m3 | least error of the net volume from the cell size
survey_error_m3 | m3 | error of the net volume from the surveyed levels, 95 %
requested_rise_m | m | rise that the shape requests (depth negative)
reached_rise_m | m | rise reached within the side slope (depth negative)
existing_slope_max_pct | pct | steepest existing ground where it is shaped
proposed_slope_max_pct | pct | steepest finished ground where it is shaped
shape_slope_limit_pct | pct | slope that the shape should not pass
steep_area_m2 | m2 | finished ground steeper than the limit
nodata_area_m2 | m2 | part of the shape without terrain, left out

terrain | str | existing or proposed
depth_m | m | greatest depth of standing water
volume_m3 | m3 | water that stands when the hollow is full
spill_level_m | m | level at which a hollow spills
catchment_m2 | m2 | ground that drains to the lower end of the path
path_fall_pct | pct | mean fall of the path, downstream
path_end | str | where the path ends: a burn or pond, another path, or the edge of the ground looked at
crosses | str | greens, tees, bunkers and fairways on the way
least_fall_pct | pct | least fall that drains such ground
shed_front_pct | pct | share of the area that drains to its front, the side play comes from
shed_left_pct | pct | share that drains to the left
shed_back_pct | pct | share that drains to the back
shed_right_pct | pct | share that drains to the right
ways_count | count | sides by which a tenth of the area or more drains
drainage_status | str | flagged, drains or noted

material | str | material or work
layer_depth_m | m | depth of the layer as laid, an assumption
material_volume_m3 | m3 | area times depth, in place
drain_spacing_m | m | distance between parallel drains, an assumption
drain_length_m | m | area over spacing; mains, outlets and trenches beyond the feature come on top
basis | str | where the depth or spacing comes from

haul_volume_m3 | m3 | cut carried to fill within the site, in place
haul_mean_m | m | mean straight distance of what is carried, least moment
haul_m | m | straight distance

contour_level_m | m | level of the contour
index_contour | bool | true for every fifth contour, or as chosen

point | str | name or number of the point
number | int | number of the point: hole, code, feature, count
code | str | kind of point, a code of the table in the documentation
meaning | str | the code in words
polyline_id | str | points of one polyline are joined in the order of point_no
point_no | int | count of the point within its feature and code
closed | bool | true if the last point of the polyline joins the first
alignment_relation | str | on: square to a leg; vertex: outside a bend; before, after: beyond an end
existing_level_m | m | existing level
proposed_level_m | m | proposed level
cut_fill_m | m | proposed less existing level: fill positive, cut negative
ground_east_m | m | ground distance east of the start of the line of play
ground_north_m | m | ground distance north of the start of the line of play
published_level_m | m | published level of the control point
delta_easting_m | m | easting as measured less as given: published, or staked
delta_northing_m | m | northing as measured less as given: published, or staked
delta_height_m | m | level as checked less published
delta_plan_m | m | distance in plan between measured and given place
control_status | str | within, outside or not checked

measured_level_m | m | measured level
design_level_m | m | level of the proposed ground there
difference_m | m | measured less design level: positive is too high
tolerance_m | m | difference allowed
level_status | str | within, high, low or no design level
stake | str | setting-out point that the measured point names; empty where it names none
plan_tolerance_m | m | distance in plan allowed between a point and its stake
plan_status | str | within, outside or no stake
points_count | count | points measured
outside_count | count | points outside the tolerance
unknown_count | count | points without a design level
staked_count | count | points that name a stake and are compared with its place
plan_outside_count | count | points farther from their stake than allowed
mean_easting_m | m | mean of easting as measured less as staked
mean_northing_m | m | mean of northing as measured less as staked
worst_plan_m | m | greatest distance in plan of a point from its stake
mean_difference_m | m | mean difference
rms_difference_m | m | root mean square of the differences
worst_difference_m | m | greatest difference, with its sign
feature_status | str | within, outside (in level or in plan) or no design level
"""


def _column(name: str, kind: str, text: str) -> Column:
    if kind in TYPES:
        return Column(name, "", text, kind, 9 if kind == "float" else None)
    if kind == "count":
        return Column(name, kind, text, "int")
    return Column(name, kind, text, "float", STORED_DECIMALS[kind])


def _read(lines: str) -> dict[str, Column]:
    registry: dict[str, Column] = {}
    for line in filter(None, lines.splitlines()):
        column = _column(*line.split(" | ", 2))
        if column.name in registry:
            raise ValueError(f"column {column.name} is declared twice")
        registry[column.name] = column
    return registry


REGISTRY: dict[str, Column] = _read(_REGISTRY)


def columns(names: str) -> tuple[Column, ...]:
    """Return the registered columns of these names (words of a text), in order."""
    return tuple(REGISTRY[name] for name in names.split())


def decimals_of(listed: Iterable[Column]) -> dict[str, int]:
    """Return the decimals that stored figures keep, by column name, where they are limited."""
    return {c.name: c.decimals for c in listed if c.decimals is not None}
