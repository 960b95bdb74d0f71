"""Run the steps of a hole or a site in order and write their results."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gistools.base.errors import InputError
from gistools.base.progress import on_progress, tick
from gistools.site.model import Site
from gistools.steps.catalogue import STEPS, Step, find, function
from gistools.steps.gaps import Gap, gap_lines, run_with_gaps
from gistools.steps.records import RESULT_FORMAT, layers_of, result_as_json
from gistools.steps.summary import brief_summary, hole_summary


@dataclass
class Study:
    """Results of a study by step, what was skipped or is missing and why, and where it was written.

    ``missing`` lists the results that could not be computed. ``results`` maps a step to what its function
    returns. ``seconds`` holds the time each step took [s].
    """

    site: Site
    hole: int | None
    results: dict[str, Any] = field(default_factory=dict)
    skipped: dict[str, str] = field(default_factory=dict)
    missing: list[Gap] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    path: Path | None = None

    @property
    def tables(self) -> dict[str, Any]:
        """Result layers and maps by their names without prefix."""
        return {name: part for result in self.results.values() for name, part in layers_of(result).items()}

    def table(self, layer: str) -> Any:
        """Return one result layer by its name without prefix, or None if no step of the study wrote it."""
        return self.tables.get(layer)

    @property
    def brief_holds(self) -> bool:
        """False if a `must` row of the brief fails or has no answer."""
        brief = self.table("brief")
        return brief is None or holds(brief)

    def summary(self, units: str = "m") -> str:
        """Return the findings in a page of words a designer can read in a minute.

        Parameters
        ----------
        units
            Lengths in ``"m"`` or ``"yd"``.
        """
        tables = self.tables
        lines: list[str] = []
        for hole in self.site.selected_holes(self.hole):
            lines += ["", *hole_summary(tables, hole, units)]
        lines += ["", *brief_summary(tables.get("brief"), units)]
        lines += gap_lines(self.missing)
        if self.skipped:
            lines += [f"Not run: {', '.join(f'{name} ({why})' for name, why in self.skipped.items())}."]
        cautions = dict.fromkeys(c for name in self.results for c in find(name).cautions)
        lines += [f"Caution: {c}" for c in cautions]
        lines += [f"Computed in {sum(self.seconds.values()):.1f} s."]
        if self.path is not None:
            lines += [f"Written to {self.path}."]
        return "\n".join(lines).strip("\n")

    def as_dict(self) -> dict[str, Any]:
        """Return the study as plain values, for machines: each result as :func:`result_as_json` has it."""
        crs = self.site.crs.to_string()
        return {
            "format": RESULT_FORMAT,
            "site": str(self.site.path or ""),
            "hole": self.hole,
            "written_to": str(self.path or ""),
            "brief_holds": self.brief_holds,
            "complete": not self.missing,
            "missing": [dataclasses.asdict(gap) for gap in self.missing],
            "skipped": self.skipped,
            "seconds": {k: round(v, 3) for k, v in self.seconds.items()},
            "results": {name: result_as_json(result, crs) for name, result in self.results.items()},
        }

    def __repr__(self) -> str:
        return self.summary()


def study(
    site: Site,
    *,
    hole: int | None = None,
    only: Sequence[str] | None = None,
    players: Sequence[str] | None = None,
    winds: Sequence[str] | None = None,
    out: str | Path | None = None,
    replace: bool | None = None,
    proposed: bool = False,
    quick: bool = False,
    write: bool = True,
    executor: Executor | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> Study:
    """Run every step that applies, in order, and write all results at once.

    A step that fails for a hole leaves a gap there, listed in ``missing``; the other holes and steps go on.

    Parameters
    ----------
    site
        An open site.
    hole
        Only this hole; by default all.
    only
        Only these steps; by default all that have something to work on.
    players, winds
        Only these; by default those of the site, or the built-in scratch and bogey player and calm.
    out
        Another GeoPackage to write to; by default the site's own file.
    replace
        True replaces what is at ``out``, whatever it is; see :func:`gistools.site.write.write`.
    proposed
        Study the ground as the `shapes` layer proposes it, instead of the surveyed one.
    quick
        Leave out the steps that play whole holes out (expected strokes and what stands on it): seconds
        instead of minutes.
    write
        False computes only.
    executor
        Any executor of `concurrent.futures`, that of a cluster included: each hole and player is a task of it
        (:mod:`gistools.steps.parallel`). Without it one after the other. A study that was stopped resumes
        from its finished tasks when it is run again on the same site with the same settings; the same study
        does not run twice at once.
    progress
        Called with ``(share, text)``; raising in it stops the study before anything is written.

    Returns
    -------
    Study
        Results by step, what was skipped and why, and where they were written.

    Raises
    ------
    SiteError
        If no step has a result, with the first reason; nothing is written then.
    InputError
        If a step, hole, player or wind is unknown.
    WriteError
        If ``out`` cannot or may not be written; that is found out before anything is computed.
    GistoolsError
        If a process of the executor ends before its work is done, or the same study runs elsewhere.
    """
    if out is not None:
        from gistools.site.write import refuse_out

        refuse_out(site, Path(out), replace)
    if proposed:
        from gistools.site.proposed import proposed_site

        site = proposed_site(site)
    site.selected_holes(hole)
    for name in only or ():
        if name not in STEPS:
            raise InputError(f"there is no step {name!r}; the steps are: {', '.join(STEPS)}")
    done = Study(site, hole)
    todo: list[Step] = []
    for name in only or STEPS:
        spec = find(name)
        reason = None if only else _nothing_to_do(site, spec)
        if quick and spec.cost == "minutes":
            reason = "left out of a quick study"
        if reason:
            done.skipped[name] = reason
        else:
            todo.append(spec)
    given = {
        "hole": hole,
        "players": tuple(players) if players else None,
        "winds": tuple(winds) if winds else None,
    }
    ahead: AbstractContextManager[None] = nullcontext()
    if executor is not None:
        from gistools.steps.parallel import played_ahead

        ahead = played_ahead(site, todo, executor, **given)  # type: ignore[arg-type]
    with on_progress(progress), ahead:
        _run_steps(done, todo, given, progress)
        tick(1.0, "")  # the last moment to stop: nothing has been written
        if (write and site.path is not None) or out is not None:
            done.path = site.write(*done.results.values(), out=out, replace=replace)
    return done


def _run_steps(
    done: Study,
    todo: Sequence[Step],
    given: dict[str, Any],
    progress: Callable[[float, str], None] | None,
) -> None:
    """Run the steps of a study in order; results, gaps and times go into ``done``."""
    stops: list[BaseException] = []
    errors: list[Exception] = []
    for number, spec in enumerate(todo):
        start = time.perf_counter()
        options = {c.name: given[c.name] for c in spec.choices if c.name in given}
        with on_progress(_part(progress, number, len(todo), spec, stops)):
            tick(0.0, "")
            result, gaps, error = run_with_gaps(
                spec.name,
                _runner(done.site, spec, options),
                done.hole,
                done.site.selected_holes(done.hole),
                lambda: bool(stops),
            )
        done.missing += gaps
        errors += [error] if error is not None else []
        if result is not None:
            done.results[spec.name] = result
        done.seconds[spec.name] = time.perf_counter() - start
    if errors and not done.results:
        raise errors[0]


def holds(brief: Any) -> bool:
    """Tell whether every `must` row of a brief's result holds; one without an answer does not."""
    return bool((~brief["must"].astype(bool) | (brief["result"] == "holds")).all())


def _nothing_to_do(site: Site, spec: Step) -> str | None:
    if spec.needs and len(site.layer(spec.needs)) == 0:
        return f"the site has nothing in `{spec.needs}`"
    if site.ground is None and any(r.layer == "terrain" and r.required for r in spec.reads):
        return "the site has no terrain"
    return None


def _runner(site: Site, spec: Step, options: dict[str, Any]) -> Callable[[int | None], Any]:
    by_hole = any(c.name == "hole" for c in spec.choices)
    return lambda hole: function(spec.name)(site, **{**options, **({"hole": hole} if by_hole else {})})


def _part(
    progress: Callable[[float, str], None] | None,
    number: int,
    count: int,
    spec: Step,
    stops: list[BaseException],
) -> Callable[[float, str], None] | None:
    """Return the listener of one step; what is raised in it stops the study and is noted in ``stops``."""
    if progress is None:
        return None

    def listen(share: float, text: str) -> None:
        try:
            progress((number + share) / count, f"{spec.name} {text}".strip())
        except BaseException as stop:
            stops.append(stop)
            raise

    return listen
