"""Signs of the tables behind the outcomes: errors of direction, wind, runs, bend of a flight at a tree."""

from __future__ import annotations

import functools
import math
from typing import NamedTuple

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.base.jit import kernel
from gistools.compute.ballistics.air import Wind, air_for
from gistools.compute.ballistics.flight import Launch, fly
from gistools.compute.decision import outcome_kernels as kernels
from gistools.compute.decision.outcome_kernels import HEADINGS, Action
from gistools.compute.decision.value_function import ValueFunction
from gistools.compute.decision.value_iteration_kernels import add_alike
from gistools.compute.terrain.surface import Surface

from .cases import field, play

LAUNCH = Launch(60.0, 14.0, 5000.0)


def test_error_of_direction_turns_the_landing() -> None:
    """Forward ``f cos e - r sin e``, right ``f sin e + r cos e``, at every level of landing."""
    levels = np.array([-10.0, 0.0, 10.0])
    flights = np.zeros((1, 3, 3, 7))
    flights[..., 0] = 200.0 - 0.5 * levels
    flights[..., 1] = 10.0 + 0.1 * levels
    flights[..., 2], flights[..., 3] = 30.0, 3.0
    errors, sizes = np.array([0.1, -0.2, 0.0]), np.full(3, 1.0)
    sample = np.zeros((1, kernels.TABLE_ROWS, 3))
    kernels.spread_samples(flights, np.array([0.9, 1.0, 1.1]), levels, errors, sizes, sample)
    sine, cosine = np.sin(errors), np.cos(errors)
    for row, (forward, right) in ((kernels.OFFSET, (200.0, 10.0)), (kernels.SHIFT, (-0.5, 0.1))):
        assert sample[0, row] == pytest.approx(forward * cosine - right * sine, abs=1e-9)
        assert sample[0, row + 1] == pytest.approx(forward * sine + right * cosine, abs=1e-9)
    way = errors + math.atan2(3.0, 30.0)
    assert sample[0, kernels.DIRECTION] == pytest.approx(np.cos(way))
    assert sample[0, kernels.DIRECTION + 1] == pytest.approx(np.sin(way))


@pytest.mark.parametrize("from_deg", [90.0, 200.0, 315.0])
def test_tabulated_flights_drift_as_single_flights_do(from_deg: float) -> None:
    """Headings north, east, south and west, landing level, within 0.1 m of a flight of its own."""
    wind = Wind("", 8.0, from_deg)
    angle, _, tilt = LAUNCH.radians
    scales = np.array([1.0])
    out = np.empty((4, 1, 1, 7))
    swing = kernels.Swing(LAUNCH.speed_ms, angle, tilt, LAUNCH.spin_at(scales))
    blows = (wind.speed_ms, math.radians(from_deg))
    kernels.arrivals(air_for(), blows, 0.02, swing, scales, np.zeros(1), out)
    for k, bearing in enumerate((0.0, 90.0, 180.0, 270.0)):
        flight = fly(LAUNCH, wind=wind, bearing_deg=bearing)
        assert out[k, 0, 0, :2] == pytest.approx([flight.carry_m, flight.offset_m], abs=0.1)


@functools.cache
def tilted() -> ValueFunction:
    """Fairway that rises 8 % ahead and 6 % to the right, before a small green."""
    level, kinds = field(width=80.0, length=130.0, cell=2.0, pin=(0.0, 90.0), green=6.0)
    x, y = level.centres()
    z = level.z + 0.06 * x[None, :] + 0.08 * y[:, None]
    surface = Surface(z, level.x_west, level.y_north, level.cell)
    return play(surface, kinds, pins=[(0.0, 90.0)], cell_m=10.0)


@pytest.mark.parametrize(("start", "heading", "slope"), [((0.0, 0.0), 0, 0.08), ((-30.0, 30.0), 60, 0.06)])
def test_runs_by_table_follow_direct_runs_on_a_slope(start, heading, slope) -> None:
    """North and east: downhill to the side, in the mean within 0.25 m of direct runs.

    The ball lands short, as a flight to that level does.
    """
    s = tilted()
    shot = min(range(len(s.shot_table.shots)), key=lambda k: abs(s.shot_table.shots[k].carry_m - 60.0))
    by_table, direct = (s.outcomes(*start, shot, heading, lie=0, direct_below_m=m) for m in (0.0, np.inf))
    runs = [[float((o[c] - o[f"land_{c}"]).mean()) for c in "xy"] for o in (by_table, direct)]
    assert runs[1][0 if heading == 0 else 1] < -0.4 and runs[0] == pytest.approx(runs[1], abs=0.25)
    carry_m, launch = float(s.tables(0).carry_m[shot]), s.shot_table.shots[shot].launch
    shorter = fly(launch, drop_m=-slope * carry_m).carry_m - fly(launch).carry_m
    landed = by_table["land_y" if heading == 0 else "land_x"].mean() - start[1 if heading == 0 else 0]
    assert shorter < -2.0 and landed == pytest.approx(carry_m + shorter, abs=1.5)


