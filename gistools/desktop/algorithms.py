"""Processing algorithms of the desktop made from the declarations of the steps.

An algorithm runs in the desktop's main thread, which keeps drawing meanwhile; the work is done in the child
process of :mod:`gistools.desktop.remote`. Results are written into the site file and shown with their
styles.
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Callable
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingOutputFile,
    QgsProcessingOutputVectorLayer,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from gistools.base.errors import Cancelled, GistoolsError
from gistools.base.settings import parse_assignments
from gistools.base.units import UNITS
from gistools.desktop import remote
from gistools.desktop.show import show
from gistools.steps.catalogue import HOLE, Choice, Option, Step

SITE, SETTINGS, LOAD = "SITE", "SETTINGS", "LOAD"
#: letters of a title that the dialog shows without scrolling
LONGEST_TITLE = 75
#: what the setting of the desktop calls a run that may not leave the main thread
IN_MAIN_THREAD = QgsProcessingAlgorithm.FlagNoThreading


class SiteAlgorithm(QgsProcessingAlgorithm):
    """An algorithm on a site file. Subclasses name it, add parameters, and do the work in :meth:`work`."""

    key = ""
    title = ""
    part = "Site"
    text = ""
    loads = True

    def name(self) -> str:
        """Return the name used in scripts and models."""
        return self.key

    def displayName(self) -> str:  # names of the desktop from here on
        """Return the title in the toolbox."""
        return self.title

    def group(self) -> str:
        """Return the part of the toolbox."""
        return self.part

    def groupId(self) -> str:
        """Return the key of that part."""
        return self.part.lower().replace(" ", "_")

    def shortHelpString(self) -> str:
        """Return the text beside the dialog."""
        return self.text

    def createInstance(self) -> SiteAlgorithm:
        """Return a fresh copy, which the desktop runs."""
        return type(self)()

    def flags(self) -> Any:
        """Keep the run in the main thread, where layers of the project may be looked at."""
        return super().flags() | IN_MAIN_THREAD

    def initAlgorithm(self, _configuration: Any = None) -> None:
        """Declare parameters and outputs."""
        self.addParameter(QgsProcessingParameterFile(SITE, "Site (GeoPackage)", extension="gpkg"))
        self.declare()
        if self.loads:
            self.addParameter(QgsProcessingParameterBoolean(LOAD, "Show the results in the project", True))
        settings = QgsProcessingParameterString(
            SETTINGS, "Settings for this run: name=value, several parted by ;", "", optional=True
        )
        self.addParameter(advanced(settings))
        self.addOutput(QgsProcessingOutputFile(SITE, "Site with the results"))

    def declare(self) -> None:
        """Add parameters and outputs of its own."""

    def processAlgorithm(self, parameters: Any, context: Any, feedback: Any) -> dict[str, Any]:
        """Do the work in the child process; a fault is told in the words of the toolkit."""
        path = Path(self.parameterAsFile(parameters, SITE, context)).resolve()
        try:
            outputs = self.work(parameters, context, feedback, path)
        except Cancelled:
            feedback.pushInfo("Stopped; the site file is as it was.")
            raise QgsProcessingException("stopped by the user; the site file is as it was") from None
        except GistoolsError as fault:
            raise QgsProcessingException(str(fault)) from None
        if self.loads and self.parameterAsBool(parameters, LOAD, context):
            show_results(path, feedback)
        return {SITE: str(path), **outputs}

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Do the work and return the outputs beside the site."""
        raise NotImplementedError

    def opened(self, parameters: Any, context: Any, feedback: Any, path: Path) -> Any:
        """Return the open site of the child, with the settings of this run."""
        texts = self.parameterAsString(parameters, SETTINGS, context)
        settings = parse_assignments(tuple(t.strip() for t in texts.split(";") if t.strip()))
        return call("open_site", feedback, str(path), settings=settings or None)


