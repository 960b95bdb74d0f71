"""The figures of the page are those of the layers, and nothing in a name can get out of its place."""

from __future__ import annotations

import base64
import io
import json
import math
import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib import image
from shapely.geometry import LineString, Point, Polygon, box

from gistools.base.values import json_value
from gistools.compute.terrain.surface import Surface
from gistools.sheets.frame import Frame, along, svg_path
from gistools.sheets.page import page
from gistools.sheets.payload import choices, embedded, keys_of, landings, payload
from gistools.sheets.plan import draw
from gistools.sheets.rasters import coloured, hillshade, relief
from gistools.sheets.results import HoleResults
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import find


def pixels(src: str) -> np.ndarray:
    head, body = src.split(",")
    assert head == "data:image/png;base64"
    return np.asarray(image.imread(io.BytesIO(base64.b64decode(body)), format="png"))


def test_play_runs_rightwards_with_its_right_side_down() -> None:
    frame = along(LineString([(100, 200), (100, 500)]))  # due north
    assert np.allclose(frame.page(100, 260), (60, 0))
    assert np.allclose(frame.page(130, 200), (0, 30))  # east is right of play
    assert np.allclose(frame.north_on_page, (1, 0))
    east = along(LineString([(0, 0), (50, 0)]))
    assert np.allclose(east.page(0, -10), (0, 10))  # south is right of play
    assert np.allclose(east.north_on_page, (0, -1))


