"""Drawings to scale, measured on the paper itself: sizes, scales, what they show, and what they refuse."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.errors import InputError, WriteError
from gistools.sheets.drawings import paper as sheet_paper
from gistools.sheets.drawings.board import _shot
from gistools.sheets.drawings.cross_sections import STEP_M, cross_sections, end_area_volumes
from gistools.sheets.drawings.ground import Subject, draw_relief
from gistools.sheets.drawings.plans import _falls
from gistools.sheets.drawings.write import write_drawings
from gistools.site.proposed import proposed_site
from gistools.site.sample import sample_site
from gistools.steps.catalogue import need

SITE = sample_site()
PT_PER_MM = 72 / 25.4
PIN_COLOUR = (0xB0 / 255, 0x41 / 255, 0x3E / 255)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    to = tmp_path_factory.mktemp("drawings")
    write_drawings(SITE, to=to, hole=1)
    return to


def page_of(path: Path, number: int = 0):
    return pdfplumber.open(path).pages[number]


def words_of(path: Path) -> str:
    return "\n".join("".join(c["text"] for c in page.chars) for page in pdfplumber.open(path).pages)


def filled(page, colour: tuple[float, float, float]) -> np.ndarray:
    """Centres [pt] of small filled shapes of a colour."""
    shapes = [c for c in page.curves if c["fill"] and np.allclose(c["non_stroking_color"], colour, atol=0.01)]
    return np.array([[(c["x0"] + c["x1"]) / 2, (c["y0"] + c["y1"]) / 2] for c in shapes if c["width"] < 12])


@pytest.mark.parametrize(
    "name, scale, size", [("setting_out", 500, "A1"), ("grading", 500, "A1"), ("green", 250, "A3")]
)
def test_distances_measured_on_the_paper_are_those_of_the_ground(folder, name, scale, size):
    """Hole locations stand on the page as far apart as on the ground, to 0.05 mm of paper."""
    page = page_of(folder / f"hole_1_{name}.pdf")
    wide, tall = sheet_paper.PAPERS_MM[size]
    assert page.width / PT_PER_MM == pytest.approx(wide, abs=0.01)
    assert page.height / PT_PER_MM == pytest.approx(tall, abs=0.01)
    assert f"1:{scale} at {size}" in page.extract_text()
    pins = SITE.layer("pins", 1).geometry
    ground = np.column_stack([pins.x, pins.y])
    marks = filled(page, PIN_COLOUR)
    assert len(marks) == len(ground)
    apart = [
        np.sort(np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1))[np.triu_indices(len(p), 1)])
        for p in (ground * 1000 / scale, marks / PT_PER_MM)
    ]
    assert np.abs(apart[0] - apart[1]).max() < 0.05


@pytest.mark.parametrize("hole", [1, 2, 3])
def test_the_green_of_a_board_is_drawn_at_the_scale_it_states(tmp_path, hole):
    """At 1:250 on the sample's holes; its hole locations, the larger marks, stand as far apart as that."""
    (path,) = write_drawings(SITE, to=tmp_path, hole=hole, drawings=["board"])
    page = page_of(path)
    assert "green 1:250 at A3" in page.extract_text()
    shapes = [
        c for c in page.curves if c["fill"] and np.allclose(c["non_stroking_color"], PIN_COLOUR, atol=0.01)
    ]
    largest = max(c["width"] for c in shapes)
    marks = [[c["x0"], c["top"]] for c in shapes if c["width"] > 0.9 * largest]
    pins = SITE.layer("pins", hole).geometry
    ground, marks = np.column_stack([pins.x, pins.y]) * 4.0, np.array(marks) / PT_PER_MM
    assert len(marks) == len(ground)
    apart = [np.sort(np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1)).ravel()) for p in (ground, marks)]
    assert np.abs(apart[0] - apart[1]).max() < 0.05


def test_play_runs_up_the_green_of_a_board():
    """The back of the green lies above its front, its right to the right; the view is the same ground."""
    subject = Subject.of(SITE, 1)
    up, pins = subject.upward, SITE.layer("pins", 1).set_index("pin").geometry
    spot = {name: np.array(up.frame.page(at.x, at.y), float) for name, at in pins.items()}
    for side in ("left", "right"):
        assert spot[f"back {side}"][1] < spot[f"front {side}"][1] - 5
    for end in ("front", "back"):
        assert spot[f"{end} left"][0] < spot[f"{end} right"][0] - 5
    assert up.bounds(up.view) == pytest.approx(subject.bounds(subject.view))


def test_scale_bar_is_as_long_as_it_says(folder):
    page = page_of(folder / "hole_1_green.pdf")
    bars = [r for r in page.rects if abs(r["height"] / PT_PER_MM - 1.4) < 0.01]
    long = (max(r["x1"] for r in bars) - min(r["x0"] for r in bars)) / PT_PER_MM
    assert long == pytest.approx(20 * 1000 / 250, abs=0.05) and "20 m" in page.extract_text()


