"""Compiled loops of putting: a ball rolled on a green, and the mean over a player's errors.

Equations and sources are in :mod:`gistools.compute.decision.putting`. Arrays and plain numbers only, SI
units, angles in radians counter-clockwise from east. Speeds are used squared: the work of slope and
resistance adds to them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel

G = 9.80665  # [m/s2]
PULL = 5.0 / 7.0 * G  # of a rolling sphere, Penner 2002 eq. 5 [second-hand]
MOST_ADDED = (
    1.0  # a putt costs at most so much more than on level ground: else it is chipped (assumption) [strokes]
)
NO_SLOPE_M = 0.15  # nearer to the hole slope is not felt
HOLE_R = 0.054  # radius of the hole [m], Rules of Golf
CAPTURE_MS = 1.63  # greatest speed that is holed on the centre line [m/s], Penner 2002 eq. 23 [second-hand]

# assumptions of the computation: they settle how closely, not what a putt is worth
STEP_S, STRIDE_M, LONGEST_S = 0.1, 0.25, 40.0  # step of the roll: time, length; longest roll
SLOWEST_Q = 0.004  # least squared speed of a putt [m2/s2]
LEVEL_STEP = 0.05  # spacing of the curve on level ground [m]
PAST = np.array([-0.4, -0.1, 0.15, 0.4, 0.8, 1.4])  # paces tried: run past the hole if level [m]
USUAL = 3  # the pace of them that is kept if none is better
DEAD_M, REFERENCE_M = (
    0.08,
    0.30,
)  # the slowest pace that reaches, and that from which the search starts: the same measure
SHORT, SPEEDS = 2, 7  # speeds rolled for each putt: too slow ones, and all
LOOKS, HARD_LOOKS = 8, 6  # rolls in the search for line and pace; such searches where the first fails
REACH = 2.6  # speeds rolled, in standard deviations below the slowest and above the fastest pace
SIDE = 1.5  # lines rolled either side of the one aimed at, in standard deviations

#: what is kept for each speed rolled: squared launch speed; line that meets the hole, from the straight one;
#: squared speed at the hole; offset there; its change with the line; rest of balls to the right, on the line
#: and to the left
Q, AIM, W, B, BETA, XR, YR, XC, YC, XL, YL, WIDTH = range(12)
FIELDS = 12
#: what is kept for each place: distance, straight line, deceleration at the hole, share of distance error,
#: work of falls on the way, squared time of the roll by that on level ground, squared launch speed of the
#: slowest pace that reaches, growth of that at the hole with it, speed that the hole takes, offset at the
#: hole for a turn of the line
DIST, BASE, BRAKE, SHARE, FALL, SLOW, Q_DEAD, GAIN, CAP, STEER = range(10)
FACTS = 10

_EDGES_Q = np.array([-2.9, -2.0, -1.4, -0.95, -0.55, -0.18, 0.18, 0.55, 0.95, 1.4, 2.0, 2.9])
_EDGES_A = np.array([-2.9, -1.8, -1.0, -0.35, 0.35, 1.0, 1.8, 2.9])


def _cdf(edges: np.ndarray) -> np.ndarray:
    """Normal distribution at the edges of bins; the outer bins hold the tails."""
    out = np.array([0.5 * (1.0 + math.erf(z / math.sqrt(2.0))) for z in edges])
    out[0], out[-1] = 0.0, 1.0
    return out


_CDF_Q, _CDF_A = _cdf(_EDGES_Q), _cdf(_EDGES_A)


class Turf(NamedTuple):
    """Ground that a ball rolls on.

    Rise per metre east and north, rolling resistance, strokes lost on cells where it cannot be putted.
    """

    east: np.ndarray
    north: np.ndarray
    rho: np.ndarray
    lost: np.ndarray
    x_west: float
    y_north: float
    cell: float


class Errors(NamedTuple):
    """Errors of a player's putts.

    Stroke, level near and per metre [rad]; shares of length, of break and of turf.
    """

    stroke: float
    short: float
    per_m: float
    length: float
    reading: float
    turf: float


class Values(NamedTuple):
    """Expected putts: a curve on level ground and its change by place, on a grid and on rays."""

    level: np.ndarray
    grid: np.ndarray
    x0: float
    y0: float
    step: float
    rays: np.ndarray
    radii: np.ndarray


class Start(NamedTuple):
    """Where a putt starts [m], how far the hole is [m], and the direction to it [rad]."""

    x: float
    y: float
    far: float
    base: float


class Line(NamedTuple):
    """A rolled putt.

    Angle to the direct line [rad], squared launch speed, offset [m] and squared speed where it is closest
    to the hole, place of rest [m].
    """

    aim: float
    q: float
    off: float
    w: float
    x: float
    y: float


class Rolled(NamedTuple):
    """Putts of all places at one hole: ``facts (n, FACTS)``, ``fans (n, SPEEDS, FIELDS)``."""

    facts: np.ndarray
    fans: np.ndarray


class Chosen(NamedTuple):
    """Pace and line chosen ``(n, 2)``, expected putts and the chance to hole ``(n,)``."""

    choice: np.ndarray
    putts: np.ndarray
    holed: np.ndarray


@kernel(inline=True, python_entry=False)
def slope_at(g, x, y):
    """Rise per metre east and north (bilinear), rolling resistance of the cell."""
    rows, cols = g.east.shape
    u = min(max((x - g.x_west) / g.cell - 0.5, 0.0), cols - 1.000001)
    v = min(max((g.y_north - y) / g.cell - 0.5, 0.0), rows - 1.000001)
    j, i = int(u), int(v)
    a, b = u - j, v - i
    p, q, r, s = (1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b
    east = p * g.east[i, j] + q * g.east[i, j + 1] + r * g.east[i + 1, j] + s * g.east[i + 1, j + 1]
    north = p * g.north[i, j] + q * g.north[i, j + 1] + r * g.north[i + 1, j] + s * g.north[i + 1, j + 1]
    return east, north, g.rho[int(v + 0.5), int(u + 0.5)]


@kernel(inline=True, python_entry=False)
def pull_at(g, x, y, vx, vy):
    """Acceleration in plan of a rolling ball; Penner 2002 eq. 36 on a slope of any direction."""
    east, north, rho = slope_at(g, x, y)
    flat2 = 1.0 / (1.0 + east * east + north * north)
    speed = math.sqrt(vx * vx + vy * vy) + 1e-12
    brake = PULL * rho * math.sqrt(flat2) / speed
    return -PULL * flat2 * east - brake * vx, -PULL * flat2 * north - brake * vy


@kernel(python_entry=False)
def roll_putt(g, x, y, angle, q, hx, hy):
    """Roll a putt past a hole that does not catch it.

    Rest ``x, y``, offset and squared speed where it is closest.

    The offset is positive where the hole lies to the left. A ball that stops first has a negative squared
    speed: what it lacks to reach the hole.
    """
    speed = math.sqrt(q)
    vx, vy = speed * math.cos(angle), speed * math.sin(angle)
    rows, cols = g.east.shape
    east_end, south_end = g.x_west + cols * g.cell, g.y_north - rows * g.cell
    ahead = (hx - x) * vx + (hy - y) * vy
    passed = ahead <= 0.0
    off, w = 0.0, 0.0
    if passed:
        off, w = (vx * (hy - y) - vy * (hx - x)) / speed, q
    t = 0.0
    lx, ly = vx / speed, vy / speed
    while t < LONGEST_S:
        ax, ay = pull_at(g, x, y, vx, vy)
        dt = min(STEP_S, STRIDE_M / speed)
        mx, my = vx + 0.5 * dt * ax, vy + 0.5 * dt * ay
        if mx * vx + my * vy > 0.0:
            ax, ay = pull_at(g, x + 0.5 * dt * vx, y + 0.5 * dt * vy, mx, my)
        brake = -(ax * vx + ay * vy) / speed
        stops = brake * dt >= speed
        if stops:
            dt = speed / brake
        nx, ny = x + dt * (vx + 0.5 * dt * ax), y + dt * (vy + 0.5 * dt * ay)
        if stops:  # straight on to where it stops
            nx, ny = x + 0.5 * dt * vx, y + 0.5 * dt * vy
        ux, uy = vx + dt * ax, vy + dt * ay
        if not passed:
            then = (hx - nx) * ux + (hy - ny) * uy
            if stops:
                then = (hx - nx) * vx + (hy - ny) * vy
            if then <= 0.0:
                passed = True
                f = ahead / (ahead - then + 1e-15)
                px, py = x + f * (nx - x), y + f * (ny - y)
                sx, sy = nx - x, ny - y
                size = math.sqrt(sx * sx + sy * sy) + 1e-15
                off = (sx * (hy - py) - sy * (hx - px)) / size
                end2 = 0.0 if stops else ux * ux + uy * uy
                w = (1.0 - f) * speed * speed + f * end2
            ahead = then
        x, y, t = nx, ny, t + dt
        lx, ly = vx / speed, vy / speed
        if stops:
            east, north, rho = slope_at(g, x, y)
            if east * east + north * north <= rho * rho:
                break
            steep = math.sqrt(east * east + north * north)
            ux, uy = -1e-3 * east / steep, -1e-3 * north / steep
        vx, vy = ux, uy
        speed = math.sqrt(vx * vx + vy * vy)
        if speed < 1e-4:
            speed = 1e-4
        if x <= g.x_west or x >= east_end or y >= g.y_north or y <= south_end:
            break
    if not passed:
        east, north, rho = slope_at(g, x, y)
        need = PULL * max(rho + east * lx + north * ly, 0.1 * rho)
        left = (hx - x) * lx + (hy - y) * ly
        off = lx * (hy - y) - ly * (hx - x)
        w = -2.0 * need * max(left, 0.0)
    return x, y, off, w


@kernel(python_entry=False)
def within(value, low, high):
    """Clamp a number."""
    return min(max(value, low), high)


@kernel(python_entry=False)
def direction_sd(e, facts, turn):
    """Standard deviation of direction [rad] for a break [rad].

    A misread slope moves the ball where it passes the hole, whatever a turn of the line would do: by the
    square of the time it has. The ordinary green's is that of the published rates for the time on level
    ground.
    """
    far = facts[DIST]
    typical = (
        (e.short * e.short - e.stroke * e.stroke + e.per_m * e.per_m * far * far) * facts[SLOW] * facts[SLOW]
    )
    reading = e.reading * turn
    read = far / facts[STEER]
    return min(math.sqrt(e.stroke * e.stroke + max(typical, reading * reading) * read * read), 0.5)


@kernel(python_entry=False)
def length_sd(facts, q):
    """Standard deviation of the squared launch speed: a share of it and of the falls on the way."""
    return facts[SHARE] * math.sqrt(q * q + facts[FALL] * facts[FALL])


@kernel(python_entry=False)
def line_for(g, start, hole, aim, q, target, free):
    """Return the :class:`Line` that meets the hole; the speed stays unless ``free``."""
    best, least = Line(aim, q, 1e9, 0.0, start.x, start.y), 1e18
    left_aim, left_off, right_aim, right_off = 0.0, 0.0, 0.0, 0.0  # lines that pass on either side
    for _ in range(LOOKS):
        x, y, off, w = roll_putt(g, start.x, start.y, start.base + aim, q, hole[0], hole[1])
        miss = (off / HOLE_R) ** 2
        if free:
            miss += (2.0 * (w - target) / (abs(target) + 0.02 * q)) ** 2
        if miss < least:
            best, least = Line(aim, q, off, w, x, y), miss
        if miss < 0.2:
            break
        if free:
            aim += within(off / start.far, -0.4, 0.4)
            q = max(q + within(target - w, -0.6 * q, 2.0 * q), SLOWEST_Q)
            continue
        if off < 0.0:
            left_aim, left_off = aim, off
        else:
            right_aim, right_off = aim, off
        if left_off < 0.0 and right_off > 0.0:
            share = within(right_off / (right_off - left_off), 0.1, 0.9)
            aim = right_aim + share * (left_aim - right_aim)
        else:
            aim += within(1.2 * off / start.far, -0.3, 0.3)
    return best


@kernel(python_entry=False)
def bend_for(aim, w, w_now, w_then):
    """What a slower ball turns off more, about: the break is linear in the speed at the hole."""
    speed, now, then = math.sqrt(max(w, 0.01)), math.sqrt(max(w_now, 0.0)), math.sqrt(max(w_then, 0.0))
    return aim * within((now - then) / (speed + 0.5), -0.5, 0.5)


@kernel(python_entry=False)
def roll_out(g, e, x, y, hx, hy, facts, fan):
    """Roll a place's putts at all speeds and to both sides; fills its ``facts`` and ``fan``."""
    dx, dy = hx - x, hy - y
    far = math.sqrt(dx * dx + dy * dy)
    base = math.atan2(dy, dx)
    ux, uy = dx / far, dy / far
    east, north, rho_hole = slope_at(g, hx, hy)
    brake = PULL * max(rho_hole + east * ux + north * uy, 0.1 * rho_hole)
    steep = math.sqrt(east * east + north * north)
    work, side, rub, extra, fall = 0.0, 0.0, 0.0, 0.0, 0.0
    count = int(within(far / 0.4, 4.0, 60.0))
    for i in range(count):
        f = (i + 0.5) / count
        east, north, rho = slope_at(g, x + f * dx, y + f * dy)
        rise = east * ux + north * uy
        work += rho + rise
        fall += max(-rise, 0.0)
        side += east * uy - north * ux
        rub += rho
        extra += max(rho - rho_hole, 0.0)
    work, side = PULL * work / count, PULL * side / count
    fall = 2.0 * PULL * fall / count * far
    share = math.sqrt(e.length * e.length + (e.turf * extra / rub) ** 2)
    run = 2.0 * PULL * rho_hole
    target, dead = run * REFERENCE_M, run * DEAD_M
    q = max(target + 2.0 * work * far, 0.02)
    time = 2.0 * far / (math.sqrt(q) + math.sqrt(target))
    start, hole = Start(x, y, far, base), (hx, hy)
    guess = within(-0.5 * side * time * time / far, -1.2, 1.2)
    line = line_for(g, start, hole, guess, q, target, True)
    q = line.q
    for _ in range(HARD_LOOKS):  # over a tier or far across a slope: the line for each speed in turn
        if abs(line.off) < HOLE_R and abs(line.w - target) < target:
            break
        line = line_for(g, start, hole, line.aim, q, target, False)
        q = line.q
        if abs(line.off) > 2.0 * HOLE_R or line.w < 0.0:
            q *= 1.1
        elif line.w > 2.0 * target:
            q = max(q - 0.8 * (line.w - target), 0.7 * q)
    aim, off, w = line.aim, line.off, line.w
    line = Line(aim, q, off, w, line.x, line.y)
    slow, gain = line, 1.0
    for _ in range(4):  # the slowest pace that reaches
        low = max(slow.q - (slow.w - dead) / gain, SLOWEST_Q)
        slower = line_for(g, start, hole, slow.aim + bend_for(aim, w, slow.w, dead), low, dead, False)
        low = slower.q
        if slower.w > 0.0 or slow.w <= 0.0:
            if q - low > 0.02 * q and slower.w > 0.0:
                gain = within((w - slower.w) / (q - low), 0.5, 1.6)
            slow = slower
        else:
            dead = 0.5 * (dead + slow.w)
        if low <= SLOWEST_Q or (slow.w > 0.0 and abs(slow.w - dead) < 0.5 * dead):
            break
    if abs(slow.off) > 2.0 * HOLE_R and abs(off) < abs(slow.off):  # slower ones do not get there
        slow = line
    dead = min(run * DEAD_M, max(slow.w, 0.5 * run * DEAD_M))
    level = math.sqrt(target + run * far)
    facts[SLOW] = within(((level + math.sqrt(target)) / (math.sqrt(q) + math.sqrt(target))) ** 2, 0.25, 4.0)
    facts[DIST], facts[STEER] = far, far
    width = SIDE * direction_sd(e, facts, aim)
    along = math.cos(base) * east + math.sin(base) * north
    facts[BASE], facts[BRAKE], facts[SHARE] = base, brake, share
    facts[Q_DEAD], facts[GAIN], facts[FALL] = slow.q - (slow.w - dead) / gain, gain, fall
    # Penner 2002 eq. 30: the hole is more forgiving from below
    east, north, _ = slope_at(g, hx, hy)
    along = (east * ux + north * uy) / math.sqrt(1.0 + steep * steep)
    facts[CAP] = CAPTURE_MS / math.sqrt(max(1.0 - along, 0.2))
    high = run * PAST[-1] + REACH * length_sd(facts, max(q, slow.q))
    top = math.sqrt(dead + high)
    bottom = math.sqrt(max(slow.w, 0.0))
    steps = SPEEDS - SHORT - 1
    for k in range(SHORT, SPEEDS):
        line = slow
        if k > SHORT:
            u = bottom + (max(top, bottom + 0.5) - bottom) * (k - SHORT) / steps
            qk = slow.q + (u * u - slow.w) / gain
            guess = aim + (slow.aim - aim) * (slow.q / qk - slow.q / q) / (1.0 - slow.q / q + 1e-9)
            if slow.q >= q - 1e-4 or k > SHORT + 1:
                guess = fan[k - 1, AIM] * fan[k - 1, Q] / qk
            line = line_for(g, start, hole, guess, qk, 0.0, False)
        fill_speed(g, start, hole, line, width, fan[k])
    for k in range(SPEEDS - 1, SHORT - 1, -1):
        if fan[k, BETA] == 0.0:
            fan[k, BETA] = -far if k == SPEEDS - 1 else fan[k + 1, BETA]
    facts[STEER] = -fan[SHORT + 1, BETA] if abs(fan[SHORT + 1, B]) < 2.0 * HOLE_R else far
    bend = (fan[SHORT, AIM] - fan[SHORT + 1, AIM]) / (fan[SHORT + 1, Q] - fan[SHORT, Q] + 1e-9)
    for k in range(SHORT):
        drop = min(REACH * length_sd(facts, slow.q) + 0.06 * run, 0.9 * slow.q) * (SHORT - k) / SHORT
        qk = slow.q - drop
        a = slow.aim + within(bend * drop, -0.3, 0.3)
        rest_x, rest_y, off, wk = roll_putt(g, x, y, base + a, qk, hx, hy)
        if abs(off) > HOLE_R or wk <= 0.0:
            off, wk = slow.off, slow.w - gain * drop
        fill_speed(g, start, hole, Line(a, qk, off, wk, rest_x, rest_y), width, fan[k])
        fan[k, BETA] = fan[SHORT, BETA]


