"""Nothing that happens while results are written may cost the survey or leave half a result."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from gistools import WriteError, open_site
from gistools.site import _merge, _vector
from gistools.site import write as writer
from gistools.site.result_layers import read_result
from gistools.site.results import Map
from gistools.site.write import write

EAST, NORTH = 400_000.0, 300_000.0
posix = pytest.mark.skipif(os.name != "posix", reason="needs fork and POSIX limits")


def made(value=1.0, rows=50, layer="carries"):
    table = gpd.GeoDataFrame(
        {"hole": [1] * rows, "reach_m": [value] * rows},
        geometry=[Point(EAST + i, NORTH) for i in range(rows)],
        crs=27700,
    )
    table.attrs = {"layer": layer, "step": "", "options": {}}
    return table


def big_map(value=1.0, side=400):
    noise = np.random.default_rng(3).normal(value, 1.0, (side, side)).astype("f4")
    return Map("seen", noise, EAST, NORTH, 1.0, "m", "noise that does not compress")


def load_kill_test():
    path = Path(__file__).parents[2] / "scripts" / "bench" / "kill_test.py"
    spec = importlib.util.spec_from_file_location("kill_test", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@posix
def test_killed_writers_leave_all_old_or_all_new(survey):
    """The small form of scripts/bench/kill_test.py."""
    count = load_kill_test().run(survey, 9)
    assert sum(n for label, n in count.items() if "done" not in label) == 9
    assert any("old" in label for label in count)


def test_a_file_open_for_writing_elsewhere(survey, monkeypatch):
    site = open_site(survey)
    site.write(made(1.0))
    before = survey.read_bytes()
    monkeypatch.setattr(writer, "WAIT_S", 0.2)
    other = sqlite3.connect(survey, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(WriteError, match="open for writing in another program"):
        site.write(made(2.0))
    other.execute("ROLLBACK")
    other.close()
    assert survey.read_bytes() == before
    site.write(made(2.0))
    assert read_result(site, "carries")["reach_m"].iloc[0] == 2.0


def test_a_reader_in_the_way_is_waited_for(survey):
    site = open_site(survey)
    site.write(made(1.0))
    reader = sqlite3.connect(survey, isolation_level=None, check_same_thread=False)
    rows = reader.execute("SELECT reach_m FROM study_carries")
    assert rows.fetchone() == (1.0,)
    seen = []

    def finish():
        time.sleep(0.5)
        seen.extend(rows.fetchall())
        reader.close()

    thread = threading.Thread(target=finish)
    thread.start()
    site.write(made(2.0))
    thread.join()
    assert set(seen) == {(1.0,)}, "the reader kept its own state to the end"
    assert read_result(site, "carries")["reach_m"].unique().tolist() == [2.0]


def test_a_reader_that_never_finishes(survey, monkeypatch):
    site = open_site(survey)
    site.write(made(1.0))
    monkeypatch.setattr(writer, "WAIT_S", 0.2)
    reader = sqlite3.connect(survey, isolation_level=None)
    rows = reader.execute("SELECT reach_m FROM study_carries")
    rows.fetchone()
    before = survey.read_bytes()
    with pytest.raises(WriteError, match="another program"):
        site.write(made(2.0))
    rows.fetchall()
    reader.close()
    assert survey.read_bytes() == before


_READER = """
import sqlite3, sys, pathlib
path, stop = sys.argv[1], pathlib.Path(sys.argv[2])
seen, snapshots = set(), 0
print("ready", flush=True)
while not stop.exists():
    link = sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30, isolation_level=None)
    link.execute("BEGIN")
    found = set()
    for table in ("study_a", "study_b", "study_c"):
        found |= set(link.execute(f"SELECT DISTINCT reach_m FROM {table}"))
    found.add((len(link.execute("SELECT 1 FROM gpkg_contents WHERE table_name LIKE 'study%'").fetchall()),))
    link.execute("COMMIT")
    link.close()
    seen.add(tuple(sorted(x[0] for x in found)))
    snapshots += 1
print(snapshots, sorted(seen))
"""


def test_a_reader_sees_the_old_or_the_new_never_half(survey, tmp_path):
    """Another process reads all layers over and over while generations 10, 11, ... are written."""
    site = open_site(survey)
    site.write(made(10.0, layer="a"), made(10.0, layer="b"), made(10.0, layer="c"))
    stop = tmp_path / "stop"
    reader = subprocess.Popen(
        [sys.executable, "-S", "-c", _READER, str(survey), str(stop)], stdout=subprocess.PIPE, text=True
    )
    assert reader.stdout.readline() == "ready\n"
    for generation in range(11, 19):
        site.write(*(made(float(generation), layer=layer) for layer in "abc"))
    stop.touch()
    out, _ = reader.communicate(timeout=30)
    snapshots, seen = out.split(" ", 1)
    assert int(snapshots) >= 2
    for state in eval(seen):
        assert len(state) == 2, f"half a result was seen: {state}"
        assert state[0] == 3 and 10 <= state[1] <= 18


def test_a_read_only_file(survey, tmp_path):
    site = open_site(survey)
    survey.chmod(0o444)
    before = survey.read_bytes()
    with pytest.raises(WriteError, match="read-only"):
        site.write(made())
    assert survey.read_bytes() == before
    assert write(site, made(), out=tmp_path / "copy.gpkg").exists()
    survey.chmod(0o644)


def test_too_little_room_is_told_beforehand(survey, monkeypatch):
    site = open_site(survey)
    before = survey.read_bytes()
    usage = shutil.disk_usage(survey.parent)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=10_000))
    with pytest.raises(WriteError, match=r"disk of .* is full: about"):
        site.write(made())
    assert survey.read_bytes() == before


_LIMITED = """
import resource, sys
sys.path.insert(0, {tests!r})
import test_write_safety as t
site = t.open_site(sys.argv[1])
limit = t.Path(sys.argv[1]).stat().st_size + 200_000
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    t.write(site, [t.made(2.0), t.big_map(2.0)], out=sys.argv[2] if len(sys.argv) > 2 else None)
except t.WriteError as fault:
    print(fault)
