"""The board of a hole on A3: where to play for which hole location, with plan, green, reasons and section."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.patches import Ellipse, Rectangle

from gistools.base.units import show_length
from gistools.compute.decision.ranking import ELLIPSE_SHARE
from gistools.sheets.colours import INK, SHOT, SOFT
from gistools.sheets.drawings.greens import (
    DEAD,
    PAPER,
    PLAYABLE,
    RANKED,
    Made,
    bar_unit,
    draw_green,
    greens,
    ground_contours,
    records,
    view_of,
)
from gistools.sheets.drawings.ground import (
    EXISTING,
    MARGIN_M,
    Subject,
    draw_hole_locations,
    draw_relief,
    draw_survey,
)
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.drawings.paper import (
    PT_PER_MM,
    SMALL_PT,
    TEXT_PT,
    Box,
    LegendEntry,
    Sheet,
    View,
    scale_for,
)
from gistools.sheets.profiles import profiles
from gistools.sheets.results import HoleResults, collect_results
from gistools.sheets.section_figures import (
    draw_profile,
    in_units,
    length_units,
    sections,
    vertical_exaggeration,
)
from gistools.steps.card_sentences import sentence
from gistools.steps.matrix import SHOTS, by_player, cards, first_case, followed, matrix, rankings

STEPS = ("lines_of_play", "lengths", "zones", "slopes", "sections", "where_to_play", "landing_areas")
FIRST = "#cfe3df"
PLAN_MM, GREEN_MM, GAP_MM, SECTION_MM, ROWS_MM = 121.0, 112.0, 3.0, 38.0, 30.0
#: scale of the green where the plan keeps its height and is drawn at most so many times smaller for it;
#: ground round the green [m]
GREEN_SCALE, LEAST_PLAN_MM, SMALLER, CLOSE_M = 250, 60.0, 1.3, 3.0
#: layers whose features have their names on the plan
NAMED = ("burns", "water", "bunkers", "mounds")
#: table of who is asked what: least width of a name, width of a cell, height of a line and the least [mm]
WHO_MM, CELL_MM, LINE_MM, LEAST_LINE_MM = 36.0, 19.0, 3.0, 1.9
#: lines and columns of a sheet of cards
LINES, COLUMNS = 74, 2
LETTER = 0.54  # width of a letter over its size, in the mean (assumption)


def board(subject: Subject, units: str, *, full: bool) -> Iterator[Made]:
    """Yield the sheets of a board: sheet, its scale in words, legend and notes; the board comes first."""
    results = collect_results(subject.site, subject.hole, STEPS, full=full)
    rows = results.table("where_to_play")
    one = first_case(rows) if len(rows) else rows
    sheet = Sheet(PAPER)
    field = sheet.field
    view, green = _with_ellipses(subject, one), subject.upward
    plan_box, green_box = _boxes(field, view, green)
    right = field.left + green_box.width + GAP_MM
    across = field.width - green_box.width - GAP_MM
    scales = scale_for(view, plan_box), scale_for(_close(green), green_box)
    entries = _plan(sheet, subject, plan_box, view, scales[0], results, one, units)
    draw_green(sheet, green, green_box, scales[1], one, results, units)
    matrix_box = Box(right, field.bottom + SECTION_MM, across, green_box.height - SECTION_MM)
    band = float(subject.site.setting("level_band_strokes", subject.hole))
    _matrix(sheet, matrix_box, one, results, units, band)
    notes = _section(sheet, Box(right, field.bottom, across, SECTION_MM), subject, results, units)
    step = results.steps.get("where_to_play")
    notes += list(step.cautions) if step is not None else []
    yield sheet, f"plan 1:{scales[0]}, green 1:{scales[1]} at {PAPER}", entries, notes
    if len(one):
        yield from greens(subject, results, one, units)
        yield from _appendix(subject, results, one, units)


def _boxes(field: Box, view: View, green: Subject) -> tuple[Box, Box]:
    """Return the places of the plan and of the green: the green at GREEN_SCALE where the plan bears it."""

    def boxes(plan_mm: float, wide: float) -> tuple[Box, Box]:
        tall = field.height - plan_mm - GAP_MM
        top = field.bottom + field.height - plan_mm
        return Box(field.left, top, field.width, plan_mm), Box(field.left, field.bottom, wide, tall)

    usual = boxes(PLAN_MM, GREEN_MM)
    west, north, east, south = _close(green)
    wide, tall = (1000.0 * length / GREEN_SCALE for length in (east - west, south - north))
    rest = field.height - GAP_MM - tall
    if wide > field.width / 2 or rest < LEAST_PLAN_MM:
        return usual
    largest = scale_for(view, usual[0])
    scale = scale_for(view, Box(0, 0, field.width, max(rest, LEAST_PLAN_MM)))
    if scale > SMALLER * largest:
        return usual
    return boxes(min(rest, PLAN_MM), max(wide, GREEN_MM))


def _close(green: Subject) -> View:
    """Return the extent of a green with little ground round it."""
    west, top, east, bottom = green.green_view
    m = MARGIN_M - CLOSE_M
    return (west + m, top + m, east - m, bottom - m)


def _drawn_shots(one: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the cards whose shot is drawn on the plan: one for each zone of each shot, the green apart."""
    if not len(one):
        return []
    shots = followed(one).drop_duplicates(["shot_number", "from_zone", "zone"])
    return [card for card in records(shots) if card["zone"] != "green"]


