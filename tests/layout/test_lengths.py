"""Lengths against the ellipsoid, and along planes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from shapely.geometry import Point

from gistools.base.errors import InputError
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.lengths import (
    EARTH_RADIUS_M,
    card_length,
    combined_factor,
    edge_distances,
    measure,
    par_by_length,
    par_text,
    scale_factor,
)
from gistools.compute.terrain.surface import Surface
from gistools.site.types import metre_crs_of

GRIDS = {
    "UTM 30N, 2.9 degrees off its meridian": (32630, -5.9, 56.0),
    "UTM 30N on its meridian": (32630, -3.0, 56.0),
    "British National Grid": (27700, -2.6, 55.7),
    "Michigan South, international feet": (2253, -84.5, 42.5),
    "California 1, US survey feet": (2225, -122.5, 40.5),
    "Montana, international feet": (2256, -110.0, 47.0),
}


@pytest.mark.parametrize("name", GRIDS)
def test_ground_length_is_the_geodesic(name):
    """A dogleg of 229 m and 171 m on the ellipsoid, set out in the grid, is 400 m long again."""
    code, lon, lat = GRIDS[name]
    metric, unit_m = metre_crs_of(CRS.from_epsg(code))
    crs = CRS.from_epsg(code)
    geod = crs.get_geod()
    lon1, lat1, _ = geod.fwd(lon, lat, 37.0, 229.0)
    lon2, lat2, _ = geod.fwd(lon1, lat1, 72.0, 171.0)
    to_grid = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = to_grid.transform([lon, lon1, lon2], [lat, lat1, lat2])
    result = measure(Alignment(np.column_stack([x, y]) * unit_m), metric)
    assert result.ground_m == pytest.approx(400.0, abs=0.002)


def test_the_grid_itself_is_not_good_enough():
    line = Alignment(np.array([(500000.0, 6.2e6), (500000.0, 6.2e6 + 400.0)]))
    assert measure(line, 32630).ground_m - 400.0 == pytest.approx(400.0 * (1 / 0.9996 - 1), abs=1e-6)


@pytest.mark.parametrize("height", [0.0, 150.0, 2000.0])
def test_height_is_removed(height):
    # a level surface at height h makes ground lengths longer by (R + h) / R
    line = Alignment(np.array([(320000.0, 650000.0), (320300.0, 650400.0)]))
    ground = Surface(np.full((120, 120), height), 319900.0, 650500.0, 5.0)
    at_sea, there = measure(line, 27700), measure(line, 27700, ground)
    assert there.ground_m / at_sea.ground_m == pytest.approx(1 + height / EARTH_RADIUS_M, rel=1e-9)
    assert there.surface_m == pytest.approx(there.ground_m, rel=1e-9)


@given(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
def test_length_over_a_plane_is_that_of_its_slope(east, north):
    x = -50 + (np.arange(150) + 0.5) * 2
    y = 450 - (np.arange(250) + 0.5) * 2
    ground = Surface(east * x[None, :] + north * y[:, None], -50.0, 450.0, 2.0)
    line = Alignment(np.array([(0.0, 0.0), (0.0, 229.0), (91.0, 349.0)]))
    local = CRS.from_wkt(
        'ENGCRS["site",EDATUM["x"],CS[Cartesian,2],AXIS["e",east],AXIS["n",north],LENGTHUNIT["metre",1]]'
    )
    result = measure(line, local, ground)
    rise_1, rise_2 = 229 * north, 91 * east + 120 * north
    # pieces are longer by the height above the ellipsoid: parts per million
    plan = np.hypot(229, rise_1) + np.hypot(np.hypot(91, 120), rise_2)
    assert result.surface_m == pytest.approx(plan, abs=0.01)
    assert result.drop_m == pytest.approx(-(rise_1 + rise_2), abs=1e-9)
    assert result.scale_factor == pytest.approx(1.0, abs=1e-12)


def test_no_terrain_and_holes_in_it_are_said():
    line = Alignment(np.array([(0.0, 0.0), (0.0, 100.0)]))
    z = np.zeros((60, 60))
    bare = measure(line, 27700)
    assert np.isnan([bare.surface_m, bare.drop_m]).all() and "no terrain" in bare.note
    z[20:30] = np.nan
    gappy = measure(line, 27700, Surface(z, -60.0, 110.0, 2.0))
    assert np.isnan(gappy.surface_m) and "gaps" in gappy.note and np.isfinite(gappy.ground_m)
    outside = measure(line, 27700, Surface(np.zeros((10, 10)), 5000.0, 5000.0, 2.0))
    assert np.isnan(outside.surface_m) and "does not reach" in outside.note


def test_geographic_and_hopeless_places_are_refused():
    with pytest.raises(InputError, match="not a projected"):
        scale_factor(4326, 0.0, 50.0)
    with pytest.raises(InputError, match="outside"):
        scale_factor(27700, 1e30, 1e30)


def test_factors_of_many_points_at_once():
    x, y = np.array([400000.0, 320000.0]), np.array([300000.0, 650000.0])
    both = combined_factor(27700, x, y, np.array([0.0, 500.0]))
    assert both[0] == scale_factor(27700, 400000.0, 300000.0)
    assert both[1] == scale_factor(27700, 320000.0, 650000.0) * EARTH_RADIUS_M / (EARTH_RADIUS_M + 500.0)


def test_edges_of_the_green_on_the_last_leg():
    line = Alignment(np.array([(0.0, 0.0), (229.0, 0.0), (320.0, 120.0)]))
    green = Point(320, 120).buffer(14, quad_segs=64)
    front, back = edge_distances(line, green)
    assert front == pytest.approx(line.length - 14, abs=0.01)
    assert back == pytest.approx(line.length + 14, abs=0.01)
    assert np.isnan(edge_distances(line, Point(0, 400).buffer(5))).all()


def test_par_says_what_it_cannot_tell():
    assert par_text(par_by_length(430.0)) == "4 or 5"
    for silly in (0.0, -3.0, float("nan")):
        with pytest.raises(InputError):
            par_by_length(silly)


@given(st.floats(1, 900), st.sampled_from(["m", "yd"]), st.sampled_from(["men", "women"]))
def test_every_length_has_one_or_two_neighbouring_pars(length, unit, who):
    result = par_by_length(length, unit=unit, who=who)
    assert result in ([3], [3, 4], [4], [4, 5], [5], [5, 6], [6])


def test_card_rounds_halves_up():
    assert [card_length(v) for v in (234.49, 234.5, 235.5)] == [234, 235, 236]
