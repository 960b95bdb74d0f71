"""Compiled loops of free flight: air, drag and lift, the integration of one ball and of many side by side.

Arrays and plain numbers only, SI units. East is x, north is y, up is z. Spin is a vector by the right-hand
rule: pure backspin points to the right of play, a tilted axis is ``right * cos(tilt) - up * sin(tilt)`` and curves the
ball to the right. Terrain, obstacles and what follows the landing are in :mod:`gistools.shots._kernels`, which
hands all of this on. Formulas, sources and trust tags are in the public modules.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools._jit import inlined, inner, kernel

G = 9.80665  # standard gravity [m/s2], ISO 2533
MASS = 0.04593  # heaviest ball [kg], Equipment Rules
RADIUS = 0.021335  # smallest ball [m], Equipment Rules
AREA_PER_MASS = math.pi * RADIUS * RADIUS / MASS
SPIN_DECAY = 2.0e-5  # Smits & Smith 1994 [seen via Nathan 2008]

MODEL_D, MODEL_Q, MODEL_SS, VACUUM, MODEL_OWN = 0, 1, 2, 3, 4

WIND_FLOOR = 2.0  # wind below this height above the start is that at it [m] (assumption, see flight)
REF_HEIGHT = 10.0  # height of stated wind speeds [m]

ROUNDER = 6755399441055744.0  # 1.5 * 2^52: adding it rounds to whole numbers
ROUNDER_BITS = 0x4338000000000000
ROOT_HALF = 0x3FE6A09E667F3BCD  # bits of sqrt(1/2)
MANTISSA = 0x000FFFFFFFFFFFFF
LN2 = math.log(2.0)

OWN_TERMS = 10  # terms of coefficients of one's own, see own_terms
OWN_SPIN = (0.02, 1.2)  # spin ratios and Reynolds numbers they are given for; beyond, they are held
OWN_RE = (40000.0, 250000.0)
NO_OWN = (0.0,) * (2 * OWN_TERMS)

LANES = 32  # flights integrated side by side, so that the processor works on several at once (speed only)
LANE_ROWS = 30  # see step_lanes


class Air(NamedTuple):
    """Air and aerodynamic model: model code, density [kg/m3], kinematic viscosity [m2/s], wind at 10 m by where it blows to [m/s],
    shear ``1 / ln(10 m / roughness)``, weights of drag and lift for coefficients of one's own.
    """

    model: int
    density: float
    viscosity: float
    wind_east: float
    wind_north: float
    shear: float
    own: tuple = NO_OWN


# ---------------------------------------------------------------- air


@inlined
def natural_log(x):
    """ln(x) of a normal positive number, within 3e-7 (polynomial fitted to ln on half an octave either side of 1)."""
    bits = np.float64(x).view(np.int64) - ROOT_HALF
    y = np.int64((bits & MANTISSA) + ROOT_HALF).view(np.float64) - 1.0
    octaves = np.int64((bits >> 52) + ROUNDER_BITS).view(np.float64) - ROUNDER
    y2 = y * y
    low = (1.000003247870984 - 0.5000196508676683 * y) + y2 * (0.3330329700409257 - 0.24881342548014287 * y)
    high = 0.20604694702581478 - 0.1890195272355819 * y + 0.11827366032657609 * y2
    return y * (low + y2 * y2 * high) + octaves * LN2


@inlined
def wind_share(above, shear):
    """Wind at a height above the start as a share of that at 10 m: log law, held below WIND_FLOOR."""
    return 1.0 + shear * natural_log(max(above, WIND_FLOOR) * (1.0 / REF_HEIGHT))


@inlined
def exponential(x):
    """exp(x) for x from -700 to 700, within 1.1e-7 of it, exact at 0 (polynomial fitted to exp on half an octave about 1)."""
    t = x * (1.0 / LN2) + ROUNDER
    y = x - (t - ROUNDER) * LN2
    y2 = y * y
    p = 1.0 + y + y2 * (0.49999231465804733 + 0.16667114636732824 * y)
    p += y2 * y2 * (0.04189015991938427 + 0.008312522242731797 * y)
    return np.int64(np.float64(p).view(np.int64) + (np.float64(t).view(np.int64) << 52)).view(np.float64)


@inlined
def inverse_root(x):
    """1 / sqrt(x) of a normal positive number, within 6e-7 of it: two Newton steps, centred, from halving the exponent."""
    y = np.int64(0x5FE6EB50C7B537A9 - (np.float64(x).view(np.int64) >> 1)).view(np.float64)
    h = 0.5 * x
    y *= 1.5008909 - h * (y * y)
    return y * (1.5000006 - h * (y * y))


@inlined
def own_terms(s, re):
    """Terms that coefficients of one's own are made of, at spin ratio s and Reynolds number re."""
    s = min(max(s, OWN_SPIN[0]), OWN_SPIN[1])
    re = min(max(re, OWN_RE[0]), OWN_RE[1])
    x = 1.0 - exponential(-s / 0.145)
    q = exponential((61000.0 - re) / 7000.0)
    y, r = q / (1.0 + q), re * 1e-5
    return 1.0, s, s * s, math.sqrt(s), x, x * x, y, x * y, r, r * s


