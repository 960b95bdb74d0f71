"""The ground of a drawing: survey, contours with their levels, grid crosses, match lines, names."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.text import Text
from matplotlib.transforms import Affine2D
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import GistoolsError
from gistools.compute.terrain.contours import contour_lines
from gistools.compute.terrain.surface import Surface
from gistools.handoff.frame import Frame as FileFrame
from gistools.sheets import figures
from gistools.sheets.colours import INK, PIN, SOFT
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.drawings.paper import SMALL_PT, LegendEntry, View
from gistools.sheets.frame import Frame, along
from gistools.sheets.plan import GROUND
from gistools.sheets.rasters import hillshade
from gistools.site.model import Site
from gistools.site.types import Bounds
from gistools.steps.quantity_rows import both_grounds
from gistools.steps.setting_out_points import main_line
from gistools.steps.styles import GROUNDS

MARGIN_M = 10.0
GRID_PT = 4.6
EXISTING, PROPOSED = (colour for _, colour, _ in GROUNDS)
#: on paper [mm] (assumptions): shortest contour that gets its level, room of such a text, grid crosses
LABELLED_MM, APART_MM, CROSS_MM = 30.0, 14.0, 3.0


@dataclass(frozen=True)
class Subject:
    """A hole to draw: its site, the frame along play, and its extent in page metres."""

    site: Site
    hole: int
    frame: Frame
    view: View
    files: FileFrame

    @classmethod
    def of(cls, site: Site, hole: int) -> Subject:
        """Return the subject of a hole, play from left to right along its longest line of play."""
        frame = along(main_line(site, hole)[1].geometry)
        parts = [
            frame.turn(g)
            for name in ("tees", "fairway", "greens", "pins", "play_lines")
            for g in site.layer(name, hole).geometry
            if g is not None and not g.is_empty
        ]
        west, top, east, bottom = (float(v) for v in shapely.union_all(parts).bounds)
        m = MARGIN_M
        return cls(site, hole, frame, (west - m, top - m, east + m, bottom + m), FileFrame.of(site))

    @property
    def upward(self) -> Subject:
        """The same hole with play up the page."""
        west, top, east, bottom = self.view
        frame = dataclasses.replace(self.frame, bearing_deg=(self.frame.bearing_deg + 90.0) % 360.0)
        return dataclasses.replace(self, frame=frame, view=(top, -east, bottom, -west))

    @property
    def green_view(self) -> View:
        """Extent of the green in page metres."""
        green = self.frame.turn(shapely.union_all(list(self.site.layer("greens", self.hole).geometry)))
        west, top, east, bottom = (float(v) for v in green.bounds)
        m = MARGIN_M
        return (west - m, top - m, east + m, bottom + m)

    def bounds(self, view: View) -> Bounds:
        """Return the box in map coordinates round a view of the page."""
        sin, cos = self.frame.sin_cos
        corners = [(x, y) for x in (view[0], view[2]) for y in (view[1], view[3])]
        world = [
            (self.frame.east + x * sin + y * cos, self.frame.north + x * cos - y * sin) for x, y in corners
        ]
        west, south, east, north = Polygon(world).convex_hull.bounds
        return (west, south, east, north)

    def grounds(self, view: View) -> tuple[Surface, Surface] | None:
        """Return the existing and the proposed ground under a view; None where there is no terrain."""
        if self.site.ground is None:
            return None
        try:
            return both_grounds(self.site, self.bounds(view), self.hole)
        except GistoolsError:
            return None


def unit_words(files: FileFrame) -> str:
    """Return the unit of the site's files in words."""
    return {"m": "metres", "ft": "international feet", "us-ft": "US survey feet"}[files.unit]


def draw_survey(axes: Axes, subject: Subject, view: View, *, fill: float = 1.0) -> list[LegendEntry]:
    """Draw the survey layers inside a view and return their entries for the legend.

    ``fill`` times the opacity of areas: drawings for the crew are paler.
    """
    entries = []
    for layer in figures.draw_survey(axes, subject.site, view, subject.frame.turn, fill):
        kind = "line" if layer == "boundary" else "area"
        entries.append(LegendEntry(dict(GROUND)[layer], kind, *figures.survey_colours(layer, fill)))
    return entries


