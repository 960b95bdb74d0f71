"""Surveyors' exports: other names, one layer with kinds, drawings without CRS, feet; the mapping kept."""

from __future__ import annotations

import json
import socket
import sqlite3
import threading
from contextlib import closing

import ezdxf
import fiona
import geopandas as gpd
import pytest
from shapely import LineString, Point, Polygon
from shapely.geometry import mapping as as_json

import gistools as gt
from gistools.base.errors import GistoolsError, InputError, WriteError
from gistools.site import _vector
from gistools.site.importing.mapping import guess, mapping_text, read_mapping
from gistools.site.importing.sources import read_sources

CRS = "EPSG:32630"


def layer(shapes, crs=CRS, **fields):
    return gpd.GeoDataFrame(fields, geometry=shapes, crs=crs)


@pytest.fixture
def export(tmp_path, drawn):
    """A surveyor's GeoPackage: years in names, other field names, holes in words, outlines drawn as lines."""
    path = tmp_path / "Survey_2024.gpkg"
    one, two = drawn(1), drawn(2)
    tables = {
        "Tee_Boxes_2024": layer(
            [one["back"], one["forward"], two["back"]],
            HOLE_NO=["Hole 1", "Hole 1", "Hole 2"],
            Colour=["White", "Red", "White"],
        ),
        "Fairways_2024": layer([one["fairway"], two["fairway"]], HOLE_NO=["Hole 1", "Hole 2"]),
        "Greens_2024": layer(
            [LineString(one["green"].exterior.coords), LineString(two["green"].exterior.coords)],
            HOLE_NO=["Hole 1", "Hole 2"],
        ),
        "Sand Traps": layer([one["bunker"], two["bunker"]], LABEL=["Deep", None]),
        "Flags": layer([one["green"].centroid], HOLE_NO=["Hole 1"]),
        "Annotation": layer([Point(448_000, 6_240_000)], text=["drawn by nobody"]),
    }
    for name, table in tables.items():
        _vector.write_layer(path, name, table)
    return path


def test_names_of_a_surveyor_are_understood_and_reasons_given(export, tmp_path):
    done = gt.import_site(export, to=tmp_path / "s.gpkg")
    site = gt.open_site(done.path)
    assert done.counts == {"tees": 3, "fairway": 2, "greens": 2, "pins": 1, "bunkers": 2}
    assert site.holes == [1, 2] and sorted(site.layer("tees", 1)["tee"]) == ["Red", "White"]
    assert site.layer("bunkers")["name"].fillna("").tolist() == ["Deep", ""]
    assert [f for f in done.findings if f.level == "error"] == []
    text = done.mapping_path.read_text()
    assert 'reason = "`Sand Traps` has the word' in text or "`Sand Traps` is a word for it" in text
    assert any("1 features go nowhere" in f.message for f in done.findings), "what is left out is told"
    assert gt.lengths(site).groupby("hole")["grid_m"].max().round().tolist() == [340.0, 340.0]


def test_the_mapping_is_kept_edited_and_used_again(export, tmp_path):
    to = tmp_path / "s.gpkg"
    first = gt.import_site(export, to=to, only_mapping=True)
    assert not to.exists() and first.path is None and first.mapping_path == tmp_path / "s.mapping.toml"
    text = first.mapping_path.read_text()
    text += '\n[[layer]]\nlayer = "mounds"\nsource = "Survey_2024.gpkg"\nfrom = "Sand Traps"\n'
    text = text.replace('layer = "bunkers"', 'layer = "none"')
    first.mapping_path.write_text(text)
    done = gt.import_site(export, to=to)
    assert "bunkers" not in done.counts and "mounds" not in done.counts, (
        "a feature takes the first rule that fits"
    )
    assert done.mapping_path.read_text() == text, "an edited mapping is never written over"


def test_a_mapping_reads_as_it_was_written(export):
    guessed = guess(read_sources([export]))
    path = export.with_name("m.toml")
    path.write_text(mapping_text(guessed))
    assert read_mapping(path).rules == guessed.rules


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (lambda t: t.replace('layer = "greens"', 'layer = "greans"'), "layer is 'greans'; it can be"),
        (lambda t: t.replace("HOLE_NO", "HOLE", 1), "names the field 'HOLE' for hole"),
        (lambda t: t.replace('from = "Flags"', 'from = "flagz"'), "'flagz' of 'Survey_2024.gpkg'"),
        (lambda t: t + "\n[[layer]]\ncolour = 1\n", "colour is not understood"),
        (lambda t: t.replace('crs = "', 'crs = "EPSG:4326" #'), "in degrees"),
        (lambda t: t.replace('crs = "', 'crs = "nonsense" #'), "'nonsense' cannot be used"),
        (lambda t: t.replace("fields = {", "fields = { bogus = 'x',", 1), "names bogus; the fields of"),
        (lambda t: t + "[[", "cannot be read"),
    ],
)
def test_a_wrong_mapping_is_told(export, tmp_path, edit, message):
    made = gt.import_site(export, to=tmp_path / "s.gpkg", only_mapping=True)
    made.mapping_path.write_text(edit(made.mapping_path.read_text()))
    with pytest.raises(InputError, match=message):
        gt.import_site(export, to=tmp_path / "s.gpkg")
    assert not (tmp_path / "s.gpkg").exists()


