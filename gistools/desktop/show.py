"""Inside a desktop GIS: results as drawn layers, edit sessions respected, progress with a cancel button.

Written for QGIS, a general-purpose desktop, from version 3.22. Its Python is never imported unless it is running
already, and the site file is only looked at through it: a second SQLite in the same process would cancel its locks.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from gistools.base.errors import Cancelled, InputError, WriteError

Progress = Callable[[float, str], None]


def running() -> bool:
    """Tell whether this process is a desktop GIS that is up."""
    core = sys.modules.get("qgis.core")
    return core is not None and core.QgsApplication.instance() is not None


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
    from gistools.desktop import layer_tree as _layers

    return _layers.show(path, survey=survey)


def console_lines() -> str:
    """Return what to paste into a desktop's console so that it finds this toolkit and the Python it runs in."""
    start = Path(__file__).resolve().with_name("bootstrap.py")
    return "\n".join(
        (
            "import os, runpy",
            f'os.environ["GISTOOLS_PYTHON"] = {sys.executable!r}',
            f'runpy.run_path({str(start)!r}, run_name="bootstrap")',
            "import gistools as gt",
        )
    )


def _path(site: Any) -> Path:
    told = site if isinstance(site, (str, Path)) else getattr(site, "path", None)
    if told is None:
        raise InputError("this has no file to show: write the results first")
    path = Path(told)
    if not path.is_file():
        raise InputError(f"{path} does not exist; check the name and the folder")
    return path.resolve()


def refuse_edits(path: Any) -> None:
    """Refuse to write into a file of which the desktop has a layer in an edit session.

    Raises
    ------
    WriteError
        Naming the layers and what to do.
    """
    if not running():
        return
    from gistools.desktop import layer_tree as _layers

    edited = [layer.name() for layer in _layers.layers_of(Path(path)) if _layers.edited(layer)]
    if edited:
        raise WriteError(
            f"nothing was written: {', '.join(edited)} of {Path(path).name} is being edited in the desktop;"
            " save or discard the edits there, then run this again"
        )


def refresh(path: Any) -> None:
    """Read the layers of a file anew where the desktop shows any. Layers being edited are left alone."""
    if running():
        from gistools.desktop import layer_tree as _layers

        _layers.refresh(Path(path))


@contextmanager
def progress(listener: Progress | None) -> Iterator[Progress | None]:
    """Return who listens to progress: the caller's own, else a small window where a desktop shows one."""
    window = _window() if running() else None
    if window is None or listener is not None:
        yield _alive(listener) if running() else listener
        return

    def listen(share: float, text: str) -> None:
        window.setLabelText(text or "starting")
        window.setValue(round(share * 100))
        _breathe()
        if window.wasCanceled():
            raise Cancelled("stopped by the user; the site file is as it was")

    try:
        yield listen
    finally:
        window.close()


def _alive(listener: Progress | None) -> Progress:
    def listen(share: float, text: str) -> None:
        _breathe()
        if listener is not None:
            listener(share, text)

    return listen


def _breathe() -> None:
    """Let the desktop draw itself and take clicks while it waits for a child."""
    from qgis.PyQt.QtWidgets import QApplication

    QApplication.processEvents()


def _window() -> Any:
    """Return a progress window, or None where the desktop has no main window."""
    iface = getattr(sys.modules.get("qgis.utils"), "iface", None)
    if iface is None:
        return None
    from qgis.PyQt.QtCore import Qt
    from qgis.PyQt.QtWidgets import QProgressDialog

    window = QProgressDialog("starting", "Stop", 0, 100, iface.mainWindow())
    window.setWindowTitle("gistools")
    with suppress(AttributeError):  # the older and the newer spelling of the same choice
        window.setWindowModality(getattr(Qt, "WindowModal", None) or Qt.WindowModality.WindowModal)
    window.setMinimumDuration(500)
    window.setAutoClose(False)
    window.setAutoReset(False)
    return window
