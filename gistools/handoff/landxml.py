"""LandXML 1.2: points, the alignment of the line of play, triangulated surfaces.

Written with the standard library. Coordinates are northing, easting, level, separated by blanks, in the
unit that the file states.
"""

from __future__ import annotations

import datetime as dt
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import WriteError
from gistools.compute.terrain.tin import Tin
from gistools.handoff.frame import DECIMALS, Frame, xml_text

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
    breaklines: Mapping[str, Iterable[tuple[str, str, Floats]]] | None = None,
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
        Name to triangulated surface [m].
    breaklines
        Name of a surface to its breaklines: name, description, corners ``(n, 3)``, easting first [m].
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
            "language": "English",
            "readOnly": "false",
        },
    )
    kind, units = _UNITS[frame.unit]
    ET.SubElement(ET.SubElement(root, "Units"), kind, {**units, "directionUnit": "decimal degrees"})
    ET.SubElement(root, "CoordinateSystem", _crs(frame))
    ET.SubElement(root, "Project", {"name": xml_text(project)})
    ET.SubElement(root, "Application", {"name": "gistools", "version": version})
    _add_alignments(root, frame, alignments or {})
    _add_points(root, frame, points)
    _add_surfaces(root, frame, surfaces or {}, breaklines or {})
    try:
        ET.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path


def _crs(frame: Frame) -> dict[str, str]:
    attributes = {"name": xml_text(frame.crs.name)}
    if frame.epsg:
        attributes["epsgCode"] = str(frame.epsg)
    if frame.vertical:
        attributes["verticalDatum"] = xml_text(frame.vertical)
    return attributes


def _place(frame: Frame, east: float, north: float, level: float | None = None) -> str:
    values = [north, east] if level is None or not np.isfinite(level) else [north, east, level]
    return " ".join(f"{float(frame.out(v)):.{DECIMALS}f}" for v in values)


def _add_alignments(root: ET.Element, frame: Frame, alignments: Mapping[str, Floats]) -> None:
    if not alignments:
        return
    group = ET.SubElement(root, "Alignments", {"name": "lines of play"})
    for name, corners in alignments.items():
        legs = np.hypot(*np.diff(corners, axis=0).T)
        attributes = {"name": xml_text(name), "length": _length(frame, legs.sum()), "staStart": "0.0"}
        geometry = ET.SubElement(ET.SubElement(group, "Alignment", attributes), "CoordGeom")
        for a, b, length in zip(corners[:-1], corners[1:], legs, strict=True):
            line = ET.SubElement(geometry, "Line", {"length": _length(frame, length)})
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
        attributes = {"name": xml_text(name), "desc": xml_text(description), "code": xml_text(code)}
        ET.SubElement(group, "CgPoint", attributes).text = _place(frame, east, north, level)


def _add_surfaces(
    root: ET.Element,
    frame: Frame,
    surfaces: Mapping[str, Tin],
    breaklines: Mapping[str, Iterable[tuple[str, str, Floats]]],
) -> None:
    if not surfaces:
        return
    group = ET.SubElement(root, "Surfaces")
    for name, tin in surfaces.items():
        surface = ET.SubElement(group, "Surface", {"name": xml_text(name)})
        lines = list(breaklines.get(name, ()))
        if lines:
            breaks = ET.SubElement(ET.SubElement(surface, "SourceData"), "Breaklines")
            for line_name, description, xyz in lines:
                attributes = {
                    "name": xml_text(line_name),
                    "desc": xml_text(description),
                    "brkType": "standard",
                }
                line = ET.SubElement(breaks, "Breakline", attributes)
                ET.SubElement(line, "PntList3D").text = " ".join(_rows(frame, xyz))
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
