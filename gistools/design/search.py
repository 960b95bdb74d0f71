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
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import Bounds, minimize
from scipy.stats import qmc

from gistools.base.errors import GistoolsError, InputError, SiteError
from gistools.base.names import match_one
from gistools.base.progress import on_progress, tick
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT
from gistools.design.compare import ground_rows
from gistools.design.edit_list import Edit, edit_rows, numbered_edit
from gistools.design.edits import apply_edits
from gistools.design.zone_totals import hole_of, zone_totals
from gistools.site.model import Site
from gistools.site.players import one_player
from gistools.steps.brief import brief
from gistools.steps.finished_tasks import drop, load, store, tasks_folder

#: side of the cells on which candidates are tried [m]
COARSE_M = 5.0
#: variants tried first; after them at most so many, and on a repeat of step 2 (assumptions)
STARTS, MOST_STEPS, MOST_STEPS_AGAIN = 8, 25, 10
#: first and last step of the optimiser, as a share of the range (assumptions)
FIRST_STEP, LAST_STEP = 0.25, 0.03
#: what going to the ends of all ranges counts beside the most earth moved (assumption)
RANGE_WEIGHT = 0.1
#: figures are tried to so many digits: a centimetre, a hundredth of a degree
DIGITS = 2
#: times that step 2 is repeated where the coarse mesh was too kind
REPEATS = 2
#: margin of a variant that cannot be made, in which the zone is gone, or a row has no answer
FAR_OUTSIDE = -9.0
#: columns of ``tried`` that are not figures of edits
MEASURED = ("margin", "earth_m3", "steepest_pct", "short_player_strokes", "full", "number")
#: ground no steeper than this counts as level ground among the trade-offs: it can be mown [%]
MOWABLE_PCT = SLOPE_LIMITS_PCT["mound"][0]


@dataclass(frozen=True)
class SearchResult:
    """Result of a search.

    Attributes
    ----------
    edits
        The least change found, or the best one tried.
    holds
        Whether the intention holds with it, in full.
    margin, margin_before
        How far inside the intention is with the edits and without, in the unit of its measure.
    earth_m3
        Cut and fill of the change together, nan where the site has no terrain.
    tried
        One row for each evaluation: the figures, the margin, the earth moved, the steepest of the ground that
        changes, by how much more the change costs the short player than the player (``short_player_strokes``,
        nan where none is named), whether on the site's mesh.
    variants
        The edits of each row of ``tried``.
    """

    edits: tuple[Edit, ...]
    holds: bool
    margin: float
    margin_before: float
    earth_m3: float
    tried: pd.DataFrame
    variants: tuple[tuple[Edit, ...], ...] = ()

    @property
    def trade_offs(self) -> pd.DataFrame:
        """The variants that none other beats in margin, earth, slopes and short player, least earth first.

        Those of one mesh alone are compared: the coarse one where anything was tried on it. Slopes that can
        be mown are equal. ``number`` is the row in ``tried``, and so in ``variants``.
        """
        rows = self.tried.assign(number=np.arange(len(self.tried)))
        rows = rows[rows["margin"] > FAR_OUTSIDE / 2]
        coarse = rows[~rows["full"].astype(bool)]
        rows = coarse if len(coarse) else rows
        steep = rows["steepest_pct"].fillna(0.0).clip(lower=MOWABLE_PCT)
        earth, short = (rows[name].fillna(0.0) for name in ("earth_m3", "short_player_strokes"))
        cost = np.column_stack([-rows["margin"], earth, steep, short]).astype(float)
        no_worse = (cost[:, None] <= cost[None]).all(axis=2)  # [a, b]: a is nowhere worse than b
        earlier = np.tri(len(cost), k=-1, dtype=bool).T  # of equal ones the first stays
        beaten = (no_worse & (~no_worse.T | earlier)).any(axis=0)
        order = np.lexsort((cost[~beaten, 0], cost[~beaten, 1]))
        left = np.flatnonzero(~beaten)
        return rows.iloc[left[order]].reset_index(drop=True)

    def __repr__(self) -> str:
        verdict = "holds" if self.holds else "does not hold within these ranges; the best tried is"
        lines = [f"The intention {verdict}: margin {self.margin:+.3f} (before {self.margin_before:+.3f})"]
        lines += [f"  {edit.label}: {_figures(edit)}" for edit in self.edits]
        earth = "" if np.isnan(self.earth_m3) else f", {self.earth_m3:.0f} m3 of earth moved"
        lines.append(f"{len(self.tried)} variants tried{earth}")
        choices = self.trade_offs
        if len(choices) > 1:
            lines.append("Trade-offs, none of them beaten by another, least earth first:")
            for row in choices.to_dict("records"):
                figures = ", ".join(f"{k} {v:+.2f}" for k, v in row.items() if k not in MEASURED)
                words = f"  {row['earth_m3']:.0f} m3" if row["earth_m3"] >= 0 else "  no earth counted"
                if row["steepest_pct"] > 0:
                    words += f", slopes to {row['steepest_pct']:.0f} %"
                words += f": margin {row['margin']:+.3f}"
                if np.isfinite(row["short_player_strokes"]):
                    words += f", short player {row['short_player_strokes']:+.3f} strokes"
                lines.append(f"{words} ({figures})")
        return "\n".join(lines)


