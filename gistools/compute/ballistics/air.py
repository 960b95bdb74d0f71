"""Air: density and viscosity by elevation, temperature and humidity; wind by height.

Formulas
--------
Standard atmosphere (ISO 2533, 0 to 11 km): T = 288.15 - 0.0065 h, p = 101325 (T / 288.15)^5.25588,
rho = p / (287.05287 T). Moist air: rho = (p - e) / (287.05 T) + e / (461.5 T) with the vapour pressure
e = RH * 611.2 exp(17.62 t / (243.12 + t)) (Magnus, from memory). Viscosity: Sutherland, from memory.
Wind: logarithmic law U(h) = U(10) ln(h / z0) / ln(10 / z0).

The elevation that counts is that of the site above sea level, not a height above the tee.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from gistools.base.errors import InputError
from gistools.compute.ballistics import flight_kernels as _kernels
from gistools.compute.ballistics.aerodynamics import Coefficients

#: lowest dry land (the shore of the Dead Sea, from memory) and a height where nobody plays (assumption) [m]
LEVELS_M = (-430.0, 6000.0)
#: a flight model: name of a built-in one, or coefficients of one's own
Model = str | Coefficients
MODELS = {"D": _kernels.MODEL_D, "Q": _kernels.MODEL_Q, "SS": _kernels.MODEL_SS, "none": _kernels.VACUUM}


def number(name: str, value: Any, low: float, high: float, unit: str = "") -> float:
    """Return ``value`` as a float.

    Raises
    ------
    InputError
        Naming ``what``, where it is not a number from ``low`` to ``high``.
    """
    good = isinstance(value, (int, float, np.integer, np.floating)) and not isinstance(value, bool)
    if not good or not low <= value <= high:
        unit = f" {unit}" if unit else ""
        raise InputError(f"{name} is {value!r}; it should be a number from {low:g} to {high:g}{unit}")
    return float(value)


@dataclass(frozen=True)
class Weather:
    """The air a site is studied in. The default is this toolkit's standard day.

    Parameters
    ----------
    elevation_m
        Elevation of the site above sea level [m].
    temperature_c
        Air temperature [degrees C].
    humidity_pct
        Relative humidity [%].
    roughness_m
        Aerodynamic roughness of the ground upwind [m]: 0.03 open grass, 0.10 low crops and a few large
        obstacles, 0.25 to 0.5 tree-lined, 1.0 suburb or forest (published classes, see Notes).

    Notes
    -----
    The standard day (sea level, 20 degrees C, 50 % humidity) is the project's choice; with it the stated
    carries of the built-in players are met. Roughness classes: Davenport-type tables as printed at
    wind-stats.readthedocs.io and webmet.com [published].
    """

    elevation_m: float = 0.0
    temperature_c: float = 20.0
    humidity_pct: float = 50.0
    roughness_m: float = 0.03

    def __post_init__(self) -> None:
        number("elevation_m", self.elevation_m, *LEVELS_M, "m")
        number("temperature_c", self.temperature_c, -30, 50, "degrees C")
        number("humidity_pct", self.humidity_pct, 0, 100, "%")
        number("roughness_m", self.roughness_m, 0.0001, 1.5, "m")

    @property
    def density(self) -> float:
        """Density of the air [kg/m3]."""
        _, pressure = standard_atmosphere(self.elevation_m)[:2]
        return moist_density(self.temperature_c, pressure, self.humidity_pct / 100.0)

    @property
    def viscosity(self) -> float:
        """Kinematic viscosity of the air [m2/s]."""
        return dynamic_viscosity(self.temperature_c + 273.15) / self.density


STANDARD_DAY = Weather()


@dataclass(frozen=True)
class Wind:
    """A steady wind.

    Parameters
    ----------
    name
        What people call it.
    speed_ms
        Mean speed 10 m above ground [m/s].
    from_deg
        Grid bearing it comes from [degrees].
    """

    name: str = "calm"
    speed_ms: float = 0.0
    from_deg: float = 0.0

    def __post_init__(self) -> None:
        number(f"speed_ms of wind {self.name!r}", self.speed_ms, 0, 30, "m/s")
        number(f"from_deg of wind {self.name!r}", self.from_deg, 0, 360, "degrees")


CALM = Wind()


def standard_atmosphere(elevation_m: float) -> tuple[float, float, float, float]:
    """Return the standard atmosphere at an elevation.

    Temperature [K], pressure [Pa], density [kg/m3] and kinematic viscosity [m2/s].

    Raises
    ------
    InputError
        Outside -430 to 11,000 m.

    Notes
    -----
    Sources: ISO 2533 (values computed from the formulas of the standard).
    """
    h = number("elevation_m", elevation_m, -430, 11000, "m")
    t = 288.15 - 0.0065 * h
    p = 101325.0 * (t / 288.15) ** 5.25588
    rho = p / (287.05287 * t)
    return t, p, rho, dynamic_viscosity(t) / rho


def dynamic_viscosity(temperature_k: float) -> float:
    """Dynamic viscosity of air [Pa s], Sutherland's law [from memory]."""
    return float(1.716e-5 * (temperature_k / 273.15) ** 1.5 * (273.15 + 110.4) / (temperature_k + 110.4))


def moist_density(temperature_c: float, pressure_pa: float, humidity: float) -> float:
    """Density of moist air [kg/m3]; ``humidity`` from 0 to 1.

    Within 0.1 % of CIPM-2007 (Picard et al. 2008).
    """
    kelvin = temperature_c + 273.15
    vapour = humidity * 611.2 * math.exp(17.62 * temperature_c / (243.12 + temperature_c))
    return (pressure_pa - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)


def wind_at(height_m: ArrayLike, speed_ms: float, roughness_m: float = 0.03) -> Any:
    """Wind speed at a height by the logarithmic law [m/s]; zero at and below the roughness height.

    Notes
    -----
    ``U(h) = U(10) ln(h / z0) / ln(10 / z0)``, good for the lowest 100 m or so in neutral air
    [published: chemeurope.com, Log wind profile]. In flight the wind below 2 m is that at 2 m, see
    :mod:`gistools.compute.ballistics.flight`.
    """
    h = np.maximum(np.asarray(height_m, float), roughness_m)
    return speed_ms * np.log(h / roughness_m) / math.log(_kernels.REF_HEIGHT / roughness_m)


def air_for(weather: Weather = STANDARD_DAY, wind: Wind = CALM, model: Model = "D") -> _kernels.Air:
    """Return what flight kernels need to know of the air; ``model`` is a name or coefficients of one's own.

    Raises
    ------
    InputError
        If there is no such flight model.
    """
    weights = model.weights if isinstance(model, Coefficients) else _kernels.NO_WEIGHTS
    if not isinstance(model, Coefficients) and model not in MODELS:
        raise InputError(f"there is no flight model {model!r}; the models are: {', '.join(MODELS)}")
    towards = math.radians(wind.from_deg) + math.pi
    calm = wind.speed_ms == 0.0
    return _kernels.Air(
        _kernels.MODEL_OWN if isinstance(model, Coefficients) else MODELS[model],
        weather.density,
        weather.viscosity,
        0.0 if calm else wind.speed_ms * math.sin(towards),
        0.0 if calm else wind.speed_ms * math.cos(towards),
        1.0 / math.log(_kernels.REF_HEIGHT / weather.roughness_m),
        weights,
    )
