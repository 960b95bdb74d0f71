"""Plan geometry of a hole from the survey layers: lines of play, features, what lies round it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import GistoolsWarning, SiteError
from gistools.compute.layout.corridors import Surroundings
from gistools.compute.layout.fairways import merged, rings
from gistools.compute.layout.hole_plan import Feature, Hole
from gistools.compute.layout.lines_of_play import (
    PlayLine,
    derived_line,
    drawn_line,
    green_centre,
    tee_centre,
    turning_points,
)
from gistools.compute.layout.setbacks import Neighbour, fairway_stretch
from gistools.site.land_cover import areas, feature_names
from gistools.site.model import Site

PATHS = {"public": "public path", "road": "road"}
STRUCTURES = {"road": "road", "shelter": "shelter", "wall": "", "pylon": ""}


@dataclass(frozen=True)
class TeeLine:
    """A tee, its feature id, and the line of play from it."""

    tee: str
    fid: int
    line: PlayLine


@dataclass(frozen=True)
class Pin:
    """A hole location: name, feature id (None for the centre of the green), place."""

    name: str
    fid: int | None
    place: Point


def tee_lines(site: Site, number: int, green: BaseGeometry) -> list[TeeLine]:
    """Return the line of play from each tee of a hole: drawn for it, drawn for all tees, or derived.

    Raises
    ------
    SiteError
        If the hole has no tee, or one on the centre of its green.
    """
    tees = site.layer("tees", number)
    if len(tees) == 0:
        raise SiteError(
            f"hole {number} has no tee in the layer `tees`; draw one and give it the hole's number"
        )
    snap_m, turn_share = (site.setting(name, number) for name in ("line_snap_m", "line_turn_share"))
    centre = green_centre(green)
    centres = np.array([tee_centre(t) for t in tees.geometry])
    drawn = site.layer("play_lines", number)
    turns: tuple[Any, str] | None = None
    lines = []
    for name, fid, place in zip(tees["tee"], tees["fid"], centres, strict=True):
        tee = name_or(name, f"tee {fid}")
        if np.hypot(*(place - centre)) < 1.0:
            raise SiteError(
                f"tees, feature {fid}: it lies on the centre of the green of hole {number}; move it"
            )
        row, for_this_tee = _drawn_for(drawn, tee)
        if row is not None:
            points = np.asarray(row.geometry.coords)[:, :2]
            line, doubts = drawn_line(points, place, centre, green, snap_m=snap_m, for_one_tee=for_this_tee)
            for doubt in doubts:
                text = f"play_lines, feature {row.fid}: the line of hole {number} {doubt} ({tee})"
                warnings.warn(f"{text}; correct the drawing or the tee", GistoolsWarning, stacklevel=2)
        else:
            if turns is None:
                fairway = merged(list(site.layer("fairway", number).geometry))
                turns = turning_points(centres, centre, fairway, share=turn_share)
            line = derived_line(place, turns[0], centre, turns[1])
        lines.append(TeeLine(tee, int(fid), line))
    return lines


def name_or(name: Any, otherwise: str) -> str:
    """Return a surveyed name, or another where it is missing or blank."""
    return otherwise if pd.isna(name) or not str(name).strip() else str(name)


def _drawn_for(drawn: Any, tee: str) -> tuple[Any, bool]:
    """Return the line drawn for a tee and True, else the line drawn for all tees and False, else None."""
    shared = None
    for row in drawn.itertuples():
        named = "" if pd.isna(row.tee) else str(row.tee).strip().casefold()
        if named == tee.strip().casefold():
            return row, True
        if named == "" and shared is None:
            shared = row
    return shared, False


def features(site: Site, layer: str) -> list[tuple[Feature, int | None]]:
    """Return the features of a layer as areas, with the hole they carry."""
    table = site.layer(layer)
    holes = table["hole"] if "hole" in table else [None] * len(table)
    return [
        (Feature(name, layer, int(fid), shape), None if pd.isna(hole) else int(hole))
        for name, fid, shape, hole in zip(
            feature_names(site)[layer], table["fid"], areas(site, layer), holes, strict=True
        )
    ]


def outlines(site: Site, layer: str) -> list[Feature]:
    """Return the features of a layer as lines, outlines of areas."""
    return [Feature(f.feature, f.layer, f.fid, rings(f.geometry)) for f, _ in features(site, layer)]


def surroundings(site: Site, number: int) -> Surroundings:
    """Return trees, boundary and features of other holes."""
    others = [
        f
        for layer in ("fairway", "greens", "tees")
        for f, hole in features(site, layer)
        if hole not in (None, number)
    ]
    return Surroundings([f for f, _ in features(site, "trees")], outlines(site, "boundary"), others)


def neighbours(site: Site, plans: list[Hole]) -> list[Neighbour]:
    """Return everything on the site that play has to keep clear of; ``plans`` are those of all its holes."""
    around = [Neighbour("boundary", None, outline) for outline in outlines(site, "boundary")]
    for layer, kinds, other in (("paths", PATHS, "cart path"), ("structures", STRUCTURES, "structure")):
        for (feature, _), kind in zip(features(site, layer), site.layer(layer)["kind"], strict=True):
            named = kinds.get(str(kind).strip().casefold(), other)
            if named:
                around.append(Neighbour(named, None, feature))
    for layer, kind in (("tees", "tee"), ("greens", "green")):
        around.extend(Neighbour(kind, hole, feature) for feature, hole in features(site, layer))
    for plan in plans:
        stretch = fairway_stretch(plan, plan.main)
        line = Feature(f"line of play, hole {plan.number}", "tees", plan.main.fid, stretch)
        around.append(Neighbour("line of play", plan.number, line))
    return around
