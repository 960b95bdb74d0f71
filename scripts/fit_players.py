"""Fit the skills of the built-in players to published strokes.

python scripts/fit_players.py tour
python scripts/fit_players.py handicaps ["handicap 10" ...]

Tour: by one-step consistency. The published strokes from a distance and lie equal one stroke plus the mean of
the published strokes from where the shot finishes on the generic hole; the skill that makes this true is
looked for by least squares, with the published leave and share of greens hit from 150 yd beside it. Every
third row is kept out of the fit and its error printed.

Handicaps: no table of their strokes by distance is published. The generic hole is solved, and the errors of
part shots and of judging bring the strokes from 100 yd and the up and downs within 50 yd to the published
ones (least squares, each weighed by its error). Full swings and mishits are laid between the tour player and
a 90-golfer (assumption); the published line of the 90-golfer
from the tee is kept out, and its error printed. A 90-golfer is about a 15-handicap: an index is the mean of
the best 8 of 20 rounds, which lies some 3 strokes under the mean of all (computed, normal law with a
deviation of 3.5 strokes).
"""

from __future__ import annotations

import csv
import dataclasses
import functools
import itertools
import sys
from pathlib import Path

import numpy as np
from generic_hole import PINS, ground, turf
from scipy.optimize import least_squares
from tables import PLAYERS, short_game, solve_generic, strokes_from

from gistools.base.cover_classes import Kind
from gistools.base.units import FOOT_M, YARD_M
from gistools.compute.ballistics.clubs import Club
from gistools.compute.ballistics.flight import NO_OBSTACLES, table_for
from gistools.compute.ballistics.players import CLEAN_FROM_SAND_M, LIES, Player, built_in, lie_rules
from gistools.compute.ballistics.short_game import short_swings
from gistools.compute.ballistics.simulate import records

DATA = Path(__file__).parent / "data" / "published_strokes.csv"
SAMPLES = 64
#: up and downs within 50 yd by handicap (press surveys of tracked shots, second-hand), interpolated between
UP_AND_DOWN = {0.0: 0.54, 10.0: 0.40, 25.0: 0.31}
STROKES_WEIGHT, SHARE_WEIGHT = 0.05, 0.04  # errors that weigh alike (assumptions)
FITTED = (
    *("direction", "carry_sd_pct", "part_carry_sd_pct", "rough_add_pct"),
    *("sand_factor", "bunker_factor", "error_m"),
)
AIM_TO_CURVE = (
    1.4 / 1.83
)  # so that the driver strays 1.5 times as much as a 7-iron (3.4 and 2.3 degrees, second-hand)
DISTANCES = {
    "fairway": (10, 20, 30, 40, 50, 60, 80, 100, 120, 140, 160, 180, 200, 220, 240),
    "rough": (10, 20, 30, 40, 60, 80, 100, 120, 140, 160, 180, 200),
    "sand": (10, 20, 30, 40, 50, 60, 80, 100, 120, 140, 160),
}
#: mean putts of tour players by distance [ft]: Broadie 2011, figure 1 (second-hand)
PUTTS_FT = (0, 2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 30, 40, 50, 60, 90)
PUTTS = (1.0, 1.01, 1.05, 1.14, 1.24, 1.34, 1.43, 1.50, 1.56, 1.61, 1.78, 1.87, 1.98, 2.06, 2.14, 2.21, 2.36)
LEAVE_150_FT, GREENS_150 = (
    23.0,
    0.72,
)  # tour, 150 yd: median leave and greens hit (golf magazine 2018, second-hand)


@functools.cache
def published(player: str, lie: str) -> tuple[np.ndarray, np.ndarray]:
    """Distances [yd] and strokes of a published column."""
    with DATA.open(encoding="utf-8") as lines:
        rows = [r for r in csv.DictReader(lines) if r["player"] == player and r["lie"] == lie]
    return np.array([float(r["yards"]) for r in rows]), np.array([float(r["strokes"]) for r in rows])


@functools.cache
def level_ground():
    """Turf of the generic hole."""
    return turf(*ground(420.0))


def strokes_after(x, y, kind, pin) -> np.ndarray:
    """Published tour strokes from where balls lie."""
    away = np.hypot(x - pin[0], y - pin[1])
    out = np.interp(away / FOOT_M, PUTTS_FT, PUTTS)
    lie = np.array([LIES[int(k)] for k in kind])
    for name in ("fairway", "rough", "sand", "recovery"):
        yards, strokes = published("tour", name)
        there = (lie == name) & (kind != Kind.GREEN)
        at_2_yd = strokes[0] - 0.12  # at 2 yd: on the way to a short putt (assumption)
        out[there] = np.interp(away[there] / YARD_M, np.r_[2.0, yards], np.r_[at_2_yd, strokes])
    return out


