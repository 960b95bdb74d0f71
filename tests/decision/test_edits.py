"""Ground that goes with a feature: closed forms on planes, and the sample's own mound and bunkers."""

from __future__ import annotations

import dataclasses
import math

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface
from gistools.design.places import Move
from gistools.design.relief import add_relief, remove_relief
from gistools.design.vary import vary
from gistools.site.model import Site
from gistools.site.sample import sample_site
from tests.conftest import plane, straight_tables

SLOPES = {"east_slope": 0.02, "north_slope": -0.01}
AT = (10.0, 250.0)


def dome(height: float, radius: float, x0: float, y0: float, longer: float = 1.0) -> Surface:
    """A plane that tilts, with a dome (1 - r^2)^2 on it, drawn out to the east: level at its toe."""
    s = plane(**SLOPES)
    x, y = s.centres()
    r = np.hypot((x[None, :] - x0) / longer, y[:, None] - y0) / radius
    return dataclasses.replace(s, z=s.z + height * np.maximum(1 - r**2, 0.0) ** 2)


def with_dome(height: float = 3.0, radius: float = 12.0, layer: str = "mounds", longer: float = 1.0) -> Site:
    tables = straight_tables()
    outline = Point(*AT).buffer(radius if layer == "mounds" else radius - 2.5, quad_segs=32)
    if longer != 1.0:
        outline = gpd.GeoSeries([outline]).scale(longer, 1.0).iloc[0]
    tables[layer] = gpd.GeoDataFrame({"hole": [1], "name": ["Test Knowe"]}, geometry=[outline])
    return Site.from_tables(tables, 27700, dome(height, radius, *AT, longer))


@pytest.mark.parametrize("by", [(30.0, -40.0), (27.3, 11.6)])
def test_a_shifted_mound_takes_its_ground_along(by: tuple[float, float]) -> None:
    """The plane is left behind, and the dome stands on the plane where it came to."""
    site = with_dome()
    other = vary(site, shift={"Test Knowe": by})
    expected = dome(3.0, 12.0, AT[0] + by[0], AT[1] + by[1])
    whole = all(v == int(v) for v in by)
    # off the cells heights are bilinear: h'' c^2 / 8 = 4 x 3 / 12^2 / 8, 1 cm, and 1 cm of the toe drawn as a
    # ring
    np.testing.assert_allclose(other.surface().z, expected.z, atol=0.012 if whole else 0.025)
    assert other.layer("mounds").geometry.iloc[0].centroid.x == pytest.approx(AT[0] + by[0])
    assert not other.findings
    np.testing.assert_array_equal(site.surface().z, dome(3.0, 12.0, *AT).z)
    level = gt.compare(site, other, hole=1, play=False).set_index("measure")["after"]
    volume = math.pi * 3.0 * 12.0**2 / 3  # of (1 - r^2)^2: pi h a^2 / 3
    assert level["ground.fill_m3"] == pytest.approx(volume, rel=0.02)
    assert level["ground.cut_m3"] == pytest.approx(volume, rel=0.02)


def test_a_turned_mound_turns_clockwise_with_its_ground() -> None:
    site = with_dome(longer=1.8)
    a = math.radians(30.0)
    other = vary(site, turn_deg={"Test Knowe": 30.0})
    rise = other.surface().z - plane(**SLOPES).z
    surface = dataclasses.replace(other.surface(), z=rise)
    # the long axis pointed east; 30 degrees clockwise of it is east-south-east
    along, across = (
        surface.height(AT[0] + 15.0 * e, AT[1] + 15.0 * n)
        for e, n in ((math.cos(a), -math.sin(a)), (math.cos(a), math.sin(a)))
    )
    assert along == pytest.approx(3.0 * (1 - (15.0 / 21.6) ** 2) ** 2, abs=0.03)
    assert across < 0.5 * along
    assert (
        other.layer("mounds")
        .geometry.iloc[0]
        .contains(Point(AT[0] + 19 * math.cos(a), AT[1] - 19 * math.sin(a)))
    )
    back = vary(other, turn_deg={"Test Knowe": -30.0})
    np.testing.assert_allclose(back.surface().z, site.surface().z, atol=0.06)