@given(st.floats(0, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_image_transform_agrees_with_the_frame(bearing: float, east: float, south: float) -> None:
    frame = Frame(1000.0, 2000.0, bearing)
    a, b, c, d, e, f = (float(v) for v in frame.matrix(900.0, 2100.0)[7:-1].split())
    x, y = frame.page(900.0 + east, 2100.0 - south)
    assert math.isclose(a * east + c * south + e, x, abs_tol=0.01)
    assert math.isclose(b * east + d * south + f, y, abs_tol=0.01)


@given(st.floats(0, 360))
def test_the_frame_keeps_distances(bearing: float) -> None:
    shape = Frame(3.0, 4.0, bearing).turn(box(0, 0, 30, 40))
    assert math.isclose(shape.area, 1200) and math.isclose(shape.length, 140)


def test_rings_become_closed_paths_and_points_none() -> None:
    assert svg_path(LineString([(0, 0), (0.04, 0.01), (10.26, -3)])) == "M0,0 10.3,-3"
    ring = Polygon([(0, 0), (4, 0), (4, 4)], [[(3, 1), (3, 2), (3.5, 2)]])
    assert svg_path(ring).count("Z") == 2
    assert svg_path(Point(1, 1)) == "" and svg_path(None) == ""


@given(st.text())
def test_embedded_names_stay_in_the_script_element(name: str) -> None:
    text = embedded({"name": f"</script><!--{name}"})
    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == {"name": f"</script><!--{name}"}


def test_plain_values_keep_the_figure() -> None:
    assert (
        json_value(np.float64(202.80004), 4) == 202.8
        and json_value(np.nan) is None
        and json_value(np.inf) is None
    )
    assert json_value(np.bool_(True)) is True and json_value(np.int64(4)) == 4 and json_value("a") == "a"


def test_figures_equal_those_of_the_layers(straight_site: Site, results: HoleResults) -> None:
    output = payload(straight_site, results, draw(straight_site, 1, results))
    for layer in ("carries", "where_to_play", "setback_conflicts"):
        table = output["tables"][layer]
        result = results.tables[layer]
        for j, column in enumerate(c["name"] for c in table["columns"] if c["name"] != "reading_yd"):
            shown = [row[j] for row in table["rows"]]
            assert shown == [json_value(v, 4) for v in result[column]], (layer, column)
    widths = output["widths"][0]
    assert (
        widths["left"] == [20.0, 19.5, 20.0]
        and widths["told"]["narrow"] == 39.5
        and widths["told"]["narrow_at"] == 130.0
    )
    assert output["choices"] == choices(straight_site, results)
    assert output["choices"]["pin"] == ["front", "back"]


def test_players_to_choose_are_those_studied(straight_site: Site, results: HoleResults) -> None:
    results.tables["landing_widths"] = results.tables["where_to_play"].head(1).assign(player="senior", pin="")
    assert choices(straight_site, results)["player"] == ["scratch man", "bogey man"]
    assert choices(straight_site, results)["pin"] == ["front", "back"]
    winds = results.tables["where_to_play"].assign(wind=["west", "calm"] * 4)
    results.tables["where_to_play"] = winds
    assert choices(straight_site, results)["wind"] == ["west", "calm"]  # as studied, the prevailing one first
    del results.tables["where_to_play"]
    assert choices(straight_site, results)["player"] == ["senior"]


def test_maps_show_high_values_light_and_gaps_clear(results: HoleResults) -> None:
    raster = results.maps[0]
    rgba = pixels(coloured(raster, Frame(0, 0, 0), 0, 100).src)
    assert rgba.shape == (60, 40, 4)
    assert (rgba[..., 3] > 0).tolist() == np.isfinite(raster.values).tolist()
    light = rgba[..., :3].mean(axis=2)
    assert light[49, 20] > light[25, 20] > light[5, 20]
    turned = pixels(coloured(raster, Frame(0, 0, 0), 0, 100, reverse=True).src)
    assert turned[49, 20, :3].mean() < turned[5, 20, :3].mean()


def test_relief_is_dark_on_the_side_away_from_the_light() -> None:
    x = np.arange(80.0)
    ridge = Surface(np.tile(-np.abs(x - 40), (80, 1)) * 0.3, 0, 80, 1)
    rgba = pixels(relief(ridge, Frame(0, 0, 0)).src)
    west, east = rgba[40, 20], rgba[40, 60]  # light comes from the north-west
    assert east[0] < 0.5 and east[3] > west[3] * (west[0] < 0.5)


@pytest.mark.parametrize("bearing", [0.0, 135.0, 250.0])
def test_the_light_comes_from_the_upper_left_of_the_page(bearing: float) -> None:
    """A slope that faces the upper left is lit, one that faces away is dark, however play runs."""
    frame = Frame(0.0, 0.0, bearing)
    x, y = frame.page(np.arange(40.0)[None, :], 40.0 - np.arange(40.0)[:, None])
    facing, away = (pixels(relief(Surface(s * 0.2 * (x + y), 0, 40, 1), frame).src) for s in (1.0, -1.0))
    middle = hillshade(Surface(np.zeros((3, 3)), 0, 3, 1))[1, 1]
    sun = bearing - 135.0
    light = [hillshade(Surface(s * 0.2 * (x + y), 0, 40, 1), from_deg=sun)[20, 20] for s in (1.0, -1.0)]
    assert light[0] > middle > light[1]
    assert facing.shape == away.shape
    turned = hillshade(Surface(0.2 * (y - x), 0, 40, 1), from_deg=bearing - 45.0)[20, 20]
    assert turned > middle  # play up the page: the upper left is what lies left of play and ahead


def test_large_maps_are_thinned() -> None:
    raster = Map("m", np.ones((2000, 900), np.float32), 0, 0, 0.5, "", "")
    picture = coloured(raster, Frame(0, 0, 0), 0, 1)
    assert max(pixels(picture.src).shape) <= 420
    assert abs(picture.height - 1000) < 3


def test_plan_names_are_text(straight_site: Site, results: HoleResults) -> None:
    bunkers = straight_site.layer("bunkers").assign(name="<script>1</script>\"'&")
    plan = draw(straight_site.replace(bunkers=bunkers), 1, results)
    drawn = page(straight_site.replace(bunkers=bunkers), results, plan)
    assert "&lt;script&gt;1&lt;/script&gt;" in drawn and drawn.count("<script") == 2  # the page's own
    assert re.search(r'class="g-burns"', drawn)


def test_a_map_is_known_by_its_keys_and_not_by_its_name() -> None:
    """A name loses accents and case; the hole location `Überhang` is told by what the map carries."""
    raster = Map(
        "flag_view_h1_x", np.ones((2, 2), np.float32), 0, 0, 1.0, "pct", "", {"hole": 1, "pin": "Überhang"}
    )
    assert keys_of(raster) == {"pin": "Überhang"}


def test_landing_areas_and_misses_belong_to_their_card() -> None:
    """Of the two best zones: its own areas, and its misses where they lie on the page."""
    keys = [
        {"tee": "back", "player": "one", "wind": "calm", "shot_number": 1, "from_zone": "", "pin": "left"}
        | {"zone": zone}
        for zone in ("a", "b", "c")
    ]
    ranks = {"a": 2, "b": 1, "c": 3}
    results = HoleResults(1)
    results.tables["where_to_play"] = pd.DataFrame([k | {"rank": ranks[k["zone"]]} for k in keys])
    results.tables["landing_areas"] = pd.DataFrame(
        [
            k | {"landing_result": words, "geometry": box(10 * n, 0, 10 * n + 8, size)}
            for n, k in enumerate(keys)
            for words, size in (("holds the green", 9), ("feeds to the pin", 4))
        ]
    )
    miss = {"miss_quarter": "short", "miss_verdict": "dead", "miss_pct": 12.4, "geometry": Point(30, 260)}
    results.tables["misses"] = pd.DataFrame([keys[1] | miss])
    frame = along(LineString([(0, 200), (0, 500)]))  # due north
    first, second = landings(results, frame)
    assert [first["row"], second["row"]] == [0, 1] and first["misses"] == []
    assert second["misses"] == [{"at": [60.0, 30.0], "quarter": "short", "verdict": "dead", "pct": 12}]
    assert first["feeds"] == svg_path(frame.turn(box(0, 0, 8, 4)))
    assert second["holds"] == svg_path(frame.turn(box(10, 0, 18, 9)))


def test_shares_of_players_stand_side_by_side(straight_site: Site, results: HoleResults) -> None:
    """One row for each demand, a column for each player; a row that a player lacks is empty there."""
    rows = [
        ("back", "scratch man", "calm", "carry", "Burn", 80.0),
        ("back", "bogey man", "calm", "carry", "Burn", 30.0),
        ("back", "scratch man", "calm", "reach", None, 55.0),
    ]
    alone = HoleResults(1)
    table_ = pd.DataFrame(rows, columns=["tee", "player", "wind", "demand", "feature", "share_pct"])
    alone.add(find("playability"), table_.assign(hole=1))
    shown = payload(straight_site, alone, draw(straight_site, 1, results))["tables"]["playability"]
    names_ = [c["name"] for c in shown["columns"]]
    assert names_ == ["tee", "wind", "demand", "feature", "scratch man", "bogey man"]
    assert shown["show"] == names_[2:] and shown["columns"][-1]["shown"] == "%"
    assert [row[2:] for row in shown["rows"]] == [["carry", "Burn", 80.0, 30.0], ["reach", None, 55.0, None]]
