"""Landing zones ranked: what each leaves at each pin, and what it costs to get there.

For a tee or another place, player and wind every full and three-quarter shot is tried over a fan of aims, by
the outcome table. Those that come first are evaluated again with each run simulated directly.

- A shot is *aimed at* the zone in which more of its balls finish than in any other zone, if more than
  LEAST_AIMED do.
- Of the aims with a club those count that find the zone at least AIM_SHARE as often as the best of them
  (assumption).
- Total: one, plus the mean over all its outcomes, hazards and misses included, of what they leave. The shot
  with the least total is the zone's shot for the pin.
- Strokes remaining: the mean from where balls finish in the zone. It is the zone's, not of a tie's winner:
  the mean over all shots that count and whose total is within TIE_BAND of the least, weighted by how often
  they find the zone and by how close they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.base.grid import Grid
from gistools.compute.ballistics.tee_shot import ellipse
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.hole_ground import HoleGround
from gistools.compute.decision.value_iteration import ValueFunction
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M

TIE_BAND = 0.02  # shots whose totals are no farther from the least share in what a zone leaves (assumption)
SWINGS = ("full", "eased", "three-quarter")  # swings that are tried
LEAST_AIMED = 0.05  # a shot that finishes in a zone less often is not aimed at it (assumption)
AIM_SHARE = 0.9  # (assumption)
MARGIN_DEG = 6.0  # aims are tried so far beyond the zones and the green (assumption)
WIDEST_DEG = 70.0  # and at most so far from the green (assumption)
ELLIPSE_SHARE = 0.9  # of the finishes lie inside their ellipse (assumption)
HAZARDS = (Kind.WATER, Kind.SAND, Kind.TREES)


@dataclass(frozen=True, eq=False)
class ShotFan:
    """Every shot tried from a place: shares and means by shot, in rows.

    ``total (n, pins)``; ``zone (n,)`` the zone it is aimed at, -1 for none; ``in_zone, through (n, zones)``
    shares; ``remaining (n, zones, pins)``; ``kind (n, 256)`` shares of finishing on each kind; ``feature (n,
    features)``.
    """

    shot: NDArray[np.int64]
    heading: NDArray[np.int64]
    total: NDArray[np.float64]
    zone: NDArray[np.int64]
    in_zone: NDArray[np.float64]
    through: NDArray[np.float64]
    remaining: NDArray[np.float64]
    kind: NDArray[np.float64]
    feature: NDArray[np.float64]
    middle: NDArray[np.float64]


@dataclass(frozen=True)
class Choice:
    """The best shot at a zone for a pin.

    Shares from 0 to 1; ``hazards`` are (name, share), greatest first.
    """

    zone: int
    pin: int
    shot: int
    heading: int
    remaining: float
    total: float
    in_zone: float
    through: float
    sand: float
    water: float
    out: float
    trees: float
    hazards: tuple[tuple[str, float], ...]
    x: float
    y: float


def zone_cells(ground: HoleGround, areas: list[Any]) -> NDArray[np.int16]:
    """Number of the landing zone each cell of the terrain is in, -1 for none."""
    out = np.full(ground.surface.z.shape, -1, np.int16)
    for number, area in enumerate(areas):
        out[ground.inside(area)] = number
    return out


def shots_from(
    s: ValueFunction,
    ground: HoleGround,
    x: float,
    y: float,
    zones: NDArray[np.int16],
    areas: list[Any],
    *,
    lie: int = 0,
) -> ShotFan:
    """Try every shot of the bag from a place over the directions of the landing zones and the green.

    ``lie`` is the number of its lie, that of a tee by default.
    """
    headings = _headings(s, x, y, areas)
    shots = [
        k
        for k, sh in enumerate(s.shot_table.shots)
        if sh.swing in SWINGS and s.tables(lie).carry_m[k] < UNAVAILABLE_M
    ]
    pairs = np.array([(k, h) for k in shots for h in headings], np.int64)
    n, count, pins = len(pairs), len(areas), len(s.pins)
    names = len(ground.names)
    got = ShotFan(
        pairs[:, 0],
        pairs[:, 1],
        np.full((n, pins), np.nan),
        np.full(n, -1, np.int64),
        np.zeros((n, count)),
        np.zeros((n, count)),
        np.full((n, count, pins), np.nan),
        np.zeros((n, 256)),
        np.zeros((n, names)),
        np.zeros((n, 2)),
    )

    for k in range(n):
        out = s.outcomes(x, y, int(pairs[k, 0]), int(pairs[k, 1]), lie=lie, direct_below_m=0.0)
        _weigh(got, k, s, ground, out, zones)
    direct: set[int] = set()
    while new := {int(k) for rows, _ in _level_shots(got).values() for k in rows} - direct:
        for k in sorted(new):  # what is reported is not by the table
            out = s.many_outcomes(x, y, int(pairs[k, 0]), int(pairs[k, 1]), lie=lie)
            _weigh(got, k, s, ground, out, zones)
        direct |= new
    return got


def _headings(s: ValueFunction, x: float, y: float, areas: list[Any]) -> list[int]:
    green = s.mesh.place[s.mesh.putts, :2] - (x, y)
    main = float(np.degrees(np.arctan2(*green.mean(axis=0))))
    towards = list(np.degrees(np.arctan2(green[:, 0], green[:, 1])))
    for area in areas:
        points = (
            np.asarray(area.exterior.coords)[::4]
            if area.geom_type == "Polygon"
            else np.array(area.centroid.coords)
        )
        towards += list(np.degrees(np.arctan2(points[:, 0] - x, points[:, 1] - y)))
    off = [(t - main + 180.0) % 360.0 - 180.0 for t in towards]
    low, high = max(min(off) - MARGIN_DEG, -WIDEST_DEG), min(max(off) + MARGIN_DEG, WIDEST_DEG)
    step = 360.0 / _kernels.HEADINGS
    first, last = int(np.floor((main + low) / step)), int(np.ceil((main + high) / step))
    return [h % _kernels.HEADINGS for h in range(first, last + 1)]


def _cells(
    s: ValueFunction, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    g = s.ground
    grid = Grid(g.x_west, g.y_north, g.cell, g.kind.shape)
    i, j = grid.index(x, y)
    ok = grid.contains(i, j)
    return np.where(ok, i, 0), np.where(ok, j, 0), ok


def _weigh(
    got: ShotFan,
    k: int,
    s: ValueFunction,
    ground: HoleGround,
    out: NDArray[np.void],
    zones: NDArray[np.int16],
) -> None:
    got.total[k], got.kind[k], got.feature[k] = s.action_value(out), 0.0, 0.0
    i, j, ok = _cells(s, out["x"], out["y"])
    dry = ok & (out["penalty"] == 0)
    at = np.where(dry, zones[i, j], -1)
    li, lj, lok = _cells(s, out["land_x"], out["land_y"])
    landed = np.where(lok, zones[li, lj], -1)
    kinds = out["kind"]
    np.add.at(got.kind[k], kinds, 1.0 / len(out))
    got.feature[k] = _feature_shares(ground, kinds, i, j, ok)
    got.middle[k] = np.median(out["x"]), np.median(out["y"])
    for z in range(got.in_zone.shape[1]):
        inside = at == z
        got.in_zone[k, z] = inside.mean()
        got.through[k, z] = ((landed == z) & ~inside).mean()
        if inside.any():
            got.remaining[k, z] = s.value[out["state"][inside]].mean(axis=0)
    got.zone[k] = zone_of(got.in_zone[k])


def _feature_shares(
    ground: HoleGround,
    kinds: NDArray[np.int64],
    i: NDArray[np.int64],
    j: NDArray[np.int64],
    ok: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Share of the shots that finish in each named hazard; kind and cell of each finish are given."""
    shares = np.zeros(len(ground.names))
    for kind in HAZARDS:
        bad = ok & (kinds == kind)
        if bad.any():
            hit = ground.nearest(kind)[i[bad], j[bad]]
            np.add.at(shares, hit[hit >= 0], 1.0 / len(kinds))
    return shares