@kernel
def own_coefficients(own, s, re):
    """Drag and lift coefficients of one's own; lift goes to nothing with spin."""
    terms = own_terms(s, re)
    cd = cl = 0.0
    for k in range(OWN_TERMS):
        cd += own[k] * terms[k]
        cl += own[OWN_TERMS + k] * terms[k]
    return cd, cl * min(s / OWN_SPIN[0], 1.0)


@inlined
def coefficients(model, s, re, own=NO_OWN):
    """Drag and lift coefficients at spin ratio s and Reynolds number re."""
    if model == MODEL_D:
        cl = 0.34 * (1.0 - exponential(-min(s, 4.0) / 0.145))
        q = exponential((61000.0 - min(re, 300000.0)) / 7000.0)
        return 0.21 + 1.05 * cl * cl + 0.30 * q / (1.0 + q), cl
    if model == MODEL_Q:
        return 0.171 + 0.62 * s, (0.083 + 0.885 * s if s > 0.0 else 0.0)
    if model == MODEL_SS:
        return 0.24 + 0.18 * s, 0.54 * s**0.4
    if model == MODEL_OWN:
        return own_coefficients(own, s, re)
    return 0.0, 0.0


@inlined
def against_air(air, above, vx, vy, vz):
    """Velocity relative to the air east and north, speed in it and its inverse."""
    share = wind_share(above, air.shear)
    ux, uy = vx - air.wind_east * share, vy - air.wind_north * share
    speed2 = ux * ux + uy * uy + vz * vz + 1e-18
    slow = inverse_root(speed2)
    return ux, uy, speed2 * slow, slow


@inlined
def push(air, ux, uy, uz, speed, cd, cl, sx, sy, sz, spin):
    """Acceleration of the ball and of its spin."""
    q = 0.5 * air.density * AREA_PER_MASS * speed
    cx = sy * uz - sz * uy
    cy = sz * ux - sx * uz
    cz = sx * uy - sy * ux
    lift = q * speed * cl * inverse_root(cx * cx + cy * cy + cz * cz + 1e-18)
    drag = q * cd
    decay = 0.0 if air.model == VACUUM else SPIN_DECAY / RADIUS * spin * speed
    return lift * cx - drag * ux, lift * cy - drag * uy, lift * cz - drag * uz - G, -decay


@inlined
def acceleration(air, above, vx, vy, vz, sx, sy, sz, spin):
    """Acceleration of the ball and of its spin; s is the unit spin axis, ``above`` the height above the start."""
    ux, uy, speed, slow = against_air(air, above, vx, vy, vz)
    cd, cl = coefficients(air.model, RADIUS * spin * slow, 2.0 * RADIUS * speed / air.viscosity, air.own)
    return push(air, ux, uy, vz, speed, cd, cl, sx, sy, sz, spin)


