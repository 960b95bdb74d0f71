"""Crest levels that just hide or just show a flag.

Closed forms, and the forward computation on changed ground.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from gistools.base.errors import InputError
from gistools.compute.terrain.line_of_sight import BALL_M, Scene
from gistools.compute.terrain.screening import GOALS, mound, ridge, screens
from gistools.compute.terrain.surface import Surface

AREA = [(x, y) for x in (50.5, 60.5, 70.5) for y in (10.5, 20.5)]
PIN = (60.5, 200.5)


def ground(rise: float = 3.0, dip: float = 0.0) -> Surface:
    """Slope of 1 % to the north with a smooth mound of radius 14 m round (60.5, 120.5)."""
    x, y = np.meshgrid(np.arange(120) + 0.5, 240 - np.arange(240) - 0.5)
    r = np.hypot(x - 60.5, y - 120.5)
    bump = np.where(r < 14, rise * np.cos(np.pi * r / 28) ** 2, 0.0)
    return Surface(10 + 0.01 * y - dip * x + bump, 0.0, 240.0, 1.0)


OUTLINE = Point(60.5, 120.5).buffer(14.5, quad_segs=32)


def test_mound_is_taken_out_of_the_slope() -> None:
    m = mound(ground(), OUTLINE)
    assert m.crest_m == pytest.approx(10 + 1.205 + 3.0, abs=1e-6) and m.top == (60.5, 120.5)
    _, y = m.base.centres()
    np.testing.assert_allclose(m.base.z, 10 + 0.01 * np.broadcast_to(y[:, None], m.base.z.shape), atol=1e-9)
    np.testing.assert_allclose(m.at(m.crest_m).z, ground().z, atol=1e-9)
    higher = m.at(m.crest_m + 1.0).z - ground().z
    assert higher.max() == pytest.approx(1.0) and np.abs(higher[:100]).max() < 1e-9


def test_one_eye_in_line_with_the_crest() -> None:
    """Similar triangles.

    The level of the line over the apex, for a ball at the foot, half and all of the stick.
    """
    s = ground()
    m = mound(s, OUTLINE)
    result = {f.goal: f for f in screens(Scene(s), m, [(60.5, 20.5)], PIN)}
    eye, foot = s.height(60.5, 20.5) + 1.6, s.height(*PIN)
    for goal, up in (("hide foot", BALL_M), ("hide half", 1.065), ("hide all", 2.13)):
        line = eye + (foot + up - eye) * 100 / 180
        # the line touches the mound near its top, not quite at it: the level is at most that of the line
        # there
        assert line - 0.05 < result[goal].crest_m <= line + 1e-9
        assert result[goal].change_m == pytest.approx(result[goal].crest_m - m.crest_m)
        assert result[goal].met == 1.0 and result[goal].lines == 1 and result[goal].reason == ""
    assert result["show foot"].crest_m == pytest.approx(result["hide foot"].crest_m)
    assert result["show top"].crest_m == pytest.approx(result["hide all"].crest_m)


@pytest.mark.parametrize("rise", [0.4, 1.5, 4.0])
def test_forward_run_confirms_each_level(rise: float) -> None:
    """Just above the level all eyes meet the goal; 3 cm the other way at least one does not."""
    s = ground(rise)
    m = mound(s, OUTLINE)
    for result in screens(Scene(s), m, AREA, PIN):
        up = max(GOALS[result.goal][0] * 2.13, BALL_M)
        hide = GOALS[result.goal][1]
        assert result.met == 1.0
        for step, all_met in ((0.005, True), (-0.03, False)):
            changed = m.at(result.crest_m + (step if hide else -step))
            low = Scene(changed).views(AREA, [PIN]).low_m[:, 0]
            assert bool(np.all(low >= up if hide else low <= up)) == all_met
    # levels do not depend on how high the mound is today: its shape is the same
    again = screens(Scene(ground(2.0)), mound(ground(2.0), OUTLINE), AREA, PIN)
    first = screens(Scene(s), m, AREA, PIN)
    for a, b in zip(first, again, strict=True):
        assert a.crest_m == pytest.approx(b.crest_m, abs=1e-6)


def test_order_of_the_levels() -> None:
    f = {x.goal: x.crest_m for x in screens(Scene(ground()), mound(ground(), OUTLINE), AREA, PIN)}
    assert f["show foot"] <= f["hide foot"] <= f["hide half"] <= f["hide all"]
    assert f["show foot"] <= f["show top"] <= f["hide all"]


def test_share_of_the_lines() -> None:
    scene, m = Scene(ground()), mound(ground(), OUTLINE)
    every = screens(scene, m, AREA, PIN, goals=("hide foot",))[0]
    most = screens(scene, m, AREA, PIN, goals=("hide foot",), share=0.5)[0]
    assert most.crest_m < every.crest_m and 0.5 <= most.met < 1.0


def test_ridge_on_a_crest_line() -> None:
    """A crest line across the line of sight on level ground: the level of the line over it, raised or cut."""
    s = Surface(np.full((240, 120), 10.0), 0.0, 240.0, 1.0)
    line = LineString([(30, 120.5), (90, 120.5)])
    r = ridge(s, line)
    result = {f.goal: f for f in screens(Scene(s), r, [(60.5, 20.5)], PIN)}
    for goal, up in (("hide foot", BALL_M), ("hide half", 1.065), ("hide all", 2.13)):
        # flat top 2 m wide: where the line runs down to the flag the far edge touches first, else the near
        # one
        at = 101.0 if up < 1.6 else 99.0
        assert result[goal].crest_m == pytest.approx(11.6 + (up - 1.6) * at / 180, abs=0.01)
        assert result[goal].met == 1.0
    dune = ground()
    cut = {f.goal: f for f in screens(Scene(dune), ridge(dune, line), AREA, PIN)}
    assert cut["show foot"].change_m < -1 and cut["show foot"].met == 1.0
    assert cut["hide all"].met == 1.0


def test_nothing_crosses_or_something_else_hides() -> None:
    s = ground()
    m = mound(s, OUTLINE)
    beside = screens(Scene(s), m, [(10.5, 20.5)], (10.5, 200.5))[0]
    assert np.isnan(beside.crest_m) and beside.lines == 0 and "no line" in beside.reason
    z = s.z.copy()
    z[50, :] += 6.0  # a wall just before the flag, which stands 11 m behind it
    walled = Surface(z, 0.0, 240.0, 1.0)
    result = screens(Scene(walled), mound(walled, OUTLINE), AREA, PIN, goals=("show foot",))[0]
    assert result.met == 0 and "other ground" in result.reason
    pit = ground(dip=0.0).z.copy()
    pit[:30] -= 10.0  # a flag in a hollow behind a level edge: no mound needed to hide it
    hollow = Surface(pit, 0.0, 240.0, 1.0)
    result = screens(
        Scene(hollow), mound(hollow, OUTLINE), AREA, (60.5, 225.5), goals=("show foot", "hide foot")
    )
    assert all(np.isnan(f.crest_m) or f.crest_m > 10 for f in result)


def test_bad_input_is_refused() -> None:
    s = ground()
    with pytest.raises(InputError, match="rises"):
        mound(s, box(5, 5, 20, 20))
    with pytest.raises(InputError, match="past the terrain"):
        mound(s, box(-5, 100, 20, 140))
    with pytest.raises(InputError, match="no cell"):
        mound(s, box(500, 100, 520, 140))
    with pytest.raises(InputError, match="stands on the mound"):
        screens(Scene(s), mound(s, OUTLINE), AREA, (60.5, 118.0))
    with pytest.raises(InputError, match="crest line"):
        ridge(s, LineString([(500, 0), (600, 0)]))