def test_sections_have_two_true_scales_and_the_areas_they_state(folder):
    """Grid lines of 10 m stand 20 mm apart at 1:500, those of a metre of height 10 mm at 1:100."""
    page = page_of(folder / "hole_1_sections.pdf")
    assert "distances 1:500, heights 1:100 at A3" in page.extract_text()
    upright = sorted(
        {round(v["x0"], 2) for v in page.lines if abs(v["x0"] - v["x1"]) < 0.01 and v["height"] > 5}
    )
    gaps = np.diff(upright) / PT_PER_MM
    assert np.isclose(gaps, 20.0, atol=0.05).sum() >= 4
    level = sorted(
        {round(v["top"], 2) for v in page.lines if abs(v["top"] - v["bottom"]) < 0.01 and v["width"] > 200}
    )
    assert np.isclose(np.diff(level) / PT_PER_MM, 10.0, atol=0.05).sum() >= 3
    sections = cross_sections(SITE, 1)
    text = words_of(folder / "hole_1_sections.pdf")
    for section in sections:
        cut, fill = section.cut_fill_m2
        if fill > 0.05:
            assert f"Chainage {section.chainage_m:.0f}   cut {cut:.1f} m², fill {fill:.1f} m²" in text


def test_average_end_areas_agree_with_the_grid_volume():
    """Within 5 % of the quantities on the sample's mound, which three to four sections meet."""
    totals = need(SITE, "quantities", hole=1)["quantities"]
    total = totals[totals["shape_kind"] == "total"].iloc[0]
    cut, fill = end_area_volumes(cross_sections(SITE, 1))
    assert fill == pytest.approx(total["fill_m3"], rel=0.05)
    assert cut == pytest.approx(total["cut_m3"], abs=0.5)


def test_unshaped_hole_has_sections_along_its_whole_line():
    sections = cross_sections(SITE, 2)
    assert [s.chainage_m for s in sections] == list(np.arange(len(sections)) * STEP_M)
    assert all(s.cut_fill_m2 == (0.0, 0.0) for s in sections)


def test_plan_has_every_staked_feature_and_most_point_numbers(folder):
    text = words_of(folder / "hole_1_setting_out.pdf")
    stakes = need(SITE, "setting_out", hole=1)["setting_out"]
    subject = Subject.of(SITE, 1)
    x, _ = subject.frame.page(stakes.geometry.x.to_numpy(), stakes.geometry.y.to_numpy())
    inside = stakes[(x > subject.view[0]) & (x < subject.view[2])]
    for tag in set(inside.loc[inside["code"] != "LOP", "polyline_id"]):
        assert tag in text, tag
    numbers = re.findall(r"\d{3}", text)
    assert len(numbers) > 0.8 * (inside["code"] != "LOP").sum()


def test_legend_of_the_grading_plan_names_both_grounds(folder):
    text = words_of(folder / "hole_1_grading.pdf")
    for words in ("proposed contour", "existing contour", "fill", "cut", "line of play"):
        assert words in text


def test_title_block_says_whose_what_and_when(folder):
    text = words_of(folder / "hole_1_green.pdf")
    block = SITE.title_block
    for words in (
        *block.values(),
        "Hole 1, Haar: Green detail",
        "01-05",
        "British National Grid (EPSG:27700)",
    ):
        assert words in text
    assert "Not for construction" in text


def test_fonts_are_embedded(folder):
    for path in folder.glob("*.pdf"):
        assert b"/FontFile2" in path.read_bytes(), path.name


def test_a_plan_that_no_paper_holds_goes_on_over_sheets(tmp_path):
    (path,) = write_drawings(SITE, to=tmp_path, hole=1, drawings=["setting_out"], paper="A3")
    pages = pdfplumber.open(path).pages
    assert len(pages) >= 3
    assert "continues on sheet 2" in words_of(path)
    assert f"1 of {len(pages)}" in pages[0].extract_text()


@given(
    west=st.floats(-500, 500),
    wide=st.floats(20, 900),
    tall=st.floats(20, 400),
    scale=st.sampled_from([250, 500, 1000]),
    size=st.sampled_from(["A1", "A2", "A3", "A4"]),
)
def test_windows_cover_the_view(west, wide, tall, scale, size):
    view = (west, 0.0, west + wide, tall)
    parts = sheet_paper.windows(view, scale, size)
    room = [v * scale / 1000 for v in sheet_paper.field_of(size)]
    for x0, y0, x1, y1 in parts:
        assert x1 - x0 == pytest.approx(room[0]) and y1 - y0 == pytest.approx(room[1])
    for k in (0, 1):
        spans = sorted({(p[k], p[k + 2]) for p in parts})
        assert spans[0][0] <= view[k] + 1e-6 and spans[-1][1] >= view[k + 2] - 1e-6
        for before, after in pairwise(spans):
            assert before[1] - after[0] >= sheet_paper.OVERLAP_M - 1e-6


