"""Fit the putting errors of players to published rates.

Writes ``gistools/compute/ballistics/data/putters.csv``.

``python scripts/fit_putting.py`` prints every row with its residual; every third row is left out of the fit.
The errors of handicaps are straight lines in the handicap; tour and 90-golfer stand alone. Level ground
stands for the ordinary greens of the published rates. Takes about three minutes.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from gistools.base.units import FOOT_M
from gistools.compute.decision.putting import Putter, holed, mean_putts, three_putts

DATA = Path(__file__).parents[1] / "gistools/compute/ballistics/data/putters.csv"
#: tour: feet, tries, holed; Broadie 2016-2018 in Gelman's golf case study (golf_data_new.txt, new BSD)
#: [published]
TOUR = (
    "0.97 183020 182899 | 1.93 169503 168594 | 2.92 113094 108953 | 3.93 73855 64740 | 4.94 53659"
    " 41106 | 5.94 42991 28205"
    " | 6.95 37050 21334 | 7.95 33275 16615 | 8.95 30836 13503 | 9.95 28637 11060 | 11.95 24636 7687 |"
    " 14.43 41267 9813"
    " | 16.43 35712 7196 | 20.44 28280 4086 | 24.39 46570 4767 | 28.40 38422 2980 | 36.39 25604 1327 |"
    " 48.37 11770 311"
    " | 63.23 5492 103"
)
#: mean putts, tour: Broadie, Putts Gained, draft of 13 January 2011, data of Figure 1 [second-hand]
PUTTS = {
    2: 1.01,
    3: 1.05,
    4: 1.14,
    5: 1.24,
    6: 1.34,
    7: 1.43,
    8: 1.50,
    9: 1.56,
    10: 1.61,
    15: 1.78,
    20: 1.87,
    30: 1.98,
    40: 2.06,
    50: 2.14,
    60: 2.21,
    90: 2.36,
}
#: 90-golfer, share holed by feet: compilation of Broadie's figures [second-hand]; two putts from 19 ft:
#: Broadie 2011 [second-hand]
NINETY = {3: 84, 4: 65, 5: 50, 6: 39, 8: 27, 10: 20, 15: 11, 20: 6, 30: 2}
#: share holed [%] by handicap in bands of feet; press figures of a shot-record service [second-hand]
BANDS = {
    0: {(0, 3): 98, (3, 6): 76, (6, 9): 49, (9, 12): 34, (18, 24): 12, (30, 45): 4},
    5: {(0, 3): 96, (6, 9): 44},
    10: {(0, 3): 96, (3, 6): 65, (6, 9): 39, (9, 12): 26, (18, 24): 10, (30, 45): 3},
    15: {(0, 3): 93, (6, 9): 36},
    20: {(0, 3): 90, (6, 9): 33},
    25: {
        (0, 3): 88,
        (3, 6): 48,
        (6, 9): 30,
        (9, 12): 17,
        (12, 18): 12,
        (18, 24): 6,
        (24, 30): 4,
        (30, 45): 2,
    },
}
STIMP = {"tour": 11.0, "amateur": 9.0}  # Bansal & Broadie 2008 [second-hand]
#: stroke [degrees] and share of break misread of a professional and a 90-golfer, Bansal & Broadie 2008
#: [second-hand]
PRO, AM = (1.0, 0.15), (1.5, 0.25)
NINETY_HANDICAP = 18.0  # of a player who scores 90 on a course of 72 (assumption)


def band(low: float, high: float) -> np.ndarray:
    """Distances of a band [m], spread evenly.

    The nearest band from two feet, since shorter ones are not counted (assumption).
    """
    return np.linspace(max(low, 2.0), high, 7) * FOOT_M


def rates(putter: Putter, bands: dict[tuple[int, int], int]) -> np.ndarray:
    """Chance to hole by band [%]."""
    return np.array([100 * np.mean(holed(band(*b), putter, STIMP["amateur"])) for b in bands])


def third(n: int) -> np.ndarray:
    """Rows left out of the fit: every third."""
    return np.arange(n) % 3 == 1


def show(title: str, names: list[str], published: np.ndarray, model: np.ndarray, out: np.ndarray) -> None:
    """Print rows beside the model, rows left out marked, and both root mean squares."""
    print(f"\n{title}")
    for name, p, m, o in zip(names, published, model, out, strict=True):
        print(f"  {name:>12s} {p:8.3f} {m:8.3f} {m - p:+8.3f}{'  left out' if o else ''}")
    r = model - published
    print(f"  rms fitted {np.sqrt(np.mean(r[~out] ** 2)):.3f}, left out {np.sqrt(np.mean(r[out] ** 2)):.3f}")


def fit_tour() -> Putter:
    """Fit the tour's errors to make rates and mean putts."""
    rows = np.array([[float(v) for v in row.split()] for row in TOUR.split("|")])
    share = 100 * rows[:, 2] / rows[:, 1]
    d, f = rows[:, 0] * FOOT_M, np.array(list(PUTTS), float) * FOOT_M
    mean = np.array(list(PUTTS.values()))
    out, out_mean = third(len(d)), third(len(f))

    def putter(v: np.ndarray) -> Putter:
        return Putter(float(v[0]), float(v[1]), float(v[2]), *PRO)

    def residuals(v: np.ndarray) -> np.ndarray:
        p = putter(v)
        r = (100 * holed(d, p, STIMP["tour"]) - share)[~out] / 1.0
        return np.concatenate([r, (mean_putts(f, p, STIMP["tour"]) - mean)[~out_mean] / 0.01])

    p = putter(
        least_squares(residuals, [1.4, 0.16, 0.065], diff_step=0.02, max_nfev=12, x_scale=[1, 0.1, 0.05]).x
    )
    show(
        "tour, share holed [%] by feet", [f"{v:.1f}" for v in rows[:, 0]], share, 100 * holed(d, p, 11.0), out
    )
    show("tour, mean putts by feet", [str(v) for v in PUTTS], mean, mean_putts(f, p, 11.0), out_mean)
    return p


