"""Lines of sight against closed forms and against plain sampling of the same bilinear surface."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.optimize import brentq
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, box

from gistools.base.errors import InputError
from gistools.compute.terrain.line_of_sight import BALL_M, GROUND, NOTHING, UNKNOWN, Scene
from gistools.compute.terrain.obstacles import Obstacle, obstacle_set
from gistools.compute.terrain.surface import Surface


def level(rows: int = 40, cols: int = 240, z: float = 10.0, cell: float = 1.0) -> Surface:
    """Level ground, south-west corner of the array at (0, 0)."""
    return Surface(np.full((rows, cols), z), 0.0, rows * cell, cell)


def rough(seed: int, rows: int = 120, cols: int = 150, cell: float = 1.0) -> Surface:
    rng = np.random.default_rng(seed)
    z = gaussian_filter(rng.normal(size=(rows, cols)), 6) * 12 + 0.05 * rng.normal(size=(rows, cols))
    return Surface(z, 0.0, rows * cell, cell)


def sampled_low(s: Surface, eye: tuple[float, float], pin: tuple[float, float], per_cell: int = 50) -> float:
    """Lowest height of the stick seen, by sampling the ground many times a cell: never too high."""
    eye_m = 1.6
    (x, y), (px, py) = eye, pin
    d = np.hypot(px - x, py - y)
    t = np.linspace(0, 1, int(d / s.cell * per_cell) + 2)[1:]
    col, row = (x + (px - x) * t - s.x_west) / s.cell - 0.5, (s.y_north - y - (py - y) * t) / s.cell - 0.5
    z = map_coordinates(s.z, [row, col], order=1, mode="nearest")
    ze = s.height(x, y) + eye_m
    return float(ze + ((z - ze) / (t * d)).max() * d - s.height(px, py))


# eye 1.6 m at 0, crest at 100 m, flag at 200 m: , worked by similar triangles
@pytest.mark.parametrize(("crest", "hidden"), [(2.0, 2.13), (1.8, 2.0), (1.2, 0.8), (0.5, 0.0)])
def test_wall_halfway(crest: float, hidden: float) -> None:
    s = level()
    wall = obstacle_set([Obstacle(box(110.5, 5, 110.6, 35), crest, name="wall")], s)
    v = Scene(s, wall).views([(10.5, 20)], [(210.5, 20)])
    # the near face of the wall is at 100.0 m; it hides up to 1.6 + (crest - 1.6) * 200 / 100, the far one at
    # 100.1 m
    at = 100.0 if crest > 1.6 else 100.1
    low = max(1.6 + (crest - 1.6) * 200 / at, 0.0)
    assert v.low_m[0, 0] == pytest.approx(low, abs=1e-12)
    assert v.share[0, 0] == pytest.approx(max(0.0, (2.13 - low) / 2.13), abs=1e-12)
    assert v.low_m[0, 0] == pytest.approx(min(hidden, 2.4) if crest < 2 else 2.4, abs=2e-3)
    assert v.by[0, 0] == (0 if crest > 0.9 else NOTHING)
    assert v.foot[0, 0] == (crest <= 0.8) and v.top[0, 0] == (crest < 1.865)
    if crest > 0.9:
        assert v.hidden_at_m[0, 0] == pytest.approx(at, abs=1e-9)
        # room under the line to the top of the stick, at the wall
        assert v.clearance_m[0, 0] == pytest.approx(1.6 + (2.13 - 1.6) * at / 200 - crest, abs=1e-9)


@given(st.floats(0, 360), st.floats(0.6, 4.0), st.floats(0.4, 2.0), st.floats(40, 160))
@settings(max_examples=60, deadline=None)
def test_wall_at_any_bearing(bearing: float, crest: float, cell: float, at: float) -> None:
    """A wall across a line of 200 m hides the same whichever way the line runs."""
    n = int(440 / cell)
    s = Surface(np.full((n, n), 3.0), -220.0, n * cell - 220.0, cell)
    wall = rotate(box(-30, at, 30, at + 0.5), -bearing, origin=(0, 0))
    u = np.array([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])
    v = Scene(s, obstacle_set([Obstacle(wall, crest)], s), threads=1).views([(0, 0)], [200 * u], target_m=3.0)
    face = at if crest > 1.6 else at + 0.5
    assert v.low_m[0, 0] == pytest.approx(max(1.6 + (crest - 1.6) * 200 / face, 0.0), abs=1e-9)


def test_a_cone_hides_by_its_apex_or_its_hyperbola() -> None:
    """A cone of height 5 on level ground, apex on a cell centre and on the line: the apex hides."""
    s = level(rows=81, cols=241)
    x, y = s.centres()
    r = np.hypot(x[None, :] - 100.5, y[:, None] - 40.5)
    s = Surface(10 + np.maximum(5 - 0.25 * r, 0), 0.0, 81.0, 1.0)
    v = Scene(s).views([(20.5, 40.5)], [(200.5, 40.5)], target_m=20.0)
    assert v.low_m[0, 0] == pytest.approx(1.6 + (5 - 1.6) * 180 / 80, abs=1e-12)
    assert v.hidden_at_m[0, 0] == pytest.approx(80) and v.by[0, 0] == GROUND
    # beside the axis, along a row of centres: the cut of a cone is a hyperbola; greatest slope at its own
    # place
    v = Scene(s).views([(20.5, 44.5)], [(200.5, 44.5)], target_m=20.0)
    t = np.linspace(60, 100, 400001)
    exact = ((5 - 0.25 * np.hypot(t - 80, 4) - 1.6) / t).max()
    assert v.low_m[0, 0] == pytest.approx(1.6 + exact * 180, abs=0.25 / 8 / 4 * 180 / 80 + 1e-6)


@pytest.mark.parametrize("cell", [1.0, 0.5, 0.25])
def test_gaussian_mound(cell: float) -> None:
    """Tangent from the eye to ``h exp(-(s - c)^2 / 2 w^2)`` by root finding.

    Error of the grid is of second order.
    """
    h, w, c, d, eye = 3.0, 9.0, 90.0, 180.0, 1.6
    cols, rows = int(200 / cell), int(10 / cell)
    x = (np.arange(cols) + 0.5) * cell
    s = Surface(np.tile(h * np.exp(-((x - 10 - c) ** 2) / (2 * w * w)), (rows, 1)), 0.0, rows * cell, cell)

    def ground(t: float) -> float:
        return float(h * np.exp(-((t - c) ** 2) / (2 * w * w)))

    t = brentq(lambda t: ground(t) - eye + (t - c) / w**2 * ground(t) * t, c - w, c)
    low = eye + (ground(t) - eye) / t * d - ground(d)
    v = Scene(s).views([(10.0, 5.0)], [(190.0, 5.0)], eye_m=eye, target_m=9.0)
    bound = cell**2 / 8 * h / w**2 * d / t  # greatest sag of a chord below the curve, carried to the stick
    assert abs(v.low_m[0, 0] - low) <= bound + 1e-12
    assert low - v.low_m[0, 0] >= -1e-12, "chords lie under the crest"


def test_eye_level_with_the_crest_sees_level() -> None:
    s = level()
    z = s.z.copy()
    z[:, 100] = 11.6
    v = Scene(Surface(z, 0.0, 40.0, 1.0)).views([(5.5, 20)], [(205.5, 20)])
    assert v.low_m[0, 0] == pytest.approx(1.6, abs=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_random_ground_as_sampled(seed: int) -> None:
    s = rough(seed)
    rng = np.random.default_rng(seed)
    eyes = np.column_stack([rng.uniform(1, 149, 60), rng.uniform(1, 119, 60)])
    pins = np.column_stack([rng.uniform(1, 149, 5), rng.uniform(1, 119, 5)])
    low = Scene(s).views(eyes, pins).low_m
    for i, eye in enumerate(eyes):
        for k, pin in enumerate(pins):
            d = np.hypot(*(eye - pin))
            expected = sampled_low(s, tuple(eye), tuple(pin))
            assert low[i, k] >= expected - 1e-9, "exact is never below sampled"
            assert low[i, k] <= expected + 0.02 * d / 2, "sampled 50 times a cell is nearly exact"
    close = np.abs(low - [[sampled_low(s, tuple(e), tuple(p)) for p in pins] for e in eyes])
    assert np.median(close) < 1e-3


def test_order_of_eyes_does_not_matter() -> None:
    """The hint handed from one eye to the next only saves time."""
    s = rough(5)
    scene = Scene(s)
    eyes = np.stack(np.meshgrid(np.arange(2, 148, 3.0), np.arange(2, 118, 3.0)), -1).reshape(-1, 2)
    mixed = np.random.default_rng(0).permutation(len(eyes))
    a, b = scene.views(eyes, [(75, 60)]), scene.views(eyes[mixed], [(75, 60)])
    np.testing.assert_allclose(a.low_m[mixed], b.low_m, atol=1e-9)
    alone = np.array([scene.views(e, [(75, 60)]).low_m[0, 0] for e in eyes[::40]])
    np.testing.assert_allclose(a.low_m[::40, 0], alone, atol=1e-9)


def test_sight_runs_both_ways() -> None:
    """What is hidden from an eye up to a height hides the eye from that height."""
    s = rough(7)
    scene = Scene(s)
    pairs = np.random.default_rng(7).uniform(3, 115, (40, 2, 2))
    tried = 0
    for a, b in pairs:
        low = scene.views([a], [b]).low_m[0, 0]
        if low < 0.1:
            continue
        tried += 1
        for over, seen in ((0.001, True), (-0.001, False)):
            back = scene.views([b], [a], eye_m=low + over, target_m=1.6)
            assert back.top[0, 0] == seen
    assert tried > 10


def test_raising_the_eye_or_lowering_ground_never_hides_more() -> None:
    s = rough(8)
    eyes = np.random.default_rng(1).uniform(5, 110, (80, 2))
    shares = [Scene(s).views(eyes, [(75, 60)], eye_m=h).share for h in (1.0, 1.6, 3.0, 10.0)]
    for lower, higher in pairwise(shares):
        assert (higher >= lower - 1e-12).all()


def test_map_is_the_views() -> None:
    s = rough(9)
    x, y = s.centres()
    scene = Scene(s)
    share = scene.share_map((75, 60), x, y, reach_m=50)
    eyes = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
    views = scene.views(eyes, [(75, 60)], reach_m=50)
    np.testing.assert_allclose(share.ravel(), views.share[:, 0], rtol=1e-6)
    far = np.hypot(eyes[:, 0] - 75, eyes[:, 1] - 60) > 50
    assert np.isnan(views.share[far]).all() and np.isfinite(views.share[~far]).all()
    assert (views.by[far] == UNKNOWN).all()


def test_threads_give_the_same() -> None:
    s = rough(10)
    eyes = np.random.default_rng(3).uniform(2, 117, (20000, 2))
    done: list[float] = []
    one = Scene(s, threads=1).views(eyes, [(75, 60), (30, 30)])
    two = Scene(s, threads=2).views(eyes, [(75, 60), (30, 30)], progress=done.append)
    np.testing.assert_array_equal(one.low_m, two.low_m)
    assert done == sorted(done) and done[-1] == 1.0


# --- trees ------------------------------------------------------------------------------------------------


def tree_view(clear: float, height: float, at: float = 50.0, eye_m: float = 1.6, **kind: object):
    s = level()
    tree = Obstacle(
        Point(10.0 + at, 20), height, clear_m=clear, width_m=6.0, name="pine", layer="trees", fid=4
    )
    return Scene(s, obstacle_set([tree], s)).views([(10, 20)], [(110, 20)], eye_m=eye_m, target_m=4.0, **kind)


def test_crown_to_the_ground_hides_all_below_its_top() -> None:
    v = tree_view(0.0, 2.0)
    assert v.low_m[0, 0] == pytest.approx(1.6 + 0.4 * 100 / 47)
    assert v.share[0, 0] == pytest.approx(1 - (1.6 + 0.4 * 100 / 47) / 4)
    assert v.by[0, 0] == 0 and v.hidden_at_m[0, 0] == pytest.approx(47)
    assert not v.foot[0, 0] and v.top[0, 0]


def test_gap_below_a_crown_shows_the_foot() -> None:
    """Crown from 2 to 6 m at 47 to 53 m.

    Hides the stick from 1.6 + 0.4 * 100 / 53 up, shows what is below.
    """
    v = tree_view(2.0, 6.0)
    assert v.share[0, 0] == pytest.approx((1.6 + 0.4 * 100 / 53) / 4)
    assert v.foot[0, 0] and not v.top[0, 0] and v.by[0, 0] == 0 and v.low_m[0, 0] == 0
    # the line to the middle runs under the crown with this room, at the far edge of its underside
    v = tree_view(2.0, 6.0, aim="middle")
    assert v.clearance_m[0, 0] == pytest.approx(0.4 - (2.0 - 1.6) * 53 / 100, abs=1e-9)
    # the line to the top is blocked: it would have to come down by this much to pass below
    v = tree_view(2.0, 6.0)
    assert v.clearance_m[0, 0] == pytest.approx(0.4 - (4.0 - 1.6) * 53 / 100, abs=1e-9)
    # a ball at the foot: what is left over the green at the flag itself is its own height
    assert tree_view(2.0, 6.0, aim="foot").clearance_m[0, 0] == pytest.approx(BALL_M)


def test_tree_beyond_the_flag_or_beside_the_line_hides_nothing() -> None:
    assert tree_view(0.0, 12.0, at=110.0).share[0, 0] == 1.0
    s = level()
    tree = obstacle_set([Obstacle(Point(60, 24), 12.0, width_m=6.0)], s)
    assert Scene(s, tree).views([(10, 20)], [(110, 20)]).by[0, 0] == NOTHING
    tree = obstacle_set([Obstacle(Point(60, 22.9), 12.0, width_m=6.0)], s)
    assert Scene(s, tree).views([(10, 20)], [(110, 20)]).share[0, 0] == 0


def test_tree_over_the_viewer() -> None:
    """In a crown one sees nothing.

    Under a clear stem one sees out below the crown; from above one sees over it.
    """
    inside = tree_view(0.0, 8.0, at=1.0)
    assert inside.share[0, 0] == 0 and inside.by[0, 0] == 0 and not inside.foot[0, 0]
    below = tree_view(3.0, 8.0, at=1.0)
    assert below.share[0, 0] == 1.0
    assert tree_view(0.0, 1.0, at=1.0).share[0, 0] == pytest.approx(1.0)


def test_two_crowns_hide_the_union() -> None:
    s = level()
    trees = [
        Obstacle(
            Point(60, 20), 3.0, clear_m=2.0, width_m=2.0
        ),  # hides 1.6 + 0.4 * 100 / 51 .. 1.6 + 1.4 * 100 / 49
        Obstacle(
            Point(80, 20), 2.5, clear_m=2.2, width_m=2.0
        ),  # hides 1.6 + 0.6 * 100 / 71 .. 1.6 + 0.9 * 100 / 69
        Obstacle(
            Point(90, 20), 1.0, clear_m=0.5, width_m=2.0
        ),  # hides 1.6 - 1.1 * 100 / 79 .. 1.6 - 0.6 * 100 / 81
    ]
    v = Scene(s, obstacle_set(trees, s)).views([(10, 20)], [(110, 20)], target_m=6.0)
    hidden = [
        (1.6 + 0.4 / 0.51, 1.6 + 1.4 / 0.49),
        (1.6 + 0.6 / 0.71, 1.6 + 0.9 / 0.69),
        (1.6 - 1.1 / 0.79, 1.6 - 0.6 / 0.81),
    ]
    grid = (np.arange(600000) + 0.5) * 1e-5
    covered = np.zeros(len(grid), bool)
    for a, b in hidden:
        covered |= (grid > a) & (grid < b)
    assert v.share[0, 0] == pytest.approx(1 - covered.mean(), abs=1e-5)
    assert v.by[0, 0] == 0, "the one that hides most"


def test_thicket_follows_the_ground() -> None:
    """A prism 2 m high on a slope of 10 % hides as a wall of the ground's own level there plus 2 m."""
    s = level()
    x, _ = s.centres()
    s = Surface(np.tile(0.1 * x, (40, 1)), 0.0, 40.0, 1.0)
    thicket = obstacle_set([Obstacle(box(60, 10, 70, 30), 2.0)], s)
    v = Scene(s, thicket).views([(10, 20)], [(110, 20)], target_m=3.0)
    # over the slope: eye 1.6 above it, prism 2 m: nearest edge hides most
    assert v.low_m[0, 0] == pytest.approx(1.6 + 0.4 * 100 / 50, abs=1e-9)
    raised = Scene(s, obstacle_set([Obstacle(box(60, 10, 70, 30), 4.0, clear_m=1.8)], s))
    v = raised.views([(10, 20)], [(110, 20)], target_m=3.0)
    assert v.share[0, 0] == pytest.approx((1.6 + 0.2 * 100 / 60) / 3, abs=1e-6)


