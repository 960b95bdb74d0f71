"""Search for the least change that makes an intention hold.

*What must move, and how far, for this position to be first for this hole location?* A list of edits is
given in which some figures are ranges, ``along_m = [-12, 12]``. The intention has a margin: how far it
holds, negative where it fails. The search is a method of our own, made for few and dear evaluations:

1. The ends of all ranges are tried, alone and together (corners), on a coarser mesh, each starting from the
   solution of the unchanged site (warm start), for the hole location that is asked about alone.
2. From the corner with the best margin the way back to "no change" is halved until the least share of it that
   still holds is found to a sixteenth.
3. Each figure is taken back to no change, alone, where the intention holds without it.
4. The answer is evaluated again in full, on the mesh of the site; its margin there is what is reported.

Every variant that was evaluated is kept on disk until the search ends: one that is stopped resumes when the
same is asked again. Margins rise and fall evenly along such a way in practice, not always: the answer holds
(step 4 checks it), that no smaller one exists is not proved.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError, SiteError
from gistools.base.names import match_one
from gistools.base.progress import on_progress, tick
from gistools.design.compare import ground_rows
from gistools.design.edit_list import Edit, edit_rows, numbered_edit
from gistools.design.edits import apply_edits
from gistools.design.zone_totals import hole_of, zone_totals
from gistools.site.model import Site
from gistools.steps.brief import brief
from gistools.steps.finished_tasks import drop, load, store, tasks_folder

#: side of the cells on which candidates are tried [m]
COARSE_M = 5.0
#: ranges that all corners are tried of; of more, each end alone and all together
MOST_CORNERS = 3
HALVINGS = 4
#: margin of a variant that cannot be made, in which the zone is gone, or a row has no answer
FAR_OUTSIDE = -9.0
#: columns of ``tried`` that are not figures of edits
MEASURED = ("margin", "earth_m3", "steepest_pct", "full", "number")


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
        changes, whether on the site's mesh.
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
        """The variants tried that none other beats in margin with no more earth moved, least earth first.

        Those of one mesh alone are compared: the coarse one where anything was tried on it. Where no earth is
        counted, the one of the best margin. ``number`` is the row in ``tried``, and so in ``variants``.
        """
        rows = self.tried.assign(number=np.arange(len(self.tried)))
        rows = rows[rows["margin"] > FAR_OUTSIDE / 2]
        coarse = rows[~rows["full"].astype(bool)]
        rows = coarse if len(coarse) else rows
        earth = rows["earth_m3"].fillna(0.0)
        rows = rows.assign(_earth=earth).sort_values(["_earth", "margin"], ascending=[True, False])
        best = rows["margin"].cummax()
        better = rows["margin"] > best.shift(fill_value=-np.inf)
        return rows[better].drop(columns="_earth").reset_index(drop=True)

    def __repr__(self) -> str:
        verdict = "holds" if self.holds else "does not hold within these ranges; the best tried is"
        lines = [f"The intention {verdict}: margin {self.margin:+.3f} (before {self.margin_before:+.3f})"]
        lines += [f"  {edit.label}: {_figures(edit)}" for edit in self.edits]
        earth = "" if np.isnan(self.earth_m3) else f", {self.earth_m3:.0f} m3 of earth moved"
        lines.append(f"{len(self.tried)} variants tried{earth}")
        choices = self.trade_offs
        if len(choices) > 1:
            lines.append("Trade-offs, more earth for more margin:")
            for row in choices.to_dict("records"):
                figures = ", ".join(f"{k} {v:+.2f}" for k, v in row.items() if k not in MEASURED)
                steep = row.get("steepest_pct", np.nan)
                slopes = f", slopes to {steep:.0f} %" if steep > 0 else ""
                lines.append(f"  {row['earth_m3']:.0f} m3{slopes}: margin {row['margin']:+.3f} ({figures})")
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
    coarse_m: float = COARSE_M,
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
    coarse_m
        Side of the cells on which candidates are tried [m].
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
    tee_name = _tee_name(site, hole, tee) if first else ""
    brief_text = Path(brief_file).read_bytes().hex() if brief_file and Path(brief_file).is_file() else ""
    question = [templates, first, pin, hole, tee, player, wind, brief_text, by_strokes, coarse_m]
    folder = tasks_folder(site, ["search", json.dumps(question, default=str)], [])
    coarse = site.with_settings(mesh_cell_m=max(coarse_m, site.settings.get("mesh_cell_m", 0.0)))

    def margin_of(candidate: Site, unchanged: Site | None = None) -> float:
        if unchanged is not None:
            candidate = candidate.as_variant_of(unchanged, tee_name if first else None)
        if first:
            variant = candidate is not site
            return _first_margin(candidate, first, pin, hole, tee, player, wind, variant=variant) - by_strokes
        return _brief_margin(candidate, hole, brief_file)

    rows: list[dict[str, Any]] = []
    variants: list[tuple[Edit, ...]] = []
    faults: list[InputError | SiteError] = []
    names = [f"{k + 1}.{field}" for k, field in ranges]

    def margin(figures: Sequence[float], base: Site, *, full: bool = False) -> float:
        tick(min(0.95, len(rows) / (2 ** min(len(ranges), MOST_CORNERS) + 8)), f"variant {len(rows) + 1}")
        candidate = _filled(templates, ranges, figures)
        named = dict(zip(names, figures, strict=True))
        stored = load(folder, 0, json.dumps([named, full]))
        if stored is None:
            stored = (FAR_OUTSIDE, float("nan"), float("nan"))
            try:
                variant = _edited(base, candidate)
                value = margin_of(variant, None if full else coarse)
                stored = (value, *_earth(base, variant, hole))
                store(folder, 0, json.dumps([named, full]), stored)
            except (InputError, SiteError) as fault:  # that ground cannot be made or played
                faults.append(fault)
        rows.append(named | dict(zip(MEASURED, (*stored, full), strict=False)))
        variants.append(tuple(candidate))
        return float(stored[0])

    with on_progress(progress):
        nothing = [_no_change(field) for _, field in ranges]
        before = margin_of(site)
        best, best_margin = nothing, -np.inf
        if before < 0:
            for corner in _corners(ranges, edits=templates):
                value = margin(corner, coarse)
                if value > best_margin:
                    best, best_margin = corner, value
            if best_margin >= 0:
                best = _shortened(best, nothing, lambda f: margin(f, coarse) >= 0)
                best = _without_the_needless(best, nothing, lambda f: margin(f, coarse) >= 0)
        final = margin(best, site, full=True)
        if final < 0 <= best_margin:  # the coarse mesh was too kind: a little farther
            for share in (0.25, 0.5, 1.0):
                best = _towards(best, _farther(best, ranges, templates), share)
                final = margin(best, site, full=True)
                if final >= 0:
                    break
    if faults and len(faults) == len(rows):
        raise faults[0]
    answer = tuple(_filled(templates, ranges, best))
    after = _edited(site, answer)
    drop(folder)
    earth_m3, _ = _earth(site, after, hole)
    return SearchResult(answer, final >= 0, final, before, earth_m3, pd.DataFrame(rows), tuple(variants))


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


def _corners(ranges: list[tuple[int, str]], edits: list[dict[str, Any]]) -> list[list[float]]:
    """Return the ends of the ranges: each alone, and all together (every corner of up to three ranges)."""
    ends = [edits[k][field] for k, field in ranges]
    nothing = [_no_change(field) for _, field in ranges]
    alone = []
    for n, pair in enumerate(ends):
        for end in pair:
            if end != nothing[n]:
                alone.append([*nothing[:n], end, *nothing[n + 1 :]])
    if len(ranges) == 1:
        return alone
    together = itertools.product(*ends) if len(ranges) <= MOST_CORNERS else zip(*ends, strict=True)
    return alone + [list(c) for c in together if list(c) not in alone and list(c) != nothing]


def _towards(start: Sequence[float], end: Sequence[float], share: float) -> list[float]:
    return [a + share * (b - a) for a, b in zip(start, end, strict=True)]


def _shortened(best: list[float], nothing: list[float], holds: Callable[[list[float]], bool]) -> list[float]:
    """Return the least share of the way from no change to a corner that still holds."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        share = 0.5 * (low + high)
        if holds(_towards(nothing, best, share)):
            high = share
        else:
            low = share
    return _towards(nothing, best, high)


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


def _farther(best: list[float], ranges: list[tuple[int, str]], edits: list[dict[str, Any]]) -> list[float]:
    """Return the ends of the ranges in the direction of a change."""
    out = []
    for value, (k, field) in zip(best, ranges, strict=True):
        low, high = edits[k][field]
        middle = _no_change(field)
        out.append(high if value > middle else low if value < middle else middle)
    return out


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
