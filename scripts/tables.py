"""Expected strokes beside published figures.

python scripts/tables.py                         print the tables of DEVELOPERS and the closing notes
python scripts/tables.py --picture FILE [...]    draw strokes by distance as well, as PNG, PDF or SVG by the ending

A generic hole: level, a fairway 32 m wide in rough, a round green of 500 m2, the pin in its middle (assumptions).
"""

from __future__ import annotations

import argparse
import functools
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gistools.base.cover_classes import Kind
from gistools.base.units import YARD_M
from gistools.compute.ballistics.air import CALM
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision.club_set import putter_of, shot_table_of
from gistools.compute.decision.shot_table import LIES
from gistools.compute.decision.value_iteration import Strokes, solve
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel
from gistools.site.sample import sample_site

GREEN_M2, FAIRWAY_M, CELL_M = 500.0, 32.0, 2.0

#: tour 2003-2010, Broadie 2012 (appendix table 9 of the working paper) [from memory; 400 yd tee, 160 yd fairway, 180 yd rough seen]
BROADIE = {
    "tee": {300: 3.71, 360: 3.92, 400: 3.99, 440: 4.08},
    "fairway": {20: 2.40, 40: 2.60, 60: 2.70, 100: 2.80, 140: 2.91, 160: 2.98, 200: 3.19, 240: 3.45},
    "rough": {20: 2.59, 40: 2.78, 60: 2.91, 100: 3.02, 140: 3.15, 180: 3.31, 200: 3.42},
    "sand": {20: 2.53, 40: 2.82, 60: 3.15, 100: 3.23, 140: 3.22, 180: 3.40},
}
#: strokes of a hole by length from the tee: length [yd] / first + second; course rating, length only [from memory]
RATING = {
    "scratch man": (220.0, 2.272),
    "bogey man": (160.0, 2.817),
    "scratch woman": (180.0, 2.228),
    "bogey woman": (120.0, 2.850),
}
LENGTHS_YD = (150, 200, 300, 350, 400, 450)
STEP_YD = 20  # between the distances of the lines of the picture
BROADIE_SAYS = "Broadie 2012, tour 2003-2010 [mostly from memory]"


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


@functools.cache
def generic_hole(player: str, length_yd: float = 470.0) -> Strokes:
    """Solve the generic hole for a built-in player; the pin is at (0, 0), the tee south of it."""
    rows = int((length_yd * YARD_M + 80) / CELL_M)
    cols = int(140 / CELL_M)
    surface = Surface(np.full((rows, cols), 10.0), -0.5 * cols * CELL_M, 50.0, CELL_M)
    x, y = surface.centres()
    away = np.hypot(x[None, :], y[:, None])
    kinds = np.full(surface.z.shape, Kind.ROUGH, np.uint8)
    kinds[:, np.abs(x) <= 0.5 * FAIRWAY_M] = Kind.FAIRWAY
    kinds[y > 20.0] = Kind.ROUGH
    kinds[away <= np.sqrt(GREEN_M2 / np.pi)] = Kind.GREEN
    who = built_in(player)
    return solve(
        surface, turf_grid(surface, kinds), kinds == Kind.GREEN, shot_table_of(who, CALM), ["middle"], [(0.0, 0.0)],
        putter=putter_of(who), keep=False,
    )  # fmt: skip


def least(s: Strokes, yards: float, lie: str) -> float:
    """Strokes from so far south of the pin if the ball has this lie there: the best of all shots and near headings."""
    number, y = LIES.index(lie), -yards * YARD_M
    carry = s.tables(number).carry_m
    held = np.flatnonzero(carry < UNAVAILABLE_M)
    held = held[carry[held] >= min(0.5 * carry[held].max(), 0.25 * -y)]
    return float(
        min(
            np.nan_to_num(s.action_value(s.outcomes(0.0, y, int(k), h, lie=number))[0], nan=99.0)
            for k in held
            for h in (-3, -1, 0, 1, 3)
        )
    )


