"""Ground from LandXML 1.0 to 1.2 and subsets of it: triangles of a surface, its points and breaklines.

Points are northing, easting, elevation (LandXML-1.2, type Point). A face with ``i="1"`` is no ground.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from gistools.base.errors import SiteError
from gistools.base.grid import Floats
from gistools.base.units import FOOT_M, US_SURVEY_FOOT_M

_UNITS_M = {
    "meter": 1.0,
    "metre": 1.0,
    "centimeter": 0.01,
    "millimeter": 0.001,
    "foot": FOOT_M,
    "USSurveyFoot": US_SURVEY_FOOT_M,
}
#: a file larger than this is no survey of a golf course [bytes]
MOST_BYTES = 500 * 2**20


@dataclass
class XmlGround:
    """What a LandXML file says of the ground: places and levels in metres of its CRS.

    ``corners`` ``(n, 3)`` and ``faces`` ``(m, 3)`` are its triangles; ``points`` ``(k, 3)`` single levels;
    ``lines``
    breaklines, each ``(j, 3)``; ``unit_m`` metres in one unit of the file.
    """

    crs: CRS | None
    unit_m: float
    corners: Floats = field(default_factory=lambda: np.empty((0, 3)))
    faces: NDArray[np.int64] = field(default_factory=lambda: np.empty((0, 3), np.int64))
    points: Floats = field(default_factory=lambda: np.empty((0, 3)))
    lines: list[Floats] = field(default_factory=list)
    names: list[str] = field(default_factory=list)


def read_landxml(path: Path) -> XmlGround:
    """Read the surfaces of a LandXML file.

    Raises
    ------
    SiteError
        If it is no LandXML, is too large, declares entities, or has no surface.
    """
    root = landxml_root(path)
    ground = XmlGround(crs_of(root), unit_of(path, root))
    try:
        for surface in named(root, "Surface"):
            _add(surface, ground)
    except (ValueError, KeyError, IndexError) as fault:
        raise SiteError(f"{path}: a surface in it cannot be read ({fault})") from fault
    if not len(ground.corners) and not len(ground.points) and not ground.lines:
        raise SiteError(f"{path} has no surface with triangles, points or breaklines")
    for array in (ground.corners, ground.points, *ground.lines):
        array *= ground.unit_m
    return ground


def landxml_root(path: Path) -> Any:
    """Return the root element of a LandXML file.

    Raises
    ------
    SiteError
        If it is no LandXML, is too large, or declares entities.
    """
    if path.stat().st_size > MOST_BYTES:
        raise SiteError(f"{path} has more than {MOST_BYTES >> 20} MB; export the surface of the site alone")
    text = path.read_bytes()
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        raise SiteError(f"{path} declares entities of its own, which LandXML does not need; it is not read")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as fault:
        raise SiteError(f"{path} is no well-formed XML ({fault})") from fault
    if _name(root) != "LandXML":
        raise SiteError(f"{path} is XML but no LandXML: its first element is {_name(root)}")
    return root


def _name(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def named(root: Any, name: str) -> list[Any]:
    """Return the elements of a name in any namespace, in order."""
    return [e for e in root.iter() if _name(e) == name]


def crs_of(root: Any) -> CRS | None:
    """Return the CRS a LandXML file states by its EPSG code, or None."""
    for system in named(root, "CoordinateSystem"):
        code = system.get("epsgCode", "")
        try:
            return CRS.from_epsg(int(code))
        except (ValueError, CRSError):
            continue
    return None


def unit_of(path: Path, root: Any) -> float:
    """Return the metres in one unit of length of a LandXML file.

    Raises
    ------
    SiteError
        If its unit is not known.
    """
    for units in named(root, "Units"):
        for system in units:
            name = system.get("linearUnit", "")
            if name in _UNITS_M:
                return _UNITS_M[name]
            raise SiteError(f"{path}: its unit of length is {name!r}, which is not known here")
    return 1.0


def _add(surface: Any, ground: XmlGround) -> None:
    ground.names.append(str(surface.get("name", "")))
    place: dict[str, int] = {}
    corners: list[Floats] = []
    for holder in named(surface, "Pnts"):
        for point in holder:
            if _name(point) == "P" and point.text:
                place[point.get("id", "")] = len(ground.corners) + len(corners)
                corners.append(_places(point.text)[0])
    faces = [
        [place[k] for k in face.text.split()[:3]]
        for holder in named(surface, "Faces")
        for face in holder
        if _name(face) == "F" and face.text and face.get("i") != "1"
    ]
    if faces:
        ground.corners = np.vstack([ground.corners, *corners])
        ground.faces = np.vstack([ground.faces, np.array(faces, np.int64)])
        return
    loose = [*corners]
    for name in ("PntList3D",):
        for listing in named(surface, name):
            if listing.text:
                places = _places(listing.text)
                if len(places) > 1:
                    ground.lines.append(places)
                else:
                    loose.extend(places)
    if loose:
        ground.points = np.vstack([ground.points, *loose])


def _places(text: str) -> Floats:
    """Return northing, easting, elevation triples as easting, northing, level ``(n, 3)``."""
    values = np.array(text.split(), float).reshape(-1, 3)
    if not np.isfinite(values).all():
        raise ValueError(f"{' '.join(text.split())[:60]!r} holds a number that is not finite")
    return values[:, [1, 0, 2]]
