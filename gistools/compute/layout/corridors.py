"""Width of the fairway and clearances at stations along the line of play.

At a station everything is measured square to play: square to the leg, at a turning point along the bisector
of its two legs (which cuts a fairway of width w at a bend by the angle t in w / cos(t / 2)). Inside a bend
the lines of neighbouring stations can cross; on the outside they open like a fan.

The fairway's width is that of the piece that holds the line of play, hazards set into the fairway counted in;
the clear width is what of that piece is fairway free of bunkers, burns and water. Clearances are the least
offsets to each side within half a station's spacing up and down the line, so that a single tree between two
stations is not missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats
from gistools.compute.layout.alignment import Alignment, cross_sections, pieces_under_line
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan

#: Landing distances of the model players, tee shot, second and third full shot: 250 (women 210) and 470 (400)
#: yd scratch, 200 (150), 370 (280) and 540 (410) yd bogey: World Handicap System, Course Rating System
#: 2020-2024 (second-hand)
LANDING_M: dict[str, tuple[float, ...]] = {
    "scratch man": (228.6, 429.8),
    "bogey man": (182.9, 338.3, 493.8),
    "scratch woman": (192.0, 365.8),
    "bogey woman": (137.2, 256.0, 374.9),
}
ROLL_M = 18.3  # 20 yd of roll on a flat fairway: same (second-hand)
TICK_M = 1.0  # half-length of the mark drawn where there is no fairway


@dataclass(frozen=True)
class Surroundings:
    """What lies round a hole: crowns of trees, the boundary, features of other holes."""

    trees: list[Feature]
    boundary: list[Feature]
    others: list[Feature]


def stations(length: float, spacing: float) -> Floats:
    """Chainages from the tee at equal spacing, and the end of the line."""
    at = np.arange(0.0, length, spacing)
    return np.append(at if length - at[-1] > 1e-6 else at[:-1], length)


def widths(hole: Hole, tee: TeePlan, at: Floats) -> list[dict[str, Any]]:
    """Fairway widths at chainages of a line of play.

    Returns
    -------
    list of dict
        ``chainage_m, line_surface, fairway_left_m, fairway_right_m, fairway_width_m, clear_width_m`` [m] and
        the ``geometry`` of the fairway's width; widths are ``nan`` where the line of play is not on fairway,
        and ``line_surface`` says what is there instead.
    """
    line = tee.line
    left, right = pieces_under_line(*cross_sections(line, at, hole.filled), len(at))
    on = np.isfinite(left)
    middle, side = line.at(at), line.right(at)
    low = np.where(on, left, -TICK_M)
    high = np.where(on, right, TICK_M)
    lines: Any = shapely.linestrings(
        np.stack([middle + low[:, None] * side, middle + high[:, None] * side], axis=1)
    )
    clear = np.where(on, shapely.length(shapely.intersection(lines, hole.turf)), np.nan)
    ground = _ground(hole, middle)
    return [
        {
            "hole": hole.number,
            "tee": tee.tee,
            "chainage_m": float(at[k]),
            "line_surface": ground[k],
            "fairway_left_m": float(-left[k]),
            "fairway_right_m": float(right[k]),
            "fairway_width_m": float(right[k] - left[k]),
            "clear_width_m": float(clear[k]),
            "geometry": lines[k],
        }
        for k in range(len(at))
    ]


def _ground(hole: Hole, points: Floats) -> list[str]:
    """What covers the ground at points: a hazard by name, green, tee, fairway or rough."""
    spots = shapely.points(points)
    out = np.full(len(points), "rough", dtype=object)
    layers: list[tuple[str, BaseGeometry]] = [("fairway", hole.fairway)]
    layers += [("tee", t.outline) for t in hole.tees] + [("green", hole.green)]
    layers += [(h.feature, h.geometry) for h in hole.hazards]
    for name, area in layers:
        out[shapely.intersects(area, spots)] = name
    return [str(v) for v in out]


def corridor_rows(
    hole: Hole,
    tee: TeePlan,
    around: Surroundings,
    *,
    spacing_m: float,
    search_distance_m: float,
    end_exclusion_m: float,
) -> list[dict[str, Any]]:
    """Widths and clearances at stations; the row of the narrowest place is marked.

    The narrowest place is the least clear width among stations on the fairway that have fairway under the
    line for ``end_exclusion_m`` before and behind, so that the rounded ends of a fairway do not count.
    """
    at = stations(tee.line.length, spacing_m)
    rows = widths(hole, tee, at)
    for name, features in (("tree", around.trees), ("boundary", around.boundary), ("other", around.others)):
        for side, sign in (("left", -1.0), ("right", 1.0)):
            distance, which = clearance(
                tee.line, at, [f.geometry for f in features], sign, spacing_m / 2, search_distance_m
            )
            for k, row in enumerate(rows):
                row[f"{name}_{side}_m"] = float(distance[k])
                if name == "other":
                    row[f"other_{side}"] = features[which[k]].feature if which[k] >= 0 else ""
    width = np.array([row["clear_width_m"] for row in rows])
    on = np.isfinite(width)
    inner = np.array([bool(on[np.abs(at - s) <= end_exclusion_m + 1e-6].all()) for s in at]) & on
    narrowest = int(np.argmin(np.where(inner, np.round(width, 6), np.inf))) if inner.any() else -1
    for k, row in enumerate(rows):
        row["narrowest"] = k == narrowest
    return rows


def landing_rows(hole: Hole, tee: TeePlan, players: dict[str, tuple[float, ...]]) -> list[dict[str, Any]]:
    """Widths where each player's full shots land short of the centre of the green."""
    shots = [
        (player, shot, distance)
        for player, distances in players.items()
        for shot, distance in enumerate(distances, 1)
        if distance < tee.line.length
    ]
    if not shots:
        return []
    rows = widths(hole, tee, np.array([t[2] for t in shots]))
    return [
        row | {"player": player, "full_shot": shot}
        for row, (player, shot, _) in zip(rows, shots, strict=True)
    ]


