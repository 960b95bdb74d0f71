"""Compiled loops of strategy: where shots finish by table, and the least mean number of strokes by value iteration.

Arrays and plain numbers only, SI units. What stays the same through a solve travels in two named tuples:

- :class:`Ground`: kinds, heights and states on the cells of the terrain, and the outcome table with the landing
  velocities that fill it;
- :class:`Fans`: landing offsets of every shot, heading and sample for one lie.

Headings are whole numbers ``0 .. HEADINGS - 1``, evenly spread clockwise from grid north. A state is a place with one
lie; states of the green have a value fixed by putting and are never searched.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools._jit import kernel
from gistools.shots._kernels import Air, Land, fly_to_level, land_and_run

HEADINGS = 240
BINS = 24  # heading bins of the outcome table
PER_BIN = HEADINGS // BINS
UNIT = 0.02  # run is stored in steps of 2 cm
KIND_FAIRWAY, KIND_GREEN, KIND_WATER, KIND_OUT, KIND_OFF = 1, 2, 5, 8, 255
KIND_FAR = 3  # rough, fairway, green, tee: kinds a ball runs to rest on
RUNS = 0.0
DROP_M = 2.0  # two club-lengths, about [m]
LOWEST, HIGHEST = -40.0, 30.0
SMALLEST = 32  # samples of the smallest set
BACK = -1  # stroke and distance
KEEP = 3  # best shots kept per pin
MOST_OUT = 0.6  # shots lost more often than this are not considered

#: columns of the record of an outcome
X, Y, KIND, STATE, PENALTY, LAND_X, LAND_Y, LAND_KIND = 0, 1, 2, 3, 4, 5, 6, 7


class Ground(NamedTuple):
    """Cells of the terrain: level, kind, state (BACK where none); the outcome table and what fills it.

    ``slot`` is the landing cell of each cell, ``spot[slot]`` its row and column in the middle.
    ``table[class, bin, slot]`` is 0 where not yet computed, else run along and across the heading, and kind,
    packed in one whole number. ``arrive[class, bin] = (forward, right, up, spin)`` is the nominal landing velocity.
    """

    level: np.ndarray
    kind: np.ndarray
    state: np.ndarray
    x_west: float
    y_north: float
    cell: float
    ends: np.ndarray
    table: np.ndarray
    slot: np.ndarray
    spot: np.ndarray
    arrive: np.ndarray
    longer: np.ndarray
    land: Land


class Fans(NamedTuple):
    """Landing offsets ``offset[shot, heading, sample] = (x, y, x', y', x'', y'')``: on the level, and for each metre
    the landing is higher. ``tallest[shot]`` bounds how far up a shot can land; ``group[shot]`` is its table class.
    """

    offset: np.ndarray
    tallest: np.ndarray
    group: np.ndarray
    carry: np.ndarray
    lie: int


@kernel
def first_of(samples):
    """Where the set of so many samples begins: sets of 32, 64, 128 ... stand one after the other."""
    return samples - SMALLEST


@kernel
def cell_of(g, x, y):
    """Row and column of a point, (-1, -1) outside."""
    j = math.floor((x - g.x_west) / g.cell)
    i = math.floor((g.y_north - y) / g.cell)
    if i < 0 or j < 0 or i >= g.kind.shape[0] or j >= g.kind.shape[1]:
        return -1, -1
    return i, j


@kernel
def pack(along, across, kind):
    """Run [m] and kind in one whole number, never 0."""
    a = min(max(int(np.rint(along / UNIT)), -32000), 32000) + 32768
    b = min(max(int(np.rint(across / UNIT)), -32000), 32000) + 32768
    return (a << 32) | (b << 16) | (kind << 1) | 1


@kernel
def turf_class(kind):
    """Which of the three level runs holds: green, fairway, or any other ground."""
    return 0 if kind == KIND_GREEN else (1 if kind == KIND_FAIRWAY else 2)


@kernel
def level_runs(flat, nodes, out):
    """Run along level ground [m] for each shot and ball speed: ``out[shot, node]``."""
    for s in range(nodes.shape[0]):
        for n in range(nodes.shape[1]):
            v = nodes[s, n]
            _, y, _, _ = land_and_run(flat, 0.0, 0.0, v[1], v[0], v[2], v[3], 0.0, 0.0)
            out[s, n] = y


@kernel
def fill(g, group, b, slot):
    """Compute one entry of the outcome table: bounce and run from the middle of a landing cell."""
    x = g.x_west + (g.spot[slot, 1] + 0.5) * g.cell
    y = g.y_north - (g.spot[slot, 0] + 0.5) * g.cell
    heading = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(heading), math.cos(heading)
    vf, vr, vz, spin = (
        g.arrive[group, b, 0],
        g.arrive[group, b, 1],
        g.arrive[group, b, 2],
        g.arrive[group, b, 3],
    )
    x1, y1, kind, _ = land_and_run(
        g.land, x, y, vf * sh + vr * ch, vf * ch - vr * sh, vz, spin * ch, -spin * sh, 0.0
    )
    dx, dy = x1 - x, y1 - y
    return pack(dx * sh + dy * ch, dx * ch - dy * sh, kind)


@kernel
def entry(g, group, heading, i, j):
    """Run along and across, and kind, after landing in a cell: from the table, computed on first use."""
    b = ((heading + PER_BIN // 2) // PER_BIN) % BINS
    slot = g.slot[i, j]
    e = g.table[group, b, slot]
    if e == 0:
        e = fill(g, group, b, slot)
        g.table[group, b, slot] = e
    return ((e >> 32) - 32768) * UNIT, (((e >> 16) & 65535) - 32768) * UNIT, (e >> 1) & 255


@kernel
def landing(g, fans, shot, heading, k, x, y, z):
    """Where one sample of a shot meets the ground: ``x, y, row, col`` (row -1 off the map)."""
    d = fans.offset[shot, heading, k]
    lx, ly = x + d[0], y + d[1]
    i, j = cell_of(g, lx, ly)
    for _ in range(2):
        if i < 0:
            return lx, ly, i, j
        h = g.level[i, j] - z
        if h != h:
            return lx, ly, -1, -1
        h = min(max(h, LOWEST), fans.tallest[shot])
        lx = x + d[0] + h * (d[2] + h * d[4])
        ly = y + d[1] + h * (d[3] + h * d[5])
        i, j = cell_of(g, lx, ly)
    return lx, ly, i, j


@kernel
def relief(g, x, y, sh, ch, far):
    """State of the drop: back along the shot to dry ground, then two club-lengths. BACK where there is none."""
    gone = 0.0
    while gone < far:
        i, j = cell_of(g, x, y)
        if i >= 0 and g.kind[i, j] != KIND_WATER:
            i1, j1 = cell_of(g, x - DROP_M * sh, y - DROP_M * ch)
            if i1 >= 0 and g.state[i1, j1] >= 0:
                return g.state[i1, j1]
            return g.state[i, j]
        x -= g.cell * sh
        y -= g.cell * ch
        gone += g.cell
    return BACK


@kernel
def outcome(g, fans, shot, heading, k, x, y, z):
    """One sample of a shot: ``x, y, kind, state, penalty, land x, land y, land kind``; state BACK is stroke and distance."""
    lx, ly, i, j = landing(g, fans, shot, heading, k, x, y, z)
    if i < 0:
        return lx, ly, KIND_OFF, BACK, 1, lx, ly, KIND_OFF
    kind = int(g.kind[i, j])
    first = kind
    fx, fy = lx, ly
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    if g.ends[kind] == RUNS:
        along, across, kind = entry(g, fans.group[shot], heading, i, j)
        if kind <= KIND_FAR:
            along += g.longer[fans.lie, shot, k, turf_class(first)]
        fx = lx + along * sh + across * ch
        fy = ly + along * ch - across * sh
        i, j = cell_of(g, fx, fy)
        if i < 0:
            kind = KIND_OFF
        elif kind != KIND_WATER:
            here = int(g.kind[i, j])
            if here == KIND_WATER:  # the table says dry, the shifted run ends just inside: the bank
                s = relief(g, fx, fy, sh, ch, 8.0)
                if s >= 0:
                    return fx, fy, kind, s, 0, lx, ly, first
            kind = here if kind != KIND_OUT and kind != KIND_OFF else kind
    if kind in (KIND_OUT, KIND_OFF):
        return fx, fy, kind, BACK, 1, lx, ly, first
    if kind == KIND_WATER:
        far = (fx - x) * sh + (fy - y) * ch
        return fx, fy, kind, relief(g, fx, fy, sh, ch, max(far, 0.0)), 1, lx, ly, first
    return fx, fy, kind, g.state[i, j], 0, lx, ly, first


@kernel
def outcomes(g, fans, shot, heading, samples, x, y, z, out):
    """Fill ``out[k]`` with the record of each sample."""
    first = first_of(samples)
    for k in range(samples):
        r = outcome(g, fans, shot, heading, first + k, x, y, z)
        o = out[k]
        o[0], o[1], o[2], o[3], o[4], o[5], o[6], o[7] = r


@kernel
def worth(g, fans, shot, heading, samples, x, y, z, value, pins, q):
    """Mean strokes to hole out with this shot, for every pin: ``q[p]``; a large number if it is lost too often.

    The same as summing :func:`outcome`, written out flat because it is the inner loop of everything (a test
    compares the two).
    """
    for p in range(pins):
        q[p] = 0.0
    fan = fans.offset[shot, heading]
    ceiling = fans.tallest[shot]
    level, kinds, state, ends = g.level, g.kind, g.state, g.ends
    west, north, per, slots = g.x_west, g.y_north, 1.0 / g.cell, g.slot
    rows, cols = kinds.shape
    b = ((heading + PER_BIN // 2) // PER_BIN) % BINS
    group = fans.group[shot]
    table = g.table[group, b]
    longer = g.longer[fans.lie, shot]
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    back = 0
    first = first_of(samples)
    for k in range(first, first + samples):
        d0, d1 = fan[k, 0], fan[k, 1]
        u, v = (x + d0 - west) * per, (north - y - d1) * per
        if not (0.0 <= u < cols and 0.0 <= v < rows):
            back += 1
            continue
        h = min(max(level[int(v), int(u)] - z, LOWEST), ceiling)
        if h != h:
            back += 1
            continue
        d2, d3, d4, d5 = fan[k, 2], fan[k, 3], fan[k, 4], fan[k, 5]
        u = (x + d0 + h * (d2 + h * d4) - west) * per
        v = (north - y - d1 - h * (d3 + h * d5)) * per
        if not (0.0 <= u < cols and 0.0 <= v < rows):
            back += 1
            continue
        h = min(max(level[int(v), int(u)] - z, LOWEST), ceiling)
        if h != h:
            back += 1
            continue
        lx = x + d0 + h * (d2 + h * d4)
        ly = y + d1 + h * (d3 + h * d5)
        u, v = (lx - west) * per, (north - ly) * per
        if not (0.0 <= u < cols and 0.0 <= v < rows):
            back += 1
            continue
        i, j = int(v), int(u)
        kind = int(kinds[i, j])
        here = kind
        if ends[kind] == RUNS:
            e = table[slots[i, j]]
            if e == 0:
                e = fill(g, group, b, slots[i, j])
                table[slots[i, j]] = e
            along = ((e >> 32) - 32768) * UNIT
            across = (((e >> 16) & 65535) - 32768) * UNIT
            kind = (e >> 1) & 255
            if kind <= KIND_FAR:
                along += longer[k, turf_class(here)]
            lx += along * sh + across * ch
            ly += along * ch - across * sh
            u, v = (lx - west) * per, (north - ly) * per
            if not (0.0 <= u < cols and 0.0 <= v < rows) or kind in (KIND_OUT, KIND_OFF):
                back += 1
                continue
            i, j = int(v), int(u)
            here = int(kinds[i, j])
        s = state[i, j]
        penalty = 0.0
        if kind == KIND_WATER:
            s = relief(g, lx, ly, sh, ch, max((lx - x) * sh + (ly - y) * ch, 0.0))
            penalty = 1.0
        elif here == KIND_WATER:
            s = relief(g, lx, ly, sh, ch, 8.0)
            if s < 0:
                s = relief(g, lx, ly, sh, ch, max((lx - x) * sh + (ly - y) * ch, 0.0))
                penalty = 1.0
        if s < 0:
            back += 1
        else:
            for p in range(pins):
                q[p] += value[s, p] + penalty
    lost = back / samples
    for p in range(pins):
        q[p] = (1.0 + q[p] / samples + lost) / (1.0 - lost) if lost < MOST_OUT else 1e6


@kernel
def remember(kept_q, kept_shot, kept_heading, q, shot, heading):
    """Put a shot among the best few, best first, each shot of the bag once with its best heading."""
    n = kept_q.size
    if q >= kept_q[n - 1]:
        return
    at = n - 1
    for m in range(n):
        if kept_shot[m] == shot:
            if kept_q[m] <= q:
                return
            at = m
            break
    while at > 0 and kept_q[at - 1] > q:
        kept_q[at] = kept_q[at - 1]
        kept_shot[at] = kept_shot[at - 1]
        kept_heading[at] = kept_heading[at - 1]
        at -= 1
    kept_q[at] = q
    kept_shot[at] = shot
    kept_heading[at] = heading


@kernel
def useful(carry, nearest, farthest, longest):
    """Tell whether a shot is worth trying: not beyond what is needed, not far short of what is possible."""
    if carry > farthest + 8.0:
        return False
    return carry >= min(0.62 * nearest, 0.5 * longest)


@kernel
def search(
    g, fans, states, order, start, end, pin_x, pin_y, coarse, fine, value, new, best_shot, best_heading
):
    """Look for the best shots of states ``order[start:end]`` for every pin, from the values so far.

    ``states[s] = (x, y, z)``. Writes ``new[s, p]`` (never above ``value``) and the KEEP best shots with headings.
    """
    pins = pin_x.size
    q = np.empty(pins)
    kept_q = np.empty((pins, KEEP))
    kept_s = np.empty((pins, KEEP), np.int64)
    kept_h = np.empty((pins, KEEP), np.int64)
    top_q = np.empty((pins, KEEP))
    top_s = np.empty((pins, KEEP), np.int64)
    top_h = np.empty((pins, KEEP), np.int64)
    tried = np.zeros(fans.carry.size * HEADINGS, np.int64)
    longest = 0.0
    for shot in range(fans.carry.size):
        if fans.carry[shot] < 1000.0:
            longest = max(longest, fans.carry[shot])
    step = 2.0 * math.pi / HEADINGS
    for n in range(start, end):
        s = order[n]
        x, y, z = states[s, 0], states[s, 1], states[s, 2]
        nearest, farthest = 1e9, 0.0
        mx, my = 0.0, 0.0
        for p in range(pins):
            d = math.hypot(pin_x[p] - x, pin_y[p] - y)
            nearest, farthest = min(nearest, d), max(farthest, d)
            mx += pin_x[p] / pins
            my += pin_y[p] / pins
        main = math.atan2(mx - x, my - y)
        spread = 0.0
        for p in range(pins):
            a = math.atan2(pin_x[p] - x, pin_y[p] - y) - main
            a = abs(math.atan2(math.sin(a), math.cos(a)))
            spread = max(spread, a)
        half = int((0.45 + spread) / step) if farthest > 40.0 else int((0.30 + spread) / step)
        half = min(half, HEADINGS // 2 - 4)
        centre = int(np.rint(main / step))
        for p in range(pins):
            for m in range(KEEP):
                kept_q[p, m], kept_s[p, m], kept_h[p, m] = 1e9, -1, 0
                top_q[p, m], top_s[p, m], top_h[p, m] = 1e9, -1, 0
        for shot in range(fans.carry.size):
            if not useful(fans.carry[shot], nearest, farthest, longest):
                continue
            for off in range(-half, half + 4, 4):
                h = (centre + off) % HEADINGS
                worth(g, fans, shot, h, coarse, x, y, z, value, pins, q)
                for p in range(pins):
                    remember(kept_q[p], kept_s[p], kept_h[p], q[p], shot, h)
        # what was best so far stays in the race
        for p in range(pins):
            for m in range(KEEP):
                for off in range(-3, 4):
                    if kept_s[p, m] < 0:
                        continue
                    h = (kept_h[p, m] + off) % HEADINGS
                    key = kept_s[p, m] * HEADINGS + h
                    if tried[key] == n + 1:
                        continue
                    tried[key] = n + 1
                    worth(g, fans, kept_s[p, m], h, fine, x, y, z, value, pins, q)
                    for o in range(pins):
                        remember(top_q[o], top_s[o], top_h[o], q[o], kept_s[p, m], h)
        for p in range(pins):
            new[s, p] = min(value[s, p], top_q[p, 0])
            for m in range(KEEP):
                best_shot[s, p, m] = top_s[p, m]
                best_heading[s, p, m] = top_h[p, m]


@kernel
def improve(g, fans, states, order, start, end, samples, value, new, best_shot, best_heading, decrease):
    """Weigh the kept shots again with the values so far; with ``decrease`` a value never rises."""
    pins = value.shape[1]
    q = np.empty(pins)
    for n in range(start, end):
        s = order[n]
        x, y, z = states[s, 0], states[s, 1], states[s, 2]
        for p in range(pins):
            low, at = 1e9, 0
            for m in range(KEEP):
                shot = best_shot[s, p, m]
                if shot < 0:
                    continue
                worth(g, fans, shot, best_heading[s, p, m], samples, x, y, z, value[:, p : p + 1], 1, q)
                if q[0] < low:
                    low, at = q[0], m
            if low < 1e5 or not decrease:
                shot, heading = best_shot[s, p, at], best_heading[s, p, at]
                for m in range(at, 0, -1):
                    best_shot[s, p, m], best_heading[s, p, m] = (
                        best_shot[s, p, m - 1],
                        best_heading[s, p, m - 1],
                    )
                best_shot[s, p, 0], best_heading[s, p, 0] = shot, heading
            new[s, p] = min(value[s, p], low) if decrease else low


@kernel
def arrivals(calm, wind, wind_from, dt, speed, launch, spin, tilt, scales, levels, out):
    """Direct flights of one shot over headings, speed scales and levels of landing.

    ``out[heading, scale, level] = (forward, right, speed forward, speed right, speed up, spin, apex)``.
    """
    for a in range(out.shape[0]):
        angle = wind_from - 2.0 * math.pi * a / out.shape[0]
        air = Air(
            calm.model,
            calm.density,
            calm.viscosity,
            -wind * math.sin(angle),
            -wind * math.cos(angle),
            calm.shear,
            calm.own,
        )
        for n in range(scales.size):
            v = speed * scales[n]
            for m in range(levels.size):
                x, y, vx, vy, vz, w, _, apex = fly_to_level(
                    air, dt, 0.0, v * math.cos(launch), v * math.sin(launch), math.cos(tilt), 0.0, -math.sin(tilt),
                    spin * scales[n], levels[m],
                )  # fmt: skip
                o = out[a, n, m]
                o[0], o[1], o[2], o[3], o[4], o[5], o[6] = y, x, vy, vx, vz, w, apex


@kernel
def spread_fan(flights, scales, levels, errors, sizes, offset):
    """Fill ``offset[heading, sample]`` of one shot from its flights, direction errors [rad] and speed scales of its samples."""
    turns = flights.shape[0]
    step = scales[1] - scales[0]
    fr = np.zeros((3, 2))
    for h in range(HEADINGS):
        for k in range(errors.size):
            bearing = 2.0 * math.pi * h / HEADINGS + errors[k]
            a = bearing / (2.0 * math.pi) * turns
            a0 = math.floor(a)
            wa = a - a0
            q = min(max((sizes[k] - scales[0]) / step, 0.0), scales.size - 1.000001)
            n = int(q)
            wn = q - n
            for m in range(3):
                for c in range(2):
                    lo = (1.0 - wn) * flights[a0 % turns, n, m, c] + wn * flights[a0 % turns, n + 1, m, c]
                    hi = (1.0 - wn) * flights[(a0 + 1) % turns, n, m, c] + wn * flights[
                        (a0 + 1) % turns, n + 1, m, c
                    ]
                    fr[m, c] = (1.0 - wa) * lo + wa * hi
            sb, cb = math.sin(bearing), math.cos(bearing)
            down, up = levels[0], levels[2]
            o = offset[h, k]
            for c in range(2):
                # parabola through the levels (down, 0, up)
                s0 = (fr[0, c] - fr[1, c]) / down
                s2 = (fr[2, c] - fr[1, c]) / up
                curve = (s2 - s0) / (up - down)
                slope = s0 - curve * down
                for part, f in ((0, fr[1, c]), (2, slope), (4, curve)):
                    if c == 0:
                        o[part] += f * sb
                        o[part + 1] += f * cb
                    else:
                        o[part] += f * cb
                        o[part + 1] -= f * sb
