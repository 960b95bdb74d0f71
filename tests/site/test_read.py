from __future__ import annotations

import hashlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from pyproj import CRS, Transformer
from shapely.geometry import LineString, MultiPolygon, Point, box

from gistools import InputError, SiteError, open_site
from gistools.site import _raster, _vector

EAST, NORTH = 400_000.0, 300_000.0
US_FOOT = 1200 / 3937


def sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def levels(site, *names):
    return [f for f in site.findings if f.level in names]


def test_a_sound_survey_opens_without_a_word(survey):
    before = sha(survey)
    site = open_site(survey)
    assert levels(site, "error", "warning") == []
    assert site.holes == [1]
    assert site.unit_m == 1.0
    assert site.crs.to_epsg() == 27700
    assert list(site.layer("pins")["pin"]) == ["front", "back"]
    assert list(site.layer("pins")["fid"]) == [1, 2]
    assert (
        site.layer("burns")
        .geometry.iloc[0]
        .equals(LineString([(EAST - 60, NORTH + 140), (EAST + 60, NORTH + 260)]))
    )
    assert site.surface().height(EAST, NORTH) == 10.0
    assert sha(survey) == before, "opening changed the file"


def test_a_site_is_told_in_a_line(survey):
    output = repr(open_site(survey))
    assert survey.name in output and "greens 1" in output and len(output) < 300 and "POLYGON" not in output


def test_layer_and_field_names_are_matched_without_case(kit, tmp_path):
    tables = kit.survey_tables()
    renamed = {
        k.upper(): v.rename(columns={c: c.upper() for c in v.columns if c != "geometry"})
        for k, v in tables.items()
    }
    site = open_site(kit.write_survey(tmp_path / "a.gpkg", renamed))
    assert site.layer("tees")["tee"].tolist() == ["back"]
    assert site.layer("burns")["width_m"].tolist() == [4.0]


def test_the_surveyors_own_field_names(kit, make_survey):
    tables = kit.survey_tables()
    path = make_survey(
        tees=tables["tees"].rename(columns={"hole": "HoleNo", "tee": "Markers"}),
        pins=tables["pins"].rename(columns={"hole": "HoleNo"}),
        fairway=tables["fairway"].rename(columns={"hole": "HoleNo"}),
        greens=tables["greens"].rename(columns={"hole": "Nr"}),
    )
    site = open_site(path, fields={"hole": "holeno", "tees": {"tee": "markers"}, "greens": {"hole": "Nr"}})
    assert levels(site, "error") == []
    assert site.layer("tees")["tee"].tolist() == ["back"]
    assert site.layer("greens")["hole"].tolist() == [1]
    wrong = open_site(path, fields={"hole": "holeno", "tees": {"tee": "nosuch"}, "greens": {"hole": "Nr"}})
    assert any(f.layer == "tees" and "'nosuch'" in f.message for f in levels(wrong, "error"))


@pytest.mark.parametrize("fields", [{"hol": "x"}, {"tees": {"teee": "x"}}, {"teas": {"tee": "x"}}])
def test_a_mapping_of_unknown_fields_is_refused(survey, fields):
    with pytest.raises(InputError, match="fields"):
        open_site(survey, fields=fields)


@pytest.mark.parametrize(
    ("epsg", "lon", "lat", "factor"),
    [(2225, -122.5, 40.5, US_FOOT), (2256, -110.0, 46.0, 0.3048), (27700, -1.9, 52.6, 1.0)],
    ids=["US survey foot", "international foot", "metre"],
)
def test_plan_units_agree_with_an_independent_projection(kit, tmp_path, epsg, lon, lat, factor):
    """The metric twin against PROJ itself: the same longitude and latitude give the same metres."""
    crs = CRS.from_epsg(epsg)
    east, north = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True).transform(lon, lat)
    path = kit.write_survey(tmp_path / "feet.gpkg", crs=crs, unit_m=factor, origin=(east, north))
    site = open_site(path)
    assert site.unit_m == pytest.approx(factor, abs=1e-15)
    assert site.crs_metric.axis_info[0].unit_conversion_factor == 1.0
    x, y = Transformer.from_crs(crs.geodetic_crs, site.crs_metric, always_xy=True).transform(lon, lat)
    tee = site.layer("tees").geometry.iloc[0].centroid
    assert (tee.x, tee.y) == pytest.approx((x, y), abs=1e-4)
    # 340 m of line drawn in feet is 340 m
    assert tee.distance(site.layer("greens").geometry.iloc[0].centroid) == pytest.approx(340.0, abs=1e-4)


