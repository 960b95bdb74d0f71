from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import fiona
import geopandas as gpd
import nanoarrow
import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

import gistools as gt
from gistools import InputError, WriteError, open_site
from gistools.site import _raster, _vector
from gistools.site._guard import Guard
from gistools.site.check import check
from gistools.site.model import Site
from gistools.site.provenance import RECORD_URI, fingerprint, records
from gistools.site.result_layers import read_result, table_name
from gistools.site.results import ColumnInfo, LayerInfo, Layers, Map
from gistools.site.write import write
from gistools.steps import catalogue
from gistools.steps.catalogue import checked, find

EAST, NORTH = 400_000.0, 300_000.0


def made(layer, rows=3, step="", **columns):
    """Make what a step would return."""
    shapes = [Point(EAST + i, NORTH) for i in range(rows)]
    columns = columns or {"hole": [1] * rows, "reach_m": [float(i) for i in range(rows)]}
    table = gpd.GeoDataFrame(columns, geometry=shapes, crs=27700)
    table.attrs = {"layer": layer, "step": step, "options": {"hole": None}}
    return table


def made_map(name, values, step="", cell=2.0, unit="pct"):
    text = f"{name}, as a map"
    keys = {"pin": "front"}
    return Map(name, np.asarray(values, "float32"), EAST, NORTH, cell, unit, text, keys, {"step": step})


def survey_rows(path: Path) -> dict[str, list]:
    """Every row of every table that is neither a result nor bookkeeping, read by plain SQLite."""
    with sqlite3.connect(path) as link:
        names = [
            n
            for (n,) in link.execute("SELECT table_name FROM gpkg_contents ORDER BY 1")
            if not n.startswith("study_") and n not in ("layer_styles", "terrain_proposed")
        ]
        rows = {n: link.execute(f'SELECT * FROM "{n}" ORDER BY rowid').fetchall() for n in names}
        rows |= {
            f"gpkg_contents {n}": link.execute(
                "SELECT * FROM gpkg_contents WHERE table_name = ?", (n,)
            ).fetchall()
            for n in names
        }
    link.close()
    return rows


def sql(path, text, *given):
    with sqlite3.connect(path) as link:
        rows = link.execute(text, given).fetchall()
    link.close()
    return rows