@kernel(python_entry=False)
def fill_speed(g, start, hole, line, width, row):
    """Keep one speed: what the line gives at the hole, and where balls on it and to both sides rest."""
    angle, far, off, w = start.base + line.aim, start.far, line.off, line.w
    xr, yr, off_r, w_r = roll_putt(g, start.x, start.y, angle - width, line.q, hole[0], hole[1])
    xl, yl, off_l, w_l = roll_putt(g, start.x, start.y, angle + width, line.q, hole[0], hole[1])
    row[Q], row[AIM], row[W], row[B] = line.q, line.aim, w, off
    if w > 0.0 and w_r > 0.0 and w_l > 0.0:
        row[BETA] = within((off_l - off_r) / (2.0 * width), -2.5 * far, -0.1 * far)
    elif w > 0.0 and w_r > 0.0:
        row[BETA] = within((off - off_r) / width, -2.5 * far, -0.1 * far)
    elif w > 0.0 and w_l > 0.0:
        row[BETA] = within((off_l - off) / width, -2.5 * far, -0.1 * far)
    else:
        row[BETA] = 0.0
    row[XR], row[YR], row[XC], row[YC], row[XL], row[YL] = xr, yr, line.x, line.y, xl, yl
    row[WIDTH] = width


@kernel(inline=True, python_entry=False)
def level_at(v, far):
    """Value of the level curve."""
    u = min(far / LEVEL_STEP, v.level.size - 1.000001)
    k = int(u)
    return v.level[k] + (u - k) * (v.level[k + 1] - v.level[k])


