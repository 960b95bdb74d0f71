"""Triangulated surfaces: as few triangles as a stated height tolerance allows.

The grid of a terrain has a point per cell; a machine-control unit or a CAD program takes the few thousand
triangles that say the same to a centimetre or two. Own code: general libraries of greedy insertion neither
leave out missing ground nor start from the triangles of another surface, which proposed ground needs to share
its triangles with existing ground.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from gistools.base.errors import InputError
from gistools.base.grid import Cells, Floats
from gistools.base.progress import tick
from gistools.compute.terrain.surface import Surface

#: cells between the points the triangulation starts from (assumption)
FIRST_SPACING = 16
#: more points than this are of no use to an instrument (assumption)
MOST_POINTS = 400_000
#: cells looked at in one go, to bound memory
CHUNK_CELLS = 2_000_000


@dataclass(frozen=True, eq=False)
class Tin:
    """Triangles that stand for a surface.

    Attributes
    ----------
    points
        East, north, level [m], shape ``(n, 3)``; all are cell centres of the surface.
    faces
        Indices into ``points``, counter-clockwise seen from above, shape ``(m, 3)``.
    tolerance_m
        Greatest difference of height allowed at any cell centre [m].
    worst_m, rms_m
        Greatest and root-mean-square difference reached over all cell centres [m].
    """

    points: Floats
    faces: NDArray[np.int64]
    tolerance_m: float
    worst_m: float
    rms_m: float


def build_tin(surface: Surface, *, tolerance_m: float = 0.02, start: Tin | None = None) -> Tin:
    """Triangulate a surface to a tolerance.

    Starts from a coarse lattice; in every round the worst cell of each triangle that misses the surface by
    more than the tolerance becomes a point, until none is left. Cells without ground stay without triangles.

    Parameters
    ----------
    surface
        Terrain window.
    tolerance_m
        Greatest difference of height at a cell centre [m].
    start
        Triangles of another surface on the same cells to start from: where both surfaces agree, so do their
        triangles, and little is left to do.

    Raises
    ------
    InputError
        If the tolerance is not above 0, there is too little ground, or it asks for too many points.

    Sources
    -------
    Greedy insertion, here one point per triangle and round: M. Garland and P. S. Heckbert 1995, "Fast
    polygonal approximation of terrains and height fields", report CMU-CS-95-181, Carnegie Mellon University
    (from memory).
    """
    if not tolerance_m > 0:
        raise InputError("the height tolerance of a triangulated surface has to be above 0")
    z = surface.z
    known = np.isfinite(z)
    if known.sum() < 4:
        raise InputError("there is too little ground here for a triangulated surface")
    chosen = _lattice(known) if start is None else _cells_of(start, surface)
    fine = np.zeros(0, np.int64)
    while True:
        faces = Delaunay(chosen).simplices.astype(np.int64)
        keys = _keys(chosen[faces], z.shape[1])
        new = ~np.isin(keys, fine)
        worst, at = _worst_cells(z, chosen[faces[new]])
        off = worst > tolerance_m
        fine = np.concatenate([keys[~new], keys[new][~off]])
        tick(0.0, f"{len(faces)} triangles, {off.sum()} beyond tolerance")
        if not off.any():
            break
        more = np.unique(np.vstack([chosen, at[off]]), axis=0)
        if len(more) == len(chosen):
            raise InputError("the surface cannot be triangulated to this tolerance; take a coarser one")
        if len(more) > MOST_POINTS:
            raise InputError(
                f"a tolerance of {tolerance_m} m asks for more than {MOST_POINTS} points; take a coarser one"
            )
        chosen = more
    return _finish(surface, chosen, faces, tolerance_m)


def _lattice(known: NDArray[np.bool_]) -> Cells:
    """Cells to start from: every few rows and columns, the last ones, and the rim of the ground."""
    rows, cols = known.shape
    i = np.unique(np.r_[np.arange(0, rows, FIRST_SPACING), rows - 1])
    j = np.unique(np.r_[np.arange(0, cols, FIRST_SPACING), cols - 1])
    grid: Cells = np.stack(np.meshgrid(i, j, indexing="ij"), axis=-1).reshape(-1, 2)
    grid = grid[known[grid[:, 0], grid[:, 1]]]
    if known.all():
        return grid
    inner = np.zeros_like(known)
    inner[1:-1, 1:-1] = known[:-2, 1:-1] & known[2:, 1:-1] & known[1:-1, :-2] & known[1:-1, 2:]
    return np.unique(np.vstack([grid, np.argwhere(known & ~inner)]), axis=0)


def _cells_of(start: Tin, surface: Surface) -> Cells:
    """Cells of the points of another triangulation, those with ground, and those to start from."""
    i, j = surface.grid.index(start.points[:, 0], start.points[:, 1])
    cells = np.column_stack([i, j])[surface.grid.contains(i, j)]
    known = np.isfinite(surface.z)
    return np.unique(np.vstack([cells[known[cells[:, 0], cells[:, 1]]], _lattice(known)]), axis=0)


def _keys(corners: Cells, cols: int) -> Cells:
    """A number for each triangle that stays the same while its corners do."""
    corner = np.sort(corners @ np.array([cols, 1]), axis=1).astype(np.uint64)
    mixed = corner[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(29)) ^ corner[:, 1]) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(32)) ^ corner[:, 2]) * np.uint64(0x94D049BB133111EB)
    return mixed.view(np.int64)


def _worst_cells(z: Floats, corners: Cells) -> tuple[Floats, Cells]:
    """Greatest miss [m] over the cell centres in each triangle, and the cell ``(row, column)`` it is at."""
    worst, at = np.zeros(len(corners)), np.zeros((len(corners), 2), np.int64)
    for part, triangle, cells, miss in _cells_inside(z, corners):
        size = np.abs(np.nan_to_num(miss))
        order = np.lexsort((size, triangle))
        last = np.nonzero(np.diff(triangle[order], append=-1))[0]
        pick = order[last]
        worst[part][triangle[pick]] = size[pick]
        at[part][triangle[pick]] = cells[pick]
    return worst, at


def _cells_inside(z: Floats, corners: Cells) -> Iterator[tuple[slice, Cells, Cells, Floats]]:
    """Walk over triangles in chunks: which triangle of the chunk, the cells in it, their miss [m].

    Whole-number arithmetic, so a cell centre on an edge belongs to both triangles and never to none.
    """
    low, high = corners.min(axis=1), corners.max(axis=1)
    counts = np.prod(high - low + 1, axis=1)
    chunk = (np.cumsum(counts) - 1) // CHUNK_CELLS
    edges = np.nonzero(np.diff(chunk, prepend=-1, append=-1))[0]
    for a, b in pairwise(edges.tolist()):
        n = counts[a:b]
        triangle = np.repeat(np.arange(b - a), n)
        place = np.arange(n.sum()) - np.repeat(np.cumsum(n) - n, n)
        wide = (high - low + 1)[a:b, 1][triangle]
        cells = low[a:b][triangle] + np.column_stack([place // wide, place % wide])
        p, q, r = (corners[a:b, k][triangle] for k in range(3))
        shares = np.column_stack([_twice(q, r, cells), _twice(r, p, cells), _twice(p, q, cells)])
        area = shares.sum(axis=1)
        inside = (np.sign(area)[:, None] * shares >= 0).all(axis=1) & (area != 0)
        shares, cells, triangle = shares[inside], cells[inside], triangle[inside]
        three = corners[a:b][triangle]
        flat = (z[three[..., 0], three[..., 1]] * shares).sum(axis=1) / area[inside]
        yield slice(a, b), triangle, cells, flat - z[cells[:, 0], cells[:, 1]]


def _twice(a: Cells, b: Cells, c: Cells) -> Cells:
    """Twice the signed area of triangles, rows counted as x."""
    area: Cells = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return area


def _finish(surface: Surface, chosen: Cells, faces: Cells, tolerance_m: float) -> Tin:
    """Drop triangles over nothing and measure the miss of every cell once more.

    Triangles come counter-clockwise in (row, column), and so they are in (east, north), a quarter turn of it.
    """
    corners = chosen[faces]
    over_nothing = _twice(corners[:, 0], corners[:, 1], corners[:, 2]) == 0
    missed = np.full(surface.z.shape, np.nan)
    for part, triangle, cells, miss in _cells_inside(surface.z, corners):
        over_nothing[part][triangle[np.isnan(miss)]] = True
        missed[cells[:, 0], cells[:, 1]] = miss
    faces = faces[~over_nothing]
    x, y = surface.centres()
    points = np.column_stack([x[chosen[:, 1]], y[chosen[:, 0]], surface.z[chosen[:, 0], chosen[:, 1]]])
    return Tin(
        points, faces, tolerance_m, float(np.nanmax(np.abs(missed))), float(np.sqrt(np.nanmean(missed**2)))
    )
