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
    assert "figure 01 [yd]" in output and "109.9" not in output and "110" in output


def test_with_yards_rises_and_levels_are_in_feet(capsys: pytest.CaptureFixture[str]) -> None:
    columns = {
        "carry_m": [182.88],
        "offset_m": [-0.2],
        "centre_rise_m": [3.048],
        "crest_level_m": [30.48],
        "camber_pct": [2.5],
    }
    units = dict.fromkeys(columns, "m") | {"camber_pct": "pct"}
    print_table(pd.DataFrame(columns), units, "yd", "what it is")
    output = capsys.readouterr().out
    heads, values = (
        [word.strip() for word in line.replace("┃", "│").strip("│").split("│")]
        for line in output.splitlines()
        if line.startswith(("┃", "│"))
    )
    assert dict(zip(heads, values, strict=True)) == {
        "carry [yd]": "200",
        "offset [yd]": "0",
        "centre rise [ft]": "10.0",
        "crest level [ft]": "100.0",
        "camber [%]": "2.5",
    }
