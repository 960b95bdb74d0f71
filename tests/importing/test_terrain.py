"""Terrain from what there is: each kind of source gives the ground it was made from, within a limit."""

from __future__ import annotations

import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from pyproj import CRS, Transformer
from shapely import LineString, Point, contains_xy

import gistools as gt
from gistools.base.errors import InputError, SiteError
from gistools.site import _raster, _vector
from gistools.site.importing.landxml_ground import read_landxml
from gistools.site.importing.level_files import text_levels

UTM = 32630
EAST, NORTH = 448_000.0, 6_240_000.0
#: the ground of all these: a tilted plane with a long wave [m]
SCHEMAS = os.environ.get("GISTOOLS_FOREIGN_LANDXML", "")


def ground(x, y):
    return 20 + 0.02 * (x - EAST) + 0.01 * (y - NORTH) + 1.5 * np.sin((x - EAST) / 40)


@pytest.fixture
def plan(tmp_path, drawn):
    """A GeoPackage with the plan of a hole."""
    path = tmp_path / "plan.gpkg"
    for name, part in (("tees", "back"), ("fairway", "fairway"), ("greens", "green"), ("bunkers", "bunker")):
        table = gpd.GeoDataFrame({"hole": [1], "tee": ["white"]}, geometry=[drawn(1)[part]], crs=UTM)
        _vector.write_layer(path, name, table)
    return path


def mesh(step, margin=130):
    x, y = np.meshgrid(
        np.arange(-margin, margin + 1, step) + EAST, np.arange(-margin, 340 + margin, step) + NORTH
    )
    return x.ravel(), y.ravel()


def error_of(site):
    """Greatest and root mean square difference from the ground on and round the hole [m]."""
    x, y = (
        v.ravel() for v in np.meshgrid(np.linspace(-60, 60, 61) + EAST, np.linspace(-40, 380, 211) + NORTH)
    )
    d = np.asarray(site.surface().height(x, y)) - ground(x, y)
    assert np.isfinite(d).all()
    return float(np.abs(d).max()), float(np.sqrt((d**2).mean()))


def said(done, pattern):
    return [f.message for f in done.findings if pattern in f.message]


def test_text_of_levels(plan, tmp_path):
    x, y = mesh(3.0)
    path = tmp_path / "levels.csv"
    rows = (
        f"{k},{b:.3f},{a:.3f},{c:.3f}" for k, (a, b, c) in enumerate(zip(x, y, ground(x, y), strict=True))
    )
    path.write_text("\n".join(["point,northing,easting,level", *rows]))
    done = gt.import_site(plan, path, to=tmp_path / "s.gpkg")
    most, rms = error_of(gt.open_site(done.path))
    assert most < 0.05 and rms < 0.01
    assert said(done, "levels left out are met") and said(done, "vertical datum")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no levels in it"),
        ("1,2,3,4\n5,6,7,8", "its columns are not told"),
        ("x y z\n1 2 three", r"line 2: '1 2 three' is not easting"),
        ("1 2 3\n4 5", r"line 2: '4 5' is not"),
    ],
)
def test_text_that_is_no_levels(tmp_path, text, message):
    path = tmp_path / "l.xyz"
    path.write_text(text)
    with pytest.raises(SiteError, match=message):
        text_levels(path)


def test_two_tiles_in_another_crs_and_in_feet(plan, tmp_path):
    """Two GeoTIFFs side by side in the neighbouring UTM zone, heights in feet as they say."""
    paths = []
    to_utm = Transformer.from_crs(32631, UTM, always_xy=True)
    x0, y0 = Transformer.from_crs(UTM, 32631, always_xy=True).transform(EAST, NORTH)
    for k, west in enumerate((x0 - 300, x0)):
        x, y = np.meshgrid(np.arange(300) + west + 0.5, y0 + 700 - np.arange(900) - 0.5)
        z = ground(*to_utm.transform(x, y))
        paths.append(tmp_path / f"t{k}.tif")
        _raster.write_geotiff(paths[k], z / 0.3048, west, y0 + 700, 1.0, 32631, "ft")
    done = gt.import_site(plan, *paths, to=tmp_path / "s.gpkg")
    site = gt.open_site(done.path)
    most, rms = error_of(site)
    assert most < 0.1 and rms < 0.01
    assert said(done, "international feet") and said(done, "says nothing of its own error")


