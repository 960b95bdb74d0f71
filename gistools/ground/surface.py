"""A piece of terrain as an array: heights, gradients and normals at any point."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.errors import InputError
from gistools.ground import _kernels

Floats = NDArray[np.float64]


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

    Notes
    -----
    Heights between cell centres are bilinear (the surface a desktop GIS shows with bilinear sampling);
    outside the hull of the cell centres, and beside a missing cell, every answer is ``nan``.

    Raises
    ------
    InputError
        If the array is not two-dimensional with at least two rows and columns, or the cell size is not a positive
        number.
    """

    z: Floats
    x_west: float
    y_north: float
    cell: float

    def __post_init__(self) -> None:
        z = np.ascontiguousarray(self.z, dtype=np.float64)
        if z.ndim != 2 or min(z.shape) < 2:
            raise InputError(f"a surface needs at least 2 x 2 cells, this one is {z.shape}")
        if not (np.isfinite(self.cell) and self.cell > 0):
            raise InputError(f"the cell size of a surface has to be a positive number, not {self.cell}")
        if np.isinf(z).any():
            raise InputError("a surface holds infinite heights; mark missing ground as nan")
        object.__setattr__(self, "z", z)

    @property
    def grid(self) -> tuple[Floats, float, float, float]:
        """The four arguments that kernels take: ``z, x_west, y_north, cell``."""
        return self.z, float(self.x_west), float(self.y_north), float(self.cell)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Outer edges ``(west, south, east, north)`` [m]."""
        rows, cols = self.z.shape
        return (
            self.x_west,
            self.y_north - rows * self.cell,
            self.x_west + cols * self.cell,
            self.y_north,
        )

    def centres(self) -> tuple[NDArray[np.floating[Any]], NDArray[np.floating[Any]]]:
        """Eastings ``(cols,)`` and northings ``(rows,)`` of the cell centres [m]."""
        rows, cols = self.z.shape
        return (
            self.x_west + (np.arange(cols) + 0.5) * self.cell,
            self.y_north - (np.arange(rows) + 0.5) * self.cell,
        )

    def height(self, x: ArrayLike, y: ArrayLike) -> Any:
        """Height [m] at points of any shape; a float for a single point, ``nan`` where there is no ground."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        out = np.empty(xs.size)
        _kernels.heights(*self.grid, xs.ravel(), ys.ravel(), out)
        return float(out[0]) if xs.ndim == 0 else out.reshape(xs.shape)

    def gradient(self, x: ArrayLike, y: ArrayLike) -> tuple[Any, Any]:
        """Rise per metre going east and going north at points [m/m]; ``nan`` where there is no ground."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        h, gx, gy = (np.empty(xs.size) for _ in range(3))
        _kernels.gradients(*self.grid, xs.ravel(), ys.ravel(), h, gx, gy)
        if xs.ndim == 0:
            return float(gx[0]), float(gy[0])
        return gx.reshape(xs.shape), gy.reshape(xs.shape)

    def normal(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Upward unit normals, shape ``(..., 3)``; ``nan`` where there is no ground."""
        gx, gy = self.gradient(x, y)
        normal: Floats = np.stack([-np.asarray(gx), -np.asarray(gy), np.ones_like(np.asarray(gx))], axis=-1)
        length: Floats = np.linalg.norm(normal, axis=-1, keepdims=True)
        return normal / length
