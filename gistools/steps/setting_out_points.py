"""The rows of the setting-out: every point with its place along the line of play and its levels."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pandas as pd
from shapely.geometry import Point

from gistools.base.errors import GistoolsWarning
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.lengths import combined_factor
from gistools.compute.layout.setting_out import CODES, Run, number_points, within_limits
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.proposed import proposed_site
from gistools.steps.quantity_rows import level_at
from gistools.steps.setting_out_runs import runs_of

_CHECKS = ("level_m", "check_easting_m", "check_northing_m", "check_level_m")


def main_line(site: Site, hole: int) -> tuple[str, Alignment]:
    """Return the tee and line of play that a hole is stationed on: the longest."""
    longest = HoleModel(site, hole).plan.main
    return longest.tee, longest.line


def stake_rows(
    site: Site, hole: int, *, spacing_m: float, chord_m: float, station_m: float
) -> list[dict[str, Any]]:
    """Rows of the points to stake on one hole; see the step ``setting_out``."""
    tee, line = main_line(site, hole)
    runs = runs_of(site, hole, line, spacing_m=spacing_m, chord_m=chord_m, station_m=station_m)
    runs, notes = within_limits(runs, spacing_m=spacing_m, chord_m=chord_m)
    for note in notes:
        warnings.warn(note, GistoolsWarning, stacklevel=2)
    names, numbers, seqs = number_points(runs)
    xy = np.vstack([run.xy for run in runs])
    chainage, offset, meets = line.locate(xy)
    proposed = proposed_site(site, hole=hole) if site.ground is not None else site
    after = level_at(proposed.ground, xy[:, 0], xy[:, 1])
    before = level_at(proposed.existing, xy[:, 0], xy[:, 1])
    height = np.where(np.isfinite(before), before, np.nanmean(before) if np.isfinite(before).any() else 0.0)
    factor = combined_factor(site.crs_metric, xy[:, 0], xy[:, 1], height)
    away = (xy - line.points[0]) / factor[:, None]
    owners = [run for run in runs for _ in run.xy]
    return [
        {
            **_about(run),
            "point": names[k],
            "number": numbers[k],
            "point_no": seqs[k],
            "tee": tee,
            "chainage_m": float(chainage[k]),
            "offset_m": float(offset[k]),
            "alignment_relation": str(meets[k]),
            "existing_level_m": float(before[k]),
            "proposed_level_m": float(after[k]),
            "cut_fill_m": float(after[k] - before[k]),
            "ground_east_m": float(away[k, 0]),
            "ground_north_m": float(away[k, 1]),
            "combined_factor": float(factor[k]),
            "geometry": Point(xy[k]),
        }
        for k, run in enumerate(owners)
    ]


def _about(run: Run) -> dict[str, Any]:
    return {
        "hole": run.hole,
        "code": run.code,
        "meaning": CODES[run.code][2],
        "feature": run.feature,
        "layer": CODES[run.code][1],
        "feature_id": run.fid,
        "polyline_id": f"{run.code}{run.fid}" + (f"/{run.part + 1}" if run.part else ""),
        "closed": run.closed,
    }


def control_rows(site: Site, allowed_m: float) -> list[dict[str, Any]]:
    """Rows of the control points with what a check found; see the step ``setting_out``."""
    rows = []
    for row in site.layer("control").to_dict("records"):
        at = row["geometry"]
        figures = {n: float(row[n]) if pd.notna(row[n]) else np.nan for n in _CHECKS}
        de, dn = figures["check_easting_m"] - at.x, figures["check_northing_m"] - at.y
        dh = figures["check_level_m"] - figures["level_m"]
        residuals = [v for v in (np.hypot(de, dn), abs(dh)) if np.isfinite(v)]
        verdict = "not checked" if not residuals else "within" if max(residuals) <= allowed_m else "outside"
        rows.append(
            {
                "point": str(row["point"]),
                "feature_id": row["fid"],
                "published_level_m": figures["level_m"],
                "delta_easting_m": de,
                "delta_northing_m": dn,
                "delta_height_m": dh,
                "delta_plan_m": float(np.hypot(de, dn)),
                "control_status": verdict,
                "geometry": at,
            }
        )
    return rows
