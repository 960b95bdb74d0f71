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

from gistools.base.units import FOOT_M, YARD_M, show_area, show_length
from gistools.compute.decision.ranking import ELLIPSE_SHARE
from gistools.sheets.drawings.ground import (
    EXISTING,
    MARGIN_M,
    Subject,
    draw_contours,
    draw_hole_locations,
    draw_relief,
    draw_survey,
)
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.drawings.paper import (
    INK,
    PT_PER_MM,
    SMALL_PT,
    SOFT,
    TEXT_PT,
    Box,
    LegendEntry,
    Sheet,
    View,
    scale_for,
)
from gistools.sheets.drawings.plans import STEPPED_M
from gistools.sheets.plan import INTERVALS
from gistools.sheets.profiles import profiles
from gistools.sheets.results import HoleResults, collect_results
from gistools.sheets.section_figures import (
    draw_profile,
    in_units,
    length_units,
    sections,
    vertical_exaggeration,
)
from gistools.steps.card_sentences import club_words, fed, sentence
from gistools.steps.matrix import SHOTS, asked_of_whom, cards, first_case, followed, matrix, rankings

PAPER = "A3"
STEPS = ("lines_of_play", "lengths", "zones", "slopes", "sections", "where_to_play", "landing_areas")
SHOT, FIRST = "#54378a", "#cfe3df"
#: the shot at the green from the first zone and from the second; misses
RANKED = ("#0b5563", "#54378a")
DEAD, PLAYABLE = "#94310c", "#1d5e3a"
#: what tells a card apart
CARD_KEYS = ("tee", "player", "wind", "shot_number", "from_zone", "pin", "zone")
PLAN_MM, GAP_MM, SECTION_MM, ROWS_MM = 121.0, 3.0, 38.0, 30.0
#: lines and columns of a sheet of cards
LINES, COLUMNS = 74, 2
#: most contours in a view of the board
MOST_CONTOURS = 14

#: a sheet, its scale in words, its legend and its notes
Made = tuple[Sheet, str, list[LegendEntry], list[str]]


def board(subject: Subject, units: str, *, full: bool) -> Iterator[Made]:
    """Yield the sheets of a board: sheet, its scale in words, legend and notes; the board comes first."""
    results = collect_results(subject.site, subject.hole, STEPS, full=full)
    rows = results.table("where_to_play")
    one = first_case(rows) if len(rows) else rows
    sheet = Sheet(PAPER)
    field = sheet.field
    plan_box = Box(field.left, field.bottom + field.height - PLAN_MM, field.width, PLAN_MM)
    green_box = Box(field.left, field.bottom, 112, field.height - PLAN_MM - GAP_MM)
    right = field.left + green_box.width + GAP_MM
    across = field.width - green_box.width - GAP_MM
    view = _with_ellipses(subject, one)
    scales = scale_for(view, plan_box), scale_for(subject.green_view, green_box)
    entries = _plan(sheet, subject, plan_box, view, scales[0], results, one, units)
    _green(sheet, subject, green_box, scales[1], one, results, units)
    matrix_box = Box(right, field.bottom + SECTION_MM, across, green_box.height - SECTION_MM)
    band = float(subject.site.setting("level_band_strokes", subject.hole))
    _matrix(sheet, matrix_box, one, results, units, band)
    notes = _section(sheet, Box(right, field.bottom, across, SECTION_MM), subject, results, units)
    step = results.steps.get("where_to_play")
    notes += list(step.cautions) if step is not None else []
    yield sheet, f"plan 1:{scales[0]}, green 1:{scales[1]} at {PAPER}", entries, notes
    if len(one):
        yield from _greens(subject, results, one, units)
        yield from _appendix(subject, results, one, units)


