"""The mapping of an import: which features of which source become which survey layer, guessed and kept.

It is a TOML file that can be edited and used again. Each ``[[layer]]`` is a rule; a feature takes the first
rule that fits it. ``layer = "none"`` leaves features out; ``layer = "practice"`` is for areas whose tees and
greens are left out.
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import InputError
from gistools.base.values import is_missing
from gistools.site.importing.golf_tags import LEFT_OUT, PRACTICE, TAG_KEYS, TAG_RULES, TagRule
from gistools.site.importing.source_layer import SourceLayer
from gistools.site.schema import LINE, POINT, POLYGON, SURVEY_LAYERS
from gistools.site.vocabulary import FIELD_WORDS, LAYER_WORDS, TERRAIN_WORDS, field_meant, layer_meant

#: targets that carry levels for the terrain: their field ``level_m``, else the heights of their corners
TERRAIN_TARGETS = ("contours", "spot_levels", "breaklines")
TARGETS = (*SURVEY_LAYERS, LEFT_OUT, PRACTICE, *TERRAIN_TARGETS)
_WORDS = {**LAYER_WORDS, **TERRAIN_WORDS}
#: a text field with more different values than this is no field of kinds
MOST_KINDS = 60
#: layers that are guessed from an exact name alone, since their words mean other things too
_EXACT_ONLY = ("control", "as_built", "shapes", "zones", "play_points")
_KEYS = ("layer", "source", "from", "reason", "where", "geometry", "fields", "values", "units")
_NUMBERED = re.compile(r"(?:^|[^a-z])(?:h|hole|loch|trou|bahn)[\s_.-]*0*(\d{1,2})(?!\d)", re.IGNORECASE)
_HEAD = """# How the sources become survey layers. Edit it and run the same import again: this file is used.
# A feature takes the first rule that fits. layer = "none" leaves it out; "practice" is an area of
# practice tees and greens. where: field -> values ("*" is any). fields: ours -> theirs. values: what a
# field is where theirs has nothing, or their value -> ours. units: of their numbers ("m", "ft", "yd").
"""


@dataclass(frozen=True)
class Rule:
    """A rule of the mapping: features of a source, and the survey layer they become.

    Attributes
    ----------
    layer
        One of :data:`TARGETS`.
    source, name
        Name of the source and of the layer in it.
    where
        Field of the source -> values it has; ``"*"`` for any.
    geometry
        Geometry type the features have; empty for any.
    fields, values, units
        Our field -> theirs; our field -> the value where theirs has none, or a table of their value -> ours;
        our field -> unit of theirs.
    reason
        Why the rule was guessed.
    """

    layer: str
    source: str
    name: str
    reason: str = ""
    where: AnyMapping[str, list[str]] = field(default_factory=dict)
    geometry: str = ""
    fields: AnyMapping[str, str] = field(default_factory=dict)
    values: AnyMapping[str, Any] = field(default_factory=dict)
    units: AnyMapping[str, str] = field(default_factory=dict)

    def fits(self, layer: SourceLayer) -> NDArray[np.bool_]:
        """Tell for each feature of a source layer whether the rule is for it."""
        fitting = np.ones(len(layer.table), bool)
        for name, values in self.where.items():
            cells = layer.table[name].tolist() if name in layer.table else [None] * len(layer.table)
            texts = ["" if is_missing(c) else str(c).strip().casefold() for c in cells]
            allowed = {v.casefold() for v in values}
            fitting &= np.array([bool(t) and ("*" in allowed or t in allowed) for t in texts], bool)
        if self.geometry:
            kinds = [None if s is None else s.geom_type.removeprefix("Multi") for s in layer.shapes]
            fitting &= np.array([k == self.geometry for k in kinds], bool)
        return fitting


@dataclass(frozen=True)
class Mapping:
    """All rules of an import, the CRS of the site, and of several courses the one that is taken."""

    rules: tuple[Rule, ...]
    crs: str = ""
    course: str = ""
    crs_reason: str = ""


def guess(layers: list[SourceLayer]) -> Mapping:
    """Guess a mapping from names, geometry types, field values and tags, each rule with its reason."""
    return Mapping(tuple(rule for layer in layers for rule in _guess_layer(layer)))


def _guess_layer(layer: SourceLayer) -> list[Rule]:
    if layer.tagged:
        return _by_tags(layer)
    named = layer_meant(layer.name, _WORDS)
    if named is not None and _possible(named[0], layer, layer.name):
        return [_with_fields(Rule(named[0], layer.source, layer.name, named[1]), layer)]
    return _by_values(layer)


def _by_tags(layer: SourceLayer) -> list[Rule]:
    rules = []
    free = np.ones(len(layer.table), bool)
    for tag in TAG_RULES:
        fields = {ours: theirs for ours, theirs in tag.fields.items() if theirs in layer.table}
        fields |= {ours: theirs for ours, theirs in _surveyed(tag, layer).items() if ours not in fields}
        rule = Rule(
            tag.layer, layer.source, layer.name, tag.reason, tag.where, tag.geometry, fields, dict(tag.values)
        )
        fitting = rule.fits(layer) & free
        if fitting.any():
            rules.append(rule)
            free &= ~fitting
    return rules


def _surveyed(tag: TagRule, layer: SourceLayer) -> dict[str, str]:
    """Hole and tee by a surveyor's names beside the tags; ``ref`` of anything else is no hole."""
    names = [str(c) for c in layer.table.columns if str(c) not in ("ref", *TAG_KEYS)]
    spec = SURVEY_LAYERS.get(tag.layer) if "golf" in tag.where else None
    ours = [f.name for f in spec.all_fields if f.name in ("hole", "tee")] if spec else []
    return {name: meant[0] for name in ours if (meant := field_meant(name, names)) is not None}


