"""Volumes between two surfaces, by the grid and by sections, and what becomes of the soil.

Arrays and plain values only. Volumes are in the units of the coordinates (grid metres); a caller that wants
ground volumes divides by the square of the combined factor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Surface

Floats = NDArray[np.float64]

#: how a shrinkage of s is read: contractors take the compacted volume as bank x (1 - s); the US federal lands
#: manual takes it as bank / (1 + s) [seen: FLH PDDM chapter 9]
Convention = Literal["of_bank", "of_fill"]


@dataclass(frozen=True)
class Volumes:
    """Cut and fill between two surfaces.

    Attributes
    ----------
    cut_m3, fill_m3
        Volume above (cut) and below (fill) the finished surface, in place [m3].
    cut_m2, fill_m2
        Plan areas of both [m2].
    no_ground_m2
        Area asked about in which one of the surfaces has no ground [m2]; no volume is counted there.
    grid_error_m3
        Least error of ``net_m3`` from the cell size [m3], see :func:`grid_error`.
    """

    cut_m3: float
    fill_m3: float
    cut_m2: float
    fill_m2: float
    no_ground_m2: float
    grid_error_m3: float

    @property
    def net_m3(self) -> float:
        """Fill less cut [m3]: positive asks for more soil than it gives."""
        return self.fill_m3 - self.cut_m3


def compare(
    before: Surface,
    after: Surface,
    *,
    within: BaseGeometry | None = None,
    soil_m: float = 0.0,
    touched_m: float = 0.0,
) -> Volumes:
    """Cut and fill from one surface to another on the same cells.

    V = sum(dz) A over the cells, cut and fill apart; cells on the edge of ``within`` count by the share of
    their area inside it.

    Parameters
    ----------
    before, after
        Existing and finished surface [m], same cells.
    within
        Area to look at; without it, all cells.
    soil_m
        Added to dz on touched ground [m]: topsoil stripped less topsoil put back, for the volumes of the soil
        below it.
    touched_m
        Ground counts as touched, for the areas and for ``soil_m``, where its height changes by more [m].

    Raises
    ------
    InputError
        If the surfaces do not share their cells.
    """
    same_cells(before, after)
    dz = after.z - before.z
    cell_m2 = before.cell**2
    share = cell_shares(before, within) if within is not None else None
    known = np.isfinite(dz)
    wanted = known.size if share is None else float(share.sum())
    counted = float(known.sum()) if share is None else float(share[known].sum())
    dz = np.where(known, dz, 0.0)
    touched = np.abs(dz) > touched_m
    soil = dz + soil_m * touched if soil_m else dz
    weighted = soil if share is None else soil * share
    fill, cut = np.maximum(weighted, 0.0), np.minimum(weighted, 0.0)

    def area(mask: NDArray[np.bool_]) -> float:
        return float(mask.sum() if share is None else share[mask].sum()) * cell_m2

    return Volumes(
        cut_m3=-float(cut.sum()) * cell_m2,
        fill_m3=float(fill.sum()) * cell_m2,
        cut_m2=area(touched & (dz < 0)),
        fill_m2=area(touched & (dz > 0)),
        no_ground_m2=(wanted - counted) * cell_m2,
        grid_error_m3=grid_error(weighted, before.cell),
    )


def same_cells(before: Surface, after: Surface) -> None:
    """Refuse two surfaces that do not share their cells.

    Raises
    ------
    InputError
        Naming both grids.
    """
    apart = max(abs(before.x_west - after.x_west), abs(before.y_north - after.y_north))
    if before.z.shape != after.z.shape or before.cell != after.cell or apart > 1e-6 * before.cell:
        raise InputError(
            f"two surfaces can be compared only on the same cells: one has {before.z.shape} cells of"
            f" {before.cell} m, the other {after.z.shape} of {after.cell} m, their corners are {apart:.3f} m apart"
        )


def cell_shares(surface: Surface, within: BaseGeometry) -> Floats:
    """Share of each cell's area inside a polygon, exact at its edge, shape ``(rows, cols)``."""
    x, y = surface.centres()
    half = surface.cell / 2
    share = np.zeros(surface.z.shape)
    west, south, east, north = within.bounds
    cols = np.nonzero((x > west - half) & (x < east + half))[0]
    rows = np.nonzero((y > south - half) & (y < north + half))[0]
    if cols.size == 0 or rows.size == 0:
        return share
    xs, ys = np.meshgrid(x[cols], y[rows])
    shapely.prepare(within)
    part = shapely.contains_xy(within, xs, ys).astype(float)
    near = _touched_by(within.boundary, xs, ys, surface.cell)
    boxes = shapely.box(xs[near] - half, ys[near] - half, xs[near] + half, ys[near] + half)
    part[near] = shapely.area(shapely.intersection(boxes, within)) / surface.cell**2
    share[np.ix_(rows, cols)] = part
    return share


