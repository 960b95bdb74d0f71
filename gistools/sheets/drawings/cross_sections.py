"""Cross-sections square to the line of play: existing and proposed ground, cut and fill, at a true scale."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from gistools.base.grid import Floats
from gistools.compute.layout.alignment import Alignment
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.handoff.frame import Frame as FileFrame
from gistools.sheets.colours import INK, SOFT
from gistools.sheets.drawings.ground import PROPOSED, unit_words
from gistools.sheets.drawings.paper import SMALL_PT, Box, LegendEntry, Picture, Sheet
from gistools.sheets.drawings.plans import CUT, FILL
from gistools.site.model import Site
from gistools.steps.quantity_rows import both_grounds
from gistools.steps.setting_out_points import main_line

#: distance of sections (common practice, no source) and of the points of one (assumption) [m]
STEP_M, SAMPLE_M = 10.0, 0.25
#: widths to a side [m] (assumptions): the most, that of a hole without shaping, and beyond shaped ground
MOST_M, WHOLE_M, BEYOND_M = 60.0, 40.0, 5.0
#: length of the line of play behind the middle of the green [m]
BEHIND_M = 30.0
#: how much larger heights are drawn than distances
HEIGHTS_LARGER = 5
GAP_MM, LABELS_MM = 9.0, 9.0


@dataclass(frozen=True, eq=False)
class CrossSection:
    """The ground square to the line of play at a chainage [m]; offsets are positive to the right."""

    chainage_m: float
    offset_m: Floats
    existing_m: Floats
    proposed_m: Floats

    @property
    def cut_fill_m2(self) -> tuple[float, float]:
        """Areas of cut and of fill [m2], by the trapezoidal rule."""
        change = np.nan_to_num(self.proposed_m - self.existing_m)
        areas = [
            float(np.trapezoid(np.clip(sign * change, 0.0, None), self.offset_m)) for sign in (-1.0, 1.0)
        ]
        return areas[0], areas[1]


def cross_sections(site: Site, hole: int) -> list[CrossSection]:
    """Return the cross-sections of a hole every :data:`STEP_M` along its longest line of play.

    Where something is shaped, only the stations that meet it, with one before and one behind.
    """
    line = extended(main_line(site, hole)[1])
    before, after = both_grounds(site, site.hole_bounds(hole, MOST_M), hole)
    stations = np.arange(0.0, line.length + 1e-6, STEP_M)
    offset = np.arange(-MOST_M, MOST_M + 1e-6, SAMPLE_M)
    places = line.at(stations)[:, None, :] + line.right(stations)[:, None, :] * offset[None, :, None]
    existing, proposed = (np.asarray(s.height(places[..., 0], places[..., 1])) for s in (before, after))
    changed = np.abs(np.nan_to_num(proposed - existing)) > TOUCHED_M
    meets = changed.any(axis=1)
    left = right = WHOLE_M
    if meets.any():
        touched = offset[changed.any(axis=0)]
        left, right = (max(float(far) + BEYOND_M, BEYOND_M) for far in (-touched.min(), touched.max()))
        beside = meets.copy()
        beside[1:] |= meets[:-1]
        beside[:-1] |= meets[1:]
        meets = beside
    else:
        meets = np.isfinite(existing).any(axis=1)
    left, right = (min(5.0 * np.ceil(far / 5.0), MOST_M) for far in (left, right))
    shown = (offset >= -left) & (offset <= right)
    return [
        CrossSection(float(stations[k]), offset[shown], existing[k, shown], proposed[k, shown])
        for k in np.flatnonzero(meets)
    ]


def extended(line: Alignment) -> Alignment:
    """Return a line of play drawn on behind the green, so that what is shaped there is cut too."""
    end = line.points[-1] + line.legs[-1] / np.hypot(*line.legs[-1]) * BEHIND_M
    return Alignment(np.vstack([line.points, end]))


def end_area_volumes(sections: list[CrossSection]) -> tuple[float, float]:
    """Return cut and fill [m3] by average end areas between neighbouring sections of one spacing."""
    totals = np.zeros(2)
    for a, b in pairwise(sections):
        apart = b.chainage_m - a.chainage_m
        if apart <= STEP_M * 1.5:
            totals += apart * (np.array(a.cut_fill_m2) + np.array(b.cut_fill_m2)) / 2
    return float(totals[0]), float(totals[1])


def draw_sections(sections: list[CrossSection], paper: str, scale: int, files: FileFrame) -> list[Sheet]:
    """Draw sections row by row on as many sheets as they need, all at one scale."""
    sheets: list[Sheet] = []
    wide = float(np.ptp(sections[0].offset_m)) * 1000.0 / scale
    sheet, x, y, row_tall = Sheet(paper), 0.0, 0.0, 0.0
    sheets.append(sheet)
    x, y = sheet.field.left + 14, sheet.field.bottom + sheet.field.height - 6
    for section in sections:
        base, tall = height_of(section.existing_m, section.proposed_m, scale)
        tall += LABELS_MM
        if x + wide > sheet.field.left + sheet.field.width - 4:
            x, y, row_tall = sheet.field.left + 14, y - row_tall - GAP_MM, 0.0
        if y - tall - 8 < sheet.field.bottom:
            sheet = Sheet(paper)
            sheets.append(sheet)
            x, y, row_tall = sheet.field.left + 14, sheet.field.bottom + sheet.field.height - 6, 0.0
        draw_section(sheet, section, Box(x, y - tall, wide, tall - LABELS_MM), base, scale, files)
        row_tall = max(row_tall, tall)
        x += wide + 16
    return sheets


def height_of(existing: Floats, proposed: Floats, scale: int) -> tuple[float, float]:
    """Return the level at the foot of a section [m] and how tall it is on paper [mm]."""
    levels = np.concatenate([existing, proposed])
    if not np.isfinite(levels).any():
        return 0.0, 1000.0 * HEIGHTS_LARGER / scale
    base = float(np.floor(np.nanmin(levels) - 0.3))
    return base, (float(np.nanmax(levels)) - base) * 1000.0 * HEIGHTS_LARGER / scale


def draw_ground(
    axes: Axes, at: Floats, existing: Floats, proposed: Floats, base: float, files: FileFrame
) -> None:
    """Draw existing and proposed ground, cut and fill, and a scale of levels from ``base`` [m] upwards."""
    axes.patch.set_alpha(0.0)
    for name in ("top", "right"):
        axes.spines[name].set_visible(False)
    rise = proposed - existing
    for sign, colour in ((1.0, FILL), (-1.0, CUT)):
        axes.fill_between(at, existing, proposed, where=sign * rise > 0, color=colour, alpha=0.7, lw=0)
    axes.plot(at, existing, color=INK, lw=0.6, ls=(0, (4, 2)), gid="existing-ground")
    if np.nanmax(np.abs(rise), initial=0.0) > TOUCHED_M:
        axes.plot(at, np.where(np.abs(rise) > 0, proposed, np.nan), color=PROPOSED, lw=0.9)
    unit = files.unit_m
    levels = np.arange(np.ceil(base / unit), np.floor(axes.get_ylim()[1] / unit) + 1) * unit
    axes.set_yticks(levels, [f"{v / unit:.0f}" for v in levels])
    axes.tick_params(labelsize=4.5, length=1.5, width=0.4, pad=1.5, colors=SOFT)
    axes.grid(alpha=0.3, lw=0.3)


def draw_section(
    sheet: Sheet | Picture, section: CrossSection, box: Box, base: float, scale: int, files: FileFrame
) -> None:
    """Draw a section square to the line of play into a rectangle of paper."""
    axes = sheet.panel(box)
    offset = section.offset_m
    axes.set(xlim=(offset[0], offset[-1]), ylim=(base, base + box.height * scale / 1000.0 / HEIGHTS_LARGER))
    draw_ground(axes, offset, section.existing_m, section.proposed_m, base, files)
    cut, fill = section.cut_fill_m2
    axes.axvline(0.0, color=SOFT, lw=0.4, ls=(0, (10, 2, 2, 2)))
    unit = files.unit_m
    step = 10.0 if files.unit == "m" else 30.0
    ticks = np.arange(np.ceil(offset[0] / unit / step), np.floor(offset[-1] / unit / step) + 1) * step
    axes.set_xticks(ticks * unit, [f"{abs(t):.0f}" for t in ticks])
    areas = f"   cut {cut:.1f} m², fill {fill:.1f} m²" if cut + fill >= 0.05 else ""
    sheet.write(
        box.left, box.bottom + box.height + 5, f"Chainage {section.chainage_m / unit:.0f}{areas}", 6.0,
        fontweight="bold",
    )  # fmt: skip
    middle = float(np.interp(0.0, offset, section.proposed_m))
    if np.isfinite(middle):
        axes.annotate(
            f"{middle / unit:.2f}", (0.0, middle), (0, 5), textcoords="offset points", fontsize=SMALL_PT,
            ha="center", color=INK,
        )  # fmt: skip


def legend() -> list[LegendEntry]:
    """Return the legend of sections."""
    return [
        LegendEntry("existing ground", "line", "none", INK, (0, (4, 2))),
        LegendEntry("proposed ground", "line", "none", PROPOSED),
        LegendEntry("fill", "area", FILL),
        LegendEntry("cut", "area", CUT),
        LegendEntry("line of play", "line", "none", SOFT, (0, (10, 2, 2, 2))),
    ]


def notes(sections: list[CrossSection], files: FileFrame) -> list[str]:
    """Return what a reader of the sections has to know."""
    cut, fill = end_area_volumes(sections)
    shaped = any(sum(s.cut_fill_m2) > 0 for s in sections)
    parts = [
        f"Sections every {STEP_M:g} m of grid distance along the line of play, looking to the green;"
        f" offsets and levels in {unit_words(files)}, vertical exaggeration x{HEIGHTS_LARGER}."
    ]
    if shaped:
        parts.append(
            "Only the stations that meet shaped ground are drawn, with one before and one behind."
            f" Average end areas give cut {cut:.0f} m³ and fill {fill:.0f} m³: a check of the quantities, not"
            " their measure."
        )
    else:
        parts.append("No shaping is proposed on this hole: the ground is drawn as surveyed.")
    return parts
