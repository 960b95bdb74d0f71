"""Rows of surface drainage: hollows, paths of gathered water, falls of what is mown short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from gistools.compute.terrain.drainage import (
    Hollow,
    Runoff,
    flow_paths,
    hollows,
    runoff,
    shares_by_quarter,
    shed_by,
)
from gistools.compute.terrain.green_slopes import outline
from gistools.compute.terrain.slopes import fitted, slope_pct
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel
from gistools.site.model import names
from gistools.steps.slope_rows import many

#: layer -> least fall that drains [%], see the sources of the step
LEAST_FALL_PCT = {"greens": 1.5, "tees": 1.0, "fairway": 2.0}
#: layer -> its word; the first that holds the deepest place names a hollow
WORDS = {
    "greens": "green",
    "tees": "tee",
    "bunkers": "bunker",
    "burns": "burn",
    "water": "water",
    "fairway": "fairway",
}
HOLDS_BY_NATURE = ("bunkers", "burns", "water")
#: ways by which a green should shed its water, share of it that makes a way, share that may be too flat
WAYS, WAY_SHARE, FLAT_SHARE_PCT = 2, 0.1, 20.0
FLAGGED, FINE, NOTED = "flagged", "drains", "noted"
#: ground under water that counts [m2] (assumption)
WET_M2 = 5.0
#: how much flatter than its limit ground may be, as a share of it (assumption)
TOLERANCE = 0.1
Row = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Area:
    """An area of the survey on a hole: its layer, feature id, name and outline."""

    layer: str
    fid: int
    name: str
    shape: BaseGeometry


ROUGH = Area("rough", 0, "rough", Point())


def drainage_rows(
    model: HoleModel, depth_m: float, area_m2: float, catchment_m2: float, radius_m: float
) -> dict[str, list[Row]]:
    """Return the rows of the layers of the step ``drainage`` for one hole."""
    surface = model.surface
    water = runoff(surface)
    areas = _areas(model)
    ponds = hollows(water, least_depth_m=depth_m, least_area_m2=area_m2)
    return {
        "hollows": [_hollow_row(surface, h, areas) for h in ponds],
        "flow_paths": _path_rows(water, areas, catchment_m2),
        "surface_falls": _fall_rows(model, water, areas, radius_m),
    }


def _areas(model: HoleModel) -> list[Area]:
    """Return what lies on the hole, in the order of :data:`WORDS`."""
    site, number = model.site, model.number
    rows = []
    for layer, word in WORDS.items():
        for record in site.around(layer, number).to_dict("records"):
            shape = record["geometry"]
            if shape.geom_type.endswith("LineString"):
                shape = shape.buffer(float(record["width_m"]) / 2, cap_style="flat")
            if not shape.geom_type.endswith("Polygon"):
                continue
            name = names([record.get("name")])[0]
            tee = names([record.get("tee")])[0]
            name = name or (f"{tee} tee" if tee else f"{word} {record['fid']}")
            rows.append(Area(layer, int(record["fid"]), name, shape))
    return rows


def _hollow_row(surface: Surface, hollow: Hollow, areas: list[Area]) -> Row:
    """Return the row of a hollow: named by its deepest place, flagged by what it wets."""
    x, y = (v[hollow.cells] for v in surface.grid.mesh())
    wet, left = {}, np.ones(len(x), bool)
    for a in areas:  # ground belongs to the first that holds it: a bunker in the fairway is a bunker
        here = left & shapely.contains_xy(a.shape, x, y)
        left &= ~here
        if here.sum() * surface.cell**2 >= WET_M2:
            wet[a] = float(here.sum()) * surface.cell**2
    at = Point(hollow.place)
    deepest = next((a for a in areas if a.shape.covers(at)), ROUGH)
    mown = [f"{a.name} ({area:.0f} m2)" for a, area in wet.items() if a.layer in LEAST_FALL_PCT]
    size = f"{hollow.depth_m:.2f} m deep, {hollow.area_m2:.0f} m2, {hollow.volume_m3:.1f} m3"
    size += f"; it spills at {hollow.spill_m:.2f} m"
    if mown:
        status, words = FLAGGED, f"water stands on {', '.join(mown)}, deepest on {deepest.name}: {size}"
    elif deepest.layer in HOLDS_BY_NATURE:
        status, words = NOTED, f"{deepest.name} holds water by nature: {size}"
        words += "; a bunker needs a drain or a fall to its outside" if deepest.layer == "bunkers" else ""
    else:
        status, words = NOTED, f"water stands in the {deepest.name}: {size}"
    return {
        "feature": deepest.name,
        "layer": deepest.layer,
        "area_m2": hollow.area_m2,
        "depth_m": hollow.depth_m,
        "volume_m3": hollow.volume_m3,
        "level_m": hollow.lowest_m,
        "spill_level_m": hollow.spill_m,
        "drainage_status": status,
        "reading": words,
        "geometry": many(outline(surface, hollow.cells)),
    }


def _path_rows(water: Runoff, areas: list[Area], catchment_m2: float) -> list[Row]:
    """Return the rows of paths, each down to the first burn or pond it meets."""
    rows = []
    taking = [a for a in areas if a.layer in ("burns", "water")]
    others = [a for a in areas if a.layer not in ("burns", "water")]
    for path in flow_paths(water, least_catchment_m2=catchment_m2):
        within = np.array([shapely.contains_xy(a.shape, *path.xy.T) for a in taking]).reshape(
            -1, len(path.xy)
        )
        wet = np.flatnonzero(within.any(axis=0))
        count = int(wet[0]) + 1 if len(wet) else len(path.xy)
        if count < 2:
            continue  # it starts in a burn or pond
        line = LineString(path.xy[:count])
        touches = [a for a in others if a.shape.intersection(line).length > 1.0]
        bad = list(dict.fromkeys(a.name for a in touches if a.layer in ("greens", "tees")))
        if len(wet):
            where = taking[int(within[:, wet[0]].argmax())].name
        else:
            where = "another path" if path.joins else "edge of the ground looked at"
        fall = 100.0 * float(path.level_m[0] - path.level_m[count - 1]) / line.length
        crosses = ", ".join(dict.fromkeys(a.name for a in touches))
        catchment = float(path.catchment_m2[count - 2 if path.joins or len(wet) else count - 1])
        reading = f"water of {catchment:.0f} m2 runs {line.length:.0f} m at {fall:.1f} % to {where}"
        reading += f", across {crosses}" if crosses else ""
        rows.append(
            {
                "length_m": line.length,
                "path_fall_pct": fall,
                "catchment_m2": catchment,
                "path_end": where,
                "crosses": crosses,
                "drainage_status": FLAGGED if bad else FINE,
                "reading": reading + (f": it reaches {', '.join(bad)}" if bad else ""),
                "geometry": shapely.simplify(line, water.surface.cell),
            }
        )
    return rows


def _fall_rows(model: HoleModel, water: Runoff, areas: list[Area], radius_m: float) -> list[Row]:
    surface = water.surface
    slope = slope_pct(*fitted(surface, radius_m))
    x, y = surface.grid.mesh()
    mown = {layer: set(model.site.layer(layer, model.number)["fid"]) for layer in LEAST_FALL_PCT}
    rows = []
    for a in areas:
        if a.layer not in LEAST_FALL_PCT or a.fid not in mown[a.layer]:
            continue
        layer, feature, area = a.layer, a.name, a.shape
        inside = shapely.contains_xy(area, x, y) & np.isfinite(surface.z)
        known = slope[inside & np.isfinite(slope)]
        if not len(known):
            continue
        least = LEAST_FALL_PCT[layer]
        flat = 100.0 * float((known < (1 - TOLERANCE) * least).mean())
        places, shed = shed_by(water, inside)
        shares = shares_by_quarter(places, shed, (area.centroid.x, area.centroid.y), model.line_in_deg)
        ways = sum(share >= WAY_SHARE for share in shares.values())
        one_way = layer == "greens" and ways < WAYS
        status = FLAGGED if flat > FLAT_SHARE_PCT or one_way else FINE
        words = f"{feature} falls {known.mean():.1f} % in the mean, {flat:.0f} % of it less than {least:g} %"
        if layer == "greens":
            most = [f"{100 * share:.0f} % {name}" for name, share in shares.items() if share >= WAY_SHARE]
            words += f"; it sheds by {ways} way{'s' * (ways != 1)}: {', '.join(most)}"
        rows.append(
            {
                "feature": feature,
                "layer": layer,
                "feature_id": a.fid,
                "area_m2": float(area.area),
                "slope_mean_pct": float(known.mean()),
                "least_fall_pct": least,
                "too_flat_pct": flat,
                **{f"shed_{name}_pct": 100.0 * share for name, share in shares.items()},
                "ways_count": ways,
                "drainage_status": status,
                "reading": words,
                "geometry": max(shapely.get_parts(area), key=lambda part: part.area),
            }
        )
    return rows
