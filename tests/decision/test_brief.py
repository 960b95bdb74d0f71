"""The brief against figures known beforehand."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import gistools as gt
from gistools.base.errors import InputError
from gistools.site.sample import sample_site
from gistools.steps.brief import brief
from gistools.steps.brief_rows import check_row, read_brief, target_of

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


def test_brief_row_by_a_key_the_result_lacks_is_refused(straight_site):
    """What is seen from a tee has no zone: an empty column tells nothing apart."""
    row = {"measure": "flag_views.pin_distance_m", "tee": "back", "zone": "short left", "at_least": 1.0}
    done = check_row(straight_site, row)
    assert done["result"] == "no answer" and "not told apart by zone; leave zone empty" in done["requirement"]


def test_a_row_by_line_is_about_that_carry_alone():
    """The least carry of a burn on the diagonal is shorter than the greatest, so one limit parts them."""
    site = sample_site()
    carries = gt.carries(site, hole=1)["carries"].query("tee == 'back' and feature == 'Teasel Burn'")
    limit = carries["carry_m"].mean()
    about = {"hole": 1, "measure": "carries.carry_m", "tee": "back", "feature": "Teasel Burn"}
    rows = {
        line: check_row(site, {**about, "line": line, "at_least": limit})
        for line in ("least", "on line", "greatest", "")
    }
    assert [row["result"] for row in rows.values()] == ["fails", "fails", "holds", "fails"]
    assert [row["rows_count"] for row in rows.values()] == [1, 1, 1, 3]


def test_a_measure_has_to_be_there():
    assert target_of("carries.carry_m")[1:] == ("carries", "carry_m")
    assert target_of("choices.real_choices_count")[0].name == "positions"
    for wrong in ("carries", "carries.colour", "nothing.carry_m", ""):
        with pytest.raises(InputError):
            target_of(wrong)


def test_a_brief_is_read_from_toml(tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text('[[brief]]\nhole = 1\nmeasure = "lengths.grid_m"\nat_least = 300\n', encoding="utf-8")
    table = read_brief(path)
    assert table["must"].iloc[0] and table["measure"].iloc[0] == "lengths.grid_m"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[brief\n", "cannot be read"),
        ("", "a list of"),
        ('[[breif]]\nmeasure = "lengths.grid_m"\nat_least = 1\n', "it has breif"),
        ('brief = "lengths.grid_m"\n', "a list of"),
        ('[brief]\nmeasure = "lengths.grid_m"\n', "a list of"),
    ],
)
def test_a_file_that_is_no_brief_is_told(tmp_path, text, said):
    path = tmp_path / "brief.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=f"brief.toml: .*{said}"):
        read_brief(path)
    with pytest.raises(InputError, match=r"none\.toml: the brief cannot be read: No such file"):
        read_brief(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"colour": "1"}, "row 2 has colour; a row can have: hole, measure"),
        ({"at_least": '"far"'}, "row 2 has at_least = 'far'; it should be a number"),
        ({"at_least": "nan"}, "row 2 has at_least = nan; it should be a number"),
        ({"at_most": "true"}, "row 2 has at_most = True; it should be a number"),
        ({"hole": "1.5"}, "row 2 has hole = 1.5; it should be a whole number"),
        ({"hole": "40"}, "row 2 has hole = 40; it should be from 1 to 36"),
        ({"pin": "3"}, "row 2 has pin = 3; it should be text in quotes"),
        ({"must": '"yes"'}, "row 2 has must = 'yes'; it should be true or false"),
        ({"is_value": "[1, 2]"}, "row 2 has is_value"),
        ({"measure": '""'}, "row 2 has no measure"),
        ({"measure": '"lengths.colour"'}, "row 2 cannot be checked: .*no column 'colour'"),
        ({"at_least": None}, "row 2 cannot be checked: the row asks nothing"),
        ({"at_least": "9", "at_most": "2"}, "row 2 asks at_least 9 and at_most 2; nothing is both"),
    ],
)
def test_a_row_of_a_file_that_is_wrong_is_told(tmp_path, change, said):
    path = tmp_path / "brief.toml"
    good = {"measure": '"lengths.grid_m"', "at_least": "300"}
    rows = ({f: v for f, v in row.items() if v is not None} for row in (good, good | change))
    path.write_text(
        "".join("[[brief]]\n" + "".join(f"{f} = {v}\n" for f, v in row.items()) for row in rows),
        encoding="utf-8",
    )
    with pytest.raises(InputError, match=f"brief.toml: {said}"):
        read_brief(path)


def test_rows_from_a_file_are_checked_like_those_of_the_table(straight_site, tmp_path):
    path = tmp_path / "brief.toml"
    expected = [(row, result) for row, result in ROWS if len(row) > 1 and row["measure"] != "lengths.colour"]
    path.write_text(
        "\n".join(
            "[[brief]]\nhole = 1\n" + "\n".join(f"{k} = {v!r}" for k, v in row.items()) for row, _ in expected
        ),
        encoding="utf-8",
    )
    done = brief(straight_site, brief_file=str(path))
    assert list(done["result"]) == [result for _, result in expected]
    assert not len(brief(straight_site))  # the table of the site is empty
    # what is read is what is in the file now, in the same session too
    path.write_text('[[brief]]\nmeasure = "lengths.grid_m"\nat_most = 100\nmust = false\n', encoding="utf-8")
    again = brief(straight_site, brief_file=str(path))
    assert list(again["result"]) == ["fails"] and not again["must"].iloc[0]


def test_values_to_be_in_a_file_can_be_text_number_or_truth(straight_site, tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text(
        '[[brief]]\nmeasure = "corridors.narrowest"\nis_value = true\n'
        '[[brief]]\nmeasure = "lengths.par_men"\nis_value = 4\n'
        '[[brief]]\nmeasure = "lengths.tee"\nis_value = "back"\n',
        encoding="utf-8",
    )
    assert list(read_brief(path)["is_value"]) == ["true", "4", "back"]
    assert list(brief(straight_site, brief_file=str(path))["result"]) == ["fails", "holds", "holds"]


def test_brief_file_of_the_sample_page_gives_its_rows(tmp_path):
    page = (Path(__file__).resolve().parents[2] / "sample_course.gpkg.md").read_text(encoding="utf-8")
    path = tmp_path / "wishes.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    site = sample_site()
    output = brief(site, brief_file=str(path)).iloc[0]
    table = site.layer("brief")
    row = table[(table["measure"] == output["measure"]) & (table["tee"] == "forward") & (table["hole"] == 1)]
    from_table = brief(site.replace(brief=row)).iloc[0]
    assert output["result"] == "fails" and not output["must"]
    for column in ("figure", "margin", "rows_count", "requirement", "result"):
        assert output[column] == from_table[column]
