"""The ground steps on the straight hole, with terrain whose answers are known, and on the sample site."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

import gistools as gt
from gistools.base.errors import InputError, SiteError
from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.types import ArrayTerrain

# the straight hole of conftest: due north, tee at (0, 0), green of radius 14 m round (0, 340), pins (0, 332)
# and (3, 347)


def with_ground(site: Site, level, cell: float = 1.0, **tables) -> Site:
    cols, rows = round(240 / cell), round(480 / cell)
    x, y = -100 + (np.arange(cols) + 0.5) * cell, 420 - (np.arange(rows) + 0.5) * cell
    surface = Surface(level(*np.meshgrid(x, y)) + 0.0, -100.0, 420.0, cell)
    return site.replace(ground=ArrayTerrain(surface), **tables)


def layer(site: Site, table: str, /, **fields) -> gpd.GeoDataFrame:
    shapes = fields.pop("geometry")
    made = Site.from_tables({table: gpd.GeoDataFrame(fields, geometry=shapes)}, site.crs_metric)
    return made.layer(table)


@pytest.fixture
def tilted(straight_site: Site) -> Site:
    """Falls 2 % away from the player and 1 % to the right."""
    return with_ground(straight_site, lambda x, y: 20 - 0.02 * y - 0.01 * x)


# --- slopes -----------------------------------------------------------------------------------------------


def test_slopes_of_a_tilted_plane(tilted: Site) -> None:
    result = gt.slopes(tilted, hole=1)
    zones = result["slopes"]
    assert len(zones) == len(gt.zones(tilted, hole=1)["zones"]) > 1
    for column, value in (("fall_pct", 2), ("camber_pct", 1), ("camber_low_pct", 1), ("fall_high_pct", 2)):
        assert zones[column].to_numpy() == pytest.approx(value, abs=1e-9)
    assert zones["slope_mean_pct"].to_numpy() == pytest.approx(np.sqrt(5), abs=1e-9)
    assert (zones["too_flat_pct"] == 0).all() and (zones["comfortable_pct"] == 100).all()
    assert zones["falls_to_deg"].to_numpy() == pytest.approx(np.degrees(np.arctan2(1, 2)))
    green = result["green_slopes"].iloc[0]
    assert green["fall_pct"] == pytest.approx(2) and green["camber_pct"] == pytest.approx(1)
    assert green["pin_slope_limit_pct"] == 3.90 and green["tiers_count"] == 1
    assert green["fair_area_m2"] == pytest.approx(np.pi * (14 - 4 * 0.9144) ** 2, rel=0.02)
    assert result["fair_areas"].geometry.area.sum() == pytest.approx(green["fair_area_m2"])
    pins = result["pin_slopes"].set_index("pin")
    assert pins["slope_pct"].to_numpy() == pytest.approx(np.sqrt(5)) and pins["fair"].all()
    assert pins.loc["front", "edge_distance_m"] == pytest.approx(6, abs=0.02)
    assert pins.loc["front", "level_m"] == pytest.approx(20 - 0.02 * 332)
    assert (pins["uneven_m"] < 1e-9).all() and pins["critical_distance_m"].isna().all()


def test_pins_fail_with_the_figure(straight_site: Site) -> None:
    steep = with_ground(straight_site, lambda x, y: 0.05 * y)
    pins = gt.slopes(steep, hole=1)["pin_slopes"]
    assert not pins["fair"].any() and pins["note"].str.contains("slope 5.0 %, at most 3.9 % asked").all()
    assert gt.slopes(steep.with_settings(stimp_ft=8), hole=1)["pin_slopes"]["fair"].all()
    pins = layer(
        straight_site, "pins", hole=[1, 1], pin=["edge", "off"], geometry=[Point(0, 328), Point(0, 300)]
    )
    result = gt.slopes(with_ground(straight_site, lambda x, y: 0 * x, pins=pins))["pin_slopes"]
    assert not result["fair"].any()
    assert "2.0 m from the edge, 3.7 m asked" in result["note"][0] and result["note"][1] == "off the green"


def test_slopes_on_feet(straight_site: Site) -> None:
    """A site in US survey feet gives the same slopes and metres."""
    metres = with_ground(straight_site, lambda x, y: 20 - 0.02 * y - 0.01 * x)
    tables = dict(metres.tables)
    feet = Site.from_tables(tables, 2225, metres.ground.surface())
    a, b = gt.slopes(metres, hole=1), gt.slopes(feet, hole=1)
    pd.testing.assert_frame_equal(
        pd.DataFrame(a["pin_slopes"].drop(columns="geometry")),
        pd.DataFrame(b["pin_slopes"].drop(columns="geometry")),
    )
    assert b["pin_slopes"].geometry.x.iloc[1] == pytest.approx(3 * 3937 / 1200)


# --- flag views -------------------------------------------------------------------------------------------


def walled(site: Site) -> Site:
    """Level ground with a wall 1.2 m high across the left half of the hole at y = 250."""
    wall = layer(
        site, "structures", name=["Long Dyke"], height_m=[1.2], geometry=[LineString([(-60, 250), (-2, 250)])]
    )
    return with_ground(site, lambda x, y: 10 + 0 * x, structures=wall)


def test_flag_views_over_a_wall(straight_site: Site) -> None:
    result = gt.flag_views(walled(straight_site), hole=1)
    views = result["flag_views"]
    assert set(views["pin"]) == {"front", "back"} and views["note"].eq("").all()
    east, north = views.geometry.x.round(6), views.geometry.y.round(6)
    left = views[(views.viewpoint == "fairway") & (views.pin == "front") & (east == -10) & (north == 150)]
    left = left.iloc[0]
    # the wall is 0.3 m thick; the line to the flag meets its far face last: eye 1.6, wall 1.2, far edge at
    # 100.15 / 182
    t = (250.15 - 150) / (332 - 150)
    low = 1.6 - (1.6 - 1.2) / t
    assert left["flag_seen_pct"] == pytest.approx(100 * (1 - low / 2.13), abs=1e-9)
    assert (
        left["hidden_by"] == "Long Dyke"
        and left["hidden_by_layer"] == "structures"
        and left["hidden_by_feature_id"] == 1
    )
    assert left["hidden_at_m"] == pytest.approx(t * left["pin_distance_m"])
    assert left["hidden_northing_crs"] == pytest.approx(250.15)
    assert left["clearance_m"] == pytest.approx(1.6 + (2.13 - 1.6) * t - 1.2)
    assert not left["foot_seen"] and left["top_seen"]
    right = views[(east == 10) & (north == 150)]
    assert (right["flag_seen_pct"] == 100).all() and (right["hidden_by"] == "").all()
    # the far left edge of the green alone is looked at past the end of the wall: one of 149 places
    assert (right["green_seen_pct"] > 99).all() and right["hidden_at_m"].isna().all()
    tee = views[(views.tee == "back") & (views.pin == "front")]
    assert len(tee) == 1 and tee["viewpoint"].iloc[0] == "tee"
    assert len(views[views.zone != ""]) == 2 * len(gt.zones(walled(straight_site), hole=1)["zones"])


def test_the_place_that_hides_in_feet(straight_site: Site) -> None:
    """On a site in US survey feet its coordinates are feet, as the geometry is; distances stay metres."""
    metres = walled(straight_site)
    feet = Site.from_tables(dict(metres.tables), 2225, metres.ground.surface())
    a, b = (gt.flag_views(s, hole=1)["flag_views"].set_index(["viewpoint", "pin"]) for s in (metres, feet))
    a, b = (t[t["hidden_by"] == "Long Dyke"] for t in (a, b))
    assert len(a) == len(b) > 3
    for name in ("hidden_easting_crs", "hidden_northing_crs"):
        np.testing.assert_allclose(b[name], a[name] * 3937 / 1200, atol=1e-6)
    np.testing.assert_allclose(a["hidden_at_m"], b["hidden_at_m"], atol=1e-9)
    off = np.hypot(b["hidden_easting_crs"] - b.geometry.x, b["hidden_northing_crs"] - b.geometry.y)
    np.testing.assert_allclose(off * 1200 / 3937, b["hidden_at_m"], atol=1e-6)


def test_maps_lines_and_summaries_agree_with_the_points(straight_site: Site) -> None:
    result = gt.flag_views(walled(straight_site), hole=1, cell_m=1.0)
    views, lines = result["flag_views"], result["sightlines"]
    named = views[(views.tee != "") | (views.zone != "")]
    assert len(lines) == len(named)
    assert lines.length.to_numpy() == pytest.approx(lines["pin_distance_m"].to_numpy())
    raster = result["flag_view_h1_front"]
    assert isinstance(raster, Map) and raster.values.dtype == np.float32 and raster.unit == "pct"
    assert sorted(k for k in result if k.startswith("flag_view_h")) == [
        "flag_view_h1_back",
        "flag_view_h1_front",
    ]
    front = views[(views.pin == "front") & (views.viewpoint == "rough")]
    for row in front.iloc[::20].itertuples():
        i = int((raster.y_north - row.geometry.y) / raster.cell)
        j = int((row.geometry.x - raster.x_west) / raster.cell)
        around = raster.values[i - 1 : i + 2, j - 1 : j + 2]
        assert around.min() - 1.5 <= row.flag_seen_pct <= around.max() + 1.5
    zones = result["zone_views"]
    assert (zones["flag_seen_least_pct"] <= zones["flag_seen_mean_pct"]).all()
    assert (zones["foot_share_pct"] <= zones["top_share_pct"]).all()
    tees = result["tee_views"]
    assert len(tees) == len(gt.zones(straight_site, hole=1)["zones"])


def test_zone_hidden_from_the_tee(straight_site: Site) -> None:
    """A bank 3 m high before the landing zones, named as the mound it is: the tee sees none of them."""
    mound = layer(straight_site, "mounds", name=["Big Hill"], geometry=[box(-90, 60, 130, 80)])
    hill = with_ground(straight_site, lambda x, y: 10 + 3.0 * ((y > 65) & (y < 75)), mounds=mound)
    tees = gt.flag_views(hill, hole=1)["tee_views"]
    assert (tees["zone_seen_pct"] == 0).all() and (tees["visibility"] == "blind").all()
    assert (tees["hidden_by"] == "Big Hill").all() and (tees["hidden_by_layer"] == "mounds").all()


def test_what_hides_by_name(straight_site: Site) -> None:
    lip = layer(straight_site, "bunkers", hole=[1], name=["Left"], geometry=[box(-26, 318, -2, 322)])
    raised = with_ground(
        straight_site, lambda x, y: 10 + 1.5 * ((y > 322) & (y < 323)), bunkers=lip, cell=0.5
    )
    views = gt.flag_views(raised, hole=1)["flag_views"]
    before = views[(views.pin == "front") & (views.geometry.y < 300) & (views.viewpoint == "fairway")]
    assert set(before["hidden_by"]) >= {"lip of Left"}
    assert set(before["hidden_by"]) <= {"lip of Left", "ground, rough", "green, hole 1"}


@pytest.mark.parametrize(("trees", "hidden"), [("as_drawn", 1), ("all", 2), ("none", 0)])
def test_trees_as_chosen(straight_site: Site, trees: str, hidden: int) -> None:
    wood = layer(
        straight_site,
        "trees",
        name=["Oak", "Birch"],
        height_m=[9.0, 9.0],
        crown_m=[8.0, 8.0],
        see_through=[False, True],
        geometry=[Point(0, 320), Point(3, 312)],
    )
    site = straight_site.replace(trees=wood)
    views = gt.flag_views(site.with_settings(trees_hide=trees), hole=1)["flag_views"]
    result = set(views["hidden_by"]) - {""}
    assert len(result) == hidden and (hidden == 0 or "Oak" in result)


def test_terrain_that_does_not_reach(straight_site: Site) -> None:
    """Missing ground gives rows without an answer and a note; a pin on it stops the step with its name."""
    gone = with_ground(straight_site, lambda x, y: np.where((y > 150) & (y < 170), np.nan, 10.0))
    views = gt.flag_views(gone, hole=1)["flag_views"]
    behind = views[views.geometry.y < 150]
    assert behind["flag_seen_pct"].isna().all() and behind["foot_seen"].isna().all()
    assert behind["note"].str.contains("no terrain").all() and (behind["hidden_by"] == "").all()
    assert views[views.geometry.y > 180]["flag_seen_pct"].eq(100).all()
    off = with_ground(straight_site, lambda x, y: np.where(y > 340, np.nan, 10.0))
    with pytest.raises(SiteError, match=r"pins, feature 2: back of hole 1"):
        gt.flag_views(off, hole=1)
    zones = gt.slopes(gone, hole=1)["slopes"]
    assert zones["note"].str.contains("terrain missing").any()


def test_green_without_a_pin_uses_its_centre(straight_site: Site) -> None:
    site = straight_site.replace(pins=straight_site.layer("pins").iloc[:0])
    views = gt.flag_views(site, hole=1)["flag_views"]
    assert set(views["pin"]) == {"centre"}
    assert views["pin_distance_m"].iloc[0] == pytest.approx(340, abs=0.5)


# --- sections and screening -------------------------------------------------------------------------------


def test_sections_of_the_straight_hole(tilted: Site) -> None:
    result = gt.sections(tilted, hole=1, spacing_m=5)
    lines, points = result["sections"], result["section_points"]
    play = points[points["section_kind"] == "line of play"]
    assert play["station_m"].iloc[-1] == pytest.approx(340, abs=0.1)
    np.testing.assert_allclose(play["gradient_pct"], -2.0, atol=1e-9)
    np.testing.assert_allclose(play["level_m"], 20 - 0.02 * play["station_m"], atol=1e-3)
    assert play["sight_level_m"].isna().all() and play["clearance_m"].isna().all()
    zones = gt.zones(tilted, hole=1)["zones"]
    assert len(lines) == 1 + 2 * len(zones)
    approach = lines[lines["section_kind"] == "approach"]
    assert (approach["least_clearance_m"] > 1.5).all() and (approach["note"] == "").all()
    assert set(points["section"]) == set(lines["section"])


def test_section_room_is_the_clearance_of_the_view(straight_site: Site) -> None:
    """Two ways to the same figure: least room along the section, clearance of the sightline over the wall."""
    site = walled(straight_site)
    lines = gt.sections(site, hole=1, spacing_m=0.1)["sections"]
    views = gt.flag_views(site, hole=1)["sightlines"]
    both = lines.merge(views, on=["zone", "pin"])
    both = both[(both["zone"] != "") & (both["hidden_by"] == "Long Dyke")]
    assert len(both)
    assert both["least_clearance_m"].to_numpy() == pytest.approx(both["clearance_m"].to_numpy(), abs=0.01)


def test_screening_and_the_view_over_the_raised_mound(straight_site: Site) -> None:
    """Raise the mound to the level asked for and run the flag views again on that ground.

    The stick is gone.
    """
    outline = Point(0, 300).buffer(20)
    mounds = layer(straight_site, "mounds", name=["Knowe"], geometry=[outline])

    def bump(x, y):
        r = np.hypot(x, y - 300)
        return 10 + np.where(r < 20, 2.0 * np.cos(np.pi * r / 40) ** 2, 0)

    site = with_ground(straight_site, bump, mounds=mounds)
    result = gt.screening(site, hole=1)
    assert set(result["criterion"]) == {"show foot", "show top", "hide foot", "hide half", "hide all"}
    assert (result["feature"] == "Knowe").all() and result["crest_existing_m"].to_numpy() == pytest.approx(
        12, abs=0.01
    )
    known = result[result["crest_level_m"].notna()]
    assert len(known) and known["met_pct"].eq(100).all()
    assert known["crest_change_m"].to_numpy() == pytest.approx(
        (known["crest_level_m"] - known["crest_existing_m"]).to_numpy()
    )
    row = known[known["criterion"] == "show foot"].sort_values("crest_change_m").iloc[0]
    k = (row["crest_level_m"] - 10 - 0.01) / 2.0
    lower = with_ground(straight_site, lambda x, y: 10 + k * (bump(x, y) - 10), mounds=mounds)
    again = gt.flag_views(lower, hole=1)["zone_views"]
    again = again[(again["zone"] == row["zone"]) & (again["pin"] == row["pin"])].iloc[0]
    assert again["foot_share_pct"] == pytest.approx(100, abs=1.5)


def test_screening_by_a_drawn_line_of_another_layer(straight_site: Site) -> None:
    """A line across the hole on level ground.

    The crest that hides the stick lies on the line from eye to stick.

    Eyes 1.6 m over level 10, the zone's farthest place at distance a behind the line, the stick D away: the
    line to a height h on the stick passes it at 10 + 1.6 + (h - 1.6) a / D; the least level that hides from
    everywhere is that of the worst place.
    """
    line = LineString([(-40, 300), (40, 300)])
    shapes = layer(straight_site, "shapes", name=["Long Bank", "Pond"], kind=["mound", "hollow"],
                   geometry=[line, Point(0, 200).buffer(8)])  # fmt: skip
    flat = with_ground(straight_site, lambda x, y: 10 + 0 * x, shapes=shapes)
    result = gt.screening(flat, hole=1, crest_layer="shapes", crest_width_m=0.2, mesh_m=10)
    assert set(result["feature"]) == {"Long Bank"} and set(result["layer"]) == {"shapes"}
    assert result["crest_existing_m"].to_numpy() == pytest.approx(10)
    front = result[(result["pin"] == "front") & (result["criterion"] == "hide all")]
    assert len(front) and front["met_pct"].eq(100).all()
    assert (front["crest_level_m"].between(10 + 1.6, 10 + 2.13 + 0.02)).all()
    only = gt.screening(flat, hole=1, crest_layer="shapes", crest_feature_id=1, crest_width_m=0.2, mesh_m=10)
    pd.testing.assert_frame_equal(pd.DataFrame(result), pd.DataFrame(only))
    assert len(gt.screening(flat, hole=1)) == 0  # no mounds drawn


def test_screening_names_what_cannot_be_a_crest(straight_site: Site) -> None:
    pond = layer(straight_site, "shapes", name=["Pond"], kind=["hollow"], geometry=[Point(0, 200).buffer(8)])
    site = with_ground(straight_site, lambda x, y: 10 + 0 * x, shapes=pond)
    with pytest.raises(SiteError, match=r"shapes, feature 1 \(Pond\) is a polygon: draw its crest as a line"):
        gt.screening(site, hole=1, crest_layer="shapes", crest_feature_id=1)
    with pytest.raises(SiteError, match="shapes has no feature 7"):
        gt.screening(site, hole=1, crest_layer="shapes", crest_feature_id=7)
    with pytest.raises(InputError, match="crest_layer is 'greens'"):
        gt.screening(site, hole=1, crest_layer="greens")


def test_flat_mound_is_named(straight_site: Site) -> None:
    mounds = layer(straight_site, "mounds", name=["Nothing"], geometry=[Point(0, 300).buffer(10)])
    with pytest.raises(SiteError, match=r"mounds, feature 1 \(Nothing\): nothing rises"):
        gt.screening(straight_site.replace(mounds=mounds), hole=1)


def test_bad_choices_are_refused(straight_site: Site) -> None:
    with pytest.raises(InputError, match="eye_m"):
        gt.flag_views(straight_site.with_settings(eye_m=0))
    with pytest.raises(InputError, match="aim"):
        gt.flag_views(straight_site, aim="somewhere")
    with pytest.raises(SiteError, match="terrain"):
        gt.flag_views(Site.from_tables(dict(straight_site.tables), 27700), hole=1)


# --- the sample -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sample() -> Site:
    from gistools.site.sample import sample_site

    return sample_site()


def test_sample_hole_plays_blind_where_it_is_meant_to(sample: Site) -> None:
    """The intention written in sample_course.gpkg.md.

    Haar Knowe hides the left pins from beyond left only.
    """
    zones = gt.flag_views(sample, hole=1)["zone_views"].set_index(["zone", "pin"])
    for pin in ("front left", "back left"):
        assert zones.loc[("beyond left", pin), "flag_seen_mean_pct"] < 40
        assert zones.loc[("beyond left", pin), "hidden_by"] == "Haar Knowe"
        assert zones.loc[("beyond right", pin), "flag_seen_mean_pct"] > 60
    assert zones.loc[("beyond left", "front right"), "flag_seen_mean_pct"] > 80


def test_sample_green_has_a_ridge_and_a_false_front(sample: Site) -> None:
    parts = gt.slopes(sample, hole=1)["green_parts"]
    count = parts["green_part"].value_counts()
    assert count["tier face"] == 1 and count["false front"] == 1 and count["tier"] == 2


def test_a_hole_without_landing_zones_is_left_out_of_screening(sample: Site) -> None:
    """Haar Knowe of hole 1 reaches over the edge of hole 2's ground, which has no zone to look from."""
    assert not len(gt.screening(sample, hole=2))
