"""What is pasted into the Python console of a desktop GIS."""

from __future__ import annotations

import sys
from pathlib import Path


def console_lines() -> str:
    """Return the lines that bring this toolkit and its Python into a desktop's console."""
    start = Path(__file__).resolve().parents[1] / "desktop" / "bootstrap.py"
    return "\n".join(
        (
            "import os, runpy",
            f'os.environ["GISTOOLS_PYTHON"] = {sys.executable!r}',
            f'runpy.run_path({str(start)!r}, run_name="bootstrap")',
            "import gistools as gt",
        )
    )
