"""Measured points: what comes back from the field, as text or LandXML."""

from __future__ import annotations

import csv
import math
import warnings
from pathlib import Path
from typing import Any, Literal

import geopandas as gpd
import numpy as np
from pyproj import CRS

from gistools.base.errors import GistoolsWarning, InputError, SiteError
from gistools.site._vector import RawLayer, layer_names, read_layer
from gistools.site.importing.landxml_ground import crs_of, landxml_root, named, unit_of
from gistools.site.model import Site

Order = Literal["PNEZD", "PENZD"]


def read_points(
    path: str | Path, site: Site, *, order: Order = "PNEZD", levels: bool = True
) -> gpd.GeoDataFrame:
    """Read measured points from LandXML (``.xml``, ``.landxml``), a GeoPackage (``.gpkg``) or else from text.

    Parameters
    ----------
    path
        The file.
    site
        Site the points belong to; points far off it stop the reading.
    order
        Order of the columns of text; LandXML always has the northing first.
    levels
        False where points without a level are read as well, with a level of ``nan``.

    Returns
    -------
    GeoDataFrame
        Rows of the layer ``as_built`` in metres.

    Raises
    ------
    SiteError
        If the file cannot be read, or its points do not belong to the site.
    """
    ending = Path(path).suffix.lower()
    if ending in (".xml", ".landxml"):
        return read_points_landxml(path, site, levels=levels)
    if ending == ".gpkg":
        return read_points_geopackage(path, site)
    return read_points_csv(path, site, order=order, levels=levels)


def read_points_landxml(path: str | Path, site: Site, *, levels: bool = True) -> gpd.GeoDataFrame:
    """Read the points (``CgPoint``) of a LandXML file: name, northing, easting, level, description, code.

    The unit is the one the file states. Points without a level are left out with a warning.

    Parameters
    ----------
    path
        The file.
    site
        Site the points belong to; points far off it stop the reading.
    levels
        False where points without a level are read as well, with a level of ``nan``.

    Returns
    -------
    GeoDataFrame
        Rows of the layer ``as_built`` in metres.

    Raises
    ------
    SiteError
        If the file cannot be read, has no points, or states another CRS than the site's.
    """
    path = Path(path)
    try:
        root = landxml_root(path)
    except OSError as fault:
        raise SiteError(f"{path.name} cannot be read: {fault.strerror}") from fault
    unit_m = unit_of(path, root)
    _refuse_other_crs(path, crs_of(root), site)
    rows, plan_only = [], []
    for point in named(root, "CgPoint"):
        name = point.get("name") or point.get("oID") or ""
        try:
            values = [float(v) for v in (point.text or "").split()]
        except ValueError:
            values = []
        if len(values) < 2 or not all(map(math.isfinite, values)):
            raise SiteError(
                f"{path.name}: point {name!r} should be northing, easting, level; it is {point.text!r}"
            )
        words = ", ".join(t for t in (point.get("desc"), point.get("code")) if t)
        if len(values) == 2 and not levels:
            rows.append((name, *values, math.nan, words))
        elif len(values) == 2:
            plan_only.append(name)
        else:
            rows.append((name, *values[:3], words))
    if plan_only:
        warnings.warn(
            f"{path.name}: {len(plan_only)} points without a level are left out, the first is {plan_only[0]}",
            GistoolsWarning,
            stacklevel=2,
        )
    if not rows:
        raise SiteError(f"{path.name} holds no points (CgPoint) with a level")
    return _as_built(path.name, rows, site, "PNEZD", unit_m)


def read_points_geopackage(path: str | Path, site: Site) -> gpd.GeoDataFrame:
    """Read measured points from a GeoPackage: its layer ``as_built``, or the only layer it has.

    The level is the field ``level_m`` [m], or the third coordinate of a point in the unit of the CRS.

    Parameters
    ----------
    path
        The file.
    site
        Site the points belong to; points far off it stop the reading.

    Returns
    -------
    GeoDataFrame
        Rows of the layer ``as_built`` in metres.

    Raises
    ------
    SiteError
        If the file cannot be read, has another CRS than the site, or a feature is no point with a level.
    """
    path = Path(path)
    layers = layer_names(path)
    name = "as_built" if "as_built" in layers else layers[0] if len(layers) == 1 else None
    if name is None:
        raise SiteError(f"{path.name} has no layer `as_built`, and several others: {', '.join(layers)}")
    raw = read_layer(path, name)
    _refuse_other_crs(path, raw.crs, site)
    rows = []
    for fid, fields, place in zip(raw.ids, raw.table.to_dict("records"), _points_of(raw), strict=True):
        if place is None or place.geom_type != "Point" or place.is_empty:
            raise SiteError(f"{path.name}, layer {name}, feature {fid}: it is no point")
        level = fields.get("level_m")
        z = float(level) / site.unit_m if level is not None else place.z if place.has_z else math.nan
        if not math.isfinite(z):
            raise SiteError(f"{path.name}, layer {name}, feature {fid}: it has no level (field level_m)")
        point = fields.get("point")
        words = fields.get("feature")
        rows.append((str(fid if point is None else point), place.y, place.x, z, str(words or "")))
    if not rows:
        raise SiteError(f"{path.name}, layer {name}, holds no points")
    return _as_built(path.name, rows, site, "PNEZD", site.unit_m)


def _points_of(raw: RawLayer) -> list[Any]:
    return list(raw.geometry) if raw.geometry is not None else [None] * len(raw.ids)


def _refuse_other_crs(path: Path, crs: CRS | None, site: Site) -> None:
    """Stop where a file states another CRS than the site's."""
    codes = [None if c is None else c.to_epsg() for c in (crs, site.crs)]
    if crs is not None and None not in codes and codes[0] != codes[1]:
        raise SiteError(
            f"{path.name} is in {crs.name} (EPSG:{codes[0]}), the site in {site.crs.name} "
            f"(EPSG:{codes[1]}): export the points in the CRS of the site"
        )


def read_points_csv(
    path: str | Path, site: Site, *, order: Order = "PNEZD", levels: bool = True
) -> gpd.GeoDataFrame:
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
    levels
        False where points without a level are read as well, with a level of ``nan``.

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
        if not levels and len(fields) >= 4 and not fields[3].strip():
            values[2] = math.nan
        if len(fields) < 4 or any(v is None for v in values):
            raise SiteError(
                f"{path.name}, line {number}: expected point,"
                f" {'northing, easting' if order == 'PNEZD' else 'easting, northing'},"
                f" level and a description, found {line.strip()[:80]!r}"
            )
        rows.append((fields[0].strip(), *values, ", ".join(f.strip() for f in fields[4:])))
    if not rows:
        raise SiteError(f"{path.name} holds no points")
    return _as_built(path.name, rows, site, order, site.unit_m)


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


def _as_built(name: str, rows: list[Any], site: Site, order: Order, unit_m: float) -> gpd.GeoDataFrame:
    first, second, level = (np.array([r[k] for r in rows], float) * unit_m for k in (1, 2, 3))
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
