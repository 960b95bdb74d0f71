"""Where approaches start: sight of the very places, and finishes that stand for the tee shots behind them."""

from __future__ import annotations

import functools
import math

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

import gistools as gt
from gistools.base.errors import SiteError
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.steps.approach_starts import MEAN, Start, thinned, views_from
from gistools.steps.catalogue import need
from tests.conftest import plane, straight_tables

EYE_M, STICK_M = (
    1.6,
    2.13,
)  # of the step flag_views: assumption; least height recommended, Rules of Golf [second-hand]
ONE = {"hole": 1, "players": ("scratch man",), "winds": ("calm",)}


def walled(wall_m: float) -> Site:
    """Return the straight hole with a bank across it at 240 to 242 m, west of the line alone."""
    s = plane(cell=0.5)
    x, y = s.centres()
    bank = (np.abs(y - 241.0)[:, None] <= 1.0) & (x < 0.0)[None, :]
    tables = straight_tables()
    tables["mounds"] = gpd.GeoDataFrame(
        {"hole": [1], "name": ["Test Bank"]}, geometry=[box(-100.0, 240.0, 0.0, 242.0)]
    )
    return Site.from_tables(tables, 27700, Surface(s.z + wall_m * bank, s.x_west, s.y_north, s.cell))


def test_sight_is_that_of_the_very_place() -> None:
    """The lowest level seen over a wall on level ground is ``eye + (wall - eye) D / d``."""
    site = walled(1.7)
    places = [(-8.0, 120.0), (-8.0, 200.0), (-8.0, 260.0), (8.0, 120.0)]
    views = views_from(HoleModel(site, 1), [Start(x, y, "here") for x, y in places])
    front = np.array((0.0, 332.0))  # the pin in the middle: from the west the line goes over the bank
    for (x, y), view in zip(places[:2], views, strict=False):
        whole = np.hypot(*(front - (x, y)))
        away = whole * (240.25 - y) / (332.0 - y)  # its near edge: the middle of the first cells of the bank
        low = EYE_M + (1.7 - EYE_M) * whole / away
        assert view[0].seen_pct == pytest.approx(100 * (1 - low / STICK_M), abs=0.1)
        assert view[0].hidden_by == "Test Bank"
    assert views[0][0].seen_pct != pytest.approx(views[1][0].seen_pct, abs=5.0)
    assert (views[2][0].seen_pct, views[2][0].hidden_by) == (100.0, "")  # beyond it
    assert (views[3][0].seen_pct, views[3][0].hidden_by) == (100.0, "")  # beside it


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=1, max_size=80), st.integers(1, 7)
)
def test_thinned_finishes_stand_for_all(points: list[tuple[float, float]], most: int) -> None:
    xy = np.array(points)
    result = thinned(xy, most)
    assert sum(count for _, count in result) == len(xy)
    assert 1 <= len(result) <= min(most, len({tuple(p) for p in points}))
    assert len({at for at, _ in result}) == len(result)
    assert [count for _, count in result] == sorted((c for _, c in result), reverse=True)
    assert result == thinned(xy.copy(), most)


def test_thinned_finishes_are_the_middles_of_their_groups() -> None:
    rng = np.random.default_rng(4)
    middles = np.array([(0.0, 0.0), (40.0, 5.0), (10.0, 60.0)])
    xy = np.concatenate([m + rng.normal(0, 2.0, (n, 2)) for m, n in zip(middles, (50, 30, 10), strict=True)])
    result = thinned(xy, 3)
    assert [count for _, count in result] == [50, 30, 10]
    np.testing.assert_allclose(xy[[at for at, _ in result]], middles, atol=2.0)
    assert thinned(np.empty((0, 2)), 3) == []


def with_points(site: Site, *places: tuple[float, float], names: list[str | None]) -> Site:
    table = gpd.GeoDataFrame(
        {"fid": range(1, len(places) + 1), "hole": 1, "name": names},
        geometry=[Point(p) for p in places],
        crs=site.crs_metric,
    )
    return site.replace(play_points=table)


def test_points_have_to_be_drawn(straight_site: Site) -> None:
    with pytest.raises(SiteError, match=r"`play_points`; hole 1 has none"):
        gt.approaches(straight_site, starts="points", **ONE)
    with pytest.raises(SiteError, match="the site has none"):
        gt.approaches(straight_site, starts="points")


@functools.cache
def played() -> Site:
    """The straight hole, on cells that are played out quickly.

    A bank before the green that hides the pins by unlike shares.
    """
    tables = straight_tables()
    tables["bunkers"] = gpd.GeoDataFrame({"hole": [1], "name": ["Middle"]}, geometry=[box(-4, 225, 4, 233)])
    s = plane(cell=2.0)
    _, y = s.centres()
    bank = 1.8 * np.maximum(1.0 - np.abs(y - 313.0) / 8.0, 0.0)[:, None]
    return Site.from_tables(tables, 27700, Surface(s.z + bank, s.x_west, s.y_north, s.cell))


