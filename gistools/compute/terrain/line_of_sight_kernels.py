"""Compiled loops over lines of sight: the ground and the obstacles on it, as seen by an observer.

A ray is followed in node coordinates: col(s) = c0 + dc * s, row(s) = r0 + dr * s, with s in metres from the
observer. Cell (i, j) is the square between the centres i..i+1, j..j+1. On it the bilinear ground along a ray
is a parabola.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.terrain.surface_kernels import height

FINE = 2  # a fine tile is 2**2 cells wide (computed: the fastest of 1 to 6)
COARSE = 4  # a coarse tile is 2**4 cells wide (computed: the fastest of 1 to 6)
NOTHING, GROUND, UNKNOWN = -1, -2, -3  # what blocks a line, where it is no obstacle
AT_OBSERVER_M = 1e-6  # computed: an observer closer than this to an obstacle stands in it
BALL_M = 0.04267  # least diameter of a ball, 1.680 in: R&A and USGA, Equipment Rules, part 4 (published)
SECTORS = 360  # directions that obstacles are sorted by
PER_CELL = 4  # samples to a cell along the underside of an obstacle with clear air below (assumption)
SHARE, LOWEST, FOOT, TOP, BLOCKED_AT, CLEARANCE = range(6)  # rows of the answers


class Terrain(NamedTuple):
    """Heights ``z (rows, cols)`` [m], west and north edge, cell side [m], and greatest heights by tile."""

    z: np.ndarray
    x_west: float
    y_north: float
    cell: float
    fine: np.ndarray
    coarse: np.ndarray


class ObstacleArrays(NamedTuple):
    """Obstacles above the ground, row k of each array: a circle round each (``x, y, radius`` [m]).

    ``start`` cuts ``edges`` (x0, y0, x1, y1) into outlines. Without an outline an obstacle is an upright
    cylinder between the levels ``low`` and ``high``; with one it is a prism between two heights above the
    ground below it. ``low`` of -inf: solid down to the ground.
    """

    x: np.ndarray
    y: np.ndarray
    radius: np.ndarray
    low: np.ndarray
    high: np.ndarray
    start: np.ndarray
    edges: np.ndarray


class Ray(NamedTuple):
    """A ray: start and unit direction [m], the same in node coordinates, and metres to a column and a row."""

    x: float
    y: float
    east: float
    north: float
    c0: float
    r0: float
    dc: float
    dr: float
    per_col: float
    per_row: float


class Target(NamedTuple):
    """An upright target: foot ``x, y, z``, height, and the height on it that clearances run to [m]."""

    x: float
    y: float
    z: float
    height: float
    aim: float


class Sight(NamedTuple):
    """One line of sight: the answers of :class:`gistools.compute.terrain.line_of_sight.Views`."""

    share: float
    lowest: float
    foot: bool
    top: bool
    by: int
    blocked_at: float
    clearance: float


class Buffers(NamedTuple):
    """Room for the crossings of a ray with one outline, and the hidden intervals of a target ``(n, 5)``."""

    cuts: np.ndarray
    spans: np.ndarray


@kernel(allocates=True)
def tile_maxima(z, shift):
    """Greatest height of the surface on each tile of ``2**shift`` cells; +inf where any height is missing."""
    rows, cols = z.shape
    size = 1 << shift
    n = (rows - 2) // size + 1
    k = (cols - 2) // size + 1
    out = np.empty((n, k))
    for i in range(n):
        for j in range(k):
            top = -math.inf
            for a in range(i * size, min((i + 1) * size, rows - 1) + 1):
                for b in range(j * size, min((j + 1) * size, cols - 1) + 1):
                    value = z[a, b]
                    if value != value:
                        value = math.inf
                    top = max(top, value)
            out[i, j] = top
    return out


@kernel(inline=True, python_entry=False)
def leave_tile(ray, i, j, shift, rows, cols):
    """Distance at which a ray leaves the tile of cell (i, j), and the cell it enters.

    Along the axis that it leaves by, the cell may lie past the grid: the ray has ended. Along the other it
    may not, even where the tile reaches past the grid and the ray runs along the last centres.
    """
    _, _, _, _, c0, r0, dc, dr, per_col, per_row = ray
    size = 1 << shift
    west = (j >> shift) << shift
    north = (i >> shift) << shift
    by_col = math.inf
    by_row = math.inf
    if dc > 0.0:
        by_col = (west + size - c0) * per_col
    elif dc < 0.0:
        by_col = (west - c0) * per_col
    if dr > 0.0:
        by_row = (north + size - r0) * per_row
    elif dr < 0.0:
        by_row = (north - r0) * per_row
    if by_col <= by_row:
        j = west + size if dc > 0.0 else west - 1
        i = min(max(int(r0 + dr * by_col), north), min(north + size, rows - 1) - 1)
        return by_col, i, j
    i = north + size if dr > 0.0 else north - 1
    j = min(max(int(c0 + dc * by_row), west), min(west + size, cols - 1) - 1)
    return by_row, i, j


@kernel(inline=True, python_entry=False)
def leave_cell(ray, i, j):
    """:func:`leave_tile` for a single cell: the ray goes on into one of the four beside it."""
    _, _, _, _, c0, r0, dc, dr, per_col, per_row = ray
    by_col = by_row = math.inf
    if dc > 0.0:
        by_col = (j + 1 - c0) * per_col
    elif dc < 0.0:
        by_col = (j - c0) * per_col
    if dr > 0.0:
        by_row = (i + 1 - r0) * per_row
    elif dr < 0.0:
        by_row = (i - r0) * per_row
    if by_col <= by_row:
        return by_col, i, (j + 1 if dc > 0.0 else j - 1)
    return by_row, (i + 1 if dr > 0.0 else i - 1), j


@kernel(inline=True, python_entry=False)
def cell_peak(z, i, j, ray, s, g, ze, steepest):
    """Raise the steepest slope so far (and where) by one cell between s and g; nan beside missing ground."""
    m, at = steepest
    c0, r0, dc, dr = ray.c0, ray.r0, ray.dc, ray.dr
    z00 = z[i, j]
    z01 = z[i, j + 1]
    z10 = z[i + 1, j]
    z11 = z[i + 1, j + 1]
    if not (z00 + z01 + z10 + z11 < math.inf):
        return math.nan, s
    line_s, line_g = ze + m * s, ze + m * g
    if max(max(z00, z01), max(z10, z11)) <= min(line_s, line_g):
        return m, at
    twist = z11 - z10 - z01 + z00
    u = c0 + dc * s - j
    v = r0 + dr * s - i
    za = z00 + u * (z01 - z00) + v * (z10 - z00) + u * v * twist
    u = c0 + dc * g - j
    v = r0 + dr * g - i
    zb = z00 + u * (z01 - z00) + v * (z10 - z00) + u * v * twist
    a = dc * dr * twist
    length = g - s
    bulge = max(-0.25 * a * length * length, 0.0)
    if za + bulge <= line_s and zb + bulge <= line_g:
        return m, at
    if s > 0.0 and za - ze > m * s:
        m = (za - ze) / s
        at = s
    if g > 0.0 and zb - ze > m * g:
        m = (zb - ze) / g
        at = g
    if a < 0.0 and length > 0.0 and max(za - ze - m * s, zb - ze - m * g) + bulge > 0.0:
        b = (zb - za) / length - a * length
        q = s * s - (b * s - (za - ze)) / a
        if q > 0.0:
            t = math.sqrt(q) - s
            if 0.0 < t < length and s + t > 0.0:
                rise = za + (b + a * t) * t - ze
                if rise > m * (s + t):
                    m = rise / (s + t)
                    at = s + t
    return m, at


@kernel
def tile_peak(z, fine, ray, s, e, ze, steepest):
    """:func:`peak` between s and e on one coarse tile: by fine tiles, then by cells above the line."""
    m, at = steepest
    rows, cols = z.shape
    j = min(max(int(ray.c0 + ray.dc * s), 0), cols - 2)
    i = min(max(int(ray.r0 + ray.dr * s), 0), rows - 2)
    while s < e and 0 <= i < rows - 1 and 0 <= j < cols - 1:
        f, ni, nj = leave_tile(ray, i, j, FINE, rows, cols)
        f = min(f, e)
        if f <= s or fine[i >> FINE, j >> FINE] <= ze + m * (s if m > 0.0 else f):
            s, i, j = max(s, f), ni, nj
            continue
        while s < f and 0 <= i < rows - 1 and 0 <= j < cols - 1:
            g, ni, nj = leave_cell(ray, i, j)
            g = min(g, f)
            m, at = cell_peak(z, i, j, ray, s, g, ze, (m, at))
            if m != m:
                return m, at
            s, i, j = max(s, g), ni, nj
    return m, at


@kernel
def peak(terrain, ray, s0, s1, ze, m):
    """Greatest slope (ground - ze) / s on a ray between s0 and s1, if above ``m``, and where.

    It is nan where ground is missing. Exact for the bilinear surface. Tiles whose greatest height stays under
    the line of slope ``m`` are skipped.
    """
    z, fine, coarse = terrain.z, terrain.fine, terrain.coarse
    _, _, _, _, c0, r0, dc, dr, per_col, per_row = ray
    rows, cols = z.shape
    size = 1 << COARSE
    at = s1
    s = s0
    j = min(max(int(c0 + dc * s0), 0), cols - 2) >> COARSE
    i = min(max(int(r0 + dr * s0), 0), rows - 2) >> COARSE
    east, south = (1 if dc > 0.0 else -1), (1 if dr > 0.0 else -1)
    by_col = ((j + (dc > 0.0)) * size - c0) * per_col if dc != 0.0 else math.inf
    by_row = ((i + (dr > 0.0)) * size - r0) * per_row if dr != 0.0 else math.inf
    on_col, on_row = size * abs(per_col), size * abs(per_row)
    while s < s1 and 0 <= i < coarse.shape[0] and 0 <= j < coarse.shape[1]:
        e = min(min(by_col, by_row), s1)
        if e > s and coarse[i, j] > ze + m * (s if m > 0.0 else e):
            m, at = tile_peak(z, fine, ray, s, e, ze, (m, at))
            if m != m:
                return m, at
        s = max(s, e)
        if by_col <= by_row:
            j += east
            by_col += on_col
        else:
            i += south
            by_row += on_row
    return m, at


@kernel(allocates=True, python_entry=False)
def sectors(obstacles, px, py):
    """Sort obstacles by their directions from (px, py): offsets ``(SECTORS + 1,)`` and rows."""
    x, y, r = obstacles.x, obstacles.y, obstacles.radius
    n = x.size
    width = 2.0 * math.pi / SECTORS
    begin = np.empty(n, np.int64)
    count = np.empty(n, np.int64)
    offset = np.zeros(SECTORS + 1, np.int64)
    for k in range(n):
        d = math.hypot(x[k] - px, y[k] - py)
        begin[k], count[k] = 0, SECTORS
        if d > r[k]:
            half = math.asin(r[k] / d) + 1e-9
            angle = math.atan2(y[k] - py, x[k] - px) + math.pi
            begin[k] = math.floor((angle - half) / width)
            count[k] = min(math.floor((angle + half) / width) - begin[k] + 1, SECTORS)
        for a in range(begin[k], begin[k] + count[k]):
            offset[a % SECTORS + 1] += 1
    for a in range(SECTORS):
        offset[a + 1] += offset[a]
    items = np.empty(offset[SECTORS], np.int64)
    fill = offset[:-1].copy()
    for k in range(n):
        for a in range(begin[k], begin[k] + count[k]):
            items[fill[a % SECTORS]] = k
            fill[a % SECTORS] += 1
    return offset, items


@kernel
def chords(obstacles, k, ray, d, cuts):
    """Stretches of a ray of length d over obstacle ``k``: fills pairs into ``cuts``, returns their count."""
    x, y, ux, uy = ray.x, ray.y, ray.east, ray.north
    along = (obstacles.x[k] - x) * ux + (obstacles.y[k] - y) * uy
    across = (obstacles.x[k] - x) * uy - (obstacles.y[k] - y) * ux
    square = obstacles.radius[k] ** 2 - across * across
    if square <= 0.0:
        return 0
    half = math.sqrt(square)
    if along + half <= 0.0 or along - half >= d:
        return 0
    start, edges = obstacles.start, obstacles.edges
    if start[k] == start[k + 1]:
        cuts[0] = max(along - half, AT_OBSERVER_M)
        cuts[1] = min(along + half, d)
        return 2 if cuts[1] > cuts[0] else 0
    n = 0
    for e in range(start[k], start[k + 1]):
        p = (edges[e, 0] - x) * uy - (edges[e, 1] - y) * ux
        q = (edges[e, 2] - x) * uy - (edges[e, 3] - y) * ux
        if (p > 0.0) != (q > 0.0):
            w = p / (p - q)
            gx = edges[e, 0] + w * (edges[e, 2] - edges[e, 0]) - x
            gy = edges[e, 1] + w * (edges[e, 3] - edges[e, 1]) - y
            s = gx * ux + gy * uy
            if s > 0.0:
                cuts[n] = s
                n += 1
    if n % 2 == 1:
        cuts[n] = AT_OBSERVER_M
        n += 1
    for i in range(1, n):  # few: sorted in place
        for j in range(i, 0, -1):
            if cuts[j] >= cuts[j - 1]:
                break
            cuts[j], cuts[j - 1] = cuts[j - 1], cuts[j]
    m = 0
    for i in range(0, n, 2):
        a, b = max(cuts[i], AT_OBSERVER_M), min(cuts[i + 1], d)
        if b > a:
            cuts[m], cuts[m + 1] = a, b
            m += 2
    return m


@kernel
def span(terrain, obstacles, k, a, b, ray, ze):
    """Slopes that obstacle ``k`` blocks between a and b on a ray: lowest, highest, where each is."""
    low, high = obstacles.low[k], obstacles.high[k]
    if obstacles.start[k] == obstacles.start[k + 1]:
        at_high = a if high > ze else b
        at_low = a if low < ze else b
        bottom = (low - ze) / at_low if low > -math.inf else low
        return bottom, (high - ze) / at_high, at_low, at_high
    top, at_high = peak(terrain, ray, a, b, ze - high, -1e12)
    bottom, at_low = -math.inf, a
    if low > -math.inf:
        z, x_west, y_north, cell = terrain.z, terrain.x_west, terrain.y_north, terrain.cell
        bottom = math.inf
        n = int((b - a) / (cell / PER_CELL)) + 2
        for i in range(n + 1):
            s = a + (b - a) * i / n
            ground = height(z, x_west, y_north, cell, ray.x + ray.east * s, ray.y + ray.north * s)
            slope = (ground + low - ze) / s
            if not slope >= bottom:
                bottom, at_low = slope, s
    return bottom, top, at_low, at_high


@kernel
def uncovered(spans, n, top):
    """Length of 0..top that none of the first n intervals covers; sorts them by their start."""
    for i in range(1, n):
        for j in range(i, 0, -1):
            if spans[j, 0] >= spans[j - 1, 0]:
                break
            for c in range(spans.shape[1]):
                spans[j, c], spans[j - 1, c] = spans[j - 1, c], spans[j, c]
    seen = 0.0
    reach = 0.0
    for i in range(n):
        seen += max(0.0, min(spans[i, 0], top) - reach)
        reach = max(reach, spans[i, 1])
    return seen + max(0.0, top - reach)


@kernel
def covered(spans, n, level):
    """Tell whether a height on the target lies in one of the first n intervals."""
    hit = False
    for i in range(n):
        hit = hit or spans[i, 0] < level < spans[i, 1]
    return hit


@kernel
def line_of_sight(terrain, obstacles, candidates, buffers, observer, target, hint):
    """One observer, one target: the :class:`Sight`, and the hint for the next observer.

    ``candidates`` are the rows of the obstacles that may stand on the line. ``hint`` is how far before the
    target the ground hid most for the observer before this one: that sample of this ray is taken first, so
    that most of the ray is skipped. It only affects speed.
    """
    x, y, ze = observer
    px, py, pz, tall, aim = target
    cuts, spans = buffers
    d = math.sqrt((px - x) ** 2 + (py - y) ** 2)
    if d < AT_OBSERVER_M:
        return Sight(1.0, 0.0, True, True, NOTHING, math.nan, aim), 0.0
    ux, uy = (px - x) / d, (py - y) / d
    z, x_west, y_north, cell = terrain.z, terrain.x_west, terrain.y_north, terrain.cell
    m0 = (pz - ze) / d
    m, at = m0, d
    if 0.0 < hint < d:
        g = height(z, x_west, y_north, cell, px - ux * hint, py - uy * hint)
        if g - ze > m * (d - hint):
            m, at = (g - ze) / (d - hint), d - hint
    dc, dr = ux / cell, -uy / cell
    per_col = 1.0 / dc if dc != 0.0 else 0.0
    per_row = 1.0 / dr if dr != 0.0 else 0.0
    ray = Ray(x, y, ux, uy, (x - x_west) / cell - 0.5, (y_north - y) / cell - 0.5, dc, dr, per_col, per_row)
    steep, place = peak(terrain, ray, 0.0, d, ze, m)
    if steep != steep:
        return Sight(math.nan, math.nan, False, False, UNKNOWN, math.nan, math.nan), hint
    if steep > m:
        m, at = steep, place
    by = GROUND if m > m0 else NOTHING
    hint = d - at
    mt = (pz + aim - ze) / d
    n = 0
    for item in range(candidates.size):
        k = candidates[item]
        for c in range(0, chords(obstacles, k, ray, d, cuts), 2):
            lo, hi, at_low, at_high = span(terrain, obstacles, k, cuts[c], cuts[c + 1], ray, ze)
            if lo != lo or hi != hi:
                return Sight(math.nan, math.nan, False, False, UNKNOWN, math.nan, math.nan), hint
            if lo == -math.inf:
                if hi > m:
                    m, at, by = hi, at_high, k
            elif hi > m0 and n < spans.shape[0] - 1:
                over, under = (mt - hi) * at_high, (lo - mt) * at_low
                spans[n, 0], spans[n, 1] = ze + lo * d - pz, ze + hi * d - pz
                spans[n, 2], spans[n, 3], spans[n, 4] = (
                    k,
                    at_high if over > under else at_low,
                    max(over, under),
                )
                n += 1
    low = max(ze + m * d - pz, 0.0)
    if n == 0:
        seen = max(tall - low, 0.0)
        foot = low <= min(BALL_M, tall)
        clearance = (mt - m) * at
        if low == 0.0 or tall - seen <= (BALL_M if foot else 0.0):
            by, at = NOTHING, math.nan
        return Sight(seen / tall, low, foot, low <= tall, by, at, clearance), hint
    spans[n, 0], spans[n, 1], spans[n, 2], spans[n, 3], spans[n, 4] = -1.0, low, by, at, (mt - m) * at
    return union(spans, n + 1, low, tall), hint


@kernel
def union(spans, n, low, tall):
    """What the first n hidden intervals together leave of a target of a height: a :class:`Sight`.

    Columns of ``spans``: lowest and highest hidden height [m], what hides, its distance and the clearance
    over it [m].
    """
    seen = uncovered(spans, n, tall)
    foot = not covered(spans, n, min(BALL_M, tall))
    top = not covered(spans, n, tall)
    most, clearance = 0.0, math.inf
    by, at = NOTHING, math.nan
    for i in range(n):
        clearance = min(clearance, spans[i, 4])
        hides = min(spans[i, 1], tall) - max(spans[i, 0], 0.0)
        if hides > most and tall - seen > (BALL_M if foot else 0.0):
            most, by, at = hides, int(spans[i, 2]), spans[i, 3]
    return Sight(seen / tall, low, foot, top, by, at, clearance)


@kernel(allocates=True)
def lines_of_sight(terrain, obstacles, observers, targets, reach, out, by):
    """Every observer to every target within a reach [m]: rows of ``out`` by name, ``by`` what blocks.

    ``observers`` is ``(n, 3)``, ``targets (m, 5)`` as :class:`Target`; ``out`` is ``(6, n, m)``.
    """
    longest = 1
    for k in range(obstacles.x.size):
        longest = max(longest, obstacles.start[k + 1] - obstacles.start[k])
    cuts = np.empty(longest + 2)
    for p in range(targets.shape[0]):
        target = Target(targets[p, 0], targets[p, 1], targets[p, 2], targets[p, 3], targets[p, 4])
        offset, items = sectors(obstacles, target.x, target.y)
        busiest = 1
        for a in range(SECTORS):
            busiest = max(busiest, offset[a + 1] - offset[a])
        buffers = Buffers(cuts, np.empty((busiest * (longest // 2 + 1) + 1, 5)))
        hint = 0.0
        for e in range(observers.shape[0]):
            x, y, z = observers[e, 0], observers[e, 1], observers[e, 2]
            dx, dy = x - target.x, y - target.y
            if not (dx * dx + dy * dy <= reach * reach and z < math.inf and target.z < math.inf):
                by[e, p] = UNKNOWN
                out[:, e, p] = math.nan
                continue
            first = last = 0
            if items.size > 0:
                a = min(int((math.atan2(dy, dx) + math.pi) / (2.0 * math.pi) * SECTORS), SECTORS - 1)
                first, last = offset[a], offset[a + 1]
            sight, hint = line_of_sight(
                terrain, obstacles, items[first:last], buffers, (x, y, z), target, hint
            )
            by[e, p] = sight.by
            if sight.by == UNKNOWN:
                out[:, e, p] = math.nan
                continue
            out[SHARE, e, p], out[LOWEST, e, p] = sight.share, sight.lowest
            out[FOOT, e, p], out[TOP, e, p] = sight.foot, sight.top
            out[BLOCKED_AT, e, p], out[CLEARANCE, e, p] = sight.blocked_at, sight.clearance
