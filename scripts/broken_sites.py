"""What becomes of every broken site of the tests, counted: the table of docs/broken_sites.md.

python scripts/broken_sites.py          prints the table, and each kind of a fault of the program
python scripts/broken_sites.py --page   writes the table into docs/broken_sites.md as well

Each kind is a sound site with one thing broken (tests/broken/kinds.py). It is checked, and the steps that
play nothing out are studied; survey data are compared before and after. Takes some ten minutes.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

PAGE = ROOT / "docs" / "broken_sites.md"
MARKS = ("<!-- table -->\n", "<!-- end of table -->\n")
STEPS = ("lines_of_play", "lengths", "carries", "corridors", "zones", "setbacks", "slopes", "setting_out")
COLUMNS = ("error", "warning", "note", "the same", "refused", "part", "whole")
HEAD = (
    "| what is broken | kinds | `check`: error | warning | note | reads the same"
    " | `study`: refused in words | part missing, named | whole |\n|---|---|---|---|---|---|---|---|---|\n"
)


def group(name: str) -> str:
    """Return what a kind breaks: the file, the terrain, a layer, or what is drawn in it."""
    from gistools.site.schema import SURVEY_LAYERS

    head = name.partition(":")[0].partition(".")[0]
    return head if head in ("file", "terrain") or head in SURVEY_LAYERS else "what is drawn or named"


def survey(path: Path) -> str:
    """Return a hash of the survey, empty where the file cannot be read at all."""
    from gistools.site.provenance import survey_hash

    try:
        with contextlib.closing(sqlite3.connect(path)) as link:
            return survey_hash(link, rasters=False)
    except sqlite3.Error:
        return ""


def outcome(path: Path, sound: set[str]) -> tuple[str, str, str]:
    """Check and study a site: worst new finding, how the study ends, and what went wrong ("" if nothing)."""
    import gistools as gt
    from gistools.base.errors import GistoolsError
    from gistools.site.check import check

    before, bytes_before = survey(path), path.read_bytes()
    levels = {f.level for f in check(path) if str(f) not in sound}
    checked = next((level for level in ("error", "warning", "note") if level in levels), "the same")
    fault = "" if path.read_bytes() == bytes_before else "check changed the file"
    try:
        done = gt.study(gt.open_site(path), only=STEPS)
    except GistoolsError:
        studied = "refused"
    else:
        studied = "part" if done.missing else "whole"
        fault = next((f"fault of the program: {gap.reason}" for gap in done.missing if gap.fault), fault)
    if before and survey(path) != before:
        fault = "survey data changed"
    return checked, studied, fault


def main(arguments: list[str]) -> int:
    """Try all kinds and print the table."""
    warnings.simplefilter("ignore")
    from gistools.site.check import check
    from tests.broken.kinds import KINDS, write_sound

    counts: dict[str, Counter[str]] = {}
    faults, slowest = [], (0.0, "")
    with tempfile.TemporaryDirectory() as folder:
        sound = write_sound(Path(folder) / "sound.gpkg")
        baseline = {str(f) for f in check(sound)}
        for number, (name, breaks) in enumerate(KINDS.items(), 1):
            path = Path(shutil.copy(sound, Path(folder) / "site.gpkg"))
            breaks(path)
            start = time.perf_counter()
            try:
                checked, studied, fault = outcome(path, baseline)
            except Exception as trace:  # what this script is there to find
                checked, studied, fault = "", "", f"{type(trace).__name__}: {trace}"
            slowest = max(slowest, (time.perf_counter() - start, name))
            counts.setdefault(group(name), Counter()).update(["kinds", checked, studied])
            faults += [f"{name}: {fault}"] if fault else []
            for left in Path(folder).iterdir():
                if left != sound:
                    shutil.rmtree(left) if left.is_dir() else left.unlink()
            print(f"\r{number} of {len(KINDS)}", end="", file=sys.stderr, flush=True)
    total = sum(counts.values(), Counter())
    rows = [(name, counts[name]) for name in sorted(counts)] + [("**all**", total)]
    table = HEAD + "".join(
        f"| {name} | {c['kinds']} | " + " | ".join(str(c[k]) for k in COLUMNS) + " |\n" for name, c in rows
    )
    print(f"\n{table}\nslowest: {slowest[1]}, {slowest[0]:.1f} s\n{len(faults)} faults", *faults, sep="\n")
    if "--page" in arguments:
        text = PAGE.read_text(encoding="utf-8")
        start, end = (text.index(mark) for mark in MARKS)
        PAGE.write_text(text[: start + len(MARKS[0])] + table + text[end:], encoding="utf-8")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
