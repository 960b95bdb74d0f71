"""Errands in a process of their own: the same answers, a clean environment, and a file nobody harms."""

from __future__ import annotations

import os
import signal
import sqlite3
import sys
import threading
import time
from pathlib import Path

import pytest

import gistools as gt
from gistools.desktop import apart
from gistools.desktop import show as desktop
from gistools.site.sample import write_sample
from gistools.site.write import read_result

#: what desktops set for themselves, and what would mislead any Python
MISLEADING = {
    "PROJ_LIB": "/nowhere",
    "PROJ_DATA": "/nowhere",
    "GDAL_DATA": "/nowhere",
    "PYTHONHOME": "/nowhere",
    "PYTHONPATH": "/nowhere",
    "VIRTUAL_ENV": "/nowhere",
}


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_sample(tmp_path_factory.mktemp("apart") / "merrowby.gpkg")


@pytest.fixture
def apart_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Errands run apart, in this Python's own interpreter, among misleading settings."""
    monkeypatch.setenv("GISTOOLS_APART", "1")
    monkeypatch.setenv("GISTOOLS_PYTHON", sys.executable)
    for name, value in MISLEADING.items():
        monkeypatch.setenv(name, value)


def rows(path: Path) -> list[str]:
    with sqlite3.connect(path) as link:
        told = list(link.iterdump())
    link.close()
    return told


