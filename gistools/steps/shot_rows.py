"""Rows of the result layers of tee shots, from the shots themselves."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from gistools.base.cover_classes import KIND_NAMES, Kind
from gistools.compute.ballistics.flight import trajectory
from gistools.compute.ballistics.simulate import Shots
from gistools.compute.ballistics.tee_shot import Teeing, TeeShot, ellipse

_TREES = int(Kind.TREES)
_BEYOND = (int(Kind.OUT), int(Kind.OFF_MAP))
_BAD = {KIND_NAMES[k] for k in (Kind.SAND, Kind.WATER, Kind.TREES, Kind.OUT, Kind.OFF_MAP)}


def nothing(common: dict[str, Any], place: tuple[float, float], area: Any, note: str) -> dict[str, Any]:
    """Row of a zone that no shot is told for."""
    line = LineString([place, area.representative_point().coords[0][:2]])
    return common | {"surest_club": "", "note": note, "geometry": line}


def shot_row(
    common: dict[str, Any],
    place: tuple[float, float],
    area: Any,
    tee_shot: TeeShot,
    shots: Shots,
) -> dict[str, Any]:
    """Row of the chosen tee shot."""
    shapely.prepare(area)
    landed = np.asarray(shapely.contains_xy(area, shots.land_x, shots.land_y))
    through = landed & ~tee_shot.in_zone
    beyond = shapely.distance(area, shapely.points(shots.x[through], shots.y[through]))

    def share(*kinds: Kind) -> float:
        return 100.0 * float(np.isin(shots.kind, kinds).mean())

    return common | {
        "aim_deg": tee_shot.bearing_deg,
        "in_zone_pct": 100.0 * float(tee_shot.in_zone.mean()),
        "fairway_pct": share(Kind.FAIRWAY),
        "hazard_pct": share(Kind.SAND, Kind.WATER),
        "out_of_bounds_pct": share(Kind.OUT, Kind.OFF_MAP),
        "trees_pct": share(Kind.TREES),
        "run_through_pct": 100.0 * float(through.mean()),
        "run_through_m": float(beyond.mean()) if through.any() else math.nan,
        "carry_mean_m": float(shots.carry_m.mean()),
        "run_out_mean_m": float(shots.run_m.mean()),
        "total_mean_m": float(np.hypot(shots.x - place[0], shots.y - place[1]).mean()),
        "apex_mean_m": float(shots.apex_m.mean()),
        "descent_mean_deg": float(shots.descent_deg.mean()),
        "note": "",
        "geometry": LineString([place, (float(shots.x.mean()), float(shots.y.mean()))]),
    }


def _places(names: tuple[str, ...], shots: Shots) -> tuple[list[str], list[str]]:
    """Name of the feature, and kind of ground, each ball rests in."""
    kinds = [int(k) for k in shots.kind]
    grounds = [KIND_NAMES[k] for k in kinds]
    features = [names[f] if f >= 0 else "" for f in shots.feature.tolist()]
    for k, kind in enumerate(kinds):
        if kind in _BEYOND:
            features[k] = grounds[k]
        elif kind == _TREES and not features[k]:
            features[k] = "trees and structures"
    return features, grounds


def risk_rows(common: dict[str, Any], names: tuple[str, ...], shots: Shots) -> list[dict[str, Any]]:
    """Chance of finishing in each hazard, by name, most likely first."""
    counts = Counter(place for place in zip(*_places(names, shots), strict=True) if place[1] in _BAD)
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return [
        common | {"feature": name or ground, "cover_class": ground, "chance_pct": 100.0 * n / len(shots)}
        for (name, ground), n in ordered
    ]


def ellipse_rows(common: dict[str, Any], shots: Shots) -> list[dict[str, Any]]:
    """Ellipses that hold 50 and 90 % of landings and finishes."""
    rows = []
    for event, x, y in (("landing", shots.land_x, shots.land_y), ("finish", shots.x, shots.y)):
        for share in (50.0, 90.0):
            outline, long_m, wide_m, bearing = ellipse(x, y, share / 100.0)
            size = {"ellipse_length_m": long_m, "ellipse_width_m": wide_m, "axis_bearing_deg": bearing}
            rows.append(common | {"event": event, "enclosed_pct": share, **size, "geometry": outline})
    return rows


def point_rows(
    common: dict[str, Any],
    names: tuple[str, ...],
    shots: Shots,
    tee_shot: TeeShot,
    place: tuple[float, float],
    points: int,
) -> list[dict[str, Any]]:
    """The first finishing points of the even sample."""
    features, grounds = _places(names, shots)
    return [
        common
        | {
            "cover_class": grounds[k],
            "feature": features[k],
            "in_zone": bool(tee_shot.in_zone[k]),
            "total_m": math.hypot(shots.x[k] - place[0], shots.y[k] - place[1]),
            "geometry": Point(shots.x[k], shots.y[k]),
        }
        for k in range(min(points, len(shots)))
    ]


def path_rows(common: dict[str, Any], teeing: Teeing, tee_shot: TeeShot) -> list[dict[str, Any]]:
    """The aimed shot and those one standard deviation left and right of it, as lines with levels."""
    off = teeing.player.dispersion(tee_shot.club, teeing.lie).direction_sd_deg
    x0, y0, z0 = teeing.start
    rows = []
    for shot, turn in (("middle", 0.0), ("left", -off), ("right", off)):
        bearing = tee_shot.bearing_deg + turn
        heading = math.radians(bearing)
        one = teeing.shots(teeing.one(tee_shot.club, heading))
        path = trajectory(
            tee_shot.club.launch,
            weather=teeing.weather,
            wind=teeing.wind,
            bearing_deg=bearing % 360.0,
            points=25,
            time_s=max(float(one.air_s[0]), 0.05),
        )
        sine, cosine = math.sin(heading), math.cos(heading)
        xyz = np.column_stack(
            [
                x0 + path[:, 1] * sine + path[:, 2] * cosine,
                y0 + path[:, 1] * cosine - path[:, 2] * sine,
                z0 + path[:, 3],
            ]
        )
        xyz = np.vstack([xyz, [one.x[0], one.y[0], one.z[0]]])
        rows.append(
            common
            | {
                "path": shot,
                "shot_carry_m": float(one.carry_m[0]),
                "apex_m": float(one.apex_m[0]),
                "descent_deg": float(one.descent_deg[0]),
                "run_out_m": float(one.run_m[0]),
                "air_s": float(one.air_s[0]),
                "geometry": LineString(xyz),
            }
        )
    return rows
