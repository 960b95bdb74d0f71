"""Slope limits for hole locations by green speed.

Source: Lemons, USGA Green Section Record, July 2008; table as printed in
golfcourseindustry.com/article/green-slopes-golf [published]. Speeds in feet on the Stimpmeter, slopes in per
cent.
"""

from __future__ import annotations

import pytest

from gistools.base.errors import InputError
from gistools.compute.terrain.green_slopes import slope_limits

#: stimp [ft], greatest marginal slope [%], greatest downhill slope [%], slope where a ball never stops [%,
#: computed]
PRINTED = [
    (8, 5.86, 6.65, 9.79),
    (9, 4.35, 5.95, 8.70),
    (10, 3.90, 5.42, 7.83),
    (11, 3.58, 4.90, 7.12),
    (12, 3.24, 4.55, 6.53),
    (13, 2.99, 4.20, 6.02),
    (14, 2.90, 3.85, 5.59),
]


@pytest.mark.parametrize(("stimp", "marginal", "downhill", "never"), PRINTED)
def test_printed_limits(stimp: float, marginal: float, downhill: float, never: float) -> None:
    assert slope_limits(stimp) == pytest.approx((marginal, downhill), abs=0.005)
    assert downhill < never, "a ball putted downhill at the limit still stops"
    assert never == pytest.approx(78.3 / stimp, abs=0.01)
    # the sheet calls it a steady 0.68 to 0.69; the printed values give 0.679 to 0.698
    assert downhill / never == pytest.approx(0.6885, abs=0.0105)


def test_between_and_beyond_the_printed_speeds() -> None:
    """Not published: linear between, never looser than the printed ends (cautious)."""
    assert slope_limits(10.5)[0] == pytest.approx((3.90 + 3.58) / 2)
    assert slope_limits(5)[0] == 5.86
    assert slope_limits(16)[0] == pytest.approx(2.90 * 14 / 16)
    for wrong in (3.0, 17.0, float("nan")):
        with pytest.raises(InputError, match="Stimpmeter"):
            slope_limits(wrong)
