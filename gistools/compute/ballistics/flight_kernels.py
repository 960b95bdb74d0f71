"""Compiled loops of free flight: air, drag and lift, integration of one ball and of many side by side.

Arrays and plain numbers only, SI units. East is x, north is y, up is z. Spin is a vector by the right-hand
rule: backspin points to the right of play; a tilted axis is ``right * cos(tilt) - up * sin(tilt)`` and curves
the ball to the right. The axis keeps its direction in flight, the spin rate decays. Terrain, obstacles and
what follows the landing are in :mod:`gistools.compute.ballistics.shot_kernels`; formulas, sources and trust
tags in :mod:`gistools.compute.ballistics.flight`.

The Runge-Kutta scheme is written twice, with one set of constants: :func:`fly_once` advances one ball in
double precision, :func:`step_lanes` advances LANES balls in single precision (scripts/bench/shots.py:
1.3 us a flight instead of 37 us called one by one). They land within 1 mm of each other (tested).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel

G = 9.80665  # standard gravity [m/s2], ISO 2533:1975 [second-hand]
MASS = 0.04593  # greatest mass of a ball [kg], R&A and USGA, Equipment Rules, part 4 [second-hand]
RADIUS = 0.021335  # least radius of a ball [m], same source
AREA_PER_MASS = math.pi * RADIUS * RADIUS / MASS
SPIN_DECAY = 2.0e-5  # Smits & Smith 1994, quoted by Nathan 2008 [second-hand]

MODEL_D, MODEL_Q, MODEL_SS, VACUUM, MODEL_OWN = 0, 1, 2, 3, 4

# Model D [fit]: CL = LIFT_MOST (1 - exp(-S / LIFT_SPIN)),
# CD = DRAG_LEAST + DRAG_OF_LIFT CL^2 + DRAG_CRISIS / (1 + exp((Re - CRISIS_RE) / CRISIS_WIDTH)), see
# flight.py
LIFT_MOST, LIFT_SPIN = 0.34, 0.145
DRAG_LEAST, DRAG_OF_LIFT = 0.21, 1.05
DRAG_CRISIS, CRISIS_RE, CRISIS_WIDTH = 0.30, 61000.0, 7000.0

WIND_FLOOR = 2.0  # wind below this height above the start is that at it [m] (assumption, see flight.py)
REF_HEIGHT = 10.0  # height of stated wind speeds [m] (WMO convention, common practice)

WEIGHT_COUNT = 10  # terms of user-defined coefficients, see own_terms
OWN_SPIN = (0.02, 1.2)  # range of spin ratio they are fitted on; constant beyond
OWN_RE = (40000.0, 250000.0)  # range of Reynolds number
NO_WEIGHTS = (0.0,) * (2 * WEIGHT_COUNT)

LANES = 64  # flights integrated side by side (speed only)
LONGEST = 60.0  # no flight is followed longer [s] (assumption)

# rows of the lanes of `step_lanes`: state, constants of the flight, workspace of one stage
X, Y, Z, VX, VY, VZ, SPIN = range(7)
AXIS_EAST, AXIS_UP, WIND_EAST, WIND_NORTH = range(7, 11)  # the spin axis has no part north
STAGE_Z, STAGE_VX, STAGE_VY, STAGE_VZ, STAGE_SPIN = range(11, 16)
SUM_X, SUM_Y, SUM_Z, SUM_VX, SUM_VY, SUM_VZ, SUM_SPIN = range(16, 23)  # weighted increments
AIR_VX, AIR_VY, AIR_SPEED, AIR_INVERSE, DRAG, LIFT = range(23, 29)
STATE_ROWS, LANE_ROWS = 7, 29

Single, Whole = np.float32, np.int32
ONE = Single(1.0)
ONE_BITS = Whole(0x3F800000)
MANTISSA = Whole(0x007FFFFF)
ROUNDER = Single(1.5 * 2.0**23)  # adding it rounds to whole numbers
OCTAVE = math.log(2.0)


class Vector(NamedTuple):
    """East, north and up parts: a velocity [m/s], spin [rad/s], unit axis or unit normal."""

    x: float
    y: float
    z: float


class State(NamedTuple):
    """A ball in flight: place [m], velocity [m/s], spin rate [rad/s].

    Its spin axis is constant and kept apart.
    """

    x: float
    y: float
    z: float
    vx: float
    vy: float
    vz: float
    spin: float


class Descent(NamedTuple):
    """Where a flight ends: state, time in the air [s], apex above the start [m]."""

    state: State
    time: float
    apex: float


class Air(NamedTuple):
    """Air and aerodynamic model.

    Model code, density [kg/m3], kinematic viscosity [m2/s], wind at 10 m by where it blows to [m/s], shear
    ``1 / ln(10 m / roughness)``, weights of user-defined drag and lift.
    """

    model: int
    density: float
    viscosity: float
    wind_east: float
    wind_north: float
    shear: float
    weights: tuple[float, ...] = NO_WEIGHTS


# ---------------------------------------------------------------- air


@kernel(inline=True, fastmath=True)
def wind_share(above, shear):
    """Wind at a height above the start as a share of that at 10 m: log law, held below WIND_FLOOR."""
    return 1.0 + shear * math.log(max(above, WIND_FLOOR) * (1.0 / REF_HEIGHT))


@kernel(inline=True, fastmath=True)
def own_terms(s, re):
    """Terms of user-defined coefficients at spin ratio s and Reynolds number re."""
    s = min(max(s, OWN_SPIN[0]), OWN_SPIN[1])
    re = min(max(re, OWN_RE[0]), OWN_RE[1])
    x = 1.0 - math.exp(-s / LIFT_SPIN)
    q = math.exp((CRISIS_RE - re) / CRISIS_WIDTH)
    y, r = q / (1.0 + q), re * 1e-5
    return 1.0, s, s * s, math.sqrt(s), x, x * x, y, x * y, r, r * s


@kernel
def weighted_coefficients(weights, s, re):
    """Drag and lift of user-defined coefficients; lift goes to nothing with spin."""
    terms = own_terms(s, re)
    cd = cl = 0.0
    for k in range(WEIGHT_COUNT):
        cd += weights[k] * terms[k]
        cl += weights[WEIGHT_COUNT + k] * terms[k]
    return cd, cl * min(s / OWN_SPIN[0], 1.0)


@kernel(inline=True, fastmath=True)
def coefficients(model, s, re, weights=NO_WEIGHTS):
    """Drag and lift coefficients at spin ratio s and Reynolds number re.

    Equations and sources in flight.py.
    """
    if model == MODEL_D:
        cl = LIFT_MOST * (1.0 - math.exp(-min(s, 4.0) / LIFT_SPIN))
        q = math.exp((CRISIS_RE - min(re, 300000.0)) / CRISIS_WIDTH)
        return DRAG_LEAST + DRAG_OF_LIFT * cl * cl + DRAG_CRISIS * q / (1.0 + q), cl
    if model == MODEL_Q:  # Quintavalla 2002
        return 0.171 + 0.62 * s, (0.083 + 0.885 * s if s > 0.0 else 0.0)
    if model == MODEL_SS:  # Smits & Smith 1994
        return 0.24 + 0.18 * s, 0.54 * s**0.4
    if model == MODEL_OWN:
        return weighted_coefficients(weights, s, re)
    return 0.0, 0.0


@kernel(inline=True, fastmath=True)
def acceleration(air, above, v, axis, spin):
    """Acceleration of the ball [m/s2] as three parts, and rate of its spin.

    ``above`` is the height above the start.
    """
    share = wind_share(above, air.shear)
    ux, uy = v.x - air.wind_east * share, v.y - air.wind_north * share
    speed = math.sqrt(ux * ux + uy * uy + v.z * v.z + 1e-18)
    cd, cl = coefficients(air.model, RADIUS * spin / speed, 2.0 * RADIUS * speed / air.viscosity, air.weights)
    cx = axis.y * v.z - axis.z * uy
    cy = axis.z * ux - axis.x * v.z
    cz = axis.x * uy - axis.y * ux
    q = 0.5 * air.density * AREA_PER_MASS * speed
    lift = q * speed * cl / math.sqrt(cx * cx + cy * cy + cz * cz + 1e-18)
    drag = q * cd
    decay = 0.0 if air.model == VACUUM else SPIN_DECAY / RADIUS * spin * speed
    return lift * cx - drag * ux, lift * cy - drag * uy, lift * cz - drag * v.z - G, -decay


@kernel(python_entry=False)
def fly_once(air, dt, state, axis):
    """State one step of the classical fourth-order Runge-Kutta scheme later.

    Its height counts from the start.
    """
    h = 0.5 * dt
    v1 = Vector(state.vx, state.vy, state.vz)
    ax1, ay1, az1, aw1 = acceleration(air, state.z, v1, axis, state.spin)
    v2 = Vector(v1.x + h * ax1, v1.y + h * ay1, v1.z + h * az1)
    ax2, ay2, az2, aw2 = acceleration(air, state.z + h * v1.z, v2, axis, state.spin + h * aw1)
    v3 = Vector(v1.x + h * ax2, v1.y + h * ay2, v1.z + h * az2)
    ax3, ay3, az3, aw3 = acceleration(air, state.z + h * v2.z, v3, axis, state.spin + h * aw2)
    v4 = Vector(v1.x + dt * ax3, v1.y + dt * ay3, v1.z + dt * az3)
    ax4, ay4, az4, aw4 = acceleration(air, state.z + dt * v3.z, v4, axis, state.spin + dt * aw3)
    k = dt / 6.0
    return State(
        state.x + k * (v1.x + 2.0 * (v2.x + v3.x) + v4.x),
        state.y + k * (v1.y + 2.0 * (v2.y + v3.y) + v4.y),
        state.z + k * (v1.z + 2.0 * (v2.z + v3.z) + v4.z),
        state.vx + k * (ax1 + 2.0 * (ax2 + ax3) + ax4),
        state.vy + k * (ay1 + 2.0 * (ay2 + ay3) + ay4),
        state.vz + k * (az1 + 2.0 * (az2 + az3) + az4),
        state.spin + k * (aw1 + 2.0 * (aw2 + aw3) + aw4),
    )


# ---------------------------------------------------------------- many flights side by side, in single
# precision


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
    """2 to the power of x for x from -120 to 120, within 2e-7 of it, exact at 0.

    Polynomial fitted over an octave.
    """
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
        there = Air(
            air.model, air.density, air.viscosity, c[WIND_EAST], c[WIND_NORTH], air.shear, air.weights
        )
        before = State(c[X], c[Y], c[Z], c[VX], c[VY], c[VZ], c[SPIN])
        after = fly_once(there, dt, before, Vector(c[AXIS_EAST], 0.0, c[AXIS_UP]))
        s[X, m], s[Y, m], s[Z, m] = after.x, after.y, after.z
        s[VX, m], s[VY, m], s[VZ, m], s[SPIN, m] = after.vx, after.vy, after.vz, after.spin


@kernel(python_entry=False)
def step_lanes(air, dt, lanes):
    """Advance LANES flights by one step of the scheme of :func:`fly_once`.

    ``lanes`` is one array of LANE_ROWS runs of LANES single numbers, rows as named above (one array, so that
    the compiler sees that the rows do not overlap). Each stage is three short loops without dependence
    between lanes, so that the processor works on several at once.
    """
    if air.model != MODEL_D:
        step_each(air, dt, lanes)
        return
    w = LANES
    shear, still = Single(air.shear * OCTAVE), Single(1.0 - air.shear * math.log(REF_HEIGHT))
    ratio = Single(-RADIUS / (LIFT_SPIN * OCTAVE))  # exponents are in octaves
    re, crisis = (
        Single(2.0 * RADIUS / (CRISIS_WIDTH * OCTAVE * air.viscosity)),
        Single(CRISIS_RE / (CRISIS_WIDTH * OCTAVE)),
    )
    press, decay = Single(0.5 * air.density * AREA_PER_MASS), Single(-SPIN_DECAY / RADIUS)
    for m in range(5 * w):  # height, velocity, spin
        lanes[STAGE_Z * w + m] = lanes[Z * w + m]
    for m in range(STATE_ROWS * w):
        lanes[SUM_X * w + m] = Single(0.0)
    for stage in range(4):
        h = Single(dt if stage == 2 else 0.5 * dt)
        share = Single(dt / 3.0 if stage == 1 or stage == 2 else dt / 6.0)
        for m in range(w):
            wind = still + shear * single_log2(max(lanes[STAGE_Z * w + m], Single(WIND_FLOOR)))
            ux = lanes[STAGE_VX * w + m] - lanes[WIND_EAST * w + m] * wind
            uy = lanes[STAGE_VY * w + m] - lanes[WIND_NORTH * w + m] * wind
            vz = lanes[STAGE_VZ * w + m]
            speed2 = ux * ux + uy * uy + vz * vz + Single(1e-18)
            slow = single_inverse_root(speed2)
            lanes[AIR_VX * w + m], lanes[AIR_VY * w + m] = ux, uy
            lanes[AIR_SPEED * w + m], lanes[AIR_INVERSE * w + m] = speed2 * slow, slow
        for m in range(w):
            s = ratio * lanes[STAGE_SPIN * w + m] * lanes[AIR_INVERSE * w + m]
            cl = Single(LIFT_MOST) - Single(LIFT_MOST) * single_exp2(max(s, Single(-40.0)))
            q = ONE + single_exp2(min(re * lanes[AIR_SPEED * w + m] - crisis, Single(40.0)))
            lanes[DRAG * w + m] = (
                Single(DRAG_LEAST) + Single(DRAG_OF_LIFT) * cl * cl + Single(DRAG_CRISIS) / q
            )
            lanes[LIFT * w + m] = cl
        for m in range(w):
            vx, vy, vz, spin = (
                lanes[STAGE_VX * w + m],
                lanes[STAGE_VY * w + m],
                lanes[STAGE_VZ * w + m],
                lanes[STAGE_SPIN * w + m],
            )
            ux, uy, speed = lanes[AIR_VX * w + m], lanes[AIR_VY * w + m], lanes[AIR_SPEED * w + m]
            sx, sz = lanes[AXIS_EAST * w + m], lanes[AXIS_UP * w + m]
            cx, cy, cz = -sz * uy, sz * ux - sx * vz, sx * uy
            q = press * speed
            drag = q * lanes[DRAG * w + m]
            across2 = cx * cx + cy * cy + cz * cz + Single(1e-18)
            lift = q * speed * lanes[LIFT * w + m] * single_inverse_root(across2)
            ax, ay, az = lift * cx - drag * ux, lift * cy - drag * uy, lift * cz - drag * vz - Single(G)
            fading = decay * spin * speed
            lanes[STAGE_Z * w + m] = lanes[Z * w + m] + h * vz
            lanes[STAGE_VX * w + m] = lanes[VX * w + m] + h * ax
            lanes[STAGE_VY * w + m] = lanes[VY * w + m] + h * ay
            lanes[STAGE_VZ * w + m] = lanes[VZ * w + m] + h * az
            lanes[STAGE_SPIN * w + m] = lanes[SPIN * w + m] + h * fading
            lanes[SUM_X * w + m] += share * vx
            lanes[SUM_Y * w + m] += share * vy
            lanes[SUM_Z * w + m] += share * vz
            lanes[SUM_VX * w + m] += share * ax
            lanes[SUM_VY * w + m] += share * ay
            lanes[SUM_VZ * w + m] += share * az
            lanes[SUM_SPIN * w + m] += share * fading
    for m in range(STATE_ROWS * w):
        lanes[m] += lanes[SUM_X * w + m]


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
def between(u, dt, before, after):
    """State at share u of a step: place on the cubic through both ends, velocity and spin linear."""
    v = 1.0 - u
    return State(
        hermite(u, dt, before.x, before.vx, after.x, after.vx),
        hermite(u, dt, before.y, before.vy, after.y, after.vy),
        hermite(u, dt, before.z, before.vz, after.z, after.vz),
        v * before.vx + u * after.vx,
        v * before.vy + u * after.vy,
        v * before.vz + u * after.vz,
        v * before.spin + u * after.spin,
    )


@kernel(python_entry=False)
def coming_down(dt, level, z, vz, z1, vz1):
    """Share of a step at which it comes down through a level (2.

    Not in it), and the apex in it (-inf: none).
    """
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
def fly_to_level(air, dt, speed, launch, spin, tilt, level):
    """Fly due north from the origin until the ball comes down through ``level``; returns a :class:`Descent`.

    A ball that never gets up to the level ends at its highest point.
    """
    axis = Vector(math.cos(tilt), 0.0, -math.sin(tilt))
    state = State(0.0, 0.0, 0.0, 0.0, speed * math.cos(launch), speed * math.sin(launch), spin)
    t = apex = 0.0
    while t < LONGEST:
        after = fly_once(air, dt, state, axis)
        u, crest = coming_down(dt, level, state.z, state.vz, after.z, after.vz)
        apex = max(apex, crest)
        if u <= 1.0:
            return Descent(between(u, dt, state, after), t + u * dt, apex)
        state = after
        t += dt
    return Descent(state, t, apex)


@kernel(python_entry=False)
def set_lane(s, m, speed, launch, spin, tilt, wind_east, wind_north):
    """Put a shot due north into lane m, column m of ``s``."""
    s[X, m] = s[Y, m] = s[Z, m] = s[VX, m] = 0.0
    s[VY, m], s[VZ, m], s[SPIN, m] = speed * math.cos(launch), speed * math.sin(launch), spin
    s[AXIS_EAST, m], s[AXIS_UP, m] = math.cos(tilt), -math.sin(tilt)
    s[WIND_EAST, m], s[WIND_NORTH, m] = wind_east, wind_north


@kernel(python_entry=False, inline=True)
def state_of(s, m):
    """State of the ball in lane m."""
    return State(s[X, m], s[Y, m], s[Z, m], s[VX, m], s[VY, m], s[VZ, m], s[SPIN, m])


@kernel(python_entry=False)
def lane_down(dt, level, before, s, m, flown, row):
    """Whether the ball of lane m came down in the step just made.

    Its landing goes to ``row``, see the caller.
    """
    last, now = state_of(before, m), state_of(s, m)
    u, crest = coming_down(dt, level, last.z, last.vz, now.z, now.vz)
    row[7] = max(row[7], crest)
    if u > 1.0 and flown * dt < LONGEST:
        return False
    u = min(u, 1.0)
    end = between(u, dt, last, now)
    row[0], row[1], row[2], row[3], row[4], row[5] = end.x, end.y, end.vx, end.vy, end.vz, end.spin
    row[6] = (flown - 1.0 + u) * dt
    return True


@kernel(allocates=True)
def fly_many_to_level(air, dt, speeds, launches, spins, tilts, level, out):
    """Direct flights due north to a level, one per row of ``out``.

    ``out[k]`` is ``x, y, vx, vy, vz, spin, time, apex`` at the landing, in double precision but computed in
    single. LANES flights are in the air at a time; a lane whose ball is down takes the next one.
    """
    lanes, earlier = np.empty(LANE_ROWS * LANES, Single), np.empty(STATE_ROWS * LANES, Single)
    s, before = lanes.reshape(LANE_ROWS, LANES), earlier.reshape(STATE_ROWS, LANES)
    flight, flown, look = np.empty(LANES, np.int32), np.zeros(LANES, np.int32), np.empty(LANES, np.bool_)
    n = speeds.size
    for m in range(LANES):
        k = min(m, n - 1)
        flight[m] = m if m < n else -1
        set_lane(s, m, speeds[k], launches[k], spins[k], tilts[k], air.wind_east, air.wind_north)
    out[:, 7] = 0.0
    following, left = LANES, n
    ground, most = Single(level), Whole(math.ceil(LONGEST / dt))
    while left > 0:
        for m in range(STATE_ROWS * LANES):
            earlier[m] = lanes[m]
        step_lanes(air, dt, lanes)
        for m in range(LANES):  # at the top, at the level, or too long in the air
            z, vz = lanes[Z * LANES + m], lanes[VZ * LANES + m]
            rising = earlier[VZ * LANES + m] > Single(0.0)
            flown[m] += Whole(1)
            look[m] = ((vz <= Single(0.0)) & ((z <= ground) | rising)) | (flown[m] >= most)
        for m in range(LANES):
            if not look[m] or flight[m] < 0:
                continue
            if not lane_down(dt, level, before, s, m, flown[m], out[flight[m]]):
                continue
            left -= 1
            flight[m] = -1
            if following < n:
                k = following
                flight[m], flown[m] = k, 0
                set_lane(s, m, speeds[k], launches[k], spins[k], tilts[k], air.wind_east, air.wind_north)
                following += 1


@kernel
def trace(air, dt, every, speed, launch, spin, tilt, out):
    """Fill ``out[k] = (x, y, z, vx, vy, vz, spin)`` of a shot due north at times ``k * every * dt``."""
    axis = Vector(math.cos(tilt), 0.0, -math.sin(tilt))
    state = State(0.0, 0.0, 0.0, 0.0, speed * math.cos(launch), speed * math.sin(launch), spin)
    for k in range(out.shape[0]):
        out[k, X], out[k, Y], out[k, Z] = state.x, state.y, state.z
        out[k, VX], out[k, VY], out[k, VZ], out[k, SPIN] = state.vx, state.vy, state.vz, state.spin
        for _ in range(every):
            state = fly_once(air, dt, state, axis)


@kernel(allocates=True)
def fill_nodes(air, dt, every, speeds, launch, spins, tilt, nodes):
    """Fill the nodes of a `Table`: trajectories in the wind speed of ``air``, from every angle to the aim.

    ``speeds`` and ``spins`` hold one number for each ball speed scale.
    """
    lanes = np.empty(LANE_ROWS * LANES, Single)
    s = lanes.reshape(LANE_ROWS, LANES)
    wind = math.sqrt(air.wind_east * air.wind_east + air.wind_north * air.wind_north)
    angles = nodes.shape[1]
    n = nodes.shape[0] * angles
    for first in range(0, n, LANES):
        for m in range(LANES):
            k = min(first + m, n - 1)
            angle = 2.0 * math.pi * (k % angles) / angles
            east, north = -wind * math.sin(angle), -wind * math.cos(angle)
            set_lane(s, m, speeds[k // angles], launch, spins[k // angles], tilt, east, north)
        for node in range(nodes.shape[2]):
            for m in range(min(LANES, n - first)):
                row = nodes[(first + m) // angles, (first + m) % angles, node]
                row[0], row[1], row[2] = s[Y, m], s[X, m], s[Z, m]  # forward is north, right is east
                row[3], row[4], row[5], row[6] = s[VY, m], s[VX, m], s[VZ, m], s[SPIN, m]
            for _ in range(every):
                step_lanes(air, dt, lanes)