@pytest.mark.parametrize(
    ("unit", "height_unit", "height_m"),
    [
        ("us-ft", None, 100 * US_FOOT),
        ("ft", None, 30.48),
        ("m", None, 100.0),
        ("", "us-ft", 100 * US_FOOT),
        ("", "ft", 30.48),
        ("", "m", 100.0),
        ("cubits", "m", 100.0),
    ],
)
def test_heights_have_a_unit_of_their_own(kit, tmp_path, unit, height_unit, height_m):
    """Plan in US survey feet; heights by the raster's unit or by what the user says."""
    path = kit.write_survey(
        tmp_path / "s.gpkg",
        crs=2225,
        unit_m=US_FOOT,
        origin=(6.4e6, 2.06e6),
        ground=kit.level_ground(100.0),
        unit=unit,
    )
    site = open_site(path, height_unit=height_unit)
    tee = site.layer("tees").geometry.iloc[0].centroid
    assert site.surface().cell == pytest.approx(1.0, abs=1e-9)
    assert site.surface().height(tee.x, tee.y) == pytest.approx(height_m, abs=1e-9)


@pytest.mark.parametrize("unit", ["", "cubits"])
def test_unknown_height_unit_on_a_feet_site_is_asked_for(kit, tmp_path, unit):
    path = kit.write_survey(
        tmp_path / "s.gpkg",
        crs=2225,
        unit_m=US_FOOT,
        origin=(6.4e6, 2.06e6),
        ground=kit.level_ground(),
        unit=unit,
    )
    with pytest.raises(SiteError, match="height_unit"):
        open_site(path)


def test_compound_crs_tells_the_height_unit(kit, tmp_path):
    """EPSG:2225+5703: plan in US survey feet, heights in metres."""
    crs = CRS.from_user_input("EPSG:2225+5703")
    path = kit.write_survey(
        tmp_path / "s.gpkg",
        crs=crs,
        unit_m=US_FOOT,
        origin=(6.4e6, 2.06e6),
        ground=kit.level_ground(100.0),
        unit="",
    )
    site = open_site(path)
    assert np.unique(site.surface().z).tolist() == [100.0]
    against = kit.write_survey(
        tmp_path / "t.gpkg",
        crs=crs,
        unit_m=US_FOOT,
        origin=(6.4e6, 2.06e6),
        ground=kit.level_ground(100.0),
        unit="us-ft",
    )
    with pytest.raises(SiteError, match="US survey feet by its unit"):
        open_site(against)
    assert np.unique(open_site(against, height_unit="m").surface().z).tolist() == [100.0]


def test_metre_heights_assumed_on_a_metre_site_are_told(kit, tmp_path):
    site = open_site(kit.write_survey(tmp_path / "s.gpkg", ground=kit.level_ground(), unit=""))
    assert [f.message for f in levels(site, "warning")] == [
        "the unit of the heights of terrain is not stated; metres were assumed"
    ]
    with pytest.raises(InputError, match="height_unit"):
        open_site(site.path, height_unit="fathom")


def test_terrain_from_a_geotiff(kit, make_survey, tmp_path):
    path = make_survey()
    ground = kit.level_ground()
    z = ground.z + np.arange(ground.z.shape[1]) * 0.1
    z[10, 10] = np.nan
    tif = tmp_path / "dtm.tif"
    _raster.write_geotiff(tif, z, ground.x_west + EAST, ground.y_north + NORTH, 1.0, 27700, "m")
    site = open_site(path, terrain=tif)
    assert site.terrain_path == tif.resolve()
    back = site.surface().z
    assert np.isnan(back[10, 10])
    assert np.nanmax(np.abs(back - z)) < 2e-6  # 32-bit floats near 34 m
    assert site.surface().height(EAST + 20.0, NORTH) == pytest.approx(10 + 0.1 * 119.5, abs=1e-5)
    with pytest.raises(SiteError, match="neither a file nor a raster table"):
        open_site(path, terrain=tmp_path / "none.tif")


