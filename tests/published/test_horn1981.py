"""Slope from eight weighted neighbours.

Source: Horn, B.K.P. 1981, "Hill shading and the reflectance map", Proc. IEEE 69(1), 14-47. The paper was not read; the
formula and the worked window below [tried: gdaldem 3.6.2 and a PyPI library give the
same]. Window in metres, cells of 5 m, north row first.
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.terrain.slopes import falls_to_deg, horn
from gistools.compute.terrain.surface import Surface

WINDOW = Surface(np.array([[50.0, 45, 50], [30, 30, 30], [8, 10, 10]]), 0.0, 15.0, 5.0)


def test_worked_window() -> None:
    p, q = (v[1, 1] for v in horn(WINDOW))
    assert p == pytest.approx(0.05, abs=1e-12)
    assert q == pytest.approx(3.8, abs=1e-12)
    assert np.hypot(p, q) == pytest.approx(3.800329, abs=5e-7)
    assert np.degrees(np.arctan(np.hypot(p, q))) == pytest.approx(75.2577, abs=5e-5)
    assert falls_to_deg(p, q) == pytest.approx(180.754, abs=5e-4)
