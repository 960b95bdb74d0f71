"""Compiled loops of outcomes: where every sample of a shot lands, runs to and is played from next.

Arrays and plain numbers only, SI units. What stays the same through a solve travels in two named tuples:

- :class:`Ground`: kinds, heights and states on the cells of the terrain, and the outcome table with the landing
  velocities that fill it;
- :class:`Fans`: landings of every shot, heading and sample for one lie.

Headings are whole numbers ``0 .. HEADINGS - 1``, evenly spread clockwise from grid north. A state is a place with one
lie. The samples of a shot go through three loops one after the other (:func:`meet_ground`, a run, :func:`come_to_rest`), so that
the processor works on several at once. Runs are looked up in the table (:func:`run_by_table`) or, where the
strokes of a shot are to be told, computed one by one (:func:`run_one_by_one`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.ballistics.shot_kernels import Air, Land, fly_to_level, land_and_run

HEADINGS = 240
BINS = 24  # heading bins of the outcome table
UNIT = 0.04  # run is stored in steps of 4 cm
PARTS = 10  # of a sample of a fan
ROWS = 15  # of the room to work in: the parts, landing column and row, height over the start, column and row at rest
EAST, NORTH, RISE, COL, ROW = 10, 11, 12, 13, 14
AT, MET, NEXT, LOST = 0, 1, 2, 3  # whole numbers of the room: landing cell, kind met, state, penalty
BANDS, LEVEL = 6, 3  # bands of height of the landing over the start, and the one on the level
KIND_FAIRWAY, KIND_GREEN, KIND_WATER, KIND_OUT, KIND_OFF = 1, 2, 5, 8, 255
LAST_KIND = 15  # how a ball off the map is written in the table
KIND_BITS, KIND_MASK = 4, 15
KIND_FAR = 3  # rough, fairway, green, tee: kinds a ball runs to rest on
RUNS = 0.0
DROP_M = 2.0  # two club-lengths, about [m]
SMALLEST = 32  # samples of the smallest set
BACK = -1  # stroke and distance
STAYS = -2  # against a face: stays under it, and is played again

#: columns of the record of an outcome
X, Y, KIND, STATE, PENALTY, LAND_X, LAND_Y, LAND_KIND, AGAIN = 0, 1, 2, 3, 4, 5, 6, 7, 8
RECORD = 9


class Ground(NamedTuple):
    """Cells of the terrain: level, kind; the outcome table and what fills it.

    Row by row in one line, with the kind in the low KIND_BITS: ``under`` the landing cell of each cell, ``rest`` its state (BACK where
    none). ``spot[slot]`` is the row and column in the middle of a landing cell.
    ``table[class, bin, slot]`` is 0 where not yet computed, else run along and across the direction, and kind,
    packed in one whole number. ``arrive[class] = (forward, up, spin)`` is how a ball of that class lands. ``lips[state, bin, 2]`` is
    the steepest rise [m/m] of the ground close before a state, and a little farther off.
    """

    level: np.ndarray
    kind: np.ndarray
    x_west: float
    y_north: float
    cell: float
    ends: np.ndarray
    table: np.ndarray
    under: np.ndarray
    rest: np.ndarray
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
    a shot is followed. ``nearest[m]`` is the shot with the carry nearest to ``m`` metres, -1 for none;
    ``beside[shot]`` the next longer and the next shorter one. ``nodes[shot, turn, node, level, k]`` is how it lands: forward, right, up [m/s], spin [rad/s], at three levels, the lowest and highest
    of which are ``levels[shot]``. ``roll[shot, turn, k]`` is its usual run on level green, fairway and rough [cells of the terrain].
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
    beside: np.ndarray
    nodes: np.ndarray
    levels: np.ndarray
    roll: np.ndarray


class Room(NamedTuple):
    """Room to work in: ``fan (ROWS, samples)``, and whole numbers ``at (4, samples)``."""

    fan: np.ndarray
    at: np.ndarray


@kernel(allocates=True)
def room_for(samples):
    """Room for so many samples."""
    return Room(np.empty((ROWS, samples), np.float32), np.empty((4, samples), np.int32))


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


@kernel(inline=True, fastmath=True)
def state_at(g, i, j):
    """State of a cell, BACK where the ball is not played from."""
    return g.rest[i * g.kind.shape[1] + j] >> KIND_BITS


@kernel
def pack(along, across, kind):
    """Run [m] and kind in one whole number, never 0."""
    a = min(max(int(np.rint(along / UNIT)), -2047), 2047) + 2048
    b = min(max(int(np.rint(across / UNIT)), -1023), 1023) + 1024
    return np.int32((a << 16) | (b << 5) | (min(kind, LAST_KIND) << 1) | 1)


@kernel(inline=True, fastmath=True)
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


@kernel(python_entry=False)
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


@kernel(inline=True, fastmath=True)
def turn_of(fans, heading):
    """Nearest turn of the wind to a heading."""
    turns = fans.parts.shape[1]
    return int(heading * turns / HEADINGS + 0.5) % turns


@kernel(python_entry=False)
def stopped(g, b, slot, along, across):
    """Where a run ends that slower ground stops: at its edge, wherever in the landing cell and however fast the ball came."""
    angle = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(angle), math.cos(angle)
    x = g.x_west + (g.spot[slot, 1] + 0.5) * g.cell + along * sh + across * ch
    y = g.y_north - (g.spot[slot, 0] + 0.5) * g.cell + along * ch - across * sh
    return x, y


@kernel(inline=True, fastmath=True)
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


@kernel(inline=True, fastmath=True)
def meet_ground(g, fans, shot, samples, x, y, z, room):
    """Where each sample that is laid out lands: cell, column and row (of the terrain), height over the start.

    The cell is BACK off the map and STAYS against a face that is higher than the sample flies. Where ground is missing (nan) limits are
    written with the known number first, which is then the one kept: what comes of nan as a whole number is no cell.
    """
    fan, at = room.fan, room.at
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    wide, level = np.uint32(g.kind.shape[1]), g.level.reshape(g.level.size)
    none, right, low = np.float32(0.0), cols - np.float32(1.0), rows - np.float32(1.0)
    per = np.float32(1.0 / g.cell)
    u0, v0, start = np.float32((x - g.x_west) / g.cell), np.float32((g.y_north - y) / g.cell), np.float32(z)
    floor, ceiling = np.float32(fans.lowest[shot]), np.float32(fans.tallest[shot])
    steep = np.float32(fans.tallest[shot] / fans.carry[shot])
    for k in range(samples):
        d0, d1 = fan[0, k] * per, fan[1, k] * per
        u, v, h, unknown = u0 + d0, v0 - d1, none, False
        off = (u < none) | (v < none) | (u >= cols) | (v >= rows)
        for _ in range(2):
            i, j = np.uint32(min(max(none, v), low)), np.uint32(min(max(none, u), right))
            above = level[i * wide + j] - start
            unknown |= above != above
            h = min(max(floor, above), ceiling)
            u = u0 + d0 + h * per * (fan[2, k] + h * fan[4, k])
            v = v0 - d1 - h * per * (fan[3, k] + h * fan[5, k])
            off |= (u < none) | (v < none) | (u >= cols) | (v >= rows)
        i, j = np.uint32(min(max(none, v), low)), np.uint32(min(max(none, u), right))
        cell = i * wide + j
        above = level[cell] - start
        face = above > steep * math.sqrt(fan[0, k] * fan[0, k] + fan[1, k] * fan[1, k])
        fan[EAST, k], fan[NORTH, k], fan[RISE, k] = u, v, h
        at[AT, k] = np.int32(BACK) if off | unknown else (np.int32(STAYS) if face else np.int32(cell))


@kernel(inline=True, fastmath=True)
def run_by_table(g, fans, shot, heading, samples, room):
    """Where each sample that has landed comes to rest, by the outcome table: column and row, and the kind it meets."""
    fan, at = room.fan, room.at
    per, unit = np.float32(1.0 / g.cell), np.float32(UNIT / g.cell)
    turn = turn_of(fans, heading)
    classes, longer = fans.landing[shot, turn], fans.longer[shot, turn]
    per_band = np.float32(fans.band[shot])
    half, level, one = np.float32(0.5), np.float32(LEVEL + 0.5), np.float32(1.0)
    b0 = np.float32(heading * BINS / HEADINGS + 0.5 + BINS)
    under, table, ends = g.under, g.table, g.ends
    for k in range(samples):
        if at[AT, k] < 0:
            continue
        u, v = fan[EAST, k], fan[NORTH, k]
        w = under[at[AT, k]]
        here = w & KIND_MASK
        kind = here
        if ends[here] == RUNS:
            node = np.int32(fan[9, k] + half)
            band = min(max(np.int32(fan[RISE, k] * per_band + level), 0), BANDS - 1)
            c, b, slot = classes[node, band], np.int32(b0 + fan[8, k]) % BINS, w >> KIND_BITS
            e = table[c, b, slot]
            if e == 0:
                e = fill(g, c, b, slot)
                table[c, b, slot] = e
            along = np.float32((e >> 16) - 2048) * unit
            across = np.float32(((e >> 5) & 2047) - 1024) * unit
            kind = (e >> 1) & KIND_MASK
            t = turf_class(here)
            if kind <= KIND_FAR and turf_class(kind) > t:
                fx, fy = stopped(g, b, slot, along * g.cell, across * g.cell)
                u, v = np.float32((fx - g.x_west) / g.cell), np.float32((g.y_north - fy) / g.cell)
            else:
                if kind <= KIND_FAR:
                    more = longer[node, band]
                    grow = more[t] * (one + (fan[9, k] - np.float32(node)) * more[6])
                    along, across = along * grow + more[3 + t] * per, across * grow + more[7 + t] * per
                u += along * fan[6, k] + across * fan[7, k]
                v -= along * fan[7, k] - across * fan[6, k]
        fan[COL, k], fan[ROW, k], at[MET, k] = u, v, kind


@kernel(python_entry=False)
def arrival(fans, shot, turn, place, h):
    """Landing speed forward, up [m/s], spin [rad/s], and sine and cosine of how far right of the aim it flies.

    ``place`` between the nodes of ball speed, ``h`` metres above the start. See :func:`gistools.compute.decision.outcome_tables._landings`.
    """
    nodes = fans.nodes[shot, turn]
    n = min(max(int(place), 0), nodes.shape[0] - 2)
    w = place - n
    other = 0 if h < 0.0 else 2
    part = min(h / fans.levels[shot, 0 if h < 0.0 else 1], 1.5)
    pace, down2, spin = 0.0, 0.0, 0.0
    for m, share in ((1, 1.0 - part), (other, part)):
        a, b = nodes[n, m], nodes[n + 1, m]
        pace += share * ((1.0 - w) * math.hypot(a[0], a[1]) + w * math.hypot(b[0], b[1]))
        down2 += share * ((1.0 - w) * a[2] * a[2] + w * b[2] * b[2])
        spin += share * ((1.0 - w) * a[3] + w * b[3])
    pace = max(pace, 0.1)
    down = math.sqrt(max(down2, (0.15 * pace) ** 2))
    forward, right = (
        (1.0 - w) * nodes[n, 1, 0] + w * nodes[n + 1, 1, 0],
        (1.0 - w) * nodes[n, 1, 1] + w * nodes[n + 1, 1, 1],
    )
    way = math.hypot(forward, right) + 1e-9
    return pace, -down, spin, right / way, forward / way


@kernel(python_entry=False)
def run_one_by_one(g, fans, shot, heading, samples, room):
    """The same as :func:`run_by_table` from the landing itself, each bounce and the roll computed."""
    fan, at = room.fan, room.at
    turn = turn_of(fans, heading)
    for k in range(samples):
        if at[AT, k] < 0:
            continue
        u, v = fan[EAST, k], fan[NORTH, k]
        pace, up, spin, sa, ca = arrival(fans, shot, turn, float(fan[9, k]), float(fan[RISE, k]))
        e, n = float(fan[6, k]), float(fan[7, k])
        x1, y1, kind, _ = land_and_run(
            g.land, g.x_west + u * g.cell, g.y_north - v * g.cell, pace * e, pace * n, up,
            spin * (n * ca + e * sa), -spin * (e * ca - n * sa), 0.0,
        )  # fmt: skip
        fan[COL, k], fan[ROW, k] = np.float32((x1 - g.x_west) / g.cell), np.float32((g.y_north - y1) / g.cell)
        at[MET, k] = min(kind, LAST_KIND)


@kernel
def relief(g, x, y, sh, ch, far):
    """State of the drop: back along the shot to dry ground, then two club-lengths. BACK where there is none."""
    gone = 0.0
    while gone < far:
        i, j = cell_of(g, x, y)
        if i >= 0 and g.kind[i, j] != KIND_WATER:
            i1, j1 = cell_of(g, x - DROP_M * sh, y - DROP_M * ch)
            if i1 >= 0 and state_at(g, i1, j1) >= 0:
                return state_at(g, i1, j1)
            return state_at(g, i, j)
        x -= g.cell * sh
        y -= g.cell * ch
        gone += g.cell
    return BACK


@kernel(inline=True, fastmath=True)
def come_to_rest(g, heading, samples, x, y, room):
    """State each sample is played from next, and its penalty: BACK is stroke and distance, STAYS the same place again."""
    fan, at = room.fan, room.at
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    wide, none = np.int32(g.kind.shape[1]), np.float32(0.0)
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    rest = g.rest
    for k in range(samples):
        s, penalty = at[AT, k], 0
        if s >= 0:
            u, v, kind = fan[COL, k], fan[ROW, k], at[MET, k]
            if not (none <= u < cols and none <= v < rows) or kind in (KIND_OUT, LAST_KIND):
                s = np.int32(BACK)
                if kind != KIND_OUT:
                    at[MET, k] = LAST_KIND
            else:
                w = rest[np.int32(v) * wide + np.int32(u)]
                s, here = w >> KIND_BITS, w & KIND_MASK
                if kind == KIND_WATER or here == KIND_WATER:
                    fx, fy = g.x_west + u * g.cell, g.y_north - v * g.cell
                    s = np.int32(BACK)
                    if kind != KIND_WATER:  # the table says dry, the shifted run ends just inside: the bank
                        s = relief(g, fx, fy, sh, ch, 8.0)
                    if s < 0:
                        at[MET, k], penalty = KIND_WATER, 1
                        s = relief(g, fx, fy, sh, ch, max((fx - x) * sh + (fy - y) * ch, 0.0))
                else:
                    at[MET, k] = here
        at[NEXT, k], at[LOST, k] = s, penalty


@kernel(inline=True, fastmath=True)
def finish(g, fans, shot, heading, samples, own, wider, x, y, z, room):
    """Play the samples of a shot out from a place: fills the room. Shots that carry less than ``own`` metres are run out one by one."""
    lay(fans, shot, heading, first_of(samples), samples, wider, room.fan)
    meet_ground(g, fans, shot, samples, x, y, z, room)
    if fans.carry[shot] < own:
        run_one_by_one(g, fans, shot, heading, samples, room)
    else:
        run_by_table(g, fans, shot, heading, samples, room)
    come_to_rest(g, heading, samples, x, y, room)


@kernel(allocates=True)
def outcomes(g, fans, shot, heading, samples, own, wider, x, y, z, out):
    """Fill ``out[k]`` with the record of each sample: ``x, y, kind, state, penalty, land x, land y, land kind, again``.

    State BACK is stroke and distance. A shot against a face stays where it was played from. Shots that carry less than ``own`` metres are
    run out one by one.
    """
    room = room_for(samples)
    finish(g, fans, shot, heading, samples, own, wider, x, y, z, room)
    fan, at = room.fan, room.at
    i, j = cell_of(g, x, y)
    for k in range(samples):
        o, landed, s = out[k], at[AT, k], at[NEXT, k]
        if landed == STAYS:
            o[X], o[Y], o[KIND], o[STATE], o[PENALTY] = x, y, g.kind[i, j], state_at(g, i, j), 0
            o[LAND_X], o[LAND_Y], o[LAND_KIND], o[AGAIN] = x, y, g.kind[i, j], 1
            continue
        o[LAND_X], o[LAND_Y] = g.x_west + fan[EAST, k] * g.cell, g.y_north - fan[NORTH, k] * g.cell
        if landed == BACK:
            o[X], o[Y], o[KIND], o[LAND_KIND] = o[LAND_X], o[LAND_Y], KIND_OFF, KIND_OFF
        else:
            kind = at[MET, k]
            o[X], o[Y] = g.x_west + fan[COL, k] * g.cell, g.y_north - fan[ROW, k] * g.cell
            o[KIND], o[LAND_KIND] = KIND_OFF if kind == LAST_KIND else kind, g.under[landed] & KIND_MASK
        o[STATE], o[AGAIN] = s, s < 0
        o[PENALTY] = 1 if s < 0 else at[LOST, k]


@kernel(allocates=True)
def straight(g, fans, shot, heading, x, y, east, north, kind):
    """Where the shot without error ends if it lands at each of ``x, y``, level with its start; kind OFF off the map."""
    one, room = room_for(1), room_for(x.size)
    lay(fans, shot, heading, fans.parts.shape[3] - 1, 1, 0.0, one.fan)
    for n in range(x.size):
        i, j = cell_of(g, x[n], y[n])
        room.at[AT, n] = i * g.kind.shape[1] + j if i >= 0 else BACK
        room.fan[:, n] = one.fan[:, 0]
        room.fan[EAST, n], room.fan[NORTH, n] = (x[n] - g.x_west) / g.cell, (g.y_north - y[n]) / g.cell
        room.fan[RISE, n] = 0.0
    run_one_by_one(g, fans, shot, heading, x.size, room)
    for n in range(x.size):
        east[n], north[n], kind[n] = x[n], y[n], KIND_OFF
        if room.at[AT, n] >= 0:
            east[n], north[n] = g.x_west + room.fan[COL, n] * g.cell, g.y_north - room.fan[ROW, n] * g.cell
            kind[n] = KIND_OFF if room.at[MET, n] == LAST_KIND else room.at[MET, n]


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


@kernel(allocates=True)
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
