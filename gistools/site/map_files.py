"""Maps as GeoTIFF files: for programs that do not read raster tables of a GeoPackage."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from gistools.base.errors import InputError, WriteError
from gistools.site import _raster
from gistools.site.model import Map, Site
from gistools.site.provenance import as_json
from gistools.site.results import gather


def write_maps(site: Site, results: Any, *, to: str | Path, replace: bool = False) -> list[Path]:
    """Write the maps among results as GeoTIFF files: one map into a named file, any number into a folder.

    Each file carries the CRS, its nodata value, unit and meaning of the band, and in its tags the step and its options.
    All are made aside first and put in place at the end.

    Parameters
    ----------
    site
        The site the results are of.
    results
        What steps returned; tables among them are left out.
    to
        A file ending in ``.tif`` or ``.tiff``, for one map; else a folder, made if not there, in which each map becomes
        ``<layer>.tif``.
    replace
        Replace files that exist.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        If there is no map among the results, or several for one file.
    WriteError
        If a file exists and is not to be replaced, or cannot be written. Then none is.
    """
    maps = [item for item in gather(results) if isinstance(item.content, Map)]
    if not maps:
        raise InputError("there is no map among these results: steps with maps are slopes and flag_views")
    to = Path(to)
    one = to.suffix.lower() in (".tif", ".tiff")
    if one and len(maps) > 1:
        told = ", ".join(item.table for item in maps)
        raise InputError(f"{to} can hold one map and there are {len(maps)} ({told}): name a folder")
    files = [to] if one else [to / f"{item.table}.tif" for item in maps]
    taken = [str(f) for f in files if f.exists()]
    if taken and not replace:
        raise WriteError(f"{', '.join(taken)} exists: choose another place, or replace=True")
    aside = [f.with_name(f".{f.name}.part-{os.getpid()}") for f in files]
    try:
        for item, path in zip(maps, aside, strict=True):
            path.parent.mkdir(parents=True, exist_ok=True)
            m, u = item.content, site.unit_m
            tags = {"STEP": item.step, "OPTIONS": as_json(dict(item.options))}
            _raster.write_geotiff(
                path,
                m.values,
                m.x_west / u,
                m.y_north / u,
                m.cell / u,
                site.crs,
                m.unit,
                text=m.text,
                tags=tags,
            )
        for path, file in zip(aside, files, strict=True):
            os.replace(path, file)
    except OSError as fault:
        raise WriteError(f"the maps cannot be written to {to}: {fault}") from fault
    finally:
        for path in aside:
            if path.exists():
                path.unlink()
    return files
