"""A study that is stopped ends at once and resumes; the same study does not run twice at once."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest

import gistools as gt
from gistools.base.errors import Cancelled, GistoolsError
from gistools.base.progress import as_they_end, on_progress
from gistools.cli.executors import STOPPED, Workers
from gistools.site.sample import sample_site
from gistools.steps import finished_tasks
from gistools.steps.study import study

POSIX = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
#: another process that takes the lock of a folder, says so, and waits
OWNER = (
    "import sys, time; from pathlib import Path; from gistools.steps.finished_tasks import alone\n"
    "with alone(Path(sys.argv[1]), 'study', sys.argv[2]):\n    print('in', flush=True); time.sleep(600)"
)


def owner_of(folder: Path, selection: str) -> subprocess.Popen[str]:
    words = (sys.executable, "-c", OWNER, str(folder), selection)
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdout.readline() == "in\n"
    return process


def test_the_same_work_is_refused_while_its_owner_lives(tmp_path) -> None:
    """A process that is killed gives the lock back; other holes or players are let in all the time."""
    folder = tmp_path / "tasks" / "stamp"
    owner = owner_of(folder, "hole 1")
    try:
        message = rf"the same study of this site is running in another process \(number {owner.pid}, since"
        with pytest.raises(GistoolsError, match=message), finished_tasks.alone(folder, "study", "hole 1"):
            pass
        with finished_tasks.alone(folder, "study", "hole 2"):
            pass
    finally:
        owner.kill()
        owner.wait()
    with finished_tasks.alone(folder, "study", "hole 1"):
        assert folder.exists()
    assert not folder.exists(), "no task was finished"


def test_tasks_of_another_study_stay_when_one_ends(tmp_path) -> None:
    folder = tmp_path / "tasks" / "stamp"
    for hole in (1, 2):
        finished_tasks.store(folder, hole, "scratch man", {"calm": hole})
    with finished_tasks.alone(folder, "study", "hole 2"):
        finished_tasks.drop(folder, [(1, "scratch man")])
    assert finished_tasks.load(folder, 1, "scratch man") is None
    assert finished_tasks.load(folder, 2, "scratch man") == {"calm": 2}
    finished_tasks.drop(folder, [(2, "scratch man")])
    assert not folder.exists()


def test_a_study_that_runs_elsewhere_is_refused_before_it_plays(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(finished_tasks, "tasks_folder", lambda *_: tmp_path / "tasks" / "stamp")
    played: list[Any] = []

    class Recorder(Executor):
        def submit(self, *given: Any, **_: Any) -> Future[Any]:
            played.append(given)
            raise KeyboardInterrupt

    options: dict[str, Any] = {"only": ["positions"], "players": ("scratch man",), "write": False}
    todo = [(hole, "scratch man") for hole in (1, 2, 3)]
    with finished_tasks.alone(tmp_path / "tasks" / "stamp", "study", todo):
        with pytest.raises(GistoolsError, match="the same study"):
            study(sample_site(), executor=Recorder(), **options)
        assert not played
        with pytest.raises(KeyboardInterrupt):  # another hole of it is let in
            study(sample_site(), executor=Recorder(), hole=2, **options)
    with pytest.raises(KeyboardInterrupt):  # and the stopped one has given its own lock back
        study(sample_site(), executor=Recorder(), hole=2, **options)
    assert len(played) == 2


def sleep_a_minute(_: int) -> None:
    time.sleep(60.0)


def compute_a_minute(_: int) -> int:
    """Never lets go of the interpreter for long, as a loop of Python does."""
    end = time.monotonic() + 60.0
    number = 0
    while time.monotonic() < end:
        number += 1
    return number


@pytest.mark.parametrize("task", [sleep_a_minute, compute_a_minute])
def test_workers_end_in_the_middle_of_a_task(task) -> None:
    """More tasks than workers; all workers are gone within five seconds of the stop."""

    stopped_at = 0.0

    def stop_soon() -> None:
        nonlocal stopped_at
        with Workers(2) as executor:
            tasks = [executor.submit(task, n) for n in range(5)]
            while not any(t.running() for t in tasks):
                time.sleep(0.05)
            time.sleep(0.5)
            stopped_at = time.monotonic()
            raise KeyboardInterrupt

    before = set(multiprocessing.active_children())
    with pytest.raises(KeyboardInterrupt):
        stop_soon()
    assert time.monotonic() - stopped_at < 5.0
    assert set(multiprocessing.active_children()) <= before


def test_workers_that_are_done_have_their_answers() -> None:
    with Workers(2) as executor:
        assert list(executor.map(abs, range(-5, 0))) == [5, 4, 3, 2, 1]


PARENT = """
import os, time
from gistools.cli.executors import Workers
def say(_):
    print(os.getpid(), flush=True)
    time.sleep(600)
if __name__ == "__main__":
    with Workers(1) as executor:
        executor.submit(say, 0).result()
"""


@POSIX
def test_workers_end_with_a_parent_that_is_killed(tmp_path) -> None:
    script = tmp_path / "parent.py"
    script.write_text(PARENT)
    parent = subprocess.Popen((sys.executable, str(script)), stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    worker = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    end = time.monotonic() + 10.0
    while alive(worker) and time.monotonic() < end:
        time.sleep(0.05)
    assert not alive(worker)


def alive(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{number}/stat")
    return not (state.exists() and state.read_text().split(")")[1].split()[0] == "Z")


def test_the_listener_stops_the_wait_for_a_task_that_never_ends() -> None:
    def listen(share: float, text: str) -> None:
        assert (share, text) == (0.5, "1 of 2 holes and players")
        raise KeyboardInterrupt

    with on_progress(listen), pytest.raises(Cancelled):
        list(as_they_end([Future()], "holes and players", 1))


@POSIX
@pytest.mark.slow
def test_ctrl_c_with_workers_ends_within_seconds_and_resumes(tmp_path) -> None:
    """The whole group gets the signal, as from a terminal, in the middle of the first holes."""
    path = gt.write_sample(tmp_path / "merrowby.gpkg")
    before = path.read_bytes()
    cell_m = 8.0 + os.getpid() / 1e8  # tasks of this test alone
    site = gt.open_site(path, settings={"mesh_cell_m": cell_m})
    folder = finished_tasks.tasks_folder(site, ["positions"], ["calm"])
    words = (sys.executable, "-m", "gistools", "study", str(path), "--only", "positions", "--set",
             f"mesh_cell_m={cell_m!r}", "--player", "scratch man", "--player", "bogey man", "--wind", "calm",
             "--workers", "2")  # fmt: skip
    process = subprocess.Popen(words, stderr=subprocess.PIPE, text=True, start_new_session=True)
    end = time.monotonic() + 900.0  # where everything is still to be compiled
    while not list(folder.glob("*.task")) and process.poll() is None and time.monotonic() < end:
        time.sleep(0.1)
    start = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert time.monotonic() - start < 5.0, "limit: a few seconds"
    assert process.returncode == STOPPED and "stopped by the user" in said.strip().splitlines()[-1]
    assert "Traceback" not in said and path.read_bytes() == before
    assert 1 <= len(list(folder.glob("*.task"))) < 6
    again = subprocess.run(words, capture_output=True, text=True, check=False)
    assert again.returncode in (0, 1), again.stderr
    assert not folder.exists(), "a study that ended leaves no finished tasks behind"
