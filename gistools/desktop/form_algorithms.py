"""Algorithms of the desktop that start a design: an empty site, and a hole of forms on its ground."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingException,
    QgsProcessingOutputFile,
    QgsProcessingOutputNumber,
    QgsProcessingOutputString,
    QgsProcessingParameterCrs,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterNumber,
    QgsProcessingParameterPoint,
    QgsVectorLayer,
)

from gistools.base.errors import GistoolsError
from gistools.base.units import UNITS
from gistools.design.form_list import FORMS
from gistools.design.form_parts import Parameter
from gistools.desktop.algorithms import SETTINGS, SITE, SiteAlgorithm, advanced, call
from gistools.desktop.project import layers_of
from gistools.site.schema import SURVEY_LAYERS
from gistools.steps.catalogue import HOLE, find

HOLE_KEY, TEE, GREEN, CHOSEN = "HOLE", "TEE", "GREEN", "FORMS"


class NewSite(SiteAlgorithm):
    """Write an empty site with every survey layer."""

    key, title, part = "new_site", "Make an empty site", "Set up"
    text = (
        "Writes a GeoPackage with every survey layer and table, their fields and the words they can hold,"
        " ready to be drawn in; with a terrain model in it where one is named."
    )

    def initAlgorithm(self, _configuration: Any = None) -> None:
        """Declare file, CRS and terrain."""
        kind = "GeoPackage (*.gpkg)"
        self.addParameter(QgsProcessingParameterFileDestination(SITE, "File to write", kind))
        self.addParameter(QgsProcessingParameterCrs("CRS", "CRS, projected", "ProjectCrs"))
        terrain = "Terrain model (GeoTIFF) in that CRS"
        self.addParameter(QgsProcessingParameterFile("TERRAIN", terrain, extension="tif", optional=True))
        self.addOutput(QgsProcessingOutputFile(SITE, "Site"))

    def processAlgorithm(self, parameters: Any, context: Any, feedback: Any) -> dict[str, Any]:
        """Write the file in the child."""
        path = self.parameterAsFileOutput(parameters, SITE, context)
        crs = self.parameterAsCrs(parameters, "CRS", context)
        terrain = self.parameterAsFile(parameters, "TERRAIN", context)
        try:
            call("new_site", feedback, path, crs.authid() or crs.toWkt(), terrain=terrain or None)
        except GistoolsError as fault:
            raise QgsProcessingException(str(fault)) from None
        return {SITE: path}


class LayHole(SiteAlgorithm):
    """Lay a hole of strategic forms beside the holes of a site."""

    key, title, part = "lay_hole", "Lay a hole with strategic forms", "Design"
    text = (
        "Lays tees, line of play, fairway, green and the forms chosen between a tee point and a green point"
        " on the surveyed ground of a site, as survey layers to redraw; earth is moved by rows of the layer"
        " shapes. No row that is there is altered. What could not be fitted and which set-backs are not kept"
        " stands in the log; what the forms are meant to ask in the table brief.<br><br>"
        + "<br>".join(f"{name}: {form.text}" for name, form in FORMS.items())
    )
    loads = False

    def initAlgorithm(self, configuration: Any = None) -> None:
        """Declare parameters and outputs; settings play no part in laying a hole."""
        super().initAlgorithm(configuration)
        self.removeParameter(SETTINGS)

    def declare(self) -> None:
        """Add places, forms, and a parameter for each figure of a form."""
        number = QgsProcessingParameterNumber
        hole = "Hole; empty for the next free number"
        self.addParameter(number(HOLE_KEY, hole, number.Integer, None, True, HOLE.low, HOLE.high))
        self.addParameter(QgsProcessingParameterPoint(TEE, "Back tee"))
        self.addParameter(QgsProcessingParameterPoint(GREEN, "Middle of the green"))
        names = list(FORMS)
        chosen = QgsProcessingParameterEnum(CHOSEN, "Forms", names, True, names[:1], usesStaticStrings=True)
        self.addParameter(chosen)
        for form, name, p in figures():
            title = f"{form}: {p.text}{unit_of(p)}; empty for {p.default:g}"
            key = key_of(form, name)
            self.addParameter(advanced(number(key, title, number.Double, None, True, p.low, p.high)))
        self.addOutput(QgsProcessingOutputNumber("LAID", "Number of the hole"))
        self.addOutput(QgsProcessingOutputString("REMARKS", "What could not be fitted"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Lay the hole in the child."""
        crs = crs_of(path)
        ends = [self.parameterAsPoint(parameters, key, context, crs) for key in (TEE, GREEN)]
        given = {
            f"{form}.{name}": self.parameterAsDouble(parameters, key_of(form, name), context)
            for form, name, _ in figures()
            if parameters.get(key_of(form, name)) not in (None, "")
        }
        number = parameters.get(HOLE_KEY)
        laid = call(
            "lay_hole",
            feedback,
            str(path),
            None,
            *((place.x(), place.y()) for place in ends),
            self.parameterAsEnumStrings(parameters, CHOSEN, context),
            hole=None if number in (None, "") else self.parameterAsInt(parameters, HOLE_KEY, context),
            parameters=given,
        )
        for remark in laid.remarks:
            feedback.pushInfo(remark)
        for caution in find("quantities").cautions + find("setbacks").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"LAID": laid.hole, "REMARKS": "\n".join(laid.remarks)}


def figures() -> list[tuple[str, str, Parameter]]:
    """Return form, name and declaration of each figure of a form."""
    return [(form, name, p) for form, recipe in FORMS.items() for name, p in recipe.parameters.items()]


def key_of(form: str, name: str) -> str:
    """Return the key of the parameter of a figure: ``FALSE_FRONT_DEPTH_M``."""
    return f"{form}_{name}".upper().replace("-", "_")


def unit_of(p: Parameter) -> str:
    """Return the unit of a figure as it stands behind its meaning."""
    return f" [{UNITS[p.unit][1]}]" if p.unit else ""


def crs_of(path: Path) -> QgsCoordinateReferenceSystem:
    """Return the CRS of the survey layers of a site, an invalid one where there is none.

    A layer of the project is asked where there is one: opening the file once more would take the locks from
    those that are open.
    """
    for layer in layers_of(path):
        if layer.crs().isValid():
            return layer.crs()
    for name in SURVEY_LAYERS:
        layer = QgsVectorLayer(f"{path}|layername={name}", name, "ogr")
        if layer.isValid():
            return layer.crs()
    return QgsCoordinateReferenceSystem()


FORM_ALGORITHMS = (NewSite, LayHole)
