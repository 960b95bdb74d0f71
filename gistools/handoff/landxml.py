"""LandXML 1.2: points, the alignment of the line of play, triangulated surfaces.

Written with the standard library. Coordinates are northing, easting, level, separated by blanks, in the
unit that the file states. In metres it keeps to what Inframodel, the Finnish subset of LandXML 1.2, takes of
units, names, coding systems and attributes (buildingSMART Finland, its schema [published]); the subset has a
namespace of its own and no feet.
"""

from __future__ import annotations

import datetime as dt
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import WriteError
from gistools.compute.terrain.tin import Tin
from gistools.handoff.frame import DECIMALS, Frame, plain_text, xml_text

Floats = NDArray[np.float64]

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"

#: our unit -> element and attributes of Units (LandXML-1.2.xsd, enumerations [published])
_UNITS: dict[str, tuple[str, dict[str, str]]] = {
    "m": (
        "Metric",
        {
            "areaUnit": "squareMeter",
            "linearUnit": "meter",
            "volumeUnit": "cubicMeter",
            "temperatureUnit": "celsius",
            "pressureUnit": "milliBars",
            "diameterUnit": "meter",
            "widthUnit": "meter",
            "heightUnit": "meter",
            "elevationUnit": "meter",
            "velocityUnit": "kilometersPerHour",
            "flowUnit": "literPerSecond",
            "angularUnit": "radians",
            "directionUnit": "radians",
            "latLongAngularUnit": "radians",
        },
    ),
    "us-ft": (
        "Imperial",
        {
            "areaUnit": "squareFoot",
            "linearUnit": "USSurveyFoot",
            "volumeUnit": "cubicYard",
            "temperatureUnit": "fahrenheit",
            "pressureUnit": "inHG",
        },
    ),
}
#: the coding system of the feature codes, as declared in the file
CODING = "gistools setting-out codes"
_UNITS["ft"] = ("Imperial", {**_UNITS["us-ft"][1], "linearUnit": "foot"})


def write_landxml(
    path: Path,
    frame: Frame,
    *,
    project: str,
    version: str,
    points: Iterable[tuple[str, float, float, float, str, str]] = (),
    alignments: Mapping[str, Floats] | None = None,
    surfaces: Mapping[str, Tin] | None = None,
    breaklines: Mapping[str, Iterable[tuple[str, str, str, Floats]]] | None = None,
    when: dt.datetime | None = None,
) -> Path:
    """Write a LandXML 1.2 file.

    Parameters
    ----------
    path
        File to write.
    frame
        Turns metres into file units and names the CRS.
    project, version
        Name of the project, version of this program.
    points
        Name, easting, northing, level, description, code [m]; without a level (``nan``) the point is plan
        only.
    alignments
        Name to corners ``(n, 2)``, easting first [m]; straight legs.
    surfaces
        Name, ``existing`` or ``proposed``, to triangulated surface [m].
    breaklines
        Name of a surface to its breaklines: name, code, description, corners ``(n, 3)``, easting first [m].
    when
        Time stated in the file; now by default.

    Raises
    ------
    WriteError
        If the file cannot be written.
    """
    when = when or dt.datetime.now(dt.UTC)
    root = ET.Element(
        "LandXML",
        {
            "xmlns": NAMESPACE,
            "version": "1.2",
            "date": when.strftime("%Y-%m-%d"),
            "time": when.strftime("%H:%M:%S"),
        },
    )
    kind, units = _UNITS[frame.unit]
    ET.SubElement(ET.SubElement(root, "Units"), kind, units)
    ET.SubElement(root, "CoordinateSystem", _crs(frame))
    about = ET.SubElement(root, "Project", {"name": _name(project), "desc": xml_text(project)})
    _add_coding(about, "IM_proprietaryCodings", CODING, "codes of staked features, listed in the README")
    ET.SubElement(
        root,
        "Application",
        {"name": "gistools", "version": version, "manufacturer": "gistools", "manufacturerURL": ""},
    )
    _add_alignments(root, frame, alignments or {})
    _add_points(root, frame, points)
    _add_surfaces(root, frame, surfaces or {}, breaklines or {})
    try:
        ET.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path


def _crs(frame: Frame) -> dict[str, str]:
    attributes = {
        "desc": xml_text(frame.crs.name),
        "horizontalCoordinateSystemName": xml_text(frame.crs.name),
    }
    if frame.epsg:
        attributes["epsgCode"] = str(frame.epsg)
    if frame.vertical:
        attributes["verticalCoordinateSystemName"] = xml_text(frame.vertical)
    return attributes


