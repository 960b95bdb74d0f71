"""The step of carries as they play."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Reads, need, step
from gistools.steps.shot_inputs import CAUTIONS, PLAYERS, READS, SOURCES, WINDS, Names
from gistools.steps.styles import SHARES, Style
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.compute.ballistics.air import Wind
    from gistools.compute.ballistics.players import Player
    from gistools.compute.decision.hole_ground import HoleGround
    from gistools.site.model import Site

TOO_FAR = "beyond any shot, even of a much longer player"
NO_GROUND = "no terrain at the tee or the {end}: taken as level"
NO_SHOT = "{rise:+.0f} m from the tee to the {end} is no shot: taken as level; check the terrain's heights"


@step(
    "effective_carries",
    summary="Which player carries what, by how much and how often",
    reads=[*READS, Reads("terrain", required=True)],
    writes=[
        Writes(
            "effective_carries",
            "LineString",
            columns(
                "hole tee player wind feature layer feature_id crossing line carry_m rise_m "
                "bearing_deg effective_carry_m longest_carry_m carry_margin_m can_carry carried_pct "
                "shortest_club note"
            ),
            "each carry as it plays: for each player and wind, can it be carried, by how much, how often",
            style=Style("#8a3b12", 0.5, label="feature", by="carried_pct", steps=SHARES),
            page=PageTable(
                "Carries as they play",
                (
                    "feature line carry_m effective_carry_m longest_carry_m carry_margin_m "
                    "can_carry carried_pct shortest_club"
                ),
                aside="tee player wind",
                headings={
                    "line": "Which line",
                    "carry_m": "Carry in plan",
                    "effective_carry_m": "Carry as it plays",
                    "longest_carry_m": "Longest carry",
                    "carried_pct": "Carries it",
                },
            ),
        ),
        Writes(
            "effective_zone_carries",
            "LineString",
            columns(
                "hole tee player wind zone centre_m effective_centre_m must_carry_m "
                "effective_must_carry_m longest_carry_m carry_margin_m can_carry carried_pct "
                "hazards_carried bearing_deg note"
            ),
            "what each landing zone asks from each tee as it plays",
            style=Style("#8a3b12", 0.3, dashed=True, by="carried_pct", steps=SHARES),
        ),
    ],
    group="Shots",
    loops="shots",
    sources=SOURCES,
    cautions=CAUTIONS,
)
def effective_carries(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[Names, PLAYERS] = None,
    winds: Annotated[Names, WINDS] = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Which player carries what from which tee in which wind, by how much and how often.

    For each carry of the step `carries` (least, greatest, on line) and for the last hazard before each
    landing zone: the effective distance (the flat, calm, sea-level carry that asks for the same shot,
    :mod:`gistools.compute.ballistics.effective_distance`), the carry of the player's longest club along that
    bearing to that level, the margin, and the share of all shots that carry it. For bunkers, water and burns
    each shot has to carry the far edge in its own direction: over a diagonal that is most of the risk. Ground
    and trees in between are not looked at.
    """
    from gistools.hole import HoleModel
    from gistools.site.land_cover import hazards
    from gistools.site.players import players_of, winds_of

    whom, blows = players_of(site, players), winds_of(site, winds)
    carried: list[dict[str, Any]] = []
    zoned: list[dict[str, Any]] = []
    for number in site.selected_holes(hole):
        model = HoleModel(site, number)
        ground, starts = model.tee_ground, {tee.name: tee.start for tee in model.tees}
        jobs = [(p, w) for p in whom for w in blows]
        areas = {(h.layer, h.fid): h.geometry for h in hazards(site, number).itertuples()}
        rows = need(site, "carries", hole=number)["carries"].to_dict("records")
        zones = need(site, "zones", hole=number)["zone_carries"].to_dict("records")
        edges = [_edge(areas.get((row["layer"], row["feature_id"])), starts[row["tee"]], row) for row in rows]
        for k, (player, wind) in enumerate(jobs):
            tick(k / len(jobs), f"hole {number}: {player.name}, {wind.name}")
            carried += [_carry_row(ground, player, wind, row, edges[n]) for n, row in enumerate(rows)]
            zoned += [_zone_row(ground, player, wind, row, starts[row["tee"]]) for row in zones]
    return {
        "effective_carries": carried,
        "effective_zone_carries": zoned,
    }