def _with_ellipses(subject: Subject, one: pd.DataFrame) -> View:
    """Return the view of a hole, widened so that the ellipses of its shots are whole."""
    corners = [subject.view[:2], subject.view[2:]]
    for card in _drawn_shots(one):
        if card["geometry"] is not None and np.isfinite(card["ellipse_length_m"]):
            x, y = (float(v) for v in subject.frame.page(card["geometry"].x, card["geometry"].y))
            turn = np.radians(card["axis_bearing_deg"] - subject.frame.bearing_deg)
            a, b = card["ellipse_length_m"] / 2, card["ellipse_width_m"] / 2
            half = np.hypot(a * np.cos(turn), b * np.sin(turn)), np.hypot(a * np.sin(turn), b * np.cos(turn))
            corners += [(x + k * (half[0] + 2.0), y + k * (half[1] + 2.0)) for k in (-1, 1)]
    xs, ys = zip(*corners, strict=True)
    return (min(xs), min(ys), max(xs), max(ys))


def _plan(
    sheet: Sheet,
    subject: Subject,
    box: Box,
    extent: View,
    scale: int,
    results: HoleResults,
    one: pd.DataFrame,
    units: str,
) -> list[LegendEntry]:
    axes = sheet.window(box, extent, scale)
    view = view_of(axes)
    draw_relief(axes, subject, view)
    entries = draw_survey(axes, subject, view, fill=0.8)
    sheet.north_arrow(box.left + 8, box.bottom + box.height - 9, subject.frame.north_on_page)
    sheet.scale_bar(box.left + 6, box.bottom + 3, scale, *bar_unit(subject, units))
    labels = Labels(sheet)
    zones = results.table("zones")
    numbers = dict(zip(one["zone"], one["zone_number"], strict=True)) if len(one) else {}
    for row in zones.drop_duplicates("zone").to_dict("records") if len(zones) else ():
        outline = np.asarray(subject.frame.turn(row["geometry"]).exterior.coords)
        axes.plot(outline[:, 0], outline[:, 1], color=INK, lw=0.6, ls=(0, (4, 2)), zorder=5)
        at = subject.frame.turn(row["geometry"]).representative_point()
        number = numbers.get(row["zone"])
        label = row["zone"] if number is None or pd.isna(number) else f"{int(number)}  {row['zone']}"
        labels.write(axes, at.x, at.y, label, fontsize=6.5, fontweight="bold")
    shots = _drawn_shots(one)
    for card in shots:
        _shot(axes, subject, card)
    for line in results.table("lines_of_play").get("geometry", ()):
        way = np.asarray(subject.frame.turn(line).coords)
        axes.plot(way[:, 0], way[:, 1], color=INK, lw=0.5, ls=(0, (10, 2, 2, 2)), zorder=4)
    for tee in subject.site.layer("tees", subject.hole).itertuples():
        spot = subject.frame.turn(tee.geometry.centroid)
        labels.write(axes, spot.x, spot.y, f"{tee.tee} tee", gap=5.0)
    _names(axes, subject, view, labels)
    draw_hole_locations(axes, subject, names=False, size=3.0)
    interval = ground_contours(axes, subject, view, scale, units, labels)
    if interval:
        entries.append(LegendEntry(f"contour, every {interval}", "line", "none", EXISTING))
    entries.append(LegendEntry("line of play", "line", "none", INK, (0, (10, 2, 2, 2))))
    if len(zones):
        entries.append(LegendEntry("landing zone", "line", "none", INK, (0, (4, 2))))
    if shots:
        entries.append(LegendEntry(f"{100 * ELLIPSE_SHARE:.0f} % of the shots", "line", "none", SHOT))
    if len(results.table("landing_areas")):
        entries += [
            LegendEntry("lands here, feeds to the hole", "area", to_rgba(RANKED[0], 0.3), RANKED[0]),
            LegendEntry("dead miss", "X", DEAD),
            LegendEntry("playable miss", "o", PLAYABLE),
        ]
    return entries


