"""Where approaches start.

Centres of the landing zones, places where tee shots come to rest, or points the designer has drawn.

*Finishes* are those of the best tee shot at a zone for a pin, as the step ``positions`` ranks it: of its
  outcomes those that come
to rest in the zone. They are thinned to a few places, each a finish itself, that stand for the finishes
nearest to them (k-means begun from the finish nearest to the middle and then from the farthest of those left,
so always the same). How many tee shots each stands for is its weight.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.cluster.vq import kmeans2

from gistools.base.errors import InputError, SiteError
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.approaches import View
from gistools.compute.decision.ranking import Choice
from gistools.compute.decision.value_iteration import REPORTED, ValueFunction
from gistools.hole import HoleModel
from gistools.hole.model import Tee
from gistools.hole.sight import centre, what_hides
from gistools.steps.view_rows import feet

MOST_FINISHES = 5  # places that the finishes in a zone are thinned to (assumption)
MEAN = "mean of finishes"


@dataclass(frozen=True)
class Start:
    """A place an approach starts from; ``pin`` where it is one for a single hole location.

    ``plays`` is how many of the tee shots worked out it stands for, ``share`` that of those in the zone (0 to
    1).
    """

    x: float
    y: float
    place: str
    zone: str = ""
    tee: str = ""
    pin: int | None = None
    plays: int | None = None
    share: float = math.nan


def from_centres(hole: HoleModel) -> list[Start]:
    """Return a point in each landing zone.

    Its centre, or a place well inside; the tees where there is none.
    """
    starts = [Start(*centre(zone.area), "zone centre", zone.zone) for zone in hole.zones]
    return starts or [Start(*tee.centre, "tee", f"{tee.name} tee", tee.name) for tee in hole.tees]


def from_points(hole: HoleModel, s: ValueFunction) -> list[Start]:
    """Return the points drawn for a hole, with the landing zone each lies in.

    Raises
    ------
    SiteError
        If a ball is not played from one of them; named.
    """
    table = hole.site.layer("play_points", hole.number)
    starts = []
    for row, name in zip(table.itertuples(), hole.names("play_points", table), strict=True):
        at = row.geometry
        try:
            s.state(at.x, at.y)
        except InputError as fault:
            raise SiteError(
                f"play_points, feature {row.fid} ({name}): {fault}; move it to where a ball can lie"
            ) from fault
        zone = next((z.zone for z in hole.zones if z.area.covers(at)), "")
        starts.append(Start(float(at.x), float(at.y), name, zone))
    return starts


def from_finishes(
    s: ValueFunction,
    tee: Tee,
    choices: list[Choice],
    zones: list[str],
    cells: NDArray[np.int16],
) -> list[Start]:
    """Return the thinned finishes of the best shot from a tee at each zone for each pin.

    Parameters
    ----------
    s
        The solved hole.
    tee
        The tee.
    choices
        The best shots, from :func:`gistools.compute.decision.ranking.choices_of`.
    zones, cells
        Names of the landing zones, and the number of the one each cell of the terrain is in.
    """
    starts: list[Start] = []
    for c in choices:
        xy = rests(s, tee, c, cells)
        for number, (at, plays) in enumerate(thinned(xy, MOST_FINISHES), 1):
            x, y = (float(v) for v in xy[at])
            place = f"finish {number}"
            starts.append(Start(x, y, place, zones[c.zone], tee.name, c.pin, plays, plays / len(xy)))
    return starts


def rests(s: ValueFunction, tee: Tee, choice: Choice, cells: NDArray[np.int16]) -> NDArray[np.float64]:
    """Where the tee shots of a choice come to rest in its zone ``(n, 2)`` [m]."""
    out = s.outcomes(*tee.centre, choice.shot, choice.heading, lie=0)
    at_rest = []
    for k in np.flatnonzero((out["penalty"] == 0) & (out["state"] >= 0)):
        i, j = _kernels.cell_of(s.ground, float(out["x"][k]), float(out["y"][k]))
        if i >= 0 and cells[i, j] == choice.zone:
            at_rest.append(k)
    return np.ascontiguousarray(np.column_stack([out["x"][at_rest], out["y"][at_rest]]))


def thinned(xy: NDArray[np.float64], most: int) -> list[tuple[int, int]]:
    """Thin points to a few of them.

    ``(row, how many points it stands for)``, the one for most of them first.
    """
    few = min(most, len(np.unique(xy, axis=0)))
    if few == 0:
        return []
    away = np.hypot(*(xy - xy.mean(axis=0)).T)
    chosen = [int(away.argmin())]
    nearest_m = np.full(len(xy), np.inf)
    while len(chosen) < few:
        nearest_m = np.minimum(nearest_m, np.hypot(*(xy - xy[chosen[-1]]).T))
        chosen.append(int(nearest_m.argmax()))
    with warnings.catch_warnings():  # a place that nothing is nearest to any more is left out below
        warnings.simplefilter("ignore", UserWarning)
        _, label = kmeans2(xy, xy[chosen], iter=30, minit="matrix", missing="warn")
    groups = []
    for number in np.unique(label):
        mine = np.flatnonzero(label == number)
        middle = np.hypot(*(xy[mine] - xy[mine].mean(axis=0)).T)
        groups.append((int(mine[middle.argmin()]), len(mine)))
    return sorted(groups, key=lambda f: (-f[1], f[0]))


def views_from(hole: HoleModel, starts: list[Start]) -> list[list[View]]:
    """Return how much of each flag is seen from the very places, as ``[start][pin]``."""
    eyes, pins = np.array([(s.x, s.y) for s in starts]).reshape(-1, 2), feet(hole.flags)
    seen = hole.views(eyes, pins)
    out: list[list[View]] = [[] for _ in starts]
    for k, pin in enumerate(pins):
        away = np.maximum(np.hypot(*(eyes - pin).T), 1e-9)
        at = eyes + (seen.hidden_at_m[:, k] / away)[:, None] * (pin - eyes)
        named, _ = what_hides(hole.scene, hole.places, seen.by[:, k], at[:, 0], at[:, 1])
        for e, name in enumerate(named):
            out[e].append(View(100.0 * float(seen.share[e, k]), name.feature))
    return out


def with_means(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put before the finishes in each zone a row of their means, weighted by the tee shots behind them.

    Figures are means over the finishes that have one; words are those of most tee shots.
    """
    groups: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault(tuple(row[k] for k in ("tee", "zone", "pin")), []).append(row)
    return [r for group in groups.values() for r in (_mean_of(group), *group)]


