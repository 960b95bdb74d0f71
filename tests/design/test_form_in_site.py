"""A hole added to a site that is there: what was there stays, numbers, names, set-backs, spatial index."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from click.testing import CliRunner
from rasterio.transform import from_origin

import gistools as gt
from gistools.base.errors import InputError, WriteError
from gistools.cli.main import main
from gistools.site import add_rows
from gistools.site.schema import SURVEY_LAYERS, TABLES

TEE, GREEN = (420420.0, 660010.0), (420330.0, 660400.0)


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return gt.write_sample(tmp_path_factory.mktemp("site") / "merrowby.gpkg")


@pytest.fixture
def path(sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(sample, tmp_path / "merrowby.gpkg"))


def rows_of(path: Path) -> dict[str, list[tuple]]:
    """Every row of every survey table, as SQLite has it."""
    with closing(sqlite3.connect(path)) as link:
        names = {n for (n,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        return {
            name: link.execute(f'SELECT * FROM "{name}" ORDER BY rowid').fetchall()
            for name in (*SURVEY_LAYERS, *TABLES)
            if name in names
        }


def test_added_hole_alters_none_of_the_others(path: Path) -> None:
    before, names = rows_of(path), set(gt.carries(gt.open_site(path))["carries"]["feature"])
    first = gt.lay_hole(path, None, TEE, GREEN, ["cape"], parameters={"cape.angle_deg": -40.0})
    second = gt.lay_hole(path, None, (420440.0, 660100.0), (420300.0, 660480.0), ["diagonal", "screen"])
    assert (first.hole, second.hole) == (4, 5)
    after = rows_of(path)
    for table, rows in before.items():
        assert after[table][: len(rows)] == rows, table
    assert len(after["tees"]) == len(before["tees"]) + 4 and len(after["burns"]) == len(before["burns"]) + 1
    site = gt.open_site(path)
    assert site.holes == [1, 2, 3, 4, 5]
    assert not [f for f in gt.check(path) if f.level == "error"]
    again = gt.carries(site)["carries"]
    assert names <= set(again["feature"])  # results of the holes that were there keep their names
    assert set(again[again["hole"] == 5]["feature"]) >= {"burn"}
    assert site.layer("water", 4)["name"].tolist() == ["pond"]
    assert (gt.brief(site, hole=5)["result"] != "no answer").all()


def test_the_spatial_index_and_the_contents_know_the_new_rows(path: Path) -> None:
    gt.lay_hole(path, None, TEE, GREEN, ["central"])
    with closing(sqlite3.connect(path)) as link:
        for table in ("tees", "greens", "fairway", "shapes", "bunkers", "pins", "play_lines"):
            (count,) = link.execute(f"SELECT count(*) FROM {table}").fetchone()
            column = link.execute(
                "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?", (table,)
            ).fetchone()[0]
            assert link.execute(f'SELECT count(*) FROM "rtree_{table}_{column}"').fetchone() == (count,)
            known = link.execute(
                "SELECT feature_count FROM gpkg_ogr_contents WHERE table_name = ?", (table,)
            ).fetchone()
            assert known == (count,)
        tee = link.execute("SELECT max(rowid) FROM tees").fetchone()[0] - 1
        west, east = link.execute("SELECT minx, maxx FROM rtree_tees_geom WHERE id = ?", (tee,)).fetchone()
        low, high = link.execute(
            "SELECT min_y, max_y FROM gpkg_contents WHERE table_name = 'tees'"
        ).fetchone()
        assert link.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    outline = gt.open_site(path).layer("tees", 4).geometry.iloc[0]
    assert (west, east) == pytest.approx((outline.bounds[0], outline.bounds[2]), abs=0.1)
    assert low == pytest.approx(outline.bounds[1]) and high > low


def test_existing_hole_and_wrong_file_are_refused(path: Path, tmp_path: Path) -> None:
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    with pytest.raises(InputError, match="hole 2 is there already and is not altered"):
        gt.lay_hole(path, None, TEE, GREEN, ["central"], hole=2)
    with pytest.raises(InputError, match="part of it lies where the terrain has no heights"):
        gt.lay_hole(path, None, TEE, (420330.0, 660700.0), ["central"])
    with pytest.raises(InputError, match="is not there; name a terrain"):
        gt.lay_hole(tmp_path / "no.gpkg", None, TEE, GREEN, ["central"])
    assert hashlib.sha256(path.read_bytes()).hexdigest() == digest
    hole = gt.lay_hole(path, None, TEE, GREEN, ["central"], hole=7)
    assert hole.hole == 7 and gt.open_site(path).holes == [1, 2, 3, 7]
    assert gt.lay_hole(path, None, (420440.0, 660100.0), (420300.0, 660480.0)).hole == 4


def test_a_trigger_that_would_alter_the_survey_stops_it_all(path: Path) -> None:
    with closing(sqlite3.connect(path)) as link, link:
        link.execute(
            "CREATE TRIGGER t AFTER INSERT ON tees BEGIN UPDATE tees SET tee = 'x' WHERE fid = 1; END"
        )
    before = rows_of(path)
    with pytest.raises(WriteError, match="rows that were there would have changed; nothing was written"):
        gt.lay_hole(path, None, TEE, GREEN, ["central"])
    assert rows_of(path) == before


def test_fields_and_layers_that_are_missing_are_made(path: Path) -> None:
    with closing(sqlite3.connect(path)) as link, link:
        link.execute("ALTER TABLE shapes DROP COLUMN fall_to_deg")
    before = gt.open_site(path).layer("shapes")
    gt.lay_hole(path, None, TEE, GREEN, ["split"])
    site = gt.open_site(path)
    assert set(site.layer("zones")["zone"]) == {"upper", "lower"}  # the sample has no layer of zones
    green = site.layer("shapes").set_index("name").loc["green"]
    bearing = np.degrees(np.arctan2(GREEN[0] - TEE[0], GREEN[1] - TEE[1])) % 360
    assert green["fall_to_deg"] == pytest.approx((bearing + 180) % 360)
    assert site.layer("shapes")["name"].tolist()[: len(before)] == before["name"].tolist()


def test_set_backs_of_the_new_hole_are_read_in_words(tmp_path: Path) -> None:
    """Two parallel holes 50 m apart, on ground with a boundary 70 m beside the second."""
    terrain = tmp_path / "flat.tif"
    kind = {"driver": "GTiff", "height": 520, "width": 400, "count": 1, "dtype": "float32"}
    place = {"crs": "EPSG:27700", "transform": from_origin(400000.0, 600500.0, 1.0, 1.0)}
    with rasterio.open(terrain, "w", **kind, **place) as raster:
        raster.write(np.full((520, 400), 20.0, "float32"), 1)
    path = tmp_path / "two.gpkg"
    first = gt.lay_hole(path, terrain, (400100.0, 600050.0), (400100.0, 600390.0), ["central"])
    assert first.remarks[-1] == (
        "No boundary, path or house is drawn: set-backs from them cannot be judged yet."
    )
    second = gt.lay_hole(path, None, (400150.0, 600050.0), (400150.0, 600390.0), ["central"])
    said = "\n".join(second.remarks)
    assert "line of play to line of play: line of play, back to line of play, hole 1 50 m, 60 m asked" in said
    assert second.remarks[-1] == "Set-backs are guidance only; local codes and licensed practice decide."
    third = gt.lay_hole(path, None, (400290.0, 600050.0), (400290.0, 600390.0), ["central"])
    assert not any("line of play to line of play" in remark for remark in third.remarks)


def test_an_empty_site_in_feet_takes_a_hole(tmp_path: Path) -> None:
    """A US survey foot is 1200/3937 m: the line of play is as long as its ends are apart."""
    terrain = tmp_path / "ground.tif"
    kind = {"driver": "GTiff", "height": 500, "width": 300, "count": 1, "dtype": "float32"}
    place = {"crs": "EPSG:2263", "transform": from_origin(980000.0, 202000.0, 4.0, 4.0)}
    with rasterio.open(terrain, "w", **kind, **place) as raster:
        raster.write(np.full((500, 300), 60.0, "float32"), 1)
    path = gt.new_site(tmp_path / "feet.gpkg", "EPSG:2263", terrain=terrain)
    gt.lay_hole(path, None, (980600.0, 200200.0), (980600.0, 201400.0), ["diagonal", "screen"])
    site = gt.open_site(path)
    back = gt.lengths(site).set_index("tee").loc["back", "grid_m"]
    assert back == pytest.approx(1200.0 * 1200.0 / 3937.0, abs=0.1)
    assert gt.zones(site)["zones"].total_bounds[0] == pytest.approx(980600.0, abs=150.0)


def test_the_command_adds_a_hole(path: Path) -> None:
    words = ["form", str(path), "--tee", "420420,660010", "--green", "420330,660400", "--form", "dogleg"]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    assert done.exit_code == 0 and "hole 4: tees 2" in done.output and "--hole 4" in done.output
    assert "Caution: Set-back distances" in done.output


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a process of its own")
@pytest.mark.parametrize(
    ("moment", "after"), [("_tell_contents", False), ("commit", False), ("commit", True)]
)
def test_a_writer_that_is_killed_leaves_all_or_nothing(path: Path, monkeypatch, moment, after) -> None:
    """Killed when the first layer is in, before the commit, after it: the file is all old, old, all new."""
    before = rows_of(path)
    gt.open_site(path)
    child = os.fork()
    if child == 0:
        original = getattr(add_rows, moment)

        def kill(*args) -> None:
            if after:
                original(*args)
            os.kill(os.getpid(), signal.SIGKILL)

        monkeypatch.setattr(add_rows, moment, kill)
        gt.lay_hole(path, None, TEE, GREEN, ["central"])
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL
    assert gt.open_site(path).holes == ([1, 2, 3, 4] if after else [1, 2, 3])
    rows = rows_of(path)
    assert (rows != before) == after
    assert all(rows[table][: len(old)] == old for table, old in before.items())


def test_headers_of_new_geometries_and_their_levels(path: Path) -> None:
    """OGC 12-128r18, clause 2.1.3: the envelope is min x, max x, min y, max y; levels are the ground's."""
    with closing(sqlite3.connect(path)) as link:
        (last,) = link.execute("SELECT max(rowid) FROM pins").fetchone()
    with closing(sqlite3.connect(path)) as link, link:  # the layer of a surveyor who keeps levels
        link.execute("UPDATE gpkg_geometry_columns SET z = 1 WHERE table_name = 'pins'")
    gt.lay_hole(path, None, TEE, GREEN, ["central"])
    with closing(sqlite3.connect(path)) as link:
        added = link.execute("SELECT geom FROM pins WHERE rowid > ?", (last,)).fetchall()
        (tee,) = link.execute("SELECT geom FROM tees ORDER BY rowid DESC LIMIT 1").fetchone()
    ground = gt.open_site(path).surface()
    assert len(added) == 4
    for (blob,) in added:
        pin = shapely.from_wkb(blob[40:])
        assert pin.has_z and pin.z == pytest.approx(float(ground.height(pin.x, pin.y)))
    west, east, south, north = np.frombuffer(tee[8:40], "<f8")
    assert (west, south, east, north) == pytest.approx(shapely.from_wkb(tee[40:]).bounds)
    assert east - west < 60 and north - south < 60


