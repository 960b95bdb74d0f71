"""Settings: named once, given in three places, used alike by every step."""

from __future__ import annotations

import sqlite3

import geopandas as gpd
import pandas as pd
import pytest
from click.testing import CliRunner
from shapely.geometry import Point, box

import gistools as gt
from gistools.base import renamed
from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError, SiteError
from gistools.base.settings import REPLACED, SETTINGS, checked_settings, default, parse_assignments
from gistools.base.units import suffix_ok
from gistools.cli.main import main
from gistools.compute.layout import carries, setbacks, zones
from gistools.hole import HoleModel
from gistools.sheets.results import collect_results
from gistools.site.model import Site
from gistools.site.provenance import records, still_holds
from gistools.steps.catalogue import STEPS, find
from tests.conftest import plane, straight_tables


def site_of(**more) -> Site:
    return Site.from_tables({**straight_tables(), **more}, 27700, plane())


def rows(*given: tuple[str, object, int | None]) -> pd.DataFrame:
    return pd.DataFrame(given, columns=["name", "value", "hole"])


def file_of(path, **more):
    """The straight hole as a GeoPackage without terrain."""
    for name, table in {**straight_tables(), **more}.items():
        if isinstance(table, gpd.GeoDataFrame):
            table.set_crs(27700).to_file(path, layer=name, driver="GPKG")
    return path


def test_the_registry_is_sound():
    for name, setting in SETTINGS.items():
        assert setting.name == name and setting.text and setting.scope in ("hole", "site")
        assert setting.value(setting.default) == setting.default
        assert suffix_ok(name, setting.unit), name
        assert bool(setting.choices) != (setting.low is not None)


def test_order_setting_is_a_list_or_text_with_commas(tmp_path):
    setting = {"level_order": "feeds, flag_seen"}
    assert checked_settings({"level_order": ["feeds", "flag_seen"]}) == setting
    assert parse_assignments(("level_order=Feeds,flag_seen",)) == setting
    assert (
        site_of(settings=rows(("level_order", "feeds,  flag_seen", None))).setting("level_order")
        == (setting["level_order"])
    )
    with pytest.raises(SiteError, match="table settings, row 1: the setting level_order is 'luck'"):
        site_of(settings=rows(("level_order", "luck", None)).assign(fid=1)).setting("level_order")
    path, run = file_of(tmp_path / "a.gpkg"), CliRunner().invoke
    refused = run(main, ["lengths", str(path), "--set", "level_order=luck"])
    assert refused.exit_code == 2 and "one or more of flag_seen, forced_carry" in refused.output
    done = run(main, ["lengths", str(path), "--set", "level_order=feeds,flag_seen"])
    assert done.exit_code == 0, done.output
    assert records(path)["study_lengths"][-1]["settings"]["level_order"] == setting["level_order"]
    listing = run(main, ["settings", str(path)]).output
    assert "level_order = flag_seen, forced_carry" in listing and "(in order: flag_seen" in listing


def test_an_option_that_a_setting_replaced_is_gone_and_named():
    for old, new in REPLACED.items():
        step, _, option = old.partition(".")
        assert step in STEPS and option not in {c.name for c in find(step).choices}, old
        with pytest.raises(InputError, match=f"{option} is the setting {new} now"):
            gt.run(step, site_of(), **{option: default(new)})


def test_old_options_and_settings_are_refused_naming_the_new():
    for old, new in renamed.OPTIONS.items():
        step, _, option = old.partition(".")
        names = {c.name for c in find(step).choices}
        assert new in names and option not in names, old
        with pytest.raises(InputError, match=f"{option} is called {new} now"):
            gt.run(step, site_of(), **{option: 1})
    for old, new in renamed.SETTINGS.items():
        assert new in SETTINGS
        with pytest.raises(InputError, match=f"{old} is called {new} now"):
            checked_settings({old: 1})


def test_no_default_stands_twice():
    for field, value in vars(setbacks.Choices()).items():
        assert value == default(f"setback_{field}")
    assert carries.Choices().minimum_landing_m == default("carry_minimum_landing_m")
    assert zones.Choices().gate_share == default("zone_gate_pct") / 100


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"zone_clearance": 3}, "did you mean 'zone_clearance_m'"),
        ({"zone_clearance_m": 99}, "from 0 to 30 m"),
        ({"zone_clearance_m": "wide"}, "should be a number"),
        ({"zone_clearance_m": True}, "should be a number"),
        ({"zone_clearance_m": float("nan")}, "should be a number"),
        ({"carry_rays_count": 21.5}, "whole number"),
        ({"firmness": "concrete"}, "soft, normal, firm"),
        ({"firmness:0": "soft"}, "should name a setting and a hole"),
        ({"firmness:x": "soft"}, "should name a setting and a hole"),
        ({"eye_m:1": 1.5}, "one for the whole site"),
    ],
)
def test_what_cannot_be_is_refused(given, message):
    for refuse in (
        checked_settings,
        site_of().with_settings,
        lambda g: gt.open_site("none.gpkg", settings=g),
    ):
        with pytest.raises(InputError, match=message):
            refuse(given)


