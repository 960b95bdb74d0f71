"""What demo.py and test.py share: a virtual environment in .venv with the toolkit installed.

Standard library only.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST, NEWEST = (3, 11), (3, 13)
#: what tests run as a program of its own: installed without the libraries it names, which need a compiler
ALONE = {"test": "gdal-utils", "slow": "gdal-utils"}


def environment(extra: str = "") -> Path:
    """Make or reuse the virtual environment, install the toolkit in it, and return its Python."""
    if not OLDEST <= sys.version_info[:2] <= NEWEST:
        version = ".".join(map(str, sys.version_info[:3]))
        stop(f"Python 3.11 to 3.13 is needed and this is {version}. Run the script with one of those.")
    python = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        say(f"making a virtual environment in {VENV}")
        venv.create(VENV, with_pip=True, clear=VENV.exists())
    digest = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
    stamp = VENV / f"installed{'-' + extra if extra else ''}.txt"
    if not stamp.exists() or stamp.read_text() != digest:
        say("installing the toolkit and what it needs (a minute or two the first time)")
        target = f"{ROOT}[{extra}]" if extra else str(ROOT)
        pip = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        done = subprocess.run([*pip, "-e", target])
        if done.returncode != 0:
            stop(
                "pip could not install the toolkit (its message is above). If it could not reach a package\n"
                "registry: check the network, a proxy (HTTPS_PROXY) or your organisation's own registry\n"
                "(pip config set global.index-url ...), then run this script again; it takes up where"
                " it stopped."
            )
        alone = ALONE.get(extra)
        if alone and subprocess.run([*pip, "--no-deps", alone]).returncode:
            say(f"{alone} could not be installed: tests that use it are skipped")
        stamp.write_text(digest)
    return python


def run(python: Path, *words: str | Path) -> int:
    """Run the environment's Python from the project's folder; foreign PROJ and GDAL settings are left out."""
    env = {
        k: v
        for k, v in os.environ.items()
        if k not in ("PROJ_LIB", "PROJ_DATA", "GDAL_DATA", "PYTHONHOME", "PYTHONPATH")
    }
    return subprocess.run([python, *words], cwd=ROOT, env=env).returncode


def say(text: str) -> None:
    """Say what happens next."""
    print(f"-- {text}", flush=True)


def stop(text: str) -> None:
    """Stop with a message for people."""
    print(text, file=sys.stderr)
    raise SystemExit(2)