@kernel(inline=True, python_entry=False)
def putts_at(g, v, hx, hy, x, y):
    """Expected putts from a place.

    The level curve, what the place adds, and strokes lost where it cannot be putted.
    """
    dx, dy = x - hx, y - hy
    far = math.sqrt(dx * dx + dy * dy)
    level = level_at(v, far)
    last = v.radii.size - 1
    if far < NO_SLOPE_M:
        return level
    if far < v.radii[last]:
        ring = 0
        while v.radii[ring + 1] < far:
            ring += 1
        a = (far - v.radii[ring]) / (v.radii[ring + 1] - v.radii[ring])
        count = v.rays.shape[1]
        turn = (math.atan2(dy, dx) / (2.0 * math.pi) % 1.0) * count
        i = int(turn)
        b = turn - i
        i = i % count
        j = (i + 1) % count
        adds = (1 - a) * ((1 - b) * v.rays[ring, i] + b * v.rays[ring, j]) + a * (
            (1 - b) * v.rays[ring + 1, i] + b * v.rays[ring + 1, j]
        )
    else:
        adds = grid_at(v, x, y)
    rows, cols = g.lost.shape
    row = int(within((g.y_north - y) / g.cell, 0.0, rows - 1.0))
    col = int(within((x - g.x_west) / g.cell, 0.0, cols - 1.0))
    return level + adds + g.lost[row, col]


