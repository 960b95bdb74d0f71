"""OGC 12-128r18, GeoPackage Encoding Standard, and OGC 17-066r1, its tiled gridded coverage extension.

Read in the standard's own repository (opengeospatial/geopackage, revision fe83fdd5, 2024-01-30)
[published]. Requirement numbers are those of the standard.
"""

from __future__ import annotations

import re
import sqlite3
import struct

import geopandas as gpd
import numpy as np
import pytest
from shapely import from_wkb
from shapely.geometry import Point, Polygon

from gistools.site import _merge
from gistools.site.model import Site
from gistools.site.results import Map

LAYERS = {
    "carries": [Point(400_000, 300_000), Point(400_010, 300_020), None],
    "zones": [Polygon([(400_000, 300_000), (400_010, 300_000), (400_010, 300_005)]), Polygon()],
}


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("ogc") / "s.gpkg"
    tee = gpd.GeoDataFrame({"hole": [1], "tee": ["x"]}, geometry=[Point(400_000, 300_000)])
    site = Site.from_tables({"tees": tee}, 27700)
    results = []
    for name, shapes in LAYERS.items():
        table = gpd.GeoDataFrame({"hole": [1] * len(shapes)}, geometry=shapes, crs=27700)
        table.attrs = {"layer": name, "step": "", "options": {}}
        results.append(table)
    values = np.array([[1, 2.5, np.nan], [4, 5, 6]], "float32")
    results.append(Map("seen", values, 400_000, 300_000, 5.0, "m", "a map"))
    return site.write(*results, out=path)


@pytest.fixture
def link(written):
    with sqlite3.connect(written) as link:
        yield link
    link.close()


def test_requirements_1_to_3_file_header(written, link):
    assert written.read_bytes()[:16] == b"SQLite format 3\x00"
    assert link.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
    assert link.execute("PRAGMA user_version").fetchone()[0] in (10200, 10300, 10400)
    assert written.suffix == ".gpkg"


def test_requirements_6_and_7_integrity(link):
    assert link.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert link.execute("PRAGMA foreign_key_check").fetchall() == []


