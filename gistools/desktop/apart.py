"""Steps, study and write-back in a clean process of their own, for the inside of another program.

A desktop GIS brings its own GDAL, PROJ, SQLite and settings into its Python; the libraries the steps stand on bring
theirs. Two sets in one process can crash it, know no CRS, or undo each other's locks on a file. So inside such a
program every errand (open, one step, a study, a write) runs in a child process with a cleaned environment. Only
paths and plain values pass between the two; each errand reads the site as it is saved at that moment.

Inside a desktop this is what ``gistools.open_site`` and the steps do by themselves; elsewhere it is off.
``GISTOOLS_APART`` set to 1 or 0 decides it everywhere. This module needs nothing but the standard library.
"""

from __future__ import annotations

import contextlib
import functools
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import gistools
from gistools.base import errors
from gistools.base.errors import Cancelled, GistoolsError, GistoolsWarning, InputError
from gistools.desktop import show as desktop
from gistools.steps.catalogue import STEPS

Progress = Callable[[float, str], None]
#: settings of the host program that would lead the child astray, by how their names start
FOREIGN = ("PROJ_", "GDAL_", "PYTHON", "DYLD_", "LD_LIBRARY_PATH", "LD_PRELOAD", "__PYVENV", "VIRTUAL_ENV")
#: how long a child may take to stop by itself before it is ended [s]
GRACE_S = 3.0
TURN_S = 0.05
ROWS_SHOWN = 12
_PROBE = (
    "import importlib.util as u, json, sys\n"
    "def has(name): return u.find_spec(name) is not None\n"
    "missing = [n for n in ('gistools', 'geopandas', 'fiona', 'rasterio', 'shapely', 'scipy') if not has(n)]\n"
    "version = '' if missing else __import__('gistools').__version__\n"
    "print(json.dumps([list(sys.version_info[:2]), missing, version]))\n"
)
_busy = threading.Lock()
_children: list[subprocess.Popen[bytes]] = []
_fit: set[str] = set()


def children() -> list[int]:
    """Return the process ids of children at work, for who has to watch or end them."""
    return [child.pid for child in _children]


def wanted() -> bool:
    """Tell whether errands should run apart: in a desktop's process, or where ``GISTOOLS_APART`` is 1."""
    told = os.environ.get("GISTOOLS_APART", "")
    return told == "1" if told in ("0", "1") else desktop.running()


def face(name: str) -> Any:
    """Return what ``gistools.<name>`` is while errands run apart."""
    if name in STEPS:
        return functools.partial(_step, name)
    if name in _FACES:
        return _FACES[name]
    raise AttributeError(
        f"gistools.{name} is not offered inside another program; use it in a Python of its own"
        " (or set GISTOOLS_APART=0 to do without the clean process)"
    )


def open_site(
    path: str | Path, terrain: str | Path | None = None, fields: Any = None, **options: Any
) -> Site:
    """Open a site apart. As :func:`gistools.site.read.open_site`; what comes back only knows where things are."""
    opening = {"path": str(path), "terrain": _text(terrain), "fields": fields, **options}
    return Site(opening, _errand("open", opening))


def check(path: str | Path, **options: Any) -> list[str]:
    """Say what is wrong with a site, a line for each finding. As :func:`gistools.site.check.check`."""
    return list(_errand("check", {"path": str(path)}, options))


def write_sample(path: str | Path, *, replace: bool = False) -> Path:
    """Write the sample site. As :func:`gistools.site.sample.write_sample`."""
    desktop.refuse_edits(path)
    return Path(_errand("sample", {"path": str(path)}, {"replace": replace}))


class Site:
    """A site by its path: what a console inside another program holds instead of the site itself.

    ``holes``, ``crs`` and ``findings`` are as they were when it was opened. The survey is read anew with
    every errand, so edits count as soon as they are saved.
    """

    def __init__(self, opening: dict[str, Any], told: dict[str, Any]) -> None:
        self.opening = opening
        self.path = Path(told["path"])
        self.crs: str = told["crs"]
        self.holes: list[int] = told["holes"]
        self.findings: list[str] = told["findings"]

    def __repr__(self) -> str:
        holes = ", ".join(map(str, self.holes))
        return "\n".join([f"{self.path} ({self.crs}), holes {holes}", *self.findings])

    def run(self, step: str, *, progress: Progress | None = None, **options: Any) -> Result:
        """Run one step apart and return its rows."""
        if step not in STEPS:
            raise InputError(f"there is no step {step!r}; the steps are: {', '.join(STEPS)}")
        folder = tempfile.TemporaryDirectory(prefix="gistools-")
        scratch = Path(folder.name) / "result.gpkg"
        told = _errand("step", self.opening, {"step": step, "to": str(scratch), "options": options}, progress)
        return Result(step, told, scratch, folder)

    def study(
        self, *, progress: Progress | None = None, write: bool = True, out: Any = None, **options: Any
    ) -> Study:
        """Run every step that applies, write all results at once, and refresh what the desktop shows of them."""
        target = Path(out) if out is not None else self.path
        if write or out is not None:
            desktop.refuse_edits(target)
        given = {**options, "write": write, "out": _text(out)}
        told = _errand("study", self.opening, {"options": given}, progress)
        desktop.refresh(target)
        return Study(told)

    def write(self, *results: Result, out: str | Path | None = None, replace: bool | None = None) -> Path:
        """Write results back, all or nothing, and refresh what the desktop shows of them."""
        target = Path(out) if out is not None else self.path
        desktop.refuse_edits(target)
        given = {"from": [str(r.path) for r in results], "out": _text(out), "replace": replace}
        told = Path(_errand("write", self.opening, given))
        desktop.refresh(target)
        return told

    def hand_off(self, to: str | Path, *, progress: Progress | None = None, **options: Any) -> Path:
        """Write the folder for the survey and construction team. As :func:`gistools.hand_off`."""
        given = {"to": str(Path(to).expanduser().resolve()), "options": options}
        return Path(_errand("hand_off", self.opening, given, progress))


