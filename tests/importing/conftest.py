"""Invented courses drawn the way open map data and surveyors draw them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from shapely import LineString, Point, Polygon, box
from shapely.affinity import translate

sys.path.insert(
    0, str(Path(__file__).resolve().parents[2] / "scripts")
)  # the writer of OpenStreetMap exports

from foreign_data import OsmWriter

EAST, NORTH = 448_000.0, 6_240_000.0
CRS = "EPSG:32630"
#: holes lie side by side, out and back, so that each green is near the next tee
APART_M = 120.0
LENGTH_M = 340.0


def hole_parts(number: int, at: tuple[float, float] = (0.0, 0.0)) -> dict[str, Any]:
    """Return the parts of a straight hole; odd ones play north, even ones south."""
    x = EAST + at[0] + APART_M * (number - 1)
    y = NORTH + at[1]
    south, north = (y, y + LENGTH_M) if number % 2 else (y + LENGTH_M, y)
    way = 1 if number % 2 else -1
    return {
        "line": LineString([(x, south), (x, north)]),
        "back": box(x - 4, south - 3, x + 4, south + 3),
        "forward": box(x - 4, south + way * 40 - 3, x + 4, south + way * 40 + 3),
        "fairway": LineString([(x, south + way * 100), (x, north - way * 25)]).buffer(16, cap_style="flat"),
        "green": Point(x, north).buffer(12),
        "bunker": translate(Polygon([(-5, -3), (5, -3), (5, 3), (-5, 3)]), x + 20, north - way * 20),
    }


class Course:
    """An export of a few straight holes; each part can be left out or changed before it is written."""

    def __init__(self) -> None:
        self.osm = OsmWriter(CRS)

    def hole(
        self,
        number: int,
        *,
        at: tuple[float, float] = (0.0, 0.0),
        parts: tuple[str, ...] = ("line", "back", "forward", "fairway", "green", "bunker"),
        backward: bool = False,
        **tags: Any,
    ) -> int:
        """Draw a hole, and return the id of its line (0 without); ``tags`` replace those of the line."""
        shapes = hole_parts(number, at)
        colours = {"back": "white", "forward": "red"}
        for name in ("back", "forward"):
            if name in parts:
                self.osm.area(shapes[name], golf="tee", tee=colours[name])
        for name in ("fairway", "green", "bunker"):
            if name in parts:
                self.osm.area(shapes[name], golf=name)
        if "line" not in parts:
            return 0
        coords = list(shapes["line"].coords)
        return self.osm.way(coords[::-1] if backward else coords, golf="hole", **(tags or {"ref": number}))

    def write(self, path: Path) -> Path:
        """Write the export."""
        path.write_text(self.osm.text(), encoding="utf-8")
        return path


@pytest.fixture
def course() -> Course:
    """An empty export."""
    return Course()


@pytest.fixture(scope="session")
def drawn() -> Any:
    """The parts of a hole as drawn, by number."""
    return hole_parts
