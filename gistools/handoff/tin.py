"""Triangulated surfaces: as few triangles as a stated height tolerance allows.

The grid of a terrain has a point per cell; a machine-control unit or a CAD program wants the few thousand
triangles that say the same to a centimetre or two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from gistools.catalogue import tick
from gistools.errors import InputError
from gistools.ground.surface import Surface

Floats = NDArray[np.float64]

#: cells between the points the triangulation starts from (assumption)
FIRST_SPACING = 16
#: more points than this are of no use to an instrument (assumption)
MOST_POINTS = 400_000


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
        Greatest difference of height asked for at any cell centre [m].
    worst_m, rms_m
        Greatest and root-mean-square difference reached over all cell centres [m].
    """

    points: Floats
    faces: NDArray[np.int64]
    tolerance_m: float
    worst_m: float
    rms_m: float


def build_tin(surface: Surface, *, tolerance_m: float = 0.02) -> Tin:
    """Triangulate a surface to a tolerance.

    Starts from a coarse lattice; in every round the worst cell of each triangle that misses the surface by
    more than the tolerance becomes a point, until none is left. Cells without ground stay without triangles.

    Parameters
    ----------
    surface
        Terrain window.
    tolerance_m
        Greatest difference of height at a cell centre [m].

    Raises
    ------
    InputError
        If the tolerance is not above 0, there is too little ground, or it asks for too many points.

    Sources
    -------
    Greedy insertion: Garland and Heckbert 1995, Fast polygonal approximation of terrains and height fields,
    CMU-CS-95-181 (one point per triangle and round) [from memory].
    """
    if not tolerance_m > 0:
        raise InputError("the height tolerance of a triangulated surface has to be above 0")
    z = surface.z
    known = np.isfinite(z)
    if known.sum() < 4:
        raise InputError("there is too little ground here for a triangulated surface")
    cells = np.argwhere(known)
    chosen = _lattice(known)
    height = z[known]
    state = _State(cells, height, np.full(len(cells), -1), np.zeros(len(cells)))
    while True:
        mesh = Delaunay(chosen)
        _measure(mesh, chosen, z, state)
        off = np.abs(state.miss) > tolerance_m
        tick(0.0, f"triangles: {len(mesh.simplices)}, {off.sum()} cells beyond tolerance")
        if not off.any():
            break
        new = _worst_of_each(state, off)
        more = np.unique(np.vstack([chosen, cells[new]]), axis=0)
        if len(more) == len(chosen):
            raise InputError("the surface cannot be triangulated to this tolerance; take a coarser one")
        if len(more) > MOST_POINTS:
            raise InputError(
                f"a tolerance of {tolerance_m} m asks for more than {MOST_POINTS} points; take a coarser one"
            )
        chosen = more
    return _finish(surface, mesh, chosen, known, state, tolerance_m)


@dataclass
class _State:
    """What is known of each cell: the triangle it lies in (by its corner cells) and its miss [m]."""

    cells: NDArray[np.int64]
    height: Floats
    triangle: NDArray[np.int64]
    miss: Floats


def _lattice(known: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Cells to start from: every few rows and columns, the last ones, and the corners of what is known."""
    rows, cols = known.shape
    i = np.unique(np.r_[np.arange(0, rows, FIRST_SPACING), rows - 1])
    j = np.unique(np.r_[np.arange(0, cols, FIRST_SPACING), cols - 1])
    grid = np.stack(np.meshgrid(i, j, indexing="ij"), axis=-1).reshape(-1, 2)
    grid = grid[known[grid[:, 0], grid[:, 1]]]
    if known.all():
        return grid
    # the rim of the ground, so that triangles reach it and no further
    inner = known.copy()
    inner[1:-1, 1:-1] &= known[:-2, 1:-1] & known[2:, 1:-1] & known[1:-1, :-2] & known[1:-1, 2:]
    inner[[0, -1], :] = False
    inner[:, [0, -1]] = False
    return np.unique(np.vstack([grid, np.argwhere(known & ~inner)]), axis=0)


def _keys(mesh: Delaunay, chosen: NDArray[np.int64], cols: int) -> NDArray[np.int64]:
    """A number for each triangle that stays the same while its corners do."""
    corner = np.sort(chosen[mesh.simplices] @ np.array([cols, 1]), axis=1).astype(np.uint64)
    mixed = corner[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(29)) ^ corner[:, 1]) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(32)) ^ corner[:, 2]) * np.uint64(0x94D049BB133111EB)
    return mixed.view(np.int64)


def _measure(mesh: Delaunay, chosen: NDArray[np.int64], z: Floats, state: _State) -> None:
    """Find the miss of every cell whose triangle is new."""
    keys = _keys(mesh, chosen, z.shape[1])
    stale = ~np.isin(state.triangle, keys)
    at = state.cells[stale].astype(float)
    found = mesh.find_simplex(at, tol=1e-9)
    transform = mesh.transform[found]
    share = np.einsum("kij,kj->ki", transform[:, :2], at - transform[:, 2])
    share = np.column_stack([share, 1.0 - share.sum(axis=1)])
    corners = chosen[mesh.simplices[found]]
    flat = (z[corners[..., 0], corners[..., 1]] * share).sum(axis=1)
    miss = np.where(found >= 0, flat - state.height[stale], 0.0)
    state.miss[stale] = np.nan_to_num(miss)
    state.triangle[stale] = np.where(found >= 0, keys[found], -1)


def _worst_of_each(state: _State, off: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The worst cell of each triangle among those beyond tolerance."""
    cells = np.nonzero(off)[0]
    order = np.lexsort((-np.abs(state.miss[cells]), state.triangle[cells]))
    cells = cells[order]
    _, first = np.unique(state.triangle[cells], return_index=True)
    return cells[first]


def _finish(
    surface: Surface,
    mesh: Delaunay,
    chosen: NDArray[np.int64],
    known: NDArray[np.bool_],
    state: _State,
    tolerance_m: float,
) -> Tin:
    x, y = surface.centres()
    points = np.column_stack([x[chosen[:, 1]], y[chosen[:, 0]], surface.z[chosen[:, 0], chosen[:, 1]]])
    faces = mesh.simplices.astype(np.int64)
    if not known.all():
        over_nothing = np.unique(mesh.find_simplex(np.argwhere(~known).astype(float)))
        faces = np.delete(faces, over_nothing[over_nothing >= 0], axis=0)
    a, b, c = (points[faces[:, k], :2] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    faces[twice < 0] = faces[twice < 0][:, ::-1]
    faces = faces[np.abs(twice) > 1e-9 * surface.cell**2]
    return Tin(
        points,
        faces,
        tolerance_m,
        float(np.abs(state.miss).max()),
        float(np.sqrt(np.mean(state.miss**2))),
    )
