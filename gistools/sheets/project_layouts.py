"""Print layouts of a site for a desktop GIS: plan, green and section of each hole, and the site, on A3.

Written as that desktop writes a layout, for a project file and for its open project alike.
"""

from __future__ import annotations

import base64
import math
import uuid
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import GistoolsError, GistoolsWarning
from gistools.base.paper import CAUTION, SCALES
from gistools.sheets.drawings.cross_sections import HEIGHTS_LARGER
from gistools.sheets.drawings.ground import Subject
from gistools.sheets.drawings.hole_section import section_picture
from gistools.sheets.rendering import render
from gistools.site.model import Site
from gistools.site.read import open_site

#: the map on A3 [mm]: width, height; it stands 10 mm from the left and the top
MAP_MM = (400.0, 235.0)
GREEN_SCALE = 250
MARGIN_M = 15.0  # ground shown round a hole (assumption)
#: names in the project are made from this, so that the same site gives the same file
SPACE = uuid.UUID("6f1c2f6e-6f0b-4f55-9a54-0d6a7c9b1f10")


@dataclass(frozen=True)
class ProjectLayout:
    """A layout: its name, scale, turn of the map [degrees], extent in the units of the CRS, theme, words.

    A section is a picture (SVG in base64) of the size of the map instead, with its own scale bar and legend.
    """

    name: str
    scale: int
    turn_deg: float
    extent: tuple[float, float, float, float]
    theme: str
    heading: str
    lines: str
    picture: str = ""

    def uuid(self, item: str) -> str:
        """Return the name of an item in the project."""
        return "{" + str(uuid.uuid5(SPACE, f"{self.name} {item}")) + "}"


def layout_documents(path: str | Path) -> list[list[str]]:
    """Return name and document of each layout of a site file.

    Raises
    ------
    SiteError
        If the site cannot be read.
    """
    path = Path(path)
    layouts = project_layouts(open_site(path), path)
    return [[layout.name, render("layout.qpt", layout=layout, caution=CAUTION)] for layout in layouts]


def project_layouts(site: Site, path: Path) -> list[ProjectLayout]:
    """Return the layouts of a site: play runs from left to right, the site itself with north up."""
    layouts = []
    block = site.title_block
    heading = str(block.get("project") or path.stem.replace("_", " "))
    words = ", ".join(str(block[k]) for k in ("client", "date", "author") if block.get(k))

    def lines(name: str, scales: str) -> str:
        return "\n".join(line for line in (name, f"{scales} at A3, {site.crs.to_string()}", words) if line)

    for name, ground, bearing_deg, fixed, theme in _sheets(site):
        turn = bearing_deg - 90.0
        west, south, east, north = rotate(ground, turn, origin=(0.0, 0.0)).bounds
        wide, tall = 1000 * (east - west + 2 * MARGIN_M), 1000 * (north - south + 2 * MARGIN_M)
        fitting = [s for s in SCALES if wide <= MAP_MM[0] * s and tall <= MAP_MM[1] * s]
        scale = fixed or (fitting[0] if fitting else SCALES[-1])
        middle = rotate(shapely.Point((west + east) / 2, (south + north) / 2), -turn, origin=(0.0, 0.0))
        half = [mm * scale / 2000 for mm in MAP_MM]
        extent = (middle.x - half[0], middle.y - half[1], middle.x + half[0], middle.y + half[1])
        layouts.append(
            ProjectLayout(
                name,
                scale,
                -turn,
                tuple(v / site.unit_m for v in extent),
                theme,
                heading,
                lines(name, f"1:{scale}"),
            )
        )
    for hole in site.holes:
        try:
            made = section_picture(Subject.of(site, hole), *MAP_MM) if _is_drawn(site, hole) else None
        except GistoolsError as fault:
            warnings.warn(f"hole {hole} has no section: {fault}", GistoolsWarning, stacklevel=2)
            continue
        if made is None:
            continue
        scale, picture = made
        name, scales = f"Hole {hole}: section", f"Distances 1:{scale}, heights 1:{scale // HEIGHTS_LARGER}"
        coded = base64.b64encode(picture).decode("ascii")
        layouts.append(ProjectLayout(name, scale, 0.0, (0.0,) * 4, "", heading, lines(name, scales), coded))
    return layouts


def _is_drawn(site: Site, hole: int) -> bool:
    return bool(len(site.layer("tees", hole)) and len(site.layer("greens", hole)))


def _sheets(site: Site) -> Iterator[tuple[str, BaseGeometry, float, int, str]]:
    """Yield name, ground, bearing that points to the right, fixed scale (0 for what fits) and theme."""
    every = []
    for hole in site.holes:
        parts = {
            name: list(site.layer(name, hole).geometry) for name in ("tees", "fairway", "greens", "pins")
        }
        if not parts["tees"] or not parts["greens"]:
            continue
        whole = shapely.union_all([g for group in parts.values() for g in group])
        every.append(whole)
        green = shapely.union_all(parts["greens"])
        end = green.centroid
        start = max((tee.centroid for tee in parts["tees"]), key=end.distance)
        bearing = math.degrees(math.atan2(end.x - start.x, end.y - start.y))
        yield f"Hole {hole}: plan", whole, bearing, 0, "Client"
        yield f"Hole {hole}: green", green, bearing, GREEN_SCALE, "Construction"
    if every:
        yield "Site plan", shapely.union_all(every), 90.0, 0, "Client"