def test_a_hole_lies_on_the_ground_that_other_holes_propose(sample: Path, path: Path) -> None:
    """A platform 3 m high is proposed where the new green will be: the green stands on it, not under it."""
    east, north = GREEN
    gt.lay_hole(path, None, TEE, GREEN, ["central"])
    alone = gt.proposed_site(gt.open_site(path)).surface(shapely.Point(GREEN).buffer(30).bounds)
    shutil.copy(sample, path)
    outline = shapely.Point(GREEN).buffer(40)
    shape = {"geometry": outline, "kind": "tier", "rise_m": 3.0, "side_slope_pct": 25.0, "blend_m": 1.0}
    add_rows.add_rows(gt.open_site(path), {"shapes": [shape | {"hole": 1, "name": "Terrace", "order": 50}]})
    second = gt.lay_hole(path, None, TEE, GREEN, ["central"])
    assert "The ground that other holes propose here is taken as it will be." in second.remarks
    assert any("lie over Terrace" in remark for remark in second.remarks)
    raised = gt.proposed_site(gt.open_site(path)).surface(shapely.Point(GREEN).buffer(30).bounds)
    rise = raised.height(east, north) - alone.height(east, north)
    assert rise == pytest.approx(3.0, abs=0.15)
    shapes = gt.open_site(path).layer("shapes")
    assert (shapes[shapes["hole"] == second.hole]["order"] > 50).all()
