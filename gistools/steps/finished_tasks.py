"""Finished tasks of a study on disk, so that a study that was stopped resumes without playing them again.

A folder in the user's cache belongs to one study: its name is a hash of the survey, the terrain, the
settings, the toolkit's source, the libraries and what the study plays. It goes when the study ends. The files
are pickles that this user's own processes wrote; nobody else's are ever read.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import pickle
import shutil
from collections.abc import Sequence
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import platformdirs

from gistools.base import jit
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
        if not folder.exists():
            folder.mkdir(parents=True)
            _drop_old(folder.parent)
        part.write_bytes(pickle.dumps(answers))
        part.replace(path)
    with contextlib.suppress(OSError):  # where another process read the old one just then (Windows)
        part.unlink(missing_ok=True)


def drop(folder: Path) -> None:
    """Remove the finished tasks of a study that has ended."""
    shutil.rmtree(folder, ignore_errors=True)


def _file(folder: Path, hole: int, player: str) -> Path:
    return folder / f"{hole}-{hashlib.sha256(player.encode()).hexdigest()[:16]}.task"


def _drop_old(root: Path) -> None:
    studies = sorted(root.iterdir(), key=lambda p: p.stat().st_mtime, reverse=True)
    for old in studies[MOST_STUDIES:]:
        drop(old)


@cache
def _source_stamp() -> str:
    """Return a hash of the toolkit's source: a result is of the code that made it."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*")):
        if path.suffix in {".py", ".toml", ".json", ".csv"}:
            digest.update(str(path.relative_to(package)).encode() + path.read_bytes())
    return digest.hexdigest()
