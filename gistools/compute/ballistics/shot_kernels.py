"""Compiled loops of whole shots over terrain: flight from tables, bounce, run.

Arrays and plain numbers only, SI units. East is x, north is y, up is z; a heading ``(sin b, cos b)`` comes
from a bearing ``b`` clockwise from north. Vectors and flight states are those of
:mod:`gistools.compute.ballistics.flight_kernels`; after landing the spin is a vector too, for the axis turns.

What does not change from shot to shot travels in named tuples, made by the public modules:

- :class:`Air` by :func:`gistools.compute.ballistics.air.air_for`,
- :class:`TurfGrid` by :func:`gistools.compute.ballistics.turf.turf_grid` (terrain, kinds of ground, turf),
- :class:`Obstacles` by :func:`gistools.compute.ballistics.flight.obstacles_for` (trees and structures as
  cylinders),
- :class:`Table` by :func:`gistools.compute.ballistics.flight.table_for` (trajectories of one club in one
  wind).

Formulas, sources and trust tags are in :mod:`gistools.compute.ballistics.turf`. No function here returns NaN
for finite input.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.base.jit import kernel
from gistools.compute.ballistics.flight_kernels import (
    LONGEST,
    MODEL_D,
    NO_WEIGHTS,
    RADIUS,
    Air,
    G,
    State,
    Vector,
    acceleration,
    hermite,
    hermite_rate,
)
from gistools.compute.terrain.surface_kernels import height, height_gradient

#: how a flight ended
ON_GROUND, IN_TREE, OFF_MAP, NEVER = 0, 1, 2, 3

#: columns of the turf table
RESTITUTION_FACTOR, TILT_FACTOR, ROLLING_RESISTANCE, FRICTION, ON_CONTACT, TILT_GROWTH = range(6)
TURF_COLUMNS = 6
#: values of ON_CONTACT: goes on, a ball that lands stays where it is, any contact ends it
RUNS, PLUGS, STOPS = 0.0, 1.0, 2.0

KIND_WATER, KIND_TREES, KIND_OUT, KIND_OFF_MAP = (
    int(Kind.WATER),
    int(Kind.TREES),
    int(Kind.OUT),
    int(Kind.OFF_MAP),
)

# Turf. Penner 2002, Can. J. Phys. 80:931-940, doi 10.1139/p02-035, pp. 933-935 [second-hand], see turf.py
REST_0, REST_1, REST_2, REST_FAST = 0.510, 0.0375, 0.000903, 0.120  # restitution, speeds in m/s
REST_UP_TO = 20.0  # [m/s]
TILT_RAD, TILT_SPEED = math.radians(15.4), 18.6  # tilt of the impulse at the measured impact, 44.4 deg
TILT_MOST = math.radians(30.0)  # (assumption)
HOP_HEIGHT = 0.005  # lower hops are rolling [m], p. 935 [second-hand]

# Numerical limits of the run (assumptions)
TURNS_SPEED = 0.1  # slower balls are braked straight on [m/s]
REST_SPEED = 0.02  # slower balls rest where the ground holds them [m/s]
MOST_BOUNCES = 80
LONGEST_ROLL = 90.0  # [s]
HOP_AIR = 10.0  # slower hops are flown without air [m/s]
HOP_STRIDE = 0.75  # pieces of a hop are at most this long, or one cell [m]: half the scale slopes are felt at
ROLL_STRIDE, ROLL_STEP_S = 0.75, 0.2  # same for the roll [m], and at most so long [s]
LAST_STRIDE = 0.1  # a ball that would stop within it on ground that holds it comes to rest in one step [m]
CLEAR = 2.0  # ground and trees are not looked at this close to the start [m]

#: record of a shot: landing, rest, apex above the start [m], descent angle [deg], landing speed [m/s], times
#: [s],
#: spin at landing [rad/s], how the flight ended
SHOT_FIELDS = "land_x land_y land_z land_kind x y z kind apex descent speed air_s run_s spin end"
SHOT = np.dtype([(name, np.float64) for name in SHOT_FIELDS.split()])


class TurfGrid(NamedTuple):
    """Ground that shots are played over, on one grid.

    Terrain ``z`` and a smoothed copy for slopes [m], kinds of ground, turf table by kind, highest level [m],
    density [kg/m3] and viscosity [m2/s] of the air that fast hops fly through.
    """

    z: np.ndarray
    x_west: float
    y_north: float
    cell: float
    smooth: np.ndarray
    kind: np.ndarray
    turf: np.ndarray
    top: float
    density: float = 1.199  # of the standard day
    viscosity: float = 1.512e-5


class Obstacles(NamedTuple):
    """Upright cylinders ``(x, y, radius, base level, top level)`` with lists by square.

    Members of square k are ``members[starts[k]:starts[k + 1]]``, k = row * cols + col, row 0 in the north.
    """

    cylinders: np.ndarray
    starts: np.ndarray
    members: np.ndarray
    x_west: float
    y_north: float
    cell: float
    rows: int
    cols: int
    top: float


class Table(NamedTuple):
    """Trajectories ``nodes[speed, wind angle, time, (forward, right, up, their speeds, spin)]`` of one club.

    Ball speed scales run from ``scale_low`` in steps of ``scale_step``; wind angles (bearing the wind comes
    from less heading) are evenly spread over the circle, one only when calm; times step by ``time_step``.
    ``tilt`` is the tilt of the spin axis [rad], ``wind_from`` the bearing the wind comes from [rad].
    """

    nodes: np.ndarray
    scale_low: float
    scale_step: float
    time_step: float
    tilt: float
    wind_from: float


class TablePlace(NamedTuple):
    """Where a shot lies between the nodes of a table.

    First speed node, weights, angle nodes, weights, their number.
    """

    speed: int
    speed_weights: tuple[float, float, float, float]
    angles: tuple[int, int, int, int]
    angle_weights: tuple[float, float, float, float]
    used: int


class Contact(NamedTuple):
    """First contact on a piece of flight.

    How it ends (NEVER: it goes on), share of the piece, level, last level.
    """

    how: int
    share: float
    level: float
    last: float


class Landing(NamedTuple):
    """End of a flight.

    State (``z`` is the ground level there), time [s], apex above the start [m], how it ended.
    """

    state: State
    time: float
    apex: float
    how: int


class Rest(NamedTuple):
    """Where a ball comes to rest: place [m], kind of ground, time since landing [s]."""

    x: float
    y: float
    kind: int
    time: float


# ---------------------------------------------------------------- contact with ground and obstacles


@kernel
def kind_at(ground, x, y):
    """Kind of ground in the cell of a point; KIND_OFF_MAP outside the array."""
    j = math.floor((x - ground.x_west) / ground.cell)
    i = math.floor((ground.y_north - y) / ground.cell)
    if i < 0 or j < 0 or i >= ground.kind.shape[0] or j >= ground.kind.shape[1]:
        return KIND_OFF_MAP
    return np.int64(ground.kind[i, j])


@kernel(python_entry=False, inline=True)
def level_at(ground, x, y):
    """Terrain level at a point (NaN where there is none)."""
    return height(ground.z, ground.x_west, ground.y_north, ground.cell, x, y)


@kernel(python_entry=False, inline=True)
def smooth_level_at(ground, x, y):
    """Smoothed level at a point (NaN where there is no ground)."""
    return height(ground.smooth, ground.x_west, ground.y_north, ground.cell, x, y)


@kernel(python_entry=False, inline=True)
def normal_at(ground, x, y):
    """Smoothed level and unit normal at a point (NaN where there is no ground)."""
    z, gx, gy = height_gradient(ground.smooth, ground.x_west, ground.y_north, ground.cell, x, y)
    k = 1.0 / math.sqrt(1.0 + gx * gx + gy * gy)
    return z, Vector(-gx * k, -gy * k, k)


@kernel(python_entry=False)
def obstacle_between(obstacles, start, a, b):
    """Share of the way from a to b at which it comes closest inside a cylinder; 2 where it meets none.

    Cylinders that stand over the start are ignored.
    """
    j = math.floor((0.5 * (a.x + b.x) - obstacles.x_west) / obstacles.cell)
    i = math.floor((obstacles.y_north - 0.5 * (a.y + b.y)) / obstacles.cell)
    if i < 0 or j < 0 or i >= obstacles.rows or j >= obstacles.cols:
        return 2.0
    square = i * obstacles.cols + j
    dx, dy = b.x - a.x, b.y - a.y
    length2 = dx * dx + dy * dy
    first = 2.0
    for m in range(obstacles.starts[square], obstacles.starts[square + 1]):
        c = obstacles.members[m]
        cx, cy, r2 = obstacles.cylinders[c, 0], obstacles.cylinders[c, 1], obstacles.cylinders[c, 2] ** 2
        if (cx - start.x) ** 2 + (cy - start.y) ** 2 <= r2:
            continue
        u = ((cx - a.x) * dx + (cy - a.y) * dy) / length2 if length2 > 0.0 else 0.0
        u = min(max(u, 0.0), 1.0)
        if (a.x + u * dx - cx) ** 2 + (a.y + u * dy - cy) ** 2 <= r2:
            level = a.z + u * (b.z - a.z)
            if obstacles.cylinders[c, 3] <= level <= obstacles.cylinders[c, 4]:
                first = min(first, u)
    return first


@kernel(python_entry=False, inline=True)
def place_between(u, dt, before, after):
    """Place at share u of a piece of flight, on the cubic through both ends."""
    return Vector(
        hermite(u, dt, before.x, before.vx, after.x, after.vx),
        hermite(u, dt, before.y, before.vy, after.y, after.vy),
        hermite(u, dt, before.z, before.vz, after.z, after.vz),
    )


@kernel(python_entry=False, inline=True)
def contact(ground, obstacles, start, last, dt, before, after):
    """Return the first :class:`Contact` on a piece of flight between two states ``dt`` apart.

    ``last`` is the last ground level seen, ``start`` the place the shot is played from.
    """
    if min(before.z, after.z) > max(ground.top, obstacles.top):
        return Contact(NEVER, 1.0, last, last)
    pieces = max(1, math.ceil(math.hypot(after.x - before.x, after.y - before.y) / max(ground.cell, 1.0)))
    p, u_before = Vector(before.x, before.y, before.z), 0.0
    for k in range(1, pieces + 1):
        u = k / pieces
        q = place_between(u, dt, before, after)
        if obstacles.rows > 0 and min(p.z, q.z) < obstacles.top:
            share = obstacle_between(obstacles, start, p, q)
            if share <= 1.0:
                g = level_at(ground, p.x + share * (q.x - p.x), p.y + share * (q.y - p.y))
                u_hit = u_before + share * (u - u_before)
                return Contact(IN_TREE, u_hit, (last if math.isnan(g) else g), last)
        g = level_at(ground, q.x, q.y)
        known = not math.isnan(g)
        if known:
            last = g
        rising = before.vz + u * (after.vz - before.vz) > 0.0
        close = math.hypot(q.x - start.x, q.y - start.y) < CLEAR
        if q.z <= last and not (rising and close) and (known or not rising):
            low, high = u_before, u
            for _ in range(24):
                u = 0.5 * (low + high)
                h = place_between(u, dt, before, after)
                g = level_at(ground, h.x, h.y)
                if h.z <= (last if math.isnan(g) else g):
                    high = u
                else:
                    low = u
            h = place_between(high, dt, before, after)
            g = level_at(ground, h.x, h.y)
            if math.isnan(g):
                return Contact(OFF_MAP, high, last, last)
            return Contact(ON_GROUND, high, g, g)
        p, u_before = q, u
    return Contact(NEVER, 1.0, last, last)


# ---------------------------------------------------------------- flight over terrain, from tables


@kernel(python_entry=False, inline=True)
def cubic_weights(u):
    """Lagrange weights of four even nodes at -1, 0, 1, 2 for a place u."""
    a, b, c = u + 1.0, u - 1.0, u - 2.0
    return -u * b * c / 6.0, a * b * c / 2.0, -a * u * c / 2.0, a * u * b / 6.0


@kernel(python_entry=False, inline=True)
def blend(nodes, place, k, c):
    """One component of the trajectory at time node k, from 4 speeds and 1 or 4 wind angles."""
    i, a, js, b = place.speed, place.speed_weights, place.angles, place.angle_weights
    total = 0.0
    for m in range(place.used):
        j = js[m]
        low = a[0] * nodes[i, j, k, c] + a[1] * nodes[i + 1, j, k, c]
        total += b[m] * (low + a[2] * nodes[i + 2, j, k, c] + a[3] * nodes[i + 3, j, k, c])
    return total


@kernel(python_entry=False)
def table_place(table, scale, heading):
    """Return the :class:`TablePlace` of a ball speed scale and a heading."""
    speeds, angles = table.nodes.shape[0], table.nodes.shape[1]
    q = min(max((scale - table.scale_low) / table.scale_step, 0.0), speeds - 1.0)
    i = min(max(int(q) - 1, 0), speeds - 4)
    a = cubic_weights(q - i - 1.0)
    if angles == 1:
        return TablePlace(i, a, (0, 0, 0, 0), (1.0, 0.0, 0.0, 0.0), 1)
    p = (table.wind_from - heading) / (2.0 * math.pi) * angles
    j = math.floor(p)
    b = cubic_weights(p - j)
    return TablePlace(i, a, ((j - 1) % angles, j % angles, (j + 1) % angles, (j + 2) % angles), b, 4)


@kernel(python_entry=False, inline=True)
def node_plan(nodes, place, k, c, sh, ch):
    """Plan parts, east and north, of place from the start (c = 0) or velocity (c = 3) at time node k."""
    f = blend(nodes, place, k, c)
    r = blend(nodes, place, k, c + 1)
    return f * sh + r * ch, f * ch - r * sh


@kernel(python_entry=False)
def fly_to_ground(ground, obstacles, table, start, heading, scale):
    """Fly over the terrain from tabulated trajectories: heading [rad from north], ball speed ``scale``.

    A ball that leaves the terrain ends where it comes down through the last ground level seen (OFF_MAP).
    """
    place = table_place(table, scale, heading)
    nodes, dt = table.nodes, table.time_step
    final = nodes.shape[2] - 1
    sh, ch = math.sin(heading), math.cos(heading)
    top = max(ground.top, obstacles.top) - start.z
    last = level_at(ground, start.x, start.y)
    if math.isnan(last):
        last = start.z
    apex = up = 0.0
    rise = blend(nodes, place, 0, 5)
    ready = False
    before = State(start.x, start.y, start.z, 0.0, 0.0, rise, 0.0)
    for k in range(final):
        up1 = blend(nodes, place, k + 1, 2)
        rise1 = blend(nodes, place, k + 1, 5)
        crest = rise / (rise - rise1) if rise > 0.0 and rise1 <= 0.0 else 2.0  # 2: not in this piece
        if min(up, up1) > top and k + 1 < final:  # above everything
            ready = False
            if crest <= 1.0:
                apex = hermite(crest, dt, up, rise, up1, rise1)
            up, rise = up1, rise1
            continue
        if not ready:
            px, py = node_plan(nodes, place, k, 0, sh, ch)
            vx, vy = node_plan(nodes, place, k, 3, sh, ch)
            before = State(start.x + px, start.y + py, up + start.z, vx, vy, rise, 0.0)
        px, py = node_plan(nodes, place, k + 1, 0, sh, ch)
        vx, vy = node_plan(nodes, place, k + 1, 3, sh, ch)
        after = State(start.x + px, start.y + py, up1 + start.z, vx, vy, rise1, 0.0)
        ready = True
        how, u, level, last = contact(ground, obstacles, start, last, dt, before, after)
        if crest <= u:
            apex = hermite(crest, dt, up, rise, up1, rise1)
        if how != NEVER:
            w0 = blend(nodes, place, k, 6)
            spin = w0 + u * (blend(nodes, place, k + 1, 6) - w0)
            apex = max(apex, hermite(u, dt, up, rise, up1, rise1))
            end = State(
                hermite(u, dt, before.x, before.vx, after.x, after.vx),
                hermite(u, dt, before.y, before.vy, after.y, after.vy),
                level,
                hermite_rate(u, dt, before.x, before.vx, after.x, after.vx),
                hermite_rate(u, dt, before.y, before.vy, after.y, after.vy),
                hermite_rate(u, dt, up, rise, up1, rise1),
                spin,
            )
            return Landing(end, (k + u) * dt, apex, how)
        before, up, rise = after, up1, rise1
    # deeper than the table: it goes on as it was falling
    t = final * dt
    fall = min(rise, -1.0)
    spin = blend(nodes, place, final, 6)
    before = State(before.x, before.y, before.z, before.vx, before.vy, fall, spin)
    while t < LONGEST:
        after = State(
            before.x + dt * before.vx, before.y + dt * before.vy, before.z + dt * fall,
            before.vx, before.vy, fall, spin,
        )  # fmt: skip
        how, u, level, last = contact(ground, obstacles, start, last, dt, before, after)
        if how != NEVER:
            x, y = before.x + u * dt * before.vx, before.y + u * dt * before.vy
            return Landing(State(x, y, level, before.vx, before.vy, fall, spin), t + u * dt, apex, how)
        before = after
        t += dt
    return Landing(State(before.x, before.y, last, before.vx, before.vy, fall, spin), t, apex, OFF_MAP)


# ---------------------------------------------------------------- bounce and run


@kernel(python_entry=False, inline=True)
def slip_of(v, w, n):
    """Velocity of the contact point along a plane with unit normal n, of a ball moving along that plane."""
    return Vector(
        v.x - RADIUS * (w.y * n.z - w.z * n.y),
        v.y - RADIUS * (w.z * n.x - w.x * n.z),
        v.z - RADIUS * (w.x * n.y - w.y * n.x),
    )


@kernel
def bounce(v, w, n, turf):
    """Oblique impact on turf with unit normal n: velocity and spin vectors after it; ``turf`` is a turf row.

    Rigid-sphere impulse with restitution that falls with normal speed, in a plane tilted back towards the
    ball.
    """
    into = -(v.x * n.x + v.y * n.y + v.z * n.z)
    speed = math.sqrt(v.x * v.x + v.y * v.y + v.z * v.z)
    if into <= 1e-9 or speed <= 1e-9:
        return v, w
    t = Vector(v.x + into * n.x, v.y + into * n.y, v.z + into * n.z)
    along = math.sqrt(t.x * t.x + t.y * t.y + t.z * t.z)
    m = Vector(n.x, n.y, n.z)  # normal of the tilted plane
    if along > 1e-9 * speed:
        r = speed / TILT_SPEED
        tilt = turf[TILT_FACTOR] * TILT_RAD * r * 2.0 * (into / speed) * (along / speed)
        tilt = min(max(tilt * (1.0 + turf[TILT_GROWTH] * (r - 1.0)), 0.0), TILT_MOST)
        c, s = math.cos(tilt), math.sin(tilt) / along
        m = Vector(c * n.x - s * t.x, c * n.y - s * t.y, c * n.z - s * t.z)
    hit = -(v.x * m.x + v.y * m.y + v.z * m.z)
    e = REST_0 - REST_1 * hit + REST_2 * hit * hit if hit <= REST_UP_TO else REST_FAST
    e = min(1.0, turf[RESTITUTION_FACTOR] * e)
    slip = slip_of(Vector(v.x + hit * m.x, v.y + hit * m.y, v.z + hit * m.z), w, m)
    size = math.sqrt(slip.x * slip.x + slip.y * slip.y + slip.z * slip.z)
    push = min(turf[FRICTION] * (1.0 + e) * hit, 2.0 / 7.0 * size)
    jx = jy = jz = 0.0
    if size > 1e-12:
        jx, jy, jz = -push * slip.x / size, -push * slip.y / size, -push * slip.z / size
    k = 5.0 / (2.0 * RADIUS)
    lift = (1.0 + e) * hit
    v1 = Vector(v.x + jx + lift * m.x, v.y + jy + lift * m.y, v.z + jz + lift * m.z)
    w1 = Vector(
        w.x - k * (m.y * jz - m.z * jy), w.y - k * (m.z * jx - m.x * jz), w.z - k * (m.x * jy - m.y * jx)
    )
    into = v1.x * n.x + v1.y * n.y + v1.z * n.z
    if into < 0.0:  # a hard check spins the ball back along the tilted plane: the ground stops it
        v1 = Vector(v1.x - into * n.x, v1.y - into * n.y, v1.z - into * n.z)
    return v1, w1


@kernel
def hop(ground, start, v, w):
    """A hop from the ground to the next contact: in calm air while faster than HOP_AIR, else without air.

    Returns place, velocity, time [s], on map; off the map the place is the last point that had ground under
    it.
    """
    air = Air(MODEL_D, ground.density, ground.viscosity, 0.0, 0.0, 0.0, NO_WEIGHTS)
    spin = math.sqrt(w.x * w.x + w.y * w.y + w.z * w.z) + 1e-12
    axis = Vector(w.x / spin, w.y / spin, w.z / spin)
    dt = min(max(ground.cell, HOP_STRIDE) / max(math.sqrt(v.x * v.x + v.y * v.y), 1e-6), 0.2)
    if v.z > 0.0:
        dt = min(dt, v.z / G)
    p = Vector(start.x, start.y, start.z)
    t = gap = 0.0
    while t < 20.0:
        ax, ay, az = 0.0, 0.0, -G
        if v.x * v.x + v.y * v.y + v.z * v.z > HOP_AIR * HOP_AIR:  # midpoint rule
            ax, ay, az, _ = acceleration(air, 0.0, v, axis, spin)
            h = 0.5 * dt
            middle = Vector(v.x + h * ax, v.y + h * ay, v.z + h * az)
            ax, ay, az, _ = acceleration(air, 0.0, middle, axis, spin)
        x1, y1 = p.x + (v.x + 0.5 * ax * dt) * dt, p.y + (v.y + 0.5 * ay * dt) * dt
        g = smooth_level_at(ground, x1, y1)
        if math.isnan(g):
            return p, Vector(v.x, v.y, 0.0), t, False
        z1 = p.z + (v.z + 0.5 * az * dt) * dt
        gap1 = z1 - g
        if gap1 <= 0.0:
            low, high, f_low, f_high = 0.0, dt, max(gap, 0.0), gap1
            for _ in range(12):
                if high - low < 1e-5 or f_high > -1e-3:
                    break
                h = low + (high - low) * min(max(f_low / (f_low - f_high), 0.1), 0.95)
                xh, yh = p.x + (v.x + 0.5 * ax * h) * h, p.y + (v.y + 0.5 * ay * h) * h
                level = smooth_level_at(ground, xh, yh)
                f = p.z + (v.z + 0.5 * az * h) * h - level
                if f <= 0.0:
                    high, f_high, g, x1, y1 = h, f, level, xh, yh
                else:
                    low, f_low = h, f
            return (
                Vector(x1, y1, g),
                Vector(v.x + ax * high, v.y + ay * high, v.z + az * high),
                t + high,
                True,
            )
        p, gap = Vector(x1, y1, z1), gap1
        v = Vector(v.x + ax * dt, v.y + ay * dt, v.z + az * dt)
        t += dt
    return p, v, t, True


@kernel
def skid(ground, x, y, v, w, friction):
    """Turn sliding into rolling on the spot's plane: ``x, y, vx, vy`` of the rolling ball, time taken [s]."""
    z, n = normal_at(ground, x, y)
    into = v.x * n.x + v.y * n.y + v.z * n.z
    v = Vector(v.x - into * n.x, v.y - into * n.y, v.z - into * n.z)
    slip = slip_of(v, w, n)
    t = 2.0 / 7.0 * math.sqrt(slip.x * slip.x + slip.y * slip.y + slip.z * slip.z) / (friction * G)
    k = 2.0 / 7.0
    x1, y1 = x + (v.x - 0.5 * k * slip.x) * t, y + (v.y - 0.5 * k * slip.y) * t
    z1 = smooth_level_at(ground, x1, y1)
    v = Vector(v.x - k * slip.x, v.y - k * slip.y, v.z - k * slip.z)
    if math.isnan(z1):
        return x, y, v.x, v.y, t
    speed2 = v.x * v.x + v.y * v.y + v.z * v.z
    left = speed2 - 10.0 / 7.0 * G * (z1 - z)
    share = math.sqrt(max(left, 0.0) / speed2) if 0.0 < left < speed2 else (1.0 if left > 0.0 else 0.0)
    return x1, y1, v.x * share, v.y * share, t


