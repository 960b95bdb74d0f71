"""What the result layers of the ground steps hold: columns with units and meanings, declared once."""

from __future__ import annotations

from gistools.base.columns import FEATURE, FID, HOLE, LAYER, NOTE, PIN, Column
from gistools.steps.catalogue import Writes

TEE = Column("tee", "", "tee set; empty where it is no tee")
ZONE = Column("zone", "", "landing zone; empty where it is no zone")

ZONE_SLOPES = Writes(
    "slopes",
    "Polygon",
    (
        HOLE,
        ZONE,
        Column("area_m2", "m2", "area"),
        Column("slope_pct", "pct", "mean of the steepest slope at each place"),
        Column("steepest_pct", "pct", "steepest slope in it, but for the steepest twentieth"),
        Column("camber_pct", "pct", "mean slope across the line of play, positive: drops to the right"),
        Column(
            "camber_low_pct", "pct", "camber that a twentieth of it is below (negative: drops to the left)"
        ),
        Column("camber_high_pct", "pct", "camber that a twentieth of it is above"),
        Column("fall_pct", "pct", "mean slope along the line of play, positive: drops away from the player"),
        Column("fall_low_pct", "pct", "fall that a twentieth of it is below (negative: rises)"),
        Column("fall_high_pct", "pct", "fall that a twentieth of it is above"),
        Column("too_flat_pct", "pct", "share flatter than the drainage limit"),
        Column("comfortable_pct", "pct", "share flatter than the comfort limit"),
        Column("falls_to_deg", "deg", "bearing the zone falls to as a whole"),
        NOTE,
    ),
    "camber and fall of the landing zones along and across the line of play",
)
GREEN_SLOPES = Writes(
    "green_slopes",
    "Polygon",
    (
        HOLE,
        FID,
        Column("area_m2", "m2", "area of the green"),
        Column("stimp_ft", "ft", "green speed the limits are for"),
        Column("limit_pct", "pct", "greatest slope for a hole location"),
        Column("critical_pct", "pct", "slope no hole is cut near"),
        Column("edge_m", "m", "least distance of a hole from the edge"),
        Column("fair_m2", "m2", "area where a hole location is fair"),
        Column("fair_pct", "pct", "the same as a share of the green"),
        Column("slope_pct", "pct", "mean slope of the green"),
        Column("steepest_pct", "pct", "steepest slope on it, but for the steepest twentieth"),
        Column("fall_pct", "pct", "mean slope along the line in, negative: rises to the back"),
        Column("camber_pct", "pct", "mean slope across the line in, positive: drops to the right"),
        Column("tiers_count", "count", "number of tiers"),
        NOTE,
    ),
    "slopes of each green and the room it has for fair hole locations",
)
FAIR = Writes(
    "fair_areas",
    "MultiPolygon",
    (HOLE, FID, Column("area_m2", "m2", "area")),
    "where a hole location is fair: slope, edge and critical ground kept clear of",
)
PIN_SLOPES = Writes(
    "pin_slopes",
    "Point",
    (
        HOLE,
        PIN,
        FID,
        Column("level_m", "m", "level at the hole location"),
        Column("slope_pct", "pct", "slope of the best plane within the radius round it"),
        Column("falls_to_deg", "deg", "bearing it falls to"),
        Column("uneven_m", "m", "greatest departure of the ground from that plane"),
        Column("limit_pct", "pct", "greatest slope for a hole location at this green speed"),
        Column("edge_m", "m", "distance to the edge of the green (negative: outside)"),
        Column("critical_m", "m", "distance to the nearest critical slope on the green"),
        Column("fair", "", "whether slope, edge distance and critical distance are all kept"),
        NOTE,
    ),
    "slope round each hole location, pass or fail with the figure",
)
GREEN_PARTS = Writes(
    "green_parts",
    "MultiPolygon",
    (
        HOLE,
        FEATURE,
        Column("kind", "", "tier, tier face, false front, run-off or bank"),
        Column("place", "", "where on the green, as seen by the player"),
        Column("area_m2", "m2", "area"),
        Column("slope_pct", "pct", "mean slope"),
        Column("steepest_pct", "pct", "steepest slope in it"),
        Column("level_m", "m", "mean level"),
        Column("falls_to_deg", "deg", "bearing it falls to"),
    ),
    "parts of the greens and their surrounds by slope",
)
GREEN_MAP = Writes("green_slope_map", "raster", text="slope of the green and its surround")

