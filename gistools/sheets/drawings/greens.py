"""Greens on a board: the shot at each hole location, where it can land, and where it misses."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba

from gistools.base.units import FOOT_M, YARD_M, show_area, show_length
from gistools.hole.sight import centre
from gistools.sheets.colours import BAD, GOOD, MARK, SHOT, SOFT
from gistools.sheets.drawings.ground import (
    EXISTING,
    Subject,
    draw_contours,
    draw_hole_locations,
    draw_survey,
)
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.drawings.paper import TEXT_PT, Box, LegendEntry, Sheet, scale_for
from gistools.sheets.drawings.plans import STEPPED_M, mask
from gistools.sheets.plan import FARTHER, NEAR_M, interval_for
from gistools.sheets.results import HoleResults
from gistools.steps.card_sentences import club_words, fed
from gistools.steps.landing_areas import CARD_KEYS
from gistools.steps.zone_choices import CENTRE

PAPER = "A3"
#: most contours in a view of the board
MOST_CONTOURS = 14
#: the shot at the green from the first zone and from the second; misses
RANKED = (MARK, SHOT)
DEAD, PLAYABLE = BAD, GOOD

#: a sheet, its scale in words, its legend and its notes
Made = tuple[Sheet, str, list[LegendEntry], list[str]]


def records(rows: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table as mappings."""
    return [{str(k): v for k, v in row.items()} for row in rows.to_dict("records")]


def view_of(axes: Axes) -> tuple[float, float, float, float]:
    """Return the view that axes show, in page metres."""
    (west, east), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    return (west, top, east, bottom)


def bar_unit(subject: Subject, units: str) -> tuple[float, str]:
    """Return the unit of a scale bar in metres, and its name."""
    return (YARD_M, "yd") if units == "yd" else (subject.files.unit_m, subject.files.unit)


def level_unit(subject: Subject, units: str) -> tuple[float, str]:
    """Return the unit of contours in metres, and its name."""
    return (FOOT_M, "ft") if units == "yd" else (subject.files.unit_m, subject.files.unit)


def ground_contours(
    axes: Axes, subject: Subject, view: Any, scale: int, units: str, labels: Labels, on: Any = None
) -> str:
    """Draw contours at the interval that gives some dozen of them; return it in words, empty without any.

    Those of an area ``on``, and FARTHER times as far apart beyond NEAR_M round it.
    """
    grounds = subject.grounds(view)
    if grounds is None:
        return ""
    ground = grounds[1]
    unit_m, unit = level_unit(subject, units)
    heights = ground.z if on is None else ground.z[mask(ground, on)]
    if not np.isfinite(heights).any():
        return ""
    interval = interval_for(heights, MOST_CONTOURS, unit_m)
    window = shapely.box(*view)
    parts = [(window, interval)]
    if on is not None:
        around = subject.frame.turn(shapely.buffer(on, NEAR_M))
        parts = [(window & around, interval), (window - around, FARTHER * interval)]
    for part, apart in parts:
        draw_contours(
            axes, subject, part, ground, interval=apart, colour=EXISTING, scale=scale, unit_m=unit_m,
            labels=labels,
        )  # fmt: skip
    return f"{interval:g} {unit}" + ("" if on is None else f", {FARTHER * interval:g} {unit} beyond")


def draw_green(
    sheet: Sheet, subject: Subject, box: Box, scale: int, one: pd.DataFrame, results: HoleResults, units: str
) -> None:
    """Draw the green with, for each hole location, the shot at it from the first choice."""
    axes, labels = _window(sheet, subject, box, scale, units, f"Green 1:{scale}", results)
    _next_shots(axes, labels, subject, scale, _last_positions(one), results, whole=False)
    green = shapely.union_all(list(subject.site.layer("greens", subject.hole).geometry))
    interval = ground_contours(axes, subject, view_of(axes), scale, units, labels, green)
    if interval:
        sheet.write(box.left + 20, box.bottom + box.height - 1.5, f"contours every {interval}", TEXT_PT)


def _window(
    sheet: Sheet, subject: Subject, box: Box, scale: int, units: str, heading: str, results: HoleResults
) -> tuple[Axes, Labels]:
    """Draw the ground of a green with its hole locations, and return its axes and places for words."""
    axes = sheet.window(box, subject.green_view, scale)
    draw_survey(axes, subject, view_of(axes), fill=0.7)
    for row in records(results.table("green_parts")):
        if row["green_part"] in ("tier", "false front"):
            outline = shapely.simplify(subject.frame.turn(row["geometry"]), STEPPED_M).boundary
            for part in shapely.get_parts(outline):
                x, y = np.asarray(part.coords).T
                axes.plot(x, y, color=SOFT, lw=0.5, ls=(0, (1, 2)), zorder=4)
    sheet.scale_bar(box.left + 6, box.bottom + 3, scale, *bar_unit(subject, units))
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
    for order, row in enumerate(records(cards)):
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
        place = _start(subject, row, results)
        start = np.array([float(v) for v in subject.frame.page(place.x, place.y)])
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


def _start(subject: Subject, card: dict[str, Any], results: HoleResults) -> Any:
    """Return where the shot at the green of a card is played from: its tee, its zone, or its finishes."""
    if not card["zone"]:
        tees = subject.site.layer("tees", subject.hole)
        return tees.loc[tees["tee"] == card["tee"], "geometry"].iloc[0].centroid
    if card["next_from"] == CENTRE:
        zones = results.table("zones")
        return centre(zones.loc[zones["zone"] == card["zone"], "geometry"].iloc[0])
    return card["geometry"]


def _of_card(drawn: pd.DataFrame, card: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of a layer that are about a card."""
    if not len(drawn):
        return []
    return records(drawn[(drawn[list(CARD_KEYS)] == [card[k] for k in CARD_KEYS]).all(axis=1)])


def greens(subject: Subject, results: HoleResults, one: pd.DataFrame, units: str) -> Iterator[Made]:
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
        axes, labels = _window(sheet, subject, box, scale, units, "", results)
        _next_shots(axes, labels, subject, scale, here, results, whole=True)
        ground_contours(axes, subject, view_of(axes), scale, units, labels)
        top = box.bottom + tall - 1.0
        sheet.write(left + 2, top, pin, TEXT_PT, fontweight="bold")
        for line, row in enumerate(records(here)):
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
