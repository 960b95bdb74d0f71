"""Fit how normal and soft greens take a ball to observed runs; prints the fit and its residuals.

    python scripts/fit_turf.py

Firm greens keep the numbers that Penner 2002 (Can. J. Phys. 80:931-940, doi 10.1139/p02-035) fitted to
Haake's impacts on what he calls a firm green: factors of 1. The factor on the tilt of the impulse is fitted,
it sets the run (a quarter more halves that of a 5-iron); restitution and friction move runs by about 1 m
(same paper) and are not fitted.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize_scalar

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.flight import Flight, fly
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.turf import run_out, turf_grid, turf_table
from gistools.compute.terrain.surface import Surface

Row = tuple[str, tuple[str, ...], float, float, str]
#: (player, clubs, mean run [m], how sure [m], source), level green of 10 ft
NORMAL: list[Row] = [
    ("scratch man", ("5-iron",), 8.0, 2.0, "6 to 10 m, common practice, no source"),
    ("scratch man", ("7-iron",), 3.0, 2.0, "one to five paces, common practice, no source"),
    (
        "scratch man",
        ("gap wedge",),
        -1.0,
        1.5,
        "a full wedge stops within two paces, common practice, no source",
    ),
]
SOFT_SOURCE = "irons 1 to 2 yd on a soft tour course, dailyduffer.com [second-hand]"
SOFT: list[Row] = [
    ("tour man", ("5-iron",), 1.4, 1.0, SOFT_SOURCE),
    ("tour man", ("7-iron",), 1.4, 1.0, SOFT_SOURCE),
    ("tour man", ("9-iron",), 1.4, 1.0, SOFT_SOURCE),
]
RESTITUTION = {"normal": 0.85, "soft": 0.70}  # as the fairway of that firmness (assumption)


def run(flight: Flight, k_e: float, k_t: float) -> float:
    """Run on a level green of 10 ft [m]."""
    table = turf_table("normal", 10.0)
    table[Kind.GREEN, :2] = k_e, k_t
    ground = turf_grid(Surface(np.zeros((160, 20)), -5.0, 70.0, 0.5), Kind.GREEN, turf=table)
    return run_out(ground, flight.speed_ms, flight.descent_deg, flight.spin_rpm)[0]


def runs(rows: list[Row], k_e: float, k_t: float) -> list[float]:
    """Mean run of each row [m]."""
    flights = [[fly(built_in(who).club(c).launch) for c in clubs] for who, clubs, *_ in rows]
    return [float(np.mean([run(f, k_e, k_t) for f in group])) for group in flights]


def best_tilt(rows: list[Row], k_e: float) -> float:
    """Tilt factor with the least sum of squares of (run - observed) / how sure."""

    def misfit(k_t: float) -> float:
        return sum(((a - r[2]) / r[3]) ** 2 for a, r in zip(runs(rows, k_e, k_t), rows, strict=True))

    return float(minimize_scalar(misfit, bounds=(0.8, 1.8), method="bounded", options={"xatol": 2e-3}).x)


def main() -> None:
    """Print the fits."""
    for firmness, rows in (("normal", NORMAL), ("soft", SOFT)):
        k_e = RESTITUTION[firmness]
        best = best_tilt(rows, k_e)
        print(f"{firmness} green: restitution factor {k_e}, tilt factor {best:.3f} [fit]")
        for (who, clubs, observed, sure, source), got in zip(rows, runs(rows, k_e, best), strict=True):
            print(f"  {who}, {', '.join(clubs)}: {got:5.1f} m for {observed} +- {sure} ({source})")


if __name__ == "__main__":
    main()
