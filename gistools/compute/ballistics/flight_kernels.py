"""Compiled loops of free flight: air, drag and lift, the integration of one ball and of many side by side.

Arrays and plain numbers only, SI units. East is x, north is y, up is z. Spin is a vector by the right-hand
rule: pure backspin points to the right of play, a tilted axis is ``right * cos(tilt) - up * sin(tilt)`` and curves the
ball to the right. Terrain, obstacles and what follows the landing are in :mod:`gistools.compute.ballistics.shot_kernels`, which
hands all of this on. Formulas, sources and trust tags are in the public modules.

One ball flies in double precision (:func:`fly_once`). Many due north fly side by side in single precision
(:func:`step_lanes`), twice as many at once for the processor; they land within 1 mm of the same flight in double.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel

G = 9.80665  # standard gravity [m/s2], ISO 2533
MASS = 0.04593  # heaviest ball [kg], Equipment Rules
RADIUS = 0.021335  # smallest ball [m], Equipment Rules
AREA_PER_MASS = math.pi * RADIUS * RADIUS / MASS
SPIN_DECAY = 2.0e-5  # Smits & Smith 1994 [seen via Nathan 2008]

MODEL_D, MODEL_Q, MODEL_SS, VACUUM, MODEL_OWN = 0, 1, 2, 3, 4

WIND_FLOOR = 2.0  # wind below this height above the start is that at it [m] (assumption, see flight)
REF_HEIGHT = 10.0  # height of stated wind speeds [m]

OWN_TERMS = 10  # terms of coefficients of one's own, see own_terms
OWN_SPIN = (0.02, 1.2)  # spin ratios and Reynolds numbers they are given for; beyond, they are held
OWN_RE = (40000.0, 250000.0)
NO_OWN = (0.0,) * (2 * OWN_TERMS)

LANES = 64  # flights integrated side by side, so that the processor works on several at once (speed only)
LANE_ROWS = 29  # see step_lanes
LONGEST = 60.0  # no flight is followed longer [s]

Single, Whole = np.float32, np.int32
ONE = Single(1.0)
ONE_BITS = Whole(0x3F800000)
MANTISSA = Whole(0x007FFFFF)
ROUNDER = Single(1.5 * 2.0**23)  # adding it rounds to whole numbers
OCTAVE = math.log(2.0)


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


@kernel(inline=True, fastmath=True)
def wind_share(above, shear):
    """Wind at a height above the start as a share of that at 10 m: log law, held below WIND_FLOOR."""
    return 1.0 + shear * math.log(max(above, WIND_FLOOR) * (1.0 / REF_HEIGHT))


@kernel(inline=True, fastmath=True)
def own_terms(s, re):
    """Terms that coefficients of one's own are made of, at spin ratio s and Reynolds number re."""
    s = min(max(s, OWN_SPIN[0]), OWN_SPIN[1])
    re = min(max(re, OWN_RE[0]), OWN_RE[1])
    x = 1.0 - math.exp(-s / 0.145)
    q = math.exp((61000.0 - re) / 7000.0)
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


@kernel(inline=True, fastmath=True)
def coefficients(model, s, re, own=NO_OWN):
    """Drag and lift coefficients at spin ratio s and Reynolds number re."""
    if model == MODEL_D:
        cl = 0.34 * (1.0 - math.exp(-min(s, 4.0) / 0.145))
        q = math.exp((61000.0 - min(re, 300000.0)) / 7000.0)
        return 0.21 + 1.05 * cl * cl + 0.30 * q / (1.0 + q), cl
    if model == MODEL_Q:
        return 0.171 + 0.62 * s, (0.083 + 0.885 * s if s > 0.0 else 0.0)
    if model == MODEL_SS:
        return 0.24 + 0.18 * s, 0.54 * s**0.4
    if model == MODEL_OWN:
        return own_coefficients(own, s, re)
    return 0.0, 0.0


