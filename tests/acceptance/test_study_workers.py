"""A study on several processes gives what one process gives."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import pytest
from pandas.testing import assert_frame_equal
from shapely import Point

from gistools.base.errors import GistoolsError, GistoolsWarning, InputError
from gistools.cli.executors import executor_of
from gistools.site.sample import sample_site
from gistools.steps import finished_tasks, parallel
from gistools.steps.catalogue import find, need
from gistools.steps.study import study
from gistools.steps.tables import build_table

ONLY = ("positions", "brief")
COARSE = {"mesh_cell_m": 10.0}


def test_kept_results_are_returned_when_needed(monkeypatch) -> None:
    """Without playing: the answers of the tasks come back under each selection, in the order of a study."""
    site = sample_site()
    ranked, asks = find("positions").writes
    both = ("scratch man", "bogey man")

    def table(hole: int, player: str, wind: str) -> Any:
        row = {
            "hole": hole,
            "tee": "back",
            "player": player,
            "wind": wind,
            "pin": "a",
            "zone": "z",
            "rank": 1,
        }
        return build_table(site, ranked, [row | {"geometry": Point(0, 0)}])

    def play(_site, names, hole, player, winds) -> dict[str, Any]:
        nothing = build_table(site, asks, [])
        return {
            wind: {n: {"positions": table(hole, player, wind), "choices": nothing} for n in names}
            for wind in winds
        }

    monkeypatch.setattr(parallel, "play", play)
    steps = [find("positions"), find("lengths")]
    with ThreadPoolExecutor(2) as executor, parallel.played_ahead(site, steps, executor, players=both):
        pass
    rows = need(site, "positions", players=both)["positions"]
    keys = list(zip(rows["hole"], rows["player"], rows["wind"], strict=True))
    winds = list(dict.fromkeys(rows["wind"]))
    assert keys == [(h, p, w) for h in (1, 2, 3) for p in both for w in winds]
    one = need(site, "positions", hole=2, players=("bogey man",), winds=("calm",))["positions"]
    assert list(zip(one["hole"], one["player"], one["wind"], strict=True)) == [(2, "bogey man", "calm")]


def test_a_stopped_study_resumes_without_playing_again(monkeypatch) -> None:
    """The progress stops the study after two tasks; the second run plays the others alone."""
    played: list[tuple[int, str]] = []
    ranked, asks = find("positions").writes

    def play(site, names, hole, player, winds) -> dict[str, Any]:
        played.append((hole, player))
        row = {"hole": hole, "tee": "back", "player": player, "pin": "a", "zone": "z", "rank": 1}
        return {
            w: {
                n: {
                    "positions": build_table(site, ranked, [row | {"wind": w, "geometry": Point(0, 0)}]),
                    "choices": build_table(site, asks, []),
                }
                for n in names
            }
            for w in winds
        }

    class AtOnce(Executor):
        """Runs a task when it is submitted; the third and later ones stop the study."""

        most = 2

        def submit(self, call: Any, *given: Any, **options: Any) -> Future[Any]:
            task: Future[Any] = Future()
            if len(played) < self.most:
                task.set_result(call(*given, **options))
            else:
                task.set_exception(KeyboardInterrupt())
            return task

    monkeypatch.setattr(parallel, "play", play)
    options: dict[str, Any] = {"only": ["positions"], "players": ("scratch man", "bogey man"), "write": False}
    site = sample_site().with_settings({"mesh_cell_m": 9.87})
    executor = AtOnce()
    with pytest.raises(KeyboardInterrupt):
        study(site, executor=executor, **options)
    first = list(played)
    assert len(first) == 2
    other = site.with_settings({"mesh_cell_m": 9.86})
    folders = [finished_tasks.tasks_folder(s, ["positions"], ["calm"]) for s in (site, other)]
    assert folders[0] != folders[1]
    executor.most = 100
    again = study(site.replace(), executor=executor, **options)
    assert sorted(played) == sorted({(h, p) for h in (1, 2, 3) for p in options["players"]})
    keys = list(zip(again.table("positions")["hole"], again.table("positions")["player"], strict=True))
    assert list(dict.fromkeys(keys)) == [(h, p) for h in (1, 2, 3) for p in options["players"]]
    played.clear()
    study(site.replace(), executor=executor, **options)
    assert len(played) == 6, "a study that ended leaves no finished tasks behind"


def test_a_damaged_task_is_played_again(tmp_path) -> None:
    finished_tasks.store(tmp_path, 1, "scratch man", {"calm": 1})
    assert finished_tasks.load(tmp_path, 1, "scratch man") == {"calm": 1}
    assert finished_tasks.load(tmp_path, 1, "bogey man") is None
    (file,) = tmp_path.iterdir()
    file.write_bytes(file.read_bytes()[:5])
    assert finished_tasks.load(tmp_path, 1, "scratch man") is None


@pytest.fixture(autouse=True)
def _cache_of_its_own(monkeypatch, tmp_path) -> None:
    """Finished tasks go to a folder of the test: made-up ones never reach the user's cache."""
    real = finished_tasks.tasks_folder
    monkeypatch.setattr(finished_tasks, "tasks_folder", lambda *given: tmp_path / "tasks" / real(*given).name)