def test_ring_with_a_yard_inside() -> None:
    """An eye in the yard of a walled square sees the wall on the way out, not a solid block."""
    s = level()
    ring = box(5, 5, 35, 35).difference(box(10, 10, 30, 30))
    v = Scene(s, obstacle_set([Obstacle(ring, 1.2)], s)).views([(20, 20)], [(120, 20)])
    assert v.low_m[0, 0] == pytest.approx(1.6 - 0.4 * 100 / 15, abs=1e-9) or v.low_m[0, 0] == 0
    v = Scene(s, obstacle_set([Obstacle(ring, 2.0)], s)).views([(20, 20)], [(120, 20)])
    assert v.low_m[0, 0] == pytest.approx(1.6 + 0.4 * 100 / 10, abs=1e-9)


def test_many_obstacles_give_what_each_gives_alone() -> None:
    """The directions index leaves out only what cannot matter."""
    s = rough(11)
    rng = np.random.default_rng(4)
    obstacles = [
        Obstacle(Point(*rng.uniform(5, 115, 2)), 4.0, clear_m=float(rng.choice([0, 1.5])), width_m=4.0)
        for _ in range(60)
    ]
    obstacles += [Obstacle(LineString(rng.uniform(5, 115, (2, 2))), 2.0, width_m=0.5) for _ in range(5)]
    eyes = rng.uniform(5, 115, (150, 2))
    pins = [(75.0, 60.0), (20.0, 100.0)]
    every = Scene(s, obstacle_set(obstacles, s)).views(eyes, pins)
    solid = [t for t in obstacles if t.clear_m == 0]
    low = Scene(s).views(eyes, pins).low_m
    for obstacle in solid:
        low = np.maximum(low, Scene(s, obstacle_set([obstacle], s)).views(eyes, pins).low_m)
    np.testing.assert_allclose(every.low_m, low, atol=1e-9)


