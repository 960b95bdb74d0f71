"""Chainage, offset and cross-sections."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from gistools.base.errors import InputError
from gistools.compute.layout.alignment import (
    Alignment,
    bearing,
    cross_sections,
    pieces_under_line,
    ray_intervals,
    rays_from,
)

SURVEYED = Alignment(np.array([(1000.0, 2000.0), (1060.0, 2080.0), (1160.0, 2080.0)]))

# worked by hand for this line, tried with a general geometry library (computed)
CASES = [
    ((1038, 2034), 50, 10, "on"),
    ((1022, 2046), 50, -10, "on"),
    ((1110, 2095), 150, -15, "on"),
    ((1050, 2085), 98, -11, "on"),
    ((1064, 2077), 104, 3, "on"),
    ((1060, 2090), 100, -10, "vertex"),
    ((990, 1990), -14, -2, "before"),
    ((1170, 2070), 210, 10, "after"),
]


@pytest.mark.parametrize(("point", "chainage", "offset", "how"), CASES)
def test_chainage_and_offset(point, chainage, offset, how):
    s, o, met = SURVEYED.locate(np.array(point, float))
    assert (s[0], o[0], met[0]) == (pytest.approx(chainage), pytest.approx(offset), how)


@pytest.mark.parametrize(
    ("vector", "degrees"),
    [((60, 80), 36.869898), ((-60, 80), 323.130102), ((-60, -80), 216.869898), ((0, 1), 0), ((-1e-18, 1), 0)],
)
def test_whole_circle_bearing(vector, degrees):
    # (computed)
    assert bearing(vector) == pytest.approx(degrees, abs=5e-7)


@given(st.floats(0, 200), st.floats(-15, 15))
def test_a_point_set_out_is_found_again(chainage, offset):
    point = SURVEYED.at(np.array([chainage])) + offset * SURVEYED.right(np.array([chainage]))
    s, o, _ = SURVEYED.locate(point)
    if abs(chainage - 100) > 15:  # beside the corner a place can have two stations
        assert s[0] == pytest.approx(chainage, abs=1e-9)
        assert o[0] == pytest.approx(offset, abs=1e-9)


def test_chainage_agrees_with_linear_referencing():
    points = np.random.default_rng(1).uniform((1000, 2000), (1160, 2080), (200, 2))
    s, o, _ = SURVEYED.locate(points)
    inside = (s >= 0) & (s <= SURVEYED.length)
    line = LineString(SURVEYED.points)
    expected = shapely.line_locate_point(line, shapely.points(points))
    away = shapely.distance(line, shapely.points(points))
    assert np.allclose(s[inside], expected[inside], atol=1e-9)
    assert np.allclose(np.abs(o[inside]), away[inside], atol=1e-9)


def test_widths_of_a_bent_corridor():
    # corridor of 30 m round a 45 degree bend (computed): on the bisector w / cos(22.5 degrees)
    line = Alignment(np.array([(0.0, 0.0), (100.0, 0.0), (200.0, 100.0)]))
    area = line.geometry.buffer(15, cap_style="flat", join_style="mitre")
    at = np.array([5.0, 50.0, 100.0, 150.0])
    left, right = pieces_under_line(*cross_sections(line, at, area), 4)
    assert np.allclose(right - left, [30, 30, 30 / np.cos(np.radians(22.5)), 30], atol=1e-9)


def test_the_piece_that_holds_the_line_counts_alone():
    line = Alignment(np.array([(0.0, 0.0), (0.0, 100.0)]))
    area = shapely.union(shapely.box(-10, 0, 5, 100), shapely.box(20, 0, 30, 100))
    left, right = pieces_under_line(*cross_sections(line, np.array([50.0]), area), 1)
    assert (left[0], right[0]) == (pytest.approx(-10), pytest.approx(5))
    away = shapely.box(8, 0, 30, 100)
    assert np.isnan(pieces_under_line(*cross_sections(line, np.array([50.0]), away), 1)[0]).all()


def test_a_ray_enters_and_leaves():
    area = shapely.union(shapely.box(-5, 10, 5, 20), shapely.box(-5, 30, 5, 45))
    rays = rays_from(np.zeros(2), np.array([(0.0, 1.0), (1.0, 0.0)]), 100.0)
    first, second = ray_intervals(np.zeros(2), rays, area)
    assert np.allclose(first, [(10, 20), (30, 45)])
    assert second.shape == (0, 2)


def test_a_line_needs_two_different_points():
    for points in ([(0, 0)], [(1, 1), (1, 1)], [(0, 0), (np.nan, 1)]):
        with pytest.raises(InputError):
            Alignment(np.array(points, float))
