"""The hand-off: one folder with everything the survey and construction team takes over.

The folder is built aside and put in place in one move, so a failure half-way leaves nothing behind and an
existing folder is never half replaced.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pyproj.exceptions import ProjError

from gistools.base.errors import GistoolsError, InputError, WriteError
from gistools.base.files import move
from gistools.base.progress import tick
from gistools.compute.terrain.surface import Surface
from gistools.compute.terrain.tin import Tin, build_tin
from gistools.handoff import record
from gistools.handoff.cad import breaklines, cad_drawing, shaped_triangles
from gistools.handoff.choices import HandoffChoices
from gistools.handoff.csvfile import write_pnezd, write_table
from gistools.handoff.dxf import Drawing, write_dxf
from gistools.handoff.frame import Frame, file_name
from gistools.handoff.landxml import write_landxml
from gistools.handoff.staking_list import staking_lists
from gistools.handoff.workbook import write_lists, write_workbook
from gistools.site import _raster, _vector
from gistools.site.model import Site
from gistools.steps.catalogue import need
from gistools.steps.contours import contours
from gistools.steps.drainage_rows import FLAGGED
from gistools.steps.quantities import quantities
from gistools.steps.quantity_rows import both_grounds
from gistools.steps.setting_out import setting_out


def handoff(
    site: Site,
    to: str | Path,
    *,
    hole: int | None = None,
    replace: bool = False,
    spacing_m: float = 5.0,
    chord_m: float = 0.1,
    station_m: float = 20.0,
    interval_m: float = 0.5,
    tin_m: float = 0.02,
    by_feature: bool = True,
) -> Path:
    """Write the hand-off of a hole, or of all, into a new folder.

    Parameters
    ----------
    site
        The site; its proposed ground is the layer ``shapes`` laid on the terrain, or the raster
        ``terrain_proposed`` of its file.
    to
        Folder to make. An existing one is never touched without ``replace``, and then only if it is a
        hand-off.
    hole
        Only this hole.
    replace
        Put the new folder in the place of an older hand-off.
    spacing_m, chord_m, station_m
        Point spacing on outlines, chord tolerance, distance of stations [m].
    interval_m
        Height between contours [m].
    tin_m
        Height tolerance of the triangulated surfaces [m].
    by_feature
        Also write a point file for each feature.

    Returns
    -------
    Path
        The folder: ``README.txt``, ``manifest.json``, a folder for each hole with point files (CSV), drawing
        (DXF), LandXML and surfaces (GeoTIFF), and for all together a GeoPackage, quantities (CSV) and
        GeoJSON.

    Raises
    ------
    InputError
        If the folder is there and may not be replaced, or the unit of the site's CRS cannot be written.
    WriteError
        If something cannot be written; nothing is left behind then.
    """
    choices = HandoffChoices(spacing_m, chord_m, station_m, interval_m, tin_m, by_feature)
    to = Path(to)
    _may_write(to, replace)
    frame = Frame.of(site)
    holes = site.selected_holes(hole)
    aside = to.with_name(f".{to.name}.part-{os.getpid()}")
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(aside, ignore_errors=True)
        aside.mkdir()
        _fill(site, aside, frame, holes, hole, choices)
        _put_in_place(aside, to, replace)
    except OSError as fault:
        if isinstance(fault, WriteError):
            raise
        raise WriteError(f"the hand-off could not be written to {to}: {fault.strerror or fault}") from fault
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return to


def _may_write(to: Path, replace: bool) -> None:
    if not to.name or to.name in (".", ".."):
        raise InputError("name the folder to make for the hand-off")
    if not to.exists() or (to.is_dir() and not any(to.iterdir())):
        return
    if not replace:
        raise InputError(f"{to} is there already; give another folder, or replace it with --replace")
    if not record.is_handoff(to):
        raise InputError(f"{to} is not a hand-off of this program and is not replaced; give another folder")


def _put_in_place(aside: Path, to: Path, replace: bool) -> None:
    """Move the finished folder to its place; an older one comes back if that fails."""
    _may_write(to, replace)
    older = to.with_name(f".{to.name}.old-{os.getpid()}")
    moved = False
    if to.exists():
        if any(to.iterdir()):
            move(to, older)
            moved = True
        else:
            to.rmdir()
    try:
        move(aside, to)
    except OSError:
        if moved:
            move(older, to)
        raise
    if moved:
        shutil.rmtree(older, ignore_errors=True)


def _fill(
    site: Site, folder: Path, frame: Frame, holes: list[int], hole: int | None, choices: HandoffChoices
) -> None:
    by_hole = {}
    for k, number in enumerate(holes):
        tick(k / (len(holes) + 1), f"hand-off of hole {number}")
        by_hole[number] = _write_hole(site, folder / f"hole_{number:02d}", frame, number, choices)
    tick(len(holes) / (len(holes) + 1), "quantities and common files")
    tables = _common_layers(site, frame, hole, choices)
    for name, table in tables.items():
        if len(table):
            _vector.write_layer(folder / "handoff.gpkg", name, table, key="id", version="1.4")
    if len(tables["control_check"]):
        _write_control(site, folder, frame, tables["control_check"])
    if "quantities" in tables:
        write_table(folder / "quantities.csv", tables["quantities"], decimals=2)
        write_table(folder / "materials.csv", tables["materials"], decimals=2)
        write_workbook(folder / "quantities.xlsx", tables["quantities"], tables["materials"])
    with contextlib.suppress(ProjError):
        _vector.write_geojson(folder / "setting_out_wgs84.geojson", tables["setting_out"])
    flagged = _drainage_flags(site, hole)
    (folder / "README.txt").write_text(
        record.readme(site, folder, frame, by_hole, tables, choices, flagged),
        encoding="utf-8",
        errors="replace",
        newline="\r\n",
    )
    record.write_manifest(site, folder, frame, by_hole, tables, choices, flagged)


def _drainage_flags(site: Site, hole: int | None) -> list[str]:
    """Say where the proposed ground holds water or is too flat: to be looked at before anything is staked."""
    if site.ground is None:
        return ["not looked at: the site has no terrain"]
    try:
        layers = need(site, "drainage", hole=hole)
    except GistoolsError as fault:
        return [f"not looked at: {fault}"]
    return [
        f"hole {row['hole']}: {row['reading']}"
        for table in layers.values()
        for row in table[table["drainage_status"] == FLAGGED].to_dict("records")
    ]


def _write_control(site: Site, folder: Path, frame: Frame, table: Any) -> None:
    """Write the control points: as points for instruments, and as a table with what a check found."""
    known = table.geometry.x.to_numpy(), table.geometry.y.to_numpy()
    metres = [v * site.unit_m for v in known]
    rows = zip(table["point"], *metres, table["published_level_m"], strict=True)
    points = [(str(p), float(x), float(y), float(z), f"CONTROL {p}") for p, x, y, z in rows]
    write_pnezd(folder / f"control_PNEZD_{frame.tag}.csv", points, frame)
    unit = frame.unit.replace("-", "_")
    sheet = pd.DataFrame(table.drop(columns="geometry"))
    sheet.insert(1, f"easting_{unit}", known[0])
    sheet.insert(2, f"northing_{unit}", known[1])
    write_table(folder / "control.csv", sheet)


def _stake_choices(choices: HandoffChoices) -> dict[str, Any]:
    return {"spacing_m": choices.spacing_m, "chord_m": choices.chord_m, "station_m": choices.station_m}


def _common_layers(site: Site, frame: Frame, hole: int | None, choices: HandoffChoices) -> dict[str, Any]:
    """Layers of the hand-off in the site's own CRS, staked points with their coordinates beside them."""
    layers = setting_out(site, hole=hole, **_stake_choices(choices))
    tables = {
        "setting_out": with_coordinates(layers["setting_out"], frame),
        "control_check": layers["control_check"],
    }
    if site.ground is not None:
        tables["contours"] = contours(site, hole=hole, interval_m=choices.interval_m)
        made = quantities(site, hole=hole)
        tables |= {name: made[name] for name in ("quantities", "materials")}
    return tables


