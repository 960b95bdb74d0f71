"""Holes as this part works on them, gathered from the layers of a site and kept on it."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import GistoolsWarning, SiteError
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.corridors import Surroundings
from gistools.compute.layout.defaults import SNAP_M, TURN_SHARE
from gistools.compute.layout.fairways import merged, rings
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan
from gistools.compute.layout.lines_of_play import (
    PlayLine,
    derived_line,
    drawn_line,
    green_centre,
    tee_centre,
    turning_points,
)
from gistools.compute.layout.setbacks import Neighbour, fairway_stretch
from gistools.compute.terrain.surface import Surface
from gistools.site.land_cover import areas, feature_names, hazards
from gistools.site.model import Site

PATHS = {"public": "public path", "road": "road"}
STRUCTURES = {"road": "road", "shelter": "shelter", "wall": "", "pylon": ""}


def green_of(site: Site, number: int) -> Any:
    """Outline of a hole's green; of several the largest."""
    return max(site.layer("greens", number).geometry, key=lambda g: g.area)


def play_lines(
    site: Site, number: int, snap_m: float = SNAP_M, turn_share: float = TURN_SHARE
) -> list[tuple[str, int, PlayLine]]:
    """Tee, its fid and its line of play, for each tee of a hole.

    Raises
    ------
    SiteError
        If the hole has no tee.
    """
    key = ("layout.lines", number, snap_m, turn_share)
    if key not in site.memo:
        site.memo[key] = _play_lines(site, number, snap_m, turn_share)
    found: list[tuple[str, int, PlayLine]] = site.memo[key]
    return found


def _play_lines(site: Site, number: int, snap_m: float, turn_share: float) -> list[tuple[str, int, PlayLine]]:
    tees = site.layer("tees", number)
    if len(tees) == 0:
        raise SiteError(
            f"hole {number} has no tee in the layer `tees`; draw one and give it the hole's number"
        )
    green = green_of(site, number)
    centre = green_centre(green)
    centres = np.array([tee_centre(t) for t in tees.geometry])
    drawn = site.layer("play_lines", number)
    turns: tuple[Any, str] | None = None
    found = []
    for name, fid, place in zip(tees["tee"], tees["fid"], centres, strict=True):
        tee = f"tee {fid}" if pd.isna(name) else str(name)
        if np.hypot(*(place - centre)) < 1.0:
            raise SiteError(
                f"tees, feature {fid}: it lies on the centre of the green of hole {number}; move it"
            )
        row, own = _drawn_for(drawn, tee)
        if row is not None:
            points = np.asarray(row.geometry.coords)[:, :2]
            line, doubts = drawn_line(points, place, centre, green, snap_m=snap_m, for_one_tee=own)
            for doubt in doubts:
                text = f"play_lines, feature {row.fid}: the line of hole {number} {doubt} ({tee})"
                warnings.warn(f"{text}; correct the drawing or the tee", GistoolsWarning, stacklevel=2)
        else:
            if turns is None:
                parts = [merged(list(site.layer("fairway", number).geometry))]
                turns = turning_points(centres, centre, parts[0], share=turn_share)
            line = derived_line(place, turns[0], centre, turns[1])
        found.append((tee, int(fid), line))
    return found


def _drawn_for(drawn: Any, tee: str) -> tuple[Any, bool]:
    """The line drawn for a tee and True, else the line drawn for all tees and False, else None."""
    shared = None
    for row in drawn.itertuples():
        named = "" if pd.isna(row.tee) else str(row.tee).strip().casefold()
        if named == tee.strip().casefold():
            return row, True
        if named == "" and shared is None:
            shared = row
    return shared, False


def hole_of(site: Site, number: int) -> Hole:
    """Plan of a hole, with the lines of play of all its tees."""
    key = ("layout.hole", number)
    if key not in site.memo:
        site.memo[key] = _hole_of(site, number)
    found: Hole = site.memo[key]
    return found


def _hole_of(site: Site, number: int) -> Hole:
    outlines = dict(zip(site.layer("tees")["fid"], site.layer("tees").geometry, strict=True))
    near = hazards(site, number)
    return Hole(
        number,
        [f for f, h in _features(site, "fairway") if h == number],
        green_of(site, number),
        [
            Feature(str(name), str(layer), int(fid), shape)
            for name, layer, fid, shape in zip(
                near["feature"], near["layer"], near["fid"], near.geometry, strict=True
            )
        ],
        [
            TeePlan(tee, fid, outlines[fid], Alignment(line.points))
            for tee, fid, line in play_lines(site, number)
        ],
    )


def _features(site: Site, layer: str) -> list[tuple[Feature, int | None]]:
    """Features of a layer as areas, with the hole they carry."""
    table = site.layer(layer)
    holes = table["hole"] if "hole" in table else [None] * len(table)
    return [
        (Feature(name, layer, int(fid), shape), None if pd.isna(hole) else int(hole))
        for name, fid, shape, hole in zip(
            feature_names(site)[layer], table["fid"], areas(site, layer), holes, strict=True
        )
    ]


def surface_of(site: Site, number: int) -> Surface | None:
    """Terrain round a hole, or None where the site has none there."""
    key = ("layout.surface", number)
    if key not in site.memo:
        try:
            site.memo[key] = site.surface(site.hole_bounds(number)) if site.ground is not None else None
        except SiteError:
            site.memo[key] = None
    found: Surface | None = site.memo[key]
    return found


def surroundings(site: Site, number: int) -> Surroundings:
    """Trees, boundary and features of other holes."""
    others = [
        f
        for layer in ("fairway", "greens", "tees")
        for f, hole in _features(site, layer)
        if hole not in (None, number)
    ]
    return Surroundings(
        [f for f, _ in _features(site, "trees")],
        [Feature(f.feature, f.layer, f.fid, rings(f.geometry)) for f, _ in _features(site, "boundary")],
        others,
    )


def neighbours(site: Site) -> list[Neighbour]:
    """Everything on the site that play has to keep clear of."""
    found: list[Neighbour] = []
    for f, _ in _features(site, "boundary"):
        outline = Feature(f.feature, f.layer, f.fid, rings(f.geometry))
        found.append(Neighbour("boundary", None, outline))
    for layer, kinds, plain in (("paths", PATHS, "cart path"), ("structures", STRUCTURES, "structure")):
        for (f, _), kind in zip(_features(site, layer), site.layer(layer)["kind"], strict=True):
            named = kinds.get(str(kind).strip().casefold(), plain)
            if named:
                found.append(Neighbour(named, None, f))
    for layer, kind in (("tees", "tee"), ("greens", "green")):
        found.extend(Neighbour(kind, hole, f) for f, hole in _features(site, layer))
    for number in site.holes:
        hole = hole_of(site, number)
        line = Feature(
            f"line of play, hole {number}", "tees", hole.main.fid, fairway_stretch(hole, hole.main)
        )
        found.append(Neighbour("line of play", number, line))
    return found