def test_off_outside_a_desktop(monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
    monkeypatch.delenv("GISTOOLS_APART", raising=False)
    assert not desktop.running() and not apart.wanted()
    assert not isinstance(gt.open_site(path), apart.Site)


@pytest.mark.usefixtures("apart_here")
def test_same_answers_as_in_this_process(path: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    site = gt.open_site(path)
    assert isinstance(site, apart.Site) and site.holes == [1, 2, 3] and "British" in site.crs
    told = gt.run("carries", site, hole=1)
    out = site.write(told, gt.lengths(site), out=tmp_path / "out.gpkg")
    monkeypatch.setenv("GISTOOLS_APART", "0")
    for name in MISLEADING:
        monkeypatch.delenv(name)
    own = gt.carries(gt.open_site(path), hole=1)["carries"]
    assert told.column("carry_m") == pytest.approx(list(own["carry_m"]))
    assert told.column("feature") == list(own["feature"])
    assert "Teasel Burn" in repr(told) and len(told) == len(own)
    again = read_result(out, "carries")
    assert list(again["carry_m"]) == pytest.approx(list(own["carry_m"]))
    assert again.attrs["options"]["hole"] == 1 and len(read_result(out, "lengths")) > 5


@pytest.mark.usefixtures("apart_here")
def test_errors_come_back_as_they_are(path: Path) -> None:
    with pytest.raises(gt.SiteError, match="does not exist"):
        gt.open_site("nowhere.gpkg")
    site = gt.open_site(path)
    with pytest.raises(gt.InputError, match="no hole 7"):
        gt.lengths(site, hole=7)
    with pytest.raises(gt.InputError, match="no column"):
        gt.lengths(site).column("height")
    with pytest.raises(gt.InputError, match="open_site"):
        gt.carries("merrowby.gpkg")


@pytest.mark.usefixtures("apart_here")
def test_study_writes_and_cancel_does_not(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    site = gt.open_site(copy)
    before = rows(copy)

    def stop(share: float, _text: str) -> None:
        if share > 0.02:
            raise gt.Cancelled("enough")

    with pytest.raises(gt.Cancelled):
        gt.study(site, quick=True, hole=2, progress=stop)
    assert rows(copy) == before and apart.children() == []
    heard: list[float] = []
    done = gt.study(site, only=["zones", "carries"], progress=lambda share, _text: heard.append(share))
    assert done.path == copy and "Hole 1" in done.summary("yd") and heard == sorted(heard)
    assert len(read_result(copy, "zones")) > 5


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.usefixtures("apart_here")
@pytest.mark.parametrize("how", ["killed", "ctrl-c"])
def test_violent_ends_leave_the_file(path: Path, tmp_path: Path, how: str) -> None:
    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    site = gt.open_site(copy)
    before = rows(copy)

    def strike() -> None:
        while not apart.children():
            time.sleep(0.01)
        time.sleep(1.2)
        if how == "killed":
            for pid in apart.children():
                os.kill(pid, signal.SIGKILL)
        else:
            os.kill(os.getpid(), signal.SIGINT)

    threading.Thread(target=strike).start()
    with pytest.raises(gt.Cancelled if how == "ctrl-c" else gt.GistoolsError, match=r"stopped|signal 9"):
        gt.study(site, quick=True)
    assert rows(copy) == before and apart.children() == []


@pytest.mark.usefixtures("apart_here")
def test_no_python_with_the_toolkit(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("GISTOOLS_PYTHON", str(tmp_path / "python"))
    with pytest.raises(gt.GistoolsError, match=r"cannot be run[\s\S]*GISTOOLS_PYTHON"):
        gt.open_site("any.gpkg")


def test_environment_is_clean(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in MISLEADING.items():
        monkeypatch.setenv(name, value)
    kept = apart.environment()
    assert not set(MISLEADING) & set(kept) and kept["GISTOOLS_APART"] == "0"
    assert kept["PATH"] == os.environ["PATH"]


@pytest.mark.slow
@pytest.mark.usefixtures("apart_here")
def test_hand_off(path: Path, tmp_path: Path) -> None:
    folder = gt.hand_off(gt.open_site(path), tmp_path / "green", hole=2, tin_m=0.5)
    assert (folder / "README.txt").is_file() and (folder / "hole_02").is_dir()
    with pytest.raises(gt.GistoolsError, match="green"):
        gt.hand_off(gt.open_site(path), tmp_path / "green", hole=2)


@pytest.mark.usefixtures("apart_here")
def test_what_is_not_offered_says_so() -> None:
    with pytest.raises(AttributeError, match="Python of its own"):
        apart.face("vary")


def test_show_without_a_desktop(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert gt.show(path) == []
    assert "No desktop GIS is running" in capsys.readouterr().out
    with pytest.raises(gt.InputError, match="does not exist"):
        gt.show("nowhere.gpkg")


def test_every_result_layer_has_its_place_in_the_group() -> None:
    from gistools.steps.catalogue import STEPS, find

    parts = {"layout": "Plan", "terrain": "Ground and sight", "shots": "Shots", "decision": "Strategy"}
    listed = [layer for layers in desktop.PARTS.values() for layer in layers]
    assert len(listed) == len(set(listed))
    declared = set()
    for name in STEPS:
        part = parts.get(find(name).compute.__module__.split(".")[-1], "For the crew")
        for writes in find(name).writes:
            if writes.geometry not in ("", "raster"):
                declared.add(writes.layer)
                assert writes.layer in desktop.PARTS[part], f"{writes.layer} is to stand in {part}"
    assert declared == set(listed)


def test_bootstrap_brings_only_the_package(tmp_path: Path) -> None:
    """A Python without the toolkit and what it stands on can use it through another that has them."""
    import subprocess

    starter = Path(gt.__file__).parent / "desktop" / "bootstrap.py"
    code = (
        f"import runpy, sys; runpy.run_path({str(starter)!r}, run_name='bootstrap');"
        "import gistools as gt;"
        "heavy = [m for m in ('numpy', 'geopandas', 'click') if m in sys.modules];"
        f"print(gt.__file__, heavy, {str(starter.parents[2])!r} in sys.path)"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    assert done.stdout.split() == [gt.__file__, "[]", "False"]


def test_light_modules_read_by_older_pythons() -> None:
    """Desktops ship older Pythons: what is imported there keeps to the grammar of 3.9."""
    import ast

    folder = Path(gt.__file__).parent
    light = [
        folder / "__init__.py",
        folder / "steps/catalogue.py",
        folder / "site/schema.py",
        folder / "sheets/styles.py",
        *(folder / "base").glob("*.py"),
        *(folder / "desktop").glob("*.py"),
    ]
    for file in light:
        ast.parse(file.read_text(encoding="utf-8"), feature_version=(3, 9))


def test_the_lines_to_paste_work(tmp_path: Path, path: Path) -> None:
    import subprocess

    lines = subprocess.run(
        [sys.executable, "-m", "gistools", "desktop"], capture_output=True, text=True, check=True
    ).stdout
    code = f"{lines}\nos.environ['GISTOOLS_APART'] = '1'\nprint(gt.open_site({str(path)!r}).holes)"
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    assert done.stdout.strip() == "[1, 2, 3]"


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.usefixtures("apart_here")
def test_a_program_that_dies_takes_its_child_along(path: Path, tmp_path: Path) -> None:
    import subprocess

    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    before = rows(copy)
    code = (
        "import threading, time, gistools as gt\nfrom gistools.desktop import apart\n"
        "def tell():\n"
        "    while not apart.children(): time.sleep(0.01)\n"
        "    print(apart.children()[0], flush=True)\n"
        f"site = gt.open_site({str(copy)!r})\n"
        "threading.Thread(target=tell, daemon=True).start()\n"
        "gt.study(site, quick=True)\n"
    )
    clean = {k: v for k, v in os.environ.items() if k not in MISLEADING}
    host = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, env=clean)
    assert host.stdout is not None
    child = int(host.stdout.readline())
    time.sleep(1.5)
    host.kill()
    host.wait()
    host.stdout.close()
    for _ in range(200):
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            break
        time.sleep(0.05)
    else:
        os.kill(child, signal.SIGKILL)
        pytest.fail("the child went on alone")
    assert rows(copy) == before