def _names(axes: Axes, subject: Subject, view: View, labels: Labels) -> None:
    """Write the names of hazards and mounds in view, which the reasons speak of, where there is room."""
    (west, east), (low, high) = (sorted(view[k::2]) for k in (0, 1))
    window = shapely.box(west, low, east, high)
    for layer in NAMED:
        table = subject.site.layer(layer)
        for name, shape in zip(table["name"], table.geometry, strict=True):
            part = subject.frame.turn(shape).intersection(window)
            if isinstance(name, str) and name and not part.is_empty:
                at = part.representative_point()
                labels.write(axes, at.x, at.y, name, gap=4.0, must=False, fontstyle="italic")


def _shot(axes: Axes, subject: Subject, row: dict[str, Any]) -> None:
    """Draw the ellipse of a shot about the middle of its finishes."""
    if row["geometry"] is None or not np.isfinite([row["ellipse_length_m"], row["ellipse_width_m"]]).all():
        return
    x, y = (float(v) for v in subject.frame.page(row["geometry"].x, row["geometry"].y))
    turned = float(row["axis_bearing_deg"]) - subject.frame.bearing_deg
    long, wide = float(row["ellipse_length_m"]), float(row["ellipse_width_m"])
    axes.add_patch(Ellipse((x, y), long, wide, angle=turned, fill=False, ec=SHOT, lw=0.9, zorder=6))


def _matrix(sheet: Sheet, box: Box, one: pd.DataFrame, results: HoleResults, units: str, band: float) -> None:
    """Draw the matrix of zones by hole locations and, under it, why each first choice is first."""
    top = box.bottom + box.height
    if not len(one):
        sheet.write(box.left + 2, top - 2, "Where to play", 8.5, fontweight="bold")
        why = textwrap.wrap(results.why_empty("where_to_play"), 120)
        sheet.write(box.left + 2, top - 8, "\n".join(why), TEXT_PT)
        return
    first = one[one["shot_number"] == 1]
    head = first.iloc[0]
    heading = f"Where to play: {head['player']}, {head['tee']} tee, {head['wind']}"
    if (first["zone"] != "").any():
        heading += f" (rank, expected score, rank of the next shot, flag; level within {band:.2f})"
    sheet.write(box.left + 2, top - 1.5, heading, 8.5, fontweight="bold")
    if (first["zone"] == "").all():
        lines = matrix(first, units)
        sheet.write(box.left + 2, top - 8, "\n".join(lines[1:]), 5.5, family="monospace", linespacing=1.3)
        below = top - 8 - 3.0 * len(lines)
        reasons = [f"{r['pin']}: {sentence(r, units)}" for r in records(first)]
    else:
        below = top
        reasons = []
        for ranking in rankings(followed(one)):
            below, because = _ranking(sheet, Box(box.left + 2, 0, box.width - 4, below), ranking, units)
            reasons += because
    space = Box(box.left, box.bottom, box.width, below - box.bottom)
    wide = _by_player(sheet, space, results.table("where_to_play"), units)
    reading = Box(box.left + 2, box.bottom + 2, box.width - 4 - wide, below - box.bottom - 3)
    _paragraphs(sheet, reading, reasons)