def test_requirement_11_reference_systems(link):
    ids = {row[0] for row in link.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
    used = {row[0] for row in link.execute("SELECT srs_id FROM gpkg_contents WHERE srs_id IS NOT NULL")}
    assert {4326, -1, 0} | used <= ids


def test_requirements_13_to_15_contents(link):
    rows = link.execute("SELECT table_name, data_type, last_change FROM gpkg_contents").fetchall()
    assert {(name, kind) for name, kind, _ in rows if name.startswith("study_")} == {
        ("study_carries", "features"),
        ("study_zones", "features"),
        ("study_seen", "2d-gridded-coverage"),
    }
    for _, _, time in rows:
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", time)


@pytest.mark.parametrize("layer", LAYERS)
def test_clause_2_1_3_geometry_encoding(link, layer):
    """Header by the standard's table: magic, version, flags, srs_id, envelope; then ISO WKB."""
    blobs = [row[0] for row in link.execute(f"SELECT geom FROM study_{layer} ORDER BY row_id")]
    for shape, blob in zip(LAYERS[layer], blobs, strict=True):
        if shape is None:
            assert blob is None
            continue
        magic, version, flags = struct.unpack("<2sBB", blob[:4])
        assert (magic, version) == (b"GP", 0)
        order = "<" if flags & 1 else ">"
        assert struct.unpack(order + "i", blob[4:8]) == (27700,)
        assert bool(flags >> 4 & 1) == shape.is_empty
        doubles = {0: 0, 1: 4, 2: 6, 3: 6, 4: 8}[flags >> 1 & 7]
        if doubles:
            west, east, south, north = struct.unpack(order + "4d", blob[8:40])
            assert (west, south, east, north) == shape.bounds
        assert from_wkb(blob[8 + 8 * doubles :]).equals_exact(shape, 0)


def test_clause_2_1_3_renumbering_changes_the_header_alone(link):
    for (blob,) in link.execute("SELECT geom FROM study_carries WHERE geom IS NOT NULL"):
        changed = _merge.renumbered(blob, -5)
        assert struct.unpack("<i" if blob[3] & 1 else ">i", changed[4:8]) == (-5,)
        assert (changed[:4], changed[8:]) == (blob[:4], blob[8:])
    big = b"GP\x00\x00" + struct.pack(">i", 27700) + b"rest"
    assert _merge.renumbered(big, 4326) == b"GP\x00\x00" + struct.pack(">i", 4326) + b"rest"


def test_annex_f3_spatial_index(link):
    """One row per geometry that is neither null nor empty, its box round the geometry (32-bit, outwards)."""
    for layer, shapes in LAYERS.items():
        boxes = link.execute(
            f"SELECT id, minx, maxx, miny, maxy FROM rtree_study_{layer}_geom ORDER BY id"
        ).fetchall()
        stored = [(i + 1, s) for i, s in enumerate(shapes) if s is not None and not s.is_empty]
        assert [b[0] for b in boxes] == [i for i, _ in stored]
        for (_, west, east, south, north), (_, shape) in zip(boxes, stored, strict=True):
            w, s, e, n = shape.bounds
            assert (
                w - 0.1 < west <= w and e <= east < e + 0.1 and s - 0.1 < south <= s and n <= north < n + 0.1
            )
        registered = link.execute(
            (
                "SELECT count(*) FROM gpkg_extensions WHERE table_name = ? AND extension_name ="
                " 'gpkg_rtree_index'"
            ),
            (f"study_{layer}",),
        )
        assert registered.fetchone() == (1,)


def test_annex_f8_metadata(link):
    """R94 ff.: exactly two extension rows; a reference of scope table names its table and nothing finer."""
    rows = link.execute(
        "SELECT table_name, column_name, scope FROM gpkg_extensions WHERE extension_name = 'gpkg_metadata'"
    ).fetchall()
    assert sorted(rows) == [
        ("gpkg_metadata", None, "read-write"),
        ("gpkg_metadata_reference", None, "read-write"),
    ]
    for scope, table, column, row, time in link.execute(
        "SELECT reference_scope, table_name, column_name, row_id_value, timestamp FROM"
        " gpkg_metadata_reference"
    ):
        assert scope in ("geopackage", "table")
        assert (table is None) == (scope == "geopackage")
        assert column is None and row is None
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", time)


def test_17_066_coverage(link):
    """Ancillary rows; float tiles keep scale 1, offset 0; missing cells are data_null, never NaN (R21)."""
    row = link.execute(
        "SELECT datatype, scale, offset, data_null, grid_cell_encoding, uom"
        " FROM gpkg_2d_gridded_coverage_ancillary WHERE tile_matrix_set_name = 'study_seen'"
    ).fetchone()
    assert row == ("float", 1.0, 0.0, -9999.0, "grid-value-is-center", "m")
    tiles = link.execute("SELECT count(*) FROM study_seen").fetchone()
    output = link.execute(
        "SELECT count(*), min(scale), max(scale), min(offset), max(offset)"
        " FROM gpkg_2d_gridded_tile_ancillary WHERE tpudt_name = 'study_seen'"
    ).fetchone()
    assert output == (*tiles, 1.0, 1.0, 0.0, 0.0)
    registered = {
        r[0]
        for r in link.execute(
            "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_2d_gridded_coverage'"
        )
    }
    assert registered == {
        "gpkg_2d_gridded_coverage_ancillary",
        "gpkg_2d_gridded_tile_ancillary",
        "study_seen",
    }
    assert link.execute(
        "SELECT organization, organization_coordsys_id FROM gpkg_spatial_ref_sys WHERE srs_id = 4979"
    ).fetchone() == ("EPSG", 4979)
    west, south, east, north = link.execute(
        "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'study_seen'"
    ).fetchone()
    assert (west, south, east, north) == (400_000, 299_990, 400_015, 300_000)
