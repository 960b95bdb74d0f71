"""Print layouts and map themes of a site in a desktop's open project. Imported only where one is running.

Plan of each hole, its green, and the whole site, on A3 at a round scale with title block, legend, scale bar
and north arrow. A theme is a choice of visible layers: for the client, strategy, safety, construction.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsGeometry,
    QgsLayerTreeModel,
    QgsLayoutItemLabel,
    QgsLayoutItemLegend,
    QgsLayoutItemMap,
    QgsLayoutItemPage,
    QgsLayoutItemPicture,
    QgsLayoutItemScaleBar,
    QgsLayoutPoint,
    QgsLayoutSize,
    QgsMapThemeCollection,
    QgsPointXY,
    QgsPrintLayout,
    QgsProject,
    QgsRectangle,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtGui import QFont

from gistools.base.paper import CAUTION, SCALES
from gistools.desktop.project import layers_of, table_of
from gistools.sheets.layer_groups import THEMES
from gistools.site.schema import RESULT_PREFIX

MM = QgsUnitTypes.LayoutMillimeters
#: the map on A3: left, top, width, height [mm]
MAP = (10.0, 10.0, 400.0, 235.0)
GREEN_SCALE = 250
MARGIN_M = 15.0  # ground shown round a hole (assumption)
NORTH_ARROW = ":/images/north_arrows/layout_default_north_arrow.svg"


@dataclass(frozen=True)
class Sheet:
    """A layout to make: its name, the ground it shows, and the bearing that points to the right."""

    name: str
    ground: QgsGeometry
    bearing_deg: float
    scale: int = 0
    theme: str = "Client"


def lay_out(path: Path) -> tuple[list[str], list[str]]:
    """Make themes and layouts of the site in the open project; those of the same name are made anew.

    Returns
    -------
    themes, layouts
        Their names.
    """
    project = QgsProject.instance()
    themes = [name for name in THEMES if _theme(project, path, name)]
    layouts = []
    for sheet in _sheets(path):
        _layout(project, path, sheet)
        layouts.append(sheet.name)
    return themes, layouts


def _theme(project: Any, path: Path, name: str) -> bool:
    """Store a theme that shows the survey and some result layers; false where none of these is there."""
    root = project.layerTreeRoot()
    mine = {layer.id(): table_of(layer).removeprefix(RESULT_PREFIX) for layer in layers_of(path)}
    results = {layer.id() for layer in layers_of(path) if table_of(layer).startswith(RESULT_PREFIX)}
    if not any(mine[key] in THEMES[name] for key in results):
        return False
    before = {}
    for node in root.findLayers():
        before[node] = node.itemVisibilityChecked()
        shown = node.layerId() in mine and (
            node.layerId() not in results or mine[node.layerId()] in THEMES[name]
        )
        node.setItemVisibilityChecked(shown)
    record = QgsMapThemeCollection.createThemeFromCurrentState(root, QgsLayerTreeModel(root))
    themes = project.mapThemeCollection()
    (themes.update if themes.hasMapTheme(name) else themes.insert)(name, record)
    for node, visible in before.items():
        node.setItemVisibilityChecked(visible)
    return True


def _rows(path: Path, table: str) -> Iterator[Any]:
    layer = QgsVectorLayer(f"{path}|layername={table}", table, "ogr")
    if layer.isValid():
        yield from layer.getFeatures()


def _sheets(path: Path) -> Iterator[Sheet]:
    """Yield a plan and a green for each hole, then the site."""
    parts: dict[int, dict[str, list[QgsGeometry]]] = {}
    for table in ("tees", "fairway", "greens", "pins"):
        for row in _rows(path, table):
            if row["hole"] is not None and row.hasGeometry():
                parts.setdefault(int(row["hole"]), {}).setdefault(table, []).append(row.geometry())
    for hole, layers in sorted(parts.items()):
        whole = QgsGeometry.unaryUnion([g for group in layers.values() for g in group])
        greens, tees = layers.get("greens"), layers.get("tees")
        if not greens or not tees:
            continue
        green = QgsGeometry.unaryUnion(greens)
        end = green.centroid().asPoint()
        start = max((t.centroid().asPoint() for t in tees), key=lambda p: p.distance(end))
        bearing = math.degrees(math.atan2(end.x() - start.x(), end.y() - start.y()))
        yield Sheet(f"Hole {hole}: plan", whole, bearing)
        yield Sheet(f"Hole {hole}: green", green, bearing, GREEN_SCALE, "Construction")
    if parts:
        every = QgsGeometry.unaryUnion([g for p in parts.values() for group in p.values() for g in group])
        yield Sheet("Site plan", every, 90.0)


def _layout(project: Any, path: Path, sheet: Sheet) -> None:
    manager = project.layoutManager()
    old = manager.layoutByName(sheet.name)
    if old is not None:
        manager.removeLayout(old)
    layout = QgsPrintLayout(project)
    layout.initializeDefaults()
    layout.setName(sheet.name)
    layout.pageCollection().page(0).setPageSize("A3", QgsLayoutItemPage.Landscape)
    shown = QgsLayoutItemMap(layout)
    _place(layout, shown, *MAP)
    turn = sheet.bearing_deg - 90.0  # the map turns so that play runs to the right
    box = _turned_box(sheet.ground, turn)
    unit_m = QgsUnitTypes.fromUnitToUnitFactor(project.crs().mapUnits(), QgsUnitTypes.DistanceMeters)
    wide, tall = (box[2] - box[0]) * unit_m + 2 * MARGIN_M, (box[3] - box[1]) * unit_m + 2 * MARGIN_M
    fitting = [s for s in SCALES if wide * 1000 <= MAP[2] * s and tall * 1000 <= MAP[3] * s]
    scale = sheet.scale or (fitting[0] if fitting else SCALES[-1])
    centre = _back(QgsPointXY((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), turn)
    half = MAP[2] * scale / 2000 / unit_m, MAP[3] * scale / 2000 / unit_m
    shown.setMapRotation(-turn)
    west, south = centre.x() - half[0], centre.y() - half[1]
    shown.setExtent(QgsRectangle(west, south, west + 2 * half[0], south + 2 * half[1]))
    shown.setScale(scale)
    shown.setFrameEnabled(True)
    if project.mapThemeCollection().hasMapTheme(sheet.theme):
        shown.setFollowVisibilityPreset(True)
        shown.setFollowVisibilityPresetName(sheet.theme)
    about = next(iter(_rows(path, "site")), None)
    fields = ("project", "client", "date", "author")
    block = {k: str(about[k]) for k in fields if about is not None and about[k]}
    heading = block.get("project", path.stem.replace("_", " "))
    lines = [sheet.name, f"1:{scale} at A3, {project.crs().authid()}"]
    lines += [", ".join(v for k, v in block.items() if k != "project")]
    _label(layout, heading, 270.0, 247.0, 16.0, 14, bold=True)
    _label(layout, "\n".join(lines), 270.0, 256.0, 22.0, 9)
    _label(layout, CAUTION, 270.0, 278.0, 12.0, 7)
    bar = QgsLayoutItemScaleBar(layout)
    bar.setStyle("Single Box")
    bar.setLinkedMap(shown)
    bar.applyDefaultSize(QgsUnitTypes.DistanceMeters)
    _place(layout, bar, 10.0, 270.0, 90.0, 15.0)
    arrow = QgsLayoutItemPicture(layout)
    arrow.setPicturePath(NORTH_ARROW)
    arrow.setLinkedMap(shown)
    arrow.setNorthMode(QgsLayoutItemPicture.GridNorth)
    _place(layout, arrow, 14.0, 248.0, 16.0, 16.0)
    legend = QgsLayoutItemLegend(layout)
    legend.setLinkedMap(shown)
    legend.setLegendFilterByMapEnabled(True)
    legend.setColumnCount(4)
    legend.setSplitLayer(True)
    _place(layout, legend, 112.0, 247.0, 155.0, 45.0)
    manager.addLayout(layout)


def _place(layout: Any, item: Any, x: float, y: float, width: float, height: float) -> None:
    layout.addLayoutItem(item)
    item.attemptMove(QgsLayoutPoint(x, y, MM))
    item.attemptResize(QgsLayoutSize(width, height, MM))


def _label(
    layout: Any, text: str, x: float, y: float, height: float, size: float, *, bold: bool = False
) -> None:
    label = QgsLayoutItemLabel(layout)
    font = QFont()
    font.setPointSizeF(size)
    font.setBold(bold)
    label.setFont(font)
    label.setText(text)
    _place(layout, label, x, y, 140.0, height)


def _turned_box(ground: QgsGeometry, turn_deg: float) -> tuple[float, float, float, float]:
    """Return the box of a geometry turned counterclockwise about the origin."""
    points = [_turned(QgsPointXY(v), turn_deg) for v in ground.vertices()]
    xs, ys = [p.x() for p in points], [p.y() for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _turned(point: QgsPointXY, turn_deg: float) -> QgsPointXY:
    a = math.radians(turn_deg)
    return QgsPointXY(
        point.x() * math.cos(a) - point.y() * math.sin(a), point.x() * math.sin(a) + point.y() * math.cos(a)
    )


def _back(point: QgsPointXY, turn_deg: float) -> QgsPointXY:
    return _turned(point, -turn_deg)
