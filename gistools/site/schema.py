"""The survey layers and tables of a site, declared once.

Reading, ``check``, the documentation pages and the sample site all use this declaration. Field names are
matched without regard to case; a surveyor's own names can be mapped with ``open_site(..., fields=...)``.
"""

from __future__ import annotations

from dataclasses import dataclass

from gistools.base.settings import SETTINGS

POINT = "Point"
LINE = "LineString"
POLYGON = "Polygon"

#: what an edit can do, and the layers it can be done to
EDIT_ACTIONS = ("move", "turn", "scale", "raise", "lower", "add", "remove")
EDITED_LAYERS = (
    "tees",
    "fairway",
    "greens",
    "pins",
    "bunkers",
    "burns",
    "water",
    "mounds",
    "trees",
    "structures",
    "shapes",
)


@dataclass(frozen=True)
class Field:
    """One field of a survey layer.

    ``kind`` is ``"int"``, ``"float"``, ``"text"`` or ``"bool"``; ``unit`` a key of
    :data:`gistools.base.units.UNITS`; ``low`` and ``high`` bound a believable value, ``choices`` list the
    words that can be; one outside ``words`` is taken as the default, with a warning. ``default`` is used, and
    said, where the field is missing or empty. With ``setting`` the setting of that name decides there
    (:mod:`gistools.base.settings`).
    """

    name: str
    kind: str
    text: str
    unit: str = ""
    required: bool = False
    low: float | None = None
    high: float | None = None
    default: float | str | bool | None = None
    choices: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    setting: str = ""


@dataclass(frozen=True)
class LayerSpec:
    """One survey layer or attribute table (``geometry`` empty).

    ``hole`` tells how features belong to a hole: ``"must"`` carry a hole number, ``"may"`` carry one (empty
    means the feature concerns every hole it is near), or ``"no"`` field of that name.
    """

    name: str
    geometry: tuple[str, ...]
    text: str
    fields: tuple[Field, ...] = ()
    hole: str = "may"
    required: bool = False

    @property
    def all_fields(self) -> tuple[Field, ...]:
        """Fields including the common ones, in the order they are kept."""
        hole = Field("hole", "int", "number of the hole", required=self.hole == "must", low=1, high=36)
        common = () if self.hole == "no" else (hole,)
        return common + self.fields


_NAME = Field("name", "text", "name shown to people")
_FIRMNESS = Field(
    "firmness",
    "text",
    "how firm the turf is: soft, normal or firm",
    choices=SETTINGS["firmness"].choices,
    setting="firmness",
)