def _touched_by(line: BaseGeometry, xs: Floats, ys: Floats, cell: float) -> NDArray[np.bool_]:
    """Cells of a window that a line may pass through: those of points half a cell apart on it, and all round them."""
    at = shapely.get_coordinates(shapely.segmentize(line, cell / 2))
    j = np.floor((at[:, 0] - xs[0, 0]) / cell + 0.5).astype(np.int64)
    i = np.floor((ys[0, 0] - at[:, 1]) / cell + 0.5).astype(np.int64)
    near = np.zeros(xs.shape, np.bool_)
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            a, b = i + di, j + dj
            ok = (a >= 0) & (b >= 0) & (a < xs.shape[0]) & (b < xs.shape[1])
            near[a[ok], b[ok]] = True
    return near


def grid_error(dz: Floats, cell: float) -> float:
    """Least error of a grid volume, from the grid itself [m3].

    The four grids of twice the cell size that lie in this one are four independent tries at the same volume;
    the standard deviation between them, over four (the midpoint rule is of second order), estimates the error
    of the full grid. It is a least error: what the ground does between the cells is not in it.
    """
    rows, cols = (n - n % 2 for n in dz.shape)
    tries = [float(dz[i:rows:2, j:cols:2].sum()) * 4 * cell**2 for i in (0, 1) for j in (0, 1)]
    return float(np.std(tries, ddof=1)) / 4


def survey_error(area_m2: float, *, level_sd_m: float, spacing_m: float) -> float:
    """Error of a volume from errors of the surveyed levels [m3], at 95 %.

    Each level stands for a square of ``spacing_m``, and the errors of different levels are independent:
    1.96 sd A / sqrt(A / spacing^2). A level that is off everywhere by the same amount (a wrong bench mark) adds
    that amount times the area, and is not in it.
    """
    return float(1.96 * level_sd_m * spacing_m * np.sqrt(area_m2))


def average_end_area(areas: ArrayLike, spacing: ArrayLike) -> float:
    """Volume from cross-section areas by the mean of neighbours: sum of L (A1 + A2) / 2 [m3].

    Parameters
    ----------
    areas
        Section areas [m2], shape ``(n,)``.
    spacing
        Distance between sections [m]: one number, or ``(n - 1,)``.

    Sources
    -------
    Land Surveyor exam notes [seen: thesurveyschool.com fs-5-h-volume].
    """
    a = np.asarray(areas, float)
    if a.ndim != 1 or a.size < 2:
        raise InputError("a volume by end areas needs at least two sections")
    return float((np.broadcast_to(spacing, a.size - 1) * (a[1:] + a[:-1]) / 2).sum())


