"""The one grid: cells from coordinates and back, windows, masks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gistools.base.grid import Grid

GRID = Grid(100.0, 250.0, 2.5, (20, 12))


def test_edges_and_centres() -> None:
    assert GRID.bounds == (100.0, 200.0, 130.0, 250.0)
    x, y = GRID.centres()
    assert (x[0], x[-1], y[0], y[-1]) == (101.25, 128.75, 248.75, 201.25)
    east, north = GRID.mesh()
    assert east.shape == north.shape == (20, 12) and east[3, 5] == x[5] and north[3, 5] == y[3]


def test_the_centre_of_a_cell_is_in_it() -> None:
    rows, cols = np.indices(GRID.shape)
    i, j = GRID.index(*GRID.mesh())
    np.testing.assert_array_equal(i, rows)
    np.testing.assert_array_equal(j, cols)


def test_points_outside_are_told_apart() -> None:
    i, j = GRID.index([99.9, 130.0, 115.0, 115.0], [240.0, 240.0, 250.1, 200.0])
    assert (j[0], j[1], i[2], i[3]) == (-1, 12, -1, 20)
    assert not GRID.contains(i, j).any()
    values = np.arange(240).reshape(20, 12)
    assert GRID.sample(values, [101.0, 99.0], [249.0, 249.0], -1).tolist() == [0, -1]


@given(st.floats(80, 150), st.floats(180, 270), st.floats(0.1, 30), st.floats(0.1, 30), st.floats(0, 6))
@settings(max_examples=100, deadline=None)
def test_a_window_holds_the_cells_that_touch_a_box(
    west: float, south: float, wide: float, high: float, margin: float
) -> None:
    box = shapely.box(west - margin, south - margin, west + wide + margin, south + high + margin)
    x, y = GRID.mesh()
    cells = shapely.box(x - 1.25, y - 1.25, x + 1.25, y + 1.25)
    inner = shapely.area(shapely.intersection(cells, box)) > 1e-9
    marked = np.zeros(GRID.shape, bool)
    marked[GRID.window((west, south, west + wide, south + high), margin)] = True
    assert (marked | ~inner).all()
    assert (shapely.distance(cells, box)[marked] <= 1e-9).all()


def test_a_window_has_as_many_cells_as_asked_for() -> None:
    assert GRID.window((0.0, 0.0, 1.0, 1.0)) == (slice(20, 20), slice(0, 0))
    assert GRID.window((0.0, 0.0, 1.0, 1.0), least=2) == (slice(18, 20), slice(0, 2))


def test_part_of_a_grid_keeps_its_place() -> None:
    part = GRID.part(slice(4, 9), slice(2, 12))
    assert part == Grid(105.0, 240.0, 2.5, (5, 10))
    assert GRID.offset_of(part) == (4, 2)
    assert GRID.offset_of(Grid(105.1, 240.0, 2.5, (5, 10))) is None
    assert GRID.offset_of(Grid(105.0, 240.0, 5.0, (5, 10))) is None


@pytest.mark.parametrize("area", [shapely.Point(117, 222).buffer(9.3), shapely.Point(100, 250).buffer(6)])
def test_a_mask_marks_the_centres_inside(area: shapely.Polygon) -> None:
    expected = shapely.contains_xy(area, *GRID.mesh())
    assert expected.any()
    np.testing.assert_array_equal(GRID.mask(area), expected)
    assert not GRID.mask(shapely.Polygon()).any()
