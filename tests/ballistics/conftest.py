"""Ground for the tests of this part."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from gistools.compute.terrain.surface import Surface

sys.path.insert(0, str(Path(__file__).parent))


def tilted(
    east: float = 0.0, north: float = 0.0, *, cell: float = 0.5, width: float = 120.0, length: float = 360.0
) -> Surface:
    """Plane through level 0 at the origin, 60 m of it behind the start."""
    cols, rows = round(width / cell), round(length / cell)
    x = -width / 2 + (np.arange(cols) + 0.5) * cell
    y = length - 60.0 - (np.arange(rows) + 0.5) * cell
    return Surface(east * x[None, :] + north * y[:, None], -width / 2, length - 60.0, cell)


@pytest.fixture(scope="session")
def level() -> Surface:
    return tilted()


@pytest.fixture(scope="session")
def make_plane():
    return tilted
