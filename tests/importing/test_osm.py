"""OpenStreetMap-like sources: every known trap of the public tag scheme, each with its answer."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from pyproj import Transformer
from shapely import Point, Polygon, box
from shapely.affinity import translate
from shapely.geometry import mapping as as_json

import gistools as gt
from gistools.base.errors import InputError, SiteError
from gistools.site.importing.golf_tags import TAG_RULES
from gistools.site.sample import sample_site
from gistools.site.schema import SURVEY_LAYERS

pytest.importorskip("osmium")
HOLES = (1, 2, 3)
CRS = "EPSG:32630"


def brought_in(export, tmp_path, **options):
    done = gt.import_site(export.write(tmp_path / "c.osm"), to=tmp_path / "c.gpkg", **options)
    return done, gt.open_site(done.path)


def said(done, pattern, level=None):
    return [f for f in done.findings if pattern in f.message and level in (None, f.level)]


def test_course_without_faults_has_no_findings(course, tmp_path, drawn):
    for number in HOLES:
        course.hole(number)
    done, site = brought_in(course, tmp_path)
    assert site.crs.to_epsg() == 32630 and site.holes == [1, 2, 3]
    assert [f for f in done.findings if f.level == "error"] == []
    for number in HOLES:
        tees = site.layer("tees", number)
        assert sorted(tees["tee"]) == ["red", "white"]
        for layer, part in (("greens", "green"), ("fairway", "fairway"), ("play_lines", "line")):
            shape = site.layer(layer, number).geometry.iloc[0]
            assert shape.hausdorff_distance(drawn(number)[part]) < 0.05, (layer, number)
    assert len(site.layer("bunkers")) == 3 and len(site.layer("pins")) == 0
    lengths = gt.lengths(site)
    assert lengths.groupby("hole")["grid_m"].max().round(1).tolist() == [340.0] * 3


def test_a_packed_export_gives_the_same_site(course, tmp_path):
    """The same course as `.osm` and as `.osm.pbf`, packed by the reader's own writer."""
    import osmium

    for number in HOLES:
        course.hole(number)
    pond = Point(448_060, 6_240_150).buffer(20).difference(Point(448_060, 6_240_150).buffer(6))
    course.osm.area(pond, natural="water", name="Pond")
    loose = course.write(tmp_path / "c.osm")
    packed = tmp_path / "c.osm.pbf"
    with osmium.SimpleWriter(str(packed)) as writer:
        for item in osmium.FileProcessor(str(loose)):
            writer.add(item)
    assert packed.read_bytes()[4:15] == b"\n\tOSMHeader"  # the first blob of the format
    sites = [
        gt.open_site(gt.import_site(path, to=tmp_path / f"{k}.gpkg").path)
        for k, path in enumerate((loose, packed))
    ]
    for layer in ("tees", "fairway", "greens", "bunkers", "water", "play_lines"):
        a, b = (s.layer(layer) for s in sites)
        assert len(a) == len(b) > 0, layer
        assert list(a.columns) == list(b.columns)
        assert shapely.hausdorff_distance(a.geometry.union_all(), b.geometry.union_all()) < 1e-6
    assert sites[1].layer("water").geometry.iloc[0].interiors


def test_lines_drawn_from_green_to_tee_are_turned(course, tmp_path, drawn):
    for number in HOLES:
        course.hole(number, backward=number == 2)
    done, site = brought_in(course, tmp_path)
    line = site.layer("play_lines", 2).geometry.iloc[0]
    assert line.hausdorff_distance(drawn(2)["line"]) < 0.05
    assert Point(line.coords[0]).distance(Point(drawn(2)["line"].coords[0])) < 0.05
    assert len(said(done, "is turned round", "warning")) == 1


