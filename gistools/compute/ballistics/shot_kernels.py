"""Compiled loops of the ball: flight, bounce, run, and whole shots over terrain.

Arrays and plain numbers only, SI units. East is x, north is y, up is z; a heading ``(sin b, cos b)`` comes from
a bearing ``b`` clockwise from north. Spin is a vector by the right-hand rule: pure backspin points to the right
of play, a tilted axis is ``right * cos(tilt) - up * sin(tilt)`` and curves the ball to the right.

What does not change from shot to shot travels in four named tuples, made by the public modules beside this one:

- :class:`Air` by :func:`gistools.compute.ballistics.air.air_for`,
- :class:`Land` by :func:`gistools.compute.ballistics.turf.land_for` (terrain, kinds of ground, turf),
- :class:`Obstacles` by :func:`gistools.compute.ballistics.flight.obstacles_for` (trees and structures as upright cylinders),
- :class:`Table` by :func:`gistools.compute.ballistics.flight.table_for` (trajectories of one club in one wind).

Called from other kernels: :func:`fly_to_ground`, :func:`land_and_run`, :func:`play` (the two in a row),
:func:`bounce`, :func:`roll`, :func:`kind_at`. Formulas, sources and trust tags are in the
public modules. No function here returns nan for finite input.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.ballistics.flight_kernels import (  # noqa: F401  free flight is part of the kernels of shots
    AREA_PER_MASS,
    LANE_ROWS,
    LANES,
    MASS,
    MODEL_D,
    MODEL_OWN,
    MODEL_Q,
    MODEL_SS,
    NO_OWN,
    OWN_RE,
    OWN_SPIN,
    OWN_TERMS,
    RADIUS,
    REF_HEIGHT,
    SPIN_DECAY,
    VACUUM,
    Air,
    G,
    acceleration,
    between,
    coefficients,
    fill_nodes,
    fly_many_to_level,
    fly_once,
    fly_to_level,
    hermite,
    hermite_rate,
    own_coefficients,
    own_terms,
    single_exp2,
    single_inverse_root,
    single_log2,
    trace,
    wind_share,
)
from gistools.compute.terrain.surface_kernels import height, height_gradient

#: how a flight ended
ON_GROUND, IN_TREE, OFF_MAP, NEVER = 0, 1, 2, 3

#: columns of the turf table
K_E, K_T, RHO_G, MU, ENDS = 0, 1, 2, 3, 4
#: values of ENDS: goes on, a ball that lands stays where it is, any contact ends it
RUNS, PLUGS, STOPS = 0.0, 1.0, 2.0

KIND_WATER, KIND_TREES, KIND_OUT, KIND_OFF_MAP = 5, 7, 8, 255

HOP_HEIGHT = 0.005  # lower hops are rolling [m] (engineering choice)
TURNS_SPEED = 0.1  # slower balls are taken to be braked straight on [m/s] (engineering choice)
REST_SPEED = 0.02  # slower balls rest where the ground holds them [m/s] (engineering choice)
MOST_BOUNCES = 80
LONGEST_ROLL = 90.0  # [s]
HOP_AIR = 10.0  # slower hops are flown without air [m/s] (engineering choice)
HOP_STRIDE = 0.75  # pieces of a hop are at most this long, or one cell [m]: half the scale slopes are felt at
ROLL_STRIDE, ROLL_STEP_S = 0.75, 0.2  # same for the roll [m], and at most so long [s]
LAST_STRIDE = 0.1  # a ball that would stop within it on ground that holds it is brought to rest in one step [m] (engineering choice)
CLEAR = 2.0  # ground and trees are not looked at this close to the start [m] (assumption)

#: columns of the record of a shot, see `play`
RECORD = ("land_x", "land_y", "land_z", "land_kind", "x", "y", "z", "kind", "apex", "descent", "speed", "air_s",
          "run_s", "spin", "hit")  # fmt: skip
RECORD_SIZE = len(RECORD)


class Land(NamedTuple):
    """Terrain ``z`` and a smoothed copy for slopes on one grid, kinds of ground on it, turf by kind, highest level, air."""

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
    """Upright cylinders ``(x, y, radius, base level, top level)`` with lists by square: members of square k are
    ``members[starts[k]:starts[k + 1]]``, k = row * cols + col, row 0 in the north.
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

    Ball speed scales run from ``scale_low`` in steps of ``scale_step``; wind angles (bearing the wind comes from
    less heading) are evenly spread over the circle, one only when calm; times step by ``time_step``. ``tilt`` is
    the tilt of the spin axis [rad], ``wind_from`` the bearing the wind comes from [rad].
    """

    nodes: np.ndarray
    scale_low: float
    scale_step: float
    time_step: float
    tilt: float
    wind_from: float


# ---------------------------------------------------------------- contact with ground and obstacles


@kernel
def kind_at(land, x, y):
    """Kind of ground in the cell of a point; KIND_OFF_MAP outside the array."""
    j = math.floor((x - land.x_west) / land.cell)
    i = math.floor((land.y_north - y) / land.cell)
    if i < 0 or j < 0 or i >= land.kind.shape[0] or j >= land.kind.shape[1]:
        return KIND_OFF_MAP
    return int(land.kind[i, j])


@kernel(python_entry=False)
def obstacle_between(obstacles, x_from, y_from, x, y, z, x1, y1, z1):
    """Share of the way at which a short piece of flight comes closest inside a cylinder; 2 where it meets none.

    Cylinders that stand over the place played from are ignored.
    """
    j = math.floor((0.5 * (x + x1) - obstacles.x_west) / obstacles.cell)
    i = math.floor((obstacles.y_north - 0.5 * (y + y1)) / obstacles.cell)
    if i < 0 or j < 0 or i >= obstacles.rows or j >= obstacles.cols:
        return 2.0
    square = i * obstacles.cols + j
    dx, dy = x1 - x, y1 - y
    length2 = dx * dx + dy * dy
    first = 2.0
    for m in range(obstacles.starts[square], obstacles.starts[square + 1]):
        c = obstacles.members[m]
        cx, cy, r2 = obstacles.cylinders[c, 0], obstacles.cylinders[c, 1], obstacles.cylinders[c, 2] ** 2
        if (cx - x_from) ** 2 + (cy - y_from) ** 2 <= r2:
            continue
        u = ((cx - x) * dx + (cy - y) * dy) / length2 if length2 > 0.0 else 0.0
        u = min(max(u, 0.0), 1.0)
        if (x + u * dx - cx) ** 2 + (y + u * dy - cy) ** 2 <= r2:
            level = z + u * (z1 - z)
            if obstacles.cylinders[c, 3] <= level <= obstacles.cylinders[c, 4]:
                first = min(first, u)
    return first


@kernel(python_entry=False)
def contact(land, obstacles, x_from, y_from, last, dt, x, y, z, vx, vy, vz, x1, y1, z1, vx1, vy1, vz1):
    """Look for the first contact on a piece of flight between two known states ``dt`` apart.

    ``last`` is the last ground level seen. Returns ``how, u, level, last``: how the flight ends (NEVER: it goes
    on), at which share of the piece, and the ground level there.
    """
    top = max(land.top, obstacles.top)
    if min(z, z1) > top:
        return NEVER, 1.0, last, last
    grid, west, north, cell = land.z, land.x_west, land.y_north, land.cell
    pieces = max(1, math.ceil(math.hypot(x1 - x, y1 - y) / max(cell, 1.0)))
    px, py, pz, u_before = x, y, z, 0.0
    for k in range(1, pieces + 1):
        u = k / pieces
        qx = hermite(u, dt, x, vx, x1, vx1)
        qy = hermite(u, dt, y, vy, y1, vy1)
        qz = hermite(u, dt, z, vz, z1, vz1)
        if obstacles.rows > 0 and min(pz, qz) < obstacles.top:
            share = obstacle_between(obstacles, x_from, y_from, px, py, pz, qx, qy, qz)
            if share <= 1.0:
                u_hit = u_before + share * (u - u_before)
                g = height(grid, west, north, cell, px + share * (qx - px), py + share * (qy - py))
                return IN_TREE, u_hit, (last if math.isnan(g) else g), last
        g = height(grid, west, north, cell, qx, qy)
        known = not math.isnan(g)
        if known:
            last = g
        rising = vz + u * (vz1 - vz) > 0.0
        near = math.hypot(qx - x_from, qy - y_from) < CLEAR
        if qz <= last and not (rising and near) and (known or not rising):
            low, high = u_before, u
            for _ in range(24):
                u = 0.5 * (low + high)
                hx = hermite(u, dt, x, vx, x1, vx1)
                hy = hermite(u, dt, y, vy, y1, vy1)
                g = height(grid, west, north, cell, hx, hy)
                if hermite(u, dt, z, vz, z1, vz1) <= (last if math.isnan(g) else g):
                    high = u
                else:
                    low = u
            hx = hermite(high, dt, x, vx, x1, vx1)
            hy = hermite(high, dt, y, vy, y1, vy1)
            g = height(grid, west, north, cell, hx, hy)
            if math.isnan(g):
                return OFF_MAP, high, last, last
            return ON_GROUND, high, g, g
        px, py, pz, u_before = qx, qy, qz, u
    return NEVER, 1.0, last, last


# ---------------------------------------------------------------- flight over terrain


@kernel(python_entry=False)
def fly_over(land, obstacles, air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin):
    """Fly over the terrain by direct integration.

    Returns ``x, y, z, vx, vy, vz, spin, time, apex, how``: where the ball meets ground or obstacle (``z`` is the
    ground level there), its velocity and spin, the flight time, the apex above the start, and how it ended. A ball
    that leaves the terrain ends where it comes down through the last ground level seen (OFF_MAP).
    """
    x0, y0, z0 = x, y, z
    t = apex = 0.0
    last = height(land.z, land.x_west, land.y_north, land.cell, x, y)
    if math.isnan(last):
        last = z
    while t < 60.0:
        x1, y1, r1, vx1, vy1, vz1, spin1 = fly_once(air, dt, x, y, z - z0, vx, vy, vz, sx, sy, sz, spin)
        z1 = r1 + z0
        how, u, level, last = contact(
            land, obstacles, x0, y0, last, dt, x, y, z, vx, vy, vz, x1, y1, z1, vx1, vy1, vz1
        )
        if vz > 0.0 and vz1 <= 0.0 and vz / (vz - vz1) <= u:
            apex = max(apex, hermite(vz / (vz - vz1), dt, z, vz, z1, vz1) - z0)
        if how != NEVER:
            apex = max(apex, hermite(u, dt, z, vz, z1, vz1) - z0)
            a = between(u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1)
            return a[0], a[1], level, a[2], a[3], a[4], a[5], t + u * dt, apex, how
        x, y, z, vx, vy, vz, spin = x1, y1, z1, vx1, vy1, vz1, spin1
        t += dt
    return x, y, last, vx, vy, vz, spin, t, apex, OFF_MAP


@kernel(python_entry=False)
def cubic_weights(u):
    """Lagrange weights of four even nodes at -1, 0, 1, 2 for a place u."""
    a, b, c = u + 1.0, u - 1.0, u - 2.0
    return -u * b * c / 6.0, a * b * c / 2.0, -a * u * c / 2.0, a * u * b / 6.0


@kernel(python_entry=False)
def blend(nodes, i, a, js, b, count, k, c):
    """One component of the trajectory blended from 4 speeds and ``count`` wind angles at time node k."""
    total = 0.0
    for m in range(count):
        j = js[m]
        low = a[0] * nodes[i, j, k, c] + a[1] * nodes[i + 1, j, k, c]
        total += b[m] * (low + a[2] * nodes[i + 2, j, k, c] + a[3] * nodes[i + 3, j, k, c])
    return total


@kernel(python_entry=False)
def table_place(table, scale, heading):
    """Where a shot lies between the nodes of a table: ``i, weights, js, weights, count``."""
    speeds, angles = table.nodes.shape[0], table.nodes.shape[1]
    q = min(max((scale - table.scale_low) / table.scale_step, 0.0), speeds - 1.0)
    i = min(max(int(q) - 1, 0), speeds - 4)
    a = cubic_weights(q - i - 1.0)
    if angles == 1:
        return i, a, (0, 0, 0, 0), (1.0, 0.0, 0.0, 0.0), 1
    p = (table.wind_from - heading) / (2.0 * math.pi) * angles
    j = math.floor(p)
    b = cubic_weights(p - j)
    return i, a, ((j - 1) % angles, j % angles, (j + 1) % angles, (j + 2) % angles), b, 4


@kernel(python_entry=False)
def node(nodes, i, a, js, b, count, k, c, x, y, sh, ch):
    """Plan parts of place (c = 0) or velocity (c = 3) at time node k, east and north."""
    f = blend(nodes, i, a, js, b, count, k, c)
    r = blend(nodes, i, a, js, b, count, k, c + 1)
    return x + f * sh + r * ch, y + f * ch - r * sh


@kernel(python_entry=False)
def fly_to_ground(land, obstacles, table, x, y, z, heading, scale):
    """Fly over the terrain from tabulated trajectories: heading [rad from north], ball speed ``scale``.

    Returns what :func:`fly_over` returns, then the three parts of the unit spin axis.
    """
    i, a, js, b, count = table_place(table, scale, heading)
    nodes, dt = table.nodes, table.time_step
    final = nodes.shape[2] - 1
    sh, ch = math.sin(heading), math.cos(heading)
    ct, st = math.cos(table.tilt), math.sin(table.tilt)
    sx, sy, sz = ct * ch, -ct * sh, -st
    top = max(land.top, obstacles.top) - z
    last = height(land.z, land.x_west, land.y_north, land.cell, x, y)
    if math.isnan(last):
        last = z
    apex = up = 0.0
    rise = blend(nodes, i, a, js, b, count, 0, 5)
    ready = False
    px, py, vx, vy, qx, qy, wx, wy = x, y, 0.0, 0.0, x, y, 0.0, 0.0
    for k in range(final):
        up1 = blend(nodes, i, a, js, b, count, k + 1, 2)
        rise1 = blend(nodes, i, a, js, b, count, k + 1, 5)
        crest = rise / (rise - rise1) if rise > 0.0 and rise1 <= 0.0 else 2.0
        if min(up, up1) > top and k + 1 < final:  # above everything
            ready = False
            if crest <= 1.0:
                apex = hermite(crest, dt, up, rise, up1, rise1)
            up, rise = up1, rise1
            continue
        if not ready:
            px, py = node(nodes, i, a, js, b, count, k, 0, x, y, sh, ch)
            vx, vy = node(nodes, i, a, js, b, count, k, 3, 0.0, 0.0, sh, ch)
        qx, qy = node(nodes, i, a, js, b, count, k + 1, 0, x, y, sh, ch)
        wx, wy = node(nodes, i, a, js, b, count, k + 1, 3, 0.0, 0.0, sh, ch)
        ready = True
        how, u, level, last = contact(
            land, obstacles, x, y, last, dt, px, py, up + z, vx, vy, rise, qx, qy, up1 + z, wx, wy, rise1
        )
        if crest <= u:
            apex = hermite(crest, dt, up, rise, up1, rise1)
        if how != NEVER:
            w0 = blend(nodes, i, a, js, b, count, k, 6)
            spin = w0 + u * (blend(nodes, i, a, js, b, count, k + 1, 6) - w0)
            apex = max(apex, hermite(u, dt, up, rise, up1, rise1))
            lx, ly = hermite(u, dt, px, vx, qx, wx), hermite(u, dt, py, vy, qy, wy)
            vx, vy = hermite_rate(u, dt, px, vx, qx, wx), hermite_rate(u, dt, py, vy, qy, wy)
            vz = hermite_rate(u, dt, up, rise, up1, rise1)
            return lx, ly, level, vx, vy, vz, spin, (k + u) * dt, apex, how, sx, sy, sz
        px, py, vx, vy, up, rise = qx, qy, wx, wy, up1, rise1
    # deeper than the table: it goes on as it was falling
    t = final * dt
    spin = blend(nodes, i, a, js, b, count, final, 6)
    rise = min(rise, -1.0)
    while t < 60.0:
        qx, qy, up1 = px + dt * vx, py + dt * vy, up + dt * rise
        how, u, level, last = contact(
            land, obstacles, x, y, last, dt, px, py, up + z, vx, vy, rise, qx, qy, up1 + z, vx, vy, rise
        )
        if how != NEVER:
            t += u * dt
            return px + u * dt * vx, py + u * dt * vy, level, vx, vy, rise, spin, t, apex, how, sx, sy, sz
        px, py, up = qx, qy, up1
        t += dt
    return px, py, last, vx, vy, rise, spin, t, apex, OFF_MAP, sx, sy, sz


# ---------------------------------------------------------------- bounce and run


@kernel
def bounce(vx, vy, vz, wx, wy, wz, nx, ny, nz, k_e, k_t, mu):
    """Oblique impact on turf with unit normal n: velocity and spin after it.

    Rigid-sphere impulse with restitution falling with normal speed, in a frame tilted back towards the ball.
    """
    into = -(vx * nx + vy * ny + vz * nz)
    speed = math.sqrt(vx * vx + vy * vy + vz * vz)
    if into <= 1e-9 or speed <= 1e-9:
        return vx, vy, vz, wx, wy, wz
    tx, ty, tz = vx + into * nx, vy + into * ny, vz + into * nz
    along = math.sqrt(tx * tx + ty * ty + tz * tz)
    mx, my, mz = nx, ny, nz
    if along > 1e-9 * speed:
        tilt = k_t * math.radians(15.4) * (speed / 18.6) * 2.0 * (into / speed) * (along / speed)
        tilt = min(tilt, math.radians(30.0))
        c, s = math.cos(tilt), math.sin(tilt) / along
        mx, my, mz = c * nx - s * tx, c * ny - s * ty, c * nz - s * tz
    hit = -(vx * mx + vy * my + vz * mz)
    e = min(1.0, k_e * (0.510 - 0.0375 * hit + 0.000903 * hit * hit if hit <= 20.0 else 0.120))  # Penner 2002
    # slip of the contact point, in the tilted plane
    sx = vx + hit * mx - RADIUS * (wy * mz - wz * my)
    sy = vy + hit * my - RADIUS * (wz * mx - wx * mz)
    sz = vz + hit * mz - RADIUS * (wx * my - wy * mx)
    slip = math.sqrt(sx * sx + sy * sy + sz * sz)
    push = min(mu * (1.0 + e) * hit, 2.0 / 7.0 * slip)
    jx = jy = jz = 0.0
    if slip > 1e-12:
        jx, jy, jz = -push * sx / slip, -push * sy / slip, -push * sz / slip
    k = 5.0 / (2.0 * RADIUS)
    lift = (1.0 + e) * hit
    vx, vy, vz = vx + jx + lift * mx, vy + jy + lift * my, vz + jz + lift * mz
    wx -= k * (my * jz - mz * jy)
    wy -= k * (mz * jx - mx * jz)
    wz -= k * (mx * jy - my * jx)
    into = vx * nx + vy * ny + vz * nz
    if into < 0.0:  # a hard check spins the ball back along the tilted plane: the ground stops it
        vx, vy, vz = vx - into * nx, vy - into * ny, vz - into * nz
    return vx, vy, vz, wx, wy, wz


@kernel(python_entry=False)
def normal_at(land, x, y):
    """Smoothed level and unit normal at a point (nan where there is no ground)."""
    z, gx, gy = height_gradient(land.smooth, land.x_west, land.y_north, land.cell, x, y)
    k = 1.0 / math.sqrt(1.0 + gx * gx + gy * gy)
    return z, -gx * k, -gy * k, k


@kernel
def hop(land, x, y, z, vx, vy, vz, wx, wy, wz):
    """A hop from the ground to the next contact: in calm air while faster than HOP_AIR, else without air.

    Returns ``x, y, z, vx, vy, vz, time, on_map``; off the map it gives the last point that had ground under it.
    """
    smooth, x_west, y_north, cell = land.smooth, land.x_west, land.y_north, land.cell
    air = Air(MODEL_D, land.density, land.viscosity, 0.0, 0.0, 0.0, NO_OWN)
    spin = math.sqrt(wx * wx + wy * wy + wz * wz) + 1e-12
    sx, sy, sz = wx / spin, wy / spin, wz / spin
    pace = math.sqrt(vx * vx + vy * vy)
    dt = min(max(cell, HOP_STRIDE) / max(pace, 1e-6), 0.2)
    if vz > 0.0:
        dt = min(dt, vz / G)
    t = gap = 0.0
    while t < 20.0:
        ax, ay, az = 0.0, 0.0, -G
        if vx * vx + vy * vy + vz * vz > HOP_AIR * HOP_AIR:  # midpoint rule
            ax, ay, az, _ = acceleration(air, 0.0, vx, vy, vz, sx, sy, sz, spin)
            h = 0.5 * dt
            ax, ay, az, _ = acceleration(air, 0.0, vx + h * ax, vy + h * ay, vz + h * az, sx, sy, sz, spin)
        x1, y1 = x + (vx + 0.5 * ax * dt) * dt, y + (vy + 0.5 * ay * dt) * dt
        g = height(smooth, x_west, y_north, cell, x1, y1)
        if math.isnan(g):
            return x, y, z, vx, vy, 0.0, t, False
        z1 = z + (vz + 0.5 * az * dt) * dt
        gap1 = z1 - g
        if gap1 <= 0.0:
            low, high, f_low, f_high = 0.0, dt, max(gap, 0.0), gap1
            for _ in range(12):
                if high - low < 1e-5 or f_high > -1e-3:
                    break
                h = low + (high - low) * min(max(f_low / (f_low - f_high), 0.1), 0.95)
                xh, yh = x + (vx + 0.5 * ax * h) * h, y + (vy + 0.5 * ay * h) * h
                ground = height(smooth, x_west, y_north, cell, xh, yh)
                f = z + (vz + 0.5 * az * h) * h - ground
                if f <= 0.0:
                    high, f_high, g, x1, y1 = h, f, ground, xh, yh
                else:
                    low, f_low = h, f
            return x1, y1, g, vx + ax * high, vy + ay * high, vz + az * high, t + high, True
        x, y, z, gap = x1, y1, z1, gap1
        vx, vy, vz = vx + ax * dt, vy + ay * dt, vz + az * dt
        t += dt
    return x, y, z, vx, vy, vz, t, True


@kernel
def skid(land, x, y, vx, vy, vz, wx, wy, wz, mu):
    """Turn sliding into rolling on the spot's plane: place after the skid, rolling velocity, time taken."""
    z, nx, ny, nz = normal_at(land, x, y)
    into = vx * nx + vy * ny + vz * nz
    vx, vy, vz = vx - into * nx, vy - into * ny, vz - into * nz
    sx = vx - RADIUS * (wy * nz - wz * ny)
    sy = vy - RADIUS * (wz * nx - wx * nz)
    sz = vz - RADIUS * (wx * ny - wy * nx)
    t = 2.0 / 7.0 * math.sqrt(sx * sx + sy * sy + sz * sz) / (mu * G)
    k = 2.0 / 7.0
    x1, y1 = x + (vx - 0.5 * k * sx) * t, y + (vy - 0.5 * k * sy) * t
    z1 = height(land.smooth, land.x_west, land.y_north, land.cell, x1, y1)
    vx, vy, vz = vx - k * sx, vy - k * sy, vz - k * sz
    if math.isnan(z1):
        return x, y, vx, vy, t
    speed2 = vx * vx + vy * vy + vz * vz
    left = speed2 - 10.0 / 7.0 * G * (z1 - z)
    share = math.sqrt(max(left, 0.0) / speed2) if 0.0 < left < speed2 else (1.0 if left > 0.0 else 0.0)
    return x1, y1, vx * share, vy * share, t


