"""Answers of design in yards: every length, rise and volume of a sentence follows the unit asked for."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

import gistools as gt
from gistools.cli.main import main
from gistools.design.edit_list import Edit
from gistools.design.search_result import SearchResult, figures_in_words, search_lines
from gistools.design.sentences import sentences
from gistools.site.sample import sample_site

METRES = re.compile(r"\d m3?\b")


@pytest.fixture(scope="module")
def answer() -> SearchResult:
    tried = pd.DataFrame(
        {
            "1.across_m": [9.144, 4.572, -9.144],
            "2.rise_m": [0.3048, 0.6096, 0.0],
            "margin": [0.03, 0.01, -1e6],
            "earth_m3": [764.6, 76.46, np.nan],
            "steepest_pct": [20.0, 10.0, np.nan],
            "short_player_strokes": np.nan,
            "full": False,
        }
    )
    edits = (Edit("move", "Burdock", across_m=9.144), Edit("raise", "Knowe", rise_m=0.3048))
    return SearchResult(
        edits, True, 0.03, -0.1, 764.6, tried, ((), (), ()), ((2, "it would leave the site"),)
    )


def test_the_answer_of_a_search_follows_the_units(answer) -> None:
    """1 yd is 0.9144 m, 1 ft 0.3048 m; 764.6 m3 are 1,000 yd3."""
    lines = search_lines(answer, "yd")
    assert "  move Burdock: across +10.0 yd" in lines and "  raise Knowe: rise +1.0 ft" in lines
    assert "3 variants tried, 1000 yd3 of earth moved" in lines
    refused = "with 1.across -10.0 yd, 2.rise +0.0 ft: it would leave the site"
    assert f"1 of them could not be made or played; {refused}" in lines
    assert "  100 yd3, slopes to 10 %: margin +0.010 (1.across +5.0 yd, 2.rise +2.0 ft)" in lines
    assert not METRES.search("\n".join(lines))
    metres = "\n".join(search_lines(answer))
    assert metres == repr(answer) and "across +9.14 m" in metres and "765 m3" in metres and "yd" not in metres


def test_figures_that_are_no_lengths_stay() -> None:
    assert figures_in_words({"turn_deg": -3.0, "factor": 1.2}, "yd") == "turn -3.00°, factor 1.20"


def test_proposed_tees_follow_the_units() -> None:
    metres, yards = (
        gt.propose_tees(sample_site(), hole=1, players=("bogey man",), units=u) for u in ("m", "yd")
    )
    for one, other in zip(metres["reading"], yards["reading"], strict=True):
        far = float(re.search(r"from a tee (\d+) m", one).group(1))
        assert float(re.search(r"from a tee (\d+) yd", other).group(1)) == pytest.approx(
            far / 0.9144, abs=1.1
        )
        assert not METRES.search(other)
    assert (metres["chainage_m"] == yards["chainage_m"]).all()


def test_what_a_change_does_follows_the_units() -> None:
    rows = [
        {
            "tee": "back",
            "line": "on line",
            "feature": "Burn",
            "measure": "carries.carry_m",
            "before": 100.0,
            "after": 109.144,
        },
        {"measure": "ground.fill_m3", "before": 0.0, "after": 764.6},
    ]
    changes = pd.DataFrame(rows)
    changes["change"] = changes["after"] - changes["before"]
    assert sentences(changes, units="yd") == ["Burn +10 yd to carry from back, on line.", "1000 yd3 fill."]
    assert sentences(changes) == ["Burn +9 m to carry from back, on line.", "765 m3 fill."]


def test_the_command_says_proposed_tees_in_yards(tmp_path) -> None:
    path = gt.write_sample(tmp_path / "m.gpkg")
    words = ["propose_tees", str(path), "--hole", "1", "--player", "bogey man", "--units", "yd"]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    sentences = done.stdout.splitlines()
    assert " yd in front of the back tee" in sentences[0] and not METRES.search("\n".join(sentences))
