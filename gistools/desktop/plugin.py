"""The plug-in of the desktop: it registers the toolbox and offers to install the libraries once."""

from __future__ import annotations

from typing import Any

from qgis.core import Qgis, QgsApplication, QgsMessageLog, QgsProject

from gistools.desktop import environment, remote
from gistools.desktop.interpreter import prepared_interpreters
from gistools.desktop.maps import draw_added
from gistools.desktop.provider import Provider

TITLE = "Golf holes"


class Plugin:
    """What the desktop starts and stops."""

    def __init__(self, iface: Any) -> None:
        self.iface = iface
        self.provider: Provider | None = None

    def initProcessing(self) -> None:  # the desktop's own name
        """Register the toolbox; the desktop calls this alone where it has no window."""
        if self.provider is None:
            self.provider = Provider()
            QgsApplication.processingRegistry().addProvider(self.provider)
            QgsProject.instance().layersAdded.connect(draw_added)

    def initGui(self) -> None:  # the desktop's own name
        """Register the toolbox and say what is to be done once, where it is still to be done."""
        self.initProcessing()
        if not environment.ready() and not prepared_interpreters():  # the desktop's own does not count
            text = "run 'Install the libraries' of the processing toolbox once, under Golf holes"
            self.iface.messageBar().pushMessage(TITLE, text, Qgis.Info, 0)
            QgsMessageLog.logMessage(text, TITLE, Qgis.Info)

    def unload(self) -> None:
        """Take the toolbox out and end the child process."""
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            QgsProject.instance().layersAdded.disconnect(draw_added)
            self.provider = None
        remote.close()
