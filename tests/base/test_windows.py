"""What differs on Windows, acted out: files in use, drive letters, consoles, closed pipes, search paths.

Nothing here runs on Windows: it plays what that system is known to answer (error numbers and rules of paths
from its documentation and CPython's, from memory).
"""

from __future__ import annotations

import errno
import ntpath
import os
import subprocess
import sys
import types
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

import gistools as gt
from gistools.base import files
from gistools.base.errors import WriteError
from gistools.cli import exits
from gistools.cli.console_lines import console_lines
from gistools.desktop import environment, interpreter
from gistools.sheets import project_file
from gistools.sheets.drawings.write import write_drawings
from gistools.sheets.folder import put_files
from gistools.site.model import Site


@pytest.fixture
def open_files(monkeypatch: pytest.MonkeyPatch) -> set[Path]:
    """Files (or folders with such a file in them) that another program has open: they cannot be moved."""
    opened: set[Path] = set()
    replace = os.replace

    def busy(source, target) -> None:
        for path in (Path(source), Path(target)):
            if any(path == one or path in one.parents for one in opened):
                fault = PermissionError(13, "The process cannot access the file")
                fault.winerror = 32
                raise fault
        replace(source, target)

    monkeypatch.setattr(os, "replace", busy)
    monkeypatch.setattr(files, "WAIT_S", 0.2)
    return opened


def test_a_drawing_that_a_viewer_has_open_is_named(
    open_files: set[Path], tmp_path: Path, straight_site: Site
) -> None:
    (pdf,) = write_drawings(straight_site, to=tmp_path, hole=1, drawings=["green"])
    before = pdf.read_bytes()
    open_files.add(pdf)
    with pytest.raises(WriteError, match=r"hole_1_green\.pdf is open in another program.*close it there"):
        write_drawings(straight_site, to=tmp_path, hole=1, drawings=["green"], replace=True)
    assert pdf.read_bytes() == before and os.listdir(tmp_path) == ["hole_1_green.pdf"]
    open_files.clear()
    write_drawings(straight_site, to=tmp_path, hole=1, drawings=["green"], replace=True)


def test_a_viewer_that_closes_in_time_is_waited_for(
    open_files: set[Path], tmp_path: Path, monkeypatch
) -> None:
    (tmp_path / "a.txt").write_text("old")
    open_files.add(tmp_path / "a.txt")
    monkeypatch.setattr(files, "WAIT_S", 5.0)
    monkeypatch.setattr(files.time, "sleep", lambda _s: open_files.clear())
    put_files(tmp_path, {"a.txt": "new"}, ["a.txt"])
    assert (tmp_path / "a.txt").read_text() == "new"


def test_a_hand_off_with_an_open_file_stays_whole(
    open_files: set[Path], tmp_path: Path, straight_site: Site
) -> None:
    folder = gt.hand_off(straight_site, tmp_path / "out")
    names = sorted(p.relative_to(folder) for p in folder.rglob("*"))
    open_files.add(folder / "quantities.csv")
    with pytest.raises(WriteError, match="out is open in another program"):
        gt.hand_off(straight_site, folder, replace=True)
    assert sorted(p.relative_to(folder) for p in folder.rglob("*")) == names
    assert os.listdir(tmp_path) == ["out"]


