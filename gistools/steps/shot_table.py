"""Rows of the steps of shots as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.steps.catalogue import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


def shot_table(site: Site, writes: Writes, rows: list[dict[str, Any]]) -> Any:
    """Return rows as a table with exactly the declared columns."""
    import geopandas as gpd
    import pandas as pd

    values: dict[str, Any] = {c.name: [row[c.name] for row in rows] for c in writes.columns}
    for name in ("fid", "crossing"):
        if name in values:
            values[name] = pd.array(values[name], dtype="Int64")
    if not writes.geometry:
        return pd.DataFrame(values, columns=list(values))
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=site.crs_metric)
    return gpd.GeoDataFrame(values, columns=list(values), geometry=shapes, crs=site.crs_metric)
