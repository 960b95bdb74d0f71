"""A Python environment of the toolkit's own, made beside the desktop's.

Wheels alone, no compiler, no administrator.

The desktop's Python stays as it is. The environment is made by any Python from 3.11 to 3.13 on the machine,
the desktop's own included, in a folder of the user. Needs the standard library alone.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from gistools.base.errors import Cancelled, GistoolsError
from gistools.desktop.interpreter import PACKAGE, clean_environment, environment_folder, without_window

#: versions of Python the toolkit runs in
OLDEST, NEWEST = (3, 11), (3, 13)
#: file of the plug-in that lists the libraries, one a line
REQUIREMENTS = "requirements.txt"

Listener = Callable[[float, str], None]


def python_of(home: Path) -> Path:
    """Return where the interpreter of an environment is."""
    return home / ("Scripts/python.exe" if os.name == "nt" else "bin/python3")


def ready() -> bool:
    """Tell whether the environment is there and holds the libraries this version asks for."""
    stamp = environment_folder() / REQUIREMENTS
    return stamp.is_file() and stamp.read_text(encoding="utf-8") == _requirements()


def make(listener: Listener | None = None) -> Path:
    """Make the environment, or bring it up to date, and return its interpreter.

    Parameters
    ----------
    listener
        Called with ``(share, text)`` while it works; an exception raised in it stops the work.

    Raises
    ------
    GistoolsError
        If no fitting Python is there, or the libraries cannot be installed: which were tried, what to do.
    Cancelled
        If the listener stops it.
    """
    listener = listener or (lambda _share, _text: None)
    python = python_of(environment_folder())
    if not python.is_file():
        listener(0.0, f"making an environment in {environment_folder()}")
        _make_empty(listener)
    listener(0.1, "fetching and installing the libraries (some minutes the first time)")
    requirements = environment_folder() / "wanted.txt"
    requirements.write_text(_requirements(), encoding="utf-8")
    pip = [str(python), "-P", "-m", "pip", "install", "--disable-pip-version-check", "--only-binary", ":all:"]
    code, output = _run([*pip, "-r", str(requirements)], listener)
    if code:
        raise GistoolsError(
            "the libraries could not be installed: "
            + _last_line(output)
            + "\nCheck the network, a proxy (HTTPS_PROXY) or your organisation's own package registry"
            " (pip config set global.index-url ...), and run this again; it takes up where it stopped"
        )
    requirements.replace(environment_folder() / REQUIREMENTS)
    return python


def _make_empty(listener: Listener) -> None:
    """Make an environment without libraries by the first Python that can."""
    tried = []
    for python in base_interpreters():
        version = _version(python)
        if version is None or not OLDEST <= version <= NEWEST:
            tried.append(
                f"  {python}: " + ("it cannot be run" if version is None else f"{version[0]}.{version[1]}")
            )
            continue
        code, output = _run([str(python), "-P", "-m", "venv", "--clear", str(environment_folder())], listener)
        if code == 0:
            return
        tried.append(f"  {python}: {_last_line(output)}")
        shutil.rmtree(environment_folder(), ignore_errors=True)
    raise GistoolsError(
        "no Python from 3.11 to 3.13 that can make an environment was found. Tried:\n"
        + ("\n".join(tried) or "  none")
        + (
            "\nInstall Python 3.12 for your user (no administrator is needed), or name one in"
            " GISTOOLS_BASE_PYTHON"
        )
    )


def base_interpreters() -> list[Path]:
    """Return the interpreters that may make the environment.

    The one named, the desktop's, those on the path.
    """
    named = os.environ.get("GISTOOLS_BASE_PYTHON")
    if named:
        return [Path(named).expanduser()]
    names = ("python.exe", "python3.exe") if os.name == "nt" else ("bin/python3",)
    paths = [Path(root) / name for root in (sys.base_prefix, sys.prefix) for name in names]
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        program = shutil.which(f"python3.{minor}")
        paths += [Path(program)] if program else []
        if os.name == "nt":
            programs = Path(os.environ.get("LOCALAPPDATA", "")) / "Programs" / "Python"
            paths.append(programs / f"Python3{minor}" / "python.exe")
    program = shutil.which("python3")
    paths += [Path(program)] if program else []
    return [p for p in dict.fromkeys(paths) if p.is_file()]


def _version(python: Path) -> tuple[int, int] | None:
    code, output = _run([str(python), "-c", "import sys; print(*sys.version_info[:2])"], lambda _s, _t: None)
    numbers = output.split()
    return (int(numbers[0]), int(numbers[1])) if code == 0 and len(numbers) == 2 else None


def _run(words: list[str], listener: Listener) -> tuple[int, str]:
    """Run a program to its end, and return its exit code and what it printed."""
    try:
        process = subprocess.Popen(
            words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
            env=clean_environment(),
            **without_window(),
        )
    except OSError as fault:
        return 1, str(fault)
    lines: list[str] = []
    assert process.stdout is not None
    try:
        with process.stdout as output:
            for line in output:
                lines.append(line.rstrip())
                listener(min(0.95, 0.1 + len(lines) / 80), line.strip()[:90])
        return process.wait(), "\n".join(lines)
    except (KeyboardInterrupt, Cancelled):
        process.kill()
        process.wait()
        raise Cancelled("stopped by the user; run it again to go on") from None


def _last_line(output: str) -> str:
    lines = [line for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if line.lower().startswith("error")]
    return (errors or lines or ["it said nothing"])[-1].strip()


def _requirements() -> str:
    """Return the list of libraries: of the plug-in, or of the package's own metadata file beside it."""
    for place in (PACKAGE.parent / REQUIREMENTS, PACKAGE / REQUIREMENTS):
        if place.is_file():
            return place.read_text(encoding="utf-8")
    import tomllib

    project = PACKAGE.parent / "pyproject.toml"
    if not project.is_file():
        raise GistoolsError(f"the list of libraries {REQUIREMENTS} is missing; install the plug-in again")
    table = tomllib.loads(project.read_text(encoding="utf-8"))
    return "\n".join(table["project"]["dependencies"]) + "\n"
