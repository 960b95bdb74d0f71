"""What covers the ground: every cell's kind and feature, the names of features, the hazards of a hole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.base.errors import SiteError
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site.model import Site
from gistools.site.schema import SURVEY_LAYERS

#: layer -> (kind, what one of its features is called); painted in this order, the later over the earlier.
#: Crowns count only where the ground below is not mown or built; sand and water are cut into what is around
#: them; water fills whatever it meets. The order is an assumption, stated in the documentation.
_PAINT: dict[str, tuple[Kind, str]] = {
    "trees": (Kind.TREES, "tree"),
    "fairway": (Kind.FAIRWAY, "fairway"),
    "tees": (Kind.TEE, "tee"),
    "paths": (Kind.PATH, "path"),
    "greens": (Kind.GREEN, "green"),
    "bunkers": (Kind.SAND, "bunker"),
    "water": (Kind.WATER, "water"),
    "burns": (Kind.WATER, "burn"),
}
_HAZARDS = ("bunkers", "water", "burns")
_THICKET = "trees"
_SINGULAR = {"mounds": "mound", "structures": "structure", **{k: v[1] for k, v in _PAINT.items()}}
#: an open boundary line is carried on straight for this length at both ends (assumption)
_CARRIED_ON_M = 5000.0


@dataclass(frozen=True, eq=False)
class Cover:
    """What covers each cell of a surface, on the same grid.

    Attributes
    ----------
    kind
        ``(rows, cols)`` ``uint8`` codes of :class:`gistools.base.cover_classes.Kind`: what is at the centre
        of the cell.
    feature
        ``(rows, cols)`` ``int16`` position in ``names``, -1 where no feature covers the cell.
    names
        Names of features, unique in the site; those of :func:`feature_names`.
    """

    kind: NDArray[np.uint8]
    feature: NDArray[np.int16]
    names: tuple[str, ...]


def cover(site: Site, surface: Surface) -> Cover:
    """Return what covers each cell of a surface.

    A cell is what is at its centre: rough, unless a survey layer covers it. Where layers overlap the later
    wins: trees, fairway, tees, paths, greens, bunkers, water, burns, and beyond the boundary out of
    bounds. Cells without height are off the map. Lines (burns, paths) are as wide as their ``width_m``,
    single trees as wide as their ``crown_m``. A burn narrower than a cell may leave gaps: choose the cell to
    suit.

    Parameters
    ----------
    site
        The site.
    surface
        The terrain of a window; only its grid and its missing cells matter.

    Notes
    -----
    Remembered on the site for each grid; treat the arrays as read-only.
    """
    missing = np.isnan(surface.z)
    grid = (surface.x_west, surface.y_north, surface.cell, missing.shape)
    key = ("cover", *grid, hash(np.packbits(missing).tobytes()))
    return site.remember(key, lambda: _painted(site, surface, missing))


def _painted(site: Site, surface: Surface, missing: NDArray[np.bool_]) -> Cover:
    rows, cols = missing.shape
    place = (rows, cols, surface.x_west, surface.y_north, surface.cell)
    window = shapely.box(*surface.bounds)
    named = feature_names(site)
    names: dict[str, int] = {}
    kinds: list[int] = []
    shapes: list[tuple[Any, int]] = []
    for layer, (kind, _) in _PAINT.items():
        for name, shape in zip(named[layer], areas(site, layer), strict=True):
            if shape.intersects(window):
                if name not in names:
                    names[name] = len(names)
                    kinds.append(int(kind))
                shapes.append((shape, names[name] + 1))
    if len(names) >= np.iinfo(np.int16).max:
        raise SiteError(
            f"{len(names)} features lie in one window; work hole by hole, or draw thickets as areas"
        )
    painted = _raster.rasterize(shapes, *place, dtype="int16")
    kind_of = np.array([int(Kind.ROUGH), *kinds], dtype=np.uint8)
    ground: NDArray[np.uint8] = kind_of[painted]
    feature: NDArray[np.int16] = (painted - 1).astype(np.int16)
    inside = in_bounds(site)
    if inside is not None and not inside.covers(window):
        out = _raster.rasterize([(inside, 1)], *place) == 0
        ground[out], feature[out] = Kind.OUT, -1
    ground[missing], feature[missing] = Kind.OFF_MAP, -1
    ground.flags.writeable = feature.flags.writeable = False
    return Cover(ground, feature, tuple(names))


def areas(site: Site, layer: str) -> list[Any]:
    """Return what the features of a layer cover [m].

    Polygons as drawn, lines and single trees as wide as their field says.
    """
    table = site.layer(layer)
    return list(_areas(table))


def _areas(table: Any) -> Iterator[Any]:
    for row, shape in enumerate(table.geometry):
        if shape.geom_type == "Point" and "crown_m" in table:
            yield shape.buffer(float(table["crown_m"].iloc[row]) / 2, quad_segs=16)
        elif shape.geom_type == "LineString" and "width_m" in table:
            yield shape.buffer(float(table["width_m"].iloc[row]) / 2, quad_segs=16, cap_style="flat")
        else:
            yield shape


def feature_names(site: Site) -> dict[str, list[str]]:
    """Return a name for people for each feature of each layer, unique in the site, in the order of the rows.

    The surveyor's name where there is one; else by kind and hole ("green, hole 1") or kind and id ("bunker
    12"). Names holes_by_name on several holes get the hole behind them, those holes_by_name twice on one
    hole a count. Unnamed trees share the name "trees".
    """
    return site.remember("feature_names", lambda: _named(site))


def _named(site: Site) -> dict[str, list[str]]:
    layers = {layer: _bare_names(site, layer) for layer in SURVEY_LAYERS}
    holes = {layer: _holes(site.layer(layer)) for layer in SURVEY_LAYERS}
    holes_by_name: dict[str | None, set[Any]] = {}
    for layer, names in layers.items():
        for name, hole in zip(names, holes[layer], strict=True):
            holes_by_name.setdefault(name, set()).add(hole)
    taken = Counter({_THICKET: 1})
    done: dict[str, list[str]] = {}
    for layer, names in layers.items():
        done[layer] = []
        for name, hole in zip(names, holes[layer], strict=True):
            if name is None:
                name = _THICKET
            else:
                if len(holes_by_name[name]) > 1 and hole is not None:
                    name = f"{name}, hole {hole}"
                name = _uncounted(name, taken)
            done[layer].append(name)
    return done


def _uncounted(name: str, taken: Counter[str]) -> str:
    """Return the name, with the first count behind it that makes it new."""
    taken[name] += 1
    if taken[name] == 1:
        return name
    return _uncounted(f"{name} ({taken[name]})", taken)


def _bare_names(site: Site, layer: str) -> list[str | None]:
    table = site.layer(layer)
    given = table["name"] if "name" in table else [None] * len(table)
    noun = _SINGULAR.get(layer, layer.removesuffix("s").replace("_", " "))
    names: list[str | None] = []
    for row, (name, hole, fid) in enumerate(zip(given, _holes(table), table["fid"], strict=True)):
        if isinstance(name, str) and name.strip():
            names.append(name.strip())
        elif layer == "trees":
            names.append(None)
        elif layer == "tees" and isinstance(table["tee"].iloc[row], str):
            names.append(f"{table['tee'].iloc[row]} tee, hole {hole}")
        elif SURVEY_LAYERS[layer].hole == "must" and hole is not None:
            names.append(f"{noun}, hole {hole}")
        else:
            names.append(f"{noun} {fid}")
    return names


def _holes(table: Any) -> list[int | None]:
    if "hole" not in table:
        return [None] * len(table)
    return [None if pd.isna(h) else int(h) for h in table["hole"]]


def in_bounds(site: Site) -> Any:
    """Return the area in bounds [m], or None where there is no boundary.

    Boundary polygons hold the course inside. Boundary lines part the plane, open ones carried on straight at
    their ends; the parts that hold a tee, a fairway or a green are in bounds.
    """
    return site.remember("in_bounds", lambda: _in_bounds(site))


def _in_bounds(site: Site) -> Any:
    drawn = list(site.layer("boundary").geometry)
    outlines = [g for g in drawn if g.geom_type == "Polygon"]
    if outlines:
        return shapely.union_all(outlines)
    if not drawn:
        return None
    inside = [g.representative_point() for n in ("tees", "fairway", "greens") for g in site.layer(n).geometry]
    around = shapely.union_all([*drawn, *inside]).envelope.buffer(_CARRIED_ON_M / 2, join_style="mitre")
    edges = shapely.union_all([*(_carried_on(line) for line in drawn), around.exterior])
    parts = list(shapely.polygonize([edges]).geoms)
    inner = [part for part in parts if any(part.covers(point) for point in inside)]
    return shapely.union_all(inner) if len(inner) < len(parts) else None


def _carried_on(line: Any) -> Any:
    if line.is_closed:
        return line
    xy = shapely.get_coordinates(line)
    start, end = xy[0] - xy[1], xy[-1] - xy[-2]
    first = xy[0] + start / np.hypot(*start) * _CARRIED_ON_M
    last = xy[-1] + end / np.hypot(*end) * _CARRIED_ON_M
    return shapely.LineString([first, *xy, last])


def hazards(site: Site, hole: int) -> gpd.GeoDataFrame:
    """Return the hazards of a hole as areas [m]: bunkers, water and burns.

    Those that carry the hole's number, and those without a number that lie near it
    (:meth:`gistools.site.model.Site.around`).

    Returns
    -------
    GeoDataFrame
        ``feature`` (name, see :func:`feature_names`), ``layer``, ``fid`` (id in the survey layer), ``kind``
        (code of :class:`gistools.base.cover_classes.Kind`) and the area.
    """
    rows: dict[str, list[Any]] = {c: [] for c in ("feature", "layer", "fid", "kind", "geometry")}
    for layer in _HAZARDS:
        table = site.layer(layer)
        nearby = set(site.around(layer, hole).index)
        holes = _holes(table)
        named, shapes = feature_names(site)[layer], areas(site, layer)
        for row, index in enumerate(table.index):
            if holes[row] == hole or (holes[row] is None and index in nearby):
                values = (named[row], layer, int(table["fid"].iloc[row]), int(_PAINT[layer][0]), shapes[row])
                for column, value in zip(rows, values, strict=True):
                    rows[column].append(value)
    typed = {
        "feature": pd.Series(rows["feature"], dtype=object),
        "layer": pd.Series(rows["layer"], dtype=object),
        "fid": pd.Series(rows["fid"], dtype="int64"),
        "kind": pd.Series(rows["kind"], dtype="int64"),
    }
    return gpd.GeoDataFrame(typed, geometry=gpd.GeoSeries(rows["geometry"], crs=site.crs_metric))
