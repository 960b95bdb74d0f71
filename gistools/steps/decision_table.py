"""Rows of the steps of strategy as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.steps.catalogue import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


def decision_table(writes: Writes, rows: list[dict[str, Any]], site: Site) -> Any:
    """Return rows as the table that is declared, with all its columns even when empty."""
    import geopandas as gpd
    import pandas as pd

    names = [col.name for col in writes.columns]
    data = {n: [row.get(n) for row in rows] for n in names}
    table = pd.DataFrame(data, columns=names)
    for col in writes.columns:
        if col.unit == "count":
            table[col.name] = table[col.name].astype("Int64")
        elif col.unit:
            table[col.name] = table[col.name].astype(float)
    if not writes.geometry:
        return table
    return gpd.GeoDataFrame(
        table,
        geometry=gpd.GeoSeries([row["geometry"] for row in rows], crs=site.crs_metric),
        crs=site.crs_metric,
    )
