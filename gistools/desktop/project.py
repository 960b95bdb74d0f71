"""Layers of the open project that come from a file. Imported only where a desktop is running."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsMapLayer, QgsMapLayerType, QgsProject, QgsProviderRegistry


def layers_of(path: Path) -> list[QgsMapLayer]:
    """Return the layers of the open project that come from a file."""
    resolved = path.resolve()
    return [layer for layer in QgsProject.instance().mapLayers().values() if _file(layer) == resolved]


def is_edited(layer: QgsMapLayer) -> bool:
    """Tell whether a layer is in an edit session."""
    return layer.type() == QgsMapLayerType.VectorLayer and bool(layer.isEditable())


def refresh(path: Path) -> None:
    """Read layers anew after their tables were replaced."""
    for layer in layers_of(path):
        if is_edited(layer):
            continue
        layer.dataProvider().reloadData()
        if layer.type() == QgsMapLayerType.VectorLayer:
            layer.updateFields()
            layer.updateExtents()
        layer.triggerRepaint()


def _file(layer: QgsMapLayer) -> Path | None:
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    path = parts.get("path")
    return Path(path).resolve() if path else None


def table_of(layer: QgsMapLayer) -> str:
    """Return the table a layer shows."""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    return str(parts.get("layerName") or "")
