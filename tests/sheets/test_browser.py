"""The page in a real browser.

It runs, follows the choices, asks nothing of the network and shows names as text.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from gistools.sheets import page as pages
from gistools.sheets.page import write_sheets
from gistools.sheets.plan import draw
from gistools.sheets.results import HoleResults, collect_results
from gistools.site.model import Site

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

    def pick(self, **choices: str) -> None:
        for name, value in choices.items():
            self.page.select_option(f"#pick-{name}", value)

    def cells(self, table: str) -> list[list[str]]:
        rows = self.page.query_selector_all(f"[data-table={table}] tbody tr")
        return [[c.inner_text() for c in r.query_selector_all("th, td")] for r in rows]


@pytest.fixture
def opened(browser: Any, page_file: Path) -> Iterator[Opened]:
    one = Opened(browser, page_file)
    yield one
    assert one.complaints == []
    assert [u for u in one.asked if not u.startswith(("file:", "data:"))] == []
    one.context.close()


def test_ranks_follow_the_choices(opened: Opened) -> None:
    # the figures of the hand-made layer in conftest.py, ordered by their rank
    assert [r[0] for r in opened.cells("positions")] == ["short", "beyond"]
    assert [r[-1] for r in opened.cells("positions")] == ["4.02", "4.11"]
    opened.pick(pin="back")
    assert [r[0] for r in opened.cells("positions")] == ["beyond", "short"]
    assert "beyond, 4.13 strokes" in opened.page.inner_text("#said")
    opened.pick(player="bogey man")
    assert [r[-1] for r in opened.cells("positions")] == ["5.20", "5.40"]
    assert "Beyond: Reading number 7." in opened.page.inner_text("#ranks")


def test_lengths_change_unit(opened: Opened) -> None:
    assert "203" in opened.cells("carries")[0]
    assert opened.page.text_content("#over .t-carry >> nth=0") == "203 m"
    opened.pick(units="yd")
    assert "222" in opened.cells("carries")[0]  # 202.8 m / 0.9144
    assert opened.page.text_content("#over .t-carry >> nth=0") == "222 yd"
    assert "yd" in opened.page.inner_text("[data-table=carries] thead")


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
    box = opened.page.query_selector("#plan .wide svg").bounding_box()
    west, north, east, _ = opened.page.evaluate(
        "JSON.parse(document.getElementById('figures').textContent).view"
    )
    scale = (box["width"] - 2) / (east - west)
    return lambda x, y: (box["x"] + 1 + (x - west) * scale, box["y"] + 1 + (y - north) * scale)


def test_sections_and_shots_follow_the_zone_played_to(opened: Opened) -> None:
    # front pin, first choice short: the hand-made ground is 0.63 m above the line of sight
    assert "blocked by 0.6 m" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-shot title") == "iron: 90 % finish"
    opened.pick(pin="back")
    assert "clears the ground by 0.5 m" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-shot title") == "driver: 90 % finish"
    opened.pick(zone="short")
    assert "No approach section" in opened.page.inner_text("#sights")
    assert opened.page.text_content("#over .o-zone.first title") == "short"
    opened.pick(player="bogey man")
    assert opened.page.query_selector("#over .o-shot") is None
    assert "Long section" in opened.page.inner_text("#long")


def test_names_are_text(opened: Opened, results: HoleResults) -> None:
    name = results.tables["carries"]["feature"][0]
    assert "<script>" in name
    assert opened.cells("carries")[0][0] == name
    assert opened.page.evaluate("document.querySelectorAll('script').length") == 2
    assert "Strand <b>house</b>" in opened.page.inner_text("[data-table=setback_conflicts]")


def test_what_was_not_computed_says_why(opened: Opened) -> None:
    assert "the site has nothing in `brief`" in opened.page.inner_text("#brief")
    assert "Not computed" in opened.page.inner_text("#approach")


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
