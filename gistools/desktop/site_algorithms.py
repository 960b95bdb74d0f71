"""Algorithms of the desktop on a whole site.

Sample, check, study, compare, pages, hand-off; and the libraries once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsProcessingException,
    QgsProcessingOutputFile,
    QgsProcessingOutputFolder,
    QgsProcessingOutputNumber,
    QgsProcessingOutputString,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterFile,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from gistools.base.errors import GistoolsError
from gistools.desktop import environment
from gistools.desktop.algorithms import SITE, SiteAlgorithm, advanced, call, listener, show_results
from gistools.steps.catalogue import HOLE, find


def hole_parameter() -> Any:
    """Return the parameter of the hole, empty for all."""
    kind = QgsProcessingParameterNumber.Integer
    return QgsProcessingParameterNumber("HOLE", "Hole; empty for all", kind, None, True, HOLE.low, HOLE.high)


class Libraries(SiteAlgorithm):
    """Make the environment that the steps run in."""

    key, title, part = "install_libraries", "Install the libraries (once)", "Set up"
    loads = False
    text = (
        "Makes a Python environment of its own in your user folder and installs the libraries the"
        " steps run on:"
        " ready-made packages, no compiler, no administrator. The desktop's own Python is not changed."
        "<br><br>Needs Python 3.11 to 3.13 on this machine (the desktop's own will do) and a package"
        " registry."
    )

    def initAlgorithm(self, _configuration: Any = None) -> None:
        """Declare that there is nothing to choose."""
        self.addOutput(QgsProcessingOutputString("PYTHON", "Interpreter of the environment"))

    def processAlgorithm(self, _parameters: Any, _context: Any, feedback: Any) -> dict[str, Any]:
        """Make the environment."""
        try:
            python = environment.make(listener(feedback))
        except GistoolsError as fault:
            raise QgsProcessingException(str(fault)) from None
        feedback.pushInfo(f"Ready: {python}")
        return {"PYTHON": str(python)}


class Sample(SiteAlgorithm):
    """Write the sample site."""

    key, title, part = "write_sample", "Write the sample site", "Set up"
    text = "Writes Merrowby Links, an invented site of three holes with terrain, to try everything on."

    def initAlgorithm(self, _configuration: Any = None) -> None:
        """Declare the file."""
        kind = "GeoPackage (*.gpkg)"
        self.addParameter(QgsProcessingParameterFileDestination(SITE, "File to write", kind))
        self.addOutput(QgsProcessingOutputFile(SITE, "Site"))

    def processAlgorithm(self, parameters: Any, context: Any, feedback: Any) -> dict[str, Any]:
        """Write the file."""
        path = self.parameterAsFileOutput(parameters, SITE, context)
        try:
            call("write_sample", feedback, path, replace=False)
        except GistoolsError as fault:
            raise QgsProcessingException(str(fault)) from None
        return {SITE: path}


class Check(SiteAlgorithm):
    """Check the survey of a site."""

    key, title = "check", "Check the survey"
    text = (
        "Says what is wrong with the survey layers and the terrain, layer by layer, and what to do about it."
    )
    loads = False

    def declare(self) -> None:
        """Add the answer."""
        self.addOutput(QgsProcessingOutputNumber("ERRORS", "Errors found"))

    def work(self, _parameters: Any, _context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Check, and tell each finding in the log."""
        findings = call("check", feedback, str(path))
        for finding in findings:
            tell = feedback.reportError if finding.level == "error" else feedback.pushInfo
            tell(str(finding))
        return {"ERRORS": sum(f.level == "error" for f in findings)}


