"""A search that turns the order of two zones of hole 1, checked by plain play of both (slow).

The search is asked for a change by which another zone is first for a hole location, ahead by more than the
band within which zones are level. Its answer stands on tables; here 50,000 plays of the best tee shot at each
zone, shot by shot, without tables, before the change and after. With ``-s`` the figures are printed:
``pytest -m slow -s tests/decision/test_turned_order.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.design.edits import apply_edits
from gistools.design.search import search_edits
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.steps.zone_choices import best_at_zones

from .plain import play_out

pytestmark = pytest.mark.slow

PLAYS, PLAYER, BAND = 50_000, "scratch man", 0.02
ZONES = ("beyond left", "beyond right")


@dataclass(frozen=True)
class Wish:
    """A zone that should be first for a hole location, and what may move for it."""

    zone: str
    pin: str
    moves: tuple[str, ...]
    #: most that the zone is ahead by plays before the change
    before: float

    @property
    def other(self) -> str:
        """The zone that should come after it."""
        return next(zone for zone in ZONES if zone != self.zone)


#: the first is level by plays before, the second behind by more than the band
WISHES = (
    Wish("beyond right", "back right", ("Spurge: across 0..24, along -10..10",), BAND),
    Wish(
        "beyond left", "front left", ("Bindweed: across 0..8", "Spurge: along -15..12, across -10..10"), -BAND
    ),
)


def played(site: Site, pin: str) -> dict[str, tuple[float, float, float]]:
    """Return for each zone its total by tables, and by plays with the standard error."""
    model, player = HoleModel(site, 1), built_in(PLAYER)
    solved, tee, names = model.strokes(player, CALM), model.tees_by_length[0], [z.zone for z in model.zones]
    number = solved.pin(pin)
    out = {}
    for choice in best_at_zones(model, tee, player, CALM):
        zone = names[choice.zone]
        if choice.pin == number and zone in ZONES:
            mean, error = play_out(
                solved, player, tee.centre, choice.shot, choice.heading, number, plays=PLAYS, seed=7
            )
            out[zone] = choice.total, mean, error
    return out


def lead(zones: dict[str, tuple[float, float, float]], wish: Wish) -> tuple[float, float, float]:
    """Return by how much the zone wished for is ahead: by tables, by plays, standard error."""
    one, other = zones[wish.zone], zones[wish.other]
    return other[0] - one[0], other[1] - one[1], float(np.hypot(one[2], other[2]))


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: f"{wish.pin}, {wish.zone}")
def test_the_answer_of_the_search_turns_the_order_in_plain_play(wish):
    site = sample_site()
    answer = search_edits(
        site, wish.moves, first=wish.zone, pin=wish.pin, hole=1, player=PLAYER, by_strokes=0.02
    )
    assert answer.holds and answer.margin_before < -BAND
    before, after = (lead(played(s, wish.pin), wish) for s in (site, apply_edits(site, answer.edits)))
    for when, (tables, plays, error) in (("before", before), ("after", after)):
        who = f"\n{wish.zone} ahead for {wish.pin}, {when}"
        print(f"{who}: {tables:+.3f} by tables, {plays:+.3f} +- {error:.3f} by plays")
    assert after[0] > 2 * BAND  # as asked: by the band and 0.02
    assert before[1] < wish.before - before[2] and after[1] > BAND + after[2]
