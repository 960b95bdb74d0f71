"""The sections of a hole as one picture to scale: along the line of play, and square to it."""

from __future__ import annotations

import io
from dataclasses import dataclass

import matplotlib
import numpy as np
import shapely
from matplotlib.axes import Axes

from gistools.base.grid import Floats
from gistools.base.paper import SCALES
from gistools.compute.layout.alignment import Alignment
from gistools.sheets.colours import INK, PIN, SOFT
from gistools.sheets.drawings.cross_sections import (
    GAP_MM,
    HEIGHTS_LARGER,
    LABELS_MM,
    CrossSection,
    cross_sections,
    draw_ground,
    draw_section,
    extended,
    height_of,
    legend,
)
from gistools.sheets.drawings.ground import Subject, unit_words, write
from gistools.sheets.drawings.paper import SMALL_PT, TEXT_PT, Box, LegendEntry, Picture
from gistools.sheets.profiles import crossed
from gistools.sheets.section_figures import OVER, UNNAMED
from gistools.steps.quantity_rows import both_grounds
from gistools.steps.setting_out_points import main_line

#: distance of the points of the section, and of the levels written under it [m] (assumptions)
SAMPLE_M, LEVELS_M = 0.5, 20.0
#: on paper [mm]: room for the words at the left, of the rows of levels, of a line of them, at the foot
LEFT_MM, ROWS_MM, ROW_MM, FOOT_MM = 22.0, 13.0, 4.0, 16.0
#: narrowest column of levels, and least distance of names [mm]
COLUMN_MM, NAME_MM = 9.0, 14.0


@dataclass(frozen=True, eq=False)
class LongSection:
    """The ground along a line of play [m], drawn on behind the green."""

    tee: str
    line: Alignment
    station_m: Floats
    existing_m: Floats
    proposed_m: Floats


def long_section(subject: Subject) -> LongSection | None:
    """Return the section along the longest line of play of a hole; None where there is no ground."""
    if subject.site.ground is None:
        return None
    tee, line = main_line(subject.site, subject.hole)
    line = extended(line)
    stations = np.append(np.arange(0.0, line.length, SAMPLE_M), line.length)
    xy = line.at(stations)
    grounds = both_grounds(subject.site, subject.site.hole_bounds(subject.hole), subject.hole)
    existing, proposed = (np.asarray(s.height(xy[:, 0], xy[:, 1])) for s in grounds)
    return LongSection(tee, line, stations, existing, proposed) if np.isfinite(existing).any() else None


def section_scale(length_m: float, width_mm: float) -> int:
    """Return the largest scale at which a section of a length fits a width of paper."""
    room = width_mm - LEFT_MM - 4.0
    return next((s for s in SCALES if 1000.0 * length_m / s <= room), SCALES[-1])


def section_picture(subject: Subject, width_mm: float, height_mm: float) -> tuple[int, bytes] | None:
    """Return the scale of distances and the SVG of the sections of a hole; None where there is no ground.

    Heights are drawn :data:`gistools.sheets.drawings.cross_sections.HEIGHTS_LARGER` times larger.
    """
    along = long_section(subject)
    if along is None:
        return None
    scale = section_scale(float(along.station_m[-1]), width_mm)
    sheet = Picture(width_mm, height_mm)
    top = _draw_along(sheet, subject, along, scale)
    across = cross_sections(subject.site, subject.hole)
    drawn = _draw_across(sheet, subject, across, scale, top) if across else 0
    words = (
        f"Distances 1:{scale}, heights 1:{scale // HEIGHTS_LARGER}; chainage, offset and level in"
        f" {unit_words(subject.files)}; square to the line of play {drawn} of {len(across)} stations,"
        " looking to the green"
    )
    sheet.write(2, FOOT_MM - 6, words, TEXT_PT)
    sheet.scale_bar(4, 2, scale, subject.files.unit_m, subject.files.unit)
    entries = [*legend(), LegendEntry("hole location", "^", PIN)]
    sheet.legend(Box(width_mm / 2, 0, width_mm / 2, FOOT_MM), entries, columns=3)
    with matplotlib.rc_context({"svg.fonttype": "path", "svg.hashsalt": "gistools"}):
        buffer = io.BytesIO()
        sheet.figure.savefig(buffer, format="svg", metadata={"Date": None})
    return scale, buffer.getvalue()


