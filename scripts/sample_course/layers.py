"""The survey layers and tables of the sample site, drawn from its plan.

Coordinates are rounded to the millimetre.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gistools.compute.terrain.surface import Surface
from gistools.site.schema import SURVEY_LAYERS, TABLES
from sample_course import around, plan
from sample_course.brief import BRIEF
from sample_course.shapes import Curve, Floats, Frame


def layers(terrain: Surface) -> dict[str, pd.DataFrame]:
    """Return every survey layer and table of the sample site by name, fields in the order of the schema."""
    rows: dict[str, list[dict[str, Any]]] = {
        "tees": [
            {"hole": t.hole, "tee": t.tee, "geometry": _rectangle(t.frame, t.length, t.width)}
            for t in plan.TEES
        ],
        "fairway": [
            {"hole": hole, "firmness": plan.FIRMNESS.get(hole), "geometry": _polygon(outline[::-1])}
            for hole, outline in plan.fairway_outlines().items()
        ],
        "greens": [
            {
                "hole": g.hole,
                "name": g.name,
                "stimp_ft": 10.0,
                "firmness": plan.FIRMNESS.get(g.hole),
                "geometry": _polygon(g.blob.ring()),
            }
            for g in plan.GREENS
        ],
        "pins": [
            {"hole": g.hole, "pin": pin, "geometry": _point(*g.blob.frame.at(u, v))}
            for g in plan.GREENS
            for pin, u, v in g.pins
        ],
        "bunkers": [
            {"hole": b.hole, "name": b.name, "geometry": _polygon(b.blob.ring(36))} for b in plan.BUNKERS
        ],
        "burns": [{"name": plan.BURN_NAME, "width_m": plan.BURN_WIDTH, "geometry": _burn()}],
        "water": [{"name": around.POOL[0], "geometry": _polygon(around.POOL[1].ring(48))}],
        "mounds": [
            {"hole": m.hole, "name": m.name, "rise_m": m.rise, "geometry": _polygon(m.blob.ring(48))}
            for m in plan.MOUNDS
        ],
        "trees": _trees(),
        "paths": [
            {"name": name, "kind": kind, "width_m": width, "geometry": _line(Curve(points).line().coords)}
            for name, kind, width, points in around.PATHS
        ],
        "boundary": [{"name": "edge of the course", "geometry": _polygon(around.BOUNDARY)}],
        "play_lines": _play_lines(),
        "structures": [
            {"name": name, "kind": kind, "height_m": height, "geometry": _rectangle(frame, length, width)}
            for kind, (name, frame, length, width, height, _) in (
                ("house", around.HOUSE),
                ("shelter", around.SHELTER),
            )
        ],
        "shapes": _shapes(),
        "control": _control(terrain),
        **_plain_tables(),
    }
    return {name: _table(name, features) for name, features in rows.items()}


def _plain_tables() -> dict[str, list[dict[str, Any]]]:
    """Wind, player and brief; the club player is invented."""
    club_player = {
        "player": "club player",
        "based_on": "scratch man",
        "driver_carry_m": 185.0,
        "direction_sd_deg": 5.5,
        "distance_sd_pct": 7.5,
        "eye_m": 1.6,
    }
    return {
        "winds": [{"wind": "prevailing", "speed_ms": 6.0, "from_deg": 230.0, "prevailing": True}],
        "players": [club_player],
        "brief": [dict(row) for row in BRIEF],
        "site": [
            {
                "project": "Merrowby Links",
                "client": "Merrowby Links, the committee",
                "date": "2026-05-04",
                "author": "the sample's recipe",
            }
        ],
        "settings": [
            {
                "hole": 1,
                "name": "zone_longest_m",
                "value": "240",
                "note": "from the burn to the green each side of the fairway is one area",
            }
        ],
    }


def _table(name: str, rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    spec = SURVEY_LAYERS.get(name) or TABLES[name]
    columns: dict[str, Any] = {"fid": pd.Series(range(1, len(rows) + 1), dtype="int64")}
    for f in spec.all_fields:
        values = [row.get(f.name, f.default) for row in rows]
        gaps = any(v is None for v in values)
        kinds = {"float": "float64", "int": "float64" if gaps else "int64", "bool": "bool", "text": "object"}
        columns[f.name] = pd.Series(values, dtype=kinds[f.kind])
    if not spec.geometry:
        return pd.DataFrame(columns)
    return gpd.GeoDataFrame(columns, geometry=[row["geometry"] for row in rows], crs=plan.EPSG)


def _placed(points: Iterable[Sequence[float]] | Floats) -> Floats:
    """Local metres to map coordinates, to the millimetre."""
    xy = np.asarray(list(points), float)[:, :2]
    return np.round(np.round(xy, 3) + np.asarray(plan.ORIGIN), 3)


def _point(x: Floats | float, y: Floats | float) -> shapely.Point:
    return shapely.Point(_placed([(float(x), float(y))])[0])


def _line(points: Iterable[Sequence[float]]) -> shapely.LineString:
    return shapely.LineString(_placed(points))


def _polygon(points: Iterable[Sequence[float]] | Floats) -> shapely.Polygon:
    return shapely.Polygon(_placed(points))


def _rectangle(frame: Frame, length: float, width: float) -> shapely.Polygon:
    """Rectangle round the origin of a frame, anticlockwise, its corners cut by a fifth of a metre."""
    s, t, c = length / 2, width / 2, 0.2
    corners = [
        (-s + c, t),
        (s - c, t),
        (s, t - c),
        (s, c - t),
        (s - c, -t),
        (c - s, -t),
        (-s, c - t),
        (-s, t - c),
    ]
    return _polygon(np.column_stack(frame.at(*np.array(corners).T)))


def _burn() -> shapely.LineString:
    """Return the burn within the terrain, as it runs."""
    west, _, east, _ = plan.EXTENT
    points = np.asarray(plan.BURN.line().coords)
    return _line(points[(points[:, 0] > west + 2) & (points[:, 0] < east - 2)])


def _trees() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = [
        {
            "name": name,
            "height_m": height,
            "crown_m": crown,
            "clear_m": clear,
            "see_through": bare,
            "geometry": _point(x, y),
        }
        for x, y, height, crown, clear, name, bare in around.TREES
    ]
    name, blob, height = around.THICKET
    thicket = {"name": name, "height_m": height, "see_through": False, "geometry": _polygon(blob.ring(48))}
    return [*rows, thicket]


def _play_lines() -> list[dict[str, Any]]:
    """Hole 3 as the designer plays it: round the corner, and past the bunkers to the last bend."""
    green = next(g for g in plan.GREENS if g.hole == 3)
    end = shapely.Point(shapely.Polygon(green.blob.ring()).centroid)
    bends = [tuple(float(c) for c in plan.THREE.at(s, t)) for s, t in plan.BENDS_THREE]
    return [
        {
            "hole": 3,
            "tee": t.tee,
            "geometry": _line([(t.frame.x, t.frame.y), *bends, (end.x, end.y)]),
        }
        for t in plan.TEES
        if t.hole == 3
    ]


def _shapes() -> list[dict[str, Any]]:
    """One proposal: the mound of hole 1 a metre higher."""
    mound = plan.MOUNDS[0]
    return [
        {
            "hole": mound.hole,
            "name": f"{mound.name}, 1 m higher",
            "kind": "mound",
            "order": 1,
            "rise_m": 1.0,
            "geometry": _polygon(mound.blob.ring(48)),
        }
    ]


def _control(terrain: Surface) -> list[dict[str, Any]]:
    """Control points, with the small differences a check measurement finds."""
    rows = []
    for name, x, y, east, north, up in around.CONTROL:
        point = _point(x, y)
        level = round(float(terrain.height(point.x, point.y)), 3)
        rows.append(
            {
                "point": name,
                "level_m": level,
                "check_easting_m": round(point.x + east, 3),
                "check_northing_m": round(point.y + north, 3),
                "check_level_m": round(level + up, 3),
                "geometry": point,
            }
        )
    return rows
