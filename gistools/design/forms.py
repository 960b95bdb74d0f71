"""Strategic forms: a hole laid on bare ground between a tee point and a green point, to be redrawn by hand.

A form is a declared recipe: parameters with a default and a range of the trade, what it places, and what it
is meant to ask, as rows of the brief. Forms are laid one after the other on a base hole: two tees, a line of
play, fairway, green, hole locations. Everything placed is an ordinary survey feature; what moves earth is a
row of the layer `shapes`, so that the surveyed ground stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import LineString

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface
from gistools.design.draft import SHORTEST_M, Draft, Form, base_hole
from gistools.design.fairway_forms import FAIRWAY_FORMS
from gistools.design.green_forms import GREEN_FORMS
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.new import terrain_of, write_site
from gistools.site.schema import TABLES

HIGH_BANK_M = 1.5  # a platform so far off the ground is told (assumption)

FORMS: dict[str, Form] = FAIRWAY_FORMS | GREEN_FORMS


@dataclass(frozen=True)
class LaidHole:
    """A hole that was laid: the site file, how many features of each layer, and remarks on the fit."""

    path: Path
    counts: Mapping[str, int]
    remarks: tuple[str, ...]

    def __repr__(self) -> str:
        layers = ", ".join(f"{name} {n}" for name, n in self.counts.items())
        return "\n".join([f"{self.path}: {layers}", *self.remarks])


def lay_hole(
    path: str | Path,
    terrain: str | Path,
    tee: tuple[float, float],
    green: tuple[float, float],
    forms: Sequence[str] = ("diagonal", "screen"),
    *,
    crs: Any = None,
    hole: int = 1,
    parameters: Mapping[str, float] | None = None,
    replace: bool = False,
) -> LaidHole:
    """Lay a hole with strategic forms on bare ground and write it as a new site.

    Parameters
    ----------
    path
        The GeoPackage to make.
    terrain
        A GeoTIFF of the ground, in metres; it is copied into the site.
    tee, green
        Easting and northing of the back tee and of the middle of the green, in the CRS of the terrain.
    forms
        Names of :data:`FORMS`.
    crs
        CRS of the site; that of the terrain by default.
    hole
        Number of the hole.
    parameters
        Figures of forms that differ from the default: ``{"diagonal.angle_deg": 50}``.
    replace
        Replace a file that is already there.

    Returns
    -------
    LaidHole
        The file, what was placed, and what could not be fitted.

    Raises
    ------
    InputError
        If a form or figure is unknown or out of its range, the hole is too short for landing zones, or
        part of it leaves the terrain.
    WriteError
        If the file cannot be written.
    """
    figures = _figures(forms, parameters or {})
    if not np.isfinite([*tee, *green]).all():
        raise InputError("tee and green are eastings and northings; one of them is no number")
    info = terrain_of(Path(terrain), crs)
    if info.crs.axis_info[0].unit_conversion_factor != 1.0:
        raise InputError("a hole is laid in a CRS in metres; reproject the terrain first")
    ground = Surface(np.asarray(info.heights, float), info.x_west, info.y_north, info.cell)
    draft = Draft((float(tee[0]), float(tee[1])), (float(green[0]), float(green[1])), hole, ground)
    if draft.length < SHORTEST_M:
        raise InputError(
            f"tee and green are {draft.length:.0f} m apart; a hole with landing zones has"
            f" {SHORTEST_M:.0f} m at least"
        )
    for name, values in figures.items():
        prepare = FORMS[name].prepare
        if prepare is not None:
            prepare(draft, **values)
    base_hole(draft)
    for name, values in figures.items():
        lay = FORMS[name].lay
        if lay is not None:
            lay(draft, **values)
    _stay_on_ground(draft)
    _ask_of_zones(draft, info.crs)
    rise = float(ground.height(*draft.green)) - float(ground.height(*draft.tee))
    _tell_platforms(draft)
    draft.remarks.insert(
        0, f"{draft.length:.0f} m from the back tee; the ground rises {rise:+.1f} m to the green."
    )
    draft.remarks.append(
        "No boundary, paths or houses are drawn: set-backs cannot be judged before they are."
    )
    done = write_site(path, info.crs, draft.rows, terrain=info, replace=replace)
    return LaidHole(done, {name: len(rows) for name, rows in draft.rows.items()}, tuple(draft.remarks))


def _tell_platforms(draft: Draft) -> None:
    """Tell of tees and greens that stand far off the ground around them."""
    for layer in ("tees", "greens"):
        for row in draft.rows[layer]:
            _, levels = draft.levels(LineString(row["geometry"].exterior.coords))
            bank = float(np.max(np.abs(levels - levels.mean())))
            if bank > HIGH_BANK_M:
                name = f"The {row['tee']} tee" if layer == "tees" else "The green"
                draft.remarks.append(
                    f"{name} is cut into or raised above sloping ground by up to {bank:.1f} m: move it or"
                    " turn it along the slope."
                )


def _figures(forms: Sequence[str], given: Mapping[str, float]) -> dict[str, dict[str, float]]:
    """Return the figures of each form, checked against their ranges."""
    if not forms:
        raise InputError(f"name a form; there are {', '.join(FORMS)}")
    for name in forms:
        if name not in FORMS:
            raise InputError(f"there is no form {name!r}; there are {', '.join(FORMS)}")
    out = {n: {k: p.default for k, p in FORMS[n].parameters.items()} for n in dict.fromkeys(forms)}
    for part in {FORMS[n].part for n in out} - {""}:
        names = [n for n in out if FORMS[n].part == part]
        if len(names) > 1:
            raise InputError(f"{' and '.join(names)} each lay the {part}; choose one of them")
    for key, value in given.items():
        form, _, name = key.partition(".")
        if form not in out or name not in out[form]:
            known = ", ".join(f"{f}.{k}" for f, values in out.items() for k in values)
            raise InputError(f"there is no figure {key!r} of these forms; there are {known}")
        p = FORMS[form].parameters[name]
        if not p.holds(float(value)):
            raise InputError(f"{key} is {value:g}; it should be {p.range}")
        out[form][name] = float(value)
    return out


def _ask_of_zones(draft: Draft, crs: Any) -> None:
    """Leave out of the brief what is asked of a landing zone that the hole does not have, and say so."""
    tables: dict[str, Any] = {
        layer: gpd.GeoDataFrame(rows, geometry="geometry", crs=crs)
        for layer, rows in draft.rows.items()
        if layer not in TABLES
    }
    zones = {zone.zone for zone in HoleModel(Site.from_tables(tables, crs), draft.hole).zones}
    brief = draft.rows.get("brief", [])
    left_out = [row for row in brief if row.get("zone") and row["zone"] not in zones]
    if not left_out:
        return
    draft.rows["brief"] = [row for row in brief if row not in left_out]
    have = ", ".join(sorted(zones)) or "none"
    draft.remarks += [
        f"Not asked: {row['why']}; this hole has no zone {row['zone']!r}, its zones are {have}."
        for row in left_out
    ]


def _stay_on_ground(draft: Draft) -> None:
    """Refuse a hole of which a part leaves the terrain, or stands where heights are missing."""
    for layer, rows in draft.rows.items():
        for row in rows:
            if "geometry" not in row:
                continue
            points = shapely.get_coordinates(row["geometry"])
            if not np.isfinite(np.asarray(draft.ground.height(*points.T))).all():
                name = row.get("name") or row.get("tee") or row.get("pin") or ""
                raise InputError(
                    f"layer {layer}{', ' + name if name else ''}: part of it lies where the terrain has no"
                    " heights; move tee or green, or bring a larger terrain"
                )
