"""A second way of flying a ball, for comparison.

The equations of motion written out plainly, SciPy's DOP853.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

G, MASS, RADIUS = 9.80665, 0.04593, 0.021335
AREA = math.pi * RADIUS**2


def model_d(s: float, re: float) -> tuple[float, float]:
    cl = 0.34 * (1 - math.exp(-s / 0.145))
    return 0.21 + 1.05 * cl**2 + 0.30 / (1 + math.exp((re - 61000) / 7000)), cl


def model_q(s: float, re: float) -> tuple[float, float]:
    return 0.171 + 0.62 * s, 0.083 + 0.885 * s


def model_ss(s: float, re: float) -> tuple[float, float]:
    return 0.24 + 0.18 * s, 0.54 * s**0.4


def reference(
    speed: float,
    angle_deg: float,
    spin_rpm: float,
    *,
    model: Callable[[float, float], tuple[float, float]] = model_d,
    density: float = 1.225,
    viscosity: float = 1.4607e-5,
    wind: tuple[float, float] = (0.0, 0.0),
    roughness: float = 0.03,
    floor: float = 2.0,
    tilt_deg: float = 0.0,
    level: float = 0.0,
) -> dict[str, float]:
    """Fly north from the origin to a level; ``wind`` is (east, north) at 10 m, where it blows to."""
    tilt = math.radians(tilt_deg)
    axis = np.array([math.cos(tilt), 0.0, -math.sin(tilt)])

    def rates(_: float, state: np.ndarray) -> np.ndarray:
        v, spin = state[3:6], state[6]
        share = math.log(max(state[2], floor, roughness) / roughness) / math.log(10 / roughness)
        u = v - np.array([wind[0] * share, wind[1] * share, 0.0])
        fast = float(np.linalg.norm(u))
        cd, cl = model(RADIUS * spin / fast, 2 * RADIUS * fast / viscosity)
        side = np.cross(axis, u)
        pressure = 0.5 * density * AREA * fast**2 / MASS
        a = pressure * (-cd * u / fast + cl * side / np.linalg.norm(side)) - np.array([0, 0, G])
        return np.concatenate([v, a, [-2e-5 * spin * fast / RADIUS]])

    def lands(_: float, state: np.ndarray) -> float:
        return float(state[2] - level)

    lands.terminal, lands.direction = True, -1  # type: ignore[attr-defined]
    angle = math.radians(angle_deg)
    start = [0, 0, 0, 0, speed * math.cos(angle), speed * math.sin(angle), spin_rpm * 2 * math.pi / 60]
    got = solve_ivp(
        rates, (0, 30), start, method="DOP853", rtol=1e-10, atol=1e-10, events=lands, dense_output=True
    )
    end = got.y_events[0][0]
    times = np.linspace(0, got.t_events[0][0], 4001)
    return {
        "carry": end[1],
        "offset": end[0],
        "apex": float(got.sol(times)[2].max()),
        "time": float(got.t_events[0][0]),
        "descent": math.degrees(math.atan2(-end[5], math.hypot(end[3], end[4]))),
        "speed": float(np.linalg.norm(end[3:6])),
        "spin": end[6] * 60 / 2 / math.pi,
    }