# --- bad input --------------------------------------------------------------------------------------------


def test_viewer_or_ground_missing_has_no_answer() -> None:
    s = level()
    z = s.z.copy()
    z[18:22, 100] = np.nan
    scene = Scene(Surface(z, 0.0, 40.0, 1.0))
    v = scene.views([(10, 20), (100.5, 20.5), (-50, 20), (10, 35), (np.nan, 3)], [(210, 20)])
    assert list(v.by[:, 0]) == [UNKNOWN, UNKNOWN, UNKNOWN, NOTHING, UNKNOWN]
    assert np.isnan(v.share[:3]).all() and not v.foot[:3].any() and v.share[3, 0] == 1.0
    assert not v.known[0, 0]


def test_pin_off_the_terrain_is_refused() -> None:
    scene = Scene(level())
    with pytest.raises(InputError, match="outside the terrain"):
        scene.views([(10, 20)], [(500, 20)])
    with pytest.raises(InputError, match="outside the terrain"):
        scene.share_map((np.nan, 20), np.arange(3.0), np.arange(3.0))


@pytest.mark.parametrize("option", [{"eye_m": 0}, {"eye_m": np.nan}, {"target_m": -1.0}, {"aim": "flag"}])
def test_bad_choices_are_refused(option: dict[str, object]) -> None:
    with pytest.raises(InputError):
        Scene(level()).views([(10, 20)], [(100, 20)], **option)  # type: ignore[arg-type]


