"""Workbooks: quantities to price (sums as formulas) and staking lists. The one door to openpyxl."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from gistools.base.errors import WriteError
from gistools.base.paper import CAUTION
from gistools.handoff.csvfile import safe_cell
from gistools.steps.catalogue import find

BOLD = Font(bold=True)
CONTINGENCY_PCT = 10.0  # assumption
MATERIALS = "Areas and materials"
HEAD = ("item", "feature", "quantity", "unit", "rate", "amount", "basis")
EARTH = (
    ("topsoil stripped", "topsoil_m3", "strip and put back as in the step quantities (common practice)"),
    ("cut, in place", "cut_m3", "bank volume, no bulking"),
    ("fill, in place", "fill_m3", "compacted volume, no shrinkage"),
)


@dataclass(frozen=True)
class Line:
    """A line to price; ``size`` is a cell with a depth to multiply by, or a spacing to divide by."""

    item: str
    feature: str
    figure: float
    unit: str
    basis: str
    size: str = ""


def write_workbook(path: Path, quantities: Any, materials: Any) -> Path:
    """Write earth moved, areas and materials as an XLSX workbook.

    *Earthworks* has a line for each shape; *Areas and materials* what each green, tee, bunker and fairway
    takes if it is built; *By material* its sums; *Build-ups* the depths and spacings all of them refer to.
    Quantities, amounts and sums are formulas, with a contingency in a cell of its own.

    Parameters
    ----------
    path
        File to write.
    quantities
        The layer of the step `quantities`; rows of single shapes, or the totals where there are none.
    materials
        The layer ``materials`` of that step.

    Raises
    ------
    WriteError
        If the file cannot be written.
    """
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Earthworks"
    _fill(sheet, _earth_lines(quantities))
    cells = _build_ups(book.create_sheet("Build-ups"), materials)
    lines = [_material_line(row, cells) for row in materials.to_dict("records")]
    priced = book.create_sheet(MATERIALS, 1)
    _fill(priced, lines, sized=True)
    _by_material(book.create_sheet("By material", 2), lines)
    notes = book.create_sheet("Notes")
    for number, text in enumerate((*find("quantities").cautions, *_NOTES), 1):
        notes.cell(number, 1, text).alignment = Alignment(wrap_text=True, vertical="top")
    notes.column_dimensions["A"].width = 110
    try:
        book.save(path)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path


_NOTES = (
    "Rates are left empty: amounts and totals follow when they are filled in.",
    "The contingency is an assumption.",
    "Earth is counted shape by shape in their order: where shapes overlap, some of it is moved twice.",
    "Areas are plan areas of the survey layers, as if each were built new: strike out what stays.",
    "Depths and spacings are assumptions, each once in the sheet Build-ups: change them there.",
    "Drains are area over spacing; mains, outlets, trenches and gravel round pipes come on top.",
    "Volumes are in place: settlement, waste and steep faces come on top; codes and suppliers come first.",
)


def write_lists(path: Path, lists: dict[str, Any], heading: str) -> Path:
    """Write tables as sheets of an XLSX workbook, to be read on a screen or printed: A4, heads on every page.

    Parameters
    ----------
    path
        File to write.
    lists
        Name of a sheet to its table.
    heading
        Words at the head of every printed page.

    Raises
    ------
    WriteError
        If the file cannot be written.
    """
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, table in lists.items():
        sheet = book.create_sheet(name)
        sheet.append([safe_cell(str(column)) for column in table.columns])
        for row in table.itertuples(index=False):
            sheet.append([_listed(value) for value in row])
        for number, column in enumerate(table.columns, 1):
            sheet.cell(1, number).font = BOLD
            if table[column].dtype == float:
                for (cell,) in sheet.iter_rows(min_row=2, min_col=number, max_col=number):
                    cell.number_format = "0.000"
            widest = max((len(str(v)) for v in table.iloc[:, number - 1]), default=0)
            sheet.column_dimensions[get_column_letter(number)].width = min(
                max(widest, len(str(column))) + 2, 40
            )
        sheet.freeze_panes = "A2"
        sheet.auto_filter.ref = sheet.dimensions
        sheet.print_title_rows = "1:1"
        sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddHeader.left.text = heading.replace("&", "&&")
        sheet.oddFooter.right.text = "&P of &N"
        sheet.oddFooter.left.text = CAUTION.replace("&", "&&")
    try:
        book.save(path)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path


def _listed(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return safe_cell(value)


def _earth_lines(quantities: Any) -> list[Line]:
    """Return the lines of the earth moved."""
    if not len(quantities):
        return []
    shapes = quantities[quantities["shape_kind"] != "total"]
    shapes = shapes if len(shapes) else quantities
    lines = []
    for item, column, basis in EARTH:
        for record in shapes.to_dict("records"):
            volume = float(record[column])
            if np.isfinite(volume) and volume > 0:
                lines.append(Line(item, str(record["feature"]), volume, "m3", basis))
    return lines


def _size(row: dict[str, Any]) -> tuple[str, float, str]:
    """Return whether a material has a depth, a spacing or neither, how large, and its source."""
    for words, column in (("depth", "layer_depth_m"), ("spacing", "drain_spacing_m")):
        if np.isfinite(row[column]):
            return words, float(row[column]), str(row["basis"])
    return "", float("nan"), ""


def _build_ups(sheet: Any, materials: Any) -> dict[tuple[str, str, float], str]:
    """Write each depth and spacing once, with its source, and return the cell of each."""
    _head(sheet, ("layer", "material", "depth or spacing", "value [m]", "source"))
    cells: dict[tuple[str, str, float], str] = {}
    for row in materials.to_dict("records"):
        words, size, source = _size(row)
        key = (row["layer"], row["material"], size)
        if words and key not in cells:
            number = len(cells) + 2
            cells[key] = f"'Build-ups'!D{number}"
            for column, cell in enumerate((*key[:2], words, size, safe_cell(source)), 1):
                sheet.cell(number, column, cell)
    return cells


def _material_line(row: dict[str, Any], cells: dict[tuple[str, str, float], str]) -> Line:
    words, size, _ = _size(row)
    cell = cells.get((row["layer"], row["material"], size), "")
    unit = {"depth": "m3", "spacing": "m", "": "m2"}[words]
    feature = f"hole {row['hole']}, {row['layer']}: {row['feature']}"
    return Line(row["material"], feature, float(row["area_m2"]), unit, str(row["basis"]), cell)


def _by_material(sheet: Any, lines: list[Line]) -> None:
    """Write the sum of each material over all features."""
    _head(sheet, ("material", "quantity", "unit"))
    last = len(lines) + 1
    for number, (item, unit) in enumerate(dict.fromkeys((line.item, line.unit) for line in lines), 2):
        items, amounts = (f"'{MATERIALS}'!${c}$2:${c}${last}" for c in "AE")
        sheet.cell(number, 1, safe_cell(item))
        sheet.cell(number, 2, f"=SUMIF({items},A{number},{amounts})")
        sheet.cell(number, 3, unit)


def _head(sheet: Any, words: tuple[str, ...]) -> None:
    for column, word in enumerate(words, 1):
        sheet.cell(1, column, word).font = BOLD
        sheet.column_dimensions[get_column_letter(column)].width = 34 if column <= 2 else 14
    sheet.column_dimensions[get_column_letter(len(words))].width = 60
    sheet.freeze_panes = "A2"


def _fill(sheet: Any, lines: list[Line], *, sized: bool = False) -> None:
    """Write lines with amounts as formulas, then sub-total, contingency and total.

    ``sized`` lines have an area and a depth or spacing, of which the quantity is a formula.
    """
    head = ("item", "feature", "area [m2]", "depth or spacing [m]", *HEAD[2:]) if sized else HEAD
    _head(sheet, head)
    quantity, rate, amount = ("E", "G", "H") if sized else ("C", "E", "F")
    for number, line in enumerate(lines, 2):
        cells: list[Any] = [safe_cell(line.item), safe_cell(line.feature), round(line.figure, 1)]
        if sized:
            sign = {"m3": f"*D{number}", "m": f"/D{number}", "m2": ""}[line.unit]
            cells += [f"={line.size}" if line.size else None, f"=C{number}{sign}"]
        cells += [line.unit, None, f"={quantity}{number}*{rate}{number}", safe_cell(line.basis)]
        for column, cell in enumerate(cells, 1):
            sheet.cell(number, column, cell)
    last = len(lines) + 1
    total = f"=SUM({amount}2:{amount}{last})" if lines else 0
    left = ord(amount) - ord("A") + 1
    sums = (
        ("sub-total", total),
        ("contingency [%]", CONTINGENCY_PCT),
        ("total", f"={amount}{last + 2}*(1+{amount}{last + 3}/100)"),
    )
    for offset, (words, cell) in enumerate(sums, 2):
        sheet.cell(last + offset, 1, words).font = BOLD
        sheet.cell(last + offset, left, cell).font = BOLD
