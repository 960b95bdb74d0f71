"""Par by length, Rules of Handicapping (WHS), appendix F.

As read on https://www.danskgolfunion.dk/manualer/handicapsystemet/2024/da/topic/appendix-f [published]. Bands
are printed in yards and metres, each rounded on its own.
"""

from __future__ import annotations

import pytest

from gistools.compute.layout.lengths import par_by_length

# par: men yd, men m, women yd, women m, as printed
TABLE = {
    3: ("up to 260", "up to 240", "up to 220", "up to 200"),
    4: ("240-490", "220-450", "200-420", "180-380"),
    5: ("450-710", "410-650", "370-600", "340-550"),
    6: ("670 up", "610 up", "570 up", "520 up"),
}
COLUMNS = [("men", "yd"), ("men", "m"), ("women", "yd"), ("women", "m")]


def ends(text: str) -> tuple[float, float]:
    if text.startswith("up to"):
        return 1.0, float(text.split()[-1])
    if text.endswith("up"):
        return float(text.split()[0]), 5000.0
    low, high = text.split("-")
    return float(low), float(high)


@pytest.mark.parametrize("par", TABLE)
@pytest.mark.parametrize("column", range(4))
def test_band_as_printed(par, column):
    who, unit = COLUMNS[column]
    low, high = ends(TABLE[par][column])
    assert par in par_by_length(low, unit=unit, who=who)
    assert par in par_by_length(high, unit=unit, who=who)
    if par > 3:
        assert par not in par_by_length(low - 0.5, unit=unit, who=who)
    if par < 6:
        assert par not in par_by_length(high + 0.5, unit=unit, who=who)


@pytest.mark.parametrize(
    ("length", "unit", "who", "pars"),
    [
        (470, "yd", "men", [4, 5]),  # the appendix' own example of an overlap
        (400, "yd", "women", [4, 5]),
        (430, "m", "men", [4, 5]),  # [computed] from the table
        (245, "yd", "men", [3, 4]),
        (650, "m", "men", [5, 6]),
    ],
)
def test_overlaps(length, unit, who, pars):
    assert par_by_length(length, unit=unit, who=who) == pars
