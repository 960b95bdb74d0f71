"""Write the types of the public functions from the declarations: scripts/stub.py [--check].

They go to gistools/__init__.pyi. With them a checker sees the options of every step: `gt.carries(site,
hole="one")` is an error.
"""

from __future__ import annotations

import sys
from pathlib import Path

STUB = Path(__file__).resolve().parent.parent / "gistools" / "__init__.pyi"
HEAD = '''"""Types of the public functions. Written by scripts/stub.py from the declarations; do not edit."""

from typing import Final

from geopandas import GeoDataFrame
from pandas import DataFrame

from gistools.base.errors import Cancelled as Cancelled
from gistools.base.errors import GistoolsError as GistoolsError
from gistools.base.errors import GistoolsWarning as GistoolsWarning
from gistools.base.errors import InputError as InputError
from gistools.base.errors import SiteError as SiteError
from gistools.base.errors import WriteError as WriteError
'''


def text() -> str:
    """Return the stub."""
    import gistools
    from gistools.steps.catalogue import STEPS, find
    from gistools.steps.docstrings import result_text, type_text

    imports, steps = [], []
    for name, place in gistools._FUNCTIONS.items():
        module, _, source = place.partition(":")
        if name not in STEPS:
            imports.append(f"from {module} import {source or name} as {name}")
    for name in STEPS:
        spec = find(name)
        options = "".join(f", {c.name}: {type_text(c.type)} = ..." for c in spec.choices)
        head = f"def {name}(site: Site{', *' if options else ''}{options}) -> {result_text(spec.writes)}: ..."
        if len(head) > 110:
            lines = ["    site: Site,", "    *,"]
            lines += [f"    {c.name}: {type_text(c.type)} = ...," for c in spec.choices]
            head = "\n".join([f"def {name}(", *lines, f") -> {result_text(spec.writes)}: ..."])
        steps.append(head)
    types = ["from gistools.site.model import Site", "from gistools.site.results import Layers"]
    errors = HEAD.split("\n\n")
    ordered = sorted([*errors[-1].strip().split("\n"), *imports, *types], key=str.lower)
    public = "__all__ = [\n" + "".join(f'    "{name}",\n' for name in gistools.__all__) + "]"
    constants = f"{public}\n__version__: Final[str]"
    return "\n\n".join([*errors[:-1], "\n".join(ordered), constants, "\n".join(steps)]) + "\n"


def main() -> int:
    """Write the stub, or with --check tell whether it is current."""
    current = STUB.exists() and STUB.read_text(encoding="utf-8") == text()
    if "--check" in sys.argv:
        print("the stub is current" if current else "the stub is not current: run python scripts/stub.py")
        return 0 if current else 1
    STUB.write_text(text(), encoding="utf-8", newline="\n")
    print(STUB)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
