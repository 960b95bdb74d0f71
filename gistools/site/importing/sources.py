"""Sources of an import as tables: what any vector file holds, layer by layer, unjudged.

A source is a file on this computer: nothing is fetched. OpenStreetMap exports are read by
:mod:`gistools.site.importing.osm`; everything else comes through the one door to fiona.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from gistools.base.errors import InputError
from gistools.site import _vector
from gistools.site._file import look_inside, views_in
from gistools.site.importing.golf_tags import GOLF_VALUES, TAG_KEYS
from gistools.site.importing.osm import read_osm
from gistools.site.importing.source_layer import SourceLayer

OSM_SUFFIXES = (".osm", ".osm.pbf", ".pbf", ".osm.bz2", ".osm.gz")
LICENCE = (
    "© OpenStreetMap contributors, Open Database Licence 1.0: attribution, share-alike for derived databases"
)
_PAIR = re.compile(r'"((?:[^"\\]|\\.)*)"=>"((?:[^"\\]|\\.)*)"')


def read_sources(paths: list[Path]) -> list[SourceLayer]:
    """Read every layer of the sources.

    Raises
    ------
    InputError
        If a source is no file on this computer or of a format that is not read.
    SiteError
        If it cannot be read.
    """
    layers: list[SourceLayer] = []
    if not paths:
        raise InputError("terrain alone is no site; name a file with tees, fairways and greens as well")
    for path in paths:
        if not path.exists():
            raise InputError(f"{path}: there is no such file; name a file on this computer")
        if path.name.lower().endswith(OSM_SUFFIXES):
            layers.append(read_osm(path))
        else:
            layers += _read_file(path)
    if not any(len(layer.table) for layer in layers):
        raise InputError(f"{', '.join(p.name for p in paths)}: there is no feature in it")
    return layers


def _read_file(path: Path) -> list[SourceLayer]:
    layers = []
    if path.suffix.lower() == ".gpkg":
        look_inside(path, pages="some")  # what was cut short is read without a word up to there
    views = views_in(path) if path.is_file() else set()
    for name in _vector.layer_names(path):
        if name.lower() in views:
            why = "it is a view, a program that runs when it is read; it is not read"
            layers.append(SourceLayer(path.name, name, pd.DataFrame(), [], None, lost=(why,)))
            continue
        raw = _vector.read_layer(path, name)
        if raw.geometry is None:
            continue
        table = _with_tags(raw.table)
        table = table.rename(columns={c: c.lower() for c in table.columns if str(c).lower() == "golf"})
        values = {str(cell).strip().lower() for cell in table.get("golf", ())}
        tagged = bool(values & GOLF_VALUES) or sum(key in table.columns for key in TAG_KEYS) >= 2
        lost = tuple(f"feature {fid}: its geometry cannot be read ({why})" for fid, why in raw.broken.items())
        crs = raw.crs
        if path.suffix.lower() in (".dxf", ".dgn"):
            crs = None  # a drawing has no CRS; what GDAL may guess is none
        layers.append(SourceLayer(path.name, name, table, raw.geometry, crs, tagged, (), lost))
    return layers


def _with_tags(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with columns for tags that are packed in one field (JSON or key-value text)."""
    for column in table.columns:
        if str(column).lower() not in ("tags", "other_tags", "alltags", "all_tags"):
            continue
        rows = [_unpacked(cell) for cell in table[column]]
        keys = list(dict.fromkeys(k for row in rows for k in row))
        columns: dict[str, list[Any]] = {str(c): table[c].tolist() for c in table.columns if c != column}
        for key in keys:
            old = columns.get(key, [None] * len(rows))
            columns[key] = [
                row.get(key) if cell is None else cell for row, cell in zip(rows, old, strict=True)
            ]
        table = pd.DataFrame({k: pd.Series(v, dtype=object) for k, v in columns.items()})
    return table


def _unpacked(cell: Any) -> dict[str, str]:
    if isinstance(cell, Mapping):
        return {str(k): str(v) for k, v in cell.items()}
    if not isinstance(cell, str) or not cell.strip():
        return {}
    if cell.lstrip().startswith("{"):
        try:
            loaded = json.loads(cell)
        except ValueError:
            return {}
        return {str(k): str(v) for k, v in loaded.items()} if isinstance(loaded, dict) else {}
    return {k.replace('\\"', '"'): v.replace('\\"', '"') for k, v in _PAIR.findall(cell)}
