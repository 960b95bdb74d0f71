"""Putter from off the green: against strokes drawn one by one, and where it is used."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.shot_kernels import ROLLING_RESISTANCE
from gistools.compute.ballistics.turf import resistance_of, turf_grid
from gistools.compute.decision import putting_kernels as kernels
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.off_green import FAR_M, GRASS_SHARE, MOST_ROUGH_M
from gistools.compute.decision.putting import SCRATCH, TOUR, solve_green
from gistools.compute.decision.putting_kernels import CAPTURE_MS, HOLE_R
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import solve
from gistools.compute.terrain.surface import Surface

RADIUS, APRON = 10.0, 3.0


@pytest.mark.parametrize(("putter", "away"), [(SCRATCH, 8.0), (SCRATCH, 11.0), (TOUR, 9.0)])
def test_drawn_one_by_one(putter, away) -> None:
    """Strokes of a putt through longer grass: within 0.02 and three standard errors of 4,000 drawn ones.

    Line and pace are drawn about the chosen ones; a ball that comes to rest costs what the green says there.
    """
    x, y = 0.25 * np.arange(-80, 80) + 0.125, -(0.25 * np.arange(-80, 80) + 0.125)
    surface = Surface(np.zeros((160, 160)), -20.0, 20.0, 0.25)
    far = np.hypot(x[None, :], y[:, None])
    rho = np.where(far > 5.0, 2.5, 1.0) * resistance_of(10.0)
    green = solve_green(surface, far < 5.0, [(0.0, 0.0)], putter, resistance=rho, threads=1)[0]
    errors = putter.errors()._replace(turf=GRASS_SHARE)
    plan = green.plan([away], [0.0], errors)
    rng, n = np.random.default_rng(3), 4000
    grass = (away - 5.0) * 2.5
    extra = (away - 5.0) * 1.5 / (grass + 5.0)
    share = np.hypot(putter.length_share, GRASS_SHARE * extra)
    assert plan.length_sd[0] == pytest.approx(share, rel=0.05)
    angle = plan.angle[0] + rng.normal(0.0, plan.angle_sd[0], n)
    speed2 = plan.speed[0] ** 2 * (1.0 + rng.normal(0.0, plan.length_sd[0], n))
    out = np.empty((n, 4))
    start = np.full(n, away), np.zeros(n)
    kernels.roll_many(green.turf, *start, angle, np.maximum(speed2, 1e-4), 0.0, 0.0, out)
    offset, at_hole = np.abs(out[:, 2]), np.sqrt(np.maximum(out[:, 3], 0.0))
    holed = (offset < HOLE_R) & (out[:, 3] > 0.0) & (at_hole < CAPTURE_MS * (1.0 - (offset / HOLE_R) ** 2))
    strokes = 1.0 + np.where(holed, 0.0, green.at(out[:, 0], out[:, 1]))
    assert plan.putts[0] == pytest.approx(strokes.mean(), abs=0.02 + 3 * strokes.std() / np.sqrt(n))


@functools.cache
def played(rough_m: float):
    """Green with an apron, rough of some width west of it, a bunker to the north."""
    n = 60
    surface = Surface(np.full((n, n), 5.0), -30.0, 30.0, 1.0)
    x, y = surface.centres()
    far = np.hypot(x[None, :], y[:, None])
    kinds = np.full((n, n), Kind.FAIRWAY, np.uint8)
    west = (x[None, :] < 0.0) & (far < RADIUS + rough_m)
    kinds[west] = Kind.ROUGH
    kinds[(y[:, None] > RADIUS) & (np.abs(x[None, :]) < 3.0)] = Kind.SAND
    kinds[far < RADIUS] = Kind.GREEN
    man = built_in("bogey man")
    return solve(
        surface, turf_grid(surface, kinds), far < RADIUS, shot_table_of(man, CALM), ["centre"], [(0.0, 0.0)],
        cell_m=2.0, putter=putter_of(man), keep=False,
    )  # fmt: skip


def test_used_from_smooth_ground_alone() -> None:
    s = played(4.0)
    assert np.isfinite(s.rolled[s.state(12.0, 0.0), 0])  # from the fairway
    assert np.isinf(s.rolled[s.state(-13.0, 0.0), 0])  # over more rough than is putted through
    assert np.isinf(s.rolled[s.state(0.0, 12.0), 0])  # from sand
    assert (
        np.isinf(s.rolled[s.state(RADIUS + FAR_M + 4.0, 0.0), 0]) and np.isinf(s.rolled[s.mesh.putts]).all()
    )
    assert MOST_ROUGH_M < 3.0 and np.isfinite(played(1.0).rolled[s.state(-12.0, 0.0), 0])


def test_slow_rolls_on_fairway_and_misjudged_longer_grass() -> None:
    """Strokes from the apron are those of 0.6 of its resistance, 35 % of the extra one misjudged."""
    s = played(4.0)
    green = s.space.land.turf[Kind.GREEN, ROLLING_RESISTANCE]
    x, y = s.surface.centres()
    rho = np.where(np.hypot(x[None, :], y[:, None]) < RADIUS, green, 0.6 * 0.30)
    solved = solve_green(s.surface, rho == green, [(0.0, 0.0)], s.putter, resistance=rho, threads=1)[0]
    errors = s.putter.errors()
    for place in ((12.0, 0.0), (16.0, 0.0)):
        state = s.state(*place)
        at = s.mesh.place[state, :2]
        putts = solved.plan(*np.array([at]).T, errors._replace(turf=0.35)).putts[0]
        assert s.rolled[state, 0] == pytest.approx(putts, abs=0.02)
        assert putts > solved.plan(*np.array([at]).T, errors).putts[0] + 0.01


def test_putter_is_the_action_exactly_where_it_costs_less() -> None:
    s = played(4.0)
    assert (s.value <= s.rolled + 1e-9).all()
    by_putter = s.rolled[:, 0] <= s.value[:, 0]
    assert by_putter.sum() > 20 and (s.shot[by_putter, 0, 0] == -1).all()
    assert (s.shot[~by_putter & ~s.mesh.putts, 0, 0] >= 0).all()
    here = s.value_at(12.0, 0.0, 0)
    assert here.shot == -1 and here.strokes == pytest.approx(s.at(12.0, 0.0, 0))
    assert s.value_at(12.0, 0.0, 0, lie=LIES.index("fairway")).shot >= 0  # where the ball lies there alone


def test_no_step_at_the_edge_of_the_green() -> None:
    """Strokes of the bogey man fall by less than 0.25 from two metres off the green to one metre on it."""
    s = played(4.0)
    assert 0.0 < s.value_at(12.0, 0.0, 0).strokes - s.value_at(9.0, 0.0, 0).strokes < 0.25
