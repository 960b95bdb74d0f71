"""Shapes as drawn, and what each kind does to the ground: the change of height at each cell.

Every function takes the ground of a window and a shape, and returns the change of height [m], ``(rows,
cols)``. Banks are straight at the side slope and rounded over the blend width at both ends, so that a blend
of zero gives the textbook solids (cone frustum, trapezoidal channel) exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import mound
from gistools.compute.terrain.surface import Floats, Mask, Surface

#: kinds in the order in which shapes of equal `order` are applied
KINDS = ("mound", "hollow", "channel", "platform", "tier", "grade")

#: fewest cells inside an outline that can carry a shape (assumption: 4 x 4)
LEAST_CELLS = 16

#: rise above its toe from which ground counts as a mound that stands already [m] (assumption)
STANDING_M = 0.5


#: kind -> (slope the finished ground should not pass [pct], where the figure comes from)
SLOPE_LIMITS_PCT: dict[str, tuple[float, str]] = {
    "mound": (100.0 / 3.0, "3:1 for ride-on mowers (common practice, no source); 4:1 (25 %) is preferred"),
    "hollow": (34.0, "bunker face for a mid-iron escape from 150 yd, Brauer 2008-2016 (second-hand)"),
    "channel": (100.0 / 3.0, "3:1 for ride-on mowers (common practice, no source)"),
    "platform": (100.0 / 3.0, "3:1 for ride-on mowers (common practice, no source); 4:1 (25 %) is preferred"),
    "tier": (17.5, "tier faces and tie-ins, Brauer, Golf Course Industry, May 2012 (published)"),
    "grade": (10.0, "comfortable landing ground, 8-10 % (common practice, no source)"),
}


@dataclass(frozen=True)
class Shape:
    """One piece of shaping as drawn.

    Parameters
    ----------
    kind
        One of :data:`KINDS`.
    geometry
        Outline (polygon), or crest or bed line of a mound or channel [m]. The outline is the toe of a mound,
        the lip of a hollow, the edge of the top of a platform, the middle of the face of a tier, the edge of
        a graded plane.
    rise_m, level_m
        Rise above the ground there (negative: depth), or the finished level instead [m].
    side_slope_pct
        Steepest side slope of the shape against the ground it stands on [%].
    blend_m
        Length of the rounding at foot and shoulder [m].
    width_m
        Width of the crest or bed of a line [m].
    fall_pct, fall_to_deg
        Fall of a platform or graded plane [%] and the grid bearing it runs to; for a line the fall along it
        as drawn.
    name, fid, order, hole
        Name for people, feature id, place in the order of application, hole.

    Raises
    ------
    InputError
        If the kind is unknown, the geometry does not suit it, or a number cannot be.
    """

    kind: str
    geometry: BaseGeometry
    rise_m: float | None = None
    level_m: float | None = None
    side_slope_pct: float = 25.0
    blend_m: float = 3.0
    width_m: float = 2.0
    fall_pct: float = 0.0
    fall_to_deg: float = 0.0
    name: str = ""
    fid: int | str | None = None
    order: int = 0
    hole: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(
                f"shape {self.label}: kind {self.kind!r} is unknown; it can be {', '.join(KINDS)}"
            )
        lines = self.geometry.geom_type in ("LineString", "MultiLineString")
        areas = self.geometry.geom_type in ("Polygon", "MultiPolygon")
        if self.kind == "channel" and not lines:
            raise InputError(f"shape {self.label}: a channel is drawn as its bed line, not as an area")
        if self.kind not in ("channel", "mound") and not areas:
            raise InputError(f"shape {self.label}: a {self.kind} is drawn as an area, not as a line")
        if self.kind == "mound" and not (lines or areas):
            raise InputError(f"shape {self.label}: a mound is drawn as its toe (area) or its crest (line)")
        if not self.side_slope_pct > 0 or not self.blend_m >= 0 or not self.width_m > 0:
            raise InputError(
                f"shape {self.label}: side slope and width have to be above 0, the blend 0 or more"
            )

    @property
    def label(self) -> str:
        """The name for people, or kind and feature id."""
        return self.name or f"{self.kind} {'' if self.fid is None else self.fid}".strip()

    @property
    def slope(self) -> float:
        """Side slope [m/m]; a tier's face is never steeper than its published limit."""
        cap = SLOPE_LIMITS_PCT["tier"][0] if self.kind == "tier" else np.inf
        return min(self.side_slope_pct, cap) / 100.0