@kernel
def roll(ground, x, y, vx, vy):
    """Roll along the slope until at rest, from the plan parts of the velocity; returns a :class:`Rest`.

    The speed follows from energy (height lost, resistance along the way), the direction from the slope.
    """
    smooth, x_west, y_north, cell = ground.smooth, ground.x_west, ground.y_north, ground.cell
    kinds, turf = ground.kind, ground.turf
    stride, per = max(0.5 * cell, ROLL_STRIDE), 1.0 / cell
    pull = 5.0 / 7.0 * G
    t = 0.0
    z, gx, gy = height_gradient(smooth, x_west, y_north, cell, x, y)
    vz = gx * vx + gy * vy
    speed = math.sqrt(vx * vx + vy * vy + vz * vz)
    while t < LONGEST_ROLL:
        kind = np.int64(kinds[int((y_north - y) * per), int((x - x_west) * per)])
        rho = turf[kind, ROLLING_RESISTANCE]
        steep2 = gx * gx + gy * gy
        if turf[kind, ON_CONTACT] == STOPS or (speed < REST_SPEED and steep2 <= rho * rho):
            return Rest(x, y, kind, t)
        flat2 = 1.0 / (1.0 + steep2)
        down_x, down_y = -pull * flat2 * gx, -pull * flat2 * gy
        brake = pull * rho * math.sqrt(flat2)
        if speed > 1e-9:
            ax, ay = down_x - brake * vx / speed, down_y - brake * vy / speed
        else:  # it starts to roll down
            share = 1.0 - rho / math.sqrt(steep2)
            ax, ay = down_x * share, down_y * share
        size = math.sqrt(ax * ax + ay * ay) + 1e-12
        against = -(ax * vx + ay * vy)
        if speed * speed < 2.0 * LAST_STRIDE * size and steep2 < 0.8 * rho * rho and against > 0.0:
            last = 0.5 * (vx * vx + vy * vy) / against
            z1 = height(smooth, x_west, y_north, cell, x + last * vx, y + last * vy)
            if not math.isnan(z1):
                x, y, t = x + last * vx, y + last * vy, t + 2.0 * last
                return Rest(x, y, kind_at(ground, x, y), t)
        dt = min(ROLL_STEP_S, stride / max(speed, 1e-6), max(0.004, 0.5 * speed / size))
        ux, uy = vx + ax * dt, vy + ay * dt
        if speed > TURNS_SPEED:  # the resistance acts along the mean direction of the step
            share = dt * brake / (math.sqrt((vx + ux) * (vx + ux) + (vy + uy) * (vy + uy)) + 1e-12)
            ux, uy = vx + dt * down_x - share * (vx + ux), vy + dt * down_y - share * (vy + uy)
        dx, dy = 0.5 * (vx + ux) * dt, 0.5 * (vy + uy) * dt
        z1, gx1, gy1 = height_gradient(smooth, x_west, y_north, cell, x + dx, y + dy)
        if math.isnan(z1):
            return Rest(x, y, KIND_OFF_MAP, t)
        rise = z1 - z
        left = speed * speed - 2.0 * pull * rise - 2.0 * brake * math.sqrt(dx * dx + dy * dy + rise * rise)
        uz = gx1 * ux + gy1 * uy
        new2 = ux * ux + uy * uy + uz * uz
        speed = 0.0
        share = 0.0
        if left > 0.0 and new2 > 1e-24:
            speed = math.sqrt(left)
            share = speed / math.sqrt(new2)
        vx, vy = ux * share, uy * share
        x, y, z, gx, gy = x + dx, y + dy, z1, gx1, gy1
        t += dt
    return Rest(x, y, kind_at(ground, x, y), t)


