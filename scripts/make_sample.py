"""Make the data of the sample site that the package ships, write the site, or refresh its page.

python scripts/make_sample.py --data            make gistools/site/data from the recipe in
scripts/sample_course python scripts/make_sample.py merrowby.gpkg     write the GeoPackage python
scripts/make_sample.py --page            refresh the tables of fields in sample_course.gpkg.md
"""

from __future__ import annotations

import os
import sys
import tempfile
import zipfile
from pathlib import Path

from gistools.base.units import UNITS
from gistools.site.schema import SURVEY_LAYERS, TABLES, Field, LayerSpec

PAGE = Path(__file__).resolve().parents[1] / "sample_course.gpkg.md"
START, END = "<!-- fields: made by scripts/make_sample.py --page -->", "<!-- end of fields -->"


def field_tables(rows: dict[str, int]) -> str:
    """Return every layer and table of the schema with its fields and the sample's rows."""
    parts = []
    for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
        count = rows.get(spec.name, 0)
        amount = (
            f"{count} feature{'s' * (count != 1)}" if spec.geometry else f"{count} row{'s' * (count != 1)}"
        )
        parts.append(f"### `{spec.name}`\n\n{_about(spec)} In the sample: {amount if count else 'none'}.\n")
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


def make_data(folder: Path) -> tuple[Path, Path]:
    """Make the survey layers and the terrain from the recipe.

    The same bytes every time with the same libraries.
    """
    sys.path.insert(0, str(Path(__file__).resolve().parent))
    os.environ["OGR_CURRENT_DATE"] = "2000-01-01T00:00:00Z"
    import numpy as np
    import rasterio
    from sample_course.ground import terrain
    from sample_course.layers import layers

    from gistools.site._vector import write_layer
    from gistools.site.sample import EPSG, GROUND, SURVEY

    s = terrain()
    survey, ground = folder / SURVEY.name, folder / GROUND.name
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "merrowby.gpkg"
        for name, table in layers(s).items():
            kinds = set(table.geometry.geom_type) if name in SURVEY_LAYERS else set()
            write_layer(path, name, table, geometry=kinds.pop() if len(kinds) == 1 else None)
        with zipfile.ZipFile(survey, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
            entry = zipfile.ZipInfo(path.name, (2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, path.read_bytes())
    rows, cols = s.z.shape
    profile = {
        "driver": "GTiff",
        "width": cols,
        "height": rows,
        "count": 1,
        "dtype": "int16",
        "crs": f"EPSG:{EPSG}",
    }
    layout = {"tiled": True, "blockxsize": 512, "blockysize": 512}
    squeeze = {"compress": "deflate", "predictor": 2, "zlevel": 9}
    grid = rasterio.Affine(s.cell, 0.0, s.x_west, 0.0, -s.cell, s.y_north)
    with rasterio.open(ground, "w", transform=grid, **profile, **layout, **squeeze) as raster:
        raster.write(np.round(s.z * 1000).astype("int16"), 1)
        raster.scales, raster.units = (0.001,), ("m",)
    return survey, ground


def main(arguments: list[str]) -> int:
    """Do what the command line asks for."""
    if len(arguments) != 1:
        print(__doc__)
        return 2
    if arguments[0] == "--page":
        PAGE.write_text(refreshed(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
        print(f"{PAGE.name} is up to date")
        return 0
    from gistools.site.sample import DATA, write_sample

    if arguments[0] == "--data":
        DATA.mkdir(exist_ok=True)
        for path in make_data(DATA):
            print(f"{path}: {path.stat().st_size / 1000:.0f} kB")
        return 0
    print(write_sample(arguments[0]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
