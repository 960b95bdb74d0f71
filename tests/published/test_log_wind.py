"""Wind with height: logarithmic law and roughness classes.

Law [published: chemeurope.com, Log wind profile]; roughness 0.03 m for flat open grass [published:
wind-stats.readthedocs.io; webmet.com]; local power law exponent 1 / ln(z_ref / z0) [published: wasp.dk].
Ratios: computed with a second program, last digit.
"""

from __future__ import annotations

import math

import pytest

from gistools.compute.ballistics.air import wind_at


def test_ratios() -> None:
    assert wind_at(30.0, 1.0, 0.03) == pytest.approx(1.1891, abs=1e-4)
    assert wind_at(2.0, 1.0, 0.03) == pytest.approx(0.7229, abs=1e-4)
    assert wind_at(10.0, 7.3, 0.25) == pytest.approx(7.3)


def test_local_power_law() -> None:
    exponent = 1 / math.log(10 / 0.03)
    assert wind_at(12.0, 1.0, 0.03) == pytest.approx(1.2**exponent, rel=2e-3)
