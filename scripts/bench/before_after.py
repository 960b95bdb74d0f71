"""Processor time of each step that takes seconds, of an earlier commit and of this code, in one run.

Usage: ``python scripts/bench/before_after.py [--commit fafb009] [--rounds 5]``

Both answer for the same file, the sample as the earlier commit writes it. They are run in turn, each in a
process of its own, the steps in order on a freshly opened site; the least of all rounds counts, after one
that compiles. The default is the commit before the layers of code were laid out anew. It fails where the
steps of a group together are slower by more than 5 %.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from gistools.base.renamed import LAYERS
from gistools.steps.catalogue import STEPS, find

ROOT = Path(__file__).resolve().parents[2]
MOST_RATIO = 1.05
#: what a side runs: names of functions and options come in, times go out [s]
SIDE = """
import json, sys, time, warnings
import gistools as gt
warnings.simplefilter("ignore")
path, names, times = sys.argv[1], json.loads(sys.argv[2]), {}
for _ in range(2):
    site = gt.open_site(path)
    for name, options in names.items():
        start = time.process_time()
        try:
            getattr(gt, name)(site, **options)
        except (AttributeError, TypeError, gt.GistoolsError) as fault:
            times[name] = str(fault)
            continue
        took = time.process_time() - start
        times[name] = min(took, times.get(name, took))
print(json.dumps(times))
"""


def side(tree: Path, site: Path, names: dict[str, dict[str, object]]) -> dict[str, float | str]:
    """Return the times of the steps with the code of a folder, or why a step did not run."""
    words = [sys.executable, "-c", SIDE, str(site), json.dumps(names)]
    env = {**os.environ, "PYTHONPATH": str(tree)}
    done = subprocess.run(words, cwd=tree, env=env, capture_output=True, text=True, check=True)
    times: dict[str, float | str] = json.loads(done.stdout.splitlines()[-1])
    return times


def main() -> int:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--commit", default="fafb009", help="the earlier code")
    words.add_argument("--rounds", type=int, default=5, help="rounds after the first")
    given = words.parse_args()
    steps = [s for s in map(find, STEPS) if s.cost == "seconds" and s.name not in ("brief", "as_built_check")]
    options = {
        s.name: {"players": ["scratch man"], "winds": ["calm"]}
        if {"players", "winds"} <= {c.name for c in s.choices}
        else {}
        for s in steps
    }
    earlier_name = {new: old for old, new in LAYERS.items()}
    before = {earlier_name.get(name, name): o for name, o in options.items()}
    rows: dict[str, list[list[float]]] = {s.name: [[], []] for s in steps}
    with tempfile.TemporaryDirectory() as folder:
        tree, site = Path(folder) / "earlier", Path(folder) / "site.gpkg"
        git = ["git", "-C", str(ROOT), "worktree"]
        subprocess.run([*git, "add", "--quiet", "--detach", str(tree), given.commit], check=True)
        try:
            write = f"import gistools as gt; gt.write_sample({str(site)!r})"
            env = {**os.environ, "PYTHONPATH": str(tree)}
            subprocess.run([sys.executable, "-c", write], cwd=tree, env=env, check=True)
            for number in range(given.rounds + 1):
                for which, (code, names) in enumerate(((tree, before), (ROOT, options))):
                    for name, seconds in side(code, site, names).items():
                        step = LAYERS.get(name, name) if which == 0 else name
                        if number and isinstance(seconds, float):
                            rows[step][which].append(seconds)
                        elif number == 1:
                            print(f"{step} of {'the earlier' if which == 0 else 'this'} code: {seconds}")
        finally:
            subprocess.run([*git, "remove", "--force", str(tree)], check=True)
    slow = []
    print("| step | before [s] | now [s] | ratio |\n|---|---|---|---|")
    groups: dict[str, list[float]] = {}
    for spec in steps:
        old, new = rows[spec.name]
        if old and new:
            total = groups.setdefault(spec.group, [0.0, 0.0])
            total[0], total[1] = total[0] + min(old), total[1] + min(new)
            print(f"| {spec.name} | {min(old):.3f} | {min(new):.3f} | {min(new) / min(old):.2f} |")
    for group, (old_s, new_s) in groups.items():
        print(f"| **{group}** | {old_s:.3f} | {new_s:.3f} | {new_s / old_s:.2f} |")
        slow += [group] if new_s > MOST_RATIO * old_s else []
    return int(bool(slow))


if __name__ == "__main__":
    raise SystemExit(main())
