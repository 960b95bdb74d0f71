"""Levels from files of points: laser points (LAS, LAZ) and text of easting, northing, level."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pyproj import CRS

from gistools.base.errors import InputError, SiteError, missing_package
from gistools.base.grid import Bounds, Floats

#: class of ground points (ASPRS LAS 1.4, table of standard classes)
GROUND_CLASS = 2
AT_ONCE = 2_000_000
_NAMES = {
    "x": ("x", "e", "east", "easting", "eastings", "rechts"),
    "y": ("y", "n", "north", "northing", "northings", "hoch"),
    "z": ("z", "h", "level", "elevation", "elev", "height", "rl", "z_m"),
}


@dataclass(frozen=True)
class CloudInfo:
    """What a file of laser points says of itself: CRS, count, box, and whether ground is classified."""

    crs: CRS | None
    count: int
    bounds: Bounds
    classified: bool


def _laspy(path: Path) -> object:
    try:
        import laspy
    except ImportError as missing:
        raise missing_package(f"{path.name}: reading laser points", "import") from missing
    return laspy


def cloud_info(path: Path) -> CloudInfo:
    """Look at the head of a LAS or LAZ file, and at its first points.

    Raises
    ------
    InputError
        If the reader is not installed.
    SiteError
        If the file cannot be read.
    """
    laspy = _laspy(path)
    try:
        with laspy.open(str(path)) as cloud:  # type: ignore[attr-defined]
            head = cloud.header
            try:
                crs = head.parse_crs()
            except (
                Exception
            ):  # a CRS that cannot be parsed is none: the reader raises whatever its parsers do
                crs = None
            low, high = head.mins, head.maxs
            classified = False
            for points in cloud.chunk_iterator(AT_ONCE):
                if (np.asarray(points.classification) == GROUND_CLASS).any():
                    classified = True
                    break
            return CloudInfo(crs, int(head.point_count), (low[0], low[1], high[0], high[1]), classified)
    except InputError:
        raise
    except Exception as fault:  # the reader raises its own kinds, and those of its decompressor
        raise SiteError(f"{path}: its laser points cannot be read ({fault})") from fault


def cloud_points(path: Path, ground_only: bool) -> Iterator[Floats]:
    """Yield the points of a LAS or LAZ file piece by piece, ``(n, 3)`` in its CRS.

    Raises
    ------
    SiteError
        If the file cannot be read to its end.
    """
    laspy = _laspy(path)
    try:
        with laspy.open(str(path)) as cloud:  # type: ignore[attr-defined]
            for points in cloud.chunk_iterator(AT_ONCE):
                xyz = np.column_stack([np.asarray(points.x), np.asarray(points.y), np.asarray(points.z)])
                keep = np.isfinite(xyz).all(axis=1)
                if ground_only:
                    keep &= np.asarray(points.classification) == GROUND_CLASS
                yield xyz[keep]
    except Exception as fault:  # see cloud_info
        raise SiteError(f"{path}: its laser points cannot be read to the end ({fault})") from fault


def text_levels(path: Path) -> Floats:
    """Read levels from text: three columns easting, northing, level, or more with a line of names ``(n, 3)``.

    Raises
    ------
    SiteError
        If it has other columns, or a line that is not numbers; names the line.
    """
    try:
        lines = [line.strip() for line in path.read_text(encoding="utf-8-sig").splitlines()]
    except (OSError, UnicodeDecodeError) as fault:
        raise SiteError(f"{path} cannot be read as text ({fault})") from fault
    numbered = [(k, line) for k, line in enumerate(lines, 1) if line and not line.startswith("#")]
    if not numbered:
        raise SiteError(f"{path} has no levels in it")
    mark = next((m for m in (";", ",", "\t") if m in numbered[0][1]), None)
    head = [w.strip().strip('"').lower() for w in numbered[0][1].split(mark)]
    columns = [next((head.index(n) for n in names if n in head), -1) for names in _NAMES.values()]
    if min(columns) >= 0:
        numbered = numbered[1:]
    elif len(head) == 3 and all(_is_number(w) for w in head):
        columns = [0, 1, 2]
    else:
        raise SiteError(
            f"{path}: its columns are not told; head them easting, northing, level, or leave just these three"
        )
    rows = []
    for k, line in numbered:
        words = line.split(mark)
        try:
            rows.append([float(words[c]) for c in columns])
        except (ValueError, IndexError):
            raise SiteError(f"{path}, line {k}: {line[:60]!r} is not easting, northing and level") from None
    return np.array(rows, float).reshape(-1, 3)


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
