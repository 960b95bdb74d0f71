"""Surfaces: heights, gradients, other cells, smoothing and differences, against closed forms and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface

#: 3 x 3 heights with values by GDAL's bilinear warp and scipy's map_coordinates [tried]
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


def test_normal_of_a_plane() -> None:
    x, y = np.arange(5) + 0.5, 5 - np.arange(5) - 0.5
    s = Surface(0.75 * x[None, :] + 0 * y[:, None], 0.0, 5.0, 1.0)
    np.testing.assert_allclose(s.normal(2.2, 3.3), [-0.6, 0, 0.8], atol=1e-12)


def test_no_ground_is_never_made_up() -> None:
    z = np.ones((6, 6))
    z[2, 3] = np.nan
    s = Surface(z, 0.0, 6.0, 1.0)
    assert np.isnan(s.height(3.2, 3.3)) and np.isnan(s.height(0.2, 3.0)) and s.height(0.5, 5.5) == 1
    assert np.isnan(s.resampled(2.0, how="mean").z).sum() == 1
    assert np.isnan(s.smoothed(0.3).z[1:4, 2:5]).all()
    assert np.isnan(s.minus(Surface(np.ones((6, 6)), 0.0, 6.0, 1.0)).z).sum() == 1


@given(
    st.floats(-0.3, 0.3),
    st.floats(-0.3, 0.3),
    st.floats(0.3, 4.0),
    st.floats(0.1, 2.0),
)
@settings(max_examples=40, deadline=None)
def test_planes_stay_planes(a: float, b: float, cell: float, scale: float) -> None:
    x, y = np.arange(30) + 0.5, 30 - np.arange(30) - 0.5
    s = Surface(7 + a * x[None, :] + b * y[:, None], 0.0, 30.0, 1.0)
    for t in (s.resampled(cell), s.smoothed(scale), s.resampled(2.0, how="mean")):
        east, north = t.centres()
        plane = 7 + a * east[None, :] + b * north[:, None]
        known = np.isfinite(t.z)
        assert known.any()
        np.testing.assert_allclose(t.z[known], plane[known], atol=1e-11)


def test_difference_over_other_cells() -> None:
    x, y = np.arange(20) + 0.5, 20 - np.arange(20) - 0.5
    low = Surface(1 + 0.1 * x[None, :] + 0 * y[:, None], 0.0, 20.0, 1.0)
    high = Surface(low.z + 0.25, 0.0, 20.0, 1.0).resampled(0.7)
    difference = high.minus(low)
    assert np.nanmax(np.abs(difference.z - 0.25)) < 1e-12
    assert np.isnan(low.minus(high).z).any(), "cells that the other does not reach have no difference"


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
    with pytest.raises(InputError, match="whole number"):
        s.resampled(3.0, how="mean")
    with pytest.raises(InputError, match="bilinear or mean"):
        s.resampled(3.0, how="median")
    with pytest.raises(InputError, match="smoothing"):
        s.smoothed(-1.0)
    with pytest.raises(InputError, match="cell size"):
        s.resampled(np.nan)