def test_one_layer_with_a_field_of_kinds(tmp_path, drawn):
    path = tmp_path / "all.gpkg"
    parts = [(drawn(n)[k], k, n) for n in (1, 2) for k in ("back", "fairway", "green", "bunker")]
    words = {"back": "Tee Box", "fairway": "Fairway", "green": "Putting Green", "bunker": "Sand"}
    table = layer(
        [s for s, _, _ in parts], TYPE=[words[k] for _, k, _ in parts], Hole=[n for _, _, n in parts]
    )
    _vector.write_layer(path, "features", table)
    done = gt.import_site(path, to=tmp_path / "s.gpkg")
    assert done.counts == {"tees": 2, "fairway": 2, "greens": 2, "bunkers": 2}
    assert gt.open_site(done.path).holes == [1, 2]


def test_tags_of_a_surveyor_have_hole_numbers_beside_them(tmp_path, drawn):
    """Tags in a field `Golf`, holes as text in another: numbers are taken, nothing is called traced."""
    path = tmp_path / "all.gpkg"
    parts = [(drawn(n)[k], k, n) for n in (1, 2) for k in ("back", "fairway", "green", "bunker")]
    words = {"back": "Tee", "fairway": "Fairway", "green": "Green", "bunker": "Bunker"}
    table = layer(
        [s for s, _, _ in parts],
        Golf=[words[k] for _, k, _ in parts],
        HOLE_NO=[f"Hole {n}" for _, _, n in parts],
        Colour=["white" if k == "back" else None for _, k, _ in parts],
    )
    _vector.write_layer(path, "features", table)
    done = gt.import_site(path, to=tmp_path / "s.gpkg")
    assert done.counts == {"tees": 2, "fairway": 2, "greens": 2, "bunkers": 2}
    site = gt.open_site(done.path)
    assert site.holes == [1, 2] and set(site.layer("tees")["tee"]) == {"white"}
    assert site.layer("bunkers")["hole"].tolist() == [1, 2]
    assert not [f for f in done.findings if f.level == "error" or "traced" in f.message]
    table = table.drop(columns="Golf").assign(golf="yes")
    _vector.write_layer(tmp_path / "named.gpkg", "Greens", table[table["Colour"].isna()].iloc[[1, 4]])
    named = gt.import_site(tmp_path / "named.gpkg", to=tmp_path / "n.gpkg")
    assert named.counts == {"greens": 2}, "a field `golf` without tags of the scheme: the layer's name counts"


def test_a_drawing_has_no_crs_and_holes_in_its_layer_names(tmp_path, drawn):
    path = tmp_path / "course.dxf"
    drawing = ezdxf.new()
    for number in (1, 2):
        parts = drawn(number)
        for part, word in (("back", "TEE"), ("fairway", "FAIRWAY"), ("green", "GREEN"), ("bunker", "BUNKER")):
            name = f"H{number:02d}-{word}"
            drawing.layers.add(name)
            outline = list(parts[part].exterior.coords)[:-1]
            drawing.modelspace().add_lwpolyline(outline, close=True, dxfattribs={"layer": name})
    drawing.modelspace().add_text("north arrow", dxfattribs={"layer": "FRAME"})
    drawing.saveas(path)
    with pytest.raises(InputError, match=r"course\.dxf states no CRS; give the one it was drawn in"):
        gt.import_site(path, to=tmp_path / "s.gpkg")
    done = gt.import_site(path, to=tmp_path / "s.gpkg", crs=CRS)
    assert done.counts == {"tees": 2, "fairway": 2, "greens": 2, "bunkers": 2}
    site = gt.open_site(done.path)
    assert site.holes == [1, 2]
    assert site.layer("greens", 2).geometry.iloc[0].hausdorff_distance(drawn(2)["green"]) < 1e-6


