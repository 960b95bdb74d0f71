"""Strategic forms on planes and rolling ground: where features stand, what falls where, what is hidden."""

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
from gistools.design.draft import Draft
from gistools.design.form_list import FORMS
from gistools.design.form_parts import GREEN_FALL_PCT, Parameter
from gistools.design.forms import LaidHole
from gistools.site.model import Site
from gistools.site.proposed import proposed_site

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
import bare_ground

TEE, GREEN = (400150.0, 600050.0), (400190.0, 600390.0)
EVERY = ("diagonal", "screen", "angled", "tiers", "false-front", "central")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("ground")
    bare_ground.main([str(place)])
    return place


def laid(folder: Path, *forms: str, **figures: float) -> tuple[LaidHole, Site]:
    path = folder / f"{'-'.join(forms)}-{len(figures)}.gpkg"
    parameters = {name.replace("__", "."): value for name, value in figures.items()}
    hole = gt.lay_hole(
        path, folder / "links_ground.tif", TEE, GREEN, forms, parameters=parameters, replace=True
    )
    return hole, gt.open_site(path)


def test_frame_runs_towards_the_green_and_to_the_right() -> None:
    draft = Draft((0.0, 0.0), (30.0, 40.0), 1, None)
    assert draft.length == 50.0 and draft.bearing == pytest.approx(np.degrees(np.arctan2(30, 40)))
    assert draft.place(50.0, 0.0) == pytest.approx((30.0, 40.0))
    assert draft.place(0.0, 10.0) == pytest.approx((8.0, -6.0))  # right of north-east is south-east
    outline = draft.ellipse(25.0, 0.0, 20.0, 10.0)
    assert outline.area == pytest.approx(np.pi * 50.0, rel=0.01)
    long_axis = shapely.LineString([draft.place(15.5, 0.0), draft.place(34.5, 0.0)])
    assert outline.covers(long_axis) and not outline.covers(shapely.Point(draft.place(25.0, 6.0)))


def test_every_form_makes_a_site_that_a_study_measures(folder: Path) -> None:
    hole, site = laid(folder, *EVERY)
    findings = gt.check(hole.path)
    assert not [f for f in findings if f.level == "error"]
    assert gt.lengths(site).set_index("tee")["grid_m"]["back"] == pytest.approx(np.hypot(40, 340), abs=0.5)
    assert {"burn", "central bunker"} <= set(gt.carries(site)["carries"]["feature"])
    proposed_site(site).ground.surface()


def test_burn_has_its_carry_and_angle_and_falls_everywhere(folder: Path) -> None:
    _, site = laid(folder, "diagonal", diagonal__carry_m=190.0, diagonal__angle_deg=50.0)
    rows = gt.diagonals(site).set_index("tee").loc["back"]
    assert rows["axis_angle_deg"] == pytest.approx(50.0, abs=0.2)
    assert rows["chainage_m"] == pytest.approx(190.0, abs=0.5)
    burn = site.layer("burns").geometry.iloc[0]
    ground, dug = site.ground.surface(), proposed_site(site).ground.surface()
    along = np.arange(0.0, burn.length, 2.0)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(burn, along))
    bed = np.asarray(dug.height(*xy.T))
    assert (np.diff(bed) < 0.0).all()
    assert (bed < np.asarray(ground.height(*xy.T)) - 0.5).all()


def test_side_turns_the_longer_carry_over(folder: Path) -> None:
    runs = {}
    for side in (1.0, -1.0):
        _, site = laid(folder, "diagonal", diagonal__side=side)
        runs[side] = gt.diagonals(site).set_index("tee").loc["back", "runs_away"]
    assert runs == {1.0: "right", -1.0: "left"}


def test_the_mound_hides_its_side_and_is_named(folder: Path) -> None:
    _, site = laid(folder, "diagonal", "screen")
    views = gt.flag_views(proposed_site(site))["zone_views"].set_index(["zone", "pin"])
    right, left = views.loc["beyond right", "back right"], views.loc["beyond left", "back left"]
    assert right["flag_seen_mean_pct"] < 60.0 < left["flag_seen_mean_pct"]
    assert right["hidden_by"] == "mound" and right["hidden_by_layer"] == "shapes"
    before = gt.flag_views(site)["zone_views"].set_index(["zone", "pin"])
    bare = before.loc["beyond right", "back right"]["flag_seen_mean_pct"]
    assert bare > right["flag_seen_mean_pct"] + 20.0
    checked = gt.brief(proposed_site(site))
    assert len(checked) == 4 and (checked["result"] == "holds").all()


def test_the_green_drains_to_the_front(folder: Path) -> None:
    """Falls of the plane: -1.8 % along the line of play, none across, in the middle of the green."""
    _, site = laid(folder, "central")
    surface = proposed_site(site).ground.surface()
    unit = np.array([40.0, 340.0]) / np.hypot(40.0, 340.0)
    middle = np.array(GREEN)
    front, back = (surface.height(*(middle + s * 8.0 * unit)) for s in (-1, 1))
    assert 100.0 * float(back - front) / 16.0 == pytest.approx(GREEN_FALL_PCT, abs=0.02)
    across = np.array([unit[1], -unit[0]])
    left, right = (surface.height(*(middle + s * 6.0 * across)) for s in (-1, 1))
    assert float(left) == pytest.approx(float(right), abs=0.003)