SURVEY_LAYERS: dict[str, LayerSpec] = {
    spec.name: spec
    for spec in (
        LayerSpec(
            "tees",
            (POLYGON, POINT),
            "teeing areas, or their permanent markers; a polygon is measured from its centroid",
            (Field("tee", "text", "name of the tee set", required=True), _NAME),
            hole="must",
            required=True,
        ),
        LayerSpec(
            "fairway",
            (POLYGON,),
            "closely mown fairway",
            (_NAME, _FIRMNESS),
            hole="must",
            required=True,
        ),
        LayerSpec(
            "greens",
            (POLYGON,),
            "putting greens",
            (
                _NAME,
                Field(
                    "stimp_ft",
                    "float",
                    "green speed, Stimpmeter reading",
                    "ft",
                    low=4,
                    high=16,
                    setting="stimp_ft",
                ),
                _FIRMNESS,
            ),
            hole="must",
            required=True,
        ),
        LayerSpec(
            "pins",
            (POINT,),
            "hole locations; without any, the centre of each green is used",
            (Field("pin", "text", "name of the hole location", required=True),),
            hole="must",
        ),
        LayerSpec("bunkers", (POLYGON,), "bunkers, outline of the sand", (_NAME,)),
        LayerSpec(
            "burns",
            (LINE, POLYGON),
            "streams and ditches; a line needs its width",
            (
                _NAME,
                Field(
                    "width_m", "float", "width of the water of a line", "m", low=0.2, high=100, default=2.0
                ),
            ),
        ),
        LayerSpec("water", (POLYGON,), "ponds, lakes, sea", (_NAME,)),
        LayerSpec(
            "mounds",
            (POLYGON, LINE),
            "mounds already in the terrain: toe outline, or crest line; used to name what hides a flag",
            (_NAME, Field("rise_m", "float", "height of the crest above the toe", "m", low=0, high=40)),
        ),
        LayerSpec(
            "trees",
            (POINT, POLYGON),
            "trees and thickets above the terrain",
            (
                _NAME,
                Field("height_m", "float", "height above ground", "m", low=0.3, high=60, default=8.0),
                Field(
                    "crown_m", "float", "diameter of the crown of a point", "m", low=0.3, high=40, default=6.0
                ),
                Field(
                    "clear_m",
                    "float",
                    "height of the underside of the crown",
                    "m",
                    low=0,
                    high=30,
                    default=0.0,
                ),
                Field("see_through", "bool", "sight passes (bare or thin crown)", default=False),
            ),
        ),
        LayerSpec(
            "paths",
            (LINE, POLYGON),
            "public paths, cart paths, roads",
            (
                _NAME,
                Field(
                    "kind",
                    "text",
                    "public, cart, maintenance or road",
                    default="cart",
                    words=("public", "cart", "maintenance", "road"),
                ),
                Field("width_m", "float", "width of a line", "m", low=0.3, high=40, default=2.5),
            ),
        ),
        LayerSpec(
            "boundary",
            (POLYGON, LINE),
            "edge of the course; beyond it is out of bounds",
            (_NAME,),
            hole="no",
        ),
        LayerSpec(
            "play_lines",
            (LINE,),
            "drawn lines of play, tee to green; without any they are derived",
            (Field("tee", "text", "tee set it is for; empty means all"),),
            hole="must",
        ),
        LayerSpec(
            "play_points",
            (POINT,),
            (
                "points drawn by the designer that the approach is asked for from (`approaches`, starts"
                " `points`)"
            ),
            (_NAME,),
            hole="must",
        ),
        LayerSpec(
            "structures",
            (POLYGON, POINT, LINE),
            "houses, shelters, walls, pylons",
            (
                _NAME,
                Field(
                    "kind",
                    "text",
                    "house, road, shelter, wall, pylon",
                    default="structure",
                    words=("structure", "house", "road", "shelter", "wall", "pylon"),
                ),
                Field("height_m", "float", "height above ground", "m", low=0.2, high=100, default=5.0),
            ),
        ),
        LayerSpec(
            "zones",
            (POLYGON,),
            "landing zones drawn by the designer; these win over derived ones",
            (Field("zone", "text", "name of the landing zone", required=True),),
            hole="must",
        ),
        LayerSpec(
            "shapes",
            (POLYGON, LINE),
            "proposed shaping, applied in the order of `order`",
            (
                _NAME,
                Field("kind", "text", "mound, hollow, channel, platform, tier or grade", required=True),
                Field("order", "int", "order of application", default=0),
                Field(
                    "rise_m",
                    "float",
                    "rise (or depth, negative) against the ground there",
                    "m",
                    low=-20,
                    high=20,
                ),
                Field("level_m", "float", "finished level, instead of a rise", "m"),
                Field("side_slope_pct", "float", "steepest side slope", "pct", low=1, high=200, default=25.0),
                Field(
                    "blend_m",
                    "float",
                    "width over which the shape meets the ground",
                    "m",
                    low=0,
                    high=50,
                    default=3.0,
                ),
                Field(
                    "width_m",
                    "float",
                    "width of the crest or bed of a line",
                    "m",
                    low=0.1,
                    high=50,
                    default=2.0,
                ),
                Field(
                    "fall_pct",
                    "float",
                    "fall of a platform or graded plane",
                    "pct",
                    low=-20,
                    high=20,
                    default=0.0,
                ),
                Field(
                    "fall_to_deg", "float", "bearing the fall runs to", "deg", low=0, high=360, default=0.0
                ),
            ),
        ),
        LayerSpec(
            "control",
            (POINT,),
            "survey control points",
            (
                Field("point", "text", "name of the control point", required=True),
                Field("level_m", "float", "published level", "m"),
                Field("check_easting_m", "float", "easting as measured in a check", "m"),
                Field("check_northing_m", "float", "northing as measured in a check", "m"),
                Field("check_level_m", "float", "level as measured in a check", "m"),
            ),
            hole="no",
        ),
        LayerSpec(
            "as_built",
            (POINT,),
            "levels measured after construction",
            (
                Field("point", "text", "number or name of the point", required=True),
                Field("level_m", "float", "measured level", "m", required=True),
                Field("feature", "text", "feature it was measured on"),
            ),
            hole="no",
        ),
    )
}

