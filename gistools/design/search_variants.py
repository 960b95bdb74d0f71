"""Variants of a search: what is asked of them, and playing them side by side."""

from __future__ import annotations

import json
import threading
from collections.abc import Sequence
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from gistools.base.errors import GistoolsError, InputError, SiteError
from gistools.base.names import match_one
from gistools.base.progress import as_they_end, tick
from gistools.design.compare import ground_rows
from gistools.design.edit_list import Edit, numbered_edit
from gistools.design.edits import apply_edits
from gistools.design.zone_totals import hole_of, zone_totals
from gistools.site.model import Site
from gistools.site.players import one_player
from gistools.steps.brief import brief
from gistools.steps.finished_tasks import load, store

#: variants tried first; after them at most so many, and on a repeat of step 2 (assumptions)
STARTS, MOST_STEPS, MOST_STEPS_AGAIN = 8, 25, 10
#: what going to the ends of all ranges counts beside the most earth moved (assumption)
RANGE_WEIGHT = 0.1
#: figures are tried to so many digits: a centimetre, a hundredth of a degree
DIGITS = 2
#: margin of a variant that cannot be made, in which the zone is gone, or a row has no answer
FAR_OUTSIDE = -1e6  # below any margin, whatever its unit
#: columns of ``tried`` that are not figures of edits
MEASURED = ("margin", "earth_m3", "steepest_pct", "short_player_strokes", "full", "number")
#: what a variant is measured by: margin, earth [m3], steepest [%], short player [strokes]
Measures = tuple[float, float, float, float]
#: unchanged sites on the coarse mesh with their solutions, by question, in this process
BASES: dict[str, Site] = {}
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
            tee_name(self.site, self.hole, self.tee)
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
        return filled(self.templates, self.ranges, figures)

    def margin_of(self, candidate: Site, unchanged: Site | None = None) -> float:
        """Return the margin of a site; a variant of ``unchanged`` starts from its solution."""
        if unchanged is not None:
            tee = tee_name(self.site, self.hole, self.tee) if self.first else None
            candidate = candidate.as_variant_of(unchanged, tee)
        if self.first:
            who = self.first, self.pin, self.hole, self.tee, self.player, self.wind
            return first_margin(candidate, *who, variant=candidate is not self.site) - self.by_strokes
        return brief_margin(candidate, self.hole, self.brief_file)

    def base(self) -> Site:
        """Return the unchanged site on the coarse mesh, which this process solves once."""
        with _LOCK:
            if self.stamp not in BASES:
                side = max(self.coarse_m, self.site.settings.get("mesh_cell_m", 0.0))
                BASES.clear()
                BASES[self.stamp] = self.site.with_settings(mesh_cell_m=side)
                self.margin_of(BASES[self.stamp])
            return BASES[self.stamp]

    def short_player_strokes(self, variant: Site, unchanged: Site) -> float:
        """Return by how much more a variant costs the short player than the player."""
        if not self.short_player:
            return float("nan")
        model = hole_of(self.site, self.hole)
        tees = tee_name(self.site, self.hole, self.tee), model.tees_by_length[-1].name
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
    variant = edited(unchanged, question.edits_at(figures))
    value = question.margin_of(variant, None if full else unchanged)
    short = float("nan") if full else question.short_player_strokes(variant, unchanged)
    return value, *earth_and_slope(unchanged, variant, question.hole), short


