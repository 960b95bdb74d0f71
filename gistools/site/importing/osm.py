"""OpenStreetMap exports: nodes, ways and multipolygons with their tags, and relations that part courses."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from gistools.base.errors import SiteError, missing_package
from gistools.site.importing.source_layer import OSM_LAYER, Relation, SourceLayer

if TYPE_CHECKING:
    import osmium

#: keys of the public tag scheme that are read; features without any of them are passed over
KEYS = (
    "golf",
    "leisure",
    "natural",
    "water",
    "waterway",
    "highway",
    "building",
    "barrier",
    "landuse",
    "man_made",
)
#: keys whose closed ways are areas
AREA_KEYS = ("leisure", "natural", "water", "building", "landuse")
#: values of ``golf`` that are lines even where they close
GOLF_LINES = ("cartpath", "path", "out_of_bounds")


def read_osm(path: Path) -> SourceLayer:
    """Read an export (``.osm``, ``.osm.pbf``), the features of the tag scheme alone.

    Raises
    ------
    InputError
        If the reader is not installed.
    SiteError
        If the file cannot be read.
    """
    try:
        import osmium
    except ImportError as missing:
        raise missing_package(f"{path.name}: reading OpenStreetMap exports", "import") from missing
    rows: list[dict[str, Any]] = []
    shapes: list[Any] = []
    relations: list[Relation] = []
    lost: list[str] = []
    expected: dict[tuple[str, int], str] = {}
    factory = osmium.geom.WKBFactory()
    try:
        item: Any
        for item in osmium.FileProcessor(str(path)).with_locations().with_areas():
            tags = dict(item.tags)
            if not any(key in tags for key in KEYS):
                continue
            if isinstance(item, osmium.osm.Relation):
                if tags.get("type") in ("multipolygon", "boundary"):
                    expected["r", item.id] = f"relation {item.id} ({_shown(tags)})"
                else:
                    relations.append(Relation(tags, tuple((m.type, m.ref) for m in item.members)))
                continue
            if item.is_way() and is_area(tags, item.is_closed()):
                expected["w", item.id] = f"way {item.id} ({_shown(tags)})"
                continue
            shape = _geometry(item, tags, factory, lost)
            if shape is not None:
                if item.is_area():
                    expected.pop((_type(item), item.orig_id()), None)
                rows.append(
                    {"@type": _type(item), "@id": item.orig_id() if item.is_area() else item.id, **tags}
                )
                shapes.append(shape)
    except RuntimeError as fault:
        raise SiteError(f"{path}: it cannot be read as an OpenStreetMap export ({fault})") from fault
    lost += [
        f"{label}: its outline does not close, or lacks nodes; it was left out" for label in expected.values()
    ]
    geometry = np.empty(len(shapes), dtype=object)
    geometry[:] = shapes
    table = pd.DataFrame(rows, dtype=object).astype(object)
    table = table.where(table.notna(), None)
    return SourceLayer(
        path.name, OSM_LAYER, table, geometry, CRS.from_epsg(4326), True, tuple(relations), tuple(lost)
    )


def _shown(tags: dict[str, str]) -> str:
    return ", ".join(f"{k}={v}" for k, v in tags.items() if k in (*KEYS, "name"))


def _type(item: Any) -> str:
    if item.is_area():
        return "w" if item.from_way() else "r"
    return "w" if item.is_way() else "n"


def is_area(tags: dict[str, str], closed: bool) -> bool:
    """Tell whether a closed way is an area by its tags, and not a line that ends where it starts."""
    if not closed or tags.get("area") == "no":
        return False
    if "golf" in tags:
        return tags["golf"] not in GOLF_LINES
    if "waterway" in tags:
        return tags["waterway"] in ("riverbank", "dock")
    return tags.get("area") == "yes" or any(key in tags for key in AREA_KEYS)


def _geometry(item: Any, tags: dict[str, str], factory: osmium.geom.WKBFactory, lost: list[str]) -> Any:
    """Return the geometry of a node, an open way or an area; None for what another item stands for."""
    if item.is_area():
        if item.from_way() and not is_area(tags, True):
            return None
        return shapely.from_wkb(bytes.fromhex(factory.create_multipolygon(item)))
    if item.is_node():
        return shapely.Point(item.location.lon, item.location.lat)
    places = [(n.lon, n.lat) for n in item.nodes if n.location.valid()]
    if len(places) < len(item.nodes):
        lost.append(
            f"way {item.id} ({_shown(tags)}): {len(item.nodes) - len(places)} of its nodes are missing"
        )
    return shapely.LineString(places) if len(places) > 1 else None
