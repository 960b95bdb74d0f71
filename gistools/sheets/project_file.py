"""A project of a desktop GIS beside a site file: layers grouped, drawn and filtered, with map themes.

The desktop is not needed to make it. The file is XML as that desktop writes it, which is not documented: what
is in it was tried against the desktop itself.
"""

from __future__ import annotations

import os
import re
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from gistools.base.errors import InputError, WriteError
from gistools.base.files import write_files
from gistools.sheets.layer_groups import GROUND, ORDER, SURVEY, THEMES, placing, theme_layers
from gistools.sheets.project_layouts import layout_documents
from gistools.sheets.rendering import render
from gistools.sheets.shown_first import shown_first
from gistools.sheets.styles import map_colours, survey_style
from gistools.site._file import Contents, Table, look_inside, reading
from gistools.site.schema import RESULT_PREFIX

ENDING = ".qgs"
RASTER = "2d-gridded-coverage"
FAMILIES = {"POINT": "Point", "LINESTRING": "Line", "POLYGON": "Polygon"}
ROUGH = (168, 160, 112)  # colour the relief is tinted with


@dataclass(frozen=True)
class ProjectLayer:
    """A layer of the project: its table, title, group, where its rows come from, and how it is drawn.

    ``family`` is Point, Line or Polygon, empty without geometry; ``style`` the parts of its style document;
    ``colours`` pairs of a value and its colour of a map, empty for relief.
    """

    table: str
    title: str
    group: str
    source: str
    visible: bool
    family: str = ""
    raster: bool = False
    style: str = ""
    labelled: bool = False
    colours: tuple[tuple[str, str], ...] = ()

    @property
    def id(self) -> str:
        """Name in the project's XML; the desktop gives short ones another name."""
        return f"site_layer_{re.sub(r'[^a-z0-9_]', '_', self.table)}_{zlib.crc32(self.table.encode()):08x}"


def write_project(path: str | Path, to: str | Path | None = None, *, replace: bool = False) -> Path:
    """Write a project file that shows a site and its results in a desktop GIS.

    Layers stand in the groups of the plug-in, drawn as on the pages, result layers with one tee, player, wind
    and hole location at a time. Map themes choose the visible ones. Styles that the surveyor left in the
    file are kept. Print layouts on A3: plan, green and section of each hole, and the site. A section is a
    drawing of the ground as it is now: write the project anew when the ground changes.

    Parameters
    ----------
    path
        The GeoPackage with the survey, and results where it was studied.
    to
        The project file; by default ``<site>.qgs`` beside the file.
    replace
        Write over a file that is there.

    Returns
    -------
    Path
        The project file.

    Raises
    ------
    InputError
        If the name does not end in ``.qgs``, or the file is there already.
    SiteError
        If the site cannot be read.
    WriteError
        If the project cannot be written.
    """
    path = Path(path)
    target = path.with_suffix(ENDING) if to is None else Path(to)
    if target.suffix.lower() != ENDING:
        raise InputError(f"{target}: a project file ends in {ENDING}")
    if target.exists() and not replace:
        raise InputError(f"{target} is already there; choose another name, or have it replaced (--replace)")
    contents = look_inside(path)
    layers = _layers(path, target, contents)
    groups = [(name, [layer for layer in layers if layer.group == name]) for name in ORDER]
    ground = [layer for layer in layers if layer.group == GROUND]
    themes = {
        theme: [
            *(
                layer
                for layer in layers
                if layer.table.removeprefix(RESULT_PREFIX) in theme_layers(theme) and not layer.raster
            ),
            *ground,
        ]
        for theme in THEMES
    }
    text = render(
        "project.qgs",
        title=path.stem,
        crs=_crs(path, contents),
        extent=_extent(path),
        groups=[(name, rows) for name, rows in groups if rows],
        layers=layers,
        themes=themes,
        layouts=[text for _, text in layout_documents(path)],
        rough=ROUGH,
    )
    try:
        write_files({target: text.encode("utf-8")})
    except OSError as fault:
        raise WriteError(f"{target} cannot be written: {fault.strerror}") from fault
    return target


def _layers(path: Path, project: Path, contents: Contents) -> list[ProjectLayer]:
    """Return the layers of a site, points above lines above areas above maps."""
    filters = {table: (condition, words) for table, condition, words in shown_first(path)}
    shapes, styles, empty = _tables(path, contents)
    layers, place = [], _place(path, project)
    for table in contents.tables:
        name = table.name
        result = name.lower().startswith(RESULT_PREFIX) or name == "terrain_proposed"
        if not (result or name in SURVEY or name == "terrain") or name in empty:
            continue
        family = shapes.get(name, "")
        document = _whole(styles.get(name)) or survey_style(name, family) or ""
        layers.append(_layer(table, place, family, document, *filters.get(name, ("", ""))))
    return sorted(layers, key=_height)