def test_a_process_that_ends_is_told_in_words() -> None:
    from concurrent.futures.process import BrokenProcessPool

    class Broken(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:
            task: Future[Any] = Future()
            task.set_exception(BrokenProcessPool("killed"))
            return task

    ahead = parallel.played_ahead(sample_site(), [find("positions")], Broken(), hole=1)
    with pytest.raises(GistoolsError, match="use fewer workers"), ahead:
        pass


def test_a_task_that_fails_for_reasons_of_the_executor_is_told() -> None:
    class Failing(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:
            task: Future[Any] = Future()
            task.set_exception(RuntimeError("connection lost"))
            return task

    options: dict[str, Any] = {"hole": 1, "players": ("scratch man",), "winds": ("calm",)}
    ahead = parallel.played_ahead(sample_site(), [find("positions")], Failing(), **options)
    with (
        pytest.warns(GistoolsWarning, match=r"hole 1, scratch man: .*connection lost.* plays it again"),
        ahead,
    ):
        pass


def test_workers_and_cluster_are_one_or_the_other() -> None:
    with pytest.raises(InputError, match="one of them"), executor_of(2, "tcp://127.0.0.1:1"):
        pass
    with executor_of(None, None) as executor:
        assert executor is None


@pytest.mark.slow
def test_two_processes_give_what_one_gives(tmp_path) -> None:
    options: dict[str, Any] = {"only": ONLY, "players": ("scratch man",), "winds": ("calm",), "write": False}
    alone = study(sample_site().with_settings(COARSE), **options)
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as executor:
        shared = study(sample_site().with_settings(COARSE), executor=executor, **options)
    for layer in ("positions", "choices", "brief"):
        assert_frame_equal(alone.table(layer), shared.table(layer))


@pytest.mark.slow
def test_cluster_that_loses_a_worker_gives_equal_tables(monkeypatch) -> None:
    """One of two worker processes is killed during the study; the cluster still plays every hole."""
    distributed = pytest.importorskip("distributed", reason="the cluster library is not installed")
    options: dict[str, Any] = {"only": ONLY, "players": ("scratch man",), "winds": ("calm",), "write": False}
    alone = study(sample_site().with_settings(COARSE), **options)
    local = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with (
        distributed.LocalCluster(**local) as cluster,
        executor_of(None, cluster.scheduler_address) as executor,
    ):
        first = next(iter(cluster.workers.values()))
        killer = threading.Timer(5.0, os.kill, (first.pid, signal.SIGKILL))
        came_back: list[Any] = []
        remember = parallel._remember
        monkeypatch.setattr(
            parallel, "_remember", lambda *given: (came_back.extend(given[2]), remember(*given))
        )
        killer.start()
        shared = study(sample_site().with_settings(COARSE), executor=executor, **options)
        assert killer.finished.is_set(), "the worker was to be killed while it played"
    assert len(came_back) == 3, "the cluster itself played every hole"
    for layer in ("positions", "choices", "brief"):
        assert_frame_equal(alone.table(layer), shared.table(layer))
