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

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import LineString

from gistools.base.errors import InputError, SiteError
from gistools.compute.layout.setbacks import CAUTION
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.compute.terrain.surface import Surface
from gistools.design.draft import Draft, Place, base_hole
from gistools.design.form_list import FORMS
from gistools.design.form_parts import SHORTEST_M
from gistools.hole import HoleModel
from gistools.site.add_rows import add_rows, with_rows
from gistools.site.land_cover import feature_names
from gistools.site.model import Site
from gistools.site.new import terrain_of, write_site
from gistools.site.proposed import is_stored, proposed_site
from gistools.site.read import open_site
from gistools.site.schema import SURVEY_LAYERS
from gistools.site.types import Bounds
from gistools.steps.catalogue import need

ROUND_M = 250.0  # ground read round tee and green of a hole in a site (assumption)
LAYERS_WORDS = {"boundary": "boundary", "paths": "path", "structures": "house"}
HIGH_BANK_M = 1.5  # a platform so far off the ground is told (assumption)


@dataclass(frozen=True)
class LaidHole:
    """A hole that was laid: site file, number, how many features of each layer, and remarks on the fit."""

    path: Path
    hole: int
    counts: Mapping[str, int]
    remarks: tuple[str, ...]

    def __repr__(self) -> str:
        layers = ", ".join(f"{name} {n}" for name, n in self.counts.items())
        return "\n".join([f"{self.path}, hole {self.hole}: {layers}", *self.remarks])


def lay_hole(
    path: str | Path,
    terrain: str | Path | None,
    tee: tuple[float, float],
    green: tuple[float, float],
    forms: Sequence[str] = ("diagonal", "screen"),
    *,
    crs: Any = None,
    hole: int | None = None,
    parameters: Mapping[str, float] | None = None,
    replace: bool = False,
) -> LaidHole:
    """Lay a hole with strategic forms: on bare ground as a new site, or beside the holes of a site.

    Parameters
    ----------
    path
        The GeoPackage to make; without a terrain the site that the hole is added to.
    terrain
        A GeoTIFF of the ground, in metres; it is copied into the new site. None adds the hole to the site
        that is there, on the ground its holes propose: no row that is there is altered.
    tee, green
        Easting and northing of the back tee and of the middle of the green, in the CRS of the file.
    forms
        Names of :data:`gistools.design.form_list.FORMS`.
    crs
        CRS of a new site; that of the terrain by default.
    hole
        Number of the hole; by default the next that is free.
    parameters
        Figures of forms that differ from the default: ``{"diagonal.angle_deg": 50}``.
    replace
        Replace a file that is already there by a new site.

    Returns
    -------
    LaidHole
        The file, what was placed, what could not be fitted, and what does not keep its distance.

    Raises
    ------
    InputError
        If a form or figure is unknown or out of its range, the hole is too short for landing zones, part
        of it leaves the terrain, or its number is taken.
    WriteError
        If the file cannot be written.
    """
    figures = _figures(forms, parameters or {})
    if not np.isfinite([*tee, *green]).all():
        raise InputError("tee and green are eastings and northings; one of them is no number")
    ends = (float(tee[0]), float(tee[1])), (float(green[0]), float(green[1]))
    if terrain is None:
        return _add_hole(Path(path), ends, figures, hole)
    info = terrain_of(Path(terrain), crs)
    if info.crs.axis_info[0].unit_conversion_factor != 1.0:
        raise InputError("a hole is laid in a CRS in metres; reproject the terrain first")
    ground = Surface(np.asarray(info.heights, float), info.x_west, info.y_north, info.cell)
    draft = _drafted(Draft(*ends, 1 if hole is None else hole, ground), figures)
    _judge(Site.from_tables({}, info.crs), draft)
    done = write_site(path, info.crs, draft.rows, terrain=info, replace=replace)
    return _laid(done, draft)


def _add_hole(
    path: Path, ends: tuple[Place, Place], figures: Mapping[str, Mapping[str, float]], hole: int | None
) -> LaidHole:
    """Add a hole to the site that is there."""
    if not path.exists():
        raise InputError(f"{path} is not there; name a terrain (--terrain) to make it as a new site")
    site = open_site(path)
    if site.ground is None:
        raise InputError(f"{path} has no terrain to lay a hole on; put one in as the raster table `terrain`")
    number = _free_number(site, hole)
    unit = site.unit_m
    back, middle = ((x * unit, y * unit) for x, y in ends)
    west, east = sorted((back[0], middle[0]))
    south, north = sorted((back[1], middle[1]))
    window = (west - ROUND_M, south - ROUND_M, east + ROUND_M, north + ROUND_M)
    ground, remark = _proposed_ground(site, window)
    draft = _drafted(Draft(back, middle, number, ground), figures)
    draft.remarks += [remark] if remark else []
    _lay_last(site, draft)
    _name_apart(site, draft)
    _judge(site, draft)
    add_rows(site, draft.rows)
    return _laid(path, draft)


