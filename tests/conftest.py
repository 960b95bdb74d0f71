"""Fixtures shared by all tests: small sites made in memory, whose right answers are known."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site


def plane(
    west: float = -100.0,
    south: float = -60.0,
    width: float = 240.0,
    length: float = 480.0,
    cell: float = 1.0,
    level: float = 10.0,
    east_slope: float = 0.0,
    north_slope: float = 0.0,
) -> Surface:
    """Make a tilted plane: ``level`` at (0, 0), slopes in m/m."""
    cols, rows = round(width / cell), round(length / cell)
    x = west + (np.arange(cols) + 0.5) * cell
    y = south + length - (np.arange(rows) + 0.5) * cell
    return Surface(level + east_slope * x[None, :] + north_slope * y[:, None], west, south + length, cell)


def straight_tables() -> dict[str, gpd.GeoDataFrame]:
    """One straight hole playing due north, tee at (0, 0), green centre at (0, 340).

    The fairway is 40 m wide from y = 100 to y = 310. A burn 4 m wide crosses it at 45 degrees through (0,
    200).
    """
    diagonal = LineString([(-60, 140), (60, 260)])
    return {
        "tees": gpd.GeoDataFrame({"hole": [1], "tee": ["back"]}, geometry=[box(-4, -3, 4, 3)]),
        "fairway": gpd.GeoDataFrame({"hole": [1]}, geometry=[box(-20, 100, 20, 310)]),
        "greens": gpd.GeoDataFrame(
            {"hole": [1], "stimp_ft": [10.0]}, geometry=[Point(0, 340).buffer(14, quad_segs=32)]
        ),
        "pins": gpd.GeoDataFrame(
            {"hole": [1, 1], "pin": ["front", "back"]}, geometry=[Point(0, 332), Point(3, 347)]
        ),
        "burns": gpd.GeoDataFrame(
            {"hole": [1], "name": ["Test Burn"], "width_m": [4.0]}, geometry=[diagonal]
        ),
        "bunkers": gpd.GeoDataFrame(
            {"hole": [1], "name": ["Left"]},
            geometry=[Polygon([(-26, 318), (-16, 318), (-16, 326), (-26, 326)])],
        ),
        "boundary": gpd.GeoDataFrame(geometry=[box(-90, -50, 130, 410)]),
    }


@pytest.fixture
def straight_site() -> Site:
    """The straight hole on a level plane at 10 m, in British National Grid."""
    return Site.from_tables(straight_tables(), 27700, plane())
