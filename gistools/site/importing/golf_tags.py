"""The public OpenStreetMap tag scheme for golf, as rules onto survey layers.

Source: wiki.openstreetmap.org Key:golf and Tag pages, presets of openstreetmap/id-tagging-schema (published).
Widths and heights where no tag gives them are assumptions, and stand in the mapping to be edited.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

#: a survey layer's stand-in for what is left out, and for areas whose tees and greens are for practice
LEFT_OUT, PRACTICE = "none", "practice"
#: keys of the scheme that make a plain file one of tagged features
TAG_KEYS = ("golf", "leisure", "natural", "waterway", "highway", "building")
COURSE_FIELD = "golf:course:name"

_FOOT = ["footway", "path", "bridleway", "cycleway", "pedestrian", "steps"]
_ROADS = [
    *("motorway", "trunk", "primary", "secondary", "tertiary"),
    *("unclassified", "residential", "living_street", "road"),
]


@dataclass(frozen=True)
class TagRule:
    """Tags that mean features of a survey layer; ``*`` stands for any value."""

    layer: str
    where: Mapping[str, list[str]]
    geometry: str
    reason: str
    fields: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Any] = field(default_factory=dict)


_HOLE = {"hole": "ref", "name": "name"}
_WET = {"name": "name", "width_m": "width"}

#: in order: a feature takes the first rule that fits
TAG_RULES: tuple[TagRule, ...] = (
    TagRule(LEFT_OUT, {"tunnel": ["yes", "culvert"]}, "", "under the ground"),
    TagRule(
        "play_lines",
        {"golf": ["hole"]},
        "LineString",
        "golf=hole is the line of play from tee to pin",
        {"hole": "ref"},
    ),
    TagRule(
        LEFT_OUT, {"golf": ["hole"]}, "", "a hole drawn as area or point is of an old scheme; its line counts"
    ),
    TagRule(PRACTICE, {"golf": ["driving_range"]}, "Polygon", "tees and greens in it are for practice"),
    TagRule("tees", {"golf": ["tee"]}, "", "golf=tee is a teeing area", {**_HOLE, "tee": "tee"}),
    TagRule("greens", {"golf": ["green"]}, "Polygon", "golf=green is a putting green", _HOLE),
    TagRule("fairway", {"golf": ["fairway"]}, "Polygon", "golf=fairway is closely mown", _HOLE),
    TagRule("bunkers", {"golf": ["bunker"]}, "Polygon", "golf=bunker is sand", {"name": "name"}),
    TagRule(
        "pins", {"golf": ["pin"]}, "Point", "golf=pin is a hole location", {"hole": "ref", "pin": "name"}
    ),
    TagRule(
        "water",
        {"golf": ["water_hazard", "lateral_water_hazard"]},
        "Polygon",
        "golf=water_hazard, the name before 2019 of a penalty area",
        {"name": "name"},
    ),
    TagRule(
        "burns",
        {"golf": ["water_hazard", "lateral_water_hazard"]},
        "LineString",
        "a water hazard drawn as a line is a stream",
        _WET,
        {"width_m": 2.0},
    ),
    TagRule(
        "paths",
        {"golf": ["cartpath", "path"]},
        "LineString",
        "golf=cartpath",
        _WET,
        {"kind": "cart", "width_m": 2.5},
    ),
    TagRule("boundary", {"golf": ["out_of_bounds"]}, "LineString", "golf=out_of_bounds is a boundary line"),
    TagRule(
        "structures",
        {"golf": ["clubhouse"]},
        "Polygon",
        "the clubhouse is a building",
        {"name": "name", "height_m": "height"},
        {"kind": "house", "height_m": 8.0},
    ),
    TagRule(LEFT_OUT, {"golf": ["*"]}, "", "no survey layer holds it"),
    TagRule(
        "boundary",
        {"leisure": ["golf_course"]},
        "Polygon",
        "leisure=golf_course is the grounds",
        {"name": "name"},
    ),
    TagRule(
        "burns",
        {"waterway": ["stream", "ditch", "drain", "brook"]},
        "LineString",
        "streams and ditches carry no golf tag",
        _WET,
        {"width_m": 2.0},
    ),
    TagRule(
        "burns",
        {"waterway": ["river", "canal"]},
        "LineString",
        "rivers carry no golf tag",
        _WET,
        {"width_m": 8.0},
    ),
    TagRule("water", {"waterway": ["riverbank", "dock"]}, "Polygon", "an area of water", {"name": "name"}),
    TagRule("water", {"natural": ["water"]}, "Polygon", "natural=water is a pond or lake", {"name": "name"}),
    TagRule(
        "trees",
        {"natural": ["tree"]},
        "Point",
        "natural=tree",
        {"name": "name", "height_m": "height", "crown_m": "diameter_crown"},
        {"height_m": 10.0, "crown_m": 6.0},
    ),
    TagRule(
        "trees",
        {"natural": ["tree_row"]},
        "LineString",
        "natural=tree_row, as wide as a crown",
        {"name": "name", "height_m": "height", "crown_m": "diameter_crown"},
        {"height_m": 10.0, "crown_m": 6.0},
    ),
    TagRule(
        "trees",
        {"natural": ["wood"]},
        "Polygon",
        "natural=wood",
        {"name": "name", "height_m": "height"},
        {"height_m": 12.0},
    ),
    TagRule(
        "trees",
        {"landuse": ["forest"]},
        "Polygon",
        "landuse=forest",
        {"name": "name", "height_m": "height"},
        {"height_m": 12.0},
    ),
    TagRule(
        "trees",
        {"natural": ["scrub"]},
        "Polygon",
        "natural=scrub, low and dense",
        {"name": "name", "height_m": "height"},
        {"height_m": 3.0},
    ),
    TagRule(
        "structures",
        {"building": ["*"]},
        "Polygon",
        "building=*",
        {"name": "name", "height_m": "height"},
        {"kind": "house", "height_m": 6.0},
    ),
    TagRule(
        "structures",
        {"barrier": ["wall"]},
        "LineString",
        "barrier=wall",
        {"name": "name", "height_m": "height"},
        {"kind": "wall", "height_m": 1.2},
    ),
    TagRule(
        "paths",
        {"highway": ["*"], "golf_cart": ["designated", "yes"]},
        "LineString",
        "a way for golf carts",
        _WET,
        {"kind": "cart", "width_m": 2.5},
    ),
    TagRule(
        "paths",
        {"highway": _FOOT},
        "LineString",
        "a way open to walkers",
        _WET,
        {"kind": "public", "width_m": 2.0},
    ),
    TagRule(
        "paths",
        {"highway": ["service", "track"]},
        "LineString",
        "a service road or track",
        _WET,
        {"kind": "maintenance", "width_m": 3.5},
    ),
    TagRule(
        "paths", {"highway": _ROADS}, "LineString", "a public road", _WET, {"kind": "road", "width_m": 6.0}
    ),
)

#: values of the tag ``golf`` that a rule names
GOLF_VALUES = frozenset(value for rule in TAG_RULES for value in rule.where.get("golf", ()) if value != "*")
