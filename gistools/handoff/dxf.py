"""DXF drawings: the one door to ezdxf.

Coordinates arrive in file units with x east and y north; nothing is scaled here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import ezdxf
import numpy as np
from numpy.typing import NDArray

from gistools.base.errors import WriteError
from gistools.handoff.frame import plain_text

Floats = NDArray[np.float64]

#: our unit -> code of $INSUNITS (DXF reference [computed]); 21 is the US survey foot
INSUNITS = {"m": 6, "ft": 2, "us-ft": 21}
NO_LEVEL = "_NO_LEVEL"
_COLOURS = (1, 2, 3, 4, 5, 6, 30, 40, 94, 140, 170, 200)


@dataclass(frozen=True, eq=False)
class CadLine:
    """A line on a layer; ``xyz`` is ``(n, 3)`` in file units, ``nan`` levels where there are none."""

    layer: str
    xyz: Floats
    closed: bool = False


@dataclass(frozen=True, eq=False)
class CadPoint:
    """A point on a layer with the text beside it."""

    layer: str
    xyz: tuple[float, float, float]
    label: str = ""


@dataclass
class Drawing:
    """What goes into one file."""

    lines: list[CadLine] = field(default_factory=list)
    contours: list[CadLine] = field(default_factory=list)
    points: list[CadPoint] = field(default_factory=list)
    #: height of the texts in file units
    text_height: float = 0.5


def layer_name(name: str) -> str:
    """Reduce a name to what every CAD program takes as a layer name."""
    return re.sub(r"[^A-Za-z0-9_-]+", "_", plain_text(name)).strip("_")[:200] or "unnamed"


def write_dxf(path: Path, drawing: Drawing, unit: str) -> Path:
    """Write a drawing as DXF R2010.

    Lines become 3D polylines, contours plane polylines at their elevation, points get their number as text on
    a layer of their own. What has no level is drawn at 0 on a layer whose name ends in ``_NO_LEVEL``.

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
            doc.layers.add(name, color=_COLOURS[len(doc.layers) % len(_COLOURS)])
        return {"layer": name}

    for line in drawing.lines:
        known = bool(np.isfinite(line.xyz[:, 2]).all())
        xyz = line.xyz if known else np.column_stack([line.xyz[:, :2], np.zeros(len(line.xyz))])
        if len(xyz) > 1:
            space.add_polyline3d(xyz.tolist(), close=line.closed, dxfattribs=on(line.layer, known))
    for line in drawing.contours:
        attributes = {**on(line.layer, True), "elevation": float(line.xyz[0, 2])}
        space.add_lwpolyline(line.xyz[:, :2].tolist(), close=line.closed, dxfattribs=attributes)
    for point in drawing.points:
        x, y, z = point.xyz
        known = bool(np.isfinite(z))
        at = (x, y, z if known else 0.0)
        space.add_point(at, dxfattribs=on(point.layer, known))
        if point.label:
            text = space.add_text(
                plain_text(point.label),
                height=drawing.text_height,
                dxfattribs=on(f"{point.layer}_TEXT", known),
            )
            text.set_placement((x + drawing.text_height / 2, y + drawing.text_height / 2, at[2]))
    faults = doc.audit().errors
    if faults:
        raise WriteError(f"{path.name}: the drawing fails its audit: {faults[0].message}")
    try:
        doc.saveas(path)
    except OSError as fault:
        raise WriteError(f"{path.name} cannot be written: {fault.strerror}") from fault
    return path