def draw_relief(axes: Axes, subject: Subject, view: View) -> None:
    """Shade the ground, lit from the upper left of the page."""
    grounds = subject.grounds(view)
    if grounds is None:
        return
    surface = grounds[0]
    light = 0.45 + 0.55 * hillshade(surface, 2.2, (subject.frame.bearing_deg - 135.0) % 360.0)
    east, north = subject.frame.east, subject.frame.north
    sin, cos = subject.frame.sin_cos
    turn = Affine2D(
        np.array([[sin, cos, -east * sin - north * cos], [cos, -sin, north * sin - east * cos], [0, 0, 1]])
    )
    west, south, right, top = surface.bounds
    picture = axes.imshow(
        light, extent=(west, right, south, top), cmap="Greys_r", vmin=0, vmax=1, alpha=0.55, zorder=0.5
    )
    picture.set_transform(turn + axes.transData)
    axes.set(xlim=(view[0], view[2]), ylim=(view[3], view[1]), aspect="auto")


def draw_contours(
    axes: Axes,
    subject: Subject,
    view: View | BaseGeometry,
    surface: Surface,
    *,
    interval: float,
    colour: str,
    scale: int,
    dashed: bool = False,
    taken: list[tuple[float, float]] | None = None,
    unit_m: float | None = None,
    labels: Labels | None = None,
) -> None:
    """Draw contours in a view or an area of the page; ``interval`` in units of the site's files.

    Every fifth has its level.
    ``taken`` holds the places of texts that keep others off, ``labels`` the words they may not cover;
    ``unit_m`` is another unit of interval and levels.
    """
    unit_m = unit_m or subject.files.unit_m
    window = view if isinstance(view, BaseGeometry) else box(*view)
    lines: dict[bool, list[Any]] = {True: [], False: []}
    taken = [] if taken is None else taken
    for level, line in contour_lines(surface, interval_m=interval * unit_m, tolerance_m=0.02):
        heavy = round(level / (interval * unit_m)) % 5 == 0
        for part in shapely.get_parts(shapely.intersection(subject.frame.turn(line), window)):
            if part.geom_type != "LineString":
                continue
            lines[heavy].append(np.asarray(part.coords))
            if heavy and part.length * 1000 / scale >= LABELLED_MM:
                text = f"{round(level / unit_m, 3):g}"
                _level_text(axes, part, text, colour, scale, taken, labels)
    dashes = (0, (4, 2)) if dashed else "-"
    for heavy, width in ((False, 0.35), (True, 0.75)):
        axes.add_collection(
            LineCollection(lines[heavy], colors=[colour], linewidths=width, linestyles=dashes, zorder=3),
            autolim=False,
        )


def _level_text(
    axes: Axes,
    line: LineString,
    text: str,
    colour: str,
    scale: int,
    taken: list[tuple[float, float]],
    labels: Labels | None,
) -> None:
    """Write a level on its contour, at the first of five places that is clear of other texts."""
    apart = APART_MM * scale / 1000.0
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        at = line.interpolate(share, normalized=True)
        if all(np.hypot(at.x - x, at.y - y) >= apart for x, y in taken):
            written = _level_at(axes, line, at, text, colour, scale)
            if labels is None or labels.fits(written, axes):
                taken.append((at.x, at.y))
                return
            written.remove()


def _level_at(axes: Axes, line: LineString, at: Any, text: str, colour: str, scale: int) -> Text:
    """Write a level at a place of its contour, turned along it."""
    reach = min(2.0 * scale / 1000.0, line.length / 4)
    s = line.project(at)
    a, b = line.interpolate(max(s - reach, 0.0)), line.interpolate(min(s + reach, line.length))
    angle = float(np.degrees(np.arctan2(-(b.y - a.y), b.x - a.x)))
    angle = angle - 180 if angle > 90 else angle + 180 if angle <= -90 else angle
    return write(axes, at.x, at.y, text, colour=colour, rotation=angle, rotation_mode="anchor", halo=True)


