"""A piece of terrain as an array: heights and gradients at any point, other cells, windows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from gistools.base.errors import InputError
from gistools.base.grid import Bounds, Floats, Grid, Mask

__all__ = ["Floats", "Mask", "Surface"]


def _kernels() -> Any:
    """Load the compiled loops at the first height: the help of a step does without them."""
    from gistools.compute.terrain import surface_kernels

    return surface_kernels


@dataclass(frozen=True, eq=False)
class Surface:
    """Heights on square cells.

    Parameters
    ----------
    z
        Heights [m], shape ``(rows, cols)``, row 0 in the north; ``nan`` where there is no ground.
    x_west, y_north
        Easting of the west edge and northing of the north edge of the array (edges, not cell centres) [m].
    cell
        Side of a cell [m].

    Attributes
    ----------
    grid
        The cells, see :class:`~gistools.base.grid.Grid`.

    Notes
    -----
    Heights between cell centres are bilinear; outside the hull of the cell centres, and beside a missing
    cell, every answer is ``nan``.

    Raises
    ------
    InputError
        If the array is not two-dimensional with at least two rows and columns, or the cell size is not a
        positive number.
    """

    z: Floats
    x_west: float
    y_north: float
    cell: float
    grid: Grid = field(init=False, repr=False)

    def __post_init__(self) -> None:
        z = np.ascontiguousarray(self.z, dtype=np.float64)
        if z.ndim != 2 or min(z.shape) < 2:
            raise InputError(f"a surface needs at least 2 x 2 cells, this one is {z.shape}")
        if not (np.isfinite(self.cell) and self.cell > 0):
            raise InputError(f"the cell size of a surface has to be a positive number, not {self.cell}")
        if np.isinf(z).any():
            raise InputError("a surface holds infinite heights; mark missing ground as nan")
        object.__setattr__(self, "z", z)
        grid = Grid(float(self.x_west), float(self.y_north), float(self.cell), (z.shape[0], z.shape[1]))
        object.__setattr__(self, "grid", grid)

    @property
    def bounds(self) -> Bounds:
        """Outer edges ``(west, south, east, north)`` [m]."""
        return self.grid.bounds

    def centres(self) -> tuple[Floats, Floats]:
        """Eastings ``(cols,)`` and northings ``(rows,)`` of the cell centres [m]."""
        return self.grid.centres()

    def with_heights(self, z: Floats) -> Surface:
        """Return a surface with other heights on the same cells."""
        return Surface(z, self.x_west, self.y_north, self.cell)

    def part(self, rows: slice, cols: slice) -> Surface:
        """Return the surface of a range of rows and columns, at least two of each."""
        grid = self.grid.part(rows, cols)
        return Surface(self.z[rows, cols], grid.x_west, grid.y_north, grid.cell)

    def window(self, bounds: Bounds, margin_m: float = 0.0) -> Surface:
        """Return the cells that touch a box and a margin round it, cut to the surface, at least 2 x 2."""
        return self.part(*self.grid.window(bounds, margin_m, least=2))

    def height(self, x: ArrayLike, y: ArrayLike) -> Any:
        """Height [m] at points of any shape; a float for a single point, ``nan`` where there is no ground."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        out = np.empty(xs.size)
        _kernels().heights(self.z, *self._origin, xs.ravel(), ys.ravel(), out)
        return float(out[0]) if xs.ndim == 0 else out.reshape(xs.shape)

    def gradient(self, x: ArrayLike, y: ArrayLike) -> tuple[Any, Any]:
        """Rise per metre going east and going north at points [m/m]; ``nan`` where there is no ground."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        out = np.empty((2, xs.size))
        _kernels().gradients(self.z, *self._origin, xs.ravel(), ys.ravel(), out)
        if xs.ndim == 0:
            return float(out[0, 0]), float(out[1, 0])
        return out[0].reshape(xs.shape), out[1].reshape(xs.shape)

    @property
    def _origin(self) -> tuple[float, float, float]:
        return self.grid.x_west, self.grid.y_north, self.grid.cell

    def resampled(self, cell: float) -> Surface:
        """Return the same ground on other cells, counted from the same west and north edges.

        Heights are bilinear at the new centres (exact on planes); where a new centre lies outside the hull of
        the old ones, or touches a missing cell, there is no ground.

        Parameters
        ----------
        cell
            Side of the new cells [m].

        Raises
        ------
        InputError
            If the cell size is not a positive number, or fewer than 2 x 2 cells would remain.
        """
        if not (np.isfinite(cell) and cell > 0):
            raise InputError(f"the cell size of a surface has to be a positive number, not {cell}")
        shape = tuple(int(n * self.cell / cell + 1e-9) for n in self.z.shape)
        x, y = Grid(self.x_west, self.y_north, cell, (shape[0], shape[1])).centres()
        return Surface(self.height(x[None, :], y[:, None]), self.x_west, self.y_north, cell)
