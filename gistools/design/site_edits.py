"""Edits to a site: features moved, raised or removed, and the ground that goes with them.

A mound takes its ground along, a bunker its hollow and lip: what the feature adds to the ground (its
*relief*) is the terrain less the smooth surface that meets it along the outline (Laplace's equation with the
outline as boundary, as for :func:`gistools.compute.terrain.screening.mound`). It is taken out at the old
place and added to the ground at the new one, heights between cells bilinear. A burn drawn as a line takes its
channel along (:mod:`gistools.design.channels`): dug anew with its depth, and so that its bed falls all the
way. Trees and structures move in plan alone. A feature that has proposed shapes of its name in the layer
``shapes`` moves with them, and the terrain stays.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import LEAST_RISE_M
from gistools.compute.terrain.shapes import Shape, depth_inside, ramp
from gistools.compute.terrain.shaping import shape_ground
from gistools.compute.terrain.surface import Floats, Surface
from gistools.design.channels import LEAST_DEPTH_M, Channel, dig, surveyed_channel
from gistools.design.places import Move
from gistools.design.relief import add_relief, bell, remove_relief, window_of
from gistools.hole.sight import LIP_M
from gistools.site.findings import Finding
from gistools.site.land_cover import feature_names
from gistools.site.model import Site
from gistools.site.schema import SURVEY_LAYERS
from gistools.site.types import ArrayTerrain

MOVABLE = (
    "mounds",
    "bunkers",
    "burns",
    "water",
    "greens",
    "trees",
    "structures",
    "tees",
    "pins",
    "fairway",
    "shapes",
)
#: what the terrain holds of a feature
WITH_GROUND = {
    "mounds": "rise",
    "bunkers": "hollow",
    "burns": "channel",
    "water": "bed",
    "greens": "contours",
}
NAMED_BY = {"tees": "tee", "pins": "pin", "shapes": "name"}
BANK_SLOPE = 0.25  # of a tee, green or burn that is raised (4:1, common practice, no source)
CREST_LINE_M = 10.0  # a mound drawn as its crest line is taken to reach so far to each side (assumption)


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

    def find(self, name: str, layer: str = "", hole: int | None = None) -> tuple[str, int]:
        """Return layer and row of a feature, by its name in results.

        Raises
        ------
        InputError
            If there is none of that name, or several on different holes.
        """
        for place in (layer,) if layer else MOVABLE:
            table = self.table(place)
            rows = [k for k, known in enumerate(self.names(place)) if known == name]
            if hole is not None and "hole" in table:
                rows = [
                    k for k in rows if pd.isna(table["hole"].iloc[k]) or int(table["hole"].iloc[k]) == hole
                ]
            if len(rows) > 1 and place in ("tees", "pins"):
                raise InputError(f"there are several {place} {name!r}; say of which hole")
            if rows:
                return place, rows[0]
        of = f" of hole {hole}" if hole is not None else ""
        known = sorted({n for place in ((layer,) if layer else MOVABLE) for n in self.names(place)} - {""})
        similar = difflib.get_close_matches(name, known, 3, 0.5)
        advice = f"did you mean {', '.join(similar)}?" if similar else "use the name shown in results"
        raise InputError(f"there is no feature {name!r}{of}; {advice}")

    def names(self, layer: str) -> list[str]:
        """Return the names of the features of a layer as it is now, in the order of its rows."""
        table = self.table(layer)
        if layer in NAMED_BY:
            return [str(v) for v in table[NAMED_BY[layer]]]
        surveyed = dict(zip(self.site.layer(layer)["fid"], feature_names(self.site)[layer], strict=True))
        named = table["name"] if "name" in table else [""] * len(table)
        return [surveyed.get(fid, str(n)) for fid, n in zip(table["fid"], named, strict=True)]

    def move(
        self,
        name: str,
        *,
        shift: tuple[float, float] = (0.0, 0.0),
        turn_deg: float = 0.0,
        factor: float = 1.0,
        layer: str = "",
        hole: int | None = None,
    ) -> None:
        """Shift, turn clockwise or scale a feature about its middle, with the ground it takes along.

        A green takes the hole locations on it along.

        Raises
        ------
        InputError
            If there is no such feature, or its ground would leave the terrain.
        """
        layer, row = self.find(name, layer, hole)
        shape = self.table(layer).geometry.iloc[row]
        middle = (float(shape.centroid.x), float(shape.centroid.y))
        move = Move(float(shift[0]), float(shift[1]), float(turn_deg), middle, float(factor))
        proposed = self._shapes_of(name) if layer != "shapes" else []
        pins = self.table("pins")
        on_green = [k for k, p in enumerate(pins.geometry) if layer == "greens" and shape.covers(p)]
        if not self._is_shaped(name, proposed):
            self._ground(layer, row, name, move)
        self.put(layer, row, move.shape(shape))
        for k in on_green:
            self.put("pins", k, move.shape(pins.geometry.iloc[k]))
        for k in [row] if layer == "shapes" else proposed:
            drawn = self.table("shapes")
            if layer != "shapes":
                self.put("shapes", k, move.shape(drawn.geometry.iloc[k]))
            fall = drawn["fall_to_deg"].iloc[k]
            if turn_deg and not pd.isna(fall):
                self._set("shapes", k, "fall_to_deg", (float(fall) + turn_deg) % 360.0)

    def remove(self, name: str, layer: str = "", hole: int | None = None) -> None:
        """Leave a feature out.

        A mound is levelled, a bunker or channel filled, proposed shapes of its name go.
        """
        layer, row = self.find(name, layer, hole)
        proposed = self._shapes_of(name) if layer != "shapes" else []
        if not self._is_shaped(name, proposed):
            self._ground(layer, row, name, None)
        self._drop(layer, [row])
        self._drop("shapes", proposed)

    def lift(self, name: str, rise_m: float, layer: str = "", hole: int | None = None) -> None:
        """Raise (or lower) the ground of a feature.

        Of a mound, bunker or pond in a smooth bell over its outline; a green or tee as a whole, with banks of
        4:1; a burn along its bed. A feature with proposed shapes of its name has those raised.

        Raises
        ------
        InputError
            If it is none of these, or the site has no terrain.
        """
        layer, row = self.find(name, layer, hole)
        proposed = [row] if layer == "shapes" else self._shapes_of(name)
        if self._is_shaped(name, proposed):
            for k in proposed[:1]:
                table = self.table("shapes")
                field = "rise_m" if pd.isna(table["level_m"].iloc[k]) else "level_m"
                before = table[field].iloc[k]
                self._set("shapes", k, field, (0.0 if pd.isna(before) else float(before)) + float(rise_m))
            return
        shape = self.table(layer).geometry.iloc[row]
        ground = self.ground()
        if layer == "burns" and shape.geom_type == "LineString":
            channel = self._channel(row, shape)
            if channel.mean_depth_m < LEAST_DEPTH_M:
                raise InputError(f"the terrain holds no channel of {name!r} to raise or lower")
            self.surface = dig(channel.filled, channel, Move(), lower_m=-float(rise_m))
        elif layer in ("greens", "tees") and shape.area > 0:
            width = abs(float(rise_m)) / BANK_SLOPE
            self._add(
                lambda part: rise_m * ramp(depth_inside(part, shape) + width, width, 0.0), shape.buffer(width)
            )
        elif layer in ("mounds", "bunkers", "water", "burns"):
            area = self._area(layer, row)
            i, j, xx, yy = window_of(ground, area)
            z = ground.z.copy()
            z[i, j] += float(rise_m) * bell(area, xx, yy)
            self.surface = ground.with_heights(z)
        else:
            raise InputError(
                f"{name!r} is in {layer}; only ground is raised or lowered: mounds, bunkers, burns,"
                f" greens, tees"
            )

    def add(self, layer: str, shape: BaseGeometry, **fields: Any) -> None:
        """Add a feature; its fields that are not given have their defaults."""
        table = self.table(layer)
        fid = int(max(table["fid"].max() if len(table) else 0, self.site.layer(layer)["fid"].max() or 0)) + 1
        spec = SURVEY_LAYERS[layer]
        row = {"fid": fid, **{f.name: fields.get(f.name, f.default) for f in spec.all_fields}}
        new = gpd.GeoDataFrame({k: [v] for k, v in row.items()}, geometry=[shape], crs=self.site.crs_metric)
        geometry = table.geometry.name
        if new.geometry.name != geometry:
            new = new.rename_geometry(geometry)
        self.tables[layer] = (
            gpd.GeoDataFrame(
                pd.concat([table.astype(object), new.astype(object)], ignore_index=True).infer_objects(),
                geometry=geometry,
                crs=self.site.crs_metric,
            )
            if len(table)
            else new
        )

    def shape(self, kind: str, geometry: BaseGeometry, **numbers: Any) -> None:
        """Lay a piece of shaping on the ground now."""
        if self.site.ground is None and self.surface is None:
            return
        ground = self.ground()
        margin = 40.0
        i, j, *_ = window_of(ground, geometry.buffer(margin))
        laid = shape_ground(ground.part(i, j), [Shape(kind, geometry, **numbers)])
        z = ground.z.copy()
        z[i, j] = laid.surface.z
        self.surface = ground.with_heights(z)

    def ground(self) -> Surface:
        """Return the ground as it is now."""
        return self.surface or self.site.surface()

    def _add(self, rise: Callable[[Surface], Floats], area: BaseGeometry) -> None:
        ground = self.ground()
        i, j, *_ = window_of(ground, area)
        z = ground.z.copy()
        z[i, j] += rise(ground.part(i, j))
        self.surface = ground.with_heights(z)

    def _shapes_of(self, name: str) -> list[int]:
        """Return the rows of the proposed shapes that carry a feature's name, or its name and a comma."""
        return [k for k, n in enumerate(self.names("shapes")) if n == name or n.startswith(f"{name},")]

    def _is_shaped(self, name: str, proposed: list[int]) -> bool:
        """Tell whether the ground of a feature is a proposed shape of just its name, not terrain."""
        known = self.names("shapes")
        return any(known[k] == name for k in proposed)

    def _set(self, layer: str, row: int, field: str, value: Any) -> None:
        table = self.table(layer).copy()
        values = list(table[field])
        values[row] = value
        table[field] = values
        self.tables[layer] = table

    def _drop(self, layer: str, rows: list[int]) -> None:
        if rows:
            table = self.table(layer)
            self.tables[layer] = table.drop(index=table.index[rows]).reset_index(drop=True)

    def _channel(self, row: int, shape: BaseGeometry) -> Channel:
        return surveyed_channel(self.ground(), shape, float(self.table("burns")["width_m"].iloc[row]))

    def _ground(self, layer: str, row: int, name: str, move: Move | None) -> None:
        """Take the relief of a feature out of the ground, and lay it at its new place if it has one."""
        if self.site.ground is None or layer not in WITH_GROUND:
            return
        shape = self.table(layer).geometry.iloc[row]
        try:
            if layer == "burns" and shape.geom_type == "LineString":
                channel = self._channel(row, shape)
                if channel.mean_depth_m >= LEAST_DEPTH_M:
                    self.surface = channel.filled if move is None else dig(channel.filled, channel, move)
                    return
            else:
                bare, relief = remove_relief(self.ground(), self._area(layer, row))
                if np.abs(relief.z).max() >= LEAST_RISE_M:
                    self.surface = bare if move is None else add_relief(bare, relief, move)
                    return
        except InputError as fault:
            raise InputError(f"{name}: {fault}") from fault
        self._warn(layer, row, f"the terrain holds no {WITH_GROUND[layer]} of it")

    def _warn(self, layer: str, row: int, text: str) -> None:
        fid = int(self.table(layer)["fid"].iloc[row])
        self.findings.append(Finding("warning", layer, fid, f"changed in plan alone: {text}"))

    def _area(self, layer: str, row: int) -> BaseGeometry:
        """Return the ground that belongs to a mound or bunker, without greens and tees."""
        shape = self.table(layer).geometry.iloc[row]
        if layer == "mounds":
            return shape if shape.area > 0 else shape.buffer(CREST_LINE_M)
        if layer == "greens":
            return shape.buffer(LIP_M)
        built = [g for name in ("greens", "tees") for g in self.table(name).geometry if g.area > 0]
        return shape.buffer(LIP_M).difference(shapely.union_all(built))
