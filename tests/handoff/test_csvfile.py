"""Point files and tables: order of columns, what a spreadsheet would run, and reading what comes back."""

from __future__ import annotations

import csv
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.errors import GistoolsWarning, SiteError
from gistools.base.units import US_SURVEY_FOOT_M
from gistools.handoff.csvfile import safe_cell, write_pnezd, write_table
from gistools.handoff.frame import Frame, file_name, plain_text, xml_text
from gistools.handoff.landxml import write_landxml
from gistools.site.measured_points import read_points, read_points_csv
from gistools.site.model import Site

#: OWASP ASVS 1.2.10 [published]: = + - @ tab NUL (and carriage return) at the start of a cell
STARTS = ["=", "+", "-", "@", "\t", "\r", "\0"]


@pytest.mark.parametrize("start", STARTS)
def test_no_text_cell_can_run(tmp_path: Path, start: str) -> None:
    table = pd.DataFrame({"name": [f"{start}cmd|' /C calc'!A0", "plain"], "cut_fill_m": [-12.5, 3.0]})
    with write_table(tmp_path / "t.csv", table).open(encoding="utf-8-sig", newline="") as source:
        rows = list(csv.reader(source))
    assert not rows[1][0].lstrip("\t\r").startswith(tuple(STARTS))
    assert rows[1][1] == "-12.5000"  # numbers stay bare
    assert rows[2] == ["plain", "3.0000"]


@given(st.text())
def test_safe_cell_never_starts_a_formula(text: str) -> None:
    safe = safe_cell(text)
    assert not safe.lstrip().startswith(("=", "+", "-", "@"))
    if text and text[0].isalnum():
        assert safe == text.replace("\0", "")


def test_names_of_other_scripts_are_written_in_latin_letters() -> None:
    assert plain_text("Övre dammen") == "Ovre dammen"
    assert plain_text("Холм 3") == "Kholm 3"
    assert plain_text("長い丘") and plain_text("長い丘") != plain_text("丘")
    assert file_name("Λόφος") == "Lofos"


@given(st.text())
def test_plain_text_is_what_instruments_take(text: str) -> None:
    simple = plain_text(text)
    assert simple.isascii() and "," not in simple and '"' not in simple and "\n" not in simple
    assert not simple.startswith(("=", "+", "-", "@", " "))


@given(st.text())
def test_file_names_stay_in_their_folder(text: str) -> None:
    name = file_name(text)
    assert name and "/" not in name and "\\" not in name and "." not in name and len(name) <= 61
    assert Path("/somewhere", name).parent == Path("/somewhere")
    assert name.lower() not in ("con", "prn", "aux", "nul", "com1", "lpt1")


def test_file_names_of_nasty_names() -> None:
    assert file_name("../../etc/passwd") == "etc_passwd"
    assert file_name("..") == "unnamed"
    assert file_name("COM1") == "COM1_"
    assert file_name("Böög & Söhne") == "Boog_Sohne"


@given(st.text())
def test_xml_text_holds_only_what_xml_can(text: str) -> None:
    from lxml import etree

    element = etree.Element("a")
    element.text = xml_text(text)  # lxml refuses control characters


def test_northing_comes_first_and_units_are_those_of_the_site(tmp_path: Path, hand_site: Site) -> None:
    frame = Frame.of(hand_site)
    east, north = 420123.456, 660987.654
    path = write_pnezd(tmp_path / "p.csv", [(1, east, north, 12.345, 'BKR, "x" =1')], frame)
    with path.open(newline="") as source:
        row = next(csv.reader(source))
    assert len(row) == 5
    unit = 1.0 if frame.unit == "m" else US_SURVEY_FOOT_M
    assert float(row[1]) * unit == pytest.approx(north, abs=0.001)
    assert float(row[2]) * unit == pytest.approx(east, abs=0.001)
    assert float(row[3]) * unit == pytest.approx(12.345, abs=0.001)
    assert row[4] == "BKR_ _x_ _1"


def test_a_missing_level_is_empty_not_zero(tmp_path: Path, metre_site: Site) -> None:
    path = write_pnezd(
        tmp_path / "p.csv", [(1, 1.0, 2.0, float("nan"), "x")], Frame.of(metre_site), header=True
    )
    assert path.read_text().splitlines() == ["point,northing,easting,level,description", "1,2.0000,1.0000,,x"]