@inlined
def fly_step(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin):
    """One step of the classical fourth-order Runge-Kutta scheme; z counts from the start.

    Copied into its callers: where the model is a constant there, no branch is left.
    """
    h = 0.5 * dt
    a1 = acceleration(air, z, vx, vy, vz, sx, sy, sz, spin)
    v2 = (vx + h * a1[0], vy + h * a1[1], vz + h * a1[2])
    a2 = acceleration(air, z + h * vz, v2[0], v2[1], v2[2], sx, sy, sz, spin + h * a1[3])
    v3 = (vx + h * a2[0], vy + h * a2[1], vz + h * a2[2])
    a3 = acceleration(air, z + h * v2[2], v3[0], v3[1], v3[2], sx, sy, sz, spin + h * a2[3])
    v4 = (vx + dt * a3[0], vy + dt * a3[1], vz + dt * a3[2])
    a4 = acceleration(air, z + dt * v3[2], v4[0], v4[1], v4[2], sx, sy, sz, spin + dt * a3[3])
    k = dt / 6.0
    return (
        x + k * (vx + 2.0 * (v2[0] + v3[0]) + v4[0]),
        y + k * (vy + 2.0 * (v2[1] + v3[1]) + v4[1]),
        z + k * (vz + 2.0 * (v2[2] + v3[2]) + v4[2]),
        vx + k * (a1[0] + 2.0 * (a2[0] + a3[0]) + a4[0]),
        vy + k * (a1[1] + 2.0 * (a2[1] + a3[1]) + a4[1]),
        vz + k * (a1[2] + 2.0 * (a2[2] + a3[2]) + a4[2]),
        spin + k * (a1[3] + 2.0 * (a2[3] + a3[3]) + a4[3]),
    )


@inner
def fly_once(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin):
    """:func:`fly_step` for one flight at a time, any model."""
    return fly_step(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin)


@inner
def step_lanes(air, dt, lanes):
    """Advance LANES flights by one step of the scheme of :func:`fly_step`.

    ``lanes`` holds LANE_ROWS runs of LANES numbers (one array, so that the compiler sees they do not overlap): 0 to 6
    place, velocity, spin, which change; 7 to 11 spin axis and wind; then room for one stage: 12 to 16 height, velocity,
    spin; 17 to 23 weighted rates; 24 to 29 velocity in the air, speed, its inverse, drag, lift. A stage is
    three short loops: their lanes do not wait for each other, so the processor works on many at once.
    """
    w = LANES
    if air.model != MODEL_D:
        s = lanes.reshape(LANE_ROWS, LANES)
        for m in range(LANES):
            a = Air(air.model, air.density, air.viscosity, s[10, m], s[11, m], air.shear, air.own)
            (s[0, m], s[1, m], s[2, m], s[3, m], s[4, m], s[5, m], s[6, m]) = fly_once(
                a,
                dt,
                s[0, m],
                s[1, m],
                s[2, m],
                s[3, m],
                s[4, m],
                s[5, m],
                s[7, m],
                s[8, m],
                s[9, m],
                s[6, m],
            )
        return
    for m in range(5 * LANES):
        lanes[12 * w + m] = lanes[2 * w + m]
    for m in range(7 * LANES):
        lanes[17 * w + m] = 0.0
    re = 2.0 * RADIUS / air.viscosity
    for stage in range(4):
        h = dt if stage == 2 else 0.5 * dt
        share = dt / 3.0 if stage == 1 or stage == 2 else dt / 6.0
        for m in range(LANES):
            a = Air(MODEL_D, air.density, air.viscosity, lanes[10 * w + m], lanes[11 * w + m], air.shear)
            moving = against_air(
                a, lanes[12 * w + m], lanes[13 * w + m], lanes[14 * w + m], lanes[15 * w + m]
            )
            lanes[24 * w + m], lanes[25 * w + m] = moving[0], moving[1]
            lanes[26 * w + m], lanes[27 * w + m] = moving[2], moving[3]
        for m in range(LANES):
            lanes[28 * w + m], lanes[29 * w + m] = coefficients(
                MODEL_D, RADIUS * lanes[16 * w + m] * lanes[27 * w + m], re * lanes[26 * w + m]
            )
        for m in range(LANES):
            vx, vy, vz, spin = lanes[13 * w + m], lanes[14 * w + m], lanes[15 * w + m], lanes[16 * w + m]
            ax, ay, az, decay = push(
                air, lanes[24 * w + m], lanes[25 * w + m], vz, lanes[26 * w + m], lanes[28 * w + m], lanes[29 * w + m],
                lanes[7 * w + m], lanes[8 * w + m], lanes[9 * w + m], spin
            )  # fmt: skip
            lanes[12 * w + m] = lanes[2 * w + m] + h * vz
            lanes[13 * w + m] = lanes[3 * w + m] + h * ax
            lanes[14 * w + m] = lanes[4 * w + m] + h * ay
            lanes[15 * w + m] = lanes[5 * w + m] + h * az
            lanes[16 * w + m] = lanes[6 * w + m] + h * decay
            lanes[17 * w + m] += share * vx
            lanes[18 * w + m] += share * vy
            lanes[19 * w + m] += share * vz
            lanes[20 * w + m] += share * ax
            lanes[21 * w + m] += share * ay
            lanes[22 * w + m] += share * az
            lanes[23 * w + m] += share * decay
    for m in range(7 * LANES):
        lanes[m] += lanes[17 * w + m]


