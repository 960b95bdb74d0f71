"""Results into a site file: all of them or none, and the survey untouched. The one writer.

Results are built in a scratch GeoPackage of their own; then a single SQLite transaction takes the old layers
out of the site and copies the new ones in. Until it commits nobody sees anything of it, and when it is cut
short, by a kill, a power cut or a full disk, SQLite rolls it back. Written pages are kept in memory until
the commit (``cache_spill=OFF``), so that even a reader that takes no locks sees the old state until then.
"""

from __future__ import annotations

import glob
import importlib
import os
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from gistools.base.errors import GistoolsError, InputError, SiteError, WriteError
from gistools.site import _merge, _raster, _vector
from gistools.site._exchange import exchange
from gistools.site._file import Contents, look_inside, reading
from gistools.site.model import Map, Site
from gistools.site.provenance import (
    as_json,
    copy_record,
    record,
    records_in,
    survey_hash,
)
from gistools.site.results import KEY, Item, gather, read_result, with_other_holes
from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED

__all__ = ["read_result", "write"]

#: how long to wait for another program to let go of the file [s]
WAIT_S = 10.0
SPARE_BYTES = 10 * 2**20
LEFTOVER_S = 3600.0
Styles = Callable[[str], tuple[str, str] | None]


def write(
    site: Site,
    results: Any,
    out: str | Path | None = None,
    replace: bool | None = None,
    *,
    styles: Styles | None = None,
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
        Another GeoPackage: a copy of the survey with the results in it, made aside and put in place at the end.
    replace
        None: results written earlier are replaced, and an ``out`` file that is an earlier output whose survey
        layers nobody has changed since; anything else is refused. True: ``out`` is replaced whatever it is.
        False: nothing that exists is replaced.
    styles
        Gives the style of a layer as ``(style document, SLD)``; by default the one the sheets declare.

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
    A result for one hole replaces that hole's rows and keeps those of other holes, if the columns agree. Layers
    and maps an earlier run of the same step left and this one no longer has are taken out.
    Only tables named ``study_...``, ``terrain_proposed`` and the bookkeeping about them are ever changed.
    """
    items = gather(results)
    target = None if out is None else Path(out)
    if target is not None and site.path is not None and _same_file(target, site.path):
        target = None
    if target is None and site.path is None:
        raise InputError("the site was made in memory and has no file: name one with out=")
    try:
        if target is None:
            assert site.path is not None
            return _in_place(site, items, site.path, replace, styles or _sheet_styles())
        return _to_copy(site, items, target, replace, styles or _sheet_styles())
    except WriteError:
        raise
    except SiteError as fault:
        raise WriteError(f"nothing was written: {fault}") from fault
    except (sqlite3.Error, OSError) as fault:
        raise WriteError(_explained(fault, target or site.path)) from fault


def _same_file(a: Path, b: Path) -> bool:
    return a.exists() and b.exists() and os.path.samefile(a, b)


def _in_place(site: Site, items: list[Item], path: Path, replace: bool | None, styles: Styles) -> Path:
    contents = look_inside(path)
    _refuse_taken(path, contents, items, replace)
    _refuse_unwritable(path)
    _merge_into(site, path, contents, [with_other_holes(item, path) for item in items], styles)
    return path


def _to_copy(site: Site, items: list[Item], out: Path, replace: bool | None, styles: Styles) -> Path:
    refuse_out(site, out, replace)
    aside = out.with_name(f".{out.name}.part-{os.getpid()}")
    _sweep(out)
    try:
        mark = _copied_survey(site, aside)
        _merge_into(site, aside, look_inside(aside), items, styles, mark)
        _put_in_place(aside, out)
    finally:
        for left in (aside, aside.with_name(aside.name + "-journal")):
            left.unlink(missing_ok=True)
    return out


def _sweep(out: Path) -> None:
    """Delete what a killed copy left behind long ago."""
    for left in out.parent.glob(f".{glob.escape(out.name)}.part-*"):
        if time.time() - left.stat().st_mtime > LEFTOVER_S:
            left.unlink(missing_ok=True)


def _refuse_taken(path: Path, contents: Contents, items: list[Item], replace: bool | None) -> None:
    """Refuse tables that are not ours to replace."""
    with reading(path) as link:
        ours = {name.lower() for name in records_in(link)}
    for item in items:
        found = contents.find(item.table)
        if found is None:
            continue
        if replace is False:
            raise WriteError(f"{path} already has the layer {found.name}; nothing was written")
        if item.table == TERRAIN_PROPOSED and found.name.lower() not in ours:
            raise WriteError(
                f"{path} has a `{found.name}` that was not written by a step; rename or delete it first"
            )


def _refuse_unwritable(path: Path) -> None:
    # the mode is asked too, for an administrator may write everywhere and would not want to here
    if not os.access(path, os.W_OK) or not path.stat().st_mode & 0o222:
        raise WriteError(
            f"{path} is read-only; nothing was written: change that, or write to another with out="
        )


def refuse_out(site: Site, out: Path, replace: bool | None) -> None:
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
    _refuse_unwritable(out)
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


def _copied_survey(site: Site, aside: Path) -> dict[str, Any]:
    """Copy the survey file aside, as one consistent state whoever is writing to it, or start an empty one."""
    aside.unlink(missing_ok=True)
    if site.path is None:
        _vector.write_layer(aside, "empty", pd.DataFrame({"x": [0]}))
        _vector.remove_layer(aside, "empty")
    else:
        look_inside(site.path)
        with reading(site.path) as source, closing(sqlite3.connect(aside, timeout=WAIT_S)) as link:
            source.backup(link)
            link.execute("PRAGMA journal_mode=DELETE")
    with reading(aside) as link:
        told = survey_hash(link)
    return {"copy_of": "" if site.path is None else site.path.name, "survey_sha256": told}


def _put_in_place(aside: Path, out: Path) -> None:
    with aside.open("rb+") as file:
        os.fsync(file.fileno())
    os.replace(aside, out)
    if os.name == "posix":
        folder = os.open(out.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _merge_into(
    site: Site,
    path: Path,
    contents: Contents,
    items: list[Item],
    styles: Styles,
    mark: dict[str, Any] | None = None,
) -> None:
    """Build the results aside and bring them into a file in one transaction."""
    told = [as_json(record(site, item.step, item.options)) for item in items]
    drawn = [_style(styles, item) for item in items]
    with tempfile.TemporaryDirectory(prefix="gistools-") as folder:
        scratch = Path(folder) / "scratch.gpkg"
        _build(site, items, scratch, contents.version)
        size = scratch.stat().st_size
        if shutil.disk_usage(path.parent).free < 2 * size + SPARE_BYTES:
            raise WriteError(
                f"the disk of {path} is full: about {(2 * size + SPARE_BYTES) / 2**20:.0f} MB are needed;"
                " nothing was written"
            )
        target = path.resolve().as_uri() + "?mode=rw"
        with closing(sqlite3.connect(target, timeout=WAIT_S, isolation_level=None, uri=True)) as link:
            _begin(link, scratch)
            try:
                exchange(link, items, told, drawn, mark)
                _commit(link)
            except BaseException:
                if link.in_transaction:
                    link.execute("ROLLBACK")
                raise


def _build(site: Site, items: list[Item], scratch: Path, version: str) -> None:
    tables = [item for item in items if not isinstance(item.content, Map)]
    if not tables:
        _vector.write_layer(scratch, "gistools_start", pd.DataFrame({"x": [0]}), version=version)
    for item in tables:
        geometry = item.declared.geometry if item.declared else None
        key = _vector.free_name(KEY, [str(c) for c in item.content.columns])
        _vector.write_layer(
            scratch,
            item.table,
            item.content,
            crs=site.crs,
            geometry=geometry or None,
            key=key,
            version=version,
        )
    for item in items:
        if isinstance(item.content, Map):
            m, u = item.content, site.unit_m
            _raster.write_coverage(
                scratch, item.table, m.values, m.x_west / u, m.y_north / u, m.cell / u, site.crs, m.unit
            )


def _begin(link: sqlite3.Connection, scratch: Path) -> None:
    link.create_function("renumbered", 2, _merge.renumbered, deterministic=True)
    link.execute("PRAGMA synchronous=FULL")
    link.execute("PRAGMA cache_spill=OFF")
    link.execute("PRAGMA foreign_keys=OFF")
    # read-only and immutable: else the commit would have to span two files
    link.execute("ATTACH ? AS src", (scratch.resolve().as_uri() + "?mode=ro&immutable=1",))
    link.execute("BEGIN IMMEDIATE")


def _commit(link: sqlite3.Connection) -> None:
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


def _style(styles: Styles, item: Item) -> tuple[str, str] | None:
    if not isinstance(item.content, gpd.GeoDataFrame):
        return None
    try:
        return styles(item.table.removeprefix(RESULT_PREFIX))
    except GistoolsError:
        return None


def _sheet_styles() -> Styles:
    """Return the styles the sheets declare; none where that part is not installed."""
    name = "gistools.sheets.styles"
    if find_spec("gistools.sheets") is None or find_spec(name) is None:
        return lambda _: None
    found: Styles = importlib.import_module(name).desktop_style
    return found


def _explained(fault: Exception, path: Path | None) -> str:
    told = str(fault)
    if "locked" in told or "busy" in told:
        why = "it is open for writing in another program; save or close it there and try again"
    elif "readonly" in told or "read-only" in told or isinstance(fault, PermissionError):
        why = "it, or its folder, is read-only; change that, or write to another file with out="
    elif "full" in told or "No space" in told or "File too large" in told:
        why = "the disk is full; make room and try again"
    elif "unable to open" in told:
        why = "its folder cannot be written to; change that, or write to another file with out="
    elif "disk I/O error" in told:
        why = "the disk refused (full, unplugged, or a file size limit); make room and try again"
    else:
        why = told
    return f"{path} could not be written: {why}. It is as it was before"
