"""Search for the least change that makes an intention hold.

*What must move, and how far, for this position to be first for this hole location?* A list of edits is
given in which some figures are ranges, ``along_m = [-12, 12]``. The intention has a margin: how far it
holds, negative where it fails. The search is made for few and dear evaluations:

1. Points that fill the ranges evenly (Sobol) are tried, and all figures at their farthest, on a coarser mesh,
   each starting from the solution of the unchanged site (warm start), for the hole location that is asked
   about alone. An executor plays them side by side.
2. From the best of them the least effort is looked for with which the intention holds: earth moved, and a
   little for how far each figure goes within its range. The method is COBYLA of scipy, linear models of
   effort and margin within a shrinking trust region, without derivatives (Powell 1994, Advances in
   Optimization and Numerical Analysis 51-67 [from memory]).
3. Each figure is taken back to no change, alone, where the intention holds without it.
4. The answer is evaluated again in full, on the mesh of the site; its margin there is what is reported. Where
   the coarse mesh was too kind, 2 and 3 are repeated with so much more margin asked.

Beside the method before it (the ends of the ranges, then the way back from the best of them halved) it plays
more variants and finds less earth: on eight margins in closed form 9 to 36 for 6 to 20 variants, 0 to 22 %
more earth than the least that is known for 0 to 103 %, and an answer where the old one had none because the
margin is greatest inside the ranges. Differential evolution needs 55 to 224
(`scripts/bench/search_methods.py`).

Every variant that was evaluated is kept on disk until the search ends: one that is stopped resumes when the
same is asked again. The answer holds (step 4 checks it); that no smaller one exists is not proved.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import Bounds, minimize

from gistools.base.errors import InputError
from gistools.base.names import match_one
from gistools.base.progress import on_progress
from gistools.design.edit_list import edit_rows
from gistools.design.search_result import SearchResult
from gistools.design.search_variants import (
    BASES,
    DIGITS,
    FAR_OUTSIDE,
    MOST_STEPS,
    MOST_STEPS_AGAIN,
    Question,
    Tries,
    earth_and_slope,
    edited,
    no_change,
)
from gistools.design.site_edits import SiteEdits
from gistools.design.zone_totals import hole_of
from gistools.site.model import Site
from gistools.steps.finished_tasks import alone, drop, tasks_folder

#: side of the cells on which candidates are tried [m]
COARSE_M = 5.0
#: first and last step of the optimiser, as a share of the range (assumptions)
FIRST_STEP, LAST_STEP = 0.25, 0.03
#: times that step 2 is repeated where the coarse mesh was too kind
REPEATS = 2


def search_edits(
    site: Site,
    edits: str | Path | Sequence[Mapping[str, Any] | str],
    *,
    first: str = "",
    pin: str = "",
    hole: int | None = None,
    tee: str = "",
    player: str = "scratch man",
    wind: str = "calm",
    brief_file: str | None = None,
    by_strokes: float = 0.0,
    short_player: str = "",
    coarse_m: float = COARSE_M,
    executor: Executor | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> SearchResult:
    """Find the least change within ranges that makes an intention hold.

    Parameters
    ----------
    site
        An open site.
    edits
        Edits as :func:`gistools.design.edit_list.read_edits` takes them, a figure of which may be a range
        ``[low, high]`` that holds 0 (1 for a factor), no change; or texts such as ``mound: along -10..10``.
    first, pin
        The landing zone that should be first for a hole location, by more than the setting
        `level_band_strokes`.
    hole, tee, player, wind
        Of whom and from where that is asked; the longest tee by default.
    brief_file
        Instead of ``first`` and ``pin``: a TOML file of brief rows that should hold; without any, the rows of
        the site that bind.
    by_strokes
        By how much more than that band the zone should be first [strokes].
    short_player
        A player for whom fairness is one of the trade-offs: by how much more each variant costs them, from
        the shortest tee, than the player. Every variant is then played by both.
    coarse_m
        Side of the cells on which candidates are tried [m].
    executor
        Any executor of `concurrent.futures`; without it one variant after the other. The answer is the same
        whatever the number of its workers.
    progress
        Called with ``(share, text)``; raising in it stops the search.

    Returns
    -------
    SearchResult
        The edits, whether and by how much the intention holds with them, and all that was tried.

    Raises
    ------
    InputError
        If the edits cannot be read, no figure is a range, a range does not hold "no change", the zone or hole
        location is unknown, or no variant can be made.
    """
    templates, ranges = _ranges(edits)
    templates = [_on_hole(site, row, hole) for row in templates]
    site = _with_pin_alone(site, hole, pin, templates) if first else site
    brief_text = Path(brief_file).read_bytes().hex() if brief_file and Path(brief_file).is_file() else ""
    wish = [templates, first, pin, hole, tee, player, wind, brief_text, by_strokes, short_player, coarse_m]
    folder = tasks_folder(site, ["search", json.dumps(wish, default=str)], [])
    question = Question(
        site, templates, ranges, first, pin, hole, tee, player, wind, brief_file, by_strokes, short_player,
        coarse_m, folder.name,
    )  # fmt: skip
    question.check()
    tries = Tries(question, folder, executor)
    with on_progress(progress), alone(folder, "search"):
        try:
            before = question.margin_of(site)
            nothing = [no_change(field) for _, field in ranges]
            best = nothing
            if before < 0:
                tries.play(question.starts())
            final, in_hand, most = -np.inf, 0.0, MOST_STEPS
            for _ in range(1 + REPEATS if before < 0 else 0):
                _least_effort(tries, in_hand, most)
                best = tries.best(in_hand)
                if tries.margin(best) >= in_hand:
                    best = _without_the_needless(best, nothing, lambda f: tries.margin(f) >= in_hand)  # noqa: B023
                final = tries.margin(best, full=True)
                if final >= 0 or tries.margin(best) < in_hand:
                    break
                in_hand, most = tries.margin(best) - final, MOST_STEPS_AGAIN  # the coarse mesh was too kind
            if before >= 0:
                final = tries.margin(best, full=True)
        finally:
            BASES.pop(question.stamp, None)
    if tries.refused and len(tries.refused) == len(tries.rows):
        raise InputError(f"no variant can be made; {tries.refused[0][1]}")
    answer = tuple(question.edits_at(best))
    after = edited(site, answer)
    drop(folder, tries.tasks)
    earth_m3, _ = earth_and_slope(site, after, hole)
    return SearchResult(
        answer,
        final >= 0,
        final,
        before,
        earth_m3,
        pd.DataFrame(tries.rows),
        tuple(tries.variants),
        tuple(tries.refused),
    )


def _least_effort(tries: Tries, in_hand: float, most: int) -> None:
    """Look from the best variant so far for the least effort with which the intention holds (step 2)."""
    low, high = tries.question.bounds.T
    nothing = np.array([no_change(field) for _, field in tries.question.ranges])
    scale = np.maximum(high - nothing, nothing - low)
    margins = [m[0] for m in tries.measures.values() if m[0] > FAR_OUTSIDE / 2]
    spread = max(max(margins, default=0.0) - min(margins, default=0.0), 1e-6)

    def figures(x: NDArray[np.float64]) -> list[float]:
        return list(map(float, np.round(np.clip(nothing + x * scale, low, high), DIGITS)))

    def room(x: NDArray[np.float64]) -> float:
        return float(np.clip((tries.margin(figures(x)) - in_hand) / spread, -1.0, 1.0))

    def effort(x: NDArray[np.float64]) -> float:
        tries.margin(figures(x))
        return tries.effort(figures(x))

    minimize(
        effort,
        (np.array(tries.best(in_hand)) - nothing) / scale,
        method="COBYLA",
        bounds=Bounds((low - nothing) / scale, (high - nothing) / scale),
        constraints={"type": "ineq", "fun": room},
        tol=LAST_STEP,
        options={"maxiter": most, "rhobeg": FIRST_STEP},
    )


#: word of a range in a text -> action and field of an edit
RANGES = {
    **{word: ("move", f"{word}_m") for word in ("along", "across", "east", "north")},
    "turn": ("turn", "turn_deg"),
    "factor": ("scale", "factor"),
    "rise": ("raise", "rise_m"),
}


def moves(text: str) -> list[dict[str, Any]]:
    """Return the edits of a text such as ``mound: along -10..10, rise -1..2``, one for each action.

    Raises
    ------
    InputError
        If it is not a name and ranges.
    """
    name, _, ranges = text.rpartition(":")
    rows: dict[str, dict[str, Any]] = {}
    for part in ranges.split(","):
        word, _, figures = part.strip().partition(" ")
        low, dots, high = figures.partition("..")
        try:
            action, field = RANGES[word]
            bounds = [float(low), float(high)]
        except (KeyError, ValueError):
            dots = ""
        if not (name.strip() and dots):
            raise InputError(
                f"{text!r} should be a name and ranges of {', '.join(RANGES)}, for example"
                " 'Long Mound: along -10..10, rise 0..1'"
            )
        rows.setdefault(action, {"action": action, "feature": name.strip()})[field] = bounds
    return list(rows.values())


def _ranges(edits: Any) -> tuple[list[dict[str, Any]], list[tuple[int, str]]]:
    """Return edits as mappings, and which edit and figure are ranges."""
    if not isinstance(edits, (str, Path)):
        edits = [row for edit in edits for row in (moves(edit) if isinstance(edit, str) else [edit])]
    templates, ranges = [], []
    for k, row in enumerate(edit_rows(edits)):
        for field, value in list(row.items()):
            if isinstance(value, (list, tuple)):
                if len(value) != 2 or not all(isinstance(v, (int, float)) for v in value):
                    raise InputError(f"edit {k + 1}: the range of {field} should be [low, high]")
                low, high = sorted(map(float, value))
                if not low <= no_change(field) <= high or low == high:
                    raise InputError(
                        f"edit {k + 1}: the range of {field} is {low:g} to {high:g}; it should hold"
                        f" {no_change(field):g}, no change"
                    )
                row[field] = (low, high)
                ranges.append((k, field))
        templates.append(row)
    if not ranges:
        raise InputError(
            "no figure of the edits is a range such as along_m = [-12, 12]: there is nothing to search"
        )
    return templates, ranges


def _on_hole(site: Site, edit: dict[str, Any], hole: int | None) -> dict[str, Any]:
    """Return an edit of a feature that belongs to no hole, a burn, as one on the hole that is searched."""
    if hole is None or edit.get("hole") is not None or not edit.get("feature") or edit.get("action") == "add":
        return edit
    edits = SiteEdits(site)
    try:
        layer, row = edits.find(str(edit["feature"]), str(edit.get("layer") or ""))
    except InputError:  # said where the edit is made
        return edit
    of_hole = edits.table(layer).iloc[row].get("hole")
    return edit | {"hole": hole} if pd.isna(of_hole) else edit


def _without_the_needless(
    best: list[float], nothing: list[float], holds: Callable[[list[float]], bool]
) -> list[float]:
    """Return the change without figures that the intention holds without."""
    moved = [k for k, value in enumerate(best) if value != nothing[k]]
    for k in moved if len(moved) > 1 else []:
        without = [*best[:k], nothing[k], *best[k + 1 :]]
        if without != nothing and holds(without):
            best = without
    return best


def _with_pin_alone(site: Site, hole: int | None, pin: str, edits: Sequence[Mapping[str, Any]]) -> Site:
    """Return the site with no other hole location on the hole, since none changes the answer for one.

    As it is where there is none, or an edit names one.
    """
    number, pins = hole_of(site, hole).number, site.layer("pins")
    here = (pins["hole"] == number).to_numpy()
    names = [str(name) for name in pins["pin"][here]]
    if not names or any(edit.get("layer") == "pins" or edit.get("feature") in names for edit in edits):
        return site
    try:
        meant = match_one(pin, names, "hole location")
    except InputError:  # said where the margin is taken
        return site
    return site.replace(pins=pins[~here | (pins["pin"] == meant).to_numpy()].reset_index(drop=True))
