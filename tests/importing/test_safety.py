"""Nothing that happens while a site is imported may cost a file that is there, or leave half a site."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

import gistools as gt
from gistools.base.errors import SiteError, WriteError
from gistools.base.files import file_name
from gistools.site import _vector
from gistools.site.check import check

posix = pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL and POSIX limits")

#: imports in a process that is killed at the given write: each layer, the terrain, the move into place
_KILLED = """
import os, signal, sys
import gistools as gt
from gistools.site import _vector, _raster
from gistools.base import files
source, ground, to, at = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
count = 0
def counted(make):
    def call(*a, **k):
        global count
        count += 1
        if count == at:
            os.kill(os.getpid(), signal.SIGKILL)
        return make(*a, **k)
    return call
_vector.write_layer = counted(_vector.write_layer)
_raster.write_coverage = counted(_raster.write_coverage)
files._flush = counted(files._flush)
files.move = counted(files.move)
gt.import_site(source, ground, to=to, replace=True)
print(count)
"""


@pytest.fixture
def sources(tmp_path, drawn):
    """A GeoPackage of one hole and a text of levels around it."""
    import geopandas as gpd

    folder = tmp_path / "sources"
    folder.mkdir()
    survey, ground = folder / "survey.gpkg", folder / "levels.xyz"
    parts = drawn(1)
    for name, part in (("tees", "back"), ("fairway", "fairway"), ("greens", "green")):
        table = gpd.GeoDataFrame({"hole": [1], "tee": ["back"]}, geometry=[parts[part]], crs="EPSG:32630")
        _vector.write_layer(survey, name, table)
    west, south, east, north = parts["line"].bounds
    step, margin = 10.0, 40.0
    rows = [
        f"{west - margin + step * i} {south - margin + step * j} {20 + 0.01 * step * j}"
        for i in range(int((east - west + 2 * margin) / step) + 1)
        for j in range(int((north - south + 2 * margin) / step) + 1)
    ]
    ground.write_text("\n".join(rows))
    return survey, ground


def run(sources, to: Path, at: int) -> subprocess.CompletedProcess[str]:
    arguments = [str(p) for p in (*sources, to)]
    return subprocess.run(
        [sys.executable, "-c", _KILLED, *arguments, str(at)], capture_output=True, text=True, check=False
    )


def whole(path: Path) -> bool:
    """Tell whether a site opens, has its layers and its terrain, and no error."""
    site = gt.open_site(path)
    return bool(len(site.layer("greens")) == 1 and site.ground is not None) and not [
        f for f in check(path) if f.level == "error"
    ]


@posix
@pytest.mark.slow
def test_a_killed_import_leaves_the_old_site_or_the_new(sources, tmp_path):
    """Killed before every write in turn: sources and old site keep their bytes until the new one is whole."""
    bytes_before = {p: p.read_bytes() for p in sources}
    to = tmp_path / "site.gpkg"
    assert run(sources, to, 0).returncode == 0
    done = run(sources, to, 0)  # with the mapping that the first one kept
    assert done.returncode == 0, done.stderr
    writes = int(done.stdout)
    assert writes >= 6 and whole(to)
    before = to.read_bytes()
    for at in range(1, writes + 1):
        killed = run(sources, to, at)
        assert killed.returncode == -signal.SIGKILL, killed.stderr
        assert to.read_bytes() == before
        assert {p: p.read_bytes() for p in sources} == bytes_before
    to.unlink()
    assert run(sources, to, 3).returncode == -signal.SIGKILL
    assert not to.exists(), "no half a site"
    assert run(sources, to, 0).returncode == 0 and whole(to)


def test_two_imports_to_one_file(sources, tmp_path):
    """Both end; the site is that of one of them, whole."""
    to = tmp_path / "site.gpkg"
    faults: list[BaseException] = []

    def one() -> None:
        try:
            gt.import_site(*sources, to=to, replace=True)
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=one) for _ in range(3)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert faults == [] and whole(to)
    assert sorted(p.name for p in tmp_path.iterdir() if p.is_file()) == ["site.gpkg", "site.mapping.toml"]


@posix  # elsewhere a file that is open cannot be replaced: it is told
def test_a_reader_keeps_the_site_it_has_open(sources, tmp_path):
    to = tmp_path / "site.gpkg"
    gt.import_site(*sources, to=to)
    before = gt.open_site(to).surface().cell
    with closing(sqlite3.connect(to)) as link:
        rows = link.execute("SELECT fid FROM tees UNION ALL SELECT fid FROM greens")
        first = rows.fetchone()
        gt.import_site(*sources, to=to, replace=True, cell_m=3.0)
        assert len([first, *rows.fetchall()]) == 2 and link.execute("PRAGMA quick_check").fetchone() == (
            "ok",
        )
    assert whole(to) and gt.open_site(to).surface().cell == 3.0 != before


@posix
@pytest.mark.skipif(getattr(os, "geteuid", int)() == 0, reason="root writes anywhere")
def test_a_folder_that_may_not_be_written_to(sources, tmp_path):
    folder = tmp_path / file_name("locked")
    folder.mkdir(mode=0o500)
    with pytest.raises(WriteError, match="cannot be written"):
        gt.import_site(*sources, to=folder / "site.gpkg")
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("missing", [1, 5000])
def test_a_source_that_was_cut_short_is_refused(sources, tmp_path, missing):
    survey, ground = sources
    survey.write_bytes(survey.read_bytes()[:-missing])
    with pytest.raises(SiteError, match=r"survey\.gpkg is damaged"):
        gt.import_site(survey, ground, to=tmp_path / "site.gpkg")
    assert not (tmp_path / "site.gpkg").exists()


@posix
def test_a_full_disk_is_told_and_leaves_the_old_site(sources, tmp_path):
    """Files may not grow beyond 60 kB: said in words, and what was there stays."""
    to = tmp_path / "site.gpkg"
    gt.import_site(*sources, to=to)
    before = to.read_bytes()
    code = (
        "import resource, signal, sys, gistools as gt\n"
        "from gistools.base.errors import SiteError, WriteError\n"
        "import gistools.site.importing.site_file\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))\n"
        "try:\n    gt.import_site(*sys.argv[1:3], to=sys.argv[3], replace=True)\n"
        "except WriteError as fault:\n    print(fault)\n"
    )
    env = os.environ | {"NUMBA_CACHE_DIR": "", "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, (*sources, to))], capture_output=True, text=True, env=env
    )
    assert "has no room" in done.stdout, done.stdout + done.stderr
    assert to.read_bytes() == before
    assert not list(tmp_path.glob(".*"))
