"""A study goes on where a feature, a hole or a step fails, and names what is missing."""

from __future__ import annotations

import json

import geopandas as gpd
import pytest
from shapely.affinity import translate
from shapely.geometry import LineString, Point, box

import gistools as gt
from gistools.base.errors import GistoolsWarning, InputError, SiteError
from gistools.steps import study as study_module
from gistools.steps.gaps import Gap, gap_lines

CHEAP = ("lines_of_play", "lengths", "carries", "corridors", "zones", "setbacks")


def layer(shapes, **fields):
    return gpd.GeoDataFrame(fields, geometry=shapes)


@pytest.fixture
def two_holes(make_survey, kit):
    """Make a site of the straight hole twice, 90 m apart, with some layers changed."""

    def make(file="site.gpkg", **changes):
        tables = kit.survey_tables()
        for name in ("tees", "fairway", "greens", "pins"):
            rows = tables[name]
            second = rows.assign(hole=2, geometry=[translate(g, 90, 0) for g in rows.geometry])
            tables[name] = gpd.GeoDataFrame(
                {c: [*rows[c], *second[c]] for c in rows.columns if c != "geometry"},
                geometry=[*rows.geometry, *second.geometry],
            )
        tables["boundary"] = None
        return make_survey(file, **{**tables, **changes}, ground=kit.level_ground())

    return make


def test_a_hole_in_error_does_not_cost_the_others(two_holes):
    """The pin of hole 2 lies off its green: steps that read pins go on for hole 1."""
    sound = gt.study(gt.open_site(two_holes()), only=CHEAP, write=False)
    assert sound.missing == [] and sound.as_dict()["complete"]
    pins = layer([Point(0, 332), Point(90, 300)], hole=[1, 2], pin=["front", "front"])
    site = gt.open_site(two_holes("pins.gpkg", pins=pins))
    done = gt.study(site, only=("lengths", "zones", "slopes"), write=False)
    assert {(gap.step, gap.hole) for gap in done.missing} == {("zones", 2), ("slopes", 2)} or {
        (gap.step, gap.hole) for gap in done.missing
    } == {("slopes", 2)}
    assert all("pins 2" in gap.reason and "off the green" in gap.reason for gap in done.missing)
    assert set(done.table("green_slopes")["hole"]) == {1}
    assert set(done.table("lengths")["hole"]) == {1, 2}
    assert "Missing from this study:" in done.summary() and "hole 2" in done.summary()


def test_the_results_that_are_left_are_the_same_figures(two_holes):
    tees = layer([box(-4, -3, 4, 3)], hole=[1], tee=["back"])
    whole = gt.study(gt.open_site(two_holes()), only=CHEAP, write=False)
    site = gt.open_site(two_holes("tees.gpkg", tees=tees))
    with pytest.warns(GistoolsWarning, match="hole 2 is left out of clear distances"):
        part = gt.study(site, only=CHEAP, write=False)
    assert {gap.hole for gap in part.missing} == {2}
    for name in ("lengths", "carries", "zones"):
        before, after = whole.table(name), part.table(name)
        first = before[before["hole"] == 1].reset_index(drop=True)
        assert after.drop(columns="geometry", errors="ignore").equals(
            first.drop(columns="geometry", errors="ignore")
        ), name


def test_without_pins_the_centre_of_the_green_is_studied(make_survey, kit):
    site = gt.open_site(make_survey(pins=None, ground=kit.level_ground()))
    done = gt.study(site, only=("lengths", "slopes", "flag_views"), write=False)
    assert done.missing == []
    assert set(done.table("flag_views")["pin"]) == {"centre"}


def test_a_line_of_play_in_error_stops_what_is_measured_along_it(make_survey, kit):
    """A thousand kilometres away: setting-out was stationed along it, 50,000 points in half a minute."""
    far = layer([LineString([(0, 0), (1_000_000, 0)])], hole=[1], tee=["back"])
    site = gt.open_site(make_survey(play_lines=far, ground=kit.level_ground()))
    steps = ("lines_of_play", "carries", "effective_carries", "tee_shots", "setting_out", "strokes")
    done = gt.study(site, only=(*steps, "contours"), write=False)
    assert {gap.step for gap in done.missing} == set(steps)
    assert all("play_lines" in gap.reason and not gap.fault for gap in done.missing)


def test_a_fault_of_the_program_is_named_and_the_rest_goes_on(two_holes, monkeypatch):
    real = study_module.function

    def broken(name):
        def fail(_site, **_options):
            raise RuntimeError("odd")

        return fail if name == "carries" else real(name)

    monkeypatch.setattr(study_module, "function", broken)
    done = gt.study(gt.open_site(two_holes()), only=("lengths", "carries"), write=False)
    assert [(g.step, g.hole, g.fault) for g in done.missing] == [("carries", None, True)]
    assert "RuntimeError: odd" in done.missing[0].reason
    assert json.loads(json.dumps(done.as_dict()))["missing"][0]["step"] == "carries"


def test_nothing_at_all_is_an_error(make_survey):
    site = gt.open_site(make_survey(greens=None))
    with pytest.raises(SiteError, match="`greens` is missing"):
        gt.study(site, only=("lengths", "carries"), write=False)


def test_raising_in_the_listener_stops_the_study(two_holes):
    def stop(_share, text):
        if text.startswith("carries"):
            raise InputError("enough")

    with pytest.raises(InputError, match="enough"):
        gt.study(gt.open_site(two_holes()), only=("lengths", "carries"), write=False, progress=stop)


def test_one_reason_is_one_line():
    gaps = [Gap("lengths", 2, "no tee"), Gap("carries", 2, "no tee"), Gap("carries", 3, "no tee")]
    assert gap_lines(gaps) == ["Missing from this study:", "  lengths, carries, holes 2, 3: no tee"]
    assert gap_lines([]) == []