@kernel(inline=True, fastmath=True)
def acceleration(air, above, vx, vy, vz, sx, sy, sz, spin):
    """Acceleration of the ball and of its spin; s is the unit spin axis, ``above`` the height above the start."""
    share = wind_share(above, air.shear)
    ux, uy = vx - air.wind_east * share, vy - air.wind_north * share
    speed = math.sqrt(ux * ux + uy * uy + vz * vz + 1e-18)
    cd, cl = coefficients(air.model, RADIUS * spin / speed, 2.0 * RADIUS * speed / air.viscosity, air.own)
    cx = sy * vz - sz * uy
    cy = sz * ux - sx * vz
    cz = sx * uy - sy * ux
    q = 0.5 * air.density * AREA_PER_MASS * speed
    lift = q * speed * cl / math.sqrt(cx * cx + cy * cy + cz * cz + 1e-18)
    drag = q * cd
    decay = 0.0 if air.model == VACUUM else SPIN_DECAY / RADIUS * spin * speed
    return lift * cx - drag * ux, lift * cy - drag * uy, lift * cz - drag * vz - G, -decay


@kernel(python_entry=False)
def fly_once(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin):
    """One step of the classical fourth-order Runge-Kutta scheme; z counts from the start."""
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


# ---------------------------------------------------------------- many flights side by side, in single precision


@kernel(inline=True, fastmath=True)
def single_log2(x):
    """log2(x) of a normal positive number, within 4e-6 (polynomial fitted over an octave)."""
    bits = Whole(Single(x).view(Whole) - ONE_BITS)
    y = Whole((bits & MANTISSA) + ONE_BITS).view(Single) - ONE
    y2 = y * y
    p = (Single(0.44254494) - Single(0.27560031) * y) + y2 * (Single(0.18194888) - Single(0.09595646) * y)
    return Single(bits) * Single(2.0**-23) + (y - y2) * (p + y2 * y2 * Single(0.02584145))


@kernel(inline=True, fastmath=True)
def single_exp2(x):
    """2 to the power of x for x from -120 to 120, within 2e-7 of it, exact at 0 (polynomial fitted over an octave)."""
    t = x + ROUNDER
    y = x - (t - ROUNDER)
    y2 = y * y
    p = (Single(0.69314721) + Single(0.24022235) * y) + y2 * (Single(0.05550308) + Single(0.00967188) * y)
    p = ONE + y * (p + y2 * y2 * Single(0.00134073))
    return Whole(Single(p).view(Whole) + (Single(t).view(Whole) << Whole(23))).view(Single)


@kernel(inline=True, fastmath=True)
def single_inverse_root(x):
    """1 / sqrt(x), within 4e-7 of it: one estimate and one Newton step where the processor has them."""
    return ONE / Single(math.sqrt(x))


@kernel(allocates=True, python_entry=False)
def step_each(air, dt, lanes):
    """Advance LANES flights by one step with any model, see :func:`step_lanes`."""
    s = lanes.reshape(LANE_ROWS, LANES)
    for m in range(LANES):
        c = s[:, m].astype(np.float64)
        a = Air(air.model, air.density, air.viscosity, c[9], c[10], air.shear, air.own)
        s[0, m], s[1, m], s[2, m], s[3, m], s[4, m], s[5, m], s[6, m] = fly_once(
            a, dt, c[0], c[1], c[2], c[3], c[4], c[5], c[7], 0.0, c[8], c[6]
        )


