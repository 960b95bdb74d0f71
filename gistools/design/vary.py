"""What if: a site with something moved, raised or blowing otherwise, beside the one surveyed.

The survey file is never touched: :func:`vary` returns another site in memory, of which nothing has been computed.
"""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor, as_completed
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from shapely import affinity

from gistools.base.errors import InputError
from gistools.base.progress import tick
from gistools.compute.ballistics.turf import FIRMNESS
from gistools.design.compare import ground_rows, in_order, what_to_compare, worth_telling
from gistools.design.edits import Draft
from gistools.site.model import Site
from gistools.steps.brief_rows import target_of
from gistools.steps.catalogue import need

KEYS = ("hole", "tee", "player", "wind", "pin", "zone", "feature", "line", "place")
ROUNDING = (
    1e-4  # figures that differ by less do not differ: a tenth of a millimetre, a ten-thousandth of a stroke
)


def vary(
    site: Site,
    *,
    move_tee: Mapping[tuple[int, str], tuple[float, float]] | None = None,
    move_pin: Mapping[tuple[int, str], tuple[float, float]] | None = None,
    shift: Mapping[str, tuple[float, float]] | None = None,
    turn_deg: Mapping[str, float] | None = None,
    raise_m: Mapping[str, float] | None = None,
    remove: Sequence[str] = (),
    wind: tuple[str, float, float] | None = None,
    firmness: str | None = None,
    stimp_ft: float | None = None,
) -> Site:
    """Return the site with changes; the survey file and the site given stay as they are.

    Parameters
    ----------
    site
        The site to start from.
    move_tee, move_pin
        ``{(hole, name): (east, north)}``: how far to move a tee or hole location [m], onto the ground as it is there.
    shift, turn_deg
        ``{feature: (east, north)}`` [m] and ``{feature: degrees clockwise}`` about its middle: of bunkers, burns, water,
        trees, structures or mounds, by the name in results. A mound takes its ground along, a bunker its hollow and lip,
        and the ground they leave is joined smoothly (:mod:`gistools.design.edits`). Of a burn or pond the plan
        alone moves and its bed stays in the terrain; a warning in the ``findings`` of the new site says so. Trees and
        structures stand on the ground where they come to.
    raise_m
        ``{mound: metres}``: raise (or lower, negative) a mound's ground in a smooth bell over its outline.
    remove
        Features left out: a mound is levelled, a bunker filled; the bed of a burn or pond stays.
    wind
        ``(name, speed [m/s], bearing it comes from [degrees])``: replaces or adds a wind of that name.
    firmness
        ``"soft"``, ``"normal"`` or ``"firm"``, of fairways and greens. A normal green plays like a firm links green: a good player's
        5-iron runs about 20 m on it, 10 m on a soft one (see :mod:`gistools.compute.ballistics.turf`).
    stimp_ft
        Green speed of all greens [ft].

    Raises
    ------
    InputError
        If a tee, pin or feature is not there, a value is outside what it can be, or ground would be moved off the terrain.
    """
    draft = Draft(site)
    for layer, moves, column in (("tees", move_tee, "tee"), ("pins", move_pin, "pin")):
        for (hole, name), by in (moves or {}).items():
            table = draft.table(layer)
            at = np.flatnonzero((table["hole"] == hole) & (table[column] == name))
            if not len(at):
                raise InputError(f"hole {hole} has no {column} {name!r} to move")
            draft.put(layer, at[0], affinity.translate(table.geometry.iloc[at[0]], *by))
    for name, by in (shift or {}).items():
        draft.move(name, shift=by)
    for name, angle in (turn_deg or {}).items():
        draft.move(name, turn_deg=angle)
    for name, rise in (raise_m or {}).items():
        draft.lift(name, rise)
    for name in remove:
        draft.remove(name)
    if wind is not None:
        draft.tables["winds"] = _winds(site, *wind)
    settings: dict[str, Any] = {}
    if firmness is not None:
        if firmness not in FIRMNESS:
            raise InputError(f"firmness is {firmness!r}; it can be {', '.join(FIRMNESS)}")
        settings["firmness"] = firmness
    if stimp_ft is not None:
        if not 2.0 <= stimp_ft <= 20.0:
            raise InputError(f"stimp_ft is {stimp_ft}; it should be from 2 to 20 ft")
        settings["stimp_ft"] = float(stimp_ft)
        greens = site.layer("greens").copy()
        greens["stimp_ft"] = float(stimp_ft)
        draft.tables["greens"] = greens
    return draft.done(settings)


def _winds(site: Site, name: str, speed_ms: float, from_deg: float) -> pd.DataFrame:
    table = site.layer("winds")
    table = table[table["wind"] != name]
    fid = int(table["fid"].max()) + 1 if len(table) else 1
    new = pd.DataFrame([{"fid": fid, "wind": name, "speed_ms": float(speed_ms), "from_deg": float(from_deg)}])
    return pd.concat([table, new], ignore_index=True) if len(table) else new


def measure(site: Site, name: str, *, hole: int | None = None, **options: Any) -> pd.DataFrame:
    """Return one measure, ``step.column``, with the key columns that tell its rows apart."""
    spec, layer, column = target_of(name)
    known = {c.name for c in spec.choices}
    given = {k: v for k, v in {"hole": hole, **options}.items() if k in known}
    result = need(site, spec.name, **given)
    table = result[layer] if isinstance(result, dict) else result
    keys = [k for k in KEYS if k in table.columns]
    out = pd.DataFrame({k: table[k] for k in keys if k != column})
    out["measure"] = name
    out["value"] = list(table[column])
    return out.reset_index(drop=True)


