"""Compiled loops over terrain: heights and gradients at points.

Arrays and plain numbers only. A surface is passed as ``(z, x_west, y_north, cell)``: heights at the centres
of square cells, row 0 at the north edge, ``nan`` where there is no ground. Bilinear between cell centres,
valid inside the hull of the centres; any missing corner makes the answer ``nan``, so ground is never
invented.
"""

from __future__ import annotations

import math

from gistools.base.jit import kernel


@kernel
def height(z, x_west, y_north, cell, x, y):
    """Bilinear height at one point; nan outside or beside missing cells."""
    col = (x - x_west) / cell - 0.5
    row = (y_north - y) / cell - 0.5
    rows, cols = z.shape
    if not (0.0 <= col <= cols - 1 and 0.0 <= row <= rows - 1):
        return math.nan
    j = min(int(col), cols - 2) if cols > 1 else 0
    i = min(int(row), rows - 2) if rows > 1 else 0
    u = col - j
    v = row - i
    j1 = min(j + 1, cols - 1)
    i1 = min(i + 1, rows - 1)
    north = (1.0 - u) * z[i, j] + u * z[i, j1]
    south = (1.0 - u) * z[i1, j] + u * z[i1, j1]
    return (1.0 - v) * north + v * south


@kernel
def height_gradient(z, x_west, y_north, cell, x, y):
    """Bilinear height and its gradient (dz/dx east, dz/dy north) at one point; nan where height is."""
    col = (x - x_west) / cell - 0.5
    row = (y_north - y) / cell - 0.5
    rows, cols = z.shape
    if not (0.0 <= col <= cols - 1 and 0.0 <= row <= rows - 1):
        return math.nan, math.nan, math.nan
    j = min(int(col), cols - 2) if cols > 1 else 0
    i = min(int(row), rows - 2) if rows > 1 else 0
    u = col - j
    v = row - i
    j1 = min(j + 1, cols - 1)
    i1 = min(i + 1, rows - 1)
    z00 = z[i, j]
    z01 = z[i, j1]
    z10 = z[i1, j]
    z11 = z[i1, j1]
    north = (1.0 - u) * z00 + u * z01
    south = (1.0 - u) * z10 + u * z11
    gx = ((1.0 - v) * (z01 - z00) + v * (z11 - z10)) / cell
    gy = ((1.0 - u) * (z00 - z10) + u * (z01 - z11)) / cell
    return (1.0 - v) * north + v * south, gx, gy


@kernel
def heights(z, x_west, y_north, cell, xs, ys, out):
    """Fill ``out`` with the bilinear height at each point."""
    for k in range(xs.size):
        out[k] = height(z, x_west, y_north, cell, xs[k], ys[k])


@kernel
def gradients(z, x_west, y_north, cell, xs, ys, out):
    """Fill ``out (2, n)`` with the rise per metre east and north at each point."""
    for k in range(xs.size):
        _, out[0, k], out[1, k] = height_gradient(z, x_west, y_north, cell, xs[k], ys[k])
