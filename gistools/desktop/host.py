"""The desktop GIS as the host of this process.

Is one up, edit sessions, refreshing layers, progress with a button.

Its Python is never imported unless it is running already.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from gistools.base.errors import Cancelled, WriteError

Progress = Callable[[float, str], None]


def running() -> bool:
    """Tell whether this process is a desktop GIS that is up."""
    core = sys.modules.get("qgis.core")
    return core is not None and core.QgsApplication.instance() is not None


def refuse_edits(path: Any) -> None:
    """Refuse to write into a file of which the desktop has a layer in an edit session.

    Raises
    ------
    WriteError
        Naming the layers and what to do.
    """
    if not running():
        return
    from gistools.desktop.project import is_edited, layers_of

    edited = [layer.name() for layer in layers_of(Path(path)) if is_edited(layer)]
    if edited:
        raise WriteError(
            f"nothing was written: {', '.join(edited)} of {Path(path).name} is being edited in the desktop;"
            " save or discard the edits there, then run this again"
        )


def refresh(path: Any) -> None:
    """Read the layers of a file anew where the desktop shows any. Layers being edited are left alone."""
    if running():
        from gistools.desktop.project import refresh as refresh_layers

        refresh_layers(Path(path))


@contextmanager
def progress(listener: Progress | None) -> Iterator[Progress | None]:
    """Return the listener of progress: the caller's, else a small window where a desktop shows one."""
    window = _window() if running() else None
    if window is None or listener is not None:
        yield _keep_drawing(listener) if running() else listener
        return

    def listen(share: float, text: str) -> None:
        window.setLabelText(text or "starting")
        window.setValue(round(share * 100))
        _process_events()
        if window.wasCanceled():
            raise Cancelled("stopped by the user; the site file is as it was")

    try:
        yield listen
    finally:
        window.close()


def _keep_drawing(listener: Progress | None) -> Progress:
    def listen(share: float, text: str) -> None:
        _process_events()
        if listener is not None:
            listener(share, text)

    return listen


def _process_events() -> None:
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
