"""Print layouts and map themes of a site in a desktop's open project. Imported only where one is running.

Plan of each hole, its green, and the whole site, as :mod:`gistools.sheets.project_layouts` writes them. A
theme is a choice of visible layers: for the client, strategy, safety, construction.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsLayerTreeModel,
    QgsMapThemeCollection,
    QgsPrintLayout,
    QgsProject,
    QgsReadWriteContext,
)
from qgis.PyQt.QtXml import QDomDocument

from gistools.desktop import remote
from gistools.desktop.project import layers_of, table_of
from gistools.sheets.layer_groups import THEMES, theme_layers
from gistools.site.schema import RESULT_PREFIX


def lay_out(path: Path) -> tuple[list[str], list[str]]:
    """Make themes and layouts of the site in the open project; those of the same name are made anew.

    Returns
    -------
    themes, layouts
        Their names.
    """
    project = QgsProject.instance()
    themes = [name for name in THEMES if _theme(project, path, name)]
    manager, layouts = project.layoutManager(), []
    for name, text in remote.layout_documents(path):
        document = QDomDocument()
        document.setContent(text)
        layout = QgsPrintLayout(project)
        layout.readLayoutXml(document.documentElement(), document, QgsReadWriteContext())
        old = manager.layoutByName(name)
        if old is not None:
            manager.removeLayout(old)
        manager.addLayout(layout)
        layouts.append(name)
    return themes, layouts


def _theme(project: Any, path: Path, name: str) -> bool:
    """Store a theme that shows the survey and some result layers; false where none of these is there."""
    root = project.layerTreeRoot()
    mine = {layer.id(): table_of(layer).removeprefix(RESULT_PREFIX) for layer in layers_of(path)}
    results = {layer.id() for layer in layers_of(path) if table_of(layer).startswith(RESULT_PREFIX)}
    if not any(mine[key] in theme_layers(name) for key in results):
        return False
    before = {}
    for node in root.findLayers():
        before[node] = node.itemVisibilityChecked()
        shown = node.layerId() in mine and (
            node.layerId() not in results or mine[node.layerId()] in theme_layers(name)
        )
        node.setItemVisibilityChecked(shown)
    record = QgsMapThemeCollection.createThemeFromCurrentState(root, QgsLayerTreeModel(root))
    themes = project.mapThemeCollection()
    (themes.update if themes.hasMapTheme(name) else themes.insert)(name, record)
    for node, visible in before.items():
        node.setItemVisibilityChecked(visible)
    return True
