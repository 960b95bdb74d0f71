"""Best tee shots at the landing zones of a hole."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.compute.decision.ranking import Choice
    from gistools.hole import HoleModel
    from gistools.hole.model import Tee


def best_at_zones(hole: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[Choice]:
    """Return the best tee shot at each zone for each pin, searched once for each tee, player and wind."""
    from gistools.compute.decision.ranking import choices_of, tee_shots, zone_cells

    def search() -> list[Choice]:
        areas = [zone.area for zone in hole.zones]
        ground, solved = hole.ground, hole.strokes(player, wind)
        shots = tee_shots(solved, ground, *tee.centre, zone_cells(ground, areas), areas)
        return choices_of(shots, ground.names)

    return hole.remember(("tee shots", tee.name, player.name, wind), search)
