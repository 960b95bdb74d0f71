"""Measured points as text: what comes back from the field."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any, Literal

import geopandas as gpd
import numpy as np

from gistools.base.errors import InputError, SiteError
from gistools.site.model import Site

Order = Literal["PNEZD", "PENZD"]


def read_points_csv(path: str | Path, site: Site, *, order: Order = "PNEZD") -> gpd.GeoDataFrame:
    """Read measured points: number, northing, easting, level, description.

    Commas, semicolons (then with decimal commas) or tabs; a line of titles and lines starting with ``#`` are
    passed over. Coordinates and levels are in the unit of the site's CRS, as in the files handed out.

    Parameters
    ----------
    path
        The file.
    site
        Site the points belong to; points far off it stop the reading.
    order
        ``PNEZD``, or ``PENZD`` where the easting comes first.

    Returns
    -------
    GeoDataFrame
        Rows of the layer ``as_built`` in metres: ``site.replace(as_built=read_points_csv(...))``.

    Raises
    ------
    SiteError
        Naming the file and the line that cannot be read, or saying that northing and easting look swapped.
    """
    if order not in ("PNEZD", "PENZD"):
        raise InputError(f"order is {order!r}; it can be PNEZD or PENZD")
    path = Path(path)
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except UnicodeDecodeError:
        lines = path.read_text(encoding="latin-1").splitlines()
    except OSError as fault:
        raise SiteError(f"{path.name} cannot be read: {fault.strerror}") from fault
    rows = []
    first = True
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        fields = _split(line)
        values = [_number(v, ";" in line) for v in fields[1:4]]
        if first and len(fields) >= 4 and all(v is None for v in values):
            first = False
            continue
        first = False
        if len(fields) < 4 or any(v is None for v in values):
            raise SiteError(
                f"{path.name}, line {number}: expected point,"
                f" {'northing, easting' if order == 'PNEZD' else 'easting, northing'},"
                f" level and a description, found {line.strip()[:80]!r}"
            )
        rows.append((fields[0].strip(), *values, ", ".join(f.strip() for f in fields[4:])))
    if not rows:
        raise SiteError(f"{path.name} holds no points")
    return _as_built(path.name, rows, site, order)


def _split(line: str) -> list[str]:
    delimiter = max(",;\t", key=line.count)
    if ";" in line:
        delimiter = ";"
    return next(csv.reader([line], delimiter=delimiter))


def _number(text: str, decimal_comma: bool) -> float | None:
    text = text.strip()
    try:
        value = float(text.replace(",", ".") if decimal_comma else text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _as_built(name: str, rows: list[Any], site: Site, order: Order) -> gpd.GeoDataFrame:
    first, second, level = (np.array([r[k] for r in rows], float) * site.unit_m for k in (1, 2, 3))
    x, y = (second, first) if order == "PNEZD" else (first, second)
    west, south, east, north = _extent(site)
    inside = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    swapped = (y >= west) & (y <= east) & (x >= south) & (x <= north)
    if inside.sum() < len(rows) / 2:
        other = "PENZD" if order == "PNEZD" else "PNEZD"
        hint = (
            f"; northing and easting look swapped: read it with order {other}"
            if swapped.sum() > len(rows) / 2
            else f"; they should be in {site.crs.name}, in its own unit"
        )
        raise SiteError(
            f"{name}: {len(rows) - int(inside.sum())} of {len(rows)} points lie off the site{hint}"
        )
    return gpd.GeoDataFrame(
        {
            "fid": np.arange(1, len(rows) + 1),
            "point": [r[0] for r in rows],
            "level_m": level,
            "feature": [r[4] for r in rows],
        },
        geometry=gpd.points_from_xy(x, y),
        crs=site.crs_metric,
    )


def _extent(site: Site) -> tuple[float, float, float, float]:
    """Box round the site, half as large again on every side."""
    if site.ground is not None:
        west, south, east, north = site.ground.bounds
    else:
        west, south, east, north = (float(v) for v in site.layer("greens").total_bounds)
    wide = max(east - west, north - south, 500.0) / 2
    return west - wide, south - wide, east + wide, north + wide
