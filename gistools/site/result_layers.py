"""Results as layers of a file: what is to be written, and what was written read back."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from pandas.api.types import is_float_dtype

from gistools.base.columns import REGISTRY, decimals_of
from gistools.base.errors import InputError, SiteError
from gistools.base.values import slug
from gistools.site import _raster, _vector
from gistools.site._file import look_inside, reading
from gistools.site.provenance import column_infos, records
from gistools.site.results import LayerInfo, Map
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
from gistools.site.types import SiteData, metre_crs_of


@dataclass(frozen=True, eq=False)
class ResultLayer:
    """A result to be written.

    Attributes
    ----------
    table
        Name of the table in the file.
    content
        A GeoDataFrame, a DataFrame, or a Map.
    info
        What the result says about itself.
    """

    table: str
    content: Any
    info: LayerInfo

    @property
    def hole(self) -> int | None:
        """The one hole the result is about, or None."""
        return self.info.options.get("hole")

    @property
    def text(self) -> str:
        """What the layer shows, for people."""
        return self.content.text if isinstance(self.content, Map) else self.info.text

    @property
    def keys(self) -> Mapping[str, Any]:
        """What a map is of; empty for tables."""
        return self.content.keys if isinstance(self.content, Map) else {}


def table_name(layer: str) -> str:
    """Return the table of a result layer: prefix, lower case, plain letters (OGC 12-128r18, clause 1.1.1)."""
    if layer == TERRAIN_PROPOSED:
        return TERRAIN_PROPOSED
    return RESULT_PREFIX + slug(layer.removeprefix(RESULT_PREFIX), "result")


def result_layers(results: Any) -> list[ResultLayer]:
    """Return what is to be written, layer by layer.

    Parameters
    ----------
    results
        A table or map, or mappings and sequences of them, nested as they come.

    Raises
    ------
    InputError
        If something is not the result of a step, or two results would be the same table.
    """
    layers = list(_flattened(results))
    if not layers:
        raise InputError("there is nothing to write: give the results of one or more steps")
    tables = set()
    for layer in layers:
        if layer.table in tables:
            raise InputError(
                f"two results would both be the layer {layer.table}: write one of them, or name maps apart"
            )
        tables.add(layer.table)
    return layers


def _flattened(results: Any) -> Iterator[ResultLayer]:
    if isinstance(results, Map | pd.DataFrame):
        info = layer_info(results)
        yield ResultLayer(table_name(info.layer), stored_figures(results), info)
    elif isinstance(results, Iterable) and not isinstance(results, str | bytes):
        for result in results.values() if isinstance(results, Mapping) else results:
            yield from _flattened(result)
    else:
        raise InputError(f"{type(results).__name__} is not the result of a step and cannot be written")


def stored_figures(result: Any) -> Any:
    """Return a table with figures rounded to what their columns keep; maps and other columns stay."""
    if isinstance(result, Map):
        return result
    rounded = result.copy(deep=False)
    for name, digits in decimals_of(REGISTRY[c] for c in result.columns if c in REGISTRY).items():
        if is_float_dtype(result[name].dtype):
            rounded[name] = result[name].round(digits)
    return rounded


def layer_info(result: Any) -> LayerInfo:
    """Return what a table or map says about itself; ``layer``, ``step`` and ``options`` of its attrs win.

    Raises
    ------
    InputError
        If a table does not say which layer it is.
    """
    attrs = result.attrs
    stored = attrs.get("layer_info", LayerInfo(""))
    info = LayerInfo(*stored)._replace(
        **{k: attrs[k] for k in ("layer", "step", "options") if k in attrs},
    )
    if isinstance(result, Map):
        info = info._replace(layer=result.name, geometry="raster")
    if not info.layer:
        raise InputError(
            "this table does not say which layer it is (its attrs were lost on the way):"
            " write what a step returned, or set table.attrs['layer']"
        )
    return info


def read_result(site: SiteData | str | Path, layer: str) -> Any:
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
        As the step returned it, in the CRS of the file (maps in metres), what it says about itself in
        ``attrs``.

    Raises
    ------
    SiteError
        If the file has no such layer.
    """
    path = Path(site) if isinstance(site, str | Path) else site.path
    if path is None:
        raise SiteError("the site was made in memory and has no file; give the path results were written to")
    contents = look_inside(path)
    entry = contents.find(table_name(layer))
    if entry is None:
        have = [t.name for t in contents.tables if t.name.lower().startswith(RESULT_PREFIX)]
        raise SiteError(f"{path} has no result layer {layer!r}; it has {', '.join(sorted(have)) or 'none'}")
    record = records(path).get(entry.name, [{}])[-1]
    with reading(path) as link:
        columns = column_infos(link, entry.name)
    info = LayerInfo(
        entry.name.removeprefix(RESULT_PREFIX),
        text=entry.text,
        columns=columns,
        step=record.get("step", ""),
        options=record.get("options", {}),
        reads=tuple(record.get("reads", ())),
        cautions=tuple(record.get("cautions", ())),
        sources=tuple(record.get("sources", ())),
    )
    if entry.kind == "2d-gridded-coverage":
        info = info._replace(geometry="raster")
        return _read_map(path, entry.name, info, record.get("keys", {}))
    raw = _vector.read_layer(path, entry.name)
    table = _typed_table(raw)
    table.attrs = info._replace(geometry="" if raw.geometry is None else raw.declared).as_attrs()
    return table


def _read_map(path: Path, table: str, info: LayerInfo, keys: Mapping[str, Any]) -> Map:
    raster = _raster.describe(path, table)
    unit_m = metre_crs_of(raster.crs)[1] if raster.crs is not None else 1.0
    values = _raster.read_window(path, 0, 0, raster.rows, raster.cols, table).astype(np.float32)
    return Map(
        table.removeprefix(RESULT_PREFIX),
        values,
        raster.x_west * unit_m,
        raster.y_north * unit_m,
        raster.cell * unit_m,
        raster.unit,
        info.text,
        keys,
        info.as_attrs(),
    )


def _typed_table(raw: _vector.RawLayer) -> Any:
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


def with_other_holes(layer: ResultLayer, path: Path) -> ResultLayer:
    """Return a result of one hole together with what the file holds for the other holes.

    Only where the layer in the file has the same columns; else the new result replaces all of it.
    """
    new = layer.content
    if layer.hole is None or isinstance(new, Map) or "hole" not in new:
        return layer
    if look_inside(path).find(layer.table) is None:
        return layer
    old = read_result(path, layer.table)
    if set(old.columns) != set(new.columns) or type(old) is not type(new):
        return layer
    others = old[old["hole"] != layer.hole]
    if len(others) == 0:
        return layer
    if isinstance(new, gpd.GeoDataFrame):
        others = others.set_crs(new.crs, allow_override=True)
    others = others[list(new.columns)]
    others.attrs, attrs = {}, new.attrs
    both = others if len(new) == 0 else pd.concat([others, new.set_axis(new.index)])
    both = both.sort_values("hole", kind="stable").reset_index(drop=True)
    both.attrs = attrs
    return dataclasses.replace(layer, content=both)