@kernel(python_entry=False)
def step_lanes(air, dt, lanes):
    """Advance LANES flights by one step of the scheme of :func:`fly_once`.

    ``lanes`` holds LANE_ROWS runs of LANES single numbers (one array, so that the compiler sees they do not overlap): 0 to 6
    place, velocity, spin, which change; 7 to 10 spin axis east and up (it has no part north) and wind; then room for one
    stage: 11 to 15 height, velocity, spin; 16 to 22 weighted rates; 23 to 28 velocity in the air, speed, its inverse, drag,
    lift. A stage is three short loops: their lanes do not wait for each other, so the processor works on many at once.
    """
    if air.model != MODEL_D:
        step_each(air, dt, lanes)
        return
    w = LANES
    shear, still = Single(air.shear * OCTAVE), Single(1.0 - air.shear * math.log(REF_HEIGHT))
    ratio = Single(-RADIUS / (0.145 * OCTAVE))  # exponents are in octaves
    re, crisis = Single(2.0 * RADIUS / (7000.0 * OCTAVE * air.viscosity)), Single(61000.0 / (7000.0 * OCTAVE))
    press, decay = Single(0.5 * air.density * AREA_PER_MASS), Single(-SPIN_DECAY / RADIUS)
    for m in range(5 * w):
        lanes[11 * w + m] = lanes[2 * w + m]
    for m in range(7 * w):
        lanes[16 * w + m] = Single(0.0)
    for stage in range(4):
        h = Single(dt if stage == 2 else 0.5 * dt)
        share = Single(dt / 3.0 if stage == 1 or stage == 2 else dt / 6.0)
        for m in range(w):
            wind = still + shear * single_log2(max(lanes[11 * w + m], Single(WIND_FLOOR)))
            ux = lanes[12 * w + m] - lanes[9 * w + m] * wind
            uy = lanes[13 * w + m] - lanes[10 * w + m] * wind
            vz = lanes[14 * w + m]
            speed2 = ux * ux + uy * uy + vz * vz + Single(1e-18)
            slow = single_inverse_root(speed2)
            lanes[23 * w + m], lanes[24 * w + m] = ux, uy
            lanes[25 * w + m], lanes[26 * w + m] = speed2 * slow, slow
        for m in range(w):
            s = ratio * lanes[15 * w + m] * lanes[26 * w + m]
            cl = Single(0.34) - Single(0.34) * single_exp2(max(s, Single(-40.0)))
            q = ONE + single_exp2(min(re * lanes[25 * w + m] - crisis, Single(40.0)))
            lanes[27 * w + m] = Single(0.21) + Single(1.05) * cl * cl + Single(0.30) / q
            lanes[28 * w + m] = cl
        for m in range(w):
            vx, vy, vz, spin = lanes[12 * w + m], lanes[13 * w + m], lanes[14 * w + m], lanes[15 * w + m]
            ux, uy, speed = lanes[23 * w + m], lanes[24 * w + m], lanes[25 * w + m]
            sx, sz = lanes[7 * w + m], lanes[8 * w + m]
            cx, cy, cz = -sz * uy, sz * ux - sx * vz, sx * uy
            q = press * speed
            drag = q * lanes[27 * w + m]
            across2 = cx * cx + cy * cy + cz * cz + Single(1e-18)
            lift = q * speed * lanes[28 * w + m] * single_inverse_root(across2)
            ax, ay, az = lift * cx - drag * ux, lift * cy - drag * uy, lift * cz - drag * vz - Single(G)
            fading = decay * spin * speed
            lanes[11 * w + m] = lanes[2 * w + m] + h * vz
            lanes[12 * w + m] = lanes[3 * w + m] + h * ax
            lanes[13 * w + m] = lanes[4 * w + m] + h * ay
            lanes[14 * w + m] = lanes[5 * w + m] + h * az
            lanes[15 * w + m] = lanes[6 * w + m] + h * fading
            lanes[16 * w + m] += share * vx
            lanes[17 * w + m] += share * vy
            lanes[18 * w + m] += share * vz
            lanes[19 * w + m] += share * ax
            lanes[20 * w + m] += share * ay
            lanes[21 * w + m] += share * az
            lanes[22 * w + m] += share * fading
    for m in range(7 * w):
        lanes[m] += lanes[16 * w + m]


@kernel(python_entry=False)
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


@kernel(python_entry=False)
def hermite_rate(u, dt, a, va, b, vb):
    """Rate of the cubic of :func:`hermite` at share u."""
    return 6.0 * u * (1.0 - u) * (b - a) / dt + (1.0 - u) * (1.0 - 3.0 * u) * va + u * (3.0 * u - 2.0) * vb


@kernel(python_entry=False)
def between(u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1):
    """State at share u of a step: ``x, y, vx, vy, vz, spin``."""
    px, py = hermite(u, dt, x, vx, x1, vx1), hermite(u, dt, y, vy, y1, vy1)
    v = 1.0 - u
    return px, py, v * vx + u * vx1, v * vy + u * vy1, v * vz + u * vz1, v * spin + u * spin1


