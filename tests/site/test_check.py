"""Every problem a survey can have: found, in the right layer and feature, with advice, all at once."""

from __future__ import annotations

import re
import sqlite3

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box

from gistools import SiteError, open_site
from gistools.site import _raster, _vector
from gistools.site.check import Finding, check
from gistools.site.model import Site
from gistools.steps import catalogue
from gistools.steps.catalogue import Reads, Step

EAST, NORTH = 400_000.0, 300_000.0


def layer(shapes, crs=None, **fields):
    return gpd.GeoDataFrame(fields, geometry=shapes, crs=crs)


def one(findings, level, where, pattern):
    """Return the one finding that fits; every error and warning must say what to do."""
    fitting = [f for f in findings if f.level == level and f.where == where and re.search(pattern, f.message)]
    assert len(fitting) == 1, "\n".join(map(str, findings))
    return fitting[0]


def test_a_sound_survey_has_nothing(survey):
    assert check(survey) == []


GREEN = Point(0, 340).buffer(14)
BOW_TIE = Polygon([(60, 100), (80, 120), (80, 100), (60, 120)])
#: a 20 m square with a flick of 0.2 m at one corner
FLICK = Polygon([(60, 100), (80, 100), (80, 120), (60.2, 120), (60, 119.8), (60, 120), (60.2, 119.8)])

