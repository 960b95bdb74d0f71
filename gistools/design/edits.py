"""Edits of a design: a list of changes made to a site, measured along the line of play or by the compass."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.layout.alignment import Alignment
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.design.channels import dig_through
from gistools.design.covering import refuse_covering
from gistools.design.edit_list import Edit, read_edits
from gistools.design.places import oval, place_at
from gistools.design.site_edits import NAMED_BY, SiteEdits
from gistools.hole import HoleModel
from gistools.site.findings import Finding
from gistools.site.land_cover import in_bounds
from gistools.site.model import Site
from gistools.site.proposed import is_stored, proposed_site


def apply_edits(site: Site, edits: Any) -> Site:
    """Return a site with a list of edits made, one after the other; the site given stays as it is.

    Pure: the same site and edits give the same tables and heights. Lengths along and across the line of play
    are taken on the longest line of the hole as it is in ``site``, whatever earlier edits move.

    Parameters
    ----------
    site
        The site. Of a proposed one (:func:`gistools.site.proposed.proposed_site`) the shapes are laid anew.
    edits
        A sequence of :class:`~gistools.design.edit_list.Edit` or mappings, or a file that
        :func:`~gistools.design.edit_list.read_edits` reads.

    Returns
    -------
    Site
        With changed tables and ground. ``findings`` name what moved in plan alone, slopes that cannot be mown
        and shapes that only show on the proposed ground.

    Raises
    ------
    InputError
        Naming the edit: no such feature, a feature that would leave the site or lie on a green, a tee or a
        hole location, ground steeper than :data:`STEEPEST_PCT`.
    """
    rows = read_edits(edits)
    laid = site.existing is not None and bool(len(site.layer("shapes"))) and not _is_raster(site)
    base = dataclasses.replace(site, ground=site.existing, existing=None, memo=site.memo) if laid else site
    changes = SiteEdits(base)
    for number, edit in enumerate(rows, 1):
        try:
            _make(changes, edit)
            _refuse_leaving(changes)
            refuse_covering(changes)
        except InputError as fault:
            raise InputError(f"edit {number}, {edit.label}: {fault}") from fault
    changes.findings.extend(_slope_findings(changes))
    pending = site.existing is None and bool(len(changes.table("shapes")))
    if pending and "shapes" in changes.tables:
        text = "shapes of it are proposed ground: study the proposed site to see them"
        changes.findings.append(Finding("note", "shapes", None, text))
    after = changes.apply({})
    if laid:
        bare = dataclasses.replace(after, existing=None, path=None, memo={})
        ground = proposed_site(bare).ground
        return dataclasses.replace(after, ground=ground, existing=site.existing, memo={})
    return dataclasses.replace(after, existing=None, memo={}) if pending else after


#: steeper ground than 1:1 is not built of earth alone (common practice, no source)
STEEPEST_PCT = 100.0


def _is_raster(site: Site) -> bool:
    """Tell whether the proposed ground of a site is a raster of its file."""
    return is_stored(dataclasses.replace(site, ground=site.existing, existing=None, memo={}))


def _make(changes: SiteEdits, edit: Edit) -> None:
    given = {"layer": edit.layer, "hole": edit.hole}
    if edit.side:
        _move_edge(changes, edit)
    elif edit.action == "add":
        _add_feature(changes, edit)
    elif edit.action == "remove":
        changes.remove(edit.feature, **given)  # type: ignore[arg-type]
    elif edit.action in ("raise", "lower"):
        sign = 1.0 if edit.action == "raise" else -1.0
        changes.lift(edit.feature, sign * float(edit.rise_m or 0.0), **given)  # type: ignore[arg-type]
    else:
        changes.move(
            edit.feature,
            shift=_shift(changes, edit),
            turn_deg=edit.turn_deg or 0.0,
            factor=edit.factor or 1.0,
            **given,  # type: ignore[arg-type]
        )


def _hole_line(site: Site, hole: int | None, row: Any = None) -> Alignment:
    """Return the longest line of play of a hole, or of the hole that a feature belongs to."""
    number = hole
    if number is None and row is not None and "hole" in row and not pd.isna(row["hole"]):
        number = int(row["hole"])
    if number is None and len(site.holes) == 1:
        number = site.holes[0]
    if number is None:
        raise InputError("say along the line of play of which hole")
    site.selected_holes(number)
    tees = HoleModel(site, number).tees_by_length
    if not tees:
        raise InputError(f"hole {number} has no tee, so no line of play")
    return Alignment(tees[0].line)


def _shift(changes: SiteEdits, edit: Edit) -> tuple[float, float]:
    """Return how far east and north a feature moves [m]."""
    east, north = edit.east_m or 0.0, edit.north_m or 0.0
    if edit.uses_line_of_play:
        layer, row = changes.find(edit.feature, edit.layer, edit.hole)
        feature = changes.table(layer).iloc[row]
        line = _hole_line(changes.site, edit.hole, feature)
        middle = feature[changes.table(layer).geometry.name].centroid
        chainage = float(np.clip(line.locate([[middle.x, middle.y]])[0][0], 0.0, line.length))
        ahead, right = (np.ravel(v) for v in (line.direction(chainage), line.right(chainage)))
        along, across = edit.along_m or 0.0, edit.across_m or 0.0
        east += along * float(ahead[0]) + across * float(right[0])
        north += along * float(ahead[1]) + across * float(right[1])
    return east, north


#: layer -> length, width and height or depth of a feature added without them [m] (assumptions)
_SIZES = {
    "bunkers": (8.0, 10.0, 1.0),
    "mounds": (24.0, 16.0, 2.0),
    "greens": (26.0, 22.0, 0.0),
    "water": (30.0, 20.0, 1.5),
    "tees": (12.0, 10.0, 0.0),
    "trees": (0.0, 0.0, 0.0),
    "pins": (0.0, 0.0, 0.0),
    "shapes": (20.0, 16.0, 0.4),
    "structures": (0.0, 0.0, 0.0),
    "fairway": (60.0, 30.0, 0.0),
    "burns": (0.0, 2.0, 0.8),
}
_DUG = {"bunkers": ("hollow", -1.0, 34.0), "water": ("hollow", -1.0, 33.0), "mounds": ("mound", 1.0, 33.0)}


def _add_feature(changes: SiteEdits, edit: Edit) -> None:
    site, layer = changes.site, edit.layer
    if edit.feature and edit.feature in changes.names(layer):
        rows = changes.table(layer)
        same = [
            k
            for k, n in enumerate(changes.names(layer))
            if n == edit.feature and (edit.hole is None or rows["hole"].iloc[k] == edit.hole)
        ]
        if same:
            raise InputError(f"there is a feature {edit.feature!r} in {layer} already; give it another name")
    length, width, rise = _SIZES[layer]
    rise = rise if edit.rise_m is None else abs(edit.rise_m)
    if layer == "burns":
        _add_burn(changes, edit, width if edit.width_m is None else edit.width_m, rise)
        return
    bearing = 0.0
    if edit.x is not None and edit.y is not None:
        x, y = edit.x * site.unit_m, edit.y * site.unit_m
        if edit.hole is not None or len(site.holes) == 1:
            line = _hole_line(site, edit.hole)
            chainage = float(np.clip(line.locate([[x, y]])[0][0], 0.0, line.length))
            bearing = place_at(line, chainage, 0.0)[2]
    elif edit.along_m is not None:
        x, y, bearing = place_at(_hole_line(site, edit.hole), edit.along_m, edit.across_m or 0.0)
    else:
        raise InputError("say where: along_m and across_m from the tee, or x and y")
    shape: BaseGeometry = Point(x, y)
    if layer not in ("pins", "trees", "structures"):
        turn = bearing + (edit.turn_deg or 0.0)
        shape = oval(x, y, edit.length_m or length, edit.width_m or width, turn)
    fields: dict[str, Any] = {"hole": edit.hole or (site.holes[0] if len(site.holes) == 1 else None)}
    fields[NAMED_BY.get(layer, "name")] = edit.feature or None
    if layer in ("mounds", "shapes"):
        fields["rise_m"] = rise
    if layer == "shapes":
        fields["kind"] = "tier"
    if layer in ("trees", "structures") and edit.rise_m is not None:
        fields["height_m"] = rise
    if layer in _DUG and rise > 0:
        kind, sign, slope = _DUG[layer]
        changes.shape(kind, shape, rise_m=sign * rise, side_slope_pct=slope, blend_m=1.0)
    changes.add(layer, shape, **fields)


def _add_burn(changes: SiteEdits, edit: Edit, width: float, depth: float) -> None:
    try:
        corners = [tuple(map(float, part.split(","))) for part in edit.points.split()]
        if len(corners) < 2 or any(len(c) != 2 for c in corners):
            raise ValueError
    except ValueError:
        raise InputError(
            f"points = {edit.points!r} should be the chainage and offset of two points or more, for example"
            ' "150,-40 170,30"'
        ) from None
    way = _hole_line(changes.site, edit.hole)
    line = LineString([place_at(way, s, o)[:2] for s, o in corners])
    if changes.site.ground is not None:
        changes.surface = dig_through(changes.ground(), line, width, depth)
    changes.add("burns", line, hole=edit.hole, name=edit.feature or None, width_m=width)


def _move_edge(changes: SiteEdits, edit: Edit) -> None:
    """Move one edge of the fairway to the right (left: negative), fading out over the ends of the stretch."""
    line = _hole_line(changes.site, edit.hole)
    hole = edit.hole or changes.site.holes[0]
    start, end, across = (float(v) for v in (edit.from_m, edit.to_m, edit.across_m))  # type: ignore[arg-type]
    table = changes.table("fairway")
    moved = 0
    for row in np.flatnonzero(np.asarray(table["hole"]) == hole):
        outline = shapely.segmentize(table.geometry.iloc[row], 2.0)
        xy = shapely.get_coordinates(outline)
        chainage, offset, _ = line.locate(xy)
        stretch = (chainage > start) & (chainage < end)
        if not stretch.any():
            continue
        middle = line.part(max(start, 0.0), min(end, line.length))
        cuts = list(shapely.get_parts(middle.geometry.intersection(outline)))
        inside = float(np.median(offset[stretch])) if not cuts else 0.0
        here = stretch & (offset > inside if edit.side == "right" else offset < inside)
        share = np.sin(np.pi * np.clip((chainage - start) / (end - start), 0.0, 1.0)) ** 2
        step = np.where(here, across * share, 0.0)[:, None] * np.atleast_2d(
            line.right(np.clip(chainage, 0, line.length))
        )
        new = shapely.make_valid(shapely.set_coordinates(outline, xy + step))
        if new.geom_type not in ("Polygon", "MultiPolygon") or new.is_empty:
            raise InputError("the fairway would not be an area any more; move its edge by less")
        changes.put("fairway", int(row), new)
        moved += int(here.any())
    if not moved:
        raise InputError(f"hole {hole} has no {edit.side} edge of the fairway from {start:g} to {end:g} m")


def _refuse_leaving(changes: SiteEdits) -> None:
    """Refuse features that the edits have brought over the edge of the terrain or out of bounds."""
    site = changes.site
    course = in_bounds(site)
    ground = None if site.ground is None else shapely.box(*site.ground.bounds)
    for layer, table in changes.tables.items():
        before = dict(zip(site.layer(layer)["fid"], site.layer(layer).geometry, strict=True))
        for name, fid, shape in zip(changes.names(layer), table["fid"], table.geometry, strict=True):
            old = before.get(fid)
            if old is not None and old.equals(shape):
                continue
            if ground is not None and not ground.intersects(shape.centroid):
                raise InputError(f"{name!r} would lie off the terrain")
            if layer == "burns":
                continue
            if ground is not None and not ground.covers(shape):
                raise InputError(f"{name!r} would reach past the terrain")
            if course is not None and (old is None or course.covers(old)) and not course.covers(shape):
                raise InputError(f"{name!r} would leave the site: it crosses the boundary")


def _slope_findings(changes: SiteEdits) -> list[Finding]:
    """Report ground that the edits make too steep to mow; refuse what cannot be built."""
    if changes.surface is None:
        return []
    before, after = changes.site.surface(), changes.surface
    touched = np.abs(after.z - before.z) > TOUCHED_M
    if not touched.any():
        return []
    i, j = np.nonzero(touched)
    part = (slice(max(i.min() - 2, 0), i.max() + 3), slice(max(j.min() - 2, 0), j.max() + 3))
    old, new = (100.0 * np.hypot(*np.gradient(s.z[part], s.cell)) for s in (before, after))
    steepest = float(np.nanmax(np.where(touched[part] & (new > old + 1.0), new, 0.0)))
    revetted = 1.05 * float(
        np.nanmax(np.where(touched[part], old, 0.0))
    )  # a steep face may move, off the cells
    if steepest > max(STEEPEST_PCT, revetted):
        raise InputError(
            f"the ground would be as steep as {steepest:.0f} %, and more than {STEEPEST_PCT:.0f} % is"
            f" not built of"
            " earth alone: raise or lower by less, or over a wider outline"
        )
    limit, source = SLOPE_LIMITS_PCT["mound"]
    steep = touched[part] & (new > limit) & (new > old + 1.0)
    if not steep.any():
        return []
    area = float(steep.sum()) * after.cell**2
    text = (
        f"{area:.0f} m2 of changed ground are steeper than {limit:.0f} %, up to {steepest:.0f} % ({source})"
    )
    return [Finding("warning", "terrain", None, text)]
