"""Strokes by distance and lie beside published ones.

python scripts/tables.py                         print the tables of docs/players.md
python scripts/tables.py --picture FILE [...]    draw strokes by distance as well, as PNG, PDF or SVG by the
ending

On the generic hole of scripts/generic_hole.py, four hole locations, the mean over them; published rows and
their sources in scripts/data/published_strokes.csv.
"""

from __future__ import annotations

import argparse
import csv
import functools
import itertools
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from generic_hole import GREEN_RADIUS_M, PINS, TREES_FROM_M, ground, turf

from gistools.base.units import FOOT_M, YARD_M
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import Player, built_in
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.score_distribution import putt_shares
from gistools.compute.decision.shot_table import LIES, UNAVAILABLE_M
from gistools.compute.decision.value_function import ValueFunction
from gistools.compute.decision.value_iteration import solve

PUBLISHED = Path(__file__).parent / "data" / "published_strokes.csv"
SHORT_YD = {25: (8, 13, 18, 23), 50: (28, 36, 44)}  # distances that stand for the short game
FEW = 64  # samples that a shot of the short game is chosen on
STEP_YD = 20  # between the distances of the lines of the picture
#: built-in players whose strokes a published column is compared with
PLAYERS = {
    "tour": "tour man",
    "90-golfer": "15-handicap man",
    "handicap 0": "scratch man",
    "handicap 5": "5-handicap man",
    "handicap 10": "10-handicap man",
    "handicap 15": "15-handicap man",
    "handicap 20": "bogey man",
    "handicap 25": "25-handicap man",
}


@dataclass(frozen=True)
class Row:
    """One figure beside a published one; ``source`` says which."""

    player: str
    lie: str
    yards: float
    ours: float
    published: float
    source: str

    @property
    def error(self) -> float:
        """Ours less published [strokes]."""
        return self.ours - self.published


def solve_generic(player: Player, length_yd: float = 520.0) -> ValueFunction:
    """Solve the generic hole for a player, four hole locations."""
    surface, kinds = ground(length_yd)
    x, y = surface.centres()
    green = np.hypot(x[None, :], y[:, None]) <= GREEN_RADIUS_M
    names = [f"pin {k}" for k in range(len(PINS))]
    return solve(
        surface, turf(surface, kinds), green, shot_table_of(player, CALM), names, PINS,
        putter=putter_of(player), keep=False,
    )  # fmt: skip


@functools.cache
def generic_hole(player: str, length_yd: float = 520.0) -> ValueFunction:
    """Solve the generic hole for a built-in player."""
    return solve_generic(built_in(player), length_yd)


def strokes_from(s: ValueFunction, yards: float, lie: str) -> float:
    """Strokes from so far short of each hole if the ball has this lie there.

    Best of all shots and headings near the pin.
    """
    if lie == "recovery":
        return strokes_among_trees(s, yards)
    number, away = LIES.index(lie), yards * YARD_M
    carry = s.tables(number).carry_m
    shots = np.flatnonzero(carry < UNAVAILABLE_M)
    reach = min(0.5 * carry[shots].max(), 0.25 * away)
    shots = shots[(carry[shots] >= reach) & (carry[shots] < away + 30.0)]
    headings = (-4, -2, -1, 0, 1, 2, 4)
    best = [
        min(
            float(np.nan_to_num(s.action_value(s.outcomes(x, y - away, int(k), h, lie=number))[p], nan=99.0))
            for k in shots
            for h in headings
        )
        for p, (x, y) in enumerate(PINS)
    ]
    return float(np.mean(best))


def short_game(s: ValueFunction, upper_yd: float) -> tuple[float, float, float]:
    """Share of up and downs, mean leave [ft] and greens hit from 8 to 25, or 25 to 50, yards.

    From fairway and rough as 1 to 1 (assumption); up and down is one shot and one putt, the putter from off
    the green counted as well.
    """
    rows = []
    for yards, lie, p in itertools.product(SHORT_YD[upper_yd], ("fairway", "rough"), range(len(PINS))):
        out = _best_outcomes(s, yards, lie, p)
        state = out["state"][(out["state"] >= 0) & (out["replayed"] == 0) & (out["penalty"] == 0)]
        putting = s.mesh.putts[state] | (s.rolled[state, p] <= s.value[state, p])
        holed = putt_shares(s.value[state, p], s.putter)[:, 0] * putting
        leave = np.hypot(*(s.mesh.place[state, :2] - PINS[p]).T).mean() / FOOT_M
        rows.append((holed.sum() / len(out), leave, s.mesh.putts[state].sum() / len(out)))
    ups, leave, greens = np.mean(rows, axis=0)
    return float(ups), float(leave), float(greens)