def validated(path: Path) -> None:
    """Run the conformance checker of the gdal-utils wheel; it needs nothing but sqlite3."""
    if find_spec("osgeo_utils") is None:
        pytest.skip("gdal-utils is not installed")
    run = subprocess.run(
        [sys.executable, "-m", "osgeo_utils.samples.validate_gpkg", "-k", "--extra", str(path)],
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert sql(path, "PRAGMA integrity_check") == [("ok",)]
    assert sql(path, "PRAGMA foreign_key_check") == []


def test_results_go_in_and_the_survey_stays(survey):
    before = survey_rows(survey)
    site = open_site(survey)
    depth = np.arange(12.0).reshape(3, 4)
    depth[1, 2] = np.nan
    assert write(site, [made("carries"), made_map("seen", depth)]) == site.path
    assert survey_rows(survey) == before
    back = read_result(site, "carries")
    assert back["reach_m"].tolist() == [0.0, 1.0, 2.0]
    assert back.crs.to_epsg() == 27700
    assert back.geometry.iloc[2].equals(Point(EAST + 2, NORTH))
    seen = read_result(survey, "study_seen")
    np.testing.assert_array_equal(seen.values, depth.astype("float32"))
    assert (seen.x_west, seen.y_north, seen.cell, seen.unit) == (EAST, NORTH, 2.0, "pct")
    assert check(survey) == []


def test_other_libraries_read_what_was_written(survey):
    site = open_site(survey)
    site.write(made("carries"), made_map("seen", [[1, np.nan], [3, 4]]))
    with fiona.open(survey, layer="study_carries") as layer:
        assert layer.crs.to_epsg() == 27700
        assert len(layer) == 3
        assert (
            len(list(layer.filter(bbox=(EAST + 0.9, NORTH - 1, EAST + 2.1, NORTH + 1)))) == 2
        )  # by its index
    with rasterio.open(f"GPKG:{survey}:study_seen") as raster:
        assert raster.nodata == -9999
        assert raster.units == ("pct",)
        assert raster.crs.to_epsg() == 27700
        assert raster.transform[:6] == (2, 0, EAST, 0, -2, NORTH)
        assert raster.read(1).tolist() == [[1, -9999], [3, 4]]
    with sqlite3.connect(survey) as link:  # no tile holds NaN: OGC 17-066r1 requirement 21
        (tile,) = link.execute("SELECT tile_data FROM study_seen").fetchone()
    link.close()
    with rasterio.io.MemoryFile(tile) as memory, memory.open() as image:
        assert np.isfinite(image.read()).all()


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2", "1.3", "1.4"])
def test_the_file_conforms_before_and_after(kit, tmp_path, version):
    path = kit.write_survey(tmp_path / "s.gpkg", ground=kit.level_ground(), version=version)
    validated(path)
    number = sql(path, "PRAGMA user_version")
    site = open_site(path)
    empty = made("zones", rows=0, hole=[], area_m2=[])
    simple = pd.DataFrame({"hole": [1], "score": [4.2]})
    simple.attrs = {"layer": "positions", "step": "positions", "options": {}}
    for _ in range(2):
        site.write(made("carries", step="carries"), empty, simple, made_map("seen", [[1, 2], [3, np.nan]]))
        validated(path)
    assert sql(path, "PRAGMA user_version") == number
    # the spatial index still works for whoever adds a feature next
    with fiona.open(path, "a", layer="study_carries") as layer:
        layer.write(
            {
                "geometry": {"type": "Point", "coordinates": (EAST, NORTH)},
                "properties": {"hole": 1, "reach_m": 9.0},
            }
        )
    validated(path)
    # maps alone, nothing but maps
    site.write(made_map("only", [[1, 2], [3, 4]]))
    validated(path)


def test_titles_units_and_records(survey):
    site = open_site(survey)
    spec = find("lengths")
    columns = {c.name: [1.0] for c in spec.writes[0].columns}
    table = made("lengths", 1, "lengths", hole=[1], **{k: v for k, v in columns.items() if k != "hole"})
    table.attrs = spec.layer_info("lengths", checked(spec, {})).as_attrs()
    site.write(table)
    titles = dict(
        sql(survey, "SELECT column_name, title FROM gpkg_data_columns WHERE table_name = 'study_lengths'")
    )
    texts = dict(sql(survey, "SELECT column_name, description FROM gpkg_data_columns"))
    for column in spec.writes[0].columns:
        assert titles[column.name] == column.title
        assert texts[column.name] == column.text
    assert any(title.endswith("[m]") for title in titles.values())
    ((scope, name, mime, text),) = sql(
        survey,
        "SELECT r.reference_scope, r.table_name, m.mime_type, m.metadata FROM gpkg_metadata m"
        " JOIN gpkg_metadata_reference r ON r.md_file_id = m.id WHERE m.md_standard_uri = ?",
        RECORD_URI,
    )
    assert (scope, name, mime) == ("table", "study_lengths", "application/json")
    output = json.loads(text)
    assert output["step"] == "lengths"
    assert output["options"] == {c.name: c.default for c in spec.choices}, (
        "choices left at their default are told too"
    )
    assert output["toolkit"].startswith("golf-gistools ")
    assert output["cautions"] == list(spec.cautions)
    assert set(output["inputs_sha256"]) == {*site.tables, "terrain"}
    assert len(output["kernels"].split()[0]) == 16
    site.write(table)
    assert len(sql(survey, "SELECT * FROM gpkg_metadata")) == 1, "records of replaced layers are gone"
    assert len(sql(survey, "SELECT * FROM gpkg_data_columns")) == len(titles)


def test_fingerprints_tell_what_changed(survey, make_survey):
    first, again = open_site(survey), open_site(survey)
    assert dict(fingerprint(first)) == dict(fingerprint(again))
    first.write(made("carries"))
    assert dict(fingerprint(open_site(survey))) == dict(fingerprint(again)), "results are no input"
    pins = first.layer("pins").copy()
    pins.loc[0, "geometry"] = Point(EAST, NORTH + 333)
    moved = fingerprint(first.replace(pins=pins))
    assert {k for k in moved if moved[k] != fingerprint(first)[k]} == {"pins"}


def test_foreign_metadata_and_tables_are_left_alone(survey):
    with fiona.open(survey, "a", layer="tees") as layer:
        layer.update_tags({"surveyor": "Aye Example"})
    _vector.write_layer(survey, "notes", pd.DataFrame({"x": [1]}))
    foreign = sql(survey, "SELECT * FROM gpkg_metadata"), sql(survey, "SELECT * FROM gpkg_metadata_reference")
    assert foreign[0]
    site = open_site(survey)
    site.write(made("carries"))
    site.write(made("carries"))
    assert sql(survey, "SELECT * FROM gpkg_metadata WHERE md_standard_uri <> ?", RECORD_URI) == foreign[0]
    assert sql(survey, "SELECT * FROM gpkg_metadata_reference WHERE table_name = 'tees'") == foreign[1]
    assert sql(survey, "SELECT x FROM notes") == [(1,)]
    validated(survey)


def test_rerun_replaces_and_removes_old_layers(survey):
    site = open_site(survey)
    site.write(
        made_map("view_1_front", [[1, 2], [3, 4]], "viewing"),
        made_map("view_1_back", [[1, 2], [3, 4]], "viewing"),
        made("carries", step="carries"),
    )
    site.write(made_map("view_1_front", [[5, 6], [7, 8]], "viewing"))
    tables = {
        n for (n,) in sql(survey, "SELECT table_name FROM gpkg_contents WHERE table_name LIKE 'study%'")
    }
    assert tables == {"study_view_1_front", "study_carries"}
    assert read_result(site, "view_1_front").values.tolist() == [[5, 6], [7, 8]]
    leftovers = sql(survey, "SELECT name FROM sqlite_master WHERE name LIKE '%view_1_back%'")
    assert leftovers == []
    for table, column in (
        ("gpkg_2d_gridded_tile_ancillary", "tpudt_name"),
        ("gpkg_extensions", "table_name"),
    ):
        assert sql(survey, f"SELECT * FROM {table} WHERE {column} = 'study_view_1_back'") == []


def test_a_hole_at_a_time(survey):
    """A result for one hole takes the place of that hole's rows; the others and their records stay."""
    site = open_site(survey)
    site.write(made("carries", 4, "carries", hole=[1, 2, 2, 3], reach_m=[1.0, 2.0, 2.5, 3.0]))
    again = made("carries", 1, "carries", hole=[2], reach_m=[20.0])
    again.attrs["options"] = {"hole": 2}
    site.write(again)
    back = read_result(site, "carries")
    assert back["hole"].tolist() == [1, 2, 3]
    assert back["reach_m"].tolist() == [1.0, 20.0, 3.0]
    output = records(survey)["study_carries"]
    assert [t["options"]["hole"] for t in output] == [None, 2]
    site.write(again)
    assert [t["options"]["hole"] for t in records(survey)["study_carries"]] == [None, 2]
    other = made("carries", 1, "carries", hole=[2], carry_m=[20.0])  # other columns: all of it is replaced
    other.attrs["options"] = {"hole": 2}
    site.write(other)
    assert read_result(site, "carries")["hole"].tolist() == [2]
    assert [t["options"]["hole"] for t in records(survey)["study_carries"]] == [2]
    validated(survey)


def test_layers_dicts_and_lists_of_results(survey):
    site = open_site(survey)
    site.write([Layers(carries=made("carries"), gaps=made("gaps", rows=0)), {"x": made("zones")}])
    tables = {
        n for (n,) in sql(survey, "SELECT table_name FROM gpkg_contents WHERE table_name LIKE 'study%'")
    }
    assert tables == {"study_carries", "study_gaps", "study_zones"}


@pytest.mark.parametrize(
    ("results", "says"),
    [
        ([], "nothing to write"),
        ([gpd.GeoDataFrame({"a": [1]}, geometry=[Point(0, 0)])], "which layer"),
        (["carries"], "cannot be written"),
        ([made("carries"), made("carries")], "both be the layer study_carries"),
    ],
)
def test_what_is_no_result_is_refused(survey, results, says):
    before = survey.read_bytes()
    with pytest.raises(InputError, match=says):
        write(open_site(survey), results)
    assert survey.read_bytes() == before


def test_columns_that_differ_in_case_only_are_refused(survey):
    before = survey.read_bytes()
    with pytest.raises(WriteError, match="takes no notice of case"):
        open_site(survey).write(made("carries", 1, Hole=[1], hole=[1]))
    assert survey.read_bytes() == before


def test_infinite_maps_are_refused(survey):
    before = survey.read_bytes()
    with pytest.raises(WriteError, match="infinite"):
        open_site(survey).write(made("carries"), made_map("seen", [[1, np.inf], [3, 4]]))
    assert survey.read_bytes() == before


def test_types_and_empty_cells_come_back(survey):
    site = open_site(survey)
    columns = {
        "hole": [1, 2, 3],
        "fid": ["7", None, "bunkers 9"],
        "geom": ["a column named geom", "", None],
        "row_id": [7, 7, 7],
        "carries": [True, False, True],
        "maybe": pd.array([True, None, False], dtype="boolean"),
        "count": pd.array([1, None, 2**40], dtype="Int64"),
        "wide": np.array([1, 2, 3], dtype="int16"),
        "share_pct": [1.5, np.nan, -0.0],
        "narrow": np.array([0.1, 0.2, np.nan], dtype="float32"),
        "text": ["Þórsburn 漢字", "'; DROP TABLE tees; --", '"x"\n\ty'],
        "kind": pd.Categorical(["a", "b", "a"]),
        "nothing": [None, None, None],
    }
    table = made("odd", 3, **columns)
    site.write(table)
    back = read_result(site, "odd")
    assert list(back.columns) == [*columns, "geometry"]
    for name in ("hole", "row_id", "wide"):
        assert back[name].dtype == "int64"
        assert back[name].tolist() == list(columns[name])
    assert back["carries"].dtype == "bool"
    assert back["maybe"].tolist() == [True, pd.NA, False]
    assert back["count"].tolist() == [1, pd.NA, 2**40]
    np.testing.assert_array_equal(back["share_pct"], columns["share_pct"])
    np.testing.assert_array_equal(back["narrow"], columns["narrow"].astype(float))
    for name in ("fid", "geom", "text", "kind"):
        assert [None if pd.isna(v) else v for v in back[name]] == list(columns[name])
    assert back["nothing"].isna().all()
    assert sql(survey, "SELECT count(*) FROM tees") == [(1,)]


def test_mixed_and_missing_geometry(survey):
    site = open_site(survey)
    square = box(EAST, NORTH, EAST + 1, NORTH + 1)
    shapes = {
        "promoted": [square, MultiPolygon([square, box(EAST + 5, NORTH, EAST + 6, NORTH + 1)]), None],
        "anything": [square, Point(EAST, NORTH), LineString([(EAST, NORTH), (EAST + 1, NORTH)])],
        "empty": [Polygon(), square, None],
    }
    tables = []
    for name, geometry in shapes.items():
        table = gpd.GeoDataFrame({"hole": [1, 1, 1]}, geometry=geometry, crs=27700)
        table.attrs = {"layer": name, "step": "", "options": {}}
        tables.append(table)
    site.write(*tables)
    for name, geometry in shapes.items():
        for was, now in zip(geometry, read_result(site, name).geometry, strict=True):
            assert (now is None) == (was is None)
            assert was is None or was.equals(now) or (was.is_empty and now.is_empty)
    types = dict(sql(survey, "SELECT table_name, geometry_type_name FROM gpkg_geometry_columns"))
    assert types["study_promoted"] == "MULTIPOLYGON"
    assert types["study_anything"] == "GEOMETRY"
    validated(survey)


def test_no_rows_keep_columns_and_geometry_type(survey):
    spec = find("lines_of_play")
    columns = {c.name: [] for c in spec.writes[0].columns}
    table = made(spec.writes[0].layer, 0, "lines_of_play", **columns)
    table.attrs = spec.layer_info(spec.writes[0].layer, {}).as_attrs()
    open_site(survey).write(table)
    back = read_result(survey, spec.writes[0].layer)
    assert list(back.columns) == [*columns, "geometry"]
    assert len(back) == 0
    ((kind,),) = sql(
        survey,
        "SELECT geometry_type_name FROM gpkg_geometry_columns WHERE table_name = ?",
        spec.writes[0].table,
    )
    assert kind == spec.writes[0].geometry.upper()


def test_a_site_in_feet_gets_its_own_coordinates_back(kit, tmp_path):
    foot = 1200 / 3937
    path = kit.write_survey(
        tmp_path / "s.gpkg", crs=2225, unit_m=foot, origin=(6.4e6, 2.06e6), ground=kit.level_ground()
    )
    site = open_site(path)
    surface = site.surface()
    seen = Map(
        "seen", surface.z.astype("float32"), surface.x_west, surface.y_north, surface.cell, "m", "level"
    )
    site.write(seen)
    terrain, copy = (rasterio.open(f"GPKG:{path}:{t}") for t in ("terrain", "study_seen"))
    with terrain, copy:
        np.testing.assert_allclose(copy.transform[:6], terrain.transform[:6], rtol=1e-12)
        assert copy.crs.to_epsg() == 2225
    back = read_result(site, "seen")
    assert (back.x_west, back.y_north, back.cell) == pytest.approx(
        (seen.x_west, seen.y_north, seen.cell), rel=1e-12
    )


@pytest.mark.parametrize(
    ("crs", "unit_m", "origin"),
    [
        ("EPSG:27700+5701", 1.0, (EAST, NORTH)),
        ("EPSG:2225+6360", 1200 / 3937, (6.4e6, 2.06e6)),
        ("EPSG:2193", 1.0, (1.57e6, 5.18e6)),
        (
            'ENGCRS["Links grid",EDATUM["Links datum"],CS[Cartesian,2],AXIS["(E)",east],AXIS["(N)",north],'
            'LENGTHUNIT["metre",1.0]]',
            1.0,
            (1000.0, 2000.0),
        ),
    ],
    ids=["compound", "compound in feet", "north first", "local grid"],
)
def test_any_plane_crs_goes_in_and_out(kit, tmp_path, crs, unit_m, origin):
    path = kit.write_survey(
        tmp_path / "s.gpkg", crs=crs, unit_m=unit_m, origin=origin, ground=kit.level_ground(), unit=""
    )
    site = open_site(path)
    assert [f for f in site.findings if f.level == "error"] == []
    tee = site.layer("tees").geometry.iloc[0].centroid
    table = gpd.GeoDataFrame({"hole": [1]}, geometry=[Point(tee.x / unit_m, tee.y / unit_m)], crs=site.crs)
    table.attrs = {"layer": "carries", "step": "", "options": {}}
    surface = site.surface()
    level = Map("level", surface.z.astype("f4"), surface.x_west, surface.y_north, surface.cell, "m", "level")
    for _ in range(2):
        site.write(table, level)
        validated(path)
    back = read_result(site, "carries")
    assert back.crs.equals(site.crs, ignore_axis_order=True)
    assert back.geometry.iloc[0].equals(table.geometry.iloc[0])
    assert (read_result(site, "level").x_west, read_result(site, "level").cell) == pytest.approx(
        (surface.x_west, surface.cell)
    )
    ids = sql(
        path,
        (
            "SELECT DISTINCT srs_id FROM gpkg_contents WHERE data_type <> 'attributes' AND table_name <>"
            " 'terrain'"
        ),
    )
    assert len(ids) == 1, "results lie under the same id as the survey"


def test_the_files_own_number_of_a_crs_is_kept(kit, tmp_path):
    """A GeoPackage may number CRSs as it likes; blobs carry the number (OGC 12-128r18 2.1.2, 2.1.3)."""
    path = kit.write_survey(tmp_path / "s.gpkg", ground=kit.level_ground())
    with sqlite3.connect(path) as link:
        link.create_function("ST_IsEmpty", 1, lambda _: 1)
        for name in ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            link.create_function(name, 1, lambda _: 0)
        link.create_function("renumbered", 1, lambda b: b[:4] + (555).to_bytes(4, "little") + b[8:])
        for (table,) in link.execute("SELECT table_name FROM gpkg_geometry_columns").fetchall():
            link.execute(f"UPDATE {table} SET geom = renumbered(geom)")
        for table in ("spatial_ref_sys", "contents", "geometry_columns", "tile_matrix_set"):
            link.execute(f"UPDATE gpkg_{table} SET srs_id = 555 WHERE srs_id = 27700")
    link.close()
    site = open_site(path)
    assert site.crs.to_epsg() == 27700
    site.write(made("carries"), made_map("seen", [[1, 2], [3, 4]]))
    numbers = sql(
        path, "SELECT DISTINCT srs_id FROM gpkg_contents WHERE table_name IN ('study_carries', 'study_seen')"
    )
    assert numbers == [(555,)]
    ((head,),) = sql(path, "SELECT DISTINCT substr(geom, 5, 4) FROM study_carries")
    assert int.from_bytes(head, "little") == 555
    assert read_result(path, "carries").crs.to_epsg() == 27700
    assert sql(path, "SELECT count(*) FROM gpkg_spatial_ref_sys WHERE organization_coordsys_id = 27700") == [
        (1,)
    ]
    validated(path)


def test_map_names_become_plain_table_names():
    assert table_name("carries") == "study_carries"
    assert table_name("study_carries") == "study_carries"
    assert table_name("strokes_1_Früh Links (sea)") == "study_strokes_1_fruh_links_sea"
    assert table_name('x"; DROP TABLE tees; --') == "study_x_drop_table_tees"
    assert table_name("terrain_proposed") == "terrain_proposed"
    assert table_name("漢字") != table_name("漢") and table_name("漢字").isascii()
    assert table_name("") == table_name("--") == "study_result"


def test_the_proposed_ground_is_a_table_of_its_own(survey):
    site = open_site(survey)
    ground = Map(
        "terrain_proposed", np.full((480, 240), 11, "f4"), EAST - 100, NORTH + 420, 1.0, "m", "proposed"
    )
    site.write(ground)
    site.write(ground)
    proposed = open_site(survey, terrain="terrain_proposed")
    assert proposed.surface().height(EAST, NORTH) == 11.0
    validated(survey)


def test_a_proposed_ground_somebody_else_made_is_not_replaced(survey):
    _raster.write_coverage(survey, "terrain_proposed", np.ones((4, 4)), EAST, NORTH, 1.0, 27700)
    before = survey.read_bytes()
    ground = Map("terrain_proposed", np.full((4, 4), 11, "f4"), EAST, NORTH, 1.0, "m", "proposed")
    with pytest.raises(WriteError, match="not written by a step"):
        open_site(survey).write(ground)
    assert survey.read_bytes() == before


def test_styles_go_with_their_layer_and_a_users_own_stay(survey):
    site = open_site(survey)
    write(site, made("carries"), styles=lambda layer: (f"<style {layer}/>", "<sld/>"))
    row = "SELECT f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault FROM layer_styles"
    assert sql(survey, row) == [("study_carries", "geom", "<style carries/>", "<sld/>", 1)]
    write(site, made("carries"), styles=lambda _: ("<new/>", "<sld/>"))
    assert [r[2] for r in sql(survey, row)] == ["<new/>"]
    with sqlite3.connect(survey) as link:
        link.execute("UPDATE layer_styles SET styleQML = '<mine/>'")
    link.close()
    write(site, made("carries"), styles=lambda _: ("<newer/>", "<sld/>"))
    assert [r[2] for r in sql(survey, row)] == ["<mine/>"]
    validated(survey)


def test_a_copy_with_the_results(survey, tmp_path):
    before = hashlib.sha256(survey.read_bytes()).hexdigest()
    site = open_site(survey)
    out = tmp_path / "results.gpkg"
    assert write(site, [made("carries"), made("zones")], out=out) == out
    assert hashlib.sha256(survey.read_bytes()).hexdigest() == before
    assert survey_rows(out) == survey_rows(survey)
    validated(out)
    write(site, made("carries"), out=out)  # an earlier output is replaced
    tables = {n for (n,) in sql(out, "SELECT table_name FROM gpkg_contents WHERE table_name LIKE 'study%'")}
    assert tables == {"study_carries"}
    assert sorted(p.name for p in tmp_path.iterdir()) == ["merrow.gpkg", "results.gpkg"]
    assert open_site(out).holes == [1]
    assert read_result(out, "carries")["reach_m"].tolist() == [0.0, 1.0, 2.0]


def test_a_copy_never_overwrites_what_is_not_its_own(survey, kit, tmp_path):
    site = open_site(survey)
    other = kit.write_survey(tmp_path / "other.gpkg")
    text = tmp_path / "notes.txt"
    text.write_text("mine")
    for path in (other, text):
        before = path.read_bytes()
        with pytest.raises(WriteError, match="not an earlier output"):
            write(site, made("carries"), out=path)
        assert path.read_bytes() == before
    out = write(site, made("carries"), out=tmp_path / "out.gpkg")
    with pytest.raises(WriteError, match="exists already"):
        write(site, made("carries"), out=out, replace=False)
    with fiona.open(out, "a", layer="pins") as layer:  # somebody works on in the copy
        layer.write(
            {
                "geometry": {"type": "Point", "coordinates": (EAST, NORTH)},
                "properties": {"hole": 1, "pin": "new"},
            }
        )
    before = out.read_bytes()
    with pytest.raises(WriteError, match="changed since"):
        write(site, made("carries"), out=out)
    assert out.read_bytes() == before
    write(site, made("carries"), out=out, replace=True)
    assert len(open_site(out).layer("pins")) == 2
    with pytest.raises(WriteError, match="does not exist"):
        write(site, made("carries"), out=tmp_path / "none" / "x.gpkg")
    with pytest.raises(WriteError, match="not a file"):
        write(site, made("carries"), out=tmp_path)


def test_out_naming_the_site_itself_is_the_site(survey):
    site = open_site(survey)
    assert site.write(made("carries"), out=survey) == site.path
    with pytest.raises(WriteError, match="already has the layer"):
        site.write(made("carries"), replace=False)


def test_a_site_in_memory_needs_out(straight_site: Site, tmp_path):
    table = made("carries")
    with pytest.raises(InputError, match="out="):
        straight_site.write(table)
    path = straight_site.write(table, made_map("seen", [[1, 2], [3, 4]]), out=tmp_path / "memory.gpkg")
    assert len(read_result(path, "carries")) == 3
    validated(path)


def test_reading_a_layer_that_is_not_there(survey):
    site = open_site(survey)
    site.write(made("carries"))
    with pytest.raises(ValueError, match="it has study_carries"):
        read_result(site, "zones")


def test_a_real_step_from_file_to_file(survey):
    """Lengths of the straight hole: 340 m of grid, read back as the step gave it."""
    site = open_site(survey)
    result = catalogue.run("lengths", site)
    site.write(result)
    back = read_result(site, "lengths")
    pd.testing.assert_frame_equal(
        pd.DataFrame(result.drop(columns="geometry", errors="ignore")),
        pd.DataFrame(back.drop(columns="geometry", errors="ignore")),
        check_dtype=False,
    )
    output = records(survey)["study_lengths"][-1]
    assert output["step"] == "lengths"
    validated(survey)


@pytest.mark.parametrize(
    "trigger",
    [
        "AFTER INSERT ON gpkg_contents BEGIN DELETE FROM bunkers; END",
        "AFTER DELETE ON gpkg_contents BEGIN UPDATE tees SET tee = 'x'; END",
        "AFTER INSERT ON layer_styles BEGIN INSERT INTO pins (pin) VALUES ('x'); END",
        "AFTER INSERT ON gpkg_contents BEGIN DELETE FROM study_first; END",
    ],
)
def test_triggers_of_others_do_not_run(survey, trigger):
    """A trigger that would change anything while results are written stops the writing, and is named."""
    site = open_site(survey)
    site.write(made("first", step="first"), made("zones"))
    with sqlite3.connect(survey) as link:
        link.execute(f"CREATE TRIGGER hostile {trigger}")
    link.close()
    before = survey.read_bytes()
    with pytest.raises(WriteError, match="nothing was written, for its trigger `hostile`"):
        site.write(made("zones"))
    assert survey.read_bytes() == before
    assert len(gpd.read_file(survey, layer="bunkers")) > 0


def test_a_trigger_on_a_survey_layer_is_no_hindrance(survey):
    with sqlite3.connect(survey) as link:
        link.execute("CREATE TRIGGER mine AFTER DELETE ON bunkers BEGIN UPDATE tees SET tee = 'x'; END")
    link.close()
    open_site(survey).write(made("zones"))
    assert len(read_result(survey, "zones")) == 3


def test_the_guard_refuses_survey_tables(survey):
    with contextlib.closing(sqlite3.connect(survey, isolation_level=None)) as link:
        for statement in (
            "DELETE FROM pins",
            "UPDATE tees SET tee = 'x'",
            "DROP TABLE greens",
            "ALTER TABLE tees RENAME TO t",
        ):
            with pytest.raises(WriteError, match="a statement would"), Guard(link).watching(survey):
                link.execute(statement)


def test_titles_are_the_aliases_other_programs_show(survey):
    """GDAL hands an alias on in its Arrow stream (documentation of OGRLayer::GetArrowStream)."""
    open_site(survey).write(described("lengths"), described("quantities", geometry=False))
    for layer in ("study_lengths", "study_quantities"):
        with pyogrio.raw.open_arrow(survey, layer=layer, use_pyarrow=False) as (_, stream):
            fields = nanoarrow.c_array_stream(stream).get_schema().children
            aliases = {
                f.name: dict(f.metadata or {}).get(b"GDAL:OGR:alternative_name", b"").decode() for f in fields
            }
        assert aliases["total_m"] == "Total [m]", layer
        assert aliases["next_reach_m"] == "", "a title that two columns share is no alias: names are unique"
    titles = dict(
        sql(survey, "SELECT column_name, title FROM gpkg_data_columns WHERE table_name = 'study_lengths'")
    )
    assert titles["next_reach_m"] == titles["twice_m"] == "Twice [m]"
    validated(survey)


def described(layer, geometry=True):
    table = made(layer, 2, hole=[1, 2], total_m=[1.0, 2.0], twice_m=[1.0, 2.0], next_reach_m=[1.0, 2.0])
    info = [("hole", "Hole", "number"), ("total_m", "Total [m]", "sum")]
    info += [(c, "Twice [m]", "") for c in ("twice_m", "next_reach_m")]
    columns = tuple(ColumnInfo(*c) for c in info)
    if not geometry:
        table = pd.DataFrame(table.drop(columns="geometry"))
    table.attrs = LayerInfo(layer, "Point" if geometry else "", "", columns).as_attrs()
    return table


def test_results_survive_a_save_as(survey, tmp_path):
    """Every row comes along when a result is saved under another name."""
    table = made("points", 5, hole=[1] * 5, feature_id=[7, 7, 7, 8, 8])
    open_site(survey).write(table, described("quantities", geometry=False))
    for layer, rows in (("study_points", 5), ("study_quantities", 2)):
        saved = tmp_path / f"{layer}.gpkg"
        pyogrio.write_dataframe(pyogrio.read_dataframe(survey, layer=layer, fid_as_index=True), saved)
        again = pyogrio.read_dataframe(saved)
        assert len(again) == rows and "fid" not in again
        assert "feature_id" not in again or again["feature_id"].tolist() == [7, 7, 7, 8, 8]


def test_statistics_leave_missing_cells_out(survey):
    values = np.full((300, 300), 5.0)
    values[:100], values[200:] = np.nan, 7.0
    open_site(survey).write(made_map("seen", values))
    rows = sql(survey, "SELECT min, max FROM gpkg_2d_gridded_tile_ancillary WHERE tpudt_name = 'study_seen'")
    assert len(rows) == 4 and {low for low, _ in rows} == {5.0, 7.0} and {high for _, high in rows} == {7.0}
    assert np.array_equal(read_result(survey, "seen").values, values.astype("f4"), equal_nan=True)


def test_a_result_read_back_says_what_it_is(survey):
    site = open_site(survey)
    site.write(gt.lengths(site), made_map("seen", [[1, 2], [3, np.nan]], "viewing"))
    written, back = gt.lengths(site), read_result(survey, "lengths")
    assert back.attrs["layer_info"]._replace(geometry="") == written.attrs["layer_info"]._replace(geometry="")
    again = read_result(survey, "seen")
    assert (
        again.keys == {"pin": "front"} and again.text == "seen, as a map" and again.attrs["step"] == "viewing"
    )
    site.write(back, again)  # and can be written again, as from one file to another
    assert read_result(survey, "lengths").attrs == back.attrs


def test_what_a_result_says_of_itself_goes_into_other_formats(survey):
    table = gt.lengths(open_site(survey))
    assert json.loads(json.dumps(table.attrs))["layer"] == "lengths"  # as Parquet files store them
