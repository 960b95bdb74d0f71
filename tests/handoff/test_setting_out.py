"""Which points are staked and what they are called."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from gistools.base.errors import InputError
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.setting_out import CODES, Run, banks, number_points, stake
from gistools.site.model import Site
from gistools.steps.setting_out_points import main_line
from gistools.steps.setting_out_runs import stations


def worst_chord(line: np.ndarray, xy: np.ndarray, closed: bool) -> float:
    """Greatest distance of the line from the string through the points, as scored by a general library."""
    string = shapely.linearrings(xy) if closed else LineString(xy)
    dense = shapely.segmentize(LineString(line), 0.05)
    return float(shapely.distance(shapely.points(shapely.get_coordinates(dense)), string).max())


@given(
    seed=st.integers(0, 10_000),
    spacing=st.floats(1.0, 30.0),
    chord=st.floats(0.02, 2.0),
    closed=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_spacing_and_chord_hold_for_any_line(seed: int, spacing: float, chord: float, closed: bool) -> None:
    rng = np.random.default_rng(seed)
    if closed:
        turn = np.sort(rng.uniform(0, 2 * np.pi, 24))
        r = 30 + rng.uniform(-8, 8, 24)
        line = np.column_stack([r * np.cos(turn), r * np.sin(turn)])
        line = np.vstack([line, line[:1]])
    else:
        line = np.cumsum(rng.normal(0, 6, (20, 2)), axis=0)
    xy, ring = stake(line, spacing_m=spacing, chord_m=chord)
    assert ring == closed
    whole = np.vstack([xy, xy[:1]]) if closed else xy
    # neighbours are no further apart in a straight line than along it
    assert np.hypot(*np.diff(whole, axis=0).T).max() <= spacing + 1e-6
    assert worst_chord(line, xy, closed) <= chord + 1e-6
    assert shapely.distance(shapely.points(xy), LineString(line)).max() < 1e-9


@pytest.mark.parametrize(("radius", "chord"), [(5.0, 0.1), (20.0, 0.1), (60.0, 0.05)])
def test_spacing_on_an_arc_follows_the_chord_formula(radius: float, chord: float) -> None:
    """s = c^2 / (8 r): c = 2 m on r = 5 m is 0.10 m [computed]."""
    ring = np.array(Point(0, 0).buffer(radius, quad_segs=400).exterior.coords)
    xy, _ = stake(ring, spacing_m=1e6, chord_m=chord)
    longest = np.sqrt(8 * radius * chord)
    gaps = np.hypot(*np.diff(np.vstack([xy, xy[:1]]), axis=0).T)
    assert gaps.max() <= longest * 1.001
    assert gaps.mean() > longest / 2.1


def test_corners_are_staked_as_drawn_and_straights_by_spacing() -> None:
    xy, closed = stake(np.array(box(0, 0, 20, 8).exterior.coords), spacing_m=5, chord_m=0.05)
    assert closed and len(xy) == 4 + 2 + 4 + 2
    for corner in [(0, 0), (20, 0), (20, 8), (0, 8)]:
        assert np.hypot(*(xy - corner).T).min() < 1e-9


def test_points_of_a_ring_follow_it_from_its_first_vertex() -> None:
    ring = np.array(Polygon([(0, 0), (9, 0), (9, 9), (0, 9)]).exterior.coords)
    xy, _ = stake(ring, spacing_m=2, chord_m=0.05)
    at = [LineString(ring).project(Point(p)) for p in xy]
    assert tuple(xy[0]) == tuple(ring[0])
    assert at == sorted(at)


def test_banks_lie_left_and_right_at_half_the_width() -> None:
    left, right = banks(LineString([(0, 0), (0, 50), (30, 80)]), 4.0)
    assert left[0] == pytest.approx((-2, 0)) and right[0] == pytest.approx((2, 0))
    assert LineString(left).project(Point(left[-1])) > 50
    line = Alignment(np.array([[0, 0], [0, 50], [30, 80]], float))
    for side, offset in ((left, -2), (right, 2)):
        _, result, _ = line.locate(shapely.get_coordinates(shapely.segmentize(LineString(side), 5)))
        assert np.median(result) == pytest.approx(offset, abs=1e-6)


def test_stations_stand_at_whole_distances_corners_and_the_end() -> None:
    line = Alignment(np.array([[0, 0], [0, 50], [30, 90]], float))
    s = [0, 20, 40, 50, 60, 80, 100]
    assert stations(line, 20) == pytest.approx(line.at(s))


def runs() -> list[Run]:
    square = np.array([[0, 0], [1, 0], [1, 1]], float)
    return [
        Run("BKR", 7, "a", 1, 0, square, True),
        Run("BKR", 9, "b", 1, 0, square, True),
        Run("BKR", 9, "b", 1, 1, square[:2], True),
        Run("GRN", 1, "g", 1, 0, square, True),
        Run("BKR", 9, "b", 2, 0, square, True),
    ]


def test_names_and_numbers_are_unique_and_read_as_documented() -> None:
    names, numbers, seqs = number_points(runs())
    assert names[3] == "BKR9-001" and numbers[3] == 1_07_02_001
    assert names[6] == "BKR9-004" and seqs[6] == 4
    assert len(set(numbers)) == len(numbers) == 14


def test_names_stay_when_other_features_come_and_go() -> None:
    before = dict(zip(*number_points(runs()[:2])[:2], strict=True))
    more = [*runs()[:2], Run("BKR", 12, "new", 1, 0, runs()[0].xy, True), runs()[3]]
    after = dict(zip(*number_points(more)[:2], strict=True))
    assert all(after[name] == number for name, number in before.items())


def test_numbers_that_would_run_over_are_refused() -> None:
    with pytest.raises(InputError, match="more than 999 points"):
        number_points([Run("FWY", 1, "long", 1, 0, np.zeros((1000, 2)), False)])
    with pytest.raises(InputError, match="more than 99 features"):
        number_points([Run("BKR", k, "", 1, 0, np.zeros((1, 2)), False) for k in range(100)])


def test_code_numbers_are_unique() -> None:
    assert len({n for n, _, _ in CODES.values()}) == len(CODES)
    assert all(len(c) == 3 and c.isupper() for c in CODES)


@pytest.mark.parametrize("bad", [{"spacing_m": 0, "chord_m": 1}, {"spacing_m": 1, "chord_m": -1}])
def test_silly_spacings_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(InputError, match="above 0"):
        stake(np.array([[0, 0], [1, 1]]), **bad)


def test_hole_is_stationed_on_its_longest_line(hand_site: Site) -> None:
    tee, line = main_line(hand_site, 1)
    assert tee == "back"
    assert line.length == pytest.approx(LineString([(100, 40), (115, 240), (150, 400)]).length, abs=0.01)
