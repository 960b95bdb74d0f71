"""How maps of a site are drawn in a desktop's project. Imported only where that desktop is running.

The desktop keeps no style for a raster table of a GeoPackage, so a map that is dragged in comes in grey: the
plug-in draws it then.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from qgis.core import (
    QgsBilinearRasterResampler,
    QgsColorRampShader,
    QgsHillshadeRenderer,
    QgsMapLayerType,
    QgsRasterLayer,
    QgsRasterShader,
    QgsSingleBandPseudoColorRenderer,
)
from qgis.PyQt.QtGui import QColor

from gistools.desktop.project import table_of
from gistools.sheets.styles import map_colours
from gistools.site.schema import RESULT_PREFIX
from gistools.steps.styles import SCALE

ROUGH = "#a8a070"
#: mark of a map that was drawn once: what its user makes of it afterwards stays
DRAWN = "gistools/drawn"
GREY = "singlebandgray"


def draw_added(layers: Iterable[Any]) -> None:
    """Draw those of the layers just added to a project that are maps of a site and came in grey."""
    for layer in layers:
        if layer.type() != QgsMapLayerType.RasterLayer or not layer.isValid():
            continue
        name = table_of(layer)
        mine = name.startswith(RESULT_PREFIX) or name in ("terrain", "terrain_proposed")
        if mine and layer.renderer().type() == GREY and not layer.customProperty(DRAWN):
            draw_map(layer, name)
            layer.triggerRepaint()


def draw_map(layer: QgsRasterLayer, name: str) -> None:
    """Draw terrain as relief, a result by its colours: the same for every hole and hole location."""
    layer.setCustomProperty(DRAWN, True)
    data = layer.dataProvider()
    if name.removeprefix(RESULT_PREFIX).startswith("terrain"):
        relief = QgsHillshadeRenderer(data, 1, 315.0, 45.0)
        relief.setZFactor(2.0)
        relief.setMultiDirectional(True)
        layer.setRenderer(relief)
        layer.setOpacity(0.7)
        layer.resampleFilter().setZoomedInResampler(QgsBilinearRasterResampler())
        tint = layer.hueSaturationFilter()
        tint.setColorizeOn(True)
        tint.setColorizeColor(QColor(ROUGH))
        tint.setColorizeStrength(45)
        layer.brightnessFilter().setBrightness(25)
        return
    colours = map_colours(name) or _stretched(data)
    low, high = colours[0][0], colours[-1][0]
    shader = QgsRasterShader(low, high)
    ramp = QgsColorRampShader(low, high)
    ramp.setColorRampType(QgsColorRampShader.Interpolated)
    ramp.setColorRampItemList(
        [QgsColorRampShader.ColorRampItem(v, QColor(colour), f"{v:.3g}") for v, colour in colours]
    )
    shader.setRasterShaderFunction(ramp)
    layer.setRenderer(QgsSingleBandPseudoColorRenderer(data, 1, shader))
    layer.setOpacity(0.8)


def _stretched(data: Any) -> list[tuple[float, str]]:
    """Return colours between the lowest and the highest value of a map that has none of its own."""
    stats = data.bandStatistics(1)
    step = (stats.maximumValue - stats.minimumValue) / (len(SCALE) - 1)
    return [(stats.minimumValue + step * k, colour) for k, colour in enumerate(SCALE)]
