"""Write drawings to scale: PDF with all sheets of a drawing, or a file for each sheet as SVG or PNG."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.backends.backend_pdf import PdfPages

from gistools.base.errors import InputError
from gistools.base.paper import CAUTION
from gistools.base.progress import tick
from gistools.handoff.record import vertical_note
from gistools.sheets.drawings import as_built, cross_sections, plans
from gistools.sheets.drawings.board import board
from gistools.sheets.drawings.greens import Made
from gistools.sheets.drawings.ground import Subject, draw_match_lines, unit_words
from gistools.sheets.drawings.paper import (
    PAPERS_MM,
    TITLE_MM,
    Box,
    LegendEntry,
    Sheet,
    TitleBlock,
    View,
    paper_for,
    windows,
)
from gistools.sheets.folder import folder_of, put_files, refuse_existing
from gistools.site.model import Site
from gistools.steps.catalogue import need

FORMATS = ("pdf", "svg", "png")
PNG_DPI = 200
LEGEND_MM = 125.0


@dataclass(frozen=True)
class Drawing:
    """A drawing that can be asked for: title, number, and for plans scale, extent and what is drawn."""

    title: str
    number: int
    scale: int = 0
    view: Callable[[Subject], View] | None = None
    draw: Callable[..., tuple[list[LegendEntry], list[str]]] | None = None


DRAWINGS = {
    "board": Drawing("Where to play", 1),
    "setting_out": Drawing("Setting-out plan", 2, 500, lambda s: s.view, plans.setting_out),
    "grading": Drawing("Grading plan", 3, 500, lambda s: s.view, plans.grading),
    "sections": Drawing("Cross-sections", 4, 500),
    "green": Drawing("Green detail", 5, 250, lambda s: s.green_view, plans.green),
}


def write_drawings(
    site: Site,
    *,
    to: str | Path | None = None,
    hole: int | None = None,
    drawings: Sequence[str] | None = None,
    scale: int | None = None,
    paper: str | None = None,
    formats: Sequence[str] = ("pdf",),
    units: str = "m",
    full: bool = False,
    replace: bool = False,
) -> list[Path]:
    """Draw the board, plans, cross-sections and green detail of a hole, or of all, to scale on paper.

    Parameters
    ----------
    site
        An open site; project, client, date and author of the title block are those of its table ``site``.
    to
        Folder for the drawings; by default ``<site>_drawings`` beside the site file.
    hole
        Only this hole; by default all.
    drawings
        Names among ``board``, ``setting_out``, ``grading``, ``sections`` and ``green``; by default all that
        the site has the data for.
    scale
        The plans and sections at ``1 : scale`` instead of 1:500, the green instead of 1:250. The board
        always fits A3 and states its scales.
    paper
        ``"A1"`` to ``"A4"``, landscape; by default the smallest that holds the plan. A plan that no paper
        holds goes on over several sheets with match lines.
    formats
        Any of ``"pdf"``, ``"svg"`` and ``"png"``.
    units
        Lengths and levels on the board: ``"m"``, or ``"yd"`` for yards and feet.
    full
        Also play the hole out (minutes) for the board, where the file does not hold that yet.
    replace
        Replace drawings that are already there.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    InputError
        If a drawing, paper, format or hole is not known, or the scale is not above 0.
    WriteError
        If a drawing is already there and ``replace`` is not given, or the folder cannot be written to.
    """
    names = _checked(drawings, scale, paper, formats)
    folder = folder_of(site, to, "drawings")
    holes = site.selected_holes(hole)
    if "pdf" in formats:  # before anything is drawn; numbers of sheets are not known yet
        pdfs = [f"hole_{number}_{name}.pdf" for number in holes for name in names]
        refuse_existing(folder, pdfs, replace)
    files: dict[str, bytes] = {}
    for k, number in enumerate(holes):
        subject = Subject.of(site, number)
        for n, name in enumerate(names):
            tick((k + n / len(names)) / len(holes), f"hole {number}: {DRAWINGS[name].title.lower()}")
            if name == "sections" and site.ground is None and drawings is None:
                continue
            made = _sheets(subject, name, scale, paper, units, full)
            sheets = [_finished(subject, DRAWINGS[name], *parts) for parts in made]
            for count, (sheet, block) in enumerate(sheets, 1):
                sheet.title(dataclasses.replace(block, sheet=f"{count} of {len(sheets)}"))
            stem = f"hole_{number}_{name}"
            for ending in formats:
                files |= _rendered(stem, [sheet for sheet, _ in sheets], ending)
    refuse_existing(folder, list(files), replace)
    return put_files(folder, files, list(files))


def write_as_built_report(
    site: Site, to: str | Path, *, hole: int | None = None, replace: bool = False, **options: Any
) -> Path:
    """Write what the step `as_built_check` finds as a PDF on A3 for the site manager.

    For each hole that has measured points: a plan to scale with the difference of every point, each
    feature's points within and outside its tolerance, and all points outside in level or in plan, the worst
    first.

    Parameters
    ----------
    site
        An open site; project, client, date and author of the title block are those of its table ``site``.
    to
        File to write, ``.pdf``.
    hole
        Only this hole; by default all.
    replace
        Replace a file that is already there.
    **options
        Those of the step: ``points`` (a file of measured points), ``order``, ``green_m`` and the other
        tolerances, ``stakes`` (the file handed out).

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        If there are no measured points, or the file is to be no PDF.
    WriteError
        If the file is already there and ``replace`` is not given, or it cannot be written.
    """
    to = Path(to)
    if to.suffix.lower() != ".pdf":
        raise InputError(f"the report is a PDF; {to.name} should end in .pdf")
    refuse_existing(to.parent, [to.name], replace)
    result = need(site, "as_built_check", hole=hole, **options)
    points = result["as_built_check"]
    if not len(points):
        raise InputError("there are no measured points: give a file of them, or fill the layer as_built")
    sheets = []
    for number in sorted(set(points["hole"])):
        subject = Subject.of(site, int(number))
        made = as_built.sheets(subject, *(table[table["hole"] == number] for table in result.values()))
        sheets += [_finished(subject, Drawing("As built against design", 6), *parts) for parts in made]
    for count, (sheet, block) in enumerate(sheets, 1):
        sheet.title(dataclasses.replace(block, sheet=f"{count} of {len(sheets)}"))
    return put_files(to.parent, _rendered(to.stem, [s for s, _ in sheets], "pdf"), [f"{to.stem}.pdf"])[0]


def _checked(
    drawings: Sequence[str] | None, scale: int | None, paper: str | None, formats: Sequence[str]
) -> list[str]:
    names = list(DRAWINGS if drawings is None else drawings)
    unknown = [n for n in names if n not in DRAWINGS]
    if unknown:
        raise InputError(f"there is no drawing {unknown[0]!r}; there are {', '.join(DRAWINGS)}")
    if paper is not None and paper not in PAPERS_MM:
        raise InputError(f"paper {paper!r} is not known; it can be {', '.join(PAPERS_MM)}")
    if scale is not None and scale <= 0:
        raise InputError(f"a scale of 1:{scale} cannot be drawn; give for example 500 for 1:500")
    wrong = [f for f in formats if f not in FORMATS]
    if wrong or not formats:
        raise InputError(f"drawings are written as {', '.join(FORMATS)}, not {', '.join(wrong) or 'nothing'}")
    return names


def _sheets(
    subject: Subject, name: str, scale: int | None, paper: str | None, units: str, full: bool
) -> Iterator[Made]:
    drawing = DRAWINGS[name]
    if name == "board":
        yield from board(subject, units, full=full)
    elif name == "sections":
        yield from _section_sheets(subject, scale or drawing.scale, paper)
    else:
        yield from _plan_sheets(subject, drawing, scale or drawing.scale, paper)


def _plan_sheets(subject: Subject, drawing: Drawing, scale: int, paper: str | None) -> Iterator[Made]:
    assert drawing.view is not None and drawing.draw is not None
    extent = drawing.view(subject)
    paper = paper or paper_for(extent, scale)
    parts = windows(extent, scale, paper)
    for number, view in enumerate(parts):
        sheet = Sheet(paper)
        axes = sheet.window(sheet.field, view, scale)
        entries, notes = drawing.draw(axes, subject, view, scale)
        draw_match_lines(axes, parts, number)
        axes.set(xlim=(view[0], view[2]), ylim=(view[3], view[1]))
        yield sheet, f"1:{scale} at {paper}", entries, notes


def _section_sheets(subject: Subject, scale: int, paper: str | None) -> Iterator[Made]:
    subject.site.surface()  # says what is missing where there is no terrain
    sections = cross_sections.cross_sections(subject.site, subject.hole)
    if not sections:
        raise InputError(f"hole {subject.hole}: the terrain does not reach the line of play; no sections")
    paper = paper or "A3"
    upright = scale // cross_sections.HEIGHTS_LARGER
    for sheet in cross_sections.draw_sections(sections, paper, scale, subject.files):
        words = f"distances 1:{scale}, heights 1:{upright} at {paper}"
        yield sheet, words, cross_sections.legend(), cross_sections.notes(sections, subject.files)


def _finished(
    subject: Subject,
    drawing: Drawing,
    sheet: Sheet,
    scale_words: str,
    entries: list[LegendEntry],
    notes: list[str],
) -> tuple[Sheet, TitleBlock]:
    """Fill the strip of a sheet but for the title block, which is to know the number of sheets."""
    about, frame = subject.site.title_block, subject.files
    names = [str(n) for n in subject.site.layer("greens", subject.hole)["name"] if isinstance(n, str) and n]
    heading = f"Hole {subject.hole}" + (f", {names[0]}" if names else "")
    code = f" (EPSG:{frame.epsg})" if frame.epsg else ""
    block = TitleBlock(
        project=about["project"],
        title=f"{heading}: {drawing.title}",
        number=f"{subject.hole:02d}-{drawing.number:02d}",
        client=about["client"],
        author=about["author"],
        date=about["date"] or dt.date.today().isoformat(),
        scale=scale_words,
        coordinates=f"{frame.crs.name}{code}, {unit_words(frame)}",
        levels=vertical_note(frame),
    )
    strip = sheet.strip
    rest = strip.width - min(TITLE_MM, 0.44 * strip.width)
    wide = min(LEGEND_MM, 0.55 * rest) if entries else 0.0
    sheet.notes(Box(strip.left, strip.bottom, rest - wide, strip.height), [*notes, CAUTION])
    if entries:
        left = strip.left + rest - wide
        to_scale = scale_words.startswith("1:")
        low = 9.0 if to_scale else 0.0
        key = Box(left, strip.bottom + low, wide, strip.height - low)
        sheet.legend(key, entries, columns=2 if len(entries) <= 12 else 3)
        if to_scale:
            scale = int(scale_words[2:].split()[0])
            sheet.scale_bar(left + 6, strip.bottom + 2, scale, frame.unit_m, frame.unit)
            sheet.north_arrow(left + wide - 12, strip.bottom + 8, subject.frame.north_on_page)
    return sheet, block


def _rendered(stem: str, sheets: list[Sheet], ending: str) -> dict[str, bytes]:
    with matplotlib.rc_context({"pdf.fonttype": 42, "svg.fonttype": "path", "svg.hashsalt": "gistools"}):
        if ending == "pdf":
            buffer = io.BytesIO()
            with PdfPages(buffer, metadata={"CreationDate": None}) as pages:
                for sheet in sheets:
                    sheet.figure.savefig(pages, format="pdf")
            return {f"{stem}.pdf": buffer.getvalue()}
        out = {}
        for k, sheet in enumerate(sheets, 1):
            buffer = io.BytesIO()
            options: dict[str, Any] = {"metadata": {"Date": None}} if ending == "svg" else {"dpi": PNG_DPI}
            sheet.figure.savefig(buffer, format=ending, **options)
            name = f"{stem}.{ending}" if len(sheets) == 1 else f"{stem}_sheet_{k}.{ending}"
            out[name] = buffer.getvalue()
        return out
