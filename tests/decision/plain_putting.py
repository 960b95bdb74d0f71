"""Putts simulated one by one with random errors: plain NumPy in small steps on ground given by a formula."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

G, HOLE_R = 9.80665, 0.054
Slope = Callable[[Any, Any], tuple[Any, Any]]


def roll(
    slope: Slope,
    rho: float,
    x: Any,
    y: Any,
    angle: Any,
    speed: Any,
    hole: tuple[float, float],
    dt: float = 0.005,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rest ``x, y`` of balls and whether they are holed: the capture law at the first closest approach."""
    x, y, angle, speed = (np.array(a, float) for a in np.broadcast_arrays(x, y, angle, speed))
    vx, vy = speed * np.cos(angle), speed * np.sin(angle)
    hx, hy = hole
    holed = np.zeros(x.shape, bool)
    met = np.zeros(x.shape, bool)
    rolls = np.ones(x.shape, bool)
    for _ in range(int(40 / dt)):
        i = np.flatnonzero(rolls)
        if not i.size:
            break
        east, north = slope(x[i], y[i])
        flat2 = 1 / (1 + east**2 + north**2)
        v = np.hypot(vx[i], vy[i])
        brake = 5 / 7 * G * rho * np.sqrt(flat2)
        ux = vx[i] - dt * (5 / 7 * G * flat2 * east + brake * vx[i] / v)
        uy = vy[i] - dt * (5 / 7 * G * flat2 * north + brake * vy[i] / v)
        turned = ux * vx[i] + uy * vy[i] <= 0
        before = (hx - x[i]) * vx[i] + (hy - y[i]) * vy[i]
        x[i] += dt * 0.5 * (vx[i] + np.where(turned, 0, ux))
        y[i] += dt * 0.5 * (vy[i] + np.where(turned, 0, uy))
        after = (hx - x[i]) * vx[i] + (hy - y[i]) * vy[i]
        closest = ~met[i] & (before > 0) & (after <= 0)
        b = np.abs(vx[i] * (hy - y[i]) - vy[i] * (hx - x[i])) / v
        rise = (east * vx[i] + north * vy[i]) / v * np.sqrt(flat2)
        cap = 1.63 * (1 - (b / HOLE_R) ** 2) / np.sqrt(1 - rise)
        rest = turned & (np.hypot(east, north) <= rho)
        holed[i] |= (closest & (b < HOLE_R) & (v < cap)) | (
            rest & ~met[i] & (np.hypot(x[i] - hx, y[i] - hy) < HOLE_R)
        )
        met[i] |= closest
        vx[i] = np.where(turned, -1e-3 * east, ux)
        vy[i] = np.where(turned, -1e-3 * north, uy)
        rolls[i] = ~rest & ~holed[i]
    return x, y, holed


def play(green: Any, slope: Slope, rho: float, x: float, y: float, n: int, seed: int, most: int = 6) -> Any:
    """Putts of ``n`` plays from a place by the green's own lines and paces.

    ``mean, standard error, share of one-putts``.
    """
    rng = np.random.default_rng(seed)
    xs, ys = np.full(n, float(x)), np.full(n, float(y))
    score = np.zeros(n)
    going = np.arange(n)
    one = 0.0
    for putt in range(most):
        if putt == 0:
            plan = green.plan([x], [y])
            angle, speed, sd, share = (
                np.full(n, a[0]) for a in (plan.angle, plan.speed, plan.angle_sd, plan.length_sd)
            )
        else:
            plan = green.plan(xs[going], ys[going])
            angle, speed, sd, share = plan.angle, plan.speed, plan.angle_sd, plan.length_sd
        m = going.size
        angle = angle + sd * rng.standard_normal(m)
        speed = speed * np.sqrt(np.maximum(1 + share * rng.standard_normal(m), 0.02))
        score[going] += 1
        rx, ry, holed = roll(slope, rho, xs[going], ys[going], angle, speed, green.hole)
        if putt == 0:
            one = holed.mean()
        xs[going], ys[going] = rx, ry
        going = going[~holed & (np.hypot(rx - green.hole[0], ry - green.hole[1]) > HOLE_R)]
        if not going.size:
            break
    score[going] += green.at(xs[going], ys[going]) if going.size else 0.0
    return score.mean(), score.std() / np.sqrt(n), one
