"""Steps effective_carries and tee_shots on the straight hole.

Declared, right, and in step with the compute files.
"""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import Point, box

import gistools
from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError, SiteError
from gistools.compute.ballistics.air import Wind
from gistools.compute.ballistics.effective_distance import effective_distance
from gistools.compute.ballistics.players import built_in
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.steps.catalogue import find

WINDS = pd.DataFrame({"fid": [1], "wind": ["west"], "speed_ms": [6.0], "from_deg": [270.0]})


@pytest.fixture
def windy(straight_site: Site) -> Site:
    return straight_site.replace(winds=WINDS)


def test_the_bogey_man_falls_short_where_the_scratch_man_carries(windy) -> None:
    got = gistools.effective_carries(windy, hole=1)
    table = got.effective_carries
    carries = gistools.carries(windy, hole=1).carries
    assert len(table) == len(carries) * 2 * 2
    assert list(table.columns) == [*(c.name for c in find("effective_carries").writes[0].columns), "geometry"]
    row = table[(table["feature"] == "Test Burn") & (table["line"] == "on line") & (table["wind"] == "calm")]
    scratch, bogey = (row[row["player"] == p].iloc[0] for p in ("scratch man", "bogey man"))
    # level ground near sea level: the burn's far edge plays its length, within what 10 m of height changes
    assert scratch["effective_carry_m"] == pytest.approx(scratch["carry_m"], abs=0.3)
    assert scratch["carry_m"] == pytest.approx(200 + 2 * math.sqrt(2), abs=0.05)
    assert scratch["can_carry"] == "yes" and scratch["carry_margin_m"] == pytest.approx(
        210.3 - scratch["carry_m"], abs=0.5
    )
    # the burn lies aslant: on its near side balls that stray have less to carry
    assert bogey["can_carry"] == "no" and 1.0 < bogey["carried_pct"] < 20.0 and bogey["shortest_club"] == ""
    assert 55 < scratch["carried_pct"] < 90 and scratch["shortest_club"] == "driver"


def test_played_carry_with_rise_and_wind(windy) -> None:
    table = gistools.effective_carries(
        windy, hole=1, winds=("west",), players=("scratch man",)
    ).effective_carries
    for row in table.itertuples():
        want = effective_distance(
            row.carry_m,
            rise_m=row.rise_m,
            wind=Wind("west", 6.0, 270.0),
            bearing_deg=row.bearing_deg,
            weather=HoleModel(windy, 1).tee_ground.weather,
        )
        assert row.effective_carry_m == pytest.approx(want, nan_ok=True)
        assert math.isnan(want) == ("beyond any shot" in row.note)


def test_the_scratch_man_carries_more_often_to_each_zone(windy) -> None:
    zones = gistools.effective_carries(windy, hole=1, winds=("calm",)).effective_zone_carries
    beyond = zones[zones["hazards_carried"].astype(str).str.contains("Burn")]
    short = zones[~zones["hazards_carried"].astype(str).str.contains("Burn")]
    assert len(beyond) and len(short)
    assert set(short["can_carry"]) <= {"nothing to carry", "yes"}
    assert (beyond["effective_must_carry_m"] > 0).all()
    scratch = beyond[beyond["player"] == "scratch man"]
    bogey = beyond[beyond["player"] == "bogey man"]
    assert (scratch["carried_pct"].to_numpy() > bogey["carried_pct"].to_numpy()).all()


def test_risks_of_tee_shots_add_up_by_feature(windy) -> None:
    got = gistools.tee_shots(windy, hole=1)
    for layer in find("tee_shots").writes:
        table = got[layer.layer]
        names = [c.name for c in layer.columns] + (["geometry"] if layer.geometry else [])
        assert list(table.columns) == names
        assert len(table)
    shots = got.tee_shots
    zones = gistools.zones(windy, hole=1).zones
    assert len(shots) == len(zones) * 2 * 2
    output = shots[shots["note"] == ""]
    for name in (
        "in_zone_pct",
        "fairway_pct",
        "hazard_pct",
        "out_of_bounds_pct",
        "trees_pct",
        "run_through_pct",
    ):
        assert output[name].between(0, 100).all()
    assert (output["fairway_pct"] >= output["in_zone_pct"] - 1.0).all()
    assert (output["total_mean_m"] > output["carry_mean_m"] - 1.0).all()  # a wedge may come back a little
    # what finishes in hazards, by name, adds up to the share of the row
    key = ["tee", "player", "wind", "zone"]
    bad = got.tee_shot_risks.groupby(key)["chance_pct"].sum()
    row = output.set_index(key)
    total = row["hazard_pct"] + row["out_of_bounds_pct"] + row["trees_pct"]
    assert bad.reindex(total.index).fillna(0.0).to_numpy() == pytest.approx(total.to_numpy(), abs=1e-6)
    assert "Test Burn" in set(got.tee_shot_risks["feature"])


