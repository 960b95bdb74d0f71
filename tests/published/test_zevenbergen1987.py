"""Slope from the four next neighbours: a fitted disk of one cell.

Source: Zevenbergen, L.W. & Thorne, C.R. 1987, "Quantitative analysis of land surface topography", Earth
Surface Processes and Landforms 12, 47-56. The paper was not read; formula and worked window are
[computed: gdaldem 3.6.2 gives the same]. That the method is exact on quadratic surfaces is [from memory],
and shown here.
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.terrain.slopes import falls_to_deg, fitted
from gistools.compute.terrain.surface import Surface

WINDOW = Surface(np.array([[50.0, 45, 50], [30, 30, 30], [8, 10, 10]]), 0.0, 15.0, 5.0)


def test_worked_window() -> None:
    p, q = (v[1, 1] for v in fitted(WINDOW, 5.0))
    assert p == pytest.approx(0.0, abs=1e-12)
    assert q == pytest.approx(3.5, abs=1e-12)
    assert np.degrees(np.arctan(np.hypot(p, q))) == pytest.approx(74.0546, abs=5e-5)
    assert falls_to_deg(p, q) == pytest.approx(180.0)


def test_exact_on_quadratics() -> None:
    x, y = np.meshgrid(np.arange(12) + 0.5, 12 - np.arange(12) - 0.5)
    s = Surface(0.3 * x**2 - 0.2 * x * y + 0.1 * y**2 + x - 2 * y + 5, 0.0, 12.0, 1.0)
    p, q = fitted(s, 1.0)
    inner = (slice(1, -1), slice(1, -1))
    np.testing.assert_allclose(p[inner], (0.6 * x - 0.2 * y + 1)[inner], atol=1e-10)
    np.testing.assert_allclose(q[inner], (-0.2 * x + 0.2 * y - 2)[inner], atol=1e-10)
