"""What each kind of shape does to the ground: a field of heights over one window.

Arrays and shapely geometry only. Every function takes a :class:`Window` (cell centres and the ground there)
and a shape, and returns the change of height [m] at each cell; nothing else touches heights.

Banks are straight at the asked side slope and rounded over the blend width at both ends, so that a blend of
zero gives the textbook solids (cone frustum, trapezoidal channel) exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from gistools.base.errors import InputError
from gistools.compute.terrain.screening import mound
from gistools.compute.terrain.surface import Surface

if TYPE_CHECKING:
    from gistools.compute.terrain.shaping import Shape

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: fewest cells inside an outline that can carry a shape (assumption: 4 x 4)
LEAST_CELLS = 16

#: rise above its toe from which ground counts as a mound that stands already [m] (assumption)
STANDING_M = 0.5


@dataclass(frozen=True, eq=False)
class Window:
    """Cells of a window: centres ``x, y`` and ground ``z``, each ``(rows, cols)``, and the cell side [m]."""

    x: Floats
    y: Floats
    z: Floats
    cell: float

    def depth_inside(self, outline: shapely.Polygon) -> Floats:
        """Distance to the outline [m], positive inside and negative outside."""
        points = shapely.points(self.x, self.y)
        away = shapely.distance(points, outline.boundary)
        shapely.prepare(outline)
        return np.where(shapely.contains_xy(outline, self.x, self.y), away, -away)


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


def membrane_depth(inside: Bools, depth: Floats, cell: float) -> Floats:
    """Return a smooth stand-in for the distance to the outline: no crease along the middle of the shape.

    A membrane fixed at the outline under even pressure takes the height u with lap(u) = -1. On a disc
    ``1 - sqrt(1 - u/u_max)`` is exactly the distance to the edge over the radius, on an ellipse its levels are
    ellipses; so it is scaled by the greatest depth. Cells next to the outline use the true distance to it
    (Gibou et al. 2002, second order, symmetric matrix).

    Parameters
    ----------
    inside
        Cells inside the outline.
    depth
        Distance to the outline [m], positive inside.
    cell
        Side of a cell [m].

    Sources
    -------
    Gibou, Fedkiw, Cheng, Kang 2002, J. Comput. Phys. 176, 205-227: boundary treatment [from memory].
    """
    number = np.full(inside.shape, -1)
    number[inside] = np.arange(inside.sum())
    own = number[inside]
    diagonal = np.zeros(own.size)
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
        rows.append(own[linked])
        cols.append(neighbour[linked])
    r, c = np.concatenate([*rows, own]), np.concatenate([*cols, own])
    values = np.concatenate([np.full(r.size - own.size, -1.0), diagonal])
    matrix = coo_matrix((values, (r, c)), shape=(own.size, own.size)).tocsc()
    u = spsolve(matrix, np.full(own.size, cell**2), permc_spec="MMD_AT_PLUS_A")
    out = np.zeros(inside.shape)
    out[inside] = depth.max() * (1.0 - np.sqrt(np.maximum(1.0 - u / u.max(), 0.0)))
    return out


def steepest(field: Floats, cell: float, where: Bools | None = None) -> float:
    """Return the greatest slope [m/m] of a field of heights, by central differences over two cells."""
    gy, gx = np.gradient(field, cell)
    slope = np.hypot(gx, gy)
    if where is not None:
        slope = slope[where]
    slope = slope[np.isfinite(slope)]
    return float(slope.max()) if slope.size else float("nan")


def target_change(window: Window, shape: Shape) -> Floats:
    """Height asked above the ground at each cell: the rise, or up to the finished level."""
    if shape.level_m is not None:
        return shape.level_m - window.z
    if shape.rise_m is None:
        raise InputError(f"shape {shape.label}: a {shape.kind} needs a rise or a level")
    return np.full(window.z.shape, shape.rise_m)


def bowl_or_dome(window: Window, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Mound or hollow inside an outline: nothing at the outline, all of it in the middle.

    A mound fills its outline with one rounded dome; where a mound stands already, one with a level is that mound,
    made higher or lower over its toe, as ``screening`` fits it. A hollow falls at its side slope and has a floor where
    there is room. Where the outline is too narrow for the rise at the side slope, the rise is cut back.
    """
    depth = window.depth_inside(outline)
    inside = depth > 0
    if inside.sum() < LEAST_CELLS:
        raise InputError(
            f"shape {shape.label}: its outline holds fewer than {LEAST_CELLS} cells of the terrain"
        )
    own = _standing_mound(window, shape, outline)
    if own is not None:
        return own / max(steepest(own, window.cell) / shape.slope, 1.0)
    smooth = membrane_depth(inside, depth, window.cell)
    asked = np.where(inside, target_change(window, shape), 0.0)
    room = float(smooth.max())
    height = float(np.nanmax(np.abs(asked)))
    width = room
    if shape.kind == "hollow":
        run = height / shape.slope
        width = min(room, run + min(shape.blend_m, run))
    for _ in range(4):
        change = asked * ramp(smooth, width, shape.blend_m)
        over = steepest(change, window.cell) / shape.slope
        if over <= 1.0 or width >= room:
            break
        width = min(room, width * over)
    return change / max(over, 1.0)


