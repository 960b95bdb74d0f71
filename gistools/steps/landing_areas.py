"""The step of landing areas: where the shot at the green can land to hold or feed, and where it misses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import step
from gistools.steps.decision_inputs import CAUTION, PLAYERS, QUARTERS, READS, SOURCES, WINDS
from gistools.steps.styles import Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site

#: columns that tell the card of a hole, and so its shot at the green, from every other
CARD_KEYS = ("tee", "player", "wind", "shot_number", "from_zone", "pin", "zone")
KEYS = f"hole {' '.join(CARD_KEYS)} zone_number rank"


@step(
    "landing_areas",
    summary="Where the shot at the green can land, and which miss is playable or dead",
    reads=READS,
    writes=[
        Writes(
            "landing_areas",
            "MultiPolygon",
            columns(f"{KEYS} landing_result area_m2"),
            "where the shot at the green can land and hold it, or feed to the hole location",
            style=Style("#54378a", 0.4, 0.12, label="zone"),
        ),
        Writes(
            "misses",
            "Point",
            columns(f"{KEYS} miss_quarter miss_pct miss_strokes miss_verdict"),
            "the middle of the misses in each quarter, and which are playable or dead",
            style=Style("#94310c", 1.8, label="miss_verdict"),
        ),
    ],
    group="Strategy",
    cost="minutes",
    sources=[*SOURCES, "limits of playable and dead misses: assumptions"],
    cautions=CAUTION,
)
def landing_areas(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> dict[str, list[dict[str, Any]]]:
    """Where the shot at the green can land and hold it or feed to the hole location, and where it misses.

    One shot for each card of `where_to_play` that leaves a shot at the green, that of the card. Its ball,
    landing without error, is tried on every metre round the green; see
    :mod:`gistools.compute.decision.landing_areas`. Misses are those of the card, drawn at the middle of the
    finishes in their quarter; see :mod:`gistools.compute.decision.misses`.
    """
    import shapely

    from gistools.steps.slope_rows import many
    from gistools.steps.zone_cards import cards_of

    areas: list[dict[str, Any]] = []
    missed: list[dict[str, Any]] = []
    for card in cards_of(site, hole, players, winds):
        key = {k: card[k] for k in KEYS.split()}
        landing = card.get("landing")
        if landing is None:
            continue
        for words, area in (("holds the green", landing.holds), ("feeds to the pin", landing.feeds)):
            if not area.is_empty:
                areas.append(key | {"landing_result": words, "area_m2": area.area, "geometry": many(area)})
        for quarter in QUARTERS:
            if quarter not in card["miss_places"]:
                continue
            verdicts = [v for v in ("playable", "dead") if quarter in card[f"{v}_misses"].split(", ")]
            missed.append(
                key
                | {
                    "miss_quarter": quarter,
                    "miss_pct": card[f"miss_{quarter}_pct"],
                    "miss_strokes": card[f"miss_{quarter}_strokes"],
                    "miss_verdict": "".join(verdicts),
                    "geometry": shapely.Point(card["miss_places"][quarter]),
                }
            )
    return {"landing_areas": areas, "misses": missed}
