"""Best shots at the landing zones of a hole: from a tee, and from where they finish, shot after shot."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.compute.decision.ranking import Choice
    from gistools.hole import HoleModel
    from gistools.hole.model import Tee

#: from nearer than this share of the longest carry off the fairway the next shot is an approach (assumption)
APPROACH_SHARE = 0.85
#: a zone lies ahead where its centre is this much nearer to the green [m] (assumption)
AHEAD_M = 30.0
#: finishes this near to each other are one place to play on from [m] (assumption)
ONE_PLACE_M = 10.0
GREEN = "green"
MIDDLE, CENTRE = "middle of finishes", "zone centre"


@dataclass(frozen=True)
class Target:
    """What a shot can be aimed at: a landing zone with its number on the plan, or the green (None)."""

    zone: str
    area: Any
    number: int | None


@dataclass(frozen=True)
class ShotStart:
    """A place a shot is played from: ``place`` [m], which shot it is, its zone (empty for the tee)."""

    place: tuple[float, float]
    shot_number: int
    zone: str


@dataclass(frozen=True, eq=False)
class Ranking:
    """Best shots from a place at each target for some hole locations.

    ``choices`` number targets as ``targets`` does.
    """

    start: ShotStart
    targets: list[Target]
    choices: list[Choice]


def best_at_zones(hole: HoleModel, tee: Tee, player: Player, wind: Wind) -> list[Choice]:
    """Return the best tee shot at each zone for each pin, searched once for each tee, player and wind."""
    return _choices(hole, ShotStart(tee.centre, 1, ""), _zones(hole), player, wind)


def rankings(hole: HoleModel, tee: Tee, player: Player, wind: Wind) -> Iterator[Ranking]:
    """Yield the ranking of zones for the tee shot, then for each shot after it that has a choice of zones.

    A shot after it is played from the middle of the finishes of the shot that is best at the zone it lies in,
    at zones ahead and at the green, for the hole locations for which the ball lies there. From places nearer
    to the green than APPROACH_SHARE of the player's longest carry off the fairway it is an approach, and
    nothing is ranked. A zone is played on from once for each hole location: by the first shot that reaches
    it, and of those from the best ranked zone.
    """
    first = ShotStart(tee.centre, 1, "")
    queue = [Ranking(first, _zones(hole), best_at_zones(hole, tee, player, wind))]
    played: set[tuple[str, int]] = set()
    while queue:
        ranking = queue.pop(0)
        yield ranking
        for start, pins in _starts(hole, ranking, played, player, wind):
            following = _ranking(hole, start, pins, player, wind)
            if following is not None:
                queue.append(following)


def next_place(
    hole: HoleModel, choice: Choice, area: Any, player: Player, wind: Wind
) -> tuple[tuple[float, float], str] | None:
    """Return where the shot after is played from, and the words for it; None where no ball is played there.

    The middle of the finishes, else the centre of the zone.
    """
    from gistools.base.errors import InputError
    from gistools.hole.sight import centre

    solved = hole.strokes(player, wind)
    for place, words in (((choice.x, choice.y), MIDDLE), (centre(area), CENTRE)):
        try:
            solved.state(*place)
        except InputError:
            continue
        return place, words
    return None


def _zones(hole: HoleModel) -> list[Target]:
    return [Target(zone.zone, zone.area, number) for number, zone in enumerate(hole.zones, 1)]


def _starts(
    hole: HoleModel, ranking: Ranking, played: set[tuple[str, int]], player: Player, wind: Wind
) -> list[tuple[ShotStart, list[int]]]:
    """Return the places the zones of a ranking are played on from, with the hole locations of each."""
    starts: list[tuple[ShotStart, list[int]]] = []
    for choice in sorted(ranking.choices, key=lambda c: c.total):
        target = ranking.targets[choice.zone]
        if target.number is None or (target.zone, choice.pin) in played:
            continue
        place = next_place(hole, choice, target.area, player, wind)
        if place is None:
            continue
        played.add((target.zone, choice.pin))
        for start, pins in starts:
            if start.zone == target.zone and math.dist(start.place, place[0]) <= ONE_PLACE_M:
                pins.append(choice.pin)
                break
        else:
            starts.append((ShotStart(place[0], ranking.start.shot_number + 1, target.zone), [choice.pin]))
    return starts


def _ranking(
    hole: HoleModel, start: ShotStart, pins: list[int], player: Player, wind: Wind
) -> Ranking | None:
    """Return the ranking from a place, None where the shot from there is an approach."""
    from gistools.compute.decision.shot_table import LIES
    from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M
    from gistools.hole.sight import centre

    fairway = hole.strokes(player, wind).tables(LIES.index("fairway")).carry_m
    longest_m = max(float(carry) for carry in fairway if carry < UNAVAILABLE_M)
    green = centre(hole.green)
    left_m = math.dist(start.place, green)
    ahead = [
        target
        for target in _zones(hole)
        if target.zone != start.zone and math.dist(centre(target.area), green) <= left_m - AHEAD_M
    ]
    if left_m <= APPROACH_SHARE * longest_m or not ahead:
        return None
    targets = [*ahead, Target(GREEN, hole.green, None)]
    choices = [c for c in _choices(hole, start, targets, player, wind) if c.pin in pins]
    return Ranking(start, targets, choices) if any(targets[c.zone].number for c in choices) else None


def _choices(
    hole: HoleModel, start: ShotStart, targets: list[Target], player: Player, wind: Wind
) -> list[Choice]:
    """Return the best shot from a place at each target for each pin, searched once."""
    from gistools.compute.decision.ranking import choices_of, shots_from, zone_cells
    from gistools.compute.decision.shot_table import LIES

    def search() -> list[Choice]:
        areas = [target.area for target in targets]
        ground, solved = hole.ground, hole.strokes(player, wind)
        lie = int(solved.mesh.lie[solved.state(*start.place)]) if start.zone else LIES.index("tee")
        fan = shots_from(solved, ground, *start.place, zone_cells(ground, areas), areas, lie=lie)
        return choices_of(fan, ground.names)

    return hole.remember(("shots", start.place, start.zone, player.name, wind), search)
