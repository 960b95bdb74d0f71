"""The fourteen questions of a hole: page and board answer each at first sight, and no word covers another.

Hole 1 of the sample from its back tee, two players in two winds. Every answer is held against the layer.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from gistools.base.units import show_area, show_length
from gistools.sheets import page as pages
from gistools.sheets.drawings.board import board
from gistools.sheets.drawings.ground import Subject
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.plan import draw
from gistools.sheets.results import HoleResults, collect_results
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.steps.catalogue import find, keep_result, need
from gistools.steps.matrix import by_player
from tests.sheets.test_browser import Opened, browser  # noqa: F401
from tests.sheets.test_browser import pytestmark as in_a_browser

pytestmark = [in_a_browser, pytest.mark.slow]

STEPS = (
    "lines_of_play", "lengths", "carries", "zones", "slopes", "sections", "where_to_play", "landing_areas",
)  # fmt: skip
HIGH = 1000  # of a first screen [px]


@pytest.fixture(scope="module")
def studied() -> tuple[Site, HoleResults]:
    whole = sample_site()
    back = whole.layer("tees")[lambda t: (t["hole"] != 1) | (t["tee"] == "back")]
    site = whole.replace(tees=back.reset_index(drop=True)).with_settings(mesh_cell_m=10.0)
    for name in ("where_to_play", "landing_areas"):
        result = need(site, name, hole=1, players=("scratch man", "bogey man"))
        keep_result(site, find(name), {"hole": 1}, result)
    return site, collect_results(site, 1, STEPS, full=True)


@pytest.fixture(scope="module")
def layer(studied: tuple[Site, HoleResults]) -> pd.DataFrame:
    return studied[1].table("where_to_play")


@pytest.fixture(scope="module")
def screen(
    browser: Any,  # noqa: F811
    studied: tuple[Site, HoleResults],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Opened]:
    site, results = studied
    path = tmp_path_factory.mktemp("page") / "hole_1.html"
    path.write_text(pages.page(site, results, draw(site, 1, results)), encoding="utf-8")
    one = Opened(browser, path, viewport={"width": 1280, "height": HIGH})
    yield one
    assert one.complaints == []
    one.context.close()


@pytest.fixture(scope="module")
def sheets(studied: tuple[Site, HoleResults]) -> list[Any]:
    return [made[0] for made in board(Subject.of(studied[0], 1), "m", full=True)]


def best(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[rows["level_with_first"].astype(bool) | (rows["rank"] == 1)]


def first_of(rows: pd.DataFrame) -> Any:
    return rows[rows["rank"] == 1].iloc[0]


def with_word(rows: pd.DataFrame, column: str) -> Any:
    """Return the best ranked card of the board or page that has something in a column."""
    return rows[rows[column] != ""].sort_values("rank").iloc[0]


def name_of(zone: str) -> str:
    return zone[0].upper() + zone[1:]


#: question -> what answers it, in the words of page and board, from the cards of the chosen hole location
ANSWERS: dict[str, Callable[[pd.DataFrame], str]] = {
    "which is first, by how much": lambda rows: (
        f"{name_of(first_of(rows)['zone'])} is level with the best"
        if first_of(rows)["level_with_first"]
        else f"{name_of(first_of(rows)['zone'])} is first, {first_of(rows)['lead_strokes']:.2f} ahead"
    ),
    "how sure": lambda rows: "within 0.02",
    "why: its risk": lambda rows: with_word(rows, "hazards")["hazards"].split(" 1")[0].split(" 2")[0],
    "what must be carried": lambda rows: (
        f"over {first_of(rows)['shot_hazards_carried']} ({first_of(rows)['shot_must_carry_m']:.0f} m; "
        f"{first_of(rows)['shot_carried_pct']:.0f} % carry it)"
    ),
    "what wind and drop do": lambda rows: (
        f"carries {first_of(rows)['carry_mean_m']:.0f} m, playing {first_of(rows)['effective_carry_m']:.0f} m"
    ),
    "where it runs": lambda rows: f"it runs {first_of(rows)['shot_run_along_m']:.0f} m on",
    "what club is left": lambda rows: (
        f"playing {first_of(rows)['effective_distance_m']:.0f} m, {first_of(rows)['next_club']}"
    ),
    "what is seen": lambda rows: f"flag {first_of(rows)['flag_visibility']}",
    "what feeds": lambda rows: {
        "towards": "the ground feeds the ball in", "away": "the ground takes the ball away", "neither": "",
    }[first_of(rows)["feeds"]],
    "what holds, and from how much ground": lambda rows: (
        f"{first_of(rows)['hold_pct']:.0f} % hold the green; a landing on "
        f"{show_area(first_of(rows)['feed_area_m2'])} of ground"
    ),
    "which miss is playable or dead": lambda rows: (
        f"a miss is playable {first_of(rows)['playable_misses'].split(', ')[0]}"
    ),
}  # fmt: skip


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("question", ANSWERS)
@pytest.mark.parametrize("pin", ["front left", "back right"])
def test_the_first_screen_answers(screen: Opened, layer: pd.DataFrame, question: str, pin: str) -> None:
    wind = screen.page.input_value("#pick-wind")
    screen.pick(pin=pin, player="scratch man", tee="back")
    rows = layer[(layer["pin"] == pin) & (layer["player"] == "scratch man") & (layer["wind"] == wind)]
    answer = ANSWERS[question](rows[rows["shot_number"] == 1])
    assert answer in flat(screen.page.inner_text("#where"))
    assert screen.page.evaluate("document.querySelector('#where').getBoundingClientRect().bottom") <= HIGH


@pytest.mark.parametrize("question", ANSWERS)
def test_the_board_answers_each_question_with_the_layer(
    sheets: list[Any], layer: pd.DataFrame, question: str
) -> None:
    text = flat(" ".join(t.get_text() for t in sheets[0].paper.texts))
    wind = next(w for w in dict.fromkeys(layer["wind"]) if "prevailing" in w)
    rows = layer[(layer["player"] == "scratch man") & (layer["wind"] == wind) & (layer["shot_number"] == 1)]
    for _, here in rows.groupby("pin"):
        assert ANSWERS[question](here) in text


def test_cards_name_what_hides_the_flag_and_the_dead_miss(screen: Opened, layer: pd.DataFrame) -> None:
    wind, checked = screen.page.input_value("#pick-wind"), 0
    for pin in dict.fromkeys(layer["pin"]):
        screen.pick(pin=pin)
        text = flat(screen.page.inner_text("#cards"))
        rows = layer[(layer["pin"] == pin) & (layer["player"] == "scratch man") & (layer["wind"] == wind)]
        for row in rows[rows["shot_number"] == 1].to_dict("records"):
            if row["hidden_by"] and row["flag_visibility"] != "visible" and not row["next_zone"]:
                assert f"flag {row['flag_visibility']} behind {row['hidden_by']}" in text
                checked += 1
            if row["dead_misses"] and not row["next_zone"]:
                assert f"dead {row['dead_misses'].split(', ')[0]}" in text
                checked += 1
    assert checked >= 2


def test_matrix_has_what_changes_with_the_hole_location(screen: Opened, layer: pd.DataFrame) -> None:
    wind = screen.page.input_value("#pick-wind")
    cells = screen.page.evaluate(
        """[...document.querySelector("#matrix table").tBodies[0].rows].map((r) =>
          [...r.cells].map((c) => [c.textContent, c.classList.contains("best")]))"""
    )
    rows = layer[(layer["player"] == "scratch man") & (layer["wind"] == wind) & (layer["shot_number"] == 1)]
    pins = list(dict.fromkeys(rows["pin"]))
    for line in cells:
        zone = line[0][0].split(" ", 1)[1]
        for pin, (text, marked) in zip(pins, line[1:], strict=True):
            row = rows[(rows["zone"] == zone) & (rows["pin"] == pin)].iloc[0]
            assert f"{row['total_strokes']:.2f}" in text and f"next shot {row['remaining_rank']}" in text
            assert marked == bool(row["level_with_first"] or row["rank"] == 1)
            assert row["flag_visibility"] in text and show_length(row["effective_distance_m"]) in text


def test_what_changes_with_wind_and_player_stands_below_it(
    screen: Opened, sheets: list[Any], layer: pd.DataFrame
) -> None:
    """Zones that are first or level, of every player, tee and wind, on the page for the chosen pin."""
    screen.pick(pin="back right")
    shown = screen.page.evaluate(
        """[...document.querySelector("table.first-zones").rows].map((r) =>
          [...r.cells].map((c) => c.textContent))"""
    )
    winds = shown[0][1:]
    assert set(winds) == set(layer["wind"]) and len(winds) == 2 and len(shown) == 3
    for who, *cells in shown[1:]:
        player, tee = who.removesuffix(" tee").split(", ")
        for wind, cell in zip(winds, cells, strict=True):
            same = (layer["player"] == player) & (layer["tee"] == tee) & (layer["wind"] == wind)
            here = best(layer[same & (layer["pin"] == "back right") & (layer["shot_number"] == 1)])
            numbers = " = ".join(str(n) for n in sorted(here["zone_number"]))
            assert cell == f"{numbers}: {here['total_strokes'].min():.2f}"
    board_words = {t.get_text() for t in sheets[0].paper.texts}
    for cells in by_player(layer)[1]:
        assert set(cells) <= board_words


OVERLAPS = """(box) => [...document.querySelectorAll(box)].flatMap((svg) => {
  const texts = [...svg.querySelectorAll("text")].filter((t) => t.textContent.trim()).map((t) => {
    const r = t.getBoundingClientRect();
    return [t.textContent, r.left, r.top, r.right, r.bottom]; }).filter((t) => t[3] > t[1]);
  const both = (a, b, k) => Math.min(a[k + 2], b[k + 2]) - Math.max(a[k], b[k]) > 1;
  return texts.flatMap((a, i) => texts.slice(i + 1).filter((b) => both(a, b, 1) && both(a, b, 2))
    .map((b) => `${a[0]} | ${b[0]}`)); })"""


def overlapping(opened: Opened) -> list[str]:
    svgs = "#plan .wide svg, #inset, #long svg, #widths svg, #sights svg"
    return opened.page.evaluate(f"({OVERLAPS})({svgs!r})")


@pytest.mark.parametrize("units", ["m", "yd"])
def test_no_word_on_a_drawing_of_the_page_covers_another(screen: Opened, units: str) -> None:
    pins = screen.page.evaluate("[...document.querySelectorAll('#pick-pin option')].map((o) => o.value)")
    covered = {}
    for player, pin in itertools.product(("scratch man", "bogey man"), pins):
        screen.pick(player=player, pin=pin, units=units)
        words = screen.page.text_content("#over")
        assert all(name in words for name in (pin, "back tee", "1 short left", "4 beyond right"))
        covered[player, pin] = overlapping(screen)
    screen.pick(units="m")
    assert {k: v for k, v in covered.items() if v} == {}


def test_no_word_on_the_phone_covers_another(
    browser: Any,  # noqa: F811
    screen: Opened,
) -> None:
    phone = Opened(browser, Path(screen.page.url.removeprefix("file://").split("#")[0]),
                   viewport={"width": 390, "height": 800})  # fmt: skip
    assert overlapping(phone) == []
    words = phone.page.text_content("#over")
    assert "back tee" in words and "4 beyond right" in words
    phone.context.close()


def test_no_word_on_the_board_covers_another(sheets: list[Any]) -> None:
    """Extents of every text, measured with its font; texts cut at the edge of a window are left out."""
    assert len(sheets) >= 3
    for number, sheet in enumerate(sheets):
        measure = Labels(sheet)._renderer
        boxes = [
            (text.get_text(), text.get_window_extent(measure))
            for axes in sheet.figure.axes
            for text in (*axes.texts, *axes.get_xticklabels(), *axes.get_yticklabels())
            if text.get_text().strip() and text.get_visible()
        ]
        assert len(boxes) > 20 or number > 1
        pairs = [
            f"{a} | {b}"
            for (a, one), (b, other) in itertools.combinations(boxes, 2)
            if min(one.x1, other.x1) - max(one.x0, other.x0) > 1
            and min(one.y1, other.y1) - max(one.y0, other.y0) > 1
        ]
        assert pairs == [], number


def test_with_yards_levels_and_contours_are_in_feet(screen: Opened) -> None:
    screen.pick(units="yd")
    axes = screen.page.evaluate("[...document.querySelectorAll('#long .c-axis')].map((t) => t.textContent)")
    assert any(t.endswith(" ft") for t in axes) and not any(t.endswith(" m") for t in axes)
    captions = flat(" ".join(c.inner_text() for c in screen.page.query_selector_all("figcaption")))
    intervals = re.findall(r"Contours every ([\d.]+) (\w+)", captions)
    assert len(intervals) == 2 and {unit for _, unit in intervals} == {"ft"}
    assert "50 yd" in screen.page.text_content("#turn")
    assert not re.search(r"\d m\b", flat(screen.page.inner_text("#where")))
    screen.pick(units="m")
    assert not re.search(r"\d (yd|ft)\b", flat(screen.page.inner_text("main")))
