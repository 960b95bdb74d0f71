"""Surface water on ground whose answer is known: planes, bowls, valleys; and the step on the sample."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

import gistools as gt
from gistools.compute.terrain.drainage import (
    flow_paths,
    hollows,
    runoff,
    shares_by_quarter,
    shed_by,
)
from gistools.compute.terrain.surface import Surface
from gistools.site.sample import sample_site

CELL = 1.0


def ground(height, size=60, cell=CELL) -> Surface:
    x = (np.arange(size) + 0.5) * cell
    y = size * cell - x
    return Surface(height(x[None, :], y[:, None]) + np.zeros((size, size)), 0.0, size * cell, cell)


def brute_fill(z: np.ndarray) -> np.ndarray:
    """Fill by raising every cell to the lowest pass to the edge, over and over (slow and plain)."""
    filled = np.where(np.isnan(z), np.nan, np.inf)
    edge = np.zeros(z.shape, bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    edge |= ndimage.binary_dilation(np.isnan(z), np.ones((3, 3)))
    filled[edge & ~np.isnan(z)] = z[edge & ~np.isnan(z)]
    while True:
        low = ndimage.minimum_filter(np.nan_to_num(filled, nan=np.inf), 3, mode="nearest")
        new = np.where(np.isnan(z), np.nan, np.minimum(filled, np.maximum(z, low)))
        if np.array_equal(new, filled, equal_nan=True):
            return filled
        filled = new


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_filled_ground_is_that_of_a_plain_method(seed, gap):
    z = np.random.default_rng(seed).normal(size=(14, 17)).round(1)
    if gap:
        z[5:7, 6:9] = np.nan
    s = Surface(z, 0.0, 14.0, 1.0)
    water = runoff(s)
    assert np.array_equal(water.filled, brute_fill(z), equal_nan=True)
    # every cell of ground drains off: what leaves is all there is
    out = water.receiver < 0
    assert water.catchment_m2.ravel()[out & np.isfinite(z.ravel())].sum() == pytest.approx(
        np.isfinite(z).sum()
    )
    # downstream is never higher on the filled ground
    level = water.filled.ravel()
    inner = np.flatnonzero(np.isfinite(level) & (water.receiver >= 0))
    assert (level[water.receiver[inner]] <= level[inner]).all()


def test_a_bowl_holds_its_volume_up_to_the_spill():
    """A paraboloid of radius 20 m and 2 m depth cut into a plane at 10 m: V = pi r^2 d / 2."""
    s = ground(
        lambda x, y: np.minimum(10.0, 8.0 + 2.0 * ((x - 30) ** 2 + (y - 30) ** 2) / 20**2), cell=0.5, size=120
    )
    (bowl,) = hollows(runoff(s), least_depth_m=0.05, least_area_m2=2)
    assert bowl.volume_m3 == pytest.approx(np.pi * 20**2 * 2 / 2, rel=0.005)
    assert bowl.spill_m == pytest.approx(10.0) and bowl.lowest_m == pytest.approx(8.0, abs=0.01)
    assert bowl.depth_m == pytest.approx(2.0, abs=0.01) and bowl.place == pytest.approx((30, 30), abs=0.5)
    assert bowl.area_m2 == pytest.approx(np.pi * 20**2, rel=0.01)


def test_a_notch_in_the_rim_lowers_the_spill():
    def bowl(x, y):
        z = np.minimum(10.0, 8.0 + 2.0 * ((x - 30) ** 2 + (y - 30) ** 2) / 20**2)
        return np.where((np.abs(y - 30) < 2) & (x > 30), np.minimum(z, 9.5), z)

    (hollow,) = hollows(runoff(ground(bowl)), least_depth_m=0.05, least_area_m2=2)
    assert hollow.spill_m == pytest.approx(9.5) and hollow.depth_m == pytest.approx(1.5, abs=0.02)


def test_a_plane_has_no_hollow_and_sheds_down_its_fall():
    s = ground(lambda x, y: 10 - 0.02 * x)
    water = runoff(s)
    assert hollows(water, least_depth_m=0.01, least_area_m2=1) == []
    x, y = s.grid.mesh()
    inside = (np.abs(x - 30) < 10) & (np.abs(y - 30) < 10)
    places, shed = shed_by(water, inside)
    assert shed.sum() == pytest.approx(inside.sum()) and (places[:, 0] > 39).all()
    assert shares_by_quarter(places, shed, (30, 30), 90.0)["back"] > 0.8  # play to the east: it falls away
    assert shares_by_quarter(places, shed, (30, 30), 0.0)["right"] > 0.8
    assert shares_by_quarter(places, shed, (30, 30), 270.0)["front"] > 0.8


def test_a_valley_gathers_its_sides():
    """Sides at 10 % to the middle, which falls 2 % to the south: the path is the middle line."""
    s = ground(lambda x, y: 10 + 0.1 * np.abs(x - 30.5) + 0.02 * y, size=61)
    water = runoff(s)
    (path,) = flow_paths(water, least_catchment_m2=500)
    assert np.abs(path.xy[:, 0] - 30.5).max() < 0.01 and path.xy[-1, 1] == pytest.approx(0.5)
    assert path.catchment_m2[-1] == pytest.approx(61 * 61, rel=0.02) and not path.joins
    assert (np.diff(path.level_m) < 0).all()
    assert (path.level_m[0] - path.level_m[-1]) / np.ptp(path.xy[:, 1]) == pytest.approx(0.02, abs=1e-6)


def test_a_cone_sheds_to_every_side():
    s = ground(lambda x, y: 20 - 0.05 * np.hypot(x - 30, y - 30))
    x, y = s.grid.mesh()
    places, shed = shed_by(runoff(s), np.hypot(x - 30, y - 30) < 15)
    assert np.array(list(shares_by_quarter(places, shed, (30, 30), 0.0).values())) == pytest.approx(
        0.25, abs=0.02
    )


# --------------------------------------------------------------------- the step

SITE = sample_site()


@pytest.fixture(scope="module")
def rows():
    return gt.drainage(SITE, hole=1)


def test_hollows_of_the_sample_lie_below_their_spill(rows):
    surface = gt.proposed_site(SITE, hole=1).surface()
    for row in rows["hollows"].to_dict("records"):
        x, y = row["geometry"].representative_point().coords[0]
        assert float(surface.height(x, y)) <= row["spill_level_m"] + 0.05
        assert row["depth_m"] == pytest.approx(row["spill_level_m"] - row["level_m"], abs=0.002)
        assert row["volume_m3"] <= row["area_m2"] * row["depth_m"] + 0.01
    bunker = rows["hollows"].set_index("feature").loc["Burdock"]
    assert bunker["drainage_status"] == "noted" and "bunker needs a drain" in bunker["reading"]
    assert (rows["hollows"]["drainage_status"] == "flagged").any()


def test_the_green_of_hole_1_holds_no_water_as_its_page_says(rows):
    """And it sheds to three sides: sample_course.gpkg.md."""
    green = SITE.layer("greens", 1).geometry.iloc[0]
    assert not any(green.intersection(g).area > 1.0 for g in rows["hollows"].geometry)
    assert rows["surface_falls"].set_index("feature").loc["Haar", "ways_count"] == 3


def test_paths_end_where_they_say(rows):
    burn = SITE.layer("burns").geometry.iloc[0].buffer(4.0)
    paths = rows["flow_paths"]
    into_burn = paths[paths["path_end"] == "Teasel Burn"]
    assert len(into_burn) >= 3 and all(burn.covers(g.boundary.geoms[-1]) for g in into_burn.geometry)
    assert (paths["path_fall_pct"] >= 0).all() and (paths["catchment_m2"] >= 1000).all()
    flagged = paths[paths["drainage_status"] == "flagged"]
    greens = SITE.layer("greens").union_all().union(SITE.layer("tees").union_all())
    assert all(g.buffer(1).intersects(greens) for g in flagged.geometry)


def test_falls_and_ways_of_the_greens():
    falls = gt.drainage(SITE)["surface_falls"].set_index("feature")
    shares = falls[[f"shed_{k}_pct" for k in ("front", "left", "back", "right")]].sum(axis=1)
    assert shares.to_numpy() == pytest.approx(100.0, abs=0.05)
    assert falls.loc["Sandwort", "ways_count"] == 1 and falls.loc["Sandwort", "drainage_status"] == "flagged"
    assert falls.loc["Haar", "ways_count"] >= 2
    tee = falls.loc["back tee"]
    assert (tee["drainage_status"] == "drains").all() and tee["slope_mean_pct"].to_numpy() == pytest.approx(
        1.0, abs=0.05
    )


def test_a_mound_dams_the_way_of_the_water():
    """A bank across the valley makes a hollow that was not there; on the proposed ground the step sees it."""
    import geopandas as gpd
    from shapely.geometry import box

    from gistools.site.model import Site
    from tests.conftest import straight_tables

    tables = straight_tables()
    greens = tables["greens"].geometry.iloc[0].bounds
    west, south, east, north = (greens[0] - 150, greens[1] - 300, greens[2] + 150, greens[3] + 120)
    cell = 1.0
    cols, lines = int((east - west) / cell), int((north - south) / cell)
    x = west + (np.arange(cols) + 0.5) * cell
    y = south + lines * cell - (np.arange(lines) + 0.5) * cell
    middle = (greens[0] + greens[2]) / 2
    z = 20 + 0.05 * np.abs(x[None, :] - middle) + 0.02 * (y[:, None] - south)
    surface = Surface(z, west, south + lines * cell, cell)
    at = greens[1] - 60
    bank = gpd.GeoDataFrame(
        {
            "hole": [1],
            "name": ["bank"],
            "kind": ["mound"],
            "order": [1],
            "rise_m": [2.0],
            "side_slope_pct": [50.0],
        },
        geometry=[box(middle - 60, at - 5, middle + 60, at + 5)],
    )
    before = gt.drainage(Site.from_tables(tables, 27700, surface), hole=1)["hollows"]
    after = gt.drainage(Site.from_tables(tables | {"shapes": bank}, 27700, surface), hole=1)["hollows"]
    deep = after[after["depth_m"] > 0.3]
    assert len(before[before["depth_m"] > 0.3]) == 0 and len(deep) >= 1
    assert (deep["drainage_status"] == "flagged").any()  # it stands on the fairway