CASES = {
    "missing required layer": ({"greens": None}, "error", "greens", "is missing"),
    "required layer empty": ({"greens": layer([], hole=[])}, "error", "greens", "no usable feature"),
    "near name": (
        {"bunkers": None, "bunker": layer([box(1, 1, 2, 2)])},
        "warning",
        "bunkers",
        "did you mean `bunkers`",
    ),
    "wrong type": (
        {"fairway": layer([LineString([(0, 100), (0, 300)])], hole=[1])},
        "error",
        "fairway 1",
        "is a LineString",
    ),
    "one part of the wrong type": (
        {"bunkers": layer([MultiPoint([(0, 0), (1, 1)])], hole=[1])},
        "error",
        "bunkers 1",
        "is a Point",
    ),
    "null geometry": ({"water": layer([None, box(30, 30, 40, 40)])}, "warning", "water 1", "no geometry"),
    "empty geometry": ({"water": layer([Polygon(), box(30, 30, 40, 40)])}, "warning", "water 1", "empty"),
    "bow-tie": ({"water": layer([BOW_TIE])}, "error", "water 1", "crosses or touches itself"),
    "mended": ({"water": layer([FLICK])}, "warning", "water 1", "mended, the area changed by 0.0"),
    "line without length": (
        {"play_lines": layer([LineString([(0, 0), (0, 0.001)])], hole=[1])},
        "error",
        "play_lines 1",
        "no length",
    ),
    "sliver": ({"water": layer([box(0, 0, 0.05, 0.05)])}, "error", "water 1", "no area"),
    "no hole number": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=[None], tee=["back"])},
        "error",
        "tees 1",
        "`hole` is empty",
    ),
    "no hole field": ({"tees": layer([box(-4, -3, 4, 3)], tee=["back"])}, "error", "tees", "no field `hole`"),
    "hole 7a": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=["7a"], tee=["back"])},
        "error",
        "tees 1",
        "'7a', not a number",
    ),
    "hole 1.5": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=[1.5], tee=["back"])},
        "error",
        "tees 1",
        "not a whole number",
    ),
    "hole 40": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=[40], tee=["back"])},
        "error",
        "tees 1",
        "40; 1 to 36",
    ),
    "text number": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=["1"], tee=["back"])},
        "note",
        "tees",
        "stored as text",
    ),
    "hole without a green": (
        {"pins": layer([Point(0, 340)], hole=[2], pin=["x"])},
        "error",
        "pins 1",
        "hole 2, which has no green",
    ),
    "bunker of no hole": (
        {"bunkers": layer([box(30, 30, 40, 40)], hole=[5])},
        "warning",
        "bunkers 1",
        "no green",
    ),
    "green without a tee": (
        {"greens": layer([GREEN, translate(GREEN, 80, 0)], hole=[1, 2])},
        "error",
        "tees",
        "hole 2 has a green and no tee",
    ),
    "two greens": (
        {"greens": layer([GREEN, translate(GREEN, 60, 0)], hole=[1, 1])},
        "error",
        "greens",
        "hole 1 has 2 greens",
    ),
    "tee named twice": (
        {"tees": layer([box(-4, -3, 4, 3), box(-4, 13, 4, 19)], hole=[1, 1], tee=["back", "Back"])},
        "error",
        "tees 2",
        "more than once",
    ),
    "tee without a name": (
        {"tees": layer([box(-4, -3, 4, 3)], hole=[1], tee=[" "])},
        "error",
        "tees 1",
        "`tee` is empty",
    ),
    "pin off the green": (
        {"pins": layer([Point(0, 356)], hole=[1], pin=["x"])},
        "error",
        "pins 1",
        r"2\.0 m off the green",
    ),
    "tee far from the green": (
        {"tees": layer([box(-4, -903, 4, -897)], hole=[1], tee=["back"]), "boundary": None},
        "error",
        "tees 1",
        "1240 m from the green",
    ),
    "tee beside the green": (
        {"tees": layer([box(16, 318, 20, 322)], hole=[1], tee=["back"])},
        "warning",
        "tees 1",
        "only 27 m",
    ),
    "tee far from its line": (
        {"play_lines": layer([LineString([(50, 0), (50, 200), (0, 340)])], hole=[1], tee=["back"])},
        "warning",
        "tees 1",
        "46 m from the nearest line of play",
    ),
    "drawn twice": (
        {"bunkers": layer([box(30, 30, 40, 40), box(30, 30, 40, 40)], hole=[1, 1])},
        "warning",
        "bunkers 2",
        "same as feature 1",
    ),
    "fairway over green": (
        {"fairway": layer([box(-20, 100, 20, 330)], hole=[1])},
        "note",
        "fairway 1",
        "overlaps green 1",
    ),
    "beyond the boundary": (
        {"boundary": layer([box(-90, -50, 130, 345)])},
        "warning",
        "greens 1",
        "beyond the boundary",
    ),
    "burn without width": (
        {"burns": layer([LineString([(-60, 140), (60, 260)])], hole=[1])},
        "warning",
        "burns",
        "2 m was assumed",
    ),
    "width beyond belief": (
        {"burns": layer([LineString([(-60, 140), (60, 260)])], hole=[1], width_m=[400.0])},
        "error",
        "burns 1",
        "400; 0.2 to 100 m",
    ),
    "decimal comma": (
        {"burns": layer([LineString([(-60, 140), (60, 260)])], hole=[1], width_m=["2,5"])},
        "error",
        "burns 1",
        "decimal comma",
    ),
    "layer in another CRS": (
        {"water": layer([Point(0, 100).buffer(5)], crs=32630)},
        "error",
        "water",
        "is in WGS 84 / UTM zone 30N and the site in OSGB36",
    ),
    "layer in degrees": ({"water": layer([Point(0, 10).buffer(1)], crs=4326)}, "error", "water", "WGS 84"),
    "plain table": ({"water": pd.DataFrame({"name": ["x"]})}, "error", "water", "plain table"),
    "far away": (
        {"water": layer([box(90_000, 0, 90_010, 10)])},
        "error",
        "water",
        "90 km from the other layers",
    ),
}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_each_problem_is_found(make_survey, kit, case):
    changes, level, where, pattern = CASES[case]
    if case == "layer in degrees":
        changes = {"water": layer([box(-400_000 - 2, -300_000 + 52, -400_000 - 1, -300_000 + 53)], crs=4326)}
    path = make_survey(**changes, ground=kit.level_ground())
    finding = one(check(path), level, where, pattern)
    assert finding.remedy or level == "note"
    assert finding in open_site(path).findings


