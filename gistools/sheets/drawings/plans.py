"""Plans for the crew: setting-out, grading, and the detail of a green."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from shapely.geometry import Polygon

from gistools.compute.terrain.contours import area_above
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.compute.terrain.slopes import fitted
from gistools.compute.terrain.surface import Surface
from gistools.sheets.colours import GOOD, INK, PIN, SOFT
from gistools.sheets.drawings.ground import (
    EXISTING,
    PROPOSED,
    Subject,
    draw_contours,
    draw_grid,
    draw_hole_locations,
    draw_line_of_play,
    draw_survey,
    name_tees,
    unit_words,
    write,
)
from gistools.sheets.drawings.paper import LegendEntry, View
from gistools.steps.catalogue import find, need
from gistools.steps.styles import CUT_FILL

PALE = 0.45
#: room of a tag beside a point [mm]
TAG_MM = (22.0, 6.0)
NUMBER_PT, TAG_PT, LEVEL_PT, FALL_PT = 4.3, 6.0, 5.0, 4.3
STATION_M = 20.0
#: intervals of contours in units of the site's files (assumptions): plan and green, in metres and in feet
PLAN_INTERVAL, GREEN_INTERVAL = {"m": 0.25, "ft": 1.0}, {"m": 0.1, "ft": 0.25}
#: squares of spot levels [m] (assumptions): on shaped ground and on greens; disk that a fall is fitted to
SPOTS_M, GREEN_SPOTS_M, FALL_M, FALL_RADIUS_M = 10.0, 5.0, 4.0, 1.0
#: ground round a green with the close contours of the green [m]
CLOSE_M = 4.0
#: outlines of cells are smoothed by [m]
STEPPED_M = 0.75
#: colours of staked points, by what they belong to
STAKES = {
    "LOP": INK,
    "TEE": "#3c6e2f",
    "TEM": "#3c6e2f",
    "GRN": GOOD,
    "PIN": PIN,
    "FWY": "#6b8f3a",
    "BKR": "#8a5a12",
    "WTR": "#2c6e8f",
    "MDC": "#5a4a3a",
    "MDT": "#5a4a3a",
}
BURN, SHAPE = "#2c6e8f", PROPOSED
CUT, FILL = CUT_FILL[1], CUT_FILL[3]

Legend = list[LegendEntry]


def setting_out(axes: Axes, subject: Subject, view: View, scale: int) -> tuple[Legend, list[str]]:
    """Draw outlines, staked points with their numbers, stations and grid; return legend and notes."""
    entries = draw_survey(axes, subject, view, fill=PALE)
    step = draw_grid(axes, subject, view, scale)
    draw_line_of_play(axes, subject, scale, stations=STATION_M)
    stakes = need(subject.site, "setting_out", hole=subject.hole)["setting_out"]
    x, y = subject.frame.page(stakes.geometry.x.to_numpy(), stakes.geometry.y.to_numpy())
    inside = (x > view[0]) & (x < view[2]) & (y > view[1]) & (y < view[3])
    tags: list[tuple[float, float]] = []
    for index in stakes.reset_index(drop=True).groupby("polyline_id", sort=False).indices.values():
        shown = index[inside[index]]
        if len(shown):
            _stakes(axes, stakes.iloc[index[0]], x, y, index, shown, scale, tags)
    entries.append(LegendEntry("line of play, chainage", "line", "none", INK, (0, (10, 2, 2, 2))))
    entries.append(LegendEntry("point to stake", "o", SOFT))
    notes = [
        f"Point 012 beside the tag BKR3 is BKR3-012 of the point files; grid crosses every {step:.0f} "
        f"{unit_words(subject.files)}.",
        f"Chainages every {STATION_M:.0f} m of grid distance along the line of play from the "
        f"{stakes['tee'].iloc[0]} tee.",
        "Coordinates and levels of the points are in the hand-off's CSV, LandXML and DXF: stake from these, "
        "never by scaling the drawing.",
        *find("setting_out").cautions,
    ]
    return entries, notes


def _stakes(
    axes: Axes,
    first: Any,
    x: Any,
    y: Any,
    index: Any,
    shown: Any,
    scale: int,
    tags: list[tuple[float, float]],
) -> None:
    """Draw the points of one line or ring, their numbers to its outside, and its tag."""
    code = str(first["code"])
    colour = STAKES.get(code, BURN if code.startswith("BN") else SHAPE)
    mm = scale / 1000.0
    line = np.column_stack([x[index], y[index]])
    ring = np.vstack([line, line[:1]]) if first["closed"] else line
    if code != "LOP" and len(ring) > 1:
        axes.plot(ring[:, 0], ring[:, 1], color=colour, lw=0.45, zorder=4)
    axes.plot(x[shown], y[shown], ls="none", marker="o", ms=1.3, color=colour, mec="none", zorder=6)
    if code == "LOP":
        return
    out = _outward(line, bool(first["closed"]))
    last = None
    for k, at in enumerate(index):
        if at not in shown:
            continue
        place = line[k] + out[k] * 1.7 * mm
        if last is None or np.hypot(*(place - last)) >= 3.4 * mm:
            write(axes, float(place[0]), float(place[1]), f"{k + 1:03d}", size=NUMBER_PT, colour=colour)
            last = place
    k = int(np.flatnonzero(index == shown[0])[0])
    place = line[k] + out[k] * 5.5 * mm
    for _ in range(8):
        if all(abs(place[0] - x) >= TAG_MM[0] * mm or abs(place[1] - y) >= TAG_MM[1] * mm for x, y in tags):
            break
        place = place + out[k] * 3.0 * mm
    tags.append((float(place[0]), float(place[1])))
    axes.plot([line[k, 0], place[0]], [line[k, 1], place[1]], color=colour, lw=0.3, zorder=5)
    name = str(first["feature"])
    words = str(first["polyline_id"]) + (f"\n{name}" if name and code not in ("FWY",) else "")
    write(
        axes, float(place[0]), float(place[1]), words, size=TAG_PT, colour=colour, halo=True, linespacing=1.0
    )


def _outward(line: Any, closed: bool) -> Any:
    """Return a unit vector at each point, square to the line: to the outside of a ring, else to its right."""
    if len(line) < 2:
        return np.tile([0.0, -1.0], (len(line), 1))
    before = np.roll(line, 1, axis=0) if closed else np.vstack([line[:1], line[:-1]])
    after = np.roll(line, -1, axis=0) if closed else np.vstack([line[1:], line[-1:]])
    along = after - before
    long = np.hypot(along[:, 0], along[:, 1])
    along = along / np.where(long > 0, long, 1.0)[:, None]
    side = 1.0
    if closed and len(line) > 2:
        side = 1.0 if Polygon(line).exterior.is_ccw else -1.0
    return side * np.column_stack([along[:, 1], -along[:, 0]])


def grading(axes: Axes, subject: Subject, view: View, scale: int) -> tuple[Legend, list[str]]:
    """Draw existing and proposed contours, cut and fill, and spot levels; return legend and notes."""
    entries = draw_survey(axes, subject, view, fill=PALE)
    step = draw_grid(axes, subject, view, scale)
    draw_line_of_play(axes, subject, scale)
    name_tees(axes, subject)
    draw_hole_locations(axes, subject)
    notes = [
        f"Levels in {unit_words(subject.files)}; grid crosses every {step:.0f} {unit_words(subject.files)}."
    ]
    grounds = subject.grounds(view)
    if grounds is None:
        return entries, [*notes, "The site has no terrain: no levels are drawn."]
    before, after = grounds
    interval = _interval(subject, PLAN_INTERVAL)
    taken: list[tuple[float, float]] = []
    changed = _changed(before, after)
    if not changed.is_empty:
        _tint(axes, subject, before, after)
        _spots(axes, subject, before, after, changed, scale, taken)
        entries += [LegendEntry("fill", "area", FILL), LegendEntry("cut", "area", CUT)]
        notes.append("Spot levels: proposed above, existing in brackets below.")
    _both_contours(axes, subject, view, grounds, interval, scale, taken)
    _feature_levels(axes, subject, after, scale)
    entries += _contour_legend(changed)
    entries.append(LegendEntry("line of play", "line", "none", INK, (0, (10, 2, 2, 2))))
    notes.append(
        f"Contours every {interval:g} {unit_words(subject.files)}, every fifth heavy and with its level."
    )
    if changed.is_empty:
        notes.append("No shaping is proposed on this hole: the ground is drawn as surveyed.")
    return entries, [*notes, *find("quantities").cautions]


def _both_contours(
    axes: Axes,
    subject: Subject,
    view: View,
    grounds: tuple[Surface, Surface],
    interval: float,
    scale: int,
    taken: list[tuple[float, float]],
    within: Any = None,
) -> None:
    """Draw the contours of the proposed ground where it differs, and of the existing; ``within`` an area."""
    before, after = grounds
    changed = _changed(before, after)
    areas = [(after, changed, PROPOSED)] if not changed.is_empty else []
    for surface, area, colour in [*areas, (before, None, EXISTING)]:
        shown = np.isfinite(surface.z)
        for limit in (area, within):
            shown = shown if limit is None else shown & mask(surface, limit)
        if shown.any():
            part = surface.with_heights(np.where(shown, surface.z, np.nan))
            draw_contours(
                axes, subject, view, part, interval=interval, colour=colour, scale=scale,
                dashed=colour == EXISTING, taken=taken,
            )  # fmt: skip


def _contour_legend(changed: Any) -> Legend:
    proposed = [] if changed.is_empty else [LegendEntry("proposed contour", "line", "none", PROPOSED)]
    return [*proposed, LegendEntry("existing contour", "line", "none", EXISTING, (0, (4, 2)))]


def _interval(subject: Subject, by_unit: dict[str, float]) -> float:
    return by_unit["m" if subject.files.unit == "m" else "ft"]


def _changed(before: Surface, after: Surface) -> Any:
    """Return the area in which the height changes by more than the least that counts."""
    return area_above(before.with_heights(np.abs(after.z - before.z)), TOUCHED_M)


def mask(surface: Surface, area: Any) -> Any:
    """Mark the cells of a surface in or beside an area."""
    x, y = surface.grid.mesh()
    return shapely.contains_xy(shapely.buffer(area, surface.cell), x, y)


def _tint(axes: Axes, subject: Subject, before: Surface, after: Surface) -> None:
    for sign, colour in ((1.0, FILL), (-1.0, CUT)):
        area = area_above(before.with_heights(sign * (after.z - before.z)), TOUCHED_M)
        for part in shapely.get_parts(subject.frame.turn(area)):
            xy = np.asarray(part.exterior.coords)
            axes.fill(xy[:, 0], xy[:, 1], color=colour, alpha=0.45, lw=0, zorder=2.2)


def _spots(
    axes: Axes,
    subject: Subject,
    before: Surface,
    after: Surface,
    changed: Any,
    scale: int,
    taken: list[tuple[float, float]],
) -> None:
    """Write levels on a square grid over shaped ground, and where the change is greatest."""
    rise = np.abs(after.z - before.z)
    row, column = np.unravel_index(int(np.nanargmax(rise)), rise.shape)
    x, y = after.centres()
    west, south, east, north = changed.bounds
    mesh = np.meshgrid(
        np.arange(np.ceil(west / SPOTS_M), np.floor(east / SPOTS_M) + 1) * SPOTS_M,
        np.arange(np.ceil(south / SPOTS_M), np.floor(north / SPOTS_M) + 1) * SPOTS_M,
    )
    grid = np.column_stack([m.ravel() for m in mesh])
    grid = grid[shapely.contains_xy(changed, grid[:, 0], grid[:, 1])]
    for east, north in [(float(x[column]), float(y[row])), *grid.tolist()]:
        levels = [float(subject.files.out(s.height(east, north))) for s in (after, before)]
        px, py = (float(v) for v in subject.frame.page(east, north))
        apart = 7.0 * scale / 1000.0
        if any(np.hypot(px - a, py - b) < apart for a, b in taken) or not np.isfinite(levels).all():
            continue
        taken.append((px, py))
        axes.plot([px], [py], marker="+", color=PROPOSED, ms=3, mew=0.5, zorder=8)
        down = 1.1 * scale / 1000.0
        write(axes, px, py - down, f"{levels[0]:.2f}", size=LEVEL_PT, colour=PROPOSED, va="bottom", halo=True)
        write(axes, px, py + down, f"({levels[1]:.2f})", size=LEVEL_PT, colour=EXISTING, va="top", halo=True)


def _feature_levels(axes: Axes, subject: Subject, surface: Surface, scale: int) -> None:
    """Write the level of each tee's middle, and of the lowest and highest point of each bunker and green."""
    down = 1.4 * scale / 1000.0
    for row in subject.site.layer("tees", subject.hole).itertuples():
        spot = row.geometry.centroid
        _level_at(axes, subject, surface, spot.x, spot.y, down)
    for layer in ("greens", "bunkers"):
        for area in subject.site.layer(layer, subject.hole).geometry:
            if area is None or area.is_empty:
                continue
            part = surface.window(area.bounds, 1.0)
            heights = np.where(shapely.contains_xy(area, *part.grid.mesh()), part.z, np.nan)
            if not np.isfinite(heights).any():
                continue
            x, y = part.centres()
            lowest = np.unravel_index(int(np.nanargmin(heights)), heights.shape)
            highest = np.unravel_index(int(np.nanargmax(heights)), heights.shape)
            for row_number, column in (lowest, highest) if layer == "greens" else (lowest,):
                _level_at(axes, subject, part, float(x[column]), float(y[row_number]), down)


