"""The step of where to play: for each zone and hole location one shot, and what it leaves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import step
from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import BACKSTOP_M, CAUTION, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.writes import Writes
from gistools.steps.zone_choices import best_at_zones

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.compute.decision.ranking import Choice
    from gistools.hole import HoleModel
    from gistools.hole.model import Tee
    from gistools.site.model import Site

#: share of the flagstick seen from which it is visible, and below which it is blind [%] (assumption)
VISIBLE_PCT, BLIND_PCT = 99.0, 1.0
FEEDS = {"towards": "the ground feeds the ball in", "away": "the ground takes the ball away"}


@step(
    "where_to_play",
    reads=READS,
    writes=[
        Writes(
            "where_to_play",
            "Point",
            columns(
                "hole tee player wind pin zone zone_number rank level_with_first decided_by total_strokes "
                "behind_strokes remaining_strokes remaining_rank order_changes club aim_deg in_zone_pct "
                "trouble_pct sand_pct water_pct out_of_bounds_pct hazards pin_distance_m rise_m "
                "effective_distance_m next_club green_angle_deg green_depth_m must_carry_m hazards_carried "
                "flag_visibility flag_seen_pct hidden_by feeds backstop_m run_along_m run_across_m hold_pct "
                "within_6_pct leave_m reading"
            ),
            "a card for each zone and hole location: rank, shot, risk, what is left",
        ),
    ],
    group="Strategy",
    cost="minutes",
    sources=[*SOURCES, "band of level totals and order of criteria: assumptions"],
    cautions=CAUTION,
)
def where_to_play(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> list[dict[str, Any]]:
    """Say where to play for each hole location: rank of each zone, its one shot, and what that leaves.

    The shot is that of `positions`; the approach is played from the middle of its finishes. Zones whose
    totals differ from the least by less than the setting `level_band_strokes` are level, and ordered by the
    criteria of :mod:`gistools.compute.decision.levels`. On a hole without landing zones a row is the shot
    from the tee.
    """
    from gistools.hole import HoleModel

    rows: list[dict[str, Any]] = []
    for h, player, wind, _ in cases(site, hole, players, winds):
        model = HoleModel(site, h)
        for tee in model.tees:
            rows += _from_tee(model, tee, player, wind)
    return rows


def _from_tee(model: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[dict[str, Any]]:
    """Return the rows of one tee: every zone in reach, or the tee itself where there are none."""
    from gistools.compute.decision import levels
    from gistools.compute.decision.ranking import totals_by_pin

    solved = model.strokes(player, wind)
    key = {"hole": model.number, "tee": tee.name, "player": player.name, "wind": wind.name}
    if not model.zones:
        return [key | row for row in _tee_shots_at_pins(model, tee, player, wind)]
    choices = best_at_zones(model, tee, player, wind)
    names = [zone.zone for zone in model.zones]
    band = model.setting("level_band_strokes")
    turned = levels.turns(totals_by_pin(choices), band)
    rows: list[dict[str, Any]] = []
    for p, pin in enumerate(solved.pins):
        here = [c for c in choices if c.pin == p]
        if not here:
            continue
        left = [_left(model, player, wind, c, names[c.zone], p) for c in here]
        cards = [_card(solved, c, names) | row for c, row in zip(here, left, strict=True)]
        order, level, reasons = levels.order([c.total for c in here], cards, band)
        by_left = sorted(c.reward for c in here)
        for rank, k in enumerate(order, 1):
            card = cards[k] | {
                "pin": pin,
                "rank": rank,
                "level_with_first": level[k] and sum(level) > 1,
                "decided_by": reasons[k],
                "behind_strokes": here[k].total - min(c.total for c in here),
                "remaining_rank": by_left.index(here[k].reward) + 1,
                "order_changes": turned[p],
            }
            rows.append(key | card | {"reading": _reading(card)})
    return rows


def _card(solved: Any, c: Choice, names: list[str]) -> dict[str, Any]:
    """Return the shot of a zone and its risks."""
    import shapely

    from gistools.compute.decision.value_iteration import bearing_of

    return {
        "zone": names[c.zone],
        "zone_number": c.zone + 1,
        "total_strokes": c.total,
        "remaining_strokes": c.reward,
        "club": solved.shot_table.shots[c.shot].label,
        "aim_deg": bearing_of(c.heading),
        "in_zone_pct": 100 * c.in_zone,
        "trouble_pct": 100 * (c.sand + c.water + c.trees),
        "sand_pct": 100 * c.sand,
        "water_pct": 100 * c.water,
        "out_of_bounds_pct": 100 * c.out,
        "hazards": "; ".join(f"{n} {100 * q:.0f} %" for n, q in c.dangers if q >= 0.005),
        "geometry": shapely.Point(c.x, c.y),
    }


#: what an approach says under its own names, and as a card says it
LEFT = (
    "pin_distance_m",
    "rise_m",
    "effective_distance_m",
    "green_angle_deg",
    "green_depth_m",
    "must_carry_m",
    "hazards_carried",
    "flag_seen_pct",
    "hidden_by",
    "feeds",
    "backstop_m",
    "run_along_m",
    "run_across_m",
    "hold_pct",
    "within_6_pct",
    "leave_m",
)


def _left(model: HoleModel, player: Player, wind: Wind, c: Choice, zone: str, pin: int) -> dict[str, Any]:
    """Return the next shot from the middle of the finishes, else from the centre of the zone."""
    from gistools.base.errors import InputError
    from gistools.hole.sight import centre

    area = model.zones[c.zone].area
    places = [(c.x, c.y), centre(area)]
    for x, y in places:
        try:
            row = _approach(model, player, wind, (x, y), zone, pin)
        except InputError:
            continue
        return {k: row[k] for k in LEFT} | {
            "next_club": row["club"],
            "flag_visibility": visibility_of(row["flag_seen_pct"]),
        }
    return dict.fromkeys(LEFT, math.nan) | {
        "flag_visibility": "",
        "hazards_carried": "",
        "hidden_by": "",
        "feeds": "",
        "next_club": "",
    }


def _approach(
    model: HoleModel, player: Player, wind: Wind, place: tuple[float, float], zone: str, pin: int
) -> dict[str, Any]:
    from gistools.compute.decision.approaches import approach
    from gistools.steps.approach_starts import Start, views_from

    view = views_from(model, [Start(*place, "finish", zone)])[0][pin]
    return approach(
        model.strokes(player, wind),
        model.ground,
        player,
        wind,
        *place,
        pin,
        view=view,
        blind_dispersion_increase_pct=model.setting("blind_dispersion_increase_pct"),
        backstop_m=BACKSTOP_M,
    )


def _tee_shots_at_pins(model: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[dict[str, Any]]:
    """Return the shot at each hole location from the tee of a hole without landing zones."""
    import shapely

    from gistools.base.errors import InputError

    rows = []
    solved = model.strokes(player, wind)
    for p, pin in enumerate(solved.pins):
        try:
            row = _approach(model, player, wind, tee.centre, "", p)
        except InputError:
            continue
        card = {k: row[k] for k in LEFT} | {
            "pin": pin,
            "zone": "",
            "rank": 1,
            "level_with_first": False,
            "decided_by": "",
            "total_strokes": row["remaining_strokes"],
            "behind_strokes": 0.0,
            "remaining_strokes": row["remaining_strokes"],
            "remaining_rank": 1,
            "order_changes": False,
            "club": row["club"],
            "next_club": row["club"],
            "aim_deg": row["aim_deg"],
            "hazards": "",
            "flag_visibility": visibility_of(row["flag_seen_pct"]),
            "geometry": shapely.Point(*tee.centre),
        }
        rows.append(card | {"reading": _reading(card)})
    return rows


def visibility_of(seen_pct: float) -> str:
    """Return blind, semi-blind or visible for a share of the flagstick seen [%]."""
    if not math.isfinite(seen_pct):
        return ""
    return "visible" if seen_pct >= VISIBLE_PCT else "blind" if seen_pct <= BLIND_PCT else "semi-blind"


def _reading(card: dict[str, Any]) -> str:
    """Read a card in one sentence: rank and why, the risk, what is left."""
    zone = card["zone"] or "The tee shot"
    parts = []
    if card["zone"]:
        if card["level_with_first"]:
            why = f", {card['decided_by']}" if card["decided_by"] else ""
            parts.append(f"{zone} is level with the best{why}")
        elif card["rank"] == 1:
            parts.append(f"{zone} is first")
        else:
            parts.append(f"{zone} is {card['behind_strokes']:.2f} strokes behind")
    else:
        parts.append(f"{zone} is a {card['club']}")
    if card["hazards"]:
        parts.append(f"shots find {card['hazards'].split(';')[0]}")
    if math.isfinite(card.get("pin_distance_m", math.nan)):
        left = f"leaves {card['pin_distance_m']:.0f} m, playing {card['effective_distance_m']:.0f} m"
        parts.append(f"{left}, {card['next_club']}" if card["zone"] else f"{left.removeprefix('leaves ')}")
        seen = card["flag_visibility"]
        parts.append(f"flag {seen}" + (f" behind {card['hidden_by']}" if card["hidden_by"] else ""))
        if card["feeds"] in FEEDS:
            parts.append(FEEDS[card["feeds"]])
        parts.append(f"{card['hold_pct']:.0f} % hold the green")
    return "; ".join(parts) + "."
