"""Compiled loops of outcomes: where every sample of a shot lands, runs to and is played from next.

Arrays and plain numbers only, SI units. What stays the same through a solve travels in named tuples:

- :class:`Ground`: kinds, heights and states on the cells of the terrain, obstacles, and the outcome table
  with the landing velocities that fill it;
- :class:`DispersionTables`: landings of every shot, heading and sample for one lie.

Headings are whole numbers ``0 .. HEADINGS - 1``, evenly spread clockwise from grid north. A state is a place
with one lie. The samples of a shot go through loops one after the other (:func:`meet_ground`,
:func:`meet_obstacles`, a run, :func:`come_to_rest`), so that the processor works on several at once. Runs are
looked up in the table (:func:`run_by_table`) or simulated one by one (:func:`run_directly`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.ballistics.flight_kernels import Air, Vector, fly_to_level
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid, land_and_run, obstacle_between

# Sizes. All are assumptions (assumptions): they set how finely things are tabulated.
HEADINGS = 240  # headings of shots: steps of 1.5 degrees
BINS = 24  # heading bins of the outcome table
RUN_UNIT_M = 0.04  # runs are stored in steps of 4 cm
BANDS, LEVEL = 6, 3  # bands of height of the landing over the start, and the one on the level
PROFILE_NODES = 33  # nodes of the height of a flight over its plan distance
BANK_REACH_M = 8.0  # a ball that rolls just into water is dropped within so much of the bank [m]
LEAST_PACE_MS, LEAST_DESCENT = 0.1, 0.15  # least landing speed [m/s], and least speed down as a share of it
MOST_EXTRAPOLATION = 1.5  # landing velocities are followed so far beyond the tabulated levels, as a share
SMALLEST_SET = 32  # samples of the smallest set
OBSTACLE_FAN, OBSTACLE_REACH = (
    32,
    1.5,
)  # headings each side, and carries, within which obstacles are looked for
DROP_M = 2.0  # two club-lengths (Rules of Golf 2023, Definitions), about [m]

#: rows of one shot's tables: plan offset on the level, its change for each metre the landing is higher, and
#: for the square; direction at landing (unit vector); the same direction in bins; node of ball speed. Pairs
#: are (forward, right) in tables and (east, north) once they are laid out on a heading.
OFFSET, SHIFT, CURVE, DIRECTION, DIRECTION_BIN, SPEED_NODE = 0, 2, 4, 6, 8, 9
TABLE_ROWS = 10
#: further rows of a sample buffer: column and row of the landing, height over the start, column and row at
#: rest, level of the ground looked at
LAND_COL, LAND_ROW, RISE, REST_COL, REST_ROW, GROUND_LEVEL = 10, 11, 12, 13, 14, 15
BUFFER_ROWS = 16
#: samples that a row has room for: a fixed number, so that the compiler sees that rows do not overlap; no
#: multiple of 4 KB, at which reads and writes of different rows wait for one another
ROW_LENGTH = 2064
#: rows of whole numbers of a sample buffer: landing cell, kind of ground met, next state, penalty strokes
LANDING_CELL, KIND_MET, NEXT_STATE, PENALTY = 0, 1, 2, 3
EVENT_ROWS = 4

#: fields of ``run_change``: factor on green, fairway and rough; metres added; growth to the next node; metres
#: to the right
RUN_FACTOR, RUN_OFFSET, RUN_GROWTH, RUN_RIGHT = 0, 3, 6, 7
RUN_CHANGE_FIELDS = 10

KIND_FAIRWAY, KIND_GREEN, KIND_WATER, KIND_TREES, KIND_OUT, KIND_OFF = 1, 2, 5, 7, 8, 255
LAST_KIND = 15  # how a ball off the map is written in the table
LAST_RUN_KIND = 3  # rough, fairway, green, tee: kinds a ball runs to rest on
KIND_BITS, KIND_MASK = 4, 15
RUNS = 0.0  # a turf on which a ball goes on

REPLAY_FROM_START = -1  # stroke and distance: the state of a ball that is lost
UNPLAYABLE_FACE = -2  # against a face: the ball stays under it, and is played again
STOPPED = -3  # landing cell of a ball that a tree or structure stopped

#: record of one outcome: place at rest [m], kind there, next state, penalty strokes, first contact [m] and
#: kind there, replayed
OUTCOME = np.dtype(
    [
        ("x", np.float64),
        ("y", np.float64),
        ("kind", np.int64),
        ("state", np.int64),
        ("penalty", np.int64),
        ("land_x", np.float64),
        ("land_y", np.float64),
        ("land_kind", np.int64),
        ("replayed", np.int64),
    ]
)


class Earlier(NamedTuple):
    """Outcome table of the ground before a change, for landing cells that are the same; empty for none.

    ``outcome (classes, BINS, its landing cells)``; ``cell (landing cells,)``: its landing cell, -1 for none;
    ``clear_m (landing cells,)``: how far off the change lies, less what a ball may come beyond its run [m].
    """

    outcome: np.ndarray
    cell: np.ndarray
    clear_m: np.ndarray


class Ground(NamedTuple):
    """Cells of the terrain, and the outcome table with what fills it.

    - ``level (rows, cols)`` float32 [m]; ``kind (rows, cols)``; ``x_west, y_north, cell`` [m]; ``ends
      (kinds,)``.
    - ``outcome (classes, BINS, landing cells)`` int32: 0 where not yet computed, else see :func:`pack_run`.
    - ``landing_cell_id, state_id (rows * cols,)`` int32, row-major, each with the kind in its low bits: see
      :func:`packed_kind`.
    - ``cell_centre (landing cells, 2)``: row and column of the middle of a landing cell.
    - ``landing_velocity (classes, 3)``: forward, up [m/s], spin [rad/s].
    - ``near_slope (states, BINS, 2)``: steepest rise of the ground close before a state, and a little farther
      off [m/m].
    - ``obstacles``: trees and structures; ``obstacle_m (states, HEADINGS)`` [m]: no obstacle is nearer in
      that direction.
    - ``earlier``: the outcome table of the ground before a change.
    """

    level: np.ndarray
    kind: np.ndarray
    x_west: float
    y_north: float
    cell: float
    ends: np.ndarray
    outcome: np.ndarray
    landing_cell_id: np.ndarray
    state_id: np.ndarray
    cell_centre: np.ndarray
    landing_velocity: np.ndarray
    land: TurfGrid
    near_slope: np.ndarray
    obstacles: Obstacles
    obstacle_m: np.ndarray
    earlier: Earlier


class DispersionTables(NamedTuple):
    """Landings of every shot from one lie. Turns part the headings evenly in wind; in calm air there is one.

    - ``sample (shots, turns, TABLE_ROWS, samples)`` float32, rows as named above.
    - ``mean_right (shots, turns, 3)``: means of the offsets to the right, of their change and of their curve.
    - ``landing_class (shots, turns, nodes, BANDS)``: class of a landing, by ball speed and band of its height
      over the start.
    - ``run_change (shots, turns, nodes, BANDS, RUN_CHANGE_FIELDS)``: how its run follows from that of the
      class.
    - ``bands_per_m (shots,)``.
    - ``lowest_m, highest_m (shots,)``: how far down and up a shot is followed; ``carry_m (shots,)``.
    - ``shot_for_m (metres,)``: shot with the carry nearest to each whole distance, -1 for none.
    - ``neighbour (shots, 2)``: next longer and next shorter shot, -1 for none.
    - ``node_velocity (shots, turns, nodes, 3, 4)``: forward, right, up [m/s] and spin [rad/s] at three
      levels.
    - ``level_limit_m (shots, 2)``: the lowest and the highest of those levels.
    - ``level_run (shots, turns, 3)``: usual run on level green, fairway and rough [cells of the terrain].
    - ``profile (shots, nodes, PROFILE_NODES)``: height of the flight as a share of its apex, over its plan
      distance on the level.
    - ``apex_m (shots, turns, nodes)``.
    """

    sample: np.ndarray
    mean_right: np.ndarray
    landing_class: np.ndarray
    run_change: np.ndarray
    bands_per_m: np.ndarray
    lowest_m: np.ndarray
    highest_m: np.ndarray
    carry_m: np.ndarray
    shot_for_m: np.ndarray
    neighbour: np.ndarray
    node_velocity: np.ndarray
    level_limit_m: np.ndarray
    level_run: np.ndarray
    profile: np.ndarray
    apex_m: np.ndarray


class Place(NamedTuple):
    """Where a shot is played from.

    Place and level [m], and how near obstacles are on each heading (empty: there are none).
    """

    x: float
    y: float
    z: float
    obstacle_m: np.ndarray


class Action(NamedTuple):
    """A shot (its row in the shot table) and its heading."""

    shot: int
    heading: int


class Sampling(NamedTuple):
    """How a shot is weighed.

    Samples; carry below which runs are simulated directly [m]; increase of direction errors (share).
    """

    samples: int
    direct_simulation_below_m: float
    dispersion_scale: float


class SampleBuffer(NamedTuple):
    """Room for the samples of a shot.

    ``real (BUFFER_ROWS, ROW_LENGTH)`` float32, ``event (EVENT_ROWS, ROW_LENGTH)`` int32.
    """

    real: np.ndarray
    event: np.ndarray


@kernel(allocates=True)
def make_sample_buffer():
    """Return an empty buffer for the largest set of samples."""
    return SampleBuffer(
        np.empty((BUFFER_ROWS, ROW_LENGTH), np.float32), np.empty((EVENT_ROWS, ROW_LENGTH), np.int32)
    )


@kernel(inline=True, python_entry=False)
def row_of(row):
    """Where a row of a sample buffer begins."""
    return np.uint64(row * ROW_LENGTH)


@kernel
def first_of(samples):
    """Where the set of so many samples begins: sets of 32, 64, 128 ... stand one after the other."""
    return samples - SMALLEST_SET


@kernel
def cell_of(g, x, y):
    """Row and column of a point, (-1, -1) outside."""
    j = math.floor((x - g.x_west) / g.cell)
    i = math.floor((g.y_north - y) / g.cell)
    if i < 0 or j < 0 or i >= g.kind.shape[0] or j >= g.kind.shape[1]:
        return -1, -1
    return i, j


@kernel(inline=True, fastmath=True)
def packed_index(word):
    """Index of a packed cell: its state or landing cell."""
    return word >> KIND_BITS


@kernel(inline=True, fastmath=True)
def packed_kind(word):
    """Kind of ground of a packed cell."""
    return word & KIND_MASK


@kernel(inline=True, fastmath=True)
def state_at(g, i, j):
    """State of a cell, REPLAY_FROM_START where the ball is not played from."""
    return packed_index(g.state_id[i * g.kind.shape[1] + j])


@kernel
def pack_run(along, across, kind):
    """Pack a run [m] and the kind it ends on in one whole number, never 0."""
    a = min(max(int(np.rint(along / RUN_UNIT_M)), -2047), 2047) + 2048
    b = min(max(int(np.rint(across / RUN_UNIT_M)), -1023), 1023) + 1024
    return np.int32((a << 16) | (b << 5) | (min(kind, LAST_KIND) << 1) | 1)


@kernel(inline=True, fastmath=True)
def run_along(entry):
    """Run along the direction of landing, in units of RUN_UNIT_M."""
    return (entry >> 16) - 2048


@kernel(inline=True, fastmath=True)
def run_across(entry):
    """Run to the right of the direction of landing, in units of RUN_UNIT_M."""
    return ((entry >> 5) & 2047) - 1024


@kernel(inline=True, fastmath=True)
def run_kind(entry):
    """Kind of ground a run ends on."""
    return (entry >> 1) & KIND_MASK


@kernel(inline=True, fastmath=True)
def turf_class(kind):
    """Which of the three level runs holds: green, fairway, or any other ground."""
    return 0 if kind == KIND_GREEN else (1 if kind == KIND_FAIRWAY else 2)


@kernel
def level_runs(flat, landings, aside, out):
    """Run along and across level ground [m] of each landing ``(forward, up, spin)``.

    ``out[n] = (along, across)``.

    ``aside[n]`` is how far to the right of the direction aimed in, about which the ball spins, it flies at
    landing [rad].
    """
    for n in range(landings.shape[0]):
        spin = landings[n, 2]
        out[n, 1], out[n, 0], _, _ = land_and_run(
            flat, 0.0, 0.0, Vector(0.0, landings[n, 0], landings[n, 1]),
            Vector(spin * math.cos(aside[n]), spin * math.sin(aside[n]), 0.0),
        )  # fmt: skip


@kernel(python_entry=False)
def compute_outcome(land, earlier, centre, velocity, c, b, cell_id):
    """Return one entry of the outcome table: bounce and run from the middle ``centre`` of a landing cell.

    ``velocity`` is that of class ``c``. The entry of the ground before a change is taken where the ball stays
    clear of the change.
    """
    if c < earlier.outcome.shape[0] and earlier.cell[cell_id] >= 0:
        entry = earlier.outcome[c, b, earlier.cell[cell_id]]
        run = RUN_UNIT_M * math.hypot(float(run_along(entry)), float(run_across(entry)))
        if entry != 0 and run < earlier.clear_m[cell_id]:
            return entry
    x = land.x_west + (centre[1] + 0.5) * land.cell
    y = land.y_north - (centre[0] + 0.5) * land.cell
    heading = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(heading), math.cos(heading)
    pace, vz, spin = velocity[0], velocity[1], velocity[2]
    x1, y1, kind, _ = land_and_run(
        land, x, y, Vector(pace * sh, pace * ch, vz), Vector(spin * ch, -spin * sh, 0.0)
    )
    dx, dy = x1 - x, y1 - y
    return pack_run(dx * sh + dy * ch, dx * ch - dy * sh, kind)


@kernel(inline=True, fastmath=True)
def turn_of(tables, heading):
    """Nearest turn of the wind to a heading."""
    turns = tables.sample.shape[1]
    return int(heading * turns / HEADINGS + 0.5) % turns


@kernel(inline=True, python_entry=False)
def stop_at_edge(g, b, cell_id, along, across):
    """Where slower ground stops a run.

    At its edge, wherever in the landing cell and however fast the ball came.
    """
    angle = 2.0 * math.pi * b / BINS
    sh, ch = math.sin(angle), math.cos(angle)
    x = g.x_west + (g.cell_centre[cell_id, 1] + 0.5) * g.cell + along * sh + across * ch
    y = g.y_north - (g.cell_centre[cell_id, 0] + 0.5) * g.cell + along * ch - across * sh
    return x, y


@kernel(inline=True, fastmath=True)
def lay_out(tables, action, first, samples, dispersion_scale, real):
    """Lay a shot's samples out on a heading.

    ``real[row, sample]``, east and north instead of forward and right.
    """
    shot, heading = action.shot, action.heading
    turns = tables.sample.shape[1]
    at = heading * turns / HEADINGS
    a0 = int(at)
    w1 = np.float32(at - a0)
    w0 = np.float32(1.0) - w1
    lo, hi = tables.sample[shot, a0], tables.sample[shot, (a0 + 1) % turns]
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = np.float32(math.sin(angle)), np.float32(math.cos(angle))
    grow = np.float32(1.0 + dispersion_scale)
    end = first + samples  # parts, since a sum as an index could be negative: such loops are not vectorised
    for c in range(4):
        f0, f1 = lo[2 * c, first:end], hi[2 * c, first:end]
        r0, r1 = lo[2 * c + 1, first:end], hi[2 * c + 1, first:end]
        stretch, shift = np.float32(1.0), np.float32(0.0)
        if c < 3:
            middle = w0 * tables.mean_right[shot, a0, c] + w1 * tables.mean_right[shot, (a0 + 1) % turns, c]
            stretch, shift = grow, (np.float32(1.0) - grow) * middle
        east, north = real[2 * c], real[2 * c + 1]
        for k in range(samples):
            forward = w0 * f0[k] + w1 * f1[k]
            right = stretch * (w0 * r0[k] + w1 * r1[k]) + shift
            east[k] = forward * sh + right * ch
            north[k] = forward * ch - right * sh
    b0, b1, speed = lo[DIRECTION_BIN, first:end], hi[DIRECTION_BIN, first:end], lo[SPEED_NODE, first:end]
    for k in range(samples):
        real[DIRECTION_BIN, k] = w0 * b0[k] + w1 * b1[k]
        real[SPEED_NODE, k] = speed[k]


@kernel(inline=True, fastmath=True)
def meet_ground(g, tables, shot, samples, place, buffer):
    """Where each sample that is laid out lands: cell, column and row (of the terrain), height over the start.

    The cell is REPLAY_FROM_START off the map and UNPLAYABLE_FACE against a face that is higher than the
    sample flies. NaN-safe clamp: ``min(limit, value)`` returns the limit for nan (missing ground), so that no
    cast gives an invalid index.
    """
    real, event = buffer.real.reshape(buffer.real.size), buffer.event.reshape(buffer.event.size)
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    wide, level = np.int32(g.kind.shape[1]), g.level.reshape(g.level.size)
    none, right, low = np.float32(0.0), cols - np.float32(1.0), rows - np.float32(1.0)
    per = np.float32(1.0 / g.cell)
    u0, v0 = np.float32((place.x - g.x_west) / g.cell), np.float32((g.y_north - place.y) / g.cell)
    start = np.float32(place.z)
    floor, ceiling = np.float32(tables.lowest_m[shot]), np.float32(tables.highest_m[shot])
    steep = np.float32(tables.highest_m[shot] / tables.carry_m[shot])
    for n in range(samples):
        k = np.uint64(n)
        u, v = u0 + real[row_of(OFFSET) + k] * per, v0 - real[row_of(OFFSET + 1) + k] * per
        off = (u < none) | (v < none) | (u >= cols) | (v >= rows)
        i, j = np.int32(min(max(none, v), low)), np.int32(min(max(none, u), right))
        event[row_of(LANDING_CELL) + k], event[row_of(KIND_MET) + k] = i * wide + j, np.int32(off)
    for _ in range(2):
        for n in range(samples):  # by itself: the processor waits for many levels at once
            k = np.uint64(n)
            real[row_of(GROUND_LEVEL) + k] = level[np.uint32(event[row_of(LANDING_CELL) + k])]
        for n in range(samples):
            k = np.uint64(n)
            above = real[row_of(GROUND_LEVEL) + k] - start
            h = min(max(floor, above), ceiling)
            d0, d1 = real[row_of(OFFSET) + k] * per, real[row_of(OFFSET + 1) + k] * per
            u = u0 + d0 + h * per * (real[row_of(SHIFT) + k] + h * real[row_of(CURVE) + k])
            v = v0 - d1 - h * per * (real[row_of(SHIFT + 1) + k] + h * real[row_of(CURVE + 1) + k])
            off = (above != above) | (u < none) | (v < none) | (u >= cols) | (v >= rows)
            i, j = np.int32(min(max(none, v), low)), np.int32(min(max(none, u), right))
            real[row_of(LAND_COL) + k], real[row_of(LAND_ROW) + k], real[row_of(RISE) + k] = u, v, h
            event[row_of(LANDING_CELL) + k] = i * wide + j
            event[row_of(KIND_MET) + k] |= np.int32(off)
    for n in range(samples):
        k = np.uint64(n)
        real[row_of(GROUND_LEVEL) + k] = level[np.uint32(event[row_of(LANDING_CELL) + k])]
    for n in range(samples):
        k = np.uint64(n)
        d0, d1 = real[row_of(OFFSET) + k], real[row_of(OFFSET + 1) + k]
        face = real[row_of(GROUND_LEVEL) + k] - start > steep * math.sqrt(d0 * d0 + d1 * d1)
        cell = np.int32(UNPLAYABLE_FACE) if face else event[row_of(LANDING_CELL) + k]
        lost = event[row_of(KIND_MET) + k] != 0
        event[row_of(LANDING_CELL) + k] = np.int32(REPLAY_FROM_START) if lost else cell


@kernel(python_entry=False)
def flight_height(profile, share):
    """Height as a share of the apex at a share of the plan distance on the level.

    Beyond it goes on as it was falling.
    """
    at = max(share, 0.0) * (PROFILE_NODES - 1)
    n = min(int(at), PROFILE_NODES - 2)
    return profile[n] + (at - n) * (profile[n + 1] - profile[n])


@kernel(inline=True, python_entry=False)
def obstacle_contact(g, tables, action, place, k, real):
    """Share of the plan distance at which a sample meets a tree or structure; 2 where it meets none.

    The flight is a parabola in plan from the start to the landing, with the direction at landing, and in
    height the profile of its shot and ball speed. Pieces are as long as the index of obstacles allows.
    """
    shot, turn, node = action.shot, turn_of(tables, action.heading), real[SPEED_NODE, k]
    east = g.x_west + real[LAND_COL, k] * g.cell - place.x
    north = g.y_north - real[LAND_ROW, k] * g.cell - place.y
    distance = math.hypot(east, north)
    if distance < 1e-6:
        return 2.0
    b = int(math.atan2(east, north) / (2.0 * math.pi) * HEADINGS + HEADINGS + 0.5) % HEADINGS
    clear = place.obstacle_m[b]
    if clear >= distance:
        return 2.0
    n = min(int(node), tables.apex_m.shape[2] - 2)
    w = node - n
    apex = (1.0 - w) * tables.apex_m[shot, turn, n] + w * tables.apex_m[shot, turn, n + 1]
    profile = tables.profile[shot, n + int(w + 0.5)]
    on_level = math.hypot(real[OFFSET, k], real[OFFSET + 1, k])
    farther = distance / max(on_level, 1e-6)
    right = (real[DIRECTION, k] * north - real[DIRECTION + 1, k] * east) / distance
    forward = (real[DIRECTION, k] * east + real[DIRECTION + 1, k] * north) / distance
    bend = right / max(forward, 0.2)
    pieces = math.ceil(distance / max(g.cell, 1.0))
    first = max(int(clear / distance * pieces) - 1, 0)
    top = g.obstacles.top
    s0 = first / pieces
    side = bend * (s0 * s0 - s0)
    x0, y0 = place.x + s0 * east + side * north, place.y + s0 * north - side * east
    z0 = place.z + apex * flight_height(profile, s0 * farther)
    for piece in range(first + 1, pieces + 1):
        s1 = piece / pieces
        side = bend * (s1 * s1 - s1)
        x1, y1 = place.x + s1 * east + side * north, place.y + s1 * north - side * east
        z1 = place.z + apex * flight_height(profile, s1 * farther)
        if min(z0, z1) < top:
            u = obstacle_between(g.obstacles, place, Vector(x0, y0, z0), Vector(x1, y1, z1))
            if u <= 1.0:
                return s0 + u * (s1 - s0)
        s0, x0, y0, z0 = s1, x1, y1, z1
    return 2.0


@kernel(python_entry=False)
def obstacles_ahead(obstacle_m, heading, reach):
    """Tell whether an obstacle is within reach of a shot on all but its wildest headings."""
    for off in range(-OBSTACLE_FAN, OBSTACLE_FAN + 1):
        if obstacle_m[(heading + off) % HEADINGS] < reach:
            return True
    return False


@kernel(python_entry=False)
def meet_obstacles(g, tables, action, samples, place, buffer):
    """Stop the samples that meet a tree or structure in flight.

    They drop where they meet it, as single shots do.
    """
    real, event = buffer.real, buffer.event
    for k in range(samples):
        if event[LANDING_CELL, k] == UNPLAYABLE_FACE:
            continue
        share = obstacle_contact(g, tables, action, place, k, real)
        if share > 1.0:
            continue
        u0, v0 = (place.x - g.x_west) / g.cell, (g.y_north - place.y) / g.cell
        u = np.float32(u0 + share * (real[LAND_COL, k] - u0))
        v = np.float32(v0 + share * (real[LAND_ROW, k] - v0))
        if 0.0 <= u < g.kind.shape[1] and 0.0 <= v < g.kind.shape[0]:
            kind = g.kind[int(v), int(u)]
            event[LANDING_CELL, k] = STOPPED
            event[KIND_MET, k] = kind if kind in (KIND_WATER, KIND_OUT, KIND_OFF) else KIND_TREES
            real[LAND_COL, k], real[LAND_ROW, k], real[REST_COL, k], real[REST_ROW, k] = u, v, u, v


@kernel(inline=True, fastmath=True)
def run_by_table(g, tables, action, samples, buffer):
    """Where each sample that has landed comes to rest, by the outcome table.

    Column and row, and the kind it meets.
    """
    real, event = buffer.real, buffer.event
    shot, heading = action.shot, action.heading
    per, unit = np.float32(1.0 / g.cell), np.float32(RUN_UNIT_M / g.cell)
    turn = turn_of(tables, heading)
    classes, changes = tables.landing_class[shot, turn], tables.run_change[shot, turn]
    per_band = np.float32(tables.bands_per_m[shot])
    half, level, one = np.float32(0.5), np.float32(LEVEL + 0.5), np.float32(1.0)
    b0 = np.float32(heading * BINS / HEADINGS + 0.5 + BINS)
    landing_cell_id, outcome, ends = g.landing_cell_id, g.outcome, g.ends
    for k in range(samples):
        if event[LANDING_CELL, k] < 0:
            continue
        u, v = real[LAND_COL, k], real[LAND_ROW, k]
        word = landing_cell_id[event[LANDING_CELL, k]]
        here = word & KIND_MASK
        kind = here
        if ends[here] == RUNS:
            node = np.int32(real[SPEED_NODE, k] + half)
            band = min(max(np.int32(real[RISE, k] * per_band + level), 0), BANDS - 1)
            c, b = classes[node, band], np.int32(b0 + real[DIRECTION_BIN, k]) % BINS
            cell_id = word >> KIND_BITS
            entry = outcome[c, b, cell_id]
            if entry == 0:
                centre, velocity = g.cell_centre[cell_id], g.landing_velocity[c]
                entry = compute_outcome(g.land, g.earlier, centre, velocity, c, b, cell_id)
                outcome[c, b, cell_id] = entry
            along = np.float32(run_along(entry)) * unit
            across = np.float32(run_across(entry)) * unit
            kind = run_kind(entry)
            t = turf_class(here)
            if kind <= LAST_RUN_KIND and turf_class(kind) > t:
                fx, fy = stop_at_edge(g, b, cell_id, along * g.cell, across * g.cell)
                u, v = np.float32((fx - g.x_west) / g.cell), np.float32((g.y_north - fy) / g.cell)
            else:
                if kind <= LAST_RUN_KIND:
                    change = changes[node, band]
                    grow = change[RUN_FACTOR + t] * (
                        one + (real[SPEED_NODE, k] - np.float32(node)) * change[RUN_GROWTH]
                    )
                    along = along * grow + change[RUN_OFFSET + t] * per
                    across = across * grow + change[RUN_RIGHT + t] * per
                u += along * real[DIRECTION, k] + across * real[DIRECTION + 1, k]
                v -= along * real[DIRECTION + 1, k] - across * real[DIRECTION, k]
        real[REST_COL, k], real[REST_ROW, k], event[KIND_MET, k] = u, v, kind


@kernel(inline=True, python_entry=False)
def landing_velocity(tables, shot, turn, node, h):
    """Return landing speed forward and up [m/s], spin [rad/s], and sine and cosine of the angle to the aim.

    ``node`` lies between the nodes of ball speed, ``h`` metres above the start. Speed forward and spin change
    evenly with height, speed up with its square; see
    :func:`gistools.compute.decision.outcome_tables.tabulated_landings`.
    """
    nodes = tables.node_velocity[shot, turn]
    n = min(max(int(node), 0), nodes.shape[0] - 2)
    w = node - n
    other = 0 if h < 0.0 else 2
    part = min(h / tables.level_limit_m[shot, 0 if h < 0.0 else 1], MOST_EXTRAPOLATION)
    pace, down2, spin = 0.0, 0.0, 0.0
    for m, share in ((1, 1.0 - part), (other, part)):
        a, b = nodes[n, m], nodes[n + 1, m]
        pace += share * ((1.0 - w) * math.hypot(a[0], a[1]) + w * math.hypot(b[0], b[1]))
        down2 += share * ((1.0 - w) * a[2] * a[2] + w * b[2] * b[2])
        spin += share * ((1.0 - w) * a[3] + w * b[3])
    pace = max(pace, LEAST_PACE_MS)
    down = math.sqrt(max(down2, (LEAST_DESCENT * pace) ** 2))
    forward, right = (
        (1.0 - w) * nodes[n, 1, 0] + w * nodes[n + 1, 1, 0],
        (1.0 - w) * nodes[n, 1, 1] + w * nodes[n + 1, 1, 1],
    )
    way = math.hypot(forward, right) + 1e-9
    return pace, -down, spin, right / way, forward / way


@kernel(python_entry=False)
def run_directly(g, tables, action, samples, buffer):
    """The same as :func:`run_by_table` from the landing itself, each bounce and the roll computed."""
    real, event = buffer.real, buffer.event
    turn = turn_of(tables, action.heading)
    for k in range(samples):
        if event[LANDING_CELL, k] < 0:
            continue
        u, v = real[LAND_COL, k], real[LAND_ROW, k]
        pace, up, spin, sa, ca = landing_velocity(
            tables, action.shot, turn, float(real[SPEED_NODE, k]), float(real[RISE, k])
        )
        e, n = float(real[DIRECTION, k]), float(real[DIRECTION + 1, k])
        x1, y1, kind, _ = land_and_run(
            g.land, g.x_west + u * g.cell, g.y_north - v * g.cell, Vector(pace * e, pace * n, up),
            Vector(spin * (n * ca + e * sa), -spin * (e * ca - n * sa), 0.0),
        )  # fmt: skip
        real[REST_COL, k] = np.float32((x1 - g.x_west) / g.cell)
        real[REST_ROW, k] = np.float32((g.y_north - y1) / g.cell)
        event[KIND_MET, k] = min(kind, LAST_KIND)


@kernel
def relief(g, x, y, sh, ch, far):
    """State of the drop: back along the shot to dry ground, then two club-lengths.

    REPLAY_FROM_START where there is none.
    """
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
    return REPLAY_FROM_START


@kernel(inline=True, fastmath=True)
def come_to_rest(g, heading, samples, place, buffer):
    """State each sample is played from next, and its penalty."""
    real, event = buffer.real, buffer.event
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    wide, none = np.int32(g.kind.shape[1]), np.float32(0.0)
    angle = 2.0 * math.pi * heading / HEADINGS
    sh, ch = math.sin(angle), math.cos(angle)
    state_id = g.state_id
    for k in range(samples):
        s, penalty = event[LANDING_CELL, k], 0
        if s >= 0 or s == STOPPED:
            u, v, kind = real[REST_COL, k], real[REST_ROW, k], event[KIND_MET, k]
            if not (none <= u < cols and none <= v < rows) or kind in (KIND_OUT, LAST_KIND):
                s = np.int32(REPLAY_FROM_START)
                if kind != KIND_OUT:
                    event[KIND_MET, k] = LAST_KIND
            else:
                word = state_id[np.int32(v) * wide + np.int32(u)]
                here = word & KIND_MASK
                if kind == KIND_WATER or here == KIND_WATER:
                    fx, fy = g.x_west + u * g.cell, g.y_north - v * g.cell
                    s = np.int32(REPLAY_FROM_START)
                    if kind != KIND_WATER:  # the table says dry, the shifted run ends just inside: the bank
                        s = relief(g, fx, fy, sh, ch, BANK_REACH_M)
                    if s < 0:
                        event[KIND_MET, k], penalty = KIND_WATER, 1
                        s = relief(g, fx, fy, sh, ch, max((fx - place.x) * sh + (fy - place.y) * ch, 0.0))
                else:
                    if s != STOPPED:
                        event[KIND_MET, k] = here
                    s = word >> KIND_BITS
        event[NEXT_STATE, k], event[PENALTY, k] = s, penalty


@kernel(inline=True, fastmath=True)
def simulate_samples(g, tables, place, action, sampling, buffer):
    """Play the samples of a shot out from a place: fills the buffer."""
    samples = sampling.samples
    lay_out(tables, action, first_of(samples), samples, sampling.dispersion_scale, buffer.real)
    meet_ground(g, tables, action.shot, samples, place, buffer)
    reach = OBSTACLE_REACH * tables.carry_m[action.shot]
    if place.obstacle_m.size > 0 and obstacles_ahead(place.obstacle_m, action.heading, reach):
        meet_obstacles(g, tables, action, samples, place, buffer)
    if tables.carry_m[action.shot] < sampling.direct_simulation_below_m:
        run_directly(g, tables, action, samples, buffer)
    else:
        run_by_table(g, tables, action, samples, buffer)
    come_to_rest(g, action.heading, samples, place, buffer)


@kernel(allocates=True)
def outcomes(g, tables, place, action, sampling, out):
    """Fill the records ``out`` (dtype OUTCOME), one a sample.

    State REPLAY_FROM_START is stroke and distance. A shot against a face stays where it was played from.
    """
    buffer = make_sample_buffer()
    simulate_samples(g, tables, place, action, sampling, buffer)
    real, event = buffer.real, buffer.event
    x, y = place.x, place.y
    i, j = cell_of(g, x, y)
    for k in range(sampling.samples):
        o, landed, s = out[k], event[LANDING_CELL, k], event[NEXT_STATE, k]
        if landed == UNPLAYABLE_FACE:
            o["x"], o["y"], o["kind"], o["state"], o["penalty"] = x, y, g.kind[i, j], state_at(g, i, j), 0
            o["land_x"], o["land_y"], o["land_kind"], o["replayed"] = x, y, g.kind[i, j], 1
            continue
        o["land_x"], o["land_y"] = (
            g.x_west + real[LAND_COL, k] * g.cell,
            g.y_north - real[LAND_ROW, k] * g.cell,
        )
        if landed == REPLAY_FROM_START:
            o["x"], o["y"], o["kind"], o["land_kind"] = o["land_x"], o["land_y"], KIND_OFF, KIND_OFF
        else:
            kind = event[KIND_MET, k]
            o["x"], o["y"] = g.x_west + real[REST_COL, k] * g.cell, g.y_north - real[REST_ROW, k] * g.cell
            o["kind"] = KIND_OFF if kind == LAST_KIND else kind
            o["land_kind"] = o["kind"] if landed == STOPPED else packed_kind(g.landing_cell_id[landed])
        o["state"], o["replayed"] = s, 1 if s < 0 else 0
        o["penalty"] = 1 if s < 0 else event[PENALTY, k]


@kernel(allocates=True)
def straight(g, tables, action, x, y, out):
    """Where the shot without error ends if it lands at each of ``x, y``, level with its start.

    ``x, y, kind`` of ``out``.

    Kind is KIND_OFF off the map.
    """
    one = make_sample_buffer()
    buffer = SampleBuffer(
        np.empty((BUFFER_ROWS, x.size), np.float32), np.empty((EVENT_ROWS, x.size), np.int32)
    )
    lay_out(tables, action, tables.sample.shape[3] - 1, 1, 0.0, one.real)
    for n in range(x.size):
        i, j = cell_of(g, x[n], y[n])
        buffer.event[LANDING_CELL, n] = i * g.kind.shape[1] + j if i >= 0 else REPLAY_FROM_START
        for row in range(TABLE_ROWS):
            buffer.real[row, n] = one.real[row, 0]
        buffer.real[LAND_COL, n] = (x[n] - g.x_west) / g.cell
        buffer.real[LAND_ROW, n] = (g.y_north - y[n]) / g.cell
        buffer.real[RISE, n] = 0.0
    run_directly(g, tables, action, x.size, buffer)
    for n in range(x.size):
        o, met = out[n], buffer.event[KIND_MET, n]
        o["x"], o["y"], o["kind"] = x[n], y[n], KIND_OFF
        if buffer.event[LANDING_CELL, n] >= 0:
            o["x"] = g.x_west + buffer.real[REST_COL, n] * g.cell
            o["y"] = g.y_north - buffer.real[REST_ROW, n] * g.cell
            o["kind"] = KIND_OFF if met == LAST_KIND else met


@kernel
def obstacle_distances(obstacles, places, out):
    """Distance [m] that is clear of obstacles from each place on each heading: ``out[place, heading]``.

    By the squares of the index that hold any, as discs round them, with room for the bend of a flight: a
    lower bound.
    """
    side = obstacles.cell
    radius = 0.75 * side
    out[:] = np.float32(1e9)
    for square in range(obstacles.rows * obstacles.cols):
        if obstacles.starts[square] == obstacles.starts[square + 1]:
            continue
        cx = obstacles.x_west + (square % obstacles.cols + 0.5) * side
        cy = obstacles.y_north - (square // obstacles.cols + 0.5) * side
        for s in range(places.shape[0]):
            dx, dy = cx - places[s, 0], cy - places[s, 1]
            away = math.hypot(dx, dy)
            if away <= radius + side:
                out[s, :] = np.float32(0.0)
                continue
            half = math.ceil((radius + 0.03 * away) / away * HEADINGS / (2.0 * math.pi)) + 1
            middle = int(np.rint(math.atan2(dx, dy) / (2.0 * math.pi) * HEADINGS))
            clear = np.float32(away - radius)
            for b in range(middle - half, middle + half + 1):
                if clear < out[s, b % HEADINGS]:
                    out[s, b % HEADINGS] = clear


class Swing(NamedTuple):
    """Launch of a shot: speed [m/s], angle and tilt of the spin axis [rad], spin at each scale [rad/s]."""

    speed: float
    angle: float
    tilt: float
    spins: np.ndarray


@kernel
def arrivals(calm, wind, dt, swing, scales, levels, out):
    """Direct flights of one shot over headings, speed scales and levels of landing.

    ``wind`` is speed [m/s] and where it comes from [rad]; ``swing`` a :class:`Swing`.
    ``out[heading, scale, level] = (forward, right, speed forward, speed right, speed up, spin, apex)``.
    """
    for a in range(out.shape[0]):
        angle = wind[1] - 2.0 * math.pi * a / out.shape[0]
        air = Air(
            calm.model,
            calm.density,
            calm.viscosity,
            -wind[0] * math.sin(angle),
            -wind[0] * math.cos(angle),
            calm.shear,
            calm.weights,
        )
        for n in range(scales.size):
            v = swing.speed * scales[n]
            for m in range(levels.size):
                end, _, apex = fly_to_level(air, dt, v, swing.angle, swing.spins[n], swing.tilt, levels[m])
                o = out[a, n, m]
                o[0], o[1], o[2], o[3] = end.y, end.x, end.vy, end.vx
                o[4], o[5], o[6] = end.vz, end.spin, apex


@kernel(allocates=True)
def spread_samples(flights, scales, levels, errors, sizes, sample):
    """Fill ``sample[turn, row, sample]`` of a shot from flights, direction errors [rad], speed scales."""
    turns = flights.shape[0]
    step = scales[1] - scales[0]
    down, up = levels[0], levels[2]
    flight = np.zeros((3, 4))
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
                    flight[m, c] = (1.0 - wa) * lo + wa * hi
            sb, cb = math.sin(errors[k]), math.cos(errors[k])
            for c in range(2):
                # parabola through the levels (down, 0, up)
                s0 = (flight[0, c] - flight[1, c]) / down
                s2 = (flight[2, c] - flight[1, c]) / up
                curve = (s2 - s0) / (up - down)
                at[0, c], at[1, c], at[2, c] = flight[1, c], s0 - curve * down, curve
            for m in range(3):
                sample[h, 2 * m, k] = at[m, 0] * cb - at[m, 1] * sb
                sample[h, 2 * m + 1, k] = at[m, 0] * sb + at[m, 1] * cb
            way = errors[k] + math.atan2(flight[1, 3], flight[1, 2])
            sample[h, DIRECTION, k], sample[h, DIRECTION + 1, k] = math.cos(way), math.sin(way)
            sample[h, DIRECTION_BIN, k], sample[h, SPEED_NODE, k] = way / (2.0 * math.pi) * BINS, q
