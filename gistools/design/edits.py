"""Edits to a site: features moved, raised or removed, and the ground that goes with them.

A mound takes its ground along, a bunker its hollow and lip: what the feature adds to the ground (its *relief*) is the
terrain less the smooth surface that meets it along the outline (Laplace's equation with the outline as boundary, as for
:func:`gistools.compute.terrain.screening.mound`). It is taken out at the old place and added to the ground at the new one, heights
between cells bilinear. Water, trees and structures move in plan alone.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import LEAST_RISE_M, laplace
from gistools.compute.terrain.surface import Floats, Surface
from gistools.hole.sight import LIP_M
from gistools.site.findings import Finding
from gistools.site.land_cover import feature_names
from gistools.site.model import Site
from gistools.site.types import ArrayTerrain

MOVABLE = ("mounds", "bunkers", "burns", "water", "trees", "structures")
WITH_GROUND = {"mounds": "rise", "bunkers": "hollow"}
IN_A_BED = {"burns": "channel", "water": "bed"}
CREST_LINE_M = 10.0  # a mound drawn as its crest line is taken to reach so far to each side (assumption)


@dataclass(frozen=True)
class Move:
    """A turn clockwise about a place, then a shift [m]."""

    east: float = 0.0
    north: float = 0.0
    turn_deg: float = 0.0
    about: tuple[float, float] = (0.0, 0.0)

    @property
    def _matrix(self) -> tuple[float, float, float, float, float, float]:
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        x, y = self.about
        return c, s, -s, c, x - c * x - s * y + self.east, y + s * x - c * y + self.north

    def shape(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry at its new place."""
        return affinity.affine_transform(geometry, self._matrix)

    def back(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return where points of the new place came from."""
        a, b, d, e, east, north = self._matrix
        dx, dy = x - east, y - north
        return a * dx + d * dy, b * dx + e * dy  # the transpose of a turn undoes it


@dataclass
class SiteEdits:
    """Changed tables and ground of a site; the site itself stays as it is."""

    site: Site
    tables: dict[str, Any] = field(default_factory=dict)
    surface: Surface | None = None
    findings: list[Finding] = field(default_factory=list)

    def apply(self, settings: Mapping[str, Any]) -> Site:
        """Return the changed site. Its findings name the features that moved in plan alone."""
        ground = None if self.surface is None else ArrayTerrain(self.surface)
        site = self.site.replace(ground=ground, settings=settings, **self.tables)
        return dataclasses.replace(site, findings=(*site.findings, *self.findings))

    def table(self, layer: str) -> Any:
        """Return a layer as it is now."""
        return self.tables.get(layer, self.site.layer(layer))

    def put(self, layer: str, row: int, shape: BaseGeometry) -> None:
        """Give a feature another geometry."""
        table = self.table(layer).copy()
        shapes = list(table.geometry)
        shapes[row] = shape
        table[table.geometry.name] = shapes
        self.tables[layer] = table

    def find(self, name: str) -> tuple[str, int]:
        """Return layer and row of a feature, by its name in results.

        Raises
        ------
        InputError
            If there is none of that name.
        """
        for layer in MOVABLE:
            names = feature_names(self.site)[layer]
            if name in names:
                fid = self.site.layer(layer)["fid"].iloc[names.index(name)]
                at = np.flatnonzero(self.table(layer)["fid"] == fid)
                if len(at):
                    return layer, int(at[0])
        raise InputError(f"there is no feature {name!r}; use the name shown in results")

    def move(self, name: str, *, shift: tuple[float, float] = (0.0, 0.0), turn_deg: float = 0.0) -> None:
        """Shift a feature, or turn it clockwise about its middle, with the ground it takes along.

        Raises
        ------
        InputError
            If there is no such feature, or its ground would leave the terrain.
        """
        layer, row = self.find(name)
        shape = self.table(layer).geometry.iloc[row]
        middle = (float(shape.centroid.x), float(shape.centroid.y))
        move = Move(float(shift[0]), float(shift[1]), float(turn_deg), middle)
        self._ground(layer, row, name, move)
        self.put(layer, row, move.shape(shape))

    def remove(self, name: str) -> None:
        """Leave a feature out: a mound is levelled, a bunker filled."""
        layer, row = self.find(name)
        self._ground(layer, row, name, None)
        self.tables[layer] = self.table(layer).drop(index=self.table(layer).index[row]).reset_index(drop=True)

    def lift(self, name: str, rise_m: float) -> None:
        """Raise (or lower) a mound's ground in a smooth bell over its outline.

        Raises
        ------
        InputError
            If it is not a mound.
        """
        layer, row = self.find(name)
        if layer != "mounds":
            raise InputError(f"{name!r} is not a mound; only mounds are raised or lowered here")
        ground = self.surface or self.site.surface()
        area = self._area(layer, row)
        i, j, xx, yy = _window(ground, area)
        z = ground.z.copy()
        z[i, j] += float(rise_m) * _bell(area, xx, yy)
        self.surface = ground.with_heights(z)

    def _ground(self, layer: str, row: int, name: str, move: Move | None) -> None:
        """Take the relief of a feature out of the ground, and lay it at its new place if it has one."""
        if self.site.ground is None:
            return
        if layer in WITH_GROUND:
            ground = self.surface or self.site.surface()
            try:
                bare, relief = remove_relief(ground, self._area(layer, row))
                if np.abs(relief.z).max() >= LEAST_RISE_M:
                    self.surface = bare if move is None else add_relief(bare, relief, move)
                    return
            except InputError as fault:
                raise InputError(f"{name}: {fault}") from fault
            self._warn(layer, row, f"the terrain holds no {WITH_GROUND[layer]} of it")
        elif layer in IN_A_BED:
            self._warn(layer, row, f"its {IN_A_BED[layer]} stays in the terrain where it was")

    def _warn(self, layer: str, row: int, text: str) -> None:
        fid = int(self.table(layer)["fid"].iloc[row])
        self.findings.append(Finding("warning", layer, fid, f"changed in plan alone: {text}"))

    def _area(self, layer: str, row: int) -> BaseGeometry:
        """Return the ground that belongs to a mound or bunker, without greens and tees."""
        shape = self.table(layer).geometry.iloc[row]
        if layer == "mounds":
            return shape if shape.area > 0 else shape.buffer(CREST_LINE_M)
        built = [g for name in ("greens", "tees") for g in self.table(name).geometry if g.area > 0]
        return shape.buffer(LIP_M).difference(shapely.union_all(built))


def remove_relief(ground: Surface, area: BaseGeometry) -> tuple[Surface, Surface]:
    """Take what rises or is sunk within an area out of the ground.

    Returns
    -------
    bare, relief
        The ground without it, on the same cells; and its height over that, on the cells round the area, 0 outside it.

    Raises
    ------
    InputError
        If the area reaches past the terrain or over missing heights.
    """
    i, j, xx, yy = _window(ground, area)
    inside = np.asarray(shapely.contains_xy(area, xx, yy), bool)
    old = ground.z[i, j]
    rim = np.concatenate([inside[0], inside[-1], inside[:, 0], inside[:, -1]])
    if rim.any() or not np.isfinite(old).all():
        raise InputError("its ground reaches past the terrain or over missing heights")
    z = ground.z.copy()
    if inside.any():
        z[i, j][inside] = laplace(old, inside)
    relief = ground.part(i, j).with_heights(old - z[i, j])
    return ground.with_heights(z), relief


def add_relief(bare: Surface, relief: Surface, move: Move) -> Surface:
    """Add a relief to the ground at its new place.

    Raises
    ------
    InputError
        If that lies past the terrain or on missing heights.
    """
    goal = move.shape(shapely.box(*relief.bounds))
    i, j, xx, yy = _window(bare, goal)
    add = np.nan_to_num(np.asarray(relief.height(*move.back(xx, yy))))
    west, south, east, north = bare.bounds
    moved = move.shape(_relief_box(relief)).bounds
    if moved[0] < west or moved[1] < south or moved[2] > east or moved[3] > north:
        raise InputError("its ground would be moved off the terrain")
    z = bare.z.copy()
    if np.isnan(z[i, j][add != 0]).any():
        raise InputError("its ground would be moved onto missing heights")
    z[i, j] += add
    return bare.with_heights(z)


def _relief_box(relief: Surface) -> BaseGeometry:
    """Return the box round the cells where a relief is not zero."""
    x, y = relief.centres()
    i, j = np.nonzero(relief.z)
    half = relief.cell / 2
    return shapely.box(x[j.min()] - half, y[i.max()] - half, x[j.max()] + half, y[i.min()] + half)


def _window(ground: Surface, area: BaseGeometry) -> tuple[slice, slice, Floats, Floats]:
    """Return rows and columns of the cells round an area and two beyond it, and the grids of their centres [m]."""
    i, j = ground.grid.window(area.bounds, 2 * ground.cell)
    part = ground.grid.part(i, j)
    if min(part.shape) < 2:
        raise InputError("it lies off the terrain")
    return i, j, *part.mesh()


def _bell(outline: BaseGeometry, x: Floats, y: Floats) -> Floats:
    """Return 1 at the innermost place of an outline, 0 at its edge and outside: smoothstep of the edge distance."""
    points = shapely.points(x, y)
    inside = shapely.contains(outline, points)
    depth = np.where(inside, shapely.distance(outline.boundary, points), 0.0)
    t = depth / depth.max() if depth.max() > 0 else depth
    return np.asarray(t * t * (3.0 - 2.0 * t))
