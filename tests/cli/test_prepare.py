"""Compiling ahead: what a study calls afterwards is compiled already."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from gistools.base import jit as _jit
from gistools.base.errors import Cancelled, GistoolsError
from gistools.base.progress import on_progress
from gistools.cli import warmup as _ahead
from gistools.cli.main import main
from gistools.steps.catalogue import STEPS, find


def test_quick_study_compiles_the_steps_that_take_seconds() -> None:
    costs = {part: {find(n).cost for n in STEPS if find(n).loops == part} for part in _ahead.PARTS}
    assert costs == {part: {"seconds" if part in _ahead.QUICK else "minutes"} for part in _ahead.PARTS}


def test_without_a_folder_to_keep_it_in_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_jit, "cache_folder", lambda: None)
    done = CliRunner().invoke(main, ["prepare"])
    assert done.exit_code == 2 and "steps work all the same" in done.output


def test_a_part_that_fails_says_why(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(_jit, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(_jit, "ENABLED", True)
    with pytest.raises(GistoolsError, match="nothing could not be compiled ahead: ValueError"):
        _ahead.prepare(("nothing",))


def test_the_bar_hears_of_every_part_and_may_stop(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Parts are stood in for by processes that sleep; stopped, none of them lives on."""
    monkeypatch.setattr(_jit, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(_jit, "ENABLED", True)
    real, started = subprocess.Popen, []

    def stand_in(words: list[str], **options: Any) -> subprocess.Popen[str]:
        seconds = {"ground": 0.0, "shots": 0.8, "strategy": 60.0}[words[-1]]
        started.append(real([sys.executable, "-c", f"import time; time.sleep({seconds})"], **options))
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", stand_in)
    heard: list[tuple[float, str]] = []
    with on_progress(lambda share, text: heard.append((share, text))):
        _ahead.prepare(("ground", "shots"))
    assert heard[0] == (0.0, "compiling loops of ground, shots") and heard[-1][0] == 0.5
    assert {p.name.split("-")[1] for p in tmp_path.iterdir()} == {"ground", "shots"}

    def stop(share: float, text: str) -> None:
        if len(started) == 3 and share > 0.0:
            raise KeyboardInterrupt

    monkeypatch.setattr(_jit, "cache_folder", lambda: tmp_path / "other")
    (tmp_path / "other").mkdir()
    del started[:]
    with on_progress(stop), pytest.raises(Cancelled):
        _ahead.prepare(("ground", "shots", "strategy"))
    assert all(process.poll() is not None for process in started)


COUNTED = """
import sys
from numba.core import event
class Compiled(event.Listener):
    names = []
    def on_start(self, e): self.names.append(e.data["dispatcher"].py_func.__name__)
    def on_end(self, e): pass
event.register("numba:compile", Compiled())
import gistools as gt
from gistools.site.sample import sample_site
gt.study(sample_site(), quick=True, write=False)
print(sorted(set(Compiled.names)))
"""


@pytest.mark.slow
@pytest.mark.skipif(not _jit.ENABLED, reason="kernels run as plain Python")
def test_a_quick_study_of_the_sample_compiles_nothing_more(tmp_path: Path) -> None:
    """In a cache of its own, so that everything is compiled here: all three holes, every player and wind."""
    env = {
        **os.environ,
        "XDG_CACHE_HOME": str(tmp_path),
        "LOCALAPPDATA": str(tmp_path),
        "HOME": str(tmp_path),
    }
    for words in (("-m", "gistools", "prepare", "--quick"), ("-c", COUNTED)):
        done = subprocess.run([sys.executable, *words], env=env, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"
