"""One raster grid: square cells, north up, counted from the north-west corner.

Every conversion between coordinates and cells outside compiled kernels goes through :class:`Grid`. Kernels
keep one inlined index function each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Cells = NDArray[np.int64]
Mask = NDArray[np.bool_]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Grid:
    """Square cells in rows from north to south.

    Parameters
    ----------
    x_west, y_north
        Easting of the west edge and northing of the north edge (edges, not cell centres) [m].
    cell
        Side of a cell [m].
    shape
        Number of rows and columns.
    """

    x_west: float
    y_north: float
    cell: float
    shape: tuple[int, int]

    @property
    def bounds(self) -> Bounds:
        """Outer edges ``(west, south, east, north)`` [m]."""
        rows, cols = self.shape
        return (self.x_west, self.y_north - rows * self.cell, self.x_west + cols * self.cell, self.y_north)

    def centres(self) -> tuple[Floats, Floats]:
        """Eastings ``(cols,)`` and northings ``(rows,)`` of the cell centres [m]."""
        rows, cols = self.shape
        x: Floats = self.x_west + (np.arange(cols, dtype=float) + 0.5) * self.cell
        y: Floats = self.y_north - (np.arange(rows, dtype=float) + 0.5) * self.cell
        return x, y

    def mesh(self) -> tuple[Floats, Floats]:
        """Easting and northing of every cell centre [m], each ``(rows, cols)``."""
        x, y = np.meshgrid(*self.centres())
        return x, y

    def index(self, x: ArrayLike, y: ArrayLike) -> tuple[Cells, Cells]:
        """Row and column of the cells that hold points; off the grid they are below 0 or past the end."""
        col = np.floor((np.asarray(x, float) - self.x_west) / self.cell)
        row = np.floor((self.y_north - np.asarray(y, float)) / self.cell)
        return row.astype(np.int64), col.astype(np.int64)

    def contains(self, row: ArrayLike, col: ArrayLike) -> Mask:
        """Tell which rows and columns lie on the grid."""
        i, j = np.asarray(row), np.asarray(col)
        return np.asarray((i >= 0) & (j >= 0) & (i < self.shape[0]) & (j < self.shape[1]))

    def sample(self, values: NDArray[Any], x: ArrayLike, y: ArrayLike, outside: Any) -> NDArray[Any]:
        """Values of the cells that hold points; ``outside`` where a point lies off the grid."""
        row, col = self.index(x, y)
        on_grid = self.contains(row, col)
        return np.where(on_grid, values[np.where(on_grid, row, 0), np.where(on_grid, col, 0)], outside)

    def window(self, bounds: Bounds, margin: float = 0.0, least: int = 0) -> tuple[slice, slice]:
        """Rows and columns of the cells that touch a box.

        Parameters
        ----------
        bounds
            ``(west, south, east, north)`` [m].
        margin
            Added on all sides [m].
        least
            Fewest rows and columns; a box off the grid gives those at the edge next to it.

        Returns
        -------
        rows, columns
            Slices, cut to the grid; empty where the box lies off it.
        """
        west, south, east, north = bounds
        (i0, j0), (i1, j1) = (
            ((self.y_north - north - margin) / self.cell, (west - margin - self.x_west) / self.cell),
            ((self.y_north - south + margin) / self.cell, (east + margin - self.x_west) / self.cell),
        )
        return _slice(i0, i1, self.shape[0], least), _slice(j0, j1, self.shape[1], least)

    def part(self, rows: slice, cols: slice) -> Grid:
        """Return the grid of a range of rows and columns."""
        i0, i1, _ = rows.indices(self.shape[0])
        j0, j1, _ = cols.indices(self.shape[1])
        return Grid(
            self.x_west + j0 * self.cell,
            self.y_north - i0 * self.cell,
            self.cell,
            (max(i1 - i0, 0), max(j1 - j0, 0)),
        )

    def mask(self, area: BaseGeometry) -> Mask:
        """Mark the cells whose centre lies in an area; shape ``(rows, cols)``."""
        marked = np.zeros(self.shape, bool)
        if area.is_empty:
            return marked
        rows, cols = self.window(area.bounds)
        shapely.prepare(area)
        marked[rows, cols] = shapely.contains_xy(area, *self.part(rows, cols).mesh())
        return marked

    def offset_of(self, other: Grid) -> tuple[int, int] | None:
        """Row and column at which another grid begins; None where its cells are not these."""
        row, col = (self.y_north - other.y_north) / self.cell, (other.x_west - self.x_west) / self.cell
        i, j = round(row), round(col)
        aligned = abs(self.cell - other.cell) < 1e-9 and max(abs(row - i), abs(col - j)) < 1e-6
        return (i, j) if aligned else None


def _slice(low: float, high: float, count: int, least: int) -> slice:
    start = min(max(int(np.floor(low)), 0), count - least)
    return slice(start, max(min(int(np.ceil(high)), count), start + least))
