"""Settings: what shapes the results of several steps, declared once with its default.

A setting belongs to the site, so that every step uses the same value. It is given in Python
(``gt.open_site(path, settings={"zone_clearance_m": 5})``, ``site.with_settings(...)``), in the table
``settings`` of the site file, or with ``--set zone_clearance_m=5`` on the command line. ``firmness:3`` is the
firmness of hole 3.

What is given for a run wins over a field of the survey (``greens.stimp_ft``), the field over the table, the
table over the default. A value for one hole wins over that for all holes from the same source.

Options of a step shape its own output alone; what another step computes with is a setting.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gistools.base import renamed
from gistools.base.errors import InputError
from gistools.base.units import UNITS

HOLES = (1, 36)  # numbers a hole can have
#: what can order level zones (:mod:`gistools.compute.decision.levels`), in the order of the default
LEVEL_CRITERIA = (
    "flag_seen",
    "forced_carry",
    "over_mound",
    "full_club",
    "green_depth",
    "feeds",
    "room_to_miss",
    "green_holds",
    "strokes_left",
)


@dataclass(frozen=True)
class Setting:
    """One setting of a site.

    ``type`` is ``int``, ``float`` or ``str``; ``unit`` a key of :data:`gistools.base.units.UNITS`. ``scope``
    is ``"hole"`` where each hole can have a value of its own, else ``"site"``. ``was`` names the options of
    steps that the setting has replaced, as ``step.option``. ``ordered``: the value is one or more of the
    choices, in order.
    """

    name: str
    type: type
    unit: str
    default: Any
    low: float | None
    high: float | None
    choices: tuple[str, ...]
    text: str
    scope: str
    was: tuple[str, ...] = ()
    ordered: bool = False

    def value(self, given: Any) -> Any:
        """Return a given value in the setting's type.

        Raises
        ------
        InputError
            Naming the setting and what it can be.
        """
        if self.ordered:
            return ", ".join(self._words(given))
        if self.choices:
            text = str(given).strip()
            if text not in self.choices:
                raise InputError(f"the setting {self.name} is {given!r}; it can be {', '.join(self.choices)}")
            return text
        try:
            number = float("nan") if isinstance(given, bool) else float(given)
        except (TypeError, ValueError):
            number = float("nan")
        whole = self.type is not int or number == round(number, 0)
        if self.low is None or self.high is None or not (self.low <= number <= self.high and whole):
            kind = "whole number" if self.type is int else "number"
            unit = UNITS[self.unit][1]
            raise InputError(
                f"the setting {self.name} is {given!r};"
                f" it should be a {kind} from {self.low:g} to {self.high:g} {unit}".rstrip()
            )
        return self.type(number)

    def _words(self, given: Any) -> list[str]:
        """Return the words of a list, or of a text with commas."""
        parts = given if isinstance(given, (list, tuple)) else str(given).split(",")
        words = [str(part).strip().lower() for part in parts]
        if all(words) and set(words) <= set(self.choices) and len(set(words)) == len(words):
            return words
        raise InputError(
            f"the setting {self.name} is {given!r}; it can be one or more of {', '.join(self.choices)},"
            " each once, with commas between"
        )


def _number(
    name: str,
    unit: str,
    default: float,
    bounds: tuple[float, float],
    text: str,
    *was: str,
    scope: str = "hole",
) -> Setting:
    return Setting(name, type(default), unit, default, *bounds, (), text, scope, was)


def _choice(
    name: str, choices: tuple[str, ...], default: str, text: str, *was: str, scope: str = "site"
) -> Setting:
    return Setting(name, str, "", default, None, None, choices, text, scope, was)


def _setback(
    name: str, default: float, text: str, unit: str = "m", bounds: tuple[float, float] = (0, 500)
) -> Setting:
    return _number(f"setback_{name}", unit, default, bounds, text, f"setbacks.{name}", scope="site")


#: every setting by name; a default without a source is an assumption
SETTINGS: dict[str, Setting] = {
    s.name: s
    for s in (
        _number(
            "line_snap_m",
            "m",
            15.0,
            (0.1, 100),
            "how far from its tee or green a drawn line of play may end before it is doubted",
            "lines_of_play.snap_m",
        ),
        _number(
            "line_turn_share",
            "",
            0.5,
            (0.05, 3),
            "the line of play turns where the fairway strays by more than this share of its half-width",
            "lines_of_play.turn_share",
        ),
        _number(
            "carry_rays_count",
            "count",
            21,
            (3, 361),
            "directions in each fan of carries",
            "carries.rays_count",
        ),
        _number(
            "carry_minimum_landing_m",
            "m",
            15.0,
            (0, 200),
            "dry ground shorter than this between two crossings is no place to land",
            "carries.land_m",
        ),
        _number(
            "carry_lateral_search_m",
            "m",
            40.0,
            (0, 300),
            "hazards this far beside fairway, green and line of play count",
            "carries.beside_m",
        ),
        _number(
            "layup_margin_m",
            "m",
            10.0,
            (0, 100),
            "kept between a lay-up and the front edge",
            "carries.margin_m",
        ),
        _number(
            "zone_clearance_m",
            "m",
            3.0,
            (0, 30),
            "kept clear round hazards by landing zones",
            "zones.clearance_m",
        ),
        _number(
            "zone_gate_pct",
            "pct",
            50.0,
            (5, 100),
            "a hazard over this share of the fairway's width parts it across",
            "zones.gate_pct",
        ),
        _number(
            "zone_longest_m",
            "m",
            160.0,
            (20, 2000),
            "longer landing zones are divided square to play",
            "zones.longest_m",
        ),
        _number(
            "zone_least_m2", "m2", 200.0, (1, 10000), "smaller landing zones are dropped", "zones.least_m2"
        ),
        _number(
            "zone_least_width_m",
            "m",
            6.0,
            (0, 50),
            "narrower landing zones are dropped",
            "zones.least_width_m",
        ),
        _setback("line_boundary_m", 80.0, "line of play to boundary"),
        _setback("line_road_m", 100.0, "line of play to road or rail"),
        _setback("line_structure_m", 60.0, "line of play to house"),
        _setback("line_path_m", 30.0, "line of play to public path"),
        _setback("line_line_m", 60.0, "line of play to that of another hole"),
        _setback("cone_deg", 15.0, "cone each side of the line from the tee", "deg", (0, 60)),
        _setback("cone_m", 242.0, "length of the cone", "m", (10, 400)),
        _setback("green_tee_m", 61.0, "centre of the green to another hole's tee"),
        _setback("green_edge_tee_m", 40.0, "edge of the green to another hole's tee"),
        _setback("green_path_m", 15.0, "edge of the green to any path"),
        _setback("green_boundary_m", 53.5, "edge of the green to boundary or structure"),
        _setback("tee_boundary_m", 30.5, "tee to boundary or structure"),
        _setback("zone_m", 30.0, "landing zone to any neighbour"),
        _number(
            "eye_m",
            "m",
            1.6,
            (0.3, 10),
            "height of the eyes above ground",
            "flag_views.eye_m",
            "screening.eye_m",
            "sections.eye_m",
            scope="site",
        ),
        _number(
            # least height recommended, Rules of Golf [second-hand]
            "stick_m",
            "m",
            2.13,
            (0.3, 10),
            "height of the flagstick",
            "flag_views.stick_m",
            "screening.stick_m",
            "sections.stick_m",
            scope="site",
        ),
        _choice(
            "trees_hide",
            ("as_drawn", "all", "none"),
            "as_drawn",
            "trees that hide: as drawn (those not seen through), all (full leaf), or none (bare)",
            "flag_views.trees",
            "screening.trees",
            "sections.trees",
        ),
        _number(
            "blind_dispersion_increase_pct",
            "pct",
            10.0,
            (0, 200),
            "how much a flag that is not seen at all widens the aim; 0 for not",
            "strokes.blind_wider_pct",
            "approaches.blind_wider_pct",
            "positions.blind_wider_pct",
            scope="site",
        ),
        _number(
            "slope_dispersion_increase_pct",
            "pct",
            3.0,
            (0, 20),
            "how much each degree of slope under the feet widens the aim; 0 for not",
            scope="site",
        ),
        _number(
            "level_band_strokes",
            "strokes",
            0.02,
            (0, 0.5),
            "zones whose expected scores differ by less are level",
            scope="site",
        ),
        Setting(
            "level_order",
            str,
            "",
            ", ".join(LEVEL_CRITERIA),
            None,
            None,
            LEVEL_CRITERIA,
            "what puts one level zone before another: the first of these that tells them apart",
            "site",
            ordered=True,
        ),
        _number(
            "mesh_cell_m",
            "m",
            3.0,
            (1, 10),
            "side of a cell of the mesh that is searched for strokes",
            "strokes.cell_m",
            "approaches.cell_m",
            "positions.cell_m",
            scope="site",
        ),
        _number(
            "plan_error_m",
            "m",
            0.0,
            (0, 20),
            "error of tees and outlines in plan, standard deviation in each direction; 0 for not given",
            scope="site",
        ),
        _number(
            "level_error_m",
            "m",
            0.0,
            (0, 5),
            "error of levels, standard deviation; 0 for not given",
            scope="site",
        ),
        _choice(
            "firmness",
            ("soft", "normal", "firm"),
            "normal",
            "firmness of fairway and green; a normal green plays like a firm links green",
            scope="hole",
        ),
        _number(
            "green_rootzone_depth_m",
            "m",
            0.30,
            (0, 2),
            "rootzone of a green: 12 in over gravel [published: USGA Green Section Record 62(03)]",
        ),
        _number(
            "green_gravel_depth_m",
            "m",
            0.10,
            (0, 2),
            "gravel under a green: 4 in at least [published: USGA Green Section Record 62(03)]",
        ),
        _number(
            "green_drain_spacing_m",
            "m",
            4.5,
            (0, 100),
            "laterals under a green: 15 ft at most [second-hand: USGA recommendations of 1993]; 0 for none",
        ),
        _number("tee_rootzone_depth_m", "m", 0.15, (0, 2), "rootzone of a tee [common practice, no source]"),
        _number(
            "bunker_sand_depth_m", "m", 0.10, (0, 2), "sand on a bunker's floor [common practice, no source]"
        ),
        _number(
            "bunker_drain_spacing_m",
            "m",
            5.0,
            (0, 100),
            "drains under a bunker [common practice, no source]; 0 for none",
        ),
        _number("stimp_ft", "ft", 10.0, (2, 20), "green speed, Stimpmeter reading", "slopes.stimp_ft"),
        _number(
            "temperature_c",
            "c",
            20.0,
            (-20, 50),
            "temperature of the air; 20 is that of the standard day",
            scope="site",
        ),
    )
}

#: replaced option, as ``step.option`` -> name of the setting
REPLACED = {old: s.name for s in SETTINGS.values() for old in s.was}


def default(name: str) -> Any:
    """Return the default of a setting."""
    return SETTINGS[name].default


def setting_of(name: str) -> Setting:
    """Return the declaration of a setting.

    Raises
    ------
    InputError
        If there is none of that name; names the nearest.
    """
    if name in SETTINGS:
        return SETTINGS[name]
    if name in renamed.SETTINGS:
        raise InputError(f"the setting {name} is called {renamed.SETTINGS[name]} now")
    close = difflib.get_close_matches(name, SETTINGS, 1, cutoff=0.5)
    hint = f"did you mean {close[0]!r}?" if close else f"the settings are {', '.join(SETTINGS)}"
    raise InputError(f"there is no setting {name!r}; {hint}")


def checked_settings(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return given settings in their types, ``name`` or ``name:hole`` -> value.

    Raises
    ------
    InputError
        If a name is unknown, a value outside its bounds, or a setting of the site is given for one hole.
    """
    checked: dict[str, Any] = {}
    for key, value in given.items():
        name, colon, number = str(key).partition(":")
        setting, hole = setting_of(name.strip()), number.strip()
        if colon and not (hole.isdigit() and HOLES[0] <= int(hole) <= HOLES[1]):
            raise InputError(f"{key!r} should name a setting and a hole, for example '{setting.name}:3'")
        checked[key_of(setting, int(hole) if colon else None)] = setting.value(value)
    return checked


