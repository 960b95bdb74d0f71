"""Algorithms of the desktop that ask what a design hangs on: search, sensitivity, turning points, tees."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import QgsProcessingOutputString, QgsProcessingParameterNumber, QgsProcessingParameterString

from gistools.desktop.algorithms import SiteAlgorithm, call
from gistools.steps.catalogue import HOLE, find


class DesignAlgorithm(SiteAlgorithm):
    """An algorithm that answers in sentences about one hole and writes nothing.

    ``words`` are parameters of text: option of the function to title and default; ``numbers`` are figures.
    """

    part = "Design"
    loads = False
    function = ""
    words: dict[str, tuple[str, str]] = {}  # noqa: RUF012
    numbers: tuple[tuple[str, str], ...] = ()

    def declare(self) -> None:
        """Add the hole, texts, figures, and the answer."""
        number = QgsProcessingParameterNumber
        self.addParameter(number("HOLE", "Hole", number.Integer, 1, False, HOLE.low, HOLE.high))
        for option, (title, default) in self.words.items():
            text = QgsProcessingParameterString(option.upper(), title, default, optional=not default)
            self.addParameter(text)
        for option, title in self.numbers:
            self.addParameter(number(option.upper(), title, number.Double))
        self.addOutput(QgsProcessingOutputString("ANSWER", "Answer"))

    def work(self, parameters: Any, context: Any, feedback: Any, path: Path) -> dict[str, Any]:
        """Ask the child, and tell the answer in the log."""
        options: dict[str, Any] = {"hole": self.parameterAsInt(parameters, "HOLE", context)}
        for option in self.words:
            options[option] = self.parameterAsString(parameters, option.upper(), context).strip()
        for option, _ in self.numbers:
            options[option] = self.parameterAsDouble(parameters, option.upper(), context)
        lines = self.answer(feedback, self.opened(parameters, context, feedback, path), options)
        for line in lines:
            feedback.pushInfo(line)
        for caution in find("positions").cautions:
            feedback.pushInfo(f"Caution: {caution}")
        return {"ANSWER": "\n".join(lines)}

    def answer(self, feedback: Any, site: Any, options: dict[str, Any]) -> list[str]:
        """Return the answer in lines."""
        table = call(self.function, feedback, site, **options)
        return [f"{reading[0].upper()}{reading[1:]}." for reading in table.column("reading")]


_WHO = {
    "tee": ("Tee; empty for the longest", ""),
    "player": ("Player", "scratch man"),
    "wind": ("Wind", "calm"),
}


class Search(DesignAlgorithm):
    """Search for the least change that makes a landing zone first."""

    key, title, function = "search", "Search for the least change that puts a zone first", "search_edits"
    text = (
        "Finds, within ranges, the change with the least earth moved that makes a landing zone first for a"
        " hole location, or says that none does and what comes nearest. Ranges are written as<br>"
        "Burdock: across -3..6; Spurge: factor 1..1.5<br>of along, across, east, north, rise [m], turn"
        " [degrees] and factor. Some thirty variants are played out, some four seconds each. Nothing is"
        " written."
    )
    words = {  # noqa: RUF012
        "edits": ("Features and their ranges, several parted by ;", "Burdock: across -3..6"),
        "first": ("Landing zone that should be first", "beyond right"),
        "pin": ("Hole location", "back right"),
        **_WHO,
        "short_player": ("Player whose costs are among the trade-offs", ""),
    }

    def answer(self, feedback: Any, site: Any, options: dict[str, Any]) -> list[str]:
        """Return the answer of the search in lines."""
        ranges = [text.strip() for text in options.pop("edits").split(";") if text.strip()]
        return repr(call(self.function, feedback, site, ranges, **options)).splitlines()


class Sensitivity(DesignAlgorithm):
    """Say what the lead of a landing zone hangs on."""

    key, title, function = "sensitivity", "What the lead of a landing zone hangs on", "sensitivity"
    text = (
        "Changes one thing at a time, both ways, and plays the hole out: firmness, green speed, what a blind"
        " flag costs, wind, length of the player, mounds, bunkers. Nothing is written."
    )
    words = {  # noqa: RUF012
        "pin": ("Hole location", "front right"),
        "zone": ("Landing zone that leads; empty for the first", ""),
        "other": ("The one it leads; empty for the second", ""),
        **_WHO,
    }


class TurningPoints(DesignAlgorithm):
    """Find where the order of landing zones turns with a setting."""

    key, title, function = "turning_points", "Where the order of zones turns with a setting", "turning_points"
    text = "Plays the hole out for values of a setting that is a number. Nothing is written."
    words = {"setting": ("Setting", "blind_dispersion_increase_pct"), **_WHO}  # noqa: RUF012
    numbers = (("low", "Least value tried"), ("high", "Greatest value tried"))


class ProposeTees(DesignAlgorithm):
    """Propose tees from which other players meet the same shot."""

    key, title, function = "propose_tees", "Propose tees for the same shot", "propose_tees"
    text = (
        "Says where tees should stand so that other players meet the same shot, by share of their drive."
        " Nothing is played out and nothing written."
    )
    words = {  # noqa: RUF012
        "like": ("Who meets the shot already", "scratch man"),
        "from_tee": ("From which tee; empty for the longest", ""),
    }


DESIGN_ALGORITHMS = (Search, Sensitivity, TurningPoints, ProposeTees)