def _by_values(layer: SourceLayer) -> list[Rule]:
    """Rules from the text field whose values name the most features by words for survey layers."""
    best: tuple[int, list[Rule]] = (0, [])
    for column in layer.table.columns:
        cells = ["" if is_missing(c) else str(c).strip() for c in layer.table[column]]
        kinds = [k for k in dict.fromkeys(cells) if k]
        if not 0 < len(kinds) <= MOST_KINDS:
            continue
        groups: dict[tuple[str, int | None], list[str]] = {}
        for kind in kinds:
            meant = layer_meant(kind, _WORDS)
            if meant is not None and _possible(meant[0], layer, kind):
                number = _NUMBERED.search(kind)
                groups.setdefault((meant[0], int(number[1]) if number else None), []).append(kind)
        count = sum(cells.count(kind) for group in groups.values() for kind in group)
        if count <= best[0]:
            continue
        rules = []
        for (target, hole), group in groups.items():
            reason = f"`{column}` is {', '.join(group[:3])}: words for it"
            rule = Rule(target, layer.source, layer.name, reason, {column: group})
            rules.append(_with_fields(rule, layer, {} if hole is None else {"hole": hole}))
        best = (count, rules)
    return best[1]


def _possible(target: str, layer: SourceLayer, name: str) -> bool:
    """Tell whether a layer can be the target: its geometry fits, and rare ones are named exactly."""
    if target in TERRAIN_TARGETS:
        return bool(layer.kinds & ({POINT} if target == "spot_levels" else {LINE}))
    if target in _EXACT_ONLY and name.lower() != target:
        return False
    allowed = set(SURVEY_LAYERS[target].geometry)
    if POLYGON in allowed:
        allowed.add(LINE)  # an outline drawn as a line is closed
    return bool(layer.kinds & allowed)


def _with_fields(rule: Rule, layer: SourceLayer, values: dict[str, Any] | None = None) -> Rule:
    fields = {}
    names = [str(c) for c in layer.table.columns if c not in rule.where]
    values = dict(values or {})
    number = _NUMBERED.search(layer.name)
    if rule.layer in TERRAIN_TARGETS:
        level = field_meant("level_m", names)
        deep = any(s is not None and s.has_z for s in layer.shapes)
        fields = {"level_m": level[0]} if level is not None and not deep else {}
        return dataclasses.replace(rule, fields=fields)
    for spec in SURVEY_LAYERS[rule.layer].all_fields:
        if spec.name not in FIELD_WORDS and spec.name not in {n.lower() for n in names}:
            continue
        meant = field_meant(spec.name, names)
        if meant is not None and spec.name not in values:
            fields[spec.name] = meant[0]
        elif spec.name == "hole" and number and "hole" not in values:
            values["hole"] = int(number[1])
    return Rule(rule.layer, rule.source, rule.name, rule.reason, rule.where, rule.geometry, fields, values)


