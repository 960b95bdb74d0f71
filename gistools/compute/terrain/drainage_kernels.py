"""Compiled loops of surface water: priority flood, and sums down the paths.

Cells are numbered row by row, ``row * cols + column``; row 0 at the north edge, ``nan`` where there is no
ground. Source: Barnes, Lehman and Mulla 2014, "Priority-flood: an optimal depression-filling and
watershed-labeling algorithm for digital elevation models", Computers & Geosciences 62, 117-127,
doi:10.1016/j.cageo.2013.04.024, algorithm 1 (from memory).
"""

from __future__ import annotations

import math

from gistools.base.jit import kernel


@kernel
def _push(heap, size, level, cell):
    """Add a cell to the heap of cells by level; return the new size."""
    k = size
    heap[k] = cell
    while k > 0:
        up = (k - 1) // 2
        if level[heap[up]] <= level[heap[k]]:
            break
        heap[up], heap[k] = heap[k], heap[up]
        k = up
    return size + 1


@kernel
def _pop(heap, size, level):
    """Take the lowest cell off the heap, which ends at ``size - 1`` then; return the cell."""
    lowest = heap[0]
    last = size - 1
    heap[0] = heap[last]
    k = 0
    while True:
        low = 2 * k + 1
        if low >= last:
            break
        if low + 1 < last and level[heap[low + 1]] < level[heap[low]]:
            low += 1
        if level[heap[k]] <= level[heap[low]]:
            break
        heap[k], heap[low] = heap[low], heap[k]
        k = low
    return lowest


@kernel
def priority_flood(z, filled, parent, order, heap, seen):
    """Fill depressions to the level at which they spill; return how many cells there are.

    Parameters
    ----------
    z
        Levels ``(rows, cols)``.
    filled
        Out, flat: levels with depressions filled; nan stays.
    parent
        Out, flat: the cell that each was flooded from, -1 for cells at the edge of the ground.
    order
        Out, flat: cells by rising filled level, each after its parent.
    heap, seen
        Scratch, flat: whole numbers and zeros.
    """
    rows, cols = z.shape
    size = 0
    for i in range(rows):
        for j in range(cols):
            if math.isnan(z[i, j]):
                continue
            edge = i == 0 or j == 0 or i == rows - 1 or j == cols - 1
            if not edge:
                for di in range(-1, 2):
                    for dj in range(-1, 2):
                        edge = edge or math.isnan(z[i + di, j + dj])
            if edge:
                cell = i * cols + j
                filled[cell] = z[i, j]
                parent[cell] = -1
                seen[cell] = 1
                size = _push(heap, size, filled, cell)
    count = 0
    while size > 0:
        cell = _pop(heap, size, filled)
        size -= 1
        order[count] = cell
        count += 1
        i = cell // cols
        j = cell - i * cols
        for di in range(-1, 2):
            for dj in range(-1, 2):
                a = i + di
                b = j + dj
                if a < 0 or b < 0 or a >= rows or b >= cols or math.isnan(z[a, b]):
                    continue
                other = a * cols + b
                if seen[other] == 1:
                    continue
                seen[other] = 1
                filled[other] = max(z[a, b], filled[cell])
                parent[other] = cell
                size = _push(heap, size, filled, other)
    return count


@kernel
def sums_downstream(order, count, receiver, total):
    """Add to ``total`` of each cell that of all cells above it; receivers stand first in ``order``."""
    for k in range(count - 1, -1, -1):
        cell = order[k]
        if receiver[cell] >= 0:
            total[receiver[cell]] += total[cell]


@kernel
def last_cells_inside(order, count, receiver, inside, last):
    """Set ``last`` of each cell of an area to the cell in which its water leaves the area."""
    for k in range(count):
        cell = order[k]
        if inside[cell] == 0:
            continue
        onward = receiver[cell]
        if onward < 0 or inside[onward] == 0:
            last[cell] = cell
        else:
            last[cell] = last[onward]