@kernel
def land_and_run(ground, x, y, v, w):
    """Bounce and run from the landing point to :class:`Rest`; v and w are velocity and spin at landing.

    Water and sand take a ball that lands in them; a ball that leaves the terrain stops at its last point with
    KIND_OFF_MAP.
    """
    t = 0.0
    kind = kind_at(ground, x, y)
    z, n = normal_at(ground, x, y)
    if math.isnan(z):
        return Rest(x, y, KIND_OFF_MAP, t)
    for _ in range(MOST_BOUNCES):
        if ground.turf[kind, ON_CONTACT] != RUNS:
            return Rest(x, y, kind, t)
        v, w = bounce(v, w, n, ground.turf[kind])
        off = v.x * n.x + v.y * n.y + v.z * n.z
        if off * off < 2.0 * G * HOP_HEIGHT:
            break
        p, v, dt, on_map = hop(ground, Vector(x, y, z), v, w)
        x, y = p.x, p.y
        t += dt
        if not on_map:
            return Rest(x, y, KIND_OFF_MAP, t)
        kind = kind_at(ground, x, y)
        z, n = normal_at(ground, x, y)
    x, y, vx, vy, dt = skid(ground, x, y, v, w, ground.turf[kind, FRICTION])
    rest = roll(ground, x, y, vx, vy)
    return Rest(rest.x, rest.y, rest.kind, t + dt + rest.time)


