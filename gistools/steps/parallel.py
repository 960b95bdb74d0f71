"""Play holes out ahead, on several processes or a cluster, before a study takes the results up.

A task is one hole played by one player in all winds. Tasks know nothing of each other; what comes back is
laid into the memory of the site under the options that steps ask with, so that the study goes on as ever
and one process writes. Any executor of :mod:`concurrent.futures` will do, that of a cluster included; a
site goes to it without what it remembers. What a task returns is also stored on disk until the study ends
(:mod:`gistools.steps.finished_tasks`), so that a study that was stopped resumes.
"""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pandas as pd

from gistools.base.errors import GistoolsError, GistoolsWarning
from gistools.base.progress import as_they_end
from gistools.site.model import Site
from gistools.site.players import players_of, winds_of
from gistools.site.results import Map
from gistools.steps import finished_tasks
from gistools.steps.catalogue import Step, find, keep_result, need

#: step -> what it returned for one hole, player and wind
Answers = dict[str, Any]


@contextmanager
def played_ahead(
    site: Site,
    steps: Sequence[Step],
    executor: Executor,
    *,
    hole: int | None = None,
    players: tuple[str, ...] | None = None,
    winds: tuple[str, ...] | None = None,
) -> Iterator[None]:
    """Run the steps that play whole holes out as tasks of an executor; the site remembers the results.

    A hole that fails for a player is left to the study, which names the gap. Tasks that an earlier study of
    the same site finished before it was stopped are not run again. When the context ends without an error
    the study has ended, and its finished tasks go.

    Parameters
    ----------
    site
        An open site.
    steps
        Steps of the study; those that take players and winds and cost minutes are run.
    executor
        Where the tasks run.
    hole, players, winds
        As given to the study.

    Raises
    ------
    GistoolsError
        If a process of the executor ends before its work is done, or the same study runs elsewhere.
    """
    names = [
        s.name for s in steps if s.cost == "minutes" and {"players", "winds"} <= {c.name for c in s.choices}
    ]
    if not names:
        yield
        return
    who = [p.name for p in players_of(site, players)]
    air = [w.name for w in winds_of(site, winds)]
    todo = list(itertools.product(site.selected_holes(hole), who))
    folder = finished_tasks.tasks_folder(site, names, air)
    with finished_tasks.alone(folder, "study", todo):
        answers = _answers(site, names, todo, air, executor, folder)
        _remember(site, names, answers, hole, (players, who), (winds, air))
        yield
    finished_tasks.drop(folder, todo)


def _answers(
    site: Site,
    names: Sequence[str],
    selection: Sequence[tuple[int, str]],
    winds: Sequence[str],
    executor: Executor,
    folder: Path,
) -> dict[tuple[int, str, str], Answers]:
    """Return what the tasks of a study return, those that are on disk from there; store the others."""
    fresh_site = site.replace()
    answers: dict[tuple[int, str, str], Answers] = {}
    todo = []
    for h, player in selection:
        finished = finished_tasks.load(folder, h, player)
        if finished is None:
            todo.append((h, player))
        else:
            answers |= {(h, player, wind): results for wind, results in finished.items()}
    before = len(selection) - len(todo)
    tasks: dict[Future[Any], tuple[int, str]] = {
        executor.submit(play, fresh_site, names, h, player, winds): (h, player) for h, player in todo
    }
    try:
        for task in as_they_end(tasks, "holes and players", before):
            h, player = tasks[task]
            try:
                finished = task.result()
                finished_tasks.store(folder, h, player, finished)  # at once: this process may be killed
                answers |= {(h, player, wind): results for wind, results in finished.items()}
            except BrokenProcessPool as fault:
                raise GistoolsError(
                    f"a process that played hole {h} ended before it was done, perhaps for want of memory;"
                    " use fewer workers. Nothing was written; the same study run again resumes"
                    " from the tasks that were done"
                ) from fault
            except GistoolsError:
                pass  # the study meets the same error and names the gap
            except Exception as fault:
                warnings.warn(
                    f"hole {h}, {player}: the task ended with {type(fault).__name__} ({fault}); the study"
                    " plays it again by itself, which takes longer",
                    GistoolsWarning,
                    stacklevel=2,
                )
    finally:
        for task, (h, player) in tasks.items():
            if (
                task.done()
                and not task.cancelled()
                and task.exception() is None
                and (h, player, *winds[:1]) not in answers
            ):
                finished_tasks.store(folder, h, player, task.result())  # done, but the study was stopped
            task.cancel()
    return answers


def play(
    site: Site, names: Sequence[str], hole: int, player: str, winds: Sequence[str]
) -> dict[str, Answers]:
    """Run steps for one hole and player in each wind; this is what a worker does."""
    return {
        wind: {name: need(site, name, hole=hole, players=(player,), winds=(wind,)) for name in names}
        for wind in winds
    }


def _remember(
    site: Site,
    names: Sequence[str],
    answers: Mapping[tuple[int, str, str], Answers],
    hole: int | None,
    players: tuple[tuple[str, ...] | None, list[str]],
    winds: tuple[tuple[str, ...] | None, list[str]],
) -> None:
    """Have the site remember the answers under every selection that the study and the brief ask with."""
    holes = site.selected_holes(hole)
    by_hole = {hole: holes} | {h: [h] for h in holes}
    by_player = {players[0]: players[1]} | {(p,): [p] for p in players[1]}
    by_wind = {winds[0]: winds[1]} | {(w,): [w] for w in winds[1]}
    for (h, hs), (p, ps), (w, ws) in itertools.product(by_hole.items(), by_player.items(), by_wind.items()):
        keys = list(itertools.product(hs, ps, ws))
        if not all(key in answers for key in keys):
            continue
        for name in names:
            merged = merge([answers[key][name] for key in keys])
            keep_result(site, find(name), {"hole": h, "players": p, "winds": w}, merged)


def merge(results: Sequence[Any]) -> Any:
    """Return results of a step for several holes, players and winds as one, in their order."""
    if not isinstance(results[0], dict):
        return _stacked(results)
    layers: dict[str, list[Any]] = {}
    for result in results:
        for name, layer in result.items():
            layers.setdefault(name, []).append(layer)
    return {
        name: parts[0] if isinstance(parts[0], Map) else _stacked(parts) for name, parts in layers.items()
    }


def _stacked(tables: Sequence[Any]) -> Any:
    filled = [t for t in tables if len(t)]
    return pd.concat(filled, ignore_index=True) if len(filled) > 1 else (filled or list(tables))[0]