@kernel
def roll(land, x, y, vx, vy):
    """Roll along the slope until at rest: ``x, y, kind, time``. vx, vy are the plan parts of the velocity.

    The speed follows from energy (height lost, resistance along the way), the direction from the slope.
    """
    smooth, x_west, y_north, cell = land.smooth, land.x_west, land.y_north, land.cell
    kinds, turf = land.kind, land.turf
    stride, per = max(0.5 * cell, ROLL_STRIDE), 1.0 / cell
    pull = 5.0 / 7.0 * G
    t = 0.0
    z, gx, gy = height_gradient(smooth, x_west, y_north, cell, x, y)
    vz = gx * vx + gy * vy
    speed = math.sqrt(vx * vx + vy * vy + vz * vz)
    while t < LONGEST_ROLL:
        kind = int(kinds[int((y_north - y) * per), int((x - x_west) * per)])
        rho = turf[kind, RHO_G]
        steep2 = gx * gx + gy * gy
        if turf[kind, ENDS] == STOPS or (speed < REST_SPEED and steep2 <= rho * rho):
            return x, y, kind, t
        flat2 = 1.0 / (1.0 + steep2)
        down_x, down_y = -pull * flat2 * gx, -pull * flat2 * gy
        brake = pull * rho * math.sqrt(flat2)
        if speed > 1e-9:
            ax, ay = down_x - brake * vx / speed, down_y - brake * vy / speed
        else:  # it starts to roll down
            hold = 1.0 - rho / math.sqrt(steep2)
            ax, ay = down_x * hold, down_y * hold
        size = math.sqrt(ax * ax + ay * ay) + 1e-12
        against = -(ax * vx + ay * vy)
        if speed * speed < 2.0 * LAST_STRIDE * size and steep2 < 0.8 * rho * rho and against > 0.0:
            last = 0.5 * (vx * vx + vy * vy) / against
            z1 = height(smooth, x_west, y_north, cell, x + last * vx, y + last * vy)
            if not math.isnan(z1):
                x, y, t = x + last * vx, y + last * vy, t + 2.0 * last
                return x, y, kind_at(land, x, y), t
        dt = min(ROLL_STEP_S, stride / max(speed, 1e-6), max(0.004, 0.5 * speed / size))
        ux, uy = vx + ax * dt, vy + ay * dt
        if speed > TURNS_SPEED:  # the resistance acts along the mean direction of the step
            share = dt * brake / (math.sqrt((vx + ux) * (vx + ux) + (vy + uy) * (vy + uy)) + 1e-12)
            ux, uy = vx + dt * down_x - share * (vx + ux), vy + dt * down_y - share * (vy + uy)
        dx, dy = 0.5 * (vx + ux) * dt, 0.5 * (vy + uy) * dt
        z1, gx1, gy1 = height_gradient(smooth, x_west, y_north, cell, x + dx, y + dy)
        if math.isnan(z1):
            return x, y, KIND_OFF_MAP, t
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
    return x, y, kind_at(land, x, y), t


