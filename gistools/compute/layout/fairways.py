"""The fairway as one shape: with the hazards set into it, and its middle line.

Surveyors draw a fairway either straight across a burn or bunker, or cut out round it. Both have to give the
same answer, so everything that measures width works on the fairway *with its hazards filled in*.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats

BRIDGE_M = 15.0  # assumption: breaks in the fairway up to twice this wide are looked at for a hazard in them
CRUMB_M2 = 1.0  # assumption: pieces smaller than this come from rounding or careless drawing
FINE = 32  # segments to a quarter circle: a round of 15 m is true to 5 mm (r (1 - cos(pi / 128)))


def polygons(shape: BaseGeometry, least_m2: float = 0.0) -> list[Polygon]:
    """Polygons of any geometry, at least so large."""
    parts = shapely.get_parts(shapely.get_parts(np.atleast_1d(np.asarray(shape, dtype=object))))
    return [p for p in parts if shapely.get_type_id(p) == 3 and not p.is_empty and p.area >= least_m2]


def filled(fairway: BaseGeometry, hazards: list[BaseGeometry], bridge_m: float = BRIDGE_M) -> BaseGeometry:
    """Fairway with the hazards that lie in it filled in.

    A hazard fills a hole or a bay of the fairway, or the break between two parts of it, no wider than twice
    ``bridge_m``; rough in the break within ``bridge_m`` of it goes with it. Rough with no hazard in it stays
    open, and the outline stays as drawn elsewhere.

    Parameters
    ----------
    fairway
        Fairway of one hole, any number of parts.
    hazards
        Outlines of bunkers, burns and water.
    bridge_m
        Half the widest break looked at [m].
    """
    if fairway.is_empty:
        return fairway
    closed = fairway.buffer(bridge_m, quad_segs=FINE).buffer(-bridge_m, quad_segs=FINE)
    gaps = polygons(closed.difference(fairway), CRUMB_M2)
    holes = [Polygon(ring) for part in polygons(fairway) for ring in part.interiors]
    hazard = shapely.union_all(hazards) if hazards else Polygon()
    reach = hazard.buffer(bridge_m)
    # closing leaves the mouths of a break hollow between their corners: the hull fills them straight
    pieces = [
        piece
        for g in gaps + holes
        if g.intersection(hazard).area >= CRUMB_M2
        for piece in polygons(g.convex_hull.difference(fairway).intersection(reach), CRUMB_M2 / 10)
        if piece.distance(g) < 1e-6
    ]
    if not pieces:
        return fairway
    # they overlap by a micrometre, so that a gap and the fairway round it merge whatever the rounding
    return shapely.union_all([fairway, *[g.buffer(1e-6, join_style="mitre") for g in pieces]])


def middle_line(area: Polygon, step_m: float = 4.0) -> tuple[Floats, Floats]:
    """Middle line of one long area: points along it and the half-width at each.

    The middle line is the longest way along the Voronoi edges of the outline inside the area (the usual
    approximation of the medial axis); the forks that run into the corners at both ends are cut off.

    Parameters
    ----------
    area
        Polygon; its holes are ignored.
    step_m
        Spacing of points on the outline and on the answer [m].

    Returns
    -------
    points : (m, 2) [m]
    half_width : (m,) [m]
        Distance to the outline. Both are empty where the area is too small to have a middle line.
    """
    nothing = np.empty((0, 2)), np.empty(0)
    outer = Polygon(area.exterior)
    origin = np.asarray(outer.centroid.coords[0])
    local = shapely.transform(outer, lambda c: c - origin)
    # slightly longer than the step: rounding does not change the number of segments of edges that are whole
    # steps long
    ring = shapely.segmentize(local.exterior, step_m * (1.0 + 1e-6))
    edges = shapely.get_parts(
        shapely.voronoi_polygons(shapely.MultiPoint(shapely.get_coordinates(ring)), only_edges=True)
    )
    edges = shapely.get_parts(edges)
    shapely.prepare(local)
    edges = edges[shapely.contains_properly(local, edges)]
    if len(edges) < 3:
        return nothing
    ends = shapely.get_coordinates(edges).reshape(-1, 2, 2)
    path = _longest_way(ends)
    if len(path) < 2:
        return nothing
    way = LineString(path)
    count = max(int(way.length / step_m + 1e-6), 2)
    points = shapely.get_coordinates(
        shapely.line_interpolate_point(way, np.linspace(0, way.length, count + 1))
    )
    half = np.asarray(shapely.distance(shapely.points(points), local.exterior))
    keep = _without_forks(points, half)
    return points[keep] + origin, half[keep]


def _longest_way(ends: Floats) -> Floats:
    """Longest of the shortest ways through a net of edges ``(k, 2, 2)``; two sweeps find it in a tree."""
    _, name = np.unique(np.round(ends.reshape(-1, 2), 6), axis=0, return_inverse=True)
    nodes = np.empty((name.max() + 1, 2))
    nodes[name.ravel()] = ends.reshape(-1, 2)
    a, b = name.reshape(-1, 2).T
    length = np.hypot(*(nodes[a] - nodes[b]).T)
    net = coo_matrix((np.maximum(length, 1e-9), (a, b)), shape=(len(nodes),) * 2).tocsr()
    longest = int(np.argmax(length))
    first = dijkstra(net, directed=False, indices=int(a[longest]))
    one = int(np.argmax(np.where(np.isfinite(first), first, -1)))
    second, back = dijkstra(net, directed=False, indices=one, return_predecessors=True)
    node = int(np.argmax(np.where(np.isfinite(second), second, -1)))
    path = [node]
    while node != one:
        node = int(back[node])
        path.append(node)
    return nodes[path]


def _without_forks(points: Floats, half: Floats) -> NDArray[np.bool_]:
    """Mark what remains when the forks into the corners of both ends are cut off.

    In the fork of a square corner the way run ``t`` is 1.41 times the clearance; in a slowly tapering end it
    is much more. What runs less than 1.6 times the clearance from an end is fork.
    """
    run = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    keep = np.ones(len(points), bool)
    for distance, order in ((run, 1), (run[-1] - run, -1)):
        clear = (distance > 1.6 * half)[::order]
        first = int(np.argmax(clear)) if clear.any() else len(points)
        cut = np.zeros(len(points), bool)
        cut[:first] = True
        keep &= ~cut[::order]
    return keep


def hole_middle(fairway: BaseGeometry, tee: Floats, step_m: float = 4.0) -> tuple[Floats, Floats]:
    """Middle line of a hole's whole fairway, from the tee's end to the green's.

    Parts less than twice :data:`BRIDGE_M` apart are joined first. Of parts still apart, the largest counts,
    and the others that lie wholly before or after it (by distance from the tee).

    Returns
    -------
    points : (m, 2) [m]
    half_width : (m,) [m]
    """
    if fairway.is_empty:
        return np.empty((0, 2)), np.empty(0)
    joined = fairway
    if len(polygons(fairway)) > 1:
        closed = fairway.buffer(BRIDGE_M, quad_segs=FINE).buffer(-BRIDGE_M, quad_segs=FINE)
        joined = shapely.union_all([fairway, closed])
    pieces: list[tuple[float, float, Floats, Floats]] = []
    for part in sorted(polygons(joined, 50.0), key=lambda p: -p.area):
        points, half = middle_line(part, step_m)
        if len(points) == 0:
            continue
        away = np.hypot(*(points - tee).T)
        if away[0] > away[-1]:
            points, half = points[::-1], half[::-1]
        first, last = float(away.min()), float(away.max())
        if all(last <= p[0] or first >= p[1] for p in pieces):
            pieces.append((first, last, points, half))
    if not pieces:
        return np.empty((0, 2)), np.empty(0)
    pieces.sort(key=lambda p: p[0])
    return np.vstack([p[2] for p in pieces]), np.concatenate([p[3] for p in pieces])


def merged(parts: Sequence[BaseGeometry]) -> BaseGeometry:
    """Union of polygons, an empty MultiPolygon of none."""
    return shapely.union_all(parts) if parts else MultiPolygon()


def rings(shape: Any) -> BaseGeometry:
    """Outline of polygons; lines and points as they are."""
    return shape.boundary if shapely.get_type_id(shape) in (3, 6) else shape
