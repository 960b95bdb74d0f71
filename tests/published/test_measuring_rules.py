"""How the governing bodies have a hole measured.

- CONGU, measuring rules, appendix A: horizontal plane, permanent tee marker to centre of the green, straight
  legs through pivots at the fairway's centre, about 250 yd (229 m) from the most used tee if the bend is not
  clear [published: congu.com template2.asp?pid=61].
- DGV course rating notes: hole length in whole metres, .5 rounds up, 234.5 -> 235 [published].
- Course Rating landing distances in yards [published: gam.org, issuu.com/golf-iceland].
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.units import YARD_M
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.corridors import LANDING_M
from gistools.compute.layout.lengths import card_length, measure
from gistools.compute.layout.lines_of_play import UNCLEAR_PIVOT_M

LANDING_YD = {
    "scratch man": (250, 470),
    "bogey man": (200, 370, 540),
    "scratch woman": (210, 400),
    "bogey woman": (150, 280, 410),
}


def test_dogleg_in_straight_legs():
    # tee (0,0), pivot (229,0), green (320,120): 379.6 -> 380 m [computed in section 5]; heights do not enter
    line = Alignment(np.array([(0.0, 0.0), (229.0, 0.0), (320.0, 120.0)]) + np.array([400000.0, 300000.0]))
    result = measure(line, 27700)
    assert result.grid_m == pytest.approx(229 + np.sqrt(91**2 + 120**2), abs=1e-9)
    assert round(result.grid_m, 1) == 379.6
    assert card_length(result.grid_m) == 380


def test_half_a_metre_rounds_up():
    assert card_length(234.5) == 235


def test_pivot_distance_in_yards():
    assert pytest.approx(250 * YARD_M) == UNCLEAR_PIVOT_M


@pytest.mark.parametrize("player", LANDING_YD)
def test_landing_distances_in_yards(player):
    # printed in metres to 0.1
    assert LANDING_M[player] == pytest.approx([v * YARD_M for v in LANDING_YD[player]], abs=0.05)
