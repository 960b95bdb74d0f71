"""Compiled loops over lines of sight: the ground and the things that stand on it, as seen from an eye.

A ray is followed in node coordinates: col(s) = c0 + dc * s, row(s) = r0 + dr * s, with s in metres from the eye.
Cell (i, j) is the square between the centres i..i+1, j..j+1. On it the bilinear ground along a ray is a parabola.
"""

from __future__ import annotations

import math

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.terrain.surface_kernels import height

FINE = 2  # a fine tile is 2**2 cells wide
COARSE = 4  # a coarse tile is 2**4 cells wide
NOTHING, GROUND, UNKNOWN = -1, -2, -3
CLOSE = 1e-6  # metres; nearer than this an eye is inside a thing
BALL = 0.04267  # metres; least diameter of a ball, Rules of Golf, Equipment Rules part 4 (1.680 in)
SECTORS = 360


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
def _leave(c0, r0, dc, dr, per_col, per_row, i, j, shift, rows, cols):
    """Where a ray leaves the tile that holds cell (i, j): distance, and the cell it enters.

    ``per_col`` and ``per_row`` are the inverses of ``dc`` and ``dr`` (not used where those are 0).

    Along the axis that it leaves by, the cell may lie past the grid: the ray has ended. Along the other it may not, even
    where the tile reaches past the grid and the ray runs along the last centres.
    """
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
def _leave_cell(c0, r0, dc, dr, per_col, per_row, i, j):
    """:func:`_leave` for a single cell: the ray goes on into one of the four beside it."""
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
def _cell_peak(z, i, j, c0, r0, dc, dr, s, g, ze, m, at):
    """Raise the steepest slope ``m`` seen so far by what one cell holds between s and g; nan beside missing ground."""
    z00 = z[i, j]
    z01 = z[i, j + 1]
    z10 = z[i + 1, j]
    z11 = z[i + 1, j + 1]
    if not (z00 + z01 + z10 + z11 < math.inf):
        return math.nan, s
    near, far = ze + m * s, ze + m * g
    if max(max(z00, z01), max(z10, z11)) <= min(near, far):
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
    if za + bulge <= near and zb + bulge <= far:
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
def _tile_peak(z, fine, c0, r0, dc, dr, per_col, per_row, s, e, ze, m, at):
    """:func:`peak` between s and e on one coarse tile: by fine tiles, and by cells where those reach above the line."""
    rows, cols = z.shape
    j = min(max(int(c0 + dc * s), 0), cols - 2)
    i = min(max(int(r0 + dr * s), 0), rows - 2)
    while s < e and 0 <= i < rows - 1 and 0 <= j < cols - 1:
        f, ni, nj = _leave(c0, r0, dc, dr, per_col, per_row, i, j, FINE, rows, cols)
        f = min(f, e)
        if f <= s or fine[i >> FINE, j >> FINE] <= ze + m * (s if m > 0.0 else f):
            s, i, j = max(s, f), ni, nj
            continue
        while s < f and 0 <= i < rows - 1 and 0 <= j < cols - 1:
            g, ni, nj = _leave_cell(c0, r0, dc, dr, per_col, per_row, i, j)
            g = min(g, f)
            m, at = _cell_peak(z, i, j, c0, r0, dc, dr, s, g, ze, m, at)
            if m != m:
                return m, at
            s, i, j = max(s, g), ni, nj
    return m, at


@kernel
def peak(z, fine, coarse, c0, r0, dc, dr, s0, s1, ze, m):
    """Greatest slope (ground - ze) / s on a ray between s0 and s1, if above ``m``, and where; nan if ground is missing.

    Exact for the bilinear surface. Tiles whose greatest height stays under the line of slope ``m`` are skipped.
    """
    rows, cols = z.shape
    size = 1 << COARSE
    at = s1
    s = s0
    j = min(max(int(c0 + dc * s0), 0), cols - 2) >> COARSE
    i = min(max(int(r0 + dr * s0), 0), rows - 2) >> COARSE
    per_col = 1.0 / dc if dc != 0.0 else 0.0
    per_row = 1.0 / dr if dr != 0.0 else 0.0
    east, south = (1 if dc > 0.0 else -1), (1 if dr > 0.0 else -1)
    by_col = ((j + (dc > 0.0)) * size - c0) * per_col if dc != 0.0 else math.inf
    by_row = ((i + (dr > 0.0)) * size - r0) * per_row if dr != 0.0 else math.inf
    on_col, on_row = size * abs(per_col), size * abs(per_row)
    while s < s1 and 0 <= i < coarse.shape[0] and 0 <= j < coarse.shape[1]:
        e = min(min(by_col, by_row), s1)
        if e > s and coarse[i, j] > ze + m * (s if m > 0.0 else e):
            m, at = _tile_peak(z, fine, c0, r0, dc, dr, per_col, per_row, s, e, ze, m, at)
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


