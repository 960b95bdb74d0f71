"""The picture of strokes by distance shows the figures it is given, and their error."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gistools.sheets.figures import save
from gistools.sheets.strokes_figure import Line, Panel, strokes_by_distance

FAIRWAY = Line("from fairway", (20.0, 60.0, 100.0), (2.3, 2.5, 2.7), (20, 100), (2.4, 2.8))
SAND = Line("from sand", (20.0, 60.0, 100.0), (2.4, 2.9, 3.0), (20, 60, 100), (2.53, 3.15, 3.23))
PANELS = [
    Panel("One player, by lie", "A study", (FAIRWAY, SAND)),
    Panel("Another", "A rating", (Line("someone", (100.0, 200.0), (3.0, 3.6), (150,), (3.1,)),)),
]


def test_strokes_picture_draws_published_marks_and_differences() -> None:
    figure = strokes_by_distance(PANELS)
    above, below, other, _ = figure.axes
    drawn = {tuple(map(tuple, np.round(line.get_xydata(), 9))) for line in above.lines}
    for line in (FAIRWAY, SAND):
        assert tuple(zip(line.yards, line.ours, strict=True)) in drawn
        assert tuple(zip(line.published_yards, line.published, strict=True)) in drawn
    errors = {tuple(map(tuple, np.round(line.get_xydata(), 9))) for line in below.lines}
    assert ((20.0, -0.1), (100.0, -0.1)) in errors
    assert ((20.0, -0.13), (60.0, -0.25), (100.0, -0.23)) in errors
    every = np.array([-0.1, -0.1, -0.13, -0.25, -0.23])
    assert (
        below.get_title("left")
        == f"error: mean {every.mean():+.2f}, rms {np.sqrt((every**2).mean()):.2f} strokes"
    )
    said = above.get_legend()
    assert said.get_title().get_text() == "lines: this toolkit\nmarks: A study"
    assert [t.get_text() for t in said.get_texts()] == ["from fairway", "from sand"]
    assert other.get_title("left") == "Another"
    assert PANELS[1].lines[0].error == pytest.approx((0.2,))  # between the distances of the line: 3.3 - 3.1


def test_places_without_a_figure_do_not_count_in_the_mean_error() -> None:
    """From among trees there is none where the hole is nearer than the trees."""
    gap = Line("from recovery", (20.0, 60.0), (float("nan"), 3.0), (20, 60), (3.5, 3.4))
    below = strokes_by_distance([Panel("One player", "A study", (gap,)), PANELS[1]]).axes[1]
    assert below.get_title("left") == "error: mean -0.40, rms 0.40 strokes"


def test_errors_share_a_scale_of_a_least_width() -> None:
    _, below, _, other = strokes_by_distance(PANELS).axes
    assert below.get_ylim() == other.get_ylim() and below.get_ylim()[1] >= 0.25


@pytest.mark.parametrize(("name", "start"), [("a.png", b"\x89PNG"), ("a.svg", b"<?xml"), ("a.pdf", b"%PDF")])
def test_written_as_a_picture(tmp_path: Path, name: str, start: bytes) -> None:
    path = save(strokes_by_distance(PANELS), tmp_path / name)
    assert path.read_bytes().startswith(start) and path.stat().st_size > 5000
