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

Two zones are a *real choice* if their totals are within 0.10 strokes (assumption). The *go-for line* is the
zone with the fewest strokes remaining, if the total ranks another first that leaves at least 0.01 more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.base.grid import Grid
from gistools.base.units import one_in
from gistools.compute.ballistics.tee_shot import ellipse
from gistools.compute.decision import levels
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.hole_ground import HoleGround
from gistools.compute.decision.value_iteration import ValueFunction, bearing_of
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M

NEAR_STROKES = 0.10  # zones whose totals are no farther apart are a real choice (assumption)
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


def tee_shots(share: float) -> str:
    """Write a share (0 to 1) for people: ``"1 in 6 tee shots"``, ``"46 % of tee shots"``."""
    if share <= 0.0:
        return "no tee shot"
    words = one_in(share)
    return f"{words} of tee shots" if words.endswith("%") else f"{words} tee shots"


def position_rows(
    s: ValueFunction, choices: list[Choice], zone_names: list[str], band: float
) -> list[dict[str, Any]]:
    """Rank the zones for each pin and read the ranks: one row a zone and pin.

    Totals nearer to each other than ``band`` [strokes] are read as level.
    """
    rows: list[dict[str, Any]] = []
    turned = levels.turns(totals_by_pin(choices), band)
    for p in range(len(s.pins)):
        here = sorted((c for c in choices if c.pin == p), key=lambda c: c.total)
        by_remaining = sorted(here, key=lambda c: c.remaining)
        for rank, c in enumerate(here, 1):
            remaining_rank = by_remaining.index(c) + 1
            other = next((o for o in here if o is not c), None)
            gain = other.total - c.total if other else float("nan")
            shot = s.shot_table.shots[c.shot]
            rows.append(
                {
                    "zone": zone_names[c.zone],
                    "pin": s.pins[p],
                    "rank": rank,
                    "remaining_rank": remaining_rank,
                    "total_strokes": c.total,
                    "remaining_strokes": c.remaining,
                    "gain_strokes": gain,
                    "club": shot.label,
                    "aim_deg": bearing_of(c.heading),
                    "in_zone_pct": 100 * c.in_zone,
                    "run_through_pct": 100 * c.through,
                    **risk_row(c),
                    "order_changes": turned[p],
                    "reading": _reading(
                        s.pins[p], zone_names, c, here, by_remaining, rank, remaining_rank, band
                    ),
                    "x": c.x,
                    "y": c.y,
                }
            )
    return rows


def _reading(
    pin: str,
    names: list[str],
    c: Choice,
    here: list[Choice],
    by_remaining: list[Choice],
    rank: int,
    remaining_rank: int,
    band: float,
) -> str:
    words = f"For the {pin} pin the {names[c.zone]} zone"
    danger = (
        f"{tee_shots(c.hazards[0][1])} finds {c.hazards[0][0]}"
        if c.hazards and c.hazards[0][1] >= 0.01
        else ""
    )
    if c.out >= 0.01 and (not c.hazards or c.out > c.hazards[0][1]):
        danger = f"{tee_shots(c.out)} goes out of bounds"
    if len(here) == 1:
        return f"{words} is the only one in reach." + (
            f" From there {c.remaining:.2f} strokes are left; {danger}." if danger else ""
        )
    end = f"; {danger}." if danger else "."
    gain, best = here[1].total - c.total, by_remaining[0]
    level = gain < band
    other = names[here[1].zone]
    if rank == 1 and remaining_rank == 1:
        wins = f"is in all level with {other}" if level else f"wins by {gain:.2f} strokes"
        return f"{words} is first choice: it leaves the least and {wins}{end}"
    if rank == 1:
        less = c.remaining - best.remaining
        though = f"leaves {less:.2f} less" if less >= band else "leaves as little"
        by = f", in all level with {other}" if level else f" by {gain:.2f} strokes"
        return f"{words} is first choice{by}, though {names[best.zone]} {though}{end}"
    cost, first = c.total - here[0].total, names[here[0].zone]
    buys = here[0].remaining - c.remaining
    if buys >= band:
        costs = "in all it is level" if cost < band else f"in all it costs {cost:.2f}"
        return (
            f"{words} is worth {buys:.2f} strokes from where it finishes, but"
            f" {danger or 'it is held less often'}; {costs}."
        )
    more = f"leaves {-buys:.2f} strokes more than {first}" if buys <= -band else f"leaves as much as {first}"
    return f"{words} {more} and " + (
        "is in all level with it." if cost < band else f"costs {cost:.2f} in all."
    )


def hole_row(
    s: ValueFunction, choices: list[Choice], zone_names: list[str], from_tee: NDArray[np.float64], band: float
) -> dict[str, Any]:
    """Read what a tee asks of a player in a wind.

    Real choices, spread between pins, price of the go-for line.

    ``from_tee (pins,)`` are the strokes remaining from the tee by :meth:`ValueFunction.values_at`, whatever
    the zone: the hole's best. Totals nearer to each other than ``band`` [strokes] are level.
    """
    best: dict[int, Choice] = {}
    real, bold_lines = [], []
    for p in range(len(s.pins)):
        here = sorted((c for c in choices if c.pin == p), key=lambda c: c.total)
        if not here:
            continue
        best[p] = here[0]
        real.append(sum(c.total - here[0].total <= NEAR_STROKES for c in here))
        bold = min(here, key=lambda c: c.remaining)
        if here[0].remaining - bold.remaining >= band:
            bold_lines.append((bold.total - here[0].total, here[0].remaining - bold.remaining, bold, p))
    if not best:
        return {"reading": "no landing zone is in reach of this tee", "order_depends_on_pin": False}
    totals = [c.total for c in best.values()]
    totals_of = totals_by_pin(choices)
    firsts = {
        s.pins[p]: " = ".join(zone_names[z] for z in sorted(t) if t[z] - min(t.values()) < band)
        for p, t in totals_of.items()
    }
    price = min(bold_lines, key=lambda h: h[0]) if bold_lines else None
    parts = [
        (
            f"{max(real)} of {len({c.zone for c in choices})} landing zones are within {NEAR_STROKES:.2f}"
            f" strokes of the best"
        )
    ]
    if len(set(firsts.values())) > 1:
        parts.append("first choice by pin: " + ", ".join(f"{p} {z}" for p, z in firsts.items()))
    else:
        only = next(iter(firsts.values()))
        parts.append(f"{only} {'are level' if ' = ' in only else 'is first choice'} for every pin")
    parts.append(f"pins differ by {max(totals) - min(totals):.2f} strokes")
    if price:
        cost, buys, bold, p = price
        risk = f", and {tee_shots(bold.hazards[0][1])} finds {bold.hazards[0][0]}" if bold.hazards else ""
        parts.append(
            f"the go-for line to {zone_names[bold.zone]} buys {buys:.2f} strokes for the {s.pins[p]} pin"
            f" and costs {cost:.2f}{risk}"
        )
    return {
        "real_choices_count": max(real),
        "zones_in_reach_count": len({c.zone for c in choices}),
        "pin_spread_strokes": max(totals) - min(totals),
        "best_strokes": float(np.nanmin(from_tee)),
        "high_risk_zone": zone_names[price[2].zone] if price else "",
        "risk_cost_strokes": price[0] if price else float("nan"),
        "risk_gain_strokes": price[1] if price else float("nan"),
        "order_depends_on_pin": levels.any_turn(totals_of, band),
        "reading": "; ".join(parts) + ".",
    }
