"""The console part in the real desktop, where one is installed.

Runs scripts/desktop_check.py with its Python.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "desktop_check.py"
PYTHON = os.environ.get("DESKTOP_PYTHON") or shutil.which("python3", path="/usr/bin")


def has_desktop() -> bool:
    if PYTHON is None:
        return False
    done = subprocess.run([PYTHON, "-c", "import qgis.core"], capture_output=True, env=clean())
    return done.returncode == 0


def clean() -> dict[str, str]:
    stored = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRTUAL_ENV", "GISTOOLS"))}
    return {**stored, "GISTOOLS_PYTHON": sys.executable}


@pytest.mark.slow
def test_desktop_check_finds_nothing(tmp_path: Path) -> None:
    if not has_desktop():
        pytest.skip("no desktop GIS on this machine (DESKTOP_PYTHON may name its Python)")
    done = subprocess.run(
        [str(PYTHON), str(SCRIPT), "--to", str(tmp_path)], capture_output=True, text=True, env=clean()
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-2000:]
    assert "all well" in done.stdout and (tmp_path / "desktop_hole_1.png").stat().st_size > 50_000