def _by_player(sheet: Sheet, box: Box, rows: pd.DataFrame, units: str) -> float:
    """Write what every player is asked from every tee in every wind; return the width it takes [mm].

    Of the first wind alone where a line would be lower than LEAST_LINE_MM.
    """
    room = box.height - 8.0
    heading, lines = by_player(rows, units)
    if len(lines) * LEAST_LINE_MM > room:
        wind = rows["wind"].iloc[0]
        heading, lines = by_player(rows[rows["wind"] == wind], units)
        heading = heading.replace("player, tee and wind", f"player and tee, {wind}")
    if len(lines) < 3:
        return 0.0
    cell = CELL_MM if (rows["zone"] != "").any() else 1.6 * CELL_MM
    letter = 5.5 * LETTER / PT_PER_MM
    who = max(WHO_MM, letter * (2 + max(len(cells[0]) for cells in lines)))
    wide = max(who + cell * (len(lines[0]) - 1), len(heading) * letter)
    step = min(LINE_MM, room / len(lines))
    left, top = box.left + box.width - wide, box.bottom + box.height
    sheet.write(left, top, heading, 5.5, fontweight="bold")
    for n, cells in enumerate(lines):
        for k, words in enumerate(cells):
            x = left + (k > 0) * (who + (k - 1) * cell)
            style = {"color": SOFT} if n == 0 else {}
            sheet.write(x, top - 3.4 - n * step, words, min(5.5, step * PT_PER_MM / 1.25), **style)
    return wide + 3.0


def _ranking(sheet: Sheet, box: Box, rows: pd.DataFrame, units: str) -> tuple[float, list[str]]:
    """Draw the matrix of one shot; return where it ends [mm] and why its first choices are first."""
    start = str(rows["from_zone"].iloc[0] or "")
    low = box.height - 7.0
    if start:
        number = int(rows["shot_number"].iloc[0])
        shot = SHOTS[number] if number < len(SHOTS) else f"Shot {number}"
        words = f"{shot} from {start}: rank and strokes from there"
        sheet.write(box.left, box.height - 1.5, words, TEXT_PT, fontweight="bold")
        low = box.height - 4.5
    below = _cells(sheet, Box(box.left, 0, box.width, low), rows)
    reasons = []
    said: set[tuple[str, ...]] = set()
    for pin, here in rows.groupby("pin", sort=False):
        level = here[here["level_with_first"].astype(bool) | (here["rank"] == 1)]
        card = records(level.sort_values("rank"))[0]
        same = (card["zone"], card["club"], card["next_zone"])
        if same in said and card["next_zone"] not in ("", "green"):
            continue  # the same shot, and no shot at a hole location is left by it
        said.add(same)
        place = f"{pin}, from {start}" if start else str(pin)
        reasons.append(f"{place}: {sentence(card, units)}")
    return below, reasons


def _cells(sheet: Sheet, box: Box, rows: pd.DataFrame) -> float:
    """Draw a cell for each zone and hole location and return where the drawing ends [mm]."""
    pins = list(dict.fromkeys(rows["pin"]))
    zones = rows.drop_duplicates("zone").sort_values("zone_number").to_dict("records")
    name = 42.0
    wide = (box.width - name) / max(len(pins), 1)
    tall = min(5.2, ROWS_MM / (len(zones) + 1))
    top = box.height
    for k, pin in enumerate(pins):
        turns = rows.loc[rows["pin"] == pin, "order_changes"].astype(bool).any()
        text = f"{pin}  (order turns)" if turns else str(pin)
        sheet.write(box.left + name + k * wide + 1.5, top - 0.8, text, TEXT_PT, fontweight="bold")
    for line, zone in enumerate(zones, 1):
        y = top - line * tall
        number = "" if pd.isna(zone["zone_number"]) else f"{int(zone['zone_number'])}  "
        sheet.write(
            box.left, y - tall / 2, f"{number}{zone['zone']}", TEXT_PT, va="center", fontweight="bold"
        )
        for k, pin in enumerate(pins):
            here = rows[(rows["zone"] == zone["zone"]) & (rows["pin"] == pin)]
            cell = here.iloc[0] if len(here) else None
            best = cell is not None and bool(cell["level_with_first"] or cell["rank"] == 1)
            patch = Rectangle(
                (box.left + name + k * wide, y - tall), wide - 0.8, tall - 0.6, fc=FIRST if best else "white",
                ec=SOFT, lw=0.3,
            )  # fmt: skip
            sheet.paper.add_patch(patch)
            text = "out of reach"
            if cell is not None:
                rank = "level" if cell["level_with_first"] else f"{int(cell['rank'])}"
                seen = cell["flag_visibility"] if isinstance(cell["flag_visibility"], str) else ""
                text = f"{rank}   {cell['total_strokes']:.2f}   next {cell['remaining_rank']}   {seen}"
            sheet.write(
                box.left + name + k * wide + 1.5, y - tall / 2 - 0.3, text, 6.0, va="center",
                fontweight="bold" if best else "normal",
            )  # fmt: skip
    return top - (len(zones) + 1) * tall - 1.0


