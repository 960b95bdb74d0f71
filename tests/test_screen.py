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
    print_table(
        wide(SIDE_ROWS_SHOWN + 2),
        {f"figure_{k:02}_m": "m" for k in range(1, 31)},
        "m",
        "what it is",
        SIDE_ROWS_SHOWN,
        all_columns=True,
    )
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
        "crest_width_m": [1.8288],
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
        "crest width [yd]": "2",
        "camber [%]": "2.5",
    }


def test_wide_table_shows_columns_that_fit_and_names_the_rest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    table = wide(3).assign(zone=["short left", "short right", "beyond"], empty_m=[None] * 3)
    print_table(table, {name: "m" for name in table if name.endswith("_m")}, "m", "a title")
    output = capsys.readouterr().out
    head, _, below = output.partition("not shown: ")
    assert max(len(line.rstrip()) for line in head.splitlines()) <= 200
    whole = " ".join(head.split())
    assert "hole 1" in head.splitlines()[1] and "┃ hole" not in head
    assert "short right" in whole and "100.50" in whole
    missing = " ".join(below.split())
    figures = [f"figure {k:02} [m]" for k in range(1, 31)]
    shown = [k for k in range(1, 31) if f"{100 * k + 0.5:.2f}" in whole]
    assert shown == list(range(1, len(shown) + 1)) and 10 < len(shown) < 30
    assert missing.startswith(", ".join(figures[len(shown) :]) + "; --all-columns")
    assert "empty" not in output
    assert "short right: a short word about it" in output


def test_every_row_of_a_long_table_is_shown_where_it_is_wished(capsys: pytest.CaptureFixture[str]) -> None:
    table = wide(100)[["hole", "zone"]]
    print_table(table, {}, "m", "a title")
    assert "... 40 more rows; --all-rows shows them" in capsys.readouterr().out
    print_table(table, {}, "m", "a title", most=len(table))
    output = capsys.readouterr().out
    assert output.count("short left") == 100 and "more rows" not in output


def test_the_sentences_of_a_long_table_are_named_and_not_printed(capsys: pytest.CaptureFixture[str]) -> None:
    table = wide(20)[["hole", "zone", "reading"]].assign(level=[True, False] * 10)
    print_table(table, {}, "m", "a title")
    output = capsys.readouterr().out
    assert "a short word" not in output and "not shown: reading;" in output
    assert output.count("yes") == output.count("no ") == 10
