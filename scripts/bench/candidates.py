"""What one candidate change of hole 1 costs a search: two hole locations, one player, calm.

Usage: ``python scripts/bench/candidates.py [--count 12]``

A mound and two bunkers are moved by figures drawn at random, on the coarse mesh of a search, warm. Prints
clock and processor time as they add up, and what 100 would take. Limit: five minutes on two idle cores.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from gistools.design.compare import ground_rows
from gistools.design.edits import apply_edits
from gistools.design.search import COARSE_M
from gistools.design.zone_totals import zone_totals
from gistools.hole import HoleModel
from gistools.site.players import one_player, one_wind
from gistools.site.sample import sample_site

LIMIT_S = 300.0
MOVES = (("Haar Knowe", "along_m", 8.0), ("Burdock", "across_m", 5.0), ("Spurge", "along_m", 5.0))


def main() -> int:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=12, help="candidates")
    count = parser.parse_args().count
    site = sample_site().with_settings(mesh_cell_m=COARSE_M)
    pins = site.tables["pins"]
    keep = (pins["hole"] != 1) | pins["pin"].isin(["front left", "back right"])
    site = site.replace(pins=pins[keep].reset_index(drop=True))
    zone_totals(site, 1, "back")
    HoleModel(site, 1).states_in_play("back", one_player(site, "scratch man"), one_wind(site, "calm"))
    draw = np.random.default_rng(5)
    clock, processor = time.perf_counter(), time.process_time()
    for k in range(count):
        feature, figure, most = MOVES[k % len(MOVES)]
        edit = {"action": "move", "feature": feature, "hole": 1, figure: float(draw.uniform(-most, most))}
        variant = apply_edits(site, [edit])
        ground_rows(site, variant, 1)
        zone_totals(variant.as_variant_of(site, "back"), 1, "back")
        spent = time.perf_counter() - clock, time.process_time() - processor
        print(
            f"{feature:12} {figure:9} {edit[figure]:+5.1f}  {spent[0]:6.1f} s  {spent[1]:6.1f} s of processor"
        )
    hundred = 100.0 * spent[0] / count
    print(
        f"100 candidates: {hundred:.0f} s of the clock, {100 * spent[1] / count:.0f} s of processor;"
        f" limit {LIMIT_S:.0f} s"
    )
    return int(hundred > LIMIT_S)


if __name__ == "__main__":
    raise SystemExit(main())