def test_windows_of_terrain_agree_with_the_whole(survey):
    site = open_site(survey)
    whole = site.surface()
    part = site.surface((EAST - 3.5, NORTH + 9.2, EAST + 5.0, NORTH + 20.0))
    assert part.bounds == (EAST - 4, NORTH + 9, EAST + 5, NORTH + 20)
    assert part.z.shape == (11, 9)
    assert whole.bounds == (EAST - 100, NORTH - 60, EAST + 140, NORTH + 420)
    clipped = site.surface((EAST - 500, NORTH - 500, EAST - 90, NORTH + 0))
    assert clipped.bounds == (EAST - 100, NORTH - 60, EAST - 90, NORTH)
    with pytest.raises(SiteError, match="does not cover"):
        site.surface((EAST + 200, NORTH, EAST + 300, NORTH + 10))


def test_a_raster_larger_than_memory_is_read_by_windows(make_survey, tmp_path):
    """160 GB if read whole; sparse on disk, with heights only where the hole is."""
    size, cell = 200_000, 0.5
    west, north = EAST - 20_000, NORTH + 60_000
    tif = tmp_path / "huge.tif"
    profile = {
        "driver": "GTiff",
        "width": size,
        "height": size,
        "count": 1,
        "dtype": "float32",
        "nodata": -9999,
    }
    with rasterio.open(
        tif,
        "w",
        **profile,
        crs="EPSG:27700",
        transform=rasterio.Affine(cell, 0, west, 0, -cell, north),
        tiled=True,
        blockxsize=1024,
        blockysize=1024,
        SPARSE_OK=True,
        BIGTIFF="YES",
        compress="deflate",
    ) as raster:
        raster.units = ("m",)
        rows, cols = 960, 480
        row, col = round((north - (NORTH + 420)) / cell), round((EAST - 100 - west) / cell)
        slope = 10 + 0.01 * (NORTH + 420 - (np.arange(rows) + 0.5) * cell - NORTH)
        window = rasterio.windows.Window(col, row, cols, rows)
        raster.write(np.repeat(slope[:, None], cols, axis=1).astype("float32"), 1, window=window)
    assert tif.stat().st_size < 20e6
    site = open_site(make_survey(), terrain=tif)
    assert levels(site, "error", "warning") == []
    assert site.surface(site.hole_bounds(1)).height(EAST, NORTH + 200) == pytest.approx(12.0, abs=1e-5)
    with pytest.raises(SiteError, match="million cells"):
        site.surface()


def geotiff(path, transform, crs="EPSG:27700", shape=(480, 240), **more):
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=shape[0],
        width=shape[1],
        count=1,
        dtype="float32",
        crs=crs,
        transform=transform,
        **more,
    ) as raster:
        raster.write(np.full(shape, 10, "float32"), 1)
        raster.units = ("m",)
    return path


@pytest.mark.parametrize(
    ("transform", "crs", "says"),
    [
        (rasterio.Affine(1, 0.1, EAST - 100, 0.1, -1, NORTH + 420), "EPSG:27700", "turned"),
        (rasterio.Affine(1, 0, EAST - 100, 0, 1, NORTH - 60), "EPSG:27700", "north-up"),
        (rasterio.Affine(1, 0, EAST - 100, 0, -2, NORTH + 420), "EPSG:27700", "square cells"),
        (rasterio.Affine(1, 0, EAST - 100, 0, -1, NORTH + 420), "EPSG:32630", "warp the terrain to the CRS"),
        (rasterio.Affine(1, 0, EAST - 100, 0, -1, NORTH + 420), None, "has no CRS"),
    ],
    ids=["turned", "south-up", "oblong", "other CRS", "no CRS"],
)
def test_terrain_that_is_no_plain_grid_is_refused(make_survey, tmp_path, transform, crs, says):
    site = open_site(make_survey(), terrain=geotiff(tmp_path / "t.tif", transform, crs))
    (error,) = levels(site, "error")
    assert error.layer == "terrain"
    assert says in error.message
    with pytest.raises(SiteError, match="needs a terrain raster"):
        site.surface()


