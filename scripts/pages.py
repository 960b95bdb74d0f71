"""Refresh the parts of the pages that come from the declarations: python scripts/pages.py [--check]."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def steps_table() -> str:
    """Return the table of steps for README."""
    from gistools.steps.catalogue import STEPS, find

    rows = ["| step | answers | layers |", "|---|---|---|"]
    for name in STEPS:
        layers = ", ".join(f"`{w.table}{'_*' if w.geometry == 'raster' else ''}`" for w in find(name).writes)
        rows.append(f"| `{name}` | {find(name).summary} | {layers} |")
    return "\n".join(rows)


def refreshed(text: str, mark: str, body: str) -> str:
    """Return a page with the part between two marks replaced."""
    head, rest = text.split(f"<!-- {mark} -->\n", 1)
    tail = rest.split(f"<!-- end of {mark} -->", 1)[1]
    return f"{head}<!-- {mark} -->\n{body}\n<!-- end of {mark} -->{tail}"


def main() -> int:
    """Write the pages, or with --check only say whether they are current."""
    stale = 0
    page = ROOT / "README.md"
    old = page.read_text(encoding="utf-8")
    new = refreshed(old, "steps", steps_table())
    if new != old:
        stale = 1
        if "--check" not in sys.argv:
            page.write_text(new, encoding="utf-8")
    return stale if "--check" in sys.argv else 0


if __name__ == "__main__":
    raise SystemExit(main())