@kernel
def land_and_run(land, x, y, vx, vy, vz, wx, wy, wz):
    """Bounce and run to rest from the landing point: ``x, y, kind, time``.

    ``v`` is the velocity and ``w`` the spin vector at landing. Water and sand take a ball that lands in them;
    a ball that leaves the terrain stops at its last point with KIND_OFF_MAP.
    """
    t = 0.0
    kind = kind_at(land, x, y)
    z, nx, ny, nz = normal_at(land, x, y)
    if math.isnan(z):
        return x, y, KIND_OFF_MAP, t
    for _ in range(MOST_BOUNCES):
        if land.turf[kind, ENDS] != RUNS:
            return x, y, kind, t
        k_e, k_t, mu = land.turf[kind, K_E], land.turf[kind, K_T], land.turf[kind, MU]
        vx, vy, vz, wx, wy, wz = bounce(vx, vy, vz, wx, wy, wz, nx, ny, nz, k_e, k_t, mu)
        off = vx * nx + vy * ny + vz * nz
        if off * off < 2.0 * G * HOP_HEIGHT:
            break
        x, y, z, vx, vy, vz, dt, on_map = hop(land, x, y, z, vx, vy, vz, wx, wy, wz)
        t += dt
        if not on_map:
            return x, y, KIND_OFF_MAP, t
        kind = kind_at(land, x, y)
        z, nx, ny, nz = normal_at(land, x, y)
    x, y, vx, vy, dt = skid(land, x, y, vx, vy, vz, wx, wy, wz, land.turf[kind, MU])
    t += dt
    x, y, kind, dt = roll(land, x, y, vx, vy)
    return x, y, kind, t + dt


