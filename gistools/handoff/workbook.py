"""The quantities as a workbook to price: sums are formulas, rates are left open. The one door to openpyxl."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import shapely
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from gistools.base.errors import WriteError
from gistools.handoff.csvfile import safe_cell
from gistools.site.model import Site
from gistools.steps.catalogue import find

BOLD = Font(bold=True)
CONTINGENCY_PCT = 10.0  # assumption
HEAD = ("item", "feature", "quantity", "unit", "rate", "amount", "basis")
#: layer -> (material or work, depth [m] or 0 for an area, basis): build-ups as assumptions to be changed
BUILD_UPS = (
    ("greens", "rootzone, compacted", 0.30, "12 in (300 mm) [published: USGA putting-green construction]"),
    ("greens", "gravel", 0.10, "4 in (100 mm) [published: USGA putting-green construction]"),
    ("greens", "turf", 0.0, "area of the survey layer"),
    ("tees", "turf", 0.0, "area of the survey layer"),
    ("bunkers", "sand", 0.10, "4 in (100 mm) on the floor [second-hand]"),
    ("fairway", "seed or turf", 0.0, "area of the survey layer"),
)
EARTH = (
    ("topsoil stripped", "topsoil_m3", "strip and put back as in the step quantities (common practice)"),
    ("cut, in place", "cut_m3", "bank volume, no bulking"),
    ("fill, in place", "fill_m3", "compacted volume, no shrinkage"),
)


def write_workbook(path: Path, site: Site, holes: list[int], quantities: Any) -> Path:
    """Write earth moved, areas and materials as an XLSX workbook.

    Two sheets: *Earthworks*, a line for each shape, and *Areas and materials*, what each green, tee, bunker
    and fairway takes if it is built. Amounts are formulas of quantity and rate, with a contingency in a cell
    of its own; depths of layers stand in cells and can be changed.

    Parameters
    ----------
    path
        File to write.
    site, holes
        Where the areas come from.
    quantities
        The layer of the step `quantities`; rows of single shapes, or the totals where there are none.

    Raises
    ------
    WriteError
        If the file cannot be written.
    """
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Earthworks"
    rows = _earth_rows(quantities)
    _fill(sheet, rows)
    _fill(book.create_sheet("Areas and materials"), _material_rows(site, holes), depths=True)
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
    "Depths of layers are assumptions to be changed in their column; codes and suppliers come first.",
)


def _earth_rows(quantities: Any) -> list[tuple[str, str, float, str, float, str]]:
    """Return item, feature, quantity, unit, depth (0) and basis of the earth moved."""
    if not len(quantities):
        return []
    shapes = quantities[quantities["shape_kind"] != "total"]
    shapes = shapes if len(shapes) else quantities
    rows = []
    for item, column, basis in EARTH:
        for record in shapes.to_dict("records"):
            volume = float(record[column])
            if np.isfinite(volume) and volume > 0:
                rows.append((item, str(record["feature"]), volume, "m3", 0.0, basis))
    return rows


def _material_rows(site: Site, holes: list[int]) -> list[tuple[str, str, float, str, float, str]]:
    """Return item, feature, area, unit, depth and basis of each material of each feature of the holes."""
    rows = []
    for layer, material, depth, basis in BUILD_UPS:
        for record in site.layer(layer).to_dict("records"):
            if record["hole"] not in holes or not record["geometry"].geom_type.endswith("Polygon"):
                continue
            words = record.get("name") or record.get("tee") or f"feature {record['fid']}"
            name = f"hole {int(record['hole'])}, {layer}: {words}"
            area = float(shapely.area(record["geometry"]))
            rows.append((material, name, area, "m3" if depth else "m2", depth, basis))
    return rows


def _fill(sheet: Any, rows: list[tuple[str, str, float, str, float, str]], *, depths: bool = False) -> None:
    """Write rows with amounts as formulas, then sub-total, contingency and total."""
    head = ("item", "feature", "area [m2]", "depth [m]", *HEAD[2:]) if depths else HEAD
    for column, words in enumerate(head, 1):
        sheet.cell(1, column, words).font = BOLD
    quantity, rate, amount = ("E", "G", "H") if depths else ("C", "E", "F")
    for number, (item, feature, figure, unit, depth, basis) in enumerate(rows, 2):
        cells: list[Any] = [safe_cell(item), safe_cell(feature)]
        if depths:
            volume = f"=C{number}*D{number}" if depth else f"=C{number}"
            cells += [round(figure, 1), depth or None, volume]
        else:
            cells.append(round(figure, 1))
        cells += [unit, None, f"={quantity}{number}*{rate}{number}", safe_cell(basis)]
        for column, cell in enumerate(cells, 1):
            sheet.cell(number, column, cell)
    last = len(rows) + 1
    total = f"=SUM({amount}2:{amount}{last})" if rows else 0
    left = ord(amount) - ord("A") + 1
    lines = (
        ("sub-total", total),
        ("contingency [%]", CONTINGENCY_PCT),
        ("total", f"={amount}{last + 2}*(1+{amount}{last + 3}/100)"),
    )
    for offset, (words, cell) in enumerate(lines, 2):
        sheet.cell(last + offset, 1, words).font = BOLD
        sheet.cell(last + offset, left, cell).font = BOLD
    for column in range(1, len(head) + 1):
        sheet.column_dimensions[get_column_letter(column)].width = 34 if column in (1, 2) else 14
    sheet.column_dimensions[get_column_letter(len(head))].width = 60
    sheet.freeze_panes = "A2"