def test_points_ellipses_and_paths_fit_the_rows(windy) -> None:
    got = gistools.tee_shots(windy, hole=1, players=("scratch man",), winds=("calm",), points_count=256)
    zones = gistools.zones(windy, hole=1).zones.set_index("zone").geometry
    for zone, points in got.finish_points.groupby("zone"):
        row = got.tee_shots.set_index("zone").loc[zone]
        assert 100 * points["in_zone"].mean() == pytest.approx(row["in_zone_pct"], abs=8)
        exact = shapely.contains_xy(zones[zone], points.geometry.x, points.geometry.y)
        assert (exact == points["in_zone"].to_numpy()).mean() > 0.97  # cells against the outline itself
        finish = got.shot_ellipses[
            (got.shot_ellipses["zone"] == zone) & (got.shot_ellipses["event"] == "finish")
        ]
        for ring in finish.itertuples():
            inside = shapely.contains_xy(ring.geometry, points.geometry.x, points.geometry.y).mean()
            assert 100 * inside == pytest.approx(ring.enclosed_pct, abs=8)
    for path in got.shot_paths.itertuples():
        xyz = np.array(path.geometry.coords)
        assert xyz[0] == pytest.approx([0.0, 0.0, 10.0])
        assert xyz[:, 2].max() - 10.0 == pytest.approx(path.apex_m, abs=0.3)
        assert xyz[-2, 2] == pytest.approx(10.0, abs=0.1) and xyz[-1, 2] == pytest.approx(10.0, abs=1e-6)
        assert math.hypot(*xyz[-2, :2]) == pytest.approx(path.shot_carry_m, abs=0.2)


def test_longer_zone_is_out_of_reach_for_short_players(straight_site) -> None:
    zones = gpd.GeoDataFrame(
        {"hole": [1, 1], "zone": ["near", "far"]}, geometry=[box(-18, 110, 18, 150), box(-18, 290, 18, 310)]
    )
    site = Site.from_tables({**straight_site.tables, "zones": zones}, 27700, straight_site.surface())
    shots = gistools.tee_shots(site, hole=1, winds=("calm",)).tee_shots.set_index(["player", "zone"])
    assert shots.loc[("scratch man", "near"), "in_zone_pct"] > 80
    far = shots.loc[("bogey man", "far")]
    assert "no full shot" in far["note"] and far["surest_club"] == "" and math.isnan(far["in_zone_pct"])


def test_a_short_hole_is_played_at_its_green(straight_site) -> None:
    green = gpd.GeoDataFrame({"hole": [1], "stimp_ft": [10.0]}, geometry=[Point(0, 150).buffer(14)])
    site = Site.from_tables(
        {**straight_site.tables, "greens": green, "fairway": straight_site.layer("fairway").iloc[:0]},
        27700,
        straight_site.surface(),
    )
    shots = gistools.tee_shots(site, hole=1, winds=("calm",)).tee_shots.set_index("player")
    assert set(shots["zone"]) == {"green"}
    assert (
        shots.loc["scratch man", "surest_club"] in ("6-iron", "7-iron")
        and 40 < shots.loc["scratch man", "in_zone_pct"] < 95
    )
    assert shots.loc["bogey man", "in_zone_pct"] < shots.loc["scratch man", "in_zone_pct"]


def test_a_wood_in_the_way_is_named(straight_site) -> None:
    trees = gpd.GeoDataFrame({"name": ["Old Wood"], "height_m": [40.0]}, geometry=[box(-60, 50, 60, 60)])
    site = Site.from_tables({**straight_site.tables, "trees": trees}, 27700, straight_site.surface())
    got = gistools.tee_shots(site, hole=1, players=("scratch man",), winds=("calm",))
    assert (got.tee_shots["note"] != "").all()  # nothing gets over 40 m of trees: no zone is reached
    model = HoleModel(site, 1)
    assert len(model.tee_ground.obstacles.cylinders) > 100 and (model.tee_ground.kind == Kind.TREES).any()
    shots = gpd.GeoDataFrame(
        {"name": ["Thorn"], "height_m": [6.0], "crown_m": [8.0]}, geometry=[Point(0, 40)]
    )
    site = Site.from_tables({**straight_site.tables, "trees": shots}, 27700, straight_site.surface())
    assert len(HoleModel(site, 1).tee_ground.obstacles.cylinders) == 1


