"""The page about foreign data is true: its commands are run, and say what the page shows."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from gistools.cli.main import main

pytest.importorskip("osmium")
pytest.importorskip("laspy")
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))  # the writer of foreign data

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "import.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```console\n\$ gistools (.*)\n((?:.*\n)*?)```", PAGE)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import foreign_data

    place = tmp_path_factory.mktemp("import")
    assert foreign_data.main([str(place)]) == 0
    return place


def shows(command: str, expected: str) -> None:
    """Run a command; each line of the page stands in what it says, in this order, ``...`` for anything."""
    done = CliRunner().invoke(main, command.split(), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    said = " ".join(done.stdout.split())
    at = 0
    for line in (part for part in expected.splitlines() if part.strip() not in ("", "...")):
        pattern = ".*?".join(re.escape(" ".join(piece.split())) for piece in line.split("..."))
        hit = re.compile(pattern).search(said, at)
        assert hit, f"{command}: {line!r} is not in\n{done.stdout}"
        at = hit.end()


def test_three_commands() -> None:
    assert [command.split()[0] for command, _ in BLOCKS] == ["import", "check", "study"]


def test_import_and_check_say_what_the_page_shows(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    for command, expected in BLOCKS[:2]:
        shows(command, expected)
    (rule,) = tomllib.loads("\n".join(re.findall(r"```toml\n((?:.*\n)*?)```", PAGE)))["layer"]
    written = tomllib.loads((folder / "links.mapping.toml").read_text(encoding="utf-8"))
    assert rule in written["layer"]


@pytest.mark.slow
def test_the_study_ranks_the_hole(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    if not (folder / "links.gpkg").exists():
        shows(*BLOCKS[0])
    shows(*BLOCKS[2])
