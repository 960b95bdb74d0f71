"""The sample site, Merrowby Links: an invented links course of three holes, shipped as data.

The recipe of its ground and layers is ``scripts/sample_course``. ``scripts/make_sample.py --data`` makes the
two files shipped here: the survey layers as a zipped GeoPackage, and the terrain as a GeoTIFF of whole
millimetres.
"""

from __future__ import annotations

import shutil
import tempfile
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from gistools.base.errors import WriteError
from gistools.base.files import atomic_replace, refuse_new_site
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site.model import Site
from gistools.site.read import open_site
from gistools.site.schema import TERRAIN

EPSG = 27700
DATA = Path(__file__).with_name("data")
SURVEY, GROUND = DATA / "merrowby.gpkg.zip", DATA / "merrowby.tif"


def sample_site() -> Site:
    """Return Merrowby Links in memory, ready to study: the same data as the file of :func:`write_sample`.

    Returns
    -------
    Site
        Three holes in British National Grid (EPSG:27700), heights in metres on cells of 0.5 m.
    """
    tables, terrain = _shipped()
    return Site.from_tables(tables, EPSG, terrain)


@cache
def _shipped() -> tuple[dict[str, Any], Surface]:
    with tempfile.TemporaryDirectory(prefix="gistools-") as folder:
        survey = Path(folder) / "merrowby.gpkg"
        _unpack(survey)
        site = open_site(survey, terrain=GROUND)
        s = site.surface()
    # a raster table holds 32-bit numbers: the same ones in memory
    heights = s.z.astype(np.float32).astype(np.float64)
    return dict(site.tables), Surface(heights, s.x_west, s.y_north, s.cell)


def _unpack(path: Path) -> None:
    with (
        zipfile.ZipFile(SURVEY) as archive,
        archive.open(archive.namelist()[0]) as source,
        path.open("wb") as file,
    ):
        shutil.copyfileobj(source, file)


def write_sample(path: str | Path, *, replace: bool = False) -> Path:
    """Write Merrowby Links as a GeoPackage: survey layers, tables and the terrain raster `terrain`.

    The file is built beside its final place and put there in one move, so that a failure leaves nothing half
    done.

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
    refuse_new_site(path, replace)
    try:
        with atomic_replace(path) as (scratch,):
            _build(scratch)
    except WriteError:
        raise
    except OSError as fault:
        raise WriteError(f"{path} cannot be written: {fault}") from fault
    return path


def _build(path: Path) -> None:
    _unpack(path)
    terrain = _shipped()[1]
    _raster.write_coverage(path, TERRAIN, terrain.z, terrain.x_west, terrain.y_north, terrain.cell, EPSG)