def _standing_mound(window: Window, shape: Shape, outline: shapely.Polygon) -> Floats | None:
    """Change that brings a mound standing in the outline to the level asked; None where there is none to bring."""
    if shape.kind != "mound" or shape.level_m is None:
        return None
    half = window.cell / 2
    ground = Surface(window.z, window.x[0, 0] - half, window.y[0, 0] + half, window.cell)
    try:
        found = mound(ground, outline)
    except InputError:
        return None
    if float(found.rise.height(*found.top)) < STANDING_M:
        return None
    return found.at(shape.level_m).z - window.z


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


def along_line(window: Window, shape: Shape, line: shapely.LineString, ground_at: Floats) -> Floats:
    """Bank along a crest line, or channel along its bed line, with sides down (up) to the ground.

    ``ground_at`` is the ground at the vertices of the line. The crest or bed is ``width_m`` wide and its level
    runs straight from vertex to vertex; ``fall_pct`` lowers it along the line as drawn. A crest with a level is cut
    down to it where the ground is higher.
    """
    points = shapely.points(window.x, window.y)
    beyond = np.asarray(shapely.distance(points, line)) - shape.width_m / 2
    vertices = chainages(line)
    along = np.asarray(shapely.line_locate_point(line, points))
    level = np.interp(along, vertices, _line_levels(shape, vertices, ground_at))
    fall = drop(beyond, shape.slope, shape.blend_m)
    k = np.minimum(shape.slope * shape.blend_m / 2, shape.slope * np.maximum(beyond, 0.0))
    if shape.kind == "channel":
        return -smooth_max(-window.z, -(level + fall), k) - window.z
    raised = smooth_max(window.z, level - fall, k)
    if shape.level_m is not None:
        raised = -smooth_max(-raised, -(level + fall), k)
    return raised - window.z


def plane_level(shape: Shape, outline: shapely.Polygon, mean_ground: float, x: Floats, y: Floats) -> Floats:
    """Height of a shape's plane: its level at the centroid of the outline, falling to the asked bearing.

    Without a level the plane is the mean ground inside the outline plus the rise (which balances cut and
    fill when there is no rise).
    """
    level = mean_ground + (shape.rise_m or 0.0) if shape.level_m is None else shape.level_m
    turn = np.deg2rad(shape.fall_to_deg)
    centre = outline.centroid
    along = (x - centre.x) * np.sin(turn) + (y - centre.y) * np.cos(turn)
    return level - shape.fall_pct / 100.0 * along


def platform(window: Window, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Flat or falling top over the outline, with banks down or up to the ground outside it."""
    depth = window.depth_inside(outline)
    inside = depth >= 0
    mean = _mean_ground(window, shape, inside)
    outside = np.maximum(-depth, 0.0)
    near = shapely.get_coordinates(
        shapely.shortest_line(outline, shapely.points(window.x.ravel(), window.y.ravel()))
    )
    edge = near[::2].reshape(*window.z.shape, 2)
    level = plane_level(shape, outline, mean, edge[..., 0], edge[..., 1])
    fall = drop(outside, shape.slope, shape.blend_m)
    k = np.minimum(shape.slope * shape.blend_m / 2, shape.slope * outside)
    filled = smooth_max(window.z, level - fall, k)
    return -smooth_max(-filled, -(level + fall), k) - window.z


def grade(window: Window, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Plane over the outline that melts into the ground over a band outside it.

    The band is the blend width, or wider where the step at the edge would otherwise be steeper than the side
    slope: 1.5 times the step over the slope, the steepest part of a smooth step.
    """
    depth = window.depth_inside(outline)
    inside = depth >= 0
    level = plane_level(shape, outline, _mean_ground(window, shape, inside), window.x, window.y)
    edge = np.abs(depth) <= window.cell
    step = float(np.nanmax(np.abs(level - window.z)[edge], initial=0.0))
    band = max(shape.blend_m, 1.5 * step / shape.slope, window.cell)
    t = np.clip(-depth / band, 0.0, 1.0)
    share = 1.0 - t**2 * (3.0 - 2.0 * t)
    return (level - window.z) * share


def tier(window: Window, shape: Shape, outline: shapely.Polygon) -> Floats:
    """Upper (or lower) part of a green: the ground there raised as it lies, a face along the outline.

    The face lies half inside and half outside the outline and is as wide as the rise over the side slope, plus
    its rounding.
    """
    depth = window.depth_inside(outline)
    asked = target_change(window, shape)
    height = float(np.nanmax(np.abs(asked[depth > 0]), initial=0.0))
    run = max(height / shape.slope, window.cell)
    width = run + min(shape.blend_m, run)
    return asked * ramp(depth + width / 2, width, shape.blend_m)


def _mean_ground(window: Window, shape: Shape, inside: Bools) -> float:
    z = window.z[inside]
    z = z[np.isfinite(z)]
    if z.size < LEAST_CELLS:
        raise InputError(
            f"shape {shape.label}: its outline holds fewer than {LEAST_CELLS} cells of the terrain"
        )
    return float(z.mean())
