"""Best tee shots at the landing zones of a hole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gistools.steps.catalogue import need

if TYPE_CHECKING:
    from gistools.compute.decision.ranking import Choice
    from gistools.compute.decision.value_iteration import Strokes
    from gistools.hole.strategy_holes import HoleGround
    from gistools.site.model import Site


def zones_of(site: Site, hole: int) -> tuple[list[str], list[Any]]:
    """Names and outlines of the landing zones of a hole."""
    table = need(site, "zones", hole=hole)
    table = table["zones"] if isinstance(table, dict) else table
    return [str(z) for z in table["zone"]], list(table.geometry)


def best_at_zones(
    site: Site, hole: int, s: Strokes, ground: HoleGround, tee: tuple[str, float, float], case: Any
) -> list[Choice]:
    """Best tee shot at each zone for each pin, found once for each tee, player, wind and way of computing."""
    from gistools.compute.decision.ranking import choices_of, tee_shots, zone_cells

    key = ("strategy tee shots", hole, tee, case)
    if key not in site.memo:
        areas = zones_of(site, hole)[1]
        shots = tee_shots(s, ground, tee[1], tee[2], zone_cells(ground, areas), areas)
        site.memo[key] = choices_of(shots, ground.cover.names)
    found: list[Choice] = site.memo[key]
    return found
