"""Scale factors and combined factors against worked cases.


- k at three places of British National Grid, of UTM and of California zone 1: [computed] with PROJ;
- 0.999981 x 20 906 000 / (20 906 000 + 500 ft) = 0.999957: [published: rplstoday.com thread 85148];
- H = 500 m, k = 0.99999: combined factor 0.999911: [published: coordinate-converter.com, grid to ground];
- quick transverse Mercator F = F0 (1 + (E - E0)^2 / (2 R^2)), good to 2 ppm: [published:
  civilengineeringx.com].
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.layout import lengths
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.lengths import EARTH_RADIUS_M, combined_factor, measure, scale_factor

K = [
    (27700, 651409.903, 313177.270, 1.0003773154),
    (27700, 400000.0, 300000.0, 0.9996012717),
    (27700, 320000.0, 650000.0, 0.9996797878),
    (2225, 6422625.2558, 2065824.3214, 0.9999116439),
]


@pytest.mark.parametrize(("code", "east", "north", "k"), K)
def test_scale_factor(code, east, north, k):
    assert scale_factor(code, east, north) == pytest.approx(k, abs=5e-11)


def test_utm_on_and_off_its_meridian():
    assert scale_factor(32630, 500000.0, 6.2e6) == pytest.approx(0.9996, abs=1e-10)


@pytest.mark.parametrize("east", [320000.0, 651409.903])
def test_quick_formula(east):
    quick = 0.9996012717 * (1 + (east - 400000.0) ** 2 / (2 * 6_373_000.0**2))
    assert scale_factor(27700, east, 400000.0) == pytest.approx(quick, abs=2e-6)


def test_line_of_500_m():
    # (320000, 650000) -> (320300, 650400): ellipsoid 500.160305, ground at h = 150 m 500.172079 [computed]
    result = measure(Alignment(np.array([(320000.0, 650000.0), (320300.0, 650400.0)])), 27700)
    assert result.grid_m == 500.0
    assert result.ground_m == pytest.approx(500.160305, abs=1e-6)
    assert 500.0 / combined_factor(27700, 320150.0, 650200.0, 150.0) == pytest.approx(500.172079, abs=1e-6)


@pytest.mark.parametrize(("height", "ppm"), [(100, -15.7), (500, -78.5), (1000, -156.9), (2000, -313.8)])
def test_height_reduction(height, ppm):
    # R / (R + h), [computed] with R = 6 372 000 m
    assert 1e6 * (EARTH_RADIUS_M / (EARTH_RADIUS_M + height) - 1) == pytest.approx(ppm, abs=0.06)


@pytest.mark.parametrize(
    ("k", "height_m", "factor", "tolerance"),
    # half of the last printed digit; the second is printed cut off, not rounded
    [(0.999981, 500 * 0.3048, 0.999957, 5e-7), (0.99999, 500.0, 0.999911, 1e-6)],
)
def test_worked_combined_factors(monkeypatch, k, height_m, factor, tolerance):
    monkeypatch.setattr(lengths, "scale_factor", lambda crs, x, y: np.array(k))
    assert combined_factor(27700, 0.0, 0.0, height_m) == pytest.approx(factor, abs=tolerance)