def test_bad_things_are_refused() -> None:
    with pytest.raises(InputError, match="old oak"):
        obstacle_set([Obstacle(Point(1, 1), 4.0, clear_m=5.0, name="old oak")], level())
    assert len(obstacle_set([Obstacle(Point(-900, 1), 4.0)], level())) == 0, (
        "off the terrain it hides nothing known"
    )


def test_constant_ground_and_the_viewer_at_the_flag() -> None:
    v = Scene(level()).views([(210, 20), (10, 20)], [(210, 20)])
    assert (v.share == 1).all() and v.foot.all() and v.top.all() and (v.by == NOTHING).all()
    assert np.isnan(v.hidden_at_m).all() and (v.clearance_m == pytest.approx(2.13))


def test_views_without_observers_are_empty() -> None:
    assert Scene(level()).views(np.empty((0, 2)), [(20, 20)]).share.shape == (0, 1)


def test_places_are_seen_or_not_or_without_an_answer() -> None:
    s = level()
    z = s.z.copy()
    z[:, 100] = 13.0
    scene = Scene(Surface(z, 0.0, 40.0, 1.0))
    seen = scene.seen([(10, 20)], [(90, 20), (150, 20), (900, 20)])
    assert seen[0, 0] == 1 and seen[0, 1] == 0 and np.isnan(seen[0, 2])


