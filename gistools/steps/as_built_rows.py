"""Levels measured after construction, compared with the design."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from gistools.compute.layout.setting_out import CODES
from gistools.site.model import Site
from gistools.site.proposed import holes_of, proposed_site
from gistools.steps.quantity_rows import belongs_to, level_at
from gistools.steps.setting_out_runs import label

#: layers that decide the tolerance, the first that holds the point wins; the rest is rough
ORDER = ("greens", "tees", "bunkers", "shapes", "fairway")
ROUGH = "rough"
NO_DESIGN = "no design level"
_OWN_NUMBER = re.compile(r"\b([A-Z]{3})(\d+)-\d{3}\b")


@dataclass(frozen=True)
class _Feature:
    """A feature that points were measured on: its name, its layer, and the hole it belongs to (None: any)."""

    name: str
    layer: str
    hole: int | None = None


def compare_points(site: Site, hole: int | None, tolerances_m: dict[str, float]) -> list[dict[str, Any]]:
    """Compare the layer ``as_built`` with the proposed ground of the whole site, point by point.

    difference = measured level - design level, so that positive is too high. A point belongs to the hole of
    the feature it names, else to the nearest.

    Parameters
    ----------
    site, hole
        Where; without a hole all points.
    tolerances_m
        Layer (or ``rough``) to the greatest difference allowed [m].
    """
    points = belongs_to(site, site.layer("as_built"), None)
    if not len(points):
        return []
    features = _features(site, points)
    holes = [f.hole if f.hole is not None else int(h) for f, h in zip(features, points["hole"], strict=True)]
    design = level_at(proposed_site(site).ground, points.geometry.x, points.geometry.y)
    rows = []
    for row, number, level, feature in zip(points.to_dict("records"), holes, design, features, strict=True):
        if hole is not None and number != hole:
            continue
        tolerance = tolerances_m.get(feature.layer, tolerances_m[ROUGH])
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
                "geometry": row["geometry"],
            }
        )
    return sorted(rows, key=lambda row: row["hole"])


def verdict(difference: float, tolerance: float) -> str:
    """Say ``within``, ``high``, ``low`` or ``no design level``; the limit itself is within."""
    if np.isnan(difference):
        return NO_DESIGN
    if abs(difference) <= tolerance + 1e-9:
        return "within"
    return "high" if difference > 0 else "low"


def _features(site: Site, points: Any) -> list[_Feature]:
    """Feature of each point: as told by its number or feature name, else by where it lies."""
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
    for text, point, where in zip(points["feature"], points["point"], points.geometry, strict=True):
        text = text if isinstance(text, str) else ""
        number = _OWN_NUMBER.search(f"{point} {text}")
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
                "feature_status": _overall(known, some),
            }
        )
    return out


def _overall(known: pd.DataFrame, some: bool) -> str:
    if not some:
        return NO_DESIGN
    return "within" if (known["level_status"] == "within").all() else "outside"