def in_order(shapes: Sequence[Shape]) -> list[Shape]:
    """Return shapes in the order of application: by ``order``, then by kind, then as given."""
    return sorted(shapes, key=lambda s: (s.order, KINDS.index(s.kind)))


def depth_inside(surface: Surface, outline: shapely.Polygon) -> Floats:
    """Distance of each cell centre to an outline [m], positive inside; ``(rows, cols)``."""
    distance = shapely.distance(shapely.points(*surface.grid.mesh()), outline.boundary)
    return np.asarray(np.where(surface.grid.mask(outline), distance, -distance))


def ramp(d: Floats, width: float, blend: float) -> Floats:
    """Share of the full rise at a distance ``d`` up a bank of a given width: 0 at its foot, 1 at its top.

    The slope grows from nothing over ``blend``, stays at ``1/(width - blend)`` and dies away over ``blend``
    again; with no blend the bank is straight. ``blend`` is at most half the width.

    Parameters
    ----------
    d
        Distance from the foot [m].
    width
        Distance from foot to top [m].
    blend
        Length of each rounding [m].
    """
    b = min(blend, width / 2)
    steep = 1.0 / (width - b)
    d = np.clip(d, 0.0, width)
    if b < 1e-6:
        return np.minimum(d / width, 1.0)
    share: Floats = np.where(
        d < b,
        steep * d**2 / (2 * b),
        np.where(d > width - b, 1 - steep * (width - d) ** 2 / (2 * b), steep * (d - b / 2)),
    )
    return share


def drop(d: Floats, slope: float, blend: float) -> Floats:
    """Fall below a shoulder at a distance ``d`` beyond its edge, rounded over ``blend`` [m]."""
    d = np.maximum(d, 0.0)
    if blend < 1e-6:
        return slope * d
    fall: Floats = np.where(d < blend, slope * d**2 / (2 * blend), slope * (d - blend / 2))
    return fall


def smooth_max(a: Floats, b: Floats, k: Floats | float) -> Floats:
    """Return the larger of two heights with the corner rounded where they are within ``k`` [m] of each other.

    The slope of the result is a weighted mean of both slopes, so a rounding is never steeper than what it
    joins: max + (k - |a - b|)^2 / (4 k).
    """
    k = np.maximum(k, 1e-12)
    return np.maximum(a, b) + np.maximum(k - np.abs(a - b), 0.0) ** 2 / (4 * k)


def membrane_depth(inside: Mask, depth: Floats, cell: float, deepest: float | None = None) -> Floats:
    """Compute a smooth stand-in for the distance to the outline: no crease along the middle of the shape.

    A membrane fixed at the outline under even pressure takes the height u with lap(u) = -1. On a disc ``1 -
    sqrt(1 - u/u_max)`` is exactly the distance to the edge over the radius, on an ellipse its levels are
    ellipses; so it is scaled by the greatest depth. Cells next to the outline use the true distance to it
    (symmetric matrix, second order).

    Parameters
    ----------
    inside
        Cells inside the outline.
    depth
        Distance of the cell centres to the outline [m], positive inside.
    cell
        Side of a cell [m].
    deepest
        Greatest distance of any place inside to the outline [m]: the result is scaled to it at the top of u
        between the cells, found by parabolas. Without it the result is scaled to the deepest cell, which then
        is the top.

    Sources
    -------
    F. Gibou, R. P. Fedkiw, L.-T. Cheng and M. Kang 2002, "A second-order-accurate symmetric discretization of
    the Poisson equation on irregular domains", J. Comput. Phys. 176, 205-227, doi:10.1006/jcph.2001.6977
    (from memory).
    """
    number = np.full(inside.shape, -1)
    number[inside] = np.arange(inside.sum())
    cells = number[inside]
    diagonal = np.zeros(cells.size)
    rows, cols = [], []
    padded = np.pad(number, 1, constant_values=-1)
    depth_padded = np.pad(depth, 1, mode="edge")
    for di, dj in ((0, 1), (2, 1), (1, 0), (1, 2)):
        view = (slice(di, di + inside.shape[0]), slice(dj, dj + inside.shape[1]))
        neighbour = padded[view][inside]
        beyond = np.minimum(depth_padded[view][inside], 0.0)
        within = depth[inside]
        share = np.clip(within / np.maximum(within - beyond, 1e-9), 0.01, 1.0)
        linked = neighbour >= 0
        diagonal += np.where(linked, 1.0, 1.0 / share)
        rows.append(cells[linked])
        cols.append(neighbour[linked])
    r, c = np.concatenate([*rows, cells]), np.concatenate([*cols, cells])
    values = np.concatenate([np.full(r.size - cells.size, -1.0), diagonal])
    matrix = coo_matrix((values, (r, c)), shape=(cells.size, cells.size)).tocsc()
    u = np.zeros(inside.shape)
    u[inside] = spsolve(matrix, np.full(cells.size, cell**2), permc_spec="MMD_AT_PLUS_A")
    top, scale = (u.max(), depth.max()) if deepest is None else (_peak(u), deepest)
    return np.where(inside, scale * (1.0 - np.sqrt(np.maximum(1.0 - u / top, 0.0))), 0.0)


