"""Features of sources as rows of survey layers: rules applied, geometry made to fit, all in one CRS."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer

from gistools.base.errors import InputError
from gistools.base.units import FOOT_M, US_SURVEY_FOOT_M, YARD_M
from gistools.base.values import is_missing
from gistools.site.findings import Finding
from gistools.site.importing.golf_tags import COURSE_FIELD, LEFT_OUT, PRACTICE
from gistools.site.importing.mapping import TERRAIN_TARGETS, Mapping, Rule
from gistools.site.importing.source_layer import Relation, SourceLayer
from gistools.site.schema import LINE, POINT, POLYGON, SURVEY_LAYERS, Field
from gistools.site.vocabulary import hole_number

#: an outline drawn as a line closes if its ends are this near [m] (assumption)
CLOSING_GAP_M = 1.0
#: a pin drawn as a small outline is its middle, if it is not wider [m] (assumption)
PIN_OUTLINE_M = 3.0
_MEASURE = re.compile(
    r"\s*([-+]?\d+(?:\.\d+)?)\s*(m|metres?|meters?|ft|feet|foot|'|yd|yards?|us-ft)?\s*", re.IGNORECASE
)
_UNITS_M = {"m": 1.0, "ft": FOOT_M, "'": FOOT_M, "yd": YARD_M, "us-ft": US_SURVEY_FOOT_M}


@dataclass
class Feature:
    """A feature on its way into a survey layer.

    ``fields`` are ours; ``origin`` says where it comes from, for people; ``key`` is its type and id in a
    tagged source; ``tags`` are what the tag scheme says beside (course, old numbering, name).
    """

    layer: str
    shape: Any
    fields: dict[str, Any]
    origin: str
    key: tuple[str, int] | None = None
    tags: dict[str, str] = field(default_factory=dict)

    @property
    def hole(self) -> int | None:
        """Number of its hole, or None."""
        return self.fields.get("hole")

    @hole.setter
    def hole(self, number: int | None) -> None:
        self.fields["hole"] = number


@dataclass
class Draft:
    """What an import has made so far: features in metres of the site's CRS, relations, and findings."""

    features: list[Feature] = field(default_factory=list)
    relations: list[Relation] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def of(self, layer: str) -> list[Feature]:
        """Return the features of a layer."""
        return [f for f in self.features if f.layer == layer]

    def say(self, level: Any, layer: str, message: str, remedy: str = "") -> None:
        """Add a finding."""
        self.findings.append(Finding(level, layer, None, message, remedy))

    def drop(self, unwanted: list[Feature]) -> None:
        """Take features out."""
        gone = {id(f) for f in unwanted}
        self.features = [f for f in self.features if id(f) not in gone]


def apply_rules(layers: list[SourceLayer], mapping: Mapping, crs: CRS, unit_m: float) -> Draft:
    """Turn the features of sources into rows of survey layers, in metres of a CRS.

    Parameters
    ----------
    layers, mapping
        The sources, and the rules.
    crs, unit_m
        CRS of the site, and metres in one of its units. A layer without a CRS is taken to be in it.

    Raises
    ------
    InputError
        If a rule names a source, layer or field that is not there.
    """
    draft = Draft()
    by_name = {(layer.source, layer.name): layer for layer in layers}
    for rule in mapping.rules:
        if (rule.source, rule.name) not in by_name:
            known = ", ".join(f"{s}: {n}" for s, n in by_name)
            raise InputError(
                f"the mapping names the layer {rule.name!r} of {rule.source!r}, not among the sources"
                f" ({known}); correct `source` and `from`"
            )
    for layer in layers:
        rules = [r for r in mapping.rules if (r.source, r.name) == (layer.source, layer.name)]
        _apply_layer(layer, rules, crs, unit_m, draft)
    return draft


def _apply_layer(layer: SourceLayer, rules: list[Rule], crs: CRS, unit_m: float, draft: Draft) -> None:
    label = f"{layer.source}, {layer.name}"
    for text in layer.lost:
        draft.say("warning", "", f"{label}: {text}")
    draft.relations.extend(layer.members)
    if not len(layer.table):
        return
    to_metres = _to_metres(layer, crs, unit_m, label, draft)
    free = np.ones(len(layer.table), bool)
    for rule in rules:
        for ours, theirs in rule.fields.items():
            if theirs not in layer.table:
                have = ", ".join(map(str, layer.table.columns[:20]))
                raise InputError(f"the mapping names the field {theirs!r} for {ours}; {label} has {have}")
        rows = np.flatnonzero(rule.fits(layer) & free)
        free[rows] = False
        if rule.layer != LEFT_OUT:
            for row in rows:
                draft.features.extend(_features(layer, int(row), rule, to_metres, draft))
    left = int(free.sum())
    if left and not rules:
        draft.say(
            "warning", "", f"{label}: {left} features go nowhere: no word says what they are", "add a rule"
        )
    elif left and not layer.open_map:
        draft.say(
            "warning", "", f"{label}: {left} features fit no rule and were left out", "add a rule for them"
        )


