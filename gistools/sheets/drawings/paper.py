"""Paper to true scale: sizes, margins, title block, scale bar, and windows of the ground that fit.

Everything is placed in millimetres from the lower left corner of the paper. A window shows ground at
``1 : scale``, so that a metre is ``1000 / scale`` millimetres of paper.

Sources: trimmed sizes ISO 216:2007; margins of 20 and 10 mm ISO 5457:1999; title block of at most 180 mm in
the lower right corner ISO 7200:2004 (all from memory).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon as Patch
from matplotlib.patches import Rectangle

from gistools.base.errors import InputError
from gistools.base.paper import SCALES
from gistools.sheets.colours import INK, SOFT

MM_PER_INCH = 25.4
PT_PER_MM = 72 / MM_PER_INCH
#: landscape paper, width and height [mm], largest last
PAPERS_MM = {"A4": (297, 210), "A3": (420, 297), "A2": (594, 420), "A1": (841, 594)}
BINDING_MM, MARGIN_MM = 20.0, 10.0
STRIP_MM = 42.0
TITLE_MM = 180.0
#: ground that two sheets of one plan share [m], and the longest scale bar [mm] (assumptions)
OVERLAP_M = 10.0
LONGEST_BAR_MM = 90.0
TEXT_PT, SMALL_PT, TITLE_PT, HEAD_PT = 6.5, 5.0, 8.5, 10.0

#: west, top, east, bottom of a window in page metres: y runs down the page
View = tuple[float, float, float, float]


@dataclass(frozen=True)
class Box:
    """A rectangle of paper [mm from the lower left corner]."""

    left: float
    bottom: float
    width: float
    height: float


@dataclass(frozen=True)
class TitleBlock:
    """What the title block says."""

    project: str
    title: str
    number: str
    client: str = ""
    author: str = ""
    date: str = ""
    scale: str = ""
    coordinates: str = ""
    levels: str = ""
    sheet: str = "1 of 1"


@dataclass(frozen=True)
class LegendEntry:
    """A line of the legend: an area, a line or a mark, and its words."""

    text: str
    kind: str = "area"
    colour: Any = "none"
    edge: str = "none"
    dashes: Any = "-"


class Picture:
    """Paper of any size to draw on to scale.

    Parameters
    ----------
    width, height
        Size [mm].
    """

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = float(width), float(height)
        self.figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
        self.paper = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.paper.set(xlim=(0, self.width), ylim=(0, self.height))
        self.paper.set_axis_off()
        self.paper.set_zorder(5)  # its texts and bars stand over the ground drawn in windows

    def outline(self, box: Box, width_mm: float = 0.25) -> None:
        """Draw the outline of a rectangle."""
        self.paper.add_patch(
            Rectangle(
                (box.left, box.bottom), box.width, box.height, fill=False, ec=INK, lw=width_mm * PT_PER_MM
            )
        )

    def write(self, x: float, y: float, text: str, size: float = TEXT_PT, **more: Any) -> None:
        """Write text at a place on the paper [mm]."""
        options = {"fontsize": size, "color": INK, "va": "top", "parse_math": False}  # $ in a name is a $
        self.paper.text(x, y, text, **{**options, **more})

    def window(self, box: Box, view: View, scale: int) -> Axes:
        """Return axes in page metres over a rectangle of paper, the middle of a view in its middle."""
        across, down = box.width * scale / 1000.0, box.height * scale / 1000.0
        x, y = (view[0] + view[2]) / 2, (view[1] + view[3]) / 2
        axes = self.panel(box)
        axes.set(xlim=(x - across / 2, x + across / 2), ylim=(y + down / 2, y - down / 2))
        return axes

    def panel(self, box: Box) -> Axes:
        """Return empty axes over a rectangle of paper, with a thin frame."""
        place = (
            box.left / self.width,
            box.bottom / self.height,
            box.width / self.width,
            box.height / self.height,
        )
        axes = self.figure.add_axes(place)
        axes.set(xticks=[], yticks=[])
        for side in axes.spines.values():
            side.set(color=INK, linewidth=0.25 * PT_PER_MM)
        return axes

    def notes(self, box: Box, texts: Iterable[str], heading: str = "Notes") -> None:
        """Write notes, numbered, into a rectangle, smaller where they would not fit."""
        top = box.bottom + box.height
        self.write(box.left + 2, top - 1.8, heading, TEXT_PT, fontweight="bold")
        texts = [f"{k}. {text}" for k, text in enumerate(texts, 1)]
        for size in (8.0, 7.0, TEXT_PT, 6.0, 5.5, SMALL_PT, 4.5, 4.0, 3.5):
            letter, line = size * 0.54 / PT_PER_MM, size * 1.22 / PT_PER_MM
            lines = [part for text in texts for part in textwrap.wrap(text, int((box.width - 4) / letter))]
            if len(lines) * line <= box.height - 6:
                break
        self.write(box.left + 2, top - 5.4, "\n".join(lines), size, linespacing=1.2)

    def legend(self, box: Box, entries: Sequence[LegendEntry], *, columns: int = 2) -> None:
        """Draw the legend into a rectangle, column by column."""
        top = box.bottom + box.height
        self.write(box.left + 2, top - 1.8, "Legend", TEXT_PT, fontweight="bold")
        rows = max(-(-len(entries) // columns), 1)
        step = min(3.6, (box.height - 6) / rows)
        for number, entry in enumerate(entries):
            x = box.left + 2 + (number // rows) * (box.width / columns)
            y = top - 7.2 - (number % rows) * step
            if entry.kind == "area":
                patch = Rectangle(
                    (x, y - 0.9), 6, 1.8, fc=entry.colour, ec=entry.edge, lw=0.5, ls=entry.dashes
                )
                self.paper.add_patch(patch)
            elif entry.kind == "line":
                self.paper.plot([x, x + 6], [y, y], color=entry.edge, lw=0.9, ls=entry.dashes)
            else:
                self.paper.plot(
                    [x + 3], [y], marker=entry.kind, color=entry.colour, mec="white", mew=0.3, ms=4
                )
            self.write(x + 8, y, entry.text, 5.5, va="center")

    def scale_bar(self, left: float, bottom: float, scale: int, unit_m: float = 1.0, unit: str = "m") -> None:
        """Draw a scale bar of four parts with its lower left corner at a place [mm]."""
        lengths = [
            v for v in (2, 5, 10, 20, 50, 100, 200, 500) if v * unit_m * 1000 / scale <= LONGEST_BAR_MM
        ]
        length = lengths[-1] if lengths else 1
        part = length * unit_m * 1000 / scale / 4
        for k in range(4):
            colour = INK if k % 2 == 0 else "white"
            bar = Rectangle(
                (left + k * part, bottom), part, 1.4, fc=colour, ec=INK, lw=0.4, gid=f"scale-bar-{k}"
            )
            self.paper.add_patch(bar)
        for k in (0, 2, 4):
            words = f"{length * k / 4:g}" + (f" {unit}" if k == 4 else "")
            self.write(left + k * part, bottom + 2.0, words, SMALL_PT, va="bottom", ha="center")

    def north_arrow(self, x: float, y: float, towards: tuple[float, float], length: float = 9.0) -> None:
        """Draw an arrow to grid north about a place [mm]; ``towards`` is a unit vector, y down the page."""
        along = np.array([towards[0], -towards[1]])
        across = np.array([along[1], -along[0]])
        middle = np.array([x, y])
        tip, foot = middle + along * length / 2, middle - along * length / 2
        corners = [tip, foot + across * 1.8, foot + along * 1.8, foot - across * 1.8]
        self.paper.add_patch(Patch(corners[:3], fc=INK, ec=INK, lw=0.4))
        self.paper.add_patch(Patch([tip, foot + along * 1.8, corners[3]], fc="white", ec=INK, lw=0.4))
        at = tip + along * 2.2
        self.write(at[0], at[1], "N", TEXT_PT, va="center", ha="center", fontweight="bold")


class Sheet(Picture):
    """A sheet of landscape paper: frame, strip with notes, legend and title block, and a field to draw in.

    Parameters
    ----------
    paper
        ``"A1"`` to ``"A4"``.
    """

    def __init__(self, paper: str) -> None:
        super().__init__(*PAPERS_MM[paper])
        inner = Box(BINDING_MM, MARGIN_MM, self.width - BINDING_MM - MARGIN_MM, self.height - 2 * MARGIN_MM)
        self.outline(inner, 0.7)
        self.strip = Box(inner.left, inner.bottom, inner.width, STRIP_MM)
        self.field = Box(inner.left, inner.bottom + STRIP_MM, inner.width, inner.height - STRIP_MM)
        self.outline(self.strip, 0.35)

    def title(self, block: TitleBlock) -> Box:
        """Draw the title block at the right end of the strip and return the rest of the strip."""
        width = min(TITLE_MM, 0.44 * self.strip.width)
        left = self.strip.left + self.strip.width - width
        top = self.strip.bottom + self.strip.height
        self.outline(Box(left, self.strip.bottom, width, self.strip.height), 0.35)
        for text, down, size, more in (
            (block.project, 2, HEAD_PT, {"fontweight": "bold"}),
            (block.title, 8, TITLE_PT, {}),
        ):
            letters = int((width - 4) / (0.7 * size / PT_PER_MM))
            self.write(
                left + 2, top - down, textwrap.shorten(text, letters, placeholder=" ..."), size, **more
            )
        rows = (
            (("Client", block.client), ("Drawn by", block.author), ("Date", block.date)),
            (("Drawing", block.number), ("Scale", block.scale), ("Sheet", block.sheet)),
            (("Coordinates", block.coordinates), ("Levels", block.levels)),
        )
        for line, cells in enumerate(rows):
            y = top - 15 - 9 * line
            self.paper.plot([left, left + width], [y, y], color=INK, lw=0.18 * PT_PER_MM)
            for column, (label, text) in enumerate(cells):
                x = left + column * width / len(cells)
                if column:
                    self.paper.plot([x, x], [y, y - 9], color=INK, lw=0.18 * PT_PER_MM)
                letters = int(width / len(cells) / 1.25)
                self.write(x + 2, y - 1, label, SMALL_PT, color=SOFT)
                lines = textwrap.wrap(text, letters) or ["-"]
                size = TEXT_PT if len(lines) == 1 else SMALL_PT
                self.write(x + 2, y - 3.4, "\n".join(lines[:2]), size, linespacing=1.05)
        return Box(self.strip.left, self.strip.bottom, self.strip.width - width, self.strip.height)


def field_of(paper: str) -> tuple[float, float]:
    """Return width and height of the field of a paper to draw in [mm]."""
    width, height = PAPERS_MM[paper]
    return width - BINDING_MM - MARGIN_MM, height - 2 * MARGIN_MM - STRIP_MM


def paper_for(view: View, scale: int) -> str:
    """Return the smallest paper whose field holds a view at a scale; A1 where none does."""
    wide, tall = ((view[k + 2] - view[k]) * 1000.0 / scale for k in (0, 1))
    fitting = [p for p in PAPERS_MM if field_of(p)[0] >= wide and field_of(p)[1] >= tall]
    return fitting[0] if fitting else "A1"


def scale_for(view: View, box: Box) -> int:
    """Return the largest scale at which a view fits a rectangle of paper.

    Raises
    ------
    InputError
        If it fits at none.
    """
    wide, tall = view[2] - view[0], view[3] - view[1]
    for scale in SCALES:
        if wide <= box.width * scale / 1000 and tall <= box.height * scale / 1000:
            return scale
    raise InputError(f"a hole of {wide:.0f} by {tall:.0f} m fits no sheet at 1:{SCALES[-1]}")


def windows(view: View, scale: int, paper: str) -> list[View]:
    """Part a view into windows that fit the field of a paper at a scale, left to right, top to bottom.

    Neighbours share :data:`OVERLAP_M` of ground at the least.
    """
    spans = []
    for k, field in enumerate(field_of(paper)):
        low, high, room = view[k], view[k + 2], field * scale / 1000.0
        count = 1 if high - low <= room else int(np.ceil((high - low - OVERLAP_M) / (room - OVERLAP_M)))
        middles = [(low + high) / 2] if count == 1 else np.linspace(low + room / 2, high - room / 2, count)
        spans.append([(float(m - room / 2), float(m + room / 2)) for m in middles])
    return [(x0, y0, x1, y1) for y0, y1 in spans[1] for x0, x1 in spans[0]]
