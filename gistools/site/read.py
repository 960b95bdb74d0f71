"""Opening a site: survey layers, CRS, units and terrain in; nothing of it changed."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from gistools.base.errors import SiteError
from gistools.base.settings import checked_settings
from gistools.site import _vector
from gistools.site._file import Contents, Table, look_inside
from gistools.site.consistency import consistency_findings
from gistools.site.fields import names_for, read_fields
from gistools.site.findings import Finding, in_order
from gistools.site.geometries import clean_geometries, without_repeats
from gistools.site.model import Site, settings_of
from gistools.site.plausibility import plausibility_findings
from gistools.site.schema import (
    RESULT_PREFIX,
    SURVEY_LAYERS,
    TABLES,
    TERRAIN,
    TERRAIN_PROPOSED,
    LayerSpec,
)
from gistools.site.terrain import UnknownHeightUnit, open_terrain, parse_unit, same_plan
from gistools.site.types import TerrainSource, metre_crs_of
from gistools.site.vocabulary import layer_meant

_SPECS = {**SURVEY_LAYERS, **TABLES}
#: the layers whose CRS is that of the site, the first that has one
_LEADING = ("greens", "tees", "fairway")
_COVERAGE = "2d-gridded-coverage"


def open_site(
    path: str | Path,
    terrain: str | Path | None = None,
    fields: Mapping[str, Any] | None = None,
    *,
    height_unit: str | None = None,
    settings: Mapping[str, Any] | None = None,
) -> Site:
    """Open a site: survey layers and terrain, in metres. The file is never changed.

    Parameters
    ----------
    path
        The GeoPackage with the survey layers of :mod:`gistools.site.schema`. Layer and field names are
        matched without regard to case; layers of results and of others are left alone.
    terrain
        Path of a GeoTIFF, or name of a raster table in the GeoPackage. Without it the table `terrain` is used
        where there is one. ``"terrain_proposed"`` studies the proposed ground, with `terrain` as the existing
        one beside it.
    fields
        The surveyor's own field names: ``{our field: theirs}`` for every layer, ``{layer: {our field:
        theirs}}`` for one, or both together.
    height_unit
        Unit of the terrain's heights, ``"m"``, ``"ft"`` or ``"us-ft"``, where nothing in the file tells it.
    settings
        Settings that win over those in the file, ``{"stimp_ft": 11, "firmness:3": "firm"}``; see
        :mod:`gistools.base.settings`.

    Returns
    -------
    Site
        With ``findings``: what is wrong, and what was assumed. Steps refuse to run on layers that are in
        error.

    Raises
    ------
    SiteError
        If the file is missing, no GeoPackage, damaged or locked; if the CRS is missing or geographic; if the
        named terrain cannot be found; if the unit of the heights is unknown on a site in feet.
    InputError
        If ``fields``, ``height_unit`` or ``settings`` make no sense.
    """
    given = checked_settings(settings or {})
    site, refusal = assemble(Path(path), terrain, fields, height_unit)
    if refusal is not None:
        raise refusal
    return site.replace(settings=given) if given else site


def assemble(
    path: Path,
    terrain: str | Path | None,
    fields: Mapping[str, Any] | None,
    height_unit: str | None,
    *,
    thorough: bool = False,
) -> tuple[Site, SiteError | None]:
    """Read a site, and return it with the refusal that ``open_site`` raises and ``check`` lists."""
    names_for("", fields)
    if height_unit is not None:
        parse_unit(height_unit)
    contents = look_inside(path, pages="all" if thorough else "some")
    findings: list[Finding] = []
    raws = _survey(path, contents, findings)
    crs = _site_crs(path, contents, raws)
    metric, unit_m = metre_crs_of(crs)
    tables = {}
    for name, raw in raws.items():
        spec = _SPECS[name]
        if spec.geometry:
            if raw.geometry is None:
                message = "it is a plain table; features with geometry are expected"
                findings.append(
                    Finding("error", name, None, message, f"draw it as {' or '.join(spec.geometry)}")
                )
                continue
            if not _crs_fits(raw, contents, crs, findings):
                continue
            entry = contents.find(raw.name)
            tables[name] = _layer(raw, spec, metric, unit_m, fields, bool(entry and entry.has_m), findings)
        else:
            columns, notes = read_fields(raw.table, raw.ids, spec, fields)
            findings.extend(notes)
            tables[name] = pd.DataFrame({"fid": raw.ids, **columns})
    if "settings" in tables:
        faults = settings_of(tables["settings"])[1]
        findings.extend(Finding("error", "settings", fid, fault, "correct the row") for fid, fault in faults)
    _missing_layers(tables, contents, findings)
    ground, existing, terrain_path, refusal = _grounds(
        path, contents, terrain, crs, unit_m, height_unit, findings
    )
    site = Site(crs, metric, unit_m, tables, ground, existing, path.resolve(), terrain_path)
    more = [*consistency_findings(site), *plausibility_findings(site)]
    ordered = tuple(in_order(_with_holes([*findings, *more], raws, fields)))
    return Site(crs, metric, unit_m, tables, ground, existing, path.resolve(), terrain_path, ordered), refusal


def _with_holes(
    findings: list[Finding], raws: Mapping[str, _vector.RawLayer], fields: Mapping[str, Any] | None
) -> list[Finding]:
    """Give each finding of a feature the hole that the feature carries in the file."""
    numbers: dict[str, dict[int, int]] = {}
    for layer, raw in raws.items():
        field = names_for(layer, fields).get("hole", "hole").lower()
        column = next((c for c in raw.table.columns if str(c).lower() == field), None)
        cells = [] if column is None else pd.to_numeric(raw.table[column], errors="coerce").tolist()
        numbers[layer] = {
            fid: int(cell) for fid, cell in zip(raw.ids, cells, strict=False) if cell in range(1, 37)
        }
    return [
        f
        if f.hole is not None or f.fid is None
        else dataclasses.replace(f, hole=numbers.get(f.layer, {}).get(f.fid))
        for f in findings
    ]


def _survey(path: Path, contents: Contents, findings: list[Finding]) -> dict[str, _vector.RawLayer]:
    """Read every survey layer and table the file has, and note those that are nearly named like one."""
    raws = {}
    for name, fault in contents.faults:
        if name in _SPECS or name == TERRAIN:
            remedy = "save it as a table of its own, or export the layers to a new GeoPackage"
            findings.append(Finding("error", name, None, fault, remedy))
    for table in contents.tables:
        name = table.name.lower()
        if name in _SPECS and table.kind in ("features", "attributes"):
            raws[name] = _vector.read_layer(path, table.name)
        elif not name.startswith(RESULT_PREFIX) and table.kind == "features":
            meant = layer_meant(table.name)
            if meant is not None and contents.find(meant[0]) is None:
                message = f"the layer `{table.name}` is not read; did you mean `{meant[0]}`? ({meant[1]})"
                remedy = f"rename it `{meant[0]}` if it is that, or bring the file in with `gistools import`"
                findings.append(Finding("warning", meant[0], None, message, remedy))
    return raws


def _site_crs(path: Path, contents: Contents, raws: Mapping[str, _vector.RawLayer]) -> CRS:
    shaped = [n for n in (*_LEADING, *raws) if n in raws and raws[n].geometry is not None]
    if not shaped:
        others = [t.name for t in contents.tables if t.kind == "features"]
        raise SiteError(
            f"{path} has none of the survey layers; they are named {', '.join(SURVEY_LAYERS)}"
            f" (tees, fairway and greens are needed). It has {', '.join(others[:12]) or 'no layer'}:"
            " bring it in with `gistools import`"
        )
    for name in shaped:
        crs = _layer_crs(raws[name], contents)
        if crs is not None:
            return usable_crs(crs, name)
    raise SiteError(f"the layer `{shaped[0]}` has no CRS; set the one it was surveyed in, in your GIS")


def _layer_crs(raw: _vector.RawLayer, contents: Contents) -> CRS | None:
    entry = contents.find(raw.name)
    if raw.crs is None or entry is None or entry.srs_id in (0, -1):
        return None
    code = raw.crs.to_epsg()
    if code is not None:
        known = CRS.from_epsg(code)
        if known.equals(raw.crs, ignore_axis_order=True):
            return known
    return raw.crs


def usable_crs(crs: CRS, layer: str) -> CRS:
    """Return a CRS that a site can be in: projected, its axes east and north in one unit of length.

    Raises
    ------
    SiteError
        If it is another; ``layer`` is named in the message.
    """
    advice = "project the layers to the national grid or the UTM zone of the site"
    if crs.is_geographic or crs.is_geocentric:
        raise SiteError(f"the CRS of `{layer}` is {crs.name}, in degrees; {advice}")
    plan = crs.sub_crs_list[0] if crs.is_compound else crs
    axes = {a.direction for a in plan.axis_info}
    if plan.is_projected and axes != {"east", "north"}:
        raise SiteError(
            f"the axes of {crs.name} point {' and '.join(a.direction for a in plan.axis_info)},"
            f" not east and north; {advice}"
        )
    if len({a.unit_conversion_factor for a in plan.axis_info}) != 1 or len(plan.axis_info) < 2:
        raise SiteError(f"the axes of {crs.name} have no common unit of length; {advice}")
    return crs


def _crs_fits(raw: _vector.RawLayer, contents: Contents, crs: CRS, findings: list[Finding]) -> bool:
    name = raw.name.lower()
    layer_crs = _layer_crs(raw, contents)
    if layer_crs is None:
        message = "it has no CRS; it was left out"
        findings.append(Finding("error", name, None, message, "set the CRS it was surveyed in"))
    elif not same_plan(layer_crs, crs):
        message = f"it is in {layer_crs.name} and the site in {crs.name}; it was left out"
        findings.append(Finding("error", name, None, message, f"project it to {crs.name}"))
    else:
        return True
    return False


def _layer(
    raw: _vector.RawLayer,
    spec: LayerSpec,
    metric: CRS,
    unit_m: float,
    fields: Mapping[str, Any] | None,
    has_m: bool,
    findings: list[Finding],
) -> gpd.GeoDataFrame:
    rows, shapes, notes = clean_geometries(raw, spec, unit_m, has_m)
    findings.extend(notes)
    ids = [raw.ids[i] for i in rows]
    kinds = [s.geom_type for s in shapes]
    columns, notes = read_fields(raw.table.iloc[rows], ids, spec, fields, kinds)
    findings.extend(notes)
    table = gpd.GeoDataFrame(
        {"fid": pd.Series(ids, dtype="int64"), **columns}, geometry=gpd.GeoSeries(shapes, crs=metric)
    )
    keep, notes = without_repeats(shapes, list(columns.get("hole", [""] * len(ids))), ids, spec.name)
    findings.extend(notes)
    return table.iloc[keep].reset_index(drop=True) if len(keep) < len(table) else table


def _missing_layers(tables: Mapping[str, Any], contents: Contents, findings: list[Finding]) -> None:
    refused = {f.layer for f in findings if f.level == "error" and f.fid is None}
    for name, spec in SURVEY_LAYERS.items():
        if not spec.required or name in refused:
            continue
        if contents.find(name) is None and name not in dict(contents.faults):
            message = f"the layer `{name}` is missing ({spec.text})"
            findings.append(Finding("error", name, None, message, "add it to the GeoPackage"))
        elif len(tables.get(name, ())) == 0:
            message = f"the layer `{name}` has no usable feature in it"
            findings.append(Finding("error", name, None, message, "draw at least one"))
    if len(tables.get("pins", ())) == 0:
        message = "there are no pins; the centre of each green is used"
        findings.append(Finding("note", "pins", None, message, "add the hole locations to study them"))


def _grounds(
    path: Path,
    contents: Contents,
    terrain: str | Path | None,
    crs: CRS,
    unit_m: float,
    height_unit: str | None,
    findings: list[Finding],
) -> tuple[TerrainSource | None, TerrainSource | None, Path | None, SiteError | None]:
    refusal: SiteError | None = None

    def opened(file: Path, table: str) -> TerrainSource | None:
        nonlocal refusal
        try:
            ground, notes = open_terrain(file, table, crs, unit_m, height_unit)
        except SiteError as fault:
            findings.append(Finding("error", "terrain", None, str(fault)))
            if isinstance(fault, UnknownHeightUnit):
                refusal = fault
            return None
        findings.extend(notes)
        return ground

    present = _coverage(contents, TERRAIN, findings)
    if terrain is None:
        if present is None:
            message = "the site has no terrain; steps that need heights will not run"
            remedy = "name a GeoTIFF (--terrain, terrain= in Python)"
            findings.append(Finding("warning", "terrain", None, message, remedy))
            return None, None, None, None
        if contents.find(TERRAIN_PROPOSED) is not None:
            message = (
                f"the existing ground is studied; open with terrain='{TERRAIN_PROPOSED}' for the proposed one"
            )
            findings.append(Finding("note", "terrain", None, message))
        return opened(path, present.name), None, path.resolve(), refusal
    named = _coverage(contents, str(terrain), findings)
    if named is not None:
        ground = opened(path, named.name)
        proposed = named.name.lower() == TERRAIN_PROPOSED and present is not None
        return ground, opened(path, present.name) if proposed and present else None, path.resolve(), refusal
    file = Path(terrain)
    if not file.is_file():
        refusal = SiteError(
            f"the terrain {terrain} is neither a file nor a raster table of {path.name}; check the name"
        )
        findings.append(Finding("error", "terrain", None, str(refusal)))
        return None, None, None, refusal
    return opened(file, ""), None, file.resolve(), refusal


def _coverage(contents: Contents, name: str, findings: list[Finding]) -> Table | None:
    table = contents.find(name)
    if table is not None and table.kind != _COVERAGE:
        message = f"the table `{table.name}` holds {table.kind}, not terrain heights (a 2D gridded coverage)"
        findings.append(
            Finding("error", "terrain", None, message, "store the heights as a raster of 32-bit floats")
        )
        return None
    return table