def mapping_text(mapping: Mapping) -> str:
    """Return a mapping as TOML."""
    lines = [_HEAD, "[site]", f"crs = {_toml(mapping.crs)}" + _comment(mapping.crs_reason)]
    lines += [f"course = {_toml(mapping.course)}"]
    for rule in mapping.rules:
        lines += ["", "[[layer]]", f"layer = {_toml(rule.layer)}", f"source = {_toml(rule.source)}"]
        lines += [f"from = {_toml(rule.name)}", f"reason = {_toml(rule.reason)}"]
        lines += [f"where = {_toml(rule.where)}"] if rule.where else []
        lines += [f"geometry = {_toml(rule.geometry)}"] if rule.geometry else []
        for key, table in (("fields", rule.fields), ("values", rule.values), ("units", rule.units)):
            lines += [f"{key} = {_toml(table)}"] if table else []
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    return f"  # {text}" if text else ""


def _toml(value: Any) -> str:
    if isinstance(value, AnyMapping):
        return "{ " + ", ".join(f"{_key(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if ord(c) >= 32 and ord(c) != 127 else f"\\u{ord(c):04x}" for c in text) + '"'


def _key(name: Any) -> str:
    return str(name) if re.fullmatch(r"[A-Za-z0-9_-]+", str(name)) else _toml(str(name))


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file.

    Raises
    ------
    InputError
        Naming the rule and what is wrong with it.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise InputError(f"the mapping {path} cannot be read: {fault}") from fault
    site = document.get("site", {})
    rows = document.get("layer", [])
    if not isinstance(site, dict) or not isinstance(rows, list) or not rows:
        raise InputError(f"the mapping {path} has no rules: each is a table [[layer]]")
    rules = tuple(_rule(path, k, row) for k, row in enumerate(rows, 1))
    return Mapping(rules, str(site.get("crs", "")), str(site.get("course", "")))


def _rule(path: Path, number: int, row: Any) -> Rule:
    where = f"{path}, rule {number}"
    if not isinstance(row, dict) or set(row) - set(_KEYS):
        odd = ", ".join(sorted(set(row) - set(_KEYS))) if isinstance(row, dict) else str(row)
        raise InputError(f"{where}: {odd} is not understood; a rule has {', '.join(_KEYS)}")
    layer = str(row.get("layer", ""))
    if layer not in TARGETS:
        raise InputError(f"{where}: layer is {layer!r}; it can be {', '.join(TARGETS)}")
    tables = {key: row.get(key, {}) for key in ("where", "fields", "values", "units")}
    for key, table in tables.items():
        if not isinstance(table, dict):
            raise InputError(
                f'{where}: {key} is {table!r}; it is a table, for example {{ hole = "HOLE_NO" }}'
            )
    if layer in (*SURVEY_LAYERS, *TERRAIN_TARGETS):
        spec = SURVEY_LAYERS.get(layer)
        known = {"level_m"} if spec is None else {f.name for f in spec.all_fields}
        for key in ("fields", "values", "units"):
            if set(tables[key]) - known:
                odd = ", ".join(sorted(set(tables[key]) - known))
                raise InputError(
                    f"{where}: {key} names {odd}; the fields of {layer} are {', '.join(sorted(known))}"
                )
    conditions = {
        k: [str(x) for x in (v if isinstance(v, list) else [v])] for k, v in tables["where"].items()
    }
    return Rule(
        layer,
        str(row.get("source", "")),
        str(row.get("from", "")),
        str(row.get("reason", "")),
        conditions,
        str(row.get("geometry", "")),
        {k: str(v) for k, v in tables["fields"].items()},
        tables["values"],
        {k: str(v) for k, v in tables["units"].items()},
    )
