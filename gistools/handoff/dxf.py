"""DXF drawings: the one door to ezdxf.

Coordinates arrive in file units with x east and y north; nothing is scaled here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from ezdxf.enums import TextEntityAlignment
from numpy.typing import NDArray

from gistools.base.errors import WriteError
from gistools.handoff.frame import DECIMALS, plain_text

Floats = NDArray[np.float64]

#: our unit -> code of $INSUNITS (DXF reference [computed]); 21 is the US survey foot
INSUNITS = {"m": 6, "ft": 2, "us-ft": 21}
NO_LEVEL = "_NO_LEVEL"
#: layer, or the beginning of its name -> colour index: the same on every hole; a table of our own
COLOURS = {
    "LOP": 7,
    "TEE": 94,
    "TEM": 94,
    "GRN": 82,
    "PIN": 1,
    "FWY": 72,
    "BKR": 40,
    "BN": 150,
    "WTR": 160,
    "MD": 34,
    "CONTOUR_EXISTING_HEAVY": 36,
    "CONTOUR_EXISTING": 32,
    "CONTOUR_PROPOSED": 10,
    "CONTROL": 2,
    "TREES": 104,
    "PATHS": 252,
    "STRUCTURES": 8,
    "BOUNDARY": 7,
    "SURFACE": 9,
    "P": 210,
}


#: symbols drawn as blocks of size 1 about their place: lines, and circles as their radius; ours
SYMBOLS: dict[str, tuple[tuple[tuple[tuple[float, float], ...], ...], tuple[float, ...]]] = {
    "STAKE": ((((-0.5, 0), (0.5, 0)), ((0, -0.5), (0, 0.5))), ()),
    "TEE": ((((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5), (-0.5, -0.5)),), ()),
    "HOLE_LOCATION": ((((0, 0), (0, 2), (1, 1.65), (0, 1.3)),), (0.25,)),
    "CONTROL": ((((-0.5, -0.29), (0.5, -0.29), (0, 0.58), (-0.5, -0.29)),), ()),
    "TREE": ((((-0.1, 0), (0.1, 0)), ((0, -0.1), (0, 0.1))), (0.5,)),
}
#: attributes of a block reference, and whether they are seen
ATTRIBUTES = {"NAME": True, "NUMBER": False, "LEVEL": False, "CODE": False}


@dataclass(frozen=True, eq=False)
class CadLine:
    """A line on a layer; ``xyz`` is ``(n, 3)`` in file units, ``nan`` levels where there are none."""

    layer: str
    xyz: Floats
    closed: bool = False


@dataclass(frozen=True, eq=False)
class CadPoint:
    """A point on a layer, drawn as one of :data:`SYMBOLS` of a ``size``; by default as large as the texts.

    ``name`` stands beside it; ``number`` and ``code`` are kept with it, as its level is.
    """

    layer: str
    xyz: tuple[float, float, float]
    symbol: str = "STAKE"
    name: str = ""
    number: str = ""
    code: str = ""
    size: float = 0.0


@dataclass
class Drawing:
    """What goes into one file."""

    lines: list[CadLine] = field(default_factory=list)
    contours: list[CadLine] = field(default_factory=list)
    points: list[CadPoint] = field(default_factory=list)
    #: triangles ``(n, 3, 3)`` of a surface, on the layer ``SURFACE_PROPOSED``
    triangles: Floats | None = None
    #: height of the texts in file units
    text_height: float = 0.5


def layer_name(name: str) -> str:
    """Reduce a name to what every CAD program takes as a layer name."""
    return re.sub(r"[^A-Za-z0-9_-]+", "_", plain_text(name)).strip("_")[:200] or "unnamed"


def colour_of(layer: str) -> int:
    """Return the colour index of a layer: that of the longest entry of :data:`COLOURS` it begins with."""
    entries = [name for name in COLOURS if layer.startswith(name)]
    return COLOURS[max(entries, key=len)] if entries else 7


def write_dxf(path: Path, drawing: Drawing, unit: str) -> Path:
    """Write a drawing as DXF R2010.

    Lines become 3D polylines, contours plane polylines at their elevation, heavy ones with their level as
    text; points stay points, each with a block reference whose attributes keep name, number, level and code,
    the name to be seen on a layer of its own; triangles become 3D faces. What has no level is drawn at 0 on
    a layer whose name ends in ``_NO_LEVEL``. The file opens on all that is drawn.

    Parameters
    ----------
    path
        File to write.
    drawing
        Lines and points in file units.
    unit
        ``m``, ``us-ft`` or ``ft``: stored as the drawing's unit.

    Raises
    ------
    WriteError
        If the drawing fails its own audit.
    """
    doc = ezdxf.filemanagement.new("R2010", setup=True)
    doc.header["$INSUNITS"] = INSUNITS[unit]
    doc.header["$MEASUREMENT"] = 1 if unit == "m" else 0
    doc.header["$PDMODE"] = 2
    doc.header["$PDSIZE"] = drawing.text_height / 2
    space = doc.modelspace()

    def on(name: str, level: bool) -> dict[str, str]:
        name = layer_name(name) + ("" if level else NO_LEVEL)
        if name not in doc.layers:
            doc.layers.add(name, color=colour_of(name))
        return {"layer": name}

    for line in drawing.lines:
        known = bool(np.isfinite(line.xyz[:, 2]).all())
        xyz = line.xyz if known else np.column_stack([line.xyz[:, :2], np.zeros(len(line.xyz))])
        if len(xyz) > 1:
            space.add_polyline3d(xyz.tolist(), close=line.closed, dxfattribs=on(line.layer, known))
    for line in drawing.contours:
        attributes = {**on(line.layer, True), "elevation": float(line.xyz[0, 2])}
        space.add_lwpolyline(line.xyz[:, :2].tolist(), close=line.closed, dxfattribs=attributes)
        if line.layer.endswith("HEAVY") and len(line.xyz) > 2:
            _write_level(space, line, 2 * drawing.text_height, on(f"{line.layer}_TEXT", True))
    _define_symbols(doc)
    for point in drawing.points:
        x, y, z = point.xyz
        known = bool(np.isfinite(z))
        size = point.size or drawing.text_height
        scale = dict.fromkeys(("xscale", "yscale", "zscale"), size)
        at = (x, y, z if known else 0.0)
        space.add_point(at, dxfattribs=on(point.layer, known))
        symbol = space.add_blockref(point.symbol, at, dxfattribs={**on(point.layer, known), **scale})
        level = f"{z:.{DECIMALS}f}" if known else ""
        values = {"NAME": point.name, "NUMBER": point.number, "LEVEL": level, "CODE": point.code}
        symbol.add_auto_attribs({tag: plain_text(value) for tag, value in values.items() if value})
        for attribute in symbol.attribs:
            attribute.dxf.layer = on(f"{point.layer}_TEXT", known)["layer"]
            attribute.dxf.height = drawing.text_height
    for triangle in () if drawing.triangles is None else drawing.triangles.tolist():
        space.add_3dface(triangle, dxfattribs=on("SURFACE_PROPOSED", True))
    _open_on_all(doc, drawing)
    faults = doc.audit().errors
    if faults:
        raise WriteError(f"{path.name}: the drawing fails its audit: {faults[0].message}")
    try:
        doc.saveas(path)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path


def _define_symbols(doc: Any) -> None:
    """Define the blocks: the lines of the symbol, and its attributes to its upper right."""
    for name, (lines, radii) in SYMBOLS.items():
        block = doc.blocks.new(name)
        for line in lines:
            block.add_lwpolyline(line)
        for radius in radii:
            block.add_circle((0, 0), radius)
        for row, (tag, seen) in enumerate(ATTRIBUTES.items()):
            attribute = block.add_attdef(tag, (0.6, 0.6 - 1.5 * row), height=1.0)
            attribute.is_invisible = not seen


def _write_level(space: Any, line: CadLine, height: float, attributes: dict[str, str]) -> None:
    """Write the level of a contour along its middle, so that it reads from below or from the right."""
    middle = len(line.xyz) // 2
    a, b = line.xyz[middle - 1, :2], line.xyz[middle, :2]
    angle = float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])))
    angle = angle - 180 if angle > 90 else angle + 180 if angle <= -90 else angle
    level = float(line.xyz[0, 2])
    text = space.add_text(f"{round(level, 3):g}", height=height, rotation=angle, dxfattribs=attributes)
    x, y = (a + b) / 2
    text.set_placement((float(x), float(y), level), align=TextEntityAlignment.MIDDLE_CENTER)


def _open_on_all(doc: Any, drawing: Drawing) -> None:
    """Set the extents of the drawing and the view it opens on."""
    parts = [line.xyz for line in (*drawing.lines, *drawing.contours)]
    parts += [np.array([point.xyz]) for point in drawing.points]
    if drawing.triangles is not None:
        parts.append(drawing.triangles.reshape(-1, 3))
    if not parts:
        return
    xyz = np.vstack(parts)
    low, high = np.nanmin(xyz[:, :2], axis=0), np.nanmax(xyz[:, :2], axis=0)
    levels = xyz[np.isfinite(xyz[:, 2]), 2]
    span = (float(levels.min()), float(levels.max())) if len(levels) else (0.0, 0.0)
    corners = [(float(c[0]), float(c[1]), level) for c, level in zip((low, high), span, strict=True)]
    doc.modelspace().reset_extents(*corners)
    centre, tall = (low + high) / 2, float(max(high - low) * 1.05)
    doc.set_modelspace_vport(height=max(tall, 1.0), center=(float(centre[0]), float(centre[1])))