def prismoidal(areas: ArrayLike, spacing: float) -> float:
    """Volume from cross-section areas by the prismoidal rule: L (A1 + 4 Am + A2) / 6 for each pair of spans [m3].

    Parameters
    ----------
    areas
        Section areas at equal distances [m2], an odd number of them; every second one is a *measured* section
        half-way, not the mean of its neighbours.
    spacing
        Distance between neighbouring sections [m], so that L = 2 spacing.

    Sources
    -------
    thesurveyschool.com fs-5-h-volume; what-when-how.com eq. 6.4, 6.5 [seen].
    """
    a = np.asarray(areas, float)
    if a.ndim != 1 or a.size < 3 or a.size % 2 == 0:
        raise InputError(f"the prismoidal rule needs an odd number of sections, three or more, not {a.size}")
    return float(spacing / 3 * (a[0] + a[-1] + 4 * a[1:-1:2].sum() + 2 * a[2:-1:2].sum()))


def section_areas(before: Surface, after: Surface, every: int = 1) -> tuple[Floats, Floats, float]:
    """Cut and fill areas of east-west sections along the rows of two surfaces.

    Each area is the trapezoidal sum of dz along the row, with the places where it changes sign found between
    cell centres: another way to the volumes than :func:`compare`, to check them.

    Returns
    -------
    cut, fill, spacing
        Areas [m2] of every ``every``-th row, and the distance between the sections [m].
    """
    same_cells(before, after)
    dz = np.nan_to_num((after.z - before.z)[::every])
    a, b = dz[:, :-1], dz[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.where(a * b < 0, np.abs(a) + np.abs(b), 1.0)
    whole = before.cell * (a + b) / 2
    fill = np.where(a * b < 0, before.cell * np.maximum(a, b) ** 2 / (2 * apart), np.maximum(whole, 0.0))
    return (fill - whole).sum(axis=1), fill.sum(axis=1), before.cell * every


@dataclass(frozen=True)
class Balance:
    """What becomes of the soil.

    Attributes
    ----------
    loose_m3
        The cut as it lies on a lorry: cut (1 + swell) [m3].
    needs_m3
        Bank volume that the fill takes, compacted [m3].
    surplus_m3
        Cut less what the fill takes, in the bank [m3]: positive leaves the site, negative has to be brought.
    surplus_loose_m3
        The same as it is carried [m3].
    """

    loose_m3: float
    needs_m3: float
    surplus_m3: float
    surplus_loose_m3: float


def mass_balance(
    cut_m3: float,
    fill_m3: float,
    *,
    swell_pct: float = 0.0,
    shrink_pct: float = 0.0,
    convention: Convention = "of_bank",
) -> Balance:
    """Balance cut against fill with bulking and shrinkage.

    loose = bank (1 + swell). Compacted = bank (1 - s) with ``of_bank`` (contractors' form), or bank / (1 + s)
    with ``of_fill`` (US federal lands form): a shrinkage of 25 % is a factor of 0.75 or of 0.80.

    Parameters
    ----------
    cut_m3, fill_m3
        Volumes in place [m3].
    swell_pct, shrink_pct
        Bulking and shrinkage of the soil at hand [%]; zero means not known, and the balance is in place.
        Negative shrinkage (rock) takes more room in the fill.
    convention
        How the shrinkage is read.

    Raises
    ------
    InputError
        If the shrinkage leaves nothing, or the convention is unknown.

    Sources
    -------
    propelleraero.com shrink-swell; FLH PDDM chapter 9 [seen].
    """
    s = shrink_pct / 100.0
    if convention not in ("of_bank", "of_fill"):
        raise InputError(f"shrinkage is read as `of_bank` or `of_fill`, not {convention!r}")
    factor = 1.0 - s if convention == "of_bank" else 1.0 / (1.0 + s) if s > -1 else 0.0
    if factor <= 0:
        raise InputError(f"a shrinkage of {shrink_pct} % leaves no soil")
    loose = 1.0 + swell_pct / 100.0
    needs = fill_m3 / factor
    return Balance(cut_m3 * loose, needs, cut_m3 - needs, (cut_m3 - needs) * loose)