@kernel(inline=True, python_entry=False)
def grid_at(v, x, y):
    """What a place adds, from the grid (bilinear, the edge's value beyond it)."""
    rows, cols = v.grid.shape
    s = within((x - v.x0) / v.step, 0.0, cols - 1.000001)
    t = within((y - v.y0) / v.step, 0.0, rows - 1.000001)
    j, i = int(s), int(t)
    a, b = s - j, t - i
    return (1 - b) * ((1 - a) * v.grid[i, j] + a * v.grid[i, j + 1]) + b * (
        (1 - a) * v.grid[i + 1, j] + a * v.grid[i + 1, j + 1]
    )


@kernel(inline=True, python_entry=False)
def normal_cdf(z):
    """Normal distribution."""
    return 0.5 * (1.0 + math.erf(0.7071067811865476 * z))


@kernel(inline=True, python_entry=False)
def speed_at(fan, q):
    """Lower of the two rolled speeds about a squared launch speed, and the share of the upper."""
    k = 0
    while k < SPEEDS - 2 and fan[k + 1, Q] < q:
        k += 1
    return k, within((q - fan[k, Q]) / (fan[k + 1, Q] - fan[k, Q] + 1e-12), -0.5, 1.5)


@kernel(inline=True, python_entry=False)
def line_at(fan, w):
    """Line that meets the hole at a squared speed there: ``aim, change of the offset with the line``.

    Interpolated over the speed: the break grows with the time the ball takes, which is linear in it.
    """
    k = SHORT
    while k < SPEEDS - 2 and fan[k + 1, W] < w:
        k += 1
    low, high = math.sqrt(max(fan[k, W], 0.0)), math.sqrt(max(fan[k + 1, W], 0.0))
    f = within((math.sqrt(max(w, 0.0)) - low) / (high - low + 1e-9), -1.0, 1.5)
    beta = fan[k, BETA] + within(f, 0.0, 1.0) * (fan[k + 1, BETA] - fan[k, BETA])
    hit, hit1 = fan[k, AIM] - fan[k, B] / fan[k, BETA], fan[k + 1, AIM] - fan[k + 1, B] / fan[k + 1, BETA]
    return hit + f * (hit1 - hit), beta