def play(club: Club, start, headings, scales):
    """Finishes of shots: x, y, kind of ground."""
    table = table_for(club.launch)
    out = np.concatenate(
        list(records(level_ground(), NO_OBSTACLES, table, (*start, 10.0), headings, scales, threads=1))
    )
    return out["x"], out["y"], out["kind"].astype(int)


@functools.lru_cache(maxsize=512)
def totals_on_green(club: Club, longest_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Carries of a club, and the distance at which such a shot comes to rest on the green [m].

    Totals rise with carry.
    """
    carries = np.linspace(1.0, longest_m, 60)
    finishes = [play(club, (0.0, -c), np.zeros(1), np.full(1, float(club.scale(c))))[1][0] for c in carries]
    return carries, np.maximum.accumulate(carries + np.array(finishes))


def options(player: Player, lie: str, away_m: float) -> list[tuple]:
    """Shots that may reach the hole: name, club, dispersion by carry, longest carry."""
    factor = lie_rules(lie)["distance_factor"]
    shots = []
    for swing in short_swings():
        if lie in swing.lies and away_m < 1.9 * swing.longest_m:
            club = Club(swing.club, 45.0, swing.launch)
            shots.append(
                (
                    swing.name,
                    club,
                    lambda c, swing=swing: player.short_dispersion(swing, lie, c),
                    swing.longest_m,
                )
            )
    bag = player.bag(lie)
    for club, shorter in itertools.zip_longest(bag, bag[1:]):
        if lie == "sand" and shorter is None and away_m < CLEAN_FROM_SAND_M:
            continue
        least = 0.0 if shorter is None else shorter.carry_m * factor - 8.0
        if least <= away_m <= club.carry_m * factor + 20.0 or (
            club is bag[0] and away_m > club.carry_m * factor
        ):
            shots.append(
                (club.name, club, lambda c, club=club: player.dispersion(club, lie, c), club.carry_m * factor)
            )
    return shots


def one_step(player: Player, lie: str, yards: float) -> tuple[float, float, float, str]:
    """Return least mean strokes of a tour player, median leave [ft], greens hit, and the shot."""
    away = yards * YARD_M
    best = (99.0, 0.0, 0.0, "")
    for name, club, by_carry, longest in options(player, lie, away):
        carries, totals = totals_on_green(club, longest)
        carry = float(np.interp(away, totals, carries))
        angle, factor = by_carry(carry).errors(SAMPLES)
        angle, factor = np.r_[angle, -angle], np.r_[factor, factor]
        for off in (-0.05, 0.0, 0.05):
            scales = club.scale(min(carry + off * away, longest) * factor)
            per_pin = []
            for pin in PINS[:3]:
                choices = []
                for aside in (0.0, 0.5) if pin[0] and yards > 50 else (0.0,):
                    aim = np.arctan2(-aside * pin[0], away)
                    x, y, kind = play(club, (pin[0], pin[1] - away), angle + aim, scales)
                    leave = np.hypot(x - pin[0], y - pin[1])
                    mean = 1.0 + float(strokes_after(x, y, kind, pin).mean())
                    choices.append(
                        (mean, float(np.median(leave)) / FOOT_M, float((kind == Kind.GREEN).mean()))
                    )
                per_pin.append(min(choices))
            mean, leave, greens = np.mean(per_pin, axis=0)
            if mean < best[0]:
                best = (float(mean), float(leave), float(greens), name)
    return best


def tour_with(values) -> Player:
    """The tour player with fitted figures."""
    direction, *rest = (max(float(v), 0.01) for v in values)
    aim = direction * AIM_TO_CURVE / np.hypot(AIM_TO_CURVE, 1.0)
    figures = dict(zip(FITTED[1:], rest, strict=True))
    base = built_in("tour man")
    skill = dataclasses.replace(base.skill, aim_sd_deg=aim, curve_sd_deg=aim / AIM_TO_CURVE, **figures)
    return dataclasses.replace(base, skill=skill)


def tour_rows() -> tuple[list, list]:
    """Rows of the fit, and those kept out of it."""
    rows = [(lie, yards) for lie, column in DISTANCES.items() for yards in column]
    return [r for k, r in enumerate(rows) if k % 3 != 1], rows[1::3]


def error_of(player: Player, row) -> float:
    """Strokes of one row less the published ones."""
    return one_step(player, *row)[0] - float(np.interp(row[1], *published("tour", row[0])))


def fit_tour() -> np.ndarray:
    """Fit the tour player; print the rows."""
    fitted, kept_out = tour_rows()
    start, scale = (
        np.array([3.2, 5.4, 14.3, 63.0, 2.2, 1.67, 0.8]),
        np.array([1.0, 2.0, 4.0, 30.0, 1.0, 1.0, 0.5]),
    )

    def residuals(values):
        player = tour_with(values * scale)
        _, leave, greens, _ = one_step(player, "fairway", 150)
        beside = [1.5 * (leave / LEAVE_150_FT - 1.0), 1.5 * (greens - GREENS_150)]
        round_shape = 1.0 * (
            values[1] * scale[1] / (1.75 * values[0] * scale[0]) - 1.0
        )  # tour greens 10 x 10 per cent
        return np.r_[[error_of(player, row) for row in fitted], beside, round_shape]

    values = least_squares(residuals, start / scale, diff_step=0.06, max_nfev=4).x * scale
    player = tour_with(values)
    print(player.skill)
    for title, rows in (("fitted", fitted), ("kept out", kept_out)):
        errors = []
        for row in rows:
            mean, leave, greens, name = one_step(player, *row)
            errors.append(error_of(player, row))
            print(
                f"{title:9} {row[0]:8} {row[1]:4} {mean:.2f} {errors[-1]:+.3f} {name}, {leave:.0f} ft,"
                f" greens {greens:.2f}"
            )
        print(title, "rms", round(float(np.sqrt(np.mean(np.square(errors)))), 3))
    return values


def with_short_game(player: Player, part_carry_sd_pct: float, error_m: float) -> Player:
    """The player with other errors of part shots and of judging."""
    skill = dataclasses.replace(player.skill, part_carry_sd_pct=part_carry_sd_pct, error_m=error_m)
    return dataclasses.replace(player, skill=skill)


def short_of_100_yards(player: Player) -> tuple[float, float]:
    """Strokes from 100 yd, fairway and rough as 6 to 4, and share of up and downs within 50 yd.

    On a short generic hole; of the shots within 50 yd 85 of 100 are played from within 25 (assumptions).
    """
    s = solve_generic(player, 150.0)
    strokes = 0.6 * strokes_from(s, 100.0, "fairway") + 0.4 * strokes_from(s, 100.0, "rough")
    return strokes, 0.85 * short_game(s, 25)[0] + 0.15 * short_game(s, 50)[0]


def fit_handicaps(columns: list[str]) -> None:
    """Fit the errors of part shots and of judging of handicaps, and print them."""
    for column in columns or [c for c in PLAYERS if c.startswith("handicap")]:
        player = built_in(PLAYERS[column])
        target, ups = (
            float(published(column, "approach")[1][0]),
            float(np.interp(player.skill.handicap, *zip(*UP_AND_DOWN.items(), strict=True))),
        )

        def residuals(factors, column=column, player=player, target=target, ups=ups):
            part, error = factors * (player.skill.part_carry_sd_pct, player.skill.error_m)
            strokes, share = short_of_100_yards(with_short_game(player, part, error))
            print(
                f"{column}: part_carry_sd_pct {part:.1f}, error_m {error:.2f}:"
                f" {strokes:.3f} strokes from 100 yd for {target:.2f},"
                f" {share:.3f} up and downs within 50 yd for {ups:.2f}",
                flush=True,
            )
            return np.array([(strokes - target) / STROKES_WEIGHT, (share - ups) / SHARE_WEIGHT])

        best = least_squares(residuals, np.ones(2), bounds=(0.2, 4.0), diff_step=0.15, max_nfev=3)
        print(f"{column}, best:", end=" ")
        residuals(best.x)


def show_kept_out() -> None:
    """Print the line of the 90-golfer from the tee, which is kept out of the fit."""
    solved = solve_generic(built_in(PLAYERS["90-golfer"]), 520.0)
    for yards, line in zip(*published("90-golfer", "tee"), strict=True):
        ours = strokes_from(solved, float(yards), "tee")
        print(f"90-golfer from the tee, {yards:.0f} yd, kept out: {line:.2f} published, {ours - line:+.2f}")


if __name__ == "__main__":
    task, *columns = sys.argv[1:] or ["handicaps"]
    if task == "tour":
        fit_tour()
    else:
        fit_handicaps(columns)
        show_kept_out()
