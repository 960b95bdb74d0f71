"""Air and wind: limits, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.air import Weather, Wind, air_for, wind_at


@pytest.mark.parametrize("h", [2.0, 3.3, 10.0, 29.0, 55.0, 100.0])
@pytest.mark.parametrize("roughness", [0.03, 0.25])
def test_kernel_wind_is_the_log_law(h: float, roughness: float) -> None:
    shear = 1 / math.log(10 / roughness)
    assert _kernels.wind_share(h, shear) == pytest.approx(wind_at(h, 1.0, roughness), abs=2e-6)


def test_no_wind_in_the_roughness() -> None:
    assert wind_at(0.03, 8.0) == 0.0
    assert wind_at(0.001, 8.0) == 0.0


def test_wind_comes_from_its_bearing() -> None:
    air = air_for(wind=Wind("west", 5.0, 270.0))
    assert air.wind_east == pytest.approx(5.0) and air.wind_north == pytest.approx(0.0, abs=1e-12)


def test_density_falls_with_height_heat_and_moisture() -> None:
    base = Weather().density
    assert Weather(elevation_m=500).density < base
    assert Weather(temperature_c=30).density < base
    assert Weather(humidity_pct=100).density < base


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Weather(elevation_m=9000), "elevation_m"),
        (lambda: Weather(temperature_c=float("nan")), "temperature_c"),
        (lambda: Weather(humidity_pct=-1), "humidity_pct"),
        (lambda: Wind("gale", 60.0, 0.0), "speed_ms of wind 'gale'"),
        (lambda: Wind("odd", 5.0, -10.0), "from_deg of wind 'odd'"),
        (lambda: Wind("odd", True, 10.0), "speed_ms"),
        (lambda: air_for(model="Z"), "no flight model 'Z'"),
    ],
)
def test_silly_values_are_named(make, field: str) -> None:
    with pytest.raises(InputError, match=field):
        make()


def test_quick_functions_of_the_kernels_against_the_library() -> None:
    """2^x, log2 and 1/sqrt in single precision, over all a flight can ask of them."""
    single = np.float32
    for x in np.linspace(-60.0, 40.0, 2801).astype(single):
        assert _kernels.single_exp2(x) == pytest.approx(2.0 ** float(x), rel=2e-7)
    assert _kernels.single_exp2(single(0.0)) == 1.0
    for x in np.geomspace(0.01, 1000.0, 2801).astype(single):
        assert _kernels.single_log2(x) == pytest.approx(math.log2(x), abs=4e-6)
    for x in np.geomspace(1e-18, 1e6, 2801).astype(single):
        assert _kernels.single_inverse_root(x) == pytest.approx(float(x) ** -0.5, rel=4e-7)