def _to_metres(layer: SourceLayer, crs: CRS, unit_m: float, label: str, draft: Draft) -> Any:
    if layer.crs is None:
        draft.say("note", "", f"{label} states no CRS; it is taken to be in {crs.name}")
        return lambda shape: shapely.transform(shape, lambda xy: xy * unit_m)
    change = Transformer.from_crs(layer.crs, crs, always_xy=True)

    def moved(xy: Any) -> Any:
        return np.column_stack(change.transform(xy[:, 0], xy[:, 1])) * unit_m

    return lambda shape: shapely.transform(shape, moved)


def _features(layer: SourceLayer, row: int, rule: Rule, to_metres: Any, draft: Draft) -> Iterator[Feature]:
    cells = {str(c): layer.table[c].iloc[row] for c in layer.table.columns}
    cells = {c: v for c, v in cells.items() if not is_missing(v) and str(v).strip()}
    key = (str(cells["@type"]), int(cells["@id"])) if "@type" in cells and "@id" in cells else None
    place = f"{key[0]}{key[1]}" if key else f"feature {row + 1}"
    origin = f"{layer.name} {place}" if not key else place
    shape = layer.shapes[row]
    if shape is None or shape.is_empty:
        target = rule.layer if rule.layer in SURVEY_LAYERS else ""
        draft.say("warning", target, f"{origin} has no geometry; it is left out")
        return
    if rule.layer in TERRAIN_TARGETS:
        yield from _levels(rule, shape, cells, to_metres, origin, draft)
        return
    metric = to_metres(shapely.force_2d(shape))
    if not np.isfinite(shapely.get_coordinates(metric)).all():
        draft.say("warning", "", f"{origin} lies where the CRS of the site does not reach; it is left out")
        return
    fields = _fields(rule, cells, origin, draft)
    tags = {
        k: str(cells[k]) for k in ("name", "golf_hole", COURSE_FIELD, "ref", "layer", "tee") if k in cells
    }
    if rule.layer == PRACTICE:
        yield from (
            Feature(PRACTICE, p, fields, origin, key, tags)
            for p in _polygons(metric, origin, draft, PRACTICE)
        )
        return
    for part in _fitted(rule.layer, metric, fields, origin, draft):
        yield Feature(rule.layer, part, dict(fields), origin, key, tags)


def _levels(
    rule: Rule, shape: Any, cells: dict[str, Any], to_metres: Any, origin: str, draft: Draft
) -> Iterator[Feature]:
    """Yield contours, spot levels or breaklines with their levels; one without any is told."""
    level = None
    field_of_level = rule.fields.get("level_m")
    if field_of_level is not None or "level_m" in rule.values:
        cell = cells.get(field_of_level or "", rule.values.get("level_m"))
        fits = None if cell is None else _MEASURE.fullmatch(str(cell))
        if fits is not None:
            words = (fits[2] or rule.units.get("level_m", "m")).lower()
            level = float(fits[1]) * next(f for u, f in _UNITS_M.items() if words.startswith(u))
    if level is None and not shape.has_z:
        draft.say(
            "warning", "terrain", f"{origin} has no level; it is left out of the terrain", "map its level"
        )
        return
    kind = POINT if rule.layer == "spot_levels" else LINE
    for piece in _pieces(shape):
        z = shapely.get_coordinates(piece, include_z=True)[:, 2]
        flat = to_metres(shapely.force_2d(piece))
        if flat.geom_type == kind:
            levels = (
                np.full(len(z), level) if level is not None else z * _UNITS_M[rule.units.get("level_m", "m")]
            )
            deep = np.column_stack([shapely.get_coordinates(flat), levels])
            make = shapely.points if kind == POINT else shapely.linestrings
            yield Feature(rule.layer, make(deep[0] if kind == POINT else deep), {}, origin)