def corner(site: Site) -> tuple[float, float]:
    west, south, _, _ = site.ground.bounds  # type: ignore[union-attr]
    return west, south


@pytest.mark.parametrize("order", ["PNEZD", "PENZD"])
def test_what_is_written_is_read_back(tmp_path: Path, hand_site: Site, order: str) -> None:
    west, south = corner(hand_site)
    points = [
        (k, west + 10 + 7 * k, south + 200 + 3 * k, 20 + 0.1 * k, f"TEE TEE1-00{k}") for k in range(1, 6)
    ]
    path = write_pnezd(tmp_path / "p.csv", points, Frame.of(hand_site), header=True)
    if order == "PENZD":
        rows = [line.split(",") for line in path.read_text().splitlines()]
        path.write_text("\n".join(",".join([r[0], r[2], r[1], r[3], r[4]]) for r in rows))
    got = read_points_csv(path, hand_site, order=order)  # type: ignore[arg-type]
    assert isinstance(got, gpd.GeoDataFrame)
    assert got.geometry.x.to_numpy() == pytest.approx([p[1] for p in points], abs=0.0005)
    assert got.geometry.y.to_numpy() == pytest.approx([p[2] for p in points], abs=0.0005)
    assert got["level_m"].to_numpy() == pytest.approx([p[3] for p in points], abs=0.0005)
    assert got["feature"].tolist() == [p[4] for p in points]


def test_swapped_columns_are_noticed(tmp_path: Path, hand_site: Site) -> None:
    west, south = corner(hand_site)
    path = write_pnezd(tmp_path / "p.csv", [(1, west + 5, south + 5, 20, "x")], Frame.of(hand_site))
    with pytest.raises(SiteError, match="look swapped: read it with order PNEZD"):
        read_points_csv(path, hand_site, order="PENZD")


def test_semicolons_decimal_commas_comments_and_titles(tmp_path: Path, metre_site: Site) -> None:
    path = tmp_path / "p.csv"
    path.write_text(
        "# from the field\nPunkt;Hoch;Rechts;Höhe;Code\n7;660010,5;420020,25;20,125;GRN\n", "latin-1"
    )
    got = read_points_csv(path, metre_site)
    assert (got.geometry.x[0], got.geometry.y[0], got["level_m"][0]) == (420020.25, 660010.5, 20.125)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,660010,420020,20,a\n2,660011,x,20,b\n", "line 2"),
        ("1,660010,420020\n", "line 1"),
        ("", "no points"),
        ("1,1,1,20,a\n", "lie off the site"),
        ("1,660010,420020,nan,a\n", "line 1"),
    ],
)
def test_unreadable_files_say_where(tmp_path: Path, metre_site: Site, text: str, words: str) -> None:
    path = tmp_path / "p.csv"
    path.write_text(text)
    with pytest.raises(SiteError, match=words):
        read_points_csv(path, metre_site)
    with pytest.raises(SiteError, match="cannot be read"):
        read_points_csv(tmp_path / "none.csv", metre_site)


def test_numbers_in_tables_keep_their_meaning(tmp_path: Path) -> None:
    table = pd.DataFrame(
        {"n": [1, 2], "ok": [True, False], "x_m": [np.nan, 1.23456], "combined_factor": [0.99960512, 1.0]}
    )
    rows = write_table(tmp_path / "t.csv", table).read_text("utf-8-sig").splitlines()
    assert rows[1:] == ["1,yes,,0.99960512", "2,no,1.2346,1.00000000"]


def test_points_come_back_as_landxml_too(tmp_path: Path, hand_site: Site) -> None:
    """What the hand-off writes and an instrument sends back: the same layer as from text, in metres."""
    frame = Frame.of(hand_site)
    west, south, _, _ = hand_site.ground.bounds  # type: ignore[union-attr]
    rows = [("7", west + 100.0, south + 50.0, 12.345), ("8", west + 120.5, south + 60.25, 13.0)]
    points = [(n, x, y, z, "GRN1-003, edge", "GRN") for n, x, y, z in rows]
    path = write_landxml(tmp_path / "back.xml", frame, project="p", version="1", points=points)
    text = write_pnezd(tmp_path / "back.csv", [(*r, "GRN1-003") for r in rows], frame)
    got, same = read_points(path, hand_site), read_points(text, hand_site)
    assert got["point"].tolist() == same["point"].tolist() == ["7", "8"]
    assert got["feature"].tolist() == ["GRN1-003, edge, GRN"] * 2
    assert got["level_m"].to_numpy() == pytest.approx([12.345, 13.0], abs=0.001)
    assert shapely.distance(got.geometry.to_numpy(), same.geometry.to_numpy()).max() < 0.001
    assert got.geometry.x.to_numpy() == pytest.approx([r[1] for r in rows], abs=0.001)