def test_a_project_that_the_desktop_has_open_is_named(
    open_files: set[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(project_file, "layout_documents", lambda path: [])  # seconds, and not what is open
    site = gt.write_sample(tmp_path / "m.gpkg")
    project = gt.write_project(site)
    open_files.add(project)
    with pytest.raises(WriteError, match=r"m\.qgs cannot be written: m\.qgs is open in another program"):
        gt.write_project(site, replace=True)


def test_a_leftover_that_is_still_open_stops_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = tmp_path / ".a.part-1"
    old.write_text("")
    os.utime(old, (0, 0))
    unlink = Path.unlink

    def busy(self: Path, missing_ok: bool = False) -> None:
        if self == old:
            raise PermissionError(13, "in use")
        unlink(self, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", busy)
    files.write_files({tmp_path / "a": b"new"})
    assert (tmp_path / "a").read_bytes() == b"new"


class Windows(PureWindowsPath):
    """A path of Windows that is already resolved."""

    def resolve(self) -> Windows:
        return self


def test_a_project_names_its_site_with_slashes_and_across_drives(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(project_file, "Path", Windows)
    monkeypatch.setattr(project_file, "os", types.SimpleNamespace(path=ntpath))
    site = Windows(r"C:\Golf\links\merrowby.gpkg")
    assert project_file._place(site, Windows(r"C:\Golf\links\merrowby.qgs")) == "./merrowby.gpkg"
    assert project_file._place(site, Windows(r"C:\Golf\maps\m.qgs")) == "../links/merrowby.gpkg"
    assert project_file._place(site, Windows(r"D:\maps\m.qgs")) == "C:/Golf/links/merrowby.gpkg"


def test_the_libraries_of_the_desktop_leave_the_search_path(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the case of letters and the way of slashes."""
    monkeypatch.setattr(interpreter, "os", types.SimpleNamespace(path=ntpath, pathsep=";"))
    path = r"C:\QGIS\bin;c:/qgis/apps/gdal/bin;C:\Windows\system32;C:\Users\me\Python312"
    folders = interpreter.path_without(r"c:\QGIS", path)
    assert folders == r"C:\Windows\system32;C:\Users\me\Python312"


def test_the_environment_lies_in_the_users_own_folder(tmp_path: Path, monkeypatch) -> None:
    """No administrator's rights: below LOCALAPPDATA, with the interpreter where Windows has it."""
    fake = types.SimpleNamespace(name="nt", environ={"LOCALAPPDATA": str(tmp_path)}, path=ntpath)
    monkeypatch.setattr(interpreter, "os", fake)
    monkeypatch.setattr(environment, "os", fake)
    home = interpreter.environment_folder()
    assert home == tmp_path / "gistools" / "environment"
    assert environment.python_of(home) == home / "Scripts" / "python.exe"
    python = home / "Scripts" / "python.exe"
    python.parent.mkdir(parents=True)
    python.touch()
    assert interpreter.interpreters()[0] == python
    flags = interpreter.without_window()["creationflags"]
    assert flags == 0x08000000 | 0x00000200  # no window; Ctrl-C stays with the desktop


def test_the_lines_for_the_console_keep_backslashes(monkeypatch: pytest.MonkeyPatch) -> None:
    python = r"C:\Users\new\golf\Scripts\python.exe"
    monkeypatch.setattr(sys, "executable", python)
    line = console_lines().splitlines()[1]
    names: dict[str, object] = {"os": types.SimpleNamespace(environ={})}
    exec(line, names)
    assert names["os"].environ == {"GISTOOLS_PYTHON": python}  # type: ignore[attr-defined]


def test_a_closed_pipe_of_windows_is_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    closed = OSError(errno.EINVAL, "Invalid argument")
    assert not exits._reader_gone(closed)  # here it means something else
    monkeypatch.setattr(exits, "ON_WINDOWS", True)
    assert exits._reader_gone(closed)
    assert not exits._reader_gone(OSError(errno.EINVAL, "Invalid argument", "a:b.gpkg"))


@pytest.mark.parametrize(
    "page", ["ascii", "cp437", *(pytest.param(p, marks=pytest.mark.slow) for p in ("cp850", "cp1252"))]
)
def test_consoles_of_old_code_pages_show_every_command(page: str, tmp_path: Path) -> None:
    """Results and cautions hold signs those pages lack; a sign is lost, never the command."""
    site = gt.write_sample(tmp_path / "Böög Ω.gpkg")
    env = {**os.environ, "PYTHONIOENCODING": page, "PYTHONUTF8": "0", "COLUMNS": "60"}
    for words in (
        ["lengths", site],
        ["quantities", site, "--hole", "2", "--show-only"],
        ["about", "drainage"],
    ):
        command = [sys.executable, "-m", "gistools", *map(str, words)]
        done = subprocess.run(command, capture_output=True, env=env, check=False)
        assert done.returncode == 0, done.stderr.decode(errors="replace")
        assert done.stdout and b"UnicodeEncodeError" not in done.stderr
        done.stdout.decode("utf-8" if page == "ascii" else page)  # for ASCII click takes UTF-8


def test_names_of_files_from_data_are_names_on_windows() -> None:
    for name in ("CON", "nul.txt", "a:b", "a?b*c", "x" * 300, "..", "trailing. ", "LPT1"):
        safe = files.file_name(name, ".csv")
        assert PureWindowsPath(safe).name == safe == PurePosixPath(safe).name
        assert not set(safe) & set('<>:"/\\|?*') and len(safe) <= 130
        assert not PureWindowsPath(safe).is_reserved() and not safe.endswith((" ", "."))
