"""The page in a real browser: it runs, follows the choices, asks nothing of the network and shows names as text."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gistools.sheets import page as pages
from gistools.sheets.gather import Found
from gistools.sheets.page import write_sheets
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
def page_file(straight_site: Site, found: Found, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(pages, "gather", lambda site, hole, progress=None, **_: found)
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


def test_the_map_tells_the_value_under_the_pointer(opened: Opened, found: Found) -> None:
    opened.pick(shade="flag_views")
    opened.page.wait_for_timeout(100)
    raster = found.maps[0]
    told = payload_view(opened)
    # the hole plays due north from (0, 0): page x is the northing, page y the easting
    for north in (211.0, 241.0, 281.0):
        x, y = told(north, 5.0)
        opened.page.mouse.move(x, y)
        value = raster.values[int((raster.y_north - north) / 2), int((5.0 - raster.x_west) / 2)]
        words = opened.page.inner_text("#here")
        shown = float(words.split("about ")[1].split()[0])
        assert abs(shown - value) < 2.5, (north, words)
    opened.page.mouse.move(*told(20.0, 5.0))
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


def test_names_are_text(opened: Opened, found: Found) -> None:
    name = found.tables["carries"]["feature"][0]
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


AXE = os.environ.get("AXE_CORE", "")


@pytest.mark.skipif(not AXE, reason="AXE_CORE does not name the axe.min.js of npm's axe-core")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["hole_1.html", "index.html"])
def test_an_accessibility_checker_finds_nothing(
    browser: Any, page_file: Path, scheme: str, name: str
) -> None:
    context = browser.new_context(color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    page.goto(page_file.with_name(name).as_uri())
    page.add_script_tag(path=AXE)
    found = page.evaluate("axe.run(document)")
    assert [(v["id"], v["impact"]) for v in found["violations"]] == []
    assert len(found["passes"]) > 20
    context.close()
