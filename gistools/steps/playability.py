"""The step of playability: which share of each group carries, reaches and holds, in one table."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import need, step
from gistools.steps.decision_inputs import CAUTION, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.shot_inputs import CAUTIONS
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.hole import HoleModel
    from gistools.site.model import Site

CARRY, REACH, HOLD = "carry", "reach", "hold"
KEYS = ("tee", "player", "wind")
LINES = {
    "least": "where the carry is least",
    "greatest": "where it is greatest",
    "on line": "on the line of play",
}


@step(
    "playability",
    summary="Which share of each player's shots carries, reaches and holds",
    reads=READS,
    writes=[
        Writes(
            "playability",
            "",
            columns("hole tee player wind demand feature line carry_m zone pin club share_pct reading"),
            "shares of tee shots that carry and reach, and of approaches that hold, by tee and player",
            page=PageTable(
                "Of 100 shots: how many carry, reach and hold",
                "demand feature line carry_m zone pin",
                aside="tee wind",
                spread="player share_pct",
                headings={
                    "demand": "Asked",
                    "line": "Which line",
                    "zone": "Zone, or played from",
                    "pin": "Hole location",
                },
            ),
        ),
    ],
    group="Strategy",
    cost="minutes",
    sources=SOURCES,
    cautions=(*CAUTION, *CAUTIONS),
)
def playability(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> list[dict[str, Any]]:
    """Say which share of each player's shots carries, reaches and holds, from each tee in each wind.

    One row a demand. `carry`: drives with the longest club that carry a hazard from edge to edge of the
    fairway, each in its own direction (a wild one may pass its end by), along the directions of least and
    greatest carry and on the line of play (of `effective_carries`). `reach`: tee shots with the surest club
    and aim that finish in a landing zone (of `tee_shots`). `hold`: shots at the green that finish on it, for
    each hole location from the zone that is first choice for it, shot after shot (of `where_to_play`); from
    the tee on a hole without zones.
    """
    from gistools.hole import HoleModel
    from gistools.site.players import players_of

    numbers = site.selected_holes(hole)
    drivers = {player.name: player.clubs[0].name for player in players_of(site, players)}
    who = {"players": players, "winds": winds}
    rows: list[dict[str, Any]] = []
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        model = HoleModel(site, number)
        here = _clear(
            model, need(site, "effective_carries", hole=number, **who)["effective_carries"], drivers
        )
        if model.zones:
            here += _reach(need(site, "tee_shots", hole=number, **who)["tee_shots"])
        here += _hold(need(site, "where_to_play", hole=number, **who))
        order = {case: n for n, case in enumerate(dict.fromkeys(_case(row) for row in here))}
        rows += [{"hole": number} | row for row in sorted(here, key=lambda row: order[_case(row)])]
    return rows


def _case(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[key] for key in KEYS)


def _clear(model: HoleModel, carries: Any, drivers: dict[str, str]) -> list[dict[str, Any]]:
    """Return the rows of forced carries: crossings that reach from edge to edge of the fairway."""
    from gistools.compute.layout.carries import crossings

    search = model.carry_choices.lateral_search_m
    forced = {
        (tee.tee, c.hazard.feature, c.hazard.layer, c.hazard.fid, c.number)
        for tee in model.plan.tees
        for c in crossings(model.plan, tee, search)
        if c.edge_to_edge
    }
    rows = []
    for r in carries.itertuples():
        if (r.tee, r.feature, r.layer, r.feature_id, r.crossing) not in forced:
            continue
        share = float(r.carried_pct)
        words = f"carry {r.feature} {LINES[r.line]}, {r.carry_m:.0f} m"
        rows.append(
            {key: getattr(r, key) for key in KEYS}
            | {"demand": CARRY, "feature": r.feature, "line": r.line, "carry_m": float(r.carry_m)}
            | {"club": drivers[r.player], "share_pct": share, "reading": _reading(r, share, "drives", words)}
        )
    return rows


def _reach(shots: Any) -> list[dict[str, Any]]:
    """Return the rows of landing zones; a zone that no full shot finishes in is reached by none."""
    from gistools.steps.tee_shots import NOBODY

    rows = []
    for r in shots.itertuples():
        share = 0.0 if r.note == NOBODY else float(r.in_zone_pct)
        club = f" with the {r.surest_club}" if r.surest_club else ""
        words = f"finish in the zone {r.zone}{club}"
        rows.append(
            {key: getattr(r, key) for key in KEYS}
            | {"demand": REACH, "zone": r.zone, "club": r.surest_club, "share_pct": share}
            | {"reading": _reading(r, share, "tee shots", words)}
        )
    return rows


def _hold(cards: Any) -> list[dict[str, Any]]:
    """Return the rows of greens: the shot at the green on the way that is first choice for each location."""
    first = cards[cards["rank"] == 1]
    by_start = {
        (*(getattr(r, key) for key in KEYS), r.pin, int(r.shot_number), r.from_zone): r
        for r in first.itertuples()
    }
    rows = []
    for card in first[first["shot_number"] == 1].itertuples():
        case, last = tuple(getattr(card, key) for key in KEYS), card
        while not math.isfinite(last.hold_pct):
            ahead = by_start.get((*case, card.pin, int(last.shot_number) + 1, last.zone))
            if ahead is None:
                break
            last = ahead
        share, from_tee = float(last.hold_pct), not last.zone
        club = last.club if from_tee else last.next_club
        start = "the tee" if from_tee else last.zone
        words = f"from {start} with the {club} hold the green at the {card.pin} hole location"
        rows.append(
            dict(zip(KEYS, case, strict=True))
            | {"demand": HOLD, "zone": last.zone, "pin": card.pin, "club": club, "share_pct": share}
            | {"reading": _reading(card, share, "shots", words)}
        )
    return rows


def _reading(row: Any, share: float, shots: str, words: str) -> str:
    count = f"{share:.0f} of 100" if math.isfinite(share) else "an unknown share of"
    return f"{row.player}, {row.tee} tee, {row.wind}: {count} {shots} {words}"
