"""Surface water on a terrain: where it stands, which way it runs, and by how many ways an area sheds it.

Rain falls evenly, nothing soaks in, pipes are not looked at. Hollows are filled to the level at which they
spill (:mod:`gistools.compute.terrain.drainage_kernels`); water runs from each cell to the steepest lower one
of its eight neighbours on the filled ground (D8: O'Callaghan and Mark 1984, Comput. Vision Graph. Image
Process. 28, 323-344, doi:10.1016/S0734-189X(84)80011-0, from memory), over a flat to the cell it was flooded
from, so that every path ends at the edge of the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from gistools.base.grid import Floats, Mask
from gistools.compute.terrain import drainage_kernels as _kernels
from gistools.compute.terrain.surface import Surface

Cells = NDArray[np.int64]
EIGHT = np.ones((3, 3), int)
STEPS = tuple((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j)


@dataclass(frozen=True, eq=False)
class Runoff:
    """Where water runs on a surface.

    Attributes
    ----------
    surface
        The ground.
    filled
        Levels with hollows filled to the spill [m], ``(rows, cols)``, nan where there is no ground.
    receiver
        Number of the cell each gives its water to, ``(rows * cols,)``; -1 where it leaves the ground.
    order
        Cells by rising filled level, each after its receiver.
    catchment_m2
        Ground that drains through each cell [m2], itself included, ``(rows, cols)``.
    """

    surface: Surface
    filled: Floats
    receiver: Cells
    order: Cells
    catchment_m2: Floats


@dataclass(frozen=True)
class Hollow:
    """Ground that holds water: its cells, greatest depth [m], volume [m3], levels [m] and deepest place."""

    cells: Mask
    depth_m: float
    volume_m3: float
    area_m2: float
    lowest_m: float
    spill_m: float
    place: tuple[float, float]


@dataclass(frozen=True, eq=False)
class FlowPath:
    """Where gathered water runs, place by place downstream.

    Attributes
    ----------
    xy
        Places ``(n, 2)`` [m].
    level_m, catchment_m2
        Level of the water, hollows filled [m], and ground that drains through each place [m2], ``(n,)``.
    joins
        Whether the last place is on another path; it ends at the edge of the ground otherwise.
    """

    xy: Floats
    level_m: Floats
    catchment_m2: Floats
    joins: bool


def runoff(surface: Surface) -> Runoff:
    """Return where water runs on a surface."""
    z = surface.z
    n = z.size
    filled, parent = np.full(n, np.nan), np.full(n, -1, np.int64)
    order, heap, seen = np.empty(n, np.int64), np.empty(n, np.int64), np.zeros(n, np.uint8)
    count = int(_kernels.priority_flood(z, filled, parent, order, heap, seen))
    level = filled.reshape(z.shape)
    receiver = _steepest(level, parent)
    total = np.where(np.isfinite(filled), surface.cell**2, 0.0)
    order = order[:count].copy()
    _kernels.sums_downstream(order, count, receiver, total)
    return Runoff(surface, level, receiver, order, total.reshape(z.shape))


def _steepest(level: Floats, parent: Cells) -> Cells:
    """Return the steepest lower neighbour of each cell; where none is lower, the cell it was flooded from."""
    rows, cols = level.shape
    padded = np.pad(level, 1, constant_values=np.nan)
    number = np.arange(level.size).reshape(level.shape)
    best = np.zeros(level.shape)
    receiver = parent.reshape(level.shape).copy()
    for di, dj in STEPS:
        other = padded[1 + di : 1 + di + rows, 1 + dj : 1 + dj + cols]
        drop = np.nan_to_num((level - other) / np.hypot(di, dj), nan=-1.0)
        steeper = drop > best
        best = np.where(steeper, drop, best)
        receiver = np.where(steeper, number + di * cols + dj, receiver)
    return receiver.ravel()


def hollows(water: Runoff, *, least_depth_m: float, least_area_m2: float) -> list[Hollow]:
    """Return the hollows at least so deep and so large, the greatest volume first.

    A hollow is what stands under water when it is full: neighbouring cells below their spill level.
    """
    s = water.surface
    depth = np.nan_to_num(water.filled - s.z)
    labels, _ = ndimage.label(depth > 0, EIGHT)
    x, y = s.centres()
    result = []
    for label, window in enumerate(ndimage.find_objects(labels), 1):
        here = labels[window] == label
        deep = np.where(here, depth[window], 0.0)
        area = float(here.sum()) * s.cell**2
        if deep.max() < least_depth_m or area < least_area_m2:
            continue
        row, column = np.unravel_index(int(deep.argmax()), deep.shape)
        i, j = row + window[0].start, column + window[1].start
        cells = np.zeros(depth.shape, bool)
        cells[window] = here
        lowest, spill = float(s.z[i, j]), float(water.filled[i, j])
        volume = float(deep.sum()) * s.cell**2
        place = (float(x[j]), float(y[i]))
        result.append(Hollow(cells, float(deep.max()), volume, area, lowest, spill, place))
    return sorted(result, key=lambda hollow: -hollow.volume_m3)


def flow_paths(water: Runoff, *, least_catchment_m2: float) -> list[FlowPath]:
    """Return the paths of gathered water, the longest way first, each down to where it joins or ends.

    Parameters
    ----------
    water
        Where water runs.
    least_catchment_m2
        Water of a larger catchment than this is gathered [m2].
    """
    gathered = water.catchment_m2.ravel() >= least_catchment_m2
    cells = np.flatnonzero(gathered)
    fed = np.zeros(len(gathered), bool)
    onward = water.receiver[cells]
    fed[onward[onward >= 0]] = True
    heads = [c for c in cells if not fed[c]]
    heads.sort(key=lambda c: _length_down(water.receiver, int(c)), reverse=True)
    taken = np.zeros(len(gathered), bool)
    s = water.surface
    x, y = s.centres()
    cols = s.z.shape[1]
    paths = []
    for head in heads:
        run = [int(head)]
        while True:
            taken[run[-1]] = True
            after = int(water.receiver[run[-1]])
            if after < 0:
                break
            run.append(after)
            if taken[after]:
                break
        joins = len(run) > 1 and bool(water.receiver[run[-1]] >= 0)
        rows, columns = np.divmod(np.array(run), cols)
        xy = np.column_stack([x[columns], y[rows]])
        if len(run) > 1:
            catchment = water.catchment_m2[rows, columns]
            paths.append(FlowPath(xy, water.filled[rows, columns], catchment, joins))
    return paths


def _length_down(receiver: Cells, cell: int) -> int:
    """Return the number of cells from a cell to the edge of the ground."""
    count = 0
    while cell >= 0:
        cell = int(receiver[cell])
        count += 1
    return count


def shed_by(water: Runoff, inside: Mask) -> tuple[Floats, Floats]:
    """Return where the water of an area leaves it: places ``(n, 2)`` [m], and ground shed there [m2]."""
    s = water.surface
    flat = np.ascontiguousarray(inside.ravel().astype(np.uint8))
    last = np.full(len(flat), -1, np.int64)
    _kernels.last_cells_inside(water.order, len(water.order), water.receiver, flat, last)
    used, counts = np.unique(last[(flat == 1) & (last >= 0)], return_counts=True)
    rows, columns = np.divmod(used, s.z.shape[1])
    x, y = s.centres()
    shed: Floats = np.asarray(counts, float) * s.cell**2
    return np.column_stack([x[columns], y[rows]]), shed


def shares_by_quarter(places: Floats, shed_m2: Floats, centre: Any, bearing_deg: float) -> dict[str, float]:
    """Return the share of an area's water that leaves to the front, left, back and right of its centre.

    ``bearing_deg`` is that of the line of play into the area: the front is the side it comes from.
    """
    shares = dict.fromkeys(("back", "right", "front", "left"), 0.0)
    if not len(places):
        return shares
    dx, dy = places[:, 0] - centre[0], places[:, 1] - centre[1]
    turn = (np.degrees(np.arctan2(dx, dy)) - bearing_deg) % 360.0
    quarter = ((turn + 45.0) // 90.0).astype(int) % 4
    total = float(shed_m2.sum())
    for k, name in enumerate(shares):
        shares[name] = float(shed_m2[quarter == k].sum()) / total
    return shares
