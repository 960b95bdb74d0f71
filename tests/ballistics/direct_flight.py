"""Complete shots by direct integration over terrain, without tables: the second way of computing a shot."""

from __future__ import annotations

import math

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.ballistics.flight_kernels import LONGEST, State, Vector, between, fly_once, hermite
from gistools.compute.ballistics.shot_kernels import (
    NEVER,
    OFF_MAP,
    SHOT,
    Landing,
    contact,
    level_at,
    run_out,
    spin_axis,
)


@kernel(python_entry=False)
def at_level(state, z):
    """The state at another level."""
    return State(state.x, state.y, z, state.vx, state.vy, state.vz, state.spin)


@kernel(python_entry=False)
def fly_over(ground, obstacles, air, dt, start, state, axis):
    """Fly to the ground or an obstacle; ``state`` counts its height from the start."""
    t = apex = 0.0
    last = level_at(ground, start.x, start.y)
    if math.isnan(last):
        last = start.z
    while t < LONGEST:
        after = fly_once(air, dt, state, axis)
        one = at_level(state, state.z + start.z)
        two = at_level(after, after.z + start.z)
        how, u, level, last = contact(ground, obstacles, start, last, dt, one, two)
        if state.vz > 0.0 and after.vz <= 0.0 and state.vz / (state.vz - after.vz) <= u:
            apex = max(
                apex, hermite(state.vz / (state.vz - after.vz), dt, state.z, state.vz, after.z, after.vz)
            )
        if how != NEVER:
            apex = max(apex, hermite(u, dt, state.z, state.vz, after.z, after.vz))
            return Landing(at_level(between(u, dt, one, two), level), t + u * dt, apex, how)
        state = after
        t += dt
    return Landing(at_level(state, last), t, apex, OFF_MAP)


@kernel
def fly_shots(ground, obstacles, air, dt, start, launch, headings, scales, out):
    """Fill SHOT records; ``launch`` is speed, angle, spin, tilt of the full shot."""
    speed, angle, spin, tilt = launch
    for k in range(headings.size):
        v = speed * scales[k]
        flat = v * math.cos(angle)
        east, north, up = flat * math.sin(headings[k]), flat * math.cos(headings[k]), v * math.sin(angle)
        state = State(start.x, start.y, 0.0, east, north, up, spin * scales[k])
        axis = spin_axis(tilt, headings[k])
        run_out(ground, fly_over(ground, obstacles, air, dt, start, state, axis), axis, out[k])


def play_directly(ground, obstacles, air, dt, start, launch, headings, scales):
    """SHOT records of shots of a :class:`gistools.compute.ballistics.flight.Launch`, without its part-shot
    spin rule."""
    out = np.empty(len(headings), SHOT)
    full = (float(launch.speed_ms), *launch.radians)
    fly_shots(ground, obstacles, air, dt, Vector(*map(float, start)), full, headings, scales, out)
    return out