def _draw_along(sheet: Picture, subject: Subject, along: LongSection, scale: int) -> float:
    """Draw the section along the line of play with its levels, and return where it ends [mm]."""
    base, tall = height_of(along.existing_m, along.proposed_m, scale)
    wide = 1000.0 * float(along.station_m[-1]) / scale
    top = sheet.height - 12.0
    box = Box(LEFT_MM, top - tall - 8.0, wide, tall + 8.0)
    axes = sheet.panel(box)
    axes.set(
        xlim=(0.0, along.station_m[-1]), ylim=(base, base + box.height * scale / 1000.0 / HEIGHTS_LARGER)
    )
    draw_ground(axes, along.station_m, along.existing_m, along.proposed_m, base, subject.files)
    _mark_features(axes, subject, along, scale)
    axes.set_xticks([])
    heading = f"Along the line of play from the {along.tee} tee"
    sheet.write(2, sheet.height - 2, heading, TEXT_PT + 1.5, fontweight="bold")
    _levels(sheet, subject, along, scale, box)
    return box.bottom - ROWS_MM


def _mark_features(axes: Axes, subject: Subject, along: LongSection, scale: int) -> None:
    """Colour the ground of what the line crosses and name it; mark the hole locations."""
    line = shapely.LineString(along.line.points)
    named: list[float] = []
    s, z = along.station_m, along.proposed_m
    for part in crossed(subject.site, line):
        inside = (s >= part["a"]) & (s <= part["b"])
        axes.plot(s[inside], z[inside], color=OVER[part["layer"]], lw=2.4, solid_capstyle="butt", zorder=3)
        middle = (part["a"] + part["b"]) / 2
        apart = NAME_MM * scale / 1000.0
        level = float(np.interp(middle, s, z))
        if part["layer"] in UNNAMED or not np.isfinite(level) or any(abs(middle - v) < apart for v in named):
            continue
        named.append(middle)
        rise = 3.0 * scale / 1000.0 / HEIGHTS_LARGER
        beside = float(np.nanmax(z[np.abs(s - middle) <= apart / 2], initial=level))
        write(axes, middle, beside + rise, part["text"], size=SMALL_PT + 0.5)
    pins = subject.site.layer("pins", subject.hole).geometry
    if len(pins):
        at = along.line.locate(np.column_stack([pins.x, pins.y]))[0]
        axes.plot(at, np.interp(at, s, z), ls="none", marker="^", ms=3.0, color=PIN, zorder=6)


def _levels(sheet: Picture, subject: Subject, along: LongSection, scale: int, box: Box) -> None:
    """Write chainage, existing and proposed level under the section, a column every so often."""
    unit = subject.files.unit_m
    apart = next(k for k in range(1, 99) if 1000.0 * k * LEVELS_M * unit / scale >= COLUMN_MM)
    step = apart * LEVELS_M * unit
    at = np.arange(0.0, float(along.station_m[-1]) + 1e-6, step)
    rows = (
        ("chainage", at, 0),
        ("existing", np.interp(at, along.station_m, along.existing_m), 2),
        ("proposed", np.interp(at, along.station_m, along.proposed_m), 2),
    )
    for line, (words, values, digits) in enumerate(rows):
        y = box.bottom - 1.5 - line * ROW_MM
        sheet.write(2, y, words, SMALL_PT, color=SOFT)
        for station, value in zip(at, values, strict=True):
            text = f"{value / unit:.{digits}f}" if np.isfinite(value) else "-"
            sheet.write(box.left + 1000.0 * station / scale, y, text, SMALL_PT, ha="center")
    for station in at:
        x = box.left + 1000.0 * station / scale
        sheet.paper.plot([x, x], [box.bottom, box.bottom - 1.2], color=INK, lw=0.4)


def _draw_across(sheet: Picture, subject: Subject, across: list[CrossSection], scale: int, top: float) -> int:
    """Draw as many sections square to the line of play as there is room for and return how many."""
    wide = 1000.0 * float(np.ptp(across[0].offset_m)) / scale
    tall = max(height_of(s.existing_m, s.proposed_m, scale)[1] for s in across) + LABELS_MM
    a_row = max(int((sheet.width - 4.0) // (wide + LEFT_MM - 6.0)), 1)
    rows = int((top - FOOT_MM - 8.0) // (tall + GAP_MM))
    count = min(a_row * rows, len(across))
    if count < 1:
        return 0
    sheet.write(2, top - 3, "Square to the line of play", TEXT_PT + 1.5, fontweight="bold")
    chosen = [across[k] for k in np.unique(np.linspace(0, len(across) - 1, count).round().astype(int))]
    for k, section in enumerate(chosen):
        x = 16.0 + (k % a_row) * (wide + LEFT_MM - 6.0)
        y = top - 10.0 - (k // a_row) * (tall + GAP_MM)
        base, height = height_of(section.existing_m, section.proposed_m, scale)
        draw_section(sheet, section, Box(x, y - LABELS_MM - height, wide, height), base, scale, subject.files)
    return len(chosen)