def test_a_tier_raises_the_back_and_a_false_front_falls_away(folder: Path) -> None:
    surfaces = {}
    for forms in (("central",), ("central", "tiers"), ("central", "false-front")):
        _, site = laid(folder, *forms)
        surfaces[forms[-1]] = proposed_site(site).ground.surface()
    unit = np.array([40.0, 340.0]) / np.hypot(40.0, 340.0)

    def rise(name: str, along: float) -> float:
        place = np.array(GREEN) + along * unit
        return float(surfaces[name].height(*place) - surfaces["central"].height(*place))

    assert rise("tiers", 10.0) == pytest.approx(0.6, abs=0.01) and rise("tiers", -10.0) == pytest.approx(
        0, abs=0.01
    )
    front, inside = (surfaces["false-front"].height(*(np.array(GREEN) + a * unit)) for a in (-21.0, -14.0))
    assert 100.0 * float(inside - front) / 7.0 == pytest.approx(7.0, abs=0.5)


def test_surveyed_ground_stays_as_it_is(folder: Path) -> None:
    _, site = laid(folder, "diagonal", "screen", "tiers")
    assert np.allclose(site.ground.surface().z, bare_ground.heights(), atol=1e-4)


@pytest.mark.parametrize(
    ("forms", "figures", "message"),
    [
        (("punch",), {}, "there is no form 'punch'; there are diagonal, central"),
        ((), {}, "name a form"),
        (
            ("diagonal",),
            {"screen.rise_m": 2},
            "no figure 'screen.rise_m' of these forms; there are diagonal.carry",
        ),
        (("diagonal",), {"diagonal.angle_deg": 5}, "diagonal.angle_deg is 5; it should be 20 to 70 deg"),
        (("diagonal",), {"diagonal.side": 0.5}, "diagonal.side is 0.5; it should be -1 or 0 or 1"),
        (("dogleg",), {"dogleg.angle_deg": 5}, "is 5; it should be -70 to -10 or 10 to 70 deg"),
        (
            ("dogleg", "split"),
            {},
            "split lies from 150 to 272 m from the back tee and the line of play turns",
        ),
        (
            ("island", "dogleg"),
            {},
            "island lies from 181 to 249 m from the back tee and the line of play turns",
        ),
        (("dogleg", "cape"), {}, "dogleg and cape each lay the line of play; choose one"),
        (("punchbowl", "tiers", "plateau"), {}, "punchbowl and plateau each lay the lie of the green"),
    ],
)
def test_forms_that_cannot_be_laid(folder: Path, forms, figures, message) -> None:
    with pytest.raises(InputError, match=message):
        gt.lay_hole(folder / "no.gpkg", folder / "links_ground.tif", TEE, GREEN, forms, parameters=figures)
    assert not (folder / "no.gpkg").exists()


@pytest.mark.parametrize(
    ("tee", "green", "message"),
    [
        (TEE, (400150.0, 600700.0), "part of it lies where the terrain has no heights"),
        ((float("nan"), 600050.0), GREEN, "one of them is no number"),
        (TEE, (400150.0, 600150.0), "are 100 m apart; a hole with landing zones has 180 m at least"),
    ],
)
def test_places_that_cannot_be(folder: Path, tee, green, message) -> None:
    with pytest.raises(InputError, match=message):
        gt.lay_hole(folder / "no.gpkg", folder / "links_ground.tif", tee, green)


def test_terrain_that_cannot_be_used(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        gt.lay_hole(tmp_path / "no.gpkg", tmp_path / "nothing.tif", TEE, GREEN)
    with rasterio.open(
        tmp_path / "feet.tif",
        "w",
        driver="GTiff",
        height=9,
        width=9,
        count=1,
        dtype="float32",
        crs="EPSG:2263",
        transform=from_origin(0, 9, 1, 1),
    ) as raster:
        raster.write(np.zeros((9, 9), "float32"), 1)
    with pytest.raises(InputError, match="in a CRS in metres"):
        gt.lay_hole(tmp_path / "no.gpkg", tmp_path / "feet.tif", TEE, GREEN)
    existing, _ = laid(folder, "diagonal")
    before = existing.path.read_bytes()
    with pytest.raises(InputError, match="already there"):
        gt.lay_hole(existing.path, folder / "links_ground.tif", TEE, GREEN)
    assert existing.path.read_bytes() == before


def test_a_steep_site_is_told(tmp_path: Path) -> None:
    """On ground that falls 1 in 5 across the line a platform of the green stands high on one side."""
    z = 50.0 - 0.2 * np.broadcast_to(np.arange(300.0), (520, 300))
    with rasterio.open(
        tmp_path / "steep.tif",
        "w",
        driver="GTiff",
        height=520,
        width=300,
        count=1,
        dtype="float32",
        crs="EPSG:27700",
        transform=from_origin(400000.0, 600500.0, 1.0, 1.0),
    ) as raster:
        raster.write(z.astype("float32"), 1)
    hole = gt.lay_hole(tmp_path / "steep.gpkg", tmp_path / "steep.tif", TEE, (400150.0, 600390.0))
    assert any(
        "The green is cut into or raised above sloping ground by up to 2.4 m" in r for r in hole.remarks
    )


def test_declared_defaults_lie_in_their_ranges() -> None:
    for recipe in FORMS.values():
        for p in recipe.parameters.values():
            assert p.holds(p.default) and p.text
    both = Parameter(30.0, -70.0, 70.0, "deg", "a bend", 10.0)
    assert both.range == "-70 to -10 or 10 to 70 deg"
    assert [both.holds(v) for v in (-71, -70, -9, 0, 10, 70)] == [False, True, False, False, True, True]
