"""Levels measured after construction, compared with the design."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
import shapely

from gistools.compute.layout.setting_out import CODES
from gistools.site.model import Site
from gistools.site.proposed import proposed_site
from gistools.steps.quantity_rows import belongs_to, level_at
from gistools.steps.setting_out_runs import label

#: layers that decide the tolerance, the first that holds the point wins; the rest is rough
ORDER = ("greens", "tees", "bunkers", "shapes", "fairway")
ROUGH = "rough"
NO_DESIGN = "no design level"
_OWN_NUMBER = re.compile(r"\b([A-Z]{3})(\d+)-\d{3}\b")


def compare_points(site: Site, hole: int | None, tolerances_m: dict[str, float]) -> list[dict[str, Any]]:
    """Compare the layer ``as_built`` with the proposed ground, point by point.

    difference = measured level - design level, so that positive is too high.

    Parameters
    ----------
    site, hole
        Where; without a hole all points.
    tolerances_m
        Layer (or ``rough``) to the greatest difference allowed [m].
    """
    points = belongs_to(site, site.layer("as_built"), hole)
    if not len(points):
        return []
    grounds = {h: proposed_site(site, hole=h) for h in sorted(set(points["hole"]))}
    rows = []
    for h, group in points.groupby("hole", sort=True):
        design = level_at(grounds[h].ground, group.geometry.x, group.geometry.y)
        features = group["feature"].tolist()
        places = _places(site, group, features)
        for row, level, (feature, layer) in zip(group.to_dict("records"), design, places, strict=True):
            tolerance = tolerances_m.get(layer, tolerances_m[ROUGH])
            difference = float(row["level_m"]) - float(level)
            rows.append(
                {
                    "hole": int(h),
                    "point": str(row["point"]),
                    "feature_id": row["fid"],
                    "feature": feature,
                    "layer": layer,
                    "measured_level_m": float(row["level_m"]),
                    "design_level_m": float(level),
                    "difference_m": difference,
                    "tolerance_m": tolerance,
                    "level_status": verdict(difference, tolerance),
                    "geometry": row["geometry"],
                }
            )
    return rows


def verdict(difference: float, tolerance: float) -> str:
    """Say ``within``, ``high``, ``low`` or ``no design level``; the limit itself is within."""
    if np.isnan(difference):
        return NO_DESIGN
    if abs(difference) <= tolerance + 1e-9:
        return "within"
    return "high" if difference > 0 else "low"


def _places(site: Site, points: Any, features: list[Any]) -> list[tuple[str, str]]:
    """Feature and layer of each point: as told by its number or feature name, else by where it lies."""
    names: dict[str, tuple[str, str]] = {}
    by_id: dict[tuple[str, str], tuple[str, str]] = {}
    areas: list[tuple[Any, tuple[str, str]]] = []
    for layer in ORDER:
        for row in site.layer(layer).to_dict("records"):
            entry = (label(layer, row), layer)
            names.setdefault(entry[0].lower(), entry)
            by_id[layer, str(row["fid"])] = entry
            if "Polygon" in row["geometry"].geom_type:
                areas.append((row["geometry"], entry))
    places = []
    for text, point, where in zip(features, points["point"], points.geometry, strict=True):
        text = text if isinstance(text, str) else ""
        number = _OWN_NUMBER.search(f"{point} {text}")
        code = CODES.get(number.group(1)) if number else None
        feature = by_id.get((code[1], number.group(2))) if number and code else None
        inside = next((entry for area, entry in areas if shapely.intersects(area, where)), (ROUGH, ROUGH))
        places.append(feature or names.get(text.strip().lower()) or inside)
    return places


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