def _peak(u: Floats) -> float:
    """Greatest height of a smooth field between its cells, by parabolas through the highest cell."""
    i, j = np.unravel_index(int(u.argmax()), u.shape)
    padded = np.pad(u, 1)
    top = float(u[i, j])
    peak = top
    for before, after in ((padded[i, j + 1], padded[i + 2, j + 1]), (padded[i + 1, j], padded[i + 1, j + 2])):
        bend = 2.0 * top - before - after
        peak += (after - before) ** 2 / (8.0 * bend) if bend > 0 else 0.0
    return peak


def steepest(field: Floats, cell: float, where: Mask | None = None) -> float:
    """Return the greatest slope [m/m] of a field of heights, by central differences over two cells."""
    gy, gx = np.gradient(field, cell)
    slope = np.hypot(gx, gy)
    if where is not None:
        slope = slope[where]
    slope = slope[np.isfinite(slope)]
    return float(slope.max()) if slope.size else float("nan")


def target_change(ground: Surface, shape: Shape) -> Floats:
    """Height of the shape above the ground at each cell: the rise, or up to the finished level."""
    if shape.level_m is not None:
        return shape.level_m - ground.z
    if shape.rise_m is None:
        raise InputError(f"shape {shape.label}: a {shape.kind} needs a rise or a level")
    return np.full(ground.z.shape, shape.rise_m)


