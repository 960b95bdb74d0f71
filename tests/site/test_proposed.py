"""The proposed ground of a site: shapes laid in windows, every step running on it."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point, box

import gistools as gt
from gistools.base.errors import GistoolsWarning, SiteError
from gistools.compute.terrain.shaping import shape_ground
from gistools.compute.terrain.surface import Surface
from gistools.site import _raster
from gistools.site.model import Site
from gistools.site.proposed import (
    PatchedTerrain,
    holes_of,
    is_stored,
    proposed_map,
    proposed_site,
    reports_of,
    shaped,
    shapes_of,
)
from gistools.site.types import ArrayTerrain
from tests.conftest import plane, straight_tables


def shapes(**columns: object) -> gpd.GeoDataFrame:
    geometry = [Point(15, 300).buffer(14), box(-30, 20, -18, 32), box(60, 20, 70, 35)]
    output = {
        "hole": [1, 1, None],
        "name": ["Knoll", "Sink", "Pad"],
        "kind": ["mound", "hollow", "platform"],
        "order": [3, 1, 2],
        "rise_m": [1.5, -0.9, np.nan],
        "level_m": [np.nan, np.nan, 11.0],
    }
    return gpd.GeoDataFrame({**output, **columns}, geometry=geometry)


def site(**columns: object) -> Site:
    return Site.from_tables({**straight_tables(), "shapes": shapes(**columns)}, 27700, plane())


def test_ground_is_proposed_and_existing_is_surveyed() -> None:
    s = site()
    new = proposed_site(s)
    assert new.existing is s.ground and s.existing is None
    assert new.surface().height([15, 65, -24], [300, 27, 26]) == pytest.approx([11.5, 11.0, 9.1], abs=0.02)
    assert s.surface().height(15, 300) == 10
    assert proposed_site(new) is new
    assert proposed_site(s) is new  # once per site


def test_windows_give_what_laying_on_the_whole_terrain_gives() -> None:
    s = site()
    whole = shape_ground(s.surface(), shapes_of(s)).surface
    patched = proposed_site(s).ground
    assert isinstance(patched, PatchedTerrain) and len(patched.patches) > 1
    assert patched.surface().z == pytest.approx(whole.z, abs=0.002)
    window = patched.surface((0, 280, 30, 320))
    x, y = window.centres()
    assert window.z == pytest.approx(whole.height(x[None, :], y[:, None]), abs=0.002)


def test_long_banks_are_followed_to_their_foot() -> None:
    s = site(
        rise_m=[np.nan, -0.9, np.nan], level_m=[np.nan, np.nan, 26.0], kind=["grade", "hollow", "platform"]
    )
    new = proposed_site(s)
    # 16 m of fill at 25 % runs 64 m (+ rounding), more than the 40 m read at first
    assert new.surface().height(60 - 50, 27) > 12
    for group in shaped(s):
        assert not group.reaches_edge or group.surface.bounds == s.ground.bounds  # type: ignore[union-attr]


def test_shapes_come_in_order_and_by_hole() -> None:
    s = site()
    assert [x.name for x in shapes_of(s)] == ["Sink", "Pad", "Knoll"]
    assert [r.shape.name for r in reports_of(s, 1)] == ["Sink", "Pad", "Knoll"]
    assert holes_of(s, s.layer("shapes")) == [1, 1, 1]


def test_a_shape_without_number_belongs_to_the_nearest_hole() -> None:
    tables = straight_tables()
    for name in ("tees", "fairway", "greens"):
        other = tables[name].assign(hole=2)
        other = other.set_geometry(other.geometry.translate(90, 0))
        tables[name] = gpd.GeoDataFrame(pd.concat([tables[name], other], ignore_index=True))
    s = Site.from_tables({**tables, "shapes": shapes(hole=[None, None, None])}, 27700, plane())
    assert holes_of(s, s.layer("shapes")) == [1, 1, 2]
    assert [x.name for x in shapes_of(s, 2)] == ["Pad"]
    assert proposed_site(s, hole=2).surface().height(15, 300) == 10


def test_steps_run_on_the_proposed_ground() -> None:
    s = Site.from_tables(dict(site().tables), 27700, plane(east_slope=0.011))
    before = gt.lengths(s, hole=1)
    after = gt.lengths(proposed_site(s), hole=1)
    assert list(before.columns) == list(after.columns)
    lifted = gt.contours(proposed_site(s), hole=1)
    assert {"existing", "proposed"} == set(lifted["terrain"])


def test_map_for_the_file() -> None:
    got = proposed_map(site(), hole=1)
    assert got.name == "terrain_proposed" and got.unit == "m"
    assert float(np.nanmax(got.values)) == pytest.approx(11.5, abs=0.01)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"kind": ["mound", "hollow", "pyramid"]}, "feature 3.*pyramid.*unknown"),
        ({"kind": ["mound", "hollow", None]}, "feature 3"),
        ({"rise_m": [np.nan] * 3}, "Sink.*needs a rise or a level"),
        ({"kind": ["mound", "channel", "platform"]}, "feature 2.*bed line"),
    ],
)
def test_shapes_that_cannot_be_are_named(columns: dict[str, object], words: str) -> None:
    with pytest.raises(SiteError, match=words):
        proposed_site(site(**columns))


def test_no_terrain_is_said() -> None:
    s = Site.from_tables({**straight_tables(), "shapes": shapes()}, 27700)
    with pytest.raises(SiteError, match="no terrain"):
        proposed_site(s)


def test_proposed_ground_in_the_site_is_used_unchanged() -> None:
    s = site()
    higher = s.replace(ground=ArrayTerrain(plane(level=12)))
    assert proposed_site(higher) is higher


def test_a_raster_of_the_proposed_ground_in_the_file_wins(tmp_path: Path) -> None:
    from gistools.site import _vector

    path = tmp_path / "site.gpkg"
    for name, table in straight_tables().items():
        _vector.write_layer(path, name, table.set_crs(27700), key="fid")
    for name, level in (("terrain", 10.0), ("terrain_proposed", 10.5)):
        p: Surface = plane(level=level)
        _raster.write_coverage(path, name, p.z, p.x_west, p.y_north, p.cell, 27700)
    opened = gt.open_site(path)
    new = proposed_site(opened)
    assert is_stored(opened)
    assert new.surface().height(0, 100) == pytest.approx(10.5)
    assert opened.surface().height(0, 100) == pytest.approx(10.0)
    got = gt.quantities(opened, hole=1).quantities
    assert got["shape_kind"].tolist() == ["total"]
    assert got["fill_bank_m3"][0] == pytest.approx(0.5 * got["changed_area_m2"][0], rel=1e-6)
    with pytest.warns(GistoolsWarning, match="not laid again"):
        proposed_site(opened.replace(shapes=site().layer("shapes")))
