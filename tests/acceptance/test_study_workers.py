"""A study on several processes gives what one process gives."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import pytest
from pandas.testing import assert_frame_equal
from shapely import Point

from gistools.base.errors import GistoolsError, InputError
from gistools.cli.executors import executor_of
from gistools.site.sample import sample_site
from gistools.steps import parallel
from gistools.steps.catalogue import find, need
from gistools.steps.study import study
from gistools.steps.tables import build_table

ONLY = ("positions", "brief")
COARSE = {"mesh_cell_m": 10.0}


def test_results_laid_into_the_memory_are_those_that_are_asked_for(monkeypatch) -> None:
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
    with ThreadPoolExecutor(2) as executor:
        parallel.play_ahead(site, [find("positions"), find("lengths")], executor, players=both)
    rows = need(site, "positions", players=both)["positions"]
    keys = list(zip(rows["hole"], rows["player"], rows["wind"], strict=True))
    winds = list(dict.fromkeys(rows["wind"]))
    assert keys == [(h, p, w) for h in (1, 2, 3) for p in both for w in winds]
    one = need(site, "positions", hole=2, players=("bogey man",), winds=("calm",))["positions"]
    assert list(zip(one["hole"], one["player"], one["wind"], strict=True)) == [(2, "bogey man", "calm")]


def test_a_process_that_ends_is_told_in_words() -> None:
    from concurrent.futures.process import BrokenProcessPool

    class Broken(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:
            task: Future[Any] = Future()
            task.set_exception(BrokenProcessPool("killed"))
            return task

    with pytest.raises(GistoolsError, match="use fewer workers"):
        parallel.play_ahead(sample_site(), [find("positions")], Broken(), hole=1)


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
