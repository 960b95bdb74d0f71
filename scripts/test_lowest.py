"""Pass the tests with the lowest versions of the dependencies that pyproject.toml allows.

The floors are read from pyproject.toml (`>=`), installed in an environment of their own, `.venv-lowest`, and
the fast
tests are run there. Words after it go to pytest.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import venv

from _setup import ROOT, say

FOLDER = ROOT / ".venv-lowest"


def lowest() -> list[str]:
    """Return `name==version` of each dependency's floor."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pairs = (re.match(r"([\w.-]+)>=([\w.]+)", text) for text in project["dependencies"])
    return [f"{m[1]}=={m[2]}" for m in pairs if m is not None]


def main() -> int:
    """Install the floors and run the tests."""
    python = FOLDER / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    if not python.exists():
        venv.create(FOLDER, with_pip=True)
    say("lowest versions: " + " ".join(lowest()))
    pip = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, *lowest(), "-e", f"{ROOT}[test]"], check=True)
    words = [python, "-m", "pytest", "-n", "auto", "--dist", "loadfile", *sys.argv[1:]]
    return subprocess.run(words, cwd=ROOT).returncode


if __name__ == "__main__":
    raise SystemExit(main())
