"""Make ``import gistools`` work in a program's own Python console, with nothing installed there.

Run as ``runpy.run_path(".../gistools/desktop/bootstrap.py", run_name="bootstrap")``. Only this package is brought
in, not the folder it lies in: the libraries it stands on stay where they are and are used by child processes.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path


def load() -> None:
    """Put the package this file belongs to into the running Python."""
    folder = Path(__file__).resolve().parents[1]
    for name in [n for n in sys.modules if n == "gistools" or n.startswith("gistools.")]:
        del sys.modules[name]
    spec = importlib.util.spec_from_file_location(
        "gistools", folder / "__init__.py", submodule_search_locations=[str(folder)]
    )
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["gistools"] = module
    spec.loader.exec_module(module)


if __name__ == "bootstrap":
    load()
