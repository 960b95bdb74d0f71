"""Layers of a site in a desktop's open project. Imported only where that desktop is running."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsLayerTreeGroup,
    QgsMapLayerType,
    QgsProject,
    QgsProviderRegistry,
    QgsRasterLayer,
    QgsRectangle,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtXml import QDomDocument

from gistools.base.errors import InputError
from gistools.desktop import remote
from gistools.desktop.maps import draw_map
from gistools.desktop.project import layers_of, refresh, table_of
from gistools.sheets.layer_groups import ORDER, SURVEY, placing
from gistools.site.schema import RESULT_PREFIX

MARK = "gistools/file"


def show(path: Path, *, survey: bool) -> list[str]:
    """Add, refresh and take out layers so that the project shows what the file holds."""
    inside = _inside(path)
    results = {n: s for n, s in inside.items() if n.startswith(RESULT_PREFIX) or n == "terrain_proposed"}
    if not results:
        raise InputError(f"{path.name} has no result layers yet: run gistools.study(site) first")
    refresh(path)
    project = QgsProject.instance()
    fresh = not project.mapLayers()
    group = _group(project.layerTreeRoot(), path.stem, path)
    _take_out(project, group, path, inside)
    shown = {table_of(layer) for layer in layers_of(path)}
    first = {table: (condition, words) for table, condition, words in remote.shown_first(path)}
    added = [
        _add(project, group, name, results[name], path, *first.get(name, ("", "")))
        for name in _ordered(results)
        if name not in shown
    ]
    if survey:
        ground = {n: s for n, s in inside.items() if (n in SURVEY or n == "terrain") and n not in shown}
        for name in _ordered(ground):
            _add(project, group, name, ground[name], path)
    if fresh:
        _look_at(project, path)
    return [name for name in added if name]


def _look_at(project: Any, path: Path) -> None:
    """Set a project that was empty to the CRS of the site, and the map to the holes."""
    lines = [layer for layer in layers_of(path) if layer.name() in ("lines of play", "zones")]
    box = QgsRectangle()
    for layer in lines or layers_of(path):
        if layer.crs().isValid():
            project.setCrs(layer.crs())
            box.combineExtentWith(layer.extent())
    iface = getattr(sys.modules.get("qgis.utils"), "iface", None)
    if iface is not None and not box.isEmpty():
        box.scale(1.2)
        iface.mapCanvas().setExtent(box)
        iface.mapCanvas().refresh()


def _inside(path: Path) -> dict[str, Any]:
    """Return what the desktop finds in a file, by table."""
    sublayers = QgsProviderRegistry.instance().querySublayers(str(path))
    return {s.name(): s for s in sublayers if s.name()}


def _group(root: QgsLayerTreeGroup, name: str, path: Path) -> QgsLayerTreeGroup:
    for group in root.findGroups(True):
        if group.customProperty(MARK) == str(path):
            return group
    group = root.insertGroup(0, name)
    group.setCustomProperty(MARK, str(path))
    return group


def _part(group: QgsLayerTreeGroup, name: str) -> QgsLayerTreeGroup:
    """Return a part of the group by name, made in its place where it is not there yet."""
    part = group.findGroup(name)
    if part is None:
        later = ORDER[ORDER.index(name) + 1 :]
        names = [child.name() for child in group.children()]
        place = next((k for k, known in enumerate(names) if known in later), len(names))
        part = group.insertGroup(place, name)
        part.setExpanded(name == "Plan")
    return part


def _take_out(project: Any, group: QgsLayerTreeGroup, path: Path, inside: dict[str, Any]) -> None:
    """Take out result layers whose table is gone."""
    here = {node.layerId() for node in group.findLayers()}
    for layer in layers_of(path):
        if layer.id() in here and table_of(layer) not in inside:
            project.removeMapLayer(layer.id())


def _ordered(sublayers: dict[str, Any]) -> list[str]:
    """Points above lines above areas above maps; survey layers in their own order, the terrain last."""

    def place(name: str) -> tuple[int, int, str]:
        if name in SURVEY:
            return (8, SURVEY.index(name), name)
        if sublayers[name].type() == QgsMapLayerType.RasterLayer:
            return (9 if name == "terrain" else 5, 0, name)
        kind = QgsWkbTypes.geometryType(sublayers[name].wkbType())
        return (
            {QgsWkbTypes.PointGeometry: 0, QgsWkbTypes.LineGeometry: 1, QgsWkbTypes.PolygonGeometry: 2}.get(
                kind, 4
            ),
            0,
            name,
        )

    return sorted(sublayers, key=place)


def _add(
    project: Any,
    group: QgsLayerTreeGroup,
    name: str,
    sub: Any,
    path: Path,
    condition: str = "",
    chosen: str = "",
) -> str:
    """Open one table, draw it, put it in its place; an empty name where the desktop cannot open it.

    ``condition`` filters its rows, ``chosen`` says in its name by what.
    """
    is_map = sub.type() == QgsMapLayerType.RasterLayer
    if is_map:
        layer = QgsRasterLayer(f"GPKG:{path}:{name}", name, "gdal")
    else:
        rows = f"|subset={condition}" if condition else ""
        layer = QgsVectorLayer(f"{path}|layername={name}{rows}", name, "ogr")
    if not layer.isValid():
        return ""
    title, about, visible = placing(name, raster=is_map, spatial=layer.isSpatial(), chosen=chosen)
    layer.setName(title)
    if is_map:
        draw_map(layer, name)
    elif name in SURVEY:
        _draw_survey(layer, name)
    inner = _part(group, about)
    project.addMapLayer(layer, False)
    node = inner.addLayer(layer)
    node.setItemVisibilityChecked(visible)
    node.setExpanded(False)
    return name.removeprefix(RESULT_PREFIX).replace("_", " ")


def _draw_survey(layer: QgsVectorLayer, name: str) -> None:
    """Draw a survey layer as the plan does, unless the surveyor left a style of their own in the file."""
    if layer.listStylesInDatabase()[0] > 0:
        return
    geometry = QgsWkbTypes.geometryDisplayString(layer.geometryType())
    document = remote.survey_style(name, geometry)
    if document is None:
        return
    dom = QDomDocument()
    dom.setContent(document)
    layer.importNamedStyle(dom)
