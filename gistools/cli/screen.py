"""Results for people on a terminal: tables, findings, progress."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import pandas as pd
from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table
from rich.text import Text

from gistools.base.settings import SETTINGS
from gistools.base.units import UNITS, heading, show_number, unit_of
from gistools.base.values import json_value
from gistools.site.findings import grouped, in_order
from gistools.site.results import Map
from gistools.steps.catalogue import Step, find
from gistools.steps.matrix import cards, first_case, matrices

ROWS_SHOWN = 60
SIDE_ROWS_SHOWN = 15
READINGS_SHOWN = 8
#: columns that say what a row is about
KEYS = ("hole", "tee", "player", "wind", "pin", "zone", "feature", "line", "start", "viewpoint")
MIN_COLUMN_WIDTH = 24  # characters of a cell that stay on one line when columns are fitted in
PROGRESS_DELAY_S = 2.0


def cell(value: Any, unit: str = "") -> str:
    """Write one value for a table: nothing for missing, yes or no, a number with the decimals of its unit."""
    json_ready = json_value(value)
    if json_ready is None:
        return ""
    if isinstance(json_ready, bool):
        return "yes" if json_ready else "no"
    return show_number(value, unit) if isinstance(value, float) else str(value)


def print_table(
    table: pd.DataFrame,
    units: Mapping[str, str],
    length_unit: str,
    title: str,
    most: int = ROWS_SHOWN,
    all_columns: bool = False,
) -> None:
    """Print a result layer without its geometry, the first rows of a long one.

    Where the columns do not fit side by side, those that are alike in all rows go above the table, and the
    last ones of the others are left out and named below it. With ``all_columns`` such a table is printed row
    by row with all its figures, and so is one that has no room for a single figure.
    """
    console = Console(width=None if sys.stdout.isatty() else 200)
    columns = [c for c in table.columns if c not in ("geometry", "feature_id", "hidden_by_feature_id")]
    heads = {c: heading(c, units.get(c, ""), length_unit) for c in columns}
    rows = [
        [
            f"{v:.7f}"
            if c.endswith("_factor")
            else cell(v * heads[c][1] if isinstance(v, float) else v, heads[c][2])
            for c, v in zip(columns, row, strict=True)
        ]
        for row in table[columns].head(most).itertuples(index=False)
    ]
    words = [heads[c][0] for c in columns]
    widths = [_least_width(word, [row[k] for row in rows]) for k, word in enumerate(words)]
    sentences = [k for k, c in enumerate(columns) if c == "reading" and not all_columns]
    fits = sum(w + 3 for k, w in enumerate(widths) if k not in sentences) + 1 <= console.width
    if not fits:  # sentences may break there, short texts stay on one line
        longest = [max((len(row[k]) for row in rows), default=0) for k in range(len(columns))]
        widths = [max(w, min(n, MIN_COLUMN_WIDTH)) for w, n in zip(widths, longest, strict=True)]
    every = [k for k in range(len(columns)) if k not in sentences]
    side = every if fits else _columns_that_fit(columns, rows, widths, console.width)
    figures = [k for k in _filled(columns, rows) if units.get(columns[k])]
    if not fits and (all_columns or (figures and not set(figures) & set(side))):
        _print_row_by_row(console, title, columns, words, rows)
    else:
        alike = [] if fits else _alike(columns, rows)
        same = " · ".join(f"{words[k]} {rows[0][k]}" for k in alike)
        shown = Table(
            title=Text(f"{title}\n{same}" if same else title), title_justify="left", header_style="bold"
        )
        for k in side:
            number = pd.api.types.is_numeric_dtype(table[columns[k]])
            width = None if fits else widths[k]
            shown.add_column(Text(words[k]), justify="right" if number else "left", width=width)
        for row in rows:
            shown.add_row(*(Text(row[k]) for k in side))
        console.print(shown)
        if sentences and len(rows) <= READINGS_SHOWN:
            _print_readings(console, columns, rows)
            side = [*side, *sentences]
        _print_left_out(console, [words[k] for k in _filled(columns, rows) if k not in {*side, *alike}])
    if len(table) > most:
        console.print(Text(f"... {len(table) - most} more rows; --all-rows shows them"))


def _least_width(word: str, cells: list[str]) -> int:
    """Return the least width of a column: that of its cells, or of the longest word where a cell is long."""
    if any(len(text) > MIN_COLUMN_WIDTH for text in cells):
        return max(len(w) for text in (word, *cells) for w in (text.split() or [""]))
    return max(len(w) for w in (*word.split(), *cells))


def _filled(columns: list[str], rows: list[list[str]]) -> list[int]:
    """Return the numbers of the columns that hold something."""
    return [k for k in range(len(columns)) if any(row[k] for row in rows)]


def _alike(columns: list[str], rows: list[list[str]]) -> list[int]:
    """Return the numbers of the filled key columns with one value in all of several rows."""
    if len(rows) < 2:
        return []
    filled = _filled(columns, rows)
    return [k for k in filled if columns[k] in KEYS and len({row[k] for row in rows}) == 1]


def _columns_that_fit(columns: list[str], rows: list[list[str]], widths: list[int], width: int) -> list[int]:
    """Return the numbers of the columns to show side by side: keys that differ, then figures in their order.

    Sentences are left out, they would break every row.
    """
    alike = _alike(columns, rows)
    filled = [k for k in _filled(columns, rows) if columns[k] != "reading" and k not in alike]
    keys = [k for k in filled if columns[k] in KEYS]
    side: list[int] = []
    room = width - 1
    for k in (*keys, *(k for k in filled if k not in keys)):
        if widths[k] + 3 > room:
            break
        room -= widths[k] + 3
        side.append(k)
    return sorted(side)


def _print_readings(console: Console, columns: list[str], rows: list[list[str]]) -> None:
    """Print the sentence of each row below a short table, with the keys that tell the rows apart."""
    alike = _alike(columns, rows)
    keys = [k for k in _filled(columns, rows) if columns[k] in KEYS and k not in alike]
    for row in rows:
        if sentence := row[columns.index("reading")]:
            name = ", ".join(row[k] for k in keys if row[k])
            console.print(Padding(Text(f"{name}: {sentence}", style="italic"), (0, 0, 0, 2)))


def _print_left_out(console: Console, words: list[str]) -> None:
    """Say which columns did not fit."""
    if words:
        console.print(
            Text(f"not shown: {', '.join(words)}; --all-columns shows each row with all its figures")
        )


def print_matrices(table: pd.DataFrame, length_unit: str = "m") -> None:
    """Print where to play: for each hole the matrices, who is first where, and a card for each cell."""
    for hole in dict.fromkeys(table["hole"]):
        rows = table[table["hole"] == hole]
        print(f"Hole {hole}")
        for line in matrices(rows, int(hole), length_unit, whole=True):
            print(line)
        one = first_case(rows)
        first = one.iloc[0]
        print(f"  Because ({first['player']}, {first['tee']} tee, {first['wind']}):")
        for line in cards(one, length_unit):
            print(line)


def _print_row_by_row(
    console: Console, title: str, columns: list[str], words: list[str], rows: list[list[str]]
) -> None:
    """Print each row as a short paragraph.

    What it is about in bold, its figures with their names, its reading last.
    """
    console.print(Text(title, style="italic"))
    for row in rows:
        filled = {c: (w, v) for c, w, v in zip(columns, words, row, strict=True) if v}
        reading = filled.pop("reading", ("", ""))[1]
        console.print(Text(" · ".join(f"{w} {v}" for c, (w, v) in filled.items() if c in KEYS), style="bold"))
        figures = "; ".join(f"{w}: {v}" for c, (w, v) in filled.items() if c not in KEYS)
        console.print(Padding(Text(figures), (0, 0, 0, 2)))
        if reading:
            console.print(Padding(Text(reading, style="italic"), (0, 0, 0, 2)))


def print_result(
    result: Any, length_unit: str = "m", all_columns: bool = False, all_rows: bool = False
) -> None:
    """Print what a step returned."""
    for number, (name, table) in enumerate(result.items() if isinstance(result, Mapping) else [("", result)]):
        if isinstance(table, Map):
            print(
                f"map {table.name}: {table.values.shape[1]} x {table.values.shape[0]} cells of"
                f" {table.cell:g} m, {table.text}"
            )
            continue
        spec = find(table.attrs["step"])
        layer = next((w for w in spec.writes if w.layer == (name or table.attrs["layer"])), spec.writes[0])
        print_table(
            table,
            {c.name: c.unit for c in layer.columns},
            length_unit,
            layer.text or spec.summary,
            len(table) if all_rows else ROWS_SHOWN if number == 0 else SIDE_ROWS_SHOWN,
            all_columns,
        )


def print_changes(changes: pd.DataFrame, length_unit: str = "m") -> None:
    """Print what ``compare`` returned, all of it, with a sign before each change."""
    console = Console(width=None if sys.stdout.isatty() else 200)
    if not len(changes):
        console.print("no figure changes")
        return
    keys = [c for c in changes.columns if c not in ("measure", "before", "after", "change")]
    keys = [k for k in keys if changes[k].notna().any()]
    shown = Table(header_style="bold")
    for column in (*keys, "measure"):
        shown.add_column(Text(column))
    for column in ("before", "after", "change"):
        shown.add_column(Text(column), justify="right")
    for row in changes.to_dict("records"):
        unit = unit_of(row["measure"])
        if length_unit == "yd" and row["measure"].endswith("_m") and "ground." not in row["measure"]:
            row["measure"], factor, unit = heading(row["measure"], "m", length_unit)
            row |= {k: row[k] * factor for k in ("before", "after", "change")}
        words = [cell(row[k]) for k in (*keys, "measure")]
        words += [cell(row[k], unit) for k in ("before", "after")]
        change = "" if pd.isna(row["change"]) else f"{row['change']:+.2f}"
        shown.add_row(*(Text(w) for w in (*words, change)))
    console.print(shown)


def print_findings(findings: list[Any]) -> None:
    """Print what ``check`` found, errors first, what is alike in one line."""
    console = Console(width=None if sys.stdout.isatty() else 160)
    if not findings:
        console.print("nothing to remark: the site is ready to be studied")
        return
    style = {"error": "bold red", "warning": "yellow", "note": "dim"}
    for group in grouped(in_order(findings)):
        line = Text(f"{group.level:8}", style=style[group.level])
        line.append(f"{group.where}: ", style="bold")
        line.append(f"{group.message}. ", style="default")
        line.append(group.remedy, style="italic")
        console.print(line)
    errors = sum(f.level == "error" for f in findings)
    console.print(Text(f"{errors} errors, {len(findings) - errors} other remarks"))


def step_page(spec: Step) -> str:
    """Return the page about one step: text, options, columns, sources and cautions."""
    lines = [spec.name, "", spec.doc, "", "Options"]
    for c in spec.choices:
        unit = UNITS[c.option.unit][1]
        lines.append(f"  {c.name} (default {c.default}{' ' + unit if unit else ''}): {c.option.text}")
    for layer in spec.writes:
        lines += ["", f"Layer {layer.table} ({layer.geometry or 'table'}): {layer.text}"]
        lines += [
            f"  {c.name}: {c.text}" + (f" [{UNITS[c.unit][1]}]" if c.unit else "") for c in layer.columns
        ]
    lines += ["", "Rests on", *(f"  {s}" for s in spec.sources)]
    if spec.cautions:
        lines += ["", "Cautions", *(f"  {c}" for c in spec.cautions)]
    return "\n".join(lines)


@contextmanager
def progress_bar(quiet: bool = False) -> Iterator[Callable[[float, str], None] | None]:
    """Show progress on standard error for work of more than two seconds."""
    if quiet:
        yield None
        return
    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        console=console,
        transient=True,
    )
    task = bar.add_task("", total=1.0)
    start = time.monotonic()
    started = False

    def listen(share: float, text: str) -> None:
        nonlocal started
        if not started and time.monotonic() - start > PROGRESS_DELAY_S:
            bar.start()
            started = True
        if started:
            bar.update(task, completed=share, description=text)

    try:
        yield listen
    finally:
        if started:
            bar.stop()


def settings_page(site: Any) -> str:
    """Return a list of all settings of a site, or None for the defaults: value, what it can be, meaning."""
    used = {} if site is None else site.settings_used
    lines = []
    for name, setting in SETTINGS.items():
        values = {k: v for k, v in used.items() if k.partition(":")[0] == name} or {name: setting.default}
        shown = ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in [values.pop(name)])
        shown += "".join(f"; hole {k.partition(':')[2]}: {v}" for k, v in values.items())
        can = (
            "in order: " * setting.ordered + ", ".join(setting.choices)
            or f"{setting.low:g} to {setting.high:g}"
        )
        of_holes = "; by hole" if setting.scope == "hole" else ""
        unit = UNITS[setting.unit][1]
        lines.append(f"{name} = {shown} {unit}".rstrip() + f"  ({can}{of_holes})\n    {setting.text}")
    return "\n".join(lines)