class Result:
    """What a step found: ``layers`` maps each layer to its rows (plain values); ``path`` is a scratch file."""

    def __init__(self, step: str, told: dict[str, Any], path: Path, folder: Any) -> None:
        self.step, self.path, self._folder = step, path, folder
        self.layers: dict[str, list[dict[str, Any]]] = told["layers"]
        self._text: str = told["text"]

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Rows of the first layer."""
        return next(iter(self.layers.values()), [])

    def column(self, name: str, layer: str | None = None) -> list[Any]:
        """Return one column of a layer, by default of the first."""
        rows = self.rows if layer is None else self.layers[layer]
        if rows and name not in rows[0]:
            raise InputError(f"{self.step} has no column {name!r}; it has {', '.join(rows[0])}")
        return [row[name] for row in rows]

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return iter(self.rows)

    def __repr__(self) -> str:
        return self._text


class Study:
    """What a study found: ``path`` it was written to, ``skipped`` steps and why, seconds, summary."""

    def __init__(self, told: dict[str, Any]) -> None:
        self.path = Path(told["path"]) if told["path"] else None
        self.skipped: dict[str, str] = told["skipped"]
        self.seconds: dict[str, float] = told["seconds"]
        self.brief_holds: bool = told["brief_holds"]
        self._words: dict[str, str] = told["summary"]

    def summary(self, units: str = "m") -> str:
        """Return the findings in a page of words, lengths in ``"m"`` or ``"yd"``."""
        return self._words[units]

    def __repr__(self) -> str:
        return self.summary()


def _step(name: str, site: Any, **options: Any) -> Result:
    return _opened(site).run(name, **options)


def _study(site: Any, **options: Any) -> Study:
    return _opened(site).study(**options)


def _hand_off(site: Any, to: str | Path, **options: Any) -> Path:
    return _opened(site).hand_off(to, **options)


def _opened(site: Any) -> Site:
    if isinstance(site, Site):
        return site
    raise InputError("this console runs apart: give it what gistools.open_site(path) returned here")


_FACES: dict[str, Any] = {
    "open_site": open_site,
    "check": check,
    "write_sample": write_sample,
    "study": _study,
    "hand_off": _hand_off,
}


def _text(path: Any) -> str | None:
    return None if path is None else str(path)


# -- the child -------------------------------------------------------------------------------------------


def environment() -> dict[str, str]:
    """Return this process's environment without the settings that belong to the host program."""
    kept = {k: v for k, v in os.environ.items() if not k.upper().startswith(FOREIGN)}
    return {**kept, "GISTOOLS_APART": "0", "PYTHONUTF8": "1"}


def candidates() -> list[Path]:
    """Return the interpreters that may have the toolkit, the likeliest first."""
    told = os.environ.get("GISTOOLS_PYTHON")
    if told:
        return [Path(told).expanduser()]
    here = Path(gistools.__file__).resolve()
    homes = [p for p in here.parents if (p / "pyvenv.cfg").is_file()]
    homes += [here.parents[1] / ".venv", Path(sys.prefix), Path(sys.base_prefix)]
    names = ("Scripts/python.exe", "python.exe", "python3.exe") if os.name == "nt" else ("bin/python3",)
    found = [home / name for home in homes for name in names]
    if Path(sys.executable or "x").name.lower().startswith("python"):
        found.append(Path(sys.executable))
    return [p for p in dict.fromkeys(found) if p.is_file()]


def _looked_at(python: str) -> str:
    """Return what is wrong with an interpreter, or nothing."""
    try:
        told = subprocess.run(
            [python, "-c", _PROBE],
            env=environment(),
            cwd=str(Path(python).parent),
            capture_output=True,
            text=True,
            timeout=60,
            **_unseen(),
        )
        version, missing, ours = json.loads(told.stdout.strip().splitlines()[-1])
    except (OSError, subprocess.TimeoutExpired, ValueError, IndexError) as fault:
        return f"it cannot be run ({fault})"
    if tuple(version) < (3, 11):
        return f"it is Python {'.'.join(map(str, version))}; 3.11 or later is needed"
    if missing:
        return f"it has no {', '.join(missing)}"
    if ours != gistools.__version__:
        return f"its toolkit is {ours} and the one loaded here {gistools.__version__}; make them the same"
    return ""