def test_assignments_are_read_in_their_types():
    assert parse_assignments(("stimp_ft=11", "firmness:3 = firm", "carry_rays_count=9")) == {
        "stimp_ft": 11.0,
        "firmness:3": "firm",
        "carry_rays_count": 9,
    }
    with pytest.raises(InputError, match="a setting and its value"):
        parse_assignments(("stimp_ft",))


def test_order_of_settings_given_survey_table_default():
    tables = straight_tables()
    tables["greens"] = tables["greens"].drop(columns="stimp_ft")
    bare = Site.from_tables(tables, 27700, plane())
    assert HoleModel(bare, 1).stimp_ft == 10.0
    listed = Site.from_tables({**tables, "settings": rows(("stimp_ft", "9", None))}, 27700, plane())
    assert HoleModel(listed, 1).stimp_ft == 9.0
    by_hole = rows(("stimp_ft", 9, None), ("stimp_ft", "8.5", 1))
    listed = Site.from_tables({**tables, "settings": by_hole}, 27700, plane())
    assert HoleModel(listed, 1).stimp_ft == 8.5 and listed.setting("stimp_ft", 2) == 9.0
    drawn = site_of(settings=by_hole)
    assert HoleModel(drawn, 1).stimp_ft == 10.0
    assert HoleModel(drawn.with_settings(stimp_ft=12), 1).stimp_ft == 12.0
    both = drawn.with_settings({"stimp_ft": 12, "stimp_ft:1": 13})
    assert HoleModel(both, 1).stimp_ft == 13.0


def test_the_survey_says_how_firm_fairway_and_green_are():
    tables = straight_tables()
    tables["greens"]["firmness"] = "soft"
    tables["fairway"]["firmness"] = "firm"
    site = Site.from_tables(tables, 27700, plane())
    hole, simple = HoleModel(site, 1), HoleModel(site_of(), 1)
    assert (hole.firmness("fairway"), hole.firmness("greens")) == ("firm", "soft")
    firm, soft = (
        HoleModel(site_of().with_settings(firmness=f), 1).ground.land.turf for f in ("firm", "soft")
    )
    mixed, normal = hole.ground.land.turf, simple.ground.land.turf
    green, fairway = Kind.GREEN, Kind.FAIRWAY
    assert (mixed[green] == soft[green]).all() and (mixed[fairway] == firm[fairway]).all()
    assert (mixed[green] != normal[green]).any() and (mixed[fairway] != normal[fairway]).any()


def test_a_zone_limit_reaches_every_step_and_the_page():
    """D2: a fairway divided at 50 m instead of 160 m has more zones, and every step has the same ones."""
    site = site_of().with_settings(zone_longest_m=50)
    usual = set(gt.zones(site_of(), hole=1).zones["zone"])
    names = set(gt.zones(site, hole=1).zones["zone"])
    assert len(names) > len(usual)
    case = {"hole": 1, "players": ("scratch man",), "winds": ("calm",)}
    assert set(gt.slopes(site, hole=1).slopes["zone"]) == names
    assert set(gt.flag_views(site, hole=1).zone_views["zone"]) == names
    assert set(gt.effective_carries(site, **case).effective_zone_carries["zone"]) == names
    page = collect_results(site, 1, ("zones", "flag_views"))
    assert set(page.table("zones")["zone"]) == names == set(page.table("zone_views")["zone"])
    assert [z.zone for z in HoleModel(site, 1).zones] == list(gt.zones(site, hole=1).zones["zone"])


@pytest.mark.slow
def test_a_zone_limit_reaches_approaches_and_positions():
    site = Site.from_tables(straight_tables(), 27700, plane(cell=2.0)).with_settings(zone_longest_m=60)
    case = {"hole": 1, "players": ("scratch man",), "winds": ("calm",)}
    names = set(gt.zones(site, hole=1).zones["zone"])
    assert set(gt.approaches(site, **case)["zone"]) == names
    assert set(gt.positions(site, **case).positions["zone"]) <= names
    assert len(set(gt.positions(site, **case).positions["zone"])) > 2