@pytest.mark.slow
def test_finishes_are_those_the_ranking_is_made_of() -> None:
    """Against the step ``positions``.

    Shares of the tee shots in each zone, and what they leave in the mean.
    """
    site = played()
    ranked = gt.positions(site, **ONE)["positions"]
    result = gt.approaches(site, starts="finishes", **ONE)
    means = result[result["start"] == MEAN].merge(
        ranked, on=["hole", "tee", "zone", "pin"], suffixes=("", "_ranked")
    )
    assert len(means) == len(ranked) > 0
    np.testing.assert_allclose(
        100 * means["plays_count"].astype(float) / 256, means["in_zone_pct"], atol=1e-6
    )
    # a few places for all finishes, and one shot from each, run out over the bank on its own, not by table
    np.testing.assert_allclose(means["remaining_strokes"], means["remaining_strokes"], atol=0.08)
    single = result[result["start"] != MEAN]
    groups = single.groupby(["tee", "zone", "pin"])
    whole = means.set_index(["tee", "zone", "pin"])["plays_count"].sort_index()
    assert (groups["plays_count"].sum() == whole).all()
    np.testing.assert_allclose(groups["finish_share_pct"].sum(), 100.0)
    assert groups.size().max() <= 5 and (groups.size() > 1).any()
    # each of them is in the zone it is told of, and the figures are those of the place
    outlines = need(site, "zones", hole=1)["zones"].set_index("zone").geometry
    for row in single.itertuples():
        start = Point(row.geometry.coords[0])
        assert outlines[row.zone].buffer(site.ground.cell).contains(start)
        assert row.pin_distance_m == pytest.approx(row.geometry.length)
    weights = single["plays_count"].astype(float)
    for key in ("pin_distance_m", "flag_seen_pct", "hold_pct", "leave_m"):
        by_hand = (single[key] * weights).groupby([single[k] for k in ("tee", "zone", "pin")]).sum()
        by_hand /= weights.groupby([single[k] for k in ("tee", "zone", "pin")]).sum()
        np.testing.assert_allclose(
            means.set_index(["tee", "zone", "pin"])[key].sort_index(), by_hand.sort_index()
        )
    assert means["reading"].str.contains("tee shots come to rest").all()


@pytest.mark.slow
def test_drawn_point_at_a_zone_centre_has_its_figures() -> None:
    site = played()
    centres = gt.approaches(site, **ONE)
    assert set(centres["start"]) == {"zone centre"} and centres["plays_count"].isna().all()
    views = gt.flag_views(site, hole=1)["flag_views"]
    both = centres.merge(
        views[views["viewpoint"] == "zone centre"], on=["zone", "pin"], suffixes=("", "_seen")
    )
    assert len(both) == len(centres) and (both["flag_seen_pct"] == both["flag_seen_pct_seen"]).all()
    assert (both.groupby("zone")["flag_seen_pct"].nunique() > 1).any()
    spot = centres.geometry.iloc[0].coords[0]
    other = with_points(site, spot, (60.0, 50.0), names=["Lay-up", None])
    other.memo.update({k: v for k, v in site.memo.items() if str(k[0]).startswith("strategy")})
    drawn = gt.approaches(other, starts="points", **ONE)
    assert set(drawn["start"]) == {"Lay-up", "play point, hole 1"}
    same = drawn[drawn["start"] == "Lay-up"].reset_index(drop=True)
    here = centres[centres["zone"] == centres["zone"].iloc[0]].reset_index(drop=True)
    for column in ("zone", "pin", "club", "flag_seen_pct", "hold_pct", "remaining_strokes", "reading"):
        assert (same[column] == here[column]).all()
    assert (drawn[drawn["start"] != "Lay-up"]["zone"] == "").all()
    burn = with_points(site, (0.0, 200.0), names=["In the burn"])
    burn.memo.update({k: v for k, v in site.memo.items() if str(k[0]).startswith("strategy")})
    with pytest.raises(
        SiteError, match=r"play_points, feature 1 \(In the burn\): the ball is not played from"
    ):
        gt.approaches(burn, starts="points", **ONE)


@pytest.mark.slow
def test_a_hole_without_zones_is_started_from_its_tees() -> None:
    tables = straight_tables()
    tables["tees"]["geometry"] = [box(-4, 217, 4, 223)]
    for gone in ("fairway", "burns"):
        tables[gone] = tables[gone].iloc[:0]
    site = Site.from_tables(tables, 27700, plane(cell=2.0, south=150.0, length=270.0))
    for how in ("centres", "finishes"):
        result = gt.approaches(site, starts=how, **ONE)
        assert list(result["tee"]) == ["back"] * 2 and list(result["zone"]) == ["back tee"] * 2
        assert list(result["start"]) == ["tee"] * 2
        assert result["pin_distance_m"].tolist() == pytest.approx([112.0, math.hypot(3.0, 127.0)])


def test_views_from_zone_centres_agree_with_flag_views() -> None:
    site = walled(1.9)
    from gistools.steps.approach_starts import from_centres

    starts = from_centres(HoleModel(site, 1))
    table = gt.flag_views(site, hole=1)["flag_views"]
    for start, views in zip(starts, views_from(HoleModel(site, 1), starts), strict=True):
        here = table[(table["zone"] == start.zone) & (table["viewpoint"] == "zone centre")]
        assert [v.seen_pct for v in views] == list(here["flag_seen_pct"])
        assert [v.hidden_by for v in views] == list(here["hidden_by"])
    assert len(starts) > 1


@pytest.mark.slow
def test_a_tee_without_terrain_is_told_in_the_reading() -> None:
    """Not as one from which no zone can be reached; the ranking says nothing of it."""
    s = plane(cell=1.0)
    x, y = s.centres()
    gone = (np.abs(y)[:, None] <= 20.0) & (np.abs(x) <= 20.0)[None, :]
    site = Site.from_tables(
        straight_tables(), 27700, Surface(np.where(gone, np.nan, s.z), s.x_west, s.y_north, s.cell)
    )
    result = gt.positions(site, **ONE)
    choices = result["choices"].set_index("tee")
    for tee in choices.index:
        at = next(t for t in HoleModel(site, 1).tees if t.name == tee)
        missing = not math.isfinite(float(site.surface().height(*at.centre)))
        assert ("heights are missing" in choices["reading"][tee]) == missing
        assert (tee in set(result["positions"]["tee"])) != missing
    assert choices["reading"].str.contains("heights are missing").any()
