"""Line of play to the boundary, and the cone from the tee.

- J. Gaunt, 'Danger ahead?', European Institute of Golf Course Architects, 2015: 60 m from the centre line
  at right angles long accepted, 80 m now, 100 m beside rail or motorway [published:
  eigca.org/Articles/21621].
- M. Hurdzan's cone of 15 degrees as told by J. Brauer: half-width 49.0 m at 183 m, 64.9 m at 242 m
  [second-hand: golfclubatlas.com topic 42388].

Guidance, not a standard, and every row says so.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString

from gistools.compute.layout.hole_plan import Feature
from gistools.compute.layout.setbacks import OLDER_BOUNDARY_M, Choices, Neighbour, cone, conflict_rows

FENCE = 70.0


@pytest.fixture
def hole():
    from shapely.geometry import Point, box

    from gistools.compute.layout.alignment import Alignment
    from gistools.compute.layout.hole_plan import Hole, TeePlan

    line = Alignment(np.array([(0.0, 0.0), (0.0, 340.0)]))
    fairway = Feature("fairway", "fairway", 1, box(-20, 100, 20, 310))
    return Hole(1, [fairway], Point(0, 340).buffer(14), [], [TeePlan("back", 1, Point(0, 0).buffer(3), line)])


def test_distances_as_printed():
    assert (OLDER_BOUNDARY_M, Choices().line_boundary_m, Choices().line_road_m) == (60.0, 80.0, 100.0)


@pytest.mark.parametrize(("away", "half"), [(183.0, 49.0), (242.0, 64.9)])
def test_cone_as_printed(hole, away, half):
    area, _ = cone(hole.tees[0], 15.0, 242.0)
    across = area.intersection(LineString([(-200, away), (200, away)]))
    assert 0.5 * across.length == pytest.approx(half, abs=0.06)


def test_fence_at_70_m(hole):
    """At 242 m from the tee it passes the cone (64.9 m) and 60 m, and fails 80 m (section 7, test case)."""
    fence = LineString([(FENCE, 0), (FENCE, 340)])
    rows = conflict_rows(
        hole, [], [Neighbour("boundary", None, Feature("fence", "boundary", 1, fence))], Choices()
    )
    (row,) = [r for r in rows if r["rule"] == "line of play to boundary"]
    assert row["separation_m"] == pytest.approx(70.0)
    assert row["reading"] == "between the older figure (60 m) and that asked for (80 m)"
    assert not [r for r in rows if r["rule"] == "cone from the tee"]
    assert "local codes" in row["caution"]
