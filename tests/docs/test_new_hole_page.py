"""The page about a hole on bare ground is true: its commands are run, and say what the page shows."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from gistools.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
PAGE = (ROOT / "docs" / "new_hole.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```console\n\$ gistools (.*)\n((?:.*\n)*?)```", PAGE)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import bare_ground

    place = tmp_path_factory.mktemp("new_hole")
    assert bare_ground.main([str(place)]) == 0
    return place


def shows(command: str, expected: str) -> str:
    """Run a command; the lines of the page stand in what it says, in this order, ``...`` for anything."""
    done = CliRunner().invoke(main, shlex.split(command), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    said, at = " ".join(done.stdout.split()), 0
    for line in (part for part in expected.splitlines() if part.strip() not in ("", "...")):
        words = " ".join(line.split())
        assert words in said[at:], f"{command}: {line!r} is not in\n{done.stdout}"
        at = said.index(words, at)
    return said


def test_the_hole_is_laid_measured_and_its_brief_can_be_asked(folder: Path, monkeypatch) -> None:
    monkeypatch.chdir(folder)
    assert [command.split()[0] for command, _ in BLOCKS] == [
        "form",
        "form",
        "study",
        "study",
        "form",
        "handoff",
    ]
    for command, expected in BLOCKS[:3]:
        shows(command, expected)
    shows(*BLOCKS[4])
    shows(*BLOCKS[5])
    assert (folder / "crew").is_dir()


@pytest.mark.slow
def test_the_hole_is_ranked_and_its_brief_holds(folder: Path, monkeypatch) -> None:
    monkeypatch.chdir(folder)
    Path("first.gpkg").unlink(missing_ok=True)  # the page has one hole there
    shows(*BLOCKS[1])
    shows(*BLOCKS[3])
