"""Merrowby Links, an invented site of three holes to learn and to test with.

The same recipe gives the same data every time: shapes, curves and a hash, no random numbers. See
`sample_course.gpkg.md` for every layer and for what each hole is meant to ask.
"""

from __future__ import annotations

import os
import tempfile
from functools import cache
from pathlib import Path

from gistools.base.errors import InputError, WriteError
from gistools.compute.terrain.surface import Surface
from gistools.site import _sample_ground
from gistools.site._sample_layers import layers
from gistools.site._sample_plan import EPSG
from gistools.site.model import Site
from gistools.site.schema import SURVEY_LAYERS, TERRAIN


@cache
def _terrain() -> Surface:
    return _sample_ground.terrain()


def sample_site() -> Site:
    """Return Merrowby Links in memory, ready to study: the same data as the file of :func:`write_sample`.

    Returns
    -------
    Site
        Three holes in British National Grid (EPSG:27700), heights in metres on cells of 0.5 m.
    """
    ground = _terrain()
    return Site.from_tables(layers(ground), EPSG, ground)


def write_sample(path: str | Path, *, replace: bool = False) -> Path:
    """Write Merrowby Links as a GeoPackage: survey layers, tables and the terrain raster `terrain`.

    The file is built beside its final place and put there in one move, so that a failure leaves nothing half done.

    Parameters
    ----------
    path
        The GeoPackage to make, ending in ``.gpkg``.
    replace
        Replace a file that is already there.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        If the name does not end in ``.gpkg``, or the file exists and is not to be replaced.
    WriteError
        If the folder is not there or the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() != ".gpkg":
        raise InputError(f"{path}: the sample site is a GeoPackage; give a name that ends in .gpkg")
    if path.exists() and not replace:
        raise InputError(
            f"{path} is already there; choose another name, or have it replaced (--replace, in a console replace=True)"
        )
    if not path.parent.is_dir():
        raise WriteError(f"{path.parent}: there is no such folder; make it first")
    try:
        with tempfile.TemporaryDirectory(prefix=".sample-", dir=path.parent) as folder:
            scratch = Path(folder) / path.name
            _build(scratch)
            with scratch.open("rb+") as file:
                os.fsync(file.fileno())
            os.replace(scratch, path)
    except OSError as fault:
        if isinstance(fault, WriteError):
            raise
        raise WriteError(f"{path} cannot be written: {fault}") from fault
    return path


def _build(path: Path) -> None:
    from gistools.site._raster import write_coverage
    from gistools.site._vector import write_layer

    ground = _terrain()
    for name, table in layers(ground).items():
        spec = SURVEY_LAYERS.get(name)
        kinds = set(table.geometry.geom_type) if spec else set()
        write_layer(path, name, table, geometry=kinds.pop() if len(kinds) == 1 else None)
    write_coverage(path, TERRAIN, ground.z, ground.x_west, ground.y_north, ground.cell, EPSG)