@kernel(python_entry=False)
def launch_for(g, e, facts, fan, past, aside, hx, hy):
    """Launch of a pace [m past the hole if level] and a line's shift.

    ``aim, squared speed, standard deviations of both``.
    """
    _, _, rho = slope_at(g, hx, hy)
    q = max(facts[Q_DEAD] + 2.0 * PULL * rho * (past - DEAD_M) / facts[GAIN], SLOWEST_Q)
    k, f = speed_at(fan, q)
    aim, _ = line_at(fan, fan[k, W] + f * (fan[k + 1, W] - fan[k, W]))
    sd = direction_sd(e, facts, aim)
    return aim + aside * HOLE_R / facts[DIST], q, sd, length_sd(facts, q)


@kernel(python_entry=False)
def mean_over_errors(g, e, v, facts, fan, past, aside, hole):
    """Expected putts of one line and pace, and the chance to hole: ``putts, holed``.

    ``past`` is the pace: run past the hole if it were level [m]; ``aside`` the line's shift to the left [hole
    radii at the hole].
    """
    hx, hy = hole
    aim, q0, sd, sd_q = launch_for(g, e, facts, fan, past, aside, hx, hy)
    rim = (
        -facts[BRAKE] * 0.5 * math.pi * HOLE_R
    )  # squared speed lacking at the centre of a ball that just drops
    cap2 = facts[CAP] ** 2
    putts, holed = 1.0, 0.0
    for j in range(_EDGES_Q.size - 1):
        low, high = _EDGES_Q[j], _EDGES_Q[j + 1]
        part_q = _CDF_Q[j + 1] - _CDF_Q[j]
        q = max(q0 + 0.5 * (low + high) * sd_q, 0.5 * SLOWEST_Q)
        k, f = speed_at(fan, q)
        grows = (fan[k + 1, W] - fan[k, W]) / (fan[k + 1, Q] - fan[k, Q] + 1e-12)
        w = fan[k, W] + f * (fan[k + 1, W] - fan[k, W])
        half = max(0.5 * (high - low) * sd_q * grows, 1e-6)
        w_low, w_high = max(w - half, rim), min(w + half, cap2)
        share, p_low, p_high = 0.0, 0.0, 0.0
        if w_high > w_low:
            share = (w_high - w_low) / (2.0 * half)
            middle = 0.5 * (w_low + w_high)
            room = HOLE_R * math.sqrt(max(1.0 - math.sqrt(max(middle, 0.0)) / facts[CAP], 0.0))
            hit, beta = line_at(fan, middle)
            centre, reach = (hit - aim) / sd, room / (-beta * sd)
            p_low, p_high = normal_cdf(centre - reach), normal_cdf(centre + reach)
            holed += part_q * share * (p_high - p_low)
        for i in range(_EDGES_A.size - 1):
            over = min(p_high, _CDF_A[i + 1]) - max(p_low, _CDF_A[i])
            part = part_q * (_CDF_A[i + 1] - _CDF_A[i] - share * max(over, 0.0))
            if part > 1e-7:
                line = aim + 0.5 * (_EDGES_A[i] + _EDGES_A[i + 1]) * sd
                x0, y0 = rest_of(fan[k], line)
                x1, y1 = rest_of(fan[k + 1], line)
                putts += part * putts_at(g, v, hx, hy, x0 + f * (x1 - x0), y0 + f * (y1 - y0))
    return putts, holed


