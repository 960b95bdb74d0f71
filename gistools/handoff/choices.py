"""What can be chosen about a hand-off."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class HandoffChoices:
    """What can be chosen about a hand-off; lengths in metres. See the steps of the same names."""

    spacing_m: float = 5.0
    chord_m: float = 0.1
    station_m: float = 20.0
    interval_m: float = 0.5
    tin_m: float = 0.02
    by_feature: bool = True
