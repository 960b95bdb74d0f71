"""Surfaces: heights, gradients, windows and other cells, against closed forms and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface

#: 3 x 3 heights with values by GDAL's bilinear warp and scipy's map_coordinates (computed)
SMALL = Surface(np.array([[10.0, 12, 14], [20, 22, 28], [30, 36, 40]]), 1000.0, 2030.0, 10.0)


def made(seed: int = 1, rows: int = 40, cols: int = 50, cell: float = 2.0) -> Surface:
    z = np.random.default_rng(seed).normal(size=(rows, cols))
    return Surface(z, 500.0, 900.0, cell)


@pytest.mark.parametrize(
    ("x", "y", "z"), [(1005, 2025, 10), (1010, 2020, 16), (1015, 2015, 22), (1017.5, 2012.5, 26.875)]
)
def test_bilinear_heights(x: float, y: float, z: float) -> None:
    assert SMALL.height(x, y) == pytest.approx(z, abs=1e-12)


def test_heights_as_scipy() -> None:
    s = made()
    rng = np.random.default_rng(2)
    x, y = rng.uniform(501, 599, 400), rng.uniform(821, 899, 400)
    expected = map_coordinates(s.z, [(900 - y) / 2 - 0.5, (x - 500) / 2 - 0.5], order=1)
    np.testing.assert_allclose(s.height(x, y), expected, atol=1e-12)


def test_gradient_is_the_slope_of_the_height() -> None:
    s = made()
    rng = np.random.default_rng(3)
    # inside cells, away from their edges, where the surface has a kink
    x = 501 + 2 * rng.integers(0, 48, 100) + rng.uniform(0.1, 1.9, 100)
    y = 821 + 2 * rng.integers(0, 38, 100) + rng.uniform(0.1, 1.9, 100)
    gx, gy = s.gradient(x, y)
    h = 1e-5
    np.testing.assert_allclose(gx, (s.height(x + h, y) - s.height(x - h, y)) / (2 * h), atol=1e-8)
    np.testing.assert_allclose(gy, (s.height(x, y + h) - s.height(x, y - h)) / (2 * h), atol=1e-8)


def test_no_ground_is_never_made_up() -> None:
    z = np.ones((6, 6))
    z[2, 3] = np.nan
    s = Surface(z, 0.0, 6.0, 1.0)
    assert np.isnan(s.height(3.2, 3.3)) and np.isnan(s.height(0.2, 3.0)) and s.height(0.5, 5.5) == 1
    assert np.isnan(s.resampled(0.9).z).sum() >= 4


@given(
    st.floats(-0.3, 0.3),
    st.floats(-0.3, 0.3),
    st.floats(0.3, 4.0),
)
@settings(max_examples=40, deadline=None)
def test_planes_stay_planes(a: float, b: float, cell: float) -> None:
    x, y = np.arange(30) + 0.5, 30 - np.arange(30) - 0.5
    s = Surface(7 + a * x[None, :] + b * y[:, None], 0.0, 30.0, 1.0)
    t = s.resampled(cell)
    east, north = t.centres()
    plane = 7 + a * east[None, :] + b * north[:, None]
    known = np.isfinite(t.z)
    assert known.any()
    np.testing.assert_allclose(t.z[known], plane[known], atol=1e-11)


def test_a_window_is_the_same_ground() -> None:
    s = made()
    part = s.window((511.0, 850.0, 530.0, 869.5), margin_m=1.0)
    assert part.bounds == (510.0, 848.0, 532.0, 872.0)
    np.testing.assert_array_equal(part.z, s.z[14:26, 5:16])
    assert s.window((0.0, 0.0, 1.0, 1.0)).z.shape == (2, 2), "the corner next to a box off the surface"
    assert s.with_heights(s.z + 1.0).height(540.0, 860.0) == pytest.approx(s.height(540.0, 860.0) + 1.0)


@pytest.mark.parametrize(
    ("z", "cell", "word"),
    [
        (np.ones((1, 9)), 1.0, "2 x 2"),
        (np.ones(9), 1.0, "2 x 2"),
        (np.ones((3, 3)), 0.0, "cell size"),
        (np.ones((3, 3)), np.nan, "cell size"),
        (np.full((3, 3), np.inf), 1.0, "infinite"),
    ],
)
def test_bad_surfaces_are_refused(z: np.ndarray, cell: float, word: str) -> None:
    with pytest.raises(InputError, match=word):
        Surface(z, 0.0, 0.0, cell)


def test_bad_choices_are_refused() -> None:
    s = made()
    with pytest.raises(InputError, match="cell size"):
        s.resampled(np.nan)
