"""Levels at points, lines and triangles put on square cells, with gaps left open and the error estimated.

Heights between points are linear on the Delaunay triangles of the points (a TIN). No triangle crosses a
breakline or contour: each gets further corners until all its pieces are edges of triangles (a conforming
Delaunay triangulation: halving after J. Ruppert 1995, Journal of Algorithms 18(3) 548-585, from memory).
Nothing is invented: cells farther from any level than a stated reach, and triangles longer than it, stay
empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import Delaunay, QhullError

from gistools.base.errors import InputError
from gistools.base.grid import Floats, Grid

#: share of points left out to estimate the error, and the most that are compared
LEFT_OUT_SHARE, MOST_COMPARED = 0.1, 50_000
#: cells round a gap that its triangles stand on
RIM_CELLS = 2
#: places that triangles are looked for at once; more hold much memory
AT_ONCE = 1_000_000


@dataclass(frozen=True)
class Residuals:
    """How far a surface lies from levels that were left out of it [m].

    ``count`` levels, mean and root mean square of surface minus level, and the size that 95 of 100 do not
    pass.
    """

    count: int
    mean_m: float
    rms_m: float
    most_m: float


def residuals_of(differences: Floats) -> Residuals:
    """Return the residuals of differences, missing ones left out."""
    d = differences[np.isfinite(differences)]
    if not d.size:
        return Residuals(0, np.nan, np.nan, np.nan)
    size = np.abs(d)
    return Residuals(d.size, float(d.mean()), float(np.sqrt((d**2).mean())), float(np.quantile(size, 0.95)))


def tin_heights(points: Floats, x: Floats, y: Floats, longest_m: float) -> Floats:
    """Return heights on the Delaunay triangles of points.

    Parameters
    ----------
    points
        ``(n, 3)`` places and levels [m].
    x, y
        Where, any shape [m].
    longest_m
        Triangles with a longer side give no height [m].

    Raises
    ------
    InputError
        If the points do not span an area.
    """
    first, unique, _ = _unique_places(points[:, :2])
    if len(unique) < 3:
        raise InputError(f"{len(unique)} levels do not span an area; at least three are needed")
    try:
        faces = Delaunay(unique).simplices
    except QhullError as fault:
        raise InputError("the levels lie on one line; they span no area") from fault
    corners = np.column_stack([unique, points[first, 2]])
    places = unique[faces]
    sides = np.linalg.norm(places - np.roll(places, 1, axis=1), axis=2).max(axis=1)
    west, south = points[:, :2].mean(axis=0)
    return triangle_heights(corners, faces[sides <= longest_m], np.asarray(x) - west, np.asarray(y) - south)


def left_out(groups: NDArray[np.int64], seed: int = 7) -> NDArray[np.bool_]:
    """Choose the levels to leave out: about a tenth of the groups (a contour), the same each time."""
    names = np.unique(groups)
    chosen = np.random.default_rng(seed).random(len(names)) < LEFT_OUT_SHARE
    if not chosen.any() and len(names) > 3:
        chosen[len(names) // 2] = True
    return chosen[np.searchsorted(names, groups)]


def tin_residuals(points: Floats, groups: NDArray[np.int64], longest_m: float) -> Residuals:
    """Return how well the TIN of the other levels meets levels that are left out."""
    out = left_out(groups)
    if out.sum() == 0 or (~out).sum() < 3:
        return residuals_of(np.empty(0))
    test = points[out][:MOST_COMPARED]
    try:
        return residuals_of(tin_heights(points[~out], test[:, 0], test[:, 1], longest_m) - test[:, 2])
    except InputError:
        return residuals_of(np.empty(0))


def densified(line: Floats, step_m: float) -> Floats:
    """Return a line ``(n, 3)`` with corners at most a step apart, levels linear between its own."""
    parts = [line[:1]]
    for a, b in pairwise(line):
        count = max(1, int(np.ceil(np.hypot(*(b - a)[:2]) / step_m)))
        share = np.arange(1, count + 1)[:, None] / count
        parts.append(a + (b - a) * share)
    return np.vstack(parts)


@dataclass(frozen=True)
class Breaklines:
    """Lines with corners enough that triangles have each of their pieces as an edge.

    ``corners (n, 3)`` of all lines, one after the other, ``line (n,)`` the number of each one's line, and the
    middles ``(k, 3)`` of the pieces that no edge follows: where lines cross, or pass closer than the shortest
    piece by a level.
    """

    corners: Floats
    line: NDArray[np.int64]
    broken: Floats


def conforming(points: Floats, lines: list[Floats], step_m: float, least_m: float) -> Breaklines:
    """Give breaklines the corners that make their pieces edges of the triangles of all levels.

    Parameters
    ----------
    points
        ``(n, 3)`` single levels [m].
    lines
        Breaklines or contours, each ``(n, 3)``; levels are linear between corners.
    step_m
        Corners are nowhere farther apart [m].
    least_m
        Pieces shorter than this are not halved any more [m].
    """
    dense = [densified(line, step_m) for line in lines]
    corners = np.vstack(dense) if dense else np.empty((0, 3))
    line = np.repeat(np.arange(len(dense)), [len(d) for d in dense])
    while True:
        missing = _not_edges(points, corners, line)
        halved = missing[np.hypot(*(corners[missing + 1] - corners[missing])[:, :2].T) > least_m]
        if not len(halved):
            break
        middle = 0.5 * (corners[halved] + corners[halved + 1])
        corners = np.insert(corners, halved + 1, middle, axis=0)
        line = np.insert(line, halved + 1, line[halved])
    return Breaklines(corners, line, 0.5 * (corners[missing] + corners[missing + 1]))


def _not_edges(points: Floats, corners: Floats, line: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the corners at which pieces of lines begin that are no edge of a triangle."""
    start = np.flatnonzero(line[1:] == line[:-1])
    unique, back = _unique_places(np.vstack([points, corners])[:, :2])[1:]
    if len(unique) < 3 or not len(start):
        return np.empty(0, np.int64)
    try:
        faces = np.sort(Delaunay(unique).simplices.astype(np.int64), axis=1)
    except QhullError:  # on one line: told where heights are taken
        return np.empty(0, np.int64)
    count = len(unique)
    edges = np.concatenate([faces[:, a] * count + faces[:, b] for a, b in ((0, 1), (0, 2), (1, 2))])
    a, b = (back[len(points) + k] for k in (start, start + 1))
    piece = np.minimum(a, b) * count + np.maximum(a, b)
    missing: NDArray[np.int64] = start[(a != b) & ~np.isin(piece, edges)]
    return missing


