"""The main job as its users do it: the sample site written, studied, read back, and judged."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

import gistools as gt
from gistools.base.errors import Cancelled
from gistools.site.schema import SURVEY_LAYERS
from gistools.steps.catalogue import STEPS, find
from gistools.steps.study import Study

pytestmark = pytest.mark.slow


def survey_rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with sqlite3.connect(path) as c:
        tables = {r[0] for r in c.execute("SELECT table_name FROM gpkg_contents")}
        stored = sorted(t for t in tables if not t.startswith("study_") and t != "layer_styles")
        return {t: c.execute(f'SELECT * FROM "{t}" ORDER BY 1').fetchall() for t in stored}


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return gt.write_sample(tmp_path_factory.mktemp("job") / "merrowby.gpkg")


@pytest.fixture(scope="module")
def before(path: Path) -> dict[str, list[tuple[object, ...]]]:
    return survey_rows(path)


@pytest.fixture(scope="module")
def done(path: Path, before: object) -> Study:
    return gt.study(gt.open_site(path), hole=1, players=("scratch man", "bogey man"), winds=("calm",))


def test_every_step_ran_or_says_why_not(done: Study) -> None:
    assert set(done.results) | set(done.skipped) == set(STEPS)
    assert all(done.skipped.values())


def test_layers_are_in_the_file_and_the_survey_is_untouched(
    done: Study, path: Path, before: dict[str, list[tuple[object, ...]]]
) -> None:
    assert survey_rows(path) == before
    assert set(before) >= {"tees", "fairway", "greens", "pins", "terrain"} & set(SURVEY_LAYERS)
    with sqlite3.connect(path) as c:
        stored = {r[0] for r in c.execute("SELECT table_name FROM gpkg_contents")}
        titles = c.execute(
            "SELECT count(*) FROM gpkg_data_columns WHERE table_name = 'study_carries' AND title LIKE '%[m]%'"
        ).fetchone()[0]
    for name in done.results:
        for layer in find(name).writes:
            if layer.geometry != "raster":
                assert layer.table in stored
    assert titles >= 3


def test_the_burn_asks_more_the_further_right(done: Study) -> None:
    fan = done.results["carries"]["carries"]
    burn = fan[(fan["layer"] == "burns") & (fan["tee"] == "back")].set_index("line")
    assert burn.loc["least", "side"] == "left" and burn.loc["greatest", "side"] == "right"
    diagonal = done.results["diagonals"].query("tee == 'back' and layer == 'burns'").iloc[0]
    width = burn.loc["greatest", "offset_m"] - burn.loc["least", "offset_m"]
    # second way of computing it: rise of carry over the width it spans; the burn bends, so within a tenth
    slope = (burn.loc["greatest", "chainage_m"] - burn.loc["least", "chainage_m"]) / width
    assert slope == pytest.approx(diagonal["extra_carry_m_per_m"], rel=0.1)


def test_the_hole_asks_its_question(done: Study) -> None:
    """The zone that leaves most for the pin behind the mound is not the one for the open pin."""
    rows = done.results["positions"]["positions"]
    rows = rows[(rows["tee"] == "back") & (rows["player"] == "scratch man")]
    order = {
        pin: list(custom.sort_values("remaining_strokes")["zone"])
        for pin, custom in rows.groupby("pin")
        if len(custom) > 1
    }
    assert order["front left"] != order["front right"]


def test_bogey_players_need_more_strokes(done: Study) -> None:
    rows = done.results["positions"]["positions"].groupby("player")["total_strokes"].min()
    assert rows["bogey man"] > rows["scratch man"] > 3.0


def test_summary_tells_the_figures_of_the_layers(done: Study) -> None:
    text = done.summary()
    length = done.results["lengths"].query("tee == 'back'")["card_m"].iloc[0]
    assert f"back {length:.0f} m" in text
    assert "Teasel Burn" in text and "Caution" in text
    assert "[" not in done.summary("yd").splitlines()[1]


def test_the_brief_fails_where_the_sample_says_so(done: Study) -> None:
    brief = done.results["brief"]
    assert set(brief["result"]) <= {"holds", "fails"}
    assert list(brief.loc[brief["result"] == "fails", "measure"]) == ["carries.carry_m"]


def test_stopping_a_study_writes_nothing(tmp_path: Path) -> None:
    path = gt.write_sample(tmp_path / "m.gpkg")
    old = path.read_bytes()

    def stop(share: float, text: str) -> None:
        if text.startswith("corridors"):
            raise KeyboardInterrupt

    with pytest.raises(Cancelled):
        gt.study(gt.open_site(path), only=("lengths", "corridors"), progress=stop)
    assert path.read_bytes() == old