#: a post on a level fairway, left of a shot from the origin due north: x, y, radius, underside, top [m]
POST = (-2.25, 30.0, 1.0, 5.0, 90.0)


@functools.cache
def beside_a_post() -> ValueFunction:
    surface, kinds = field(width=80.0, length=130.0, cell=2.0, pin=(0.0, 90.0), green=6.0)
    return play(surface, kinds, pins=[(0.0, 90.0)], cell_m=10.0, obstacles=np.array([POST]))


def test_runs_by_table_are_direct_runs_on_level_fairway() -> None:
    """Landings of one class run as far as each does by itself, backspin included: in the mean 0.15 m."""
    s = beside_a_post()
    tables = s.tables(0)
    nodes = np.rint(tables.sample[:, 0, kernels.SPEED_NODE]).astype(int)
    far = [k for k, shot in enumerate(s.shot_table.shots) if 40.0 < shot.carry_m < 85.0]
    added = {k: tables.run_change[k, 0, nodes[k], kernels.LEVEL, kernels.RUN_OFFSET + 1].mean() for k in far}
    assert max(map(abs, added.values())) > 0.2, "a sign turned there is seen below"
    for k in far:
        by_table, direct = (
            (out["y"] - out["land_y"]).mean()
            for out in (s.outcomes(20.0, -15.0, k, 0, lie=0, direct_below_m=m) for m in (0.0, np.inf))
        )
        assert by_table == pytest.approx(direct, abs=0.15), s.shot_table.shots[k]


@pytest.mark.parametrize(("turned_rad", "share"), [(0.15, 1.0), (0.0, 0.0), (-0.15, 0.0)])
def test_a_flight_bends_towards_where_it_lands(turned_rad, share) -> None:
    """A parabola over a chord d that lands ``a`` to the right is ``d tan(a) (s - s^2)`` to the left of it."""
    s = beside_a_post()
    shot = min(range(len(s.shot_table.shots)), key=lambda k: abs(s.shot_table.shots[k].carry_m - 60.0))
    tables = s.tables(0)
    sample = tables.sample.copy()
    sample[shot, :, kernels.DIRECTION] = np.cos(turned_rad)
    sample[shot, :, kernels.DIRECTION + 1] = np.sin(turned_rad)
    out = np.zeros(64, kernels.OUTCOME)
    no_errors = kernels.Sampling(64, 0.0, -1.0)
    kernels.outcomes(
        s.ground, tables._replace(sample=sample), s.place(0.0, 0.0), kernels.Action(shot, 0), no_errors, out
    )
    assert tables.carry_m[shot] * math.tan(0.15) / 4 == pytest.approx(-POST[0], abs=0.5 * POST[2])
    assert np.mean(out["kind"] == Kind.TREES) == pytest.approx(
        share, abs=0.1
    )  # one that falls short bends less


class Shots(NamedTuple):
    """Carries [m], and the shot for each whole metre, as the search reads them."""

    carry_m: np.ndarray
    shot_for_m: np.ndarray


class Candidates(NamedTuple):
    """Room for actions, as in the workspace of the search."""

    candidate: np.ndarray


@kernel
def alike(shots, x, y, pin, xy, action, room):
    """Call a kernel that other kernels alone call."""
    return add_alike(shots, x, y, pin, xy, action, room, 0)


def test_shots_of_another_place_keep_angle_or_aiming_point():
    pin, there, (x, y) = np.array([0.0, 100.0]), np.array([60.0, 20.0]), (-30.0, 0.0)
    shots = Shots(np.array([80.0, 120.0]), np.repeat([0, 1], [100, 40]))
    room = Candidates(np.zeros((4, 2), np.int64))
    step, right_of_pin = 2 * np.pi / HEADINGS, 8
    to_pin = [np.arctan2(*(pin - place)) / step for place in (there, (x, y))]
    aim = round(to_pin[0] + right_of_pin) % HEADINGS
    assert alike(shots, x, y, pin, there, Action(0, aim), room) == 2
    (first, first_heading), (second, second_heading) = room.candidate[:2]
    assert first == 0 and abs(first_heading - (to_pin[1] + right_of_pin) % HEADINGS) <= 1.0
    landing = there + 80.0 * np.array([np.sin(aim * step), np.cos(aim * step)]) - (x, y)
    assert second == int(np.hypot(*landing) >= 100.0)
    assert abs(second_heading - np.arctan2(*landing) / step % HEADINGS) <= 0.5
