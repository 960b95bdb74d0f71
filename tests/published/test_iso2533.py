"""Standard atmosphere: ISO 2533 / ICAO.

Sea level 15 C, 1013.25 hPa, lapse 1.98 C per 1000 ft [published: onlinerpas.co.za, ISA part 2]. Table by
elevation: [computed from the formulas of the standard]. Viscosity by Sutherland [from memory]. Tolerance
0.0002 kg/m3: last printed digit, and geopotential against geometric height (below 0.001 here).
"""

from __future__ import annotations

import pytest

from gistools.compute.ballistics.air import standard_atmosphere

ROWS = [
    (0, 288.15, 101325, 1.2250, 1.4607),
    (500, 284.90, 95461, 1.1673, 1.5194),
    (1000, 281.65, 89875, 1.1116, 1.5812),
    (1500, 278.40, 84556, 1.0581, 1.6463),
    (2000, 275.15, 79495, 1.0065, 1.7148),
]


@pytest.mark.parametrize(("h", "kelvin", "pascal", "density", "viscosity"), ROWS)
def test_by_elevation(h, kelvin, pascal, density, viscosity) -> None:
    t, p, rho, nu = standard_atmosphere(h)
    assert t == pytest.approx(kelvin, abs=0.005)
    assert p == pytest.approx(pascal, abs=1.0)
    assert rho == pytest.approx(density, abs=2e-4)
    assert nu * 1e5 == pytest.approx(viscosity, abs=2e-4)


def test_lapse_rate() -> None:
    assert standard_atmosphere(0)[0] - standard_atmosphere(304.8)[0] == pytest.approx(1.98, abs=0.005)
