"""Rows of the steps of earthworks as tables, and the caution they share."""

from __future__ import annotations

from typing import Any

from gistools.base.columns import Column

CAUTION = (
    "Quantities and levels are only as good as the survey under them. Have them checked by a licensed surveyor or"
    " engineer before they are priced, staked or built; buried services, drainage, water and protected ground"
    " are not looked at here."
)


def earthworks_table(columns: tuple[Column, ...], rows: list[dict[str, Any]], crs: Any = None) -> Any:
    """Make a table with the declared columns in order, also without rows; with ``crs`` one with geometry."""
    import geopandas as gpd
    import pandas as pd

    names = [c.name for c in columns]
    table = pd.DataFrame({n: _whole([row[n] for row in rows]) for n in names}, columns=names)
    if crs is None:
        return table
    return gpd.GeoDataFrame(
        table, geometry=gpd.GeoSeries([row["geometry"] for row in rows], crs=crs), crs=crs
    )


def _whole(values: list[Any]) -> Any:
    """Keep whole numbers whole where some are missing."""
    import numpy as np
    import pandas as pd

    if any(v is None for v in values) and all(v is None or isinstance(v, int | np.integer) for v in values):
        return pd.array(values, dtype="Int64")
    return values
