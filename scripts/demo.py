"""Set everything up and run the main job on the sample site: python scripts/demo.py [FOLDER]."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from _setup import ROOT, environment, run, say


def main() -> int:
    """Build the sample site in out/ (or the folder given), study it, say where everything is."""
    folder = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else ROOT / "out"
    folder.mkdir(parents=True, exist_ok=True)
    site = folder / "merrowby.gpkg"
    start = time.monotonic()
    python = environment()
    say("compiling loops for this processor (once for each version)")
    if run(python, "-m", "gistools", "prepare", "--quick"):
        say("they are compiled during the study instead")
    say(f"set up in {time.monotonic() - start:.0f} s")
    start = time.monotonic()
    for words in (
        ("sample", site, "--replace"),
        ("study", site, "--quick"),
        ("where_to_play", site, "--hole", "1", "--player", "scratch man", "--wind", "calm", "--quiet"),
    ):
        say("gistools " + " ".join(map(str, words)))
        code = run(python, "-m", "gistools", *words)
        if code not in (0, 1):
            return code
    say(f"computed in {time.monotonic() - start:.0f} s")
    say(f"layers: {site} (open it in a GIS desktop)")
    say(
        f"next:   gistools study {site} --hole 1 (minutes), gistools sheet {site} --hole 1;"
        f" gistools is {python.with_name('gistools')}"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
