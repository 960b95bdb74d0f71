"""Differences between two sites: the ground that changes, and the figures of results before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.base.progress import tick
from gistools.compute.layout.lengths import combined_factor
from gistools.compute.terrain import volumes
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site
from gistools.steps.brief_rows import target_of
from gistools.steps.catalogue import STEPS, find, need

#: columns that say what a row is about
KEYS = (
    *("hole", "tee", "player", "wind", "shot_number", "from_zone", "pin", "zone"),
    *("feature", "line", "start", "viewpoint"),
)
#: ending of a measure -> smallest change listed (assumption: half of the last figure shown to people)
LEAST_CHANGE = {"_strokes": 0.005, "_pct": 0.05, "_m": 0.005, "_m2": 0.5}
#: numbers closer than this are equal: a tenth of a millimetre, a ten-thousandth of a stroke
EQUAL_WITHIN = 1e-4
STEEP_PCT = SLOPE_LIMITS_PCT["mound"][0]  # 3:1, common practice


def compare(
    before: Site,
    after: Site,
    measures: Sequence[str] | None = None,
    *,
    hole: int | None = None,
    play: bool = True,
    **options: Any,
) -> pd.DataFrame:
    """Return what changed from one site to another: one row for each figure that differs.

    Without ``measures`` it compares everything that is quick to compute, on the ground and in plan: volumes
    and slopes of the ground that changes (:func:`ground_rows`), flag views of each zone and pin, carries,
    lengths, zones; then how the zones rank when the hole is played out.

    Parameters
    ----------
    before, after
        Two sites on one grid: of :func:`gistools.design.vary.vary`, of
        :func:`gistools.site.proposed.proposed_site`, or two files.
    measures
        What to compare, ``step.column``; without it the usual ones, and of them only changes that show when
        rounded: 0.005 strokes, 0.05 %, 5 mm, half a square metre.
    hole
        Only this hole.
    play
        False leaves out what whole holes have to be played out for (minutes).
    **options
        Passed to the steps that have them (``players``, ``winds``).

    Returns
    -------
    DataFrame
        Key columns, ``measure``, ``before``, ``after`` and ``change`` (after less before, nan for words). A
        row that only one site has shows the other as nan. The unit stands at the end of the measure's name.

    Raises
    ------
    InputError
        If there is no such measure, or the sites do not share their grid.
    """
    tables = []
    usual = measures is None
    if measures is None:
        measures = usual_measures(before, after, play)
        if before.ground is not None and after.ground is not None:
            tables.append(ground_rows(before, after, hole))
    for number, name in enumerate(measures):
        tick(number / len(measures), name)
        changes = _changes(before, after, name, hole, options)
        tables.append(visible_changes(changes, name) if usual else changes)
    tables = [t for t in tables if len(t)]
    if tables:
        out = _keys_first(pd.concat(tables, ignore_index=True))
    else:
        out = pd.DataFrame(columns=["measure", "before", "after", "change"])
    out.attrs["layer"] = "changes"
    return out


def measure(site: Site, name: str, *, hole: int | None = None, **options: Any) -> pd.DataFrame:
    """Return one measure, ``step.column``, with the key columns that tell its rows apart."""
    spec, layer, column = target_of(name)
    known = {c.name for c in spec.choices}
    given = {k: v for k, v in {"hole": hole, **options}.items() if k in known}
    result = need(site, spec.name, **given)
    table = result[layer] if isinstance(result, dict) else result
    keys = [k for k in KEYS if k in table.columns]
    out = pd.DataFrame({k: table[k] for k in keys if k != column})
    out["measure"] = name
    out["value"] = list(table[column])
    return out.reset_index(drop=True)


def _changes(a: Site, b: Site, name: str, hole: int | None, options: Mapping[str, Any]) -> pd.DataFrame:
    left, right = (measure(s, name, hole=hole, **options) for s in (a, b))
    keys = [k for k in left.columns if k != "value"]
    for table in (left, right):
        table["row"] = table.groupby(keys, dropna=False).cumcount()
    both = left.merge(right, on=[*keys, "row"], how="outer", suffixes=("_a", "_b")).drop(columns="row")
    both = both.rename(columns={"value_a": "before", "value_b": "after"})
    numbers = [pd.to_numeric(both[c], errors="coerce") for c in ("before", "after")]
    both["change"] = numbers[1] - numbers[0]
    same = (both["before"] == both["after"]) | (both["before"].isna() & both["after"].isna())
    return both[~(same | (both["change"].abs() < EQUAL_WITHIN))]


def usual_measures(before: Site, after: Site, play: bool) -> list[str]:
    """Return the usual measures that both sites have the layers for.

    Raises
    ------
    InputError
        If the sites do not share their grid.
    """
    if before.crs_metric != after.crs_metric:
        raise InputError("the two sites are in different CRSs; bring them into one")
    possible = []
    for spec in map(find, STEPS):
        measures = [f"{w.layer}.{column}" for w in spec.writes for column in w.compared.split()]
        if not measures or (spec.cost == "minutes" and not play):
            continue
        try:
            spec.require(before)
            spec.require(after)
        except SiteError:
            continue
        possible.extend(measures)
    return possible


def visible_changes(table: pd.DataFrame, measure: str) -> pd.DataFrame:
    """Leave out rows whose change is too small to show (:data:`LEAST_CHANGE`)."""
    least = next((least for ending, least in LEAST_CHANGE.items() if measure.endswith(ending)), 0.0)
    return table[~(table["change"].abs() < least)]


def _keys_first(table: pd.DataFrame) -> pd.DataFrame:
    """Return rows with the key columns first, in their order.

    Hole numbers stay whole where some rows have none.
    """
    if "hole" in table.columns:
        table = table.assign(hole=table["hole"].astype("Int64"))
    first: list[Any] = [k for k in KEYS if k in table.columns]
    return table[[*first, *(c for c in table.columns if c not in first)]]


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
    return first, first.with_heights(second.height(*first.grid.mesh()))


def ground_rows(before: Site, after: Site, hole: int | None = None) -> pd.DataFrame:
    """Return the differences of the ground, one row for each ``ground.<figure>``.

    Volumes are ``sum(dz) A`` over the cells, on the ground (divided by the square of the combined factor),
    topsoil left out. Slopes are central differences between cells, of the ground that changes, before and
    after. With ``hole`` the box round it and 60 m more is compared. The table is empty where no height
    differs by 5 mm.
    """
    first, second = both_surfaces(before, after, hole)
    touched = np.abs(second.z - first.z) > TOUCHED_M
    if not touched.any():
        return pd.DataFrame()
    earth = volumes.cut_and_fill(first, second, touched_m=TOUCHED_M)
    i, j = (float(v.mean()) for v in np.nonzero(touched))
    x, y = first.x_west + (j + 0.5) * first.cell, first.y_north - (i + 0.5) * first.cell
    square = combined_factor(before.crs_metric, x, y, float(np.nanmean(first.z[touched]))) ** 2
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
