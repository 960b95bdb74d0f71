"""What a position leaves at a pin.

The shot it asks for, the green as it meets that shot, and how it comes off.

Distances are in plan on the grid of the site. The *line in* runs from the position to the pin. The long axis
of the green is that of its least rotated rectangle. The *landing window* is the range of carries straight
along the line whose ball, landing as the shot does, stays on the green.

The shot is the best from the very place, and its strokes are those of :meth:`ValueFunction.value_at`, as in
the other steps.

Aim is worse where less of the flag is seen, by the setting ``blind_dispersion_increase_pct`` at nothing seen
and in proportion, and where the ground slopes under the feet, by ``slope_dispersion_increase_pct`` for each
degree. Both act on direction only; both are stated assumptions without a published figure, 0 switches them
off. What a slope does on average to height and direction of a shot
(:mod:`gistools.compute.ballistics.stance`) the player is taken to allow for, by aim and club.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.effective_distance import effective_distance
from gistools.compute.decision import outcome_kernels as _kernels
from gistools.compute.decision.club_set import Player, Wind
from gistools.compute.decision.hole_ground import HoleGround, hazards_on_line
from gistools.compute.decision.misses import misses
from gistools.compute.decision.ranking import finish_row, outcome_shares, risk_row
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import ValueFunction, bearing_of

FEED_GAIN_M = 0.5  # runs shorter than this feed neither way (assumption)
WINDOW_STEP_M = 1.0
SLOPE_ARM_M = 2.0  # camber and fall are taken over this far each side


@dataclass(frozen=True)
class View:
    """How much of the flag is seen [%], and what hides it; nan where it is not known."""

    seen_pct: float = math.nan
    hidden_by: str = ""


def approach(
    s: ValueFunction,
    ground: HoleGround,
    player: Player,
    wind: Wind,
    x: float,
    y: float,
    pin: int,
    *,
    view: View = View(),
    action: tuple[int, int] | None = None,
    backstop_m: float = 10.0,
) -> dict[str, Any]:
    """Return the figures of one approach, keyed by column; see the step ``approaches``.

    ``action`` is the shot and heading that is played; the best from the place by default.

    Raises
    ------
    InputError
        If the ball is not played from ``(x, y)``.
    """
    px, py = (float(v) for v in s.pin_xy[pin])
    state = s.state(x, y)
    lie_number = int(s.mesh.lie[state])
    lie = LIES[lie_number]
    plan = math.hypot(px - x, py - y)
    bearing = math.degrees(math.atan2(px - x, py - y)) % 360.0
    z, top = float(s.surface.height(x, y)), float(s.surface.height(px, py))
    row: dict[str, Any] = {"lie": lie, "line_deg": bearing, "pin_distance_m": plan, "rise_m": top - z}
    played = effective_distance(plan, rise_m=top - z, wind=wind, bearing_deg=bearing, player=player)
    row["effective_distance_m"] = float(played)
    row |= _green_as_met(ground, (x, y), (px, py))
    row |= _over(ground, (x, y), (px, py), row["front_m"])
    row |= {
        "flag_seen_pct": view.seen_pct,
        "hidden_by": view.hidden_by,
        "dispersion_increase_pct": 100.0 * float(s.scale_at([(x, y)])[0, pin]),
    }
    here = s.value_at(x, y, pin)
    shot, heading = action or (here.shot, here.heading)
    row["remaining_strokes"] = here.strokes
    if shot < 0:
        on_green = s.mesh.putts[s.state(x, y)]
        return row | {
            "club": "putter",
            "reading": "already on the green" if on_green else "rolled with the putter from off the green",
        }
    row |= {"shot": shot, "club": s.shot_table.shots[shot].label, "aim_deg": bearing_of(heading)}
    out = s.outcomes(x, y, shot, heading, dispersion_scale=row["dispersion_increase_pct"] / 100.0)
    row |= risk_row(outcome_shares(s, ground, out))
    row |= _comes_off(s, out, (px, py), bearing)
    row |= misses(s, out, pin, bearing, here.strokes)
    row |= finish_row(out)
    row |= _landing(s, out, bearing)
    row |= _window(s, (x, y), lie_number, bearing, shot, row["front_m"], row["green_depth_m"])
    row["feeds"] = _feeds(out, (px, py))
    row["backstop_m"] = _backstop(s, (px, py), bearing, backstop_m)
    row["reading"] = _reading(s.pins[pin], row)
    return row


def _green_as_met(
    ground: HoleGround, start: tuple[float, float], pin: tuple[float, float]
) -> dict[str, float]:
    """Angle to the long axis, depth along the line through the pin, mean width, and the front edge."""
    dx, dy = pin[0] - start[0], pin[1] - start[1]
    length = math.hypot(dx, dy) or 1.0
    ux, uy = dx / length, dy / length
    far = 200.0
    line = LineString([start, (pin[0] + far * ux, pin[1] + far * uy)])
    cut = line.intersection(ground.green)
    along = [(c[0] - start[0]) * ux + (c[1] - start[1]) * uy for c in shapely.get_coordinates(cut)]
    front = min(along) if along else math.nan
    depth = float(cut.length) if along else math.nan
    corners = shapely.get_coordinates(ground.green.minimum_rotated_rectangle)
    sides = np.diff(corners, axis=0)[:2]
    axis = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    cosine = abs(axis[0] * ux + axis[1] * uy) / float(np.hypot(*axis))
    return {
        "green_angle_deg": math.degrees(math.acos(min(cosine, 1.0))),
        "green_depth_m": depth,
        "green_width_m": float(ground.green.area / depth) if along and depth > 0 else math.nan,
        "front_m": front,
    }


def _over(
    ground: HoleGround, start: tuple[float, float], pin: tuple[float, float], front: float
) -> dict[str, Any]:
    """What lies on the line to the pin before the green, and the carry over the last of it."""
    if not math.isfinite(front):
        return {"must_carry_m": math.nan, "hazards_carried": ""}
    length = math.hypot(pin[0] - start[0], pin[1] - start[1]) or 1.0
    way = (pin[0] - start[0]) / length, (pin[1] - start[1]) / length
    over = hazards_on_line(ground, start, way, front)
    return {"must_carry_m": over.carry_m, "hazards_carried": ", ".join(over.names)}


def _comes_off(
    s: ValueFunction, out: NDArray[np.void], pin: tuple[float, float], bearing: float
) -> dict[str, float]:
    in_play = out["penalty"] == 0
    left = np.hypot(out["x"] - pin[0], out["y"] - pin[1])
    on = np.zeros(len(out), bool)
    on[in_play] = s.mesh.putts[out["state"][in_play]]
    share = {f"within_{r}_pct": 100.0 * float((in_play & (left <= r)).mean()) for r in (3, 6, 10)}
    sb, cb = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    landed = out["land_kind"] == Kind.GREEN
    dx, dy = out["x"] - out["land_x"], out["y"] - out["land_y"]
    run = {"run_along_m": math.nan, "run_across_m": math.nan}
    if landed.any():
        run = {
            "run_along_m": float((dx * sb + dy * cb)[landed].mean()),
            "run_across_m": float((dx * cb - dy * sb)[landed].mean()),
        }
    return {
        "hold_pct": 100.0 * float(on.mean()),
        **share,
        **run,
        "leave_m": float(left[in_play].mean()) if in_play.any() else math.nan,
    }


def _landing(s: ValueFunction, out: NDArray[np.void], bearing: float) -> dict[str, float]:
    """Camber (fall to the right) and fall along the line about the middle of the landings."""
    x, y = float(np.median(out["land_x"])), float(np.median(out["land_y"]))
    sb, cb = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    a = SLOPE_ARM_M
    before, after = s.surface.height(x - a * sb, y - a * cb), s.surface.height(x + a * sb, y + a * cb)
    left, right = s.surface.height(x - a * cb, y + a * sb), s.surface.height(x + a * cb, y - a * sb)
    return {
        "landing_fall_pct": 100.0 * (before - after) / (2 * a),
        "landing_camber_pct": 100.0 * (left - right) / (2 * a),
    }


def _window(
    s: ValueFunction,
    start: tuple[float, float],
    lie: int,
    bearing: float,
    shot: int,
    front: float,
    depth: float,
) -> dict[str, float]:
    """Return the shortest and longest carry along the line whose ball stays on the green."""
    none = {"window_from_m": math.nan, "window_to_m": math.nan}
    if not (math.isfinite(front) and math.isfinite(depth)):
        return none
    sb, cb = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    heading = round(bearing * _kernels.HEADINGS / 360.0) % _kernels.HEADINGS
    carry = np.arange(max(front - 30.0, 1.0), front + depth + 5.0, WINDOW_STEP_M)
    x, y = start[0] + carry * sb, start[1] + carry * cb
    out = np.zeros(len(x), _kernels.OUTCOME)
    _kernels.straight(s.ground, s.tables(lie), _kernels.Action(int(shot), heading), x, y, out)
    on_green = []
    for n in np.flatnonzero(out["kind"] == Kind.GREEN):
        i, j = _kernels.cell_of(s.ground, float(out["x"][n]), float(out["y"][n]))
        if i >= 0 and s.mesh.of_cell[i, j] >= 0 and s.mesh.putts[s.mesh.of_cell[i, j]]:
            on_green.append(float(carry[n]))
    return {"window_from_m": min(on_green), "window_to_m": max(on_green)} if on_green else none


def _feeds(out: NDArray[np.void], pin: tuple[float, float]) -> str:
    landed = out["land_kind"] == Kind.GREEN
    if not landed.any():
        return ""
    before = np.hypot(out["land_x"][landed] - pin[0], out["land_y"][landed] - pin[1])
    after = np.hypot(out["x"][landed] - pin[0], out["y"][landed] - pin[1])
    gain = float((before - after).mean())
    return "towards" if gain > FEED_GAIN_M else "away" if gain < -FEED_GAIN_M else "neither"


def _backstop(s: ValueFunction, pin: tuple[float, float], bearing: float, reach: float) -> float:
    sb, cb = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    at = np.arange(0.5, reach + 0.25, 0.5)
    heights = np.asarray(s.surface.height(pin[0] + at * sb, pin[1] + at * cb))
    heights = heights[np.isfinite(heights)]
    return float(heights.max() - s.surface.height(*pin)) if len(heights) else math.nan


def _reading(pin: str, row: dict[str, Any]) -> str:
    words = (
        f"{row['pin_distance_m']:.0f} m to the {pin} pin, plays {row['effective_distance_m']:.0f}:"
        f" {row['club']}"
    )
    if row["hazards_carried"]:
        words += f" over {row['hazards_carried']}"
    if math.isfinite(row["flag_seen_pct"]) and row["flag_seen_pct"] < 99.5:
        words += f"; {row['flag_seen_pct']:.0f} % of the flag is seen"
        words += f" ({row['hidden_by']} hides it)" if row["hidden_by"] else ""
    words += f"; {row['hold_pct']:.0f} % hold the green, {row['within_6_pct']:.0f} % finish within 6 m"
    if row["feeds"] in ("towards", "away"):
        words += f"; the ground feeds {row['feeds']}" + (" it" if row["feeds"] == "towards" else " from it")
    return words + f"; {row['remaining_strokes']:.2f} strokes to hole out."
