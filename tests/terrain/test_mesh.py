"""Places that areas are judged from: a square mesh that moves and turns with the hole."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from shapely import affinity

from gistools.hole.sight import mesh

AREA = shapely.Polygon([(-14, -9), (17, -11), (21, 30), (2, 13), (-9, 26)])


@pytest.mark.parametrize("bearing_deg", [0.0, 31.0, 90.0, 200.0, 317.0])
def test_a_mesh_turns_with_its_area(bearing_deg: float) -> None:
    """Turned clockwise by a bearing and shifted, the area holds the same points, turned and shifted."""
    origin = 400_123.4, 300_567.8
    area = affinity.translate(affinity.rotate(AREA, -bearing_deg, origin=(0, 0)), *origin)
    points = mesh(area, 3.0, origin, bearing_deg)
    turn = np.radians(bearing_deg)
    right, ahead = np.array([np.cos(turn), -np.sin(turn)]), np.array([np.sin(turn), np.cos(turn)])
    unturned, straight = (
        np.column_stack([(points - origin) @ right, (points - origin) @ ahead]),
        mesh(AREA, 3.0),
    )
    assert len(unturned) == len(straight)
    assert cKDTree(straight).query(unturned)[0].max() < 1e-6
    assert cKDTree(points).query(origin)[0] < 1e-6
    assert np.median(cKDTree(points).query(points, k=2)[0][:, 1]) == pytest.approx(3.0)
