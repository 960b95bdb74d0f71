"""Moist air.

Picard et al. 2008, Revised formula for the density of moist air (CIPM-2007), Metrologia 45:149-155.

[published: the paper's existence and formula; the densities below were computed with constants from
memory]. Our simple form has to agree to 0.1 %, a tenth of what 1 C does.
"""

from __future__ import annotations

import pytest

from gistools.compute.ballistics.air import moist_density

ROWS = [
    (20.0, 101325.0, 0.5, 1.19931),
    (20.0, 101325.0, 0.0, 1.20456),
    (30.0, 101325.0, 0.8, 1.15001),
    (15.0, 101325.0, 0.0, 1.22552),
    (25.0, 85000.0, 0.6, 0.98506),
]


@pytest.mark.parametrize(("celsius", "pascal", "humidity", "density"), ROWS)
def test_against_cipm(celsius, pascal, humidity, density) -> None:
    assert moist_density(celsius, pascal, humidity) == pytest.approx(density, rel=1e-3)


def test_handbook_row() -> None:
    """760 mmHg, 20 C, dew point 10 C.

    1.199 kg/m3 [published: constructionwork.com, density of moist air]; 52.5 % by Magnus.
    """
    assert moist_density(20.0, 101325.0, 0.525) == pytest.approx(1.199, abs=1e-3)