else:
    print("written")
"""


@posix
@pytest.mark.parametrize("copy", [False, True], ids=["in place", "to a copy"])
def test_a_file_that_cannot_grow(survey, tmp_path, copy):
    """A limit on the size of files stands for the full disk: the commit fails half-way."""
    site = open_site(survey)
    padding = np.random.default_rng(1).normal(0, 1, (500, 500))
    site.write(made(1.0), Map("padding", padding, EAST, NORTH, 1.0, "m", "so that the scratch file fits"))
    before = survey.read_bytes()
    out = [str(tmp_path / "copy.gpkg")] if copy else []
    code = _LIMITED.format(tests=str(Path(__file__).parent))
    run = subprocess.run(
        [sys.executable, "-c", code, str(survey), *out], capture_output=True, text=True, check=True
    )
    assert "could not be written" in run.stdout, run.stdout + run.stderr
    assert "disk" in run.stdout
    assert survey.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["merrow.gpkg"]
    assert read_result(open_site(survey), "carries")["reach_m"].unique().tolist() == [1.0]


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 4 MB, where the user may mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if os.name != "posix" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("needs to mount a small disk")
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)]
    if subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("needs to mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk(survey, small_disk, monkeypatch):
    path = small_disk / "site.gpkg"
    shutil.copy(survey, path)
    site = open_site(path)
    monkeypatch.setattr(writer, "SPARE_BYTES", -(10**12))  # else it is told beforehand
    site.write(made(1.0))
    room = shutil.disk_usage(small_disk).free
    (small_disk / "filler").write_bytes(b"x" * (room - 200_000))
    before = path.read_bytes()
    with pytest.raises(WriteError, match="disk is full"):
        site.write(made(2.0), big_map(2.0))
    assert path.read_bytes() == before
    assert sorted(p.name for p in small_disk.iterdir()) == ["filler", "site.gpkg"]
    assert read_result(path, "carries")["reach_m"].unique().tolist() == [1.0]


def test_a_failure_half_way_rolls_back(survey, monkeypatch):
    """Whatever goes wrong inside the transaction, be it the toolkit's own fault."""
    site = open_site(survey)
    site.write(made(1.0))
    before = survey.read_bytes()
    real = _merge.copy

    def failing(link, table, srs_id):
        real(link, table, srs_id)
        if table == "study_b":
            raise KeyboardInterrupt

    monkeypatch.setattr(_merge, "copy", failing)
    with pytest.raises(KeyboardInterrupt):
        site.write(made(2.0), made(2.0, layer="b"))
    assert survey.read_bytes() == before
    with pytest.raises(KeyboardInterrupt):
        write(site, [made(2.0), made(2.0, layer="b")], out=survey.with_name("copy.gpkg"))
    assert [p.name for p in survey.parent.iterdir()] == [survey.name]


_EDITOR = """
import sqlite3, sys
link = sqlite3.connect(sys.argv[1])
link.execute("PRAGMA journal_mode=WAL")
link.execute("UPDATE winds SET wind = 'sea'")
link.commit()
print("ready", flush=True)
sys.stdin.readline()
mode = link.execute("PRAGMA journal_mode").fetchone()[0]
print(mode, link.execute("SELECT DISTINCT reach_m FROM study_carries").fetchall())
"""


def test_a_file_being_edited_in_write_ahead_mode(survey):
    """A desktop switches to WAL while it edits; its edits are seen and the mode stays.

    In a process of its own, as a desktop is: two copies of SQLite in one process undo each other's locks.
    """
    _vector.write_layer(
        survey, "winds", pd.DataFrame({"wind": ["land"], "speed_ms": [5.0], "from_deg": [90.0]})
    )
    editor = subprocess.Popen(
        [sys.executable, "-c", _EDITOR, str(survey)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert editor.stdout.readline() == "ready\n"
    site = open_site(survey)
    assert site.layer("winds")["wind"].tolist() == ["sea"]
    site.write(made(3.0))
    out = write(site, made(4.0), out=survey.with_name("copy.gpkg"))
    said, _ = editor.communicate("go on\n", timeout=30)
    assert said == "wal [(3.0,)]\n"
    assert read_result(out, "carries")["reach_m"].unique().tolist() == [4.0]
    with sqlite3.connect(out) as copy:
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert copy.execute("SELECT wind FROM winds").fetchall() == [("sea",)]
    copy.close()


def test_an_output_open_elsewhere_is_not_replaced(survey):
    site = open_site(survey)
    out = write(site, made(1.0), out=survey.with_name("copy.gpkg"))
    link = sqlite3.connect(out)
    link.execute("PRAGMA journal_mode=WAL")
    link.execute("CREATE TABLE mine (x)")
    link.commit()
    with pytest.raises(WriteError, match="open for writing"):
        write(site, made(2.0), out=out, replace=True)
    assert link.execute("SELECT DISTINCT reach_m FROM study_carries").fetchall() == [(1.0,)]
    link.close()
