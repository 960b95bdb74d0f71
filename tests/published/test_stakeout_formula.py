"""Stakeout formula E = E0 + S sin b + O sin(b + 90), N alike with cos (hqcalculator.com) [published].

The staked points of the setting-out have to come back from their chainage and offset by this formula. The
table of points beside the line (1000,2000)->(1060,2080)->(1160,2080) [computed].
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.layout.alignment import Alignment

BEND = np.array([[1000.0, 2000.0], [1060.0, 2080.0], [1160.0, 2080.0]])


@pytest.mark.parametrize(
    ("point", "chainage", "offset"),
    [
        ((1038, 2034), 50, 10),
        ((1022, 2046), 50, -10),
        ((1110, 2095), 150, -15),
        ((1050, 2085), 98, -11),
        ((1064, 2077), 104, 3),
        ((1060, 2090), 100, -10),
    ],
)
def test_table(point: tuple[float, float], chainage: float, offset: float) -> None:
    s, o, _ = Alignment(BEND).locate(point)
    assert (s[0], o[0]) == pytest.approx((chainage, offset))


@pytest.mark.parametrize("bearing_deg", [36.869898, 90.0, 216.869898, 323.130102])
def test_formula_gives_the_point_back(bearing_deg: float) -> None:
    b = np.radians(bearing_deg)
    start = np.array([420000.0, 660000.0])
    line = Alignment(np.array([start, start + 300 * np.array([np.sin(b), np.cos(b)])]))
    for s, o in ((25.0, 12.5), (140.0, -33.0)):
        east = start[0] + s * np.sin(b) + o * np.sin(b + np.pi / 2)
        north = start[1] + s * np.cos(b) + o * np.cos(b + np.pi / 2)
        found_s, found_o, _ = line.locate((east, north))
        assert (found_s[0], found_o[0]) == pytest.approx((s, o), abs=1e-7)