class StepAlgorithm(SiteAlgorithm):
    """A step: its options are parameters, its layers outputs."""

    def __init__(self, spec: Step) -> None:
        super().__init__()
        self.spec = spec
        self.key, self.title, self.part = spec.name, spec.summary, spec.group

    def createInstance(self) -> SiteAlgorithm:
        """Return a fresh copy, which the desktop runs."""
        return StepAlgorithm(self.spec)

    def shortHelpString(self) -> str:
        """Return what the step says of itself: meaning, sources and cautions."""
        spec = self.spec
        parts = [spec.doc.split("\n\n")[0]]
        parts += [f"Reads: {', '.join(r.layer for r in spec.reads)}."]
        parts += [f"Sources: {'; '.join(spec.sources)}."] if spec.sources else []
        parts += [f"Caution: {c}" for c in spec.cautions]
        return "<br><br>".join(text.replace("`", "") for text in parts)

    def declare(self) -> None:
        """Add a parameter for each option and an output for each layer."""
        for choice in self.spec.choices:
            parameter = parameter_of(choice)
            parameter.setHelp(choice.option.text)
            self.addParameter(parameter)
        for writes in self.spec.writes:
            if writes.geometry != "raster":
                self.addOutput(
                    QgsProcessingOutputVectorLayer(writes.layer.upper(), writes.text or writes.layer)
                )

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Run the step in the child and have it written into the site."""
        options = {c.name: value_of(self, c, parameters, context) for c in self.spec.choices}
        given = {k: v for k, v in options.items() if v is not None}
        site = self.opened(parameters, context, feedback, path)
        result = call(self.spec.name, feedback, site, **given)
        call("write", feedback, result, on=site)
        for caution in self.spec.cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {
            w.layer.upper(): f"{path}|layername={w.table}" for w in self.spec.writes if w.geometry != "raster"
        }


def call(name: str, feedback: Any, *args: Any, on: Any = None, **options: Any) -> Any:
    """Call a function of the toolkit in the child.

    Progress goes to the desktop, whose stop button ends the call.

    Raises
    ------
    GistoolsError
        What the function raised, :class:`Cancelled` where the user stopped it.
    """
    return remote.call(name, *args, on=on, progress=listener(feedback), **options)


def listener(feedback: Any) -> Callable[[float, str], None]:
    """Return a listener of progress that passes it on to the desktop and stops when its button is pressed."""
    last = ""

    def listen(share: float, text: str) -> None:
        nonlocal last
        feedback.setProgress(100 * share)
        if text and text != last:
            last = text
            feedback.setProgressText(text)
        if feedback.isCanceled():
            raise Cancelled("stopped by the user; the site file is as it was")

    return listen


def show_results(path: Path, feedback: Any) -> None:
    """Add the result layers to the open project; that there are none is no fault of a run."""
    try:
        names = show(path)
    except GistoolsError as fault:
        feedback.pushInfo(str(fault))
        return
    if names:
        feedback.pushInfo(f"Layers added: {', '.join(names)}")


def advanced(parameter: Any) -> Any:
    """Mark a parameter as one that the dialog shows folded."""
    parameter.setFlags(parameter.flags() | QgsProcessingParameterDefinition.FlagAdvanced)
    return parameter


def parameter_of(choice: Choice) -> Any:
    """Return the parameter of an option: unit in its title, bounds, choices and default as declared."""
    option, key = choice.option, choice.name.upper()
    kinds = kinds_of(choice)
    optional = type(None) in kinds
    title = title_of(option)
    if option.file:
        return QgsProcessingParameterFile(key, title, optional=optional or not choice.default)
    if option.choices:
        several = tuple in kinds
        return QgsProcessingParameterEnum(
            key, title, list(option.choices), several, choice.default, optional, usesStaticStrings=True
        )
    if bool in kinds:
        return QgsProcessingParameterBoolean(key, title, choice.default, optional)
    if int in kinds or float in kinds:
        whole = float not in kinds
        kind = QgsProcessingParameterNumber.Integer if whole else QgsProcessingParameterNumber.Double
        bounds = [b if b is not None else d for b, d in ((option.low, -1e9), (option.high, 1e9))]
        parameter = QgsProcessingParameterNumber(key, title, kind, choice.default, optional, *bounds)
        return parameter if option is HOLE else advanced(parameter)
    if tuple in kinds:
        return QgsProcessingParameterString(key, f"{title}; several parted by ;", "", optional=True)
    return QgsProcessingParameterString(key, title, choice.default, optional=optional or choice.default == "")


def title_of(option: Option) -> str:
    """Return the title of an option: its text, of a long one the start, and its unit.

    The dialog breaks no line; the whole text is shown where the pointer rests.
    """
    unit = UNITS[option.unit][1]
    text = option.text
    if len(text) > LONGEST_TITLE:
        text = re.split(r"[;:(]", text)[0].strip()
    text = text[:1].upper() + text[1:]
    return f"{text} [{unit}]" if unit else text


def kinds_of(choice: Choice) -> set[Any]:
    """Return the plain types an option may have."""
    hints = typing.get_args(choice.type) if isinstance(choice.type, types.UnionType) else (choice.type,)
    return {typing.get_origin(hint) or hint for hint in hints}


def value_of(algorithm: Any, choice: Choice, parameters: Any, context: Any) -> Any:
    """Return the value given for an option, None where none was given."""
    key, kinds = choice.name.upper(), kinds_of(choice)
    if parameters.get(key) in (None, "", []):
        return None
    if choice.option.choices:
        chosen = algorithm.parameterAsEnumStrings(parameters, key, context)
        return (tuple(chosen) or None) if tuple in kinds else (chosen[0] if chosen else None)
    if bool in kinds:
        return algorithm.parameterAsBool(parameters, key, context)
    if float in kinds:
        return algorithm.parameterAsDouble(parameters, key, context)
    if int in kinds:
        return algorithm.parameterAsInt(parameters, key, context)
    text = algorithm.parameterAsString(parameters, key, context)
    return tuple(t.strip() for t in text.split(";") if t.strip()) if tuple in kinds else text