_VIEW = (
    PIN,
    Column("distance_m", "m", "plan distance to the hole"),
    Column("flag_seen_pct", "pct", "share of the flagstick seen"),
    Column("foot_seen", "", "whether a ball at the foot of the stick would be seen"),
    Column("top_seen", "", "whether the top of the stick, the flag, is seen"),
    Column("green_seen_pct", "pct", "share of the green's surface seen: where a ball lying there would be"),
    Column("hidden_by", "", "what hides most of the stick"),
    Column("layer", "", "survey layer of what hides"),
    Column("fid", "", "its id in that layer"),
    Column("hidden_at_m", "m", "plan distance from the eye to the place that hides"),
    Column(
        "clearance_m",
        "m",
        "room under the line to the point aimed at, over what stands highest before it; negative: blocked",
    ),
    Column("hidden_easting_crs", "crs", "easting of the place that hides, in the unit of the file's CRS"),
    Column("hidden_northing_crs", "crs", "northing of the place that hides, in the unit of the file's CRS"),
    NOTE,
)
FLAG_VIEWS = Writes(
    "flag_views",
    "Point",
    (
        HOLE,
        TEE,
        ZONE,
        Column("place", "", "tee, zone centre, or the ground a point of the mesh is on"),
        *_VIEW,
    ),
    "what is seen of each flag from tees, zone centres and a mesh over the hole, and what hides it",
)
SIGHTLINES = Writes(
    "sightlines",
    "LineString",
    (HOLE, TEE, ZONE, *_VIEW),
    "lines of sight from tees and zone centres to each flag",
)
ZONE_VIEWS = Writes(
    "zone_views",
    "Polygon",
    (
        HOLE,
        ZONE,
        PIN,
        Column("seen_mean_pct", "pct", "share of the flagstick seen, mean over the zone"),
        Column("seen_least_pct", "pct", "the same at its worst place"),
        Column("foot_share_pct", "pct", "share of the zone that sees the foot"),
        Column("top_share_pct", "pct", "share of the zone that sees the flag at the top"),
        Column("hidden_by", "", "what hides the stick from most of the zone"),
        Column("layer", "", "survey layer of what hides"),
        Column("fid", "", "its id in that layer"),
        NOTE,
    ),
    "what is seen of each flag from each landing zone as a whole",
)
TEE_VIEWS = Writes(
    "tee_views",
    "",
    (
        HOLE,
        TEE,
        ZONE,
        Column("seen_pct", "pct", "share of the zone's ground seen from the tee"),
        Column("view", "", "seen (80 % or more), part seen, or blind (under 20 %)"),
        Column("hidden_by", "", "what hides most of the rest"),
        Column("layer", "", "survey layer of what hides"),
        Column("fid", "", "its id in that layer"),
        NOTE,
    ),
    "how much of each landing zone is seen from each tee",
)
VIEW_MAP = Writes("flag_view", "raster", text="share of the flagstick seen")

SCREENING = Writes(
    "screening",
    "Point",
    (
        HOLE,
        FEATURE,
        LAYER,
        FID,
        ZONE,
        PIN,
        Column("want", "", "what is wanted: show or hide the foot, half, the top or all of the stick"),
        Column("crest_now_m", "m", "level of the crest today"),
        Column("crest_level_m", "m", "level of the crest that just does it"),
        Column("change_m", "m", "raise (positive) or lower the crest by this"),
        Column("lines_count", "count", "lines of sight from the zone that cross it"),
        Column("crossing_pct", "pct", "share of the zone's lines that cross it"),
        Column("met_pct", "pct", "share of those for which it holds when run again on the changed ground"),
        NOTE,
    ),
    "crest levels that would just hide or just show each flag from each zone",
)

_SECTION = (
    HOLE,
    Column("section", "", "name of the section"),
    Column("kind", "", "line of play or approach"),
    TEE,
    ZONE,
    Column("pin", "", "hole location; empty along a line of play"),
)
SECTIONS = Writes(
    "sections",
    "LineString",
    (
        *_SECTION,
        Column("length_m", "m", "plan length"),
        Column("start_level_m", "m", "level at the start"),
        Column("end_level_m", "m", "level at the end"),
        Column("climb_m", "m", "end level less start level"),
        Column("room_least_m", "m", "least room under the line of sight; negative: blocked by that"),
        Column("room_least_at_m", "m", "where that is, plan distance from the start"),
        NOTE,
    ),
    "lines that profiles were taken along",
)
SECTION_POINTS = Writes(
    "section_points",
    "Point",
    (
        *_SECTION,
        Column("station_m", "m", "plan distance from the start"),
        Column("level_m", "m", "level of the ground"),
        Column("slope_pct", "pct", "rise along the line, positive: uphill"),
        Column("top_m", "m", "level of the top of a tree or structure over it"),
        Column("sight_m", "m", "level of the line from the eye to the point aimed at"),
        Column("room_m", "m", "room under that line over ground and things; negative: blocked"),
    ),
    "profiles: stations with level, slope, things above ground and line of sight",
)
