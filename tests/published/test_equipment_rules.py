"""Ball: Rules of Golf, Equipment Rules; moment of inertia as used by Penner 2001 and Nathan 2008.

1.620 oz, 1.680 in [published: smystery.my24hours.net, appendix III]; I = 2/5 m r^2 [published:
studylib.net/doc/18725248]. Exact conversions of ounce and inch; tolerances are half a unit of the last digit
we keep.
"""

from __future__ import annotations

import math

import pytest

from gistools.compute.ballistics import flight_kernels as _kernels


def test_ball() -> None:
    assert pytest.approx(1.620 * 0.028349523125, abs=5e-6) == _kernels.MASS
    assert pytest.approx(1.680 * 0.0254 / 2, abs=1e-6) == _kernels.RADIUS
    area = _kernels.AREA_PER_MASS * _kernels.MASS
    assert area == pytest.approx(0.00143000, abs=1e-7)
    assert pytest.approx(8.3626e-6, abs=1e-9) == 0.4 * _kernels.MASS * _kernels.RADIUS**2
    assert pytest.approx(0.0190697, abs=1e-6) == 1.225 * _kernels.AREA_PER_MASS / 2
    assert _kernels.G == 9.80665
    assert _kernels.MASS / (4 / 3 * math.pi * _kernels.RADIUS**3) == pytest.approx(1129, abs=1)
