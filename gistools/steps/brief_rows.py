"""The designer's intentions checked against what the steps measured.

A row names a measure, ``step.column`` (``layer.column`` where a step writes several layers), what it concerns
(hole, tee, player, wind, zone, pin, feature, line; empty means all) and what is asked: at least, at most, or
the value it has to be. All rows of the result that match have to satisfy it; the figure reported is the one
farthest from it.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from gistools.base.errors import GistoolsError, InputError
from gistools.base.renamed import renamed_measure
from gistools.base.units import UNITS, figure_in_words, heading, unit_of
from gistools.site.model import Site
from gistools.site.schema import TABLES, Field
from gistools.steps.catalogue import STEPS, Step, find, need

FILTERS = ("tee", "player", "wind", "zone", "pin", "feature", "line")
KINDS = {"text": "text in quotes", "int": "a whole number", "float": "a number", "bool": "true or false"}
WORDS = {"true": True, "yes": True, "false": False, "no": False}


def read_brief(path: str | Path) -> pd.DataFrame:
    """Read a brief from a TOML file: ``[[brief]]`` tables with the fields of the table ``brief``.

    For example::

        [[brief]]
        hole = 1
        measure = "carries.carry_m"
        tee = "forward"
        at_most = 119
        why = "a short hitter gets over"

    A row binds unless it has ``must = false``; ``is_value`` takes text, a number or true and false.

    Parameters
    ----------
    path
        The TOML file.

    Returns
    -------
    DataFrame
        The rows, with the fields of the table ``brief``.

    Raises
    ------
    InputError
        If the file cannot be read, or a row has a field that is unknown, missing or not what it should be;
        the message names
        file and row.
    """
    try:
        content = tomllib.loads(Path(path).read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        why = fault.strerror if isinstance(fault, OSError) else fault
        raise InputError(f"{path}: the brief cannot be read: {why}") from fault
    rows = content.get("brief", [])
    others = sorted(set(content) - {"brief"})
    if others or not rows or not isinstance(rows, list) or not all(isinstance(r, dict) for r in rows):
        has = f"; it has {', '.join(others)}" if others else ""
        raise InputError(f"{path}: a brief is a list of [[brief]] tables, and nothing else{has}")
    fields = {f.name: f for f in TABLES["brief"].all_fields}
    for number, row in enumerate(rows, 1):
        try:
            _check_fields(row, fields)
        except InputError as fault:
            raise InputError(f"{path}: row {number} {fault}") from fault
    table = pd.DataFrame(
        [{f: row.get(f) for f in fields} for row in rows], columns=list(fields), dtype=object
    )
    table["must"] = [True if v is None else v for v in table["must"]]
    return table


def _check_fields(row: dict[str, Any], fields: dict[str, Field]) -> None:
    """Refuse a row of a file that cannot be meant; the message goes on from "row 3"."""
    unknown = sorted(set(row) - set(fields))
    if unknown:
        raise InputError(f"has {', '.join(unknown)}; a row can have: {', '.join(fields)}")
    for name, value in row.items():
        field = fields[name]
        if name == "is_value" and isinstance(value, (str, bool, int, float)):
            row[name] = str(value).lower() if isinstance(value, bool) else str(value)
        elif not _is(value, field.kind):
            raise InputError(f"has {name} = {value!r}; it should be {KINDS[field.kind]}")
        elif field.low is not None and field.high is not None and not field.low <= value <= field.high:
            raise InputError(f"has {name} = {value!r}; it should be from {field.low} to {field.high}")
    if not row.get("measure"):
        raise InputError("has no measure; name one as step.column, for example carries.carry_m")
    if row.get("at_least", -math.inf) > row.get("at_most", math.inf):
        raise InputError(f"asks at_least {row['at_least']} and at_most {row['at_most']}; nothing is both")
    try:
        target_of(row["measure"])
        _test_of(row)
    except InputError as fault:
        raise InputError(f"cannot be checked: {fault}") from fault


def _is(value: Any, kind: str) -> bool:
    if kind == "bool" or isinstance(value, bool):
        return kind == "bool" and isinstance(value, bool)
    if kind == "text":
        return isinstance(value, str)
    whole = isinstance(value, int)
    return whole if kind == "int" else whole or (isinstance(value, float) and math.isfinite(value))


def target_of(measure: str) -> tuple[Step, str, str]:
    """Return step, layer and column that a measure names.

    Raises
    ------
    InputError
        If it names none; the message says what can be named.
    """
    head, _, column = str(measure).partition(".")
    if not column:
        raise InputError(f"measure {measure!r} should be step.column, for example carries.carry_m")
    names = [head] if head in STEPS else list(STEPS)
    for name in names:
        if name == "brief":
            continue
        spec = find(name)
        for writes in spec.writes:
            if (
                writes.geometry != "raster"
                and head in (name, writes.layer)
                and column in [c.name for c in writes.columns]
            ):
                if head == name and head != writes.layer and any(w.layer == head for w in spec.writes):
                    continue
                return spec, writes.layer, column
    layers = {
        w.layer: [c.name for c in w.columns]
        for n in STEPS
        if n != "brief"
        for w in find(n).writes
        if w.columns
    }
    now = renamed_measure(str(measure))
    if now is not None:
        raise InputError(f"measure {measure!r} is called {now!r} now")
    if head in layers:
        raise InputError(
            f"measure {measure!r}: {head} has no column {column!r}; it has {', '.join(layers[head])}"
        )
    raise InputError(
        f"measure {measure!r}: there is no step or layer {head!r}; there are: {', '.join(layers)}"
    )


def check_row(site: Site, row: dict[str, Any]) -> dict[str, Any]:
    """Check one row; a row that cannot be answered says why in ``asked``."""
    given: dict[str, Any] = {k: row.get(k) for k in ("hole", *FILTERS) if not _empty(row.get(k))}
    out: dict[str, Any] = {k: given.get(k, "") for k in FILTERS}
    out |= {
        "hole": int(float(given["hole"])) if "hole" in given else None,
        "measure": str(row["measure"]),
        "must": True if _empty(row.get("must")) else bool(row["must"]),
        "why": "" if _empty(row.get("why")) else str(row["why"]),
        "figure": "",
        "margin": float("nan"),
        "rows_count": 0,
    }
    try:
        spec, layer, column = target_of(out["measure"])
        test = _test_of(row)
        table = _result(site, spec, layer, out["hole"], given)
        table = _matching(table, given, out["measure"])
    except GistoolsError as fault:
        return out | {"requirement": str(fault), "result": "no answer"}
    values = table[column]
    values = values[[not _empty(v) for v in values]]
    out |= {"requirement": asked_words(row), "rows_count": len(values)}
    if not len(values):
        return out | {"result": "no answer"}
    try:
        margins = [test(v) for v in values]
    except (TypeError, ValueError):
        return out | {
            "requirement": f"{out['requirement']}, but {out['measure']} is not a number",
            "result": "no answer",
        }
    worst = min(range(len(margins)), key=lambda k: margins[k])
    figure = values.iloc[worst]
    margin = margins[worst]
    return out | {
        "figure": f"{float(figure):.6g}"
        if isinstance(figure, (int, float)) and not isinstance(figure, bool)
        else str(figure),
        "margin": margin if math.isfinite(margin) else float("nan"),
        "result": "holds" if margin >= 0 else "fails",
    }


def asked_words(row: dict[str, Any]) -> str:
    """Write what a row asks in words."""
    parts = []
    for field, words in (("at_least", "at least"), ("at_most", "at most"), ("is_value", "is")):
        if not _empty(row.get(field)):
            value = row[field]
            parts.append(f"{words} {value:g}" if isinstance(value, float) else f"{words} {value}")
    return " and ".join(parts)


def asked_in_units(requirement: str, measure: str, units: str = "m") -> str:
    """Write what a row asks with its unit, lengths in metres or yards: ``"at most 130 yd"``."""
    column = measure.rpartition(".")[2]
    _, factor, shown = heading(column, unit_of(column), units)
    sign = UNITS.get(shown, ("", shown))[1]

    def limit(match: re.Match[str]) -> str:
        words, number = match.groups()
        if factor != 1.0:
            return f"{words} {figure_in_words(float(number), column, units)}"
        return f"{words} {number} {sign}".rstrip().replace(" °", "°")

    return re.sub(r"(at least|at most) (-?[\d.]+)", limit, requirement)


def figure_of(row: Mapping[Any, Any], units: str = "m") -> str:
    """Write the figure of a checked row with its unit, words as they are."""
    try:
        return figure_in_words(float(row["figure"]), str(row["measure"]).rpartition(".")[2], units)
    except ValueError:
        return str(row["figure"])


def _test_of(row: dict[str, Any]) -> Any:
    low, high, exact = (row.get(f) for f in ("at_least", "at_most", "is_value"))
    if _empty(low) and _empty(high) and _empty(exact):
        raise InputError("the row asks nothing: give at_least, at_most or is_value")

    def margin(value: Any) -> float:
        margin_left = math.inf
        if not _empty(low):
            margin_left = min(margin_left, float(value) - float(low))  # type: ignore[arg-type]
        if not _empty(high):
            margin_left = min(margin_left, float(high) - float(value))  # type: ignore[arg-type]
        if not _empty(exact):
            margin_left = min(margin_left, math.inf if _same(value, exact) else -math.inf)
        return margin_left

    return margin


def _same(value: Any, exact: Any) -> bool:
    text = str(exact).strip().lower()
    if isinstance(value, (bool,)) or str(type(value).__name__).startswith("bool"):
        return text in WORDS and bool(value) == WORDS[text]
    try:
        return math.isclose(float(value), float(text), rel_tol=1e-9, abs_tol=1e-9)
    except (TypeError, ValueError):
        return str(value).strip().lower() == text


def _result(site: Site, spec: Step, layer: str, hole: int | None, given: dict[str, Any]) -> Any:
    options: dict[str, Any] = {}
    known = {c.name for c in spec.choices}
    if "hole" in known:
        options["hole"] = hole
    for field, option in (("player", "players"), ("wind", "winds")):
        if option in known and field in given:
            options[option] = (str(given[field]),)
    result = need(site, spec.name, **options)
    return result[layer] if isinstance(result, dict) else result


def _matching(table: Any, given: dict[str, Any], measure: str) -> Any:
    """Return the rows a row of the brief is about; of a layer that follows shot after shot, the tee shots."""
    if "shot_number" in table.columns:
        table = table[table["shot_number"] == 1]
    for key, value in given.items():
        if key not in table.columns or (key != "hole" and len(table) and (table[key] == "").all()):
            raise InputError(f"{measure} is not told apart by {key}; leave {key} empty")
        if key == "hole":
            table = table[table[key] == int(float(value))]
        else:
            table = table[table[key].astype(str).str.lower() == str(value).strip().lower()]
    return table


def _empty(value: Any) -> bool:
    return (
        value is None
        or value is pd.NA
        or value is pd.NaT
        or value == ""
        or (isinstance(value, float) and math.isnan(value))
    )
