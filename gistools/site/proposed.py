"""The proposed ground: the surveyed terrain with the designer's shapes laid on it.

``proposed_site(site)`` is a Site like any other, so every step runs on the proposed ground; its ``existing``
is the surveyed terrain.
"""

from __future__ import annotations

import dataclasses
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from gistools.base.errors import GistoolsWarning, InputError, SiteError
from gistools.compute.terrain.shapes import Shape, in_order
from gistools.compute.terrain.shaping import Shaped, ShapeReport, shape_ground
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site._file import look_inside
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.schema import TERRAIN_PROPOSED
from gistools.site.terrain import RasterTerrain, UnknownHeightUnit, open_terrain
from gistools.site.types import Bounds, TerrainSource

#: ground read round a group of shapes at first [m]; doubled until their banks have met the ground
MARGIN_M = 40.0


@dataclass(frozen=True, eq=False)
class PatchedTerrain:
    """Terrain with some windows of it replaced by shaped ground."""

    base: TerrainSource
    patches: tuple[Surface, ...]

    @property
    def bounds(self) -> Bounds:
        """Outer edges [m]."""
        return self.base.bounds

    @property
    def cell(self) -> float:
        """Side of a cell [m]."""
        return self.base.cell

    def surface(self, bounds: Bounds | None = None) -> Surface:
        """Return the terrain of a window with the shaped cells in it."""
        base = self.base.surface(bounds)
        z = base.z.copy()
        rows, cols = z.shape
        for patch in self.patches:
            j = round((patch.x_west - base.x_west) / base.cell)
            i = round((base.y_north - patch.y_north) / base.cell)
            i0, j0 = max(i, 0), max(j, 0)
            i1, j1 = min(i + patch.z.shape[0], rows), min(j + patch.z.shape[1], cols)
            if i1 > i0 and j1 > j0:
                z[i0:i1, j0:j1] = patch.z[i0 - i : i1 - i, j0 - j : j1 - j]
        return Surface(z, base.x_west, base.y_north, base.cell)


def shapes_of(site: Site, hole: int | None = None) -> list[Shape]:
    """Return the shapes drawn in the layer ``shapes``, in the order they are applied.

    Those of one hole, or all. A shape without a hole number belongs to the nearest hole.

    Raises
    ------
    SiteError
        Naming the feature whose fields cannot be.
    """
    table = site.layer("shapes")
    if hole is not None:
        table = table[np.array(holes_of(site, table)) == hole] if len(table) else table
    return in_order([_shape(row) for row in table.to_dict("records")])


def holes_of(site: Site, table: Any) -> list[int]:
    """Return the hole each feature belongs to: its own number, or that of the nearest hole."""
    numbers = pd.to_numeric(table["hole"]) if "hole" in table else pd.Series(np.nan, index=table.index)
    if not numbers.isna().any():
        return [int(h) for h in numbers]
    names = np.array(site.holes)
    grounds = [
        shapely.union_all([*site.layer("fairway", h).geometry, *site.layer("greens", h).geometry])
        for h in names
    ]
    away = shapely.distance(np.asarray(table.geometry.array)[:, None], np.array(grounds)[None, :])
    nearest = names[away.argmin(axis=1)]
    return [int(n) if np.isnan(h) else int(h) for h, n in zip(numbers.to_numpy(float), nearest, strict=True)]


def _shape(row: dict[str, Any]) -> Shape:
    fields = {k: v for k, v in row.items() if k != "geometry" and not pd.isna(v)}
    numbers = ("rise_m", "level_m", "side_slope_pct", "blend_m", "width_m", "fall_pct", "fall_to_deg")
    try:
        return Shape(
            kind=str(fields.get("kind", "")).strip().lower(),
            geometry=row["geometry"],
            name=str(fields.get("name", "")),
            fid=fields.get("fid"),
            order=int(fields.get("order", 0)),
            hole=int(fields["hole"]) if "hole" in fields else None,
            **{n: float(fields[n]) for n in numbers if n in fields},
        )
    except InputError as fault:
        raise SiteError(f"layer `shapes`, feature {fields.get('fid')}: {fault}") from fault


def shaped(site: Site, hole: int | None = None) -> list[Shaped]:
    """Lay a site's shapes on its terrain: one result for each group of shapes whose windows touch.

    Computed once per site and hole.

    Raises
    ------
    SiteError
        If the site has no terrain, or a shape cannot be laid.
    """
    try:
        return site.remember(("proposed", "shaped", hole), lambda: _lay(site, shapes_of(site, hole)))
    except InputError as fault:
        raise SiteError(f"layer `shapes`: {fault}") from fault


