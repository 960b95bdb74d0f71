"""Results as plain values: rows for machines, with what their columns mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from gistools.base.values import json_value
from gistools.base.version import __version__
from gistools.site.results import Map
from gistools.steps.catalogue import STEPS, find

#: version of the shape that :func:`result_as_json` returns
RESULT_FORMAT = 1


def as_records(result: Any) -> Any:
    """Return a result as plain values: rows without geometry, missing as None; size and unit of a map."""
    if isinstance(result, Mapping):
        return {name: as_records(table) for name, table in result.items()}
    if isinstance(result, Map):
        rows, cols = result.values.shape
        return {"map": result.name, "rows": rows, "cols": cols, "cell_m": result.cell, "unit": result.unit}
    rows = pd.DataFrame(result.drop(columns="geometry", errors="ignore"))
    return [json_value(row) for row in rows.to_dict("records")]


def layers_of(result: Any) -> dict[str, Any]:
    """Return the layers of a result by name, whether the step returned one or several."""
    if isinstance(result, Mapping):
        return dict(result)
    name = result.name if isinstance(result, Map) else result.attrs.get("layer", "")
    return {name: result}


def result_as_json(result: Any, crs: str = "") -> dict[str, Any]:
    """Return a result for machines, in one shape for every step.

    Returns
    -------
    dict
        ``format`` (version of this shape), ``version`` (of the program), ``step``, ``crs`` and ``options``;
        ``layers`` maps each layer to its ``text``, ``geometry`` type, ``columns`` (name to ``unit`` and
        ``text``) and ``rows``; ``maps`` maps each map to its size, cell and unit.
    """
    layers = layers_of(result)
    tables = {name: part for name, part in layers.items() if not isinstance(part, Map)}
    attrs: Mapping[str, Any] = next((t.attrs for t in tables.values() if "step" in t.attrs), {})
    step = attrs.get("step", "")
    declared = {w.layer: w for w in find(step).writes} if step in STEPS else {}
    out: dict[str, Any] = {}
    for name, table in tables.items():
        writes = declared.get(name)
        columns = {c.name: {"unit": c.unit, "text": c.text} for c in writes.columns} if writes else {}
        out[name] = {
            "text": writes.text if writes else "",
            "geometry": writes.geometry if writes else "",
            "columns": {c: columns.get(c, {"unit": "", "text": ""}) for c in table if c != "geometry"},
            "rows": as_records(table),
        }
    return {
        "format": RESULT_FORMAT,
        "version": __version__,
        "step": step,
        "crs": crs,
        "options": json_value(attrs.get("options", {})),
        "layers": out,
        "maps": {name: as_records(part) for name, part in layers.items() if isinstance(part, Map)},
    }
