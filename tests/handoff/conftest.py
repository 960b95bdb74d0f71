"""Sites to hand over: one in metres, one in US survey feet, with names that bite."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from gistools.base.units import US_SURVEY_FOOT_M
from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site

#: an ugly name: formula, quotes, path, markup, line end
UGLY = '=HYPERLINK("x"),../../<b>Burn & Böög</b>\n2'

#: corner of the site [m] and CRS
METRES = (420000.0, 660000.0, 27700)
US_FEET = (6422000.0 * US_SURVEY_FOOT_M, 2065000.0 * US_SURVEY_FOOT_M, 2225)


def bend(cell: float = 1.0, west: float = 0.0, south: float = 0.0) -> Surface:
    """Rolling ground, 280 x 460 m, with slopes both ways so that no axis can be swapped unseen."""
    cols, rows = round(280 / cell), round(460 / cell)
    x = (np.arange(cols) + 0.5) * cell
    y = 460 - (np.arange(rows) + 0.5) * cell
    z = 20 + 0.02 * x[None, :] - 0.01 * y[:, None] + 0.8 * np.sin(x / 23)[None, :] * np.cos(y / 31)[:, None]
    return Surface(z, west, south + 460, cell)


def hand_tables(west: float, south: float) -> dict[str, gpd.GeoDataFrame]:
    """A dogleg hole in a box 280 x 460 m whose south-west corner is given [m]."""
    circle = Point(150, 400).buffer(14, quad_segs=32)
    tables = {
        "tees": gpd.GeoDataFrame(
            {"hole": [1, 1], "tee": ["back", "forward"]},
            geometry=[box(96, 37, 104, 43), Point(102, 90)],
        ),
        "fairway": gpd.GeoDataFrame(
            {"hole": [1]},
            geometry=[LineString([(100, 140), (120, 260), (150, 375)]).buffer(18, cap_style="flat")],
        ),
        "greens": gpd.GeoDataFrame({"hole": [1]}, geometry=[circle]),
        "pins": gpd.GeoDataFrame({"hole": [1], "pin": ["middle"]}, geometry=[Point(151, 402)]),
        "bunkers": gpd.GeoDataFrame(
            {"hole": [1, 1], "name": [UGLY, "Left"]},
            geometry=[
                Point(175, 395).buffer(6),
                Polygon([(120, 392), (130, 390), (131, 400), (121, 402)]),
            ],
        ),
        "burns": gpd.GeoDataFrame(
            {"hole": [1], "name": ["Test Burn"], "width_m": [3.0]},
            geometry=[LineString([(60, 180), (140, 240), (190, 250)])],
        ),
        "play_lines": gpd.GeoDataFrame(
            {"hole": [1], "tee": [None]}, geometry=[LineString([(100, 40), (115, 240), (150, 400)])]
        ),
        "shapes": gpd.GeoDataFrame(
            {
                "hole": [1, None, 1, 1],
                "name": ["Knoll", "Ditch", "Pad", "Step"],
                "kind": ["mound", "channel", "platform", "tier"],
                "order": [1, 2, 3, 4],
                "rise_m": [1.5, -0.8, np.nan, 0.3],
                "level_m": [np.nan, np.nan, 21.0, np.nan],
                "side_slope_pct": [25.0, 40.0, 33.0, 17.0],
                "blend_m": [2.0, 1.0, 1.0, 1.0],
            },
            geometry=[
                Point(185, 370).buffer(13),
                LineString([(60, 300), (110, 310), (180, 300)]),
                box(92, 82, 112, 98),
                box(130, 400, 170, 430),
            ],
        ),
        "control": gpd.GeoDataFrame(
            {
                "point": ["K1", "K2", "K3"],
                "level_m": [20.5, 19.0, 18.0],
                "check_easting_m": [west + 20.006, west + 250.1, np.nan],
                "check_northing_m": [south + 19.992, south + 30.0, np.nan],
                "check_level_m": [20.497, 19.0, np.nan],
            },
            geometry=[Point(20, 20), Point(250, 30), Point(20, 430)],
        ),
    }
    for table in tables.values():
        table["geometry"] = [affinity.translate(g, west, south) for g in table.geometry]
    return tables


def make_site(corner: tuple[float, float, int], cell: float = 1.0) -> Site:
    west, south, crs = corner
    return Site.from_tables(hand_tables(west, south), crs, bend(cell, west, south))


@pytest.fixture(params=[METRES, US_FEET], ids=["metres", "US survey feet"])
def hand_site(request: pytest.FixtureRequest) -> Site:
    """The hole to hand over, in a CRS in metres and in one in US survey feet."""
    return make_site(request.param)


@pytest.fixture
def metre_site() -> Site:
    """The hole to hand over, British National Grid."""
    return make_site(METRES)
