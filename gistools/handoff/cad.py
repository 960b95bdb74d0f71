"""What is drawn of a hole for CAD: staked lines and points, contours, what stands there, shaped triangles."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from gistools.compute.terrain.contours import area_above
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.tin import Tin
from gistools.handoff.choices import HandoffChoices
from gistools.handoff.dxf import CadLine, CadPoint, Drawing, Floats
from gistools.handoff.frame import Frame, plain_text
from gistools.site.model import Site
from gistools.steps.catalogue import need
from gistools.steps.quantity_rows import level_at

#: survey layers that are not staked and are drawn as lines, and those drawn as points
LINES = {"paths": "PATHS", "structures": "STRUCTURES", "boundary": "BOUNDARY", "trees": "TREES"}
#: code -> symbol of a staked point; others are drawn as a stake
STAKE_SYMBOLS = {"TEM": "TEE", "PIN": "HOLE_LOCATION"}
#: symbols of tees and control points on the ground [m]
SYMBOL_M = 1.0
#: shaped ground is handed over with so much of the ground round it [m]
ROUND_M = 5.0


def cad_drawing(site: Site, stakes: Any, hole: int, frame: Frame, choices: HandoffChoices) -> Drawing:
    """Return the drawing of a hole in file units."""
    xyz = frame.out(np.column_stack([stakes.geometry.x, stakes.geometry.y, stakes["proposed_level_m"]]))
    drawing = Drawing(text_height=float(frame.out(0.5)))
    for row, at in zip(stakes.itertuples(), xyz, strict=True):
        place = (float(at[0]), float(at[1]), float(at[2]))
        symbol = STAKE_SYMBOLS.get(row.code, "STAKE")
        drawing.points.append(
            CadPoint(f"{row.code}_POINT", place, symbol, row.point, str(row.number), row.code)
        )
    for index in stakes.reset_index(drop=True).groupby("polyline_id", sort=False).indices.values():
        if len(index) > 1:
            row = stakes.iloc[index[0]]
            drawing.lines.append(CadLine(plain_text(row["code"]), xyz[index], bool(row["closed"])))
    if site.ground is not None:
        for row in need(site, "contours", hole=hole, interval_m=choices.interval_m).itertuples():
            xy = frame.out(np.asarray(row.geometry.coords)[:, :2])
            level = np.full(len(xy), float(frame.out(row.contour_level_m)))
            layer = f"CONTOUR_{row.terrain}_{'HEAVY' if row.index_contour else 'LIGHT'}".upper()
            drawing.contours.append(CadLine(layer, np.column_stack([xy, level])))
    _add_surroundings(drawing, site, hole, frame)
    return drawing


def _add_surroundings(drawing: Drawing, site: Site, hole: int, frame: Frame) -> None:
    """Add what stands there, trees, middles of tees and control points at the level of the ground."""
    window = shapely.box(*site.hole_bounds(hole))
    size = float(frame.out(SYMBOL_M))
    for layer, name in LINES.items():
        for row in site.around(layer, hole).to_dict("records"):
            shape = row["geometry"]
            if shape.geom_type == "Point":
                crown = float(frame.out(row.get("crown_m") or 0.0))
                at = _place(site, frame, shape)
                drawing.points.append(CadPoint(name, at, "TREE", size=crown))
                continue
            outline = shape.boundary if shape.geom_type.endswith("Polygon") else shape
            for part in shapely.get_parts(shapely.intersection(outline, window)):
                if part.geom_type == "LineString":
                    drawing.lines.append(CadLine(name, _on_ground(site, frame, part)))
    for row in site.layer("tees", hole).to_dict("records"):
        if row["geometry"].geom_type != "Point":  # tees drawn as a point are staked
            at = _place(site, frame, row["geometry"].centroid)
            drawing.points.append(CadPoint("TEES", at, "TEE", f"{row['tee']} tee", code="TEE", size=size))
    for row in site.layer("control").to_dict("records"):
        x, y, _ = _place(site, frame, row["geometry"])
        level = row["level_m"]
        z = float(frame.out(level)) if level is not None and np.isfinite(level) else float("nan")
        drawing.points.append(
            CadPoint("CONTROL", (x, y, z), "CONTROL", str(row["point"]), code="CONTROL", size=size)
        )


def _place(site: Site, frame: Frame, point: Any) -> tuple[float, float, float]:
    """Return a point with the level of the ground, in file units."""
    x, y, z = _on_ground(site, frame, point)[0].tolist()
    return x, y, z


def _on_ground(site: Site, frame: Frame, shape: Any) -> Floats:
    """Return the vertices of a shape with the level of the ground, in file units."""
    xy = shapely.get_coordinates(shape)
    ground = level_at(site.ground, xy[:, 0], xy[:, 1])
    xyz: Floats = frame.out(np.column_stack([xy, ground]))
    return xyz


def breaklines(stakes: Any) -> list[tuple[str, str, str, Floats]]:
    """Return the staked lines with levels all along: name, code, meaning with feature, corners [m]."""
    lines = []
    table = stakes.reset_index(drop=True)
    xyz = np.column_stack([table.geometry.x, table.geometry.y, table["proposed_level_m"]])
    for index in table.groupby("polyline_id", sort=False).indices.values():
        row = table.iloc[index[0]]
        if len(index) < 2 or row["code"] == "LOP" or not np.isfinite(xyz[index]).all():
            continue
        corners = np.vstack([xyz[index], xyz[index[:1]]]) if row["closed"] else xyz[index]
        meaning = f"{row['meaning']}, {row['feature']}"
        lines.append((str(row["polyline_id"]), str(row["code"]), meaning, corners))
    return lines


def shaped_triangles(tin: Tin, before: Surface, after: Surface) -> Floats:
    """Return the triangles of the proposed surface that meet shaped ground, ``(n, 3, 3)`` [m]."""
    changed = area_above(before.with_heights(np.abs(after.z - before.z)), TOUCHED_M)
    triangles: Floats = tin.points[tin.faces]
    flat = shapely.polygons(triangles[:, :, :2])
    area = shapely.buffer(changed, ROUND_M)
    shapely.prepare(area)
    shaped: Floats = triangles[shapely.intersects(area, flat)]
    return shaped