def test_landxml_points_that_cannot_be_used_are_named(tmp_path: Path, metre_site: Site) -> None:
    frame = Frame.of(metre_site)
    west, south, _, _ = metre_site.ground.bounds  # type: ignore[union-attr]
    path = tmp_path / "back.xml"
    points = [("1", west + 5, south + 5, 1.0, "", ""), ("2", west + 5, south + 5, np.nan, "", "")]
    write_landxml(path, frame, project="p", version="1", points=points)
    with pytest.warns(GistoolsWarning, match="1 points without a level are left out, the first is 2"):
        assert read_points(path, metre_site)["point"].tolist() == ["1"]
    text = path.read_text()
    for before, after, words in (
        ('epsgCode="27700"', 'epsgCode="32630"', "export the points in the CRS of the site"),
        ("CgPoint ", "Other ", "not well-formed|no well-formed"),
        ('name="1" desc="" code="">', 'name="1" desc="" code="">abc ', "point '1' should be northing"),
        ('linearUnit="meter"', 'linearUnit="cubit"', "not known here"),
    ):
        assert before in text
        path.write_text(text.replace(before, after))
        with pytest.raises(SiteError, match=words):
            read_points(path, metre_site)
    write_landxml(path, frame, project="p", version="1")
    with pytest.raises(SiteError, match="holds no points"):
        read_points(path, metre_site)
    with pytest.raises(SiteError, match="cannot be read"):
        read_points(tmp_path / "none.xml", metre_site)


@pytest.mark.parametrize("third", [False, True], ids=["field", "third coordinate"])
def test_points_come_back_as_a_geopackage_too(tmp_path: Path, hand_site: Site, third: bool) -> None:
    """Written by another library; the level a field in metres, or the third coordinate in the CRS's unit."""
    west, south = corner(hand_site)
    unit = hand_site.unit_m
    xyz = [((west + 100) / unit, (south + 50) / unit, 12.345 / unit)]
    table = gpd.GeoDataFrame(
        {"point": ["7"], "feature": ["GRN1-003"]},
        geometry=[shapely.Point(xyz[0] if third else xyz[0][:2])],
        crs=hand_site.crs,
    )
    if not third:
        table["level_m"] = [12.345]
    table.to_file(tmp_path / "back.gpkg", layer="as_built" if third else "points", engine="fiona")
    got = read_points(tmp_path / "back.gpkg", hand_site)
    assert got["point"].tolist() == ["7"] and got["feature"].tolist() == ["GRN1-003"]
    assert got["level_m"].to_numpy() == pytest.approx([12.345], abs=1e-6)
    assert (got.geometry.x[0], got.geometry.y[0]) == pytest.approx((west + 100, south + 50), abs=1e-6)


def test_geopackages_that_cannot_be_used_say_why(tmp_path: Path, metre_site: Site) -> None:
    west, south = corner(metre_site)
    path = tmp_path / "back.gpkg"
    table = gpd.GeoDataFrame({"point": ["1"]}, geometry=[shapely.Point(west, south)], crs=27700)
    table.to_file(path, layer="a", engine="fiona")
    with pytest.raises(SiteError, match=r"feature 1: it has no level \(field level_m\)"):
        read_points(path, metre_site)
    table.to_file(path, layer="b", engine="fiona")
    with pytest.raises(SiteError, match="no layer `as_built`, and several others: a, b"):
        read_points(path, metre_site)
    table.set_crs(32630, allow_override=True).to_file(path, layer="as_built", engine="fiona")
    with pytest.raises(SiteError, match="in the CRS of the site"):
        read_points(path, metre_site)
