"""What a hand-off says about itself: the manifest for programs, the README for the crew."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from gistools.base.version import __version__
from gistools.compute.layout.setting_out import CODES
from gistools.handoff.frame import Frame
from gistools.site.model import Site
from gistools.site.proposed import is_stored
from gistools.steps.catalogue import find

if TYPE_CHECKING:
    from gistools.handoff.choices import HandoffChoices

FORMAT = "gistools hand-off 1"
MANIFEST = "manifest.json"

_WEB = "The GeoJSON is in WGS 84 and can be metres off on the ground: for maps, never for setting-out."


def version() -> str:
    """Version of this program."""
    return str(__version__)


def is_handoff(folder: Path) -> bool:
    """Tell whether a folder is a hand-off of ours."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(manifest, dict) and manifest.get("format") == FORMAT


def checksum(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()


def cautions() -> list[str]:
    """The cautions of the steps the hand-off is made of, each once, and that of the web map."""
    said = [c for name in ("setting_out", "quantities", "drainage") for c in find(name).cautions]
    return [*dict.fromkeys(said), _WEB]


def proposed_from(site: Site) -> str:
    """Say what the proposed ground is made from."""
    if site.ground is None:
        return "nothing: the site has no terrain"
    if site.existing is not None:
        return "the proposed ground the site was given"
    if is_stored(site):
        return "raster terrain_proposed of the site file"
    return "layer shapes laid on the terrain" if len(site.layer("shapes")) else "nothing: same as existing"


def vertical_note(frame: Frame) -> str:
    """Say what the levels refer to."""
    if frame.vertical:
        return f"levels refer to {frame.vertical}"
    return "the CRS of the site states no vertical datum: levels are those of the surveyed terrain"


def write_manifest(
    site: Site,
    folder: Path,
    frame: Frame,
    holes: dict[int, dict[str, Any]],
    tables: dict[str, Any],
    choices: HandoffChoices,
    drainage: list[str],
) -> None:
    """Write ``manifest.json``.

    What, from which site and version, CRS, units, datum, factors, checksums, cautions.
    """
    files = {
        path.relative_to(folder).as_posix(): {"bytes": path.stat().st_size, "sha256": checksum(path)}
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    manifest = {
        "format": FORMAT,
        "made": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
        "program": {"name": "gistools", "version": version()},
        "site": {
            "file": site.path.name if site.path is not None else None,
            "sha256": checksum(site.path) if site.path is not None and site.path.exists() else None,
        },
        "crs": {"epsg": frame.epsg, "name": frame.crs.name, "wkt": frame.crs.to_wkt()},
        "units": {
            "coordinates": frame.unit,
            "levels": frame.unit,
            "metres_in_one": frame.unit_m,
            "columns": "columns ending in _m are metres, whatever the unit of the coordinates",
        },
        "datum": vertical_note(frame),
        "distances": "grid; ground distance = grid distance / combined factor",
        "proposed_ground": proposed_from(site),
        "choices": vars(choices),
        "holes": {str(k): v for k, v in holes.items()},
        "quantities": _plain_rows(tables.get("quantities", pd.DataFrame())),
        "materials": [
            {"material": m, "total": round(v, 2), "unit": u}
            for m, v, u in material_totals(tables.get("materials", pd.DataFrame()))
        ],
        "drainage": drainage,
        "control": _plain_rows(tables["control_check"]),
        "codes": {code: meaning for code, (_, _, meaning) in CODES.items()},
        "cautions": cautions(),
        "files": files,
    }
    text = json.dumps(manifest, indent=1, ensure_ascii=False, allow_nan=False)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8", errors="replace")


def _plain_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    cells = pd.DataFrame(table.drop(columns="geometry", errors="ignore"))
    return [{str(k): _plain(v) for k, v in row.items()} for row in cells.to_dict("records")]


def _plain(value: Any) -> Any:
    if value is None or value is pd.NA or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, np.generic):
        return _plain(value.item())
    return round(value, 4) if isinstance(value, float) else value


#: what a file is for; shown where the folder has one that fits
_FILES = (
    ("hole_*/*_PNEZD_[!t]*.csv", "points: number, northing, easting, proposed level, description; no titles"),
    ("hole_*/*_PNEZD_titles_*.csv", "the same with titles"),
    (
        "hole_*/*_setting_out.csv",
        "all that is known of each point, for a spreadsheet; columns in _m are metres",
    ),
    (
        "hole_*/*_staking_lists.xlsx",
        "lists to print: features in an order to walk them, and what each stake says",
    ),
    ("hole_*/by_feature", "the same points, a file for each feature"),
    (
        "hole_*/hole_??.dxf",
        "points as blocks with attributes, outlines at proposed level, contours, what stands there",
    ),
    ("hole_*/*_shaped_faces_*.dxf", "triangles of the shaped ground as 3D faces, for machine control"),
    (
        "hole_*/*.xml",
        "LandXML 1.2: points, line of play, breaklines, existing and (where it differs) proposed surface",
    ),
    ("hole_*/*_existing_*.tif", "existing surface"),
    ("hole_*/*_proposed_*.tif", "proposed surface"),
    ("handoff.gpkg", "points, contours, quantities, materials, control check of all holes"),
    ("control_PNEZD_*.csv", "control points: name, northing, easting, published level"),
    ("control.csv", "the same with what a check found; columns in _m are metres"),
    ("quantities.csv", "cut and fill in cubic metres"),
    ("materials.csv", "layers, turf and drains of greens, tees, bunkers and fairways, as if built anew"),
    ("quantities.xlsx", "the same to price, with areas and materials; amounts are formulas"),
    ("setting_out_wgs84.geojson", "points for a web map"),
)


def _file_lines(folder: Path, choices: HandoffChoices) -> list[str]:
    lines = []
    for pattern, text in _FILES:
        files = sorted(folder.glob(pattern))
        if files:
            lines.append(f"  {files[0].relative_to(folder).as_posix():46s} {text}")
            if pattern.endswith((".xml", "faces_*.dxf")):
                lines.append(f"{'':49s}(triangles within {choices.tin_m} m of the terrain at every cell)")
    lines.append(f"  {MANIFEST:46s} the same facts for programs, with a SHA-256 checksum of each file")
    return lines


def readme(
    site: Site,
    folder: Path,
    frame: Frame,
    holes: dict[int, dict[str, Any]],
    tables: dict[str, Any],
    choices: HandoffChoices,
    drainage: list[str],
) -> str:
    """Return the README for the crew."""
    code = f"EPSG:{frame.epsg}" if frame.epsg else "no EPSG code"
    lines = [
        f"SETTING-OUT AND SURFACES, {site.title_block['project']}, hole {', '.join(map(str, holes))}",
        "",
        f"Coordinates   {frame.crs.name} ({code}), in units of {frame.unit_name}",
        f"Levels        in units of {frame.unit_name}; {vertical_note(frame)}",
        "Distances     grid; ground distance = grid distance / combined factor",
        *(
            f"              hole {h}: combined factor {t['combined_factor']:.8f};"
            f" 100 on the grid are {100 / t['combined_factor']:.4f} on the ground"
            for h, t in holes.items()
        ),
        f"Proposed      {proposed_from(site)}",
        "",
        "FILES",
        *_file_lines(folder, choices),
        "",
        "In point files (PNEZD) and LandXML the northing comes first; DXF has x east and y north.",
        "A point without a proposed level has an empty level (CSV) or lies on a layer ..._NO_LEVEL (DXF).",
        *(f"  hole {h}: {t['no_level']} points without a level" for h, t in holes.items() if t["no_level"]),
        "Chainage runs from the tee along the line of play; offsets are positive to the right.",
        *(
            f"  hole {h}: from the {t['tee']} tee; ground_east_m and ground_north_m are measured from"
            f" E {t['base'][0]:.3f} N {t['base'][1]:.3f}"
            for h, t in holes.items()
        ),
        (
            "Point numbers, the same in point files and LandXML, read hole, code, feature, point: 1 07 02 012"
            " is point 12 of the second bunker of hole 1. The name it has on stakes, drawings and in DXF"
            " (BKR3-012) stands in its description."
        ),
        "",
        "CONTROL",
        *_control_lines(tables["control_check"]),
        "",
        "QUANTITIES",
        *_quantity_lines(tables.get("quantities", pd.DataFrame())),
        "",
        "MATERIALS",
        *_material_lines(tables.get("materials", pd.DataFrame())),
        "",
        "DRAINAGE, flagged on the proposed ground: settle it before anything is staked",
        *(f"  {line}" for line in drainage or ["nothing is flagged"]),
        "",
        "CODES",
        *_code_lines(tables["setting_out"]),
        "",
        "CAUTIONS",
        *(f"  - {c}" for c in cautions()),
        "",
        f"Made by gistools {version()}.",
        "",
    ]
    return "\n".join(lines)


def _control_lines(table: pd.DataFrame) -> list[str]:
    if not len(table):
        return ["  none in the site: check on known points before the first stake"]
    lines = []
    for row in table.to_dict("records"):
        plan, level = float(row["delta_plan_m"]), float(row["delta_height_m"])
        shown = f", plan {plan:.3f} m" if math.isfinite(plan) else ""
        shown += f", level {level:+.3f} m" if math.isfinite(level) else ""
        lines.append(f"  {row['point']}: {row['control_status']}{shown}")
    return lines


def _quantity_lines(table: pd.DataFrame) -> list[str]:
    totals = table[table["shape_kind"] == "total"] if len(table) else table
    if not len(totals):
        return ["  nothing is shaped"]
    return [
        f"  {row['feature']}: cut {row['cut_m3']:.0f}, fill {row['fill_m3']:.0f}, topsoil"
        f" {row['topsoil_m3']:.0f} m3"
        f" on {row['changed_area_m2']:.0f} m2, in place, no bulking or shrinkage{_haul_words(row)}"
        for row in totals.to_dict("records")
    ]


def _haul_words(row: Any) -> str:
    volume = float(row["haul_volume_m3"])
    if not volume > 0:
        return ""
    return f"; {volume:.0f} m3 of the cut go to fill within the hole, {row['haul_mean_m']:.0f} m in the mean"


def material_totals(table: pd.DataFrame) -> list[tuple[str, float, str]]:
    """Return material, total and unit of what greens, tees, bunkers and fairways take if they are built."""
    totals = []
    for material, rows in table.groupby("material", sort=False) if len(table) else ():
        for column, unit in (("material_volume_m3", "m3"), ("drain_length_m", "m"), ("area_m2", "m2")):
            if rows[column].notna().any():
                totals.append((str(material), float(rows[column].sum()), unit))
                break
    return totals


def _material_lines(table: pd.DataFrame) -> list[str]:
    totals = material_totals(table)
    if not totals:
        return ["  none"]
    return [
        "  as if every green, tee, bunker and fairway were built anew, in place; depths and spacings are",
        "  assumptions (sheet Build-ups of quantities.xlsx), waste and settlement come on top",
        *(f"  {material}: {total:.0f} {unit}" for material, total, unit in totals),
    ]


def _code_lines(stakes: pd.DataFrame) -> list[str]:
    used = [c for c in CODES if c in set(stakes["code"])]
    return [f"  {c}  {CODES[c][0]:02d}  {CODES[c][2]}" for c in used]
