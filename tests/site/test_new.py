"""A new site: empty layers that other libraries read and write, and that become a site once drawn in."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from xml.etree import ElementTree

import fiona
import numpy as np
import pytest

import gistools as gt
from gistools.base.errors import InputError
from gistools.site import _raster
from gistools.site.sample import sample_site
from gistools.site.schema import SURVEY_LAYERS, TABLES


def test_every_layer_and_field_is_there_with_its_words(tmp_path: Path) -> None:
    path = gt.new_site(tmp_path / "new.gpkg", "EPSG:27700")
    assert set(fiona.listlayers(path)) == {*SURVEY_LAYERS, *TABLES, "layer_styles"}
    for spec in SURVEY_LAYERS.values():
        with fiona.open(path, layer=spec.name) as layer:
            assert set(layer.schema["properties"]) == {f.name for f in spec.all_fields}
            assert layer.crs.to_epsg() == 27700 and len(layer) == 0
    with sqlite3.connect(path) as link:
        words = link.execute(
            "SELECT value FROM gpkg_data_columns JOIN gpkg_data_column_constraints USING (constraint_name)"
            " WHERE table_name = 'greens' AND column_name = 'firmness' ORDER BY value"
        ).fetchall()
    link.close()
    assert [w for (w,) in words] == ["firm", "normal", "soft"]


def test_every_layer_opens_drawn(tmp_path: Path) -> None:
    """Each survey layer has a style of the desktop and an SLD, for its column and its usual geometry."""
    path = gt.new_site(tmp_path / "new.gpkg", "EPSG:27700")
    with sqlite3.connect(path) as link:
        styles = {
            name: rest
            for name, *rest in link.execute(
                "SELECT f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault FROM layer_styles"
            )
        }
        columns = dict(link.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    link.close()
    assert set(styles) == set(SURVEY_LAYERS)
    symbol = {"Point": "marker", "LineString": "line", "Polygon": "fill"}
    for name, (column, document, sld, default) in styles.items():
        assert column == columns[name] and default == 1
        qml = ElementTree.fromstring(document)
        usual = SURVEY_LAYERS[name].geometry[0]
        assert [s.get("type") for s in qml.iter("symbol")] == [symbol[usual]], name
        with fiona.open(path, layer=name) as layer:  # a desktop draws into a layer of one type
            assert layer.schema["geometry"].removeprefix("3D ") == usual
        assert f"{usual.removesuffix('String')}Symbolizer" in sld
        label = qml.find(".//text-style")
        fields = {f.name for f in SURVEY_LAYERS[name].all_fields}
        assert label is None or label.get("fieldName") in fields


def test_what_is_drawn_into_it_is_a_site(tmp_path: Path) -> None:
    """The sample's features are put in by another library: the carries are those of the sample."""
    path = gt.new_site(tmp_path / "drawn.gpkg", "EPSG:27700")
    sample = sample_site()
    for name in ("tees", "fairway", "greens", "burns", "bunkers"):
        table = sample.layer(name)
        with fiona.open(path, "a", layer=name) as layer:
            fields = layer.schema["properties"]
            for row in table.to_dict("records"):
                known = {
                    k: None if row.get(k) is None or row.get(k) != row.get(k) else row.get(k) for k in fields
                }
                layer.write(
                    {"type": "Feature", "geometry": row["geometry"].__geo_interface__, "properties": known}
                )
    site = gt.open_site(path)
    assert site.holes == [1, 2, 3]
    ours = gt.lengths(site).set_index(["hole", "tee"])["grid_m"]
    theirs = gt.lengths(sample).set_index(["hole", "tee"])["grid_m"]
    assert np.allclose(ours, theirs[ours.index], atol=25.0)  # lines of play are found, not drawn
    burn = gt.carries(site, hole=1)["carries"]
    assert (burn["feature"] == "Teasel Burn").any()


def test_terrain_comes_along(tmp_path: Path) -> None:
    heights = np.arange(12.0).reshape(3, 4)
    _raster.write_geotiff(tmp_path / "dem.tif", heights, 1000.0, 2000.0, 0.5, 27700)
    path = gt.new_site(tmp_path / "new.gpkg", 27700, terrain=tmp_path / "dem.tif")
    assert np.allclose(_raster.read_window(path, 0, 0, 3, 4, "terrain"), heights)


@pytest.mark.parametrize(
    ("name", "crs", "message"),
    [
        ("new.shp", 27700, "ends in .gpkg"),
        ("new.gpkg", 4326, "not projected"),
        ("new.gpkg", "EPSG:0", "unknown"),
    ],
)
def test_a_new_site_that_cannot_be_is_refused(tmp_path: Path, name: str, crs: object, message: str) -> None:
    with pytest.raises(InputError, match=message):
        gt.new_site(tmp_path / name, crs)
    assert not (tmp_path / name).exists()


def test_terrain_of_another_crs_is_refused(tmp_path: Path) -> None:
    _raster.write_geotiff(tmp_path / "dem.tif", np.ones((3, 3)), 0.0, 9.0, 1.0, 32630)
    with pytest.raises(InputError, match="reproject the terrain"):
        gt.new_site(tmp_path / "new.gpkg", 27700, terrain=tmp_path / "dem.tif")
