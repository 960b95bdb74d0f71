"""Contours on a cone, whose contours are circles."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.errors import InputError
from gistools.compute.terrain.contours import area_above, contour_lines, levels_between
from gistools.compute.terrain.surface import Surface


def cone(cell: float = 0.5) -> Surface:
    """Top 20 m at (50, 50), falling 0.2 m/m."""
    n = round(100 / cell)
    x = (np.arange(n) + 0.5) * cell
    return Surface(20 - 0.2 * np.hypot(x[None, :] - 50, x[::-1][:, None] - 50), 0, 100, cell)


def test_contours_are_circles_of_the_right_radius() -> None:
    result = {level: line for level, line in contour_lines(cone(), interval_m=1.0) if level > 11}
    assert sorted(result) == list(range(12, 20))
    for level, line in result.items():
        r = (20 - level) / 0.2
        assert line.is_ring
        assert line.length == pytest.approx(2 * np.pi * r, rel=0.002)
        away = np.hypot(*(shapely.get_coordinates(line) - 50).T)
        assert away == pytest.approx(r, abs=0.01)


def test_higher_ground_is_on_the_right() -> None:
    for _, line in contour_lines(cone(), interval_m=1.0):
        a, b = shapely.get_coordinates(line)[:2]
        right = (a + b) / 2 + 0.5 * np.array([(b - a)[1], -(b - a)[0]]) / np.hypot(*(b - a))
        assert np.hypot(*(right - 50)) < np.hypot(*((a + b) / 2 - 50))


def test_thinning_stays_within_its_tolerance() -> None:
    fine = contour_lines(cone(), interval_m=2.0)
    thin = contour_lines(cone(), interval_m=2.0, tolerance_m=0.1)
    rings = [(a, b) for (level, a), (_, b) in zip(fine, thin, strict=True) if level > 11]
    assert len(rings) == 4
    for a, b in rings:
        assert len(b.coords) < len(a.coords) / 2
        assert shapely.hausdorff_distance(a, b) <= 0.1 + 1e-9


def test_contours_stop_at_missing_ground() -> None:
    s = cone()
    z = s.z.copy()
    z[:, 100:] = np.nan
    lines = contour_lines(Surface(z, 0, 100, 0.5), interval_m=1.0)
    assert lines and all(shapely.get_coordinates(line)[:, 0].max() <= 50 for _, line in lines)
    assert contour_lines(Surface(np.full((4, 4), np.nan), 0, 0, 1), interval_m=1.0) == []


def test_area_above_a_level() -> None:
    assert area_above(cone(), 15).area == pytest.approx(np.pi * 25**2, rel=0.001)
    assert area_above(cone(), 25).is_empty
    s = cone()
    rim = Surface(np.abs(s.z - 15), 0, 100, 0.5)
    assert area_above(rim, 1.0).area == pytest.approx(99.5**2 - np.pi * (30**2 - 20**2), rel=0.01)


@given(low=st.floats(-50, 50), height=st.floats(0, 30), interval=st.sampled_from([0.1, 0.25, 0.5, 1.0]))
def test_levels_are_whole_multiples_within_the_range(low: float, height: float, interval: float) -> None:
    levels = levels_between(low, low + height, interval)
    assert np.allclose(levels / interval, np.round(levels / interval))
    assert all(low - 1e-6 <= v <= low + height + 1e-6 for v in levels)
    assert abs(len(levels) - height / interval) <= 1 + 1e-6


def test_silly_intervals_are_refused() -> None:
    with pytest.raises(InputError, match="above 0"):
        contour_lines(cone(), interval_m=0.0)
    with pytest.raises(InputError, match="wider"):
        contour_lines(cone(), interval_m=0.0001)
