"""The step of positions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import step
from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import CAUTION, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.styles import Style
from gistools.steps.writes import Writes
from gistools.steps.zone_cards import cards_from_tee
from gistools.steps.zone_choices import best_at_zones

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "positions",
    summary="Landing zones ranked by what they leave and by total, for each hole location",
    reads=READS,
    writes=[
        Writes(
            "positions",
            "Point",
            columns(
                "hole tee player wind pin zone rank remaining_rank total_strokes remaining_strokes "
                "gain_strokes club aim_deg in_zone_pct run_through_pct trouble_pct sand_pct water_pct "
                "out_of_bounds_pct hazards order_changes reading"
            ),
            "landing zones ranked for each pin; the point is the middle of the finishes",
            style=Style("#0b5563", 2.6, label="zone"),
            compared="rank total_strokes remaining_strokes gain_strokes in_zone_pct",
        ),
        Writes(
            "choices",
            "",
            columns(
                "hole tee player wind best_strokes real_choices_count zones_in_reach_count "
                "pin_spread_strokes high_risk_zone risk_cost_strokes risk_gain_strokes "
                "order_depends_on_pin reading"
            ),
            "what each tee asks: real choices, spread between pins, price of the go-for line",
            drawn=True,
        ),
    ],
    group="Strategy",
    loops="strategy",
    cost="minutes",
    sources=SOURCES,
    cautions=CAUTION,
)
def positions(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> dict[str, Any]:
    """Rank the landing zones for each tee, player, wind and pin, by strokes left and by total.

    Total = 1 + mean over all outcomes of the best tee shot aimed at the zone of what they leave; strokes
    remaining = the same mean over the outcomes in the zone, less the tee shot. Zones that are level stand in
    the order of `where_to_play`, whose cards are worked out for that. Holes without landing zones have no
    rows.

    Returns
    -------
    dict
        Layers ``positions`` and ``choices``.
    """
    import numpy as np
    import shapely

    from gistools.compute.decision.ranking_rows import hole_row, position_rows
    from gistools.hole import HoleModel

    rows: list[dict[str, Any]] = []
    asks: list[dict[str, Any]] = []
    for h, player, wind, _ in cases(site, hole, players, winds):
        model = HoleModel(site, h)
        names = [zone.zone for zone in model.zones]
        if not names:
            continue
        s = model.strokes(player, wind)
        band = model.setting("level_band_strokes")
        for tee in model.tees:
            choices = best_at_zones(model, tee, player, wind)
            key = {"hole": h, "tee": tee.name, "player": player.name, "wind": wind.name}
            cards = [c for c in cards_from_tee(model, tee, player, wind) if c["shot_number"] == 1]
            order = {(c["pin"], c["zone"]): (c["rank"], c["decided_by"]) for c in cards}
            for row in position_rows(s, choices, names, band, order):
                rows.append(key | row | {"geometry": shapely.Point(row["x"], row["y"])})
            known = np.isfinite(s.surface.height(*tee.centre))
            from_tee = s.values_at([tee.centre], lie=0)[0][0] if choices and known else np.zeros(1)
            asks.append(key | hole_row(s, choices, names, from_tee, band))
            if not known:
                asks[-1]["reading"] = "the tee lies where heights are missing: nothing is worked out from it"
    return {
        "positions": rows,
        "choices": asks,
    }
