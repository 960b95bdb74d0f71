"""The page in a real browser.

It runs, follows the choices, asks nothing of the network and shows names as text.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

from gistools.sheets import page as pages
from gistools.sheets.page import write_sheets
from gistools.sheets.plan import draw
from gistools.sheets.results import HoleResults, collect_results
from gistools.site.model import Site
from tests.conftest import plane, straight_tables

playwright = pytest.importorskip("playwright.sync_api")
BROWSER = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(not BROWSER, reason="no chromium on this machine")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=BROWSER, args=FLAGS)
        yield running
        running.close()


@pytest.fixture
def page_file(
    straight_site: Site, results: HoleResults, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    monkeypatch.setattr(pages, "collect_results", lambda site, hole, progress=None, **_: results)
    return write_sheets(straight_site, to=tmp_path)[0]


class Opened:
    """A page in the browser, with what it complained of and asked for."""

    def __init__(self, browser: Any, path: Path, **how: Any) -> None:
        self.context = browser.new_context(**how)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda m: self.complaints.append(m.text))
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("request", lambda r: self.asked.append(r.url))
        self.page.goto(path.as_uri())
        self.page.wait_for_selector("html[data-ready=yes]")
        self.page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")

    def pick(self, **choices: str) -> None:
        for name, value in choices.items():
            self.page.select_option(f"#pick-{name}", value)

    def cells(self, table: str) -> list[list[str]]:
        rows = self.page.query_selector_all(f"[data-table={table}]:not([data-part]) tbody tr")
        return [[c.inner_text() for c in r.query_selector_all("th, td")] for r in rows]


@pytest.fixture
def opened(browser: Any, page_file: Path) -> Iterator[Opened]:
    one = Opened(browser, page_file)
    yield one
    assert one.complaints == []
    assert [u for u in one.asked if not u.startswith(("file:", "data:"))] == []
    one.context.close()


def test_ranks_follow_the_choices(opened: Opened) -> None:
    # the figures of the hand-made layer in conftest.py, ordered by their rank: zone, rank, level, score
    assert [r[0] for r in opened.cells("where_to_play")] == ["short", "beyond"]
    assert [r[3] for r in opened.cells("where_to_play")] == ["4.02", "4.11"]
    opened.pick(pin="back")
    assert [r[0] for r in opened.cells("where_to_play")] == ["beyond", "short"]
    assert "beyond, 4.13 strokes" in opened.page.inner_text("#said")
    opened.pick(player="bogey man")
    assert [r[3] for r in opened.cells("where_to_play")] == ["5.20", "5.40"]
    assert "Reading number 7." in opened.page.inner_text("#cards")


def test_figures_are_rounded_as_on_the_terminal(opened: Opened) -> None:
    """Halves go to the even figure; what is no half in binary does not count as one."""
    source = (Path(pages.__file__).parent / "templates" / "page.js").read_text(encoding="utf-8")
    written = re.search(r"const fixed = (\(v, d = 0\) => \{.*?\n  \});", source, re.DOTALL).group(1)
    cases = [(62.5, 0), (63.5, 0), (-1.5, 0), (0.25, 1), (0.35, 1), (4.45, 1), (2.125, 2), (1.005, 2)]
    shown = opened.page.evaluate(f"(cases) => cases.map(([v, d]) => ({written})(v, d))", cases)
    assert shown == [f"{v:.{d}f}" for v, d in cases]


def test_lengths_change_unit(opened: Opened) -> None:
    assert "203" in opened.cells("carries")[0]
    assert opened.page.text_content("#over .t-carry >> nth=0").endswith(" 203 m")
    opened.pick(units="yd")
    assert "222" in opened.cells("carries")[0]  # 202.8 m / 0.9144
    assert opened.page.text_content("#over .t-carry >> nth=0").endswith(" 222 yd")
    assert "yd" in opened.page.inner_text("[data-table=carries] thead")
    assert "blocked by 2.1 ft" in opened.page.inner_text("#sights")  # 0.63 m / 0.3048
    assert "131 yd, playing 132 yd" in opened.page.inner_text("#cards")  # 120 and 121 m


def test_plan_and_map_follow_the_choices(opened: Opened) -> None:
    assert opened.page.query_selector("#under image") is None
    opened.pick(shade="flag_views")
    front = opened.page.get_attribute("#under image", "href")
    assert opened.page.is_visible("#scale")
    opened.pick(pin="back")
    assert opened.page.get_attribute("#under image", "href") not in (None, front)
    assert opened.page.text_content("#over .o-zone.first title") == "beyond"
    zones = opened.page.query_selector_all("#over .o-zone")
    assert len(zones) == 2


def test_the_map_tells_the_value_under_the_pointer(opened: Opened, results: HoleResults) -> None:
    opened.pick(shade="flag_views")
    opened.page.wait_for_timeout(100)
    raster = results.maps[0]
    output = payload_view(opened)
    # the hole plays due north from (0, 0): page x is the northing, page y the easting
    for north in (211.0, 241.0, 281.0):
        x, y = output(north, 5.0)
        opened.page.mouse.move(x, y)
        value = raster.values[int((raster.y_north - north) / 2), int((5.0 - raster.x_west) / 2)]
        words = opened.page.inner_text("#here")
        shown = float(words.split("about ")[1].split()[0])
        assert abs(shown - value) < 2.5, (north, words)
    opened.page.mouse.move(*output(20.0, 5.0))
    assert opened.page.inner_text("#here") == ""


def payload_view(opened: Opened) -> Any:
    """Return a function from page metres to screen pixels."""
    opened.page.evaluate("document.querySelector('form.choose').style.position = 'static'")
    opened.page.query_selector("#plan .wide svg").scroll_into_view_if_needed()
    box = opened.page.query_selector("#plan .wide svg").bounding_box()
    west, north, east, _ = opened.page.evaluate(
        "JSON.parse(document.getElementById('figures').textContent).view"
    )
    scale = (box["width"] - 2) / (east - west)
    return lambda x, y: (box["x"] + 1 + (x - west) * scale, box["y"] + 1 + (y - north) * scale)


def test_sections_and_shots_follow_the_zone_played_to(opened: Opened) -> None:
    # front pin, first choice short: the hand-made ground is 0.63 m above the line of sight
    assert "blocked by 0.6 m" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-shot title") == "iron: 90 % finish inside"
    opened.pick(pin="back")
    assert "clears the ground by 0.5 m" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-shot title") == "driver: 90 % finish inside"
    opened.pick(zone="short")
    assert "No approach section" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-zone.first title") == "short"
    opened.pick(player="bogey man")
    assert opened.page.query_selector("#over .o-shot") is None
    assert "Long section" in opened.page.inner_text("#long")


def test_print_is_one_landscape_a3_board_and_an_appendix(board: Opened, tmp_path: Path) -> None:
    """Plan, matrix, reasons, green and section on the first sheet, tables behind it; closed again after."""
    path = tmp_path / "print.pdf"
    shut = "document.querySelectorAll('details').forEach((d) => { d.open = false; })"
    board.page.evaluate(shut)
    board.page.pdf(path=path, prefer_css_page_size=True)
    assert not board.page.query_selector_all("details[open]")
    sheets = pdfplumber.open(path).pages
    assert {(round(s.width), round(s.height)) for s in sheets} == {(1191, 842)}
    first, after = sheets[0].extract_text(), "".join(s.extract_text() for s in sheets[1:])
    for words in (
        "Because, at",
        "Rank, expected score",
        "hole location",
        "Contours every",
        "Vertical exaggeration",
    ):
        assert words in first, words
    assert "The shot at each zone, and what it leaves" in after and "Cautions" in after
    assert "The shot at each zone" not in first and len(sheets) <= 5


def test_names_are_text(opened: Opened, results: HoleResults) -> None:
    name = results.tables["carries"]["feature"][0]
    assert "<script>" in name
    assert opened.cells("carries")[0][0] == name
    assert opened.page.evaluate("document.querySelectorAll('script').length") == 2
    assert "Strand <b>house</b>" in opened.page.inner_text("[data-table=setback_conflicts]")


def test_what_was_not_computed_says_why(opened: Opened) -> None:
    assert "the site has nothing in `brief`" in opened.page.inner_text("#brief")
    assert "Not computed" in opened.page.inner_text("#shots")


def test_everything_is_reached_by_keyboard(opened: Opened) -> None:
    opened.page.keyboard.press("Tab")
    assert opened.page.evaluate("document.activeElement.className") == "skip"
    seen = []
    for _ in range(7):
        opened.page.keyboard.press("Tab")
        seen.append(opened.page.evaluate("document.activeElement.name"))
    assert seen == ["tee", "player", "wind", "pin", "zone", "shade", "units"]
    opened.page.focus("#pick-pin")
    opened.page.keyboard.press("ArrowDown")
    assert "back hole location" in opened.page.inner_text("#said")


def test_every_choice_and_table_is_labelled(opened: Opened) -> None:
    unlabelled = opened.page.evaluate(
        "[...document.querySelectorAll('select')].filter(s => !s.labels.length).length"
    )
    assert unlabelled == 0
    for table in opened.page.query_selector_all("table"):
        assert table.query_selector("caption").inner_text()
        assert all(h.get_attribute("scope") for h in table.query_selector_all("th"))
    for svg in opened.page.query_selector_all("svg[role=img]"):
        assert svg.query_selector("title").text_content()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_does_not_scroll_sideways(browser: Any, page_file: Path, scheme: str) -> None:
    phone = Opened(browser, page_file, viewport={"width": 375, "height": 700}, color_scheme=scheme)
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 375
    paper = phone.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert paper == ("rgb(251, 250, 245)" if scheme == "light" else "rgb(18, 24, 26)")
    phone.context.close()


PLAN = ("lines_of_play", "lengths", "carries", "corridors", "zones", "setbacks", "sections")


@pytest.fixture
def measured(browser: Any, straight_site: Site, tmp_path: Path) -> Iterator[Any]:
    """Open pages of the straight hole as the steps themselves measure it."""
    results = collect_results(straight_site, 1, PLAN)
    path = tmp_path / "hole_1.html"
    path.write_text(pages.page(straight_site, results, draw(straight_site, 1, results)), encoding="utf-8")
    opened: list[Opened] = []

    def go(**how: Any) -> Opened:
        opened.append(Opened(browser, path, **how))
        return opened[-1]

    yield go
    for one in opened:
        assert one.complaints == []
        one.context.close()


def test_without_a_ranking_the_first_zone_is_played_to(measured: Any) -> None:
    opened = measured()
    options = opened.page.query_selector_all("#pick-zone option")
    first = options[0].get_attribute("value")
    assert first and len(options) > 1
    assert opened.page.text_content("#over .o-zone.first title") == first
    assert f"From the middle of {first}" in opened.page.inner_text("#sights")
    assert "No ranking" in opened.page.inner_text("#said")


#: columns that say which row it is
ROW_KEYS = {"zone", "from_zone", "feature", "pin", "about"}


@pytest.fixture(scope="module")
def played() -> tuple[Site, HoleResults]:
    """The straight hole and its page's results, played out on a coarse mesh."""
    site = Site.from_tables(straight_tables(), 27700, plane()).with_settings(mesh_cell_m=10.0)
    return site, collect_results(
        site, 1, (*PLAN, "slopes", "flag_views", "tee_shots", "where_to_play"), full=True
    )


