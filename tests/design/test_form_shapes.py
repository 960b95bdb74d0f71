"""Forms of line, fairway and green: closed forms on planes, and briefs that hold on rolling ground."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface
from gistools.design.draft import Draft, base_hole, bend
from gistools.design.fairway_forms import FACE_PCT
from gistools.design.form_list import FORMS
from gistools.design.form_parts import GREEN_FALL_PCT, GREEN_M
from gistools.design.forms import LaidHole
from gistools.site.model import Site
from gistools.site.proposed import proposed_site

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
import bare_ground

TEE, GREEN = (400150.0, 600050.0), (400150.0, 600390.0)
NEW = ("dogleg", "cape", "split", "island", "punchbowl", "plateau")


def plane(folder: Path, north: float = 0.01, east: float = 0.0) -> Path:
    """Write ground that rises evenly [m/m] to the north and east; 20 m in the south-west."""
    path = folder / f"plane{north:g}_{east:g}.tif"
    y = (520 - np.arange(520) - 0.5)[:, None]
    z = 20.0 + north * y + east * (np.arange(300) + 0.5)
    kind = {"driver": "GTiff", "height": 520, "width": 300, "count": 1, "dtype": "float64"}
    place = {"crs": "EPSG:27700", "transform": from_origin(400000.0, 600500.0, 1.0, 1.0)}
    with rasterio.open(path, "w", **kind, **place) as raster:
        raster.write(z, 1)
    return path


def laid(folder: Path, terrain: Path, *forms: str, **figures: float) -> tuple[LaidHole, Site]:
    """Lay a hole straight to the north; figures are ``form__figure``."""
    parameters = {name.replace("__", "."): value for name, value in figures.items()}
    path = folder / "hole.gpkg"
    hole = gt.lay_hole(path, terrain, TEE, GREEN, forms, parameters=parameters, replace=True)
    return hole, gt.open_site(path)


@pytest.mark.parametrize("name", NEW)
def test_the_brief_of_each_form_holds_on_rolling_ground(tmp_path: Path, name: str) -> None:
    bare_ground.main([str(tmp_path)])
    hole = gt.lay_hole(tmp_path / "a.gpkg", tmp_path / "links_ground.tif", TEE, (400165.0, 600395.0), [name])
    assert not [f for f in gt.check(hole.path) if f.level == "error"]
    site = proposed_site(gt.open_site(hole.path))
    checked = gt.brief(site)
    assert len(checked) and (checked["result"] == "holds").all(), checked.to_string()


@pytest.mark.parametrize("angle", [25.0, -25.0, 60.0, -60.0])
def test_a_line_is_bent_by_its_angle_at_its_turning_point(angle: float) -> None:
    draft = Draft((10.0, 20.0), (130.0, 320.0), 1, None)
    bend(draft, turn_m=150.0, angle_deg=angle)
    first, second = draft.bearing_at(10.0), draft.bearing
    assert (second - first + 180.0) % 360.0 - 180.0 == pytest.approx(angle)
    assert np.hypot(*np.subtract(draft.corner, draft.tee)) == pytest.approx(150.0)
    assert draft.place(150.0, 0.0) == pytest.approx(draft.corner)
    assert draft.place(draft.length, 0.0) == pytest.approx(draft.green)
    beside = shapely.Point(draft.place(200.0, 7.0))
    assert draft.line.distance(beside) == pytest.approx(7.0)
    assert draft.place(170.0, 5.0, 0.0) == pytest.approx(
        (10 + 170 * np.sin(np.radians(first)) + 5 * np.cos(np.radians(first)),
         20 + 170 * np.cos(np.radians(first)) - 5 * np.sin(np.radians(first)))
    )  # fmt: skip


def test_a_turn_with_no_room_behind_it_is_refused() -> None:
    with pytest.raises(InputError, match="turns by 20 degrees 240 m from the back tee has 63 m left"):
        bend(Draft((0.0, 0.0), (0.0, 300.0), 1, None), turn_m=240.0, angle_deg=-20.0)


@pytest.mark.parametrize("angle", [35.0, -35.0])
def test_the_fairway_follows_a_dogleg(tmp_path: Path, angle: float) -> None:
    _, site = laid(tmp_path, plane(tmp_path), "dogleg", dogleg__angle_deg=angle, dogleg__turn_m=180.0)
    lines = gt.lines_of_play(site).set_index("tee")
    assert (lines["turns_count"] == 1).all()
    turned = lines["last_bearing_deg"] - lines["first_bearing_deg"]
    assert ((turned + 180.0) % 360.0 - 180.0).to_numpy() == pytest.approx([angle, angle], abs=0.05)
    t = np.radians(35.0)
    second = np.sqrt(340.0**2 - (180.0 * np.sin(t)) ** 2) - 180.0 * np.cos(t)
    assert lines["length_m"].to_dict() == pytest.approx(
        {"back": 180.0 + second, "forward": 135.0 + second}, abs=0.05
    )
    width = gt.corridors(site)["corridors"].set_index(["tee", "chainage_m"]).loc["back"]
    halves = width[["fairway_left_m", "fairway_right_m"]].to_numpy()
    straight = halves[(width.index > 225) & (width.index < 280)]
    assert straight == pytest.approx(np.full(straight.shape, 18.0), abs=0.1)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_longer_cape_carry_leaves_a_shorter_approach(tmp_path: Path, side: float) -> None:
    """Carry to the far edge at an angle p inside the first leg: (a sin t - e) / sin(t - p)."""
    turn, angle, clear, beyond = 200.0, 45.0, 3.0, 60.0
    figures = {"turn_m": turn, "angle_deg": side * angle, "clear_m": clear, "beyond_m": beyond}
    hole, site = laid(tmp_path, plane(tmp_path), "cape", **{f"cape__{k}": v for k, v in figures.items()})
    line = site.layer("play_lines").geometry.iloc[0]
    tee, corner = np.array(line.coords[0]), np.array(line.coords[1])
    bearing = np.degrees(np.arctan2(*(corner - tee)))
    fan = gt.carries(site)["carry_fan"]
    fan = fan[(fan["tee"] == "back") & (fan["feature"] == "pond")]
    t, edge = np.radians(angle), 18.0 + clear
    away = side * np.radians((fan["bearing_deg"].to_numpy() - bearing + 180.0) % 360.0 - 180.0)
    expected = (turn * np.sin(t) - edge) / np.sin(t - away)
    inner = turn - edge * np.tan(t / 2.0)
    far = np.hypot(turn + beyond * np.cos(t) - edge * np.sin(t), beyond * np.sin(t) + edge * np.cos(t))
    straight = (expected > inner + 8.0) & (expected < far - 8.0) & (away > 0)  # clear of rounded corners
    assert straight.sum() >= 4
    carry = fan["carry_m"].to_numpy()[straight]
    assert carry == pytest.approx(expected[straight], abs=0.05)
    order = np.argsort(away[straight])
    ends = tee + carry[:, None] * np.column_stack(
        [np.sin(np.radians(fan["bearing_deg"][straight])), np.cos(np.radians(fan["bearing_deg"][straight]))]
    )
    left = np.hypot(*(ends - np.array(GREEN)).T)[order]
    assert (np.diff(carry[order]) > 0).all() and (np.diff(left) < 0).all()
    pond = site.layer("water").geometry.iloc[0]
    assert pond.distance(site.layer("fairway").geometry.iloc[0]) == pytest.approx(clear, abs=0.05)
    ground, dug = site.ground.surface(), proposed_site(site).ground.surface()
    middle = pond.centroid
    rim = shapely.get_coordinates(pond.buffer(2.0).exterior)
    assert dug.height(middle.x, middle.y) == pytest.approx(ground.height(*rim.T).min() - 1.0, abs=0.02)
    assert any("bends to the " + ("right" if side > 0 else "left") in w for w in site.layer("brief")["why"])
    assert hole.counts["water"] == 1


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_levels_of_a_split_fairway_differ_by_its_rise(tmp_path: Path, side: float) -> None:
    figures = {"split__rise_m": 2.0, "split__side": side}
    _, site = laid(tmp_path, plane(tmp_path, 0.0), "split", **figures)
    surface = proposed_site(site).ground.surface()
    for along in (180.0, 200.0, 220.0):
        upper, lower = (surface.height(TEE[0] + way * side * 15.0, TEE[1] + along) for way in (1, -1))
        assert upper == pytest.approx(22.0, abs=0.01) and lower == pytest.approx(20.0, abs=0.01)
    across = surface.height(TEE[0] + np.arange(-20.0, 20.5, 0.5), np.full(81, TEE[1] + 200.0))
    assert np.abs(np.diff(across)).max() / 0.5 == pytest.approx(FACE_PCT / 100.0, abs=0.005)
    shoulder = surface.height(TEE[0] - side * 15.0, TEE[1] + 150.0 + 100.0 + 11.0)
    assert shoulder == pytest.approx(22.0, abs=0.05)
    seen = gt.flag_views(proposed_site(site))["zone_views"].groupby("zone")["flag_seen_mean_pct"].mean()
    assert seen["upper"] > 90.0 and seen["lower"] < 20.0
    zones = gt.zones(site)["zones"].set_index("zone")
    assert np.sign(zones.loc["upper", "offset_m"]) == side == -np.sign(zones.loc["lower", "offset_m"])


def test_an_island_is_ringed_by_sand(tmp_path: Path) -> None:
    figures = {"carry_m": 200.0, "length_m": 60.0, "width_m": 26.0, "sand_m": 10.0}
    _, site = laid(tmp_path, plane(tmp_path), "island", **{f"island__{k}": v for k, v in figures.items()})
    bunkers = site.layer("bunkers").set_index("name").geometry
    middle = shapely.Point(TEE[0], TEE[1] + 200.0)
    assert [bunkers[n].distance(middle) for n in ("left sand", "right sand")] == pytest.approx([13.0, 13.0])
    ring = shapely.union_all(list(bunkers))
    assert ring.geom_type == "Polygon" and len(ring.interiors) == 1
    far = gt.carries(site)["carries"].set_index(["tee", "feature", "line"]).loc[("back", "front sand")]
    assert far.loc["on line", "reach_m"] == pytest.approx(160.0, abs=0.01)
    assert far.loc["on line", "carry_m"] == pytest.approx(170.0, abs=0.01)
    assert list(gt.zones(site)["zones"]["zone"]) == ["short", "between", "beyond"]
    ground, dug = site.ground.surface(), proposed_site(site).ground.surface()
    depth = {n: dug.height(*at) - ground.height(*at) for n, g in bunkers.items()
             for at in [g.representative_point().coords[0]]}  # fmt: skip
    assert max(depth.values()) < -0.3


def test_a_punchbowl_gathers_and_drains_at_its_one_outlet(tmp_path: Path) -> None:
    """Banks fall to the green at their slope; every drop of the green leaves at the front."""
    hole, site = laid(tmp_path, plane(tmp_path), "punchbowl", punchbowl__bank_pct=20.0, punchbowl__lap_m=0.0)
    proposed = proposed_site(site)
    surface = proposed.ground.surface()
    half = GREEN_M[1] / 2.0
    for side in (-1.0, 1.0):  # midway up the bank beside the middle of the green
        foot, top = (surface.height(GREEN[0] + side * (half + a), GREEN[1]) for a in (2.5, 4.5))
        assert (top - foot) / 2.0 == pytest.approx(0.20, abs=0.01)
    back = surface.height(GREEN[0], GREEN[1] + GREEN_M[0] / 2.0 + 8.0)
    assert back - surface.height(*GREEN) == pytest.approx(1.6, abs=0.01)
    water = gt.drainage(site)
    assert "green" not in set(water["hollows"]["feature"])
    assert not any("green" in reading for reading in water["hollows"]["reading"])
    falls = water["surface_falls"].set_index("feature").loc["green"]
    assert falls["shed_front_pct"] > 99.0 and falls["ways_count"] == 1
    assert any("give it a drain" in remark for remark in hole.remarks)


def test_plateau_has_its_rise_and_falls_off_on_all_sides(tmp_path: Path) -> None:
    _, site = laid(tmp_path, plane(tmp_path, 0.0), "plateau", plateau__rise_m=2.0, plateau__bank_pct=30.0)
    surface = proposed_site(site).ground.surface()
    assert surface.height(*GREEN) == pytest.approx(22.0, abs=0.01)
    for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        edge = GREEN_M[1] / 2.0 if dx else GREEN_M[0] / 2.0
        out = np.array([edge + 3.5, edge + 4.5])
        upper, lower = surface.height(GREEN[0] + dx * out, GREEN[1] + dy * out)
        assert upper - lower == pytest.approx(0.30, abs=0.01)


def test_a_plateau_stands_above_the_ground_before_it_too(tmp_path: Path) -> None:
    """Ground that falls away by 2 %: 43 m before the middle of the green it stands 0.86 m higher."""
    _, site = laid(tmp_path, plane(tmp_path, -0.02), "plateau", plateau__rise_m=1.5, plateau__bank_pct=25.0)
    ground, surface = site.ground.surface(), proposed_site(site).ground.surface()
    before = ground.height(GREEN[0], GREEN[1] - 43.0)
    assert before - ground.height(*GREEN) == pytest.approx(0.86, abs=0.001)
    assert surface.height(*GREEN) == pytest.approx(before + 1.5, abs=0.01)
    assert (gt.brief(proposed_site(site))["result"] == "holds").all()


def test_a_green_in_a_hollow_is_raised_above_its_spill() -> None:
    """A hollow 0.8 m deep in a level plane spills at the plane: the front of the green comes up to it."""
    y, x = np.mgrid[0:400, 0:200]
    away = np.hypot(x - 100.0, y - 60.0)
    z = 30.0 - 0.8 * np.clip(1.0 - away / 45.0, 0.0, 1.0)
    draft = Draft((100.0, 0.0), (100.0, 340.0), 1, Surface(z, -0.5, 400.5, 1.0))
    base_hole(draft)
    green = draft.rows["greens"][0]["geometry"]
    drop = GREEN_FALL_PCT / 100.0 * GREEN_M[0] / 2.0
    assert draft.mean_ground(green) + draft.green_rise - drop == pytest.approx(30.0, abs=0.001)
    assert "so that its water can leave at the front" in draft.remarks[0]
    deep = Draft((100.0, 0.0), (100.0, 340.0), 1, Surface(30.0 + 6.0 * (z - 30.0), -0.5, 400.5, 1.0))
    base_hole(deep)
    assert deep.green_rise == 1.5 and "above the front of the green before it spills" in deep.remarks[0]


def test_what_is_asked_of_a_zone_that_is_not_there_is_left_out(tmp_path: Path) -> None:
    hole, site = laid(tmp_path, plane(tmp_path), "split", "screen")
    assert set(site.layer("brief")["zone"]) == {"upper", "lower"}
    assert (
        sum("this hole has no zone 'beyond right', its zones are lower, upper" in r for r in hole.remarks)
        == 1
    )


def bare(z: np.ndarray) -> Draft:
    """Return a draft of a hole 340 m to the north on ground of 1 m cells."""
    return Draft((100.0, 0.0), (100.0, 340.0), 1, Surface(z, -0.5, 400.5, 1.0))


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_burn_takes_the_diagonal_that_falls_with_the_ground(side: float) -> None:
    """The ground falls 2 % square to one diagonal at 40 degrees, so by 2 sin(80) % along the other."""
    a = np.radians(40.0)
    y, x = np.mgrid[400:-1:-1, 0:201].astype(float)
    draft = bare(30.0 - side * 0.02 * (np.cos(a) * x + side * np.sin(a) * y))
    base_hole(draft)
    FORMS["diagonal"].lay(draft, carry_m=195.0, angle_deg=40.0, width_m=3.0, side=0.0)
    line = draft.rows["burns"][0]["geometry"]
    (x0, y0), (x1, y1) = line.coords
    assert np.sign((x1 - x0) * (y1 - y0)) == side
    channel = next(row for row in draft.rows["shapes"] if row["kind"] == "channel")
    assert channel["fall_pct"] == pytest.approx(2.0 * np.sin(2.0 * a), abs=0.01)
    assert any("It is laid with the ground" in remark for remark in draft.remarks)
    FORMS["diagonal"].lay(draft, carry_m=195.0, angle_deg=40.0, width_m=3.0, side=-side)
    (x0, y0), (x1, y1) = draft.rows["burns"][1]["geometry"].coords
    assert np.sign((x1 - x0) * (y1 - y0)) == -side  # asked for by its figure


def test_mound_uses_a_natural_rise_and_adds_the_difference() -> None:
    """A cone of 1.2 m, 9 m in radius, 7 m farther from the green and 2 m to the right of the place."""
    y, x = np.mgrid[400:-1:-1, 0:201].astype(float)
    cone = 1.2 * np.clip(1.0 - np.hypot(x - 111.0, y - 300.0) / 9.0, 0.0, None)
    drafts = [bare(z) for z in (20.0 + cone, np.full(cone.shape, 20.0))]
    for draft in drafts:
        base_hole(draft)
        FORMS["screen"].lay(draft, short_m=16.0, across_m=9.0, rise_m=2.5, width_m=30.0)
    on_cone, on_plane = (next(r for r in d.rows["shapes"] if r["kind"] == "mound") for d in drafts)
    middle = on_cone["geometry"].centroid
    assert (middle.x, middle.y) == pytest.approx((111.0, 300.0), abs=0.1)
    top = 2.5 + GREEN_FALL_PCT / 100.0 * GREEN_M[0] / 2.0 - 0.3  # the green comes up out of level ground
    assert on_cone["rise_m"] == pytest.approx(top - 1.2, abs=0.02)
    assert on_plane["rise_m"] == pytest.approx(top, abs=1e-6)
    assert on_plane["geometry"].centroid.coords[0] == pytest.approx((109.0, 307.0), abs=0.01)
    remark = next(r for r in drafts[0].remarks if "natural rise" in r)
    assert "7 m farther from the green and 2 m to the right" in remark and "less fill" in remark
    assert not any("natural" in r for r in drafts[1].remarks)
