"""One hole as the other files of this part see it: its fairway, green, hazards and lines of play."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from gistools.layout.fairways import filled, merged, polygons
from gistools.layout.stations import Alignment, Floats, cross_sections, holding

STATION_M = 5.0  # assumption: spacing of the stations that the strip of play is built from
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
        that joins their edges in straight lines. On a hole without fairway it is the wedge from tee to green.
        """
        key = id(tee)
        if key not in self._strips:
            self._strips[key] = _strip(tee.line, self.filled, self.green)
        return self._strips[key]


def _strip(line: Alignment, fairway: BaseGeometry, green: BaseGeometry) -> BaseGeometry:
    count = max(int(np.ceil(line.length / STATION_M)), 2)
    at = np.unique(np.r_[np.linspace(0.0, line.length, count + 1), line.corners])
    target = shapely.union(fairway, green)
    left, right = holding(*cross_sections(line, at, target), len(at))
    left[0], right[0] = -TEE_HALF_M, TEE_HALF_M
    known = np.isfinite(left)
    if not known[-1]:
        left[-1], right[-1], known[-1] = -TEE_HALF_M, TEE_HALF_M, True
    middle, side = line.at(at), line.right(at)
    edges = [middle + np.interp(at, at[known], offsets[known])[:, None] * side for offsets in (left, right)]
    outline = Polygon(np.vstack([edges[0], edges[1][::-1]]))
    sound = merged(list(polygons(shapely.make_valid(outline, method="structure", keep_collapsed=False))))
    return shapely.union_all([sound, fairway, green])