# Things above the ground are passed as ``(x, y, r, low, high, start, edges)``: a circle round each; ``start`` cuts
# ``edges`` (x0, y0, x1, y1) into outlines. Without an outline a thing is an upright cylinder between two levels;
# with one it is a prism between two heights above the ground below it. ``low`` of -inf: solid down to the ground.


@kernel(allocates=True, python_entry=False)
def sectors(things, px, py):
    """Sort things by the directions from (px, py) in which they stand: offsets ``(SECTORS + 1,)`` and items."""
    x, y, r = things[0], things[1], things[2]
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
def chords(things, k, x, y, ux, uy, d, cuts):
    """Stretches of a ray that lie over thing ``k``: fills pairs of distances into ``cuts``, returns how many numbers."""
    along = (things[0][k] - x) * ux + (things[1][k] - y) * uy
    across = (things[0][k] - x) * uy - (things[1][k] - y) * ux
    left = things[2][k] ** 2 - across * across
    if left <= 0.0:
        return 0
    half = math.sqrt(left)
    if along + half <= 0.0 or along - half >= d:
        return 0
    start, edges = things[5], things[6]
    if start[k] == start[k + 1]:
        cuts[0] = max(along - half, CLOSE)
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
        cuts[n] = CLOSE
        n += 1
    for i in range(1, n):  # few: sorted in place
        for j in range(i, 0, -1):
            if cuts[j] >= cuts[j - 1]:
                break
            cuts[j], cuts[j - 1] = cuts[j - 1], cuts[j]
    m = 0
    for i in range(0, n, 2):
        a, b = max(cuts[i], CLOSE), min(cuts[i + 1], d)
        if b > a:
            cuts[m], cuts[m + 1] = a, b
            m += 2
    return m


@kernel
def span(ground, things, k, a, b, ray, ze):
    """Slopes that thing ``k`` blocks between distances a and b of a ray: lowest, highest, where each is."""
    low, high = things[3][k], things[4][k]
    if things[5][k] == things[5][k + 1]:
        at_high = a if high > ze else b
        at_low = a if low < ze else b
        bottom = (low - ze) / at_low if low > -math.inf else low
        return bottom, (high - ze) / at_high, at_low, at_high
    z, x_west, y_north, cell, fine, coarse = ground
    x, y, ux, uy = ray
    c0 = (x - x_west) / cell - 0.5
    r0 = (y_north - y) / cell - 0.5
    top, at_high = peak(z, fine, coarse, c0, r0, ux / cell, -uy / cell, a, b, ze - high, -1e12)
    bottom, at_low = -math.inf, a
    if low > -math.inf:  # underside of a thicket: sampled four times a cell
        bottom = math.inf
        n = int((b - a) / (0.25 * cell)) + 2
        for i in range(n + 1):
            s = a + (b - a) * i / n
            slope = (height(z, x_west, y_north, cell, x + ux * s, y + uy * s) + low - ze) / s
            if not slope >= bottom:
                bottom, at_low = slope, s
    return bottom, top, at_low, at_high


@kernel
def _uncovered(spans, n, top):
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
def _covered(spans, n, level):
    """Tell whether a height on the stick lies in one of the intervals."""
    hit = False
    for i in range(n):
        hit = hit or spans[i, 0] < level < spans[i, 1]
    return hit