@kernel(python_entry=False)
def rest_of(row, line):
    """Where a ball of a rolled speed rests on a line: interpolated between the three lines rolled."""
    s = (line - row[AIM]) / row[WIDTH]
    x, y = row[XL], row[YL]
    if s < 0.0:
        s, x, y = -s, row[XR], row[YR]
    return row[XC] + s * (x - row[XC]), row[YC] + s * (y - row[YC])


@kernel
def roll_all(g, e, xs, ys, hx, hy, facts, fans):
    """Roll the putts of all places at one hole.

    Fills ``facts (n, FACTS)`` and ``fans (n, SPEEDS, FIELDS)``.
    """
    for n in range(xs.size):
        roll_out(g, e, xs[n], ys[n], hx, hy, facts[n], fans[n])


@kernel
def choose_all(g, e, v, hole, rolled, first, step, chosen):
    """Choose pace and line at every place for the least expected putts.

    ``chosen.choice`` is improved by ``step``.
    """
    facts, fans, choice = rolled.facts, rolled.fans, chosen.choice
    for n in range(facts.shape[0]):
        best, made = 1e9, 0.0
        past, aside = choice[n, 0], choice[n, 1]
        if first:
            for i in range(PAST.size):
                k = (i + USUAL) % PAST.size
                mean, share = mean_over_errors(g, e, v, facts[n], fans[n], PAST[k], 0.0, hole)
                if mean < best - 1e-6:
                    best, made, past, aside = mean, share, PAST[k], 0.0
        else:
            best, made = mean_over_errors(g, e, v, facts[n], fans[n], past, aside, hole)
            p, a = past, aside
            for k in range(4 if step > 0.0 else 0):
                new_p, new_a = past, aside
                if k < 2:
                    new_p = within(p + (step if k == 0 else -step), PAST[0], PAST[-1])
                else:
                    new_a = within(a + 2.0 * (step if k == 2 else -step), -2.0, 2.0)
                mean, share = mean_over_errors(g, e, v, facts[n], fans[n], new_p, new_a, hole)
                if mean < best:
                    best, made, past, aside = mean, share, new_p, new_a
        choice[n, 0], choice[n, 1] = past, aside
        chosen.putts[n], chosen.holed[n] = min(best, level_at(v, facts[n, DIST]) + MOST_ADDED), made


