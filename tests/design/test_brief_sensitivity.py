"""What a figure of the brief hangs on: with figures that are known, and on a straight hole in closed form."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

import gistools as gt
from gistools.base.errors import InputError
from gistools.cli.main import main
from gistools.design import brief_sensitivity as module
from gistools.design.brief_sensitivity import brief_lines, brief_sensitivity
from gistools.sheets.tornado_figure import brief_tornado
from gistools.site.model import Site
from gistools.site.sample import sample_site
from tests.conftest import plane, straight_tables

FIELDS = ("tee", "player", "wind", "zone", "pin", "feature", "at_least", "at_most", "is_value", "why")


def with_brief(site: Site, *rows: dict) -> Site:
    table = pd.DataFrame(
        [{"hole": 1, "fid": k, "must": True} | dict.fromkeys(FIELDS) | r for k, r in enumerate(rows)]
    )
    return site.replace(brief=table)


@pytest.fixture(scope="module")
def straight() -> Site:
    """The burn crosses the line of play of a hole that runs due north; ground level at 10 m."""
    return Site.from_tables(straight_tables(), 27700, plane())


def longest_carry(site: Site, north_m: float) -> float:
    """Return the longest carry over the burn where it is drawn so far to the north, by the step itself."""
    burns = site.layer("burns").copy()
    burns["geometry"] = burns.geometry.translate(0.0, north_m)
    carries = gt.carries(site.replace(burns=burns), hole=1)["carries"]
    return float(carries.loc[carries["layer"] == "burns", "carry_m"].max())


def test_a_carry_hangs_on_the_place_of_the_burn(straight) -> None:
    """Beside the burn moved by hand in plan, on level ground."""
    carries = gt.carries(straight, hole=1)["carries"]
    burn = carries[carries["layer"] == "burns"]
    worst = longest_carry(straight, 0.0)
    name = str(burn["feature"].iloc[0])
    row = {"measure": "carries.carry_m", "feature": name, "at_most": worst + 2.0}
    table = brief_sensitivity(with_brief(straight, row), 1).set_index("factor")
    place = table.loc[f"place of {name}"]
    assert place["figure"] == pytest.approx(worst, abs=1e-3)  # the brief keeps six digits
    assert place["figure_low"] == pytest.approx(longest_carry(straight, -5.0), abs=1e-3)
    assert place["figure_high"] == pytest.approx(longest_carry(straight, 5.0), abs=1e-3)
    assert place["turns"] and place["reading"].endswith("; not met then")
    assert table.loc["firmness", "spread"] == 0.0 and not table.loc["firmness", "turns"]
    lines = brief_lines(table.reset_index())
    assert f"{worst:.1f} m, asked at most {worst + 2:g} m: met. Changed:" in lines[0]
    assert lines[1].startswith(f"  place of {name}: 5 m towards the tee ") and "firmness" in lines[-1]
    yards = brief_lines(brief_sensitivity(with_brief(straight, row), 1, units="yd"), "yd")
    assert f"{worst / 0.9144:.0f} yd, asked at most" in yards[0] and "5.5 yd towards the tee" in yards[1]
    assert not re.search(r"\d m\b", "\n".join(yards))


def known(site, row):
    """Figures by a rule: firmness, the player's length and the wind each move it by a known amount."""
    figure = 10.0 + {"soft": -3.0, "firm": 2.0}.get(str(site.settings.get("firmness")), 0.0)
    figure += 1.0 * (row["player"] == "trial player") + 4.0 * (row["wind"] == "trial wind")
    result = "holds" if figure >= 9.0 else "fails"
    return {"result": result, "figure": str(figure), "measure": row["measure"], "requirement": "at least 9.0"}


@pytest.mark.slow
def test_player_and_wind_of_the_row_are_changed(monkeypatch) -> None:
    monkeypatch.setattr(module, "check_row", known)
    row = {"measure": "positions.total_strokes", "player": "scratch man", "wind": "calm", "at_least": 9.0}
    site = with_brief(sample_site(), row, row | {"player": None, "wind": None})
    table = brief_sensitivity(site, 1).set_index("factor")
    firm = table.loc["firmness"]
    assert (firm["figure_low"], firm["figure_high"]) == (7.0, 12.0) and firm["turns"]
    assert firm["reading"] == "firmness: soft 7.00 strokes; firm 12.00 strokes; not met then"
    assert table.loc["wind along play", ["figure_low", "figure_high", "turns"]].tolist() == [
        14.0,
        14.0,
        False,
    ]
    assert table.loc["length of the player", "figure_low"] == 11.0
    assert list(table["spread"]) == sorted(table["spread"], reverse=True)
    others = set(brief_sensitivity(site, 2)["factor"])
    assert "firmness" in others and not others & {"wind along play", "length of the player"}


def test_the_picture_has_the_bars_and_what_is_asked(monkeypatch) -> None:
    monkeypatch.setattr(module, "check_row", known)
    row = {"measure": "positions.total_strokes", "player": "scratch man", "wind": "calm", "at_least": 9.0}
    table = brief_sensitivity(with_brief(sample_site(), row), 1)
    axes = brief_tornado(table).axes[0]
    ends = sorted(
        round(p.get_x() + p.get_width(), 6) for p in axes.patches if p.get_height() == pytest.approx(0.6)
    )
    moved = table[table["spread"] > 0]
    values = moved[["figure_low", "figure_high"]].to_numpy().ravel()
    assert ends == pytest.approx(sorted(values[np.isfinite(values)]))
    assert [t.get_text() for t in axes.get_yticklabels()] == list(moved["factor"])
    shaded = axes.patches[-1]
    assert shaded.get_x() == pytest.approx(9.0)
    assert shaded.get_x() + shaded.get_width() == pytest.approx(axes.get_xlim()[1])
    below = brief_tornado(table.assign(at_least=np.nan, at_most=5.0)).axes[0].patches[-1]
    assert below.get_x() + below.get_width() == pytest.approx(5.0) and below.get_width() > 0
    assert axes.get_xlabel() == "total [strokes]; shaded: as asked"


@pytest.mark.parametrize(
    ("row", "number", "words"),
    [
        (
            {"measure": "lengths.card_m", "at_least": 1.0},
            4,
            "the brief has no row 4; there are: 1 lengths.card_m",
        ),
        ({"measure": "lengths.tee", "is_value": "back", "tee": "back"}, 1, "'back', which is no number"),
        (
            {"measure": "lengths.card_m", "tee": "moon", "at_least": 1.0},
            1,
            "row 1 of the brief has no answer",
        ),
    ],
)
def test_rows_without_a_figure_are_refused(straight, row, number, words) -> None:
    with pytest.raises(InputError, match=words):
        brief_sensitivity(with_brief(straight, row), number)


def test_the_command_asks_for_a_lead_or_a_row(tmp_path) -> None:
    path = gt.write_sample(tmp_path / "m.gpkg")
    for words in ([], ["--pin", "back left", "--brief-row", "1"]):
        done = CliRunner().invoke(main, ["sensitivity", str(path), "--hole", "1", *words])
        assert done.exit_code == 2 and "a row of the brief (--brief-row)" in done.output
    picture = tmp_path / "row.png"
    words = ["sensitivity", str(path), "--brief-row", "10", "--units", "yd", "--picture", str(picture)]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    assert done.exit_code == 0 and picture.stat().st_size > 3000
    assert "Row 10 of the brief, hole 3: corridors.fairway_width_m (back), " in done.output
    assert " yd, asked at least 20 yd: met. Changed:" in done.output
