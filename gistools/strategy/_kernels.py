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
UNIT = 0.04  # run is stored in steps of 4 cm
PARTS = 10
BANDS, LEVEL = 6, 3  # bands of height of the landing over the start, and the one on the level
KIND_FAIRWAY, KIND_GREEN, KIND_WATER, KIND_OUT, KIND_OFF = 1, 2, 5, 8, 255
LAST_KIND = 15  # how a ball off the map is written in the table
KIND_FAR = 3  # rough, fairway, green, tee: kinds a ball runs to rest on
RUNS = 0.0
DROP_M = 2.0  # two club-lengths, about [m]
SMALLEST = 32  # samples of the smallest set
BACK = -1  # stroke and distance
AGAINST = -2  # row of a landing against a face
KEEP = 3  # best shots kept per pin
STEEP = 0.5  # rise of ground close by that makes a player look all round [m/m]
MOST_OUT = 0.6  # shots lost more often than this are not considered
HOPELESS = 15.0  # strokes: above this every way out is looked at
MOST_AGAIN = 0.9  # nor those that are lost, or stay under a face, more often than this

#: columns of the record of an outcome
X, Y, KIND, STATE, PENALTY, LAND_X, LAND_Y, LAND_KIND = 0, 1, 2, 3, 4, 5, 6, 7