def test_laser_points_of_the_sample_site(tmp_path):
    pytest.importorskip("laspy")
    from foreign_data import write_laz, write_osm

    from gistools.site.sample import sample_site

    sample = sample_site()
    laz = write_laz(sample, tmp_path / "m.laz")
    done = gt.import_site(write_osm(sample, tmp_path / "m.osm"), laz, to=tmp_path / "m.gpkg", crs=27700)
    site = gt.open_site(done.path)
    green = site.layer("greens", 1).geometry.iloc[0]
    draw = np.random.default_rng(1)
    x, y = (draw.uniform(a, b, 4000) for a, b in zip(green.bounds[:2], green.bounds[2:], strict=True))
    on = contains_xy(green, x, y)  # beside it are the faces of bunkers
    off = np.asarray(site.surface().height(x, y)) - np.asarray(sample.surface().height(x, y))
    assert np.sqrt(np.nanmean(off[on] ** 2)) < 0.04, "noise of 0.03 m and cells of 1 m"
    assert said(done, "levels left out are met") and not said(done, "no points of class ground")


def test_contours_and_spot_levels_drawn_in_layers(plan, tmp_path):
    """Contours every half metre of the plane, and spot levels; heights in a field and in the corners."""
    lines, levels = [], []
    for level in np.arange(15.0, 30.0, 0.5):
        y = np.linspace(-130, 470, 200)
        x = (level - 20 - 0.01 * y) / 0.02
        inside = np.abs(x) < 130
        if inside.sum() > 1:
            lines.append(LineString(np.column_stack([x[inside] + EAST, y[inside] + NORTH])))
            levels.append(level)
    _vector.write_layer(plan, "Contours_2m", gpd.GeoDataFrame({"ELEV": levels}, geometry=lines, crs=UTM))
    px, py = mesh(25.0)
    spots = [Point(a, b, 20 + 0.02 * (a - EAST) + 0.01 * (b - NORTH)) for a, b in zip(px, py, strict=True)]
    _vector.write_layer(
        plan, "Spot Levels", gpd.GeoDataFrame({"n": range(len(spots))}, geometry=spots, crs=UTM)
    )
    done = gt.import_site(plan, to=tmp_path / "s.gpkg")
    site = gt.open_site(done.path)
    x, y = np.linspace(-50, 50, 21) + EAST, np.full(21, NORTH + 200.0)
    expected = 20 + 0.02 * (x - EAST) + 0.01 * (y - NORTH)
    assert np.abs(np.asarray(site.surface().height(x, y)) - expected).max() < 1e-3
    text = done.mapping_path.read_text()
    assert 'layer = "contours"' in text and 'level_m = "ELEV"' in text and 'layer = "spot_levels"' in text


def test_gaps_stay_open_and_are_told(plan, tmp_path):
    x, y = mesh(4.0)
    keep = np.hypot(x - EAST, y - (NORTH + 340)) > 40
    path = tmp_path / "l.xyz"
    np.savetxt(path, np.column_stack([x, y, ground(x, y)])[keep], fmt="%.3f")
    done = gt.import_site(plan, path, to=tmp_path / "s.gpkg", gap_m=20.0)
    (message,) = [m for m in said(done, "the terrain has a gap of") if "greens" in m]
    area = float(message.split("gap of ")[1].split(" ")[0])
    assert area == pytest.approx(np.pi * 12**2, rel=0.05), "all of the green"
    wide = gt.import_site(plan, path, to=tmp_path / "t.gpkg", gap_m=100.0)
    assert not said(wide, "the terrain has a gap of")


