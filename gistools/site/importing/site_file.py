"""Foreign data into a site file: read, mapped, numbered, put into one CRS, written whole, and checked."""

from __future__ import annotations

import dataclasses
import sqlite3
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS

from gistools.base.errors import InputError, WriteError
from gistools.base.files import atomic_replace, has_room, refuse_new_site, write_files
from gistools.base.progress import tick
from gistools.site import _raster, _vector
from gistools.site.check import check
from gistools.site.findings import Finding, grouped, in_order
from gistools.site.importing.features import Draft, apply_rules
from gistools.site.importing.holes import assign_holes
from gistools.site.importing.mapping import Mapping, guess, mapping_text, read_mapping
from gistools.site.importing.reference import accuracy_lines, choose_crs
from gistools.site.importing.source_layer import SourceLayer
from gistools.site.importing.sources import LICENCE, read_sources
from gistools.site.importing.terrain import Options, build_terrain, is_terrain
from gistools.site.importing.tidy import tidy
from gistools.site.new import draw_layers
from gistools.site.schema import LINE, POINT, POLYGON, SURVEY_LAYERS, TERRAIN
from gistools.site.types import metre_crs_of

#: room that a site takes at least, tried where writing fails [bytes]
SPARE_BYTES = 20 * 2**20
#: plain table of an imported site that says where its layers come from
RECORD = "import_record"


