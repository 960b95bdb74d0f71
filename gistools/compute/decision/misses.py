"""Misses of an approach by quarter: how often it misses short, long, left and right, and what that leaves.

A shot that does not come to rest on the green is a miss. Its quarter is that of the place where it ends, seen
along the line to the hole location: short or long where it is farther off along the line than across it, else
left or right. What it leaves are the strokes remaining from there, penalties counted; a shot played again
from the start counts there.

A quarter is *playable* where a miss leaves at most PLAYABLE_STROKES more than in the best quarter, and *dead*
where it leaves at least DEAD_STROKES more than that, or LOST_STROKES more than a ball on the green. Quarters
that fewer than LEAST_PCT of the shots find are not judged, and none where fewer than IN_REACH_PCT hold the
green. All these limits are assumptions.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from gistools.compute.decision.value_function import ValueFunction

QUARTERS = ("short", "long", "left", "right")
PLAYABLE_STROKES, DEAD_STROKES, LOST_STROKES = 0.1, 0.3, 1.75
LEAST_PCT, IN_REACH_PCT = 2.0, 10.0


def strokes_after(s: ValueFunction, out: NDArray[np.void], pin: int, here: float) -> NDArray[np.float64]:
    """Strokes remaining after each outcome of a shot, penalty included; ``here`` from where it is played."""
    again = (out["replayed"] == 1) | (out["state"] < 0)
    value = np.where(again, here, s.value[np.where(again, 0, out["state"]), pin])
    return np.asarray(value + out["penalty"])


def quarter_of(
    x: NDArray[np.float64], y: NDArray[np.float64], pin: tuple[float, float], bearing_deg: float
) -> NDArray[np.str_]:
    """Quarter about a hole location that each place lies in, seen along a bearing."""
    sine, cosine = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    dx, dy = x - pin[0], y - pin[1]
    along, across = dx * sine + dy * cosine, dx * cosine - dy * sine
    lengthwise = np.abs(along) > np.abs(across)
    return np.where(lengthwise, np.where(along < 0, "short", "long"), np.where(across < 0, "left", "right"))


def misses(
    s: ValueFunction, out: NDArray[np.void], pin: int, bearing_deg: float, here: float
) -> dict[str, Any]:
    """Return the misses of a shot by quarter, keyed by column; ``miss_places`` has their middles [m].

    Parameters
    ----------
    s
        The solved hole.
    out
        Outcomes of the shot.
    pin
        Number of the hole location.
    bearing_deg
        Grid bearing of the line to it.
    here
        Strokes remaining from where the shot is played.
    """
    on = (out["penalty"] == 0) & (out["replayed"] == 0)
    on[on] = s.mesh.putts[out["state"][on]]
    left = strokes_after(s, out, pin, here)
    px, py = (float(v) for v in s.pin_xy[pin])
    quarter = quarter_of(out["x"], out["y"], (px, py), bearing_deg)
    on_green = float(left[on].mean()) if on.any() else np.nan
    row: dict[str, Any] = {"held_strokes": on_green, "miss_places": {}}
    judged: dict[str, float] = {}
    for name in QUARTERS:
        some = ~on & (quarter == name)
        share, strokes = 100.0 * float(some.mean()), float(left[some].mean()) if some.any() else np.nan
        row |= {f"miss_{name}_pct": share, f"miss_{name}_strokes": strokes}
        if some.any():
            row["miss_places"][name] = float(np.median(out["x"][some])), float(np.median(out["y"][some]))
        if share >= LEAST_PCT and 100.0 * on.mean() >= IN_REACH_PCT:
            judged[name] = strokes
    return row | judge(judged, on_green)


def judge(strokes: dict[str, float], on_green: float) -> dict[str, str]:
    """Name the playable and the dead quarters, from what each leaves and what a ball on the green does."""
    best = min(strokes.values(), default=np.nan)
    dead = [q for q, v in strokes.items() if v - best >= DEAD_STROKES or v - on_green >= LOST_STROKES]
    playable = [q for q, v in strokes.items() if v - best <= PLAYABLE_STROKES and q not in dead]
    return {"playable_misses": ", ".join(playable), "dead_misses": ", ".join(dead)}
