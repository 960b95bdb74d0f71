"""Holes, players and winds, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from gistools.base.progress import tick

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.site.model import Site


def cases(
    site: Site, hole: int | None, players: Any, winds: Any
) -> Iterator[tuple[int, Player, Wind, float]]:
    """Yield each hole, player and wind, with the share of the work that is done."""
    from gistools.site.players import players_of, winds_of

    holes = site.selected_holes(hole)
    who, air = players_of(site, players), winds_of(site, winds)
    total = len(holes) * len(who) * len(air)
    number = 0
    for h in holes:
        for p in who:
            for w in air:
                tick(number / total, f"hole {h}, {p.name}, {w.name}")
                yield h, p, w, number / total
                number += 1