TABLES: dict[str, LayerSpec] = {
    spec.name: spec
    for spec in (
        LayerSpec(
            "players",
            (),
            "players; a row replaces or adds to the built-in ones",
            (
                Field("player", "text", "name", required=True),
                Field(
                    "based_on",
                    "text",
                    "built-in player whose bag and spread are scaled",
                    default="scratch man",
                ),
                Field("driver_carry_m", "float", "flat calm carry of the driver", "m", low=50, high=320),
                Field("handicap", "float", "handicap index; sets the dispersion", low=-6, high=54),
                Field(
                    "direction_sd_deg",
                    "float",
                    "standard deviation of direction, driver",
                    "deg",
                    low=0,
                    high=20,
                ),
                Field(
                    "distance_sd_pct",
                    "float",
                    "standard deviation of distance, driver",
                    "pct",
                    low=0,
                    high=40,
                ),
                Field("eye_m", "float", "eye height", "m", low=0.9, high=2.2),
            ),
            hole="no",
        ),
        LayerSpec(
            "winds",
            (),
            "winds to study; calm is always there",
            (
                Field("wind", "text", "name", required=True),
                Field(
                    "speed_ms", "float", "mean speed 10 m above ground", "ms", required=True, low=0, high=30
                ),
                Field(
                    "from_deg",
                    "float",
                    "grid bearing the wind comes from",
                    "deg",
                    required=True,
                    low=0,
                    high=360,
                ),
                Field("prevailing", "bool", "the wind that is studied and shown first", default=False),
            ),
            hole="no",
        ),
        LayerSpec(
            "brief",
            (),
            "the designer's intentions, a check a row",
            (
                Field("measure", "text", "step.column, for example carries.carry_m", required=True),
                Field("tee", "text", "tee; empty means every tee"),
                Field("player", "text", "player"),
                Field("wind", "text", "wind"),
                Field("zone", "text", "landing zone"),
                Field("pin", "text", "hole location"),
                Field("feature", "text", "name of the hazard or other feature"),
                Field("line", "text", "which of the carries of a feature: on line, least or greatest"),
                Field("at_least", "float", "least value allowed"),
                Field("at_most", "float", "greatest value allowed"),
                Field("is_value", "text", "the value it has to be"),
                Field("must", "bool", "a failing row fails the study", default=True),
                Field("why", "text", "the intention in words"),
            ),
        ),
        LayerSpec(
            "settings",
            (),
            (
                "what shapes the results of several steps (see the list of settings); a default holds"
                " where none is given"
            ),
            (
                Field("name", "text", "name of the setting", required=True),
                Field("value", "text", "its value", required=True),
                Field("note", "text", "why it is set so"),
            ),
        ),
        LayerSpec(
            "site",
            (),
            "what the project is called",
            (
                Field("project", "text", "name of the project"),
                Field("client", "text", "who it is for"),
                Field("date", "text", "date of the design, year-month-day"),
                Field("author", "text", "who draws it"),
            ),
            hole="no",
        ),
        LayerSpec(
            "edits",
            (),
            "changes to try, in order; `gistools edit` makes them",
            (
                Field("action", "text", "what is done", required=True, choices=EDIT_ACTIONS),
                Field(
                    "feature", "text", "name of the feature as results show it; of an added one its new name"
                ),
                Field("layer", "text", "its layer, where the name leaves a choice", choices=EDITED_LAYERS),
                Field(
                    "along_m",
                    "float",
                    "towards the green along the line of play; chainage of an added one",
                    "m",
                ),
                Field("across_m", "float", "to the right of the line of play; offset of an added one", "m"),
                Field("east_m", "float", "to the east", "m"),
                Field("north_m", "float", "to the north", "m"),
                Field("turn_deg", "float", "clockwise about its middle", "deg", low=-360, high=360),
                Field("factor", "float", "times its size in plan", low=0.1, high=10),
                Field("rise_m", "float", "how much to raise or lower; height or depth of an added one", "m"),
                Field("x", "float", "easting of an added one, instead of chainage and offset"),
                Field("y", "float", "northing of an added one"),
                Field(
                    "length_m",
                    "float",
                    "length of an added one along the line of play",
                    "m",
                    low=0.1,
                    high=1000,
                ),
                Field("width_m", "float", "its width across the line of play", "m", low=0.1, high=1000),
                Field("side", "text", "edge of the fairway that moves", choices=("left", "right")),
                Field("from_m", "float", "chainage from which the edge moves", "m"),
                Field("to_m", "float", "chainage to which the edge moves", "m"),
                Field("points", "text", "line of an added burn: chainage,offset of each point"),
                Field("note", "text", "why"),
            ),
        ),
    )
}

#: result layers and tables carry this prefix; nothing without it is ever written to
RESULT_PREFIX = "study_"
TERRAIN = "terrain"
TERRAIN_PROPOSED = "terrain_proposed"
