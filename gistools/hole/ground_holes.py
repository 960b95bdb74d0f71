"""Holes as the steps of the ground work on them, gathered from the layers of a site and kept on it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import SiteError
from gistools.compute.terrain.defaults import TREES
from gistools.compute.terrain.surface import Surface
from gistools.hole.ground_gather import Hole, Named, Pin, Places, Tee, centre, things_of
from gistools.site.land_cover import areas, feature_names, in_bounds
from gistools.site.model import Site
from gistools.steps.catalogue import need


def _named(site: Site, layer: str, table: Any) -> list[str]:
    """Names of the rows of a part of a layer."""
    every = dict(zip(site.layer(layer)["fid"], feature_names(site)[layer], strict=True))
    return [every[fid] for fid in table["fid"]]


def hole_of(site: Site, number: int) -> Hole:
    """Gather a hole, once per site."""
    key = ("ground.hole", number)
    if key not in site.memo:
        site.memo[key] = _gathered(site, number)
    found: Hole = site.memo[key]
    return found


def _gathered(site: Site, number: int) -> Hole:
    greens = site.layer("greens", number)
    green = greens.iloc[int(greens.geometry.area.argmax())]
    surface = site.surface(site.hole_bounds(number))
    lines = need(site, "lines_of_play", hole=number).sort_values("length_m", ascending=False, kind="stable")
    zones = need(site, "zones", hole=number)["zones"]
    near = {
        layer: site.around(layer, number)
        for layer in ("mounds", "bunkers", "greens", "tees", "fairway", "trees", "structures")
    }
    names = {layer: _named(site, layer, table) for layer, table in near.items()}
    window = shapely.box(*site.hole_bounds(number))
    sand, water = (
        shapely.union_all([a for layer in layers for a in areas(site, layer) if a.intersects(window)])
        for layers in (("bunkers",), ("burns", "water"))
    )
    return Hole(
        number=number,
        surface=surface,
        green=green.geometry,
        green_fid=int(green["fid"]),
        stimp_ft=float(green["stimp_ft"]),
        fairway=shapely.union_all(list(site.layer("fairway", number).geometry)),
        sand=sand,
        water=water,
        in_bounds=in_bounds(site),
        tees=[
            Tee(str(tee), way.coords[0][:2], shapely.get_coordinates(way))
            for tee, way in zip(lines["tee"], lines.geometry, strict=True)
        ],
        zones=list(zip(zones["zone"].astype(str), zones.geometry, strict=True)),
        pins=_pins(site, number, green.geometry, surface),
        places=Places.of(near, names),
        things={
            which: things_of(near["trees"], near["structures"], names["trees"], names["structures"], which)
            for which in TREES
        },
    )


def _pins(site: Site, number: int, green: BaseGeometry, surface: Surface) -> list[Pin]:
    """Hole locations; the centre of the green where none is drawn. One off the terrain stops the step."""
    pins = [
        Pin(f"pin {r.fid}" if pd.isna(r.pin) else str(r.pin), int(r.fid), r.geometry)
        for r in site.layer("pins", number).itertuples()
    ] or [Pin("centre", None, Point(*centre(green)))]
    for pin in pins:
        if not np.isfinite(surface.height(pin.place.x, pin.place.y)):
            raise SiteError(
                f"pins, feature {pin.fid}: {pin.name} of hole {number} lies outside the terrain or where heights are"
                " missing; give terrain that covers the green, or move the pin"
            )
    return pins


def crests_of(site: Site, hole: Hole, layer: str, fid: int | None) -> list[tuple[BaseGeometry, Named]]:
    """Features near a hole whose crest can be raised or lowered: those of `mounds`, or the lines of another layer.

    Raises
    ------
    SiteError
        If the one asked for is not in the layer near any hole's ground, or is neither a line nor a mound.
    """
    table = site.around(layer, hole.number)
    names = _named(site, layer, table)
    found: list[tuple[BaseGeometry, Named]] = []
    for row, name in zip(table.itertuples(), names, strict=True):
        asked = fid is not None and int(row.fid) == fid
        line = row.geometry.geom_type == "LineString"
        if asked and not line and layer != "mounds":
            raise SiteError(
                f"{layer}, feature {fid} ({name}) is a {row.geometry.geom_type.lower()}: draw its crest as a line, or its"
                " outline in the layer mounds"
            )
        if asked or (fid is None and (line or layer == "mounds")):
            found.append((row.geometry, Named(name, layer, int(row.fid))))
    return found
