"""The brief against figures known beforehand."""

from __future__ import annotations

import pandas as pd
import pytest

from gistools.errors import InputError
from gistools.strategy.brief import read_brief, target_of
from gistools.strategy.steps import brief

#: the burn crosses the line of play of the straight hole at 200 m
ROWS = [
    ({"measure": "lengths.grid_m", "at_least": 339.0, "at_most": 341.0}, "holds"),
    ({"measure": "lengths.grid_m", "at_least": 350.0}, "fails"),
    ({"measure": "lengths.tee", "is_value": "back"}, "holds"),
    ({"measure": "lengths.tee", "is_value": "front"}, "fails"),
    ({"measure": "lengths.grid_m", "tee": "nowhere", "at_least": 1.0}, "no answer"),
    ({"measure": "lengths.grid_m"}, "no answer"),
    ({"measure": "lengths.colour", "at_least": 1.0}, "no answer"),
    ({"measure": "lengths.grid_m", "pin": "front", "at_least": 1.0}, "no answer"),
    ({"measure": "lengths.tee", "at_least": 1.0}, "no answer"),
]


def test_rows_hold_fail_or_have_no_answer(straight_site):
    table = pd.DataFrame([{"hole": 1, "fid": k, **row} for k, (row, _) in enumerate(ROWS)])
    site = straight_site.replace(brief=table)
    done = brief(site)
    assert list(done["result"]) == [result for _, result in ROWS]
    assert done["margin"].iloc[1] == pytest.approx(340 - 350, abs=0.5)


def test_a_measure_has_to_be_there():
    assert target_of("carries.carry_m")[1:] == ("carries", "carry_m")
    assert target_of("choices.real_choices_count")[0].name == "positions"
    for wrong in ("carries", "carries.colour", "nothing.carry_m", ""):
        with pytest.raises(InputError):
            target_of(wrong)


def test_toml(tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text('[[brief]]\nhole = 1\nmeasure = "lengths.grid_m"\nat_least = 300\n', encoding="utf-8")
    table = read_brief(path)
    assert table["must"].iloc[0] and table["measure"].iloc[0] == "lengths.grid_m"
    path.write_text('[[brief]]\nmeasure = "x.y"\ncolour = "red"\n', encoding="utf-8")
    with pytest.raises(InputError, match="colour"):
        read_brief(path)
    path.write_text("[[brief\n", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read"):
        read_brief(path)