# ---------------------------------------------------------------- whole shots


@kernel(python_entry=False)
def run_out(ground, landing, axis, out):
    """Run the ball out from the end of its flight and write its SHOT record.

    ``axis`` is its unit spin axis.
    """
    end = landing.state
    pace = math.hypot(end.vx, end.vy)
    out["land_x"], out["land_y"], out["land_z"] = end.x, end.y, end.z
    out["apex"], out["descent"] = landing.apex, math.degrees(math.atan2(-end.vz, pace))
    out["speed"], out["spin"] = math.hypot(pace, end.vz), end.spin
    out["air_s"], out["run_s"], out["end"] = landing.time, 0.0, landing.how
    if landing.how == ON_GROUND:
        out["land_kind"] = kind_at(ground, end.x, end.y)
        w = Vector(axis.x * end.spin, axis.y * end.spin, axis.z * end.spin)
        rest = land_and_run(ground, end.x, end.y, Vector(end.vx, end.vy, end.vz), w)
        z1 = level_at(ground, rest.x, rest.y)
        out["x"], out["y"], out["z"] = rest.x, rest.y, (end.z if math.isnan(z1) else z1)
        out["kind"], out["run_s"] = rest.kind, rest.time
    else:  # it drops down from the tree, or is gone
        kind = KIND_OFF_MAP
        if landing.how == IN_TREE:
            kind = kind_at(ground, end.x, end.y)
            if kind != KIND_WATER and kind != KIND_OUT and kind != KIND_OFF_MAP:
                kind = KIND_TREES
        out["land_kind"] = out["kind"] = kind
        out["x"], out["y"], out["z"] = end.x, end.y, end.z


@kernel(python_entry=False)
def spin_axis(tilt, heading):
    """Unit spin axis of a shot: backspin to the right of play, tilted."""
    c = math.cos(tilt)
    return Vector(c * math.cos(heading), -c * math.sin(heading), -math.sin(tilt))


@kernel
def play_many(ground, obstacles, table, starts, headings, scales, out):
    """Complete shots from one table: flight, bounces, run to rest.

    ``starts`` is ``(n, 3)`` [m], headings [rad from north] and ball speed scales ``(n,)``, ``out`` SHOT
    records.
    """
    for k in range(headings.size):
        start = Vector(starts[k, 0], starts[k, 1], starts[k, 2])
        landing = fly_to_ground(ground, obstacles, table, start, headings[k], scales[k])
        run_out(ground, landing, spin_axis(table.tilt, headings[k]), out[k])