def _fields(rule: Rule, cells: dict[str, Any], origin: str, draft: Draft) -> dict[str, Any]:
    if rule.layer == PRACTICE:
        return {}
    fields: dict[str, Any] = {}
    for spec in SURVEY_LAYERS[rule.layer].all_fields:
        value = cells.get(rule.fields.get(spec.name, ""))
        given = rule.values.get(spec.name)
        if isinstance(given, dict):
            value = None if value is None else given.get(str(value), value)
        elif value is None:
            value = given
        if value is not None:
            fields[spec.name] = _typed(spec, value, rule.units.get(spec.name, ""), origin, rule.layer, draft)
    return {k: v for k, v in fields.items() if v is not None}


def _typed(spec: Field, value: Any, unit: str, origin: str, layer: str, draft: Draft) -> Any:
    if spec.name == "hole":
        return hole_number(str(value).split(";")[0]) or (hole_number(int(value)) if _whole(value) else None)
    if spec.kind in ("float", "int"):
        fits = _MEASURE.fullmatch(str(value))
        if fits is None:
            draft.say(
                "warning", layer, f"{origin}: `{spec.name}` is {str(value)!r}, not a number; it is left empty"
            )
            return None
        words = (fits[2] or unit or "m").lower()
        factor = next(f for u, f in _UNITS_M.items() if words.startswith(u)) if spec.unit == "m" else 1.0
        number = float(fits[1]) * factor
        if spec.low is not None and spec.high is not None and not spec.low <= number <= spec.high:
            draft.say(
                "warning", layer, f"{origin}: `{spec.name}` is {number:g}, which cannot be; it is left empty"
            )
            return None
        return int(number) if spec.kind == "int" else number
    if spec.kind == "bool":
        return str(value).strip().lower() in ("1", "true", "yes", "y")
    if spec.choices and str(value) not in spec.choices:
        return None
    return str(value).strip()


def _whole(value: Any) -> bool:
    return (
        isinstance(value, int | float | np.number)
        and not isinstance(value, bool)
        and float(value).is_integer()
    )


def _fitted(layer: str, shape: Any, fields: dict[str, Any], origin: str, draft: Draft) -> list[Any]:
    """Return the parts of a geometry in a type that the layer holds."""
    allowed = SURVEY_LAYERS[layer].geometry
    parts = []
    for piece in _pieces(shape):
        if piece.geom_type == "Polygon" and POLYGON in allowed:
            parts += _polygons(piece, origin, draft, layer)
        elif piece.geom_type in allowed:
            parts.append(piece)
        elif piece.geom_type == LINE and layer == "trees":
            parts.append(piece.buffer(float(fields.get("crown_m", 6.0)) / 2))
        elif piece.geom_type == LINE and POLYGON in allowed:
            parts += _closed(piece, layer, origin, draft)
        elif POINT in allowed and max(np.ptp(shapely.get_coordinates(piece), axis=0)) <= PIN_OUTLINE_M:
            parts.append(piece.centroid)
        elif piece.geom_type == POLYGON and LINE in allowed and layer != "play_lines":
            parts.append(piece.exterior)
        else:
            kinds = " or ".join(allowed)
            draft.say(
                "warning", layer, f"{origin} is a {piece.geom_type}; the layer holds {kinds}; it is left out"
            )
    return parts


def _pieces(shape: Any) -> list[Any]:
    if shape.geom_type == "MultiLineString":
        shape = shapely.line_merge(shape)
    if hasattr(shape, "geoms"):
        return [piece for part in shape.geoms for piece in _pieces(part)]
    return [] if shape.is_empty else [shape]


def _closed(line: Any, layer: str, origin: str, draft: Draft) -> list[Any]:
    ends = line.coords[0], line.coords[-1]
    gap = float(np.hypot(ends[0][0] - ends[1][0], ends[0][1] - ends[1][1]))
    if len(line.coords) < 3 or gap > CLOSING_GAP_M:
        draft.say(
            "warning", layer, f"{origin} is a line that does not close ({gap:.1f} m are open); it is left out"
        )
        return []
    if gap > 0:
        draft.say("note", layer, f"{origin} is closed over a gap of {gap:.2f} m")
    return _polygons(shapely.Polygon(line.coords), origin, draft, layer)


def _polygons(shape: Any, origin: str, draft: Draft, layer: str) -> list[Any]:
    """Return the valid polygons of an outline; one that touches or crosses itself is mended, with a word."""
    if not shape.is_valid:
        mended = shapely.make_valid(shape, method="structure", keep_collapsed=False)
        change = mended.area - shape.area
        draft.say(
            "warning",
            layer if layer in SURVEY_LAYERS else "",
            f"the outline of {origin} crosses or touches itself; it was mended (area {change:+.0f} m²)",
            "look at it",
        )
        shape = mended
    return [p for p in shapely.get_parts(shape).tolist() if p.geom_type == "Polygon" and p.area > 0]
