"""Holes of simple shapes, whose right answers are known, anywhere and turned any way."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan

HALF = 20.0


def burn(
    angle_deg: float = 45.0, at: float = 200.0, width: float = 4.0, reach: float = 200.0
) -> BaseGeometry:
    """Straight band through (0, at); its axis makes an angle with north, running away to the right."""
    d = np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))])
    middle = np.array([0.0, at])
    return LineString([middle - reach * d, middle + reach * d]).buffer(width / 2, cap_style="flat")


def hole(
    hazards: dict[str, BaseGeometry] | None = None,
    *,
    fairway: BaseGeometry | None = None,
    line: tuple[tuple[float, float], ...] = ((0.0, 0.0), (0.0, 340.0)),
    number: int = 1,
) -> Hole:
    """A hole playing due north unless a line says otherwise; fairway 40 m wide from 100 to 310."""
    if fairway is None:
        fairway = box(-HALF, 100, HALF, 310)
    result = {"burn": burn()} if hazards is None else hazards
    layer = {"burn": "burns", "pond": "water"}
    return Hole(
        number,
        [] if fairway.is_empty else [Feature("fairway", "fairway", 1, fairway)],
        Point(line[-1]).buffer(14, quad_segs=32),
        [Feature(n, layer.get(n, "bunkers"), k, g) for k, (n, g) in enumerate(result.items(), 1)],
        [TeePlan("back", 1, Point(line[0]).buffer(3), Alignment(np.array(line)))],
    )


def moved(
    h: Hole, *, turn_deg: float = 0.0, east: float = 0.0, north: float = 0.0, mirror: bool = False
) -> Hole:
    """The same hole elsewhere: mirrored east-west first, then turned clockwise about (0, 0), then shifted."""
    a = np.radians(-turn_deg)
    m = -1.0 if mirror else 1.0
    matrix = [m * np.cos(a), -np.sin(a), m * np.sin(a), np.cos(a), east, north]

    def go(g: BaseGeometry) -> BaseGeometry:
        return affinity.affine_transform(g, matrix)

    def feature(f: Feature) -> Feature:
        return Feature(f.feature, f.layer, f.fid, go(f.geometry))

    tees = [
        TeePlan(t.tee, t.fid, go(t.outline), Alignment(np.array(go(t.line.geometry).coords))) for t in h.tees
    ]
    return Hole(
        h.number, [feature(f) for f in h.fairways], go(h.green), [feature(f) for f in h.hazards], tees
    )


@pytest.fixture(scope="session")
def plan() -> SimpleNamespace:
    return SimpleNamespace(burn=burn, hole=hole, moved=moved, HALF=HALF)