@pytest.fixture
def board(browser: Any, played: tuple[Site, HoleResults], tmp_path: Path) -> Iterator[Opened]:
    path = tmp_path / "hole_1.html"
    path.write_text(pages.page(*played, draw(played[0], 1, played[1])), encoding="utf-8")
    one = Opened(browser, path)
    yield one
    assert one.complaints == []
    one.context.close()


@pytest.mark.parametrize("player", ["scratch man", "bogey man"])
def test_figures_on_the_page_are_those_of_the_layer(
    board: Opened, played: tuple[Site, HoleResults], player: str
) -> None:
    """Matrix, tables and plan show the one shot of the layer for each zone and hole location."""
    board.pick(player=player, pin="back")
    layer = played[1].table("where_to_play")
    rows = layer[(layer["player"] == player) & (layer["pin"] == "back")]
    shown = board.page.evaluate(
        """[...document.querySelectorAll("[data-table=where_to_play] table")].map((t) => ({
          columns: [...t.tHead.rows[0].cells].map((c) => c.dataset.column.split(".")[1]),
          rows: [...t.tBodies[0].rows].map((r) => [...r.cells].map((c) => c.textContent)) }))"""
    )
    assert len(shown) == 4
    compared = 0
    for table in shown:
        for cells in table["rows"]:
            row = dict(zip(table["columns"], cells, strict=True))
            start = row.get("from_zone", "").replace("–", "")
            card = rows[(rows["zone"] == row["zone"]) & (rows["from_zone"] == start)].iloc[0]
            for column, text in row.items():
                value = card[column]
                if isinstance(value, float) and text != "–":
                    text = text.replace("−", "-")
                    digits = len(text.partition(".")[2])
                    assert abs(float(text) - value) <= 0.5 * 10**-digits + 1e-9, (column, text, value)
                    compared += 1
                elif isinstance(value, str):
                    assert text.replace("–", "") == value, column
    assert compared > 60
    first = rows[(rows["shot_number"] == 1) & (rows["rank"] == 1)].iloc[0]
    chosen = board.page.inner_text(f"#matrix table:first-of-type tbody tr:nth-child({first['zone_number']})")
    assert f"{first['total_strokes']:.2f}" in chosen and first["next_club"] in chosen
    ellipse = board.page.query_selector("#over .o-shot")
    assert float(ellipse.get_attribute("rx")) * 2 == pytest.approx(first["ellipse_length_m"], abs=0.02)
    assert float(ellipse.get_attribute("cx")) == pytest.approx(first["geometry"].y, abs=0.06)
    assert first["club"] in ellipse.text_content()
    assert first["reading"] in board.page.inner_text("#cards")