class Tries:
    """The variants tried so far, in an order that does not depend on who played them."""

    def __init__(self, question: Question, folder: Path, executor: Executor | None) -> None:
        self.question, self.folder, self.executor = question, folder, executor
        self.names = [f"{k + 1}.{field}" for k, field in question.ranges]
        self.measures: dict[tuple[tuple[float, ...], bool], Measures] = {}
        self.rows: list[dict[str, Any]] = []
        self.variants: list[tuple[Edit, ...]] = []
        #: rows that could not be made or played, and why
        self.refused: list[tuple[int, str]] = []

    @property
    def tasks(self) -> list[tuple[int, str]]:
        """The variants as finished tasks are stored."""
        return [(0, self._label(key, full)) for key, full in self.measures]

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
            if key in faults:
                self.refused.append((len(self.rows) - 1, str(faults[key])))

    def _play_apart(self, todo: list[Any], known: dict[Any, Any], faults: dict[Any, GistoolsError]) -> None:
        assert self.executor is not None
        fresh = replace(self.question, site=self.question.site.replace())
        tasks: dict[Future[Measures], Any] = {
            self.executor.submit(try_variant, fresh, key, False): key for key in todo
        }
        try:
            for task in as_they_end(tasks, "variants"):
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

    def _tick(self) -> None:
        number = len(self.rows)
        tick(min(0.95, number / (STARTS + MOST_STEPS)), f"variant {number + 1}")

    def effort(self, figures: Sequence[float]) -> float:
        """Return earth moved beside the most of the starts, and a little for the shares of the ranges."""
        _, earth, _, _ = self.measures[tuple(map(float, figures)), False]
        earths = [m[1] for (_, full), m in self.measures.items() if not full][:STARTS]
        most = max(np.nanmax([*earths, 0.0]), 1.0)
        nothing = np.array([no_change(field) for _, field in self.question.ranges])
        shares = np.abs(figures - nothing) / np.abs(self.question.bounds.T - nothing).max(axis=0)
        return float(np.nan_to_num(earth) / most + RANGE_WEIGHT * shares.mean())

    def best(self, in_hand: float) -> list[float]:
        """Return the figures of least effort that hold with so much in hand, else of the best margin."""
        tried = [(list(key), m[0]) for (key, full), m in self.measures.items() if not full]
        holding = [key for key, value in tried if value >= in_hand]
        return min(holding, key=self.effort) if holding else max(tried, key=lambda t: t[1])[0]


def _expected(site: Site, hole: int | None, tee: str, player: str, wind: str, pin: str) -> float:
    """Return the expected score by the best landing zone, for a hole location or in the mean of all."""
    by_pin = zone_totals(site, hole, tee, player, wind)
    pins = [match_one(pin, by_pin, "hole location")] if pin else list(by_pin)
    return float(np.mean([min(by_pin[p].values(), default=np.nan) for p in pins]))


def no_change(field: str) -> float:
    """Return the figure of a field that changes nothing."""
    return 1.0 if field == "factor" else 0.0


def filled(
    templates: list[dict[str, Any]], ranges: list[tuple[int, str]], figures: Sequence[float]
) -> list[Edit]:
    """Return the edits with figures in the place of ranges; edits that come to nothing are left out."""
    rows = [dict(row) for row in templates]
    for (k, field), value in zip(ranges, figures, strict=True):
        rows[k][field] = float(value)
    out = []
    for k, row in enumerate(rows):
        searched = [field for n, field in ranges if n == k]
        if searched and all(abs(row[f] - no_change(f)) < 1e-6 for f in searched):
            continue
        if row.get("action") in ("raise", "lower") and "rise_m" in searched:
            row["action"] = "raise" if row["rise_m"] > 0 else "lower"
            row["rise_m"] = abs(row["rise_m"])
        out.append(numbered_edit("edits", k + 1, row))
    return out


def edited(site: Site, edits: Sequence[Edit]) -> Site:
    """Return the site with edits made, the site itself without any."""
    return apply_edits(site, edits) if edits else site


def first_margin(
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


def brief_margin(site: Site, hole: int | None, brief_file: str | None) -> float:
    """Return the least margin of the rows that bind; a row without an answer counts as far outside."""
    rows = brief(site, hole=hole, brief_file=brief_file)
    rows = rows[rows["must"].astype(bool)]
    if not len(rows):
        raise InputError("the brief has no row that binds: there is nothing to reach")
    return float(np.where(rows["result"] == "no answer", FAR_OUTSIDE, rows["margin"].astype(float)).min())


def earth_and_slope(before: Site, after: Site, hole: int | None) -> tuple[float, float]:
    """Return cut and fill together [m3], and the steepest of the ground that changes [%]; nan for none."""
    if before.ground is None:
        return float("nan"), float("nan")
    figures = ground_rows(before, after, hole)
    if not len(figures):
        return 0.0, float("nan")
    after_by = dict(zip(figures["measure"], figures["after"], strict=True))
    moved = sum(float(after_by.get(f"ground.{kind}_m3", 0.0)) for kind in ("cut", "fill"))
    return moved, float(after_by.get("ground.steepest_pct", np.nan))


def tee_name(site: Site, hole: int | None, tee: str) -> str:
    """Return the name of the tee that is meant, of the longest where none is named."""
    model = hole_of(site, hole)
    names = [t.name for t in model.tees]
    return match_one(tee, names, "tee") if tee else model.tees_by_length[0].name
