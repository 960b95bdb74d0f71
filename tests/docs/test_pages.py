"""The task pages are true: every example in docs/ is run, and gives what the page shows."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pandas as pd
import pytest

from gistools.site.sample import write_sample

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGES = ["carry.md", "blind_pin.md", "raise_the_mound.md", "crew.md"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("pages")
    write_sample(place / "merrowby.gpkg")
    return place


@pytest.mark.parametrize("page", PAGES)
def test_page_is_true(page: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    text = (DOCS / page).read_text(encoding="utf-8").replace("```", "")
    test = doctest.DocTestParser().get_doctest(text, {}, page, str(DOCS / page), 0)
    assert len(test.examples) >= 5, "the page shows nothing that could be wrong"
    output: list[str] = []
    runner = doctest.DocTestRunner(
        optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE | doctest.IGNORE_EXCEPTION_DETAIL
    )
    with pd.option_context("display.width", 120, "display.max_columns", 20):
        runner.run(test, out=output.append)
    assert not runner.failures, "".join(output)


def test_every_page_is_run() -> None:
    shown = {p.name for p in DOCS.glob("*.md") if ">>>" in p.read_text(encoding="utf-8")}
    assert shown == set(PAGES)


def test_files_named_for_contributors_exist() -> None:
    root = DOCS.parent
    for page in (DOCS / "architecture.md", root / "DEVELOPERS.md"):
        text = page.read_text(encoding="utf-8")
        names = set(re.findall(r"`((?:gistools|scripts|tests)/[\w/.]+)`", text))
        assert len(names) > 5
        missing = [name for name in names if not (root / name).exists()]
        assert not missing, f"{page.name}: {missing}"
