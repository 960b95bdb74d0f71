"""The seven steps on small sites, as a caller sees them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

import gistools as gt
from gistools.base.errors import GistoolsWarning, InputError, SiteError
from gistools.site.model import Site
from gistools.steps.catalogue import find

STEPS = ["lines_of_play", "lengths", "carries", "corridors", "diagonals", "zones", "setbacks"]


def layer(shapes, **columns):
    return gpd.GeoDataFrame(columns, geometry=shapes)


def tables_of(name, result):
    return dict(result) if isinstance(result, dict) else {find(name).writes[0].layer: result}


@pytest.fixture
def tables(straight_site):
    return {n: t.drop(columns="fid") for n, t in straight_site.tables.items()}


@pytest.fixture
def full(tables, straight_site):
    """The straight hole, a neighbour hole to the east of it, a path, a house and trees."""
    east = {n: t.assign(hole=2) for n, t in tables.items() if n in ("tees", "fairway", "greens", "pins")}
    for name, table in east.items():
        moved = table.set_geometry(table.geometry.translate(70, 0))
        tables[name] = pd.concat([tables[name], moved], ignore_index=True)
    tables["burns"] = tables["burns"].assign(hole=None)
    tables["paths"] = layer([LineString([(-50, 80), (50, 80)])], kind=["public"], name=["Church path"])
    tables["structures"] = layer([box(-60, 200, -50, 210)], kind=["house"])
    tables["trees"] = layer([Point(-30, 250)], crown_m=[8.0], height_m=[9.0])
    return Site.from_tables(tables, 27700, straight_site.ground.whole)


@pytest.mark.parametrize("name", STEPS)
def test_tables_are_as_declared(name, full):
    before = {n: t.copy() for n, t in full.tables.items()}
    for result, table in tables_of(name, getattr(gt, name)(full)).items():
        declared = next(w for w in find(name).writes if w.layer == result)
        assert list(table.columns) == [*(c.name for c in declared.columns), "geometry"]
        assert len(table) > 0 and table.geometry.is_valid.all() and not table.geometry.is_empty.any()
        assert set(table.geom_type) <= {declared.geometry, "Multi" + declared.geometry}
        assert set(table["hole"]) == {1, 2}
        alone = tables_of(name, getattr(gt, name)(full, hole=2))[result]
        assert set(alone["hole"]) == {2}
        same = table[table["hole"] == 2].reset_index(drop=True)
        assert_frame_equal(
            pd.DataFrame(alone).drop(columns="geometry"), same.drop(columns="geometry"), check_dtype=False
        )
    for n, table in full.tables.items():
        assert_frame_equal(pd.DataFrame(table), pd.DataFrame(before[n]))


@pytest.mark.parametrize("name", STEPS)
def test_bare_site_gives_empty_tables_with_all_columns(name, tables):
    """Tee and green alone: nothing to carry, no corridor, and still every column."""
    bare = Site.from_tables({n: tables[n] for n in ("tees", "greens")}, 27700)
    for result, table in tables_of(name, getattr(gt, name)(bare)).items():
        declared = next(w for w in find(name).writes if w.layer == result)
        assert list(table.columns) == [*(c.name for c in declared.columns), "geometry"]
        assert isinstance(table, gpd.GeoDataFrame) and table.crs == bare.crs


@pytest.mark.parametrize("name", STEPS)
def test_a_site_in_feet_gives_the_same_metres(name, straight_site, tables):
    away = {n: t.set_geometry(t.geometry.translate(1.95e6, 6.2e5)) for n, t in tables.items()}
    feet, metres = Site.from_tables(away, 2225), Site.from_tables(away, find_metric(2225))
    assert feet.unit_m == pytest.approx(1200 / 3937)
    for (_, a), (_, b) in zip(
        tables_of(name, getattr(gt, name)(feet)).items(),
        tables_of(name, getattr(gt, name)(metres)).items(),
        strict=True,
    ):
        assert_frame_equal(pd.DataFrame(a.drop(columns="geometry")), pd.DataFrame(b.drop(columns="geometry")))
        back = a.geometry.affine_transform([feet.unit_m, 0, 0, feet.unit_m, 0, 0])
        assert np.allclose(back.bounds, b.geometry.bounds, atol=1e-6)


def find_metric(code):
    from pyproj import CRS

    from gistools.site.types import metre_crs_of

    return metre_crs_of(CRS.from_epsg(code))[0]


class TestLinesOfPlay:
    def test_an_undrawn_line_of_play_is_derived(self, straight_site):
        (row,) = gt.lines_of_play(straight_site).itertuples()
        assert (row.source, row.turns_count, row.tee_feature_id) == ("derived", 0, 1)
        assert row.length_m == pytest.approx(340) and row.first_bearing_deg == pytest.approx(0)

    def test_a_drawn_line_of_play_wins(self, tables):
        tables["play_lines"] = layer(
            [LineString([(0, 341), (25, 200), (1, 2)]), LineString([(0, 0), (-9, 100), (0, 340)])],
            hole=[1, 1],
            tee=[None, "Back "],
        )
        (row,) = gt.lines_of_play(Site.from_tables(tables, 27700)).itertuples()
        assert (row.source, row.turns_count) == ("drawn", 1)
        assert row.geometry.coords[1] == (-9, 100)  # the line for this tee, before the one for all

    def test_doubtful_drawing_warns(self, tables):
        tables["play_lines"] = layer([LineString([(40, 0), (0, 340)])], hole=[1], tee=["back"])
        with pytest.warns(GistoolsWarning, match=r"play_lines, feature 1.*40 m from the centre of the tee"):
            result = gt.lines_of_play(Site.from_tables(tables, 27700))
        assert "40 m" in result["note"].iloc[0]

    def test_hole_without_tee_and_tee_on_the_green(self, tables):
        tables["tees"] = tables["tees"].assign(hole=7)
        with pytest.raises(SiteError, match="hole 1 has no tee"):
            gt.lines_of_play(Site.from_tables(tables, 27700))
        tables["tees"] = layer([Point(0, 340)], hole=[1], tee=["back"])
        with pytest.raises(SiteError, match=r"feature 1.*centre of the green"):
            gt.carries(Site.from_tables(tables, 27700))

    def test_nameless_tee_gets_a_name(self, tables):
        tables["tees"] = layer([Point(0, 0)], hole=[1], tee=[None])
        assert list(gt.lines_of_play(Site.from_tables(tables, 27700))["tee"]) == ["tee 1"]

    def test_a_hole_that_is_not_there_is_named(self, straight_site):
        with pytest.raises(InputError, match="no hole 5"):
            gt.carries(straight_site, hole=5)


def test_lengths_of_the_straight_hole(straight_site):
    (row,) = gt.lengths(straight_site).itertuples()
    assert row.grid_m == pytest.approx(340)
    assert row.ground_m == pytest.approx(340 / row.combined_factor)
    assert row.card_m == round(row.ground_m)
    assert (row.par_men, row.par_women) == ("4", "4")  # 338.6 m on the ground: k is 1.004 in this corner
    assert row.back_m - row.front_m == pytest.approx(28 / row.combined_factor, abs=0.02)
    assert row.drop_m == pytest.approx(0)
    in_yards = gt.lengths(straight_site, par_unit="yd").iloc[0]
    assert in_yards["par_women"] == "4 or 5"  # 370.3 yd


def test_zones_drawn_by_the_designer_win(tables):
    tables["zones"] = layer([box(-10, 150, 10, 190)], hole=[1], zone=["plateau"])
    result = gt.zones(Site.from_tables(tables, 27700))
    assert list(result.zones["zone"]) == ["plateau"] and list(result.zones["source"]) == ["drawn"]
    assert list(result.zones["feature_id"]) == [1] and list(result.zone_carries["zone"]) == ["plateau"]


def test_conflicts_name_both_features(full):
    result = gt.setbacks(full).setback_conflicts
    lines = result[(result["rule"] == "line of play to structure") & (result["hole"] == 1)].iloc[0]
    assert (lines["layer"], lines["feature_id"], lines["other_layer"], lines["other_feature_id"]) == (
        "tees",
        1,
        "structures",
        1,
    )
    assert lines["separation_m"] == pytest.approx(50)
    path = result[result["rule"] == "line of play to public path"]
    assert set(path["other"]) == {"Church path"} and sorted(path["separation_m"]) == pytest.approx([0, 20])
    off = gt.setbacks(full.with_settings(setback_line_structure_m=0.0)).setback_conflicts
    assert not (off["rule"] == "line of play to structure").any()
    assert find("setbacks").cautions


def test_clearances_reach_the_tables(full):
    result = gt.corridors(full, hole=1).corridors.set_index("chainage_m")
    assert result.loc[250.0, "tree_left_m"] == pytest.approx(26, abs=0.02)
    assert result.loc[200.0, "other_right_m"] == pytest.approx(50)
    assert result.loc[200.0, "other_right"] == "fairway, hole 2"
    assert result["narrowest"].sum() == 1


def test_own_players_land_at_carry_and_roll(tables):
    tables["players"] = pd.DataFrame({"player": ["Club", "Other"], "driver_carry_m": [150.0, np.nan]})
    result = gt.corridors(Site.from_tables(tables, 27700)).landing_widths.set_index("player")
    assert result.loc["Club", "chainage_m"] == pytest.approx(168.3)
    assert "Other" not in result.index


def test_turned_site_has_the_same_figures(tables, straight_site):
    def turned(g):
        return affinity.rotate(g, -70, origin=(0, 0))

    there = Site.from_tables({n: t.set_geometry(t.geometry.map(turned)) for n, t in tables.items()}, 27700)
    here = Site.from_tables(tables, 27700)
    a, b = gt.carries(here).carries, gt.carries(there).carries
    assert np.allclose(a["carry_m"], b["carry_m"], atol=1e-6)
    assert np.allclose((a["bearing_deg"] + 70) % 360, b["bearing_deg"] % 360, atol=1e-6)
    assert np.allclose(gt.diagonals(here)["axis_angle_deg"], gt.diagonals(there)["axis_angle_deg"], atol=1e-5)


def test_odd_sites_are_worked_through(tables):
    """Things people really draw: none may fail, none may leave an empty or invalid geometry."""
    odd = {
        "lake over everything": {"water": layer([box(-50, 50, 50, 330)], hole=[1])},
        "burn back and forth": {
            "burns": layer(
                [LineString([(-60, 150), (30, 160), (40, 180), (30, 200), (-60, 210)])],
                hole=[1],
                width_m=[4.0],
            )
        },
        "burn along play": {"burns": layer([LineString([(0, 110), (0, 300)])], hole=[1], width_m=[4.0])},
        "two fairways side by side": {
            "fairway": layer([box(-40, 100, -10, 310), box(10, 100, 40, 310)], hole=[1, 1])
        },
        "tee in the burn": {"tees": layer([Point(0, 200)], hole=[1], tee=["back"])},
        "tee in the fairway": {"tees": layer([Point(0, 130)], hole=[1], tee=["back"])},
        "crumb of fairway": {"fairway": layer([Polygon([(0, 200), (0.5, 200), (0, 200.5)])], hole=[1])},
    }
    for name, change in odd.items():
        site = Site.from_tables({**tables, **change}, 27700)
        for step in STEPS:
            for result, table in tables_of(step, getattr(gt, step)(site)).items():
                assert not table.geometry.is_empty.any(), (name, result)
                assert table.geometry.is_valid.all(), (name, result)
