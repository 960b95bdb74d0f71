"""Triangulated surfaces: true to the terrain within the tolerance, checked by another library."""

from __future__ import annotations

import matplotlib.tri as tri
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.tin import Tin, build_tin


def dunes(rows: int = 180, cols: int = 140, cell: float = 0.5, seed: int = 3) -> Surface:
    rng = np.random.default_rng(seed)
    z = (
        30 * gaussian_filter(rng.standard_normal((rows, cols)), 12)
        + gaussian_filter(rng.standard_normal((rows, cols)), 2) * 0.1
    )
    return Surface(z, 420000.0, 660000.0, cell)


def by_matplotlib(tin: Tin, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Heights on the given triangles, by matplotlib's own search; nan outside them."""
    p = tin.points - [420000.0, 660000.0, 0.0]
    mesh = tri.Triangulation(p[:, 0], p[:, 1], tin.faces)
    return np.ma.filled(tri.LinearTriInterpolator(mesh, p[:, 2])(x - 420000.0, y - 660000.0), np.nan)


@pytest.mark.parametrize("tolerance", [0.1, 0.02])
def test_every_cell_within_tolerance(tolerance: float) -> None:
    s = dunes()
    tin = build_tin(s, tolerance_m=tolerance)
    x, y = np.meshgrid(*s.centres())
    miss = by_matplotlib(tin, x, y) - s.z
    assert np.isfinite(miss).mean() > 0.999  # matplotlib may miss a cell exactly on the hull
    assert np.nanmax(np.abs(miss)) <= tolerance + 1e-6
    assert tin.worst_m <= tolerance
    assert tin.rms_m == pytest.approx(np.sqrt(np.nanmean(miss**2)), rel=0.02)
    assert len(tin.points) < s.z.size / 4


def test_error_between_cells_is_within_the_twist_of_a_cell() -> None:
    s = dunes()
    tin = build_tin(s, tolerance_m=0.02)
    rng = np.random.default_rng(5)
    west, south, east, north = s.bounds
    x, y = rng.uniform(west + 1, east - 1, 4000), rng.uniform(south + 1, north - 1, 4000)
    twist = np.abs(s.z[1:, 1:] - s.z[1:, :-1] - s.z[:-1, 1:] + s.z[:-1, :-1]).max() / 4
    assert np.nanmax(np.abs(by_matplotlib(tin, x, y) - s.height(x, y))) <= 0.02 + twist


def test_faces_cover_the_ground_once_and_turn_left() -> None:
    s = dunes()
    tin = build_tin(s, tolerance_m=0.05)
    a, b, c = (tin.points[tin.faces[:, k], :2] for k in range(3))
    area = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert (area > 0).all()
    rows, cols = s.z.shape
    assert area.sum() == pytest.approx((rows - 1) * (cols - 1) * s.cell**2)


def test_a_plane_needs_no_more_than_the_first_lattice() -> None:
    x = np.arange(64) * 0.5
    tin = build_tin(Surface(0.03 * x[None, :] - 0.02 * x[:, None] + 7, 0, 0, 0.5), tolerance_m=0.001)
    assert len(tin.points) == 25 and tin.worst_m < 1e-9


def test_no_triangle_spans_missing_ground() -> None:
    s = dunes()
    z = s.z.copy()
    z[60:90, 40:80] = np.nan
    z[:15, :25] = np.nan
    tin = build_tin(Surface(z, s.x_west, s.y_north, s.cell), tolerance_m=0.03)
    assert np.isfinite(tin.points).all()
    x, y = np.meshgrid(*s.centres())
    got = by_matplotlib(tin, x, y)
    assert np.isnan(got[np.isnan(z)]).all()
    assert np.isfinite(got[np.isfinite(z)]).mean() > 0.995


def test_triangulation_keeps_triangles_of_its_first_surface() -> None:
    s = dunes()
    first = build_tin(s, tolerance_m=0.03)
    z = s.z.copy()
    z[20:40, 20:40] += 0.7
    second = build_tin(Surface(z, s.x_west, s.y_north, s.cell), tolerance_m=0.03, start=first)
    assert second.worst_m <= 0.03
    far = first.points[:, 0] > s.x_west + 40
    stored = {tuple(p) for p in second.points.tolist()}
    assert all(tuple(p) in stored for p in first.points[far].tolist())


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="above 0"):
        build_tin(dunes(), tolerance_m=0.0)
    with pytest.raises(InputError, match="too little ground"):
        build_tin(Surface(np.full((5, 5), np.nan), 0, 0, 1.0))
