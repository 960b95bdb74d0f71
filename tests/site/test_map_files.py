"""Maps as GeoTIFF files, read back by rasterio.

Values, place, CRS, nodata, unit, meaning, record; all or none.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

import gistools as gt
from gistools.base.errors import InputError, WriteError
from gistools.site.model import Site
from gistools.site.results import Map

rasterio = pytest.importorskip("rasterio")


def a_map(name: str = "flag_view_h1_front") -> Map:
    values = np.arange(12, dtype=np.float32).reshape(3, 4)
    values[1, 2] = np.nan
    attrs = {"layer": name, "step": "flag_views", "options": {"hole": 1, "stick_m": 2.13}}
    return Map(name, values, 1200.0, 2400.0, 0.5, "pct", "share of the flagstick seen", attrs=attrs)


@pytest.fixture
def site(straight_site: Site) -> Site:
    return straight_site


def test_flag_view_maps_of_a_hole(site: Site, tmp_path) -> None:
    result = gt.flag_views(site, hole=1, cell_m=2.0)
    files = site.write_maps(result, to=tmp_path / "maps")
    assert sorted(f.name for f in files) == ["study_flag_view_h1_back.tif", "study_flag_view_h1_front.tif"]
    for pin in ("front", "back"):
        m = result[f"flag_view_h1_{pin}"]
        with rasterio.open(tmp_path / "maps" / f"study_flag_view_h1_{pin}.tif") as made:
            output = made.read(1, masked=True)
            assert made.crs.to_epsg() == 27700 and made.dtypes == ("float32",)
            assert made.bounds.left == m.x_west and made.bounds.top == m.y_north and made.res == (2.0, 2.0)
        np.testing.assert_array_equal(output.filled(np.nan), m.values)


def test_tags_unit_and_nodata(site: Site, tmp_path) -> None:
    (path,) = site.write_maps(a_map(), to=tmp_path / "one.tif")
    with rasterio.open(path) as made:
        assert made.units == ("pct",) and made.descriptions == ("share of the flagstick seen",)
        assert made.nodata == -9999.0 and made.read(1)[1, 2] == -9999.0
        tags = made.tags()
    assert tags["STEP"] == "flag_views" and json.loads(tags["OPTIONS"]) == {"hole": 1, "stick_m": 2.13}


def test_on_a_site_in_feet_the_file_is_in_feet(site: Site, tmp_path) -> None:
    feet = Site.from_tables(dict(site.tables), 2225, site.surface())
    (path,) = feet.write_maps(a_map(), to=tmp_path / "one.tif")
    with rasterio.open(path) as made:
        assert made.crs.to_epsg() == 2225
        assert made.bounds.left == pytest.approx(1200 * 3937 / 1200)
        assert made.res[0] == pytest.approx(0.5 * 3937 / 1200)


def test_nothing_is_replaced_unasked_and_all_or_none(site: Site, tmp_path) -> None:
    two = [a_map("a"), a_map("b")]
    taken = tmp_path / "study_b.tif"
    taken.write_bytes(b"mine")
    with pytest.raises(WriteError, match=r"study_b\.tif exists"):
        site.write_maps(two, to=tmp_path)
    assert taken.read_bytes() == b"mine" and len(list(tmp_path.iterdir())) == 1
    assert len(site.write_maps(two, to=tmp_path, replace=True)) == 2
    bad = a_map("c")
    bad.values[0, 0] = np.inf
    with pytest.raises(WriteError, match="infinite"):
        site.write_maps([a_map("d"), bad], to=tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study_a.tif", "study_b.tif"]


def test_what_cannot_be_written_is_told(site: Site, tmp_path) -> None:
    with pytest.raises(InputError, match="can hold one map and there are 2"):
        site.write_maps([a_map("a"), a_map("b")], to=tmp_path / "x.tif")
    with pytest.raises(InputError, match="no map among"):
        site.write_maps(gt.lengths(site, hole=1), to=tmp_path)
    file = tmp_path / "file"
    file.write_text("x")
    with pytest.raises(WriteError, match="cannot be written"):
        site.write_maps(a_map(), to=file / "x.tif")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_a_name_cannot_leave_the_folder(site: Site, tmp_path) -> None:
    (path,) = site.write_maps(a_map("../../away"), to=tmp_path / "in")
    assert path.parent == tmp_path / "in" and path.name == "study_away.tif"
