"""What one candidate change of hole 1 costs a search: two hole locations, one player, calm.

Usage: ``python scripts/bench/candidates.py [--count 12] [--workers 2]``

A mound and two bunkers are moved by figures drawn at random, on the coarse mesh of a search, warm, in one
process or several. Prints clock and processor time, and what 100 would take, the unchanged hole included
(which each process solves once). Limit: five minutes on two idle cores.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context

import numpy as np

from gistools.design.compare import ground_rows
from gistools.design.edits import apply_edits
from gistools.design.search import COARSE_M
from gistools.design.zone_totals import zone_totals
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import one_player, one_wind
from gistools.site.sample import sample_site

LIMIT_S = 300.0
#: features, what moves them, and between which figures
MOVES = (
    ("Haar Knowe", "along_m", -8.0, 0.0),
    ("Burdock", "across_m", 0.0, 5.0),
    ("Spurge", "along_m", -5.0, 5.0),
)


@cache
def unchanged() -> Site:
    """Return the hole with two hole locations, solved."""
    site = sample_site().with_settings(mesh_cell_m=COARSE_M)
    pins = site.tables["pins"]
    keep = (pins["hole"] != 1) | pins["pin"].isin(["front left", "back right"])
    site = site.replace(pins=pins[keep].reset_index(drop=True))
    zone_totals(site, 1, "back")
    HoleModel(site, 1).states_in_play("back", one_player(site, "scratch man"), one_wind(site, "calm"))
    return site


def play(number: int) -> tuple[str, float, float]:
    """Play one candidate; return its edit, and processor time for it and for the unchanged hole [s]."""
    start = time.process_time()
    site = unchanged()
    base = time.process_time() - start
    feature, figure, low, high = MOVES[number % len(MOVES)]
    metres = float(np.random.default_rng(number).uniform(low, high))
    variant = apply_edits(site, [{"action": "move", "feature": feature, "hole": 1, figure: metres}])
    ground_rows(site, variant, 1)
    zone_totals(variant.as_variant_of(site, "back"), 1, "back")
    return f"{feature:12} {figure:9} {metres:+5.1f}", time.process_time() - start - base, base


def main() -> int:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=12, help="candidates")
    parser.add_argument("--workers", type=int, default=1, help="processes")
    words = parser.parse_args()
    start = time.perf_counter()
    if words.workers == 1:
        rows = list(map(play, range(words.count)))
    else:
        with ProcessPoolExecutor(words.workers, mp_context=get_context("spawn")) as pool:
            rows = list(pool.map(play, range(words.count)))
    clock = time.perf_counter() - start
    for edit, seconds, _ in rows:
        print(f"{edit}  {seconds:6.1f} s of processor")
    each, base = np.mean([r[1] for r in rows]), sum(r[2] for r in rows) / words.workers
    print(
        f"{words.count} candidates: {clock:.0f} s of the clock; {each:.1f} s of processor each, {base:.0f} s"
        f" for the unchanged hole in each process; 100: {100 * each:.0f} s of processor; limit"
        f" {LIMIT_S:.0f} s of the clock on two idle cores"
    )
    return int(clock * 100 / words.count > LIMIT_S)


if __name__ == "__main__":
    raise SystemExit(main())