def clearance(
    line: Alignment,
    at: Floats,
    obstacles: list[BaseGeometry],
    sign: float,
    half_band: float,
    search_distance_m: float,
) -> tuple[Floats, NDArray[np.intp]]:
    """Least offset to one side within a band up and down the line.

    Parameters
    ----------
    line, at
        The line and its stations ``(m,)`` [m].
    obstacles
        Geometries to keep clear of.
    sign
        1 looks to the right, -1 to the left.
    half_band
        How far up and down the line a station looks [m].
    search_distance_m
        How far aside [m].

    Returns
    -------
    offset : (m,)
        Distance [m], 0 where one covers the line, ``nan`` where there is none within ``search_distance_m``.
    which : (m,)
        Index into ``obstacles``, -1 for none.
    """
    least = np.full(len(at), np.nan)
    which = np.full(len(at), -1, dtype=np.intp)
    if not obstacles:
        return least, which
    middle, ahead, side = line.at(at), line.direction(at), sign * line.right(at)
    back, front, out = -half_band * ahead, half_band * ahead, search_distance_m * side
    bands: Any = shapely.polygons(
        np.stack([middle + back, middle + front, middle + front + out, middle + back + out], axis=1)
    )
    station, row = shapely.STRtree(obstacles).query(bands, predicate="intersects")
    if len(station) == 0:
        return least, which
    cut = shapely.intersection(bands[station], np.asarray(obstacles, dtype=object)[row])
    points, pair = shapely.get_coordinates(cut, return_index=True)
    owner = station[pair]
    offset = np.clip(np.einsum("kc,kc->k", points - middle[owner], side[owner]), 0.0, None)
    order = np.lexsort((row[pair], offset, owner))
    first = order[np.r_[True, np.diff(owner[order]) > 0]]
    least[owner[first]], which[owner[first]] = offset[first], row[pair[first]]
    return least, which
