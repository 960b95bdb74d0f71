"""The report of what was built, its figures read from the PDF and compared with the layer."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pdfplumber
import pytest
from click.testing import CliRunner

from gistools.base.errors import InputError, WriteError
from gistools.cli.main import main
from gistools.sheets.drawings.write import write_as_built_report
from gistools.site.sample import sample_site
from gistools.steps.catalogue import need

SITE = sample_site()
PT_PER_MM = 72 / 25.4
ROW = re.compile(
    r"(\d{8}) (.+?) (\d+\.\d{3}) (\d+\.\d{3}) (\d+\.\d{3}) (\d+\.\d{3}) ([+-]\d\.\d{3}) (\d\.\d{3})"
)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All points of hole 1 built with an error of 30 mm, as an instrument writes them."""
    stakes = need(SITE, "setting_out", hole=1)["setting_out"]
    stakes = stakes[stakes["code"] != "LOP"]
    error = np.random.default_rng(3).normal(0, 0.03, len(stakes))
    path = tmp_path_factory.mktemp("back") / "measured.csv"
    path.write_text(
        "\n".join(
            f"{r.number},{r.geometry.y:.3f},{r.geometry.x:.3f},{r.proposed_level_m + e:.3f},{r.point}"
            for r, e in zip(stakes.itertuples(), error, strict=True)
        )
    )
    return path


@pytest.fixture(scope="module")
def report(measured: Path) -> tuple[list[pdfplumber.page.Page], pd.DataFrame, pd.DataFrame]:
    path = write_as_built_report(SITE, measured.with_name("built.pdf"), hole=1, points=str(measured))
    result = need(SITE, "as_built_check", hole=1, points=str(measured))
    return pdfplumber.open(path).pages, result["as_built_check"], result["as_built_summary"]


def test_points_outside_tolerance_are_listed_worst_first(report) -> None:
    pages, points, _ = report
    rows = [m.groups() for page in pages for m in ROW.finditer(all_rows(page))]
    outside = points[points["level_status"].isin(["high", "low"])].set_index("point")
    assert 20 < len(outside) < len(points)
    assert len(pages) > 1  # more than the first sheet holds
    assert {r[0] for r in rows} == set(outside.index) and len(rows) == len(outside)
    for number, feature, *figures in rows:
        row = outside.loc[number]
        assert row["feature"] == feature
        expected = [row.geometry.x, row.geometry.y, row["design_level_m"], row["measured_level_m"]]
        expected += [row["difference_m"], row["tolerance_m"]]
        assert [float(v) for v in figures] == pytest.approx(expected, abs=0.00051)
    sizes = [abs(float(r[6])) for r in rows]
    assert sizes == sorted(sizes, reverse=True)


def all_rows(page: pdfplumber.page.Page) -> str:
    """Text of the tables of a page, the left one before the right one."""
    middles = {1: 200, 2: 215}
    x = middles[page.page_number] * PT_PER_MM
    parts = page.crop((0, 0, x, page.height)), page.crop((x, 0, page.width, page.height))
    return "\n".join(part.extract_text() for part in parts)


def test_counts_equal_the_rows_of_the_layer(report) -> None:
    pages, points, summary = report
    text = " ".join(pages[0].extract_text().split())
    count = points["level_status"].value_counts()
    assert f"{len(points)} points measured: {count['within']} within tolerance" in text
    assert f"within: {count['within']} points" in text and f"high: {count['high']} points" in text
    for row in summary.to_dict("records"):
        within = row["points_count"] - row["outside_count"] - row["unknown_count"]
        figures = f"{row['points_count']} {within} {row['outside_count']} {row['unknown_count']}"
        figures += (
            f" {row['mean_difference_m']:+.3f} {row['worst_difference_m']:+.3f} {row['tolerance_m']:.3f}"
        )
        assert f"{row['feature']} {figures}" in text
    assert "greens 0.013 m" in text and "licensed surveyor" in text
    for words in (*SITE.title_block.values(), "Hole 1, Haar: As built against design"):
        assert words in text


def test_points_outside_stand_on_the_plan_to_scale(report) -> None:
    """Distances between the triangles on paper are those of the ground, to 0.05 mm."""
    pages, points, _ = report
    scale = int(re.search(r"1:(\d+) at A3", pages[0].extract_text()).group(1))  # type: ignore[union-attr]
    shapes = [c for c in pages[0].curves if c["fill"] and len(c["pts"]) == 4 and abs(c["width"] - 4) < 0.1]
    marks = np.array([[(c["x0"] + c["x1"]) / 2, (c["y0"] + c["y1"]) / 2] for c in shapes]) / PT_PER_MM
    marks = marks[marks[:, 1] > 52]  # those of the legend are below
    outside = points[points["level_status"].isin(["high", "low"])].geometry
    ground = np.column_stack([outside.x, outside.y]) * 1000 / scale
    assert len(marks) == len(ground)
    apart = [
        np.sort(np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1)), axis=None) for p in (ground, marks)
    ]
    assert np.abs(apart[0] - apart[1]).max() < 0.05