def interpreter() -> Path:
    """Return the Python that errands run in.

    The one ``GISTOOLS_PYTHON`` names, else that of the environment this package lies in, else the host's own.

    Raises
    ------
    GistoolsError
        If none has the toolkit and what it stands on: which were tried, why not, what to do.
    """
    tried = []
    for python in candidates():
        wrong = "" if str(python) in _fit else _looked_at(str(python))
        if not wrong:
            _fit.add(str(python))
            return python
        tried.append(f"\n  {python}: {wrong}")
    raise GistoolsError(
        "there is no Python to run the steps in."
        + ("".join(tried) or " None was found.")
        + "\nMake an environment with Python 3.11 to 3.13, install golf-gistools in it, and set GISTOOLS_PYTHON"
        " to its python; the command `gistools desktop`, run there, prints the lines for this console"
    )


def _unseen() -> dict[str, Any]:
    """Start a child in a group of its own (Ctrl-C is ours to pass on) and without a window."""
    if os.name == "nt":
        return {"creationflags": 0x08000000 | 0x00000200}  # CREATE_NO_WINDOW | CREATE_NEW_PROCESS_GROUP
    return {"start_new_session": True}


def _errand(
    what: str, opening: dict[str, Any], given: dict[str, Any] | None = None, progress: Progress | None = None
) -> Any:
    """Send a child on an errand and return what it brings back."""
    python = interpreter()
    if not _busy.acquire(blocking=False):
        raise InputError("another step is running from this console; wait for it or cancel it")
    try:
        with tempfile.TemporaryDirectory(prefix="gistools-") as folder, desktop.progress(progress) as listen:
            spare = {"TMPDIR": folder, "TEMP": folder, "TMP": folder}
            with open(Path(folder) / "talk.txt", "w+b") as talk:
                child = subprocess.Popen(
                    [str(python), "-P", "-m", "gistools.desktop.worker"],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=talk,
                    env={**environment(), **spare},
                    cwd=os.getcwd(),
                    **_unseen(),
                )
                _children.append(child)
                try:
                    _send(child, {"what": what, "opening": opening, "given": given or {}})
                    return _listen(child, listen, talk)
                except KeyboardInterrupt as stop:
                    raise Cancelled("stopped by the user; the site file is as it was") from stop
                finally:
                    _end(child)
                    _children.remove(child)
    finally:
        _busy.release()


def _send(child: subprocess.Popen[bytes], job: dict[str, Any]) -> None:
    assert child.stdin is not None
    try:
        child.stdin.write(json.dumps(job).encode() + b"\n")
        child.stdin.flush()
    except OSError:
        pass  # it ended at once: what it said on the way is told by _listen
    except TypeError as fault:
        raise InputError(
            f"only numbers, text and lists can be given to a step run apart ({fault})"
        ) from fault


def _listen(child: subprocess.Popen[bytes], progress: Progress | None, talk: Any) -> Any:
    lines: queue.Queue[bytes | None] = queue.Queue()

    def read() -> None:
        assert child.stdout is not None
        for line in child.stdout:
            lines.put(line)
        lines.put(None)

    threading.Thread(target=read, daemon=True).start()
    share, text = 0.0, ""
    while True:
        try:
            line = lines.get(timeout=TURN_S)
        except queue.Empty:
            line = b""
        if line is None:
            talk.seek(0)
            _died(child, talk.read().decode(errors="replace"))
        told = json.loads(line) if line else {}
        if "result" in told:
            return told["result"]
        if "error" in told:
            _raise(told)
        if "warning" in told:
            warnings.warn(told["warning"], GistoolsWarning, stacklevel=5)
        share, text = told.get("share", share), told.get("text", text)
        if progress is not None:
            progress(share, text)


def _raise(told: dict[str, Any]) -> NoReturn:
    kind = getattr(errors, told["error"], None)
    if kind is None:
        raise GistoolsError(
            f"a fault in the program, not in your data: {told['error']}: {told['text']}\n{told.get('trace', '')}"
        )
    raise kind(told["text"])


def _died(child: subprocess.Popen[bytes], talk: str) -> NoReturn:
    code = child.wait()
    how = f"signal {-code}" if code < 0 else f"exit code {code}"
    last = "\n".join(talk.strip().splitlines()[-8:])
    raise GistoolsError(
        f"the process that did the work ended before it was done ({how}); the site file is as it was before."
        + (f" Its last words:\n{last}" if last else "")
    )


def _end(child: subprocess.Popen[bytes]) -> None:
    """Let a child stop by itself (its input closes), and end it when it does not."""
    if child.stdin is not None:
        with contextlib.suppress(OSError):
            child.stdin.close()
    end = time.monotonic() + GRACE_S
    while child.poll() is None and time.monotonic() < end:
        time.sleep(TURN_S / 2)
    if child.poll() is None:
        child.kill()
        child.wait()
    if child.stdout is not None:
        child.stdout.close()