def test_no_two_figures_have_one_label(board: Opened) -> None:
    labels: dict[str, set[str]] = {}
    for title, column in board.page.evaluate(
        "[...document.querySelectorAll('th[data-column]')].map("
        "(t) => [t.childNodes[0].textContent, t.dataset.column])"
    ):
        if column.split(".")[1] not in ROW_KEYS:
            labels.setdefault(title, set()).add(column)
    assert len(labels) > 60
    assert {title: columns for title, columns in labels.items() if len(columns) > 1} == {}
    captions = [c.inner_text() for c in board.page.query_selector_all("caption")]
    assert len(captions) == len(set(captions))


def test_the_green_is_drawn_large_with_the_next_shots(
    board: Opened, played: tuple[Site, HoleResults]
) -> None:
    layer = played[1].table("where_to_play")
    rows = layer[
        (layer["player"] == "scratch man") & (layer["pin"] == "front") & layer["window_from_m"].notna()
    ]
    assert len(board.page.query_selector_all("#inset .o-arrow")) == (rows["shot_number"] == 1).sum() > 0
    words = board.page.text_content("#arrows")
    assert "front" in words and "back" in words
    for card in rows[rows["shot_number"] == 1].itertuples():
        assert f"{card.zone_number}: {card.effective_distance_m:.0f} m, {card.next_club}" in words


