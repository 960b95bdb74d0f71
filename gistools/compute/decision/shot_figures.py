"""What a shot is on its way: how far it carries, what it has to carry, where it runs and what it runs into.

The line of a shot leads from its start to the middle of its landings. Water and sand on that line before the
landing have to be carried; a ball carries them where none of them lies at its landing or beyond it in its own
direction. The run-out is that from the landing to rest.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.effective_distance import effective_distance
from gistools.compute.decision.club_set import Player, Wind
from gistools.compute.decision.hole_ground import CARRIED, STEP_M, HoleGround, hazards_on_line

#: ground that a ball runs into
RUN_INTO = (Kind.WATER, Kind.SAND, Kind.TREES)


def shot_figures(
    ground: HoleGround,
    player: Player,
    wind: Wind,
    start: tuple[float, float],
    out: NDArray[np.void],
) -> dict[str, Any]:
    """Return the figures of a shot, keyed by column.

    Parameters
    ----------
    ground
        The ground of the hole.
    player, wind
        Whose shot, in which wind.
    start
        Where it is played from [m].
    out
        Its outcomes, as :meth:`gistools.compute.decision.value_function.ValueFunction.outcomes` returns them.
    """
    flown = out[np.hypot(out["land_x"] - start[0], out["land_y"] - start[1]) > 0.0]
    if not len(flown):
        return {}
    dx, dy = flown["land_x"] - start[0], flown["land_y"] - start[1]
    middle = float(np.median(dx)), float(np.median(dy))
    carry, bearing = math.hypot(*middle), math.degrees(math.atan2(*middle)) % 360.0
    height = ground.surface.height
    rise = float(height(start[0] + middle[0], start[1] + middle[1]) - height(*start))
    sine, cosine = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    run_x, run_y = flown["x"] - flown["land_x"], flown["y"] - flown["land_y"]
    played = flown["penalty"] == 0
    row: dict[str, Any] = {
        "carry_mean_m": float(np.hypot(dx, dy).mean()),
        "effective_carry_m": float(
            effective_distance(carry, rise_m=rise, wind=wind, bearing_deg=bearing, player=player)
        ),
        "shot_run_along_m": float((run_x * sine + run_y * cosine)[played].mean()) if played.any() else np.nan,
        "shot_run_across_m": float((run_x * cosine - run_y * sine)[played].mean())
        if played.any()
        else np.nan,
        "shot_runs_into": _run_into(ground, flown, len(out)),
    }
    over = hazards_on_line(ground, start, (sine, cosine), carry, to_far_edge=True)
    row |= {"shot_must_carry_m": over.carry_m, "shot_hazards_carried": ", ".join(over.names)}
    if over.features:
        row["shot_carried_pct"] = 100.0 * float(_carries(ground, start, dx, dy, over.features).mean())
    return row


def _carries(
    ground: HoleGround,
    start: tuple[float, float],
    dx: NDArray[np.float64],
    dy: NDArray[np.float64],
    features: tuple[int, ...],
) -> NDArray[np.bool_]:
    """Tell for each landing whether none of some features lies there or beyond in its direction."""
    rows, columns = np.nonzero(np.isin(ground.feature, features) & np.isin(ground.kind, CARRIED))
    x, y = ground.surface.centres()
    far = float(np.hypot(x[columns] - start[0], y[rows] - start[1]).max()) + STEP_M
    landed = np.hypot(dx, dy)
    at = np.arange(0.0, far, 2 * STEP_M)
    i, j = ground.cells(
        start[0] + at[:, None] * (dx / landed)[None], start[1] + at[:, None] * (dy / landed)[None]
    )
    there = np.isin(ground.feature[i, j], features) & np.isin(ground.kind[i, j], CARRIED)
    return np.asarray(~(there & (at[:, None] >= landed[None] - STEP_M)).any(axis=0))


def _run_into(ground: HoleGround, flown: NDArray[np.void], count: int) -> str:
    """Return the hazard most balls run into after landing outside it, with their share of all shots."""
    ran = flown[~np.isin(flown["land_kind"], RUN_INTO) & np.isin(flown["kind"], RUN_INTO)]
    if not len(ran):
        return ""
    i, j = ground.cells(ran["x"], ran["y"])
    shares: dict[int, int] = {}
    for kind in RUN_INTO:
        here = ran["kind"] == kind
        for f in ground.nearest(kind)[i[here], j[here]] if here.any() else ():
            if f >= 0:
                shares[int(f)] = shares.get(int(f), 0) + 1
    if not shares:
        return ""
    most = max(shares, key=lambda f: shares[f])
    share = 100.0 * shares[most] / count
    return f"{ground.names[most]} {share:.0f} %" if share >= 0.5 else ""
