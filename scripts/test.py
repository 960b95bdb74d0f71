"""Set everything up and pass the tests: python scripts/test.py [words for pytest].

Lint, format, types, then the fast tests (`-m ""` runs the slow ones too, and installs what only they need). A
few tests use programs that are not Python packages (a general-purpose viewshed, a browser); where those are
missing the tests say so and are skipped. With CI=true on a Debian machine they are installed first.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

from _setup import environment, run, say

SYSTEM = {"gdal_viewshed": "gdal-bin", "chromium": "chromium"}


def system_programs() -> None:
    """On a CI machine install the programs some tests look for; elsewhere only say what is missing."""
    missing = {program: package for program, package in SYSTEM.items() if shutil.which(program) is None}
    if not missing:
        return
    if (
        os.environ.get("CI") == "true"
        and shutil.which("apt-get")
        and getattr(os, "geteuid", lambda: 1)() == 0
    ):
        say("installing " + ", ".join(missing.values()))
        quiet = {"stdout": subprocess.DEVNULL, "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}}
        subprocess.run(["apt-get", "update", "-qq"], **quiet)
        subprocess.run(
            ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing.values()], **quiet
        )
    else:
        say("not found, tests that use them are skipped: " + ", ".join(missing))


def main() -> int:
    """Run the checks one after the other; stop at the first that fails."""
    python = environment("slow" if "-m" in sys.argv else "test")
    system_programs()
    for title, words in (
        ("lint", ("ruff", "check", "gistools", "tests", "scripts")),
        ("format", ("ruff", "format", "--check", "--quiet", "gistools", "tests", "scripts")),
        ("types", ("mypy",)),
        ("tests", ("pytest", "-n", "auto", "--dist", "loadfile", *sys.argv[1:])),
    ):
        say(title)
        code = run(python, "-m", *words)
        if code:
            return code
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
