"""Results into a site file: all of them or none, and the survey untouched. The one writer.

Results are built in a scratch GeoPackage of their own; then a single SQLite transaction takes the old layers
out of the site and copies the new ones in. Until it commits nobody sees anything of it, and when it is cut
short, by a kill, a power cut or a full disk, SQLite rolls it back. Written pages are kept in memory until
the commit (``cache_spill=OFF``), so that even a reader that takes no locks sees the old state until then.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from gistools.base.errors import GistoolsError, InputError, SiteError, WriteError
from gistools.base.files import atomic_replace, has_room
from gistools.base.values import json_text
from gistools.site import _merge, _raster, _vector
from gistools.site._exchange import exchange
from gistools.site._file import Contents, look_inside, reading
from gistools.site._guard import Guard
from gistools.site.provenance import copy_record, record, records_in, survey_hash
from gistools.site.result_layers import ResultLayer, result_layers, with_other_holes
from gistools.site.results import Map, Style, StyleSource, style_of
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
from gistools.site.types import SiteData

#: how long to wait for another program to let go of the file [s]
WAIT_S = 10.0
SPARE_BYTES = 10 * 2**20
#: primary key of a result table
KEY = "row_id"


def write(
    site: SiteData,
    results: Any,
    out: str | Path | None = None,
    replace: bool | None = None,
    *,
    styles: StyleSource | None = None,
) -> Path:
    """Write results into the site's file, or with ``out`` into a copy of it: all or nothing.

    Parameters
    ----------
    site
        The site the results are of.
    results
        What steps returned: tables, maps, or several of them. Each becomes a layer ``study_...``; a map named
        ``terrain_proposed`` becomes the raster table of that name.
    out
        Another GeoPackage: a copy of the survey with the results in it, made aside and put in place at the
        end.
    replace
        None: results written earlier are replaced, and an ``out`` file that is an earlier output whose survey
        layers nobody has changed since; anything else is refused. True: ``out`` is replaced whatever it is.
        False: nothing that exists is replaced.
    styles
        Gives the style of a layer as ``(style document, SLD)``; by default that of
        :func:`gistools.site.results.set_style_sources`.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    WriteError
        If it cannot be done. The file is then as it was.
    InputError
        If something given is not the result of a step.

    Notes
    -----
    A result for one hole replaces that hole's rows and keeps those of other holes, if the columns agree.
    Layers and maps an earlier run of the same step left and this one no longer has are taken out. Only tables
    named ``study_...``, ``terrain_proposed`` and the bookkeeping about them are ever changed.
    """
    layers = result_layers(results)
    target = None if out is None else Path(out)
    if target is not None and site.path is not None and _same_file(target, site.path):
        target = None
    if target is None and site.path is None:
        raise InputError("the site was made in memory and has no file: name one with out=")
    try:
        if target is None:
            assert site.path is not None
            return _in_place(site, layers, site.path, replace, styles or style_of)
        return _to_copy(site, layers, target, replace, styles or style_of)
    except WriteError:
        raise
    except SiteError as fault:
        raise WriteError(f"nothing was written: {fault}") from fault
    except (sqlite3.Error, OSError) as fault:
        raise WriteError(explained(fault, target or site.path)) from fault


def _same_file(a: Path, b: Path) -> bool:
    return a.exists() and b.exists() and os.path.samefile(a, b)


def _in_place(
    site: SiteData, layers: list[ResultLayer], path: Path, replace: bool | None, styles: StyleSource
) -> Path:
    contents = look_inside(path)
    _refuse_taken(path, contents, layers, replace)
    refuse_unwritable(path)
    _merge_into(site, path, contents, [with_other_holes(layer, path) for layer in layers], styles)
    return path


def _to_copy(
    site: SiteData, layers: list[ResultLayer], out: Path, replace: bool | None, styles: StyleSource
) -> Path:
    refuse_out(site, out, replace)
    with atomic_replace(out) as (copy,):
        mark = _copied_survey(site, copy)
        _merge_into(site, copy, look_inside(copy), layers, styles, mark)
    return out


def _refuse_taken(path: Path, contents: Contents, layers: list[ResultLayer], replace: bool | None) -> None:
    """Refuse tables that are not ours to replace."""
    with reading(path) as link:
        ours = {name.lower() for name in records_in(link)}
    for layer in layers:
        present = contents.find(layer.table)
        if present is None:
            continue
        if replace is False:
            raise WriteError(f"{path} already has the layer {present.name}; nothing was written")
        if layer.table == TERRAIN_PROPOSED and present.name.lower() not in ours:
            raise WriteError(
                f"{path} has a `{present.name}` that was not written by a step; rename or delete it first"
            )


def refuse_unwritable(path: Path) -> None:
    """Refuse a file that may not be written to.

    Raises
    ------
    WriteError
        Saying so, and what to do.
    """
    # the mode is asked too, for an administrator may write everywhere and would not want to here
    if not os.access(path, os.W_OK) or not path.stat().st_mode & 0o222:
        raise WriteError(
            f"{path} is read-only; nothing was written: change that, or write to another with out="
        )


def refuse_out(site: SiteData, out: Path, replace: bool | None) -> None:
    """Refuse another file to write to that cannot be written, or must not be replaced; see :func:`write`.

    Raises
    ------
    WriteError
        Saying why, and what to do.
    """
    if site.path is not None and _same_file(out, site.path):
        return
    if not out.parent.is_dir():
        raise WriteError(f"the folder {out.parent} does not exist; make it first")
    if not out.exists():
        return
    if site.terrain_path is not None and _same_file(out, site.terrain_path):
        raise WriteError(f"{out} is the terrain of the site; name another file")
    if not out.is_file():
        raise WriteError(f"{out} is not a file; name a GeoPackage")
    refuse_unwritable(out)
    if replace is False:
        raise WriteError(f"{out} exists already; name another file")
    busy = [out.name + end for end in ("-wal", "-journal") if out.with_name(out.name + end).exists()]
    if busy:
        raise WriteError(
            f"{out} is open for writing in another program ({busy[0]} lies beside it); close it there"
        )
    if replace is not True and not _own_output(out):
        raise WriteError(
            f"{out} exists and is not an earlier output, or its survey layers were changed since;"
            " name another file, or have it replaced (--replace, in a console replace=True)"
        )


def _own_output(out: Path) -> bool:
    try:
        look_inside(out)
        with reading(out) as link:
            mark = copy_record(link)
            return mark is not None and mark.get("survey_sha256") == survey_hash(link)
    except (SiteError, sqlite3.Error):
        return False


def _copied_survey(site: SiteData, copy: Path) -> dict[str, Any]:
    """Copy the survey file as one consistent state whoever is writing to it, or start an empty one."""
    copy.unlink(missing_ok=True)
    if site.path is None:
        _vector.write_layer(copy, "empty", pd.DataFrame({"x": [0]}))
        _vector.remove_layer(copy, "empty")
    else:
        look_inside(site.path)
        with reading(site.path) as source, closing(sqlite3.connect(copy, timeout=WAIT_S)) as link:
            source.backup(link)
            link.execute("PRAGMA journal_mode=DELETE")
    with reading(copy) as link:
        survey = survey_hash(link)
    return {"copy_of": "" if site.path is None else site.path.name, "survey_sha256": survey}


def _merge_into(
    site: SiteData,
    path: Path,
    contents: Contents,
    layers: list[ResultLayer],
    styles: StyleSource,
    mark: dict[str, Any] | None = None,
) -> None:
    """Build the results in a scratch file and bring them into a file in one transaction."""
    records = [json_text(record(site, layer.info, layer.keys)) for layer in layers]
    layer_styles = [_style(styles, layer) for layer in layers]
    with tempfile.TemporaryDirectory(prefix="gistools-") as folder:
        scratch = Path(folder) / "scratch.gpkg"
        try:
            _build(site, layers, scratch, contents.version)
        except (WriteError, OSError) as fault:
            raise _scratch_fault(fault, scratch) from fault
        size = scratch.stat().st_size
        if shutil.disk_usage(path.parent).free < 2 * size + SPARE_BYTES:
            raise WriteError(
                f"the disk of {path} is full: about {(2 * size + SPARE_BYTES) / 2**20:.0f} MB are needed;"
                " nothing was written"
            )
        target = path.resolve().as_uri() + "?mode=rw"
        with closing(sqlite3.connect(target, timeout=WAIT_S, isolation_level=None, uri=True)) as link:
            guard = _begin(link, scratch)
            try:
                with guard.watching(path):
                    exchange(link, layers, records, layer_styles, mark)
                commit(link)
            except BaseException:
                if link.in_transaction:
                    link.execute("ROLLBACK")
                raise


def _scratch_fault(fault: OSError, scratch: Path) -> OSError:
    """Return a failure to build results in the temporary folder in words for people."""
    folder = scratch.parent
    size = scratch.stat().st_size if scratch.exists() else 0
    if has_room(folder, 2 * size + SPARE_BYTES):
        return fault
    return WriteError(
        f"the temporary folder {folder.parent} has no room for the results (full, or files may not grow so"
        " large); make room there, or name another in the environment variable TMPDIR. Nothing was written"
    )


def _build(site: SiteData, layers: list[ResultLayer], scratch: Path, version: str) -> None:
    tables = [layer for layer in layers if not isinstance(layer.content, Map)]
    if not tables:
        _vector.write_layer(scratch, "gistools_start", pd.DataFrame({"x": [0]}), version=version)
    for layer in tables:
        key = _vector.free_name(KEY, [str(c) for c in layer.content.columns])
        _vector.write_layer(
            scratch,
            layer.table,
            layer.content,
            crs=site.crs,
            geometry=layer.info.geometry or None,
            key=key,
            version=version,
        )
    for layer in layers:
        if isinstance(layer.content, Map):
            m, u = layer.content, site.unit_m
            _raster.write_coverage(
                scratch, layer.table, m.values, m.x_west / u, m.y_north / u, m.cell / u, site.crs, m.unit
            )


def _begin(link: sqlite3.Connection, scratch: Path) -> Guard:
    link.create_function("renumbered", 2, _merge.renumbered, deterministic=True)
    link.execute("PRAGMA synchronous=FULL")
    link.execute("PRAGMA cache_spill=OFF")
    link.execute("PRAGMA foreign_keys=OFF")
    link.execute("PRAGMA trusted_schema=OFF")
    # read-only and immutable: else the commit would have to span two files
    link.execute("ATTACH ? AS src", (scratch.resolve().as_uri() + "?mode=ro&immutable=1",))
    link.execute("BEGIN IMMEDIATE")
    return Guard(link)


def commit(link: sqlite3.Connection) -> None:
    """Commit, waiting for readers: while one is in the way the transaction stays alive."""
    end = time.monotonic() + WAIT_S
    while True:
        try:
            link.execute("COMMIT")
            return
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault) or time.monotonic() > end or not link.in_transaction:
                raise
            time.sleep(0.05)


def _style(styles: StyleSource, layer: ResultLayer) -> Style | None:
    if not isinstance(layer.content, gpd.GeoDataFrame):
        return None
    try:
        return styles(layer.table.removeprefix(RESULT_PREFIX))
    except GistoolsError:
        return None


def explained(fault: Exception, path: Path | None) -> str:
    """Return why a file could not be written, in words."""
    text = str(fault)
    if "locked" in text or "busy" in text or getattr(fault, "winerror", None) in (32, 33):
        why = "it is open for writing in another program; save or close it there and try again"
    elif "readonly" in text or "read-only" in text or isinstance(fault, PermissionError):
        why = "it, or its folder, is read-only; change that, or write to another file with out="
    elif "full" in text or "No space" in text or "File too large" in text:
        why = "the disk is full; make room and try again"
    elif "unable to open" in text:
        why = "its folder cannot be written to; change that, or write to another file with out="
    elif "disk I/O error" in text:
        why = "the disk refused (full, unplugged, or a file size limit); make room and try again"
    else:
        why = text
    return f"{path} could not be written: {why}. It is as it was before"