@pytest.mark.parametrize(("rows", "cols"), [(40, 64), (64, 96), (41, 65), (16, 9), (2, 80)])
def test_lines_along_the_edges_and_through_the_centres(rows: int, cols: int) -> None:
    """Eyes and flags on the outermost centres and on rows and columns where tiles meet.

    Nothing is passed over.
    """
    noise = np.random.default_rng(rows).normal(size=(rows, cols))
    s = Surface(gaussian_filter(noise, 1.5) * 8, 0.0, float(rows), 1.0)
    x, y = s.centres()
    edge = [(a, b) for a in (x[0], x[-1], x[min(8, cols - 1)]) for b in y[::4]]
    edge += [(a, b) for a in x[::4] for b in (y[0], y[-1], y[min(8, rows - 1)])]
    pins = [(x[-1], y[0]), (x[0], y[-1]), (x[cols // 2], y[-1]), (x[-1], y[rows // 2])]
    low = Scene(s).views(edge, pins, target_m=99.0).low_m
    for i, eye in enumerate(edge):
        for k, pin in enumerate(pins):
            if np.hypot(eye[0] - pin[0], eye[1] - pin[1]) > 0.5:
                expected = max(sampled_low(s, eye, pin, 400), 0.0)
                assert expected - 1e-9 <= low[i, k] <= expected + 0.01 * (1 + expected)


@given(st.integers(0, 1000))
@settings(max_examples=20, deadline=None)
def test_views_do_not_depend_on_who_looked_before(seed: int) -> None:
    """What hid most from the observer before is where the next ray begins; each alone sees the same."""
    s = rough(seed, rows=40, cols=90)
    rng = np.random.default_rng(seed)
    observers = rng.uniform((3.0, 3.0), (87.0, 37.0), (12, 2))
    scene = Scene(s, threads=1)
    row = scene.views(observers, [(45.0, 20.0)])
    alone = [scene.views([eye], [(45.0, 20.0)]) for eye in observers]
    for name in ("low_m", "share", "clearance_m", "hidden_at_m", "by"):
        each = [getattr(view, name)[0, 0] for view in alone]
        np.testing.assert_allclose(getattr(row, name)[:, 0], each, atol=1e-9, err_msg=name)
