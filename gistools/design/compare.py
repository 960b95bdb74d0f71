"""What a change does to a hole: the ground it moves, and which figures are looked at before and after."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.compute.layout.lengths import combined_factor
from gistools.compute.terrain.shaping import SLOPE_LIMITS_PCT, TOUCHED_M
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.volumes import compare
from gistools.site.model import Site

#: what is compared where nothing else is asked: all that is quick to compute
USUAL = (
    "zone_views.seen_mean_pct",
    "zone_views.foot_share_pct",
    "zone_views.top_share_pct",
    "zone_views.hidden_by",
    "tee_views.seen_pct",
    "slopes.slope_pct",
    "slopes.steepest_pct",
    "slopes.fall_pct",
    "slopes.camber_pct",
    "pin_slopes.slope_pct",
    "lengths.ground_m",
    "carries.reach_m",
    "carries.carry_m",
    "zones.area_m2",
    "landing_widths.clear_width_m",
)
#: what whole holes have to be played out for: some ten seconds for a hole, player and wind
PLAYED = (
    "positions.rank",
    "positions.total_strokes",
    "positions.reward_strokes",
    "positions.in_zone_pct",
)
#: ending of a measure -> least change worth a row
LEAST = {"_strokes": 0.005, "_pct": 0.05, "_m": 0.005, "_m2": 0.5}
STEEP_PCT = SLOPE_LIMITS_PCT["mound"][0]  # 3:1, common practice


def both_surfaces(before: Site, after: Site, hole: int | None = None) -> tuple[Surface, Surface]:
    """Return the ground of two sites on the cells of the first, round a hole or whole.

    Raises
    ------
    SiteError
        If one of them has no terrain there.
    """
    bounds = before.hole_bounds(hole) if hole is not None else None
    first = before.surface(bounds)
    west, south, east, north = first.bounds
    pad = 2 * first.cell
    second = after.surface((west - pad, south - pad, east + pad, north + pad))
    x, y = first.centres()
    z = np.asarray(second.height(x[None, :], y[:, None]))
    return first, Surface(z, first.x_west, first.y_north, first.cell)


def ground_rows(before: Site, after: Site, hole: int | None = None) -> pd.DataFrame:
    """Rows of the ground between two sites: ``ground.<figure>``, empty where it does not differ by 5 mm anywhere.

    Volumes are ``sum(dz) A`` over the cells, on the ground (divided by the square of the combined factor), topsoil left
    out; slopes are central differences between cells, of the ground that changes, before and after. Where ``hole`` is given
    the box round it and 60 m more is looked at.
    """
    first, second = both_surfaces(before, after, hole)
    touched = np.abs(second.z - first.z) > TOUCHED_M
    if not touched.any():
        return pd.DataFrame()
    earth = compare(first, second, touched_m=TOUCHED_M)
    i, j = (float(v.mean()) for v in np.nonzero(touched))
    x, y = first.x_west + (j + 0.5) * first.cell, first.y_north - (i + 0.5) * first.cell
    square = combined_factor(before.metric, x, y, float(np.nanmean(first.z[touched]))) ** 2
    rise = (second.z - first.z)[touched]
    slopes = [100.0 * np.hypot(*np.gradient(s.z, s.cell))[touched] for s in (first, second)]
    steepest = [float(np.nanmax(s)) for s in slopes]
    steep = [float((s > STEEP_PCT).sum()) * first.cell**2 / square for s in slopes]
    rows = [
        ("ground.fill_m3", 0.0, earth.fill_m3 / square),
        ("ground.cut_m3", 0.0, earth.cut_m3 / square),
        ("ground.net_m3", 0.0, earth.net_m3 / square),
        ("ground.changed_m2", 0.0, float(touched.sum()) * first.cell**2 / square),
        ("ground.most_raised_m", 0.0, max(float(rise.max()), 0.0)),
        ("ground.most_lowered_m", 0.0, max(-float(rise.min()), 0.0)),
        ("ground.steepest_pct", *steepest),
        ("ground.steeper_than_3_to_1_m2", *steep),
    ]
    table = pd.DataFrame(rows, columns=["measure", "before", "after"])
    table["change"] = table["after"] - table["before"]
    if hole is not None:
        table.insert(0, "hole", hole)
    return table[table["before"] != table["after"]]


def what_to_compare(before: Site, after: Site, play: bool) -> list[str]:
    """Return the usual measures that both sites can be asked for.

    Raises
    ------
    InputError
        If the sites do not share their grid.
    """
    from gistools.steps.brief_rows import target_of

    if before.metric != after.metric:
        raise InputError("the two sites are in different CRSs; bring them into one")
    found = []
    for name in (*USUAL, *(PLAYED if play else ())):
        spec = target_of(name)[0]
        try:
            before.require(spec)
            after.require(spec)
        except SiteError:
            continue
        found.append(name)
    return found


def worth_telling(table: pd.DataFrame, measure: str) -> pd.DataFrame:
    """Leave out rows whose change is too small to show: half of the last figure that people are told (assumption)."""
    least = next((least for ending, least in LEAST.items() if measure.endswith(ending)), 0.0)
    return table[~(table["change"].abs() < least)]


def in_order(table: pd.DataFrame, keys: tuple[str, ...]) -> pd.DataFrame:
    """Return rows with the key columns first, in their order; numbers of holes whole, also where some rows have none."""
    if "hole" in table.columns:
        table = table.assign(hole=table["hole"].astype("Int64"))
    first: list[Any] = [k for k in keys if k in table.columns]
    return table[[*first, *(c for c in table.columns if c not in first)]]
