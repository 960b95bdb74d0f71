"""Hazards that cross the fairway or bite into it: how they lie to the line of play.

All in the frame of the leg of the line of play at the hazard: ``v`` along play, ``u`` to the right of it.

- The *gradient* is the rise of the far edge ``v`` for each metre of ``u`` (least squares over the width of
  the hazard in the fairway): how much more carry each metre to the right takes. For a straight band at the
  angle a to the line of play it is cot(a).
- The *axis* of a hazard that crosses is the straight line that fits its middle (half-way between near and far
  edge) best. That of another one is the principal axis (second moments of area) of what lies in or near the
  fairway, cut off square to itself, because a cut along the fairway's edge would turn it.
- The *angle* is between axis and line of play, 0 to 90 degrees.
- The *share* is how much of the fairway's width the hazard takes up, as seen along the line of play.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from gistools.base.grid import Floats
from gistools.compute.layout.alignment import bearing, cross_sections, pieces_under_line
from gistools.compute.layout.fairways import polygons
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan

ROUND = 1.2  # below this ratio of second moments an outline has no axis to speak of
SQUARE_DEG = (
    80.0  # assumption: a hazard nearer than 10 degrees to square across is carried alike on every line
)
SAMPLES = 41
CROSSING_SHARE = 0.9  # assumption: a hazard over less of the width, or that parts nothing, does not cross
BESIDE_M = 20.0  # assumption: how far beside the fairway a hazard shows which way it runs
LEAST_SLIVER_M2 = 150.0  # assumption: a smaller piece of fairway is no place to play to


@dataclass(frozen=True, eq=False)
class Diagonal:
    """One hazard in the fairway: lengths [m], angles [degrees], ``gradient`` [m carry per m to the right]."""

    hazard: Feature
    part: BaseGeometry
    axis: LineString
    chainage: float
    bearing: float
    angle: float
    gradient: float
    share: float
    offset_left: float
    offset_right: float
    areas: int
    crosses: bool

    @property
    def runs_away(self) -> str:
        """Side to which the carry grows; ``square`` where it hardly does."""
        if abs(self.gradient) < np.tan(np.radians(90.0 - SQUARE_DEG)):
            return "square"
        return "right" if self.gradient > 0 else "left"


def diagonals(hole: Hole, tee: TeePlan, *, least_share: float = 0.05) -> list[Diagonal]:
    """Hazards that take up at least ``least_share`` of the fairway's width, in order along the line of play.

    A hazard that crosses the fairway in several places gives one answer for each.
    """
    fairway = hole.filled
    if fairway.is_empty:
        return []
    answers = []
    for hazard in hole.hazards:
        if not hazard.geometry.intersects(fairway):
            continue
        for part in polygons(hazard.geometry.intersection(fairway), 1.0):
            one = _diagonal(hole, tee, hazard, part)
            if one.share >= least_share:
                answers.append(one)
    return sorted(answers, key=lambda d: d.chainage)


def _diagonal(hole: Hole, tee: TeePlan, hazard: Feature, part: Polygon) -> Diagonal:
    line = tee.line
    chainage = float(line.locate(shapely.get_coordinates(part.centroid))[0][0])
    chainage = float(np.clip(chainage, 0.0, line.length))
    origin, along = line.at(np.array([chainage]))[0], line.direction(np.array([chainage]))[0]
    right = np.array([along[1], -along[0]])
    corners = shapely.get_coordinates(part) - origin
    u, v = corners @ right, corners @ along
    left, wide = _fairway_across(hole, tee, float(v.min()) + chainage, float(v.max()) + chainage)
    share = min(float(u.max() - u.min()) / wide, 1.0) if wide > 0 else np.nan
    body = max(polygons(hole.filled), key=lambda p: p.intersection(part).area)
    rest = polygons(body.difference(hazard.geometry), LEAST_SLIVER_M2)
    crosses = len(rest) > 1 and share > CROSSING_SHARE
    gradient, middle = _gradients(hazard.geometry, part, origin, along, right)
    if crosses and np.isfinite(middle):
        direction, ratio = (right + middle * along) / np.hypot(1.0, middle), np.inf
    else:
        beside = polygons(hazard.geometry.intersection(body.buffer(BESIDE_M)))
        direction, ratio = _axis(hazard.geometry, max(beside, key=lambda p: p.intersection(part).area))
    has_axis = ratio >= ROUND
    return Diagonal(
        hazard=hazard,
        part=part,
        axis=_axis_line(part, direction if has_axis else right),
        chainage=chainage,
        bearing=bearing(direction) % 180.0 if has_axis else np.nan,
        angle=_between(direction, along) if has_axis else np.nan,
        gradient=gradient,
        share=share,
        offset_left=float(u.min() - left),
        offset_right=float(left + wide - u.max()),
        areas=len(rest),
        crosses=crosses,
    )


def _between(a: Floats, b: Floats) -> float:
    """Angle between two unit vectors taken as lines, 0 to 90 [degrees]."""
    return float(np.degrees(np.arctan2(abs(a[0] * b[1] - a[1] * b[0]), abs(float(a @ b)))))


def _fairway_across(hole: Hole, tee: TeePlan, start: float, end: float) -> tuple[float, float]:
    """Left offset and width of the fairway beside a hazard, averaged along play."""
    at = np.clip(np.linspace(start, end, 9), 0.0, tee.line.length)
    left, right, station = cross_sections(tee.line, at, hole.filled)
    left_edge, right_edge = pieces_under_line(left, right, station, len(at))
    if np.isnan(left_edge).all():
        return (float(left.min()), float(right.max() - left.min())) if len(left) else (np.nan, 0.0)
    return float(np.nanmean(left_edge)), float(np.nanmean(right_edge - left_edge))


def _moments(area: Polygon) -> tuple[Floats, float]:
    """Unit long axis of an area and the ratio of its second moments, by exact sums over its rings."""
    middle = np.asarray(area.centroid.coords[0])
    xx = yy = xy = 0.0
    for ring, sign in [(area.exterior, 1.0), *[(r, -1.0) for r in area.interiors]]:
        p = shapely.get_coordinates(ring) - middle
        x, y, x1, y1 = p[:-1, 0], p[:-1, 1], p[1:, 0], p[1:, 1]
        cross = x * y1 - x1 * y
        sign *= np.sign(cross.sum())
        xx += sign * float((cross * (x * x + x * x1 + x1 * x1)).sum()) / 12
        yy += sign * float((cross * (y * y + y * y1 + y1 * y1)).sum()) / 12
        xy += sign * float((cross * (x * y1 + 2 * x * y + 2 * x1 * y1 + x1 * y)).sum()) / 24
    values, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))
    return vectors[:, 1], float(values[1] / max(values[0], 1e-12))


def _axis(hazard: BaseGeometry, part: Polygon) -> tuple[Floats, float]:
    """Long axis of a hazard as it lies in or near the fairway, and the ratio of its second moments.

    The part there gives a first axis; the hazard cut off square to that axis at the ends of the part gives
    a better one, until it no longer turns.
    """
    direction, ratio = _moments(part)
    middle = np.asarray(part.centroid.coords[0])
    for _ in range(30):
        if ratio < ROUND:
            break
        side = np.array([direction[1], -direction[0]])
        reach = np.abs((shapely.get_coordinates(part) - middle) @ direction).max()
        wide = np.abs((shapely.get_coordinates(part) - middle) @ side).max() + 1.0
        frame = [
            middle + a * reach * direction + b * wide * side for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        cut = polygons(hazard.intersection(Polygon(frame)))
        if not cut:
            break
        better, ratio = _moments(max(cut, key=lambda p: p.area))
        turned = 1.0 - abs(float(better @ direction))
        direction = better
        if turned < 1e-15:
            break
    return direction, ratio


def _axis_line(part: Polygon, direction: Floats) -> LineString:
    """The axis drawn through the middle of a part, as long as the part."""
    middle = np.asarray(part.centroid.coords[0])
    along = (shapely.get_coordinates(part) - middle) @ direction
    return LineString([middle + along.min() * direction, middle + along.max() * direction])


def _gradients(
    hazard: BaseGeometry, part: Polygon, origin: Floats, along: Floats, right: Floats
) -> tuple[float, float]:
    """Least-squares rise of the far edge and of the middle per metre to the right, over a part's width."""
    corners = shapely.get_coordinates(part) - origin
    u = corners @ right
    inset = 0.5 * (u.max() - u.min()) / SAMPLES
    offsets = np.linspace(u.min() + inset, u.max() - inset, SAMPLES)
    low, high = (corners @ along).min() - 50.0, (corners @ along).max() + 50.0
    base = origin + offsets[:, None] * right
    lines = shapely.linestrings(np.stack([base + low * along, base + high * along], axis=1))
    cut, touching = (np.asarray(shapely.intersection(lines, g)) for g in (hazard, part))
    front, back = np.full(SAMPLES, np.nan), np.full(SAMPLES, np.nan)
    for k in range(SAMPLES):
        reach = (shapely.get_coordinates(touching[k]) - origin) @ along
        stretches = [(shapely.get_coordinates(p) - origin) @ along for p in shapely.get_parts(cut[k])]
        met = [
            t
            for t in stretches
            if len(reach) and t.min() <= reach.max() + 1e-9 and t.max() >= reach.min() - 1e-9
        ]
        if met:
            front[k], back[k] = min(t.min() for t in met), max(t.max() for t in met)
    return _slope(offsets, back), _slope(offsets, 0.5 * (front + back))


def _slope(x: Floats, y: Floats) -> float:
    known = np.isfinite(y)
    if known.sum() < 3:
        return np.nan
    x, y = x[known] - x[known].mean(), y[known] - y[known].mean()
    return float((x @ y) / (x @ x))


def diagonal_rows(hole: Hole, tee: TeePlan, *, least_share: float) -> list[dict[str, Any]]:
    """Rows of the layer ``diagonals``."""
    return [
        {
            "hole": hole.number,
            "tee": tee.tee,
            "feature": d.hazard.feature,
            "layer": d.hazard.layer,
            "feature_id": d.hazard.fid,
            "chainage_m": d.chainage,
            "axis_bearing_deg": d.bearing,
            "axis_angle_deg": d.angle,
            "width_share_pct": 100.0 * d.share,
            "extra_carry_m_per_m": abs(d.gradient),
            "runs_away": d.runs_away,
            "free_left_m": max(d.offset_left, 0.0),
            "free_right_m": max(d.offset_right, 0.0),
            "areas_count": d.areas,
            "geometry": d.axis,
        }
        for d in diagonals(hole, tee, least_share=least_share)
    ]
