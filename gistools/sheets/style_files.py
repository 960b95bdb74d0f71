"""Style files (.sld, OGC Symbology Encoding 1.1) for the result layers of a site.

Sources: OGC 05-077r4 (Symbology Encoding 1.1.0), clause 11.6 for rasters, and 05-078r4 (Styled Layer
Descriptor 1.1.0).
"""

from __future__ import annotations

from pathlib import Path

from gistools.base.errors import InputError, WriteError
from gistools.base.files import file_name
from gistools.sheets.rendering import render
from gistools.sheets.styles import desktop_style, map_colours
from gistools.site._file import look_inside
from gistools.site.schema import RESULT_PREFIX


def write_styles(path: str | Path, to: str | Path | None = None, *, replace: bool = False) -> list[Path]:
    """Write a style file for each result layer and map of a site, named like the layer.

    Parameters
    ----------
    path
        The GeoPackage with the results.
    to
        Folder; by default ``<site>_styles`` beside the file.
    replace
        Write over style files that are there already.

    Raises
    ------
    InputError
        If the file has no results.
    WriteError
        If a file is there already, or the folder cannot be written to.
    """
    path = Path(path)
    folder = Path(to) if to is not None else path.with_name(path.stem + "_styles")
    made = {}
    for table in look_inside(path).tables:
        name = table.name.lower()
        if name.startswith(RESULT_PREFIX):
            style = desktop_style(name)
            text = style[1] if style is not None else map_style(name)
            if text is not None:
                made[folder / file_name(table.name, ".sld")] = text
    if not made:
        raise InputError(f"{path.name} has no result layers yet: study it first")
    there = [p.name for p in made if p.exists()]
    if there and not replace:
        raise WriteError(
            f"{folder} already has {', '.join(sorted(there)[:5])}; name another folder, or have them replaced"
            " (--replace)"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in made.items():
            file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise WriteError(f"the folder {folder} cannot be written to: {error}") from error
    return sorted(made)


def map_style(table: str) -> str | None:
    """Return the SLD of a map by the name of its table, or None where no scale is declared for it."""
    points = [(f"{value:g}", colour) for value, colour in map_colours(table)]
    return render("map.sld", table=table, points=points) if points else None
