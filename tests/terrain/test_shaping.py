"""Shapes laid on ground whose answer is known: solids with a formula, and laws that have to hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import mound
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT, Shape, membrane_depth, ramp, smooth_max
from gistools.compute.terrain.shaping import shape_ground
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.volumes import cut_and_fill


def ground(cell: float = 0.5, half: float = 40.0, level: float = 10.0, east: float = 0.0) -> Surface:
    """Plane round the origin, its corner off the round numbers."""
    n = round(2 * half / cell)
    x = -half + 0.37 + (np.arange(n) + 0.5) * cell
    return Surface(np.full((n, n), level) + east * x, -half + 0.37, half + 0.21, cell)


def disc(radius: float) -> Polygon:
    return Point(0, 0).buffer(radius, quad_segs=128)


@pytest.mark.parametrize(("cell", "tolerance"), [(1.0, 0.01), (0.25, 0.001)])
def test_round_platform_is_a_cone_frustum(cell: float, tolerance: float) -> None:
    shaped = shape_ground(ground(cell), [Shape("platform", disc(10), rise_m=5, side_slope_pct=50, blend_m=0)])
    exact = np.pi * 5 * (20**2 + 20 * 10 + 10**2) / 3
    assert cut_and_fill(ground(cell), shaped.surface).fill_m3 == pytest.approx(exact, rel=tolerance)


@pytest.mark.parametrize(("cell", "tolerance"), [(1.0, 0.01), (0.25, 0.001)])
def test_channel_is_a_trapezoidal_prism(cell: float, tolerance: float) -> None:
    line = LineString([(-60, 13), (60, 13)])
    shape = Shape("channel", line, level_m=9.0, width_m=2, side_slope_pct=50, blend_m=0)
    shaped = shape_ground(ground(cell), [shape])
    dug = cut_and_fill(ground(cell), shaped.surface, within=box(-20, -30, 20, 35)).cut_m3
    assert dug == pytest.approx(40 * (2 * 1 + 1**2 / 0.5), rel=tolerance)


@pytest.mark.parametrize(("a", "b", "turn"), [(15, 15, 0), (20, 12, 0), (22, 11, 37)])
def test_mound_in_an_ellipse_has_the_volume_of_its_profile(a: float, b: float, turn: float) -> None:
    """Levels of the dome are ellipses, so V = rise pi a b times the mean of the profile over a disc."""
    outline = affinity.rotate(affinity.scale(disc(1), a, b), turn)
    shaped = shape_ground(ground(), [Shape("mound", outline, rise_m=1.5, blend_m=100, side_slope_pct=90)])
    # two parabolas (blend fills the bank): share of the full cylinder = int 2 r S(1 - r) dr = 7/24
    assert cut_and_fill(ground(), shaped.surface).fill_m3 == pytest.approx(
        1.5 * np.pi * a * b * 7 / 24, rel=0.005
    )
    report = shaped.reports[0]
    assert report.reached_m == pytest.approx(1.5, abs=0.005)
    assert report.slope_max_pct == pytest.approx(100 * 2 * 1.5 / b, rel=0.06)


def test_membrane_is_the_distance_to_the_edge_on_a_disc() -> None:
    s = ground(0.5, 30)
    x, y = s.centres()
    depth = 20 - np.hypot(x[None, :], y[:, None])
    smooth = membrane_depth(depth > 0, depth, s.cell)
    assert np.abs(smooth - depth)[depth > 0].max() < 0.15
    rim = (depth > 0) & (depth < 15)
    assert np.abs(membrane_depth(depth > 0, depth, s.cell, 20.0) - depth)[rim].max() < 0.03


def test_mound_too_steep_for_its_outline_is_cut_back_and_says_so() -> None:
    report = shape_ground(ground(), [Shape("mound", disc(10), rise_m=6, side_slope_pct=25)]).reports[0]
    assert report.reached_m == pytest.approx(0.25 * (10 - 3), rel=0.03)
    assert report.slope_max_pct <= 25.01
    assert "too narrow" in report.remarks[0]


def test_hollow_has_a_floor_at_its_depth_and_sides_at_its_slope() -> None:
    shape = Shape("hollow", disc(12), rise_m=-1.2, side_slope_pct=30, blend_m=1)
    shaped = shape_ground(ground(), [shape])
    assert shaped.surface.height(0, 0) == pytest.approx(8.8, abs=1e-6)
    assert shaped.surface.height(6, 0) == pytest.approx(8.8, abs=0.02)  # run = 1.2 / 0.3 + 1 = 5 m
    assert shaped.surface.height(12.3, 0) == pytest.approx(10, abs=1e-6)
    assert shaped.reports[0].slope_max_pct == pytest.approx(30, rel=0.05)


@pytest.mark.parametrize(("cell", "tolerance"), [(1.0, 0.01), (0.5, 0.004), (0.25, 0.002)])
@pytest.mark.parametrize("place", [(0.0, 0.0), (0.13, 0.21), (0.4, 0.25)])
def test_a_hollow_of_straight_sides_is_a_cone_frustum(cell: float, tolerance: float, place) -> None:
    """Radius 12 m, depth 2 m, sides at 25 %: a floor of radius 4 m; V = pi h (R^2 + R r + r^2) / 3."""
    outline = Point(*place).buffer(12, quad_segs=128)
    shape = Shape("hollow", outline, rise_m=-2.0, side_slope_pct=25, blend_m=0)
    shaped = shape_ground(ground(cell), [shape])
    exact = np.pi * 2 * (12**2 + 12 * 4 + 4**2) / 3
    assert cut_and_fill(ground(cell), shaped.surface).cut_m3 == pytest.approx(exact, rel=tolerance)


def test_mound_to_a_level_reaches_it_on_sloping_ground() -> None:
    s = ground(east=0.05)
    shaped = shape_ground(s, [Shape("mound", disc(20), level_m=12.0, side_slope_pct=60)])
    assert float(shaped.surface.z.max()) == pytest.approx(12.0, abs=0.05) or shaped.reports[0].remarks
    crest = shaped.surface.height(0, 0)
    assert crest == pytest.approx(12.0, abs=0.03)


def test_crest_level_of_screening_makes_a_mound_of_that_level() -> None:
    area = Shape("mound", disc(20), level_m=11.5, side_slope_pct=40)
    assert shape_ground(ground(), [area]).surface.height(0, 0) == pytest.approx(11.5, abs=0.01)
    line = Shape("mound", LineString([(-10, 0), (10, 0)]), level_m=11.5)
    shaped = shape_ground(ground(), [line]).surface
    assert shaped.height([-9, 0, 9], [0, 0.4, 0]) == pytest.approx([11.5] * 3, abs=1e-9)
    lower = shape_ground(ground(), [Shape("mound", LineString([(-10, 0), (10, 0)]), level_m=9.2)]).surface
    assert lower.height([-9, 0, 9], [0, 0.4, 0]) == pytest.approx([9.2] * 3, abs=1e-9)


def test_mound_is_raised_to_the_level_of_screening() -> None:
    """The shape laid is the ground on which ``screening`` checked its crest level, not merely one as high."""
    s = ground(east=0.02)
    x, y = s.centres()
    r = np.hypot(x[None, :] - 3, y[:, None])
    standing = Surface(
        s.z + 2.0 * np.cos(np.clip(r / 15, 0, 1) * np.pi / 2) ** 2, s.x_west, s.y_north, s.cell
    )
    toe = Point(3, 0).buffer(15, quad_segs=64)
    fitted = mound(standing, toe)
    level = fitted.crest_m + 0.8
    shaped = shape_ground(standing, [Shape("mound", toe, level_m=level)])
    report = shaped.reports[0]
    assert (report.target_m, report.reached_m) == pytest.approx((0.8, 0.8), abs=1e-6) and not report.remarks
    assert shaped.surface.z == pytest.approx(fitted.at(level).z, abs=1e-9)
    assert shaped.surface.height(*fitted.top) == pytest.approx(level, abs=1e-9)
    lower = shape_ground(standing, [Shape("mound", toe, level_m=fitted.crest_m - 0.5)]).surface
    assert lower.height(*fitted.top) == pytest.approx(fitted.crest_m - 0.5, abs=1e-9)


def test_crest_level_is_linear_between_vertices() -> None:
    s = ground(east=0.02)
    line = LineString([(-20, 0), (20, 0)])
    shaped = shape_ground(s, [Shape("mound", line, rise_m=2.0)]).surface
    at = np.linspace(-19, 19, 9)
    assert shaped.height(at, 0 * at) == pytest.approx(10 + 0.02 * at + 2.0, abs=1e-6)


def test_channel_falls_along_its_line_and_uphill_beds_are_named() -> None:
    down = Shape("channel", LineString([(-30, 0), (30, 0)]), level_m=9.5, fall_pct=1.0)
    shaped = shape_ground(ground(), [down])
    assert shaped.surface.height([-20, 20], [0, 0]) == pytest.approx([9.4, 9.0], abs=0.01)
    assert not any("water would stand" in r for r in shaped.reports[0].remarks)
    sagging = Shape("channel", LineString([(-30, 0), (0, 0), (30, 0)]), rise_m=-1.0)
    s = ground()
    z = s.z - 1.5 * np.exp(-(s.centres()[0][None, :] ** 2) / 50)
    report = shape_ground(Surface(z, s.x_west, s.y_north, s.cell), [sagging]).reports[0]
    assert any("water would stand" in r for r in report.remarks)


def test_platform_falls_to_its_bearing() -> None:
    shape = Shape("platform", box(-8, -8, 8, 8), level_m=11, fall_pct=2.0, fall_to_deg=90)
    z = shape_ground(ground(), [shape]).surface
    assert z.height([-5, 0, 5], [3, 0, -3]) == pytest.approx([11.1, 11.0, 10.9], abs=1e-6)


def test_platform_without_level_balances_cut_and_fill_inside() -> None:
    s = ground(east=0.05)
    z = shape_ground(s, [Shape("platform", box(-10, -10, 10, 10))]).surface
    inside = cut_and_fill(s, z, within=box(-10, -10, 10, 10))
    assert inside.cut_m3 > 10
    assert inside.net_m3 == pytest.approx(0, abs=0.08 * inside.cut_m3)


def test_grade_melts_into_the_ground_within_its_slope() -> None:
    s = ground(east=0.03)
    shaped = shape_ground(s, [Shape("grade", box(-15, -15, 15, 15), level_m=10.2, fall_pct=1, fall_to_deg=0)])
    z = shaped.surface
    assert z.height([0, 0], [-10, 10]) == pytest.approx([10.3, 10.1], abs=1e-6)
    assert z.height(35, 0) == pytest.approx(10 + 0.03 * 35, abs=1e-6)
    assert shaped.reports[0].slope_max_pct < 25 + 3 + 1


def test_tier_face_is_never_steeper_than_the_published_limit() -> None:
    """17.5 %: Brauer, Golf Course Industry, May 2012 (published)."""
    assert SLOPE_LIMITS_PCT["tier"][0] == 17.5
    shape = Shape("tier", box(-30, 0, 30, 30), rise_m=0.5, side_slope_pct=40, blend_m=1)
    shaped = shape_ground(ground(), [shape])
    gx, gy = shaped.surface.gradient(np.zeros(200), np.linspace(-6, 6, 200))
    assert 16.5 < 100 * np.hypot(gx, gy).max() <= 17.51
    assert shaped.surface.height([0, 0], [-10, 15]) == pytest.approx([10, 10.5], abs=1e-6)
    assert any("kept to 17.5" in r for r in shaped.reports[0].remarks)


def test_slopes_over_the_limit_are_reported_with_their_area() -> None:
    shape = Shape("platform", box(-10, -10, 10, 10), rise_m=3, side_slope_pct=60, blend_m=0)
    report = shape_ground(ground(0.25), [shape]).reports[0]
    assert report.slope_max_pct == pytest.approx(60, rel=0.02)
    banks = 4 * 20 * 5 + np.pi * 5**2
    assert report.steep_area_m2 == pytest.approx(banks, rel=0.12)
    assert report.slope_before_pct == 0


def test_shapes_are_applied_in_order_then_by_kind() -> None:
    low = Shape("platform", box(-5, -5, 5, 5), level_m=11, order=1, name="pad")
    knoll = Shape("mound", disc(15), rise_m=1, order=2, name="knoll")
    dip = Shape("hollow", disc(4), rise_m=-0.5, order=2, name="dip")
    names = [r.shape.name for r in shape_ground(ground(), [dip, low, knoll]).reports]
    assert names == ["pad", "knoll", "dip"]


def test_reports_add_up_to_the_whole_change() -> None:
    shapes = [
        Shape("mound", disc(14), rise_m=1.5),
        Shape("hollow", Point(6, 0).buffer(7), rise_m=-0.8, side_slope_pct=30),
        Shape("channel", LineString([(-35, -20), (35, 20)]), rise_m=-0.6),
    ]
    shaped = shape_ground(ground(), shapes)
    net = sum(cut_and_fill(r.before, r.after).net_m3 for r in shaped.reports)
    assert net == pytest.approx(cut_and_fill(ground(), shaped.surface).net_m3, abs=1e-6)


def test_missing_ground_stays_missing_and_is_reported() -> None:
    s = ground()
    z = s.z.copy()
    z[70:80, 70:80] = np.nan
    shaped = shape_ground(Surface(z, s.x_west, s.y_north, s.cell), [Shape("grade", disc(15), level_m=11)])
    assert np.array_equal(np.isnan(shaped.surface.z), np.isnan(z))
    assert shaped.reports[0].nodata_area_m2 == pytest.approx(25.0)


def test_the_given_surface_is_not_changed() -> None:
    s = ground()
    before = s.z.copy()
    shape_ground(s, [Shape("mound", disc(10), rise_m=1)])
    assert np.array_equal(s.z, before)


def test_banks_that_run_off_the_terrain_are_reported() -> None:
    high = Shape("platform", box(20, -10, 35, 10), rise_m=8, side_slope_pct=25)
    shaped = shape_ground(ground(), [high])
    assert shaped.reaches_edge and any("edge of the terrain" in r for r in shaped.reports[0].remarks)


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (lambda: Shape("volcano", disc(5)), "unknown"),
        (lambda: Shape("channel", disc(5), rise_m=-1), "bed line"),
        (lambda: Shape("tier", LineString([(0, 0), (1, 1)]), rise_m=1), "drawn as an area"),
        (lambda: Shape("mound", disc(5), side_slope_pct=0), "above 0"),
        (lambda: shape_ground(ground(), [Shape("mound", disc(5))]), "needs a rise or a level"),
        (lambda: shape_ground(ground(), [Shape("mound", disc(0.6), rise_m=1)]), "fewer than 16 cells"),
        (
            lambda: shape_ground(ground(), [Shape("mound", Point(500, 0).buffer(5), rise_m=1)]),
            "off the terrain",
        ),
    ],
)
def test_what_cannot_be_is_refused_by_name(shape, words: str) -> None:
    with pytest.raises(InputError, match=words):
        shape()


@given(width=st.floats(0.5, 60), blend=st.floats(0, 40))
@settings(max_examples=60, deadline=None)
def test_ramp_rises_steadily_from_nothing_to_all(width: float, blend: float) -> None:
    d = np.linspace(-1, width + 1, 400)
    share = ramp(d, width, blend)
    assert share[0] == 0 and share[-1] == pytest.approx(1)
    assert (np.diff(share) >= -1e-12).all()
    assert np.diff(share).max() / (d[1] - d[0]) <= 1 / (width - min(blend, width / 2)) * (1 + 1e-6)


@given(a=st.floats(-5, 5), b=st.floats(-5, 5), k=st.floats(0, 2))
def test_smooth_maximum_exceeds_the_larger_by_at_most_k_over_4(a: float, b: float, k: float) -> None:
    got = float(smooth_max(np.array(a), np.array(b), k))
    assert max(a, b) - 1e-12 <= got <= max(a, b) + k / 4 + 1e-9


@given(dx=st.floats(-6, 6), dy=st.floats(-6, 6), turn=st.floats(0, 360))
@settings(max_examples=12, deadline=None)
def test_a_mound_keeps_its_volume_wherever_it_stands(dx: float, dy: float, turn: float) -> None:
    outline = affinity.scale(disc(1), 14, 8)
    moved = affinity.translate(affinity.rotate(outline, turn), dx, dy)
    volume = [
        cut_and_fill(ground(), shape_ground(ground(), [Shape("mound", o, rise_m=1.0)]).surface).fill_m3
        for o in (outline, moved)
    ]
    assert volume[1] == pytest.approx(volume[0], rel=0.01)