def fit_ninety(tour: Putter) -> Putter:
    """Fit the 90-golfer to make rates and the distance of two putts.

    Rates hardly say the length share, so it is held to the tour's.
    """
    d, share = np.array(list(NINETY), float) * FOOT_M, np.array(list(NINETY.values()), float)
    out = third(len(d))

    def putter(v: np.ndarray) -> Putter:
        return Putter(float(v[0]), float(v[1]), float(v[2]), *AM)

    def residuals(v: np.ndarray) -> np.ndarray:
        p = putter(v)
        r = (100 * holed(d, p, STIMP["amateur"]) - share)[~out]
        two = (mean_putts(19 * FOOT_M, p, STIMP["amateur"]) - 2.0) / 0.01
        return np.concatenate([r, [two, (v[2] - tour.length_share) / 0.003]])

    p = putter(
        least_squares(residuals, [1.9, 0.5, 0.085], diff_step=0.02, max_nfev=12, x_scale=[1, 0.1, 0.05]).x
    )
    show("90-golfer, share holed [%] by feet", [str(v) for v in NINETY], share, 100 * holed(d, p, 9.0), out)
    print(f"  mean putts from 19 ft {mean_putts(19 * FOOT_M, p, 9.0):.3f}, published 2.0")
    return p


def fit_handicaps(tour: Putter, ninety: Putter) -> dict[int, Putter]:
    """Fit straight lines in the handicap.

    The length share goes from the tour's to the 90-golfer's, as bands say little of it.
    """
    share = np.array([v for bands in BANDS.values() for v in bands.values()], float)
    out = third(len(share))

    def putter(v: np.ndarray, h: float) -> Putter:
        part = h / NINETY_HANDICAP
        stroke = min(PRO[0] + 0.1 + (AM[0] - PRO[0] - 0.1) * part, v[0] + v[1] * h)
        reading = PRO[1] + 0.02 + (AM[1] - PRO[1] - 0.02) * part
        length = v[4] + (ninety.length_share - v[4]) * part
        return Putter(
            float(v[0] + v[1] * h), float(max(v[2] + v[3] * h, 0.01)), float(length), stroke, reading
        )

    def model(v: np.ndarray) -> np.ndarray:
        return np.concatenate([rates(putter(v, h), bands) for h, bands in BANDS.items()])

    def residuals(v: np.ndarray) -> np.ndarray:
        return np.append((model(v) - share)[~out], (v[4] - tour.length_share) / 0.003)

    start = [1.45, 0.03, 0.2, 0.02, 0.09]
    v = least_squares(residuals, start, diff_step=0.03, max_nfev=10, x_scale=[1, 0.03, 0.2, 0.02, 0.05]).x
    names = [f"{h}: {a}-{b} ft" for h, bands in BANDS.items() for a, b in bands]
    show("handicaps, share holed [%] by band", names, share, model(v), out)
    return {h: putter(v, h) for h in BANDS}


def main() -> int:
    """Fit, print, write."""
    tour = fit_tour()
    ninety = fit_ninety(tour)
    rows: list[tuple[str, Putter, str]] = [
        ("tour", tour, "fit to Broadie 2016-2018 make rates (golf_data_new.txt) and Broadie 2011 mean putts"),
        (
            "90-golfer",
            ninety,
            "fit to make rates compiled from Broadie and two putts from 19 ft, Broadie 2011",
        ),
    ]
    for h, p in fit_handicaps(tour, ninety).items():
        rows.append((str(h), p, "fit of straight lines in the handicap to make rates by band (press)"))
    for name, p, _ in rows:
        print(name, p)
    print("\nchance of three putts [%] and mean putts")
    for name, p, _ in rows:
        s = STIMP["tour" if name == "tour" else "amateur"]
        d = np.array([10.0, 20.0, 30.0, 40.0, 60.0]) * FOOT_M
        print(f"  {name:>9s}", np.round(100 * three_putts(d, p, s), 1), np.round(mean_putts(d, p, s), 3))
    with DATA.open("w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow(
            [
                "putter",
                "near_deg",
                "per_m_deg",
                "length_share",
                "stroke_deg",
                "reading_share",
                "turf_share",
                "source",
            ]
        )
        for name, p, source in rows:
            numbers = [p.near_deg, p.per_m_deg, p.length_share, p.stroke_deg, p.reading_share, p.turf_share]
            write.writerow(
                [
                    name,
                    *(f"{v:.4g}" for v in numbers),
                    f"{source} [fit]; stroke and reading Bansal & Broadie 2008 [second-hand], between"
                    f" them interpolated by"
                    " handicap; women as men of the same handicap [assumption]; turf [assumption]",
                ]
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
