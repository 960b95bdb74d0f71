"""Results on their way into a file, and out of it again."""

from __future__ import annotations

import dataclasses
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.site import _raster, _vector
from gistools.site._file import look_inside
from gistools.site.model import Map, Site, metric_twin
from gistools.site.provenance import records
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
from gistools.steps.catalogue import STEPS, Writes, find

KEY = "row_id"


@dataclass(frozen=True, eq=False)
class Item:
    """One result layer to be written.

    Attributes
    ----------
    table
        Name of the table in the file.
    content
        A GeoDataFrame, a DataFrame, or a Map.
    step, options
        Where it came from.
    declared
        What the step says about the layer, or None.
    """

    table: str
    content: Any
    step: str
    options: Mapping[str, Any]
    declared: Writes | None

    @property
    def hole(self) -> int | None:
        """The one hole the result is about, or None."""
        return self.options.get("hole")

    @property
    def text(self) -> str:
        """What the layer shows, for people."""
        if isinstance(self.content, Map):
            return self.content.text
        return self.declared.text if self.declared else ""

    @property
    def titles(self) -> dict[str, tuple[str, str]]:
        """Column -> (title with unit, meaning), for the columns that are declared."""
        if isinstance(self.content, Map) or self.declared is None:
            return {}
        here = set(self.content.columns)
        return {c.name: (c.title, c.text) for c in self.declared.columns if c.name in here}


def table_name(layer: str) -> str:
    """Return the table of a result layer: prefix, lower case, plain letters (OGC 12-128r18, clause 1.1.1)."""
    if layer == TERRAIN_PROPOSED:
        return TERRAIN_PROPOSED
    bare = unicodedata.normalize("NFKD", layer.removeprefix(RESULT_PREFIX)).encode("ascii", "ignore").decode()
    return RESULT_PREFIX + (re.sub(r"[^a-z0-9]+", "_", bare.lower()).strip("_") or "result")


def gather(results: Any) -> list[Item]:
    """Return what is to be written, layer by layer.

    Raises
    ------
    InputError
        If something is not the result of a step, or two results would be the same table.
    """
    items = list(_items(results))
    if not items:
        raise InputError("there is nothing to write: give the results of one or more steps")
    seen: dict[str, Item] = {}
    for item in items:
        if item.table in seen:
            raise InputError(
                f"two results would both be the layer {item.table}: write one of them, or name maps apart"
            )
        seen[item.table] = item
    return items


def _items(results: Any) -> Iterator[Item]:
    if isinstance(results, Map | pd.DataFrame):
        yield _item(results)
    elif isinstance(results, Mapping):
        for result in results.values():
            yield from _items(result)
    elif isinstance(results, Iterable) and not isinstance(results, str | bytes):
        for result in results:
            yield from _items(result)
    else:
        raise InputError(f"{type(results).__name__} is not the result of a step and cannot be written")


def _item(result: Any) -> Item:
    attrs = result.attrs
    layer = result.name if isinstance(result, Map) else attrs.get("layer")
    if not layer:
        raise InputError(
            "this table does not say which layer it is (its attrs were lost on the way):"
            " write what a step returned, or set table.attrs['layer']"
        )
    step = str(attrs.get("step", ""))
    declared = None
    if step in STEPS:
        own = str(attrs.get("layer", layer))
        wanted = [w for w in find(step).writes if w.layer == own or (w.geometry == "raster")]
        declared = next((w for w in wanted if (w.geometry == "raster") == isinstance(result, Map)), None)
    return Item(table_name(str(layer)), result, step, attrs.get("options", {}), declared)


def read_result(site: Site | str | Path, layer: str) -> Any:
    """Read a result layer back from a file.

    Parameters
    ----------
    site
        A site, or the path of a GeoPackage.
    layer
        Name of the layer, with or without ``study_``.

    Returns
    -------
    GeoDataFrame, DataFrame or Map
        As the step returned it, in the CRS of the file (maps in metres), its record in ``attrs``.

    Raises
    ------
    SiteError
        If the file has no such layer.
    """
    path = site.path if isinstance(site, Site) else Path(site)
    if path is None:
        raise SiteError("the site was made in memory and has no file; give the path results were written to")
    contents = look_inside(path)
    found = contents.find(table_name(layer))
    if found is None:
        have = [t.name for t in contents.tables if t.name.lower().startswith(RESULT_PREFIX)]
        raise SiteError(f"{path} has no result layer {layer!r}; it has {', '.join(sorted(have)) or 'none'}")
    told = records(path).get(found.name, [{}])[-1]
    attrs = {
        "layer": found.name.removeprefix(RESULT_PREFIX),
        "step": told.get("step", ""),
        "options": told.get("options", {}),
    }
    if found.kind == "2d-gridded-coverage":
        return dataclasses.replace(_map(path, found.name), attrs=attrs)
    table = _table(_vector.read_layer(path, found.name))
    table.attrs = attrs
    return table


def _map(path: Path, table: str) -> Map:
    info = _raster.describe(path, table)
    unit_m = metric_twin(info.crs)[1] if info.crs is not None else 1.0
    values = _raster.read_window(path, 0, 0, info.rows, info.cols, table).astype(np.float32)
    return Map(
        table.removeprefix(RESULT_PREFIX),
        values,
        info.x_west * unit_m,
        info.y_north * unit_m,
        info.cell * unit_m,
        info.unit,
        "",
    )


def _table(raw: _vector.RawLayer) -> Any:
    table = pd.DataFrame(
        {c: _typed(raw.table[c], raw.types[c]) for c in raw.table.columns}, index=raw.table.index
    )
    if raw.geometry is None:
        return table
    return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries(raw.geometry, index=table.index), crs=raw.crs)


def _typed(values: pd.Series, kind: str) -> Any:
    full = not values.isna().any()
    if kind.startswith("int"):
        return values.astype("int64" if full else "Int64")
    if kind == "bool":
        return values.astype("bool" if full else "boolean")
    if kind == "float":
        return values.astype("float64")
    return values


def with_other_holes(item: Item, path: Path) -> Item:
    """Return a result of one hole together with what the file holds for the other holes.

    Only where the layer in the file has the same columns; else the new result replaces all of it.
    """
    if item.hole is None or isinstance(item.content, Map) or "hole" not in item.content:
        return item
    if look_inside(path).find(item.table) is None:
        return item
    old = read_result(path, item.table)
    new = item.content
    if set(old.columns) != set(new.columns) or type(old) is not type(new):
        return item
    rest = old[old["hole"] != item.hole]
    if len(rest) == 0:
        return item
    if isinstance(new, gpd.GeoDataFrame):
        rest = rest.set_crs(new.crs, allow_override=True)
    both = rest[list(new.columns)] if len(new) == 0 else pd.concat([rest[list(new.columns)], new])
    both = both.sort_values("hole", kind="stable").reset_index(drop=True)
    return dataclasses.replace(item, content=both)