def _best_outcomes(s: ValueFunction, yards: float, lie: str, p: int):
    """Outcomes of the best shot from so far short of a hole."""
    number, (x, y), away = LIES.index(lie), PINS[p], yards * YARD_M
    carry = s.tables(number).carry_m
    shots = np.flatnonzero((carry >= 0.25 * away) & (carry < away + 20.0))

    def strokes(action: tuple[int, int]) -> float:
        out = s.outcomes(x, y - away, *action, lie=number, samples=FEW)
        return float(np.nan_to_num(s.action_value(out)[p], nan=99.0))

    best = min(((int(k), h) for k in shots for h in (-2, 0, 2)), key=strokes)
    return s.outcomes(x, y - away, *best, lie=number)


def strokes_among_trees(s: ValueFunction, yards: float) -> float:
    """Strokes from so far from each hole, 4 m inside the trees on either side.

    Nan where the trees are farther away.
    """
    values = []
    for p, (x, y) in enumerate(PINS):
        for side in (-TREES_FROM_M - 4.0, TREES_FROM_M + 4.0):
            along = (yards * YARD_M) ** 2 - (side - x) ** 2
            values.append(s.at(side, y - float(np.sqrt(along)), p) if along > 0 else np.nan)
    return float(np.mean(values))


@functools.cache
def published(player: str) -> tuple[tuple[str, float, float, str], ...]:
    """Rows of a published column: lie, yards, strokes, source."""
    with PUBLISHED.open(encoding="utf-8") as lines:
        return tuple(
            (r["lie"], float(r["yards"]), float(r["strokes"]), r["source"])
            for r in csv.DictReader(lines)
            if r["player"] == player
        )


def rows_of(column: str, player: str | None = None) -> list[Row]:
    """Strokes of a built-in player beside a published column.

    ``approach`` is fairway and rough as 6 to 4 (assumption).
    """
    name = player or PLAYERS.get(column, column)
    s = generic_hole(name)
    rows = []
    for lie, yards, strokes, source in published(column):
        if lie == "approach":
            ours = 0.6 * strokes_from(s, yards, "fairway") + 0.4 * strokes_from(s, yards, "rough")
        else:
            ours = strokes_from(s, yards, lie)
        rows.append(Row(name, lie, yards, ours, strokes, source))
    return rows


def picture():
    """Return the figure of strokes by distance beside published ones."""
    from gistools.sheets.strokes_figure import Panel, strokes_by_distance

    s = generic_hole("tour man")
    lies = ("tee", "fairway", "rough", "sand", "recovery")
    tour = [_line(f"from {lie}", s, lie, [r for r in published("tour") if r[0] == lie]) for lie in lies]
    ratings = [
        _line(name, generic_hole(name), "tee", list(published(name)))
        for name in ("scratch man", "bogey man", "scratch woman", "bogey woman")
    ]
    ratings.append(
        _line("90-golfer", generic_hole(PLAYERS["90-golfer"]), "tee", list(published("90-golfer")))
    )
    return strokes_by_distance(
        [
            Panel("Tour man on the generic hole, by lie", "Broadie 2012 (second-hand)", tuple(tour)),
            Panel(
                "Model players from the tee", "course rating by length alone; Broadie 2008", tuple(ratings)
            ),
        ]
    )


def _line(name: str, s: ValueFunction, lie: str, rows: list):
    from gistools.sheets.strokes_figure import Line

    yards = tuple(r[1] for r in rows)
    every = sorted({*yards, *range(int(min(yards)), int(max(yards)), STEP_YD)})
    ours = tuple(strokes_from(s, y, lie) for y in every)
    return Line(name, tuple(map(float, every)), ours, yards, tuple(r[2] for r in rows))


def show(rows: list[Row]) -> None:
    """Print rows as a table."""
    print("| player | from | yd | ours | published | error |")
    print("|---|---|---|---|---|---|")
    for r in rows:
        print(f"| {r.player} | {r.lie} | {r.yards:.0f} | {r.ours:.2f} | {r.published:.2f} | {r.error:+.2f} |")
    error = np.array([r.error for r in rows if np.isfinite(r.error)])
    print(f"mean error {error.mean():+.3f}, rms {np.sqrt((error**2).mean()):.3f}\n")


def main() -> None:
    """Print all tables, and draw the picture where it is asked for."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--picture", nargs="+", type=Path, default=[], metavar="FILE")
    files = words.parse_args().picture
    if files:
        import matplotlib

        matplotlib.use("Agg")
        from gistools.sheets.figures import save

        figure = picture()
        for file in files:
            print(save(figure, file, dpi=110.0))
    for column in (
        "tour",
        *(c for c in PLAYERS if c != "tour"),
        "scratch man",
        "bogey man",
        "scratch woman",
        "bogey woman",
    ):
        show(rows_of(column))


if __name__ == "__main__":
    main()
