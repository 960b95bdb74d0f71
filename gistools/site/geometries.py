"""Survey geometry made single, two-dimensional, valid and of the right type; with findings.

Nothing is mended silently: every repair, and every feature left out, is a finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.validation import explain_validity

from gistools.site._vector import RawLayer
from gistools.site.findings import Finding, listed
from gistools.site.schema import POLYGON, LayerSpec

#: a mended outline may differ from the drawn one by this share of its area and still be used (assumption)
MENDED_SHARE = 0.01
#: a polygon smaller [m2], or a line shorter [m], is a slip of the hand (assumption)
LEAST_AREA_M2 = 0.01
LEAST_LENGTH_M = 0.01
#: a feature of more corners is simplified, within a tolerance from the first to the second of these [m]
MOST_CORNERS = 5000
LEAST_TOLERANCE_M, MOST_TOLERANCE_M = 0.01, 0.64


def clean_geometries(
    raw: RawLayer, spec: LayerSpec, unit_m: float, has_m: bool = False
) -> tuple[NDArray[np.intp], list[Any], list[Finding]]:
    """Return the geometries of a layer as single, valid, two-dimensional parts in metres.

    Parameters
    ----------
    raw
        The layer as it is in the file.
    spec
        What it should hold.
    unit_m
        Metres in one unit of its CRS.
    has_m
        The layer says that it holds measures.

    Returns
    -------
    rows, shapes, findings
        For each part that is left the row it came from, its geometry in metres, and what was found.
    """
    rows: list[int] = []
    shapes: list[Any] = []
    findings: list[Finding] = []
    seen: dict[str, list[int]] = {"deep": [], "wrapped": [], "split": []}
    for row, (fid, shape) in enumerate(zip(raw.ids, raw.geometry, strict=True)):
        fault = _nothing_there(shape)
        if fid in raw.broken:
            fault = f"its geometry cannot be read ({raw.broken[fid]})"
        if fault:
            findings.append(
                Finding("warning", spec.name, fid, f"{fault}; it was left out", "draw it, or delete the row")
            )
            continue
        if has_m or shape.has_z:
            seen["deep"].append(fid)
        parts = list(_parts(shapely.force_2d(shape)))
        if len(parts) > 1:
            seen["split"].append(fid)
        elif shape.geom_type not in spec.geometry:
            seen["wrapped"].append(fid)
        for part in parts:
            if part.geom_type not in spec.geometry:
                findings.append(_wrong_type(spec, fid, part))
                continue
            metric = shapely.transform(part, lambda xy: xy * unit_m)
            metric = _with_fewer_corners(metric, spec, fid, findings)
            for good in _sound(metric, spec, fid, findings):
                rows.append(row)
                shapes.append(good)
    return np.array(rows, dtype=np.intp), shapes, findings + _summed_up(spec, seen)


def _with_fewer_corners(shape: Any, spec: LayerSpec, fid: int, findings: list[Finding]) -> Any:
    """Return an outline or line of very many corners with fewer, and say how far it moved at most."""
    count = shapely.get_num_coordinates(shape)
    if count <= MOST_CORNERS:
        return shape
    tolerance, simple = LEAST_TOLERANCE_M / 2, shape
    while shapely.get_num_coordinates(simple) > MOST_CORNERS and tolerance < MOST_TOLERANCE_M:
        tolerance *= 2
        simple = shapely.simplify(shape, tolerance, preserve_topology=False)
    left = shapely.get_num_coordinates(simple)
    if simple.is_empty or simple.geom_type != shape.geom_type or left > MOST_CORNERS:
        message = f"it has {count:,} corners, more than {MOST_CORNERS:,} even within {MOST_TOLERANCE_M:g} m"
        findings.append(Finding("error", spec.name, fid, message, "simplify it in your GIS"))
        return shapely.convex_hull(shape) if shape.geom_type == POLYGON else simple
    message = f"it has {count:,} corners; {left:,} are used, within {tolerance:g} m of the drawn outline"
    remedy = "simplify it yourself for another tolerance"
    findings.append(Finding("warning", spec.name, fid, message, remedy))
    return simple


def _nothing_there(shape: Any) -> str:
    if shape is None:
        return "it has no geometry"
    if shape.is_empty:
        return "its geometry is empty"
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        return "its coordinates are not finite numbers"
    return ""


def _parts(shape: Any) -> Iterator[Any]:
    if hasattr(shape, "geoms"):
        for part in shape.geoms:
            yield from _parts(part)
    elif not shape.is_empty:
        yield shape


def _wrong_type(spec: LayerSpec, fid: int, part: Any) -> Finding:
    expected = " or ".join(spec.geometry)
    return Finding(
        "error",
        spec.name,
        fid,
        f"it is a {part.geom_type}; the layer holds {expected} features",
        f"redraw it as {expected}, or move it to another layer",
    )


def _sound(shape: Any, spec: LayerSpec, fid: int, findings: list[Finding]) -> list[Any]:
    """Return the shape, mended if need be, in parts; nothing where nothing is left."""
    if shape.geom_type == "LineString" and shape.length < LEAST_LENGTH_M:
        findings.append(Finding("error", spec.name, fid, "the line has no length", "redraw or delete it"))
        return []
    if shape.geom_type != POLYGON:
        return [shape]
    mended = shape
    if not shape.is_valid:
        reason = explain_validity(shape)
        mended = shapely.make_valid(shape, method="structure", keep_collapsed=False)
        change = abs(mended.area - shape.area)
        small = change <= MENDED_SHARE * mended.area
        findings.append(
            Finding(
                "warning" if small else "error",
                spec.name,
                fid,
                f"its outline crosses or touches itself ({reason.lower()})"
                + (f"; it was mended, the area changed by {change:.2f} m²" if small else ""),
                "redraw the outline there",
            )
        )
    parts = [p for p in _parts(mended) if p.area >= LEAST_AREA_M2]
    if not parts:
        findings.append(Finding("error", spec.name, fid, "the outline has no area", "redraw or delete it"))
    return parts


def _summed_up(spec: LayerSpec, seen: dict[str, list[int]]) -> list[Finding]:
    findings = []
    if seen["deep"]:
        message = (
            f"heights or measures on {_features(seen['deep'])} were dropped; heights come from the terrain"
        )
        findings.append(Finding("note", spec.name, None, message))
    if seen["wrapped"]:
        message = f"{_features(seen['wrapped'])} stored as multi-part with a single part: taken as single"
        findings.append(Finding("note", spec.name, None, message))
    if seen["split"]:
        message = f"{_features(seen['split'])} in several parts: each part is a feature of its own here"
        remedy = "split them in the survey layer if the parts need their own names"
        findings.append(Finding("warning", spec.name, None, message, remedy))
    return findings


def _features(fids: list[int]) -> str:
    return f"{'feature' if len(fids) == 1 else 'features'} {listed(fids)}"


def without_repeats(
    shapes: list[Any], holes: list[Any], ids: list[int], layer: str
) -> tuple[list[int], list[Finding]]:
    """Find features drawn twice: same geometry (to 1 mm) and same hole.

    Returns
    -------
    keep, findings
        Positions to keep, and a warning for each feature left out.
    """
    first: dict[Any, int] = {}
    keep: list[int] = []
    findings = []
    for i, shape in enumerate(shapes):
        key = (shapely.normalize(shapely.set_precision(shape, 0.001)).wkb, str(holes[i]))
        if key in first:
            findings.append(
                Finding(
                    "warning",
                    layer,
                    ids[i],
                    f"it is the same as feature {first[key]}; it was left out",
                    "delete one of the two",
                )
            )
        else:
            first[key] = ids[i]
            keep.append(i)
    return keep, findings
