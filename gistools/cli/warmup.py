"""Compile the loops ahead of the first study, so that it does not wait for the compiler.

Each part runs its steps once on a hole of the sample site in a process of its own: whatever they call is then
compiled, with the types it is really called with. Threads would not do: the compiler lets in one at a time.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
from collections.abc import Sequence
from typing import Any

from gistools.base import jit as _jit
from gistools.base.errors import GistoolsError
from gistools.base.progress import WAIT_S, tick
from gistools.steps.catalogue import LOOPS, STEPS, find, run

#: parts with loops to compile; steps say in their declaration (``loops``) which part runs them
PARTS = LOOPS
#: parts a quick study needs
QUICK = ("ground", "shots")
HOLE = 1  # of the sample; has everything: zones, mounds, trees, water
COARSE_M = 10.0  # side of the cells where whole holes are played out: what is computed here is thrown away


def prepare(parts: Sequence[str] = PARTS) -> float:
    """Compile what the given parts need, each in a process of its own, and return the seconds it took.

    What is compiled already for this version, Python and processor is not compiled again. The listener of the
    progress hears how many parts are done.

    Raises
    ------
    GistoolsError
        If there is no folder to keep compiled code in, or a part fails.
    """
    start = time.perf_counter()
    folder = _jit.cache_folder()
    if folder is None or not _jit.ENABLED:
        raise GistoolsError(
            "there is no folder to keep compiled loops in, so they cannot be compiled ahead; steps"
            " work all the same"
        )
    done = {part: folder / f"ready-{part}-{_jit.compiled_for()}" for part in parts}
    todo = [part for part in parts if not done[part].exists()]
    running = {
        part: subprocess.Popen(
            [sys.executable, "-P", "-m", "gistools.cli.warmup", part],
            stderr=subprocess.PIPE,
            encoding="utf-8",
            errors="replace",
        )
        for part in todo
    }
    try:
        while running:
            tick(1.0 - len(running) / len(todo), f"compiling loops of {', '.join(running)}")
            for part, process in list(running.items()):
                with contextlib.suppress(subprocess.TimeoutExpired):
                    _, messages = process.communicate(timeout=WAIT_S)
                    del running[part]
                    if process.returncode:
                        last = (messages.strip().splitlines() or ["no message"])[-1]
                        raise GistoolsError(f"the loops of {part} could not be compiled ahead: {last}")
                    done[part].touch()
    finally:
        for process in running.values():  # stopped, or another part failed
            process.kill()
            process.communicate()
    return time.perf_counter() - start


def run_part(part: str) -> None:
    """Run the steps of a part once."""
    from gistools.site.sample import sample_site

    names = [name for name in STEPS if find(name).loops == part]
    if part not in PARTS:
        raise ValueError(f"no steps have loops of {part!r}")
    site = sample_site()
    small: dict[str, Any] = {"players": ("scratch man",), "winds": ("calm",), "cell_m": COARSE_M}
    for name in names:
        known = {choice.name for choice in find(name).choices}
        whole = part == "strategy"
        run(
            name,
            site,
            hole=HOLE,
            **{k: v for k, v in small.items() if k in known and (whole or k != "cell_m")},
        )


if __name__ == "__main__":
    run_part(sys.argv[1])