@kernel
def launches_of(g, e, hx, hy, facts, fans, choice, out):
    """Launch of the chosen putts.

    Rows of ``out`` are angle, squared speed, and the standard deviations of both.
    """
    for n in range(facts.shape[0]):
        aim, q, sd, sd_q = launch_for(g, e, facts[n], fans[n], choice[n, 0], choice[n, 1], hx, hy)
        out[n, 0], out[n, 1], out[n, 2], out[n, 3] = facts[n, BASE] + aim, q, sd, sd_q


@kernel
def values_at(g, v, hx, hy, xs, ys, out):
    """Expected putts from places."""
    for n in range(xs.size):
        out[n] = putts_at(g, v, hx, hy, xs[n], ys[n])


@kernel
def means_of(g, e, v, hole, rolled, chosen):
    """Mean of a value over a miss of the chosen putts (plus one), and the chance to hole."""
    for n in range(rolled.facts.shape[0]):
        past, aside = chosen.choice[n, 0], chosen.choice[n, 1]
        chosen.putts[n], chosen.holed[n] = mean_over_errors(
            g, e, v, rolled.facts[n], rolled.fans[n], past, aside, hole
        )


@kernel
def roll_many(g, xs, ys, angles, speeds2, hx, hy, out):
    """Roll putts past a hole that does not catch them.

    Rows of ``out`` are rest ``x, y``, offset, squared speed at the hole.
    """
    for n in range(xs.size):
        out[n, 0], out[n, 1], out[n, 2], out[n, 3] = roll_putt(g, xs[n], ys[n], angles[n], speeds2[n], hx, hy)