def _whole(document: str | None) -> str:
    """Return a style document of the file, empty where it is none: it would spoil the project."""
    try:
        return document if document and ElementTree.fromstring(document).tag == "qgis" else ""
    except ElementTree.ParseError:
        return ""


def _layer(table: Table, place: str, family: str, document: str, condition: str, chosen: str) -> ProjectLayer:
    name = table.name
    raster = table.kind == RASTER
    title, group, visible = placing(name, raster=raster, spatial=bool(family), chosen=chosen)
    if raster:
        colours = tuple((f"{value:g}", colour) for value, colour in map_colours(name))
        return ProjectLayer(name, title, group, f"GPKG:{place}:{name}", visible, raster=True, colours=colours)
    source = f"{place}|layername={name}" + (f"|subset={condition}" if condition else "")
    body = re.search(r"<qgis[^>]*>(.*)</qgis>", document, re.DOTALL)
    labelled = 'labelsEnabled="1"' in document
    return ProjectLayer(
        name, title, group, source, visible, family, style=body.group(1) if body else "", labelled=labelled
    )


def _height(layer: ProjectLayer) -> tuple[int, int, str]:
    """Where a layer lies: survey layers below results in their own order, the terrain last."""
    if layer.table in SURVEY:
        return 5, SURVEY.index(layer.table), layer.table
    if layer.raster:
        return (6 if layer.table == "terrain" else 4), 0, layer.table
    return ("Point", "Line", "Polygon", "").index(layer.family), 0, layer.table


def _place(path: Path, project: Path) -> str:
    """Return where the site lies, as seen from the project; in full where the two are on different drives."""
    try:
        away = Path(os.path.relpath(path.resolve(), project.resolve().parent)).as_posix()
    except ValueError:
        return path.resolve().as_posix()
    return away if away.startswith(".") else f"./{away}"


def _tables(path: Path, contents: Contents) -> tuple[dict[str, str], dict[str, str], set[str]]:
    """Return kinds of geometry and style documents by table, and the survey layers without a row."""
    names = {t.name.lower(): t.name for t in contents.tables}
    styles: dict[str, str] = {}
    with reading(path) as link:
        kinds = link.execute("SELECT table_name, geometry_type_name FROM gpkg_geometry_columns").fetchall()
        columns = {str(row[1]) for row in link.execute("PRAGMA table_info(layer_styles)")}
        if {"f_table_name", "styleQML", "useAsDefault"} <= columns:
            sql = (
                "SELECT f_table_name, styleQML FROM layer_styles WHERE useAsDefault AND styleQML IS NOT NULL"
            )
            styles = {names.get(str(n).lower(), str(n)): str(text) for n, text in link.execute(sql)}
        empty = set()
        for name in SURVEY:
            if name in names:
                quoted = names[name].replace('"', '""')
                if link.execute(f'SELECT 1 FROM "{quoted}" LIMIT 1').fetchone() is None:
                    empty.add(names[name])
        shapes = {}
        for table, kind in kinds:
            name = names.get(str(table).lower(), str(table))
            single = str(kind).upper().removeprefix("MULTI")
            shapes[name] = FAMILIES.get(single) or _first_family(link, name)
    return shapes, styles, empty


def _first_family(link: Any, table: str) -> str:
    """Return the kind of the first geometry of a table that declares none."""
    from gistools.site.add_rows import shape_of_blob

    quoted = table.replace('"', '""')
    column = link.execute(
        "SELECT column_name FROM gpkg_geometry_columns WHERE lower(table_name) = ?", (table.lower(),)
    ).fetchone()[0]
    row = link.execute(f'SELECT "{column}" FROM "{quoted}" WHERE "{column}" IS NOT NULL LIMIT 1').fetchone()
    return (
        "" if row is None else FAMILIES.get(shape_of_blob(row[0]).geom_type.upper().removeprefix("MULTI"), "")
    )


def _crs(path: Path, contents: Contents) -> dict[str, str]:
    """Return the code and the definition of the CRS of the site."""
    tees = contents.find("tees")
    with reading(path) as link:
        row = link.execute(
            "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys"
            " WHERE srs_id = ?",
            (tees.srs_id if tees else -1,),
        ).fetchone()
    organization, code, definition = row or ("NONE", 0, "")
    known = str(organization).upper() == "EPSG"
    return {"authid": f"EPSG:{code}" if known else "", "wkt": str(definition)}


def _extent(path: Path) -> tuple[float, float, float, float]:
    """Return west, south, east, north of the tees, fairways and greens, a tenth wider."""
    with reading(path) as link:
        rows = link.execute(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE min_x IS NOT NULL"
            " AND lower(table_name) IN ('tees', 'fairway', 'greens')"
        ).fetchall()
    if not rows:
        return 0.0, 0.0, 1.0, 1.0
    west, south = min(r[0] for r in rows), min(r[1] for r in rows)
    east, north = max(r[2] for r in rows), max(r[3] for r in rows)
    margin = 0.1 * max(east - west, north - south)
    return west - margin, south - margin, east + margin, north + margin