def test_smallest_paper_that_holds_the_plan():
    field = sheet_paper.field_of("A3")
    view = (0.0, 0.0, field[0] / 2, field[1] / 2)
    assert sheet_paper.paper_for(view, 500) == "A3"
    assert sheet_paper.paper_for((0.0, 0.0, view[2] + 1, view[3]), 500) == "A2"


def test_svg_and_png_are_a_file_for_each_sheet(tmp_path):
    paths = write_drawings(
        SITE, to=tmp_path, hole=1, drawings=["setting_out"], paper="A2", formats=["svg", "png"]
    )
    assert [p.suffix for p in paths].count(".svg") == [p.suffix for p in paths].count(".png") >= 2
    width = re.search(r'width="([\d.]+)pt"', paths[0].read_text(encoding="utf-8"))
    assert width and float(width[1]) / PT_PER_MM == pytest.approx(594, abs=0.01)


def test_board_without_a_study_says_what_is_missing(folder):
    text = words_of(folder / "hole_1_board.pdf")
    assert "this site has not been studied that far" in text and "plan 1:1500" in text


@pytest.mark.parametrize(
    "choice, words",
    [
        ({"drawings": ["elevation"]}, "there is no drawing 'elevation'"),
        ({"paper": "letter"}, "paper 'letter' is not known"),
        ({"scale": 0}, "1:0 cannot be drawn"),
        ({"formats": ["dwg"]}, "not dwg"),
        ({"hole": 9}, "no hole 9"),
    ],
)
def test_drawings_that_cannot_be_are_refused(tmp_path, choice, words):
    with pytest.raises(InputError, match=re.escape(words)):
        write_drawings(SITE, to=tmp_path, **choice)


def test_drawings_are_not_replaced_unasked(folder):
    with pytest.raises(WriteError, match=r"already has hole_1_green\.pdf"):
        write_drawings(SITE, to=folder, hole=1, drawings=["green"])


def test_without_terrain_plans_are_drawn_without_sections(tmp_path):
    import dataclasses

    bare = dataclasses.replace(SITE, ground=None, memo={})
    paths = write_drawings(bare, to=tmp_path, hole=2)
    assert "hole_2_sections.pdf" not in [p.name for p in paths] and len(paths) == 4
    assert "no terrain" in words_of(tmp_path / "hole_2_grading.pdf")


@pytest.fixture
def board_page(straight_site, results, tmp_path, monkeypatch):
    """The board of a hole whose results were written by hand."""
    monkeypatch.setattr("gistools.sheets.drawings.board.collect_results", lambda *_, **__: results)
    (path,) = write_drawings(straight_site, to=tmp_path, hole=1, drawings=["board"])
    return pdfplumber.open(path).pages


def test_figures_on_the_board_are_those_of_the_layer(board_page, results):
    """Every cell of the matrix of the first player, and the reason of each first choice; nobody else's."""
    text = "\n".join("".join(c["text"] for c in page.chars) for page in board_page[:1])
    table = results.table("where_to_play")
    shown, hidden = (table[table["player"] == who] for who in ("scratch man", "bogey man"))
    for row in shown.to_dict("records"):
        assert f"{row['rank']}   {row['total_strokes']:.2f}" in text
    assert not any(f"   {total:.2f}" in text for total in hidden["total_strokes"])
    assert "Where to play: scratch man, back tee, calm" in text
    assert "front: Short is first" in text and "back: Beyond is first" in text
    assert "1  short" in text and "2  beyond" in text and "90 % of the shots" in text


def test_ellipses_on_the_board_are_as_large_as_the_layer_says(board_page):
    """The shot at each zone, 40 m by 30 m, at the scale that the title block states."""
    page = board_page[0]
    scale = int(re.search(r"plan 1:(\d+)", "".join(c["text"] for c in page.chars))[1])
    colour = tuple(int("54378a"[k : k + 2], 16) / 255 for k in (0, 2, 4))
    curves = [c for c in page.curves if not c["fill"] and np.allclose(c["stroking_color"], colour, atol=0.01)]
    sizes = [
        (c["width"] / PT_PER_MM * scale / 1000, c["height"] / PT_PER_MM * scale / 1000)
        for c in curves
        if c["width"] > 10 and c["height"] > 10
    ]
    # the long axis lies square to play, which runs to the right
    assert len(sizes) == 2 and all(size == pytest.approx((30.0, 40.0), rel=0.02) for size in sizes)