def tour_rows() -> list[Row]:
    """Return the tour player's strokes by distance and lie."""
    s = generic_hole("tour man")
    return [
        Row("tour man", lie, yards, least(s, yards, lie), told, "Broadie 2012")
        for lie, column in BROADIE.items()
        for yards, told in column.items()
    ]


def rating_rows(player: str) -> list[Row]:
    """Return a model player's strokes from the tee by length of the hole."""
    per, rest = RATING[player]
    s = generic_hole(player)
    return [
        Row(player, "tee", yards, least(s, yards, "tee"), yards / per + rest, "course rating, length only")
        for yards in LENGTHS_YD
    ]


def picture():
    """Return the figure of strokes by distance beside published ones, the tour player and the model players."""
    from gistools.sheets.strokes_figure import strokes_by_distance

    return strokes_by_distance([tour_panel(), players_panel()])


def tour_panel():
    """Return the tour player's strokes by distance from each lie, for the picture."""
    from gistools.sheets.strokes_figure import Panel

    s = generic_hole("tour man")
    lines = [_line(f"from {lie}", s, lie, tuple(told), tuple(told.values())) for lie, told in BROADIE.items()]
    return Panel("Tour man on a level hole, by lie", BROADIE_SAYS, tuple(lines))


def players_panel():
    """Return the model players' strokes from the tee by length of the hole, for the picture."""
    from gistools.sheets.strokes_figure import Panel

    lines = [
        _line(player, generic_hole(player), "tee", LENGTHS_YD, tuple(y / per + rest for y in LENGTHS_YD))
        for player, (per, rest) in RATING.items()
    ]
    return Panel(
        "Model players from the tee of a level hole", "course rating, length only [from memory]", tuple(lines)
    )


def _line(name: str, s: Strokes, lie: str, yards: tuple[float, ...], told: tuple[float, ...]):
    from gistools.sheets.strokes_figure import Line

    every = sorted({*yards, *range(int(min(yards)), int(max(yards)), STEP_YD)})
    return Line(name, tuple(map(float, every)), tuple(least(s, y, lie) for y in every), yards, told)


def sample_rows(players: tuple[str, ...] = ("scratch man", "bogey man")) -> list[Row]:
    """Return the mean scores on the sample's holes from each tee, over all pins, beside the rating of their length."""
    site = sample_site()
    out = []
    lines = {(r.hole, r.tee): r for r in _lengths(site).itertuples()}
    for hole in (1, 2, 3):
        for player in players:
            model = HoleModel(site, hole)
            s = model.strokes(built_in(player), CALM)
            for tee in model.tees:
                yards = lines[hole, tee.name].ground_m / YARD_M
                per, rest = RATING[player]
                ours = float(np.mean([s.at(*tee.centre, p) for p in range(len(s.pins))]))
                out.append(
                    Row(player, f"hole {hole} {tee.name}", yards, ours, yards / per + rest, "course rating")
                )
    return out


def _lengths(site):
    from gistools.steps.catalogue import need

    return need(site, "lengths")


def show(rows: list[Row]) -> None:
    """Print rows as a table."""
    print("| player | from | yd | ours | published | error |")
    print("|---|---|---|---|---|---|")
    for r in rows:
        print(f"| {r.player} | {r.lie} | {r.yards:.0f} | {r.ours:.2f} | {r.published:.2f} | {r.error:+.2f} |")
    error = np.array([r.error for r in rows])
    print(f"mean error {error.mean():+.3f}, rms {np.sqrt((error**2).mean()):.3f}\n")


def main() -> None:
    """Print all tables, and draw the picture where it is asked for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--picture", nargs="+", type=Path, default=[], metavar="FILE")
    files = asked.parse_args().picture
    if files:
        import matplotlib

        matplotlib.use("Agg")
        from gistools.sheets.figures import save

        figure = picture()
        for file in files:
            print(save(figure, file, dpi=110.0))
    show(tour_rows())
    for player in RATING:
        show(rating_rows(player))
    show(sample_rows())


if __name__ == "__main__":
    main()