def bowl_or_dome(ground: Surface, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Mound or hollow inside an outline: nothing at the outline, all of it in the middle.

    A mound fills its outline with one rounded dome; where a mound stands already, one with a level is that
    mound, made higher or lower over its toe, as ``screening`` fits it. A hollow falls at its side slope and
    has a floor where there is room. Where the outline is too narrow for the rise at the side slope, the rise
    is cut back.
    """
    depth = depth_inside(ground, outline)
    inside = depth > 0
    if inside.sum() < LEAST_CELLS:
        raise InputError(
            f"shape {shape.label}: its outline holds fewer than {LEAST_CELLS} cells of the terrain"
        )
    standing = _standing_mound(ground, shape, outline)
    if standing is not None:
        return standing / max(steepest(standing, ground.cell) / shape.slope, 1.0)
    target = np.where(inside, target_change(ground, shape), 0.0)
    run = float(np.nanmax(np.abs(target))) / shape.slope
    width = run + min(shape.blend_m, run)
    deepest = float(polylabel(outline, ground.cell / 50).distance(outline.boundary))
    has_floor = shape.kind == "hollow" and width < deepest
    smooth = membrane_depth(inside, depth, ground.cell, deepest if has_floor else None)
    half_width = float(smooth.max())
    width = min(width, half_width) if has_floor else half_width
    for _ in range(4):
        change = target * ramp(smooth, width, shape.blend_m)
        over = steepest(change, ground.cell) / shape.slope
        if over <= 1.0 or width >= half_width:
            break
        width = min(half_width, width * over)
    return change / max(over, 1.0)


def _standing_mound(ground: Surface, shape: Shape, outline: shapely.Polygon) -> Floats | None:
    """Change that brings a mound in the outline to the level of the shape; None where none stands."""
    if shape.kind != "mound" or shape.level_m is None:
        return None
    try:
        crest = mound(ground, outline)
    except InputError:
        return None
    if float(crest.rise.height(*crest.top)) < STANDING_M:
        return None
    return crest.at(shape.level_m).z - ground.z


def chainages(line: shapely.LineString) -> Floats:
    """Distance of each vertex along a line [m]."""
    steps = np.diff(shapely.get_coordinates(line), axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])


def _line_levels(shape: Shape, chainage: Floats, ground_at: Floats) -> Floats:
    """Levels of the crest or bed at the vertices of a line; straight between them."""
    fall = shape.fall_pct / 100.0 * chainage
    if shape.level_m is not None:
        return shape.level_m - fall
    if shape.rise_m is None:
        raise InputError(f"shape {shape.label}: a {shape.kind} needs a rise or a level")
    return ground_at + shape.rise_m - fall


def along_line(ground: Surface, shape: Shape, line: shapely.LineString, ground_at: Floats) -> Floats:
    """Bank along a crest line, or channel along its bed line, with sides down (up) to the ground.

    ``ground_at`` is the ground at the vertices of the line. The crest or bed is ``width_m`` wide and its
    level runs straight from vertex to vertex; ``fall_pct`` lowers it along the line as drawn. A crest with a
    level is cut down to it where the ground is higher.
    """
    points = shapely.points(*ground.grid.mesh())
    beyond = np.asarray(shapely.distance(points, line)) - shape.width_m / 2
    vertices = chainages(line)
    along = np.asarray(shapely.line_locate_point(line, points))
    level = np.interp(along, vertices, _line_levels(shape, vertices, ground_at))
    fall = drop(beyond, shape.slope, shape.blend_m)
    k = np.minimum(shape.slope * shape.blend_m / 2, shape.slope * np.maximum(beyond, 0.0))
    if shape.kind == "channel":
        return -smooth_max(-ground.z, -(level + fall), k) - ground.z
    raised = smooth_max(ground.z, level - fall, k)
    if shape.level_m is not None:
        raised = -smooth_max(-raised, -(level + fall), k)
    return raised - ground.z


def plane_level(shape: Shape, outline: shapely.Polygon, mean_ground: float, x: Floats, y: Floats) -> Floats:
    """Height of a shape's plane: its level at the centroid of the outline, falling to its bearing.

    Without a level the plane is the mean ground inside the outline plus the rise (which balances cut and
    fill when there is no rise).
    """
    level = mean_ground + (shape.rise_m or 0.0) if shape.level_m is None else shape.level_m
    turn = np.deg2rad(shape.fall_to_deg)
    centre = outline.centroid
    along = (x - centre.x) * np.sin(turn) + (y - centre.y) * np.cos(turn)
    return np.asarray(level - shape.fall_pct / 100.0 * along)


def platform(ground: Surface, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Flat or falling top over the outline, with banks down or up to the ground outside it."""
    depth = depth_inside(ground, outline)
    inside = depth >= 0
    mean = _mean_ground(ground, shape, inside)
    outside = np.maximum(-depth, 0.0)
    links = shapely.get_coordinates(
        shapely.shortest_line(outline, shapely.points(*(v.ravel() for v in ground.grid.mesh())))
    )
    edge = links[::2].reshape(*ground.z.shape, 2)
    level = plane_level(shape, outline, mean, edge[..., 0], edge[..., 1])
    fall = drop(outside, shape.slope, shape.blend_m)
    k = np.minimum(shape.slope * shape.blend_m / 2, shape.slope * outside)
    filled = smooth_max(ground.z, level - fall, k)
    return -smooth_max(-filled, -(level + fall), k) - ground.z


def grade(ground: Surface, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Plane over the outline that melts into the ground over a band outside it.

    The band is the blend width, or wider where the step at the edge would otherwise be steeper than the side
    slope: 1.5 times the step over the slope, the steepest part of a smooth step.
    """
    depth = depth_inside(ground, outline)
    inside = depth >= 0
    level = plane_level(shape, outline, _mean_ground(ground, shape, inside), *ground.grid.mesh())
    edge = np.abs(depth) <= ground.cell
    step = float(np.nanmax(np.abs(level - ground.z)[edge], initial=0.0))
    band = max(shape.blend_m, 1.5 * step / shape.slope, ground.cell)
    t = np.clip(-depth / band, 0.0, 1.0)
    share = 1.0 - t**2 * (3.0 - 2.0 * t)
    return (level - ground.z) * share


def tier(ground: Surface, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Upper (or lower) part of a green: the ground there raised as it lies, a face along the outline.

    The face lies half inside and half outside the outline and is as wide as the rise over the side slope,
    plus its rounding.
    """
    depth = depth_inside(ground, outline)
    target = target_change(ground, shape)
    height = float(np.nanmax(np.abs(target[depth > 0]), initial=0.0))
    run = max(height / shape.slope, ground.cell)
    width = run + min(shape.blend_m, run)
    return target * ramp(depth + width / 2, width, shape.blend_m)


def _mean_ground(ground: Surface, shape: Shape, inside: Mask) -> float:
    z = ground.z[inside]
    z = z[np.isfinite(z)]
    if z.size < LEAST_CELLS:
        raise InputError(
            f"shape {shape.label}: its outline holds fewer than {LEAST_CELLS} cells of the terrain"
        )
    return float(z.mean())
