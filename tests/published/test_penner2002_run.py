"""Bounce and run on turf: Penner 2002, The run of a golf ball, Can.

J. Phys. 80:931-940; Penner 2003; Haake 1989/1991.

Restitution 0.510 - 0.0375 v + 0.000903 v^2 up to 20 m/s, 0.120 above; tilt 15.4 deg at 18.6 m/s and 44.4 deg
[second-hand, several excerpts]; friction 0.40 [from memory]. A 9-iron on a firm green goes forward with 129
rev/s and backward with 159 and 191 (figure 8) [second-hand]. Haake: 9-iron, 148 rev/s, on the firmest green
two bounces forward, then back [second-hand]. Impact speed and angle of that 9-iron were not obtained: those
of a tour average 9-iron under model D stand in.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics import shot_kernels as _kernels
from gistools.compute.ballistics.flight_kernels import RADIUS, Vector
from gistools.compute.ballistics.turf import run_out, turf_grid, turf_table
from gistools.compute.terrain.surface import Surface

GREEN_RHO = 0.131  # Penner's green [second-hand]


def bounce(v, spin, k_e, k_t, mu):
    """Velocity and spin after an impact on level turf of a ball with backspin about the east axis."""
    row = np.array([k_e, k_t, 0.0, mu, 0.0, 0.0])
    return _kernels.bounce(Vector(*map(float, v)), Vector(float(spin), 0.0, 0.0), Vector(0.0, 0.0, 1.0), row)


def drop(speed: float, k_t: float = 0.0) -> float:
    """Rebound speed of a ball dropped straight down."""
    return bounce((0.0, 0.0, -speed), 0.0, 1.0, k_t, 0.4)[0].z


@pytest.mark.parametrize(
    ("speed", "e"), [(1, 0.4734), (5, 0.3451), (10, 0.2253), (15, 0.1507), (20, 0.1212), (25, 0.120)]
)
def test_restitution(speed, e) -> None:
    for k_t in (0.0, 1.0):  # straight down there is no tilt
        assert drop(speed, k_t) / speed == pytest.approx(e, abs=1e-4)


def test_tilt_at_the_point_it_was_fitted_to() -> None:
    """At 18.6 m/s and 44.4 deg the impulse acts along a normal tilted by 15.4 deg.

    A ball that does not slip shows it.
    """
    a = math.radians(44.4)
    v = np.array([0.0, 18.6 * math.cos(a), -18.6 * math.sin(a)])
    tilt = math.radians(15.4 * math.sin(2 * a))
    normal = np.array([0.0, -math.sin(tilt), math.cos(tilt)])
    along = v - (v @ normal) * normal
    w = np.cross(normal, along) / RADIUS  # rolls already: no slip, so no friction
    got = np.array(bounce(v, w[0], 1.0, 1.0, 0.4)[0])
    push = got - v
    assert push / np.linalg.norm(push) == pytest.approx(normal, abs=1e-9)
    assert math.degrees(tilt) == pytest.approx(15.4, abs=0.01)


def run(rev_s: float, speed: float = 22.7, angle: float = 50.6) -> float:
    table = turf_table()
    table[Kind.GREEN, :3], table[Kind.GREEN, _kernels.TILT_GROWTH] = (1.0, 1.0, GREEN_RHO), 0.0
    land = turf_grid(Surface(np.zeros((200, 40)), -10.0, 60.0, 0.5), Kind.GREEN, turf=table)
    return run_out(land, speed, angle, rev_s * 60.0)[0]


def test_nine_iron_comes_back_with_enough_spin() -> None:
    runs = [run(s) for s in (60, 90, 129, 159, 191)]
    assert (np.diff(runs) < 0).all()
    assert runs[2] > 0 > runs[3] > runs[4]


@pytest.mark.xfail(strict=True, reason="impact not obtained; at that of a tour 9-iron it leaves at -0.7 m/s")
def test_first_bounce_of_a_spinning_nine_iron_goes_forward() -> None:
    """Haake: it comes back only after bouncing forward [second-hand]."""
    a = math.radians(50.6)
    v, _ = bounce((0.0, 22.7 * math.cos(a), -22.7 * math.sin(a)), 148 * 2 * math.pi, 1.0, 1.0, 0.4)
    assert v.y > 0


def test_a_nine_iron_of_148_rev_s_stays_where_it_lands() -> None:
    """Haake: two bounces forward, then back [second-hand]."""
    assert abs(run(148)) < 1.0


def test_practice_band() -> None:
    """Two professionals' drives ran 17 to 22 m on a flat 16 mm fairway.

    Source: sgccturf.blogspot.com 2011 [second-hand]; band 12 to 30 m [assumption].
    """
    land = turf_grid(Surface(np.zeros((300, 40)), -10.0, 130.0, 0.5), Kind.FAIRWAY)
    assert 12.0 <= run_out(land, 27.8, 38.8, 2115)[0] <= 30.0


@pytest.mark.parametrize("firmness", ["soft", "normal", "firm"])
def test_greens_are_of_the_first_of_two_kinds(firmness) -> None:
    """Haake.

    A ball leaves the first kind of green with topspin, the second with backspin from about 350 rad/s on
    [published].

    At the impact that Penner fitted (18.6 m/s, 44.4 deg) the greens of the toolkit are of the first kind,
    with any spin of an iron; with friction 0.16 a green would be of the second, and the run of a 5-iron
    nearly the same: a limit told to users.
    """
    k_e, k_t, _, mu = turf_table(firmness)[Kind.GREEN, :4]  # 18.6 m/s: the growth of tilt plays no part
    a = math.radians(44.4)
    v = (0.0, 18.6 * math.cos(a), -18.6 * math.sin(a))
    for spin in (350, 500, 800):
        assert bounce(v, spin, k_e, k_t, mu)[1].x < 0.0
    assert bounce(v, 320, 1.0, 1.0, 0.16)[1].x < 0.0 < bounce(v, 380, 1.0, 1.0, 0.16)[1].x


def first_bounce(speed: float, angle: float) -> float:
    """Height of the first bounce of a drive with 220 rad/s of backspin on the green that Penner fitted
    [m]."""
    a = math.radians(angle)
    v, _ = bounce((0.0, speed * math.cos(a), -speed * math.sin(a)), 220.0, 1.0, 1.0, 0.4)
    return v.z**2 / (2 * 9.80665)


def test_first_bounce_height_of_the_lower_drive() -> None:
    """1.17 m (p. 936) [second-hand]: inside what drives give that land at 24 to 28 m/s, 36 to 45 deg."""
    heights = [first_bounce(v, a) for v in (24, 26, 28) for a in (36, 40, 45)]
    assert min(heights) < 1.17 < max(heights)


@pytest.mark.xfail(strict=True, reason="landing not obtained; the model gives 2.51 m at most up to 30 m/s")
def test_first_bounce_height_of_the_higher_drive() -> None:
    """2.82 m (p. 936) [second-hand]."""
    assert max(first_bounce(v, a) for v in (24, 26, 28, 30) for a in range(15, 50)) >= 2.82
