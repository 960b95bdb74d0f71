"""The plug-in's zip, and the environment it makes. The desktop itself is tried by scripts/plugin_check.py."""

from __future__ import annotations

import configparser
import os
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from gistools.base.errors import Cancelled, GistoolsError
from gistools.desktop import environment, interpreter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
import make_plugin  # noqa: E402


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    return zipfile.ZipFile(make_plugin.write(tmp_path_factory.mktemp("plugin")))


def test_zip_holds_the_package_and_what_the_desktop_reads(archive: zipfile.ZipFile) -> None:
    names = set(archive.namelist())
    assert {name.split("/")[0] for name in names} == {make_plugin.FOLDER}
    for name in (
        "__init__.py",
        "metadata.txt",
        "requirements.txt",
        "LICENSE",
        "gistools/desktop/bootstrap.py",
    ):
        assert f"{make_plugin.FOLDER}/{name}" in names
    assert not any("__pycache__" in name for name in names)
    metadata = configparser.ConfigParser()
    metadata.read_string(archive.read(f"{make_plugin.FOLDER}/metadata.txt").decode())
    needed = {"name", "qgisMinimumVersion", "description", "version", "author", "email"}
    assert needed <= {*metadata["general"]} | {"qgisMinimumVersion"}
    assert metadata["general"]["hasProcessingProvider"] == "yes"


def test_zip_lists_the_libraries_of_the_project(archive: zipfile.ZipFile) -> None:
    listed = archive.read(f"{make_plugin.FOLDER}/requirements.txt").decode().split("\n")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert listed[:-1] == project["dependencies"]


def test_without_a_python_the_message_says_what_was_tried(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("GISTOOLS_ENVIRONMENT", str(tmp_path / "environment"))
    monkeypatch.setenv("GISTOOLS_BASE_PYTHON", str(tmp_path / "python"))
    with pytest.raises(GistoolsError, match=r"3\.11 to 3\.13[\s\S]*GISTOOLS_BASE_PYTHON"):
        environment.make()
    assert not environment.ready()


def test_making_the_environment_stops_on_demand(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("GISTOOLS_ENVIRONMENT", str(tmp_path / "environment"))

    def stop(_share: float, _text: str) -> None:
        raise Cancelled("stopped by the user")

    with pytest.raises(Cancelled):
        environment.make(stop)
    assert not environment.ready()


def test_path_of_the_host_is_not_handed_on() -> None:
    host = os.path.join(os.sep, "programs", "desktop")
    folders = [os.path.join(host, "bin"), os.path.join(os.sep, "usr", "bin"), os.path.join(host, "apps")]
    assert interpreter.path_without(host, os.pathsep.join(folders)) == folders[1]


def test_missing_libraries_show_beside_the_desktops_python(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The start of the plug-in says what is to be done unless an environment was named or made."""
    monkeypatch.delenv("GISTOOLS_PYTHON", raising=False)
    monkeypatch.setenv("GISTOOLS_ENVIRONMENT", str(tmp_path / "environment"))
    monkeypatch.setattr(interpreter, "PACKAGE", tmp_path / "plugins" / "golf_holes" / "gistools")
    assert interpreter.interpreters() and not interpreter.prepared_interpreters()
    python = tmp_path / "plugins" / "golf_holes" / ".venv"
    python = python / ("Scripts/python.exe" if os.name == "nt" else "bin/python3")
    python.parent.mkdir(parents=True)
    python.touch()
    assert interpreter.prepared_interpreters() == [python] == interpreter.interpreters()[:1]
    monkeypatch.setenv("GISTOOLS_PYTHON", str(tmp_path / "mine"))
    assert interpreter.interpreters() == interpreter.prepared_interpreters() == [tmp_path / "mine"]