def test_ellipses_are_whole_on_the_plan(board: Opened) -> None:
    inside = """(() => { const s = document.querySelector("#over").ownerSVGElement.getBoundingClientRect();
      return [...document.querySelectorAll("#over .o-shot")].map((e) => {
        const on = e.getScreenCTM(), long = e.getTotalLength();
        return [...Array(40).keys()].every((k) => {
          const p = e.getPointAtLength((k * long) / 40).matrixTransform(on);
          return p.x > s.left && p.x < s.right && p.y > s.top && p.y < s.bottom; }); }); })()"""
    for player in ("scratch man", "bogey man"):
        board.pick(player=player)
        whole = board.page.evaluate(inside)
        assert whole and all(whole)


def test_setbacks_are_drawn_when_asked_for(measured: Any) -> None:
    opened = measured()
    assert opened.page.query_selector("#under .o-back") is None
    opened.pick(shade="setbacks")
    expected = opened.page.evaluate(
        "JSON.parse(document.getElementById('figures').textContent).setbacks.length"
    )
    assert expected > 3 and len(opened.page.query_selector_all("#under .o-back")) == expected
    assert "Guidance only" in opened.page.inner_text("#scale")
    opened.pick(shade="")
    assert opened.page.query_selector("#under .o-back") is None and not opened.page.is_visible("#scale")