def _mean_of(rows: list[dict[str, Any]]) -> dict[str, Any]:
    weight = np.array([row["plays_count"] for row in rows], float)
    out: dict[str, Any] = {}
    for key in dict.fromkeys(k for row in rows for k in row):
        values = [row.get(key) for row in rows]
        if key == "geometry":
            starts = np.array([shape.coords[0] for shape in values if shape is not None])
            out[key] = shapely.LineString([weight @ starts / weight.sum(), rows[0]["geometry"].coords[-1]])
        elif key == "aim_deg":
            out[key] = _mean_bearing(values, weight)
        elif all(v is None or isinstance(v, float) for v in values):
            out[key] = _mean(values, weight)
        else:
            out[key] = _usual(values, weight)
    out |= {"start": MEAN, "plays_count": int(weight.sum()), "finish_share_pct": 100.0}
    out["reading"] = _reading(out, rows)
    return out


def _mean(values: list[float | None], weight: NDArray[np.float64]) -> float:
    numbers = np.array([math.nan if v is None else v for v in values])
    known = np.isfinite(numbers)
    return float(numbers[known] @ weight[known] / weight[known].sum()) if known.any() else math.nan


def _mean_bearing(values: list[float | None], weight: NDArray[np.float64]) -> float:
    def part(of: Callable[[float], float]) -> float:
        return _mean([None if v is None else of(math.radians(v)) for v in values], weight)

    return math.degrees(math.atan2(part(math.sin), part(math.cos))) % 360.0


def _usual(values: list[Any], weight: NDArray[np.float64]) -> Any:
    total: dict[Any, float] = {}
    for value, w in zip(values, weight, strict=True):
        total[value] = total.get(value, 0.0) + w
    return max(total, key=lambda v: total[v])


def _reading(mean: dict[str, Any], rows: list[dict[str, Any]]) -> str:
    left, cost = ([row[k] for row in rows] for k in ("pin_distance_m", "remaining_strokes"))
    words = (
        f"From where {mean['plays_count']} of {REPORTED} {mean['tee']} tee shots come to rest,"
        f" {min(left):.0f} to {max(left):.0f} m from the {mean['pin']} pin"
    )
    if math.isfinite(mean["flag_seen_pct"]) and mean["flag_seen_pct"] < 99.5:
        words += f": {mean['flag_seen_pct']:.0f} % of the flag is seen in the mean"
    if math.isfinite(mean.get("hold_pct", math.nan)):
        words += f"; {mean['hold_pct']:.0f} % hold the green, {mean['within_6_pct']:.0f} % finish within 6 m"
    return (
        f"{words}; {mean['remaining_strokes']:.2f} strokes to hole out, {min(cost):.2f} to {max(cost):.2f}."
    )