def key_of(setting: Setting, hole: int | None) -> str:
    """Return the key of a setting, ``name`` or ``name:hole``.

    Raises
    ------
    InputError
        If a setting of the whole site is given for one hole.
    """
    if hole is None:
        return setting.name
    if setting.scope != "hole":
        raise InputError(f"the setting {setting.name} is one for the whole site, not for hole {hole}")
    return f"{setting.name}:{hole}"


def resolve(
    name: str, hole: int | None, given: Mapping[str, Any], surveyed: Any, table: Mapping[str, Any]
) -> Any:
    """Return the value of a setting.

    Given for the run, else surveyed, else of the site's table, else the default.

    ``given`` and ``table`` are as from :func:`checked_settings`; ``surveyed`` is None where the survey has no
    value.
    """
    setting = setting_of(name)
    keys = [name] if hole is None else [f"{name}:{hole}", name]
    for key in keys:
        if key in given:
            return given[key]
    if surveyed is not None:
        return setting.value(surveyed)
    for key in keys:
        if key in table:
            return table[key]
    return setting.default


def replaced_option(step: str, option: str) -> str | None:
    """Say what an option of a step is called now, or which setting has replaced it; None for neither."""
    if f"{step}.{option}" in renamed.OPTIONS:
        return f"{step}: {option} is called {renamed.OPTIONS[f'{step}.{option}']} now"
    name = REPLACED.get(f"{step}.{option}")
    if name is None:
        return None
    return (
        f"{step}: {option} is the setting {name} now, which every step uses; give it with"
        f" open_site(settings=...), site.with_settings({name}=...), --set {name}=..., or in the table"
        f" `settings`"
    )


def parse_assignments(texts: tuple[str, ...]) -> dict[str, Any]:
    """Return settings from texts like ``stimp_ft=11`` or ``firmness:3=firm``.

    Raises
    ------
    InputError
        If a text is no name and value, or the setting cannot be that.
    """
    given: dict[str, Any] = {}
    for text in texts:
        key, equals, value = text.partition("=")
        if not equals or not key.strip():
            raise InputError(f"{text!r} should be a setting and its value, for example 'stimp_ft=11'")
        given[key.strip()] = value.strip()
    return checked_settings(given)
