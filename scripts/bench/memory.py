"""Peak memory of a task of a study, and of a study of a whole course in one process, beside their limits.

Usage: ``python scripts/bench/memory.py [--only NAME] [--holes 18]``

A task is a hole played by one player in calm air with all that stands on it, in a process of its own as a
worker runs it: hole 1 of the sample (four hole locations), its par 5, and a par 5 of 560 m with four hole
locations and a burn on cells of 0.5 m, about the longest there is. The course is a study of so many copies of
hole 1 for one player, one after the other in one process. Limits: 2 GB a task, 3 GB the course. It fails
where one is passed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString, Point, box

import gistools as gt
from gistools.compute.terrain.surface import Surface
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.steps.catalogue import STEPS, find
from gistools.steps.parallel import play

TASK_MB, COURSE_MB = 2048.0, 3072.0
PLAYER, WIND = "scratch man", "calm"
LENGTH_M, CELL_M = 560.0, 0.5
BUNKERS = ((-20, 220), (20, 245), (-20, 270), (20, 390), (-20, 420), (20, 545), (-20, 550), (20, 570))


def long_hole() -> Site:
    """Return a par 5 of 560 m on rolling ground: fairway of 36 m, bunkers, a burn, four hole locations."""
    end, pins = (0.0, LENGTH_M), [(a, b) for a in (-6, 6) for b in (-6, 6)]
    layers = {
        "tees": {"tee": ["back", "front"], "geometry": [box(-4, -4, 4, 4), box(-4, 56, 4, 64)]},
        "fairway": {"geometry": [box(-18, 120, 18, LENGTH_M - 35)]},
        "greens": {"geometry": [Point(end).buffer(15)]},
        "pins": {
            "pin": ["front left", "back left", "front right", "back right"],
            "geometry": [Point(end[0] + a, end[1] + b) for a, b in pins],
        },
        "bunkers": {"geometry": [Point(place).buffer(5) for place in BUNKERS]},
        "burns": {"width_m": [4.0], "geometry": [LineString([(-80, 330), (80, 370)])]},
    }
    tables = {name: gpd.GeoDataFrame({"hole": 1, **rows}) for name, rows in layers.items()}
    across, along = np.arange(-100.0, 100.0, CELL_M), np.arange(LENGTH_M + 80.0, -60.0, -CELL_M)
    z = 30 + 2 * np.sin(across / 40)[None, :] * np.cos(along / 60)[:, None] + 0.01 * across[None, :]
    return Site.from_tables(tables, 27700, Surface(z, -100.0, LENGTH_M + 80.0, CELL_M))


def course(holes: int) -> Site:
    """Return so many copies of hole 1 of the sample on the same ground."""
    site = sample_site()
    copies = {}
    for name, table in site.tables.items():
        if "hole" in table and name != "settings":
            first = table[table["hole"] == 1]
            copies[name] = pd.concat([first.assign(hole=k + 1) for k in range(holes)], ignore_index=True)
    return site.replace(**copies)


def run(name: str, holes: int) -> None:
    """Run one case in this process."""
    if name == "course":
        gt.study(course(holes), players=(PLAYER,), winds=(WIND,), write=False)
        return
    site, hole = {"hole 1": (sample_site, 1), "par 5": (sample_site, 3), "560 m": (long_hole, 1)}[name]
    steps = [
        step
        for step in STEPS
        if find(step).cost == "minutes" and {"players", "winds"} <= {c.name for c in find(step).choices}
    ]
    play(site(), steps, hole, PLAYER, [WIND])


def peak_mb(who: int) -> float:
    """Return the most memory [MB] of this process or of the largest that it ran."""
    return resource.getrusage(who).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)


def main() -> int:
    """Run each case in a process of its own and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    cases = {"hole 1": TASK_MB, "par 5": TASK_MB, "560 m": TASK_MB, "course": COURSE_MB}
    words.add_argument("--only", action="append", choices=list(cases), help="only this case (repeatable)")
    words.add_argument("--holes", type=int, default=18, help="holes of the course")
    words.add_argument("--here", choices=list(cases), help=argparse.SUPPRESS)
    given = words.parse_args()
    if given.here:
        run(given.here, given.holes)
        used = resource.getrusage(resource.RUSAGE_SELF)
        print(f"{peak_mb(resource.RUSAGE_SELF):.0f} {used.ru_utime + used.ru_stime:.0f}")
        return 0
    print("| case | most memory [MB] | limit [MB] | processor [s] |\n|---|---|---|---|")
    passed = False
    for name in given.only or cases:
        command = [sys.executable, str(Path(__file__)), "--here", name, "--holes", str(given.holes)]
        last = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()[-1]
        peak, seconds = map(float, last.split())
        passed |= peak > cases[name]
        shown = f"course of {given.holes} holes" if name == "course" else name
        print(f"| {shown} | {peak:.0f} | {cases[name]:.0f} | {seconds:.0f} |", flush=True)
    return int(passed)


if __name__ == "__main__":
    raise SystemExit(main())
