"""What is pasted into the Python console of a desktop GIS."""

from __future__ import annotations

import sys
from pathlib import Path


def console_lines() -> str:
    """Return what to paste into a desktop's console so that it finds this toolkit and the Python it runs in."""
    start = Path(__file__).resolve().parents[1] / "desktop" / "bootstrap.py"
    return "\n".join(
        (
            "import os, runpy",
            f'os.environ["GISTOOLS_PYTHON"] = {sys.executable!r}',
            f'runpy.run_path({str(start)!r}, run_name="bootstrap")',
            "import gistools as gt",
        )
    )