def _proposed_ground(site: Site, window: Bounds) -> tuple[Surface, str]:
    """Return the ground in a window as the holes that are there propose it, and what to say of that."""
    surveyed = site.surface(window)
    try:
        if not is_stored(site):
            ground = proposed_site(site).surface(window)
            moved = bool((np.abs(ground.z - surveyed.z) > TOUCHED_M).any())
            words = "The ground that other holes propose here is taken as it will be."
            return (ground, words) if moved else (surveyed, "")
    except SiteError as fault:
        return surveyed, f"The hole is laid on the surveyed ground, the proposed one cannot be made: {fault}"
    return surveyed, (
        "The hole is laid on the surveyed ground: the proposed one is the raster `terrain_proposed`, which"
        " holds no shapes of the new hole; take it out of the file to see them."
    )


def _lay_last(site: Site, draft: Draft) -> None:
    """Put the new shapes after those that are there, which they are laid on; say which of them they touch."""
    there = site.layer("shapes")
    if not len(there):
        return
    orders = pd.to_numeric(there["order"], errors="coerce") if "order" in there else pd.Series([0.0])
    start = max(int(orders.fillna(0).max()), 0)
    for row in draft.rows.get("shapes", []):
        row["order"] = start + int(row.get("order") or 0)
    new = shapely.union_all([row["geometry"] for row in draft.rows.get("shapes", [])])
    known = dict(zip(there["fid"], feature_names(site)["shapes"], strict=True))
    touched = [known[fid] for fid in there["fid"][there.intersects(new)]]
    if touched:
        draft.remarks.append(
            f"Shapes of this hole lie over {', '.join(touched)}: they are laid on top of it."
        )


def _free_number(site: Site, hole: int | None) -> int:
    """Return the number of a new hole: the one given, or the least that no feature carries."""
    taken = {
        int(number)
        for layer in SURVEY_LAYERS
        if "hole" in site.layer(layer)
        for number in site.layer(layer)["hole"].dropna()
    }
    if hole is None:
        return next(n for n in range(1, len(taken) + 2) if n not in taken)
    if hole in taken:
        raise InputError(
            f"hole {hole} is there already and is not altered; leave the number out for the next free one"
        )
    return hole


def _name_apart(site: Site, draft: Draft) -> None:
    """Give the new features names that the site does not have, so that no name in results changes."""
    taken = {name for names in feature_names(site).values() for name in names}
    taken |= {str(name) for layer in SURVEY_LAYERS for name in site.layer(layer).get("name", ())}
    for rows in draft.rows.values():
        for row in rows:
            for field in ("name", "feature"):
                if row.get(field) in taken:
                    row[field] = f"{row[field]} of hole {draft.hole}"


def _drafted(draft: Draft, figures: Mapping[str, Mapping[str, float]]) -> Draft:
    """Lay the base hole and the forms on a draft.

    Raises
    ------
    InputError
        If the hole is too short, or part of it leaves the terrain.
    """
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
    rise = float(draft.ground.height(*draft.green)) - float(draft.ground.height(*draft.tee))
    _tell_platforms(draft)
    draft.remarks.insert(
        0, f"{draft.length:.0f} m from the back tee; the ground rises {rise:+.1f} m to the green."
    )
    return draft


def _judge(site: Site, draft: Draft) -> None:
    """See the hole beside what is on the site: zones that its brief asks of, and set-backs."""
    seen = with_rows(site, draft.rows)
    _ask_of_zones(draft, {zone.zone for zone in HoleModel(seen, draft.hole).zones})
    around = [layer for layer in ("boundary", "paths", "structures") if not len(seen.layer(layer))]
    if around:
        words = " or ".join(", ".join(LAYERS_WORDS[n] for n in around).rsplit(", ", 1))
        draft.remarks.append(f"No {words} is drawn: set-backs from them cannot be judged yet.")
    conflicts = need(seen, "setbacks", hole=draft.hole)["setback_conflicts"]
    for rule, rows in conflicts.sort_values("shortfall_m", ascending=False).groupby("rule", sort=False):
        worst, others = rows.iloc[0], len(rows) - 1
        draft.remarks.append(
            f"Set-back, {rule}: {worst['feature']} to {worst['other']} {worst['separation_m']:.0f} m,"
            f" {worst['clear_distance_m']:.0f} m asked for ({worst['reading']})"
            + (f"; {others} more." if others else ".")
        )
    if len(conflicts):
        draft.remarks.append(f"Set-backs are {CAUTION}.")


def _laid(path: Path, draft: Draft) -> LaidHole:
    counts = {name: len(rows) for name, rows in draft.rows.items()}
    return LaidHole(path, draft.hole, counts, tuple(draft.remarks))


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


def _ask_of_zones(draft: Draft, zones: set[str]) -> None:
    """Leave out of the brief what is asked of a landing zone that the hole does not have, and say so."""
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
