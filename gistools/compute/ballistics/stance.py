"""Stance: what a slope under the feet does to a shot.

Directions of the effects
-------------------------
- Uphill lie: higher launch, ball to the left of a right-handed player's aim; downhill lie: lower launch, to
  the right; ball speed unchanged (Hiley 2019, 5 degrees, 12 players [second-hand]).
- Ball above the feet: to the left, below the feet: to the right (common practice). The face of a club with
  loft L that lies ``d`` degrees off its lie angle points ``atan(tan L sin d)`` to the side [computed].

Sizes are assumptions: no source gives them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gistools.base.errors import InputError
from gistools.base.settings import default

Floats = NDArray[np.float64]

# change of launch per degree of slope along the shot: the body stands square to the slope (assumption)
LAUNCH_PER_SLOPE = 1.0
TURN_PER_SLOPE = 0.4  # turn of direction per degree of slope along the shot (assumption)
LOFT_PER_LAUNCH = 1.4  # loft of a club over its launch angle (assumption)
# dispersion grows by this share per degree of slope (assumption)
WIDER_PER_SLOPE = default("slope_dispersion_increase_pct") / 100.0
STEEPEST_DEG = 20.0  # nobody stands on more: steeper slopes act as this (assumption)


class Stance(NamedTuple):
    """Effect of a stance.

    Change of launch angle [degrees], turn to the right [degrees], factor on dispersion.
    """

    launch_deg: Floats
    direction_deg: Floats
    dispersion_factor: Floats


def stance(
    slope_along: ArrayLike,
    slope_across: ArrayLike,
    *,
    launch_deg: ArrayLike = 16.0,
    left_handed: bool = False,
) -> Stance:
    """Effect of the slope under a player's feet on launch, direction and dispersion.

    Parameters
    ----------
    slope_along
        Slope along the shot [m/m], positive uphill; arrays broadcast.
    slope_across
        Slope across the shot [m/m], positive where the ground rises to the right of the shot.
    launch_deg
        Launch angle of the shot on the level [degrees]: loft turns a side slope into direction.
    left_handed
        Whether the player stands on the right of the ball.

    Returns
    -------
    Stance
        Arrays of the broadcast shape; zero, zero, one on the level.

    Raises
    ------
    InputError
        If a slope or launch angle is not finite.

    Notes
    -----
    Directions of the effects published or common practice, sizes assumptions, see the module. A right-handed
    player stands on the left of the shot, so ground that rises to the right puts the ball above the feet.
    """
    along, across, launch = np.broadcast_arrays(
        *(np.asarray(v, float) for v in (slope_along, slope_across, launch_deg))
    )
    if not (np.isfinite(along).all() and np.isfinite(across).all() and np.isfinite(launch).all()):
        raise InputError("the slopes and launch angle of a stance have to be finite numbers")
    up, right = (np.clip(np.degrees(np.arctan(v)), -STEEPEST_DEG, STEEPEST_DEG) for v in (along, across))
    side = -1.0 if left_handed else 1.0
    above = side * right  # ball above the feet
    loft = np.clip(LOFT_PER_LAUNCH * launch, 0.0, 60.0)
    face = np.degrees(np.arctan(np.tan(np.radians(loft)) * np.sin(np.radians(above))))
    turn = -side * (face + TURN_PER_SLOPE * up) + 0.0
    return Stance(LAUNCH_PER_SLOPE * up, turn, 1.0 + WIDER_PER_SLOPE * np.hypot(up, right))