def _level_at(axes: Axes, subject: Subject, surface: Surface, east: float, north: float, down: float) -> None:
    level = float(subject.files.out(surface.height(east, north)))
    if np.isfinite(level):
        px, py = (float(v) for v in subject.frame.page(east, north))
        axes.plot([px], [py], marker="x", color=INK, ms=2.5, mew=0.5, zorder=8)
        write(axes, px, py + down, f"{level:.2f}", size=LEVEL_PT, va="top", halo=True)


def green(axes: Axes, subject: Subject, view: View, scale: int) -> tuple[Legend, list[str]]:
    """Draw a green with close contours, falls, spot levels, tiers and hole locations."""
    entries = draw_survey(axes, subject, view, fill=PALE)
    step = draw_grid(axes, subject, view, scale)
    files = subject.files
    notes = [f"Levels and grid in {unit_words(files)}; grid crosses every {step:.0f}."]
    grounds = subject.grounds(view)
    draw_hole_locations(axes, subject)
    if grounds is None:
        return entries, [*notes, "The site has no terrain: no levels are drawn."]
    before, after = grounds
    interval = _interval(subject, GREEN_INTERVAL)
    taken: list[tuple[float, float]] = []
    pins = subject.site.layer("pins", subject.hole).geometry
    for x, y in zip(*subject.frame.page(pins.x.to_numpy(), pins.y.to_numpy()), strict=True):
        taken.append((float(x), float(y)))
    shape = shapely.union_all(list(subject.site.layer("greens", subject.hole).geometry))
    _falls(axes, subject, after, shape, scale)
    close = shapely.buffer(shape, CLOSE_M)
    wide = shapely.difference(shapely.box(*subject.bounds(view)), close)
    _both_contours(axes, subject, view, grounds, interval, scale, taken, close)
    _both_contours(axes, subject, view, grounds, 5 * interval, scale, taken, wide)
    entries += _contour_legend(_changed(before, after))
    notes.append(
        f"Contours every {interval:g} {files.unit} on the green and {CLOSE_M:g} m round it, every"
        f" {5 * interval:g} {files.unit} beyond."
    )
    entries.append(LegendEntry("fall [%]", "line", "none", INK))
    west, south, east, north = shape.bounds
    for e in np.arange(np.ceil(west / GREEN_SPOTS_M), np.floor(east / GREEN_SPOTS_M) + 1) * GREEN_SPOTS_M:
        for n in (
            np.arange(np.ceil(south / GREEN_SPOTS_M), np.floor(north / GREEN_SPOTS_M) + 1) * GREEN_SPOTS_M
        ):
            if shapely.contains_xy(shape, e, n):
                _level_at(axes, subject, after, float(e), float(n), 0.8 * scale / 1000.0)
    parts = need(subject.site, "slopes", hole=subject.hole)["green_parts"]
    for row in parts.to_dict("records"):
        if row["green_part"] in ("tier", "false front"):
            outline = shapely.simplify(subject.frame.turn(row["geometry"]), STEPPED_M).boundary
            lines = [np.asarray(p.coords) for p in shapely.get_parts(outline)]
            axes.add_collection(
                LineCollection(lines, colors=[SOFT], linewidths=0.5, linestyles=(0, (1, 2)), zorder=4),
                autolim=False,
            )
    entries.append(LegendEntry("edge of tier, false front", "line", "none", SOFT, (0, (1, 2))))
    summary = need(subject.site, "slopes", hole=subject.hole)["green_slopes"]
    notes += [f"{r['feature']}: {r['reading']}" for r in summary.to_dict("records") if r.get("reading")]
    notes.append(
        f"Falls are those of the plane that fits a disk of {2 * FALL_RADIUS_M:g} m; levels at crosses of "
        f"{GREEN_SPOTS_M:g} m."
    )
    return entries, [*notes, *find("quantities").cautions]


