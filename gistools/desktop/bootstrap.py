"""Make ``import gistools`` work in a Python in which nothing was installed.

Run as ``runpy.run_path(".../gistools/desktop/bootstrap.py", run_name="bootstrap")`` it brings this package
alone into a program's own console: the libraries it stands on stay where they are and are used by a child
process. Run as a script it is that child: the command ``gistools serve`` of this very package.
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


if __name__ in ("bootstrap", "__main__"):
    load()
if __name__ == "__main__":
    from gistools.cli.main import main

    main(["serve"])
