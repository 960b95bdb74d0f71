"""Cards of where to play: the shot at a zone, its risk, and what it leaves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import BACKSTOP_M, MISSES
from gistools.steps.zone_choices import Ranking, ShotStart, Target, next_place, rankings

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.compute.decision.ranking import Choice
    from gistools.hole import HoleModel
    from gistools.hole.model import Tee
    from gistools.site.model import Site

#: share of the flagstick seen from which it is visible, and below which it is blind [%] (assumption): a green
#: that falls away hides the lowest hand's breadth of nearly every flagstick
VISIBLE_PCT, BLIND_PCT = 90.0, 1.0
ELLIPSE = ("ellipse_length_m", "ellipse_width_m", "axis_bearing_deg")
#: what is left in plan, whatever the shot after is
DISTANCES = (
    "pin_distance_m",
    "rise_m",
    "effective_distance_m",
    "flag_seen_pct",
    "hidden_by",
    "mounds_crossed",
)
#: what an approach says under its own names, and as a card says it
APPROACH = (
    "green_angle_deg",
    "green_depth_m",
    "green_width_m",
    "must_carry_m",
    "hazards_carried",
    "window_from_m",
    "window_to_m",
    "hold_area_m2",
    "feed_area_m2",
    "landing_fall_pct",
    "landing_camber_pct",
    "feeds",
    "backstop_m",
    "run_along_m",
    "run_across_m",
    "hold_pct",
    "within_6_pct",
    "leave_m",
    *MISSES.split(),
)
RISKS = ("trouble_pct", "sand_pct", "water_pct", "out_of_bounds_pct", "hazards")
WORDS = (
    "hidden_by",
    "mounds_crossed",
    "hazards_carried",
    "feeds",
    "playable_misses",
    "dead_misses",
    "next_club",
    "next_swing",
    "next_zone",
    "next_from",
    "flag_visibility",
)
NOTHING_LEFT = dict.fromkeys((*DISTANCES, *APPROACH), math.nan) | dict.fromkeys(WORDS, "")
#: what a card keeps of an approach that is drawn, under names that are no columns
DRAWN = ("landing", "miss_places")


def cards_of(site: Site, hole: int | None, players: Any, winds: Any) -> list[dict[str, Any]]:
    """Return the cards of every tee of some holes, players and winds, worked out once for a site."""
    from gistools.hole import HoleModel

    cards: list[dict[str, Any]] = []
    for h, player, wind, _ in cases(site, hole, players, winds):
        model = HoleModel(site, h)
        for tee in model.tees:
            cards += cards_from_tee(model, tee, player, wind)
    return cards


def cards_from_tee(model: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[dict[str, Any]]:
    """Return the cards of one tee: every zone in reach, shot after shot, or the green without zones."""

    def work_out() -> list[dict[str, Any]]:
        if not model.zones:
            return cards_at_pins(model, tee, player, wind)
        ranked = list(rankings(model, tee, player, wind))
        firsts: dict[tuple[str, int], tuple[Choice, Target]] = {}
        by_ranking: list[list[dict[str, Any]]] = []
        for ranking in reversed(ranked):  # what a shot leaves is ranked before it
            by_ranking.insert(0, ranked_cards(model, player, wind, ranking, firsts))
        return [card for cards in by_ranking for card in cards]

    key = {"hole": model.number, "tee": tee.name, "player": player.name, "wind": wind.name}
    return [key | card for card in model.remember(("cards", tee.name, player.name, wind), work_out)]


def ranked_cards(
    hole: HoleModel,
    player: Player,
    wind: Wind,
    ranking: Ranking,
    firsts: dict[tuple[str, int], tuple[Choice, Target]],
) -> list[dict[str, Any]]:
    """Return the cards of a ranking: each target for each hole location, in the order of their rank.

    Parameters
    ----------
    hole, player, wind
        Whose shots.
    ranking
        The best shots.
    firsts
        Zone and hole location to the shot and the target that are first choice from there; those of this
        ranking are added.
    """
    from gistools.compute.decision import levels
    from gistools.compute.decision.ranking import totals_by_pin

    solved = hole.strokes(player, wind)
    band, criteria = hole.setting("level_band_strokes"), hole.setting("level_order").split(", ")
    turned = levels.turns(totals_by_pin(ranking.choices), band)
    rows: list[dict[str, Any]] = []
    for p, pin in enumerate(solved.pins):
        here = [c for c in ranking.choices if c.pin == p]
        if not here:
            continue
        cards = []
        for c in here:
            target = ranking.targets[c.zone]
            left = _left(hole, player, wind, c, target, firsts.get((target.zone, p)))
            shot = _shot(hole, player, wind, ranking.start, c, target)
            cards.append(shot | left)
        order, level, reasons = levels.order([c.total for c in here], cards, band, criteria)
        by_left = sorted(c.remaining for c in here)
        if ranking.start.zone:
            firsts[ranking.start.zone, p] = here[order[0]], ranking.targets[here[order[0]].zone]
        for rank, k in enumerate(order, 1):
            rows.append(
                cards[k]
                | {
                    "shot_number": ranking.start.shot_number,
                    "from_zone": ranking.start.zone,
                    "pin": pin,
                    "rank": rank,
                    "level_with_first": level[k] and sum(level) > 1,
                    "decided_by": reasons[k],
                    "lead_strokes": _lead(here, k) if rank == 1 else math.nan,
                    "behind_strokes": here[k].total - min(c.total for c in here),
                    "remaining_rank": by_left.index(here[k].remaining) + 1,
                    "order_changes": turned[p],
                }
            )
    return rows


def _lead(here: list[Choice], first: int) -> float:
    """Return the least total of the others less that of a choice, nan where there is no other."""
    others = [c.total for k, c in enumerate(here) if k != first]
    return min(others) - here[first].total if others else math.nan


def _shot(
    hole: HoleModel, player: Player, wind: Wind, start: ShotStart, c: Choice, target: Target
) -> dict[str, Any]:
    """Return the shot at a target, what it carries, where it runs and finishes, and its risks."""
    import shapely

    from gistools.compute.decision.ranking import finish_row, risk_row
    from gistools.compute.decision.shot_figures import shot_figures
    from gistools.compute.decision.shot_table import LIES
    from gistools.compute.decision.value_iteration import bearing_of

    solved = hole.strokes(player, wind)
    lie = LIES.index("tee") if start.shot_number == 1 else int(solved.mesh.lie[solved.state(*start.place)])
    out = solved.many_outcomes(*start.place, c.shot, c.heading, lie=lie)
    finish = finish_row(out)
    return {
        "zone": target.zone,
        "zone_number": math.nan if target.number is None else target.number,
        "total_strokes": c.total,
        "remaining_strokes": c.remaining,
        "club": solved.shot_table.shots[c.shot].label,
        "aim_deg": bearing_of(c.heading),
        "in_zone_pct": 100 * c.in_zone,
        "run_through_pct": 100 * c.through,
        **{k: finish[k] for k in ELLIPSE},
        **risk_row(c),
        "shot_must_carry_m": math.nan,
        **shot_figures(hole.ground, player, wind, start.place, out),
        "geometry": shapely.Point(finish["middle"]),
    }


def _left(
    hole: HoleModel,
    player: Player,
    wind: Wind,
    c: Choice,
    target: Target,
    first: tuple[Choice, Target] | None,
) -> dict[str, Any]:
    """Return what the shot leaves: an approach, or the shot at a target ahead that is ``first`` choice."""
    place = None if target.number is None else next_place(hole, c, target.area, player, wind)
    if place is None:
        return NOTHING_LEFT
    action = (first[0].shot, first[0].heading) if first else None
    row = _approach(hole, player, wind, place[0], target.zone, c.pin, action)
    left = NOTHING_LEFT | {k: row[k] for k in DISTANCES} | {"next_club": row["club"]}
    if "shot" in row:
        left["next_swing"] = hole.strokes(player, wind).shot_table.shots[row["shot"]].swing
    if first is not None:
        left["next_zone"] = first[1].zone
    if first is None or first[1].number is None:
        left |= {k: row[k] for k in (*APPROACH, *DRAWN) if k in row}
    return left | {"next_from": place[1], "flag_visibility": visibility_of(row["flag_seen_pct"])}


def _approach(
    hole: HoleModel,
    player: Player,
    wind: Wind,
    place: tuple[float, float],
    zone: str,
    pin: int,
    action: tuple[int, int] | None = None,
) -> dict[str, Any]:
    from gistools.compute.decision.approaches import approach
    from gistools.compute.decision.landing_areas import landing_areas
    from gistools.compute.decision.shot_table import LIES
    from gistools.steps import approach_starts

    start = approach_starts.Start(*place, "finish", zone)
    view = approach_starts.views_from(hole, [start])[0][pin]
    solved = hole.strokes(player, wind)
    row = approach(
        solved,
        hole.ground,
        player,
        wind,
        *place,
        pin,
        view=view,
        action=action,
        backstop_m=BACKSTOP_M,
    )
    row["mounds_crossed"] = ", ".join(hole.places.mounds_on(place, solved.pin_xy[pin]))
    if "shot" not in row:
        return row
    areas = landing_areas(solved, hole.green, pin, row["line_deg"], row["shot"], LIES.index(row["lie"]))
    return row | {
        "landing": areas,
        "hold_area_m2": areas.holds.area,
        "feed_area_m2": areas.feeds.area,
    }


def cards_at_pins(hole: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[dict[str, Any]]:
    """Return the shot at each hole location from the tee of a hole without landing zones."""
    import shapely

    from gistools.base.errors import InputError

    cards = []
    for p, pin in enumerate(hole.strokes(player, wind).pins):
        try:
            row = _approach(hole, player, wind, tee.centre, "", p)
        except InputError:
            continue
        shot = {k: row[k] for k in ("club", "aim_deg", "remaining_strokes", *RISKS, *ELLIPSE) if k in row}
        left = NOTHING_LEFT | {k: row[k] for k in (*DISTANCES, *APPROACH, *DRAWN) if k in row}
        cards.append(
            shot
            | left
            | {
                "shot_number": 1,
                "from_zone": "",
                "pin": pin,
                "zone": "",
                "zone_number": math.nan,
                "rank": 1,
                "level_with_first": False,
                "decided_by": "",
                "total_strokes": row["remaining_strokes"],
                "behind_strokes": 0.0,
                "remaining_rank": 1,
                "order_changes": False,
                "flag_visibility": visibility_of(row["flag_seen_pct"]),
                "geometry": shapely.Point(row.get("middle", tee.centre)),
            }
        )
    return cards


def visibility_of(seen_pct: float) -> str:
    """Return blind, semi-blind or visible for a share of the flagstick seen [%]."""
    if not math.isfinite(seen_pct):
        return ""
    return "visible" if seen_pct >= VISIBLE_PCT else "blind" if seen_pct <= BLIND_PCT else "semi-blind"
