"""Edits: closed forms on planes and the sample's own burn, mound and bunkers; bad edits get clear answers."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface
from gistools.design.channels import falling, highest_rise_m, surveyed_channel
from gistools.design.edit_list import Edit, edits_text, read_edits, write_edits
from gistools.design.edits import apply_edits
from gistools.site.model import Site
from gistools.site.proposed import proposed_site
from gistools.site.sample import sample_site
from tests.conftest import plane, straight_tables

AT = (10.0, 250.0)


def dome(x0: float, y0: float, height: float = 3.0, radius: float = 12.0) -> Surface:
    s = plane(east_slope=0.02, north_slope=-0.01)
    x, y = s.grid.mesh()
    r = np.hypot(x - x0, y - y0) / radius
    return s.with_heights(s.z + height * np.maximum(1 - r**2, 0.0) ** 2)


@pytest.fixture
def site() -> Site:
    tables = straight_tables()
    outline = Point(*AT).buffer(12.0, quad_segs=32)
    tables["mounds"] = gpd.GeoDataFrame({"hole": [1], "name": ["Test Knowe"]}, geometry=[outline])
    return Site.from_tables(tables, 27700, dome(*AT))


def test_a_mound_moved_along_and_across_is_where_it_should_be(site: Site) -> None:
    """The line of play runs due north.

    Along is north, right of it east; the dome is whole, cut equals fill.
    """
    after = apply_edits(site, [{"action": "move", "feature": "Test Knowe", "along_m": 8.0, "across_m": 30.0}])
    change = after.surface().z - site.surface().z
    np.testing.assert_allclose(after.surface().z, dome(AT[0] + 30.0, AT[1] + 8.0).z, atol=0.012)
    volume = math.pi * 3.0 * 12.0**2 / 3  # of (1 - r^2)^2: pi h a^2 / 3
    assert change[change > 0].sum() == pytest.approx(volume, rel=0.02)
    assert -change[change < 0].sum() == pytest.approx(volume, rel=0.02)
    middle = after.layer("mounds").geometry.iloc[0].centroid
    assert (middle.x, middle.y) == pytest.approx((AT[0] + 30.0, AT[1] + 8.0), abs=1e-6)
    np.testing.assert_array_equal(site.surface().z, dome(*AT).z)


def test_scaled_raised_lowered_removed(site: Site) -> None:
    wide = apply_edits(site, [{"action": "scale", "feature": "Test Knowe", "factor": 1.5}])
    rise = wide.surface().z - plane(east_slope=0.02, north_slope=-0.01).z
    assert rise.sum() == pytest.approx(math.pi * 3.0 * 18.0**2 / 3, rel=0.02)
    up = apply_edits(site, [{"action": "raise", "feature": "Test Knowe", "rise_m": 1.0}])
    there = apply_edits(up, [{"action": "lower", "feature": "Test Knowe", "rise_m": 1.0}])
    assert up.surface().height(*AT) == pytest.approx(site.surface().height(*AT) + 1.0, abs=0.05)
    np.testing.assert_allclose(there.surface().z, site.surface().z, atol=1e-9)
    gone = apply_edits(site, [{"action": "remove", "feature": "Test Knowe"}])
    assert not len(gone.layer("mounds"))
    np.testing.assert_allclose(gone.surface().z, plane(east_slope=0.02, north_slope=-0.01).z, atol=0.012)


def test_a_moved_burn_takes_its_channel_and_its_fall_along() -> None:
    before = sample_site()
    after = apply_edits(
        before, [Edit("move", "Teasel Burn", along_m=8.0, hole=1), Edit("turn", "Teasel Burn", turn_deg=3)]
    )
    line = after.layer("burns").geometry.iloc[0]
    old = before.layer("burns").geometry.iloc[0]
    assert line.distance(old.centroid) > 4.0
    assert highest_rise_m(after.surface(), line) <= 0.01
    result, was = (surveyed_channel(s.surface(), g, 2.0) for s, g in ((after, line), (before, old)))
    assert result.mean_depth_m > 0.9 * was.mean_depth_m > 0.1
    left = surveyed_channel(after.surface(), old, 2.0)
    crossing = np.array([line.distance(Point(p)) > 12.0 for p in zip(*old.segmentize(0.5).xy, strict=True)])
    assert crossing.any() and np.median(left.depth[: crossing.size][crossing]) < 0.1


def test_a_bed_falls_whatever_the_ground_does() -> None:
    s = np.arange(0.0, 100.0)
    bed = falling(5.0 + np.sin(s / 5.0), s)
    assert (np.diff(bed) <= -0.0005 + 1e-12).all() and (bed <= 5.0 + np.sin(s / 5.0) + 1e-12).all()


def test_an_added_bunker_is_dug_and_an_added_burn_falls() -> None:
    tables = straight_tables()
    flat = Site.from_tables(tables, 27700, plane(north_slope=-0.01))
    edits = [
        Edit(
            "add", "New", "bunkers", hole=1, along_m=200.0, across_m=25.0, rise_m=1.2, length_m=14, width_m=16
        ),
        Edit("add", "New Burn", "burns", hole=1, points="60,-50 80,0 60,50", rise_m=0.6, width_m=2.0),
    ]
    after = apply_edits(flat, edits)
    change = after.surface().z - flat.surface().z
    x, y = flat.surface().grid.mesh()
    here = np.hypot(x - 25.0, y - 200.0) < 9.0
    assert change[here].min() == pytest.approx(-1.2, abs=0.05)
    assert "New" in list(after.layer("bunkers")["name"])
    burn = after.layer("burns").geometry.iloc[-1]
    assert isinstance(burn, LineString) and highest_rise_m(after.surface(), burn) <= 1e-3
    assert flat.surface().height(0.0, 80.0) - after.surface().height(0.0, 80.0) >= 0.59


def test_fairway_edge_tees_pins_and_greens(site: Site) -> None:
    edge = {"action": "move", "side": "right", "from_m": 150, "to_m": 250, "across_m": 6.0, "hole": 1}
    after = apply_edits(site, [edge])
    fairway = after.layer("fairway").geometry.iloc[0]
    cut = fairway.intersection(LineString([(-60, 200), (60, 200)]))
    assert cut.bounds[2] == pytest.approx(26.0, abs=0.1) and cut.bounds[0] == pytest.approx(-20.0)
    back = apply_edits(site, [Edit("move", "back", "tees", 1, along_m=-5.0)])
    assert back.layer("tees").geometry.iloc[0].centroid.y == pytest.approx(-5.0)
    name = "green, hole 1"
    pins = len(site.layer("pins"))
    green = apply_edits(site, [Edit("move", name, along_m=4.0)])
    moved = [
        a.distance(b) for a, b in zip(green.layer("pins").geometry, site.layer("pins").geometry, strict=True)
    ]
    assert len(moved) == pins and all(d == pytest.approx(4.0) for d in moved)


def test_a_list_is_kept_and_replayed_to_the_same_bytes(tmp_path) -> None:
    edits = (
        Edit("move", "Haar Knowe", along_m=-8.0, across_m=-3.0),
        Edit("move", "Spurge", east_m=2.5, note='a "quoted" note'),
        Edit("turn", "Teasel Burn", turn_deg=-2.0),
    )
    path = write_edits(edits, tmp_path / "edits.toml")
    assert read_edits(path) == edits and edits_text(read_edits(path)) == path.read_text(encoding="utf-8")
    one, two = (apply_edits(sample_site(), path) for _ in range(2))
    assert one.surface().z.tobytes() == two.surface().z.tobytes()
    for layer in one.tables:
        if "geometry" in one.layer(layer):
            assert one.layer(layer).geometry.to_wkb().tolist() == two.layer(layer).geometry.to_wkb().tolist()


def test_a_proposed_mound_moves_with_its_shape(site: Site) -> None:
    ring = Point(-40.0, 120.0).buffer(12.0)
    shapes = gpd.GeoDataFrame(
        {"hole": [1], "name": ["Screen"], "kind": ["mound"], "rise_m": [1.5]}, geometry=[ring]
    )
    drawn = Site.from_tables({**site.tables, "shapes": shapes}, 27700, dome(*AT))
    before = proposed_site(drawn)
    after = apply_edits(before, [Edit("move", "Screen", east_m=-20.0), Edit("raise", "Screen", rise_m=0.5)])
    x = (-40.0, -60.0)
    rise = [after.surface().height(v, 120.0) - after.existing.surface().height(v, 120.0) for v in x]
    assert rise[0] == pytest.approx(0.0, abs=1e-9) and rise[1] > 1.4
    simple = apply_edits(drawn, [Edit("move", "Screen", east_m=-20.0)])
    assert any("proposed" in str(f) for f in simple.findings)


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        ({"action": "move", "feature": "Test Know", "along_m": 1.0}, "Test Knowe"),
        ({"action": "shove", "feature": "Test Knowe"}, "unknown"),
        ({"action": "move", "feature": "Test Knowe"}, "needs along_m"),
        ({"action": "move", "feature": "Test Knowe", "east_m": 4000.0}, "off the terrain"),
        ({"action": "raise", "feature": "Test Knowe", "rise_m": 15.0}, "not built"),
        ({"action": "raise", "feature": "Test Knowe", "rise_m": -1.0}, "above 0"),
        ({"action": "move", "feature": "Test Knowe", "along_m": 1.0, "hole": 7}, "hole"),
        ({"action": "add", "feature": "X"}, "layer"),
        ({"action": "add", "layer": "bunkers", "feature": "X"}, "say where"),
        ({"action": "move", "feature": "back", "layer": "tees", "width": 3}, "width"),
        ({"action": "move", "feature": "x", "along_m": "far"}, "number"),
        ({"action": "scale", "feature": "Test Knowe", "factor": 0.0}, "factor"),
    ],
)
def test_bad_edits_get_clear_answers(site: Site, edit: dict, says: str) -> None:
    with pytest.raises(InputError, match=says):
        apply_edits(site, [edit])
