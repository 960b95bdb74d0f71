"""Write the sample site, or refresh its page.

python scripts/make_sample.py merrowby.gpkg     write the GeoPackage
python scripts/make_sample.py --page            refresh the tables of fields in sample_course.gpkg.md
"""

from __future__ import annotations

import sys
from pathlib import Path

from gistools.base.units import UNITS
from gistools.site.schema import SURVEY_LAYERS, TABLES, Field, LayerSpec

PAGE = Path(__file__).resolve().parents[1] / "sample_course.gpkg.md"
START, END = "<!-- fields: made by scripts/make_sample.py --page -->", "<!-- end of fields -->"


def field_tables(rows: dict[str, int]) -> str:
    """Return every layer and table of the schema with its fields, and how many rows the sample has in each."""
    parts = []
    for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
        count = rows.get(spec.name, 0)
        held = f"{count} feature{'s' * (count != 1)}" if spec.geometry else f"{count} row{'s' * (count != 1)}"
        parts.append(f"### `{spec.name}`\n\n{_about(spec)} In the sample: {held if count else 'none'}.\n")
        lines = [
            "| field | type | unit | needed | bounds | if empty | meaning |",
            "|---|---|---|---|---|---|---|",
        ]
        lines += [_row(f) for f in spec.all_fields]
        parts.append("\n".join(lines) + "\n" if spec.all_fields else "")
    return "\n".join(parts)


def _about(spec: LayerSpec) -> str:
    text = spec.text[:1].upper() + spec.text[1:] + "."
    kind = " or ".join(spec.geometry) + "." if spec.geometry else "A plain table."
    return f"{text} {kind}" + (" Required." if spec.required else "")


def _row(f: Field) -> str:
    bounds = "" if f.low is None and f.high is None else f"{_plain(f.low)} to {_plain(f.high)}"
    default = (
        {True: "yes", False: "no"}.get(f.default, f.default) if isinstance(f.default, bool) else f.default
    )
    cells = (
        f"`{f.name}`",
        f.kind,
        UNITS[f.unit][1],
        "yes" if f.required else "",
        bounds,
        _plain(default),
        f.text,
    )
    return "| " + " | ".join(cells) + " |"


def _plain(value: object) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, int | float) else str(value)


def refreshed(page: str) -> str:
    """Return the page with its tables of fields made anew."""
    from gistools.site.sample import sample_site

    rows = {name: len(table) for name, table in sample_site().tables.items()}
    before, rest = page.split(START)
    _, after = rest.split(END)
    return f"{before}{START}\n\n{field_tables(rows)}\n{END}{after}"


def main(arguments: list[str]) -> int:
    """Do what the command line asks for."""
    if len(arguments) != 1:
        print(__doc__)
        return 2
    if arguments[0] == "--page":
        PAGE.write_text(refreshed(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
        print(f"{PAGE.name} is up to date")
        return 0
    from gistools.site.sample import write_sample

    print(write_sample(arguments[0]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