def test_kml_and_shapefiles(tmp_path, drawn):
    """The same hole as a KML of folders and as a folder of shapefiles."""
    parts = drawn(1)
    shapes = {"Tees": parts["back"], "Fairway": parts["fairway"], "Greens": parts["green"]}
    folder = tmp_path / "shp"
    folder.mkdir()
    placemarks = []
    for name, shape in shapes.items():
        table = layer([shape], hole=[1], tee=["white"])
        with fiona.open(
            str(folder / f"{name}.shp"),
            "w",
            driver="ESRI Shapefile",
            crs=CRS,
            schema={"geometry": "Polygon", "properties": {"hole": "int", "tee": "str"}},
        ) as target:
            target.write({"geometry": as_json(shape), "properties": {"hole": 1, "tee": "white"}})
        ring = table.to_crs(4326).geometry.iloc[0].exterior.coords
        text = " ".join(f"{x:.9f},{y:.9f}" for x, y in ring)
        placemarks.append(
            f"<Folder><name>{name}</name><Placemark><name>Hole 1</name><Polygon><outerBoundaryIs><LinearRing>"
            f"<coordinates>{text}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>"
        )
    kml = tmp_path / "course.kml"
    kml.write_text(
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        + "".join(placemarks)
        + "</Document></kml>"
    )
    done = gt.import_site(*sorted(folder.glob("*.shp")), to=tmp_path / "a.gpkg")
    assert gt.lengths(gt.open_site(done.path))["grid_m"].round(2).tolist() == [340.0]
    made = gt.import_site(kml, to=tmp_path / "b.gpkg", only_mapping=True)
    text = made.mapping_path.read_text().replace('name = "Name"', 'hole = "Name"')
    made.mapping_path.write_text(text)
    done = gt.import_site(kml, to=tmp_path / "b.gpkg")
    assert gt.lengths(gt.open_site(done.path))["grid_m"].round(2).tolist() == [340.0]


def test_numbers_with_units_and_values_of_ones_own(tmp_path, drawn):
    path = tmp_path / "s.gpkg"
    parts = drawn(1)
    for name, shape in (("tees", parts["back"]), ("fairway", parts["fairway"]), ("greens", parts["green"])):
        _vector.write_layer(path, name, layer([shape], hole=[1], tee=["white"]))
    streams = [LineString([(447_950, 6_240_150 + k), (448_050, 6_240_150 + k)]) for k in (0, 20, 40)]
    _vector.write_layer(path, "Streams", layer(streams, Width=["6", "2 yd", "wide"], Class=["a", "b", "c"]))
    ways = [LineString([(447_940, 6_240_000), (447_940, 6_240_300)])]
    _vector.write_layer(path, "Tracks", layer(ways, kind=["buggy"]))
    made = gt.import_site(path, to=tmp_path / "t.gpkg", only_mapping=True)
    text = made.mapping_path.read_text()
    text = text.replace(
        'fields = { width_m = "Width" }', 'fields = { width_m = "Width" }\nunits = { width_m = "ft" }'
    )
    text = text.replace(
        'fields = { kind = "kind" }', 'fields = { kind = "kind" }\nvalues = { kind = { buggy = "cart" } }'
    )
    made.mapping_path.write_text(text)
    done = gt.import_site(path, to=tmp_path / "t.gpkg")
    site = gt.open_site(done.path)
    assert sorted(site.layer("burns")["width_m"].round(4)) == [1.8288, 1.8288, 2.0], "2 m is the default"
    assert site.layer("paths")["kind"].tolist() == ["cart"]
    assert any("'wide', not a number" in f.message for f in done.findings)


def test_a_source_in_feet_stays_in_feet(tmp_path, drawn):
    path = tmp_path / "s.gpkg"
    foot = 1200 / 3937
    parts = drawn(1)

    def in_feet(shape):
        from shapely.affinity import affine_transform

        return affine_transform(
            shape, [1 / foot, 0, 0, 1 / foot, 6.4e6 - 448_000 / foot, 2.06e6 - 6_240_000 / foot]
        )

    for name, shape in (("tees", parts["back"]), ("fairway", parts["fairway"]), ("greens", parts["green"])):
        _vector.write_layer(path, name, layer([in_feet(shape)], crs=2225, hole=[1], tee=["white"]))
    done = gt.import_site(path, to=tmp_path / "t.gpkg")
    site = gt.open_site(done.path)
    assert site.crs.to_epsg() == 2225 and site.unit_m == pytest.approx(foot)
    assert gt.lengths(site)["grid_m"].iloc[0] == pytest.approx(340.0, abs=1e-6)


