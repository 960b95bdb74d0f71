"""The child's side of :mod:`gistools.desktop.apart`: one job in on standard input, lines of JSON out on standard output.

The job ends when it is done, or when the input closes: a parent that cancels, crashes or is closed takes its
child with it.
"""

from __future__ import annotations

import _thread
import contextlib
import dataclasses
import io
import json
import os
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from gistools.base.errors import GistoolsError, GistoolsWarning

TURN_SHARE = 0.005
Tell = Callable[..., None]


def main() -> None:
    """Do the one job that is asked for."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what any library prints is talk, not an answer

    def tell(**told: Any) -> None:
        out.write(json.dumps(told) + "\n")
        out.flush()

    def heard(message: Any, category: Any, *place: Any, **_more: Any) -> None:
        if issubclass(category, GistoolsWarning):
            tell(warning=str(message))
        else:
            sys.stderr.write(warnings.formatwarning(message, category, place[0], place[1]))

    warnings.showwarning = heard
    job = json.loads(sys.stdin.buffer.readline())
    threading.Thread(target=_stop_when_input_closes, daemon=True).start()
    try:
        tell(result=JOBS[job["what"]](job["opening"], job["given"], tell))
    except KeyboardInterrupt:
        tell(error="Cancelled", text="stopped by the user; the site file is as it was")
    except GistoolsError as error:
        tell(error=type(error).__name__, text=str(error))
    except Exception as fault:
        tell(error=type(fault).__name__, text=str(fault), trace=traceback.format_exc())
    finally:
        out.flush()
        os._exit(0)  # the watching thread still waits on the input; nothing of ours is open any more


def _stop_when_input_closes() -> None:
    sys.stdin.buffer.read()
    _thread.interrupt_main()


def _open(opening: Mapping[str, Any]) -> Any:
    from gistools.site.read import open_site

    return open_site(**{k: v for k, v in opening.items() if v is not None})


def _opened(opening: Mapping[str, Any], _given: Any, _tell: Tell) -> dict[str, Any]:
    site = _open(opening)
    findings = [str(f) for f in site.findings if f.level != "note"]
    return {"path": str(site.path), "crs": site.crs.name, "holes": site.holes, "findings": findings}


def _check(opening: Mapping[str, Any], given: Mapping[str, Any], _tell: Tell) -> list[str]:
    from gistools.site.check import check

    return [str(f) for f in check(opening["path"], **given)]


def _sample(opening: Mapping[str, Any], given: Mapping[str, Any], _tell: Tell) -> str:
    from gistools.site.sample import write_sample

    return str(write_sample(opening["path"], **given))


def _step(opening: Mapping[str, Any], given: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    from gistools.cli.screen import print_result
    from gistools.site.model import Map
    from gistools.site.write import write
    from gistools.steps.catalogue import run
    from gistools.steps.records import as_records

    site = _open(opening)
    options = {k: tuple(v) if isinstance(v, list) else v for k, v in given["options"].items()}
    result = run(given["step"], site, progress=_progress(tell), **options)
    layers = result if isinstance(result, Mapping) else {result.attrs["layer"]: result}
    write(dataclasses.replace(site, path=None), [result], out=given["to"])
    with contextlib.redirect_stdout(io.StringIO()) as text:
        print_result(result)
    rows = {n: [as_records(t)] if isinstance(t, Map) else as_records(t) for n, t in layers.items()}
    return {"layers": rows, "text": text.getvalue().rstrip()}


def _write(opening: Mapping[str, Any], given: Mapping[str, Any], _tell: Tell) -> str:
    from gistools.site._file import look_inside
    from gistools.site.schema import RESULT_PREFIX, TERRAIN_PROPOSED
    from gistools.site.write import read_result, write

    results = [
        read_result(Path(scratch), table.name)
        for scratch in given["from"]
        for table in look_inside(Path(scratch)).tables
        if table.name.startswith(RESULT_PREFIX) or table.name == TERRAIN_PROPOSED
    ]
    return str(write(_open(opening), results, out=given["out"], replace=given["replace"]))


def _study(opening: Mapping[str, Any], given: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    from gistools.steps.study import study

    done = study(_open(opening), progress=_progress(tell), **given["options"])
    return {
        "path": str(done.path or ""),
        "skipped": done.skipped,
        "seconds": done.seconds,
        "brief_holds": bool(done.brief_holds),
        "summary": {units: done.summary(units) for units in ("m", "yd")},
    }


def _hand_off(opening: Mapping[str, Any], given: Mapping[str, Any], tell: Tell) -> str:
    from gistools.base.progress import on_progress
    from gistools.handoff.package import handoff

    with on_progress(_progress(tell)):
        return str(handoff(_open(opening), given["to"], **given["options"]))


def _progress(tell: Tell) -> Callable[[float, str], None]:
    """Pass progress on, not too often; a step within a step starts at nothing, yet a bar should not run back."""
    last_share, last_text = -1.0, ""

    def listen(share: float, text: str) -> None:
        nonlocal last_share, last_text
        share = max(share, last_share)
        if text != last_text or share - last_share >= TURN_SHARE:
            last_share, last_text = share, text
            tell(share=share, text=text)

    return listen


JOBS: dict[str, Callable[..., Any]] = {
    "open": _opened,
    "check": _check,
    "sample": _sample,
    "step": _step,
    "write": _write,
    "study": _study,
    "hand_off": _hand_off,
}

if __name__ == "__main__":
    main()
