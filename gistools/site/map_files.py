"""Maps as GeoTIFF files: for programs that do not read raster tables of a GeoPackage."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from gistools.base.errors import InputError, WriteError
from gistools.base.files import atomic_replace, file_name
from gistools.base.values import json_text
from gistools.site import _raster
from gistools.site.result_layers import result_layers
from gistools.site.results import Map
from gistools.site.types import SiteData


def write_maps(site: SiteData, results: Any, *, to: str | Path, replace: bool = False) -> list[Path]:
    """Write the maps among results as GeoTIFF files: one map into a named file, any number into a folder.

    Each file carries the CRS, its nodata value, unit and meaning of the band, and in its tags the step and
    its options. All are made aside first and put in place at the end.

    Parameters
    ----------
    site
        The site the results are of.
    results
        What steps returned; tables among them are left out.
    to
        A file ending in ``.tif`` or ``.tiff``, for one map; else a folder, made if not there, in which each
        map becomes ``<layer>.tif``.
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
    maps = [layer for layer in result_layers(results) if isinstance(layer.content, Map)]
    if not maps:
        raise InputError("there is no map among these results: steps with maps are slopes and flag_views")
    to = Path(to)
    one = to.suffix.lower() in (".tif", ".tiff")
    if one and len(maps) > 1:
        names = ", ".join(layer.table for layer in maps)
        raise InputError(f"{to} can hold one map and there are {len(maps)} ({names}): name a folder")
    files = [to] if one else [to / file_name(layer.table, ".tif") for layer in maps]
    present = [str(f) for f in files if f.exists()]
    if present and not replace:
        raise WriteError(f"{', '.join(present)} exists: choose another place, or replace=True")
    try:
        files[0].parent.mkdir(parents=True, exist_ok=True)
        with atomic_replace(*files) as scratch:
            for layer, path in zip(maps, scratch, strict=True):
                m, u = layer.content, site.unit_m
                _raster.write_geotiff(
                    path,
                    m.values,
                    m.x_west / u,
                    m.y_north / u,
                    m.cell / u,
                    site.crs,
                    m.unit,
                    text=m.text,
                    tags={"STEP": layer.info.step, "OPTIONS": json_text(layer.info.options)},
                )
    except OSError as fault:
        if isinstance(fault, WriteError):
            raise
        raise WriteError(f"the maps cannot be written to {to}: {fault}") from fault
    return files
