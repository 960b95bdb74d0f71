"""Levels and places measured after construction, compared with the design."""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from gistools.base.errors import GistoolsError, GistoolsWarning
from gistools.compute.layout.setting_out import CODES
from gistools.site.measured_points import read_points
from gistools.site.model import Site
from gistools.site.proposed import holes_of, proposed_site
from gistools.steps.catalogue import need
from gistools.steps.quantity_rows import belongs_to, level_at
from gistools.steps.setting_out_runs import label

#: layers that decide the tolerance, the first that holds the point wins; the rest is rough
ORDER = ("greens", "tees", "bunkers", "shapes", "fairway")
ROUGH = "rough"
NO_DESIGN = "no design level"
NO_STAKE = "no stake"
#: a point this far from the stake it names was hardly meant for it [m] (assumption)
FAR_M = 2.0
_OWN_NUMBER = re.compile(r"\b([A-Z]{3})(\d+)-\d{3}\b")
_STAKE_NAME = re.compile(r"[A-Z]{3}\w+-\d{3}")
_BETWEEN = re.compile(r"[\s,;]+")


@dataclass(frozen=True)
class Tolerances:
    """Greatest differences allowed [m]: of level by layer (or ``rough``), and of place in plan."""

    level_m: Mapping[str, float]
    plan_m: float


