"""How a study scales over processes of this machine and over a local cluster, with the answers compared.

Usage: ``python scripts/bench/scaling.py [--workers 1 2] [--cluster 4] [--players 2] [--cell 3] [--to FILE]``

Holes of the sample by so many players in calm air are played for the step `positions`, by this process alone,
by workers, and by a dask cluster of so many one-thread workers. A process plays a hole on all processors
already, so that on two processors there is nothing to win but what a hole does on one thread. Therefore two
figures stand beside the clock: processor time of all processes, and the efficiency by it, which is the
processor time of this process alone over that of the arm (1 where sharing costs nothing; a process that plays
a hole for several players computes its outcome table once). Outcome tables that an arm stored are deleted
before the next. Loading of libraries in each new worker is part of an arm, since it is part of a study. It
fails where an arm's answers differ from those of this process alone.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from gistools.cli.executors import executor_of
from gistools.cli.warmup import prepare
from gistools.compute.decision.outcome_tables import table_folder
from gistools.site.sample import sample_site
from gistools.steps.study import study

PLAYERS = ("scratch man", "bogey man", "scratch woman", "bogey woman")
STIMP_FT = 10.01  # of no other study: nothing is stored yet
TOLERANCE_STROKES = 1e-6


def processor_s() -> float:
    """Return the processor time of this process and of all children that have ended [s]."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


@contextmanager
def cluster_of(count: int) -> Iterator[Executor]:
    """Yield the executor of a dask cluster of so many processes of one thread on this machine."""
    import distributed

    local = {"n_workers": count, "threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with (
        distributed.LocalCluster(**local) as cluster,
        executor_of(None, cluster.scheduler_address) as executor,
    ):
        assert executor is not None
        yield executor


def played(executor: Executor | None, players: int, cell_m: float) -> Any:
    """Run the study of an arm and return its table of positions."""
    settings = {"mesh_cell_m": cell_m, "stimp_ft": STIMP_FT}
    who, air = PLAYERS[:players], ("calm",)
    site = sample_site().with_settings(settings)
    return study(site, only=["positions"], players=who, winds=air, write=False, executor=executor).table(
        "positions"
    )


def measured(workers: list[int], cluster: int, players: int, cell_m: float) -> list[dict[str, Any]]:
    """Run every arm and return its figures."""
    arms: list[tuple[str, int, Any]] = [("this process alone", 1, lambda: executor_of(None, None))]
    arms += [(f"{n} workers" if n > 1 else "1 worker", n, lambda n=n: executor_of(n, None)) for n in workers]
    if cluster:
        arms += [(f"cluster of {cluster}", cluster, lambda: cluster_of(cluster))]
    rows: list[dict[str, Any]] = []
    first: Any = None
    stored = set(table_folder().glob("*.npz"))
    for name, count, context in arms:
        start, used = time.perf_counter(), processor_s()
        with context() as executor:
            table = played(executor, players, cell_m)
        clock, processor = time.perf_counter() - start, processor_s() - used
        for file in set(table_folder().glob("*.npz")) - stored:
            file.unlink()
        first = table if first is None else first
        off = np.abs(table["total_strokes"].to_numpy() - first["total_strokes"].to_numpy())
        rows.append(
            {"arm": name, "processes": count, "clock_s": clock, "processor_s": processor,
             "faster": rows[0]["clock_s"] / clock if rows else 1.0,
             "efficiency": rows[0]["processor_s"] / processor if rows else 1.0,
             "off": float(np.nanmax(off)), "rows": len(table)}
        )  # fmt: skip
        print(
            f"| {name} | {clock:.0f} | {processor:.0f} | {rows[-1]['faster']:.2f} |"
            f" {rows[-1]['efficiency']:.2f} | {rows[-1]['off']:.1e} |",
            flush=True,
        )
    return rows


def main() -> int:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--workers", type=int, nargs="*", default=[1, 2], help="arms with so many processes")
    words.add_argument("--cluster", type=int, default=4, help="processes of the local cluster, 0 for none")
    words.add_argument("--players", type=int, default=2, choices=range(1, 5), help="players")
    words.add_argument("--cell", type=float, default=3.0, help="side of a cell of the mesh [m]")
    words.add_argument("--to", type=Path, help="write the figures into this JSON file as well")
    given = words.parse_args()
    prepare()  # else the first arm compiles
    print(f"{os.cpu_count()} processors, load before {os.getloadavg()[0]:.1f}; {3 * given.players} tasks")
    print("| arm | clock [s] | processor [s] | faster | efficiency | off by [strokes] |")
    print("|---|---|---|---|---|---|")
    rows = measured(given.workers, given.cluster, given.players, given.cell)
    if given.to:
        given.to.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    return int(max(row["off"] for row in rows) > TOLERANCE_STROKES)


if __name__ == "__main__":
    raise SystemExit(main())