@inner
def hermite(u, dt, a, va, b, vb):
    """Cubic through two values with their rates, at share u of the step dt."""
    u2 = u * u
    u3 = u2 * u
    return (
        (2.0 * u3 - 3.0 * u2 + 1.0) * a
        + (u3 - 2.0 * u2 + u) * dt * va
        + (3.0 * u2 - 2.0 * u3) * b
        + (u3 - u2) * dt * vb
    )


@inner
def hermite_rate(u, dt, a, va, b, vb):
    """Rate of the cubic of :func:`hermite` at share u."""
    return 6.0 * u * (1.0 - u) * (b - a) / dt + (1.0 - u) * (1.0 - 3.0 * u) * va + u * (3.0 * u - 2.0) * vb


@inner
def between(u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1):
    """State at share u of a step: ``x, y, vx, vy, vz, spin``."""
    px, py = hermite(u, dt, x, vx, x1, vx1), hermite(u, dt, y, vy, y1, vy1)
    v = 1.0 - u
    return px, py, v * vx + u * vx1, v * vy + u * vy1, v * vz + u * vz1, v * spin + u * spin1


@inner
def coming_down(dt, level, z, vz, z1, vz1):
    """Where a step comes down through a level: ``u, apex`` (u = 2: not yet; apex = -inf: not in this step)."""
    apex = -math.inf
    low = 0.0
    if vz > 0.0 and vz1 <= 0.0:
        low = vz / (vz - vz1)
        apex = hermite(low, dt, z, vz, z1, vz1)
        if apex <= level:
            return low, apex
    if vz1 >= 0.0 or z1 > level:
        return 2.0, apex
    high, side = 1.0, 0
    f_low, f_high = hermite(low, dt, z, vz, z1, vz1) - level, z1 - level
    u = high
    for _ in range(40):  # false position, Illinois rule
        if f_low <= f_high:
            break
        u = low + (high - low) * f_low / (f_low - f_high)
        f = hermite(u, dt, z, vz, z1, vz1) - level
        if abs(f) < 1e-9:
            break
        if f > 0.0:
            low, f_low = u, f
            f_high *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            high, f_high = u, f
            f_low *= 0.5 if side == -1 else 1.0
            side = -1
    return u, apex


@kernel
def fly_to_level(air, dt, vx, vy, vz, sx, sy, sz, spin, level):
    """Fly from the origin until the ball comes down through ``level``: the direct integration on a plane.

    Returns ``x, y, vx, vy, vz, spin, time, apex``. A ball that never gets up to the level ends at its highest point.
    """
    x = y = z = t = apex = 0.0
    while t < 60.0:
        x1, y1, z1, vx1, vy1, vz1, spin1 = fly_once(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin)
        u, crest = coming_down(dt, level, z, vz, z1, vz1)
        apex = max(apex, crest)
        if u <= 1.0:
            a = between(u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1)
            return a[0], a[1], a[2], a[3], a[4], a[5], t + u * dt, apex
        x, y, z, vx, vy, vz, spin = x1, y1, z1, vx1, vy1, vz1, spin1
        t += dt
    return x, y, vx, vy, vz, spin, t, apex


@inner
def set_lane(s, m, speed, launch, spin, tilt, wind_east, wind_north):
    """Put a shot due north into lane m, column m of ``s``."""
    s[0, m] = s[1, m] = s[2, m] = s[3, m] = 0.0
    s[4, m], s[5, m], s[6, m] = speed * math.cos(launch), speed * math.sin(launch), spin
    s[7, m], s[8, m], s[9, m] = math.cos(tilt), 0.0, -math.sin(tilt)
    s[10, m], s[11, m] = wind_east, wind_north


