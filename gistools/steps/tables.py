"""Rows of a step as the table it declares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd

from gistools.base.columns import Column
from gistools.site.model import Site
from gistools.steps.writes import Writes

#: type of a column -> dtype of a table; whole numbers and yes/no can be missing
DTYPES = {"str": "str", "int": "Int64", "float": "float64", "bool": "boolean"}
_OF_VALUE = {"str": str, "int": int, "float": float, "bool": bool}
_OF_MISSING = {"str": "", "int": pd.NA, "float": float("nan"), "bool": pd.NA}


def build_table(site: Site, writes: Writes, rows: Sequence[Mapping[str, Any]]) -> Any:
    """Return rows as a table with exactly the declared columns and types, in order.

    Parameters
    ----------
    site
        Gives the CRS.
    writes
        The declaration of the layer.
    rows
        Column to value, with ``geometry`` for a layer that has one, coordinates in metres. A value that is
        left out or None is missing: an empty word, ``nan`` or ``NA``.

    Returns
    -------
    GeoDataFrame or DataFrame
        In the site's metric CRS.
    """
    table = pd.DataFrame({c.name: _values(c, [row.get(c.name) for row in rows]) for c in writes.columns})
    if not writes.geometry:
        return table
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=site.crs_metric)
    return gpd.GeoDataFrame(table, geometry=shapes, crs=site.crs_metric)


def _values(column: Column, cells: list[Any]) -> Any:
    of, missing = _OF_VALUE[column.dtype], _OF_MISSING[column.dtype]
    values = [missing if v is None or v is pd.NA or v != v else of(v) for v in cells]
    return pd.Series(values, dtype=DTYPES[column.dtype])
