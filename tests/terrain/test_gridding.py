"""Levels put on cells: closed forms, a second way of computing, gaps left open, errors that are true."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from gistools.base.errors import InputError
from gistools.base.grid import Grid
from gistools.compute.terrain import gridding
from gistools.compute.terrain.gridding import (
    CellMeans,
    conforming,
    densified,
    filled,
    smoothed,
    tin_heights,
    tin_residuals,
    triangle_heights,
)

GRID = Grid(400_000.0, 300_100.0, 1.0, (100, 120))


def plane(x, y):
    return 10.0 + 0.05 * (x - 400_000) - 0.02 * (y - 300_000)


def scattered(count, seed=1):
    draw = np.random.default_rng(seed)
    x, y = 400_000 + draw.uniform(-5, 125, count), 300_000 + draw.uniform(-5, 105, count)
    return np.column_stack([x, y, plane(x, y)])


def test_a_plane_is_met_exactly_whatever_the_points():
    x, y = GRID.mesh()
    z = tin_heights(scattered(500), x, y, 1000.0)
    assert np.isfinite(z).mean() > 0.99
    assert np.nanmax(np.abs(z - plane(x, y))) < 1e-6


def test_triangles_longer_than_asked_stay_open():
    points = scattered(500)
    hole = (np.abs(points[:, 0] - 400_060) < 25) & (np.abs(points[:, 1] - 300_050) < 25)
    x, y = GRID.mesh()
    z = tin_heights(points[~hole], x, y, 30.0)
    middle = np.isnan(z[40:60, 50:70])
    assert middle.all() and np.isfinite(z[:20, 5:30]).mean() > 0.9


@pytest.mark.parametrize(
    "points", [np.zeros((2, 3)), np.array([[0, 0, 1], [1, 1, 1], [2, 2, 1], [3, 3, 1.0]])]
)
def test_levels_that_span_no_area_are_refused(points):
    with pytest.raises(InputError, match=r"span (no|an) area|span no area"):
        tin_heights(points, np.zeros(1), np.zeros(1), 10.0)


def test_given_triangles_agree_with_another_library():
    """Faces of a Delaunay mesh, laid on cells here and by scipy's interpolator."""
    draw = np.random.default_rng(3)
    corners = scattered(200)
    corners[:, 2] += draw.normal(0, 1, len(corners))
    other = LinearNDInterpolator(corners[:, :2] - [400_000, 0], corners[:, 2])
    x, y = GRID.mesh()
    z = triangle_heights(corners, other.tri.simplices.astype(np.int64), x, y)
    expected = other(x - 400_000, y)
    assert np.isnan(z).tolist() == np.isnan(expected).tolist()
    assert np.nanmax(np.abs(z - expected)) < 1e-6


def test_places_are_taken_piece_by_piece_and_none_is_lost(monkeypatch):
    """Pieces of 700 places give the same heights, also where every triangle is too long or no place is."""
    x, y = GRID.mesh()
    points = scattered(500)
    points[:, 2] += np.random.default_rng(3).normal(0, 1, len(points))
    whole = tin_heights(points, x, y, 30.0)
    monkeypatch.setattr(gridding, "AT_ONCE", 700)
    assert np.array_equal(tin_heights(points, x, y, 30.0), whole, equal_nan=True)
    assert np.isnan(tin_heights(points, x, y, 0.01)).all()
    assert tin_heights(points, np.empty(0), np.empty(0), 30.0).shape == (0,)


