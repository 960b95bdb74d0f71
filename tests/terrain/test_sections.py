"""Profiles along lines: stations, levels, slopes, what stands there, the line of sight."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import box

from gistools.base.errors import InputError
from gistools.compute.terrain.line_of_sight import Scene
from gistools.compute.terrain.obstacles import Obstacle, obstacle_set
from gistools.compute.terrain.sections import section
from gistools.compute.terrain.surface import Surface


def slope(p: float = 0.05, q: float = -0.02) -> Surface:
    x, y = np.arange(120) + 0.5, 100 - np.arange(100) - 0.5
    return Surface(20 + p * x[None, :] + q * y[:, None], 0.0, 100.0, 1.0)


def test_profile_of_a_plane_along_a_bent_line() -> None:
    s = section(slope(), [(10, 10), (10, 40.5), (50, 40.5)], spacing_m=4.0)
    assert s.station_m[0] == 0 and s.station_m[-1] == pytest.approx(70.5) and 30.5 in s.station_m
    assert np.diff(s.station_m).max() <= 4.0 + 1e-9
    np.testing.assert_allclose(s.level_m, 20 + 0.05 * s.x - 0.02 * s.y, atol=1e-12)
    before = s.station_m < 30.5 - 1e-9
    assert s.gradient_pct[before] == pytest.approx(-2.0) and s.gradient_pct[~before][1:] == pytest.approx(5.0)
    assert np.isnan(s.obstacle_top_m).all() and np.isnan(s.sight_level_m).all()


def test_line_of_sight_over_a_wall() -> None:
    """The clearance under the line is least where the wall stands, and agrees with the view of the flag."""
    ground = slope()
    wall = obstacle_set([Obstacle(box(50, 30, 50.4, 60), 2.5)], ground)
    s = section(ground, [(10, 50), (110, 50)], spacing_m=0.1, obstacles=wall, eye_m=1.6, target_m=2.13)
    assert s.sight_level_m[0] == pytest.approx(ground.height(10, 50) + 1.6)
    assert s.sight_level_m[-1] == pytest.approx(ground.height(110, 50) + 2.13)
    k = int(np.nanargmin(s.clearance_m))
    assert s.station_m[k] == pytest.approx(40.0, abs=0.11) and s.clearance_m[k] < 0
    view = Scene(ground, wall).views([(10, 50)], [(110, 50)])
    assert view.hidden_at_m[0, 0] == pytest.approx(40.0)
    assert s.clearance_m[k] == pytest.approx(view.clearance_m[0, 0], abs=0.01)
    over = np.isfinite(s.obstacle_top_m)
    assert s.station_m[over].min() == pytest.approx(40.0, abs=0.11)
    assert s.station_m[over].max() == pytest.approx(40.4, abs=0.11)
    np.testing.assert_allclose(s.obstacle_top_m[over], s.level_m[over] + 2.5, atol=1e-12)


def test_missing_ground_stays_missing() -> None:
    ground = slope()
    z = ground.z.copy()
    z[40:60, 60:64] = np.nan
    s = section(Surface(z, 0.0, 100.0, 1.0), [(10, 50), (110, 50)])
    gone = np.isnan(s.level_m)
    assert gone.any() and not gone.all() and np.isnan(s.gradient_pct[gone]).all()
    assert s.station_m[gone].min() > 49 and s.station_m[gone].max() < 55


@pytest.mark.parametrize(
    ("line", "options", "word"),
    [
        ([(1, 1), (1, 1)], {}, "length"),
        ([(1, 1)], {}, "length"),
        ([(1, 1), (9, 9)], {"spacing_m": 0}, "spacing"),
        ([(1, 1), (9, 9), (20, 1)], {"eye_m": 1.6}, "bends"),
    ],
)
def test_bad_choices_are_refused(line, options, word: str) -> None:
    with pytest.raises(InputError, match=word):
        section(slope(), line, **options)