def write(
    axes: Axes, x: float, y: float, text: str, *, size: float = SMALL_PT, colour: str = INK, **more: Any
) -> Text:
    """Write text at a place of the ground, cut at the edge of the window."""
    halo = more.pop("halo", False)
    padding = (
        {"bbox": {"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85}} if halo else {}
    )
    options = {
        "fontsize": size,
        "color": colour,
        "ha": "center",
        "va": "center",
        "zorder": 8,
        **padding,
    }
    return axes.text(x, y, text, clip_on=True, parse_math=False, **{**options, **more})


def draw_grid(axes: Axes, subject: Subject, view: View, scale: int) -> float:
    """Draw crosses of the grid with their coordinates and return how far apart they are, in file units."""
    unit_m = subject.files.unit_m
    steps = [v for v in (5, 10, 20, 50, 100, 200, 500, 1000, 2000) if v * unit_m * 1000 / scale >= 80]
    step = float(steps[0] if steps else 2000)
    west, south, east, north = (v / unit_m for v in subject.bounds(view))
    half = CROSS_MM * scale / 1000.0
    crosses = []
    for e in np.arange(np.ceil(west / step), np.floor(east / step) + 1) * step:
        for n in np.arange(np.ceil(south / step), np.floor(north / step) + 1) * step:
            x, y = (float(v) for v in subject.frame.page(e * unit_m, n * unit_m))
            if not (view[0] < x < view[2] and view[1] < y < view[3]):
                continue
            for dx, dy in (subject.frame.sin_cos, subject.frame.north_on_page):
                crosses.append([(x - half * dx, y - half * dy), (x + half * dx, y + half * dy)])
            write(
                axes,
                x + half * 0.4,
                y - half * 0.4,
                f"E {e:.0f}\nN {n:.0f}",
                size=4.2,
                colour=SOFT,
                ha="left",
                va="bottom",
                linespacing=1.05,
            )
    axes.add_collection(LineCollection(crosses, colors=[SOFT], linewidths=0.4, zorder=2.5), autolim=False)
    return step


def draw_match_lines(axes: Axes, windows: Sequence[View], number: int) -> None:
    """Draw where a plan of several sheets goes on, in the middle of the ground two sheets share."""
    here = windows[number]
    for other, view in enumerate(windows):
        words = f"continues on sheet {other + 1}"
        if view[1:4:2] == here[1:4:2] and other in (number - 1, number + 1):
            x = (here[0] + view[2]) / 2 if other < number else (here[2] + view[0]) / 2
            axes.axvline(x, color=INK, lw=0.7, ls=(0, (8, 2, 1, 2)), zorder=7)
            write(axes, x, (here[1] + here[3]) / 2, words, rotation=90, halo=True)
        elif view[0:3:2] == here[0:3:2] and other != number and abs(view[1] - here[1]) < here[3] - here[1]:
            y = (here[1] + view[3]) / 2 if other < number else (here[3] + view[1]) / 2
            axes.axhline(y, color=INK, lw=0.7, ls=(0, (8, 2, 1, 2)), zorder=7)
            write(axes, (here[0] + here[2]) / 2, y, words, halo=True)


def draw_line_of_play(axes: Axes, subject: Subject, scale: int, *, stations: float = 0.0) -> None:
    """Draw the longest line of play; with ``stations`` [m] a tick and the chainage at each."""
    line = main_line(subject.site, subject.hole)[1]
    corners = np.asarray(subject.frame.turn(line.geometry).coords)
    axes.plot(corners[:, 0], corners[:, 1], color=INK, lw=0.7, ls=(0, (10, 2, 2, 2)), zorder=4)
    if stations <= 0:
        return
    half = 1.2 * scale / 1000.0
    for s in np.arange(0.0, line.length + 1e-6, stations):
        (east, north), (dx, dy) = line.at(s), line.right(s)
        ends = [subject.frame.page(east + k * half * dx, north + k * half * dy) for k in (-1, 1)]
        axes.plot([float(e[0]) for e in ends], [float(e[1]) for e in ends], color=INK, lw=0.5, zorder=4)
        x, y = ends[0]
        label = f"{s / subject.files.unit_m:.0f}"
        write(axes, float(x), float(y) - half * 0.6, label, size=GRID_PT, va="bottom", halo=True)


def draw_hole_locations(axes: Axes, subject: Subject, *, names: bool = True, size: float = 4.0) -> None:
    """Draw the hole locations, with their names."""
    pins = subject.site.layer("pins", subject.hole)
    for row in pins.itertuples():
        x, y = (float(v) for v in subject.frame.page(row.geometry.x, row.geometry.y))
        axes.plot([x], [y], marker="^", color=PIN, ms=size, mec="white", mew=0.4, zorder=7)
        if names:
            axes.annotate(
                row.pin, (x, y), (0, 4.5), textcoords="offset points", ha="center", fontsize=SMALL_PT,
                parse_math=False, color=INK, zorder=8, annotation_clip=True,
                bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.7},
            )  # fmt: skip


def name_tees(axes: Axes, subject: Subject) -> None:
    """Write the names of the tees beside them."""
    for row in subject.site.layer("tees", subject.hole).itertuples():
        turned = subject.frame.turn(row.geometry)
        x, y = turned.centroid.x, turned.bounds[1]
        write(axes, float(x), float(y), f"{row.tee} tee", va="bottom", halo=True)
