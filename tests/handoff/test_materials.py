"""Materials of what is built, and the workbook they are priced in, its formulas worked out here."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
import shapely

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.layout.lengths import combined_factor
from gistools.handoff.workbook import write_workbook
from gistools.site.model import Site


def test_volumes_are_area_times_depth_on_the_ground(metre_site: Site) -> None:
    got = gt.quantities(metre_site, hole=1)["materials"]
    factor = combined_factor(27700, 420150, 660400, float(metre_site.surface().height(420150.0, 660400.0)))
    area = float(metre_site.layer("greens").area.iloc[0]) / factor**2
    assert area == pytest.approx(np.pi * 14**2, rel=0.002)
    green = got[got["layer"] == "greens"].set_index("material")
    assert green.loc["rootzone mix", "material_volume_m3"] == pytest.approx(0.3 * area, rel=1e-6)
    assert green.loc["drainage gravel", "material_volume_m3"] == pytest.approx(0.1 * area, rel=1e-6)
    assert green.loc["turf or seed", "area_m2"] == pytest.approx(area, rel=1e-6)
    assert (got["material"] == "bunker sand").sum() == 2
    assert (got["material"] == "tee rootzone").sum() == 1  # the forward tee is a point: no area, no row
    assert (got["basis"].str.len() > 0).all()


def test_drains_are_as_long_as_parallel_lines_across_the_green(metre_site: Site) -> None:
    """Lines 4.5 m apart laid over the green at every offset and bearing have that length in the mean."""
    got = gt.quantities(metre_site, hole=1)["materials"]
    length = float(
        got.loc[(got["layer"] == "greens") & (got["material"] == "drains"), "drain_length_m"].iloc[0]
    )
    green, rng = metre_site.layer("greens").geometry.iloc[0], np.random.default_rng(5)
    middle = np.array(green.centroid.coords[0])
    lengths = []
    for _ in range(400):
        bearing, offset = rng.uniform(0, np.pi), rng.uniform(0, 4.5)
        along, across = (
            np.array([np.cos(bearing), np.sin(bearing)]),
            np.array([-np.sin(bearing), np.cos(bearing)]),
        )
        ends = [
            [middle + across * (k * 4.5 + offset) + s * 40 * along for s in (-1, 1)] for k in range(-8, 8)
        ]
        lengths.append(shapely.length(shapely.intersection(green, shapely.linestrings(ends))).sum())
    assert length == pytest.approx(np.mean(lengths), rel=0.01)


def test_depths_are_settings_and_none_leaves_a_material_out(metre_site: Site) -> None:
    site = metre_site.with_settings(
        {"green_gravel_depth_m:1": 0.15, "bunker_drain_spacing_m": 0, "bunker_sand_depth_m": 0.2}
    )
    got = gt.quantities(site, hole=1)["materials"]
    of = got.groupby(["layer", "material"])["layer_depth_m"].first()
    assert of["greens", "drainage gravel"] == 0.15 and of["bunkers", "bunker sand"] == 0.2
    assert not ((got["layer"] == "bunkers") & (got["material"] == "drains")).any()
    with pytest.raises(InputError, match="from 0 to 2 m"):
        metre_site.with_settings(green_rootzone_depth_m=12)


class Sheets:
    """Values of a workbook, its formulas worked out: products, quotients, references, SUM and SUMIF."""

    def __init__(self, path: Path) -> None:
        self.book = openpyxl.load_workbook(path)

    def value(self, sheet: str, cell: str) -> Any:
        text = self.book[sheet][cell].value
        if not isinstance(text, str) or not text.startswith("="):
            return text or 0.0 if not isinstance(text, str) else text
        text = text[1:].replace("$", "")
        if match := re.fullmatch(r"SUMIF\((.+),(.+),(.+)\)", text):
            keys, key, amounts = match.groups()
            criterion = self.value(sheet, key)
            pairs = zip(self.range(sheet, keys), self.range(sheet, amounts), strict=True)
            return sum(v for k, v in pairs if k == criterion)
        if match := re.fullmatch(r"SUM\((.+)\)", text):
            return sum(self.range(sheet, match.group(1)))
        numbers = re.sub(
            r"(?:'([^']+)'!)?([A-Z]+\d+)", lambda m: repr(float(self.value(m[1] or sheet, m[2]))), text
        )
        assert re.fullmatch(r"[-+*/().0-9e]+", numbers), numbers
        return eval(numbers)

    def range(self, sheet: str, text: str) -> list[Any]:
        match = re.fullmatch(r"(?:'([^']+)'!)?([A-Z]+)(\d+):\2(\d+)", text)
        assert match, text
        other, column, first, last = match.groups()
        return [self.value(other or sheet, f"{column}{n}") for n in range(int(first), int(last) + 1)]


def test_workbook_adds_up_and_follows_its_build_ups(tmp_path: Path, metre_site: Site) -> None:
    made = gt.quantities(metre_site, hole=1)
    materials = made["materials"]
    path = write_workbook(tmp_path / "q.xlsx", made["quantities"], materials)
    sheets = Sheets(path)
    names = {r[0].value: n for n, r in enumerate(sheets.book["By material"].iter_rows(), 1)}
    sums = materials.groupby("material")
    for material, column in (
        ("rootzone mix", "material_volume_m3"),
        ("bunker sand", "material_volume_m3"),
        ("drains", "drain_length_m"),
        ("turf or seed", "area_m2"),
    ):
        expected = float(sums.get_group(material)[column].sum())
        assert sheets.value("By material", f"B{names[material]}") == pytest.approx(expected, abs=0.2)
    before = sheets.value("By material", f"B{names['rootzone mix']}")
    assert sheets.book["Build-ups"]["B2"].value == "rootzone mix"
    assert "published" in sheets.book["Build-ups"]["E2"].value
    sheets.book["Build-ups"]["D2"] = 0.45
    assert sheets.value("By material", f"B{names['rootzone mix']}") == pytest.approx(1.5 * before)
    # a rate of 2 on every line: the total is twice the quantities, and a tenth of contingency
    priced = sheets.book["Areas and materials"]
    for number in range(2, len(materials) + 2):
        priced[f"G{number}"] = 2.0
    quantity = sum(sheets.range("Areas and materials", f"E2:E{len(materials) + 1}"))
    total = sheets.value("Areas and materials", f"H{len(materials) + 5}")
    assert total == pytest.approx(2 * quantity * 1.1)


def test_a_site_without_areas_gives_an_empty_workbook_that_opens(tmp_path: Path, metre_site: Site) -> None:
    made = gt.quantities(metre_site, hole=1)
    path = write_workbook(tmp_path / "q.xlsx", made["quantities"].iloc[:0], made["materials"].iloc[:0])
    assert openpyxl.load_workbook(path).sheetnames == [
        "Earthworks", "Areas and materials", "By material", "Build-ups", "Notes"
    ]  # fmt: skip


def test_totals_of_the_readme_are_those_of_the_workbook(tmp_path: Path, metre_site: Site) -> None:
    folder = gt.hand_off(metre_site, tmp_path / "out", hole=1)
    text = (folder / "README.txt").read_text(encoding="utf-8").split("MATERIALS")[1].split("CODES")[0]
    said = {m: (float(v), u) for m, v, u in re.findall(r"^  (.+): (\d+) (m[23]?)$", text, re.MULTILINE)}
    sheets = Sheets(folder / "quantities.xlsx")
    rows = list(sheets.book["By material"].iter_rows(min_row=2))
    assert len(rows) == len(said) > 5
    for row in rows:
        total = sheets.value("By material", row[1].coordinate)
        assert said[row[0].value][0] == pytest.approx(total, abs=0.51 + 0.05 * 20)  # areas to 0.1 m2 a line
        assert said[row[0].value][1] == row[2].value
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["materials"]
    assert {m["material"]: round(m["total"]) for m in manifest} == {m: v for m, (v, _) in said.items()}


LIBRE = shutil.which("soffice") or shutil.which("libreoffice")


@pytest.mark.skipif(LIBRE is None, reason="needs a spreadsheet program (LibreOffice)")
def test_a_spreadsheet_program_reads_the_same_totals(tmp_path: Path, metre_site: Site) -> None:
    """Opened, worked out and saved again by another program: its figures against the layers."""
    made = gt.quantities(metre_site, hole=1)
    earth, materials = made["quantities"], made["materials"]
    path = write_workbook(tmp_path / "q.xlsx", earth, materials)
    book = openpyxl.load_workbook(path)
    for name, rate in (("Earthworks", "E"), ("Areas and materials", "G")):
        for number in range(2, book[name].max_row - 3):
            book[name][f"{rate}{number}"] = 3.0
    book.save(path)
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    words = [LIBRE, profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir"]
    subprocess.run([*words, tmp_path / "again", path], check=True, capture_output=True, timeout=180)
    again = openpyxl.load_workbook(tmp_path / "again" / "q.xlsx", data_only=True)
    for row in again["By material"].iter_rows(min_row=2, values_only=True):
        rows = materials[materials["material"] == row[0]]
        column = {"m3": "material_volume_m3", "m": "drain_length_m", "m2": "area_m2"}[row[2]]
        assert row[1] == pytest.approx(rows[column].sum(), abs=0.06 * len(rows))
    shapes = earth[earth["shape_kind"] != "total"]
    expected = float(shapes[["topsoil_m3", "cut_m3", "fill_m3"]].clip(lower=0).sum().sum())
    for name, quantity, amount, total in (
        ("Earthworks", "C", "F", expected),
        ("Areas and materials", "E", "H", None),
    ):
        cells = {r[0].value: r for r in again[name].iter_rows()}
        values = [again[name][f"{quantity}{n}"].value for n in range(2, again[name].max_row - 3)]
        assert all(isinstance(v, float | int) for v in values)
        if total is not None:
            assert sum(values) == pytest.approx(total, abs=0.06 * len(values))
        left = ord(amount) - ord("A")
        assert cells["sub-total"][left].value == pytest.approx(3 * sum(values))
        assert cells["total"][left].value == pytest.approx(3.3 * sum(values))
    errors = [
        c.value for s in again for r in s.iter_rows() for c in r if str(c.value).startswith(("#", "Err:"))
    ]
    assert errors == []
