"""Finished tasks of a study on disk, so that a study that was stopped resumes without playing them again.

A folder in the user's cache belongs to one site as it is studied: its name is a hash of the survey, the
terrain, the settings, the toolkit's source, the libraries, steps and winds. A study deletes its own tasks
there when it ends, so that studies of other holes or players of the site may run beside it; the same study
is let in once (:func:`alone`). The files are pickles that this user's own processes wrote; nobody else's are
ever read.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import pickle
import shutil
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import platformdirs
from filelock import FileLock, Timeout

from gistools.base import jit
from gistools.base.errors import GistoolsError
from gistools.base.values import json_value
from gistools.base.version import __version__
from gistools.site.model import Site
from gistools.site.provenance import fingerprint

#: libraries that answers are computed with
LIBRARIES = ("contourpy", "geopandas", "numba", "numpy", "pyproj", "scipy", "shapely")
#: studies whose finished tasks stay in the cache folder, the newest
MOST_STUDIES = 5


def tasks_folder(site: Site, names: Sequence[str], winds: Sequence[str]) -> Path:
    """Return the folder for the finished tasks of a study (it may not exist yet).

    Parameters
    ----------
    site
        The site as it is studied.
    names, winds
        Steps that a task runs and winds that it plays in.
    """
    inputs = [
        dict(fingerprint(site)),
        site.crs.to_wkt(),
        json_value(site.settings),
        f"{__version__} {_source_stamp()} {jit.compiled_for()}",
        {name: version(name) for name in LIBRARIES},
        list(names),
        list(winds),
    ]
    stamp = hashlib.sha256(json.dumps(inputs, sort_keys=True).encode()).hexdigest()[:24]
    return Path(platformdirs.user_cache_dir("gistools", appauthor=False)) / "tasks" / stamp


def load(folder: Path, hole: int, player: str) -> Any:
    """Return what a finished task returned, or None if it is not there or cannot be read."""
    try:
        return pickle.loads(_file(folder, hole, player).read_bytes())
    except Exception:  # a damaged file may raise anything; the task is played again
        return None


def store(folder: Path, hole: int, player: str, answers: Any) -> None:
    """Store what a task returned; where nothing can be written the study goes on without."""
    path = _file(folder, hole, player)
    part = path.with_suffix(f".{os.getpid()}.part")
    with contextlib.suppress(OSError):
        _make(folder)
        part.write_bytes(pickle.dumps(answers))
        part.replace(path)
    with contextlib.suppress(OSError):  # where another process read the old one just then (Windows)
        part.unlink(missing_ok=True)


@contextmanager
def alone(folder: Path, work: str, selection: object = "") -> Iterator[None]:
    """Within this context no other process does the same work with the tasks of a folder.

    The lock is one of the operating system, which gives it back when its owner ends, killed or not. Where
    the file system has none, the work goes on without.

    Parameters
    ----------
    folder
        Folder of the finished tasks.
    work
        ``"study"`` or ``"search"``.
    selection
        What makes the work the same within the folder, for example its holes and players.

    Raises
    ------
    GistoolsError
        If another process does the same work just now.
    """
    name = hashlib.sha256(repr(selection).encode()).hexdigest()[:16]
    lock, owner = FileLock(folder / f"{name}.lock"), folder / f"{name}.owner"
    with contextlib.suppress(OSError, NotImplementedError):
        _make(folder)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            who = ""
            with contextlib.suppress(OSError):
                who = f" ({owner.read_text(encoding='utf-8')})"
            raise GistoolsError(
                f"the same {work} of this site is running in another process{who}; let it end, or stop it"
                " first: this one then goes on from the tasks that it finished"
            ) from None
        owner.write_text(f"number {os.getpid()}, since {time.strftime('%H:%M')}", encoding="utf-8")
    try:
        yield
    finally:
        if lock.is_locked:
            with contextlib.suppress(OSError):
                owner.unlink(missing_ok=True)
            lock.release()
            drop(folder, ())  # where nothing was finished


def drop(folder: Path, tasks: Iterable[tuple[int, str]]) -> None:
    """Delete finished tasks, each a hole and a player, of work that has ended, and the folder once empty."""
    with contextlib.suppress(OSError):
        for hole, player in tasks:
            _file(folder, hole, player).unlink(missing_ok=True)
        if not any(folder.glob("*.task")) and not any(folder.glob("*.owner")):
            shutil.rmtree(folder, ignore_errors=True)


def _make(folder: Path) -> None:
    if not folder.exists():
        folder.mkdir(parents=True, exist_ok=True)
        for old in sorted(folder.parent.iterdir(), key=lambda p: p.stat().st_mtime, reverse=True)[
            MOST_STUDIES:
        ]:
            shutil.rmtree(old, ignore_errors=True)


def _file(folder: Path, hole: int, player: str) -> Path:
    return folder / f"{hole}-{hashlib.sha256(player.encode()).hexdigest()[:16]}.task"


@cache
def _source_stamp() -> str:
    """Return a hash of the toolkit's source: a result is of the code that made it."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*")):
        if path.suffix in {".py", ".toml", ".json", ".csv"}:
            digest.update(str(path.relative_to(package)).encode() + path.read_bytes())
    return digest.hexdigest()
