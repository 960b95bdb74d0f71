"""Slopes at a scale, along and across play: planes, gdaldem, signs."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.errors import InputError
from gistools.compute.terrain.slopes import (
    downhill_ends,
    fall_and_camber,
    falls_to_deg,
    fitted,
    fitted_at,
    line_bearings,
    slope_pct,
)
from gistools.compute.terrain.surface import Surface


def tilted(p: float, q: float, n: int = 24, cell: float = 1.0) -> Surface:
    x = (np.arange(n) + 0.5) * cell
    y = n * cell - x
    return Surface(50 + p * x[None, :] + q * y[:, None], 0.0, n * cell, cell)


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(0.25, 5.0))
@settings(max_examples=40, deadline=None)
def test_planes_are_exact(p: float, q: float, cell: float) -> None:
    s = tilted(p, q, cell=cell)
    for radius in (cell, 3.2 * cell):
        gp, gq = fitted(s, radius)
        known = np.isfinite(gp)
        assert known[8:-8, 8:-8].all() and not known[0].any() and not known[:, -1].any()
        np.testing.assert_allclose(gp[known], p, atol=1e-12)
        np.testing.assert_allclose(gq[known], q, atol=1e-12)
    a, b, rest = fitted_at(s, 12 * cell, 12 * cell, 2 * cell)
    assert (a, b, rest) == pytest.approx((p, q, 0), abs=1e-11)


@given(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2), st.floats(0, 360))
@settings(max_examples=60, deadline=None)
def test_fall_and_camber_keep_the_slope(p: float, q: float, bearing: float) -> None:
    fall, camber = fall_and_camber(p, q, bearing)
    assert np.hypot(fall, camber) == pytest.approx(slope_pct(p, q), abs=1e-9)
    back = fall_and_camber(p, q, bearing + 180)
    assert back[0] == pytest.approx(-fall, abs=1e-9) and back[1] == pytest.approx(-camber, abs=1e-9)


def test_signs_of_fall_and_camber() -> None:
    """Playing due north.

    Ground that drops to the north falls away, ground that drops to the east falls to the right.
    """
    assert fall_and_camber(0.0, -0.03, 0.0) == pytest.approx((3.0, 0.0))
    assert fall_and_camber(-0.02, 0.0, 0.0) == pytest.approx((0.0, 2.0))
    # playing due east: ground that drops to the south falls to the right, to the east away
    assert fall_and_camber(0.0, 0.02, 90.0) == pytest.approx((0.0, 2.0))
    assert fall_and_camber(-0.02, 0.0, 90.0) == pytest.approx((2.0, 0.0))
    assert falls_to_deg([-1, 0, 1, 0, 0], [0, -1, 0, 1, 0])[:4] == pytest.approx([90, 0, 270, 180])
    assert np.isnan(falls_to_deg(0.0, 0.0))


def test_fitted_slope_is_the_least_squares_plane() -> None:
    rng = np.random.default_rng(1)
    s = Surface(rng.normal(size=(15, 15)), 0.0, 7.5, 0.5)
    p, q = fitted(s, 1.3)
    x, y = s.centres()
    east, north = np.meshgrid(x - x[7], y - y[6])
    disk = np.hypot(east, north) <= 1.3
    a = np.column_stack([np.ones(disk.sum()), east[disk], north[disk]])
    answer = np.linalg.lstsq(a, s.z[disk], rcond=None)[0]
    assert (p[6, 7], q[6, 7]) == pytest.approx((answer[1], answer[2]), abs=1e-12)


def test_missing_ground_has_no_slope() -> None:
    s = tilted(0.1, 0.0)
    z = s.z.copy()
    z[10, 10] = np.nan
    s = Surface(z, 0.0, 24.0, 1.0)
    p, _ = fitted(s, 1.0)
    assert np.isnan(p[10, 10]) and np.isnan(p[10, 11]) and p[14, 14] == pytest.approx(0.1)
    p, _ = fitted(s, 2.0)
    assert np.isnan(p[8:13, 10]).all() and np.isnan(p[10, 8:13]).all() and p[11, 12] == pytest.approx(0.1)
    assert np.isnan(fitted_at(s, 10.5, 13.5, 1.0)[0])
    flat = Surface(np.full((2, 9), np.nan), 0.0, 2.0, 1.0)
    assert np.isnan(fitted(flat, 1.0)[0]).all()
    with pytest.raises(InputError, match="radius"):
        fitted(s, 0.0)


@pytest.mark.skipif(shutil.which("gdaldem") is None, reason="gdaldem is not installed")
@pytest.mark.filterwarnings("ignore:Use `@`")
def test_a_disk_of_one_cell_as_gdaldem(tmp_path: Path) -> None:
    import rasterio
    from rasterio.transform import from_origin

    z = np.random.default_rng(3).normal(size=(60, 70)).cumsum(0).cumsum(1).astype("float32") * 0.01
    s = Surface(z, 1000.0, 3000.0, 2.5)
    source = tmp_path / "ground.tif"
    profile = {"driver": "GTiff", "height": 60, "width": 70, "count": 1, "dtype": "float32", "crs": 27700}
    with rasterio.open(source, "w", transform=from_origin(1000, 3000, 2.5, 2.5), **profile) as out:
        out.write(z, 1)
    theirs = []
    for kind in ("slope", "aspect"):
        made = tmp_path / f"{kind}.tif"
        subprocess.run(
            [
                "gdaldem",
                kind,
                "-q",
                "-alg",
                "ZevenbergenThorne",
                *(["-p"] if kind == "slope" else []),
                source,
                made,
            ],
            check=True,
        )
        with rasterio.open(made) as read:
            theirs.append(read.read(1)[1:-1, 1:-1])
    p, q = (v[1:-1, 1:-1] for v in fitted(s, 2.5))
    np.testing.assert_allclose(slope_pct(p, q), theirs[0], rtol=1e-4, atol=1e-4)
    turn = (falls_to_deg(p, q) - theirs[1] + 180) % 360 - 180
    steep = slope_pct(p, q) > 0.5  # nearly level ground has no steady bearing in single precision
    assert np.abs(turn[steep]).max() < 0.05


def test_bearing_of_the_nearest_leg() -> None:
    bend = [(0, 0), (0, 100), (100, 100)]
    assert line_bearings(bend, [5, 50], [50, 110]) == pytest.approx([0, 90])
    assert line_bearings([(0, 0), (0, 0), (-10, 0)], -3.0, 4.0) == pytest.approx(270)


def test_the_way_down_ends_where_it_is_level() -> None:
    """A slope of 5 % to the east that ends on level ground at x = 15."""
    x = np.arange(30) + 0.5
    s = Surface(np.tile(np.maximum(0.05 * (15 - x), 0), (20, 1)), 0.0, 20.0, 1.0)
    p, q = fitted(s, 1.0)
    start = np.zeros(s.z.shape, bool)
    start[10, 4] = True
    east, north = downhill_ends(s, p, q, start, 3.0)
    assert east[0] == pytest.approx(15.0, abs=1.1) and north[0] == pytest.approx(9.5)
