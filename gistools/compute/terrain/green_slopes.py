"""Greens: where a hole location is fair, and the parts a green falls into.

"Marginal" is the greatest slope for a hole location; at the "downhill" slope a putt from above cannot be
stopped near the hole.

Sources
-------
Slope limits by green speed, and no hole within 3 m of critical ground: J. F. Lemons 2008, "Putting green
speeds, slopes and non-conforming hole locations", USGA Green Section Record 46(4) (second-hand). Hole at
least four paces from any edge, 0.6 to 0.9 m round it as level as possible: The R&A, Guidance on running a
competition (published). A pace of 0.9144 m: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.defaults import CRITICAL_M, EDGE_PACES, PACE_M, RADIUS_M
from gistools.compute.terrain.slopes import downhill_ends, falls_to_deg, fitted, slope_pct
from gistools.compute.terrain.surface import Floats, Mask, Surface

STIMP_FT = (8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0)
MARGINAL_PCT = (5.86, 4.35, 3.90, 3.58, 3.24, 2.99, 2.90)
DOWNHILL_PCT = (6.65, 5.95, 5.42, 4.90, 4.55, 4.20, 3.85)
LEAST_TIER_M2 = 15.0  # assumption: a smaller level patch is not a tier
LEAST_STEEP_M2 = 10.0  # assumption: a smaller steep patch has no name
FRINGE_M = 1.5  # assumption: a ball that trickles to within this of the edge is as good as off the green
RING = 0.5  # assumption: mean of unit vectors; half a ring has 2/pi = 0.64, two thirds of one 0.41
FRONT_DEG = 60.0  # assumption: the front of a green is within this angle of the line in


def slope_limits(stimp_ft: float) -> tuple[float, float]:
    """Greatest slope for a hole location, and the critical slope, for a green speed [%].

    Linear between the printed speeds. Slower than 8 ft the values for 8 ft are kept (cautious); faster than
    14 ft they shrink in proportion to the speed (assumption: the printed ones do so roughly).

    Raises
    ------
    InputError
        If the speed is outside 4 to 16 ft.
    """
    if not 4.0 <= stimp_ft <= 16.0:
        raise InputError(f"a green speed of {stimp_ft} ft is outside 4 to 16 ft on the Stimpmeter")
    share = min(1.0, STIMP_FT[-1] / stimp_ft)
    return (
        float(np.interp(stimp_ft, STIMP_FT, MARGINAL_PCT)) * share,
        float(np.interp(stimp_ft, STIMP_FT, DOWNHILL_PCT)) * share,
    )


@dataclass(frozen=True, eq=False)
class GreenSlopes:
    """Slopes of one green and its surround, on the cells of ``surface``.

    ``inside`` marks the green, ``edge_m`` the distance to its edge (negative outside), ``slope_pct`` the
    slope within :data:`RADIUS_M`, ``fair`` where a hole location is fair, ``p`` and ``q`` rise per metre east
    and north.
    """

    surface: Surface
    p: Floats
    q: Floats
    slope_pct: Floats
    inside: Mask
    edge_m: Floats
    fair: Mask
    limit_pct: float
    critical_pct: float

    @property
    def cell_m2(self) -> float:
        """Area of a cell [m2]."""
        return self.surface.cell**2


def green_slopes(
    surface: Surface,
    green: BaseGeometry,
    *,
    stimp_ft: float = 10.0,
    edge_m: float = EDGE_PACES * PACE_M,
    limit_pct: float | None = None,
    radius_m: float = RADIUS_M,
) -> GreenSlopes:
    """Slope map of a green and where a hole location is fair.

    Fair: at least ``edge_m`` from the edge, slope of the best plane within ``radius_m`` at most the limit,
    and no ground steeper than the critical slope within :data:`CRITICAL_M`. Cells larger than 0.5 m are
    halved until they are not (bilinear), so that a radius of 0.9 m holds more than one.

    Parameters
    ----------
    surface
        Ground that holds the green and a few metres round it.
    green
        Outline of the green.
    stimp_ft
        Green speed [ft].
    edge_m
        Least distance of a hole from the edge [m].
    limit_pct
        Greatest slope for a hole location [%]; by speed when None, see :func:`slope_limits`.
    radius_m
        Radius that the slope is measured within [m].
    """
    cell = surface.cell
    while cell > 0.5:
        cell /= 2
    fine = surface if cell == surface.cell else surface.resampled(cell)
    marginal, critical = slope_limits(stimp_ft)
    limit = marginal if limit_pct is None else limit_pct
    critical = max(critical, limit)
    p, q = fitted(fine, radius_m)
    slope = slope_pct(p, q)
    inside = fine.grid.mask(green)
    edge = np.asarray(shapely.distance(shapely.points(*fine.grid.mesh()), shapely.boundary(green)))
    edge = np.where(inside, edge, -edge)
    steep = inside & (slope > critical)
    far = np.ones(steep.shape, bool)
    if steep.any():
        far = ndimage.distance_transform_edt(~steep) * cell > CRITICAL_M
    fair = inside & (edge >= edge_m) & (slope <= limit) & far
    return GreenSlopes(fine, p, q, slope, inside, edge, fair, limit, critical)


def place_name(bearing_deg: float, away: float, line_deg: float) -> str:
    """Name a place on a green for a player who looks along ``line_deg``.

    ``bearing_deg`` from the centre; ``away`` is its distance as a share of the green's mean radius: under
    0.35 "middle" (assumption). The front is the player's side.
    """
    if not away >= 0.35:
        return "middle"
    names = ("back", "back right", "right", "front right", "front", "front left", "left", "back left")
    return names[round(((bearing_deg - line_deg) % 360.0) / 45.0) % 8]


@dataclass(frozen=True, eq=False)
class GreenPart:
    """A connected part of a green or its surround: kind, place, cells and slopes."""

    kind: str
    place: str
    cells: Mask
    area_m2: float
    slope_pct: float
    steepest_pct: float
    level_m: float
    falls_to_deg: float

    @property
    def name(self) -> str:
        """What people call it."""
        return self.kind if self.kind == "false front" or not self.place else f"{self.place} {self.kind}"


def green_parts(
    slopes: GreenSlopes,
    green: BaseGeometry,
    line_deg: float,
    *,
    surround_m: float = 5.0,
    hazards: BaseGeometry | None = None,
) -> list[GreenPart]:
    """Parts of a green by slope: tiers, tier faces, false front, run-offs and banks.

    Ground steeper than the hole-location limit is steep. A *tier* is a connected part of the green that is
    not. From every steep cell the way down is followed until the ground is level enough. From the green off
    it (or outwards to within :data:`FRINGE_M` of its edge), or from outside farther out, it is a *run-off* (a
    *false front* on the player's side, where it holds some of the green). Ground that leads onto the green is
    a *tier face* where the way up from it ends on the green too, else a *bank*. Outside, only ground within
    ``surround_m`` of the edge counts.

    Parameters
    ----------
    slopes
        From :func:`green_slopes`, with at least ``surround_m`` of ground round the green.
    green
        Outline of the green.
    line_deg
        Bearing of the line in to the green.
    surround_m
        Width of the surround looked at [m].
    hazards
        Ground to leave out: sand and water have shapes of their own.
    """
    g = slopes
    east, north = g.surface.grid.mesh()
    centre = green.centroid
    bearing = np.degrees(np.arctan2(east - centre.x, north - centre.y))
    front = np.abs((bearing - line_deg) % 360.0 - 180.0) <= FRONT_DEG
    steep = (g.slope_pct > g.limit_pct) & (g.edge_m >= -surround_m)
    if hazards is not None and not hazards.is_empty:
        steep &= ~g.surface.grid.mask(hazards)
    ends = np.zeros(steep.shape, bool)
    end = shapely.points(*downhill_ends(g.surface, g.p, g.q, steep, g.limit_pct))
    out = -shapely.distance(end, green)
    within = shapely.distance(end, green.boundary) * (out == 0)
    on_green = (within >= FRINGE_M) | (within > np.maximum(g.edge_m[steep], 0))
    ends[steep] = np.where(g.inside[steep], on_green, out > g.edge_m[steep])
    spill, bank = steep & ~ends, ends & ~g.inside
    start = shapely.points(*downhill_ends(g.surface, -g.p, -g.q, ends, g.limit_pct))
    bank[ends] |= shapely.distance(start, green) >= FRINGE_M
    parts: list[GreenPart] = []
    for kind, mask in (
        ("tier", g.inside & (g.slope_pct <= g.limit_pct)),
        ("tier face", ends & ~bank),
        ("false front", spill & front),
        ("run-off", spill & ~front),
        ("bank", bank),
    ):
        labels, count = ndimage.label(mask, np.ones((3, 3)))
        for n in range(1, count + 1):
            cells = labels == n
            green_m2 = float((cells & g.inside).sum()) * g.cell_m2
            area = float(cells.sum()) * g.cell_m2
            if area < (LEAST_TIER_M2 if kind == "tier" else LEAST_STEEP_M2):
                continue
            if not (g.edge_m[cells] >= -1.5 * g.surface.cell).any():
                continue  # does not reach the green
            named = "run-off" if kind == "false front" and green_m2 < LEAST_STEEP_M2 else kind
            parts.append(_part(g, named, cells, (east, north), green, line_deg))
    return parts


def _part(
    g: GreenSlopes,
    kind: str,
    cells: Mask,
    where: tuple[Floats, Floats],
    green: BaseGeometry,
    line_deg: float,
) -> GreenPart:
    dx, dy = where[0][cells] - green.centroid.x, where[1][cells] - green.centroid.y
    if kind in ("tier", "tier face"):
        away = np.full(len(dx), np.sqrt(green.area / np.pi))
    else:  # along the edge: direction counts, a ring has none
        away = np.hypot(dx, dy)
    mean_x, mean_y = float((dx / away).mean()), float((dy / away).mean())
    bearing = float(np.degrees(np.arctan2(mean_x, mean_y)))
    reach = float(np.hypot(mean_x, mean_y))
    place = place_name(bearing, reach, line_deg)
    if kind in ("run-off", "bank") and reach < RING:
        place = "all-round"
    p, q = g.p[cells].mean(), g.q[cells].mean()
    return GreenPart(
        kind=kind,
        place=place,
        cells=cells,
        area_m2=float(cells.sum()) * g.cell_m2,
        slope_pct=float(g.slope_pct[cells].mean()),
        steepest_pct=float(g.slope_pct[cells].max()),
        level_m=float(g.surface.z[cells].mean()),
        falls_to_deg=float(falls_to_deg(p, q)),
    )


def outline(surface: Surface, cells: Mask) -> BaseGeometry:
    """Area of a set of cells as one geometry, cell edges as they are."""
    x, y = (v[cells] for v in surface.grid.mesh())
    half = surface.cell / 2
    return shapely.coverage_union_all(shapely.box(x - half, y - half, x + half, y + half))
