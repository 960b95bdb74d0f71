"""The child process that runs the toolkit, and the interpreter it runs in."""

from __future__ import annotations

import contextlib
import json
import queue
import subprocess
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from gistools.base import errors
from gistools.base.errors import GistoolsError, GistoolsWarning
from gistools.desktop.interpreter import PACKAGE, clean_environment, interpreters, without_window

Progress = Callable[[float, str], None]
#: how long a child may take to start, and to stop by itself before it is ended [s]
START_S, GRACE_S = 60.0, 3.0
POLL_S = 0.05


class Child:
    """A running ``gistools serve``."""

    def __init__(self, python: Path) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="gistools-")
        scratch = {"TMPDIR": self.folder.name, "TEMP": self.folder.name, "TMP": self.folder.name}
        self.log = open(Path(self.folder.name) / "log.txt", "w+b")  # noqa: SIM115
        self.process = subprocess.Popen(
            [str(python), "-P", str(PACKAGE / "desktop" / "bootstrap.py")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self.log,
            env={**clean_environment(), **scratch},
            **without_window(),
        )
        self.lines: queue.Queue[bytes | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        with contextlib.suppress(ValueError):  # closed while it was read
            for line in self.process.stdout:
                self.lines.put(line)
        self.lines.put(None)

    def send(self, **request: Any) -> None:
        """Write one line to the child; that it has ended shows when the answer is read."""
        assert self.process.stdin is not None
        with contextlib.suppress(OSError):
            self.process.stdin.write(json.dumps(request).encode() + b"\n")
            self.process.stdin.flush()

    def ask(self, request: dict[str, Any], listener: Progress | None) -> Any:
        """Send a request and return its result; progress and warnings are passed on meanwhile."""
        self.send(**request)
        share, text = 0.0, ""
        while True:
            answer = self.answer(POLL_S)
            if "result" in answer:
                return answer["result"]
            if "error" in answer:
                raise _error(answer)
            if "warning" in answer:
                warnings.warn(answer["warning"], GistoolsWarning, stacklevel=6)
            share, text = answer.get("share", share), answer.get("text", text)
            if listener is not None:
                listener(share, text)

    def answer(self, wait_s: float) -> dict[str, Any]:
        """Return the next line of the child, empty where none came in time."""
        try:
            line = self.lines.get(timeout=wait_s)
        except queue.Empty:
            return {}
        if line is None:
            code = self.process.wait()
            self.log.seek(0)
            last_words = self.log.read().decode(errors="replace").strip().splitlines()[-8:]
            how = f"signal {-code}" if code < 0 else f"exit code {code}"
            text = (
                f"the process that did the work ended before it was done ({how}); the site file is as it"
                f" was before"
            )
            raise GistoolsError("\n".join([text, *last_words]))
        answer: dict[str, Any] = json.loads(line)
        return answer

    def cancel(self) -> bool:
        """Ask the child to stop its work, and tell whether it did in time."""
        self.send(cancel=True)
        end = time.monotonic() + GRACE_S
        with contextlib.suppress(GistoolsError):
            while time.monotonic() < end:
                answer = self.answer(POLL_S)
                if "result" in answer or "error" in answer:
                    return True
        return False

    def end(self) -> None:
        """Close the child's input, at which it stops by itself, and kill it when it does not."""
        assert self.process.stdin is not None and self.process.stdout is not None
        with contextlib.suppress(OSError):
            self.process.stdin.close()
        try:
            self.process.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()
        self.log.close()
        with contextlib.suppress(OSError):  # a file the child left open, on some systems
            self.folder.cleanup()


def start() -> Child:
    """Start a child in the first interpreter that has what the toolkit stands on.

    Raises
    ------
    GistoolsError
        If none has: which were tried, why not, what to do.
    """
    tried = []
    for python in interpreters():
        child = None
        try:
            child = Child(python)
            if child.answer(START_S):
                return child
            reason = f"it did not start within {START_S:.0f} s"
        except (OSError, GistoolsError) as fault:
            reason = str(fault).splitlines()[-1]
        if child is not None:
            child.end()
        tried.append(f"\n  {python}: it cannot be run ({reason})")
    raise GistoolsError(
        "there is no Python to run the steps in."
        + ("".join(tried) or " None was found.")
        + "\nWith the plug-in: run `Install the libraries` of its toolbox. Without it: make an environment"
        " with Python 3.11 to 3.13, install golf-gistools in it, and set GISTOOLS_PYTHON to its python"
    )


def _error(answer: Mapping[str, Any]) -> GistoolsError:
    kind = getattr(errors, answer["error"], None)
    if kind is not None:
        raised: GistoolsError = kind(answer["text"])
        return raised
    text = f"a fault in the program, not in your data: {answer['error']}: {answer['text']}"
    return GistoolsError(f"{text}\n{answer.get('trace', '')}")