def search_edits(
    site: Site,
    edits: str | Path | Sequence[Mapping[str, Any]],
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
        ``[low, high]`` that holds 0 (1 for a factor), no change.
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
    site = _with_pin_alone(site, hole, pin, templates) if first else site
    brief_text = Path(brief_file).read_bytes().hex() if brief_file and Path(brief_file).is_file() else ""
    wish = [templates, first, pin, hole, tee, player, wind, brief_text, by_strokes, short_player, coarse_m]
    folder = tasks_folder(site, ["search", json.dumps(wish, default=str)], [])
    question = Question(
        site, templates, ranges, first, pin, hole, tee, player, wind, brief_file, by_strokes, short_player,
        coarse_m, folder.name,
    )  # fmt: skip
    question.check()
    tries = _Tries(question, folder, executor)
    with on_progress(progress):
        try:
            before = question.margin_of(site)
            nothing = [_no_change(field) for _, field in ranges]
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
            _BASES.pop(question.stamp, None)
    if tries.faults and len(tries.faults) == len(tries.rows):
        raise tries.faults[0]
    answer = tuple(question.edits_at(best))
    after = _edited(site, answer)
    drop(folder)
    earth_m3, _ = _earth(site, after, hole)
    return SearchResult(
        answer, final >= 0, final, before, earth_m3, pd.DataFrame(tries.rows), tuple(tries.variants)
    )


#: what a variant is measured by: margin, earth [m3], steepest [%], short player [strokes]
Measures = tuple[float, float, float, float]
#: unchanged sites on the coarse mesh with their solutions, by question, in this process
_BASES: dict[str, Site] = {}
_LOCK = threading.Lock()


@dataclass(frozen=True, eq=False)
class Question:
    """What is searched: a site, edits with ranges, and the intention. It can be sent to another process."""

    site: Site
    templates: list[dict[str, Any]]
    ranges: list[tuple[int, str]]
    first: str
    pin: str
    hole: int | None
    tee: str
    player: str
    wind: str
    brief_file: str | None
    by_strokes: float
    short_player: str
    coarse_m: float
    stamp: str

    def check(self) -> None:
        """Refuse an unknown tee or short player before anything is played."""
        if self.first:
            _tee_name(self.site, self.hole, self.tee)
        if self.short_player:
            one_player(self.site, self.short_player)

    @property
    def bounds(self) -> NDArray[np.float64]:
        """Low and high of each range, ``(n, 2)``."""
        return np.array([self.templates[k][field] for k, field in self.ranges], float)

    def starts(self) -> list[list[float]]:
        """Return the first variants: all figures at their farthest, then points that fill the ranges evenly.

        The first point of the sequence, the low ends together, gives way to the high ends.
        """
        low, high = self.bounds.T
        points = qmc.scale(qmc.Sobol(len(low), scramble=False).random(STARTS), low, high)
        points[0] = high
        return [list(map(float, np.round(point, DIGITS))) for point in points]

    def edits_at(self, figures: Sequence[float]) -> list[Edit]:
        """Return the edits with figures in the place of ranges."""
        return _filled(self.templates, self.ranges, figures)

    def margin_of(self, candidate: Site, unchanged: Site | None = None) -> float:
        """Return the margin of a site; a variant of ``unchanged`` starts from its solution."""
        if unchanged is not None:
            tee = _tee_name(self.site, self.hole, self.tee) if self.first else None
            candidate = candidate.as_variant_of(unchanged, tee)
        if self.first:
            who = self.first, self.pin, self.hole, self.tee, self.player, self.wind
            return _first_margin(candidate, *who, variant=candidate is not self.site) - self.by_strokes
        return _brief_margin(candidate, self.hole, self.brief_file)

    def base(self) -> Site:
        """Return the unchanged site on the coarse mesh, which this process solves once."""
        with _LOCK:
            if self.stamp not in _BASES:
                side = max(self.coarse_m, self.site.settings.get("mesh_cell_m", 0.0))
                _BASES.clear()
                _BASES[self.stamp] = self.site.with_settings(mesh_cell_m=side)
                self.margin_of(_BASES[self.stamp])
            return _BASES[self.stamp]

    def short_player_strokes(self, variant: Site, unchanged: Site) -> float:
        """Return by how much more a variant costs the short player than the player."""
        if not self.short_player:
            return float("nan")
        model = hole_of(self.site, self.hole)
        tees = _tee_name(self.site, self.hole, self.tee), model.tees_by_length[-1].name
        rises = []
        for tee, who in zip(tees, (self.player, self.short_player), strict=True):
            after = variant.as_variant_of(unchanged, tee)
            costs = [_expected(s, self.hole, tee, who, self.wind, self.pin) for s in (unchanged, after)]
            rises.append(costs[1] - costs[0])
        return rises[1] - rises[0]


def try_variant(question: Question, figures: Sequence[float], full: bool) -> Measures:
    """Measure one variant; a plain function, so that any executor can carry it to another process.

    Raises
    ------
    InputError, SiteError
        If that ground cannot be made or played.
    """
    unchanged = question.site if full else question.base()
    variant = _edited(unchanged, question.edits_at(figures))
    value = question.margin_of(variant, None if full else unchanged)
    short = float("nan") if full else question.short_player_strokes(variant, unchanged)
    return value, *_earth(unchanged, variant, question.hole), short


class _Tries:
    """The variants tried so far, in an order that does not depend on who played them."""

    def __init__(self, question: Question, folder: Path, executor: Executor | None) -> None:
        self.question, self.folder, self.executor = question, folder, executor
        self.names = [f"{k + 1}.{field}" for k, field in question.ranges]
        self.measures: dict[tuple[tuple[float, ...], bool], Measures] = {}
        self.rows: list[dict[str, Any]] = []
        self.variants: list[tuple[Edit, ...]] = []
        self.faults: list[GistoolsError] = []

    def margin(self, figures: Sequence[float], *, full: bool = False) -> float:
        """Return the margin with some figures, playing the variant if it was not yet played."""
        key = tuple(map(float, figures)), full
        if key not in self.measures:
            self.play([figures], full=full)
        return self.measures[key][0]

    def play(self, points: Sequence[Sequence[float]], *, full: bool = False) -> None:
        """Play variants, side by side where there is an executor."""
        keys = list(dict.fromkeys(tuple(map(float, p)) for p in points))
        keys = [key for key in keys if (key, full) not in self.measures]
        known = {key: stored for key in keys if (stored := load(self.folder, 0, self._label(key, full)))}
        todo = [key for key in keys if key not in known]
        faults: dict[tuple[float, ...], GistoolsError] = {}
        if self.executor is None or full:  # the site of this process has its solution in memory
            for key in todo:
                self._tick()
                try:
                    known[key] = try_variant(self.question, key, full)
                    store(self.folder, 0, self._label(key, full), known[key])
                except (InputError, SiteError) as fault:
                    faults[key] = fault
        elif todo:
            self._play_apart(todo, known, faults)
        for key in keys:
            nothing = FAR_OUTSIDE, float("nan"), float("nan"), float("nan")
            self.measures[key, full] = measures = known.get(key, nothing)
            named = dict(zip(self.names, key, strict=True))
            self.rows.append(named | dict(zip(MEASURED, (*measures, full), strict=False)))
            self.variants.append(tuple(self.question.edits_at(key)))
            self.faults += [faults[key]] if key in faults else []

    def _play_apart(self, todo: list[Any], known: dict[Any, Any], faults: dict[Any, GistoolsError]) -> None:
        assert self.executor is not None
        fresh = replace(self.question, site=self.question.site.replace())
        tasks: dict[Future[Measures], Any] = {
            self.executor.submit(try_variant, fresh, key, False): key for key in todo
        }
        try:
            for number, task in enumerate(as_completed(tasks)):
                self._tick(number)
                key = tasks[task]
                try:
                    known[key] = task.result()
                    store(self.folder, 0, self._label(key, False), known[key])
                except (InputError, SiteError) as fault:
                    faults[key] = fault
                except BrokenProcessPool as fault:
                    raise GistoolsError(
                        "a process that played a variant ended before it was done, perhaps for want of"
                        " memory; use fewer workers. The same search asked again resumes"
                    ) from fault
        finally:
            for task in tasks:
                task.cancel()

    def _label(self, key: tuple[float, ...], full: bool) -> str:
        return json.dumps([dict(zip(self.names, key, strict=True)), full])

    def _tick(self, ahead: int = 0) -> None:
        number = len(self.rows) + ahead
        tick(min(0.95, number / (STARTS + MOST_STEPS)), f"variant {number + 1}")

    def effort(self, figures: Sequence[float]) -> float:
        """Return earth moved beside the most of the starts, and a little for the shares of the ranges."""
        _, earth, _, _ = self.measures[tuple(map(float, figures)), False]
        earths = [m[1] for (_, full), m in self.measures.items() if not full][:STARTS]
        most = max(np.nanmax([*earths, 0.0]), 1.0)
        nothing = np.array([_no_change(field) for _, field in self.question.ranges])
        shares = np.abs(figures - nothing) / np.abs(self.question.bounds.T - nothing).max(axis=0)
        return float(np.nan_to_num(earth) / most + RANGE_WEIGHT * shares.mean())

    def best(self, in_hand: float) -> list[float]:
        """Return the figures of least effort that hold with so much in hand, else of the best margin."""
        tried = [(list(key), m[0]) for (key, full), m in self.measures.items() if not full]
        holding = [key for key, value in tried if value >= in_hand]
        return min(holding, key=self.effort) if holding else max(tried, key=lambda t: t[1])[0]


def _least_effort(tries: _Tries, in_hand: float, most: int) -> None:
    """Look from the best variant so far for the least effort with which the intention holds (step 2)."""
    low, high = tries.question.bounds.T
    nothing = np.array([_no_change(field) for _, field in tries.question.ranges])
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


def _expected(site: Site, hole: int | None, tee: str, player: str, wind: str, pin: str) -> float:
    """Return the expected score by the best landing zone, for a hole location or in the mean of all."""
    by_pin = zone_totals(site, hole, tee, player, wind)
    pins = [match_one(pin, by_pin, "hole location")] if pin else list(by_pin)
    return float(np.mean([min(by_pin[p].values(), default=np.nan) for p in pins]))


def _figures(edit: Edit) -> str:
    skipped = ("action", "feature", "layer", "hole", "note")
    return ", ".join(
        f"{k} {v:+.2f}" if isinstance(v, float) else f"{k} {v}"
        for k, v in edit.as_dict().items()
        if k not in skipped
    )


def _ranges(edits: Any) -> tuple[list[dict[str, Any]], list[tuple[int, str]]]:
    """Return edits as mappings, and which edit and figure are ranges."""
    templates, ranges = [], []
    for k, row in enumerate(edit_rows(edits)):
        for field, value in list(row.items()):
            if isinstance(value, (list, tuple)):
                if len(value) != 2 or not all(isinstance(v, (int, float)) for v in value):
                    raise InputError(f"edit {k + 1}: the range of {field} should be [low, high]")
                low, high = sorted(map(float, value))
                if not low <= _no_change(field) <= high or low == high:
                    raise InputError(
                        f"edit {k + 1}: the range of {field} is {low:g} to {high:g}; it should hold"
                        f" {_no_change(field):g}, no change"
                    )
                row[field] = (low, high)
                ranges.append((k, field))
        templates.append(row)
    if not ranges:
        raise InputError(
            "no figure of the edits is a range such as along_m = [-12, 12]: there is nothing to search"
        )
    return templates, ranges


def _no_change(field: str) -> float:
    return 1.0 if field == "factor" else 0.0


def _filled(
    templates: list[dict[str, Any]], ranges: list[tuple[int, str]], figures: Sequence[float]
) -> list[Edit]:
    """Return the edits with figures in the place of ranges; edits that come to nothing are left out."""
    rows = [dict(row) for row in templates]
    for (k, field), value in zip(ranges, figures, strict=True):
        rows[k][field] = float(value)
    out = []
    for k, row in enumerate(rows):
        searched = [field for n, field in ranges if n == k]
        if searched and all(abs(row[f] - _no_change(f)) < 1e-6 for f in searched):
            continue
        if row.get("action") in ("raise", "lower") and "rise_m" in searched:
            row["action"] = "raise" if row["rise_m"] > 0 else "lower"
            row["rise_m"] = abs(row["rise_m"])
        out.append(numbered_edit("edits", k + 1, row))
    return out


def _edited(site: Site, edits: Sequence[Edit]) -> Site:
    return apply_edits(site, edits) if edits else site


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


def _first_margin(
    site: Site,
    zone: str,
    pin: str,
    hole: int | None,
    tee: str,
    player: str,
    wind: str,
    *,
    variant: bool = False,
) -> float:
    """Return by how much a zone is first for a hole location, less the band of level totals [strokes].

    A ``variant`` in which the zone is gone or out of reach is far from the intention, not in error.
    """
    model = hole_of(site, hole)
    names = [z.zone for z in model.zones]
    if zone not in names and not variant:
        zone = match_one(zone, names, "landing zone")
    by_pin = zone_totals(site, model.number, tee, player, wind)
    totals = by_pin[match_one(pin, by_pin, "hole location")]
    if zone not in totals:
        return FAR_OUTSIDE
    others = [total for name, total in totals.items() if name != zone]
    return min(others, default=99.0) - totals[zone] - float(model.setting("level_band_strokes"))


def _brief_margin(site: Site, hole: int | None, brief_file: str | None) -> float:
    """Return the least margin of the rows that bind; a row without an answer counts as far outside."""
    rows = brief(site, hole=hole, brief_file=brief_file)
    rows = rows[rows["must"].astype(bool)]
    if not len(rows):
        raise InputError("the brief has no row that binds: there is nothing to reach")
    return float(np.where(rows["result"] == "no answer", FAR_OUTSIDE, rows["margin"].astype(float)).min())


def _earth(before: Site, after: Site, hole: int | None) -> tuple[float, float]:
    """Return cut and fill together [m3], and the steepest of the ground that changes [%]; nan for none."""
    if before.ground is None:
        return float("nan"), float("nan")
    figures = ground_rows(before, after, hole)
    if not len(figures):
        return 0.0, float("nan")
    after_by = dict(zip(figures["measure"], figures["after"], strict=True))
    moved = sum(float(after_by.get(f"ground.{kind}_m3", 0.0)) for kind in ("cut", "fill"))
    return moved, float(after_by.get("ground.steepest_pct", np.nan))


def _tee_name(site: Site, hole: int | None, tee: str) -> str:
    model = hole_of(site, hole)
    names = [t.name for t in model.tees]
    return match_one(tee, names, "tee") if tee else model.tees_by_length[0].name