def _paragraphs(sheet: Sheet, box: Box, texts: list[str]) -> None:
    """Write paragraphs into a box, smaller where they would not fit."""
    for size in (8.5, 8.0, 7.5, 7.0, TEXT_PT, 6.0, 5.5, SMALL_PT, 4.5, 4.0, 3.5):
        letters = int(box.width / (size * LETTER / PT_PER_MM))
        whole = [text.replace(" %", "\u00a0%") for text in texts]  # a figure stays with its unit
        lines = [part for text in whole for part in textwrap.wrap(text, letters, subsequent_indent="    ")]
        if len(lines) * size * 1.3 / PT_PER_MM <= box.height:
            break
    sheet.write(box.left, box.bottom + box.height, "\n".join(lines), size, linespacing=1.25)


def _section(sheet: Sheet, box: Box, subject: Subject, results: HoleResults, units: str) -> list[str]:
    """Draw the section along the longest line of play; return a note on its heights."""
    lines = [in_units(p, units) for p in profiles(results, subject.site) if p["kind"] == "line"]
    if not lines:
        return []
    longest = max(lines, key=lambda p: p["s"][-1])
    axes = sheet.panel(Box(box.left + 8, box.bottom + 6, box.width - 12, box.height - 12))
    draw_profile(axes, longest)
    axes.set_xlim(0, longest["s"][-1])
    axes.set_xticks(np.arange(0, longest["s"][-1], 50))
    axes.tick_params(labelsize=5)
    sheet.figure.canvas.draw()
    steep = vertical_exaggeration(axes, units)
    _, along, _, up = length_units(units)
    unit = along if along == up else f"{along}, levels {up}"
    words = (
        f"Section along the line of play, {longest['tee']} tee [{unit}], vertical exaggeration x{steep:.0f}"
    )
    sheet.write(box.left + 8, box.bottom + box.height - 0.5, words, TEXT_PT, fontweight="bold")
    lengths = results.table("lengths")
    if len(lengths) and "length_m" in lengths:
        pairs = zip(lengths["tee"], lengths["length_m"], strict=True)
        by_tee = ", ".join(f"{tee} {show_length(float(length), units)}" for tee, length in pairs)
        return [f"Lengths by tee: {by_tee}."]
    return []


def _appendix(subject: Subject, results: HoleResults, one: pd.DataFrame, units: str) -> Iterator[Made]:
    """Yield a sheet with a card for every zone and hole location, and one with the sections."""
    wrapper = textwrap.TextWrapper(150, subsequent_indent="      ", drop_whitespace=False)
    lines = [part for line in cards(one, units) for part in wrapper.wrap(line)]
    for start in range(0, len(lines), LINES * COLUMNS):
        sheet = Sheet(PAPER)
        top = sheet.field.bottom + sheet.field.height - 4
        for column in range(COLUMNS):
            part = lines[start + column * LINES : start + (column + 1) * LINES]
            x = sheet.field.left + 4 + column * sheet.field.width / COLUMNS
            sheet.write(x, top, "\n".join(part), 5.2, linespacing=1.35)
        yield sheet, "no scale", [], ["Every landing zone for every hole location, by rank."]
    figure = sections(subject.site, results, units)
    sheet = Sheet(PAPER)
    box = sheet.field
    picture = _as_picture(figure, box)
    axes = sheet.panel(Box(box.left + 2, box.bottom + 2, box.width - 4, box.height - 4))
    axes.imshow(picture, aspect="equal")
    axes.set_axis_off()
    yield (
        sheet,
        "no scale",
        [],
        ["Sections to each hole location, with the line of sight to the flag."],
    )


def _as_picture(figure: Any, box: Box) -> Any:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure.set_size_inches((box.width - 4) / 25.4, (box.height - 4) / 25.4)
    figure.set_dpi(220)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())