def test_what_cannot_be_brought_in_says_so(tmp_path, export):
    to = tmp_path / "s.gpkg"
    with pytest.raises(InputError, match="there is no such file"):
        gt.import_site(tmp_path / "none.shp", to=to)
    with pytest.raises(InputError, match="there is no such file"):
        gt.import_site("/vsicurl/http://example.com/x.geojson", to=to)
    with pytest.raises(InputError, match=r"ends in \.gpkg"):
        gt.import_site(export, to=tmp_path / "s.shp")
    with pytest.raises(InputError, match="is a source"):
        gt.import_site(export, to=export, replace=True)
    with pytest.raises(WriteError, match="no such folder"):
        gt.import_site(export, to=tmp_path / "no" / "s.gpkg")
    gt.import_site(export, to=to)
    before = to.read_bytes()
    with pytest.raises(InputError, match="already there"):
        gt.import_site(export, to=to)
    assert to.read_bytes() == before
    odd = tmp_path / "odd.geojson"
    feature = {
        "type": "Feature",
        "properties": {"colour": "red"},
        "geometry": as_json(Polygon([(0, 0), (1, 0), (1, 1)])),
    }
    odd.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    with pytest.raises(InputError, match=r"no word in the sources says.*1 Polygon with colour"):
        gt.import_site(odd, to=tmp_path / "o.gpkg")


def test_no_pin_numbers_means_all_get_their_green(export, tmp_path):
    """Without any hole number the greens cannot be numbered, and the error says what to do."""
    made = gt.import_site(export, to=tmp_path / "s.gpkg", only_mapping=True)
    text = made.mapping_path.read_text().replace('hole = "HOLE_NO"', "")
    made.mapping_path.write_text(text.replace("{ , ", "{ ").replace("{  }", "{}"))
    done = gt.import_site(export, to=tmp_path / "s.gpkg")
    errors = [f for f in done.findings if f.level == "error" and "no line tells it" in f.message]
    assert {f.layer for f in errors} >= {"greens", "tees"} and all(f.remedy for f in errors)


@pytest.mark.timeout(60)
def test_views_of_a_source_are_not_run(export, tmp_path):
    """A view that never ends stands among the layers: it is named and left out."""
    with closing(sqlite3.connect(export)) as link, link:
        link.execute(
            "CREATE VIEW Ponds AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
            ' SELECT w.* FROM "Sand Traps" w, n WHERE i = 0'
        )
        link.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id)"
            " SELECT 'Ponds', data_type, 'Ponds', srs_id FROM gpkg_contents WHERE table_name = 'Sand Traps'"
        )
        link.execute(
            "INSERT INTO gpkg_geometry_columns SELECT 'Ponds', column_name, geometry_type_name, srs_id, z, m"
            " FROM gpkg_geometry_columns WHERE table_name = 'Sand Traps'"
        )
    done = gt.import_site(export, to=tmp_path / "s.gpkg")
    assert [f for f in done.findings if "Ponds" in str(f) and "it is a view" in f.message]
    assert done.counts["bunkers"] == 2 and "water" not in done.counts


@pytest.mark.parametrize("name", ["far.vrt", "far.geojson", "far.kml", "far.gml"])
def test_no_source_is_fetched(tmp_path, name):
    """A virtual layer, a web service, a remote schema, under any name: refused, and nobody is called."""
    calls = []
    with socket.create_server(("127.0.0.1", 0)) as server:

        def listen():
            while True:
                try:
                    link, _ = server.accept()
                except OSError:
                    return
                calls.append(link.recv(100))
                link.close()

        thread = threading.Thread(target=listen, daemon=True)
        thread.start()
        url = f"http://127.0.0.1:{server.getsockname()[1]}/greens"
        virtual = f"<OGRVRTLayer name='Greens'><SrcDataSource>{url}.geojson</SrcDataSource></OGRVRTLayer>"
        place = f"{url}?service=WFS&amp;request=DescribeFeatureType"
        schema = f"xmlns:m='http://m' xsi:schemaLocation='http://m {place}'"
        names = " ".join(f"xmlns:{k}='http://www.opengis.net/{k}'" for k in ("wfs", "gml"))
        instance = "xmlns:xsi='http://www.w3.org/2001/XMLSchema-instance'"
        for text in (
            f"<OGRVRTDataSource>{virtual}</OGRVRTDataSource>",
            f"<OGRWFSDataSource><URL>{url}</URL></OGRWFSDataSource>",
            f"<wfs:FeatureCollection {names} {instance} {schema}></wfs:FeatureCollection>",
        ):
            path = tmp_path / name
            path.write_text(text)
            with pytest.raises(GistoolsError):
                gt.import_site(path, to=tmp_path / "s.gpkg")
        server.close()
    assert calls == []