def test_many_faults_are_listed_at_once_in_order(make_survey):
    """A survey with many faults: none hides another."""
    names = [
        "wrong type",
        "no hole number",
        "pin off the green",
        "bow-tie",
        "drawn twice",
        "burn without width",
    ]
    changes = {}
    for name in names:
        changes.update(CASES[name][0])
    findings = check(make_survey(**changes))
    for name in names:
        if name != "pin off the green" or "greens" in changes:
            one(findings, *CASES[name][1:])
    one(findings, *CASES["pin off the green"][1:])
    order = [f.level for f in findings]
    assert order == sorted(order, key=["error", "warning", "note"].index)


def test_what_keeps_a_file_from_opening_is_one_error(tmp_path, survey, kit):
    for path in (
        tmp_path / "none.gpkg",
        kit.write_survey(tmp_path / "deg.gpkg", crs=4326, origin=(1.0, 50.0)),
    ):
        (finding,) = check(path)
        assert finding.level == "error"
        assert finding.where == "site"
        with pytest.raises(SiteError, match=re.escape(finding.message)):
            open_site(path)


def test_the_unit_of_heights_is_listed_beside_the_rest(tmp_path, kit):
    tables = {**kit.survey_tables(), "water": layer([BOW_TIE])}
    path = kit.write_survey(
        tmp_path / "s.gpkg",
        tables,
        crs=2225,
        unit_m=1200 / 3937,
        origin=(6.4e6, 2.06e6),
        ground=kit.level_ground(),
        unit="",
    )
    findings = check(path)
    one(findings, "error", "terrain", "height_unit")
    one(findings, "error", "water 1", "crosses")


def swapped(shape):
    return Polygon([(y, x) for x, y in shape.exterior.coords])


def test_swapped_axes_of_one_layer(make_survey):
    """The bunker's eastings and northings changed places: (400 000, 300 000) becomes (300 000, 400 000)."""
    there = translate(box(-26, 318, -16, 326), EAST, NORTH)
    wrong = translate(swapped(there), -EAST, -NORTH)
    one(check(make_survey(bunkers=layer([wrong], hole=[1]))), "error", "bunkers", "swapped")


def test_swapped_axes_of_the_whole_survey(tmp_path, kit):
    """A hole in UTM zone 30 at 56 N stored north first lies outside the zone.

    PROJ's own area of use tells.
    """
    tables = kit.survey_tables()
    east, north = 448_000.0, 6_240_000.0
    for table in tables.values():
        table["geometry"] = [translate(g, north, east) if g is not None else None for g in table.geometry]
    path = kit.write_survey(tmp_path / "s.gpkg", tables, crs=32630, origin=(0.0, 0.0))
    one(check(path), "error", "site", "swapped in every layer")
    right = kit.write_survey(tmp_path / "r.gpkg", crs=32630, origin=(east, north))
    assert not [f for f in check(right) if f.layer == ""]


def test_a_projection_that_stretches_is_refused(tmp_path, kit):
    """EPSG:3857 at 56 N: 1.788 m on the map for a metre on the ground."""
    path = kit.write_survey(tmp_path / "s.gpkg", crs=3857, origin=(-310_000.0, 7_558_000.0))
    assert "1.78" in one(check(path), "error", "site", "every distance is wrong").message


def test_outside_the_terrain(make_survey, kit):
    ground = kit.level_ground()
    far = layer([box(-4, -3, 4, 3), box(-4, -103, 4, -97)], hole=[1, 1], tee=["back", "far back"])
    cut = layer([box(-20, 100, 20, 310), box(120, 100, 160, 110)], hole=[1, 1])
    findings = check(make_survey(tees=far, fairway=cut, boundary=None, ground=ground))
    one(findings, "warning", "tees 2", "it lies outside the terrain")
    one(findings, "warning", "fairway 2", "part of it lies outside the terrain")
    aside = type(ground)(ground.z, ground.x_west + 5000, ground.y_north, 1.0)
    one(check(make_survey("aside.gpkg", ground=aside)), "error", "terrain", "none of the greens")


