"""Rows of the steps of plan geometry as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.steps.catalogue import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site

_WHOLE_NUMBERS = ("fid", "tee_fid", "other_fid", "other_hole")


def layout_table(site: Site, writes: Writes, rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Rows as a table with exactly the declared columns, in order."""
    import geopandas as gpd
    import pandas as pd

    values = {c.name: [row.get(c.name) for row in rows] for c in writes.columns}
    typed = {n: pd.array(v, dtype="Int64") if n in _WHOLE_NUMBERS else v for n, v in values.items()}
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=site.crs_metric)
    return gpd.GeoDataFrame(typed, columns=list(values), geometry=shapes, crs=site.crs_metric)
