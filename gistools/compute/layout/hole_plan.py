"""One hole as the other files of this part see it: its fairway, green, hazards and lines of play."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import MultiPoint
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats
from gistools.compute.layout.alignment import Alignment, cross_sections, pieces_under_line
from gistools.compute.layout.fairways import filled, merged, polygons

NOSE_M = 5.0  # assumption: the strip of play takes the width of a fairway or green this far inside its end
TEE_HALF_M = 1.0  # assumption: the strip of play begins this wide each side of the tee's centre


@dataclass(frozen=True, eq=False)
class Feature:
    """A surveyed feature: what people call it, its layer and id there, its outline."""

    feature: str
    layer: str
    fid: object
    geometry: BaseGeometry


@dataclass(frozen=True, eq=False)
class TeePlan:
    """A tee with its line of play."""

    tee: str
    fid: object
    outline: BaseGeometry
    line: Alignment

    @property
    def centre(self) -> Floats:
        """Where the tee is measured from, ``(2,)`` [m]."""
        centre: Floats = self.line.points[0]
        return centre


@dataclass(frozen=True, eq=False)
class Hole:
    """Plan of one hole.

    Attributes
    ----------
    number
        Number of the hole.
    fairways
        Parts of the fairway.
    green
        Outline of the green.
    hazards
        Bunkers, burns as areas, and water near the hole.
    tees
        Tees with their lines of play.
    """

    number: int
    fairways: list[Feature]
    green: BaseGeometry
    hazards: list[Feature]
    tees: list[TeePlan]
    _strips: dict[int, BaseGeometry] = field(default_factory=dict)

    @cached_property
    def fairway(self) -> BaseGeometry:
        """The fairway as drawn, all parts."""
        return merged([f.geometry for f in self.fairways])

    @cached_property
    def filled(self) -> BaseGeometry:
        """The fairway with the hazards that lie in it filled in."""
        return filled(self.fairway, [h.geometry for h in self.hazards])

    @cached_property
    def hazard(self) -> BaseGeometry:
        """All hazards as one area."""
        return merged([h.geometry for h in self.hazards])

    @cached_property
    def turf(self) -> BaseGeometry:
        """The fairway less its hazards."""
        return self.fairway.difference(self.hazard)

    @cached_property
    def main(self) -> TeePlan:
        """The tee with the longest line of play."""
        return max(self.tees, key=lambda t: t.line.length)

    def strip(self, tee: TeePlan) -> BaseGeometry:
        """The ground meant to be played over from a tee.

        The fairway with hazards filled in and the green, and between tee, fairway and green the strip
        that joins their ends in straight lines. On a hole without fairway it is the wedge from tee to green.
        """
        key = id(tee)
        if key not in self._strips:
            self._strips[key] = _strip(tee.line, self.filled, self.green)
        return self._strips[key]


def _strip(line: Alignment, fairway: BaseGeometry, green: BaseGeometry) -> BaseGeometry:
    target = shapely.union(fairway, green)
    before = line.at([0.0])[0] + np.array([[-TEE_HALF_M], [TEE_HALF_M]]) * line.right([0.0])[0]
    links = []
    on_line = [p for p in shapely.get_parts(line.geometry.intersection(target)) if p.length > 0.0]
    stretches = [np.sort(line.locate(shapely.get_coordinates(p)[[0, -1]])[0]) for p in on_line]
    for start, end in sorted(stretches, key=lambda s: float(s[0])):
        inward = np.minimum(NOSE_M, end - start) * np.array([1e-3, 0.25, 0.5, 1.0])
        links.append(MultiPoint(np.vstack([before, _edges(line, start + inward, target)])).convex_hull)
        before = _edges(line, end - inward, target)
    return shapely.union_all([*polygons(shapely.GeometryCollection(links)), fairway, green])


def _edges(line: Alignment, at: Floats, area: BaseGeometry) -> Floats:
    """Both edges of the piece of an area that holds the line, at chainages inside it."""
    left, right = pieces_under_line(*cross_sections(line, at, area), len(at))
    middle, side = line.at(at), line.right(at)
    edges = np.vstack([middle + left[:, None] * side, middle + right[:, None] * side])
    return edges[np.isfinite(edges).all(axis=1)]