def on_page(site, hole, view=None):
    """Axes on the ground of a hole, as a plan has them."""
    subject = Subject.of(site, hole)
    sheet = sheet_paper.Sheet("A3")
    view = view or subject.green_view
    return subject, view, sheet.window(sheet.field, view, 250)


@pytest.mark.parametrize("bearing", [0.0, 37.0, 120.0])
def test_the_long_axis_of_an_ellipse_points_where_it_should(bearing):
    """Half its length along the bearing on the ground is the end of its long axis on the page."""
    subject, _, axes = on_page(SITE, 1)
    at = SITE.layer("pins", 1).geometry.iloc[0]
    card = {"geometry": at, "ellipse_length_m": 40.0, "ellipse_width_m": 10.0, "axis_bearing_deg": bearing}
    _shot(axes, subject, card)
    (ellipse,) = axes.patches
    a = np.radians(bearing)
    end = np.array(subject.frame.page(at.x + 20 * np.sin(a), at.y + 20 * np.cos(a)), float)
    corners = ellipse.get_patch_transform().transform([(1.0, 0.0), (-1.0, 0.0)])
    assert min(np.hypot(*(corners - end).T)) < 1e-6


def test_relief_lies_under_the_ground_it_shades():
    subject, view, axes = on_page(SITE, 3)
    draw_relief(axes, subject, view)
    place = (SITE.layer("pins", 3).geometry.iloc[0].x, SITE.layer("pins", 3).geometry.iloc[0].y)
    drawn = axes.images[0].get_transform().transform(place)
    assert drawn == pytest.approx(axes.transData.transform(subject.frame.page(*place)), abs=1e-3)


def test_arrows_of_falls_point_down():
    """Each arrow of the green detail runs from higher to lower ground."""
    subject, _, axes = on_page(SITE, 1)
    surface = SITE.surface()
    _falls(axes, subject, surface, SITE.layer("greens", 1).geometry.iloc[0], 250)
    arrows = [t for t in axes.texts if t.get_text() == ""]
    sin, cos = subject.frame.sin_cos
    assert len(arrows) > 20
    for arrow in arrows:
        tip, tail = np.array(arrow.xy), np.array(arrow.xyann)
        ground = [
            float(surface.height(*(np.array([subject.frame.east, subject.frame.north]) + p)))
            for p in ((x * sin + y * cos, x * cos - y * sin) for x, y in (tail, tip))
        ]
        assert ground[1] < ground[0] + 0.01


def test_sections_look_towards_the_green():
    """Haar Knowe stands left of the line of play, so its fill lies at offsets below zero."""
    for section in cross_sections(SITE, 1):
        rise = section.proposed_m - section.existing_m
        touched = section.offset_m[np.abs(rise) > 0.01]
        assert not len(touched) or touched.mean() < -5


def test_a_site_in_feet_is_drawn_in_feet(tmp_path):
    """Paper is paper: distances at 1:250, levels and grid in US survey feet."""
    from tests.handoff.conftest import US_FEET, make_site

    site = make_site(US_FEET)
    (path,) = write_drawings(site, to=tmp_path, hole=1, drawings=["green"])
    text = words_of(path)
    assert "Levels and grid in US survey feet" in text and "Contours every 0.25 us-ft" in text
    page = page_of(path)
    (pin,) = site.layer("pins", 1).geometry
    green = site.layer("greens", 1).geometry.iloc[0]
    surface = proposed_site(site, hole=1).surface()
    shown = {float(v) for v in re.findall(r"\d+\.\d\d", text)}
    heights = surface.height(*np.array(green.buffer(-2).exterior.coords).T) / site.unit_m
    assert any(heights.min() - 3 < v < heights.max() + 3 for v in shown) and heights.min() > 40
    assert len(filled(page, PIN_COLOUR)) == 1 and pin.within(green)


def test_names_with_formula_marks_are_drawn_literally(tmp_path):
    """Marks of a formula language, a long name and another script; a text that is too long is cut."""
    site = SITE.replace(
        site=SITE.layer("site").assign(project="Берег $x^$ " * 20),
        greens=SITE.layer("greens").assign(name="$\\frac{1}$"),
        pins=SITE.layer("pins").assign(pin=[f"$_{k}" for k in range(len(SITE.layer("pins")))]),
    )
    names = ["board", "green", "setting_out", "grading"]
    paths = write_drawings(site, to=tmp_path, hole=1, drawings=names)
    assert all("Берег $x^$" in words_of(path) for path in paths)
    page = page_of(paths[1])
    assert max(c["x1"] for c in page.chars) / PT_PER_MM < sheet_paper.PAPERS_MM["A3"][0] - 10
    assert "$\\frac{1}$: Green detail" in words_of(paths[1])
