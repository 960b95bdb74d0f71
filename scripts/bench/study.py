"""Time of a study of the sample site, step by step, and what each step's share is.

Python scripts/bench/study.py.
"""

from __future__ import annotations

import platform
import resource
import sys
import tempfile
import time
from pathlib import Path

import gistools as gt


def main() -> None:
    """Run the study twice (the first compiles kernels or loads them) and print the second run's times."""
    print(f"python {platform.python_version()}, {platform.machine()}")
    with tempfile.TemporaryDirectory() as folder:
        path = gt.write_sample(Path(folder) / "merrowby.gpkg")
        for run in ("first run", "second run"):
            start = time.perf_counter()
            done = gt.study(gt.open_site(path))
            total = time.perf_counter() - start
            print(f"{run}: {total:.2f} s in all, {sum(done.seconds.values()):.2f} s computing")
        for name, seconds in sorted(done.seconds.items(), key=lambda item: -item[1]):
            print(f"  {name:16} {seconds:8.3f} s  {100 * seconds / total:5.1f} %")
    unit = 1024 if sys.platform == "darwin" else 1
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit / 1024:.0f} MB")


if __name__ == "__main__":
    main()
