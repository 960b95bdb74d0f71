"""Kill a writing process again and again; the site file must always be all old or all new, and whole.

Usage: ``python scripts/bench/kill_test.py [--kills 120] [--folder FOLDER]``

Each round a child process writes a new generation of results (three layers, a map, an empty table) into a
site and is killed by SIGKILL: at a statement of the transaction chosen in turn, at a moment chosen at
random, or a random few milliseconds after it has asked to commit. Then the file is opened as a user would,
and checked: the integrity check of SQLite, every survey row the same, and all results of one generation,
the last one or the new one. POSIX only (fork, SIGKILL).
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

import gistools as gt
from gistools.site.model import Site
from gistools.site.result_layers import read_result
from gistools.site.results import Map

LAYERS = ("kill_a", "kill_b", "kill_c")
ROWS = 300
MODES = ("statement", "moment", "commit")


def results(site: Site, generation: int) -> list:
    """Make results that carry their generation in every row and cell."""
    rows = ROWS
    west, south, _, _ = site.hole_bounds(site.holes[0])
    points = shapely.points(west + np.arange(rows) % 400, south + np.arange(rows) // 400)
    made: list = []
    for _ in LAYERS:
        table = gpd.GeoDataFrame(
            {"hole": [1] * rows, "generation": [generation] * rows, "text": ["x" * 500] * rows},
            geometry=points,
            crs=site.crs,
        )
        made.append(table)
    rows = pd.DataFrame({"generation": [generation]})
    made.append(rows)
    for table, layer in zip(made, (*LAYERS, "kill_table"), strict=True):
        table.attrs = {"layer": layer, "step": "kill", "options": {"generation": generation}}
    values = np.full((300, 300), generation, "float32")
    attrs = {"step": "kill", "options": {"generation": generation}}
    made.append(Map("kill_map", values, west, south + 300, 1.0, "m", "generation", attrs=attrs))
    return made


def generations(path: Path) -> set[int]:
    """Return the generations found in the file, over all result layers and their records."""
    numbers: set[int] = set()
    for layer in (*LAYERS, "kill_table"):
        table = read_result(path, layer)
        numbers |= {int(g) for g in table["generation"].unique()}
        numbers.add(int(table.attrs["options"]["generation"]))
        if layer in LAYERS:
            numbers.add(-1 if len(table) != ROWS else int(table["generation"].iloc[0]))
    whole = read_result(path, "kill_map")
    return numbers | {int(g) for g in np.unique(whole.values)} | {int(whole.attrs["options"]["generation"])}


def survey_state(path: Path) -> str:
    """Return a hash over all rows of all survey tables."""
    digest = hashlib.sha256()
    with contextlib.closing(sqlite3.connect(path)) as link:
        for (name,) in link.execute("SELECT table_name FROM gpkg_contents ORDER BY 1").fetchall():
            if not name.startswith("study_") and name != "layer_styles":
                for row in link.execute(f'SELECT * FROM "{name}" ORDER BY rowid'):
                    digest.update(repr((name, row)).encode())
    return digest.hexdigest()


def write_and_die(site: Site, made: list, mode: str, statement: int, pipe: int) -> None:
    """Write in this (child) process; in ``statement`` mode kill it at that statement."""
    count = 0

    def trace(text: str) -> None:
        nonlocal count
        count += 1
        if text == "COMMIT":
            os.write(pipe, b"c")
        if mode == "statement" and count == statement:
            os.kill(os.getpid(), signal.SIGKILL)

    connect = sqlite3.connect

    def traced(*args, **kwargs):
        link = connect(*args, **kwargs)
        if kwargs.get("isolation_level", "") is None:
            link.set_trace_callback(trace)
        return link

    sqlite3.connect = traced
    site.write(made)
    os.write(pipe, b"d%06d" % count)


def kill_once(site: Site, generation: int, mode: str, statement: int, wait_s: float) -> tuple[bool, int]:
    """Write in a child and kill it; return whether it was killed before it was done, and its statements."""
    made = results(site, generation)
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            write_and_die(site, made, mode, statement, tell)
            os._exit(0)
        except BaseException as fault:
            print(f"child: {fault!r}", file=sys.stderr)
            os._exit(3)
    os.close(tell)
    if mode == "commit":
        os.read(hear, 1)
    if mode != "statement":
        time.sleep(wait_s)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    said = os.read(hear, 64)
    os.close(hear)
    killed = os.WIFSIGNALED(status)
    if not killed and os.WEXITSTATUS(status) != 0:
        raise SystemExit("the child failed instead of being killed")
    return killed, int(said.split(b"d")[1]) if b"d" in said else 0


def look(path: Path, survey: str, old: int, new: int) -> int:
    """Check the file after a kill and return the generation it holds."""
    gt.open_site(path)
    with contextlib.closing(sqlite3.connect(path)) as link:
        assert link.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert link.execute("PRAGMA foreign_key_check").fetchall() == []
    assert survey_state(path) == survey, "a survey row has changed"
    numbers = generations(path)
    assert numbers in ({old}, {new}), f"half a result: {numbers}, wanted {old} or {new}"
    return numbers.pop()


def run(path: Path, kills: int, seed: int = 1) -> Counter[str]:
    """Kill that many writers and return what the file held afterwards, by mode."""
    chance = random.Random(seed)
    site = gt.open_site(path)
    survey = survey_state(path)
    site.write(results(site, 1))
    made = results(site, 1)
    start = time.perf_counter()
    site.write(made)
    whole_s = time.perf_counter() - start
    killed, statements = kill_once(site, 2, "statement", 10**9, 0.0)
    assert not killed and statements > 50
    current = look(path, survey, 2, 2)
    count: Counter[str] = Counter()
    done = 0
    while done < kills:
        mode = MODES[done % 3]
        # statements in turn, so that every part of the transaction is hit; the last is COMMIT itself
        share = (done // 3 + 0.5) / (kills / 3)
        statement = 1 + round(share * (statements - 1))
        wait_s = chance.uniform(0, whole_s) if mode == "moment" else chance.uniform(0, 0.03)
        killed, _ = kill_once(site, current + 1, mode, statement, wait_s)
        generations_read = look(path, survey, current, current + 1)
        if killed:
            done += 1
            count[f"{mode}: {'new' if generations_read > current else 'old'}"] += 1
        else:
            count[f"{mode}: done before the kill"] += 1
        current = generations_read
    left = [p.name for p in path.parent.iterdir() if p.name.startswith(path.name) and p != path]
    assert left in ([], [path.name + "-journal"]), left
    return count


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=120)
    parser.add_argument("--folder", type=Path)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as folder:
        path = Path(folder) / "site.gpkg"
        gt.write_sample(path)
        start = time.perf_counter()
        for outcome, number in sorted(run(path, given.kills).items()):
            print(f"{outcome:30} {number:4}")
        print(
            f"{given.kills} kills in {time.perf_counter() - start:.0f} s: always all old or all new,"
            f" survey unchanged"
        )


if __name__ == "__main__":
    main()