def test_sites_own_players_and_firmness_count(straight_site) -> None:
    players = pd.DataFrame(
        {"fid": [1], "player": ["Long"], "based_on": ["scratch man"], "driver_carry_m": [260.0]}
    )
    site = straight_site.replace(players=players)
    table = gistools.effective_carries(site, hole=1).effective_carries
    assert set(table["player"]) == {"scratch man", "bogey man", "Long"}
    firm = straight_site.replace(settings={"firmness": "firm"})
    runs = [
        gistools.tee_shots(s, hole=1, players=("scratch man",), winds=("calm",)).tee_shots.set_index("zone")[
            "run_out_mean_m"
        ]
        for s in (straight_site, firm)
    ]
    assert (runs[1].dropna() > runs[0].reindex(runs[1].dropna().index)).all()
    assert built_in("scratch man").name in set(table["player"])


def test_steps_of_shots_say_what_they_lack(straight_site) -> None:
    with pytest.raises(InputError, match="no player 'nobody'"):
        gistools.tee_shots(straight_site, hole=1, players=("nobody",))
    with pytest.raises(InputError, match="no wind 'gale'"):
        gistools.effective_carries(straight_site, hole=1, winds=("gale",))
    bad = straight_site.replace(players=pd.DataFrame({"fid": [1], "player": ["A"], "driver_carry_m": [-5.0]}))
    with pytest.raises(SiteError, match="driver_carry_m"):
        gistools.effective_carries(bad, hole=1)
    bare = Site.from_tables(straight_site.tables, 27700)
    with pytest.raises(SiteError, match="terrain"):
        gistools.tee_shots(bare, hole=1)


def test_a_tee_far_off_the_terrain_has_no_answer_and_says_why(straight_site) -> None:
    """Three kilometres away: rows with a note, no number that looks right, no failure."""
    tees = straight_site.tables["tees"].copy()
    tees["geometry"] = tees.geometry.translate(-3000.0, 0.0)
    away = straight_site.replace(tees=tees)
    got = gistools.effective_carries(away, hole=1)
    for table, column in (
        (got.effective_carries, "effective_carry_m"),
        (got.effective_zone_carries, "effective_centre_m"),
    ):
        assert len(table) and table[column].isna().all() and (table["note"] != "").all()
    assert (got.effective_carries["can_carry"] == "no").all() and (
        got.effective_carries["carried_pct"] == 0
    ).all()
    shots = gistools.tee_shots(away, hole=1).tee_shots
    assert shots["in_zone_pct"].isna().all() and (shots["note"] != "").all()


def test_missing_terrain_is_reported_with_its_place(straight_site) -> None:
    """A zone over ground that the terrain does not hold, and a tee over a hole in it.

    Notes name the right place.
    """
    ground = straight_site.surface()
    zones = gpd.GeoDataFrame({"hole": [1], "zone": ["gap"]}, geometry=[box(-18, 150, 18, 190)])
    for south, north, note in ((140, 200, "no terrain in the zone"), (-30, 30, "no terrain under the tee")):
        z = ground.z.copy()
        y = ground.y_north - (np.arange(z.shape[0]) + 0.5) * ground.cell
        z[(y > south) & (y < north)] = np.nan
        holed = Surface(z, ground.x_west, ground.y_north, ground.cell)
        site = Site.from_tables({**straight_site.tables, "zones": zones}, 27700, holed)
        shots = gistools.tee_shots(site, hole=1, winds=("calm",), players=("scratch man",)).tee_shots
        assert len(shots) and (shots["note"] == note).all() and shots["in_zone_pct"].isna().all()
        output = gistools.effective_carries(
            site, hole=1, winds=("calm",), players=("scratch man",)
        ).effective_zone_carries
        assert output["note"].str.startswith("no terrain at the tee or the centre").all()
        assert np.isfinite(output["effective_centre_m"]).all()


def test_an_empty_table_of_winds_is_no_table(straight_site) -> None:
    empty = WINDS.iloc[:0]
    one, two = (
        gistools.tee_shots(s, hole=1, players=("scratch man",)).tee_shots
        for s in (straight_site, straight_site.replace(winds=empty))
    )
    pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(two))


def test_results_repeat_exactly(straight_site) -> None:
    one = gistools.tee_shots(straight_site, hole=1, winds=("calm",)).tee_shots
    other = straight_site.replace()
    two = gistools.tee_shots(other, hole=1, winds=("calm",)).tee_shots
    pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(two))