class Ground(NamedTuple):
    """Cells of the terrain: level, kind, state (BACK where none); the outcome table and what fills it.

    ``slot`` is the landing cell of each cell, ``spot[slot]`` its row and column in the middle.
    ``table[class, bin, slot]`` is 0 where not yet computed, else run along and across the direction, and kind,
    packed in one whole number. ``arrive[class] = (forward, up, spin)`` is how a ball of that class lands. ``lips[state, bin, 2]`` is
    the steepest rise [m/m] of the ground close before a state, and a little farther off.
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
    land: Land
    lips: np.ndarray


class Fans(NamedTuple):
    """Landings of every shot for one lie, by wind: ``parts[shot, turn, part, sample]``.

    Parts: forward and right on the level, for each metre the landing is higher, and for its square; forward and right of the direction
    at landing (a unit vector), the same direction in bins of the table, and the node of ball speed. Turns part the headings evenly (1 in
    calm air); between them the fan follows in a straight line. ``drift[shot, turn, k]`` is the mean of the parts to the right.

    ``landing[shot, turn, node, band]`` is the class of a landing, by bands of its height over the start: ``band[shot]`` to the metre,
    LEVEL the one on the level. ``longer[..., k]`` is how its run follows from that of the class: k from 0 a factor on green, fairway and
    rough, from 3 metres more, 6 the share it grows by to the next node, from 7 metres to the right. ``climb[shot]`` is the rise a shot clears, close by and
    a little farther off [m/m]. ``lowest, tallest[shot]`` bound how far down and up
    a shot is followed. ``nearest[m]`` is the shot with the carry nearest to ``m`` metres, -1 for none.
    """

    parts: np.ndarray
    drift: np.ndarray
    landing: np.ndarray
    longer: np.ndarray
    band: np.ndarray
    climb: np.ndarray
    lowest: np.ndarray
    tallest: np.ndarray
    carry: np.ndarray
    nearest: np.ndarray


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
    a = min(max(int(np.rint(along / UNIT)), -2047), 2047) + 2048
    b = min(max(int(np.rint(across / UNIT)), -1023), 1023) + 1024
    return np.int32((a << 16) | (b << 5) | (min(kind, LAST_KIND) << 1) | 1)


@kernel
def turf_class(kind):
    """Which of the three level runs holds: green, fairway, or any other ground."""
    return 0 if kind == KIND_GREEN else (1 if kind == KIND_FAIRWAY else 2)


@kernel
def level_runs(flat, landings, aside, out):
    """Run along and across level ground [m] of each landing ``(forward, up, spin)``: ``out[n] = (along, across)``.

    ``aside[n]`` is how far to the right of the direction aimed in, about which the ball spins, it flies at landing [rad].
    """
    for n in range(landings.shape[0]):
        spin = landings[n, 2]
        out[n, 1], out[n, 0], _, _ = land_and_run(
            flat, 0.0, 0.0, 0.0, landings[n, 0], landings[n, 1],
            spin * math.cos(aside[n]), spin * math.sin(aside[n]), 0.0,
        )  # fmt: skip


@kernel
def fill(g, c, b, slot):
    """Compute one entry of the outcome table: bounce and run from the middle of a landing cell."""
    x = g.x_west + (g.spot[slot, 1] + 0.5) * g.cell
    y = g.y_north - (g.spot[slot, 0] + 0.5) * g.cell
    heading = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(heading), math.cos(heading)
    pace, vz, spin = g.arrive[c, 0], g.arrive[c, 1], g.arrive[c, 2]
    x1, y1, kind, _ = land_and_run(g.land, x, y, pace * sh, pace * ch, vz, spin * ch, -spin * sh, 0.0)
    dx, dy = x1 - x, y1 - y
    return pack(dx * sh + dy * ch, dx * ch - dy * sh, kind)


@kernel
def entry(g, c, b, slot):
    """Return run along and across, and kind, after landing in a cell: from the table, computed on first use."""
    e = g.table[c, b, slot]
    if e == 0:
        e = fill(g, c, b, slot)
        g.table[c, b, slot] = e
    kind = (e >> 1) & 15
    return (
        ((e >> 16) - 2048) * UNIT,
        (((e >> 5) & 2047) - 1024) * UNIT,
        KIND_OFF if kind == LAST_KIND else kind,
    )


@kernel
def turn_of(fans, heading):
    """Nearest turn of the wind to a heading."""
    turns = fans.parts.shape[1]
    return int(heading * turns / HEADINGS + 0.5) % turns


@kernel
def bin_of(heading, direction):
    """Bin of the table of a direction given in bins right of a heading."""
    return math.floor(heading * BINS / HEADINGS + direction + 0.5) % BINS


@kernel
def stopped(g, b, slot, along, across):
    """Where a run ends that slower ground stops: at its edge, wherever in the landing cell and however fast the ball came."""
    angle = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(angle), math.cos(angle)
    x = g.x_west + (g.spot[slot, 1] + 0.5) * g.cell + along * sh + across * ch
    y = g.y_north - (g.spot[slot, 0] + 0.5) * g.cell + along * ch - across * sh
    return x, y


@kernel
def band_of(fans, shot, h):
    """Band of a landing ``h`` metres above the start."""
    return min(max(math.floor(h * fans.band[shot] + 0.5) + LEVEL, 0), BANDS - 1)


@kernel
def run_from(g, fans, shot, heading, fan, k, x, y, i, j, h):
    """Where a sample ``fan[:, k]`` that is laid out runs from a landing at ``x, y`` in cell ``i, j``, ``h`` above its start.

    Returns east, north and the kind of ground it meets.
    """
    turn, node = turn_of(fans, heading), int(fan[9, k] + 0.5)
    band = band_of(fans, shot, h)
    c, b, slot = fans.landing[shot, turn, node, band], bin_of(heading, fan[8, k]), g.slot[i, j]
    along, across, kind = entry(g, c, b, slot)
    t = turf_class(g.kind[i, j])
    if kind <= KIND_FAR and turf_class(kind) > t:
        fx, fy = stopped(g, b, slot, along, across)
        return fx - x, fy - y, kind
    if kind <= KIND_FAR:
        more = fans.longer[shot, turn, node, band]
        grow = more[t] * (1.0 + (fan[9, k] - node) * more[6])
        along, across = along * grow + more[3 + t], across * grow + more[7 + t]
    e, n = fan[6, k], fan[7, k]
    return along * e + across * n, along * n - across * e, kind


@kernel
def lay(fans, shot, heading, first, samples, wider, fan):
    """Lay a shot's samples out on a heading: ``fan[part, sample]``, east and north instead of forward and right.

    ``wider`` is how much more the directions stray, as a share.
    """
    turns = fans.parts.shape[1]
    at = heading * turns / HEADINGS
    a0 = int(at)
    w1 = np.float32(at - a0)
    w0 = np.float32(1.0) - w1
    lo, hi = fans.parts[shot, a0], fans.parts[shot, (a0 + 1) % turns]
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = np.float32(math.sin(angle)), np.float32(math.cos(angle))
    grow = np.float32(1.0 + wider)
    for c in range(4):
        f0, f1, r0, r1 = lo[2 * c], hi[2 * c], lo[2 * c + 1], hi[2 * c + 1]
        stretch, shift = np.float32(1.0), np.float32(0.0)
        if c < 3:
            middle = w0 * fans.drift[shot, a0, c] + w1 * fans.drift[shot, (a0 + 1) % turns, c]
            stretch, shift = grow, (np.float32(1.0) - grow) * middle
        east, north = fan[2 * c], fan[2 * c + 1]
        for k in range(samples):
            forward = w0 * f0[first + k] + w1 * f1[first + k]
            right = stretch * (w0 * r0[first + k] + w1 * r1[first + k]) + shift
            east[k] = forward * sh + right * ch
            north[k] = forward * ch - right * sh
    for k in range(samples):
        fan[8, k] = w0 * lo[8, first + k] + w1 * hi[8, first + k]
        fan[9, k] = lo[9, first + k]


@kernel
def landing(g, fan, k, floor, ceiling, steep, x, y, z):
    """Where one sample of a fan that is laid out meets the ground: ``x, y, row, col, height over z``.

    Row -1 is off the map, AGAINST a face that is higher than the sample flies.
    """
    lx, ly, h = x + fan[0, k], y + fan[1, k], 0.0
    i, j = cell_of(g, lx, ly)
    for _ in range(2):
        if i < 0:
            return lx, ly, i, j, h
        h = g.level[i, j] - z
        if h != h:
            return lx, ly, -1, -1, 0.0
        h = min(max(h, floor), ceiling)
        lx = x + fan[0, k] + h * (fan[2, k] + h * fan[4, k])
        ly = y + fan[1, k] + h * (fan[3, k] + h * fan[5, k])
        i, j = cell_of(g, lx, ly)
    if i >= 0 and h > 0.0 and g.level[i, j] - z > steep * math.hypot(fan[0, k], fan[1, k]):
        return lx, ly, AGAINST, -1, h
    return lx, ly, i, j, h


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
def outcome(g, fans, shot, heading, fan, k, x, y, z):
    """A sample ``fan[:, k]`` of a shot that is laid out: ``x, y, kind, state, penalty, land x, land y, land kind``.

    State BACK is stroke and distance. A shot against a face stays where it was played from.
    """
    steep = fans.tallest[shot] / fans.carry[shot]
    lx, ly, i, j, h = landing(g, fan, k, fans.lowest[shot], fans.tallest[shot], steep, x, y, z)
    if i == AGAINST:
        i, j = cell_of(g, x, y)
        return x, y, int(g.kind[i, j]), g.state[i, j], 0, x, y, int(g.kind[i, j])
    if i < 0:
        return lx, ly, KIND_OFF, BACK, 1, lx, ly, KIND_OFF
    kind = int(g.kind[i, j])
    first = kind
    fx, fy = lx, ly
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    if g.ends[kind] == RUNS:
        dx, dy, kind = run_from(g, fans, shot, heading, fan, k, lx, ly, i, j, h)
        fx, fy = lx + dx, ly + dy
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
def outcomes(g, fans, shot, heading, samples, wider, x, y, z, out):
    """Fill ``out[k]`` with the record of each sample."""
    first = first_of(samples)
    fan = np.empty((PARTS, samples), np.float32)
    lay(fans, shot, heading, first, samples, wider, fan)
    for k in range(samples):
        r = outcome(g, fans, shot, heading, fan, k, x, y, z)
        o = out[k]
        o[0], o[1], o[2], o[3], o[4], o[5], o[6], o[7] = r


@kernel
def straight(g, fans, shot, heading, x, y, east, north, kind):
    """Where the shot without error ends if it lands at each of ``x, y``, level with its start; kind OFF off the map."""
    fan = np.empty((PARTS, 1), np.float32)
    last = fans.parts.shape[3] - 1
    lay(fans, shot, heading, last, 1, 0.0, fan)
    for n in range(x.size):
        east[n], north[n], kind[n] = x[n], y[n], KIND_OFF
        i, j = cell_of(g, x[n], y[n])
        if i < 0:
            continue
        kind[n] = g.kind[i, j]
        if g.ends[kind[n]] == RUNS:
            dx, dy, kind[n] = run_from(g, fans, shot, heading, fan, 0, x[n], y[n], i, j, 0.0)
            east[n], north[n] = x[n] + dx, y[n] + dy


@kernel
def worth(g, fans, shot, heading, samples, wider, x, y, z, value, pins, fan, q):
    """Mean strokes to hole out with this shot, for every pin: ``q[p]``; a large number if it is lost too often.

    A shot that is lost or stays under a face is played again.

    The same otherwise as summing :func:`outcome`, written out flat because it is the inner loop of everything (a test
    compares the two). ``fan (PARTS, samples)`` is room to work in.
    """
    for p in range(pins):
        q[p] = 0.0
    floor, ceiling, per_band = fans.lowest[shot], fans.tallest[shot], fans.band[shot]
    level, kinds, state, ends = g.level, g.kind, g.state, g.ends
    west, north, per, slots = g.x_west, g.y_north, 1.0 / g.cell, g.slot
    rows, cols = kinds.shape
    table = g.table
    turn = turn_of(fans, heading)
    classes, longer = fans.landing[shot, turn], fans.longer[shot, turn]
    b0 = heading * BINS / HEADINGS + 0.5 + BINS
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    back, stays = 0, 0
    steep = ceiling / fans.carry[shot]
    first = first_of(samples)
    lay(fans, shot, heading, first, samples, wider, fan)
    for k in range(samples):
        d0, d1 = fan[0, k], fan[1, k]
        u, v = (x + d0 - west) * per, (north - y - d1) * per
        if not (0.0 <= u < cols and 0.0 <= v < rows):
            back += 1
            continue
        h = min(max(level[int(v), int(u)] - z, floor), ceiling)
        if h != h:
            back += 1
            continue
        d2, d3, d4, d5 = fan[2, k], fan[3, k], fan[4, k], fan[5, k]
        u = (x + d0 + h * (d2 + h * d4) - west) * per
        v = (north - y - d1 - h * (d3 + h * d5)) * per
        if not (0.0 <= u < cols and 0.0 <= v < rows):
            back += 1
            continue
        h = min(max(level[int(v), int(u)] - z, floor), ceiling)
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
        if h > 0.0 and level[i, j] - z > steep * math.hypot(d0, d1):
            stays += 1
            continue
        kind = int(kinds[i, j])
        here = kind
        if ends[kind] == RUNS:
            node = int(fan[9, k] + 0.5)
            band = min(max(int(h * per_band + (LEVEL + 0.5)), 0), BANDS - 1)
            c, b, slot = classes[node, band], int(b0 + fan[8, k]) % BINS, slots[i, j]
            e = table[c, b, slot]
            if e == 0:
                e = fill(g, c, b, slot)
                table[c, b, slot] = e
            along = ((e >> 16) - 2048) * UNIT
            across = (((e >> 5) & 2047) - 1024) * UNIT
            kind = (e >> 1) & 15
            t = turf_class(here)
            if kind <= KIND_FAR and turf_class(kind) > t:
                lx, ly = stopped(g, b, slot, along, across)
            else:
                if kind <= KIND_FAR:
                    more = longer[node, band]
                    grow = more[t] * (1.0 + (fan[9, k] - node) * more[6])
                    along, across = along * grow + more[3 + t], across * grow + more[7 + t]
                lx += along * fan[6, k] + across * fan[7, k]
                ly += along * fan[7, k] - across * fan[6, k]
            u, v = (lx - west) * per, (north - ly) * per
            if not (0.0 <= u < cols and 0.0 <= v < rows) or kind in (KIND_OUT, LAST_KIND):
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
    lost, again = back / samples, (back + stays) / samples
    for p in range(pins):
        q[p] = (
            (1.0 + q[p] / samples + lost) / (1.0 - again) if lost < MOST_OUT and again < MOST_AGAIN else 1e6
        )


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
def rises(g, places, reaches, out):
    """Steepest rise [m/m] of the ground before each place, by bins of direction and distance: ``out[place, bin, reach]``."""
    for s in range(out.shape[0]):
        x, y, z = places[s, 0], places[s, 1], places[s, 2]
        for b in range(BINS):
            angle = 2.0 * math.pi * b / BINS
            sh, ch = math.sin(angle), math.cos(angle)
            far = 0.0
            for r in range(reaches.size):
                steepest = -10.0
                while far < reaches[r] - 1e-9:
                    far += g.cell if r == 0 else max(2.0 * g.cell, 1.5)
                    i, j = cell_of(g, x + far * sh, y + far * ch)
                    if i >= 0 and g.level[i, j] - z > steepest * far:
                        steepest = (g.level[i, j] - z) / far
                out[s, b, r] = steepest


@kernel
def clears(g, fans, s, shot, heading):
    """Tell whether a shot clears the ground before a state."""
    b = ((heading * BINS + HEADINGS // 2) // HEADINGS) % BINS
    return g.lips[s, b, 0] < fans.climb[shot, 0] and g.lips[s, b, 1] < fans.climb[shot, 1]


@kernel
def useful(carry, nearest, farthest, longest, beyond):
    """Tell whether a shot is worth trying: not ``beyond`` what is needed, not far short of what is possible."""
    if carry > farthest + beyond:
        return False
    return carry >= min(0.62 * nearest - 15.0, 0.5 * longest)


@kernel
def alike(carry, other):
    """Tell whether two shots of the bag carry all but the same."""
    return abs(carry - other) < 0.045 * carry


@kernel
def consider(g, fans, s, shot, heading, samples, states, value, fan, q, tried, stamp, kept_q, kept_s, kept_h):
    """Weigh one shot on one heading from state ``s``, unless that was done already, and remember it for every pin."""
    heading %= HEADINGS
    key = shot * HEADINGS + heading
    if tried[key] == stamp:
        return
    tried[key] = stamp
    if not clears(g, fans, s, shot, heading):
        return
    x, y, z = states[s, 0], states[s, 1], states[s, 2]
    worth(g, fans, shot, heading, samples, 0.0, x, y, z, value, q.size, fan, q)
    for p in range(q.size):
        remember(kept_q[p], kept_s[p], kept_h[p], q[p], shot, heading)


@kernel
def keep_best(s, value, new, kept_q, kept_s, kept_h, best_shot, best_heading):
    """Write the best shots of a state; its value never rises."""
    for p in range(value.shape[1]):
        new[s, p] = min(value[s, p], kept_q[p, 0])
        for m in range(KEEP):
            best_shot[s, p, m] = kept_s[p, m]
            best_heading[s, p, m] = kept_h[p, m]


@kernel
def search(
    g, fans, states, order, start, end, pin_x, pin_y, coarse, fine, value, new, best_shot, best_heading
):
    """Look for the best shots of states ``order[start:end]`` for every pin, from the values so far.

    ``states[s] = (x, y, z)``. Writes ``new[s, p]`` (never above ``value``) and the KEEP best shots with headings.
    """
    pins = pin_x.size
    q = np.empty(pins)
    fan = np.empty((PARTS, max(coarse, fine)), np.float32)
    kept_q, top_q = np.empty((pins, KEEP)), np.empty((pins, KEEP))
    kept_s, top_s = np.empty((pins, KEEP), np.int64), np.empty((pins, KEEP), np.int64)
    kept_h, top_h = np.empty((pins, KEEP), np.int64), np.empty((pins, KEEP), np.int64)
    tried = np.zeros(fans.carry.size * HEADINGS, np.int64)
    longest = 0.0
    for shot in range(fans.carry.size):
        if fans.carry[shot] < 1000.0:
            longest = max(longest, fans.carry[shot])
    second = np.zeros(
        fans.carry.size, np.bool_
    )  # all but as long as a shot before it in the bag: tried beside that one
    for shot in range(fans.carry.size):
        for other in range(shot):
            if alike(fans.carry[shot], fans.carry[other]):
                second[shot] = True
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
        half = int((0.40 + spread) / step) if farthest > 40.0 else int((0.30 + spread) / step)
        half = min(half, HEADINGS // 2 - 4)
        beyond = 8.0
        for b in range(BINS):
            if g.lips[s, b, 0] > STEEP:  # under a face: any way out, and longer shots, which rise higher
                half, beyond = HEADINGS // 2 - 4, 40.0
        centre = int(np.rint(main / step))
        kept_q[:], kept_s[:], kept_h[:] = 1e9, -1, 0
        top_q[:], top_s[:], top_h[:] = 1e9, -1, 0
        for look in range(2):
            for shot in range(fans.carry.size):
                if not (look or useful(fans.carry[shot], nearest, farthest, longest, beyond)):
                    continue
                for off in range(-half, half + 4, 4):
                    h = (centre + off) % HEADINGS
                    if not clears(g, fans, s, shot, h):
                        continue
                    worth(g, fans, shot, h, coarse, 0.0, x, y, z, value, pins, fan, q)
                    for p in range(pins):
                        remember(kept_q[p], kept_s[p], kept_h[p], q[p], shot, h)
            if kept_q[:, 0].max() < HOPELESS:
                break
            half = HEADINGS // 2 - 4  # nothing found: any shot, any way out
        for p in range(pins):
            for m in range(KEEP):
                shot, h = kept_s[p, m], kept_h[p, m]
                if shot >= 0:
                    for other in range(fans.carry.size):
                        if second[other] and alike(fans.carry[other], fans.carry[shot]):
                            for off in (-2, 0, 2):
                                consider(
                                    g,
                                    fans,
                                    s,
                                    other,
                                    h + off,
                                    fine,
                                    states,
                                    value,
                                    fan,
                                    q,
                                    tried,
                                    n + 1,
                                    top_q,
                                    top_s,
                                    top_h,
                                )
                    for off in range(-3, 4):
                        consider(
                            g,
                            fans,
                            s,
                            shot,
                            h + off,
                            fine,
                            states,
                            value,
                            fan,
                            q,
                            tried,
                            n + 1,
                            top_q,
                            top_s,
                            top_h,
                        )
        keep_best(s, value, new, top_q, top_s, top_h, best_shot, best_heading)


@kernel
def follow(
    g, fans, states, leader, order, start, end, pin_x, pin_y, fine, value, new, best_shot, best_heading
):
    """Weigh for states ``order[start:end]`` the best shots of their leaders, a place near by with the same lie.

    Each is tried at the same angle to the pin, and at the same aiming point with the shot that carries there; then the best for
    each pin on the headings beside it.
    """
    pins = pin_x.size
    q = np.empty(pins)
    fan = np.empty((PARTS, fine), np.float32)
    top_q = np.empty((pins, KEEP))
    top_s, top_h = np.empty((pins, KEEP), np.int64), np.empty((pins, KEEP), np.int64)
    tried = np.zeros(fans.carry.size * HEADINGS, np.int64)
    step = 2.0 * math.pi / HEADINGS
    for n in range(start, end):
        s = order[n]
        lead = leader[s]
        x, y = states[s, 0], states[s, 1]
        lx, ly = states[lead, 0], states[lead, 1]
        top_q[:], top_s[:], top_h[:] = 1e9, -1, 0
        for p in range(pins):
            turn = math.atan2(pin_x[p] - x, pin_y[p] - y) - math.atan2(pin_x[p] - lx, pin_y[p] - ly)
            for m in range(KEEP):
                shot, h = best_shot[lead, p, m], best_heading[lead, p, m]
                if shot < 0:
                    continue
                same = int(np.rint(h + turn / step))
                consider(
                    g, fans, s, shot, same, fine, states, value, fan, q, tried, n + 1, top_q, top_s, top_h
                )
                ax = lx + fans.carry[shot] * math.sin(h * step) - x
                ay = ly + fans.carry[shot] * math.cos(h * step) - y
                away = int(np.rint(math.hypot(ax, ay)))
                other = fans.nearest[min(away, fans.nearest.size - 1)]
                if other >= 0:
                    there = int(np.rint(math.atan2(ax, ay) / step))
                    consider(
                        g,
                        fans,
                        s,
                        other,
                        there,
                        fine,
                        states,
                        value,
                        fan,
                        q,
                        tried,
                        n + 1,
                        top_q,
                        top_s,
                        top_h,
                    )
        for p in range(pins):
            shot, h = top_s[p, 0], top_h[p, 0]
            if shot >= 0:
                for off in (-2, -1, 1, 2):
                    consider(
                        g,
                        fans,
                        s,
                        shot,
                        h + off,
                        fine,
                        states,
                        value,
                        fan,
                        q,
                        tried,
                        n + 1,
                        top_q,
                        top_s,
                        top_h,
                    )
        keep_best(s, value, new, top_q, top_s, top_h, best_shot, best_heading)


@kernel
def improve(
    g, fans, states, order, start, end, samples, among, wider, value, new, best_shot, best_heading, decrease
):
    """Weigh the best ``among`` kept shots again with the values so far; with ``decrease`` a value never rises.

    ``wider[s, p]`` is how much more directions stray from a state to a pin, as a share.
    """
    pins = value.shape[1]
    q = np.empty(1)
    fan = np.empty((PARTS, samples), np.float32)
    for n in range(start, end):
        s = order[n]
        x, y, z = states[s, 0], states[s, 1], states[s, 2]
        for p in range(pins):
            low, at = 1e9, 0
            for m in range(among):
                shot = best_shot[s, p, m]
                if shot < 0:
                    continue
                heading = best_heading[s, p, m]
                worth(g, fans, shot, heading, samples, wider[s, p], x, y, z, value[:, p : p + 1], 1, fan, q)
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
            new[s, p] = value[s, p] if low > 1e5 else (min(value[s, p], low) if decrease else low)


@kernel
def arrivals(calm, wind, wind_from, dt, speed, launch, spins, tilt, scales, levels, out):
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
                    spins[n], levels[m],
                )  # fmt: skip
                o = out[a, n, m]
                o[0], o[1], o[2], o[3], o[4], o[5], o[6] = y, x, vy, vx, vz, w, apex


@kernel
def spread_fan(flights, scales, levels, errors, sizes, parts):
    """Fill ``parts[turn, part, sample]`` of one shot from its flights, direction errors [rad] and speed scales of its samples."""
    turns = flights.shape[0]
    step = scales[1] - scales[0]
    down, up = levels[0], levels[2]
    fr = np.zeros((3, 4))
    at = np.zeros((3, 2))
    for h in range(turns):
        for k in range(errors.size):
            a = h + errors[k] / (2.0 * math.pi) * turns
            a0 = math.floor(a)
            wa = a - a0
            q = min(max((sizes[k] - scales[0]) / step, 0.0), scales.size - 1.000001)
            n = int(q)
            wn = q - n
            one, two = flights[a0 % turns], flights[(a0 + 1) % turns]
            for m in range(3):
                for c in range(4):  # forward, right, speed forward, speed right
                    lo = (1.0 - wn) * one[n, m, c] + wn * one[n + 1, m, c]
                    hi = (1.0 - wn) * two[n, m, c] + wn * two[n + 1, m, c]
                    fr[m, c] = (1.0 - wa) * lo + wa * hi
            sb, cb = math.sin(errors[k]), math.cos(errors[k])
            for c in range(2):
                # parabola through the levels (down, 0, up)
                s0 = (fr[0, c] - fr[1, c]) / down
                s2 = (fr[2, c] - fr[1, c]) / up
                curve = (s2 - s0) / (up - down)
                at[0, c], at[1, c], at[2, c] = fr[1, c], s0 - curve * down, curve
            for m in range(3):
                parts[h, 2 * m, k] = at[m, 0] * cb - at[m, 1] * sb
                parts[h, 2 * m + 1, k] = at[m, 0] * sb + at[m, 1] * cb
            way = errors[k] + math.atan2(fr[1, 3], fr[1, 2])
            parts[h, 6, k], parts[h, 7, k] = math.cos(way), math.sin(way)
            parts[h, 8, k], parts[h, 9, k] = way / (2.0 * math.pi) * BINS, q