@dataclass(frozen=True)
class _Stake:
    """A point that was handed out to be staked: its name and place [m]."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class _Feature:
    """A feature that points were measured on: its name, its layer, and the hole it belongs to (None: any)."""

    name: str
    layer: str
    hole: int | None = None


def compare_points(
    site: Site, hole: int | None, tolerances: Tolerances, stakes_file: str = ""
) -> list[dict[str, Any]]:
    """Compare the layer ``as_built`` with the design of the whole site, point by point.

    difference = measured level - design level, so that positive is too high. A point belongs to the hole of
    the feature it names, else to the nearest. One that carries number or name of a setting-out point is
    compared with its place.

    Parameters
    ----------
    site, hole
        Where; without a hole all points.
    tolerances
        What is allowed.
    stakes_file
        File of the points handed out; without one, those of the step ``setting_out`` as it stands.
    """
    points = belongs_to(site, site.layer("as_built"), None)
    if not len(points):
        return []
    stakes = _stakes_of(points, _handed_out(site, points, stakes_file))
    features = _features(site, points, stakes)
    holes = [f.hole if f.hole is not None else int(h) for f, h in zip(features, points["hole"], strict=True)]
    design = level_at(proposed_site(site).ground, points.geometry.x, points.geometry.y)
    rows = []
    for row, number, level, feature, stake in zip(
        points.to_dict("records"), holes, design, features, stakes, strict=True
    ):
        if hole is not None and number != hole:
            continue
        tolerance = tolerances.level_m.get(feature.layer, tolerances.level_m[ROUGH])
        difference = float(row["level_m"]) - float(level)
        rows.append(
            {
                "hole": number,
                "point": str(row["point"]),
                "feature_id": row["fid"],
                "feature": feature.name,
                "layer": feature.layer,
                "measured_level_m": float(row["level_m"]),
                "design_level_m": float(level),
                "difference_m": difference,
                "tolerance_m": tolerance,
                "level_status": verdict(difference, tolerance),
                **_place(row["geometry"], stake, tolerances.plan_m),
                "geometry": row["geometry"],
            }
        )
    _doubt_spacing(rows)
    return sorted(rows, key=lambda row: row["hole"])


def _handed_out(site: Site, points: Any, stakes_file: str) -> dict[str, _Stake]:
    """Return the points handed out to be staked, by number and by name; none where no point names one."""
    words = " ".join(f"{p} {t}" for p, t in zip(points["point"], points["feature"], strict=True))
    if stakes_file:
        table = read_points(stakes_file, site, levels=False)
        names = [
            _name_in(f"{p} {t}") or str(p) for p, t in zip(table["point"], table["feature"], strict=True)
        ]
        numbers = table["point"]
    elif _STAKE_NAME.search(words) or re.search(r"\b\d{8,9}\b", words):
        try:
            table = need(site, "setting_out")["setting_out"]
        except GistoolsError as fault:
            warnings.warn(
                f"places are not checked, there are no stakes: {fault}", GistoolsWarning, stacklevel=2
            )
            return {}
        names, numbers = list(table["point"]), table["number"]
    else:
        return {}
    stakes = {}
    for name, number, place in zip(names, numbers, table.geometry, strict=True):
        stakes[str(number)] = stakes[name] = _Stake(name, float(place.x), float(place.y))
    return stakes


def _name_in(text: str) -> str:
    return next((t for t in _BETWEEN.split(text) if _STAKE_NAME.fullmatch(t)), "")


def _stakes_of(points: Any, stakes: dict[str, _Stake]) -> list[_Stake | None]:
    """Return the stake that each measured point names: in full, as its number or in its description."""
    chosen = []
    for point, text in zip(points["point"], points["feature"], strict=True):
        tokens = _BETWEEN.split(f"{point} {text if isinstance(text, str) else ''}")
        chosen.append(next((stakes[t] for t in tokens if t in stakes), None))
    return chosen


def _place(at: Any, stake: _Stake | None, tolerance: float) -> dict[str, Any]:
    """Compare a place with that of its stake: as measured less as staked."""
    east, north = (at.x - stake.x, at.y - stake.y) if stake else (float("nan"), float("nan"))
    off = float(np.hypot(east, north))
    status = NO_STAKE if stake is None else "within" if off <= tolerance + 1e-9 else "outside"
    return {
        "stake": stake.name if stake else "",
        "delta_easting_m": east,
        "delta_northing_m": north,
        "delta_plan_m": off,
        "plan_tolerance_m": tolerance,
        "plan_status": status,
    }


def _doubt_spacing(rows: list[dict[str, Any]]) -> None:
    """Warn where most points lie far from the stakes they name: these were numbered by other spacings."""
    off = np.array([row["delta_plan_m"] for row in rows if row["stake"]])
    far = int((off > FAR_M).sum())
    if len(off) >= 5 and far > len(off) / 2:
        warnings.warn(
            f"{far} of {len(off)} points lie more than {FAR_M:g} m from the stake they name; if they were"
            " staked with other spacings or an older design, give the file that was handed out (stakes)",
            GistoolsWarning,
            stacklevel=2,
        )


def verdict(difference: float, tolerance: float) -> str:
    """Say ``within``, ``high``, ``low`` or ``no design level``; the limit itself is within."""
    if np.isnan(difference):
        return NO_DESIGN
    if abs(difference) <= tolerance + 1e-9:
        return "within"
    return "high" if difference > 0 else "low"


def _features(site: Site, points: Any, stakes: list[_Stake | None]) -> list[_Feature]:
    """Feature of each point: that of its stake or number, that which is named, else where it lies."""
    names: dict[str, _Feature] = {}
    by_id: dict[tuple[str, str], _Feature] = {}
    areas: list[tuple[Any, _Feature]] = []
    for layer in ORDER:
        table = site.layer(layer)
        for row, hole in zip(table.to_dict("records"), holes_of(site, table), strict=True):
            feature = _Feature(label(layer, row), layer, hole)
            names.setdefault(feature.name.lower(), feature)
            by_id[layer, str(row["fid"])] = feature
            if "Polygon" in row["geometry"].geom_type:
                areas.append((row["geometry"], _Feature(feature.name, layer)))
    features = []
    for text, point, where, stake in zip(
        points["feature"], points["point"], points.geometry, stakes, strict=True
    ):
        text = text if isinstance(text, str) else ""
        number = _OWN_NUMBER.search(stake.name if stake else f"{point} {text}")
        code = CODES.get(number.group(1)) if number else None
        named = by_id.get((code[1], number.group(2))) if number and code else None
        inside = next((f for area, f in areas if shapely.intersects(area, where)), _Feature(ROUGH, ROUGH))
        features.append(named or names.get(text.strip().lower()) or inside)
    return features


def summarise(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Sum the comparison up by hole and feature."""
    if not rows:
        return []
    out = []
    table = pd.DataFrame(rows)
    for (hole, feature, layer), group in table.groupby(["hole", "feature", "layer"], sort=True):
        known = group[group["level_status"] != NO_DESIGN]
        d = known["difference_m"].to_numpy()
        some = len(d) > 0
        out.append(
            {
                "hole": hole,
                "feature": feature,
                "layer": layer,
                "points_count": len(group),
                "outside_count": int((known["level_status"] != "within").sum()),
                "unknown_count": len(group) - len(known),
                "mean_difference_m": float(d.mean()) if some else float("nan"),
                "rms_difference_m": float(np.sqrt((d**2).mean())) if some else float("nan"),
                "worst_difference_m": float(d[np.abs(d).argmax()]) if some else float("nan"),
                "tolerance_m": float(group["tolerance_m"].iloc[0]),
                **_places(group),
                "feature_status": _overall(group, known),
            }
        )
    return out