@dataclass(frozen=True)
class Import:
    """What an import did.

    Attributes
    ----------
    path
        The site file, or None where only the mapping was made.
    mapping_path, mapping
        The mapping file, and what is in it.
    crs
        CRS of the site.
    counts
        Features of each survey layer.
    findings
        What was assumed, mended or left out on the way, then what ``check`` finds on the site.
    """

    path: Path | None
    mapping_path: Path
    mapping: Mapping
    crs: CRS
    counts: dict[str, int]
    findings: tuple[Finding, ...]

    def summary(self) -> str:
        """Return what was done in a page of words: CRS, layers and how they were found, and remarks."""
        lines = [f"CRS {self.crs.name} ({self.crs.to_string()}): {self.mapping.crs_reason or 'given'}"]
        reasons: dict[str, list[str]] = {}
        for rule in self.mapping.rules:
            if rule.layer in self.counts:
                reasons.setdefault(rule.layer, []).append(rule.reason)
        for layer, count in self.counts.items():
            why = "; ".join(dict.fromkeys(r for r in reasons.get(layer, ()) if r))
            lines.append(f"  {layer:12} {count:5}  {why}")
        lines += [
            f"{g.level}: {g.where}: {g.message}" + f"; {g.remedy}" * bool(g.remedy)
            for g in grouped(self.findings)
        ]
        lines.append(f"Mapping: {self.mapping_path} (edit it and run the import again)")
        if self.path is not None:
            lines.append(f"Site: {self.path}")
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.summary()

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for machines."""
        return {
            "site": str(self.path or ""),
            "mapping": str(self.mapping_path),
            "crs": self.crs.to_string(),
            "layers": self.counts,
            "findings": [vars(f) for f in self.findings],
        }


def import_site(
    *sources: str | Path,
    to: str | Path,
    mapping: str | Path | None = None,
    crs: str | int | None = None,
    course: str = "",
    cell_m: float | None = None,
    gap_m: float | None = None,
    smooth_m: float = 0.0,
    height_unit: str | None = None,
    replace: bool = False,
    only_mapping: bool = False,
) -> Import:
    """Bring foreign data into a new site file, by a mapping that is guessed, kept and used again.

    Parameters
    ----------
    *sources
        Files on this computer: GeoPackage, shapefile, GeoJSON, KML, DXF and what else the vector library
        reads, and OpenStreetMap exports (``.osm``, ``.osm.pbf``). Terrain among them: GeoTIFF and other
        rasters, laser points (``.las``, ``.laz``), LandXML, text of easting, northing, level; contours, spot
        levels and breaklines come as vector layers. Where several cover a place, the first named counts.
    to
        The site file to make, ending in ``.gpkg``.
    mapping
        Mapping file. It is used where it exists, else guessed and written there; by default beside the site
        (``merrowby.mapping.toml``).
    crs
        CRS of the site, for example ``"EPSG:27700"``; by default that of the mapping, of the sources, or the
        UTM zone.
    course
        Which course to take where the sources hold several.
    cell_m
        Side of a cell of the terrain [m]; by default what suits the densest source, from 0.5 to 5 m.
    gap_m
        Longest gap that is bridged between levels [m]; by default 60 m between single levels and contours,
        ten
        cells between laser points. What is wider stays open and is told.
    smooth_m
        Width of a Gaussian that smooths roughness which is noise and not ground [m]; 0 for none.
    height_unit
        Unit of the heights, ``"m"``, ``"ft"`` or ``"us-ft"``, where the sources do not tell it.
    replace
        Replace a site file that is already there.
    only_mapping
        Stop when the mapping is written, before the site is made.

    Returns
    -------
    Import
        What was done: the site, its CRS and layers, the mapping, and what was assumed or found.

    Raises
    ------
    InputError
        If a source, the mapping, the CRS or the course cannot be used; says what to do.
    SiteError
        If a source cannot be read.
    WriteError
        If the site cannot be written. Nothing is then left half done.
    """
    site_path = Path(to)
    _refuse_target(site_path, [Path(s) for s in sources], replace or only_mapping)
    tick(0.0, "reading the sources")
    paths = [Path(s) for s in sources]
    ground = [p for p in paths if is_terrain(p)]
    layers = read_sources([p for p in paths if p not in ground])
    mapping_path = site_path.with_suffix(".mapping.toml") if mapping is None else Path(mapping)
    known = mapping_path.exists()
    rules = read_mapping(mapping_path) if known else guess(layers)
    if not rules.rules:
        have = "; ".join(_described(layer) for layer in layers)
        raise InputError(
            f"no word in the sources says what is what: {have}. Write a mapping (--mapping FILE)"
        )
    rules = dataclasses.replace(rules, crs="" if crs is None else str(crs)) if crs is not None else rules
    rules = dataclasses.replace(rules, course=course) if course else rules
    site_crs, reason = choose_crs(layers, rules)
    rules = dataclasses.replace(rules, crs=site_crs.to_string(), crs_reason=reason)
    if not known:
        _write_mapping(mapping_path, rules)
    if only_mapping:
        return Import(None, mapping_path, rules, site_crs, {}, ())
    tick(0.3, "features to layers")
    _, unit_m = metre_crs_of(site_crs)
    draft = apply_rules(layers, rules, site_crs, unit_m)
    tick(0.5, "holes")
    assign_holes(draft, rules.course)
    options = Options(cell_m, gap_m, smooth_m, height_unit)
    if (cell_m is not None and not 0.1 <= cell_m <= 50) or smooth_m < 0 or (gap_m is not None and gap_m <= 0):
        raise InputError("a cell is 0.1 to 50 m, a gap more than 0 m, a smoothing width 0 m or more")
    tick(0.6, "terrain")
    surface = build_terrain(ground, draft, site_crs, unit_m, options)
    tidy(draft)
    if not draft.features:
        raise InputError(
            "nothing is left to write: no feature of the sources fits a rule; correct the mapping"
        )
    for line in accuracy_lines(layers, site_crs):
        draft.say("note", "", line)
    tick(0.7, "writing the site")
    try:
        with atomic_replace(site_path) as (scratch,):
            _write(scratch, draft, site_crs, unit_m, _record(layers, rules))
            draw_layers(scratch)
            if surface is not None:
                edges = (surface.x_west / unit_m, surface.y_north / unit_m, surface.cell / unit_m)
                _raster.write_coverage(scratch, TERRAIN, surface.z, *edges, site_crs)
    except (OSError, sqlite3.OperationalError) as fault:
        if not has_room(site_path.parent, SPARE_BYTES):
            raise WriteError(
                f"{site_path} cannot be written: its folder has no room (full, or files may not grow so far);"
                " make room there, or name another folder. Nothing was written"
            ) from fault
        if isinstance(fault, WriteError):
            raise
        raise WriteError(f"{site_path} cannot be written: {fault}") from fault
    if course and known:
        draft.say(
            "note", "", f"the course {course!r} is not in the kept mapping; give it again, or write it there"
        )
    findings = in_order(draft.findings) + check(site_path)
    counts = Counter(f.layer for f in draft.features)
    ordered = {layer: counts[layer] for layer in SURVEY_LAYERS if counts[layer]}
    return Import(site_path, mapping_path, rules, site_crs, ordered, tuple(findings))


def _refuse_target(path: Path, sources: list[Path], replace: bool) -> None:
    if not sources:
        raise InputError("name at least one source")
    if any(s.exists() and path.exists() and s.samefile(path) for s in sources):
        raise InputError(f"{path} is a source; name another file for the site")
    refuse_new_site(path, replace)


def _described(layer: SourceLayer) -> str:
    fields = ", ".join(str(c) for c in layer.table.columns[:8]) or "no fields"
    return f"{layer.source}, {layer.name}: {len(layer.table)} {'/'.join(sorted(layer.kinds))} with {fields}"


def _write_mapping(path: Path, mapping: Mapping) -> None:
    try:
        write_files({path: mapping_text(mapping).encode("utf-8")})
    except OSError as fault:
        raise WriteError(f"the mapping {path} cannot be written: {fault}") from fault


def _record(layers: list[SourceLayer], mapping: Mapping) -> pd.DataFrame:
    rows = [
        {
            "source": layer.source,
            "layer": layer.name,
            "features": len(layer.table),
            "crs": "" if layer.crs is None else layer.crs.to_string(),
            "licence": LICENCE if layer.open_map else "",
        }
        for layer in layers
    ]
    rows.append(
        {
            "source": "mapping",
            "layer": mapping_text(mapping),
            "features": None,
            "crs": mapping.crs,
            "licence": "",
        }
    )
    return pd.DataFrame(rows)


def _write(scratch: Path, draft: Draft, crs: CRS, unit_m: float, record: pd.DataFrame) -> None:
    scratch.unlink(missing_ok=True)
    for layer, spec in SURVEY_LAYERS.items():
        features = draft.of(layer)
        if not features:
            continue
        columns: dict[str, Any] = {
            f.name: pd.Series([feature.fields.get(f.name) for feature in features], dtype=object)
            for f in spec.all_fields
            if any(f.name in feature.fields for feature in features) or f.required
        }
        columns["origin"] = pd.Series([feature.origin for feature in features], dtype=object)
        shapes = [shapely.transform(f.shape, lambda xy: xy / unit_m) for f in features]
        table = gpd.GeoDataFrame(columns, geometry=gpd.GeoSeries(shapes, crs=crs))
        kinds = {s.geom_type for s in shapes}
        declared = kinds.pop() if len(kinds) == 1 else None
        assert declared in (POINT, LINE, POLYGON, None)
        _vector.write_layer(scratch, layer, table, crs=crs, geometry=declared)
    _vector.write_layer(scratch, RECORD, record)