def _unique_places(xy: Floats) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64]]:
    """Return the first of each place to a tenth of a millimetre, places from their mean, and each one's."""
    flat = xy - xy.mean(axis=0)
    _, first, back = np.unique(np.round(flat, 4), axis=0, return_index=True, return_inverse=True)
    return first, flat[first], back.ravel()


def triangle_heights(corners: Floats, faces: NDArray[np.int64], x: Floats, y: Floats) -> Floats:
    """Return the heights of given triangles at places; the first triangle where several meet.

    Parameters
    ----------
    corners
        ``(n, 3)`` places and levels [m].
    faces
        ``(m, 3)`` positions in ``corners``.
    x, y
        Where, any shape [m].
    """
    at = np.column_stack([np.ravel(x), np.ravel(y)])
    heights = np.full(len(at), np.nan)
    places = corners[faces]
    flat = places[:, :, :2]
    area = _cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    places, flat, area = places[area != 0], flat[area != 0], area[area != 0]
    low, high = flat.min(axis=1), flat.max(axis=1)
    # each triangle looks for its places: walking from triangle to triangle (scipy's find_simplex) took up to
    # fifty times as long, most of it for places outside the mesh
    for part in np.array_split(np.arange(len(at)), 1 + len(at) // AT_ONCE):
        block = at[part]
        close = np.flatnonzero(
            (high >= block.min(axis=0, initial=np.inf)).all(axis=1)
            & (low <= block.max(axis=0, initial=-np.inf)).all(axis=1)
        )
        rings = shapely.polygons(np.concatenate([flat[close], flat[close, :1]], axis=1))
        face, place = shapely.STRtree(shapely.points(block)).query(rings, predicate="intersects")
        face, place = close[face], part[place]
        a, b, c = (flat[face, k] for k in range(3))
        v = _cross(at[place] - a, c - a) / area[face]
        w = _cross(b - a, at[place] - a) / area[face]
        z = places[face, :, 2]
        heights[place[::-1]] = (z[:, 0] + v * (z[:, 1] - z[:, 0]) + w * (z[:, 2] - z[:, 0]))[::-1]
    return heights.reshape(np.shape(x))


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


class CellMeans:
    """Mean level of the points in each cell, added piece by piece; a tenth of them is left out at first."""

    def __init__(self, grid: Grid, seed: int = 7) -> None:
        self.grid = grid
        self._sum, self._count = (np.zeros(grid.shape[0] * grid.shape[1]) for _ in range(2))
        self._rest: list[Floats] = []
        self._draw = np.random.default_rng(seed)

    def add(self, points: Floats) -> None:
        """Add points ``(n, 3)``; those off the grid are passed over."""
        row, col = self.grid.index(points[:, 0], points[:, 1])
        inside = self.grid.contains(row, col)
        points, row, col = points[inside], row[inside], col[inside]
        out = self._draw.random(len(points)) < LEFT_OUT_SHARE
        self._rest.append(points[out])
        self._put(row[~out], col[~out], points[~out, 2])

    def _put(self, row: NDArray[np.int64], col: NDArray[np.int64], z: Floats) -> None:
        cell = np.asarray(row) * self.grid.shape[1] + np.asarray(col)
        self._sum += np.bincount(cell, z, self._sum.size)
        self._count += np.bincount(cell, minlength=self._count.size)

    def heights(self) -> Floats:
        """Return the means, ``nan`` in cells without a point."""
        with np.errstate(invalid="ignore"):
            return (self._sum / np.where(self._count > 0, self._count, np.nan)).reshape(self.grid.shape)

    def finish(self, reach_m: float) -> tuple[Floats, Residuals]:
        """Return the filled surface of all points, and how one without a tenth of them meets that tenth."""
        rest = np.vstack(self._rest) if self._rest else np.empty((0, 3))
        test = rest[:: max(1, len(rest) // MOST_COMPARED)]
        before = filled(self.heights(), self.grid, reach_m)
        residuals = residuals_of(_bilinear(before, self.grid, test[:, 0], test[:, 1]) - test[:, 2])
        if len(rest):
            row, col = self.grid.index(rest[:, 0], rest[:, 1])
            self._put(row, col, rest[:, 2])
        return filled(self.heights(), self.grid, reach_m), residuals


def filled(heights: Floats, grid: Grid, reach_m: float) -> Floats:
    """Fill cells within a reach of known ones [m].

    A cell with enough known ones round it takes the plane that fits them best; wider gaps take the triangles
    of the
    cells round them.
    """
    heights = _small_gaps_filled(heights)
    empty = np.isnan(heights)
    if not empty.any() or empty.all():
        return heights
    away = ndimage.distance_transform_edt(empty) * grid.cell
    gap = empty & (away <= reach_m)
    rim = ~empty & ndimage.binary_dilation(empty, iterations=RIM_CELLS)
    x, y = grid.mesh()
    points = np.column_stack([x[rim], y[rim], heights[rim]])
    out = heights.copy()
    if len(points) >= 3 and gap.any():
        try:
            out[gap] = tin_heights(points, x[gap], y[gap], 2 * reach_m + 4 * grid.cell)
        except InputError:
            return heights
    return out


def _small_gaps_filled(heights: Floats) -> Floats:
    """Give empty cells the least-squares plane of the 5 x 5 cells round them, if half are known."""
    row, col = np.nonzero(np.isnan(heights))
    padded = np.pad(heights, 2, constant_values=np.nan)
    dy, dx = (v.ravel() for v in np.mgrid[-2:3, -2:3])
    z = padded[row[:, None] + 2 + dy, col[:, None] + 2 + dx]
    enough = np.isfinite(z).sum(axis=1) >= z.shape[1] // 2
    row, col, z = row[enough], col[enough], z[enough]
    weight = np.isfinite(z).astype(float)
    frame = np.column_stack([np.ones(len(dx)), dx, dy])
    level = np.nanmean(z, axis=1) if len(z) else np.empty(0)
    matrix = np.einsum("nk,ki,kj->nij", weight, frame, frame)
    right = np.einsum("nk,ki->ni", np.where(weight > 0, z - level[:, None], 0.0), frame)
    out = heights.copy()
    out[row, col] = level + np.linalg.solve(matrix, right[..., None])[:, 0, 0]
    return out


def smoothed(heights: Floats, sigma_cells: float) -> Floats:
    """Return heights averaged with a Gaussian of a width in cells; empty cells stay empty."""
    if sigma_cells <= 0:
        return heights
    known = np.isfinite(heights)
    total = ndimage.gaussian_filter(np.where(known, heights, 0.0), sigma_cells, mode="nearest")
    weight = ndimage.gaussian_filter(known.astype(float), sigma_cells, mode="nearest")
    return np.where(known, total / np.where(weight > 0, weight, 1.0), np.nan)


def _bilinear(heights: Floats, grid: Grid, x: Floats, y: Floats) -> Floats:
    col = (x - grid.x_west) / grid.cell - 0.5
    row = (grid.y_north - y) / grid.cell - 0.5
    return np.asarray(ndimage.map_coordinates(heights, [row, col], order=1, mode="nearest"))