def compare(
    before: Site,
    after: Site,
    measures: Sequence[str] | None = None,
    *,
    hole: int | None = None,
    play: bool = True,
    **options: Any,
) -> pd.DataFrame:
    """Return what changed from one site to another: one row for each figure that differs.

    Without ``measures`` it is everything that is quick to find, on the ground and in plan: volumes and slopes of the ground
    that changes (:func:`gistools.design.compare.ground_rows`), flag views of each zone and pin, carries, lengths, zones;
    then how the zones rank when the hole is played out.

    Parameters
    ----------
    before, after
        Two sites on one grid: of :func:`vary`, of :func:`gistools.site.proposed.proposed_site`, or two files.
    measures
        What to compare, ``step.column``; without it the usual ones, and of them only changes that show when rounded:
        0.005 strokes, 0.05 %, 5 mm, half a square metre.
    hole
        Only this hole.
    play
        False leaves out what whole holes have to be played out for (minutes).
    options
        Passed to the steps that know them (``players``, ``winds``).

    Returns
    -------
    DataFrame
        Key columns, ``measure``, ``before``, ``after`` and ``change`` (after less before, nan for words). A row that only
        one site has shows the other as nan. The unit stands at the end of the measure's name.

    Raises
    ------
    InputError
        If there is no such measure, or the sites do not share their grid.
    """
    parts = []
    usual = measures is None
    if measures is None:
        measures = what_to_compare(before, after, play)
        if before.ground is not None and after.ground is not None:
            parts.append(ground_rows(before, after, hole))
    for number, name in enumerate(measures):
        tick(number / len(measures), name)
        found = _differing(before, after, name, hole, options)
        parts.append(worth_telling(found, name) if usual else found)
    parts = [p for p in parts if len(p)]
    if not parts:
        return pd.DataFrame(columns=["measure", "before", "after", "change"])
    return in_order(pd.concat(parts, ignore_index=True), KEYS)


def _differing(a: Site, b: Site, name: str, hole: int | None, options: Mapping[str, Any]) -> pd.DataFrame:
    left, right = (measure(s, name, hole=hole, **options) for s in (a, b))
    keys = [k for k in left.columns if k != "value"]
    for table in (left, right):
        table["row"] = table.groupby(keys, dropna=False).cumcount()
    both = left.merge(right, on=[*keys, "row"], how="outer", suffixes=("_a", "_b")).drop(columns="row")
    both = both.rename(columns={"value_a": "before", "value_b": "after"})
    numbers = [pd.to_numeric(both[c], errors="coerce") for c in ("before", "after")]
    both["change"] = numbers[1] - numbers[0]
    same = (both["before"] == both["after"]) | (both["before"].isna() & both["after"].isna())
    return both[~(same | (both["change"].abs() < ROUNDING))]


def sweep(
    site: Site,
    grid: Mapping[str, Sequence[Any]],
    measures: Sequence[str],
    *,
    hole: int | None = None,
    executor: Executor | None = None,
    keep: str | Path | None = None,
    **options: Any,
) -> pd.DataFrame:
    """Study many variants: every combination of the choices in ``grid``.

    Parameters
    ----------
    site
        The site to start from.
    grid
        Option of :func:`vary` -> the values to try; None leaves it as it is.
    measures
        What to report, ``step.column``.
    hole, options
        Passed to the steps that know them.
    executor
        Any executor of `concurrent.futures`; without it one after the other.
    keep
        A folder for finished variants: a sweep that was stopped goes on where it was. Use one folder for one site.

    Returns
    -------
    DataFrame
        The key columns and ``value`` of every measure of every variant, with the choices in columns ``vary_...``.
    """
    if not grid:
        raise InputError("a sweep needs at least one option to vary, with the values to try")
    cases = [dict(zip(grid, values, strict=True)) for values in itertools.product(*grid.values())]
    folder = Path(keep) if keep is not None else None
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
    done: dict[int, pd.DataFrame] = {}
    todo = []
    for number, case in enumerate(cases):
        path = _path(folder, case, measures, hole, options)
        if path is not None and path.exists():
            done[number] = pd.read_json(path, orient="split", dtype=False)
        else:
            todo.append((number, case, path))
    bare = site.replace()

    def keep_one(number: int, path: Path | None, table: pd.DataFrame) -> None:
        done[number] = table
        if path is not None:
            part = path.with_suffix(".part")
            table.to_json(part, orient="split")
            part.replace(path)
        tick(len(done) / len(cases), f"{len(done)} of {len(cases)} variants")

    if executor is None:
        for number, case, path in todo:
            keep_one(number, path, one_case(bare, case, tuple(measures), hole, options))
    else:
        jobs = {
            executor.submit(one_case, bare, case, tuple(measures), hole, options): (n, p)
            for n, case, p in todo
        }
        for job in as_completed(jobs):
            keep_one(*jobs[job], job.result())
    tables = []
    for number, case in enumerate(cases):
        table = done[number].copy()
        for name, value in reversed(case.items()):
            table.insert(0, f"vary_{name}", [_words(value)] * len(table))
        tables.append(table)
    return pd.concat(tables, ignore_index=True)


def one_case(
    site: Site, case: dict[str, Any], measures: tuple[str, ...], hole: int | None, options: dict[str, Any]
) -> pd.DataFrame:
    """Measure one variant; a plain function, so that any executor can carry it to another process."""
    changed = vary(site, **{k: v for k, v in case.items() if v is not None})
    return pd.concat([measure(changed, m, hole=hole, **options) for m in measures], ignore_index=True)


def _words(value: Any) -> str:
    return "as it is" if value is None else str(value)


def _path(folder: Path | None, case: Any, measures: Any, hole: Any, options: Any) -> Path | None:
    if folder is None:
        return None
    told = json.dumps([repr(case), list(measures), hole, repr(options)])
    return folder / f"{hashlib.sha256(told.encode()).hexdigest()[:24]}.json"
