"""Surveyors' fields turned into those of the schema, and what had to be assumed or refused on the way."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError
from gistools.base.settings import SETTINGS
from gistools.base.units import UNITS
from gistools.base.values import is_missing
from gistools.site.findings import Finding, listed
from gistools.site.schema import LINE, POINT, SURVEY_LAYERS, TABLES, Field, LayerSpec
from gistools.site.vocabulary import hole_number

#: fields that matter for one geometry type only: the width of a line, the crown of a single tree
ONLY_FOR = {"width_m": LINE, "crown_m": POINT}
_YES = {"1", "true", "t", "yes", "y"}
_NO = {"0", "false", "f", "no", "n"}

Names = Mapping[str, Any]


def names_for(layer: str, fields: Names | None) -> dict[str, str]:
    """Return the surveyor's field names for one layer: our field -> theirs.

    ``fields`` maps our field to theirs for every layer, or a layer to such a mapping, or both; a mapping of
    the layer itself wins.

    Raises
    ------
    InputError
        If it names a layer or field that the schema doesn't have.
    """
    renamed: dict[str, str] = {}
    specs = {**SURVEY_LAYERS, **TABLES}
    every = {f.name for spec in specs.values() for f in spec.all_fields}
    for key, value in (fields or {}).items():
        if isinstance(value, Mapping):
            if key not in specs:
                raise InputError(f"fields names the layer {key!r}; the layers are {', '.join(specs)}")
            known = {f.name for f in specs[key].all_fields}
            for ours in value:
                if ours not in known:
                    raise InputError(
                        f"fields: {key} has no field {ours!r}; it has {', '.join(sorted(known))}"
                    )
        elif key not in every:
            similar = difflib.get_close_matches(key, every, 1)
            hint = f"; did you mean {similar[0]!r}?" if similar else ""
            raise InputError(f"fields: there is no field {key!r} in any layer{hint}")
    for key, value in (fields or {}).items():
        if not isinstance(value, Mapping):
            renamed[key] = str(value)
    own_names = (fields or {}).get(layer)
    if isinstance(own_names, Mapping):
        renamed.update({str(k): str(v) for k, v in own_names.items()})
    return renamed


def read_fields(
    table: pd.DataFrame,
    ids: list[int],
    spec: LayerSpec,
    fields: Names | None = None,
    kinds: list[str] | None = None,
) -> tuple[dict[str, Any], list[Finding]]:
    """Return the schema's columns of a layer, filled and typed, and findings.

    Parameters
    ----------
    table
        The surveyor's fields, a row per feature.
    ids
        Feature ids of the rows.
    spec
        The layer.
    fields
        The surveyor's own field names, see :func:`names_for`.
    kinds
        Geometry type of each row, for fields that matter for one type only.
    """
    theirs = names_for(spec.name, fields)
    present = {str(c).lower(): c for c in table.columns}
    columns: dict[str, Any] = {}
    findings: list[Finding] = []
    for field in spec.all_fields:
        source = _source(field, theirs, present, fields, spec, findings)
        cells = [None] * len(table) if source is None else table[source].tolist()
        matters = [
            kinds is None or field.name not in ONLY_FOR or k == ONLY_FOR[field.name] for k in kinds or []
        ]
        values = _values(field, cells, ids, spec, findings)
        _gaps(field, values, ids, matters or [True] * len(ids), source, spec, findings)
        columns[field.name] = _typed(field, values)
    return columns, findings


def _source(
    field: Field,
    theirs: dict[str, str],
    present: dict[str, Any],
    fields: Names | None,
    spec: LayerSpec,
    findings: list[Finding],
) -> Any:
    if field.name not in theirs:
        return present.get(field.name.lower())
    their_name = theirs[field.name]
    source = present.get(their_name.lower())
    if source is None and isinstance((fields or {}).get(spec.name), Mapping):
        have = ", ".join(map(str, present.values())) or "none"
        findings.append(
            Finding(
                "error",
                spec.name,
                None,
                f"there is no field {their_name!r}, named for `{field.name}`; the layer has {have}",
                "correct fields=",
            )
        )
    # a name given for every layer need not be in each of them
    return source if source is not None else present.get(field.name.lower())


def _values(
    field: Field, cells: list[Any], ids: list[int], spec: LayerSpec, findings: list[Finding]
) -> list[Any]:
    read = {"int": _int, "float": _float, "text": _text, "bool": _bool}[field.kind]
    values: list[Any] = []
    texts: list[int] = []
    for fid, cell in zip(ids, cells, strict=True):
        if _empty(cell):
            values.append(None)
            continue
        try:
            number = hole_number(cell) if field.name == "hole" and isinstance(cell, str) else None
            value = read(cell) if number is None else number
        except ValueError as fault:
            findings.append(
                Finding(
                    "error",
                    spec.name,
                    fid,
                    f"`{field.name}` is {cell!r}, {fault}",
                    f"put in the {field.text}",
                )
            )
            values.append(None)
            continue
        if field.kind in ("int", "float") and isinstance(cell, str):
            texts.append(fid)
        findings.extend(_out_of_bounds(field, value, fid, spec))
        values.append(value)
    if texts:
        message = f"`{field.name}` is stored as text; it was read as a number"
        findings.append(Finding("note", spec.name, None, message))
    return values


def _out_of_bounds(field: Field, value: Any, fid: int, spec: LayerSpec) -> list[Finding]:
    if field.words and str(value).casefold() not in field.words:
        message = (
            f"`{field.name}` is {value!r}, not one of {', '.join(field.words)}; {field.default} is taken"
        )
        return [
            Finding("warning", spec.name, fid, message, "correct it where it matters for clear distances")
        ]
    if field.choices and value not in field.choices:
        message = f"`{field.name}` is {value!r}; it can be {', '.join(field.choices)}"
        return [Finding("error", spec.name, fid, message, f"correct it: {field.text}")]
    if field.low is None or field.high is None or field.low <= value <= field.high:
        return []
    unit = UNITS[field.unit][1]
    return [
        Finding(
            "error",
            spec.name,
            fid,
            f"`{field.name}` is {value:g}; {field.low:g} to {field.high:g} {unit}".rstrip() + " is possible",
            f"correct the {field.text}",
        )
    ]


def _gaps(
    field: Field,
    values: list[Any],
    ids: list[int],
    matters: list[bool],
    source: Any,
    spec: LayerSpec,
    findings: list[Finding],
) -> None:
    """Fill gaps by the default and say so, or say what is missing."""
    refused = {f.fid for f in findings if f.level == "error" and f"`{field.name}`" in f.message}
    empty = [i for i, v in enumerate(values) if v is None]
    missing = [ids[i] for i in empty if ids[i] not in refused and matters[i]]
    if field.required and missing:
        if source is None:
            message = f"there is no field `{field.name}` ({field.text})"
            remedy = "add it, or bring the file in with `gistools import` (Python: fields=)"
            findings.append(Finding("error", spec.name, None, message, remedy))
        else:
            for fid in missing:
                message = f"`{field.name}` is empty"
                findings.append(Finding("error", spec.name, fid, message, f"put in the {field.text}"))
    elif field.setting and missing and SETTINGS[field.setting].type is float:
        findings.append(_left_to_setting(field, missing, len(missing) == sum(matters), spec))
    elif field.default is not None:
        if missing:
            findings.append(_assumed(field, missing, len(missing) == sum(matters), spec))
        for i in empty:
            values[i] = field.default


def _assumed(field: Field, missing: list[int], all_of_them: bool, spec: LayerSpec) -> Finding:
    number = isinstance(field.default, float) and field.default != 0.0
    shown = f"{field.default:g} {UNITS[field.unit][1]}".strip() if number else repr(field.default)
    if field.default == 0.0 and isinstance(field.default, float):
        shown = f"0 {UNITS[field.unit][1]}"
    which = "all features" if all_of_them else f"features {listed(missing)}"
    return Finding(
        "warning" if number else "note",
        spec.name,
        None,
        f"`{field.name}` ({field.text}) is empty for {which}; {shown} was assumed",
        "put it in where it differs" if number else "",
    )


def _left_to_setting(field: Field, missing: list[int], all_of_them: bool, spec: LayerSpec) -> Finding:
    setting = SETTINGS[field.setting]
    which = "all features" if all_of_them else f"features {listed(missing)}"
    return Finding(
        "warning",
        spec.name,
        None,
        f"`{field.name}` ({field.text}) is empty for {which}; the setting {setting.name} is used there"
        f" ({setting.default:g} {UNITS[setting.unit][1]} where it is not set)",
        "put it in where it differs",
    )


def _typed(field: Field, values: list[Any]) -> Any:
    full = all(v is not None for v in values)
    if field.kind == "float" or (field.kind == "int" and not full):
        return np.array([math.nan if v is None else v for v in values], dtype=float)
    if field.kind == "int":
        return np.array(values, dtype=np.int64)
    if field.kind == "bool" and full:
        return np.array(values, dtype=bool)
    out = np.empty(len(values), dtype=object)
    out[:] = values
    return pd.Series(out, dtype=object).array


def _empty(cell: Any) -> bool:
    return is_missing(cell) or (isinstance(cell, str) and not cell.strip())


def _float(cell: Any) -> float:
    if isinstance(cell, bool):
        raise ValueError("not a number")
    try:
        value = float(cell)
    except (TypeError, ValueError):
        hint = " (a decimal comma?)" if isinstance(cell, str) and "," in cell else ""
        raise ValueError(f"not a number{hint}") from None
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


def _int(cell: Any) -> int:
    value = _float(cell)
    if value != int(value):
        raise ValueError("not a whole number")
    return int(value)


def _text(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    return str(cell).strip()


def _bool(cell: Any) -> bool:
    word = str(int(cell) if isinstance(cell, float) and cell.is_integer() else cell).strip().lower()
    if word in _YES or word in _NO:
        return word in _YES
    raise ValueError("neither yes nor no")
