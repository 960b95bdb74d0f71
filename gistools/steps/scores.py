"""The step of scores: chances of birdie, par, bogey and worse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import step
from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import CAUTION, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.writes import Writes
from gistools.steps.zone_choices import best_at_zones

if TYPE_CHECKING:
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.hole import HoleModel
    from gistools.hole.model import Tee
    from gistools.site.model import Site


@step(
    "scores",
    summary="Chances of birdie, par, bogey and worse, from each tee and over each zone",
    reads=READS,
    writes=[
        Writes(
            "scores",
            "",
            columns(
                "hole tee player wind pin zone par mean_strokes birdie_or_better_pct score_par_pct "
                "bogey_pct double_or_worse_pct"
            ),
            "chances of scores from each tee, with the best shot and over each landing zone",
        ),
    ],
    group="Strategy",
    cost="minutes",
    sources=[
        *SOURCES,
        "Rules of Handicapping, appendix F: par by length [published]",
        "one, two or three putts with the mean of the place: assumption",
    ],
    cautions=CAUTION,
)
def scores(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
) -> list[dict[str, Any]]:
    """Return the chances of birdie, par, bogey and worse from each tee, for each hole location.

    The chance of every place and number of strokes is carried forward under the actions the hole was solved
    with; no play is drawn. A row with an empty zone starts with the best shot, the others with the shot of
    `positions` at the zone. Par is that of the longest tee by length for men; where two bands overlap, the
    lower.
    """
    from gistools.hole import HoleModel

    rows: list[dict[str, Any]] = []
    for h, player, wind, _ in cases(site, hole, players, winds):
        model = HoleModel(site, h)
        par = _par(model)
        for tee in model.tees:
            key = {"hole": h, "tee": tee.name, "player": player.name, "wind": wind.name, "par": par}
            rows += [key | row for row in _from_tee(model, tee, player, wind, par)]
    return rows


def _par(model: HoleModel) -> int:
    from gistools.compute.layout.lengths import par_by_length
    from gistools.steps.catalogue import need

    table = need(model.site, "lengths", hole=model.number)
    return par_by_length(float(table["ground_m"].max()))[0]


def _from_tee(model: HoleModel, tee: Tee, player: Player, wind: Wind, par: int) -> list[dict[str, Any]]:
    """Return the rows of one tee; none where the tee lies off the terrain."""
    import numpy as np

    from gistools.compute.decision.score_distribution import Outcomes, against_par, score_shares

    solved = model.strokes(player, wind)
    if not np.isfinite(solved.surface.height(*tee.centre)):
        return []
    values, shots, headings = solved.values_at([tee.centre], lie=0)
    starts = [("", p, int(shots[0, p]), int(headings[0, p])) for p in range(len(solved.pins))]
    if model.zones:
        names = [zone.zone for zone in model.zones]
        choices = best_at_zones(model, tee, player, wind)
        for choice in choices:  # a shot that was weighed at a zone may be a little better
            if choice.total < values[0, choice.pin]:
                values[0, choice.pin] = choice.total
                starts[choice.pin] = ("", choice.pin, choice.shot, choice.heading)
        starts += [(names[c.zone], c.pin, c.shot, c.heading) for c in choices]
    rows = []
    outcomes: list[Outcomes] = [{} for _ in solved.pins]
    for zone, p, shot, heading in starts:
        shares = score_shares(solved, p, tee.centre, (shot, heading), lie=0, outcomes=outcomes[p])
        mean = float(shares @ np.arange(len(shares)))
        rows.append({"pin": solved.pins[p], "zone": zone, "mean_strokes": mean} | against_par(shares, par))
    return rows