@kernel(python_entry=False)
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
    while t < LONGEST:
        x1, y1, z1, vx1, vy1, vz1, spin1 = fly_once(air, dt, x, y, z, vx, vy, vz, sx, sy, sz, spin)
        u, crest = coming_down(dt, level, z, vz, z1, vz1)
        apex = max(apex, crest)
        if u <= 1.0:
            a = between(u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1)
            return a[0], a[1], a[2], a[3], a[4], a[5], t + u * dt, apex
        x, y, z, vx, vy, vz, spin = x1, y1, z1, vx1, vy1, vz1, spin1
        t += dt
    return x, y, vx, vy, vz, spin, t, apex


@kernel(python_entry=False)
def set_lane(s, m, speed, launch, spin, tilt, wind_east, wind_north):
    """Put a shot due north into lane m, column m of ``s``."""
    s[0, m] = s[1, m] = s[2, m] = s[3, m] = 0.0
    s[4, m], s[5, m], s[6, m] = speed * math.cos(launch), speed * math.sin(launch), spin
    s[7, m], s[8, m] = math.cos(tilt), -math.sin(tilt)
    s[9, m], s[10, m] = wind_east, wind_north


@kernel(python_entry=False)
def lane_down(dt, level, before, s, m, flown, row):
    """Whether the ball of lane m has come down in the step just made; if so its landing is in ``row``, see `fly_to_level`."""
    x, y, z, vx, vy, vz, spin = (
        before[0, m],
        before[1, m],
        before[2, m],
        before[3, m],
        before[4, m],
        before[5, m],
        before[6, m],
    )
    x1, y1, z1, vx1, vy1, vz1, spin1 = s[0, m], s[1, m], s[2, m], s[3, m], s[4, m], s[5, m], s[6, m]
    u, crest = coming_down(dt, level, z, vz, z1, vz1)
    row[7] = max(row[7], crest)
    if u > 1.0 and flown * dt < LONGEST:
        return False
    u = min(u, 1.0)
    row[0], row[1], row[2], row[3], row[4], row[5] = between(
        u, dt, x, y, vx, vy, vz, spin, x1, y1, vx1, vy1, vz1, spin1
    )
    row[6] = (flown - 1.0 + u) * dt
    return True


@kernel(allocates=True)
def fly_many_to_level(air, dt, speeds, launches, spins, tilts, level, out):
    """Direct flights due north to a level, one per row: ``out`` is ``(n, 8)`` as returned by `fly_to_level`.

    LANES flights are in the air at a time; a lane whose ball is down takes the next one.
    """
    lanes, kept = np.empty(LANE_ROWS * LANES, Single), np.empty(7 * LANES, Single)
    s, before = lanes.reshape(LANE_ROWS, LANES), kept.reshape(7, LANES)
    which, flown, look = np.empty(LANES, np.int32), np.zeros(LANES, np.int32), np.empty(LANES, np.bool_)
    n = speeds.size
    for m in range(LANES):
        k = min(m, n - 1)
        which[m] = m if m < n else -1
        set_lane(s, m, speeds[k], launches[k], spins[k], tilts[k], air.wind_east, air.wind_north)
    out[:, 7] = 0.0
    following, left = LANES, n
    ground, most = Single(level), Whole(math.ceil(LONGEST / dt))
    while left > 0:
        for m in range(7 * LANES):
            kept[m] = lanes[m]
        step_lanes(air, dt, lanes)
        for m in range(LANES):  # at the top, at the level, or too long in the air
            z, vz, rising = lanes[2 * LANES + m], lanes[5 * LANES + m], kept[5 * LANES + m] > Single(0.0)
            flown[m] += Whole(1)
            look[m] = ((vz <= Single(0.0)) & ((z <= ground) | rising)) | (flown[m] >= most)
        for m in range(LANES):
            if not look[m] or which[m] < 0:
                continue
            if not lane_down(dt, level, before, s, m, flown[m], out[which[m]]):
                continue
            left -= 1
            which[m] = -1
            if following < n:
                k = following
                which[m], flown[m] = k, 0
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


@kernel(allocates=True)
def fill_nodes(air, wind, dt, every, speeds, launch, spins, tilt, nodes):
    """Fill the nodes of a `Table`: trajectories in a wind of speed ``wind`` from every angle (``air`` itself is calm).

    ``speeds`` and ``spins`` hold one number for each ball speed scale.
    """
    lanes = np.empty(LANE_ROWS * LANES, Single)
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
