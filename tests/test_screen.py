"""Tables for people: side by side where they fit, else row by row, and nothing cut off."""

from __future__ import annotations

import pandas as pd
import pytest

from gistools.cli.screen import SIDE_ROWS_SHOWN, print_table


def wide(rows: int) -> pd.DataFrame:
    figures = {f"figure_{k:02}_m": [100.0 * k + 0.5] * rows for k in range(1, 31)}
    return pd.DataFrame(
        {
            "hole": [1] * rows,
            "zone": ["short left"] * rows,
            **figures,
            "reading": ["a short word about it"] * rows,
        }
    )


def test_a_wide_table_is_told_row_by_row_with_every_figure(capsys: pytest.CaptureFixture[str]) -> None:
    print_table(wide(SIDE_ROWS_SHOWN + 2), {f"figure_{k:02}_m": "m" for k in range(1, 31)}, "m", "what it is")
    output = capsys.readouterr().out
    assert "┃" not in output
    assert output.count("hole 1 · zone short left") == SIDE_ROWS_SHOWN
    whole = " ".join(output.split())
    for k in range(1, 31):
        assert f"figure {k:02} [m]: {100 * k + 0.5:.1f}" in whole
    assert output.count("a short word about it") == SIDE_ROWS_SHOWN
    assert "... 2 more rows" in output


def test_a_narrow_table_stays_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    print_table(wide(3)[["hole", "zone", "figure_01_m"]], {"figure_01_m": "m"}, "yd", "what it is")
    output = capsys.readouterr().out
    assert output.count("┃") > 3
    assert "figure 01 [yd]" in output and f"{100.5 / 0.9144:.1f}" in output