def test_a_stored_result_holds_the_settings(tmp_path):
    site = gt.open_site(file_of(tmp_path / "a.gpkg"), settings={"firmness": "firm", "zone_longest_m:1": 120})
    path = site.write(gt.zones(site))
    stored = records(path)["study_zones"][-1]
    assert stored["settings"]["firmness"] == "firm" and stored["settings"]["zone_longest_m:1"] == 120.0
    assert set(SETTINGS) <= set(stored["settings"])
    assert still_holds(site, stored) and not still_holds(site.with_settings(firmness="soft"), stored)
    table = site_of(settings=rows(("zone_longest_m", 120, 1), ("firmness", "soft", 1)))
    used = table.with_settings(firmness="firm").settings_used
    assert used["firmness"] == "firm" and "firmness:1" not in used and used["zone_longest_m:1"] == 120.0


def test_rows_of_the_table_that_cannot_be_used_stop_every_step(tmp_path):
    path = file_of(tmp_path / "a.gpkg")
    with sqlite3.connect(path) as link:
        link.execute("CREATE TABLE settings (fid INTEGER PRIMARY KEY, name TEXT, value TEXT, hole INTEGER)")
        link.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES ('settings',"
            " 'attributes', 's')"
        )
        for row in (("zone_longest", "120", None), ("eye_m", "1.5", 1), ("zone_least_m2", "9", None)):
            link.execute("INSERT INTO settings (name, value, hole) VALUES (?, ?, ?)", row)
        link.execute("INSERT INTO settings (name, value) VALUES ('zone_least_m2', '8')")
    text = " ".join(f.message for f in gt.check(path) if f.layer == "settings")
    assert "did you mean 'zone_longest_m'" in text and "whole site" in text and "twice" in text
    with pytest.raises(SiteError, match="zone_longest"):
        gt.lines_of_play(gt.open_site(path))
    with sqlite3.connect(path) as link:
        link.execute("DELETE FROM settings")
        link.execute("INSERT INTO settings (name, value) VALUES ('zone_longest_m', '50')")
    link.close()
    site = gt.open_site(path)
    assert site.setting("zone_longest_m") == 50.0
    assert len(gt.zones(site).zones) > len(gt.zones(site.with_settings(zone_longest_m=300)).zones)
    assert gt.open_site(path, settings={"zone_longest_m": 70}).setting("zone_longest_m") == 70.0


def test_a_row_of_a_site_in_memory_that_cannot_be_used_is_named():
    with pytest.raises(SiteError, match="table settings, row 1: there is no setting 'speed'"):
        gt.zones(site_of(settings=rows(("speed", 1, None))))


def test_every_command_on_a_site_takes_settings(tmp_path):
    path, run = file_of(tmp_path / "a.gpkg"), CliRunner().invoke
    for name in ("check", "study", "handoff", "sheet", "compare", *STEPS):
        assert "--set NAME=VALUE" in run(main, [name, "--help"]).output, name
    output = run(main, ["zones", str(path), "--show-only", "--json", "--set", "zone_longest_m=50"])
    assert output.exit_code == 0, output.output
    assert "middle" in output.output or output.output.count('"zone"') > 4
    gone = run(main, ["zones", str(path), "--show-only", "--longest-m", "50"])
    assert gone.exit_code == 2 and "setting zone_longest_m" in gone.output
    odd = run(main, ["zones", str(path), "--set", "zone_long_m=50"])
    assert odd.exit_code == 2 and "did you mean" in odd.output
    listing = run(main, ["settings"]).output
    assert all(name in listing for name in SETTINGS)


def test_a_setting_of_one_hole_leaves_the_others(straight_site):
    north = straight_tables()
    for name, table in straight_tables().items():
        if "hole" in table:
            moved = table.copy()
            moved["hole"] = 2
            moved.geometry = moved.geometry.translate(70, 0)
            north[name] = pd.concat([table, moved], ignore_index=True)
    site = Site.from_tables(north, 27700).with_settings({"zone_longest_m:2": 50})
    one, two = ({z.zone for z in HoleModel(site, n).zones} for n in (1, 2))
    assert len(two) > len(one)


def test_temperature_reaches_the_air_of_shots():
    cold, warm = (HoleModel(site_of().with_settings(temperature_c=t), 1) for t in (0, 30))
    assert cold.tee_ground.weather.density > warm.tee_ground.weather.density
    assert cold.ground.weather.temperature_c == 0.0


def test_a_hole_without_pins_has_the_centre_of_its_green():
    tables = straight_tables()
    del tables["pins"]
    hole = HoleModel(Site.from_tables(tables, 27700, plane()), 1)
    (pin,) = hole.pins
    assert (pin.name, pin.fid) == ("centre", None)
    assert pin.place.distance(Point(0, 340)) < 1e-9 and hole.ground.pins == ("centre",)
    assert hole.ground.target.sum() == pytest.approx(box(0, 0, 1, 1).area * 3.14159 * 14**2, rel=0.01)