def test_undeclared_nodata_is_no_ground(make_survey, tmp_path):
    tif = tmp_path / "t.tif"
    geotiff(tif, rasterio.Affine(1, 0, EAST - 100, 0, -1, NORTH + 420))
    with rasterio.open(tif, "r+") as raster:
        z = raster.read(1)
        z[0, 0], z[0, 1], z[0, 2] = -9999, -3.4e38, np.nan
        raster.write(z, 1)
    z = open_site(make_survey(), terrain=tif).surface().z
    assert np.isnan(z[0, :3]).all()
    assert np.isfinite(z[0, 3:]).all()


def test_proposed_terrain_beside_the_existing(kit, survey):
    _raster.write_coverage(
        survey, "terrain_proposed", kit.level_ground(11.0).z, EAST - 100, NORTH + 420, 1.0, 27700
    )
    site = open_site(survey)
    assert site.surface().height(EAST, NORTH) == 10.0
    assert site.existing is None
    assert any("proposed" in f.message for f in levels(site, "note"))
    proposed = open_site(survey, terrain="terrain_proposed")
    assert proposed.surface().height(EAST, NORTH) == 11.0
    assert proposed.existing.surface().height(EAST, NORTH) == 10.0


def test_layers_of_others_and_results_are_left_alone(survey):
    _vector.write_layer(survey, "study_zones", gpd.GeoDataFrame({"a": [1]}, geometry=[Point(1, 1)], crs=4326))
    _vector.write_layer(survey, "my_notes", pd.DataFrame({"x": [1]}))
    site = open_site(survey)
    assert levels(site, "error", "warning") == []
    assert "study_zones" not in site.tables


def test_tables_of_players_and_winds(survey):
    _vector.write_layer(
        survey, "winds", pd.DataFrame({"Wind": ["sea"], "speed_ms": ["6.5"], "FROM_DEG": [250]})
    )
    winds = open_site(survey).layer("winds")
    assert winds.loc[0, ["wind", "speed_ms", "from_deg"]].tolist() == ["sea", 6.5, 250.0]


def test_features_with_heights_or_parts_are_said(kit, make_survey):
    tables = kit.survey_tables()
    parts = MultiPolygon([box(30, 150, 40, 160), box(50, 150, 60, 165)])
    path = make_survey(
        pins=gpd.GeoDataFrame({"hole": [1], "pin": ["deep"]}, geometry=[Point(0, 340, 12.5)]),
        bunkers=gpd.GeoDataFrame(
            {"hole": [1, 1], "name": ["Twins", "One"]},
            geometry=[parts, MultiPolygon([tables["bunkers"].geometry.iloc[0]])],
        ),
    )
    site = open_site(path)
    pin = site.layer("pins").geometry.iloc[0]
    assert not pin.has_z
    bunkers = site.layer("bunkers")
    assert bunkers.geom_type.tolist() == ["Polygon"] * 3
    assert bunkers["fid"].tolist() == [1, 1, 2]
    assert bunkers["name"].tolist() == ["Twins", "Twins", "One"]
    assert sorted(round(a) for a in bunkers.area) == [80, 100, 150]
    output = [f"{f.layer}: {f.message}" for f in levels(site, "warning", "note")]
    assert any(t.startswith("pins: heights or measures on feature 1") for t in output)
    assert any(t.startswith("bunkers: feature 1 in several parts") for t in output)
    assert any(t.startswith("bunkers: feature 2 stored as multi-part") for t in output)


def test_missing_values_are_filled_and_told(make_survey):
    path = make_survey(
        burns=gpd.GeoDataFrame({"name": ["Thin"]}, geometry=[LineString([(-60, 200), (60, 200)])]),
        trees=gpd.GeoDataFrame({"height_m": [12.0, None]}, geometry=[Point(40, 50), Point(41, 90)]),
    )
    site = open_site(path)
    assert site.layer("burns")["width_m"].tolist() == [2.0]
    assert np.isnan(site.layer("burns")["hole"].iloc[0])
    assert site.layer("trees")["height_m"].tolist() == [12.0, 8.0]
    assert site.layer("trees")["see_through"].tolist() == [False, False]
    assert site.layer("trees")["name"].tolist() == [None, None]
    warned = {(f.layer, f.message.split("`")[1]) for f in levels(site, "warning") if "`" in f.message}
    assert warned >= {("burns", "width_m"), ("trees", "height_m"), ("trees", "crown_m")}
    assert any("features 2" in f.message for f in levels(site, "warning") if f.layer == "trees")