# ---------------------------------------------------------------- whole shots


@kernel(python_entry=False)
def finish(land, x, y, z, vx, vy, vz, sx, sy, sz, spin, air_s, apex, how, out):
    """Run the ball out from the end of its flight and write the record of the shot, columns as in RECORD."""
    pace = math.hypot(vx, vy)
    out[0], out[1], out[2] = x, y, z
    out[8], out[9], out[10] = apex, math.degrees(math.atan2(-vz, pace)), math.hypot(pace, vz)
    out[11], out[12], out[13], out[14] = air_s, 0.0, spin, how
    if how == ON_GROUND:
        out[3] = kind_at(land, x, y)
        x1, y1, kind, out[12] = land_and_run(land, x, y, vx, vy, vz, sx * spin, sy * spin, sz * spin)
        z1 = height(land.z, land.x_west, land.y_north, land.cell, x1, y1)
        out[4], out[5], out[6], out[7] = x1, y1, (z if math.isnan(z1) else z1), kind
    else:  # it drops down from the tree, or is gone
        kind = KIND_OFF_MAP
        if how == IN_TREE:
            kind = kind_at(land, x, y)
            if kind != KIND_WATER and kind != KIND_OUT and kind != KIND_OFF_MAP:
                kind = KIND_TREES
        out[3] = out[7] = kind
        out[4], out[5], out[6] = x, y, z


