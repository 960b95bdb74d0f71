"""Run every bench one after the other and sum up.

Usage: ``python scripts/bench/all.py [--only NAME ...] [--to FILE] [--picture FILE]``

Each bench prints figures beside a named alternative of the same run, which is what to compare; the sum here
is how long each took, by the clock and by the processor, and whether it ended well. A bench fails where an
answer it timed is wrong or a limit is passed. ``--picture`` draws how time grows with holes, features,
states, hole locations, players and workers.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
#: bench -> words it is run with
BENCHES = {
    "layout_study": (),
    "flag_views": (),
    "volumes": (),
    "shots": (),
    "strategy": (),
    "warm_start": (),
    "candidates": ("--count", "6"),
    "study": (),
    "large_site": (),
    "memory": (),
    "guard": (),
    "scaling": ("--cell", "6"),
    "growth": (),
}


def run(name: str, words: tuple[str, ...]) -> tuple[str, float, float, int]:
    """Run one bench and return what it printed, seconds by the clock and the processor, and its exit code."""
    start, used = time.perf_counter(), _children_seconds()
    done = subprocess.run(
        [sys.executable, str(FOLDER / f"{name}.py"), *words],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False,
    )  # fmt: skip
    return done.stdout, time.perf_counter() - start, _children_seconds() - used, done.returncode


def _children_seconds() -> float:
    """Return the processor time of ended child processes [s]; nan where the system does not tell."""
    with contextlib.suppress(AttributeError):
        times = os.times()
        return times.children_user + times.children_system
    return float("nan")


def main() -> int:
    """Run what is asked for."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--only", action="append", choices=list(BENCHES), help="only this bench (repeatable)")
    words.add_argument("--to", type=Path, help="write everything printed into this file as well")
    words.add_argument("--picture", type=Path, help="draw the growth into this PNG or SVG file")
    given = words.parse_args()
    names = given.only or list(BENCHES)
    extra: dict[str, tuple[str, ...]] = {}
    if given.picture:
        figures = str(given.picture.with_suffix(".json"))
        extra = {
            "scaling": ("--to", figures),
            "growth": ("--picture", str(given.picture), "--scaling", figures),
        }
    lines = [f"{platform.python_implementation()} {platform.python_version()}, {os.cpu_count()} processors"]
    table = ["", "| bench | clock [s] | processor [s] | ended |", "|---|---|---|---|"]
    codes = []
    for name in names:
        print(f"== {name}", flush=True)
        text, clock, processor, code = run(name, (*BENCHES[name], *extra.get(name, ())))
        print(text, flush=True)
        lines += [f"== {name}", text]
        table.append(
            f"| {name} | {clock:.0f} | {processor:.0f} | {'well' if code == 0 else f'code {code}'} |"
        )
        codes.append(code)
    print("\n".join(table))
    if given.to:
        given.to.write_text("\n".join([*lines, *table]) + "\n", encoding="utf-8")
    return max(codes, default=0)


if __name__ == "__main__":
    raise SystemExit(main())
