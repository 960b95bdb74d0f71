"""What if: a site with something moved, raised or blowing otherwise, beside the one surveyed.

The survey file is never touched: :func:`vary` returns another site in memory, of which nothing has been computed.
"""

from __future__ import annotations

import functools
import hashlib
import itertools
import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely import affinity

from gistools.catalogue import need, tick
from gistools.errors import InputError
from gistools.ground.surface import Surface
from gistools.shots.turf import FIRMNESS
from gistools.site.cover import feature_names
from gistools.site.model import ArrayGround, Site
from gistools.strategy.brief import target_of
from gistools.strategy.changes import ground_rows, in_order, what_to_compare, worth_telling

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
        ``{(hole, name): (east, north)}``: how far to move a tee or hole location [m].
    shift, turn_deg
        ``{feature: (east, north)}`` [m] and ``{feature: degrees clockwise}``: of bunkers, burns, water, trees or
        mounds, by the name in results. The plan moves, the ground under it does not; a mound takes its raised ground
        only with ``raise_m``.
    raise_m
        ``{mound: metres}``: raise (or lower, negative) a mound's ground in a smooth bell over its outline.
    remove
        Features left out.
    wind
        ``(name, speed [m/s], bearing it comes from [degrees])``: replaces or adds a wind of that name.
    firmness
        ``"soft"``, ``"normal"`` or ``"firm"``, of fairways and greens. A normal green plays like a firm links green: a good player's
        5-iron runs about 20 m on it, 10 m on a soft one (see :mod:`gistools.shots.turf`).
    stimp_ft
        Green speed of all greens [ft].

    Raises
    ------
    InputError
        If a tee, pin or feature is not there, or a value is outside what it can be.
    """
    tables: dict[str, Any] = {}
    for layer, moves, column in (("tees", move_tee, "tee"), ("pins", move_pin, "pin")):
        for (hole, name), by in (moves or {}).items():
            table = tables.get(layer, site.layer(layer)).copy()
            at = np.flatnonzero((table["hole"] == hole) & (table[column] == name))
            if not len(at):
                raise InputError(f"hole {hole} has no {column} {name!r} to move")
            _set(table, at[0], affinity.translate(table.geometry.iloc[at[0]], *by))
            tables[layer] = table
    for name, by in (shift or {}).items():
        _change(site, tables, name, functools.partial(affinity.translate, xoff=by[0], yoff=by[1]))
    for name, angle in (turn_deg or {}).items():
        _change(site, tables, name, functools.partial(affinity.rotate, angle=-angle, origin="centroid"))
    ground = _raised(site, tables, raise_m) if raise_m else None
    for name in remove:
        layer, row = _find(site, name)
        table = tables.get(layer, site.layer(layer))
        fid = site.layer(layer)["fid"].iloc[row]
        tables[layer] = table[table["fid"] != fid].reset_index(drop=True)
    if wind is not None:
        tables["winds"] = _winds(site, *wind)
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
        tables["greens"] = greens
    return site.replace(ground=ground, settings=settings, **tables)


def _set(table: Any, row: int, shape: Any) -> None:
    shapes = list(table.geometry)
    shapes[row] = shape
    table[table.geometry.name] = shapes


def _find(site: Site, name: str) -> tuple[str, int]:
    for layer in ("mounds", "bunkers", "burns", "water", "trees", "structures"):
        names = feature_names(site)[layer]
        if name in names:
            return layer, names.index(name)
    raise InputError(f"there is no feature {name!r}; use the name shown in results")


def _change(site: Site, tables: dict[str, Any], name: str, change: Callable[[Any], Any]) -> None:
    layer, row = _find(site, name)
    table = tables.get(layer, site.layer(layer)).copy()
    _set(table, row, change(table.geometry.iloc[row]))
    tables[layer] = table


def _raised(site: Site, tables: dict[str, Any], raise_m: Mapping[str, float]) -> ArrayGround:
    """Terrain with a bell of the asked height added over each mound's outline, level with the ground at its edge."""
    surface = site.surface()
    z = surface.z.copy()
    x, y = surface.centres()
    for name, rise in raise_m.items():
        layer, row = _find(site, name)
        if layer != "mounds":
            raise InputError(f"{name!r} is not a mound; only mounds are raised or lowered here")
        outline = tables.get(layer, site.layer(layer)).geometry.iloc[row]
        outline = outline if outline.area > 0 else outline.buffer(10.0)
        west, south, east, north = outline.bounds
        j, i = np.flatnonzero((x >= west) & (x <= east)), np.flatnonzero((y >= south) & (y <= north))
        xx, yy = np.meshgrid(x[j], y[i])
        z[np.ix_(i, j)] += float(rise) * _bell(outline, xx, yy)
    return ArrayGround(Surface(z, surface.x_west, surface.y_north, surface.cell))


def _bell(outline: Any, x: Any, y: Any) -> Any:
    """1 at the innermost place of an outline, 0 at its edge and outside, level at both: smoothstep of the edge distance."""
    points = shapely.points(x, y)
    inside = shapely.contains(outline, points)
    depth = np.where(inside, shapely.distance(outline.boundary, points), 0.0)
    t = depth / depth.max() if depth.max() > 0 else depth
    return t * t * (3.0 - 2.0 * t)


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
    that changes (:func:`gistools.strategy.changes.ground_rows`), flag views of each zone and pin, carries, lengths, zones;
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