def test_damaged_files_are_refused_in_words(tmp_path, survey):
    with pytest.raises(SiteError, match="does not exist"):
        open_site(tmp_path / "none.gpkg")
    with pytest.raises(SiteError, match="not a file"):
        open_site(tmp_path)
    for name, content in (("text.gpkg", b"hello, not a database"), ("empty.gpkg", b"")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(SiteError, match="not a GeoPackage"):
            open_site(tmp_path / name)
    simple = tmp_path / "plain.gpkg"
    with sqlite3.connect(simple) as link:
        link.execute("CREATE TABLE t (x)")
    link.close()
    with pytest.raises(SiteError, match="not a GeoPackage"):
        open_site(simple)
    whole = survey.read_bytes()
    for name, damaged in (
        ("cut.gpkg", whole[: len(whole) // 2]),
        ("holed.gpkg", whole[:4096] + b"\xff" * 8192 + whole[12288:]),
    ):
        (tmp_path / name).write_bytes(damaged)
        with pytest.raises(SiteError, match=r"damaged|cannot be"):
            open_site(tmp_path / name)


@pytest.mark.parametrize(
    ("crs", "says"),
    [(4326, "degrees"), (4978, "degrees"), (2046, "west"), (5513, "axes")],
    ids=["geographic", "geocentric", "Lo west-south", "Krovak south-west"],
)
def test_a_crs_that_is_no_plan_is_refused(kit, tmp_path, crs, says):
    """Axes pointing west or south: EPSG:2046 and EPSG:5513."""
    path = kit.write_survey(tmp_path / "s.gpkg", crs=crs, origin=(20.0, -30.0))
    with pytest.raises(SiteError, match=says):
        open_site(path)


def test_no_crs_is_refused(kit, tmp_path):
    path = tmp_path / "s.gpkg"
    for name, table in kit.survey_tables().items():
        _vector.write_layer(path, name, table)
    with pytest.raises(SiteError, match="no CRS"):
        open_site(path)


def test_authority_order_north_east_is_no_matter(kit, tmp_path):
    """EPSG:2193 lists north first; files store east first all the same."""
    path = kit.write_survey(
        tmp_path / "nz.gpkg", crs=2193, origin=(1_570_000.0, 5_180_000.0), ground=kit.level_ground()
    )
    site = open_site(path)
    assert levels(site, "error", "warning") == []
    assert site.layer("tees").geometry.iloc[0].centroid.x == pytest.approx(1_570_000.0)


_FOREIGN = """
import os, sqlite3, sys
import geopandas, numpy
from shapely.geometry import Point
from gistools import open_site
from gistools.site import _raster, _vector
_raster.rasterio.crs.CRS.from_epsg(27700)  # somebody else in the process uses the library, setting and all
_raster.rasterio.open(sys.argv[4]).close()
site = open_site(sys.argv[1])
print(site.crs.to_epsg(), site.surface().z.max(), len(site.findings))
print(os.environ["PROJ_LIB"], os.environ["PROJ_DATA"])
_vector.write_layer(sys.argv[2], "a", geopandas.GeoDataFrame({"x": [1]}, geometry=[Point(1, 2)], crs=27700))
_raster.write_coverage(sys.argv[2], "b", numpy.ones((3, 3)), 0, 9, 3, 27700)
_raster.write_geotiff(sys.argv[3], numpy.ones((3, 3)), 0, 9, 3, 27700)
print(_vector.read_layer(sys.argv[2], "a").crs.to_epsg(), _raster.describe(sys.argv[3]).crs.to_epsg())
for row in sqlite3.connect(sys.argv[2]).execute(
    "SELECT s.organization, s.organization_coordsys_id"
    " FROM gpkg_spatial_ref_sys s JOIN gpkg_contents c USING (srs_id)"
):
    print(*row)
"""


@pytest.mark.parametrize("folder", ["/usr/share/proj", "nowhere"], ids=["another one", "none there"])
def test_a_foreign_proj_database_does_no_harm(survey, tmp_path, folder):
    """What a desktop GIS does to its Python: PROJ_LIB and PROJ_DATA point elsewhere."""
    foreign = {"PROJ_LIB": str(tmp_path / folder), "PROJ_DATA": str(tmp_path / folder)}
    tif = str(tmp_path / "c.tif")
    _raster.write_geotiff(tif, np.ones((3, 3)), 0, 9, 3, 27700)
    run = subprocess.run(
        [sys.executable, "-c", _FOREIGN, str(survey), str(tmp_path / "a.gpkg"), str(tmp_path / "b.tif"), tif],
        env={**os.environ, **foreign},
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    lines = run.stdout.splitlines()
    assert lines[0] == "27700 10.0 0"
    assert lines[1].split() == list(foreign.values())
    assert lines[2:] == ["27700 27700", "EPSG 27700", "EPSG 27700"]


_KILLED_WHILE_COMMITTING = """
import os, signal, sqlite3, sys
link = sqlite3.connect(sys.argv[1], isolation_level=None)
link.execute("PRAGMA cache_size=2")
link.execute("PRAGMA synchronous=FULL")
link.execute("BEGIN IMMEDIATE")
link.execute("CREATE TABLE half (x)")
link.executemany("INSERT INTO half VALUES (?)", (("x" * 3000,) for _ in range(200)))
link.execute("UPDATE gpkg_contents SET description = 'half'")
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_unfinished_transaction_is_rolled_back(survey):
    """A hot journal stops read-only openers; opening a site heals it first."""
    subprocess.run([sys.executable, "-c", _KILLED_WHILE_COMMITTING, str(survey)], check=False)
    journal = survey.with_name(survey.name + "-journal")
    assert journal.exists() and journal.stat().st_size > 0
    with sqlite3.connect(f"file:{survey}?mode=ro", uri=True) as link, pytest.raises(sqlite3.OperationalError):
        link.execute("SELECT count(*) FROM sqlite_master").fetchone()
    link.close()
    site = open_site(survey)
    assert levels(site, "error", "warning") == []
    assert not journal.exists()


def test_paths_with_anything_in_them(survey, tmp_path):
    for name in ("a b.gpkg", "50%#1?.gpkg", "é'x.gpkg", "a:b.gpkg"):
        if os.name == "nt" and set(name) & set('?:"'):
            continue
        odd = tmp_path / name
        shutil.copy(survey, odd)
        assert open_site(odd).surface().height(EAST, NORTH) == 10.0


def test_a_locked_file_says_so(survey, monkeypatch):
    monkeypatch.setattr("gistools.site._file.WAIT_S", 0.1)
    with sqlite3.connect(survey, isolation_level=None) as link:
        link.execute("BEGIN EXCLUSIVE")
        with pytest.raises(SiteError, match="another program"):
            open_site(survey)
        link.execute("ROLLBACK")
    link.close()
    assert open_site(survey).holes == [1]


def test_small_terrain_is_read_anew_when_the_file_changes(tmp_path, monkeypatch):
    from gistools.site import _raster, terrain

    path = tmp_path / "t.tif"
    first = np.arange(12.0).reshape(3, 4)
    _raster.write_geotiff(path, first, 0.0, 30.0, 10.0, 27700)
    reads = []
    real = _raster.read_window
    monkeypatch.setattr(_raster, "read_window", lambda *a: (reads.append(a), real(*a))[1])
    ground, _ = terrain.open_terrain(path, "", CRS.from_epsg(27700), 1.0)
    part = ground.surface((10.0, 0.0, 40.0, 20.0))
    np.testing.assert_array_equal(part.z, first[1:, 1:])
    assert part.z.flags.c_contiguous and part.z.flags.writeable
    part.z[:] = -1.0  # a caller's own array
    np.testing.assert_array_equal(ground.surface().z, first)
    assert len(reads) == 1
    path.unlink()
    _raster.write_geotiff(path, first + 5.0, 0.0, 30.0, 10.0, 27700)
    later = path.stat().st_mtime_ns + 10**9  # clocks of file systems can be coarse
    os.utime(path, ns=(later, later))
    np.testing.assert_array_equal(ground.surface().z, first + 5.0)
    assert len(reads) == 2
    monkeypatch.setattr(terrain, "HELD_CELLS", 0)
    np.testing.assert_array_equal(ground.surface((10.0, 0.0, 40.0, 20.0)).z, first[1:, 1:] + 5.0)
    assert len(reads) == 3