def with_coordinates(points: Any, frame: Frame) -> Any:
    """Add easting, northing and levels in file units to staked points in the site's own CRS."""
    unit = frame.unit.replace("-", "_")
    out = points.copy()
    out[f"easting_{unit}"] = out.geometry.x
    out[f"northing_{unit}"] = out.geometry.y
    if frame.unit != "m":
        for name in ("existing_level", "proposed_level", "cut_fill"):
            out[f"{name}_{unit}"] = frame.out(out[f"{name}_m"])
    return out


def _write_hole(site: Site, folder: Path, frame: Frame, hole: int, choices: HandoffChoices) -> dict[str, Any]:
    """Write the files of one hole and return what the record says of it."""
    folder.mkdir()
    stem = folder.name
    stakes = need(site, "setting_out", hole=hole, **_stake_choices(choices))["setting_out"]
    points = _points(stakes)
    write_pnezd(folder / f"{stem}_PNEZD_{frame.tag}.csv", points, frame)
    write_pnezd(folder / f"{stem}_PNEZD_titles_{frame.tag}.csv", points, frame, header=True)
    full = setting_out(site, hole=hole, **_stake_choices(choices))["setting_out"]
    write_table(folder / f"{stem}_setting_out.csv", with_coordinates(full, frame))
    heading = f"{site.title_block['project']}, hole {hole}: stakes, in units of {frame.unit_name}"
    write_lists(folder / f"{stem}_staking_lists.xlsx", staking_lists(stakes, frame), heading)
    if choices.by_feature:
        _write_features(folder / "by_feature", stakes, frame)
    write_dxf(folder / f"{stem}.dxf", cad_drawing(site, stakes, hole, frame, choices), frame.unit)
    tins = _write_surfaces(site, folder, frame, hole, choices)
    line = stakes[stakes["code"] == "LOP"]
    write_landxml(
        folder / f"{stem}.xml",
        frame,
        project=f"{site.title_block['project']}, hole {hole}",
        version=record.version(),
        points=_named(stakes),
        alignments={f"hole {hole}, {stakes['tee'].iloc[0]} tee": _corners(line)},
        surfaces=tins,
        breaklines={"proposed" if "proposed" in tins else "existing": breaklines(stakes)},
    )
    return {
        "points": len(stakes),
        "tee": str(stakes["tee"].iloc[0]),
        "combined_factor": float(stakes["combined_factor"].mean()),
        "base": [float(v) for v in frame.out([line.geometry.x.iloc[0], line.geometry.y.iloc[0]])],
        "surfaces": {
            name: {
                "points": len(tin.points),
                "triangles": len(tin.faces),
                "tolerance_m": tin.tolerance_m,
                "worst_m": tin.worst_m,
                "rms_m": tin.rms_m,
            }
            for name, tin in tins.items()
        },
        "no_level": int((~np.isfinite(stakes["proposed_level_m"])).sum()),
    }


