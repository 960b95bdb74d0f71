"""Cut and fill between two surfaces by the grid, and the balance of the soil.

Volumes are in the units of the coordinates (grid metres); divided by the square of the combined factor they
are volumes on the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.base.grid import Floats, Grid, Mask
from gistools.compute.terrain.surface import Surface

#: how a shrinkage s is read: contractors take the compacted volume as bank x (1 - s) (common practice); US
#: federal lands as bank / (1 + s): Federal Lands Highway, Project Development and Design Manual, chapter 9
#: (published)
Convention = Literal["of_bank", "of_fill"]


@dataclass(frozen=True)
class Volumes:
    """Cut and fill between two surfaces.

    Attributes
    ----------
    cut_m3, fill_m3
        Volume above (cut) and below (fill) the finished surface, in place [m3].
    cut_area_m2, fill_area_m2
        Plan areas of both [m2].
    nodata_area_m2
        Area in which one of the surfaces has no ground [m2]; no volume is counted there.
    grid_error_m3
        Least error of ``net_m3`` from the cell size [m3], see :func:`grid_error`.
    """

    cut_m3: float
    fill_m3: float
    cut_area_m2: float
    fill_area_m2: float
    nodata_area_m2: float
    grid_error_m3: float

    @property
    def net_m3(self) -> float:
        """Fill less cut [m3]: positive takes more soil than it gives."""
        return self.fill_m3 - self.cut_m3


def cut_and_fill(
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
    share = cell_shares(before.grid, within) if within is not None else None
    known = np.isfinite(dz)
    total = known.size if share is None else float(share.sum())
    counted = float(known.sum()) if share is None else float(share[known].sum())
    dz = np.where(known, dz, 0.0)
    touched = np.abs(dz) > touched_m
    soil = dz + soil_m * touched if soil_m else dz
    weighted = soil if share is None else soil * share
    fill, cut = np.maximum(weighted, 0.0), np.minimum(weighted, 0.0)

    def area(mask: Mask) -> float:
        return float(mask.sum() if share is None else share[mask].sum()) * cell_m2

    return Volumes(
        cut_m3=-float(cut.sum()) * cell_m2,
        fill_m3=float(fill.sum()) * cell_m2,
        cut_area_m2=area(touched & (dz < 0)),
        fill_area_m2=area(touched & (dz > 0)),
        nodata_area_m2=(total - counted) * cell_m2,
        grid_error_m3=grid_error(weighted, before.cell),
    )


def same_cells(before: Surface, after: Surface) -> None:
    """Refuse two surfaces that do not share their cells.

    Raises
    ------
    InputError
        Naming both grids.
    """
    a, b = before.grid, after.grid
    offset = max(abs(a.x_west - b.x_west), abs(a.y_north - b.y_north))
    if a.shape != b.shape or a.cell != b.cell or offset > 1e-6 * a.cell:
        raise InputError(
            f"two surfaces can be compared only on the same cells: one has {a.shape} cells of"
            f" {a.cell} m, the other {b.shape} of {b.cell} m, their corners are {offset:.3f} m apart"
        )


def cell_shares(grid: Grid, within: BaseGeometry) -> Floats:
    """Share of each cell's area inside a polygon, exact at its edge, shape ``(rows, cols)``."""
    share = np.zeros(grid.shape)
    rows, cols = grid.window(within.bounds)
    part = grid.part(rows, cols)
    if 0 in part.shape:
        return share
    inside = part.mask(within).astype(float)
    edge = _touched_by(part, within.boundary)
    x, y = (v[edge] for v in part.mesh())
    half = grid.cell / 2
    boxes = shapely.box(x - half, y - half, x + half, y + half)
    inside[edge] = shapely.area(shapely.intersection(boxes, within)) / grid.cell**2
    share[rows, cols] = inside
    return share


def _touched_by(grid: Grid, line: BaseGeometry) -> Mask:
    """Cells that a line may pass through: those of points half a cell apart on it, and all round them."""
    points = shapely.get_coordinates(shapely.segmentize(line, grid.cell / 2))
    row, col = grid.index(points[:, 0], points[:, 1])
    on_grid = grid.contains(row, col)
    touched = np.zeros(grid.shape, bool)
    touched[row[on_grid], col[on_grid]] = True
    return np.asarray(ndimage.binary_dilation(touched, np.ones((3, 3))), bool)


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

    Each level stands for a square of ``spacing_m``, and the errors of different levels are independent: 1.96
    sd A / sqrt(A / spacing^2). A level that is off everywhere by the same amount (a wrong bench mark) adds
    that amount times the area, and is not in it.
    """
    return float(1.96 * level_sd_m * spacing_m * np.sqrt(area_m2))


@dataclass(frozen=True)
class Balance:
    """What becomes of the soil.

    Attributes
    ----------
    cut_loose_m3
        The cut as it lies on a lorry: cut (1 + swell) [m3].
    fill_bank_m3
        Bank volume that the fill takes, compacted [m3].
    surplus_m3
        Cut less what the fill takes, in the bank [m3]: positive leaves the site, negative has to be brought.
    surplus_loose_m3
        The same as it is carried [m3].
    """

    cut_loose_m3: float
    fill_bank_m3: float
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
    Federal Lands Highway, Project Development and Design Manual, chapter 9 (published); contractors' form:
    common practice, no source.
    """
    s = shrink_pct / 100.0
    if convention not in ("of_bank", "of_fill"):
        raise InputError(f"shrinkage is read as `of_bank` or `of_fill`, not {convention!r}")
    factor = 1.0 - s if convention == "of_bank" else 1.0 / (1.0 + s) if s > -1 else 0.0
    if factor <= 0:
        raise InputError(f"a shrinkage of {shrink_pct} % leaves no soil")
    loose = 1.0 + swell_pct / 100.0
    fill_bank = fill_m3 / factor
    return Balance(cut_m3 * loose, fill_bank, cut_m3 - fill_bank, (cut_m3 - fill_bank) * loose)