def _name(text: str) -> str:
    """Return a name in the letters that the subset takes: A to Z, digits, blank, ``. , _``."""
    return ", ".join(re.sub("[-/]", "_", plain_text(part)) for part in text.split(","))


def _add_coding(parent: ET.Element, extension: str, code: str, meaning: str, source: str = "") -> None:
    """Add a feature with a coding system or, of a system, a code and its meaning."""
    feature = ET.SubElement(parent, "Feature", {"code": extension, "source": "inframodel"})
    rows = {"proprietaryInfraCoding": code, "proprietaryInfraCodingDesc": meaning}
    rows |= {"proprietaryInfraCodingSource": source} if source else {}
    for label, value in rows.items():
        ET.SubElement(feature, "Property", {"label": label, "value": xml_text(value)})


def _place(frame: Frame, east: float, north: float, level: float | None = None) -> str:
    values = [north, east] if level is None or not np.isfinite(level) else [north, east, level]
    return " ".join(f"{float(frame.out(v)):.{DECIMALS}f}" for v in values)


def _add_alignments(root: ET.Element, frame: Frame, alignments: Mapping[str, Floats]) -> None:
    if not alignments:
        return
    group = ET.SubElement(root, "Alignments", {"name": "lines of play"})
    for name, corners in alignments.items():
        legs = np.hypot(*np.diff(corners, axis=0).T)
        attributes = {"name": _name(name), "length": _length(frame, legs.sum()), "staStart": "0.0"}
        alignment = ET.SubElement(group, "Alignment", {**attributes, "desc": xml_text(name)})
        geometry = ET.SubElement(alignment, "CoordGeom")
        _add_coding(alignment, "IM_proprietaryCoding", "LOP", "line of play", CODING)
        starts = np.concatenate([[0.0], np.cumsum(legs)[:-1]])
        for a, b, start, length in zip(corners[:-1], corners[1:], starts, legs, strict=True):
            station = {"length": _length(frame, length), "staStart": _length(frame, start)}
            line = ET.SubElement(geometry, "Line", station)
            ET.SubElement(line, "Start").text = _place(frame, *a)
            ET.SubElement(line, "End").text = _place(frame, *b)


def _length(frame: Frame, metres: float) -> str:
    return f"{float(frame.out(metres)):.{DECIMALS}f}"


def _add_points(
    root: ET.Element, frame: Frame, points: Iterable[tuple[str, float, float, float, str, str]]
) -> None:
    rows = list(points)
    if not rows:
        return
    group = ET.SubElement(root, "CgPoints")
    for name, east, north, level, description, code in rows:
        attributes = {"name": _name(name), "desc": xml_text(description), "code": xml_text(code)}
        ET.SubElement(group, "CgPoint", attributes).text = _place(frame, east, north, level)


def _add_surfaces(
    root: ET.Element,
    frame: Frame,
    surfaces: Mapping[str, Tin],
    breaklines: Mapping[str, Iterable[tuple[str, str, str, Floats]]],
) -> None:
    if not surfaces:
        return
    group = ET.SubElement(root, "Surfaces")
    for name, tin in surfaces.items():
        surface = ET.SubElement(group, "Surface", {"name": _name(name), "state": name})
        lines = list(breaklines.get(name, ()))
        if lines:
            breaks = ET.SubElement(ET.SubElement(surface, "SourceData"), "Breaklines")
            for line_name, code, description, xyz in lines:
                attributes = {
                    "name": _name(line_name),
                    "desc": xml_text(description),
                    "brkType": "standard",
                }
                line = ET.SubElement(breaks, "Breakline", attributes)
                ET.SubElement(line, "PntList3D").text = " ".join(_rows(frame, xyz))
                _add_coding(line, "IM_proprietaryCoding", code, description, CODING)
        definition = ET.SubElement(surface, "Definition", {"surfType": "TIN"})
        pnts = ET.SubElement(definition, "Pnts")
        for k, row in enumerate(_rows(frame, tin.points), 1):
            ET.SubElement(pnts, "P", {"id": str(k)}).text = row
        faces = ET.SubElement(definition, "Faces")
        for a, b, c in (tin.faces + 1).tolist():
            ET.SubElement(faces, "F").text = f"{a} {b} {c}"


def _rows(frame: Frame, points: Floats) -> Sequence[str]:
    out = frame.out(points)
    return [f"{y:.{DECIMALS}f} {x:.{DECIMALS}f} {z:.{DECIMALS}f}" for x, y, z in out.tolist()]