def test_landxml_triangles(plan, tmp_path):
    """Faces on a mesh of 5 m; one is marked invisible and gives no ground."""
    x, y = (
        v.ravel() for v in np.meshgrid(np.arange(-130, 131, 5.0) + EAST, np.arange(-130, 471, 5.0) + NORTH)
    )
    cols = 53
    points = "".join(
        f'<P id="{k + 1}">{b:.3f} {a:.3f} {c:.4f}</P>'
        for k, (a, b, c) in enumerate(zip(x, y, ground(x, y), strict=True))
    )
    faces = []
    for row in range(len(x) // cols - 1):
        for col in range(cols - 1):
            k = row * cols + col + 1
            hidden = ' i="1"' if (row, col) == (60, 26) else ""
            faces += [
                f"<F{hidden}>{k} {k + 1} {k + cols}</F>",
                f"<F{hidden}>{k + 1} {k + cols + 1} {k + cols}</F>",
            ]
    path = tmp_path / "tin.xml"
    path.write_text(
        '<?xml version="1.0"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">'
        '<Units><Metric linearUnit="meter"/></Units><CoordinateSystem epsgCode="32630"/>'
        f'<Surfaces><Surface name="EG"><Definition surfType="TIN"><Pnts>{points}</Pnts>'
        f"<Faces>{''.join(faces)}</Faces></Definition></Surface></Surfaces></LandXML>"
    )
    done = gt.import_site(plan, path, to=tmp_path / "s.gpkg")
    site = gt.open_site(done.path)
    x, y = np.linspace(-50, 50, 101) + EAST, np.full(101, NORTH + 120.0)
    off = np.asarray(site.surface().height(x, y)) - ground(x, y)
    assert np.abs(off).max() < 5.0**2 / 8 * 1.5 / 40**2 * 1.5 + 0.003, "the chord of the wave"
    assert np.isnan(site.surface().height(EAST + 2.5, NORTH - 130 + 60 * 5 + 2.5))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("<LandXML>", "no well-formed XML"),
        ("<gpx></gpx>", "no LandXML: its first element is gpx"),
        ("<LandXML></LandXML>", "no surface with triangles"),
        ('<!DOCTYPE x [<!ENTITY a "b">]><LandXML>&a;</LandXML>', "declares entities"),
        ('<LandXML><Units><Metric linearUnit="furlong"/></Units></LandXML>', "unit of length is 'furlong'"),
        ("<LandXML><Surface><Pnts><P id='1'>1 2 x</P></Pnts></Surface></LandXML>", "cannot be read"),
        (
            "<LandXML><Surface><PntList3D>1 2 3 nan 5 6</PntList3D></Surface></LandXML>",
            "cannot be read.*not finite",
        ),
    ],
)
def test_xml_that_is_no_ground(tmp_path, text, message):
    path = tmp_path / "x.xml"
    path.write_text(text)
    with pytest.raises(SiteError, match=message):
        read_landxml(path)


@pytest.mark.skipif(not SCHEMAS, reason="GISTOOLS_FOREIGN_LANDXML names no folder of foreign LandXML files")
def test_foreign_landxml_files():
    """Surfaces that other programs wrote: the CRS they state, and as many faces as points allow."""
    read = [read_landxml(path) for path in sorted(Path(SCHEMAS).glob("*.mm.xml"))]
    assert len(read) >= 2
    for surface in read:
        assert surface.crs == CRS.from_epsg(3875)
        assert len(surface.faces) > 500 and len(surface.corners) > 250
        assert surface.faces.min() >= 0 and surface.faces.max() < len(surface.corners)
        assert surface.corners[:, 0].min() > 2.1e7 and 6.7e6 < surface.corners[:, 1].mean() < 6.9e6


def test_what_is_no_terrain_says_so(plan, tmp_path):
    vrt = tmp_path / "far.tif"
    vrt.write_text('<VRTDataset rasterXSize="2" rasterYSize="2"><SRS>EPSG:32630</SRS></VRTDataset>')
    with pytest.raises(SiteError, match="virtual rasters are not read"):
        gt.import_site(plan, vrt, to=tmp_path / "s.gpkg")
    far = tmp_path / "far.xyz"
    far.write_text("1 2 3\n100 2 3\n1 200 3\n")
    with pytest.raises(SiteError, match="none of the terrain sources covers the site"):
        gt.import_site(plan, far, to=tmp_path / "s.gpkg")
    with pytest.raises(InputError, match="a cell is"):
        gt.import_site(plan, far, to=tmp_path / "s.gpkg", cell_m=0.0)
    odd = tmp_path / "odd.laz"
    odd.write_bytes(b"LASF and nothing else")
    with pytest.raises(SiteError, match="laser points cannot be read"):
        gt.import_site(plan, odd, to=tmp_path / "s.gpkg")
    assert not (tmp_path / "s.gpkg").exists()


def test_missing_readers_are_told(plan, tmp_path, monkeypatch):
    import sys

    path = tmp_path / "m.laz"
    path.write_bytes(b"LASF")
    monkeypatch.setitem(sys.modules, "laspy", None)
    with pytest.raises(InputError, match=r"pip install 'golf-gistools\[import\]'"):
        gt.import_site(plan, path, to=tmp_path / "s.gpkg")
    osm = tmp_path / "m.osm"
    osm.write_text("<osm/>")
    monkeypatch.setitem(sys.modules, "osmium", None)
    with pytest.raises(InputError, match=r"pip install 'golf-gistools\[import\]'"):
        gt.import_site(osm, to=tmp_path / "s.gpkg")
