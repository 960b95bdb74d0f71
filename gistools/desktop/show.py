"""Results as drawn layers in the open project of a desktop GIS.

Written for QGIS, a general-purpose desktop, from version 3.22. Its Python is never imported unless it is
running already, and the site file is only looked at through it: a second SQLite in the same process would
cancel its locks.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from gistools.base.errors import InputError
from gistools.desktop.host import running


def show(site: Any, *, survey: bool = True) -> list[str]:
    """Add the result layers of a site to the desktop's open project, in a group named after the file.

    Layers that are there already are refreshed, those the file no longer has are taken out.

    Parameters
    ----------
    site
        A site, a study, or the path of a GeoPackage.
    survey
        Also add the survey layers and the terrain below, where the project does not show them yet.

    Returns
    -------
    list of str
        Names of the layers added. Where no desktop is running a sentence is printed and nothing is added.

    Raises
    ------
    InputError
        If there is no file, or no result layer in it.
    """
    path = _path(site)
    if not running():
        print(
            "No desktop GIS is running in this Python, so there is no project to add layers to."
            f" Open {path} in yours: the result layers carry their styles."
        )
        return []
    from gistools.desktop.layer_tree import show as show_layers

    return show_layers(path, survey=survey)


def _path(site: Any) -> Path:
    source = site if isinstance(site, (str, Path)) else getattr(site, "path", None)
    if source is None:
        raise InputError("this has no file to show: write the results first")
    path = Path(source)
    if not path.is_file():
        raise InputError(f"{path} does not exist; check the name and the folder")
    return path.resolve()