def test_section_names_what_it_crosses(measured: Any) -> None:
    opened = measured()
    # the burn crosses (0, 200) at 45 degrees and is 4 m wide: 200 -/+ 2 * sqrt(2) along the line
    assert opened.page.text_content("#long .c-burns title") == "Test Burn: 197 m to 203 m"
    assert "Test Burn" in opened.page.inner_text("#long") and "green" in opened.page.inner_text("#long")
    opened.pick(units="yd")
    assert opened.page.text_content("#long .c-burns title") == "Test Burn: 216 yd to 222 yd"


def test_on_a_phone_play_runs_up_the_page_and_words_stay_level(measured: Any) -> None:
    phone = measured(viewport={"width": 375, "height": 700})
    box = {
        name: phone.page.evaluate(
            f"(() => {{ const b = document.querySelector('{css}').getBoundingClientRect();"
            " return [b.x + b.width / 2, b.y + b.height / 2, b.width, b.height]; })()"
        )
        for name, css in (
            ("tee", "#plan .g-tees path"),
            ("green", "#plan .g-greens path"),
            ("word", "#over text"),
        )
    }
    assert box["green"][1] < box["tee"][1] - 200 and abs(box["green"][0] - box["tee"][0]) < 5
    assert box["word"][2] > box["word"][3]
    phone.page.set_viewport_size({"width": 1200, "height": 800})
    phone.page.wait_for_timeout(100)
    wide = [
        phone.page.evaluate(f"document.querySelector('#plan .g-{n} path').getBoundingClientRect().x")
        for n in ("tees", "greens")
    ]
    assert wide[1] > wide[0] + 200
    assert phone.page.query_selector("#over text").get_attribute("transform") is None


def checker() -> str:
    """Script of the accessibility checker axe-core.

    Of the package in the test extra, or what AXE_CORE names.
    """
    results = find_spec("axe_playwright_python")
    places = list(results.submodule_search_locations or []) if results else []
    return os.environ.get("AXE_CORE", "") or (str(Path(places[0]) / "axe.min.js") if places else "")


AXE = checker()


@pytest.mark.skipif(not AXE, reason="the accessibility checker axe-core is not installed")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["hole_1.html", "index.html"])
def test_an_accessibility_checker_finds_nothing(
    browser: Any, page_file: Path, scheme: str, name: str
) -> None:
    context = browser.new_context(color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    page.goto(page_file.with_name(name).as_uri())
    page.add_script_tag(path=AXE)
    results = page.evaluate("axe.run(document)")
    assert [(v["id"], v["impact"]) for v in results["violations"]] == []
    assert len(results["passes"]) > 20
    context.close()