def _lay(site: Site, shapes: list[Shape]) -> list[Shaped]:
    if not shapes:
        return []
    ground = site.existing or site.ground
    if ground is None:
        raise SiteError("the site has no terrain to lay shapes on")
    margins = [MARGIN_M] * len(shapes)
    while True:
        groups = _groups([_box(s, m) for s, m in zip(shapes, margins, strict=True)])
        results, done = [], True
        for members in groups:
            boxes = [_box(shapes[k], margins[k]) for k in members]
            bounds = union_of(boxes)
            result = shape_ground(ground.surface(bounds), [shapes[k] for k in members])
            results.append(result)
            if result.reaches_edge and not _covers(bounds, ground.bounds):
                done = False
                for k in members:
                    margins[k] *= 2
        if done:
            return results


def _box(shape: Shape, margin: float) -> Bounds:
    west, south, east, north = shape.geometry.bounds
    return (west - margin, south - margin, east + margin, north + margin)


def union_of(boxes: list[Bounds]) -> Bounds:
    """Return the box round boxes."""
    a = np.array(boxes)
    west, south = a[:, :2].min(axis=0).tolist()
    east, north = a[:, 2:].max(axis=0).tolist()
    return (west, south, east, north)


def _covers(outer: Bounds, inner: Bounds) -> bool:
    return outer[0] <= inner[0] and outer[1] <= inner[1] and outer[2] >= inner[2] and outer[3] >= inner[3]


def _groups(boxes: list[Bounds]) -> list[list[int]]:
    """Put boxes into groups so that the boxes *round* the groups do not meet; members stay in order."""
    areas = shapely.box(*np.array(boxes).T)
    whole = areas
    while True:
        joined = shapely.envelope(shapely.get_parts(shapely.unary_union(whole)))
        if len(joined) == len(whole):
            break
        whole = joined
    within = shapely.STRtree(whole).query(areas, predicate="within")
    return [within[0][within[1] == k].tolist() for k in range(len(whole))]


def reports_of(site: Site, hole: int | None = None) -> list[ShapeReport]:
    """Return what each shape did, in the order of application."""
    done = {id(r.shape): r for group in shaped(site, hole) for r in group.reports}
    return [done[id(shape)] for shape in in_order([r.shape for r in done.values()])]


def proposed_site(site: Site, *, hole: int | None = None) -> Site:
    """Return the site as it will be: its ground is the proposed one, ``existing`` the surveyed one.

    A raster table ``terrain_proposed`` in the site file is the proposed ground; without one, the shapes of
    the layer ``shapes`` are laid on the terrain, those of one hole or all. The raster wins where both are
    there, and a warning says so. A site that is already a proposed one comes back as it is; one with nothing
    proposed has the same ground twice.

    Parameters
    ----------
    site
        An open site.
    hole
        Only the shapes of this hole; by default all.

    Returns
    -------
    Site
        The site with the proposed ground.

    Raises
    ------
    SiteError
        If the site has no terrain, or a shape cannot be laid.
    """
    if site.existing is not None:
        return site

    def make() -> Site:
        ground = _stored(site)
        if ground is None:
            results = shaped(site, hole)
            if site.ground is None:
                raise SiteError("the site has no terrain to lay shapes on")
            ground = (
                PatchedTerrain(site.ground, tuple(r.surface for r in results)) if results else site.ground
            )
        return dataclasses.replace(site, ground=ground, existing=site.ground, memo={})

    return site.remember(("proposed", "site", hole), make)


def is_stored(site: Site) -> bool:
    """Tell whether the proposed ground is the raster in the file, rather than made from shapes."""
    return _stored(site) is not None


def _stored(site: Site) -> TerrainSource | None:
    """Return the raster table ``terrain_proposed`` of the site's file, if it has one."""
    return site.remember(("proposed", "stored"), lambda: _open_stored(site))


def _open_stored(site: Site) -> TerrainSource | None:
    if site.path is None or site.existing is not None or not site.path.exists():
        return None
    table = look_inside(site.path).find(TERRAIN_PROPOSED)
    if table is None:
        return None
    try:
        ground, _ = open_terrain(site.path, table.name, site.crs, site.unit_m)
    except UnknownHeightUnit:
        if not isinstance(site.ground, RasterTerrain):
            raise
        info = _raster.describe(site.path, table.name)
        ground = RasterTerrain(site.path, table.name, info, site.unit_m, site.ground.height_m)
    if len(site.layer("shapes")):
        warnings.warn(
            (
                f"the raster `{TERRAIN_PROPOSED}` is taken as the proposed ground; the layer `shapes` is"
                f" not laid again"
            ),
            GistoolsWarning,
            stacklevel=2,
        )
    return ground


def proposed_map(site: Site, *, hole: int | None = None, name: str = TERRAIN_PROPOSED) -> Map:
    """Return the proposed ground round a hole (or of the whole site) as a map that can be written."""
    ground = proposed_site(site, hole=hole)
    s = ground.surface(site.hole_bounds(hole) if hole is not None else None)
    text, keys = "proposed ground, shapes laid on it", {} if hole is None else {"hole": hole}
    return Map(name, s.z.astype(np.float32), s.x_west, s.y_north, s.cell, "m", text, keys)