def test_worst_of_crowded_points_keeps_its_figure(tmp_path: Path) -> None:
    """Two points half a metre apart on the green: at this scale there is room for one figure."""
    x, y = SITE.layer("greens", 1).geometry.iloc[0].centroid.coords[0]
    level = float(SITE.surface().height(x, y))
    path = tmp_path / "two.csv"
    path.write_text(
        f"a,{y},{x},{level + 0.111},GRN\nb,{y},{x + 0.5},{level + 0.222},GRN\n"
        f"far,{y - 300},{x - 50},{float(SITE.surface().height(x - 50, y - 300)):.3f},ROUGH\n"
    )
    report = write_as_built_report(SITE, tmp_path / "two.pdf", hole=1, points=str(path))
    on_plan = pdfplumber.open(report).pages[0].extract_text().split("Features (differences")[0]
    points = need(SITE, "as_built_check", hole=1, points=str(path))["as_built_check"].set_index("point")
    assert set(points["level_status"]) == {"high", "within"}
    assert re.findall(r"[+-]\d\.\d{3}", on_plan) == [f"{points.loc['b', 'difference_m']:+.3f}"]


def test_a_point_off_the_ground_is_named_and_shrinks_no_plan(measured: Path, tmp_path: Path) -> None:
    east, north = SITE.ground.bounds[2:]  # type: ignore[union-attr]
    green = [line for line in measured.read_text().splitlines() if "GRN" in line]
    (tmp_path / "back.csv").write_text("\n".join([*green, f"lost7,{north + 90},{east + 90},10,GRN1-001"]))
    path = write_as_built_report(SITE, tmp_path / "b.pdf", points=str(tmp_path / "back.csv"))
    page = pdfplumber.open(path).pages[0]
    strip = page.crop((0, page.height - 52 * PT_PER_MM, 116 * PT_PER_MM, page.height))
    assert "1 where there is no design level. Without one: lost7." in " ".join(strip.extract_text().split())
    assert "1:500 at A3" in page.extract_text()


def test_a_report_never_replaces_unasked_and_is_a_pdf(measured: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no measured points"):
        write_as_built_report(SITE, tmp_path / "a.pdf")
    with pytest.raises(InputError, match=r"should end in \.pdf"):
        write_as_built_report(SITE, tmp_path / "a.html", points=str(measured))
    (tmp_path / "a.pdf").write_text("kept")
    with pytest.raises(WriteError, match=r"already has a\.pdf"):
        write_as_built_report(SITE, tmp_path / "a.pdf", points=str(measured))
    assert (tmp_path / "a.pdf").read_text() == "kept"


def test_command_writes_layer_and_report(measured: Path, tmp_path: Path) -> None:
    site = str(tmp_path / "m.gpkg")
    assert CliRunner().invoke(main, ["sample", site]).exit_code == 0
    words = ["as_built_check", site, "--points", str(measured), "--report", str(tmp_path / "b.pdf")]
    done = CliRunner().invoke(main, [*words, "--green-m", "0.5"])
    assert done.exit_code == 0, done.output
    text = pdfplumber.open(tmp_path / "b.pdf").pages[0].extract_text()
    assert "greens 0.500 m" in text and "report written" in done.output
    assert " 0.025 " in done.output  # the terminal shows tolerances and differences to the millimetre
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 2 and "already has b.pdf" in again.output


def test_points_off_their_stakes_have_distance_and_direction(tmp_path: Path) -> None:
    """Offsets put in by hand stand in the table, the farthest first, and are counted by feature."""
    stakes = need(SITE, "setting_out", hole=1)["setting_out"]
    green = stakes[stakes["code"] == "GRN"].iloc[:12]
    east = np.linspace(0.02, 0.31, len(green))
    path = tmp_path / "m.csv"
    path.write_text(
        "\n".join(
            f"{k},{r.geometry.y - 0.5 * e:.4f},{r.geometry.x + e:.4f},{r.proposed_level_m:.3f},{r.point}"
            for k, (r, e) in enumerate(zip(green.itertuples(), east, strict=True))
        )
    )
    report = write_as_built_report(SITE, tmp_path / "b.pdf", hole=1, points=str(path))
    text = pdfplumber.open(report).pages[0].extract_text()
    listed = re.findall(r"(GRN\d+-\d{3}) Haar \S+ \S+ ([+-]\S+) ([+-]\S+) (\S+) 0\.100", text)
    far = np.hypot(east, 0.5 * east) > 0.1
    expected = list(zip(green["point"][far], east[far], strict=True))[::-1]
    assert [name for name, *_ in listed] == [name for name, _ in expected]
    for (_, *figures), (_, e) in zip(listed, expected, strict=True):
        assert [float(v) for v in figures] == pytest.approx([e, -0.5 * e, 1.118 * e], abs=0.0015)
    assert f"{far.sum()} of 12" in text and f"off its stake: {far.sum()} points" in text
