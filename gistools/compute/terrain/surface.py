"""A piece of terrain as an array: heights, gradients and normals at any point."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from gistools.base.errors import InputError

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def _loops() -> Any:
    """Load the compiled loops when a height is first asked for: the help of a step does without them."""
    from gistools.compute.terrain import surface_kernels as _kernels

    return _kernels


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
        _loops().heights(*self.grid, xs.ravel(), ys.ravel(), out)
        return float(out[0]) if xs.ndim == 0 else out.reshape(xs.shape)

    def gradient(self, x: ArrayLike, y: ArrayLike) -> tuple[Any, Any]:
        """Rise per metre going east and going north at points [m/m]; ``nan`` where there is no ground."""
        xs, ys = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        h, gx, gy = (np.empty(xs.size) for _ in range(3))
        _loops().gradients(*self.grid, xs.ravel(), ys.ravel(), h, gx, gy)
        if xs.ndim == 0:
            return float(gx[0]), float(gy[0])
        return gx.reshape(xs.shape), gy.reshape(xs.shape)

    def normal(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Upward unit normals, shape ``(..., 3)``; ``nan`` where there is no ground."""
        gx, gy = self.gradient(x, y)
        normal: Floats = np.stack([-np.asarray(gx), -np.asarray(gy), np.ones_like(np.asarray(gx))], axis=-1)
        length: Floats = np.linalg.norm(normal, axis=-1, keepdims=True)
        return normal / length

    def resampled(self, cell: float, *, how: str = "bilinear") -> Surface:
        """Return the same ground on other cells, counted from the same west and north edges.

        Parameters
        ----------
        cell
            Side of the new cells [m].
        how
            ``"bilinear"``: heights at the new centres (exact on planes); where a new centre lies outside the hull of the
            old ones there is no ground. ``"mean"``: mean of the old cells in each new one, for a whole number of
            old cells in a new one.

        Notes
        -----
        A missing cell makes every new cell that it touches missing.

        Raises
        ------
        InputError
            If fewer than 2 x 2 cells would remain, or ``"mean"`` does not divide evenly.
        """
        rows, cols = self.z.shape
        if not (np.isfinite(cell) and cell > 0):
            raise InputError(f"the cell size of a surface has to be a positive number, not {cell}")
        if how == "mean":
            n = round(cell / self.cell)
            if n < 1 or abs(n * self.cell - cell) > 1e-9 * cell:
                raise InputError(
                    f"{cell} m cells are not a whole number of {self.cell} m cells: use how='bilinear'"
                )
            z = self.z[: rows // n * n, : cols // n * n].reshape(rows // n, n, cols // n, n).mean(axis=(1, 3))
            return Surface(z, self.x_west, self.y_north, n * self.cell)
        if how != "bilinear":
            raise InputError(f"how is {how!r}; it can be bilinear or mean")
        x = self.x_west + (np.arange(int(cols * self.cell / cell + 1e-9)) + 0.5) * cell
        y = self.y_north - (np.arange(int(rows * self.cell / cell + 1e-9)) + 0.5) * cell
        return Surface(self.height(x[None, :], y[:, None]), self.x_west, self.y_north, cell)

    def smoothed(self, scale_m: float) -> Surface:
        """Return the ground averaged with a Gaussian of standard deviation ``scale_m`` [m], cut at three of them.

        Planes stay exact. Where the average would reach over missing ground or past the edge there is no ground in
        the result: nothing is made up, and the border shrinks by three standard deviations.

        Raises
        ------
        InputError
            If the scale is negative or not a number.
        """
        if not (np.isfinite(scale_m) and scale_m >= 0):
            raise InputError(
                f"the smoothing scale has to be zero or a positive number of metres, not {scale_m}"
            )
        sigma = scale_m / self.cell
        if sigma == 0:
            return self
        reach = int(np.ceil(3 * sigma))
        weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
        weights /= weights.sum()
        z = self.z
        for axis in (0, 1):
            z = ndimage.correlate1d(z, weights, axis=axis, mode="constant", cval=np.nan)
        return Surface(z, self.x_west, self.y_north, self.cell)

    def minus(self, other: Surface) -> Surface:
        """Return this surface less another one, on the cells of this one; ``nan`` where either has no ground.

        On other cells the other surface is sampled bilinearly at the centres of these.
        """
        same = (self.x_west, self.y_north, self.cell, self.z.shape) == (
            other.x_west,
            other.y_north,
            other.cell,
            other.z.shape,
        )
        x, y = self.centres()
        z = self.z - (other.z if same else other.height(x[None, :], y[:, None]))
        return Surface(z, self.x_west, self.y_north, self.cell)