@kernel
def _stick(ground, things, items, first, last, spans, cuts, eye, pin, stick, aim, hint):
    """One eye, one stick: share seen, lowest height seen over solid things, foot, top, what hides, where, room, hint.

    The things that may stand on the line are ``items[first:last]``.

    ``hint`` is how far before the pin the ground hid most for the eye before this one: a true sample of this ray
    taken first, so that most of the ray is then skipped. It cannot change the answer.
    """
    x, y, ze = eye
    px, py, pz = pin
    z, x_west, y_north, cell, fine, coarse = ground
    d = math.sqrt((px - x) ** 2 + (py - y) ** 2)
    if d < CLOSE:
        return 1.0, 0.0, True, True, NOTHING, math.nan, aim, 0.0
    ux, uy = (px - x) / d, (py - y) / d
    m0 = (pz - ze) / d
    m, at = m0, d
    if 0.0 < hint < d:
        g = height(z, x_west, y_north, cell, px - ux * hint, py - uy * hint)
        if g - ze > m * (d - hint):
            m, at = (g - ze) / (d - hint), d - hint
    c0, r0 = (x - x_west) / cell - 0.5, (y_north - y) / cell - 0.5
    steep, place = peak(z, fine, coarse, c0, r0, ux / cell, -uy / cell, 0.0, d, ze, m)
    if steep != steep:
        return math.nan, math.nan, False, False, UNKNOWN, math.nan, math.nan, hint
    if steep > m:
        m, at = steep, place
    by = GROUND if m > m0 else NOTHING
    hint = d - at
    mt = (pz + aim - ze) / d
    n = 0
    for item in range(first, last):
        k = items[item]
        for c in range(0, chords(things, k, x, y, ux, uy, d, cuts), 2):
            lo, hi, near, far = span(ground, things, k, cuts[c], cuts[c + 1], (x, y, ux, uy), ze)
            if lo != lo or hi != hi:
                return math.nan, math.nan, False, False, UNKNOWN, math.nan, math.nan, hint
            if lo == -math.inf:
                if hi > m:
                    m, at, by = hi, far, k
            elif hi > m0 and n < spans.shape[0] - 1:
                over, under = (mt - hi) * far, (lo - mt) * near
                spans[n, 0], spans[n, 1] = ze + lo * d - pz, ze + hi * d - pz
                spans[n, 2], spans[n, 3], spans[n, 4] = k, far if over > under else near, max(over, under)
                n += 1
    low = max(ze + m * d - pz, 0.0)
    if n == 0:
        seen = max(stick - low, 0.0)
        foot = low <= min(BALL, stick)
        room = (mt - m) * at
        if low == 0.0 or stick - seen <= (BALL if foot else 0.0):
            by, at = NOTHING, math.nan
        return seen / stick, low, foot, low <= stick, by, at, room, hint
    spans[n, 0], spans[n, 1], spans[n, 2], spans[n, 3], spans[n, 4] = -1.0, low, by, at, (mt - m) * at
    return *_union(spans, n + 1, low, stick), hint


@kernel
def _union(spans, n, low, stick):
    """What the first n hidden intervals together leave of the stick: the answers of :func:`_stick` but the hint."""
    seen = _uncovered(spans, n, stick)
    foot = not _covered(spans, n, min(BALL, stick))
    top = not _covered(spans, n, stick)
    most, room = 0.0, math.inf
    by, at = NOTHING, math.nan
    for i in range(n):
        room = min(room, spans[i, 4])
        hides = min(spans[i, 1], stick) - max(spans[i, 0], 0.0)
        if hides > most and stick - seen > (BALL if foot else 0.0):
            most, by, at = hides, int(spans[i, 2]), spans[i, 3]
    return seen / stick, low, foot, top, by, at, room


@kernel(allocates=True)
def look(ground, things, ex, ey, ez, px, py, pz, stick, aim, reach, out, by):
    """Every eye to every stick. ``out[0..5]``: share, lowest height, foot, top, where it hides, room; ``by``: what."""
    longest = 1
    for k in range(things[0].size):
        longest = max(longest, things[5][k + 1] - things[5][k])
    cuts = np.empty(longest + 2)
    for p in range(px.size):
        offset, items = sectors(things, px[p], py[p])
        busiest = 1
        for a in range(SECTORS):
            busiest = max(busiest, offset[a + 1] - offset[a])
        spans = np.empty((busiest * (longest // 2 + 1) + 1, 5))
        hint = 0.0
        for e in range(ex.size):
            dx, dy = ex[e] - px[p], ey[e] - py[p]
            if not (dx * dx + dy * dy <= reach * reach and ez[e] < math.inf and pz[p] < math.inf):
                by[e, p] = UNKNOWN
                out[:, e, p] = math.nan
                continue
            first = last = 0
            if items.size > 0:
                a = min(int((math.atan2(dy, dx) + math.pi) / (2.0 * math.pi) * SECTORS), SECTORS - 1)
                first, last = offset[a], offset[a + 1]
            answer = _stick(
                ground,
                things,
                items,
                first,
                last,
                spans,
                cuts,
                (ex[e], ey[e], ez[e]),
                (px[p], py[p], pz[p]),
                stick,
                aim,
                hint,
            )
            hint = answer[7]
            by[e, p] = answer[4]
            if answer[4] == UNKNOWN:
                out[:, e, p] = math.nan
                continue
            out[0, e, p], out[1, e, p] = answer[0], answer[1]
            out[2, e, p], out[3, e, p] = answer[2], answer[3]
            out[4, e, p], out[5, e, p] = answer[5], answer[6]