def test_removed_mound_is_levelled_and_moved_mound_is_raised() -> None:
    site = with_dome()
    np.testing.assert_allclose(vary(site, remove=["Test Knowe"]).surface().z, plane(**SLOPES).z, atol=0.012)
    both = vary(site, shift={"Test Knowe": (30.0, 0.0)}, raise_m={"Test Knowe": 2.0}).surface()
    base = plane(**SLOPES)
    rise = [both.height(x, AT[1]) - base.height(x, AT[1]) for x in (AT[0], AT[0] + 30.0)]
    assert rise == pytest.approx([0.0, 5.0], abs=0.05)


def test_a_bunker_takes_its_hollow_along() -> None:
    site = with_dome(height=-1.5, layer="bunkers")
    other = vary(site, shift={"Test Knowe": (20.0, 5.0)})
    np.testing.assert_allclose(other.surface().z, dome(-1.5, 12.0, AT[0] + 20, AT[1] + 5).z, atol=0.01)


def test_what_stays_is_said() -> None:
    site = with_dome()
    burn = vary(site, shift={"Test Burn": (0.0, 12.0)})
    assert "holds no channel" in str(burn.findings[-1]) and burn.findings[-1].layer == "burns"
    np.testing.assert_array_equal(burn.surface().z, site.surface().z)
    tables = {**site.tables, "mounds": site.layer("mounds").set_geometry([Point(-20, 150).buffer(8)])}
    flat = Site.from_tables(tables, 27700, plane(**SLOPES))
    output = vary(flat, shift={"Test Knowe": (5.0, 0.0)})
    assert "holds no rise" in str(output.findings[-1])
    np.testing.assert_array_equal(output.surface().z, flat.surface().z)
    bare = Site.from_tables(site.tables, 27700)
    assert vary(bare, shift={"Test Knowe": (5.0, 0.0)}).ground is None


def test_ground_does_not_leave_the_terrain() -> None:
    site = with_dome()
    for by in ((122.0, 0.0), (-105.0, 0.0), (0.0, 165.0), (5000.0, 0.0)):
        with pytest.raises(InputError, match="Test Knowe: it"):
            vary(site, shift={"Test Knowe": by})


def test_mound_as_a_crest_line_moves_there_and_back() -> None:
    site = with_dome()
    line = LineString([(AT[0] - 4, AT[1]), (AT[0] + 4, AT[1])])
    crest = site.replace(mounds=site.layer("mounds").set_geometry([line]))
    there = vary(crest, shift={"Test Knowe": (25.0, 0.0)})
    assert there.surface().height(AT[0] + 25.0, AT[1]) > there.surface().height(*AT) + 2.0
    back = vary(there, shift={"Test Knowe": (-25.0, 0.0)})
    np.testing.assert_allclose(back.surface().z, crest.surface().z, atol=0.02)


def test_the_move_and_its_way_back_agree() -> None:
    move = Move(3.0, -7.0, 40.0, (10.0, 20.0))
    place = move.shape(Point(14.0, 26.0))
    np.testing.assert_allclose(move.back(np.array(place.x), np.array(place.y)), (14.0, 26.0))
    north = Move(0.0, 0.0, 90.0, (10.0, 20.0)).shape(Point(10.0, 25.0))
    assert (north.x, north.y) == pytest.approx((15.0, 20.0))  # north turned clockwise points east


def test_relief_removed_and_added_again_is_the_same_ground() -> None:
    ground = sample_site().surface()
    area = sample_site().layer("mounds").geometry.iloc[0]
    bare, relief = remove_relief(ground, area)
    np.testing.assert_allclose(add_relief(bare, relief, Move()).z, ground.z, atol=1e-9)
    outside = ~np.isclose(bare.z, ground.z, atol=1e-12)
    x, y = ground.centres()
    i, j = np.nonzero(outside)
    assert len(i) and area.buffer(0.01).contains(box(x[j.min()], y[i.max()], x[j.max()], y[i.min()]).centroid)


def test_haar_knowe_shifted_hides_from_elsewhere() -> None:
    """The sample's mound 25 m to the west, out of the lines from the middle of the fairway.

    Its flags come into view.
    """
    site = sample_site()
    other = vary(site, shift={"Haar Knowe": (-25.0, 0.0)})
    seen = gt.compare(site, other, ["zone_views.flag_seen_mean_pct"], hole=1)
    assert (seen["change"] > 10.0).any()
    removed = gt.compare(site, vary(site, remove=["Haar Knowe"]), ["zone_views.flag_seen_mean_pct"], hole=1)
    assert (removed["change"] > -0.05).all() and removed["change"].max() > 20.0