@dataclass(frozen=True)
class Risk:
    """Shares of shots that finish in sand, water and trees, and out of bounds, 0 to 1.

    ``hazards`` are (name, share), greatest first.
    """

    sand: float
    water: float
    out: float
    trees: float
    hazards: tuple[tuple[str, float], ...]


def outcome_shares(s: ValueFunction, ground: HoleGround, out: NDArray[np.void]) -> Risk:
    """Return what the outcomes of a shot find."""
    kind = np.bincount(out["kind"], minlength=256) / len(out)
    feature = _feature_shares(ground, out["kind"], *_cells(s, out["x"], out["y"]))
    return _risk(kind, feature, ground.names)


def risk_row(risk: Risk | Choice) -> dict[str, Any]:
    """Return what shots find, keyed by column."""
    return {
        "trouble_pct": 100 * (risk.sand + risk.water + risk.trees),
        "sand_pct": 100 * risk.sand,
        "water_pct": 100 * risk.water,
        "out_of_bounds_pct": 100 * risk.out,
        "hazards": "; ".join(f"{n} {100 * q:.0f} %" for n, q in risk.hazards if q >= 0.005),
    }


def finish_row(out: NDArray[np.void]) -> dict[str, Any]:
    """Return where a shot finishes, keyed by column: an ellipse about ``middle``, the median finish."""
    middle = float(np.median(out["x"])), float(np.median(out["y"]))
    _, long_m, wide_m, bearing_deg = ellipse(out["x"], out["y"], ELLIPSE_SHARE, middle)
    size = {"ellipse_length_m": long_m, "ellipse_width_m": wide_m, "axis_bearing_deg": bearing_deg}
    return {"middle": middle, **size}