@pytest.mark.parametrize(
    "tags",
    [{"name": "3rd hole"}, {"golf_hole": "3"}, {"ref": "Hole 3"}, {"ref": "3;12"}, {"name": "x"}],
    ids=str,
)
def test_numbers_under_other_tags_or_none(course, tmp_path, tags):
    """The third hole named, tagged the old way, in words, for two numbers, or not at all: it is the third."""
    for number in (1, 2, 4):
        course.hole(number)
    course.hole(3, **tags)
    _, site = brought_in(course, tmp_path)
    assert site.holes == [1, 2, 3, 4]
    x = 448_000 + 2 * 120
    assert site.layer("greens", 3).geometry.iloc[0].centroid.x == pytest.approx(x, abs=0.1)


def test_hole_number_that_is_given_twice(course, tmp_path):
    """Holes 1, 2, 3 and a second 3 where the fourth is: two courses of that many holes are no answer."""
    for number in (1, 2, 3):
        course.hole(number)
    course.hole(4, ref=3)
    with pytest.raises(InputError, match="several courses"):
        brought_in(course, tmp_path)


def test_two_courses_in_one_polygon_are_parted_by_the_walk(course, tmp_path):
    far = (0.0, 900.0)
    for number in HOLES:
        course.hole(number)
        course.hole(number, at=far)
    course.osm.area(box(447_800, 6_239_800, 448_600, 6_241_600), leisure="golf_course", name="Both")
    with pytest.raises(InputError, match=r"several courses: 'course 1' \(holes 1, 2, 3\); 'course 2'"):
        brought_in(course, tmp_path)
    done, site = brought_in(course, tmp_path, course="course 2")
    assert site.holes == [1, 2, 3] and len(site.layer("greens")) == 3
    north = {round(g.centroid.y - 6_240_000) // 900 for g in site.layer("greens").geometry}
    assert len(north) == 1
    assert len(said(done, "holes of others are left out")) == 1


def test_courses_of_a_relation_have_their_names(course, tmp_path):
    members = {}
    for name, at in (("Links", (0.0, 0.0)), ("Moor", (0.0, 900.0))):
        members[name] = [("way", course.hole(n, at=at), "") for n in HOLES]
        course.osm.relation(members[name], type="golf", golf="course", name=name)
    _, site = brought_in(course, tmp_path, course="moor")
    assert min(g.centroid.y for g in site.layer("greens").geometry) > 6_240_800
    with pytest.raises(InputError, match=r"no course 'Heath': 'Links' \(holes 1, 2, 3\); 'Moor'"):
        brought_in(course, tmp_path, course="Heath", replace=True)


def test_practice_greens_and_ranges_are_left_out(course, tmp_path):
    for number in HOLES:
        course.hole(number)
    x, y = 447_900, 6_239_900
    course.osm.area(Point(x, y).buffer(10), golf="green", name="putting green")
    course.osm.area(box(x - 300, y - 300, x - 100, y - 50), golf="driving_range")
    course.osm.area(box(x - 200, y - 280, x - 190, y - 270), golf="tee")
    course.osm.area(Point(x - 150, y - 100).buffer(8), golf="green")
    done, site = brought_in(course, tmp_path)
    assert len(site.layer("greens")) == 3 and len(site.layer("tees")) == 6
    assert said(done, "practice greens") and said(done, "practice grounds are left out")


def test_a_multipolygon_fairway_with_the_green_cut_out(course, tmp_path, drawn):
    course.hole(1, parts=("line", "back", "green"))
    parts = drawn(1)
    whole = parts["fairway"].union(parts["green"].buffer(10))
    course.osm.area(whole.difference(parts["green"]), golf="fairway")
    _, site = brought_in(course, tmp_path)
    fairway = site.layer("fairway", 1).geometry.iloc[0]
    assert len(fairway.interiors) == 1
    assert fairway.intersection(site.layer("greens", 1).geometry.iloc[0]).area < 0.5


def test_a_fairway_over_its_green_is_one_remark(course, tmp_path, drawn):
    for number in HOLES:
        course.hole(number, parts=("line", "back", "green"))
        course.osm.area(drawn(number)["fairway"].union(drawn(number)["green"].buffer(10)), golf="fairway")
    done, _ = brought_in(course, tmp_path)
    overlaps = said(done, "overlaps green")
    assert len(overlaps) == 3 and {f.level for f in overlaps} == {"note"}
    assert len([line for line in done.summary().splitlines() if "overlaps green" in line]) == 1


def test_streams_and_ponds_without_a_golf_tag(course, tmp_path):
    course.hole(1)
    x, y = 448_000, 6_240_000
    course.osm.way([(x - 60, y + 180), (x + 60, y + 220)], waterway="stream", width="3 m", name="Burn")
    course.osm.way([(x - 60, y + 250), (x + 60, y + 250)], waterway="ditch")
    course.osm.way([(x - 60, y + 90), (x + 60, y + 90)], waterway="drain", tunnel="culvert")
    course.osm.area(Point(x + 60, y + 120).buffer(20), natural="water", water="pond")
    course.osm.area(Point(x + 60, y + 120).buffer(19), golf="lateral_water_hazard", name="Pool")
    course.osm.way([(x - 50, y + 40), (x + 50, y + 40)], golf="water_hazard")
    done, site = brought_in(course, tmp_path)
    burns = site.layer("burns")
    assert sorted(burns["width_m"]) == [2.0, 2.0, 3.0]
    water = site.layer("water")
    assert len(water) == 1 and water["name"].tolist() == ["Pool"] and said(done, "lie within another")


def test_an_island_green_is_cut_out_of_its_pond(course, tmp_path, drawn):
    course.hole(1)
    course.osm.area(drawn(1)["green"].buffer(15), natural="water")
    done, site = brought_in(course, tmp_path)
    green, pond = site.layer("greens").geometry.iloc[0], site.layer("water").geometry.iloc[0]
    assert green.intersection(pond).area < 0.5 and said(done, "cut out of it", "warning")
    assert [f for f in done.findings if f.level == "error"] == []


def test_trees_woods_paths_walls_and_buildings(course, tmp_path):
    course.hole(1)
    x, y = 448_000, 6_240_000
    course.osm.node(x + 40, y + 50, natural="tree", height="40 ft")
    course.osm.way([(x + 30, y + 60), (x + 30, y + 120)], natural="tree_row")
    course.osm.area(box(x + 60, y, x + 900, y + 300), natural="wood")
    course.osm.way([(x - 40, y), (x - 40, y + 300)], highway="footway")
    course.osm.way([(x - 50, y), (x - 50, y + 300)], highway="path", golf_cart="designated")
    course.osm.way([(x - 70, y), (x - 70, y + 300)], highway="residential")
    course.osm.area(box(x - 100, y, x - 90, y + 10), building="yes", height="7.5")
    course.osm.area(box(x - 100, y + 50, x - 90, y + 60), golf="clubhouse", building="yes")
    course.osm.area(box(x + 5000, y, x + 5010, y + 10), building="yes")
    done, site = brought_in(course, tmp_path)
    trees = site.layer("trees")
    assert sorted(trees.geometry.geom_type) == ["Point", "Polygon", "Polygon"]
    assert trees["height_m"].min() == 10.0 and trees["height_m"].round(2).max() == 12.19
    wood = max(trees.geometry, key=lambda g: g.area)
    assert wood.bounds[2] < x + 400, "woods are cut to the surroundings of play"
    assert dict(zip(site.layer("paths")["kind"], site.layer("paths")["width_m"], strict=True)) == {
        "public": 2.0,
        "cart": 2.5,
        "road": 6.0,
    }
    assert len(site.layer("structures")) == 2 and said(done, "more than 300 m from play")


def test_tees_as_points_and_without_colours(course, tmp_path):
    course.hole(1, parts=("line", "fairway", "green"))
    x, y = 448_000, 6_240_000
    for away in (0, 20, 45):
        course.osm.node(x, y + away, golf="tee")
    _, site = brought_in(course, tmp_path)
    tees = site.layer("tees", 1)
    assert tees["tee"].tolist() == ["back", "middle", "forward"]
    assert [round(g.y - y) for g in tees.geometry] == [0, 20, 45]


def test_tees_named_by_a_marker_relation(course, tmp_path, drawn):
    course.hole(1, parts=("line", "fairway", "green"))
    way = course.osm.area(drawn(1)["back"], golf="tee")
    course.osm.relation([("way", way, "")], type="golf", golf="tee_markers", tee="yellow")
    _, site = brought_in(course, tmp_path)
    assert site.layer("tees", 1)["tee"].tolist() == ["yellow"]


def test_two_tees_of_one_colour_and_a_hole_without_tee(course, tmp_path, drawn):
    course.hole(1)
    course.osm.area(translate(drawn(1)["back"], 12, 0), golf="tee", tee="white")
    course.hole(2, parts=("line", "fairway", "green"))
    done, site = brought_in(course, tmp_path)
    assert sorted(site.layer("tees", 1)["tee"]) == ["red", "white", "white 2"]
    assert site.layer("tees", 2)["tee"].tolist() == ["tee"] and said(done, "has no tee", "warning")


def test_a_double_green_and_a_shared_fairway(course, tmp_path):
    """Holes 1 and 2 play to one green from both sides, over one fairway."""
    x, y = 448_000, 6_240_000
    for number, start in ((1, y), (2, y + 700)):
        course.osm.way([(x, start), (x, y + 350)], golf="hole", ref=number)
        course.osm.area(box(x - 4, start - 3, x + 4, start + 3), golf="tee", tee="white")
    course.osm.area(Point(x, y + 350).buffer(18), golf="green")
    course.osm.area(box(x - 18, y + 100, x + 18, y + 600), golf="fairway")
    done, site = brought_in(course, tmp_path)
    assert site.holes == [1, 2] and len(site.layer("greens")) == 2
    assert sorted(site.layer("fairway")["hole"]) == [1, 2]
    assert said(done, "share a green") and said(done, "share a fairway")


def test_a_lollipop_outline_is_mended(course, tmp_path, drawn):
    """A fairway whose outline runs out along a stick and back: the stick has no area."""
    course.hole(1, parts=("line", "back", "green"))
    west, south, east, north = drawn(1)["fairway"].bounds
    ring = [
        (west, south),
        (west, north),
        (east, north),
        (east, south),
        (west + 16, south),
        (west + 16, south - 40),
    ]
    course.osm.area(Polygon([*ring, (west + 16, south)]), golf="fairway")
    done, site = brought_in(course, tmp_path)
    fairway = site.layer("fairway", 1).geometry.iloc[0]
    assert fairway.area == pytest.approx((east - west) * (north - south), rel=1e-3)
    assert said(done, "mended", "warning") or said(done, "does not close", "warning") or fairway.is_valid


def test_an_outline_with_missing_nodes_is_named(course, tmp_path):
    course.hole(1)
    course.osm.way([(448_050, 6_240_100), (448_060, 6_240_100)], golf="bunker")
    text = course.osm.text()
    broken = text.replace(
        '<tag k="golf" v="bunker"/></way>', '<nd ref="999999"/><tag k="golf" v="bunker"/></way>'
    )
    path = tmp_path / "c.osm"
    path.write_text(broken)
    done = gt.import_site(path, to=tmp_path / "c.gpkg")
    assert said(done, "of its nodes are missing") or said(done, "does not close")
    assert len(gt.open_site(done.path).layer("greens")) == 1


def test_old_holes_drawn_as_areas_and_pins(course, tmp_path, drawn):
    course.hole(1)
    course.osm.area(drawn(1)["line"].buffer(30), golf="hole", ref=1)
    centre = drawn(1)["green"].centroid
    course.osm.node(centre.x + 3, centre.y, golf="pin", ref=1)
    course.osm.node(centre.x + 300, centre.y, golf="pin")
    done, site = brought_in(course, tmp_path)
    assert len(site.layer("play_lines")) == 1
    assert site.layer("pins")[["hole", "pin"]].to_numpy().tolist() == [[1, "pin 1"]]
    assert said(done, "pins lie on no green")


def test_out_of_bounds_lines_beside_the_grounds(course, tmp_path):
    course.hole(1)
    x, y = 448_000, 6_240_000
    course.osm.area(box(x - 200, y - 100, x + 200, y + 500), leisure="golf_course", name="Ours")
    course.osm.area(box(x + 5000, y - 100, x + 5200, y + 500), leisure="golf_course", name="Another")
    course.osm.way([(x + 80, y), (x + 80, y + 400)], golf="out_of_bounds")
    done, site = brought_in(course, tmp_path)
    assert site.layer("boundary")["name"].tolist() == ["Ours"]
    assert said(done, "lines of out of bounds are left out", "warning")


def test_geojson_of_tagged_features_gives_the_same(course, tmp_path, drawn):
    """The same hole as GeoJSON, its tags flat, as a JSON text or as key-value text."""
    change = Transformer.from_crs(CRS, 4326, always_xy=True)

    def degrees(xy):
        return np.column_stack(change.transform(xy[:, 0], xy[:, 1]))

    parts = drawn(1)
    tags = {
        "line": {"golf": "hole", "ref": "1"},
        "back": {"golf": "tee", "tee": "white"},
        "fairway": {"golf": "fairway"},
        "green": {"golf": "green"},
    }
    packings = {
        "flat": lambda t: t,
        "json": lambda t: {"id": 1, "tags": json.dumps(t)},
        "hstore": lambda t: {"other_tags": ",".join(f'"{k}"=>"{v}"' for k, v in t.items())},
    }
    for name, packed in packings.items():
        features = [
            {
                "type": "Feature",
                "properties": packed(t),
                "geometry": as_json(shapely.transform(parts[k], degrees)),
            }
            for k, t in tags.items()
        ]
        path = tmp_path / f"{name}.geojson"
        path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
        done = gt.import_site(path, to=tmp_path / f"{name}.gpkg")
        site = gt.open_site(done.path)
        assert site.holes == [1] and site.layer("tees")["tee"].tolist() == ["white"], name
        assert site.layer("greens").geometry.iloc[0].hausdorff_distance(parts["green"]) < 0.05


def test_the_sample_site_there_and_back(tmp_path):
    """Merrowby Links written as an export and brought in again: every plan figure agrees to a centimetre."""
    from foreign_data import write_osm

    sample = sample_site()
    done = gt.import_site(write_osm(sample, tmp_path / "m.osm"), to=tmp_path / "m.gpkg", crs=27700)
    site = gt.open_site(done.path)
    assert [f for f in done.findings if f.level == "error"] == []
    before, after = gt.lengths(sample), gt.lengths(site)
    before, after = (t.sort_values(["hole", "tee"], ignore_index=True) for t in (before, after))
    longest = before.groupby("hole")["grid_m"].idxmax()
    assert after["grid_m"][longest].to_numpy() == pytest.approx(
        before["grid_m"][longest].to_numpy(), abs=0.01
    )
    for layer in ("greens", "bunkers", "water", "trees", "structures"):
        a, b = sample.layer(layer), site.layer(layer)
        assert len(a) == len(b) and a.area.sum() == pytest.approx(b.area.sum(), rel=1e-3), layer


def test_rules_of_the_tag_scheme_name_fields_that_are_there():
    for rule in TAG_RULES:
        if rule.layer in SURVEY_LAYERS:
            known = {f.name for f in SURVEY_LAYERS[rule.layer].all_fields}
            assert {*rule.fields, *rule.values} <= known, rule


def test_a_broken_export_is_told(tmp_path):
    path = tmp_path / "c.osm"
    path.write_text("<osm><node id='1'")
    with pytest.raises(SiteError, match="cannot be read as an OpenStreetMap export"):
        gt.import_site(path, to=tmp_path / "c.gpkg")
    assert not (tmp_path / "c.gpkg").exists()


def test_a_line_and_nothing_else(course, tmp_path):
    course.hole(1, parts=("line",))
    done = gt.import_site(course.write(tmp_path / "c.osm"), to=tmp_path / "c.gpkg")
    assert said(done, "`greens` is missing", "error")