@kernel
def fly_many_to_level(air, dt, speeds, launches, spins, tilts, level, out):
    """Direct flights due north to a level, one per row: ``out`` is ``(n, 8)`` as returned by `fly_to_level`.

    LANES flights are in the air at a time; a lane whose ball is down takes the next one.
    """
    lanes = np.empty(LANE_ROWS * LANES)
    s = lanes.reshape(LANE_ROWS, LANES)
    kept = np.empty(7 * LANES)
    before = kept.reshape(7, LANES)
    which, began = np.empty(LANES, np.int64), np.zeros(LANES)
    n = speeds.size
    for m in range(LANES):
        k = min(m, n - 1)
        which[m] = m if m < n else -1
        set_lane(s, m, speeds[k], launches[k], spins[k], tilts[k], air.wind_east, air.wind_north)
    out[:, 7] = 0.0
    following, left, t = LANES, n, 0.0
    while left > 0:
        for m in range(7 * LANES):
            kept[m] = lanes[m]
        step_lanes(air, dt, lanes)
        t += dt
        events = 0
        for m in range(LANES):
            down = (s[5, m] <= 0.0) & ((s[2, m] <= level) | (before[5, m] > 0.0))
            events += down | (t - began[m] >= 60.0)
        if events == 0:
            continue
        for m in range(LANES):
            late = t - began[m] >= 60.0
            if which[m] < 0 or not (late or (s[5, m] <= 0.0 and (s[2, m] <= level or before[5, m] > 0.0))):
                continue
            u, crest = coming_down(dt, level, before[2, m], before[5, m], s[2, m], s[5, m])
            row = out[which[m]]
            row[7] = max(row[7], crest)
            if u > 1.0 and not late:
                continue
            u = min(u, 1.0)
            row[0], row[1], row[2], row[3], row[4], row[5] = between(
                u, dt, before[0, m], before[1, m], before[3, m], before[4, m], before[5, m], before[6, m],
                s[0, m], s[1, m], s[3, m], s[4, m], s[5, m], s[6, m]
            )  # fmt: skip
            row[6] = t - began[m] - (1.0 - u) * dt
            left -= 1
            which[m] = -1
            if following < n:
                k = following
                which[m], began[m] = k, t
                set_lane(s, m, speeds[k], launches[k], spins[k], tilts[k], air.wind_east, air.wind_north)
                following += 1


@kernel
def trace(air, dt, every, speed, launch, spin, tilt, out):
    """Fill ``out[k] = (x, y, z, vx, vy, vz, spin)`` of a shot due north at times ``k * every * dt``."""
    vy, vz = speed * math.cos(launch), speed * math.sin(launch)
    sx, sz = math.cos(tilt), -math.sin(tilt)
    x = y = z = vx = 0.0
    for k in range(out.shape[0]):
        out[k, 0], out[k, 1], out[k, 2] = x, y, z
        out[k, 3], out[k, 4], out[k, 5], out[k, 6] = vx, vy, vz, spin
        for _ in range(every):
            x, y, z, vx, vy, vz, spin = fly_once(air, dt, x, y, z, vx, vy, vz, sx, 0.0, sz, spin)


@kernel
def fill_nodes(air, wind, dt, every, speeds, launch, spins, tilt, nodes):
    """Fill the nodes of a `Table`: trajectories in a wind of speed ``wind`` from every angle (``air`` itself is calm).

    ``speeds`` and ``spins`` hold one number for each ball speed scale.
    """
    lanes = np.empty(LANE_ROWS * LANES)
    s = lanes.reshape(LANE_ROWS, LANES)
    angles = nodes.shape[1]
    n = nodes.shape[0] * angles
    for first in range(0, n, LANES):
        for m in range(LANES):
            k = min(first + m, n - 1)
            speed, spin = speeds[k // angles], spins[k // angles]
            angle = 2.0 * math.pi * (k % angles) / angles
            we, wn = -wind * math.sin(angle), -wind * math.cos(angle)
            set_lane(s, m, speed, launch, spin, tilt, we, wn)
        for node in range(nodes.shape[2]):
            for m in range(min(LANES, n - first)):
                row = nodes[(first + m) // angles, (first + m) % angles, node]
                row[0], row[1], row[2] = s[1, m], s[0, m], s[2, m]  # forward is north, right is east
                row[3], row[4], row[5], row[6] = s[4, m], s[3, m], s[5, m], s[6, m]
            for _ in range(every):
                step_lanes(air, dt, lanes)
