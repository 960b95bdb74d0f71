"""Results of the steps for one hole, from the site file or computed, and why there are none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from gistools.base.columns import Column
from gistools.base.errors import Cancelled, GistoolsError
from gistools.base.progress import on_progress, tick
from gistools.sheets.cache import stored_result
from gistools.site.model import Site
from gistools.site.result_layers import stored_figures
from gistools.site.results import Map
from gistools.steps.catalogue import STEPS, Step, find, need

#: how a reader gets what only a whole study finds
HOW = "a full study of the hole finds it (minutes of work, for it plays the hole out)"
Progress = Callable[[float, str], None]


def shown_steps() -> tuple[str, ...]:
    """Return the steps whose results a sheet shows, in the order of a study."""
    return tuple(name for name in STEPS if find(name).on_page)


@dataclass
class HoleResults:
    """Result layers of one hole in metres, by name without prefix.

    ``reasons`` says, per step, why there is no result. ``steps`` holds the declarations, for titles, sources
    and cautions.
    """

    hole: int
    tables: dict[str, Any] = field(default_factory=dict)
    maps: list[Map] = field(default_factory=list)
    reasons: dict[str, str] = field(default_factory=dict)
    steps: dict[str, Step] = field(default_factory=dict)

    def add(self, step: Step, result: Any) -> None:
        """Take in what a step returned, a table or layers and maps, with figures as the file stores them."""
        self.steps[step.name] = step
        parts = result if isinstance(result, Mapping) else {step.writes[0].layer: result}
        for layer, part in parts.items():
            if isinstance(part, Map):
                self.maps.append(part)
            else:
                self.tables[layer] = stored_figures(part)

    def table(self, layer: str) -> pd.DataFrame:
        """Return a result layer, or an empty table where no step gave one."""
        table = self.tables.get(layer)
        return pd.DataFrame() if table is None else table

    def step_of(self, layer: str) -> Step | None:
        """Return the declaration of the step that writes a layer."""
        return next((s for s in self.steps.values() if any(w.layer == layer for w in s.writes)), None)

    def columns(self, layer: str) -> dict[str, Column]:
        """Return the declared columns of a layer by name."""
        step = self.step_of(layer)
        if step is None:
            return {}
        return {c.name: c for w in step.writes if w.layer == layer for c in w.columns}

    def why_empty(self, step: str) -> str:
        """Say in words why a step has nothing to show."""
        return self.reasons.get(step, "the step found nothing to measure on this hole")


def collect_results(
    site: Site,
    hole: int,
    steps: tuple[str, ...] | None = None,
    *,
    full: bool = False,
    progress: Progress | None = None,
) -> HoleResults:
    """Collect what the steps a sheet shows have found on one hole.

    What the site file holds and still holds true is taken from there; the rest is computed, but for the steps
    that play whole holes out: these are left to a study unless ``full`` asks for them. A step that cannot
    work on this site (no terrain, a layer missing) leaves its reason; a fault in the program is not hidden.
    ``progress`` is called with the share of the steps done and the name of the step.
    """
    results = HoleResults(hole)
    steps = shown_steps() if steps is None else steps
    for number, name in enumerate(steps):
        step = results.steps[name] = find(name)
        with on_progress(_part(progress, number, len(steps), name)):
            tick(0.0, "")
            there = stored_result(site, step, hole)
            if not isinstance(there, str):
                results.add(step, there)
            elif step.cost == "minutes" and not full:
                results.reasons[name] = f"{there}; {HOW}"
            else:
                _compute(site, hole, step, results)
    return results


def _compute(site: Site, hole: int, step: Step, results: HoleResults) -> None:
    try:
        results.add(step, need(site, step.name, hole=hole))
    except Cancelled:
        raise
    except GistoolsError as error:
        results.reasons[step.name] = str(error)


def _part(progress: Progress | None, number: int, count: int, name: str) -> Progress | None:
    if progress is None:
        return None
    return lambda share, text: progress((number + share) / count, f"{name} {text}".strip())
