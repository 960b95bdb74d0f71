"""Fit how normal and soft greens take a ball to observed runs; prints the fit and its residuals.

    python scripts/fit_turf.py

Firm greens keep the numbers that Penner 2002 (Can. J. Phys. 80:931-940, doi 10.1139/p02-035) fitted to
Haake's impacts on what he calls a firm green. Normal and soft greens take restitution and tilt from the
fairway of that firmness. One number is fitted to both: how much faster than in proportion the tilt of the
impulse grows with speed. It leaves the tilt at Penner's one measured impact (18.6 m/s) as it is, lengthens
slower and shortens faster shots.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize_scalar

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.flight import Flight, fly
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.shot_kernels import TILT_GROWTH
from gistools.compute.ballistics.turf import run_out, turf_grid, turf_table
from gistools.compute.terrain.surface import Surface

#: (firmness, player, club, carry [m] or 0 for a full shot, run [m], how sure [m], source); level green of 10
#: ft
OBSERVED = [
    ("normal", "scratch man", "5-iron", 0.0, 8.0, 2.0, "6 to 10 m, common practice, no source"),
    ("normal", "scratch man", "7-iron", 0.0, 3.0, 2.0, "1 to 5 m, common practice, no source"),
    ("normal", "scratch man", "gap wedge", 0.0, -1.0, 1.5, "within two paces, common practice, no source"),
    ("normal", "tour man", "sand wedge", 45.7, 4.0, 1.0, ("3 to 5 m of a half wedge, common"
        " practice, no source")),
    ("soft", "tour man", "5-iron", 0.0, 1.4, 2.0, ("1 to 2 yd on a soft tour course,"
        " dailyduffer.com [second-hand]")),
    ("soft", "tour man", "7-iron", 0.0, 1.4, 2.0, ("1 to 2 yd on a soft tour course,"
        " dailyduffer.com [second-hand]")),
]  # fmt: skip


def flight_of(player: str, club: str, carry_m: float) -> Flight:
    """Flight of a full shot, or of one with a carry [m]."""
    chosen = built_in(player).club(club)
    return fly(chosen.launch if carry_m == 0.0 else chosen.launch.at(float(chosen.scale(carry_m))))


def runs(growth: float) -> list[float]:
    """Run of each observed shot [m] with a growth of tilt."""
    grounds = {}
    for firmness in ("normal", "soft"):
        table = turf_table(firmness, 10.0)
        table[Kind.GREEN, TILT_GROWTH] = growth
        surface = Surface(np.zeros((160, 20)), -5.0, 70.0, 0.5)
        grounds[firmness] = turf_grid(surface, Kind.GREEN, turf=table)
    flights = [(firmness, flight_of(player, club, carry)) for firmness, player, club, carry, *_ in OBSERVED]
    return [run_out(grounds[key], f.speed_ms, f.descent_deg, f.spin_rpm)[0] for key, f in flights]


def best_growth() -> float:
    """Growth with the least sum of squares of (run - observed) / how sure."""

    def misfit(growth: float) -> float:
        pairs = zip(runs(growth), OBSERVED, strict=True)
        return sum(((run - row[4]) / row[5]) ** 2 for run, row in pairs)

    return float(minimize_scalar(misfit, bounds=(0.0, 1.5), method="bounded", options={"xatol": 2e-3}).x)


if __name__ == "__main__":
    best = best_growth()
    print(f"growth of tilt {best:.3f} [fit]")
    for old, new, row in zip(runs(0.0), runs(best), OBSERVED, strict=True):
        firmness, player, club, carry, run, sure, source = row
        shot = f"{player}, {club}" + (f", {carry:.0f} m" if carry else "")
        print(
            f"  {firmness} green, {shot}: {new:5.1f} m ({old:.1f} without growth) for {run} +- {sure}:"
            f" {source}"
        )
