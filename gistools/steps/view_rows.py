"""Rows of the layers of flag views: from tees, zones and a mesh, what is seen and what hides the rest."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from gistools.compute.layout.survey_bands import seen_band_pct
from gistools.compute.terrain.line_of_sight import BALL_M, Scene, Views
from gistools.compute.terrain.surface import Floats
from gistools.hole import HoleModel
from gistools.hole.plan import Pin
from gistools.hole.sight import Named, Places, centre, most_common, view_class, what_hides

Row = dict[str, Any]
MESH_M = 3.0  # assumption: spacing of the places that a zone as a whole is judged from
GREEN_MESH_M = 2.0  # assumption: spacing of the places on a green


def eyes_of(hole: HoleModel, mesh_m: float, mesh_margin_m: float) -> tuple[Floats, list[Row]]:
    """Places to look from and what they are.

    Tees, zone centres, a mesh over the ground in play but green and water.
    """
    tees, zones = hole.tees_by_length, hole.zones
    eyes = [tee.start for tee in tees] + [centre(zone.area) for zone in zones]
    keys: list[Row] = [{"tee": tee.name, "zone": "", "viewpoint": "tee"} for tee in tees]
    keys += [{"tee": "", "zone": zone.zone, "viewpoint": "zone centre"} for zone in zones]
    ways = [LineString(tee.line) for tee in tees]
    ground: BaseGeometry = shapely.union_all([hole.fairway, *ways]).buffer(mesh_margin_m)
    if hole.in_bounds is not None:
        ground = ground.intersection(hole.in_bounds)
    crossings = hole.mesh(ground.difference(shapely.union_all([hole.green, hole.water])), mesh_m)
    sand = shapely.contains_xy(hole.sand, crossings[:, 0], crossings[:, 1])
    mown = shapely.contains_xy(hole.fairway, crossings[:, 0], crossings[:, 1])
    kinds = np.where(sand, "sand", np.where(mown, "fairway", "rough"))
    keys += [{"tee": "", "zone": "", "viewpoint": str(kind)} for kind in kinds]
    return np.vstack([np.array(eyes).reshape(-1, 2), crossings]), keys


def seen_from(hole: HoleModel, eyes: Floats, look: Row) -> list[list[Row]]:
    """Rows of what each eye sees of each pin, as ``[eye][pin]``.

    ``look`` are options of :meth:`Scene.views`.
    """
    scene, flags = hole.scene, hole.flags
    seen = scene.seen(eyes, hole.mesh(hole.green, GREEN_MESH_M), eye_m=look["eye_m"])
    known = np.isfinite(seen)
    share = 100 * np.nansum(seen, axis=1) / np.maximum(known.sum(axis=1), 1)
    share[~known.any(axis=1)] = np.nan
    views = scene.views(eyes, feet(flags), **look)
    rows = view_rows(scene, hole.places, views, eyes, flags, share)
    level_error_m = hole.setting("level_error_m")
    if level_error_m > 0:
        for row in (r for of_eye in rows for r in of_eye):
            way = row["hidden_at_m"] / row["pin_distance_m"] if row["pin_distance_m"] else np.nan
            row["flag_seen_band_pct"] = float(seen_band_pct(level_error_m, way, look["target_m"]))
    return rows


def feet(pins: list[Pin]) -> Floats:
    """Where the pins stand, ``(n, 2)`` [m]."""
    return np.array([(p.place.x, p.place.y) for p in pins])


def zone_rows(hole: HoleModel, look: Row) -> list[Row]:
    """What each zone as a whole sees of each pin."""
    rows = []
    for zone in hole.zones:
        eyes = hole.mesh(zone.area, MESH_M)
        views = hole.scene.views(eyes, feet(hole.flags), **look)
        for k, pin in enumerate(hole.flags):
            row = zone_view(hole.scene, hole.places, views, eyes, k, pin.place)
            key = {"hole": hole.number, "zone": zone.zone, "pin": pin.name, "geometry": zone.area}
            rows.append(key | row)
    return rows


def tee_rows(hole: HoleModel) -> list[Row]:
    """How much of the ground of each zone is seen from each tee: places where a ball lying there would be."""
    rows = []
    eye_m = hole.look["eye_m"]
    for tee in hole.tees_by_length:
        for zone in hole.zones:
            key = {"hole": hole.number, "tee": tee.name, "zone": zone.zone}
            spots = hole.mesh(zone.area, MESH_M)
            rows.append(key | _zone_from(hole.scene, hole.places, np.array(tee.start), spots, eye_m))
    return rows


def _zone_from(scene: Scene, places: Places, eye: Floats, spots: Floats, eye_m: float) -> Row:
    spots = spots[np.isfinite(scene.surface.height(spots[:, 0], spots[:, 1]))]
    if len(spots) == 0:
        return {"note": "no terrain under the zone"}
    views = scene.views(eye, spots, eye_m=eye_m, target_m=BALL_M)
    known = views.known[0]
    if not known.any():
        return {"note": "no terrain at the tee or on the way"}
    seen = 100.0 * float(views.top[0, known].mean())
    hidden = known & ~views.top[0]
    t = views.hidden_at_m[0, hidden] / np.hypot(*(spots[hidden] - eye).T)
    x, y = (eye[c] + t * (spots[hidden, c] - eye[c]) for c in (0, 1))
    named = most_common(what_hides(scene, places, views.by[0, hidden], x, y)[0])
    return {"zone_seen_pct": seen, "visibility": view_class(seen)} | hider(named)


def view_rows(
    scene: Scene, places: Places, views: Views, eyes: Floats, pins: list[Pin], green: Floats
) -> list[list[Row]]:
    """Rows of what each eye sees of each pin, as ``[eye][pin]``.

    ``green`` is the share of the green seen [%].
    """
    rows: list[list[Row]] = [[] for _ in eyes]
    for k, pin in enumerate(pins):
        foot = pin.place
        d = np.hypot(eyes[:, 0] - foot.x, eyes[:, 1] - foot.y)
        with np.errstate(invalid="ignore", divide="ignore"):
            t = views.hidden_at_m[:, k] / d
        x, y = eyes[:, 0] + t * (foot.x - eyes[:, 0]), eyes[:, 1] + t * (foot.y - eyes[:, 1])
        named, notes = what_hides(scene, places, views.by[:, k], x, y)
        known = views.known[:, k]
        for e in range(len(eyes)):
            rows[e].append(
                {
                    "pin": pin.name,
                    "pin_distance_m": float(d[e]),
                    "flag_seen_pct": 100.0 * float(views.share[e, k]),
                    "foot_seen": bool(views.foot[e, k]) if known[e] else None,
                    "top_seen": bool(views.top[e, k]) if known[e] else None,
                    "green_seen_pct": float(green[e]),
                    "hidden_by": named[e].feature,
                    "hidden_by_layer": named[e].layer,
                    "hidden_by_feature_id": named[e].fid,
                    "hidden_at_m": float(views.hidden_at_m[e, k]),
                    "clearance_m": float(views.clearance_m[e, k]),
                    "hidden_easting_crs": float(x[e]),
                    "hidden_northing_crs": float(y[e]),
                    "note": notes[e],
                    "geometry": Point(*eyes[e]),
                    "line": LineString([eyes[e], (foot.x, foot.y)]) if d[e] > 0 else None,
                }
            )
    return rows


def zone_view(scene: Scene, places: Places, views: Views, eyes: Floats, k: int, foot: Point) -> Row:
    """What a zone as a whole sees of pin ``k``; ``eyes`` are its points and ``views`` theirs."""
    known = views.known[:, k]
    if not known.any():
        return {"note": "no terrain here or on the way"}
    share, by = views.share[known, k], views.by[known, k]
    d = np.hypot(eyes[known, 0] - foot.x, eyes[known, 1] - foot.y)
    t = views.hidden_at_m[known, k] / np.maximum(d, 1e-9)
    x = eyes[known, 0] + t * (foot.x - eyes[known, 0])
    y = eyes[known, 1] + t * (foot.y - eyes[known, 1])
    named = most_common(what_hides(scene, places, by, x, y)[0])
    return {
        "flag_seen_mean_pct": 100.0 * float(share.mean()),
        "flag_seen_least_pct": 100.0 * float(share.min()),
        "foot_share_pct": 100.0 * float(views.foot[known, k].mean()),
        "top_share_pct": 100.0 * float(views.top[known, k].mean()),
        **hider(named),
        "note": "" if known.all() else f"no answer from {100 * (1 - known.mean()):.0f} % of it",
    }


def hider(named: Named) -> Row:
    """Columns that say what hides."""
    return {"hidden_by": named.feature, "hidden_by_layer": named.layer, "hidden_by_feature_id": named.fid}
