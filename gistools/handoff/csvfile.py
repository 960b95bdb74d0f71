"""Points as text: for instruments, for spreadsheets, and measured points from the field."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pandas as pd

from gistools.handoff.frame import DECIMALS, Frame, plain_text

Order = Literal["PNEZD", "PENZD"]

#: characters that make a spreadsheet run a cell as a formula (OWASP ASVS 1.2.10 [published], CWE-1236), and
#: their wide forms, which some read alike [from memory]
TRIGGERS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def safe_cell(value: Any) -> Any:
    """Return text that no spreadsheet runs as a formula; numbers stay as they are."""
    if not isinstance(value, str):
        return value
    text = value.replace("\0", "")
    return "'" + text if text.startswith(TRIGGERS) or text.lstrip().startswith(TRIGGERS) else text


def write_pnezd(
    path: Path,
    points: Iterable[tuple[int | str, float, float, float, str]],
    frame: Frame,
    *,
    header: bool = False,
) -> Path:
    """Write points as number, northing, easting, level, description, in file units.

    Parameters
    ----------
    path
        File to write.
    points
        Number, easting, northing, level, description; coordinates in *metres*, here easting first as
        everywhere in the program. A level of ``nan`` leaves its field empty.
    frame
        Turns metres into file units.
    header
        Write a line of column titles first; most instruments want none.

    Notes
    -----
    Comma, decimal point, no quotes: descriptions are reduced to letters, digits, blank and ``_ . / -``.
    """
    with path.open("w", encoding="ascii", newline="") as out:
        if header:
            out.write("point,northing,easting,level,description\r\n")
        for number, east, north, level, description in points:
            e, nn, z = (float(frame.out(v)) for v in (east, north, level))
            height = "" if math.isnan(z) else f"{z:.{DECIMALS}f}"
            out.write(
                f"{plain_text(number)},{nn:.{DECIMALS}f},{e:.{DECIMALS}f},{height},{plain_text(description)}\r\n"
            )
    return path


def write_table(path: Path, table: pd.DataFrame, *, decimals: int = 4) -> Path:
    """Write a table for a spreadsheet (UTF-8 with mark, RFC 4180); no text runs as a formula.

    Numbers get ``decimals``, scale factors eight.
    """
    cells = pd.DataFrame(table.drop(columns="geometry", errors="ignore"))
    digits = [8 if str(c).endswith("factor") else decimals for c in cells.columns]
    with path.open("w", encoding="utf-8-sig", errors="replace", newline="") as out:
        writer = csv.writer(out)
        writer.writerow([safe_cell(str(c)) for c in cells.columns])
        for row in cells.itertuples(index=False):
            writer.writerow([_cell(v, n) for v, n in zip(row, digits, strict=True)])
    return path


def _cell(value: Any, decimals: int) -> Any:
    if value is None or value is pd.NA or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float | np.floating):
        return f"{value:.{decimals}f}"
    return safe_cell(value if isinstance(value, str) else str(value)) if not _whole(value) else int(value)


def _whole(value: Any) -> bool:
    return isinstance(value, int | np.integer)