class Study(SiteAlgorithm):
    """Run every step that applies."""

    key, title = "study", "Study a site: all steps"
    text = (
        "Runs every step that has something to work on, in order, writes the result layers into the"
        " site file, all or"
        " none, and tells a summary."
    )

    def declare(self) -> None:
        """Add hole, players, winds and the quick way."""
        self.addParameter(hole_parameter())
        for key, title in (("PLAYERS", "Players by name"), ("WINDS", "Winds by name")):
            text = f"{title}, several parted by ;"
            self.addParameter(advanced(QgsProcessingParameterString(key, text, "", optional=True)))
        quick = "Quick: leave out the steps that play whole holes out"
        self.addParameter(QgsProcessingParameterBoolean("QUICK", quick, False))
        proposed = "Study the proposed ground (layer shapes)"
        self.addParameter(advanced(QgsProcessingParameterBoolean("PROPOSED", proposed, False)))
        self.addOutput(QgsProcessingOutputString("SUMMARY", "Summary"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Study in the child."""
        site = self.opened(parameters, context, feedback, path)
        study = call(
            "study",
            feedback,
            site,
            hole=hole_of(self, parameters, context),
            players=names_of(self, parameters, "PLAYERS", context),
            winds=names_of(self, parameters, "WINDS", context),
            quick=self.parameterAsBool(parameters, "QUICK", context),
            proposed=self.parameterAsBool(parameters, "PROPOSED", context),
        )
        summary = repr(study)
        for line in summary.splitlines():
            feedback.pushInfo(line)
        return {"SUMMARY": summary}


class Compare(SiteAlgorithm):
    """Compare a site with an edited or the proposed one."""

    key, title = "compare", "Compare before and after"
    text = (
        "Says what a list of edits, or without one the proposed ground (layer shapes), does to the"
        " site: volumes,"
        " slopes, flag views, carries, and the ranking of the positions. Nothing is written into the site."
    )
    loads = False

    def declare(self) -> None:
        """Add hole, list of edits and whether holes are played out."""
        self.addParameter(hole_parameter())
        edits = "List of edits (TOML); empty for the proposed ground"
        self.addParameter(QgsProcessingParameterFile("EDITS", edits, extension="toml", optional=True))
        play = "Also play the holes out and rank the positions (minutes)"
        self.addParameter(QgsProcessingParameterBoolean("PLAY", play, False))
        self.addOutput(QgsProcessingOutputString("CHANGES", "What changes"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Compare in the child."""
        before = self.opened(parameters, context, feedback, path)
        edits = self.parameterAsFile(parameters, "EDITS", context)
        after = (
            call("edit_site", feedback, before, edits) if edits else call("proposed_site", feedback, before)
        )
        play = self.parameterAsBool(parameters, "PLAY", context)
        changes = call("compare", feedback, before, after, hole=hole_of(self, parameters, context), play=play)
        text = repr(changes)
        for line in text.splitlines():
            feedback.pushInfo(line)
        for caution in find("quantities").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"CHANGES": text}


class Pages(SiteAlgorithm):
    """Write the page of each hole."""

    key, title, part = "pages", "Write the pages of the holes", "Hand over"
    text = "Writes a page for each hole and one for the site: plan, sections, ranks, checks, cautions."
    loads = False

    def declare(self) -> None:
        """Add hole and folder."""
        self.addParameter(hole_parameter())
        self.addParameter(QgsProcessingParameterFolderDestination("FOLDER", "Folder for the pages"))
        full = "Play whole holes out where the file does not hold that yet (minutes)"
        self.addParameter(QgsProcessingParameterBoolean("FULL", full, False))
        self.addParameter(QgsProcessingParameterBoolean("REPLACE", "Replace pages that are there", False))
        self.addOutput(QgsProcessingOutputFolder("FOLDER", "Folder of the pages"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Write the pages in the child."""
        folder = self.parameterAsString(parameters, "FOLDER", context)
        site = self.opened(parameters, context, feedback, path)
        written = call(
            "write_sheets",
            feedback,
            site,
            hole=hole_of(self, parameters, context),
            to=folder,
            full=self.parameterAsBool(parameters, "FULL", context),
            replace=self.parameterAsBool(parameters, "REPLACE", context),
        )
        for page in written:
            feedback.pushInfo(str(page))
        return {"FOLDER": folder}


class Project(SiteAlgorithm):
    """Make a project of the site: layers, themes and print layouts."""

    key, title, part = "project", "Make a project with themes and print layouts", "Hand over"
    text = (
        "Adds the layers of the site to the open project where they are missing, stores map themes (client,"
        " strategy, safety, construction), and makes print layouts on A3: plan, green and section of each"
        " hole, and the site. With a file the project is saved as that file."
    )
    loads = False

    def declare(self) -> None:
        """Add the project file."""
        kind = "Project (*.qgz)"
        title = "Project file to write"
        file = QgsProcessingParameterFileDestination("PROJECT", title, kind, None, True, False)
        self.addParameter(file)
        self.addOutput(QgsProcessingOutputString("LAYOUTS", "Print layouts made"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Make them in the open project."""
        from qgis.core import QgsProject

        from gistools.desktop.layouts import lay_out

        show_results(path, feedback)
        themes, layouts = lay_out(path)
        feedback.pushInfo(f"Themes: {', '.join(themes) or 'none'}. Layouts: {', '.join(layouts)}")
        target = self.parameterAsString(parameters, "PROJECT", context)
        if target:
            project = QgsProject.instance()
            if Path(target).exists():
                raise QgsProcessingException(f"{target} is there already; name another file")
            if not project.write(target):
                raise QgsProcessingException(f"{target} cannot be written: {project.error()}")
            feedback.pushInfo(f"Project written: {target}")
        return {"LAYOUTS": ", ".join(layouts)}


class Drawings(SiteAlgorithm):
    """Draw the holes to scale on paper."""

    key, title, part = "drawings", "Draw the holes to scale", "Hand over"
    text = (
        "Draws board, setting-out plan, grading plan, cross-sections and green detail as PDF at 1:500 and"
        " 1:250. Stake from the coordinates of the hand-off, never by scaling a drawing."
    )
    loads = False

    def declare(self) -> None:
        """Add hole and folder."""
        self.addParameter(hole_parameter())
        self.addParameter(QgsProcessingParameterFolderDestination("FOLDER", "Folder for the drawings"))
        self.addParameter(QgsProcessingParameterBoolean("REPLACE", "Replace drawings that are there", False))
        self.addOutput(QgsProcessingOutputFolder("FOLDER", "Folder of the drawings"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Write the drawings in the child."""
        folder = self.parameterAsString(parameters, "FOLDER", context)
        site = self.opened(parameters, context, feedback, path)
        hole, replace = (
            hole_of(self, parameters, context),
            self.parameterAsBool(parameters, "REPLACE", context),
        )
        for drawing in call("write_drawings", feedback, site, to=folder, hole=hole, replace=replace):
            feedback.pushInfo(str(drawing))
        for caution in find("setting_out").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"FOLDER": folder}


class HandOff(SiteAlgorithm):
    """Write the files of the survey and construction team."""

    key, title, part = "hand_off", "Write the hand-off for the crew", "Hand over"
    text = (
        "Writes points to stake, staking lists, drawing, surfaces and quantities into a new folder."
        " Setting-out is checked against control on site before anything is built."
    )
    loads = False

    def declare(self) -> None:
        """Add hole and folder."""
        self.addParameter(hole_parameter())
        self.addParameter(QgsProcessingParameterFolderDestination("FOLDER", "Folder to make"))
        self.addParameter(QgsProcessingParameterBoolean("REPLACE", "Replace a folder that is there", False))
        self.addOutput(QgsProcessingOutputFolder("FOLDER", "Folder of the hand-off"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Write the hand-off in the child."""
        folder = self.parameterAsString(parameters, "FOLDER", context)
        site = self.opened(parameters, context, feedback, path)
        replace = self.parameterAsBool(parameters, "REPLACE", context)
        call("hand_off", feedback, site, folder, hole=hole_of(self, parameters, context), replace=replace)
        for caution in find("setting_out").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"FOLDER": folder}


class AsBuiltReport(SiteAlgorithm):
    """Write the report of what was built."""

    key, title, part = "as_built_report", "Report what was built against the design", "Hand over"
    text = (
        "Compares measured levels with the proposed ground, and staked points with their place, and writes"
        " a PDF on A3: plan of differences, features within and outside tolerance, points outside, the worst"
        " first. The points are a file (CSV, LandXML, GeoPackage) or, without one, the layer as_built. Where"
        " stakes were handed out with other spacings than the default, name that file too."
    )
    loads = False

    def declare(self) -> None:
        """Add hole, file of points and report."""
        self.addParameter(hole_parameter())
        self.addParameter(QgsProcessingParameterFile("POINTS", "Measured points", optional=True))
        stakes = QgsProcessingParameterFile("STAKES", "Points handed out (CSV, LandXML)", optional=True)
        self.addParameter(advanced(stakes))
        pdf = QgsProcessingParameterFileDestination("REPORT", "Report", "PDF (*.pdf)")
        self.addParameter(pdf)
        self.addParameter(QgsProcessingParameterBoolean("REPLACE", "Replace a report that is there", False))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Write the report in the child."""
        report = self.parameterAsFileOutput(parameters, "REPORT", context)
        site = self.opened(parameters, context, feedback, path)
        options = {
            "hole": hole_of(self, parameters, context),
            "points": self.parameterAsFile(parameters, "POINTS", context),
            "stakes": self.parameterAsFile(parameters, "STAKES", context),
            "replace": self.parameterAsBool(parameters, "REPLACE", context),
        }
        call("write_as_built_report", feedback, site, report, **options)
        for caution in find("as_built_check").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"REPORT": report}


def hole_of(algorithm: Any, parameters: Any, context: Any) -> int | None:
    """Return the hole chosen, None for all."""
    if parameters.get("HOLE") in (None, ""):
        return None
    return int(algorithm.parameterAsInt(parameters, "HOLE", context))


def names_of(algorithm: Any, parameters: Any, key: str, context: Any) -> list[str] | None:
    """Return names given in one text, None for none."""
    names = algorithm.parameterAsString(parameters, key, context).split(";")
    return [name.strip() for name in names if name.strip()] or None


SITE_ALGORITHMS = (
    Libraries,
    Sample,
    Check,
    Study,
    Compare,
    Pages,
    Project,
    Drawings,
    HandOff,
    AsBuiltReport,
)