def test_noise_of_laser_points_is_found_and_averaged():
    """Noise of 0.05 m, four points a cell: means within 0.035, left-out points within 0.05 to 0.065 m."""
    draw = np.random.default_rng(5)
    points = scattered(4 * 120 * 100 * 13 // 12)
    points[:, 2] += draw.normal(0, 0.05, len(points))
    means = CellMeans(GRID)
    for part in np.array_split(points, 7):
        means.add(part)
    z, residuals = means.finish(5.0)
    x, y = GRID.mesh()
    assert np.isfinite(z[2:-2, 2:-2]).all()
    assert np.sqrt(np.nanmean((z - plane(x, y)) ** 2)) < 0.035
    assert 0.05 < residuals.rms_m < 0.065 and abs(residuals.mean_m) < 0.002
    assert residuals.most_m == pytest.approx(1.96 * residuals.rms_m, rel=0.05)


def test_small_gaps_are_bridged_and_large_ones_stay():
    z = plane(*GRID.mesh())
    z[10:13, 10:13] = np.nan
    z[40:80, 40:80] = np.nan
    out = filled(z, GRID, 4.0)
    x, y = GRID.mesh()
    assert np.abs(out[10:13, 10:13] - plane(x, y)[10:13, 10:13]).max() < 1e-9
    assert np.isnan(out[50:70, 50:70]).all()
    assert np.array_equal(out[0:9], z[0:9])


def test_a_breakline_keeps_the_edge_of_a_bank():
    """A bank 2 m high along x = 60: levels lie 8 m either side of it; only the line tells where it is."""
    x, y = (
        v.ravel() for v in np.meshgrid(np.r_[0:56:8, 68:124:8] + 400_000.0, np.arange(0, 101, 10) + 300_000.0)
    )
    points = np.column_stack([x, y, np.where(x < 400_060, 10.0, 12.0)])
    foot = np.array([[400_059.9, 300_000, 10.0], [400_059.9, 300_100, 10.0]])
    top = np.array([[400_060.1, 300_000, 12.0], [400_060.1, 300_100, 12.0]])
    gx, gy = GRID.mesh()
    truth = np.where(gx < 400_060, 10.0, 12.0)
    without = tin_heights(points, gx, gy, 60.0)
    with_lines = tin_heights(np.vstack([points, densified(foot, 2.0), densified(top, 2.0)]), gx, gy, 60.0)
    inner = np.s_[2:-2, 2:-10]
    assert np.abs(without - truth)[inner].max() > 0.8
    assert np.abs(with_lines - truth)[inner].max() < 1e-6


def ditch(x, y):
    """A vee ditch 1.2 m deep and 3 m wide that runs obliquely and falls 1 %; banks rise 4 % away from it."""
    along, off = across(x, y)
    return 20.0 - 0.01 * along + 0.04 * np.abs(off) - 0.8 * np.maximum(1.5 - np.abs(off), 0.0)


def across(x, y):
    a, b = np.cos(0.5), np.sin(0.5)
    dx, dy = x - 400_020, y - 300_010
    return dx * a + dy * b, -dx * b + dy * a


def ditch_lines():
    """Bed and both edges of the ditch, a corner at each end alone."""
    ends = np.array([-60.0, 160.0])
    a, b = np.cos(0.5), np.sin(0.5)
    for off in (-1.5, 0.0, 1.5):
        x, y = 400_020 + ends * a - off * b, 300_010 + ends * b + off * a
        yield np.column_stack([x, y, ditch(x, y)])


@pytest.mark.parametrize("count", [60, 6_000])
def test_no_triangle_crosses_a_breakline(count):
    """A vee ditch is flat between its bed and edges, so it is met exactly if no triangle crosses them.

    Levels from one in 15 m to one in 1.5 m. Corners every 2 m alone leave 0.1 m and more where levels are
    dense.
    """
    points = scattered(count)
    points[:, 2] = ditch(points[:, 0], points[:, 1])
    breaks = conforming(points, list(ditch_lines()), 2.0, 0.05)
    x, y = GRID.mesh()
    whole = np.vstack([points, breaks.corners])
    off = np.abs(tin_heights(whole, x, y, 1000.0) - ditch(x, y))[2:-2, 2:-2]
    assert np.isfinite(off).mean() > 0.98 and np.nanmax(off) < 1e-4 and len(breaks.broken) == 0
    if count > 1_000:
        loose = np.vstack([points, *(densified(line, 2.0) for line in ditch_lines())])
        assert np.nanmax(np.abs(tin_heights(loose, x, y, 1000.0) - ditch(x, y))) > 0.1


def test_breaklines_that_cross_are_told_and_end():
    """Two lines that cross 1 m above each other: the place is named, within the shortest piece."""
    cross = [
        np.array([[400_010, 300_050, 10.0], [400_090, 300_051, 10.0]]),
        np.array([[400_050, 300_010, 11.0], [400_052, 300_090, 11.0]]),
    ]
    breaks = conforming(scattered(200), cross, 2.0, 0.05)
    assert len(breaks.broken) and np.ptp(breaks.broken[:, :2], axis=0).max() < 0.1
    assert np.hypot(*(breaks.broken[0, :2] - [400_051, 300_050.5])) < 0.1


def test_left_out_levels_tell_the_error_of_a_surface():
    """On z = (r / 20) ** 2 a mesh of 10 m is off by up to 0.25 m between levels, on a plane by nothing."""
    x, y = (v.ravel() for v in np.meshgrid(np.arange(0, 121, 10.0), np.arange(0, 101, 10.0)))
    groups = np.arange(len(x))
    flat = tin_residuals(np.column_stack([x, y, plane(x, y)]), groups, 60.0)
    bowl = tin_residuals(np.column_stack([x, y, ((x - 60) ** 2 + (y - 50) ** 2) / 400]), groups, 60.0)
    assert flat.count > 5 and flat.rms_m < 1e-9
    assert 0.05 < bowl.rms_m < 0.5 and bowl.mean_m > 0, "chords lie above a bowl"


def test_smoothing_keeps_a_plane_and_halves_noise():
    x, y = GRID.mesh()
    z = plane(x, y)
    z[30:40, 30:40] = np.nan
    calm = smoothed(z, 2.0)
    assert np.isnan(calm).tolist() == np.isnan(z).tolist()
    assert np.nanmax(np.abs(calm - z)[10:20, 10:-10]) < 1e-6
    noise = np.random.default_rng(2).normal(0, 0.1, z.shape)
    assert np.nanstd(smoothed(z + noise, 2.0) - smoothed(z, 2.0)) < 0.05
    assert smoothed(z, 0.0) is z
