"""Write the sample site the way other people's data come: an OpenStreetMap export and a tile of laser points.

python scripts/foreign_data.py FOLDER    makes FOLDER/merrowby.osm and FOLDER/merrowby.laz

The course is the invented Merrowby Links; nothing here is a real place.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

import numpy as np
import shapely
from pyproj import Transformer

from gistools.hole import HoleModel
from gistools.site.model import Site

#: coordinates are rounded as map editors do [degrees]
DECIMALS = 7


class OsmWriter:
    """Nodes, ways and relations of an OpenStreetMap export; shapes in metres of a CRS."""

    def __init__(self, crs: Any) -> None:
        self._change = Transformer.from_crs(crs, 4326, always_xy=True)
        self._nodes: dict[tuple[float, float], int] = {}
        self._tags: dict[int, dict[str, str]] = {}
        self._ways: list[tuple[int, list[int], dict[str, str]]] = []
        self._relations: list[tuple[int, list[tuple[str, int, str]], dict[str, str]]] = []
        self._count = 0

    def _id(self) -> int:
        self._count += 1
        return self._count

    def node(self, x: float, y: float, **tags: Any) -> int:
        """Add a node, or return the one that is there; ways that meet share it."""
        lon, lat = (round(v, DECIMALS) for v in self._change.transform(x, y))
        number = self._nodes.setdefault((lon, lat), 0) or self._id()
        self._nodes[lon, lat] = number
        self._tags.setdefault(number, {}).update(_texts(tags))
        return number

    def way(self, points: Iterable[Any], **tags: Any) -> int:
        """Add a way through points; a tag ``a__b`` is ``a:b``."""
        nodes = [self.node(float(x), float(y)) for x, y in points]
        number = self._id()
        self._ways.append((number, nodes, _texts(tags)))
        return number

    def area(self, polygon: Any, **tags: Any) -> int:
        """Add an area: a closed way, or a multipolygon where it has holes or parts."""
        parts = shapely.get_parts(polygon).tolist()
        if len(parts) == 1 and not parts[0].interiors:
            return self.way(parts[0].exterior.coords, **tags)
        members = []
        for part in parts:
            members.append(("way", self.way(part.exterior.coords), "outer"))
            members += [("way", self.way(ring.coords), "inner") for ring in part.interiors]
        return self.relation(members, type="multipolygon", **tags)

    def relation(self, members: list[tuple[str, int, str]], **tags: Any) -> int:
        """Add a relation of ``(type, id, role)``."""
        number = self._id()
        self._relations.append((number, members, _texts(tags)))
        return number

    def text(self) -> str:
        """Return the export as XML."""
        lines = [
            "<?xml version='1.0' encoding='UTF-8'?>",
            '<osm version="0.6" generator="scripts/foreign_data.py">',
        ]
        for (lon, lat), number in self._nodes.items():
            head = f'<node id="{number}" version="1" lat="{lat:.{DECIMALS}f}" lon="{lon:.{DECIMALS}f}"'
            lines.append(_element(head, "node", [], self._tags[number]))
        for number, nodes, tags in self._ways:
            lines.append(
                _element(f'<way id="{number}" version="1"', "way", [f'<nd ref="{n}"/>' for n in nodes], tags)
            )
        for number, members, tags in self._relations:
            inner = [f'<member type="{t}" ref="{r}" role="{role}"/>' for t, r, role in members]
            lines.append(_element(f'<relation id="{number}" version="1"', "relation", inner, tags))
        return "\n".join([*lines, "</osm>"]) + "\n"


def _texts(tags: dict[str, Any]) -> dict[str, str]:
    return {k.replace("__", ":"): str(v) for k, v in tags.items() if v is not None}


def _element(head: str, name: str, inner: list[str], tags: dict[str, str]) -> str:
    inner = [*inner, *(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items())]
    return f"{head}>{''.join(inner)}</{name}>" if inner else f"{head}/>"


def as_osm(site: Site) -> OsmWriter:
    """Return a site as map editors draw one: golf tags, hole lines with a number, no levels, no pins."""
    osm = OsmWriter(site.crs_metric)
    for row in site.layer("boundary").itertuples():
        osm.area(row.geometry, leisure="golf_course", name="Merrowby Links")
    for hole in site.holes:
        osm.way(HoleModel(site, hole).tees_by_length[0].line, golf="hole", ref=hole)
        for row in site.layer("tees", hole).itertuples():
            osm.area(row.geometry, golf="tee", tee=row.tee)
        osm.area(site.layer("fairway", hole).geometry.iloc[0], golf="fairway")
        osm.area(site.layer("greens", hole).geometry.iloc[0], golf="green")
    for row in site.layer("bunkers").itertuples():
        osm.area(row.geometry, golf="bunker", surface="sand", name=row.name)
    for row in site.layer("burns").itertuples():
        osm.way(row.geometry.coords, waterway="stream", name=row.name, width=row.width_m)
    for row in site.layer("water").itertuples():
        osm.area(row.geometry, natural="water", water="pond", name=row.name)
    for row in site.layer("trees").itertuples():
        if row.geometry.geom_type == "Point":
            osm.node(
                row.geometry.x,
                row.geometry.y,
                natural="tree",
                height=row.height_m,
                diameter_crown=row.crown_m,
            )
        else:
            osm.area(row.geometry, natural="scrub", height=row.height_m)
    for row in site.layer("paths").itertuples():
        tags = {
            "cart": {"golf": "cartpath"},
            "road": {"highway": "unclassified"},
            "public": {"highway": "footway"},
        }
        osm.way(row.geometry.coords, **tags.get(row.kind, {"highway": "service"}), width=row.width_m)
    for row in site.layer("structures").itertuples():
        osm.area(row.geometry, building="yes", height=row.height_m)
    return osm


def write_osm(site: Site, path: Path) -> Path:
    """Write a site as an OpenStreetMap export."""
    path.write_text(as_osm(site).text(), encoding="utf-8")
    return path


def write_laz(site: Site, path: Path, *, per_m2: float = 4.0, noise_m: float = 0.03, seed: int = 7) -> Path:
    """Write the terrain of a site as laser points: ground (class 2) with noise, and leaves (class 5)."""
    import laspy

    surface = site.surface()
    west, south, east, north = surface.bounds
    draw = np.random.default_rng(seed)
    count = round((east - west) * (north - south) * per_m2)
    x, y = draw.uniform(west, east, count), draw.uniform(south, north, count)
    z = np.asarray(surface.height(x, y))
    known = np.isfinite(z)
    x, y, z = x[known], y[known], z[known] + draw.normal(0, noise_m, int(known.sum()))
    leaf = draw.random(len(z)) < 0.1
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales, header.offsets = np.full(3, 0.001), np.floor([west, south, 0.0])
    header.add_crs(site.crs)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = x, y, np.where(leaf, z + draw.uniform(0.5, 6.0, len(z)), z)
    cloud.classification = np.where(leaf, 5, 2).astype(np.uint8)
    cloud.write(path)
    return path


def main(arguments: list[str]) -> int:
    """Write both files into a folder."""
    from gistools.site.sample import sample_site

    folder = Path(arguments[0] if arguments else ".")
    folder.mkdir(parents=True, exist_ok=True)
    site = sample_site()
    print(write_osm(site, folder / "merrowby.osm"))
    print(write_laz(site, folder / "merrowby.laz"))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
