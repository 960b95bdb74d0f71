"""Flight: against SciPy's DOP853 on plainly written equations, closed forms, laws that have to hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from flights import model_d, model_q, model_ss, reference
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import STANDARD_DAY, Wind, air_for
from gistools.compute.ballistics.clubs import club_names, tour_club
from gistools.compute.ballistics.flight import RPM, STEP_S, Launch, fly, table_for, trajectory

ISA = _kernels.Air(0, 1.225, 1.4607e-5, 0.0, 0.0, 1 / math.log(10 / 0.03))
CASES = [
    (67.0, 11.0, 2700.0),
    (74.7, 10.9, 2686.0),
    (53.6, 16.3, 7100.0),
    (45.6, 24.2, 9300.0),
    (20.0, 30.0, 4000.0),
]

# computed with a second program: carry, apex, time, descent, speed, spin
TABLE = {
    ((67.0, 11.0, 2700.0), 0): (213.77, 23.70, 6.09, 35.09, 27.13, 2195),
    ((67.0, 11.0, 2700.0), 1): (215.74, 24.17, 6.13, 35.10, 27.39, 2190),
    ((67.0, 11.0, 2700.0), 2): (220.20, 30.22, 6.80, 39.71, 27.47, 2174),
    ((74.7, 10.9, 2686.0), 0): (243.72, 30.23, 6.82, 39.10, 27.78, 2117),
    ((74.7, 10.9, 2686.0), 1): (247.86, 31.67, 6.94, 39.54, 28.19, 2107),
    ((74.7, 10.9, 2686.0), 2): (247.19, 39.14, 7.61, 43.83, 28.53, 2098),
    ((53.6, 16.3, 7100.0), 0): (155.86, 28.88, 6.19, 48.65, 23.29, 6056),
    ((53.6, 16.3, 7100.0), 1): (138.53, 33.66, 7.11, 51.25, 20.97, 6123),
    ((53.6, 16.3, 7100.0), 2): (168.47, 35.05, 7.05, 46.54, 25.13, 5964),
    ((45.6, 24.2, 9300.0), 0): (123.91, 28.99, 5.81, 52.36, 22.64, 8154),
    ((45.6, 24.2, 9300.0), 1): (93.06, 34.18, 6.78, 52.97, 19.21, 8323),
    ((45.6, 24.2, 9300.0), 2): (129.69, 34.91, 6.64, 49.99, 24.00, 8075),
}


def direct(launch, air=ISA, *, step=STEP_S, tilt=0.0, level=0.0):
    v, a, w = launch
    a, tilt = math.radians(a), math.radians(tilt)
    end, t, apex = _kernels.fly_to_level(air, step, v, a, w * RPM, tilt, level)
    return end.x, end.y, end.vx, end.vy, end.vz, end.spin, t, apex


@pytest.mark.parametrize("case", TABLE)
def test_flights_stay_as_tabulated_before(case) -> None:
    launch, model = case
    x, y, vx, vy, vz, spin, t, apex = direct(launch, ISA._replace(model=model))
    carry, top, time, descent, speed, rpm = TABLE[case]
    assert y == pytest.approx(carry, abs=0.05) and apex == pytest.approx(top, abs=0.05)
    assert t == pytest.approx(time, abs=0.01) and spin / RPM == pytest.approx(rpm, abs=2)
    assert math.degrees(math.atan2(-vz, math.hypot(vx, vy))) == pytest.approx(descent, abs=0.05)
    assert math.sqrt(vx**2 + vy**2 + vz**2) == pytest.approx(speed, abs=0.05)
    assert x == 0.0


@pytest.mark.parametrize("launch", CASES)
@pytest.mark.parametrize("wind", [(0.0, 0.0), (6.0, -8.0), (-3.0, 9.0)])
@pytest.mark.parametrize("level", [0.0, -25.0])
def test_flights_are_within_a_centimetre_of_scipy(launch, wind, level) -> None:
    """Within 1 cm of DOP853 at a tolerance of 1e-10, any wind, level or falling ground."""
    want = reference(*launch, wind=wind, tilt_deg=4.0, level=level)
    x, y, vx, vy, vz, spin, t, apex = direct(
        launch, ISA._replace(wind_east=wind[0], wind_north=wind[1]), tilt=4.0, level=level
    )
    assert y == pytest.approx(want["carry"], abs=0.01)
    assert x == pytest.approx(want["offset"], abs=0.01)
    assert apex == pytest.approx(want["apex"], abs=0.01)
    assert t == pytest.approx(want["time"], abs=0.001)
    assert math.sqrt(vx**2 + vy**2 + vz**2) == pytest.approx(want["speed"], abs=0.01)
    assert spin / RPM == pytest.approx(want["spin"], abs=0.5)


@pytest.mark.parametrize(("model", "code"), [(model_q, 1), (model_ss, 2)])
def test_other_models_against_scipy(model, code) -> None:
    want = reference(67.0, 11.0, 2700.0, model=model)
    assert direct(CASES[0], ISA._replace(model=code))[1] == pytest.approx(want["carry"], abs=0.01)


@pytest.mark.parametrize("s", [0.0, 0.03, 0.08, 0.2, 0.5, 0.8, 1.2, 2.5])
@pytest.mark.parametrize("re", [1e4, 6.1e4, 8e4, 1.5e5, 2.1e5])
def test_coefficients_of_model_d(s: float, re: float) -> None:
    """The kernel against the formula written out plainly."""
    assert _kernels.coefficients(0, s, re) == pytest.approx(model_d(s, re), abs=1e-6)


@pytest.mark.parametrize("wind", [0.0, 10.0])
@pytest.mark.parametrize("launch", CASES)
def test_halving_the_step(launch, wind) -> None:
    air = ISA._replace(wind_east=0.4 * wind, wind_north=-wind)
    whole, half = direct(launch, air), direct(launch, air, step=STEP_S / 2)
    assert abs(whole[1] - half[1]) < 0.01 and abs(whole[0] - half[0]) < 0.01


def test_wind_floor_hardly_matters_on_the_flat() -> None:
    """Holding the wind below 2 m moves a level carry by less than 0.5 m (driver) in 10 m/s of head wind."""
    for launch in CASES[:4]:
        true = reference(*launch, wind=(0.0, -10.0), floor=0.0)["carry"]
        inside = reference(*launch, wind=(0.0, -10.0))["carry"]
        assert abs(true - inside) < 0.5


def test_without_air_a_parabola() -> None:
    """60 m/s at 15 degrees: range 183.549 m, apex 12.295 m, 3.1671 s (closed form)."""
    flight = fly(Launch(60.0, 15.0, 3000.0), model="none")
    a = math.radians(15)
    assert (
        flight.carry_m
        == pytest.approx(60**2 * math.sin(2 * a) / _kernels.G, abs=1e-6)
        == pytest.approx(183.549, abs=1e-3)
    )
    assert flight.apex_m == pytest.approx((60 * math.sin(a)) ** 2 / 2 / _kernels.G, abs=1e-6)
    assert flight.time_s == pytest.approx(3.1671, abs=1e-4)
    assert flight.spin_rpm == pytest.approx(3000.0)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(8, 85), st.floats(3, 60), st.floats(0, 11000), st.floats(-30, 30), st.sampled_from([0, 1, 2])
)
def test_energy_never_grows_in_calm_air(speed, angle, spin, tilt, model) -> None:
    a, d = math.radians(angle), math.radians(tilt)
    out = np.empty((60, 7))
    _kernels.trace(ISA._replace(model=model), 0.02, 5, speed, a, spin * RPM, d, out)
    energy = 0.5 * (out[:, 3:6] ** 2).sum(axis=1) + _kernels.G * out[:, 2]
    assert (np.diff(energy) <= 1e-9 * energy[0] + 1e-9).all()
    assert (np.diff(out[:, 6]) <= 0).all()


@settings(max_examples=30, deadline=None)
@given(
    st.floats(20, 80),
    st.floats(5, 40),
    st.floats(0, 10000),
    st.floats(0, 30),
    st.floats(0, 12),
    st.floats(0, 360),
)
def test_a_mirrored_wind_mirrors_the_flight(speed, angle, spin, tilt, wind, come) -> None:
    one = fly(Launch(speed, angle, spin, tilt), wind=Wind("", wind, come))
    two = fly(Launch(speed, angle, spin, -tilt), wind=Wind("", wind, (360.0 - come) % 360.0))
    assert one.carry_m == pytest.approx(two.carry_m, abs=1e-6)
    assert one.offset_m == pytest.approx(-two.offset_m, abs=1e-6)


def test_no_spin_no_curve_and_a_tilt_to_the_right_goes_right() -> None:
    assert fly(Launch(60, 12, 0.0, 20.0)).offset_m == 0.0
    assert fly(Launch(60, 12, 3000.0, 10.0)).offset_m > 5.0
    assert fly(Launch(60, 12, 3000.0), wind=Wind("", 6.0, 270.0)).offset_m > 5.0  # from the left


def test_direction_does_not_matter() -> None:
    one = fly(Launch(60, 12, 3000.0), wind=Wind("", 6.0, 30.0), bearing_deg=10.0)
    two = fly(Launch(60, 12, 3000.0), wind=Wind("", 6.0, 215.0), bearing_deg=195.0)
    assert one.carry_m == pytest.approx(two.carry_m) and one.offset_m == pytest.approx(two.offset_m)


@pytest.mark.parametrize(("model", "limit"), [(0, 1e-3), (1, 1e-3), (2, 1e-3), (3, 5e-3)])
@pytest.mark.parametrize("level", [0.0, -3.0, -30.0])
def test_side_by_side_is_the_same_as_one_by_one(model, limit, level) -> None:
    """Single precision against double.

    A millimetre, or 5 mm of up to 640 m without air; far less than the centimetre asked.

    All launches there are: 20 to 85 m/s, 3 to 60 degrees, 0 to 1,200 rad/s, axis tilted up to 20 degrees,
    wind to 20 m/s.
    """
    n = 150  # two full blocks of lanes and a rest
    rng = np.random.default_rng(4)
    v, a = rng.uniform(20, 85, n), np.radians(rng.uniform(3, 60, n))
    w, d = rng.uniform(0, 1200, n), rng.uniform(-0.35, 0.35, n)
    for wind in (0.0, 7.0, 20.0):
        air = ISA._replace(model=model, wind_east=0.6 * wind, wind_north=-0.8 * wind)
        out = np.empty((n, 8))
        _kernels.fly_many_to_level(air, STEP_S, v, a, w, d, level, out)
        for k in range(n):
            one = direct((v[k], math.degrees(a[k]), w[k] / RPM), air, tilt=math.degrees(d[k]), level=level)
            assert out[k, [0, 1, 7]] == pytest.approx([one[0], one[1], one[7]], abs=limit)
            assert out[k, 2:5] == pytest.approx(one[2:5], abs=2e-4)
            assert out[k, 5] == pytest.approx(one[5], abs=5e-3) and out[k, 6] == pytest.approx(
                one[6], abs=1e-4
            )


@pytest.mark.parametrize("wind", [0.0, 15.0])
def test_side_by_side_against_scipy(wind) -> None:
    """Within 1 cm of DOP853 at the corners of what balls do."""
    corners = np.array([(v, a, w) for v in (20, 85) for a in (3, 25, 45) for w in (100, 1200)], float)
    v, a, w = corners[:, 0].copy(), np.radians(corners[:, 1]), corners[:, 2].copy()
    out = np.empty((len(v), 8))
    air = ISA._replace(wind_east=0.6 * wind, wind_north=-0.8 * wind)
    _kernels.fly_many_to_level(air, STEP_S, v, a, w, np.zeros(len(v)), 0.0, out)
    for k, (speed, angle, spin) in enumerate(corners):
        want = reference(speed, angle, spin / RPM, wind=(0.6 * wind, -0.8 * wind))
        assert out[k, :2] == pytest.approx([want["offset"], want["carry"]], abs=0.01)


@pytest.mark.parametrize("wind", [0.0, 10.0, 20.0])
def test_halving_the_step_of_every_club(wind) -> None:
    """No landing moves by 1 cm: every club, 0.3 to 1.15 of its full ball speed, wind from all round."""
    shots = [
        tour_club(name).launch.at(scale) for name in club_names() for scale in np.linspace(0.3, 1.15, 12)
    ]
    v = np.array([shot.speed_ms for shot in shots])
    a, w, d = (np.array(column) for column in zip(*(shot.radians for shot in shots), strict=True))
    for come in range(0, 360, 30):
        air, moved = air_for(wind=Wind("", wind, come)), []
        for step in (STEP_S, STEP_S / 2):
            out = np.empty((len(v), 8))
            _kernels.fly_many_to_level(air, step, v, a, w, d, 0.0, out)
            moved.append(out[:, :2])
        assert moved[0] == pytest.approx(moved[1], abs=0.007)


def test_a_level_never_reached_ends_at_the_top() -> None:
    flight = fly(Launch(30.0, 10.0, 2000.0), drop_m=-60.0)
    assert flight.apex_m < 60 and 0 < flight.carry_m < 60


def test_trajectory_ends_where_the_flight_does() -> None:
    launch, wind = Launch(60, 12, 3000.0), Wind("", 5.0, 300.0)
    path, flight = trajectory(launch, wind=wind, drop_m=7.0), fly(launch, wind=wind, drop_m=7.0)
    assert path[-1] == pytest.approx([flight.time_s, flight.carry_m, flight.offset_m, -7.0], abs=0.01)
    assert path[:, 3].max() == pytest.approx(flight.apex_m, abs=0.1)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Launch(0.0, 10, 2000), "speed_ms"),
        (lambda: Launch(50.0, 95, 2000), "angle_deg"),
        (lambda: Launch(50.0, 10, -1), "spin_rpm"),
        (lambda: Launch(50.0, 10, 2000, float("nan")), "tilt_deg"),
        (lambda: fly(Launch(50.0, 10, 2000), drop_m=float("inf")), "drop_m"),
    ],
)
def test_silly_launches_are_refused(make, field) -> None:
    with pytest.raises(InputError, match=field):
        make()


def test_density_of_the_standard_day_is_used() -> None:
    assert air_for(STANDARD_DAY).density == pytest.approx(1.1989, abs=1e-4)


def test_a_table_of_flights_is_made_once() -> None:
    assert table_for(Launch(60, 12, 3000.0)) is table_for(Launch(60, 12, 3000.0))
