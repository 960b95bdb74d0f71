"""Units: the closed list used in column and option names, and exact conversion factors.

All computing is in SI. A column or option that has a unit ends in the unit's suffix (``carry_m``,
``camber_pct``). Yards and feet appear only where people read (``--units yd``) and at the door, where a
site in feet is turned into metres by the factor of its own coordinate reference system.

Sources: international yard and foot, agreement of 1959 (1 yd = 0.9144 m exactly); US survey foot
1200/3937 m exactly (Federal Register 24 FR 5348, 1959), retired 2022 but still found in survey data.
"""

from __future__ import annotations

import re

YARD_M = 0.9144
FOOT_M = 0.3048
US_SURVEY_FOOT_M = 1200.0 / 3937.0
MPH_MS = 0.44704

#: unit -> (suffix of a column name, what it is called on a page)
UNITS: dict[str, tuple[str, str]] = {
    "": ("", ""),
    "m": ("_m", "m"),
    "m2": ("_m2", "m²"),
    "m3": ("_m3", "m³"),
    "ha": ("_ha", "ha"),
    "deg": ("_deg", "°"),
    "pct": ("_pct", "%"),
    "ms": ("_ms", "m/s"),
    "s": ("_s", "s"),
    "rpm": ("_rpm", "rpm"),
    "ft": ("_ft", "ft"),
    "c": ("_c", "°C"),
    "strokes": ("_strokes", "strokes"),
    "m_per_m": ("_m_per_m", "m/m"),
    "ppm": ("_ppm", "ppm"),
    "count": ("_count", ""),
    "crs": ("_crs", "unit of the file's CRS"),  # coordinates; metres inside, converted when handed out
}

#: unit -> decimals that mean something to a reader; a unit that is missing here keeps six significant digits
DECIMALS = {
    "m": 2,
    "m2": 1,
    "m3": 1,
    "ha": 2,
    "deg": 1,
    "pct": 1,
    "ms": 2,
    "s": 2,
    "rpm": 0,
    "ft": 1,
    "c": 1,
    "strokes": 2,
    "m_per_m": 3,
    "ppm": 1,
    "count": 0,
    "crs": 3,
    "yd": 0,
    "m_fine": 3,
}
SIGNIFICANT_DIGITS = 6
#: words of a column that is in feet where lengths are in yards: heights, and bands that are short; no widths
IN_FEET = {"rise", "level", "height", "crest", "eye", "band", "backstop", "drop"}
NOT_IN_FEET = {"width"}
#: words of a column that is judged to the millimetre, in metres whatever lengths are in
TO_THE_MILLIMETRE = {"difference", "tolerance", "delta", "measured", "design"}


def suffix_ok(name: str, unit: str) -> bool:
    """Tell whether a column or option name ends in the suffix its unit asks for."""
    return name.endswith(UNITS[unit][0])


def unit_of(name: str) -> str:
    """Return the unit whose suffix a name ends in, "" where there is none."""
    fitting = [unit for unit, (suffix, _) in UNITS.items() if suffix and name.endswith(suffix)]
    return max(fitting, key=lambda unit: len(UNITS[unit][0]), default="")


def to_yards(metres: float) -> float:
    """Convert metres to international yards (exact factor 0.9144)."""
    return metres / YARD_M


def show_length(metres: float, units: str = "m", digits: int = 0) -> str:
    """Write a length for people, in metres or yards.

    Parameters
    ----------
    metres
        Length [m].
    units
        ``"m"`` or ``"yd"``.
    digits
        Decimals shown.
    """
    value = to_yards(metres) if units == "yd" else metres
    return f"{value:.{digits}f} {units}"


def show_area(square_metres: float, units: str = "m") -> str:
    """Write an area [m2] for people, in square metres or square yards."""
    value = square_metres / YARD_M**2 if units == "yd" else square_metres
    return f"{value:.0f} {units}²"


def show_volume(cubic_metres: float, units: str = "m") -> str:
    """Write a volume [m3] for people, in cubic metres or cubic yards."""
    value = cubic_metres / YARD_M**3 if units == "yd" else cubic_metres
    return f"{value:.0f} {units}3"


def show_rise(metres: float, units: str = "m") -> str:
    """Write a rise with its sign for people, in metres, or in feet where lengths are in yards."""
    return f"{metres / FOOT_M:+.1f} ft" if units == "yd" else f"{metres:+g} m"


def one_in(share: float) -> str:
    """Write a share (0 to 1) for people: ``"1 in 11"``, or ``"46 %"`` where it is large or nothing."""
    return f"1 in {round(1.0 / share)}" if 0.0 < share < 0.4 else f"{100 * share:.0f} %"


def heading(name: str, unit: str, units: str) -> tuple[str, float, str]:
    """Return the heading of a column, the factor its values are shown by, and the unit they are shown in.

    With ``units="yd"`` lengths are in whole yards, areas and volumes in square and cubic yards, heights and
    bands (:data:`IN_FEET`) in feet.
    """
    suffix, shown = UNITS[unit]
    words = name.removesuffix(suffix).replace("_", " ") if suffix else name.replace("_", " ")
    parts = set(re.split(r"[ .]", words))
    if unit == "m" and parts & TO_THE_MILLIMETRE:
        return f"{words} [m]", 1.0, "m_fine"
    if unit == "m" and units == "yd":
        if parts & IN_FEET and not parts & NOT_IN_FEET:
            return f"{words} [ft]", 1 / FOOT_M, "ft"
        return f"{words} [yd]", 1 / YARD_M, "yd"
    if unit in ("m2", "m3") and units == "yd":
        return f"{words} [{shown.replace('m', 'yd')}]", YARD_M ** -int(unit[1]), "yd"
    return (f"{words} [{shown}]" if shown else words), 1.0, unit


def show_number(value: float, unit: str) -> str:
    """Write a number with the decimals of its unit; nothing is written as minus nought."""
    digits = DECIMALS.get(unit)
    return f"{value:.{SIGNIFICANT_DIGITS}g}" if digits is None else f"{round(value, digits) + 0.0:.{digits}f}"


def figure_in_words(value: float, name: str, units: str = "m") -> str:
    """Write a figure of a column for people, with its unit: ``"160.7 m"``, ``"176 yd"``, ``"97 %"``.

    Parameters
    ----------
    value
        The figure, in the unit of the column.
    name
        The column, which ends in its unit.
    units
        Lengths in ``"m"`` or ``"yd"``.
    """
    _, factor, shown = heading(name, unit_of(name), units)
    sign = UNITS.get(shown, ("", shown))[1]
    digits = 2 if shown in ("strokes", "m_per_m") else 0 if shown in ("", "count", "pct", "yd") else 1
    return f"{value * factor:.{digits}f} {sign}".rstrip().replace(" °", "°")
