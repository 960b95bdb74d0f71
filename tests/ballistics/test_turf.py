"""Bounce and run.

Check values worked out apart from this code, closed forms, laws, slopes that do not hold.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.air import Weather
from gistools.compute.ballistics.flight import fly
from gistools.compute.ballistics.flight_kernels import RADIUS as R
from gistools.compute.ballistics.flight_kernels import Air, G, Vector, fly_to_level
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import (
    brede_stimp_correction,
    resistance_of,
    roll,
    run_out,
    smoothed,
    turf_grid,
    turf_table,
)
from gistools.compute.terrain.surface import Surface

ORIGIN = Vector(0.0, 0.0, 0.0)


def bounce(v, w, n, k_e, k_t, mu) -> np.ndarray:
    """Velocity, then spin after an impact."""
    after = _kernels.bounce(
        *(Vector(*map(float, a)) for a in (v, w, n)), np.array([k_e, k_t, 0.0, mu, 0.0, 0.0])
    )
    return np.concatenate(after)


PULL = 5 / 7 * G

# computed with a second program: (v_x, v_z, omega) in, k_t -> out; omega positive for backspin
IMPACTS = [
    ((15, -10, 0), 0.0, (10.7143, 2.2530, -502.193)),
    ((15, -10, 0), 1.0, (7.9127, 4.2819, -408.007)),
    ((15, -10, 300), 0.0, (10.0988, 2.2530, -274.315)),
    ((15, -10, 300), 1.0, (6.1366, 3.8464, -322.293)),
    ((5, -20, 900), 0.0, (-1.9147, 2.4240, 89.745)),
    ((5, -20, 900), 1.0, (-4.2510, 1.8848, 184.951)),
    ((20, -5, 100), 0.0, (17.3099, 1.7254, -215.227)),
    ((20, -5, 100), 1.0, (14.7139, 4.2175, -362.418)),
]


@pytest.mark.parametrize(("arrives", "k_t", "leaves"), IMPACTS)
@pytest.mark.parametrize("bearing", [0.0, 0.7, 2.5, 4.0])
def test_check_values_in_every_direction(arrives, k_t, leaves, bearing) -> None:
    s, c = math.sin(bearing), math.cos(bearing)
    v, up, w = arrives
    got = bounce((v * s, v * c, up), (w * c, -w * s, 0.0), (0.0, 0.0, 1.0), 1.0, k_t, 0.40)
    assert got[0] * s + got[1] * c == pytest.approx(leaves[0], abs=1e-3)
    assert got[0] * c - got[1] * s == pytest.approx(0.0, abs=1e-9)
    assert got[2] == pytest.approx(leaves[1], abs=1e-3)
    assert got[3] * c - got[4] * s == pytest.approx(leaves[2], abs=2e-3)


vector = st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(-30, -0.5))
spins = st.tuples(st.floats(-900, 900), st.floats(-900, 900), st.floats(-300, 300))
slope = st.tuples(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))


def unit(gx: float, gy: float) -> np.ndarray:
    return np.array([-gx, -gy, 1.0]) / math.sqrt(1 + gx * gx + gy * gy)


@settings(max_examples=150, deadline=None)
@given(vector, spins, slope, st.floats(0.3, 1.3), st.floats(0, 1.5))
def test_energy_never_grows_at_impact(v, w, g, k_e, k_t) -> None:
    n = unit(*g)
    got = bounce(v, w, n, k_e, k_t, 0.4)
    inertia = 0.4 * R * R
    before = np.dot(v, v) + inertia * np.dot(w, w)
    after = np.dot(got[:3], got[:3]) + inertia * np.dot(got[3:], got[3:])
    assert after <= before * (1 + 1e-12)
    assert np.dot(got[:3], n) >= min(0.0, np.dot(v, n)) - 1e-9


@settings(max_examples=80, deadline=None)
@given(vector, spins, slope)
def test_angular_momentum_about_the_contact_is_kept(v, w, g) -> None:
    """Without tilt: ``v_t + 2/5 r (w x n)`` is unchanged, and so is the spin about the normal."""
    n = unit(*g)
    v, w = np.array(v), np.array(w)
    if np.dot(v, n) > -0.1:
        return
    got = bounce(v, w, n, 1.0, 0.0, 0.4)

    def share_kept(v, w):
        return v - np.dot(v, n) * n + 0.4 * R * np.cross(w, n)

    assert share_kept(got[:3], got[3:]) == pytest.approx(share_kept(v, w), abs=1e-9)
    assert np.dot(got[3:], n) == pytest.approx(np.dot(w, n), abs=1e-7)


@settings(max_examples=60, deadline=None)
@given(vector, spins, slope)
def test_mirror_at_impact(v, w, g) -> None:
    one = bounce(v, w, unit(*g), 0.85, 1.15, 0.4)
    two = bounce((-v[0], v[1], v[2]), (w[0], -w[1], -w[2]), unit(-g[0], g[1]), 0.85, 1.15, 0.4)
    flip = np.array([-1, 1, 1, 1, -1, -1])
    assert np.array(one) == pytest.approx(flip * np.array(two), abs=1e-9)


# ---------------------------------------------------------------- roll


@pytest.mark.parametrize("speed", [0.5, 1.83, 6.0])
@pytest.mark.parametrize(
    ("kind", "firmness"), [(Kind.GREEN, "normal"), (Kind.FAIRWAY, "firm"), (Kind.ROUGH, "normal")]
)
def test_a_level_roll_is_speed_squared_over_resistance(make_plane, speed, kind, firmness) -> None:
    """``v^2 / (2 5/7 rho_g g)``."""
    land = turf_grid(make_plane(), kind, firmness=firmness)
    rho = land.turf[kind, _kernels.ROLLING_RESISTANCE]
    x, y, on, t = roll(land, 0.0, 0.0, 0.6 * speed, 0.8 * speed)
    assert math.hypot(x, y) == pytest.approx(speed**2 / (2 * PULL * rho), abs=2e-3)
    assert x / y == pytest.approx(0.75) and on == kind
    assert t == pytest.approx(speed / (PULL * rho), abs=0.05)


@pytest.mark.parametrize("cell", [0.5, 1.0])
@pytest.mark.parametrize("fall", [0.01, 0.03, 0.05])
def test_inclined_plane_closed_form(make_plane, fall, cell) -> None:
    """Up and down the fall line: ``a = 5/7 g (rho cos + sin)``, along the slope."""
    land = turf_grid(make_plane(north=fall, cell=cell), Kind.GREEN)
    rho, cosine = land.turf[Kind.GREEN, _kernels.ROLLING_RESISTANCE], 1 / math.sqrt(1 + fall * fall)
    for sign in (1, -1):
        _, y, _, _ = roll(land, 0.0, 100.0, 0.0, sign * 2.0 * cosine)
        along = abs(y - 100.0) / cosine
        assert along == pytest.approx(4.0 / (2 * PULL * cosine * (rho + sign * fall)), rel=2e-3)


def test_sidehill_roll_against_fine_steps(make_plane) -> None:
    """A putt across 3 % against the same equations in steps of a tenth of a millisecond."""
    fall = 0.03
    land = turf_grid(make_plane(east=fall), Kind.GREEN)
    rho = land.turf[Kind.GREEN, _kernels.ROLLING_RESISTANCE]
    flat2 = 1 / (1 + fall * fall)
    p, v = np.zeros(2), np.array([0.0, 2.5])
    dt = 1e-4
    while True:
        speed = math.sqrt(v @ v + (fall * v[0]) ** 2)
        a = np.array([-PULL * flat2 * fall, 0.0]) - PULL * rho * math.sqrt(flat2) * v / speed
        p, v = p + v * dt + 0.5 * a * dt * dt, v + a * dt
        if math.hypot(*v) < 1e-3:
            break
    x, y, _, _ = roll(land, 0.0, 0.0, 0.0, 2.5)
    assert (x, y) == (pytest.approx(p[0], abs=0.03), pytest.approx(p[1], abs=0.03))
    assert x < -0.3  # it breaks downhill


@settings(max_examples=25, deadline=None)
@given(st.floats(0.2, 4.0), st.floats(0, 6.28), st.floats(0.5, 2.0))
def test_rolling_never_gains_energy(speed, bearing, relief) -> None:
    """From rest to rest: ``0.7 v^2 + g z`` at the start is at least ``g z`` at the end, on broken ground."""
    x = np.arange(-40, 40, 0.5) + 0.25
    z = relief * np.sin(x[None, :] / 5.0) * np.cos(x[::-1, None] / 6.0)
    land = turf_grid(Surface(z, -40.0, 40.0, 0.5), Kind.GREEN)
    vx, vy = speed * math.sin(bearing), speed * math.cos(bearing)
    x1, y1, kind, _ = roll(land, 0.0, 0.0, vx, vy)
    if kind == Kind.OFF_MAP:
        return
    start, gx, gy = _kernels.height_gradient(land.smooth, land.x_west, land.y_north, land.cell, 0.0, 0.0)
    end = _kernels.height(land.smooth, land.x_west, land.y_north, land.cell, x1, y1)
    v2 = vx * vx + vy * vy + (gx * vx + gy * vy) ** 2
    assert G * end <= 0.7 * v2 + G * start + 1e-9


def test_a_slope_too_steep_to_hold_keeps_rolling(make_plane) -> None:
    """A green of 10 ft holds 7.8 %: at 7 % a ball placed on it stays, at 9 % it rolls to the foot."""
    rho = resistance_of(10.0)
    for fall, moves in ((0.9 * rho, False), (1.15 * rho, True)):
        land = turf_grid(make_plane(north=fall), Kind.GREEN)
        _, y, kind, _ = roll(land, 0.0, 30.0, 0.0, 0.0)
        assert (y < 0.0) == moves
        assert kind == (Kind.OFF_MAP if moves else Kind.GREEN)


def test_a_ball_runs_down_to_the_foot_and_stops_on_the_flat() -> None:
    y = 60 - (np.arange(240) + 0.5) * 0.5
    z = np.where(y > 0, 0.2 * y, 0.0)[:, None] * np.ones((240, 40))
    land = turf_grid(Surface(z, -10.0, 60.0, 0.5), Kind.GREEN)
    _, end, kind, _ = roll(land, 0.0, 20.0, 0.0, 0.0)
    drop = 0.2 * 20.0
    rho = resistance_of(10.0)
    # energy: drop - rho cos (slope length) = rho (run on the flat)
    run = (drop - rho * 20.0) / rho
    assert kind == Kind.GREEN and -end == pytest.approx(run, rel=0.03)


def test_the_roll_is_bounded_in_time() -> None:
    y = 4000 - (np.arange(2000) + 0.5) * 2
    z = 0.0657 * y[:, None] * np.ones((2000, 4))  # just steeper than a 12 ft green holds
    land = turf_grid(Surface(z, -4.0, 4000.0, 2.0), Kind.GREEN, stimp_ft=12.0)
    *_, t = roll(land, 0.0, 3900.0, 0.0, -6.0)
    assert 80 < t <= 100


def test_sliding_becomes_rolling() -> None:
    """From v0 without spin to 5/7 v0 in ``2 v0 / (7 mu g)``, over ``12 v0^2 / (49 mu g)``.

    Backspin takes off 2/7 r w.
    """
    land = turf_grid(Surface(np.zeros((200, 40)), -10.0, 90.0, 0.5), Kind.GREEN)
    x, y, vx, vy, t = _kernels.skid(land, 0.0, 0.0, Vector(0.0, 3.0, 0.0), Vector(0.0, 0.0, 0.0), 0.4)
    assert (x, vx) == (0.0, 0.0) and vy == pytest.approx(5 / 7 * 3.0)
    assert t == pytest.approx(2 * 3.0 / (7 * 0.4 * G)) and y == pytest.approx(12 * 9 / (49 * 0.4 * G))
    _, _, _, vy, _ = _kernels.skid(land, 0.0, 0.0, Vector(0.0, 3.0, 0.0), Vector(100.0, 0.0, 0.0), 0.4)
    assert vy == pytest.approx(5 / 7 * 3.0 - 2 / 7 * R * 100.0)


def test_sliding_uphill_costs_speed_as_on_an_inclined_plane() -> None:
    """Closed form on a plane of slope a, up it: ``t = v0 / (3.5 mu g cos a + g sin a)``.

    Speed along the plane ``v0 - (mu g cos a + g sin a) t``; the kernel takes the height off by energy.
    """
    slope, mu, v0 = 0.05, 0.4, 3.0
    y = 90.0 - (np.arange(200) + 0.5) * 0.5
    land = turf_grid(Surface(slope * y[:, None] * np.ones((200, 40)), -10.0, 90.0, 0.5), Kind.GREEN)
    a = math.atan(slope)
    t = v0 / (3.5 * mu * G * math.cos(a) + G * math.sin(a))
    along = v0 - (mu * math.cos(a) + math.sin(a)) * G * t
    up = Vector(0.0, v0 * math.cos(a), v0 * math.sin(a))
    _, _, _, vy, _ = _kernels.skid(land, 0.0, 20.0, up, Vector(0.0, 0.0, 0.0), mu)
    assert vy / math.cos(a) == pytest.approx(along, abs=0.03) and along < 5 / 7 * v0 - 0.05


# ---------------------------------------------------------------- landing


def lands(land, speed, angle, rpm, y=0.0):
    along, _, kind, t = run_out(land, speed, angle, rpm, place=(0.0, y))
    return along, kind, t


def test_run_falls_with_steepness_and_with_spin(make_plane) -> None:
    land = turf_grid(make_plane(), Kind.GREEN)
    steep = [lands(land, 23.0, a, 6000)[0] for a in (30, 36, 42, 48, 54)]
    assert (np.diff(steep) < 0).all()
    spun = [lands(land, 22.7, 50.6, w)[0] for w in (2000, 4000, 6000, 8000, 10000)]
    assert (np.diff(spun) < 0).all() and spun[-1] < 0 < spun[0]


def test_downhill_runs_further_than_uphill(make_plane) -> None:
    runs = [
        lands(turf_grid(make_plane(north=n), Kind.FAIRWAY), 27.8, 38.8, 2115)[0] for n in (0.06, 0.0, -0.06)
    ]
    assert runs[0] < runs[1] < runs[2]


def test_a_side_slope_kicks_downhill(make_plane) -> None:
    land = turf_grid(make_plane(east=0.08), Kind.FAIRWAY)
    assert run_out(land, 27.8, 38.8, 2100.0)[1] < -1.0


@pytest.mark.parametrize("spin", [0.0, 400.0, -500.0])
def test_fast_hops_fly_as_flights_do(make_plane, spin) -> None:
    """A hop of 16 m/s against the flight kernel, back- and topspin, within 5 cm.

    A slow one against the parabola.
    """
    land = turf_grid(make_plane(), Kind.FAIRWAY)
    a = math.radians(20.0)
    v, up = 16.0 * math.cos(a), 16.0 * math.sin(a)
    end, after, t, on = _kernels.hop(land, ORIGIN, Vector(0.0, v, up), Vector(spin, 0.0, 0.0))
    air = Air(0, land.density, land.viscosity, 0.0, 0.0, 0.0)
    tilt = math.pi if spin < 0 else 0.0  # topspin: the axis turned round
    flown, time, _ = fly_to_level(air, 0.01, 16.0, a, abs(spin), tilt, 0.0)
    assert on and (end.x, end.z) == pytest.approx((0.0, 0.0), abs=1e-3)
    assert end.y == pytest.approx(flown.y, abs=0.05) and t == pytest.approx(time, abs=0.01)
    assert (after.y, after.z) == pytest.approx((flown.vy, flown.vz), abs=0.1)
    end, after, _, _ = _kernels.hop(land, ORIGIN, Vector(0.0, 6.0, 3.0), Vector(spin, 0.0, 0.0))
    assert end.y == pytest.approx(2 * 6.0 * 3.0 / G, abs=2e-3) and after.z == pytest.approx(-3.0, abs=2e-3)


def test_thin_air_lengthens_fast_runs(make_plane) -> None:
    low, high = (
        turf_grid(make_plane(), Kind.FAIRWAY, firmness="firm", weather=Weather(elevation_m=h))
        for h in (0, 2000)
    )
    assert lands(high, 28.0, 27.0, 2100)[0] > lands(low, 28.0, 27.0, 2100)[0] + 0.5


def test_water_and_sand_take_the_ball(make_plane) -> None:
    for kind in (Kind.WATER, Kind.SAND):
        run, on, t = lands(turf_grid(make_plane(), kind), 27.8, 38.8, 2115)
        assert (run, on, t) == (0.0, kind, 0.0)


def test_a_ball_that_rolls_into_a_burn_stays(make_plane) -> None:
    surface = make_plane()
    kinds = np.full(surface.z.shape, Kind.FAIRWAY, np.uint8)
    _, y = surface.centres()
    kinds[(y > 8) & (y < 11)] = Kind.WATER
    _, end, kind, _ = roll(turf_grid(surface, kinds), 0.0, 0.0, 0.0, 9.0)
    assert kind == Kind.WATER and 7.9 < end < 8.6
    kinds[(y > 8) & (y < 11)] = Kind.SAND
    _, end, kind, _ = roll(turf_grid(surface, kinds), 0.0, 0.0, 0.0, 7.0)
    assert kind == Kind.SAND and 8.0 < end < 10.0


def test_a_run_over_the_edge_of_the_map_ends_there(make_plane) -> None:
    run, kind, _ = lands(turf_grid(make_plane(), Kind.FAIRWAY), 27.8, 30.0, 2115, y=295.0)
    assert kind == Kind.OFF_MAP and 0.0 <= run < 5.0


def test_every_kind_has_turf_and_firm_runs_further(make_plane) -> None:
    for kind in Kind:
        assert np.isfinite(turf_table()[kind]).all()
    runs = [
        lands(turf_grid(make_plane(), Kind.FAIRWAY, firmness=f), 27.8, 38.8, 2115)[0]
        for f in ("soft", "normal", "firm")
    ]
    assert runs[0] < runs[1] < runs[2]
    path = lands(turf_grid(make_plane(), Kind.PATH), 27.8, 38.8, 2115)[0]
    assert path > runs[2]


def test_smoothing_keeps_planes_and_missing_ground(make_plane) -> None:
    surface = make_plane(0.07, -0.03)
    assert smoothed(surface) == pytest.approx(surface.z, abs=1e-9)
    z = surface.z.copy()
    z[100:110, 50:70] = np.nan
    out = smoothed(Surface(z, surface.x_west, surface.y_north, surface.cell))
    assert (np.isnan(out) == np.isnan(z)).all()
    assert np.nanmax(np.abs(out - z)) < 0.1


def test_bumps_of_the_grid_do_not_steer_the_bounce() -> None:
    """Noise of 1 cm between cells of 0.5 m tilts raw facets by 2 %.

    Smoothed at 1.5 m under half a per cent.
    """
    z = 0.01 * np.random.default_rng(0).standard_normal((300, 300))
    raw, soft = (np.gradient(s, 0.5)[0].std() for s in (z, smoothed(Surface(z, 0.0, 150.0, 0.5))))
    assert raw > 0.012 and soft < 0.005


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda s: turf_grid(s, np.zeros((3, 3))), "share a grid"),
        (lambda s: turf_grid(s, 99), "no kind of ground 99"),
        (lambda s: turf_grid(s, 1, firmness="bouncy"), "firmness"),
        (lambda s: turf_grid(s, 1, stimp_ft=0.0), "stimp_ft"),
        (lambda s: turf_grid(Surface(np.full((4, 4), np.nan), 0.0, 4.0, 1.0), 1), "no ground"),
        (lambda s: turf_grid(s, 1, turf=np.zeros((4, 5))), "turf table"),
        (lambda s: turf_grid(s, 1, smooth_m=-1.0), "smooth_m"),
        (lambda s: brede_stimp_correction(0.0, 5.0), "up_ft"),
    ],
)
def test_silly_ground_is_refused(level, make, message) -> None:
    with pytest.raises(InputError, match=message):
        make(level)


@pytest.mark.parametrize(
    ("club", "runs"),
    [("5-iron", (5, 9, 20)), ("7-iron", (0, 1, 6)), ("9-iron", (-1, 0, 2)), ("sand wedge", (-3, -2, 0))],
)
def test_runs_on_greens_as_the_page_tells_users(club, runs) -> None:
    """The figures in the module's page, to the metre: the reader chooses a firmness by them.

    Not a check against measurements.
    """
    shot = fly(next(c for c in built_in("scratch man").clubs if c.name == club).launch)
    level = Surface(np.zeros((300, 40)), -10.0, 130.0, 0.5)
    for firmness, run in zip(("soft", "normal", "firm"), runs, strict=True):
        land = turf_grid(level, Kind.GREEN, firmness=firmness, stimp_ft=10)
        got = run_out(land, shot.speed_ms, shot.descent_deg, shot.spin_rpm)[0]
        assert got == pytest.approx(run, abs=0.6)


def test_growth_of_tilt_on_greens_is_that_of_the_fit() -> None:
    """``scripts/fit_turf.py`` gives the number of ``data/turf.csv`` again, to 0.03."""
    sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))
    import fit_turf

    for firmness in ("soft", "normal"):
        table = turf_table(firmness)
        assert table[Kind.GREEN, _kernels.TILT_GROWTH] == pytest.approx(fit_turf.best_growth(), abs=0.03)
        assert (table[Kind.GREEN, :2] == table[Kind.FAIRWAY, :2]).all()


def test_growth_of_tilt_leaves_the_measured_impact_alone() -> None:
    """At 18.6 m/s nothing changes; a faster ball is slowed more, a slower one less."""
    a = math.radians(44.4)
    up = Vector(0.0, 0.0, 1.0)
    for speed, sign in ((18.6, 0.0), (24.0, -1.0), (14.0, 1.0)):
        v = Vector(0.0, speed * math.cos(a), -speed * math.sin(a))
        rows = (np.array([1.0, 1.0, 0.1, 0.4, 0.0, k_v]) for k_v in (0.0, 0.5))
        without, grown = (_kernels.bounce(v, Vector(400.0, 0.0, 0.0), up, row)[0].y for row in rows)
        assert np.sign(round(grown - without, 9)) == sign


def test_iron_runs_are_those_that_players_see() -> None:
    """Scratch man, normal green, level, 10 ft.

    5-iron 6 to 10 m, 7-iron 0 to 5 m, full wedges within 3 m (common practice).
    """
    land = turf_grid(Surface(np.zeros((300, 40)), -10.0, 130.0, 0.5), Kind.GREEN)
    clubs = {c.name: fly(c.launch) for c in built_in("scratch man").clubs}
    runs = {n: run_out(land, f.speed_ms, f.descent_deg, f.spin_rpm)[0] for n, f in clubs.items()}
    assert 6.0 <= runs["5-iron"] <= 10.0 and 0.0 <= runs["7-iron"] <= 5.0
    assert max(abs(runs[n]) for n in ("pitching wedge", "gap wedge", "sand wedge")) <= 2.0
    irons = list(runs.values())[1:]  # a driver lands faster than a wood, so its tilt is larger
    assert irons == sorted(irons, reverse=True)


@pytest.mark.parametrize("bearing", [0.0, 70.0, 200.0])
def test_side_run_on_camber_is_mirrored_and_grows(bearing) -> None:
    """A drive on a fairway that falls to the right runs right, as far left where it falls left, more where it
    is steeper."""
    right = (math.cos(math.radians(bearing)), -math.sin(math.radians(bearing)))
    y, x = np.mgrid[60:-60:480j, -60:60:480j]

    def across(fall: float) -> float:
        ground = turf_grid(Surface(-fall * (x * right[0] + y * right[1]), -60.0, 60.0, 0.25), Kind.FAIRWAY)
        return run_out(ground, 27.8, 38.8, 2115.0, bearing_deg=bearing)[1]

    assert across(0.04) == pytest.approx(-across(-0.04), abs=0.02)
    assert 0.0 < across(0.02) < across(0.04) < across(0.08) and across(0.0) == pytest.approx(0.0, abs=1e-6)
