"""Turn a sign in a kernel and see whether the default tests fail: python scripts/mutants.py [NAME ...].

Works in a copy of the project; each mutant is compiled anew, which takes a minute or more. Prints for each
the test that fails; the exit code is 1 where none does. Where a sign decides nothing but how much of a ray is
walked (whether the hint of a line of sight is taken), no test of answers can see it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SIGHT, SHOTS, FLIGHT, SOLVER, OUTCOMES = (
    f"gistools/compute/{name}_kernels.py"
    for name in (
        "terrain/line_of_sight", "ballistics/shot", "ballistics/flight", "decision/value_iteration",
        "decision/outcome",
    )
)  # fmt: skip
#: kernel file -> tests that are run until one fails
TESTS = {
    SIGHT: ("terrain/test_line_of_sight.py", "terrain/test_sight_against_plain.py"),
    SHOTS: (
        "ballistics/test_run_beside_second_program.py", "ballistics/test_turf.py",
        "ballistics/test_tables.py", "ballistics/test_simulate.py",
    ),
    FLIGHT: ("ballistics/test_tables.py", "ballistics/test_flight.py"),
    SOLVER: (
        "decision/test_outcome_signs.py", "decision/test_small_hole.py", "decision/test_bunker_faces.py",
    ),
    OUTCOMES: (
        "decision/test_outcome_signs.py", "decision/test_meet_ground.py", "decision/test_small_hole.py",
        "decision/test_bunker_faces.py",
    ),
}  # fmt: skip
#: name -> kernel file, the code, and the code with a sign turned
MUTANTS = {
    "clearance over what hides": (SIGHT, "clearance = (mt - m) * at", "clearance = (m - mt) * at"),
    "gap under a crown": (SIGHT, "(lo - mt) * at_low", "(mt - lo) * at_low"),
    "end of the gap": (SIGHT, "at_low = a if low < ze", "at_low = a if low > ze"),
    "peak inside a cell": (SIGHT, "s * s - (b * s - (za - ze)) / a", "s * s + (b * s - (za - ze)) / a"),
    "bulge of a cell": (SIGHT, "max(-0.25 * a * length", "max(0.25 * a * length"),
    "side of an obstacle": (SIGHT, "(obstacles.x[k] - x) * uy - ", "(obstacles.x[k] - x) * uy + "),
    "hint of the ray before": (SIGHT, "(g - ze) / (d - hint), d", "(g + ze) / (d - hint), d"),
    "tilt of the turf": (SHOTS, "Vector(c * n.x - s * t.x, c", "Vector(c * n.x + s * t.x, c"),
    "spin after a bounce": (SHOTS, "w.x - k * (m.y", "w.x + k * (m.y"),
    "tilt of the spin axis": (SHOTS, "-c * math.sin(heading), -math", "-c * math.sin(heading), math"),
    "sliding uphill": (SHOTS, "speed2 - 10.0 / 7.0", "speed2 + 10.0 / 7.0"),
    "rolling uphill": (SHOTS, "speed * speed - 2.0 * pull", "speed * speed + 2.0 * pull"),
    "side of the wind": (SHOTS, "(table.wind_from - heading) /", "(heading - table.wind_from) /"),
    "lift": (FLIGHT, "cx, cy, cz = -sz * uy, sz * ux", "cx, cy, cz = sz * uy, -sz * ux"),
    "lift of a single flight": (FLIGHT, "cz = axis.x * uy - axis.y", "cz = axis.x * uy + axis.y"),
    "penalty": (SOLVER, "(q[p] + penalties)", "(q[p] - penalties)"),
    "lost balls": (SOLVER, "/ samples + out", "/ samples - out"),
    "replays": (SOLVER, "total / (1.0 - replayed)", "total / (1.0 + replayed)"),
    "the worst action": (
        SOLVER, "if q[same, p] < low[p]:", "if q[same, p] > low[p] or low[p] == UNKNOWN_STROKES:",
    ),
    "run across": (OUTCOMES, "DIRECTION + 1, k] - across", "DIRECTION + 1, k] + across"),
    "bend of a flight": (OUTCOMES, "bend * (s1 * s1 - s1)", "-bend * (s1 * s1 - s1)"),
    "run offset": (OUTCOMES, "grow + change[RUN_OFFSET", "grow - change[RUN_OFFSET"),
    "backspin at landing": (OUTCOMES, "Vector(spin * (n * ca", "Vector(-spin * (n * ca"),
    "two club-lengths": (OUTCOMES, "x - DROP_M * sh, y - DROP_M", "x + DROP_M * sh, y + DROP_M"),
    "line of the drop": (OUTCOMES, "y -= g.cell * ch", "y += g.cell * ch"),
    "error of direction": (OUTCOMES, "at[m, 0] * cb - at[m, 1] * sb", "at[m, 0] * cb + at[m, 1] * sb"),
    "cross wind": (OUTCOMES, "-wind[0] * math.sin(angle)", "wind[0] * math.sin(angle)"),
    "angle of another place": (SOLVER, "action.heading + turn / step", "action.heading - turn / step"),
    "aiming point of another place": (SOLVER, "ay = xy[1] + tables", "ay = xy[1] - tables"),
    "height of a face": (OUTCOMES, "+ k] - start > steep", "+ k] + start > steep"),
    "landing on a slope": (OUTCOMES, "v0 - d1 - h * per", "v0 - d1 + h * per"),
}  # fmt: skip


def tried(tree: Path, file: str) -> str:
    """Return the first test that fails in a copy of the project, empty where none does."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider"]
    env = {**os.environ, "PYTHONPATH": str(tree), "XDG_CACHE_HOME": str(tree / "cache")}
    words = [f"tests/{name}" for name in TESTS[file]]
    done = subprocess.run([*command, *words], cwd=tree, env=env, capture_output=True, text=True, check=False)
    failed = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].split(" - ")[0] if failed else ""


def main() -> int:
    """Try the mutants that are named, or all."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("names", nargs="*", choices=[*MUTANTS, []], metavar="NAME")
    names = words.parse_args().names or list(MUTANTS)
    survivors = 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "project"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".*", "__pycache__", "out"))
        for name in names:
            file, code, turned = MUTANTS[name]
            text = (tree / file).read_text(encoding="utf-8")
            if code not in text:
                raise SystemExit(f"{name}: {file} has no {code!r} any more")
            (tree / file).write_text(text.replace(code, turned, 1), encoding="utf-8")
            failed = tried(tree, file)
            survivors += not failed
            print(f"{name}: {failed or 'NO TEST FAILS'}", flush=True)
            (tree / file).write_text(text, encoding="utf-8")
    return int(survivors > 0)


if __name__ == "__main__":
    raise SystemExit(main())
