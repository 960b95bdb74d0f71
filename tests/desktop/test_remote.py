"""Calls in a child process: the same answers, a clean environment, and a file that nothing harms."""

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
from gistools.desktop import host, interpreter, remote
from gistools.sheets.layer_groups import ORDER
from gistools.site.result_layers import read_result
from gistools.site.sample import write_sample

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
    return write_sample(tmp_path_factory.mktemp("remote") / "merrowby.gpkg")


@pytest.fixture
def in_child(monkeypatch: pytest.MonkeyPatch) -> None:
    """Calls run in a child of this Python's own interpreter, among misleading settings."""
    monkeypatch.setenv("GISTOOLS_SUBPROCESS", "1")
    monkeypatch.setenv("GISTOOLS_PYTHON", sys.executable)
    for name, value in MISLEADING.items():
        monkeypatch.setenv(name, value)


def rows(path: Path) -> list[str]:
    with sqlite3.connect(path) as link:
        dump = list(link.iterdump())
    link.close()
    return dump


def test_off_outside_a_desktop(monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
    monkeypatch.delenv("GISTOOLS_SUBPROCESS", raising=False)
    assert not host.running() and not remote.required()
    assert not isinstance(gt.open_site(path), remote.Remote)


@pytest.mark.usefixtures("in_child")
def test_same_answers_as_in_this_process(path: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    site = gt.open_site(path)
    assert isinstance(site, remote.Remote) and site.holes == [1, 2, 3] and "British" in site.crs
    result = gt.run("carries", site, hole=1)
    assert list(result) == ["carries", "carry_fan"]
    carries = result["carries"]
    out = site.write(result, gt.lengths(site), out=tmp_path / "out.gpkg")
    monkeypatch.setenv("GISTOOLS_SUBPROCESS", "0")
    for name in MISLEADING:
        monkeypatch.delenv(name)
    here = gt.carries(gt.open_site(path), hole=1)["carries"]
    assert carries.column("carry_m") == pytest.approx(list(here["carry_m"]))
    assert carries["feature"] == list(here["feature"])
    assert "Teasel" in repr(result) and len(carries) == len(here) == len(list(carries))
    again = read_result(out, "carries")
    assert list(again["carry_m"]) == pytest.approx(list(here["carry_m"]), abs=5.1e-4)  # stored to 1 mm
    assert again.attrs["options"]["hole"] == 1 and len(read_result(out, "lengths")) > 5


@pytest.mark.usefixtures("in_child")
def test_every_public_name_of_a_console_works_in_the_child(path: Path, tmp_path: Path) -> None:
    """What ``dir(gt)`` lists.

    What needs no minutes is called here; what needs a GIS or another Python is not listed.
    """
    assert "plot" not in dir(gt)
    with pytest.raises(AttributeError, match="Python of its own"):
        _ = gt.plot
    site = gt.open_site(path)
    assert [f.level for f in gt.check(site)] == [f.level for f in gt.check(path)]
    moved = gt.vary(site, move_tee={(1, "back"): (0.0, -10.0)})
    changes = gt.compare(site, moved, ["lengths.grid_m"], hole=1)
    assert changes.rows[0]["tee"] == "back" and changes["change"][0] == pytest.approx(9.85, abs=0.01)
    swept = gt.sweep(site, {"stimp_ft": [None, 9.0]}, ["lengths.grid_m"], hole=1)
    assert set(swept["vary_stimp_ft"]) == {"as it is", "9.0"}
    assert gt.table(gt.lengths(site, hole=1), units="yd").rows[0]["Tee"] == "back"
    assert gt.effective_distance(150.0, rise_m=5.0) > 150.0
    assert "carry" in str(gt.carries.__doc__) and gt.carries.__doc__.startswith("carries(site")
    brief = tmp_path / "brief.toml"
    brief.write_text('[[brief]]\nhole = 1\nmeasure = "lengths.ground_m"\nat_most = 400\n')
    assert gt.read_brief(brief).rows[0]["measure"] == "lengths.ground_m"
    assert gt.proposed_site(site).holes == site.holes
    for name in dir(gt):
        assert callable(getattr(gt, name)), name


@pytest.mark.usefixtures("in_child")
def test_one_child_stays_and_edits_of_the_file_are_seen(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    site = gt.open_site(copy)
    first = gt.lengths(site, hole=1)["tee"]
    children = remote.process_ids()
    start = time.monotonic()
    assert gt.lengths(site, hole=1)["tee"] == first
    assert time.monotonic() - start < 2.0 and remote.process_ids() == children
    with sqlite3.connect(copy) as link:
        for (trigger,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            link.execute(f'DROP TRIGGER "{trigger}"')
        link.execute("UPDATE tees SET tee = 'championship' WHERE tee = 'back' AND hole = 1")
    link.close()
    assert gt.lengths(site, hole=1)["tee"] == ["championship" if tee == "back" else tee for tee in first]
    result = gt.lengths(site)
    os.kill(children[0], getattr(signal, "SIGKILL", signal.SIGTERM))
    while remote.process_ids():
        time.sleep(0.01)
    assert len(gt.lengths(site, hole=1)) == len(first)  # the site is opened again in a new child
    with pytest.raises(gt.InputError, match="run the step again"):
        site.write(result)


@pytest.mark.usefixtures("in_child")
def test_errors_come_back_as_they_are(path: Path) -> None:
    with pytest.raises(gt.SiteError, match="does not exist"):
        gt.open_site("nowhere.gpkg")
    site = gt.open_site(path)
    with pytest.raises(gt.InputError, match="no hole 7"):
        gt.lengths(site, hole=7)
    with pytest.raises(gt.InputError, match="no column"):
        gt.lengths(site).column("height")
    with pytest.raises(gt.InputError, match="no option 'holes'"):
        gt.lengths(site, holes=1)
    with pytest.raises(gt.InputError, match="cannot be given"):
        gt.lengths(site, hole=object())
    assert gt.lengths(str(path), hole=2)["hole"] == gt.lengths(site, hole=2)["hole"]


@pytest.mark.usefixtures("in_child")
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
    assert rows(copy) == before and len(remote.process_ids()) <= 1
    heard: list[float] = []
    done = gt.study(site, only=["zones", "carries"], progress=lambda share, _text: heard.append(share))
    assert done.path == copy and "Hole 1" in done.summary("yd") and heard == sorted(heard)
    assert len(read_result(copy, "zones")) > 5


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.usefixtures("in_child")
@pytest.mark.parametrize("how", ["killed", "ctrl-c"])
def test_violent_ends_leave_the_file(path: Path, tmp_path: Path, how: str) -> None:
    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    site = gt.open_site(copy)
    before = rows(copy)
    at_work, over = threading.Event(), threading.Event()

    def heard(share: float, _text: str) -> None:
        if share > 0.0:
            at_work.set()

    def strike() -> None:
        at_work.wait(120.0)
        if how == "killed":
            for pid in remote.process_ids():
                os.kill(pid, signal.SIGKILL)
            return
        os.kill(os.getpid(), signal.SIGINT)
        while not over.wait(5.0):  # one that arrives while Python cleans up is lost: as people do, once more
            os.kill(os.getpid(), signal.SIGINT)

    threading.Thread(target=strike).start()
    with pytest.raises(gt.Cancelled if how == "ctrl-c" else gt.GistoolsError, match=r"stopped|signal 9"):
        try:
            gt.study(site, quick=True, progress=heard)
        finally:
            over.set()
    assert at_work.is_set() and rows(copy) == before and len(remote.process_ids()) <= 1


@pytest.mark.usefixtures("in_child")
def test_no_python_with_the_toolkit(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    remote.close()
    monkeypatch.setenv("GISTOOLS_PYTHON", str(tmp_path / "python"))
    with pytest.raises(gt.GistoolsError, match=r"cannot be run[\s\S]*GISTOOLS_PYTHON"):
        gt.open_site("any.gpkg")


def test_environment_is_clean(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in MISLEADING.items():
        monkeypatch.setenv(name, value)
    clean = interpreter.clean_environment()
    assert not set(MISLEADING) & set(clean) and clean["GISTOOLS_SUBPROCESS"] == "0"
    assert clean["PATH"] == os.environ["PATH"]


@pytest.mark.slow
@pytest.mark.usefixtures("in_child")
def test_a_hand_off_is_made_in_the_child_process(path: Path, tmp_path: Path) -> None:
    folder = gt.hand_off(gt.open_site(path), tmp_path / "green", hole=2, tin_m=0.5)
    assert (folder / "README.txt").is_file() and (folder / "hole_02").is_dir()
    with pytest.raises(gt.GistoolsError, match="green"):
        gt.hand_off(gt.open_site(path), tmp_path / "green", hole=2)


def test_show_without_a_desktop(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert gt.show(path) == []
    assert "No desktop GIS is running" in capsys.readouterr().out
    with pytest.raises(gt.InputError, match="does not exist"):
        gt.show("nowhere.gpkg")


def test_every_result_layer_has_its_place_in_the_group() -> None:
    from gistools.steps.catalogue import GROUPS, STEPS, find, step_of_layer

    assert ORDER[: len(GROUPS)] == GROUPS
    for name in STEPS:
        assert find(name).group in GROUPS
        for writes in find(name).writes:
            assert step_of_layer(writes.layer) == (find(name), writes)
    assert step_of_layer("nothing") is None


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
    code = f"{lines}\nos.environ['GISTOOLS_SUBPROCESS'] = '1'\nprint(gt.open_site({str(path)!r}).holes)"
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    assert done.stdout.strip() == "[1, 2, 3]"


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.usefixtures("in_child")
def test_a_program_that_dies_takes_its_child_along(path: Path, tmp_path: Path) -> None:
    import subprocess

    copy = tmp_path / "copy.gpkg"
    copy.write_bytes(path.read_bytes())
    before = rows(copy)
    code = (
        "import threading, time, gistools as gt\nfrom gistools.desktop import remote\n"
        "def report():\n"
        "    while not remote.process_ids(): time.sleep(0.01)\n"
        "    print(remote.process_ids()[0], flush=True)\n"
        f"site = gt.open_site({str(copy)!r})\n"
        "threading.Thread(target=report, daemon=True).start()\n"
        "gt.study(site, quick=True)\n"
    )
    clean = {k: v for k, v in os.environ.items() if k not in MISLEADING}
    host = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, env=clean)
    assert host.stdout is not None
    child_id = int(host.stdout.readline())
    time.sleep(1.5)
    host.kill()
    host.wait()
    host.stdout.close()
    for _ in range(200):
        try:
            os.kill(child_id, 0)
        except ProcessLookupError:
            break
        time.sleep(0.05)
    else:
        os.kill(child_id, signal.SIGKILL)
        pytest.fail("the child went on alone")
    assert rows(copy) == before
