"""Variants of a site: something moved, raised, left out or blowing otherwise.

The survey file is never touched: :func:`vary` returns another site in memory, of which nothing has been
computed.
"""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from shapely import affinity

from gistools.base.errors import InputError
from gistools.base.files import atomic_replace
from gistools.base.jit import kernel_stamp
from gistools.base.progress import as_they_end, tick
from gistools.base.values import json_value
from gistools.base.version import __version__
from gistools.compute.ballistics.turf import FIRMNESS
from gistools.design.compare import measure
from gistools.design.covering import refuse_covering
from gistools.design.site_edits import SiteEdits
from gistools.site.model import Site
from gistools.site.provenance import fingerprint


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
        ``{(hole, name): (east, north)}``: how far to move a tee or hole location [m], onto the ground as it
        is there.
    shift, turn_deg
        ``{feature: (east, north)}`` [m] and ``{feature: degrees clockwise}`` about its middle: of bunkers,
        burns, water, trees, structures or mounds, by the name in results. A mound takes its ground along, a
        bunker its hollow and lip, and the ground they leave is joined smoothly
        (:mod:`gistools.design.site_edits`). A burn takes its channel, whose bed falls all the way, a pond its
        bed; where the terrain holds none, a warning in the ``findings`` of the new site says so. Trees and
        structures stand on the ground where they come to.
    raise_m
        ``{feature: metres}``: raise (or lower, negative) the ground of a mound, bunker or pond in a smooth
        bell over its outline, of a green or tee as a whole, of a burn along its bed.
    remove
        Features left out: a mound is levelled, a bunker, channel or bed filled.
    wind
        ``(name, speed [m/s], bearing it comes from [degrees])``: replaces or adds a wind of that name.
    firmness
        ``"soft"``, ``"normal"`` or ``"firm"``, of fairways and greens. A normal green plays like a firm links
        green: a good player's 5-iron runs about 20 m on it, 10 m on a soft one (see
        :mod:`gistools.compute.ballistics.turf`).
    stimp_ft
        Green speed of all greens [ft].

    Returns
    -------
    Site
        The changed site, in memory alone.

    Raises
    ------
    InputError
        If a tee, pin or feature is not there, a value is outside what it can be, ground would be moved off
        the terrain, or a feature would lie on a green, a tee or a hole location.
    """
    edits = SiteEdits(site)
    for layer, moves, column in (("tees", move_tee, "tee"), ("pins", move_pin, "pin")):
        for (hole, name), by in (moves or {}).items():
            table = edits.table(layer)
            at = np.flatnonzero((table["hole"] == hole) & (table[column] == name))
            if not len(at):
                raise InputError(f"hole {hole} has no {column} {name!r} to move")
            edits.put(layer, at[0], affinity.translate(table.geometry.iloc[at[0]], *by))
    for name, by in (shift or {}).items():
        edits.move(name, shift=by)
    for name, angle in (turn_deg or {}).items():
        edits.move(name, turn_deg=angle)
    for name, rise in (raise_m or {}).items():
        edits.lift(name, rise)
    for name in remove:
        edits.remove(name)
    refuse_covering(edits)
    if wind is not None:
        edits.tables["winds"] = _winds(site, *wind)
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
        edits.tables["greens"] = greens
    return edits.apply(settings)


def _winds(site: Site, name: str, speed_ms: float, from_deg: float) -> pd.DataFrame:
    """Return the table of winds with one replaced or added."""
    table = site.layer("winds")
    table = table[table["wind"] != name]
    fid = int(table["fid"].max()) + 1 if len(table) else 1
    new = pd.DataFrame([{"fid": fid, "wind": name, "speed_ms": float(speed_ms), "from_deg": float(from_deg)}])
    return pd.concat([table, new], ignore_index=True) if len(table) else new


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
    hole
        Only this hole.
    executor
        Any executor of `concurrent.futures`; without it one after the other.
    keep
        A folder for finished variants: a sweep that was stopped goes on where it was. What an edited site,
        other settings or another version of the toolkit gave is computed again.
    **options
        Passed to the steps that have them.

    Returns
    -------
    DataFrame
        The key columns and ``value`` of every measure of every variant, with the choices in columns
        ``vary_...``.
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
        path = None if folder is None else folder / f"{_key(site, case, measures, hole, options)}.json"
        if path is not None and path.exists():
            done[number] = pd.read_json(path, orient="split", dtype=False)
        else:
            todo.append((number, case, path))
    bare = site.replace()

    def store(number: int, path: Path | None, table: pd.DataFrame) -> None:
        done[number] = table
        if path is not None:
            with atomic_replace(path) as (part,):
                table.to_json(part, orient="split")
        tick(len(done) / len(cases), f"{len(done)} of {len(cases)} variants")

    if executor is None:
        for number, case, path in todo:
            store(number, path, one_case(bare, case, tuple(measures), hole, options))
    else:
        jobs = {
            executor.submit(one_case, bare, case, tuple(measures), hole, options): (n, p)
            for n, case, p in todo
        }
        for job in as_they_end(jobs, "variants", len(done)):
            store(*jobs[job], job.result())
    tables = []
    for number, case in enumerate(cases):
        table = done[number].copy()
        for name, value in reversed(case.items()):
            table.insert(0, f"vary_{name}", ["as it is" if value is None else str(value)] * len(table))
        tables.append(table)
    return pd.concat(tables, ignore_index=True)


def one_case(
    site: Site, case: dict[str, Any], measures: tuple[str, ...], hole: int | None, options: dict[str, Any]
) -> pd.DataFrame:
    """Measure one variant; a plain function, so that any executor can carry it to another process."""
    changed = vary(site, **{k: v for k, v in case.items() if v is not None})
    return pd.concat([measure(changed, m, hole=hole, **options) for m in measures], ignore_index=True)


def _key(site: Site, case: Any, measures: Sequence[str], hole: int | None, options: Mapping[str, Any]) -> str:
    """Return a hash of everything the figures of a variant depend on."""
    inputs = [
        dict(fingerprint(site)),
        json_value(site.settings),
        f"{__version__} {kernel_stamp()}",
        repr(case),
        list(measures),
        hole,
        json_value(options),
    ]
    return hashlib.sha256(json.dumps(inputs, sort_keys=True).encode()).hexdigest()[:24]