@kernel
def play(land, obstacles, table, x, y, z, heading, scale, out):
    """One complete shot from a table: flight, bounces, run to rest, written to a record (see RECORD)."""
    lx, ly, lz, vx, vy, vz, spin, t, apex, how, sx, sy, sz = fly_to_ground(
        land, obstacles, table, x, y, z, heading, scale
    )
    finish(land, lx, ly, lz, vx, vy, vz, sx, sy, sz, spin, t, apex, how, out)


@kernel
def play_many(land, obstacles, table, xs, ys, zs, headings, scales, out):
    """Many complete shots from one table; ``out`` is ``(n, RECORD_SIZE)``."""
    for k in range(headings.size):
        play(land, obstacles, table, xs[k], ys[k], zs[k], headings[k], scales[k], out[k])


@kernel
def play_directly(land, obstacles, air, dt, x, y, z, speed, launch, spin, tilt, headings, scales, out):
    """Complete shots by direct integration, no table: for checks and for single shots."""
    for k in range(headings.size):
        sh, ch = math.sin(headings[k]), math.cos(headings[k])
        v = speed * scales[k]
        flat, up, w = v * math.cos(launch), v * math.sin(launch), spin * scales[k]
        sx, sy, sz = math.cos(tilt) * ch, -math.cos(tilt) * sh, -math.sin(tilt)
        lx, ly, lz, vx, vy, vz, w, t, apex, how = fly_over(
            land, obstacles, air, dt, x, y, z, flat * sh, flat * ch, up, sx, sy, sz, w
        )
        finish(land, lx, ly, lz, vx, vy, vz, sx, sy, sz, w, t, apex, how, out[k])
