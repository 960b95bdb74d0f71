"""The four steps on a site whose answers are known."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.layout.lengths import combined_factor
from gistools.compute.terrain.surface import Surface
from gistools.handoff.csvfile import write_pnezd
from gistools.handoff.frame import Frame
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.types import ArrayTerrain
from tests.conftest import straight_tables


def level_site(
    shapes: dict[str, list[object]], geometry: list[object], cell: float = 0.5, **more: object
) -> Site:
    """The straight hole moved to (420000, 660000) on ground level at 10 m, with shapes."""
    tables = straight_tables()
    tables["shapes"] = gpd.GeoDataFrame(shapes, geometry=geometry)
    tables |= more  # type: ignore[arg-type]
    tables = {
        n: t.set_geometry(t.geometry.translate(420000, 660000)) if len(t) else t for n, t in tables.items()
    }
    n, m = round(480 / cell), round(240 / cell)
    return Site.from_tables(
        tables, 27700, Surface(np.full((n, m), 10.0), 420000 - 100, 660000 - 60 + 480, cell)
    )


def frustum_site(**more: object) -> Site:
    pad = Point(40.3, 200.2).buffer(10, quad_segs=128)
    shapes = {
        "hole": [1],
        "name": ["Pad"],
        "kind": ["platform"],
        "rise_m": [5.0],
        "side_slope_pct": [50.0],
        "blend_m": [0.0],
    }
    return level_site(shapes, [pad], **more)  # type: ignore[arg-type]


def test_fill_of_a_platform_is_that_of_a_frustum_on_the_ground() -> None:
    site = frustum_site()
    got = gt.quantities(site, hole=1).quantities
    assert got["shape_kind"].tolist() == ["platform", "total"]
    factor = combined_factor(27700, 420040.3, 660200.2, 10.0) ** 2
    exact = np.pi * 5 * (20**2 + 20 * 10 + 10**2) / 3
    assert got["fill_m3"].to_numpy() == pytest.approx(exact / factor, rel=2e-4)
    assert got["cut_m3"].to_numpy() == pytest.approx(0)
    assert got["changed_area_m2"][0] == pytest.approx(np.pi * 20**2 / factor, rel=0.01)
    # a sharp toe is found to within one cell, on the outside
    assert np.pi * 20**2 <= got.geometry[0].area <= np.pi * 20.5**2
    assert got["topsoil_m3"][0] == pytest.approx(0.15 * got["changed_area_m2"][0])
    assert got["shape_slope_limit_pct"][0] == pytest.approx(100 / 3) and got["proposed_slope_max_pct"][
        0
    ] == pytest.approx(50, rel=0.01)


def test_topsoil_not_put_back_makes_the_soil_fill_larger() -> None:
    site = frustum_site()
    same = gt.quantities(site, hole=1).quantities
    bare = gt.quantities(site, hole=1, strip_m=0.3, respread_m=0.1).quantities
    assert bare["fill_m3"][0] - same["fill_m3"][0] == pytest.approx(
        0.2 * bare["changed_area_m2"][0], rel=1e-6
    )
    assert bare["topsoil_spare_m3"][0] == pytest.approx(0.2 * bare["changed_area_m2"][0])


def test_soil_options_follow_the_stated_convention() -> None:
    site = frustum_site()
    fill = gt.quantities(site, hole=1).quantities["fill_m3"][0]
    bank = gt.quantities(site, hole=1, shrink_pct=25.0, swell_pct=10.0).quantities.iloc[-1]
    by_fill = gt.quantities(site, hole=1, shrink_pct=25.0, convention="of_fill").quantities.iloc[-1]
    assert bank["fill_bank_m3"] == pytest.approx(fill / 0.75)
    assert by_fill["fill_bank_m3"] == pytest.approx(fill / 0.80)
    assert bank["surplus_loose_m3"] == pytest.approx(-fill / 0.75 * 1.1)


def test_maps_of_the_change_and_of_the_proposed_ground() -> None:
    out = gt.quantities(frustum_site(), hole=1)
    change, proposed = out["cut_fill_h1"], out["terrain_proposed_h1"]
    assert isinstance(change, Map) and isinstance(proposed, Map)
    assert float(np.nanmax(change.values)) == pytest.approx(5)
    assert proposed.values == pytest.approx(change.values + 10, abs=1e-5)


def test_rows_of_shapes_add_up_to_the_total(metre_site: Site) -> None:
    got = gt.quantities(metre_site, hole=1).quantities
    assert got["feature"].tolist()[:-1] == ["Knoll", "Ditch", "Pad", "Step"]
    parts, total = got.iloc[:-1], got.iloc[-1]
    assert parts["net_m3"].sum() == pytest.approx(total["net_m3"], rel=1e-4)
    assert set(got["hole"]) == {1}  # the ditch carries no hole number and belongs to the nearest hole


def test_nothing_proposed_gives_no_rows(straight_site: Site) -> None:
    out = gt.quantities(straight_site)
    assert len(out.quantities) == 0 and "net_m3" in out.quantities
    assert list(out) == ["quantities", "haul", "materials"]


def test_a_given_proposed_ground_gives_totals() -> None:
    site = frustum_site().replace(shapes=gpd.GeoDataFrame({"fid": []}, geometry=[]))
    whole = site.ground.surface()  # type: ignore[union-attr]
    x, y = whole.centres()
    inside = (np.abs(x[None, :] - 420000) < 5) & (np.abs(y[:, None] - 660100) < 5)
    raised = site.replace(
        ground=ArrayTerrain(Surface(whole.z + 0.4 * inside, whole.x_west, whole.y_north, 0.5))
    )
    got = gt.quantities(raised, hole=1).quantities
    assert got["shape_kind"].tolist() == ["total"]
    factor = combined_factor(27700, 420000, 660100, 10.0) ** 2
    assert got["fill_m3"][0] == pytest.approx(40 / factor, rel=1e-3)


def test_contours_of_both_grounds() -> None:
    got = gt.contours(frustum_site(), hole=1, interval_m=1.0)
    rings = got[(got["terrain"] == "proposed") & got["contour_level_m"].between(11, 14)]
    assert rings["contour_level_m"].tolist() == [11, 12, 13, 14]
    for level, line in zip(rings["contour_level_m"], rings.geometry, strict=True):
        assert line.length == pytest.approx(2 * np.pi * (20 - 2 * (level - 10)), rel=0.01)
    assert set(got[got["index_contour"]]["contour_level_m"]) <= {10.0, 15.0}


def test_setting_out_agrees_with_a_second_way(hand_site: Site) -> None:
    out = gt.setting_out(hand_site, hole=1)
    got = out.setting_out
    assert got["point"].is_unique and got["number"].is_unique
    x = got.geometry.x.to_numpy() * hand_site.unit_m
    y = got.geometry.y.to_numpy() * hand_site.unit_m
    west, south, _, _ = hand_site.ground.bounds  # type: ignore[union-attr]
    line = LineString([(100 + west, 40 + south), (115 + west, 240 + south), (150 + west, 400 + south)])
    on = (got["alignment_relation"] == "on").to_numpy()
    assert on.sum() > 100
    points = [Point(p) for p in zip(x, y, strict=True)]
    assert got["chainage_m"][on].to_numpy() == pytest.approx(
        [line.project(p) for p, k in zip(points, on, strict=True) if k], abs=0.01
    )
    assert np.abs(got["offset_m"][on].to_numpy()) == pytest.approx(
        [line.distance(p) for p, k in zip(points, on, strict=True) if k], abs=0.01
    )
    left = got[got["feature"] == "Left"]
    assert (left["offset_m"] < 0).all()
    assert got["existing_level_m"].to_numpy() == pytest.approx(hand_site.surface().height(x, y), abs=1e-6)
    assert (got["proposed_level_m"] - got["existing_level_m"]).to_numpy() == pytest.approx(
        got["cut_fill_m"].to_numpy()
    )
    crest = got[got["code"] == "PMC"].iloc[0]
    assert crest["cut_fill_m"] == pytest.approx(1.5, abs=0.02)
    # ground distances from the tee are grid distances over the combined factor
    assert got["ground_east_m"].to_numpy() == pytest.approx(
        (x - (100 + west)) / got["combined_factor"].to_numpy(), abs=0.01
    )


def test_staking_the_same_site_twice_gives_the_same_points(metre_site: Site) -> None:
    a = gt.setting_out(metre_site, hole=1).setting_out
    b = gt.setting_out(metre_site.replace(), hole=1).setting_out
    assert a.drop(columns="geometry").equals(b.drop(columns="geometry"))
    assert a.geometry.geom_equals(b.geometry).all()


def test_points_keep_their_names_when_a_feature_is_added(metre_site: Site) -> None:
    bunkers = metre_site.layer("bunkers")
    extra = bunkers.iloc[[0]].assign(fid=77, name="new")
    extra = extra.set_geometry(extra.geometry.translate(0, -60))
    more = metre_site.replace(bunkers=gpd.GeoDataFrame(pd.concat([bunkers, extra])))
    a = gt.setting_out(metre_site, hole=1).setting_out.set_index("point")
    b = gt.setting_out(more, hole=1).setting_out.set_index("point")
    assert set(a.index) < set(b.index)
    assert (b.loc[a.index, "number"] == a["number"]).all()


def test_control_residuals(metre_site: Site) -> None:
    got = gt.setting_out(metre_site, hole=1).control_check
    assert got["control_status"].tolist() == ["within", "outside", "not checked"]
    assert got["delta_easting_m"][0] == pytest.approx(0.006, abs=1e-6) and got["delta_northing_m"][
        0
    ] == pytest.approx(-0.008, abs=1e-6)
    assert got["delta_plan_m"][0] == pytest.approx(0.010, abs=1e-6)
    assert got["delta_height_m"][0] == pytest.approx(-0.003, abs=1e-6)


def built(site: Site, points: list[tuple[float, float, float, str, str]]) -> Site:
    """Add as-built points: easting, northing from (420000, 660000), level, number, feature."""
    return site.replace(
        as_built=gpd.GeoDataFrame(
            {
                "fid": range(1, len(points) + 1),
                "point": [p[3] for p in points],
                "level_m": [p[2] for p in points],
                "feature": [p[4] for p in points],
            },
            geometry=[Point(420000 + p[0], 660000 + p[1]) for p in points],
            crs=site.crs_metric,
        )
    )


def test_as_built_levels_against_the_design() -> None:
    site = built(
        frustum_site(),
        [
            (0, 340, 10.012, "1", ""),  # green: within 13 mm
            (3, 342, 9.985, "2", ""),  # green: low
            (0, 150, 10.049, "3", ""),  # fairway: within 50 mm
            (40.3, 200.2, 15.06, "4", "Pad"),  # the pad is designed at 15
            (70, 60, 10.09, "5", ""),  # rough: within 100 mm
            (-18, 320, 10.2, "PPE1-003", ""),  # named by its number, wherever it lies
            (40.3, 210.1, 15.0, "10702003", "PPE PPE1-004 Pad"),  # our own description comes back
            (5000, 5000, 1.0, "6", ""),
        ],
    )
    out = gt.as_built_check(site, hole=1)
    got = out.as_built_check
    assert got["level_status"].tolist() == [
        "within",
        "low",
        "within",
        "high",
        "within",
        "high",
        "within",
        "no design level",
    ]
    assert got["feature"].tolist()[3] == "Pad" and got["feature"].tolist()[5:7] == ["Pad", "Pad"]
    assert got["difference_m"][1] == pytest.approx(-0.015)
    assert got["design_level_m"][3] == pytest.approx(15.0)
    green = out.as_built_summary.set_index("layer").loc["greens"]
    assert green["points_count"] == 2 and green["outside_count"] == 1
    assert green["worst_difference_m"] == pytest.approx(-0.015) and green["feature_status"] == "outside"
    assert green["rms_difference_m"] == pytest.approx(np.sqrt((0.012**2 + 0.015**2) / 2))


def test_as_built_from_a_file_and_our_own_setting_out(tmp_path: Path, hand_site: Site) -> None:
    """A crew that builds to the millimetre and measures our points finds every one within tolerance."""
    stakes = gt.setting_out(hand_site, hole=1).setting_out
    unit = hand_site.unit_m
    path = write_pnezd(
        tmp_path / "back.csv",
        [
            (n, x * unit, y * unit, z, f"{c} {p}")
            for n, x, y, z, c, p in zip(
                stakes["number"],
                stakes.geometry.x,
                stakes.geometry.y,
                stakes["proposed_level_m"],
                stakes["code"],
                stakes["point"],
                strict=True,
            )
        ],
        Frame.of(hand_site),
    )
    got = gt.as_built_check(hand_site, hole=1, points=str(path)).as_built_check
    assert len(got) == len(stakes)
    assert (got["level_status"] == "within").all()
    assert np.abs(got["difference_m"]).max() < 0.001


def test_tolerances_can_be_chosen() -> None:
    site = built(frustum_site(), [(0, 340, 10.02, "1", "")])
    assert gt.as_built_check(site).as_built_check["level_status"][0] == "high"
    assert gt.as_built_check(site, green_m=0.025).as_built_check["level_status"][0] == "within"
    with pytest.raises(InputError, match="green_m"):
        gt.as_built_check(site, green_m=5.0)


def test_no_as_built_points_give_empty_tables(straight_site: Site) -> None:
    out = gt.as_built_check(straight_site)
    assert len(out.as_built_check) == 0 and len(out.as_built_summary) == 0
    assert "difference_m" in out.as_built_check


def test_stations_run_from_tee_to_green(straight_site: Site) -> None:
    got = gt.setting_out(straight_site, hole=1).setting_out
    stations = got[got["code"] == "LOP"]
    assert stations["chainage_m"].tolist() == pytest.approx([*range(0, 340, 20), 340], abs=1e-6)
    assert stations["offset_m"].abs().max() < 1e-6


def test_burns_are_staked_along_centre_and_both_banks(straight_site: Site) -> None:
    got = gt.setting_out(straight_site, hole=1).setting_out
    burn = LineString([(-60, 140), (60, 260)])
    for code, away in (("BNC", 0), ("BNL", 2), ("BNR", 2)):
        rows = got[got["code"] == code]
        assert rows.geometry.distance(burn).to_numpy() == pytest.approx(away, abs=1e-6)
    # looking along the line as drawn (to the north-east) the left bank is the north-western one
    left = got[got["code"] == "BNL"].geometry
    assert ((left.y - left.x) > 200).all()
    assert box(-20, 100, 20, 310).exterior.distance(got[got["code"] == "FWY"].geometry.iloc[0]) < 1e-9


def test_measured_points_belong_to_the_hole_they_name() -> None:
    """A mound of hole 1 that lies beside the green of hole 2.

    Its points are nearest to hole 2, and are compared with the mound all the same.
    """
    from gistools.site.sample import sample_site

    site = sample_site()
    green = site.layer("greens", 2).geometry.iloc[0].centroid
    mound = Point(green.x + 30, green.y).buffer(8)
    shapes = gpd.GeoDataFrame(
        {
            "hole": [1],
            "name": ["Far Mound"],
            "kind": ["mound"],
            "rise_m": [1.0],
            "side_slope_pct": [25.0],
            "fid": [7],
        },
        geometry=[mound],
        crs=site.crs_metric,
    )
    site = site.replace(shapes=shapes)
    crest = gt.setting_out(site, hole=1).setting_out.set_index("code").loc["PMC"]
    points = gpd.GeoDataFrame(
        {
            "fid": [1, 2],
            "point": ["PMC7-001", "x"],
            "level_m": [crest["proposed_level_m"]] * 2,
            "feature": ["", ""],
        },
        geometry=[crest.geometry] * 2,
        crs=site.crs_metric,
    )
    got = gt.as_built_check(site.replace(as_built=points)).as_built_check.set_index("point")
    assert got["level_status"].tolist() == ["within", "within"]
    assert got.loc["PMC7-001", "hole"] == 1 and got.loc["x", "hole"] == 2
    assert got.loc["x", "design_level_m"] - site.surface().height(crest.geometry.x, crest.geometry.y) > 0.5
    alone = gt.as_built_check(site.replace(as_built=points), hole=1).as_built_check
    assert alone["point"].tolist() == ["PMC7-001"]
