"""Interpreters that may run the toolkit beside a desktop, and the environment they are given.

Needs the standard library alone.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

PACKAGE = Path(__file__).resolve().parents[1]
#: settings of the host program that would mislead the child, by how their names start
FOREIGN = ("PROJ_", "GDAL_", "PYTHON", "DYLD_", "LD_LIBRARY_PATH", "LD_PRELOAD", "__PYVENV", "VIRTUAL_ENV")


def environment_folder() -> Path:
    """Return the folder of the toolkit's own environment in the user's data.

    ``GISTOOLS_ENVIRONMENT`` names another.
    """
    named = os.environ.get("GISTOOLS_ENVIRONMENT")
    if named:
        return Path(named).expanduser()
    home = Path.home()
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "gistools" / "environment"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "gistools" / "environment"
    return Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "gistools" / "environment"


def clean_environment() -> dict[str, str]:
    """Return this process's environment without the settings that belong to the host program."""
    clean = {k: v for k, v in os.environ.items() if not k.upper().startswith(FOREIGN)}
    host = os.environ.get("OSGEO4W_ROOT")
    if host:
        clean["PATH"] = path_without(host, clean.get("PATH", ""))
    return {**clean, "GISTOOLS_SUBPROCESS": "0", "PYTHONUTF8": "1"}


def path_without(host: str, path: str) -> str:
    """Return a search path without the folders of the host, whose libraries would be loaded."""
    root = os.path.normcase(os.path.normpath(host))
    folders = [
        f for f in path.split(os.pathsep) if not os.path.normcase(os.path.normpath(f)).startswith(root)
    ]
    return os.pathsep.join(folders)


def interpreters() -> list[Path]:
    """Return the interpreters that may have the toolkit's libraries, the likeliest first."""
    if os.environ.get("GISTOOLS_PYTHON"):
        return prepared_interpreters()
    paths = [*_pythons_in(environment_folder()), *prepared_interpreters()]
    paths += [*_pythons_in(Path(sys.prefix)), *_pythons_in(Path(sys.base_prefix))]
    if Path(sys.executable or "x").name.lower().startswith("python"):
        paths.append(Path(sys.executable))
    return [p for p in dict.fromkeys(paths) if p.is_file()]


def prepared_interpreters() -> list[Path]:
    """Return the interpreter that is named, or those of the environment this package was installed in."""
    named = os.environ.get("GISTOOLS_PYTHON")
    if named:
        return [Path(named).expanduser()]
    homes = [p for p in PACKAGE.parents if (p / "pyvenv.cfg").is_file()]
    return [python for home in (*homes, PACKAGE.parent / ".venv") for python in _pythons_in(home)]


def _pythons_in(home: Path) -> list[Path]:
    names = ("Scripts/python.exe", "python.exe", "python3.exe") if os.name == "nt" else ("bin/python3",)
    return [home / name for name in names if (home / name).is_file()]


def without_window() -> dict[str, Any]:
    """Start a child in a group of its own, so that Ctrl-C is passed on by us, and without a window."""
    if os.name == "nt":
        return {"creationflags": 0x08000000 | 0x00000200}  # CREATE_NO_WINDOW | CREATE_NEW_PROCESS_GROUP
    return {"start_new_session": True}