def _drawn_shots(one: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the cards whose shot is drawn on the plan: one for each zone of each shot, the green apart."""
    if not len(one):
        return []
    shots = followed(one).drop_duplicates(["shot_number", "from_zone", "zone"])
    return [card for card in _records(shots) if card["zone"] != "green"]


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
    view = _view_of(axes)
    draw_relief(axes, subject, view)
    entries = draw_survey(axes, subject, view, fill=0.8)
    sheet.north_arrow(box.left + 8, box.bottom + box.height - 9, subject.frame.north_on_page)
    sheet.scale_bar(box.left + 6, box.bottom + 3, scale, *_bar(subject, units))
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
    draw_hole_locations(axes, subject, names=False, size=3.0)
    interval = _contours(axes, subject, view, scale, units, labels)
    if interval:
        entries.append(LegendEntry(f"contour, every {interval}", "line", "none", EXISTING))
    entries.append(LegendEntry("line of play", "line", "none", INK, (0, (10, 2, 2, 2))))
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


def _shot(axes: Axes, subject: Subject, row: dict[str, Any]) -> None:
    """Draw the ellipse of a shot about the middle of its finishes."""
    if row["geometry"] is None or not np.isfinite([row["ellipse_length_m"], row["ellipse_width_m"]]).all():
        return
    x, y = (float(v) for v in subject.frame.page(row["geometry"].x, row["geometry"].y))
    turned = float(row["axis_bearing_deg"]) - subject.frame.bearing_deg
    long, wide = float(row["ellipse_length_m"]), float(row["ellipse_width_m"])
    axes.add_patch(Ellipse((x, y), long, wide, angle=turned, fill=False, ec=SHOT, lw=0.9, zorder=6))


def _records(rows: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in rows.to_dict("records")]


def _view_of(axes: Axes) -> tuple[float, float, float, float]:
    (west, east), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    return (west, top, east, bottom)


def _bar(subject: Subject, units: str) -> tuple[float, str]:
    """Return the unit of a scale bar in metres, and its name."""
    return (YARD_M, "yd") if units == "yd" else (subject.files.unit_m, subject.files.unit)


def _levels(subject: Subject, units: str) -> tuple[float, str]:
    """Return the unit of contours in metres, and its name."""
    return (FOOT_M, "ft") if units == "yd" else (subject.files.unit_m, subject.files.unit)


def _contours(
    axes: Axes, subject: Subject, view: Any, scale: int, units: str, labels: Labels, on: Any = None
) -> str:
    """Draw contours at the interval that gives some dozen of them; return it in words, empty without any."""
    grounds = subject.grounds(view)
    if grounds is None:
        return ""
    unit_m, unit = _levels(subject, units)
    over = subject.grounds(on) if on is not None else None
    heights = (over or grounds)[1].z
    heights = heights[np.isfinite(heights)] / unit_m
    low, high = np.percentile(heights, (2, 98))
    interval = next((i for i in INTERVALS if (high - low) / i <= MOST_CONTOURS), INTERVALS[-1])
    draw_contours(
        axes, subject, view, grounds[1], interval=interval, colour=EXISTING, scale=scale, unit_m=unit_m,
        labels=labels,
    )  # fmt: skip
    return f"{interval:g} {unit}"


def _green(
    sheet: Sheet, subject: Subject, box: Box, scale: int, one: pd.DataFrame, results: HoleResults, units: str
) -> None:
    """Draw the green with, for each hole location, the shot at it from the first choice."""
    axes, labels = _green_window(sheet, subject, box, scale, units, f"Green 1:{scale}", results)
    _next_shots(axes, labels, subject, scale, _last_positions(one), results, whole=False)
    m, (west, top, east, bottom) = MARGIN_M, subject.green_view
    on = (west + m, top + m, east - m, bottom - m)
    interval = _contours(axes, subject, _view_of(axes), scale, units, labels, on)
    if interval:
        sheet.write(box.left + 20, box.bottom + box.height - 1.5, f"contours every {interval}", TEXT_PT)


def _green_window(
    sheet: Sheet, subject: Subject, box: Box, scale: int, units: str, heading: str, results: HoleResults
) -> tuple[Axes, Labels]:
    """Draw the ground of a green with its hole locations, and return its axes and places for words."""
    axes = sheet.window(box, subject.green_view, scale)
    draw_survey(axes, subject, _view_of(axes), fill=0.7)
    for row in _records(results.table("green_parts")):
        if row["green_part"] in ("tier", "false front"):
            outline = shapely.simplify(subject.frame.turn(row["geometry"]), STEPPED_M).boundary
            for part in shapely.get_parts(outline):
                x, y = np.asarray(part.coords).T
                axes.plot(x, y, color=SOFT, lw=0.5, ls=(0, (1, 2)), zorder=4)
    sheet.scale_bar(box.left + 6, box.bottom + 3, scale, *_bar(subject, units))
    sheet.north_arrow(box.left + box.width - 8, box.bottom + box.height - 9, subject.frame.north_on_page)
    sheet.write(box.left + 2, box.bottom + box.height - 1.5, heading, TEXT_PT, fontweight="bold")
    labels = Labels(sheet)
    draw_hole_locations(axes, subject, names=False, size=5.0)
    for pin in subject.site.layer("pins", subject.hole).itertuples():
        spot = subject.frame.turn(pin.geometry)
        labels.write(axes, spot.x, spot.y, str(pin.pin), gap=4.0)
    return axes, labels


def _next_shots(
    axes: Axes,
    labels: Labels,
    subject: Subject,
    scale: int,
    cards: pd.DataFrame,
    results: HoleResults,
    *,
    whole: bool,
) -> None:
    """Draw the shot at the green of some cards: its line, where it can land and feed, and its misses.

    With ``whole`` also where the first of them can land and hold; colours tell the order of the cards.
    """
    pins = {str(r.pin): r.geometry for r in subject.site.layer("pins", subject.hole).itertuples()}
    mm = scale / 1000.0
    for order, row in enumerate(_records(cards)):
        pin = pins.get(row["pin"])
        if pin is None or row["geometry"] is None:
            continue
        colour = RANKED[order if whole else 0]
        for area in _of_card(results.table("landing_areas"), row):
            holds = area["landing_result"].startswith("holds")
            shown = order == 0 and whole if holds else True
            for part in shapely.get_parts(subject.frame.turn(area["geometry"])) if shown else ():
                x, y = np.asarray(part.exterior.coords).T
                if not holds:
                    axes.fill(x, y, color=colour, alpha=0.25, lw=0, zorder=4)
                axes.plot(x, y, color=colour, lw=0.6, ls=(0, (6, 1.5)) if holds else "-", zorder=5)
        start = np.array([float(v) for v in subject.frame.page(row["geometry"].x, row["geometry"].y)])
        end = np.array([float(v) for v in subject.frame.page(pin.x, pin.y)])
        way = (end - start) / np.hypot(*(end - start))
        long = (13.0 if not whole else 26.0) * mm
        axes.annotate(
            "", end - way * 1.6 * mm, end - way * long,
            arrowprops={"arrowstyle": "-|>,head_length=0.3,head_width=0.14", "color": colour, "lw": 0.9},
            zorder=7,
        )  # fmt: skip
        at = end - way * (long + 2.0 * mm)
        number = row["zone_number"]
        words = row["tee"] if pd.isna(number) else f"{int(number)}"
        labels.write(axes, float(at[0]), float(at[1]), words, fontsize=TEXT_PT, color=colour,
                     fontweight="bold")  # fmt: skip
        for miss in _of_card(results.table("misses"), row) if order == 0 or not whole else ():
            dead = miss["miss_verdict"] == "dead"
            if not miss["miss_verdict"]:
                continue
            mark: dict[str, Any] = {"marker": "X" if dead else "o", "color": DEAD if dead else PLAYABLE}
            x, y = (float(v) for v in subject.frame.page(miss["geometry"].x, miss["geometry"].y))
            axes.plot(x, y, ms=3.5, mec="white", mew=0.4, zorder=8, **mark)
            if whole:
                words = f"{miss['miss_pct']:.0f} % {miss['miss_quarter']}, {miss['miss_verdict']}"
                labels.write(axes, x, y, words, gap=3.0, color=mark["color"])


def _of_card(drawn: pd.DataFrame, card: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of a layer that are about a card."""
    if not len(drawn):
        return []
    return _records(drawn[(drawn[list(CARD_KEYS)] == [card[k] for k in CARD_KEYS]).all(axis=1)])


def _greens(subject: Subject, results: HoleResults, one: pd.DataFrame, units: str) -> Iterator[Made]:
    """Yield a sheet with the green for each hole location: the shot at it from the first two zones."""
    cards = _at_green(one)
    pins = list(dict.fromkeys(cards["pin"]))
    if not pins or not len(results.table("landing_areas")):
        return
    sheet = Sheet(PAPER)
    across = int(np.ceil(np.sqrt(len(pins))))
    down = -(-len(pins) // across)
    wide, tall = sheet.field.width / across, sheet.field.height / down
    scale = 0
    for k, pin in enumerate(pins):
        left = sheet.field.left + (k % across) * wide
        box = Box(left, sheet.field.bottom + sheet.field.height - (k // across + 1) * tall, wide, tall - 11)
        scale = scale_for(subject.green_view, box)
        here = cards[cards["pin"] == pin].sort_values("rank").head(len(RANKED))
        axes, labels = _green_window(sheet, subject, box, scale, units, "", results)
        _next_shots(axes, labels, subject, scale, here, results, whole=True)
        _contours(axes, subject, _view_of(axes), scale, units, labels)
        top = box.bottom + tall - 1.0
        sheet.write(left + 2, top, pin, TEXT_PT, fontweight="bold")
        for line, row in enumerate(_records(here)):
            sheet.write(left + 24, top - 3.3 * line, _landing_words(row, units), 5.5, color=RANKED[line])
    entries = [
        LegendEntry("lands here, feeds to the hole", "area", to_rgba(RANKED[0], 0.25), RANKED[0]),
        LegendEntry("lands here, holds the green", "line", "none", RANKED[0], (0, (6, 1.5))),
        LegendEntry("feeds, from the second zone", "area", to_rgba(RANKED[1], 0.25), RANKED[1]),
        LegendEntry("dead miss", "X", DEAD),
        LegendEntry("playable miss", "o", PLAYABLE),
        LegendEntry("tier, false front", "line", "none", SOFT, (0, (1, 2))),
    ]
    notes = [
        "A ball that lands on the tinted ground as the shot named above the green does comes to rest within "
        f"{fed(units)} of the hole location; inside the dashes a ball from the first zone stays "
        "on the green.",
        "Crosses and rings stand where the misses of the first zone's shot finish, short, long, left and "
        "right along its line.",
        *results.steps["landing_areas"].cautions,
    ]
    yield sheet, f"green 1:{scale} at {PAPER}", entries, notes


def _landing_words(row: dict[str, Any], units: str) -> str:
    """Say the shot of a card at the green and how much ground takes it."""
    start = f"{int(row['zone_number'])} {row['zone']}" if row["zone"] else f"{row['tee']} tee"
    club = club_words(row["next_club"] if row["zone"] else row["club"], units)
    words = f"{start}: plays {show_length(row['effective_distance_m'], units)}, {club}"
    words += f"; {row['hold_pct']:.0f} % hold, {row['within_6_pct']:.0f} % within {fed(units)}"
    return words + (
        f"; holds from {show_area(row['hold_area_m2'], units)}, feeds from "
        f"{show_area(row['feed_area_m2'], units)}"
    )


def _at_green(one: pd.DataFrame) -> pd.DataFrame:
    """Return the cards that leave a shot at the green, or are one."""
    approach = one["next_zone"].fillna("").isin(["", "green"]) & one["hold_pct"].notna()
    return one[approach & (one["zone"] != "green")].drop_duplicates(["pin", "zone"])


def _last_positions(one: pd.DataFrame) -> pd.DataFrame:
    """Return, for each hole location, the card of the first choice from which the green is played to."""
    if not len(one):
        return one
    return _at_green(one[one["rank"] == 1]).drop_duplicates("pin")


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
        reasons = [f"{r['pin']}: {sentence(r, units)}" for r in _records(first)]
    else:
        below = top
        reasons = []
        for ranking in rankings(followed(one)):
            below, because = _ranking(sheet, Box(box.left + 2, 0, box.width - 4, below), ranking, units)
            reasons += because
    wide = _asked(
        sheet, Box(box.left, box.bottom, box.width, below - box.bottom), results.table("where_to_play")
    )
    reading = Box(box.left + 2, box.bottom + 2, box.width - 4 - wide, below - box.bottom - 3)
    _paragraphs(sheet, reading, reasons)


def _asked(sheet: Sheet, box: Box, rows: pd.DataFrame) -> float:
    """Write which zones are first for every player, tee and wind; return the width it takes [mm]."""
    pins, winds, lines = asked_of_whom(rows)
    if len(lines) * len(winds) < 2 or not (rows["zone"] != "").any():
        return 0.0
    column, name = 8.0 + 5.0 * len(pins), 30.0
    wide = min(name + column * len(winds), 0.55 * box.width)
    step = min(3.0, (box.height - 10.0) / len(lines))
    left, top = box.left + box.width - wide, box.bottom + box.height
    sheet.write(left, top, f"First zones at {', '.join(pins)}", 5.5, fontweight="bold")
    for k, words in enumerate(["player, tee", *winds]):
        x = left + (k > 0) * (name + (k - 1) * column)
        sheet.write(x, top - 3.2, textwrap.shorten(words, 24, placeholder="..."), 5.0, color=SOFT)
        for n, cells in enumerate(lines):
            sheet.write(x, top - 6.2 - n * step, cells[k], min(5.5, step * PT_PER_MM / 1.25))
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
    for pin, here in rows.groupby("pin", sort=False):
        level = here[here["level_with_first"].astype(bool) | (here["rank"] == 1)]
        place = f"{pin}, from {start}" if start else str(pin)
        reasons.append(f"{place}: {sentence(_records(level.sort_values('rank'))[0], units)}")
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
        letters = int(box.width / (size * 0.54 / PT_PER_MM))
        lines = [part for text in texts for part in textwrap.wrap(text, letters, subsequent_indent="    ")]
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
