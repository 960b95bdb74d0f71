"""The shapes the sample site is drawn with."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from sample_course.shapes import Blob, Curve, Frame, ease, noise


def test_frame_is_a_compass():
    east = Frame(10.0, 20.0, 90.0)
    assert np.allclose(east.at(5.0, 2.0), (15.0, 18.0))  # right of east is south
    assert np.allclose(east.along(15.0, 18.0), (5.0, 2.0))


def test_curve_offsets_to_the_right_and_measures_length():
    arc = Curve(tuple((100 * np.cos(a), 100 * np.sin(a)) for a in np.linspace(0, np.pi / 2, 7)))
    assert arc.length == pytest.approx(50 * np.pi, rel=1e-3)
    x, y = arc.at(np.array([arc.length / 2]), 10.0)
    assert np.hypot(x, y) == pytest.approx(110.0, abs=0.1)  # anticlockwise: right is outward


def test_blob_reach_and_ring_agree():
    blob = Blob(Frame(3.0, 4.0, 30.0), 20.0, 12.0, ((3, 0.05, 40.0),))
    share, beyond = blob.reach(*blob.ring().T)
    assert np.allclose(share, 1.0) and np.allclose(beyond, 0.0, atol=1e-9)
    assert shapely.Polygon(blob.ring()).exterior.is_ccw


def test_noise_is_fixed_smooth_and_bounded():
    assert noise(np.array([3.7]), np.array([-8.2]), 5.0, 1)[0] == pytest.approx(0.001554151212247, abs=1e-12)
    x = np.linspace(-40.0, 40.0, 16001)
    z = noise(x, np.full_like(x, 7.3), 10.0, 5, 30.0)
    assert np.abs(z).max() <= 1.0 and np.std(z) > 0.2
    assert np.abs(np.diff(z, 2)).max() / 0.005**2 < 0.6  # curvature stays finite over the corners


def test_ease_is_steepest_in_the_middle():
    s = np.linspace(0, 4, 4001)
    assert np.gradient(ease(s, 1.0, 3.0), s).max() == pytest.approx(1.5 / 2.0, rel=1e-4)
