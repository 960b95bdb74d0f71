"""Setting-out: which points of an outline to stake, and what they are called.

Coordinates in metres. Chainages and offsets come from :class:`gistools.compute.layout.alignment.Alignment`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.grid import Floats

#: code -> (number used in point numbers, layer, meaning); a table of our own
CODES: dict[str, tuple[int, str, str]] = {
    "LOP": (1, "lines_of_play", "station on the line of play"),
    "TEE": (2, "tees", "edge of a teeing area"),
    "TEM": (3, "tees", "tee marker"),
    "GRN": (4, "greens", "edge of a green"),
    "PIN": (5, "pins", "hole location"),
    "FWY": (6, "fairway", "edge of the fairway"),
    "BKR": (7, "bunkers", "edge of a bunker"),
    "BNC": (8, "burns", "centre of a burn"),
    "BNL": (9, "burns", "left bank of a burn, looking along the line as drawn"),
    "BNR": (10, "burns", "right bank of a burn, looking along the line as drawn"),
    "BNE": (11, "burns", "edge of a burn drawn as an area"),
    "WTR": (12, "water", "edge of a pond or lake"),
    "MDC": (13, "mounds", "crest of a mound"),
    "MDT": (14, "mounds", "toe of a mound"),
    "PMC": (21, "shapes", "proposed mound, crest"),
    "PMT": (22, "shapes", "proposed mound, toe"),
    "PHE": (23, "shapes", "proposed hollow, lip"),
    "PHL": (24, "shapes", "proposed hollow, lowest point"),
    "PCC": (25, "shapes", "proposed channel, centre of the bed"),
    "PCL": (26, "shapes", "proposed channel, left edge of the bed, looking along the line as drawn"),
    "PCR": (27, "shapes", "proposed channel, right edge of the bed, looking along the line as drawn"),
    "PCT": (28, "shapes", "proposed channel, top of the banks"),
    "PPE": (29, "shapes", "proposed platform, edge of the top"),
    "PPT": (30, "shapes", "proposed platform, foot of the banks"),
    "PTE": (31, "shapes", "proposed tier, middle of the face"),
    "PGE": (32, "shapes", "proposed graded plane, edge"),
}


#: most features of a kind on a hole, and most points of a feature, that the numbers have digits for
MOST_FEATURES, MOST_POINTS = 99, 999


@dataclass(frozen=True, eq=False)
class Run:
    """Points to stake one after the other: a line, a ring or single points of one feature.

    ``xy`` is ``(n, 2)`` [m]; ``closed`` tells that the last point joins the first.
    """

    code: str
    fid: int | str
    feature: str
    hole: int
    part: int
    xy: Floats
    closed: bool


def stake(line: ArrayLike, *, spacing_m: float, chord_m: float) -> tuple[Floats, bool]:
    """Choose the points of a line to stake.

    No two neighbours are further apart than ``spacing_m`` along the line, and the line as drawn strays
    nowhere more than ``chord_m`` from the straight string between neighbours. Corners that matter are kept as
    drawn.

    Parameters
    ----------
    line
        Vertices, shape ``(n, 2)`` [m]; a ring ends where it starts.
    spacing_m
        Greatest distance between neighbours along the line [m].
    chord_m
        Greatest distance of the line from the string [m]; on an arc of radius r and spacing c it is
        c^2 / (8 r).

    Returns
    -------
    xy, closed
        Points ``(k, 2)``, the first not repeated at the end of a ring, and whether it is one.
    """
    if not (spacing_m > 0 and chord_m > 0):
        raise InputError("point spacing and chord tolerance have to be above 0")
    v = np.asarray(line, float)[:, :2]
    v = v[np.concatenate([[True], np.hypot(*np.diff(v, axis=0).T) > 1e-9])]
    if len(v) < 2:
        return v, False
    closed = bool(np.allclose(v[0], v[-1], atol=1e-6)) and len(v) > 3
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(v, axis=0).T))])
    pieces = [(0.0, float(at[-1]))]
    if closed:
        far = float(at[np.hypot(*(v - v[0]).T).argmax()])
        pieces = [(far, float(at[-1])), (0.0, far)]
    chosen = [0.0]
    while pieces:
        a, b = pieces.pop()
        cuts = _cuts(v, at, a, b, spacing_m, chord_m)
        if cuts:
            edges = [a, *cuts, b]
            pieces.extend(reversed(list(pairwise(edges))))
        else:
            chosen.append(b)
    if closed:
        chosen.pop()
    return np.column_stack([np.interp(chosen, at, v[:, 0]), np.interp(chosen, at, v[:, 1])]), closed


def _cuts(v: Floats, at: Floats, a: float, b: float, spacing: float, chord: float) -> list[float]:
    """Where to part the stretch from chainage a to b, or nowhere."""
    within = (at > a + 1e-9) & (at < b - 1e-9)
    if within.any():
        ends = np.column_stack([np.interp([a, b], at, v[:, 0]), np.interp([a, b], at, v[:, 1])])
        away = shapely.distance(shapely.linestrings(ends), shapely.points(v[within]))
        if away.max() > chord:
            return [float(at[within][away.argmax()])]
    count = int(np.ceil((b - a) / spacing - 1e-9))
    return [a + (b - a) * k / count for k in range(1, count)]


def banks(line: shapely.LineString, width_m: float) -> tuple[Floats, Floats]:
    """Left and right edges of a strip along a line, both running the way of the line, each ``(n, 2)``."""
    edges = []
    for side in (1.0, -1.0):
        edge = shapely.offset_curve(line, side * width_m / 2, join_style="mitre", mitre_limit=3.0)
        edge = max(shapely.get_parts(edge), key=lambda g: g.length) if not edge.is_empty else line
        xy = shapely.get_coordinates(edge)
        start = shapely.get_coordinates(line)[0]
        if np.hypot(*(xy[0] - start)) > np.hypot(*(xy[-1] - start)):
            xy = xy[::-1]
        edges.append(xy)
    return edges[0], edges[1]


def within_limits(runs: list[Run], *, spacing_m: float, chord_m: float) -> tuple[list[Run], list[str]]:
    """Return runs whose points can all be numbered, and what had to be coarsened or left out.

    A feature of more than :data:`MOST_POINTS` is staked with doubled spacing and chord until they do.
    Features of a kind beyond :data:`MOST_FEATURES` on a hole are left out, those with the last ids.

    Parameters
    ----------
    runs
        Points to stake, as chosen with ``spacing_m`` and ``chord_m`` [m].
    """
    notes: list[str] = []
    ids: dict[tuple[int, str], list[int | str]] = {}
    for run in sorted(runs, key=lambda r: (isinstance(r.fid, str), r.fid)):
        known = ids.setdefault((run.hole, run.code), [])
        if run.fid not in known:
            known.append(run.fid)
    for (hole, code), fids in ids.items():
        if len(fids) > MOST_FEATURES:
            notes.append(
                f"hole {hole} has {len(fids)} features of kind {code}; {MOST_FEATURES} can be numbered,"
                f" the last {len(fids) - MOST_FEATURES} are not staked: join small ones, or part the hole"
            )
    runs = [run for run in runs if run.fid in ids[run.hole, run.code][:MOST_FEATURES]]
    by_feature: dict[tuple[int, str, int | str], list[int]] = {}
    for k, run in enumerate(runs):
        by_feature.setdefault((run.hole, run.code, run.fid), []).append(k)
    for (hole, code, fid), members in by_feature.items():
        spacing, chord = spacing_m, chord_m
        while sum(len(runs[k].xy) for k in members) > MOST_POINTS and spacing < 1e6:
            spacing, chord = 2 * spacing, 2 * chord
            for k in members:
                if len(runs[k].xy) > 2:
                    ring = np.vstack([runs[k].xy, runs[k].xy[:1]]) if runs[k].closed else runs[k].xy
                    runs[k] = replace(runs[k], xy=stake(ring, spacing_m=spacing, chord_m=chord)[0])
        if spacing != spacing_m:
            notes.append(
                f"hole {hole}, {CODES[code][1]} feature {fid} ({runs[members[0]].feature}): more than"
                f" {MOST_POINTS} points to stake; it is staked every {spacing:g} m within {chord:g} m"
            )
    return runs, notes


def number_points(runs: list[Run]) -> tuple[list[str], list[int], list[int]]:
    """Name and number the points of runs, in order.

    The name is the code, the feature id and a count within the feature (``BKR3-012``): it does not change
    when other features do. The number reads hole, code, feature of that kind on the hole, point: 1 07 02 012
    is point 12 of the second bunker of hole 1. Features are counted by their ids, so those added later come
    last.

    Returns
    -------
    names, numbers, seqs
        For each point of all runs.

    Raises
    ------
    InputError
        If a hole has more than 99 features of a kind, or a feature more than 999 points.
    """
    ids: dict[tuple[int, str], list[int | str]] = {}
    for run in sorted(runs, key=lambda r: (isinstance(r.fid, str), r.fid)):
        known = ids.setdefault((run.hole, run.code), [])
        if run.fid not in known:
            known.append(run.fid)
    names, numbers, seqs = [], [], []
    counts: dict[tuple[int, str, int | str], int] = {}
    for run in runs:
        feature = ids[run.hole, run.code].index(run.fid) + 1
        if feature > MOST_FEATURES:
            raise InputError(
                f"hole {run.hole}: more than 99 features of kind {run.code}; point numbers run out"
            )
        for _ in range(len(run.xy)):
            key = (run.hole, run.code, run.fid)
            counts[key] = seq = counts.get(key, 0) + 1
            if seq > MOST_POINTS:
                raise InputError(
                    f"hole {run.hole}, {run.code} {run.feature or run.fid}: more than 999 points to stake;"
                    " take a wider spacing or a coarser chord tolerance"
                )
            names.append(f"{run.code}{run.fid}-{seq:03d}")
            numbers.append(run.hole * 10**7 + CODES[run.code][0] * 10**5 + feature * 10**3 + seq)
            seqs.append(seq)
    return names, numbers, seqs


def walking_order(xy: ArrayLike, polylines: ArrayLike, closed: ArrayLike) -> NDArray[np.intp]:
    """Return the order in which points are walked: polyline by polyline, always on to the nearest.

    The first polyline is walked first, as it is. A ring begins at its nearest point, a line at its nearer
    end. Nearest neighbour: a short way, not the shortest.

    Parameters
    ----------
    xy
        Places ``(n, 2)`` [m].
    polylines
        Name of the polyline of each point; its points are walked in their order.
    closed
        Whether the polyline of each point is a ring.

    Returns
    -------
    NDArray
        Indices of the points ``(n,)``.
    """
    places, names, rings = np.asarray(xy, float), np.asarray(polylines), np.asarray(closed, bool)
    members = {str(name): np.flatnonzero(names == name) for name in dict.fromkeys(names.tolist())}
    order: list[NDArray[np.intp]] = []
    while members:
        if not order:
            name, start = next(iter(members)), 0
        else:
            here = places[order[-1][-1]]
            name, start = min(
                ((name, _nearest_start(places[at] - here, rings[at[0]])) for name, at in members.items()),
                key=lambda choice: float(np.hypot(*(places[members[choice[0]][choice[1]]] - here))),
            )
        at = members.pop(name)
        if rings[at[0]]:
            at = np.roll(at, -start)
        elif start:
            at = at[::-1]
        order.append(at)
    return np.concatenate(order) if order else np.zeros(0, np.intp)


def _nearest_start(away: Floats, ring: bool) -> int:
    """Return where a polyline is entered, by the vectors to its points from where one stands."""
    distance = np.hypot(*away.T)
    if ring:
        return int(distance.argmin())
    return 0 if distance[0] <= distance[-1] else len(distance) - 1