def _played(plan_m: float, **here: Any) -> float:
    """Effective distance [m]; nan beyond what anybody carries (a tee drawn far away, say)."""
    from gistools.compute.ballistics.effective_distance import FARTHEST_M, effective_distance

    return effective_distance(plan_m, **here) if plan_m <= FARTHEST_M else math.nan


def _asked(
    ground: HoleGround,
    player: Player,
    wind: Wind,
    plan_m: float,
    rise_m: float,
    bearing_deg: float,
    edge: Any = None,
) -> dict[str, Any]:
    """What a carry asks of a player: effective distance, margin, chance, club."""
    from gistools.compute.ballistics.effective_distance import carry_and_share, carry_of

    here: dict[str, Any] = {
        "rise_m": rise_m,
        "wind": wind,
        "bearing_deg": bearing_deg,
        "weather": ground.weather,
    }
    reach, share = carry_and_share(player, player.clubs[0], plan_m, edge=edge, **here)
    enough = ""
    for club in reversed(player.bag("tee")):
        if carry_of(club, **here) >= plan_m:
            enough = club.name
            break
    margin = reach - plan_m
    return {
        "played": _played(plan_m, player=player, **here),
        "longest_carry_m": reach,
        "carry_margin_m": margin,
        "can_carry": "yes" if margin >= 0 else "no",
        "carried_pct": 100.0 * share,
        "shortest_club": enough,
    }


def _edge(area: Any, tee: tuple[float, float], row: dict[str, Any]) -> Any:
    """Far edge of the hazard of a carry in all directions about it.

    None where the carry is over no hazard.
    """
    from gistools.compute.ballistics.effective_distance import FARTHEST_M, far_edges

    carry = float(row["carry_m"])
    if area is None or not carry <= FARTHEST_M:
        return None
    return far_edges(area, tee, float(row["bearing_deg"]), carry)


def _carry_row(
    ground: HoleGround, player: Player, wind: Wind, row: dict[str, Any], edge: Any
) -> dict[str, Any]:
    rise = float(row["rise_m"])
    note = _rise_note(rise, "far edge")
    required = _asked(
        ground,
        player,
        wind,
        float(row["carry_m"]),
        rise if not note else 0.0,
        float(row["bearing_deg"]),
        edge,
    )
    return (
        row
        | required
        | {
            "player": player.name,
            "wind": wind.name,
            "effective_carry_m": required["played"],
            "note": note or (TOO_FAR if math.isnan(required["played"]) else ""),
        }
    )


def _zone_row(
    ground: HoleGround, player: Player, wind: Wind, row: dict[str, Any], tee: tuple[float, float]
) -> dict[str, Any]:
    bearing, centre = float(row["bearing_deg"]), float(row["centre_m"])
    rise = float(row["rise_m"])
    note = _rise_note(rise, "centre")
    rise = 0.0 if note else rise
    here: dict[str, Any] = {"wind": wind, "bearing_deg": bearing, "weather": ground.weather, "player": player}
    played = _played(centre, rise_m=rise, **here)
    out = row | {
        "player": player.name,
        "wind": wind.name,
        "effective_centre_m": played,
        "effective_must_carry_m": math.nan,
        "longest_carry_m": math.nan,
        "carry_margin_m": math.nan,
        "can_carry": "nothing to carry",
        "carried_pct": math.nan,
        "note": note or (TOO_FAR if math.isnan(played) else ""),
    }
    must = row["must_carry_m"]
    if must is None or not math.isfinite(float(must)) or float(must) <= 0:
        return out
    east, north = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    level = ground.surface.height(tee[0] + float(must) * east, tee[1] + float(must) * north)
    up = float(level - ground.surface.height(*tee))
    note = _rise_note(up, "must carry")
    required = _asked(ground, player, wind, float(must), 0.0 if note else up, bearing)
    return out | required | {"effective_must_carry_m": required["played"], "note": out["note"] or note}


def _rise_note(rise_m: float, end: str) -> str:
    """Return why a rise from the tee [m] is not counted: no ground there, or heights that cannot be."""
    from gistools.compute.ballistics.effective_distance import HIGHEST_M

    if not math.isfinite(rise_m):
        return NO_GROUND.format(end=end)
    return "" if abs(rise_m) <= HIGHEST_M else NO_SHOT.format(rise=rise_m, end=end)
