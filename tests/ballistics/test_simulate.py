"""Whole shots: repeatable, believable, never nan, and what happens with impossible input."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.flight import NO_OBSTACLES, Launch, obstacles_for
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.simulate import Shots, records, sample_launches, simulate_shots
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.terrain.surface import Surface


def simulate(surface, kinds, *shot, obstacles=None, **choices) -> Shots:
    ground = turf_grid(surface, kinds)
    return simulate_shots(ground, *shot, obstacles=obstacles_for(obstacles, surface), **choices)


def sound(shots: Shots) -> None:
    """No nan, known kinds, apex and times not negative."""
    for field in dataclasses.fields(shots):
        values = getattr(shots, field.name)
        assert len(values) == len(shots)
        assert np.isfinite(values.astype(float)).all(), field.name
    assert set(np.unique(shots.kind)) <= {int(k) for k in Kind}
    assert (shots.apex_m >= 0).all() and (shots.air_s >= 0).all() and (shots.run_s >= 0).all()


def test_repeats_exactly(level) -> None:
    one, two = (simulate(level, Kind.FAIRWAY, (0.0, 0.0), "driver", 0.0, lie="tee", n=300) for _ in range(2))
    assert (one.x == two.x).all() and (one.y == two.y).all()


def test_level_shots_land_where_the_errors_say(level) -> None:
    player = built_in("scratch man")
    shots = simulate(level, Kind.FAIRWAY, (0.0, 0.0), "7-iron", 0.0, n=512, player=player)
    angle, factor = player.dispersion(player.club("7-iron")).errors(512)
    assert np.arctan2(shots.land_x, shots.land_y) == pytest.approx(angle, abs=1e-6)
    assert shots.carry_m == pytest.approx(factor * player.club("7-iron").carry_m, abs=0.05)
    assert (shots.kind == Kind.FAIRWAY).all() and (shots.feature == -1).all() and not shots.stopped.any()
    sound(shots)


def test_aim_by_bearing_or_by_point_anywhere(make_plane) -> None:
    surface = make_plane()
    by_point = simulate(surface, 1, (5.0, 10.0), "7-iron", (5.0, 110.0), n=16)
    by_bearing = simulate(surface, 1, (5.0, 10.0), "7-iron", 360.0, n=16)
    assert by_point.x == pytest.approx(by_bearing.x)
    assert by_bearing.y.mean() == pytest.approx(10.0 + by_bearing.carry_m.mean(), rel=0.05)


def test_a_turned_world_gives_turned_answers() -> None:
    """Ground, aim and wind turned by a quarter: the same shots, turned."""
    rng = np.random.default_rng(3)
    from scipy.ndimage import gaussian_filter

    z = gaussian_filter(rng.normal(size=(400, 400)), 12) * 20
    north = Surface(z, -200.0, 200.0, 1.0)
    east = Surface(np.rot90(z, -1), -200.0, 200.0, 1.0)
    one = simulate(north, 1, (0.0, -150.0), "5-iron", 10.0, Wind("", 5.0, 60.0), n=64)
    two = simulate(east, 1, (-150.0, 0.0), "5-iron", 100.0, Wind("", 5.0, 150.0), n=64)
    assert two.land_x == pytest.approx(one.land_y, abs=1e-6) and two.land_y == pytest.approx(
        -one.land_x, abs=1e-6
    )
    assert np.median(np.hypot(two.x - one.y, two.y + one.x)) < 1e-3


def test_lies_shorten_and_spread(level) -> None:
    plays = {
        lie: simulate(level, 1, (0.0, 0.0), "7-iron", 0.0, n=1024, lie=lie)
        for lie in ("fairway", "rough", "sand", "recovery")
    }
    means = [p.carry_m.mean() for p in plays.values()]
    assert (np.diff(means) < 0).all()
    sds = [np.arctan2(p.land_x, p.land_y).std() for p in plays.values()]
    skill = built_in("scratch man").skill
    assert sds[1] == pytest.approx((1 + skill.rough_add_pct / 100) * sds[0], rel=0.05)
    assert sds[2] == pytest.approx(skill.sand_factor * sds[0], rel=0.06)


def test_the_lie_is_what_the_ball_lies_on(level) -> None:
    from_sand = simulate(level, Kind.SAND, (0.0, 0.0), "9-iron", 0.0, n=64)
    output = simulate(level, Kind.SAND, (0.0, 0.0), "9-iron", 0.0, n=64, lie="sand")
    assert from_sand.x == pytest.approx(output.x)


def test_a_part_shot_carries_what_it_is_played_for(level) -> None:
    shots = simulate(level, Kind.GREEN, (0.0, 0.0), "sand wedge", 0.0, n=256, carry_m=30.0)
    assert shots.carry_m.mean() == pytest.approx(30.0, rel=0.03)


def test_features_are_reported(level) -> None:
    kinds = np.full(level.z.shape, Kind.FAIRWAY, np.uint8)
    feature = np.full(level.z.shape, -1, np.int16)
    _, y = level.centres()
    kinds[(y > 130) & (y < 140)] = Kind.SAND
    feature[(y > 130) & (y < 140)] = 3
    shots = simulate(level, kinds, (0.0, 0.0), "7-iron", 0.0, n=256, features=feature)
    assert ((shots.feature == 3) == (shots.kind == Kind.SAND)).all() and (shots.feature == 3).any()
    with pytest.raises(InputError, match="share a grid"):
        simulate(level, kinds, (0.0, 0.0), "7-iron", 0.0, n=4, features=np.zeros((2, 2)))


def test_threads_and_chunks_do_not_change_the_answer(level) -> None:
    land = turf_grid(level, Kind.FAIRWAY)
    player = built_in("scratch man")
    club = player.club("driver")
    headings, scales = sample_launches(player, club, "tee", 0.0, 9000)
    one = np.concatenate(
        list(records(land, NO_OBSTACLES, club.table(), (0.0, 0.0, 0.0), headings, scales, threads=1))
    )
    two = np.concatenate(
        list(
            records(
                land, NO_OBSTACLES, club.table(), (0.0, 0.0, 0.0), headings, scales, threads=3, chunk=4500
            )
        )
    )
    assert (one == two).all()


# ---------------------------------------------------------------- awkward ground


def test_start_off_the_terrain_is_refused(level) -> None:
    with pytest.raises(InputError, match="no ground"):
        simulate(level, 1, (500.0, 0.0), "driver", 0.0, lie="tee")
    z = level.z.copy()
    z[590:610, 110:130] = np.nan
    with pytest.raises(InputError, match="no ground"):
        simulate(Surface(z, level.x_west, level.y_north, level.cell), 1, (0.0, 0.0), "driver", 0.0, lie="tee")


def test_shots_into_a_cliff_end_at_its_foot() -> None:
    """A wall of 60 m, 20 m ahead: every shot is back at its foot or on it, none beyond, none lost."""
    y = 200 - (np.arange(400) + 0.5)
    z = np.where(y > 20, 60.0, 0.0)[:, None] * np.ones((400, 200))
    shots = simulate(Surface(z, -100.0, 200.0, 1.0), Kind.ROUGH, (0.0, 0.0), "driver", 0.0, lie="tee", n=512)
    sound(shots)
    assert (shots.land_y <= 22).all() and (shots.land_y > 5).all()
    assert (shots.y < 25).all()


def test_shots_that_leave_the_map_are_off_the_map(level) -> None:
    shots = simulate(level, 1, (0.0, 200.0), "driver", 0.0, lie="tee", n=256)
    sound(shots)
    assert (shots.kind == Kind.OFF_MAP).all()
    assert (shots.y > 295).all()  # where it comes down, or the last point with ground


def test_water_without_levels_is_off_the_map_and_not_nan(level) -> None:
    z = level.z.copy()
    _, y = level.centres()
    z[(y > 120) & (y < 160)] = np.nan
    shots = simulate(Surface(z, level.x_west, level.y_north, level.cell), 1, (0.0, 0.0), "7-iron", 0.0, n=256)
    sound(shots)
    assert (shots.kind[(shots.land_y > 121) & (shots.land_y < 159)] == Kind.OFF_MAP).all()
    assert (shots.kind == Kind.OFF_MAP).mean() > 0.9


def test_over_a_gap_without_levels(level) -> None:
    """Ground missing halfway does not end a flight that passes above it."""
    z = level.z.copy()
    _, y = level.centres()
    z[(y > 40) & (y < 60)] = np.nan
    gap = simulate(Surface(z, level.x_west, level.y_north, level.cell), 1, (0.0, 0.0), "7-iron", 0.0, n=32)
    whole = simulate(level, 1, (0.0, 0.0), "7-iron", 0.0, n=32)
    assert gap.land_y == pytest.approx(whole.land_y, abs=1e-6)


def test_no_spin_at_all(level) -> None:
    club = Club("driver", 150.0, Launch(60.0, 14.0, 0.0), "driver")
    player = dataclasses.replace(built_in("scratch man"), clubs=(club,))
    shots = simulate(level, 1, (0.0, 0.0), "driver", 0.0, lie="tee", player=player, n=64)
    sound(shots)
    assert shots.carry_m.mean() > 50


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 10_000),
    st.floats(0, 40),
    st.sampled_from(["driver", "7-iron", "sand wedge"]),
    st.floats(0, 360),
    st.floats(0, 15),
    st.sampled_from([1, 2, 4]),
)
def test_never_nan_on_any_ground(seed, relief, club, aim, wind, cell) -> None:
    """Random broken ground with holes in it, any club, aim and wind."""
    rng = np.random.default_rng(seed)
    z = relief * rng.random((60, 60)).cumsum(axis=0).cumsum(axis=1) / 900
    z[rng.random((60, 60)) < 0.02] = np.nan
    z[28:33, 28:33] = np.nan_to_num(z[28:33, 28:33], nan=float(np.nanmean(z)))
    kinds = rng.integers(0, 9, (60, 60)).astype(np.uint8)
    tree = [[10.0, 10.0, 4.0, 0.0, 300.0]]
    shots = simulate(
        Surface(z, -30.0 * cell, 30.0 * cell, float(cell)), kinds, (0.0, 0.0), club, aim,
        Wind("", wind, 200.0),
        lie="tee", n=32, obstacles=tree,
    )  # fmt: skip
    sound(shots)


@pytest.mark.parametrize(
    ("choices", "message"),
    [
        ({"n": 0}, "n is 0"),
        ({"n": 10**9}, "n is"),
        ({"carry_m": -10.0}, "carry_m"),
        ({"carry_m": 400.0}, "carry_m"),
        ({"lie": "water"}, "no lie"),
        ({"club": "spoon"}, "no club 'spoon'"),
        ({"club": "driver", "lie": "rough"}, "cannot be played"),
        ({"player": "nobody"}, "no built-in player"),
        ({"aim": float("nan")}, "aim"),
        ({"aim": (0.0, 0.0)}, "aim"),
        ({"model": "X"}, "flight model"),
    ],
)
def test_impossible_choices_are_named(level, choices, message) -> None:
    known = {"club": "7-iron", "aim": 0.0, "wind": CALM, "n": 8} | choices
    club, aim, wind = known.pop("club"), known.pop("aim"), known.pop("wind")
    with pytest.raises(InputError, match=message):
        simulate(level, 1, (0.0, 0.0), club, aim, wind, **known)


@pytest.mark.slow
def test_plain_python_gives_the_same(tmp_path) -> None:
    """The same kernels without compilation: same landings and finishes."""
    code = """
import numpy as np
from gistools.compute.terrain.surface import Surface
from gistools.compute.ballistics.simulate import simulate_shots
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.ballistics.air import Wind
y = np.arange(200)[:, None] * 0.02
ground = turf_grid(Surface(np.sin(y) + 0 * y.T[:, :120], -60.0, 190.0, 1.0), 1)
s = simulate_shots(ground, (0.0, 0.0), 'sand wedge', 3.0, Wind('w', 4.0, 70.0), n=4)
print(' '.join(f'{v:.6f}' for v in [*s.x, *s.y, *s.run_s, *s.apex_m]))
"""
    output = [
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "GISTOOLS_JIT": jit},
        ).stdout.split()
        for jit in ("1", "0")
    ]
    assert np.array(output[0], float) == pytest.approx(np.array(output[1], float), abs=1e-4)
    assert len(output[0]) == 16