def _risk(kind: NDArray[np.float64], feature: NDArray[np.float64], names: tuple[str, ...]) -> Risk:
    order = np.argsort(-feature)[:4]
    return Risk(
        float(kind[Kind.SAND]),
        float(kind[Kind.WATER]),
        float(kind[Kind.OUT] + kind[Kind.OFF_MAP]),
        float(kind[Kind.TREES]),
        tuple((names[f], float(feature[f])) for f in order if feature[f] > 0),
    )


def zone_of(in_zone: NDArray[np.float64]) -> int:
    """Return the zone in which more balls finish than in any other, from the share in each; -1 for none."""
    best = int(np.argmax(in_zone)) if len(in_zone) else -1
    if best < 0 or in_zone[best] <= LEAST_AIMED or (in_zone == in_zone[best]).sum() > 1:
        return -1
    return best


def _level_shots(got: ShotFan) -> dict[tuple[int, int], tuple[NDArray[np.int64], NDArray[np.float64]]]:
    """Return the shots that count for each zone and pin, best first, and their weights.

    Zones out of reach are left out.

    The weight falls evenly from 1 for the least total to 0 at TIE_BAND more, so that it has no jumps.
    """
    level = {}
    for z in range(got.in_zone.shape[1]):
        aimed = np.flatnonzero((got.zone == z) & np.isfinite(got.total).all(axis=1))
        if not len(aimed):
            continue
        most = np.zeros(int(got.shot.max()) + 1)
        np.maximum.at(most, got.shot[aimed], got.in_zone[aimed, z])
        aimed = aimed[got.in_zone[aimed, z] >= AIM_SHARE * most[got.shot[aimed]]]
        for p in range(got.total.shape[1]):
            order = aimed[np.argsort(got.total[aimed, p], kind="stable")]
            weight = 1.0 - (got.total[order, p] - got.total[order[0], p]) / TIE_BAND
            level[z, p] = order[weight > 0.0], weight[weight > 0.0]
    return level


def choices_of(got: ShotFan, names: tuple[str, ...]) -> list[Choice]:
    """Return the best shot at each zone for each pin; zones out of reach are left out."""
    choices = []
    for (z, p), (rows, weight) in _level_shots(got).items():
        k = int(rows[0])
        share = weight * got.in_zone[rows, z]
        risk = _risk(got.kind[k], got.feature[k], names)
        choices.append(
            Choice(
                z,
                p,
                int(got.shot[k]),
                int(got.heading[k]),
                float(share @ got.remaining[rows, z, p] / share.sum()),
                float(got.total[k, p]),
                float(got.in_zone[k, z]),
                float(got.through[k, z]),
                risk.sand,
                risk.water,
                risk.out,
                risk.trees,
                risk.hazards,
                float(got.middle[k, 0]),
                float(got.middle[k, 1]),
            )
        )
    return choices


def totals_by_pin(choices: list[Choice]) -> dict[int, dict[int, float]]:
    """Return the total of each zone by hole location."""
    return {p: {c.zone: c.total for c in choices if c.pin == p} for p in {c.pin for c in choices}}
