"""Strokes of a changed hole from the solution before the change, beside solving it from nothing.

Usage: ``python scripts/bench/warm_start.py [--cell 3]``

Hole 1 of the sample, scratch man in calm air from the back tee, two hole locations, four changes; computed
anew where tee shots lead to alone, as a search does. Processor time of both, their ratio, and by how much the
totals over the landing zones differ. It fails where a total over a zone beyond the burn differs by more than
0.02 strokes.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

import gistools as gt
from gistools.design.edits import apply_edits
from gistools.design.zone_totals import zone_totals
from gistools.hole import HoleModel
from gistools.site.players import one_player, one_wind
from gistools.site.sample import sample_site

CHANGES = {
    "mound half a metre higher": {"action": "raise", "feature": "Haar Knowe", "rise_m": 0.5},
    "mound moved 6 m": {"action": "move", "feature": "Haar Knowe", "hole": 1, "along_m": -6.0},
    "burn turned by 6 degrees": {"action": "turn", "feature": "Teasel Burn", "hole": 1, "turn_deg": 6.0},
    "bunker left out": {"action": "remove", "feature": "Burdock"},
}
LIMIT = 0.02


def timed(site: gt.Site) -> tuple[float, dict[str, dict[str, float]]]:
    """Return processor time [s] and totals by hole location and landing zone."""
    start = time.process_time()
    totals = zone_totals(site, 1, "back")
    return time.process_time() - start, totals


def main() -> int:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--cell", type=float, default=3.0, help="side of a cell of the mesh [m]")
    site = sample_site().with_settings(mesh_cell_m=words.parse_args().cell)
    pins = site.tables["pins"]
    kept_pins = (pins["hole"] != 1) | pins["pin"].isin(["front left", "front right"])
    site = site.replace(pins=pins[kept_pins].reset_index(drop=True))
    timed(site)
    start = time.process_time()
    HoleModel(site, 1).states_in_play("back", one_player(site, "scratch man"), one_wind(site, "calm"))
    print(f"States that tee shots lead to, once for all changes: {time.process_time() - start:.1f} s")
    print("| change | from nothing [s] | warm [s] | ratio | zones, mean | worst | beyond the burn, worst |")
    print("|---|---|---|---|---|---|---|")
    failed = False
    for name, change in CHANGES.items():
        variant = apply_edits(site, [change])
        cold_s, cold = timed(variant)
        warm_s, warm = timed(variant.as_variant_of(site, tee="back"))
        off = {(p, z): abs(warm[p][z] - total) for p, zones in cold.items() for z, total in zones.items()}
        beyond = max(v for (_, z), v in off.items() if z.startswith("beyond"))
        every = np.array(list(off.values()))
        print(
            f"| {name} | {cold_s:.1f} | {warm_s:.1f} | {cold_s / warm_s:.1f} | {every.mean():.4f} |"
            f" {every.max():.3f} | {beyond:.3f} |"
        )
        failed |= beyond > LIMIT
    return int(failed)


if __name__ == "__main__":
    raise SystemExit(main())
