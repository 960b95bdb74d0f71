"""Tables of the page, as the steps declare them: what the page's script needs to know of each."""

from __future__ import annotations

from typing import Any

from gistools.steps.catalogue import STEPS, find, step_of_layer
from gistools.steps.writes import PageTable


def page_table(layer: str) -> PageTable | None:
    """Return how a result layer is shown on the page, None for one that has no table there."""
    declared = step_of_layer(layer)
    return declared[1].page if declared else None


def page_layers() -> list[str]:
    """Return the layers with a table on the page, in the order of the steps."""
    return [w.layer for name in STEPS for w in find(name).writes if w.page]


def drawn_layers() -> list[str]:
    """Return the layers whose rows the plan and the charts need, without a table of their own."""
    return [w.layer for name in STEPS for w in find(name).writes if w.drawn]


def with_specs(tables: dict[str, Any]) -> dict[str, Any]:
    """Add to each table how it is shown; what names a column the layer does not have is left out."""
    for name, table in tables.items():
        spec = page_table(name) or PageTable(name.replace("_", " ").capitalize())
        have = {c["name"] for c in table["columns"]}
        for column in table["columns"]:
            column["title"] = spec.headings.get(column["name"], column["title"])
        table["caption"] = spec.caption
        table["show"] = [c for c in spec.columns.split() if c in have] or None
        if spec.spread:
            table["show"] = [c["name"] for c in table["columns"] if c["name"] not in spec.aside.split()]
        table["parts"] = {
            part: {"caption": caption, "show": [c for c in columns.split() if c in have]}
            for part, (caption, columns) in spec.parts.items()
        }
        table["whole"] = spec.whole
        table["aside"] = [c for c in spec.aside.split() if c in have]
        for key in ("order", "verdict", "reading", "total"):
            column = getattr(spec, key)
            table[key] = column if column in have else None
    return tables