def test_holes_in_the_terrain_are_counted(make_survey, kit):
    """Nine missing cells under the fairway, one under a pin, and some where nothing lies."""
    ground = kit.level_ground()
    z = ground.z.copy()

    def row(y):
        return int(420 - y)

    z[row(203) : row(200), 100:103] = np.nan
    z[row(332) - 1, 100] = np.nan
    z[0:5, 0:5] = np.nan
    findings = check(make_survey(ground=type(ground)(z, ground.x_west, ground.y_north, 1.0)))
    one(findings, "warning", "fairway 1", r"no height under 9 of its 8400 cells")
    one(findings, "warning", "pins 1", "no height there")
    one(findings, "warning", "greens 1", "no height under 1 of its")
    assert not [f for f in findings if f.layer in ("tees", "bunkers")]


def test_terrain_table_that_holds_pictures(survey):
    with sqlite3.connect(survey) as link:
        link.execute("UPDATE gpkg_contents SET data_type = 'tiles' WHERE table_name = 'terrain'")
    link.close()
    one(check(survey), "error", "terrain", "not terrain heights")


@pytest.mark.parametrize(
    "name",
    ["Þórsburn – «æøå»", 'He said "no"', "x'); DROP TABLE tees; --", "=1+2", "a\nb", "<script>", "漢字"],
)
def test_names_of_odd_signs_come_through(make_survey, name):
    burn = layer([LineString([(-60, 140), (60, 260)])], hole=[1], name=[name], width_m=[4.0])
    path = make_survey(burns=burn)
    findings = check(path)
    assert {f.level for f in findings} <= {"note", "warning"}
    assert [f for f in findings if f.level == "warning" and f.layer != "terrain"] == []
    assert open_site(path).layer("burns")["name"].tolist() == [name]
    assert open_site(path).layer("tees")["fid"].tolist() == [1]


def test_a_layer_with_an_odd_table_name_beside_it(survey):
    odd = 'a"b; DROP TABLE tees; --'
    _vector.write_layer(survey, odd, layer([Point(1, 1)], crs=27700))
    assert check(survey) == []


def test_a_site_in_memory_is_checked_too(straight_site):
    assert [f for f in check(straight_site) if f.level != "note"] == []
    moved = straight_site.layer("pins").copy()
    moved["geometry"] = [Point(0, 300), Point(3, 347)]
    one(check(straight_site.replace(pins=moved)), "error", "pins 1", "26.0 m off the green")


def made_step(*layers):
    return Step("slopes", "", tuple(Reads(n) for n in layers), (), (), (), lambda site: None)


def test_steps_refuse_layers_in_error(make_survey):
    """Only steps that read the layer, and the message lists what is wrong; five at most."""
    pins = layer([Point(0, 400 + i) for i in range(8)], hole=[1] * 8, pin=list("abcdefgh"))
    site = open_site(make_survey(pins=pins, boundary=None))
    assert len(site.layer("pins")) == 8, "a site in error opens, so that one can look"
    made_step("tees", "greens").require(site)
    with pytest.raises(SiteError, match=r"slopes cannot run(.|\n)*pins 1: the pin is(.|\n)*and 3 more"):
        made_step("pins").require(site)
    whole = Site(
        site.crs,
        site.crs_metric,
        1.0,
        site.tables,
        findings=(Finding("error", "", None, "all of it", "redo"),),
    )
    with pytest.raises(SiteError, match="site: all of it; redo"):
        made_step("tees").require(whole)


def test_a_real_step_stops_before_computing(make_survey):
    site = open_site(make_survey(greens=layer([box(-5, 330, 5, 350)], hole=["7a"])))
    with pytest.raises(SiteError, match="7a"):
        catalogue.run("lengths", site)


def test_rasterised_cells_are_those_whose_centre_lies_inside():
    """Against shapely's point-in-polygon, for random polygons off the cell edges."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        shape = shapely.convex_hull(shapely.multipoints(rng.uniform(0.3, 39.7, (8, 2))))
        painted = _raster.rasterize([(shape, 1)], 40, 40, 0.0, 40.0, 1.0)
        x, y = np.meshgrid(np.arange(40) + 0.5, 39.5 - np.arange(40))
        assert (painted == 1).tolist() == shapely.contains_xy(shape, x, y).tolist()
