"""Files are put in place whole."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from gistools.base import files
from gistools.base.files import atomic_replace, write_files


def test_several_files_are_written_all_or_none(tmp_path: Path) -> None:
    a, b = tmp_path / "a", tmp_path / "b"
    a.write_text("old")
    with pytest.raises(ZeroDivisionError), atomic_replace(a, b) as (first, _):
        first.write_text("half")
        raise ZeroDivisionError
    assert a.read_text() == "old" and os.listdir(tmp_path) == ["a"]
    write_files({a: b"new", b: b"too"})
    assert a.read_text() == "new" and b.read_text() == "too" and sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_leftovers_of_killed_programs_go_when_they_are_old(tmp_path: Path) -> None:
    old, young = tmp_path / ".a.part-1", tmp_path / ".a.part-2"
    old.write_text("")
    young.write_text("")
    os.utime(old, (time.time() - 2 * files.LEFTOVER_S,) * 2)
    write_files({tmp_path / "a": b""})
    assert not old.exists() and young.exists()


def test_a_reader_that_holds_the_file_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows a file that is open cannot be replaced: the move is tried again until the reader is gone."""
    replace, tries = os.replace, []

    def busy(source, target) -> None:
        tries.append(source)
        if len(tries) < 3:
            fault = PermissionError(13, "in use")
            fault.winerror = 32
            raise fault
        replace(source, target)

    monkeypatch.setattr(os, "replace", busy)
    write_files({tmp_path / "a": b"new"})
    assert len(tries) == 3 and (tmp_path / "a").read_bytes() == b"new"


def test_a_reader_that_stays_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(*_: object) -> None:
        fault = PermissionError(13, "in use")
        fault.winerror = 32
        raise fault

    monkeypatch.setattr(os, "replace", busy)
    monkeypatch.setattr(files, "WAIT_S", 0.2)
    with pytest.raises(PermissionError):
        write_files({tmp_path / "a": b"new"})
    assert os.listdir(tmp_path) == []


def test_a_leftover_that_is_moved_away_meanwhile_stops_nothing(tmp_path: Path, monkeypatch) -> None:
    """Another writer of the same file moves its scratch file into place between the look and the question."""
    target = tmp_path / "a.txt"
    gone = tmp_path / ".a.txt.part-1-2"
    monkeypatch.setattr(Path, "glob", lambda self, pattern: iter([gone]))
    write_files({target: b"x"})
    assert target.read_bytes() == b"x"
