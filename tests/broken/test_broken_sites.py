"""Hundreds of broken site files: none ends in a trace, loses survey data, or is passed over in silence."""

from __future__ import annotations

import os
import shutil
import sqlite3
import warnings
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

import gistools as gt
from gistools.base.errors import GistoolsError, GistoolsWarning
from gistools.site.check import check
from gistools.site.provenance import survey_hash
from gistools.site.schema import SURVEY_LAYERS

from .kinds import KINDS, write_sound

#: no broken site may hold the program up: far beyond what any of them takes (2 s) [s]
pytestmark = pytest.mark.timeout(90)

STEPS = ("lines_of_play", "lengths", "carries", "corridors", "zones", "setbacks", "slopes", "setting_out")


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_sound(tmp_path_factory.mktemp("sound") / "sound.gpkg")


@pytest.fixture(scope="module")
def baseline(sound: Path) -> tuple[set[Any], dict[str, Any]]:
    return {str(f) for f in check(sound)}, gt.open_site(sound).tables


@pytest.fixture
def broken(sound: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    path = Path(shutil.copy(sound, tmp_path / "site.gpkg"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        KINDS[request.param](path)
    return path


def same(a: Any, b: Any) -> bool:
    if a.keys() != b.keys():
        return False
    return all(
        len(a[n]) == len(b[n])
        and a[n]
        .drop(columns="geometry", errors="ignore")
        .astype(str)
        .equals(b[n].drop(columns="geometry", errors="ignore").astype(str))
        and ("geometry" not in a[n] or a[n].geometry.geom_equals_exact(b[n].geometry, 1e-6).all())
        for n in a
    )


def test_there_are_enough_kinds_and_the_sound_one_is_sound(baseline: Any) -> None:
    assert len(KINDS) >= 200
    assert [f for f in baseline[0] if not f.startswith("note")] == []


def test_the_page_counts_every_kind() -> None:
    """The table of docs/broken_sites.md has as many kinds in each group as there are, and adds up."""
    import runpy

    script = runpy.run_path(str(Path(__file__).parents[2] / "scripts" / "broken_sites.py"))
    lines = script["PAGE"].read_text(encoding="utf-8").splitlines()
    rows = [[cell.strip(" *") for cell in line.strip("|").split("|")] for line in lines if line[:1] == "|"]
    counts = {row[0]: [int(cell) for cell in row[1:]] for row in rows[2:]}
    assert {k: v[0] for k, v in counts.items() if k != "all"} == Counter(map(script["group"], KINDS))
    assert counts.pop("all") == [sum(column) for column in zip(*counts.values(), strict=True)]
    assert all(kinds == sum(c[:4]) == sum(c[4:]) for kinds, *c in counts.values())


def fast(name: str) -> bool:
    """Kinds tried by default: those of the file, of the terrain, of what is drawn, and of one layer."""
    head = name.partition(":")[0].partition(".")[0]
    return head in ("file", "terrain", "fairway") or head not in SURVEY_LAYERS


ALL = [pytest.param(name, marks=() if fast(name) else pytest.mark.slow) for name in KINDS]


@pytest.mark.parametrize("broken", ALL, indirect=True)
def test_check_tells_and_changes_nothing(broken: Path, baseline: Any) -> None:
    """Something is found that the sound file has not, or what is read is the same as of the sound file."""
    before = broken.read_bytes()
    findings = check(broken)
    new = [f for f in findings if str(f) not in baseline[0]]
    assert broken.read_bytes() == before
    assert all(f.remedy for f in new if f.level == "error" and f.layer not in ("", "terrain"))
    if not new:
        assert same(gt.open_site(broken).tables, baseline[1]), "passed over in silence"


@pytest.mark.slow
@pytest.mark.parametrize("broken", KINDS, indirect=True)
def test_study_of_a_broken_site_ends_in_words_or_results(broken: Path) -> None:
    """Results or an error for people, no fault of the program; the survey is what it was."""
    with closing(sqlite3.connect(broken)) as link:
        try:
            survey = survey_hash(link, rasters=False)
        except sqlite3.Error:
            survey = ""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", GistoolsWarning)
        try:
            done = gt.study(gt.open_site(broken), only=STEPS)
        except GistoolsError as fault:
            assert str(fault)
        else:
            assert [g for g in done.missing if g.fault] == []
    if survey:
        with closing(sqlite3.connect(broken)) as link:
            assert survey_hash(link, rasters=False) == survey


def test_no_name_in_a_file_becomes_a_path(sound: Path, tmp_path: Path) -> None:
    """A table of results named like a path: its style file stays in the folder of styles."""
    path = Path(shutil.copy(sound, tmp_path / "site.gpkg"))
    gt.study(gt.open_site(path), only=("lengths",))
    names = ("study_strokes/../../evil", "study_strokes\\..\\evil", "study_strokes_CON")
    with closing(sqlite3.connect(path)) as link, link:
        for name in names:
            link.execute(f'CREATE TABLE "{name}" (x)')
            link.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES (?, 'attributes', ?)",
                (name, name),
            )
    from gistools.sheets.style_files import write_styles

    inside = tmp_path / "deep" / "er" / "styles"
    (inside / "study_strokes").mkdir(parents=True)
    files = set(write_styles(path, inside))
    assert all(p.parent == inside and p.exists() for p in files) and len(files) >= 3
    assert [p for p in tmp_path.rglob("*evil*") if p.parent != inside] == []


def test_no_code_of_the_current_folder_runs_in_a_child(tmp_path: Path) -> None:
    """A folder with modules named like libraries: the programs that are started do not take them."""
    import subprocess
    import sys

    from gistools.cli import warmup
    from gistools.desktop import environment

    for name in ("pip", "venv", "numpy", "json", "runpy"):
        (tmp_path / f"{name}.py").write_text("open('taken', 'w').close()\nraise SystemExit(9)\n")
    started: list[list[str]] = []
    real = subprocess.Popen

    class Spy(real):  # type: ignore[misc, valid-type]
        def __init__(self, words: Any, *args: Any, **options: Any) -> None:
            started.append([str(w) for w in words])
            super().__init__([sys.executable, "-P", "-c", "pass"], *args, **options)

    here = os.getcwd()
    patch = pytest.MonkeyPatch()
    patch.setattr(subprocess, "Popen", Spy)
    patch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    try:
        os.chdir(tmp_path)
        warmup.prepare(("ground",))
        environment._run([sys.executable, "-P", "-m", "pip"], lambda _s, _t: None)
    finally:
        os.chdir(here)
        patch.undo()
    assert started and all("-P" in words for words in started if "-m" in words)
    done = subprocess.run([sys.executable, "-P", "-m", "pip", "--version"], cwd=tmp_path, check=False)
    assert done.returncode == 0 and not (tmp_path / "taken").exists()


#: tries a work under limits on the size of files, each on a copy of its own
_LIMITED = """
import resource, signal, sys, gistools as gt
import gistools.site.importing.site_file
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
for work in sys.argv[2:]:
    folder = sys.argv[1] + "/" + work
    name, limit = work.split("-")
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), resource.RLIM_INFINITY))
    try:
        if name == "study":
            gt.study(gt.open_site(folder + "/site.gpkg"), only=("lengths", "contours"))
        else:
            gt.import_site(folder + "/site.gpkg", to=folder + "/new.gpkg")
    except gt.WriteError as fault:
        print(work, fault)
    else:
        print(work, "done")
"""
_WORKS = [f"{name}-{limit}" for name in ("study", "import") for limit in (20_000, 100_000, 400_000)]


@pytest.mark.skipif(os.name != "posix", reason="limits on the size of files are of POSIX")
def test_a_disk_that_is_full_is_told_in_our_words(sound: Path, tmp_path: Path) -> None:
    """Files may not grow beyond a limit: what cannot be written is told, and what was there is as it was."""
    import subprocess
    import sys

    for work in _WORKS:
        (tmp_path / work).mkdir()
        shutil.copy(sound, tmp_path / work / "site.gpkg")
    before = sound.read_bytes()
    words = [sys.executable, "-c", _LIMITED, str(tmp_path), *_WORKS]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    lines = done.stdout.splitlines()
    assert len(lines) == len(_WORKS), done.stdout + done.stderr
    for work, line in zip(_WORKS, lines, strict=True):
        folder, small = tmp_path / work, not work.endswith("-400000")
        assert line == f"{work} done" or (line.startswith(work) and "make room" in line), line
        with closing(sqlite3.connect(folder / "site.gpkg")) as link:
            # a transaction cut short is rolled back when the file is opened
            assert link.execute("PRAGMA quick_check").fetchone() == ("ok",)
        if line != f"{work} done":
            assert (folder / "site.gpkg").read_bytes() == before and not (folder / "new.gpkg").exists()
            assert [p.name for p in folder.iterdir() if ".part-" in p.name or "room" in p.name] == []
        assert not small or line != f"{work} done"