def _falls(axes: Axes, subject: Subject, surface: Surface, shape: Any, scale: int) -> None:
    """Draw an arrow down the fall at each square of a green, with its size in per cent."""
    p, q = fitted(surface, FALL_RADIUS_M)
    west, south, east, north = shape.bounds
    inside = shapely.buffer(shape, -0.5)
    for e in np.arange(west + FALL_M / 2, east, FALL_M):
        for n in np.arange(south + FALL_M / 2, north, FALL_M):
            if not shapely.contains_xy(inside, e, n):
                continue
            i, j = surface.grid.index(np.array([e]), np.array([n]))
            rise = np.array([p[i[0], j[0]], q[i[0], j[0]]])
            slope = float(np.hypot(*rise))
            if not np.isfinite(slope) or slope < 0.002:
                continue
            x, y = (float(v) for v in subject.frame.page(e, n))
            sin, cos = subject.frame.sin_cos
            down = -rise / slope
            way = np.array([down[0] * sin + down[1] * cos, down[0] * cos - down[1] * sin])
            long = 4.0 * scale / 1000.0
            half = way * long / 2
            axes.annotate(
                "", (x + half[0], y + half[1]), (x - half[0], y - half[1]),
                arrowprops={"arrowstyle": "-|>,head_length=0.22,head_width=0.09", "color": INK, "lw": 0.45,
                            "shrinkA": 0, "shrinkB": 0},
                zorder=5, annotation_clip=True,
            )  # fmt: skip
            side = np.array([way[1], -way[0]]) * 1.1 * scale / 1000.0
            write(axes, x + side[0], y + side[1], f"{100 * slope:.1f}", size=FALL_PT)
