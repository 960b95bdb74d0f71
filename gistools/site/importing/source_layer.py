"""A layer of a source as a table: what any file holds, unjudged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd
from pyproj import CRS

#: name of the layer that an OpenStreetMap export is read as
OSM_LAYER = "osm"


@dataclass(frozen=True, eq=False)
class SourceLayer:
    """A layer of a source.

    Attributes
    ----------
    source, name
        Name of the file, and of the layer in it.
    table
        Fields, a row per feature; for tagged features a column per tag.
    shapes
        Geometry of each row, None where there is none.
    crs
        The CRS, or None where none is stated.
    tagged
        Whether the fields are tags of the public OpenStreetMap scheme.
    members
        Relations with members, for tagged sources: see :class:`Relation`.
    lost
        What could not be read, in words.
    """

    source: str
    name: str
    table: pd.DataFrame
    shapes: Any
    crs: CRS | None
    tagged: bool = False
    members: tuple[Relation, ...] = ()
    lost: tuple[str, ...] = field(default=())

    @property
    def open_map(self) -> bool:
        """Whether it is open map data: tagged, in longitude and latitude, as every such export is."""
        return self.tagged and (self.crs is None or self.crs.is_geographic)

    @property
    def kinds(self) -> set[str]:
        """Geometry types in it, single for multi."""
        return {s.geom_type.removeprefix("Multi") for s in self.shapes if s is not None}


@dataclass(frozen=True)
class Relation:
    """A relation of a tagged source: its tags, and its members as ``(type, id)`` in order."""

    tags: Mapping[str, str]
    members: tuple[tuple[str, int], ...]