def _places(group: pd.DataFrame) -> dict[str, Any]:
    """Sum up how far the points of a feature lie from their stakes."""
    staked = group[group["plan_status"] != NO_STAKE]
    return {
        "staked_count": len(staked),
        "plan_outside_count": int((staked["plan_status"] == "outside").sum()),
        "mean_easting_m": float(staked["delta_easting_m"].mean()),
        "mean_northing_m": float(staked["delta_northing_m"].mean()),
        "worst_plan_m": float(staked["delta_plan_m"].max()),
        "plan_tolerance_m": float(group["plan_tolerance_m"].iloc[0]),
    }


def _overall(group: pd.DataFrame, known: pd.DataFrame) -> str:
    if (group["plan_status"] == "outside").any() or (known["level_status"] != "within").any():
        return "outside"
    return "within" if len(known) else NO_DESIGN


def as_built_sentences(points: pd.DataFrame, unit: str = "m", unit_m: float = 1.0) -> list[str]:
    """Say in words how many measured points are within tolerance, in level and in plan.

    Parameters
    ----------
    points
        Rows of the layer ``as_built_check``.
    unit, unit_m
        Name of the unit of lengths in the words, and metres in one.
    """
    if not len(points):
        return ["No points were measured."]
    count = points["level_status"].value_counts()
    high, low, lost = (int(count.get(k, 0)) for k in ("high", "low", NO_DESIGN))
    sentences = [
        f"{len(points)} point{'s' * (len(points) != 1)} measured: {int(count.get('within', 0))} within"
        f" tolerance, {high + low} outside ({high} high, {low} low), {lost} where there is no design level."
    ]
    staked = points[points["plan_status"] != NO_STAKE]
    if not len(staked):
        return [*sentences, "No point carries the name of a stake: places in plan are not checked."]
    outside = staked[staked["plan_status"] == "outside"]
    allowed = staked["plan_tolerance_m"].iloc[0] / unit_m
    words = (
        f"In plan: {len(staked)} name a stake, {len(staked) - len(outside)} within {allowed:.3g} {unit} of"
        f" it, {len(outside)} outside"
    )
    if len(outside):
        worst = outside.sort_values("delta_plan_m").iloc[-1]
        words += f"; the worst is {worst['stake']}, {worst['delta_plan_m'] / unit_m:.3f} {unit} off"
        words += (
            f" ({_bearings(worst['delta_easting_m'] / unit_m, worst['delta_northing_m'] / unit_m, unit)})"
        )
    sentences.append(f"{words}.")
    for (_, feature), group in staked.groupby(["hole", "feature"], sort=True):
        east, north = group["delta_easting_m"].mean(), group["delta_northing_m"].mean()
        if len(group) >= 3 and np.hypot(east, north) > group["plan_tolerance_m"].iloc[0]:
            shift = _bearings(east / unit_m, north / unit_m, unit)
            sentences.append(f"{feature} lies {shift} of its stakes in the mean of {len(group)} points.")
    return sentences


def _bearings(east: float, north: float, unit: str) -> str:
    sides = (east, "east", "west"), (north, "north", "south")
    return ", ".join(f"{abs(v):.3f} {unit} {plus if v >= 0 else minus}" for v, plus, minus in sides)