def _points(stakes: Any) -> list[tuple[int, float, float, float, str]]:
    return [
        (int(n), x, y, z, f"{code} {point} {feature}")
        for n, x, y, z, code, point, feature in zip(
            stakes["number"],
            stakes.geometry.x,
            stakes.geometry.y,
            stakes["proposed_level_m"],
            stakes["code"],
            stakes["point"],
            stakes["feature"],
            strict=True,
        )
    ]


def _named(stakes: Any) -> list[tuple[str, float, float, float, str, str]]:
    return [
        (str(number), x, y, z, f"{point}, {meaning}, {feature}", code)
        for number, point, code, x, y, z, meaning, feature in zip(
            stakes["number"],
            stakes["point"],
            stakes["code"],
            stakes.geometry.x,
            stakes.geometry.y,
            stakes["proposed_level_m"],
            stakes["meaning"],
            stakes["feature"],
            strict=True,
        )
    ]


def _corners(line: Any) -> np.ndarray:
    """Corners of the line of play from its stations: those on a straight between two others drop out."""
    xy = np.column_stack([line.geometry.x, line.geometry.y])
    before, after = np.diff(xy[:-1], axis=0), np.diff(xy[1:], axis=0)
    turn = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    bent = turn > 1e-6 * np.hypot(*before.T) * np.hypot(*after.T)
    corners: np.ndarray = xy[np.concatenate([[True], bent, [True]])]
    return corners


def _write_features(folder: Path, stakes: Any, frame: Frame) -> None:
    folder.mkdir()
    for (code, fid), group in stakes.groupby(["code", "feature_id"], sort=False):
        name = f"{code}_{file_name(fid)}_{file_name(group['feature'].iloc[0])}_PNEZD_{frame.tag}.csv"
        write_pnezd(folder / name, _points(group), frame)


def _write_surfaces(
    site: Site, folder: Path, frame: Frame, hole: int, choices: HandoffChoices
) -> dict[str, Tin]:
    """Write the surfaces as GeoTIFF and return them triangulated; the proposed one where it differs.

    The triangles of shaped ground go into a drawing of their own as well, for machine control.
    """
    if site.ground is None:
        return {}
    before, after = both_grounds(site, site.hole_bounds(hole), hole)
    grounds: dict[str, Surface] = {"existing": before}
    if np.nanmax(np.abs(after.z - before.z), initial=0.0) > 0:
        grounds["proposed"] = after
    tins: dict[str, Tin] = {}
    for name, s in grounds.items():
        west, north, cell = (float(frame.out(v)) for v in (s.x_west, s.y_north, s.cell))
        path = folder / f"{folder.name}_{name}_{frame.tag}.tif"
        _raster.write_geotiff(path, frame.out(s.z), west, north, cell, frame.crs, frame.unit)
        tins[name] = build_tin(s, tolerance_m=choices.tin_m, start=tins.get("existing"))
    if "proposed" in tins:
        faces = shaped_triangles(tins["proposed"], before, after)
        path = folder / f"{folder.name}_shaped_faces_{frame.tag}.dxf"
        write_dxf(path, Drawing(triangles=frame.out(faces)), frame.unit)
    return tins
