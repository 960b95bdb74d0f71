"""Report of what was built: plan of differences, features in figures, points outside tolerance."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from gistools.sheets.colours import SHOT, SOFT
from gistools.sheets.drawings.greens import Made
from gistools.sheets.drawings.ground import (
    MARGIN_M,
    Subject,
    draw_grid,
    draw_hole_locations,
    draw_line_of_play,
    draw_survey,
    name_tees,
    unit_words,
    write,
)
from gistools.sheets.drawings.paper import SMALL_PT, TEXT_PT, Box, LegendEntry, Sheet, scale_for
from gistools.steps.as_built_rows import NO_DESIGN, as_built_sentences
from gistools.steps.catalogue import find
from gistools.steps.styles import BUILT

PAPER = "A3"
#: height of the tables under the plan, of a line of them, and of their heads [mm]
TABLES_MM, LINE_MM, HEAD_MM = 88.0, 3.1, 12.0
PALE, LABEL_PT = 0.4, 4.3
#: most points without a design level that are named
LOST = 5
#: room of a difference beside its point on paper [mm]
LABEL_MM = (8.0, 2.2)
#: marks of the points by what was found of them
MARKS = {
    word: (marker, colour, size)
    for (word, colour, _), (marker, size) in zip(
        BUILT, (("o", 2.2), ("^", 4.0), ("v", 4.0), ("s", 3.0)), strict=True
    )
}
OFF_PLAN = SHOT
#: heading, width [mm], whether it is a number
Columns = Sequence[tuple[str, float, bool]]
FEATURES: Columns = (
    ("feature", 48, False), ("points", 12, True), ("within", 12, True), ("outside", 13, True),
    ("no design", 15, True), ("mean", 14, True), ("worst", 14, True), ("tolerance", 16, True),
    ("off plan", 15, True), ("farthest", 16, True),
)  # fmt: skip
POINTS: Columns = (
    ("point", 28, False), ("feature", 46, False), ("easting", 23, True), ("northing", 23, True),
    ("design", 18, True), ("measured", 18, True), ("difference", 18, True), ("tolerance", 17, True),
)  # fmt: skip
PLACES: Columns = (
    ("stake", 28, False), ("feature", 46, False), ("easting", 23, True), ("northing", 23, True),
    ("to east", 18, True), ("to north", 18, True), ("off", 18, True), ("tolerance", 17, True),
)  # fmt: skip


def sheets(subject: Subject, points: pd.DataFrame, summary: pd.DataFrame) -> Iterator[Made]:
    """Yield the sheets of a hole's report: sheet, its scale in words, legend and notes.

    Parameters
    ----------
    subject
        The hole.
    points, summary
        Its rows of the layers ``as_built_check`` and ``as_built_summary``, in metres.
    """
    sheet = Sheet(PAPER)
    field = sheet.field
    plan = Box(field.left, field.bottom + TABLES_MM, field.width, field.height - TABLES_MM)
    x, y = subject.frame.page(points.geometry.x.to_numpy(), points.geometry.y.to_numpy())
    known = (points["level_status"] != NO_DESIGN).to_numpy()
    shown_x, shown_y = (x[known], y[known]) if known.any() else (x, y)  # a point far off shrinks no plan
    m = MARGIN_M
    west, top, east, bottom = (float(v) for v in (shown_x.min(), shown_y.min(), shown_x.max(), shown_y.max()))
    view = (west - m, top - m, east + m, bottom + m)
    scale = scale_for(view, plan)
    axes = sheet.window(plan, view, scale)
    shown = (axes.get_xlim()[0], axes.get_ylim()[1], axes.get_xlim()[1], axes.get_ylim()[0])
    entries = draw_survey(axes, subject, shown, fill=PALE)
    draw_grid(axes, subject, shown, scale)
    draw_line_of_play(axes, subject, scale)
    name_tees(axes, subject)
    draw_hole_locations(axes, subject, names=False, size=2.5)
    entries += _marks(axes, subject, points, x, y, scale)
    axes.set(xlim=(shown[0], shown[2]), ylim=(shown[3], shown[1]))
    notes = _notes(subject, points, summary)
    left = Box(field.left, field.bottom, sum(c[1] for c in FEATURES) + 4, TABLES_MM)
    right = Box(left.left + left.width, field.bottom, field.width - left.width, TABLES_MM)
    unit = subject.files.unit
    left_over = [(f"Features (differences in {unit})", FEATURES, _feature_rows(subject, summary))]
    lists = [(f"Points outside tolerance, worst first ({unit})", POINTS, _point_rows(subject, points))]
    places = _place_rows(subject, points)
    if places:
        lists.append((f"Points off their stakes in plan, worst first ({unit})", PLACES, places))
    left_over = [(*left_over[0][:2], _table(sheet, left, *left_over[0]))]
    for k, (heading, columns, rows) in enumerate(lists):
        tall = right.height / len(lists)
        box = Box(right.left, right.bottom + (len(lists) - 1 - k) * tall, right.width, tall)
        left_over.append((heading, columns, _table(sheet, box, heading, columns, rows)))
    yield sheet, f"1:{scale} at {PAPER}", entries, notes
    left_over = [part for part in left_over if part[2]]
    while left_over:
        sheet = Sheet(PAPER)
        whole = sheet.field
        half = whole.width / 2
        for side in (0, 1):
            if left_over:
                box = Box(whole.left + side * half, whole.bottom, half, whole.height)
                heading, columns, rows = left_over.pop(0)
                rows = _table(sheet, box, heading, columns, rows)
                left_over = [(heading, columns, rows), *left_over] if rows else left_over
        yield sheet, "-", [], notes


def _marks(
    axes: Axes, subject: Subject, points: pd.DataFrame, x: Any, y: Any, scale: int
) -> list[LegendEntry]:
    """Draw the points by what was found of them, and the difference beside those outside, worst first."""
    entries = []
    status = points["level_status"].to_numpy()
    for name, (marker, colour, size) in MARKS.items():
        chosen = status == name
        if chosen.any():
            axes.plot(
                x[chosen], y[chosen], ls="none", marker=marker, color=colour, ms=size, mec="none", zorder=7
            )
            count = int(chosen.sum())
            entries.append(LegendEntry(f"{name}: {count} point{'s' if count > 1 else ''}", marker, colour))
    apart = (points["plan_status"] == "outside").to_numpy()
    if apart.any():
        ring: dict[str, Any] = {"marker": "D", "mec": OFF_PLAN, "mfc": "none", "mew": 0.7, "ms": 6.0}
        axes.plot(x[apart], y[apart], ls="none", zorder=6.5, **ring)
        count = int(apart.sum())
        entries.append(LegendEntry(f"off its stake: {count} point{'s' if count > 1 else ''}", "D", OFF_PLAN))
    wide, tall = (v * scale / 1000 for v in LABEL_MM)
    taken: list[tuple[float, float]] = []
    outside = np.flatnonzero((status == "high") | (status == "low"))
    for k in outside[np.argsort(-np.abs(points["difference_m"].to_numpy()[outside]))]:
        place = (float(x[k]) + wide * 0.55, float(y[k]))
        if all(abs(place[0] - a) >= wide or abs(place[1] - b) >= tall for a, b in taken):
            taken.append(place)
            words = _signed(subject, points["difference_m"].iloc[k])
            write(axes, *place, words, size=LABEL_PT, colour=MARKS[status[k]][1], halo=True)
    return entries


def _notes(subject: Subject, points: pd.DataFrame, summary: pd.DataFrame) -> list[str]:
    """Say how many points are within, in level and in plan, the tolerances, the convention, the cautions."""
    first, *others = as_built_sentences(points, subject.files.unit, subject.files.unit_m)
    lost = points.loc[points["level_status"] == NO_DESIGN, "point"].tolist()
    if lost:
        more = f" and {len(lost) - LOST} more" if len(lost) > LOST else ""
        first += f" Without one: {', '.join(lost[:LOST])}{more}."
    unit = subject.files.unit
    allowed = summary.drop_duplicates("layer").set_index("layer")["tolerance_m"]
    limits = ", ".join(f"{layer} {float(subject.files.out(v)):.3f} {unit}" for layer, v in allowed.items())
    step = find("as_built_check")
    return [
        first,
        " ".join(others),
        f"Difference = measured less design level: positive is too high. Tolerances, up or down: {limits}.",
        f"Where tolerances come from, unless others were given: {'; '.join(step.sources)}.",
        f"Coordinates and levels in {unit_words(subject.files)}. A difference stands beside a point outside"
        " tolerance where there is room; all of them are in the table.",
        *step.cautions,
    ]


def _feature_rows(subject: Subject, summary: pd.DataFrame) -> list[list[str]]:
    """Return a row for each feature, those with most points outside first."""
    by = ["outside_count", "plan_outside_count", "feature"]
    ordered = summary.sort_values(by, ascending=[False, False, True], kind="stable")
    return [
        [
            r["feature"],
            str(r["points_count"]),
            str(r["points_count"] - r["outside_count"] - r["unknown_count"]),
            str(r["outside_count"]),
            str(r["unknown_count"]),
            _signed(subject, r["mean_difference_m"]),
            _signed(subject, r["worst_difference_m"]),
            f"{float(subject.files.out(r['tolerance_m'])):.3f}",
            f"{r['plan_outside_count']} of {r['staked_count']}" if r["staked_count"] else "-",
            _distance(subject, r["worst_plan_m"]),
        ]
        for r in ordered.to_dict("records")
    ]


def _point_rows(subject: Subject, points: pd.DataFrame) -> list[list[str]]:
    """Return a row for each point outside tolerance, the worst first."""
    outside = points[points["level_status"].isin(["high", "low"])]
    worst = outside["difference_m"].abs().sort_values(ascending=False, kind="stable").index
    rows = []
    for r in outside.loc[worst].to_dict("records"):
        measures = (r["geometry"].x, r["geometry"].y, r["design_level_m"], r["measured_level_m"])
        figures = [f"{float(v):.3f}" for v in subject.files.out(measures)]
        allowed = f"{float(subject.files.out(r['tolerance_m'])):.3f}"
        rows.append([r["point"], r["feature"], *figures, _signed(subject, r["difference_m"]), allowed])
    return rows


def _place_rows(subject: Subject, points: pd.DataFrame) -> list[list[str]]:
    """Return a row for each point that is too far from its stake, the worst first."""
    outside = points[points["plan_status"] == "outside"]
    rows = []
    for r in outside.sort_values("delta_plan_m", ascending=False, kind="stable").to_dict("records"):
        place = [f"{float(v):.3f}" for v in subject.files.out((r["geometry"].x, r["geometry"].y))]
        ways = [_signed(subject, r[k]) for k in ("delta_easting_m", "delta_northing_m")]
        sizes = [_distance(subject, r[k]) for k in ("delta_plan_m", "plan_tolerance_m")]
        rows.append([r["stake"], r["feature"], *place, *ways, *sizes])
    return rows


def _distance(subject: Subject, metres: Any) -> str:
    value = float(subject.files.out(metres))
    return f"{value:.3f}" if np.isfinite(value) else "-"


def _signed(subject: Subject, metres: Any) -> str:
    value = float(subject.files.out(metres))
    return f"{value:+.3f}" if np.isfinite(value) else "-"


def _table(sheet: Sheet, box: Box, heading: str, columns: Columns, rows: list[list[str]]) -> list[list[str]]:
    """Draw the rows of a table that a rectangle holds and return the others."""
    top = box.bottom + box.height
    sheet.write(box.left + 2, top - 2, heading, TEXT_PT + 1, fontweight="bold")
    if not rows:
        sheet.write(box.left + 2, top - 7, "none", TEXT_PT)
        return []
    room = int((box.height - HEAD_MM) / LINE_MM)
    x = box.left + 2
    for k, (title, width, number) in enumerate(columns):
        at = x + width - 1 if number else x
        side = "right" if number else "left"
        sheet.write(at, top - 7, title, SMALL_PT, color=SOFT, ha=side)
        letters = int(width / 1.15)
        for line, row in enumerate(rows[:room]):
            words = row[k] if number else textwrap.shorten(row[k], letters, placeholder=" ...")
            sheet.write(at, top - 10.2 - line * LINE_MM, words or "-", TEXT_PT - 0.5, ha=side)
        x += width
    return rows[room:]
